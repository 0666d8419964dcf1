//! `lapwise check`: every fault of the data and the enquiries at once.

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
use crate::load;
use crate::quantity::count;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Data folders or enquiry files; without one, the data folder and all its enquiries
    #[arg(value_name = "PATH")]
    paths: Vec<PathBuf>,
}

#[derive(Serialize, JsonSchema)]
struct Checked {
    schema: &'static str,
    files: usize,
    tapes: usize,
    materials: usize,
    facts: usize,
    criteria: usize,
    enquiries: usize,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Checked)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let mut faults = Faults::default();
    let mut files = 0;
    let mut summary =
        Checked { schema: "lapwise/check/1", files: 0, tapes: 0, materials: 0, facts: 0, criteria: 0, enquiries: 0 };
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
                if let Err(found) = Plan::new(&catalogue, &[]) {
                    faults.extend(found);
                }
                add(&mut summary, &catalogue, enquiries.len());
            }
            Err(found) => faults.extend(found),
        }
    }
    summary.files = files;
    if !faults.is_empty() {
        if !here.json {
            let found = faults.len();
            let code = say::faults(faults, false, 1);
            eprintln!("{}; nothing was computed", count(found, "fault", "faults"));
            return if code == 1 { Err(End::Reported(1)) } else { Ok(()) };
        }
        return Err(faults.into());
    }
    if here.json {
        say::json(&summary)?;
    } else {
        let s = &summary;
        writeln!(
            std::io::stdout(),
            "no fault in {}: {}, {}, {}, {}, {}",
            count(s.files, "file", "files"),
            count(s.tapes, "tape", "tapes"),
            count(s.materials, "material", "materials"),
            count(s.facts, "fact", "facts"),
            count(s.criteria, "criterion", "criteria"),
            count(s.enquiries, "enquiry", "enquiries")
        )?;
    }
    Ok(())
}

fn add(summary: &mut Checked, catalogue: &Catalogue, enquiries: usize) {
    summary.tapes += catalogue.tapes.len();
    summary.materials += catalogue.materials.len();
    summary.facts += catalogue.facts.len();
    summary.criteria += catalogue.criteria.len();
    summary.enquiries += enquiries;
}
