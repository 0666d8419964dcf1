//! `lapwise check`: every fault of the data and the enquiries at once, and remarks on what looks odd.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{End, Here, Outcome, say};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::Faults;
use crate::import::Wordings;
use crate::load;
use crate::plausible::{self, Acceptance, Remark};
use crate::quantity::count;

#[derive(Debug, Args)]
#[command(
    after_help = "Example: lapwise check --strict\n\nA remark is settled by mending the number, or by `lapwise accept`."
)]
pub(super) struct Arguments {
    /// Data folders or enquiry files; without one, the data folder and all its enquiries
    #[arg(value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// End with exit code 1 if a remark stands
    #[arg(long)]
    strict: bool,
    /// List the accepted remarks too, each with its reason
    #[arg(long)]
    accepted: bool,
}

/// A remark that somebody has taken on.
#[derive(Serialize, JsonSchema)]
struct TakenOn {
    remark: Remark,
    acceptance: Acceptance,
}

#[derive(Default, Serialize, JsonSchema)]
struct Checked {
    schema: &'static str,
    files: usize,
    tapes: usize,
    materials: usize,
    facts: usize,
    criteria: usize,
    enquiries: usize,
    remarks: Vec<Remark>,
    accepted: Vec<TakenOn>,
    /// True if a folder has no usual ranges: its values were held against none.
    without_ranges: bool,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Checked)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let mut faults = Faults::default();
    let mut files = 0;
    let mut summary = Checked { schema: "lapwise/check/1", ..Checked::default() };
    let folders: Vec<PathBuf> = arguments.paths.iter().filter(|path| path.is_dir()).cloned().collect();
    let singles: Vec<&PathBuf> = arguments.paths.iter().filter(|path| !path.is_dir()).collect();
    let folders = if folders.is_empty() { vec![here.data.clone()] } else { folders };
    let alone = arguments.paths.len() == singles.len() && !singles.is_empty();
    for root in &folders {
        let there = Here { data: root.clone(), json: here.json };
        match there.catalogue() {
            Ok((folder, catalogue)) => {
                files += folder.files.len();
                let mut enquiries = Vec::new();
                let mut read = |name: &str, text: &str, faults: &mut Faults| match Enquiry::read(name, text, &catalogue)
                {
                    Ok(enquiry) => enquiries.push(enquiry),
                    Err(found) => faults.extend(found),
                };
                if !alone {
                    folder.enquiries().for_each(|name| read(name, folder.text(name), &mut faults));
                }
                for path in &singles {
                    let name = path.display().to_string();
                    match load::read_text(Path::new(path), &name) {
                        Ok(text) => read(&name, &text, &mut faults),
                        Err(fault) => faults.add(fault),
                    }
                }
                if let Err(found) = Wordings::read(&folder, &catalogue) {
                    faults.extend(found);
                }
                if let Err(found) = Plan::new(&catalogue, &[]) {
                    faults.extend(found);
                }
                add(&mut summary, &catalogue, enquiries.len());
                match plausible::review(&folder, &catalogue, &enquiries) {
                    Ok(review) => {
                        // Asked about one enquiry, the rest of the folder is not the question.
                        let about = |remark: &Remark| !alone || enquiries.iter().any(|e| *e.file == *remark.place.file);
                        summary.without_ranges |= review.without_ranges;
                        summary.remarks.extend(review.remarks.into_iter().filter(about));
                        let taken = review.accepted.into_iter().filter(|(remark, _)| about(remark));
                        summary.accepted.extend(taken.map(|(remark, acceptance)| TakenOn { remark, acceptance }));
                    }
                    Err(found) => faults.extend(found),
                }
            }
            Err(found) => faults.extend(found),
        }
    }
    summary.files = files;
    if !faults.is_empty() {
        if !here.json {
            let found = faults.len();
            let code = say::faults(faults, false, 1);
            say::remark(&format!("{}; nothing was computed", count(found, "fault", "faults")))?;
            return Err(End::Reported(code));
        }
        return Err(faults.into());
    }
    if here.json {
        say::json(&summary)?;
    } else {
        tell(&summary, arguments.accepted)?;
    }
    if arguments.strict && !summary.remarks.is_empty() { Err(End::Reported(1)) } else { Ok(()) }
}

/// In words: the remarks, then what was read.
fn tell(s: &Checked, with_accepted: bool) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    for remark in &s.remarks {
        writeln!(out, "{remark}\n")?;
    }
    for TakenOn { remark, acceptance: a } in s.accepted.iter().filter(|_| with_accepted) {
        writeln!(out, "{remark}\n  accepted by {}, {}: {}\n", a.by, a.date, a.reason)?;
    }
    writeln!(
        out,
        "no fault in {}: {}, {}, {}, {}, {}",
        count(s.files, "file", "files"),
        count(s.tapes, "tape", "tapes"),
        count(s.materials, "material", "materials"),
        count(s.facts, "fact", "facts"),
        count(s.criteria, "criterion", "criteria"),
        count(s.enquiries, "enquiry", "enquiries")
    )?;
    if s.without_ranges {
        writeln!(out, "no {} in a folder: its values were held against no usual range", plausible::RANGES)?;
    }
    match (s.remarks.len(), s.accepted.len()) {
        (0, 0) => Ok(()),
        (0, n) => writeln!(out, "no remark stands; {n} accepted"),
        (n, m) => {
            let plural = if n == 1 { "remark stands" } else { "remarks stand" };
            writeln!(out, "{n} {plural}, {m} accepted; mend the number, or `lapwise accept` it with a reason")
        }
    }
}

fn add(summary: &mut Checked, catalogue: &Catalogue, enquiries: usize) {
    summary.tapes += catalogue.tapes.len();
    summary.materials += catalogue.materials.len();
    summary.facts += catalogue.facts.len();
    summary.criteria += catalogue.criteria.len();
    summary.enquiries += enquiries;
}
