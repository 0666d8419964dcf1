//! `lapwise regenerate`: every kept selection judged by today's data.

mod drafts;
mod told;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, OnceLock};

use clap::{Args, ValueEnum};
use schemars::{Schema, schema_for};

use super::interrupt::{INTERRUPTED, Interrupt};
use super::progress::Progress;
use super::{End, Here, Outcome, say, setup};
use crate::dossier::typst::Typst;
use crate::dossier::view::of_set;
use crate::dossier::{Attachment, Press};
use crate::fault::{Code, Fault, Faults};
use crate::keep;
use crate::load::Folder;
use crate::part::Part;
use crate::quantity::count;
use crate::record::sha256;
use crate::regenerate::{self, Failure, Loaded, PART, Page, Passed, Report, Today};
use crate::register::{Mark, Overtaken, Register, hold_drafts};

#[derive(Debug, Args)]
#[command(
    after_help = "Example: lapwise regenerate --register register --dry-run\n\nThe kept enquiry is judged, by the data \
                  folder of --data. Signed records are never touched: drafts of next revisions go to `drafts` in the \
                  register, the report to the folder of --out. Parts may run at once, on machines that see the same \
                  register; each writes its own JSON report, and `lapwise gather --report DIR` makes them one. Ctrl-C \
                  ends with the drafts that were finished, and the next run goes on from there. Exit code 1, or 3 where \
                  Typst or the disk was in the way, \
                  says that something failed; 1 with --exit-code also that a selection was overturned or cannot be judged."
)]
pub(super) struct Arguments {
    /// The register
    #[arg(long, value_name = "DIR")]
    register: PathBuf,
    /// The folder the report goes to
    #[arg(short, long, value_name = "DIR", default_value = "out/regenerate")]
    out: PathBuf,
    /// Judge and tell, and write nothing
    #[arg(long)]
    dry_run: bool,
    /// Which selections get a draft of their next revision
    #[arg(long, value_name = "WHICH", default_value = "overturned")]
    render: Render,
    /// Only the K-th of N parts: each enquiry is in one, which hangs on its number alone
    #[arg(long, value_name = "K/N")]
    part: Option<Part>,
    /// How many drafts are printed at once; without it as many as there are cores
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    jobs: Option<u16>,
    /// End with exit code 1 if a selection was overturned or cannot be judged
    #[arg(long)]
    exit_code: bool,
    /// A folder with parts, texts and faces that replace the embedded ones
    #[arg(long, value_name = "DIR")]
    templates: Option<PathBuf>,
}

/// Which selections get a draft of their next revision.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, ValueEnum)]
enum Render {
    /// Those whose decision changed
    Overturned,
    /// Also those whose evidence moved
    Restated,
    /// Also those of which only the look moved
    All,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Report)
}

/// The form of what is kept beside the register's records.
pub(super) fn overtaken_schema() -> Schema {
    schema_for!(Overtaken)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let interrupt = Interrupt::listen()?;
    let register = super::register::open(&arguments.register)?;
    let folder = Folder::read(&here.data)?;
    let Loaded { folder: sound, catalogue, faulty } = regenerate::loaded(&folder)?;
    let presses = Presses { folder: &folder, templates: arguments.templates.as_deref(), by: Mutex::default() };
    let digest = of_set(&presses.of("en")?.inputs.data);
    let presentation = |language: &str| {
        let press = presses.of(language).ok()?;
        press.presentation().ok().map(|text| sha256(text.as_bytes()))
    };
    let today =
        Today { folder: &sound, catalogue: &catalogue, faulty: &faulty, sha256: &digest, presentation: &presentation };
    let progress = OnceLock::new();
    let heard = |done: usize, of: usize| {
        progress.get_or_init(|| Progress::of(of, "selections", here.json)).reach(done);
    };
    let Passed { mut report, statements } =
        regenerate::pass(&register, &today, arguments.part, &heard).map_err(super::register::ended)?;
    if let Some(progress) = progress.get() {
        progress.end();
    }
    if report.part.is_some() {
        let look = presses.of("en")?.presentation()?;
        report.made_from = Some(sha256(format!("{look}\n{:?} {}\n", arguments.render, arguments.dry_run).as_bytes()));
    }
    let mut environment = None;
    let mut done = drafts::Done::default();
    if !arguments.dry_run {
        let held = hold_drafts(&register, arguments.part).map_err(super::register::ended)?;
        let typst = Typst::find();
        let desk = drafts::Desk {
            register: &register,
            catalogue: &catalogue,
            presses: &presses,
            typst: &typst,
            statements: &statements,
            // A dossier is not printed from data that have a fault.
            render: faulty.is_empty().then_some(arguments.render),
            jobs: arguments.jobs.map_or_else(crate::dossier::pool::cores, usize::from),
            stop: interrupt.gently(),
            quiet: here.json,
        };
        (done, environment) = desk.draw(&mut report)?;
        drop(held);
        if interrupt.heard() {
            let printed = count(done.printed, "draft is", "drafts are");
            say::remark(&format!("interrupted: {printed} finished, and no report is written; run it again to go on"))?;
            return Err(End::Reported(INTERRUPTED));
        }
        if report.part.is_some() {
            done.files.push(write_part(&arguments.out, &report)?);
        } else {
            let lacking;
            (done.files, lacking) = write(&arguments.out, &mut report, &*presses.of("en")?, &typst)?;
            environment = environment.or(lacking);
        }
    }
    if here.json {
        say::json(&report)?;
    } else {
        told::tell(&report, &done, arguments)?;
    }
    if let Some(fault) = environment {
        return Err(setup::environment(fault));
    }
    if !report.failures.is_empty() {
        return Err(setup::partly(report.failures.iter().map(|failure| &failure.fault)));
    }
    let moved = report.counts.overturned + report.counts.not_judgeable > 0;
    if arguments.exit_code && moved {
        return Err(End::Reported(1));
    }
    Ok(())
}

/// The presses by language, each made when it is first needed.
struct Presses<'f> {
    folder: &'f Folder,
    templates: Option<&'f Path>,
    by: Mutex<BTreeMap<String, Result<std::sync::Arc<Press>, Faults>>>,
}

impl Presses<'_> {
    fn of(&self, language: &str) -> Result<std::sync::Arc<Press>, Faults> {
        let mut by = self.by.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let made = by.entry(language.to_owned());
        made.or_insert_with(|| Press::new(self.folder, self.templates, language).map(std::sync::Arc::new)).clone()
    }
}

/// Writes a report that was joined from parts, and says where and what failed.
pub(super) fn report(mut report: Report, out: &Path, templates: Option<&Path>) -> Outcome {
    // No page of it tells of the data folder itself.
    let press = Press::new(&Folder::default(), templates, "en")?;
    let (files, lacking) = write(out, &mut report, &press, &Typst::find())?;
    let files: Vec<String> = files.iter().map(|file| file.display().to_string()).collect();
    say::remark(&format!("{}\n{}", report.sentence(), files.join("\n")))?;
    for failure in &report.failures {
        say::remark(&format!("{}\n{}", failure.record, failure.fault))?;
    }
    match lacking {
        Some(fault) => Err(setup::environment(fault)),
        None if report.failures.is_empty() => Ok(()),
        None => Err(setup::partly(report.failures.iter().map(|failure| &failure.fault))),
    }
}

/// Writes the report of a part, and returns where.
fn write_part(out: &Path, report: &Report) -> Result<PathBuf, End> {
    let path = out.join(format!("regenerate{}.json", report.part.map(Part::of_file).unwrap_or_default()));
    keep::unless_there(&path, &json(report)?).map_err(setup::environment)?;
    Ok(path)
}

/// The report as a document.
fn json(report: &Report) -> Result<Vec<u8>, End> {
    let mut json = serde_json::to_vec_pretty(report).map_err(std::io::Error::from)?;
    json.push(b'\n');
    Ok(json)
}

/// Writes the report in its forms, those files only whose bytes are others; returns what the machine lacks.
fn write(
    out: &Path,
    report: &mut Report,
    press: &Press,
    typst: &Result<Typst, Fault>,
) -> Result<(Vec<PathBuf>, Option<Fault>), End> {
    let files = |report: &Report| -> Result<[Attachment; 2], End> {
        let file = |name, mime, description: &str, bytes| Attachment {
            name,
            given: None,
            mime,
            relationship: "data",
            description: description.to_owned(),
            bytes,
        };
        let csv = regenerate::csv(report).into_bytes();
        Ok([
            file("regenerate.json", "application/json", "everything that was found, one document", json(report)?),
            file("regenerate.csv", "text/csv", "one row for each selection", csv),
        ])
    };
    let paper = out.join("regenerate.pdf");
    let attached = files(report)?;
    let page = Page::of(report, &press.language, &attached);
    let printed = typst
        .as_ref()
        .map_err(|fault| Faults::from(fault.clone()))
        .and_then(|typst| press.report(typst, PART, &page, &attached, &report.data.date));
    let mut paths = Vec::new();
    let mut lacking = None;
    match printed {
        Ok(pdf) => {
            keep::unless_there(&paper, &pdf).map_err(setup::environment)?;
            paths.push(paper);
        }
        Err(faults) => {
            // What was printed before says something else by now.
            if let Err(error) = std::fs::remove_file(&paper)
                && error.kind() != std::io::ErrorKind::NotFound
            {
                let fault = keep::unwritable(&paper, &error);
                report.fail(Failure { record: "regenerate.pdf".to_owned(), fault });
            }
            for fault in faults.sorted() {
                if fault.code == Code::TypstMissing {
                    lacking = Some(fault);
                } else {
                    report.fail(Failure { record: "regenerate.pdf".to_owned(), fault });
                }
            }
        }
    }
    for file in files(report)? {
        let path = out.join(file.name);
        keep::unless_there(&path, &file.bytes).map_err(setup::environment)?;
        paths.push(path);
    }
    Ok((paths, lacking))
}
