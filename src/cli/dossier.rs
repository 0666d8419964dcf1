//! `lapwise dossier`: enquiries as PDF.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::asked::{Asked, One};
use super::interrupt::{INTERRUPTED, Interrupt};
use super::progress::Progress;
use super::table::Table;
use super::{End, Here, Outcome, say, setup};
use crate::catalogue::Catalogue;
use crate::dossier::pool::{Ended, Pool, cores};
use crate::dossier::typst::Typst;
use crate::dossier::view::{Stage, of_set};
use crate::dossier::{Dossier, Press};
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Fault, Faults};
use crate::judge::{Standing, Verdict};
use crate::keep;
use crate::load::Folder;
use crate::part::Part;
use crate::quantity::count;
use crate::record::sha256;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lapwise dossier Q-101 Q-104 -o out\n  lapwise dossier --all --jobs 8 -o out\n  lapwise \
                  dossier --all --part 3/8 --json > part-3.json\n\nWhat fails stops nothing else and is told at the end. \
                  Ctrl-C ends with what was finished; every file is whole or not there."
)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: Asked,
    #[command(flatten)]
    printing: Printing,
}

/// How dossiers are printed.
#[derive(Debug, Args)]
pub(super) struct Printing {
    /// The folder the PDF files go to
    #[arg(short, long, value_name = "DIR", default_value = "out")]
    out: PathBuf,
    /// How many are printed at once; without it as many as there are cores
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    jobs: Option<u16>,
    #[command(flatten)]
    look: Look,
}

/// How pages look.
#[derive(Debug, Args)]
pub(super) struct Look {
    /// A folder with parts, texts and faces that replace the embedded ones
    #[arg(long, value_name = "DIR")]
    templates: Option<PathBuf>,
    /// The language of the fixed text: en, de, or one of the template folder
    #[arg(long, value_name = "CODE", default_value = "en")]
    language: String,
}

impl Look {
    /// What prints them.
    pub(super) fn press(&self, folder: &Folder) -> Result<Press, Faults> {
        Press::new(folder, self.templates.as_deref(), &self.language)
    }
}

/// What was printed, what failed, and what an interrupt left, each sorted by the enquiry.
#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    /// One digest over data, templates, faces, language, and the versions of Lapwise and Typst.
    made_from: String,
    batch: Batch,
    /// `K/N`; absent where the whole batch is one part.
    #[serde(skip_serializing_if = "Option::is_none")]
    part: Option<String>,
    dossiers: Vec<Line>,
    failed: Vec<Failed>,
    unfinished: Vec<String>,
}

/// Everything that was asked for, in all parts.
#[derive(Serialize, JsonSchema)]
struct Batch {
    enquiries: usize,
    /// Over the number and the text of each enquiry, by number.
    sha256: String,
}

#[derive(Serialize, JsonSchema)]
struct Line {
    enquiry: String,
    proposed: Option<String>,
    verdict: Verdict,
    weakest: Option<String>,
    margin: Option<String>,
    file: String,
    sha256: String,
}

#[derive(Serialize, JsonSchema)]
struct Failed {
    enquiry: String,
    diagnostics: Vec<Fault>,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let interrupt = Interrupt::listen()?;
    // The compiler is asked for its version meanwhile.
    let (read, typst) = rayon::join(|| here.catalogue(), Typst::find);
    let ((folder, catalogue), typst) = (read?, typst.map_err(setup::environment)?);
    print(here, &folder, &catalogue, &arguments.asked, &arguments.printing, &typst, &interrupt)
}

/// Prints the dossiers of some enquiries and tells of each.
pub(super) fn print(
    here: &Here,
    folder: &Folder,
    catalogue: &Catalogue,
    asked: &Asked,
    printing: &Printing,
    typst: &Typst,
    interrupt: &Interrupt,
) -> Outcome {
    let press = printing.look.press(folder)?;
    let mut all = asked.read(folder, catalogue)?;
    all.sort_by(|a, b| a.name.cmp(&b.name));
    let mut document = Document {
        schema: "lapwise/dossier/1",
        made_from: made_from(&press)?,
        batch: batch(folder, &all),
        part: asked.part.as_ref().map(Part::to_string),
        dossiers: Vec::new(),
        failed: Vec::new(),
        unfinished: Vec::new(),
    };
    let mut failed: Vec<(String, Faults)> = Vec::new();
    let mut enquiries: Vec<Enquiry> = Vec::new();
    for one in all.into_iter().filter(|one| asked.takes(one)) {
        match one.read {
            Ok(enquiry) => enquiries.push(enquiry),
            Err(faults) => failed.push((one.name, faults)),
        }
    }
    let ended = Batched::new(folder, &press, catalogue, &enquiries)?.printed(here, printing, typst, interrupt)?;
    for (enquiry, ended) in enquiries.iter().zip(ended) {
        match ended {
            Ended::Done(line) => document.dossiers.push(line),
            Ended::Failed(faults) => failed.push((enquiry.number.clone(), faults)),
            Ended::Stopped => document.unfinished.push(enquiry.number.clone()),
        }
    }
    failed.sort_by(|a, b| a.0.cmp(&b.0));
    // Nothing is there to be told of but what is wrong.
    if asked.part.is_none() && document.dossiers.is_empty() && document.unfinished.is_empty() && !failed.is_empty() {
        return Err(nothing_done(failed));
    }
    let failed = failed.into_iter().map(|(enquiry, faults)| Failed { enquiry, diagnostics: faults.sorted() });
    document.failed = failed.collect();
    tell(here, &document)?;
    match &document {
        Document { unfinished, .. } if !unfinished.is_empty() => Err(End::Reported(INTERRUPTED)),
        Document { failed, .. } if !failed.is_empty() => {
            Err(setup::partly(failed.iter().flat_map(|failed| &failed.diagnostics)))
        }
        _ => Ok(()),
    }
}

/// One digest over all that goes into every dossier of a run.
fn made_from(press: &Press) -> Result<String, Fault> {
    let (data, version) = (of_set(&press.inputs.data), &press.inputs.lapwise);
    Ok(sha256(format!("{}\n{data}\n{version}\n", press.presentation()?).as_bytes()))
}

/// Everything that was asked for, by name.
fn batch(folder: &Folder, all: &[One]) -> Batch {
    let mut lines = Vec::new();
    for one in all {
        // What cannot be read is told where it fails.
        let text = one.read.as_ref().ok().and_then(|enquiry| super::text_of(folder, enquiry).ok()).unwrap_or_default();
        lines.push(format!("{}\t{}\n", one.name, sha256(text.as_bytes())));
    }
    Batch { enquiries: all.len(), sha256: sha256(lines.concat().as_bytes()) }
}

/// The faults of all, where nothing could be done.
fn nothing_done(failed: Vec<(String, Faults)>) -> End {
    let one = failed.len() == 1;
    let mut all = Faults::default();
    for (enquiry, faults) in failed {
        for fault in faults.sorted() {
            let found = if one || fault.place.is_some() { fault.found } else { format!("{enquiry}: {}", fault.found) };
            let fault = Fault { found, ..fault };
            if let End::Environment(fault) = setup::environment(fault.clone()) {
                return End::Environment(fault);
            }
            all.add(fault);
        }
    }
    End::Faulty(all)
}

/// Enquiries judged together: one pass over all their cells.
struct Batched<'a> {
    folder: &'a Folder,
    press: &'a Press,
    plan: Plan<'a>,
    standings: Vec<Vec<Standing>>,
}

impl<'a> Batched<'a> {
    fn new(
        folder: &'a Folder,
        press: &'a Press,
        catalogue: &'a Catalogue,
        enquiries: &'a [Enquiry],
    ) -> Result<Batched<'a>, Faults> {
        let plan = Plan::new(catalogue, enquiries)?;
        let standings = plan.standings();
        Ok(Batched { folder, press, plan, standings })
    }

    /// Everything that one dossier says.
    fn prepared(&self, at: usize) -> Result<Dossier, Faults> {
        let text = super::text_of(self.folder, &self.plan.enquiries[at])?;
        // Without a candidate there is no standing either.
        let standing = self.standings.get(at).map_or(&[][..], Vec::as_slice);
        self.press.prepare(&self.plan, at, standing, &text, Stage::Draft(None))
    }

    fn printed(
        &self,
        here: &Here,
        printing: &Printing,
        typst: &Typst,
        interrupt: &Interrupt,
    ) -> Result<Vec<Ended<Line>>, End> {
        let count = self.plan.enquiries.len();
        let jobs = printing.jobs.map_or_else(cores, usize::from);
        let pool = Pool::new(self.press, typst, jobs, interrupt.gently()).map_err(setup::environment)?;
        let progress = Progress::of(count, "dossiers", here.json);
        let keep = |_: usize, dossier: &Dossier, pdf: Vec<u8>| -> Result<Line, Faults> {
            let path = printing.out.join(dossier.file_name());
            keep::bytes(&path, &pdf)?;
            Ok(line(dossier, &path, &pdf))
        };
        let ended = pool.run(count, |at| self.prepared(at), keep, |_| progress.step());
        progress.end();
        Ok(ended)
    }
}

fn line(dossier: &Dossier, path: &Path, pdf: &[u8]) -> Line {
    let proposed = dossier.view.answer.proposed.as_ref();
    Line {
        enquiry: dossier.number.clone(),
        proposed: proposed.map(|p| p.tape.clone()),
        verdict: proposed.map_or(Verdict::Unsuitable, |p| p.verdict),
        weakest: proposed.map(|p| p.weakest.clone()),
        margin: proposed.map(|p| p.margin.replace('\u{a0}', " ")),
        file: path.display().to_string(),
        sha256: sha256(pdf),
    }
}

fn tell(here: &Here, document: &Document) -> Outcome {
    if here.json {
        say::json(document)?;
        return Ok(());
    }
    let mut table = Table::new(["enquiry", "proposed", "verdict", "deciding margin", "file"], &[]);
    for line in &document.dossiers {
        let weakest = match (&line.margin, &line.weakest) {
            (Some(margin), Some(weakest)) => format!("{margin} {}", weakest.to_lowercase()),
            _ => "every candidate is ruled out".to_owned(),
        };
        table.row([
            line.enquiry.clone(),
            line.proposed.clone().unwrap_or_else(|| "none".to_owned()),
            line.verdict.text().to_owned(),
            weakest,
            line.file.clone(),
        ]);
    }
    let mut out = std::io::stdout().lock();
    table.print(&mut out)?;
    out.flush()?;
    for failed in &document.failed {
        say::remark(&format!("{} failed", failed.enquiry))?;
        for fault in &failed.diagnostics {
            say::remark(&format!("{fault}\n"))?;
        }
    }
    let (done, failed, left) = (document.dossiers.len(), document.failed.len(), document.unfinished.len());
    if left > 0 {
        let done = count(done, "dossier is", "dossiers are");
        say::remark(&format!("interrupted: {done} finished, {failed} failed, {left} not finished"))?;
    } else if failed > 0 {
        say::remark(&format!("{}, {failed} failed", count(done, "dossier", "dossiers")))?;
    }
    Ok(())
}
