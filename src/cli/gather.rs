//! `lapwise gather`: the reports of all parts of a batch, joined.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::{End, Here, Outcome, say};
use crate::batch;
use crate::fault::Faults;
use crate::{keep, load};

#[derive(Debug, Args)]
#[command(
    after_help = "Example: lapwise gather part-1.json part-2.json -o all.json\n\nThe joined report is the one that a \
                  run in one part prints, byte for byte. Findings that `matrix --partitioned` wrote need no joining: \
                  all parts write into one folder. Exit code 1 also says that the batch has failures or is unfinished."
)]
pub(super) struct Arguments {
    /// The reports that `dossier --part K/N --json` printed, of all parts
    #[arg(required = true, value_name = "PART")]
    parts: Vec<PathBuf>,
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
    let joined = batch::gather(&reports)?;
    let mut text = serde_json::to_string_pretty(&joined.document).map_err(std::io::Error::from)?;
    text.push('\n');
    match &arguments.output {
        Some(path) => keep::text(path, &text).map_err(End::Environment)?,
        None => std::io::stdout().lock().write_all(text.as_bytes())?,
    }
    let told: Vec<String> = joined.counts.iter().map(|(list, count)| format!("{count} {list}")).collect();
    say::remark(&format!("{} parts: {}", arguments.parts.len(), told.join(", ")))?;
    // The first list is of what is done.
    if joined.counts.iter().skip(1).any(|(_, count)| *count > 0) {
        return Err(End::Reported(1));
    }
    Ok(())
}
