//! `lapwise gather`: the reports of all parts of a batch, joined.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::{End, Here, Outcome, regenerate, say};
use crate::batch::{self, Joined, Whole};
use crate::fault::{Code, Fault, Faults};
use crate::{keep, load};

#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  lapwise gather part-1.json part-2.json -o all.json\n  lapwise gather \
                  out/regenerate/regenerate-*-of-8.json --report out/regenerate\n\nThe joined report is the one that a \
                  run in one part makes, byte for byte. Findings that `matrix --partitioned` wrote need no joining: \
                  all parts write into one folder. Exit code 1 also says that the batch has failures or is unfinished.")]
pub(super) struct Arguments {
    /// The reports of all parts: as `dossier --part K/N --json` printed them, or `regenerate --part K/N` wrote them
    #[arg(required = true, value_name = "PART")]
    parts: Vec<PathBuf>,
    /// A folder for the report of `regenerate` as PDF, CSV and JSON
    #[arg(long, value_name = "DIR", conflicts_with = "output")]
    report: Option<PathBuf>,
    /// A folder with parts, texts and faces that replace the embedded ones, as it was named for the parts
    #[arg(long, value_name = "DIR", requires = "report")]
    templates: Option<PathBuf>,
    /// The file to write; without it, standard output
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

pub(super) fn run(_: &Here, arguments: &Arguments) -> Outcome {
    let mut faults = Faults::default();
    let mut reports = Vec::new();
    for path in &arguments.parts {
        let name = path.display().to_string();
        match load::read_text(path, &name) {
            Ok(text) => reports.push((name, text)),
            Err(fault) => faults.add(fault),
        }
    }
    let reports = faults.or(reports)?;
    let Joined { report, counts } = batch::gather(&reports)?;
    let mut text = serde_json::to_string_pretty(&report).map_err(std::io::Error::from)?;
    text.push('\n');
    let gathered = match (report, &arguments.report, &arguments.output) {
        (Whole::Selections(report), Some(folder), _) => {
            regenerate::report(*report, folder, arguments.templates.as_deref())
        }
        (Whole::Dossiers(_), Some(_), _) => {
            let needed = "reports of `lapwise regenerate`, for a report as PDF, CSV and JSON";
            Err(Fault::new(Code::FormatUnknown, "reports of `lapwise dossier`", needed, "leave out `--report`").into())
        }
        (_, None, Some(path)) => keep::text(path, &text).map_err(End::Environment),
        (_, None, None) => Ok(std::io::stdout().lock().write_all(text.as_bytes())?),
    };
    let told: Vec<String> = counts.iter().map(|(list, count)| format!("{count} {list}")).collect();
    say::remark(&format!("{} parts: {}", arguments.parts.len(), told.join(", ")))?;
    gathered?;
    // The first list is of what is done.
    if counts.iter().skip(1).any(|(_, count)| *count > 0) {
        return Err(End::Reported(1));
    }
    Ok(())
}
