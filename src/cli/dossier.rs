//! `lapwise dossier`: enquiries as PDF.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::table::Table;
use super::{End, Here, Outcome, say, setup};
use crate::catalogue::Catalogue;
use crate::dossier::typst::{self, Typst};
use crate::dossier::{Dossier, Press};
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::judge::Verdict;
use crate::load::Folder;
use crate::record::sha256;

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise dossier Q-101 Q-104 -o out")]
pub(super) struct Arguments {
    /// Enquiries: paths, or numbers in the data folder
    #[arg(required = true, value_name = "ENQUIRY")]
    enquiries: Vec<String>,
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
    /// A folder with parts, texts and faces that replace the embedded ones
    #[arg(long, value_name = "DIR")]
    templates: Option<PathBuf>,
    /// The language of the fixed text: en, de, or one of the template folder
    #[arg(long, value_name = "CODE", default_value = "en")]
    language: String,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    dossiers: Vec<Line>,
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

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (folder, catalogue) = here.catalogue()?;
    let named: Vec<&str> = arguments.enquiries.iter().map(String::as_str).collect();
    let typst = Typst::find().map_err(setup::environment)?;
    print(here, &folder, &catalogue, &named, &arguments.printing, &typst)
}

/// Prints the dossiers of some enquiries and tells of each.
pub(super) fn print(
    here: &Here,
    folder: &Folder,
    catalogue: &Catalogue,
    named: &[&str],
    printing: &Printing,
    typst: &Typst,
) -> Outcome {
    let press = Press::new(folder, printing.templates.as_deref(), &printing.language)?;
    let named: Vec<String> = named.iter().map(|name| (*name).to_owned()).collect();
    let enquiries = super::enquiries(folder, catalogue, &named)?;
    once_each(&enquiries)?;
    let dossiers = prepare(&press, folder, catalogue, &enquiries)?;
    let jobs = printing.jobs.map_or_else(cores, usize::from);
    let bar = progress(dossiers.len());
    let printed = press.print(typst, &dossiers, jobs, |_| bar.inc(1)).map_err(setup::environment)?;
    bar.finish_and_clear();
    let mut lines = Vec::new();
    let mut failed: Option<End> = None;
    for (dossier, pdf) in dossiers.iter().zip(printed) {
        let path = printing.out.join(dossier.file_name());
        match pdf.and_then(|pdf| typst::keep(&path, &pdf).map(|()| pdf)) {
            Ok(pdf) => lines.push(line(dossier, &path, &pdf)),
            Err(fault) => {
                let fault = Fault { found: format!("{}: {}", dossier.number, fault.found), ..fault };
                failed.get_or_insert(setup::environment(fault));
            }
        }
    }
    if let Some(end) = failed {
        return Err(end);
    }
    tell(here, &enquiries, lines)
}

/// Two enquiries of one number would overwrite each other's file.
fn once_each(enquiries: &[Enquiry]) -> Result<(), Faults> {
    let mut faults = Faults::default();
    for (at, enquiry) in enquiries.iter().enumerate() {
        if enquiries[..at].iter().any(|other| other.number == enquiry.number) {
            faults.add(
                Fault::new(
                    Code::KeyDuplicate,
                    format!("enquiry `{}` twice", enquiry.number),
                    "each number once: it names the file",
                    "name it once, or give the other enquiry a number of its own",
                )
                .at(enquiry.place("enquiry.number")),
            );
        }
    }
    faults.or(())
}

fn prepare(
    press: &Press,
    folder: &Folder,
    catalogue: &Catalogue,
    enquiries: &[Enquiry],
) -> Result<Vec<Dossier>, Faults> {
    let plan = Plan::new(catalogue, enquiries)?;
    let standings = plan.standings();
    let prepared: Vec<Result<Dossier, Faults>> = enquiries
        .par_iter()
        .enumerate()
        .map(|(number, enquiry)| {
            let text = super::text_of(folder, enquiry)?;
            // Without a candidate there is no standing either.
            let standing = standings.get(number).map_or(&[][..], Vec::as_slice);
            press.prepare(&plan, number, standing, &text, None)
        })
        .collect();
    let mut faults = Faults::default();
    let mut dossiers = Vec::new();
    for result in prepared {
        match result {
            Ok(dossier) => dossiers.push(dossier),
            Err(found) => faults.extend(found),
        }
    }
    faults.or(dossiers)
}

pub(super) fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

fn progress(count: usize) -> ProgressBar {
    if !std::io::stderr().is_terminal() || count < 2 {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(count as u64);
    if let Ok(style) = ProgressStyle::with_template("printing {pos} of {len} dossiers {wide_bar}") {
        bar.set_style(style);
    }
    bar
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

fn tell(here: &Here, enquiries: &[Enquiry], lines: Vec<Line>) -> Outcome {
    if here.json {
        say::json(&Document { schema: "lapwise/dossier/1", dossiers: lines })?;
        return Ok(());
    }
    let mut table = Table::new(["enquiry", "proposed", "verdict", "weakest margin", "file"], &[]);
    for (enquiry, line) in enquiries.iter().zip(lines) {
        let weakest = match (line.margin, line.weakest) {
            (Some(margin), Some(weakest)) => format!("{margin} {}", weakest.to_lowercase()),
            _ => "every candidate is ruled out".to_owned(),
        };
        table.row([
            enquiry.number.clone(),
            line.proposed.unwrap_or_else(|| "none".to_owned()),
            line.verdict.text().to_owned(),
            weakest,
            line.file,
        ]);
    }
    let mut out = std::io::stdout().lock();
    table.print(&mut out)?;
    out.flush()?;
    Ok(())
}
