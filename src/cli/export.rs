//! How rows leave: the forms there are, and a file that is whole or not there.

use std::io::{BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::{End, Here, Outcome, say};
use crate::catalogue::Catalogue;
use crate::dossier;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::keep::Whole;
use crate::load::Folder;
use crate::output::{Made, Told};
use crate::record::sha256;

/// The form of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// Aligned columns for a terminal
    Table,
    /// Comma-separated values
    Csv,
    /// One document
    Json,
    /// For Arrow engines
    Parquet,
    /// A workbook, the working as comments
    Xlsx,
    /// A page that needs nothing but itself
    Html,
}

/// The form, and where it goes.
#[derive(Debug, Args)]
pub(super) struct Export {
    /// The form of the answer
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
    /// The file to write; without it, standard output
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
}

impl Export {
    /// The form; bytes that are no text are refused on a terminal.
    pub(super) fn format(&self, here: &Here) -> Result<Format, End> {
        let format = if here.json { Format::Json } else { self.format };
        let to_terminal = self.output.is_none() && std::io::stdout().is_terminal();
        if matches!(format, Format::Parquet | Format::Xlsx) && to_terminal {
            return Err(End::Usage(Fault::new(
                Code::TerminalRefused,
                "binary output to a terminal",
                "a file or a pipe",
                "add `-o FILE`, or pipe it on",
            )));
        }
        Ok(format)
    }

    /// The columns that a table may fill.
    pub(super) fn width(&self) -> usize {
        if self.output.is_some() { say::PIPED } else { say::width() }
    }

    /// Writes to the file, or to standard output.
    pub(super) fn write(&self, fill: impl FnOnce(&mut dyn Write) -> Outcome) -> Outcome {
        let Some(path) = &self.output else {
            let mut out = BufWriter::new(std::io::stdout().lock());
            fill(&mut out)?;
            out.flush()?;
            return Ok(());
        };
        write_whole(path, fill)
    }

    /// Writes one JSON document.
    pub(super) fn json(&self, document: &impl Serialize) -> Outcome {
        self.write(|out| Ok(say::document(out, document)?))
    }
}

/// Writes a file beside its final name and moves it there, so that it is whole or not there.
pub(super) fn write_whole(path: &Path, fill: impl FnOnce(&mut dyn Write) -> Outcome) -> Outcome {
    let mut whole = Whole::beside(path).map_err(End::Environment)?;
    let mut out = BufWriter::new(whole.file());
    fill(&mut out).and_then(|()| Ok(out.flush()?)).map_err(|end| match end {
        End::Environment(fault) => {
            let found = format!("`{}`: {}", path.display(), fault.found);
            End::Environment(Fault { found, ..fault })
        }
        other => other,
    })?;
    drop(out);
    whole.keep().map_err(End::Environment)
}

/// What an export was made from: the command, the files of the data folder, the cautions that apply to the
/// enquiries and the candidates that are not ruled out.
pub(super) fn made(
    command: String,
    folder: &Folder,
    catalogue: &Catalogue,
    plan: &Plan<'_>,
    told: &[Told],
) -> Result<Made, Faults> {
    let mut cautions: Vec<(String, String)> = Vec::new();
    for (enquiry, told) in plan.enquiries.iter().zip(told) {
        let open = told.order.iter().filter(|r| !r.standing.is_out());
        let tapes: Vec<usize> = open.map(|r| r.tape).collect();
        for caution in dossier::cautions_met(catalogue, enquiry, &tapes) {
            if !cautions.contains(&caution) {
                cautions.push(caution);
            }
        }
    }
    let mut files: Vec<(String, String)> =
        folder.data().map(|(name, text)| (name.clone(), sha256(text.as_bytes()))).collect();
    for enquiry in plan.enquiries {
        let text = super::text_of(folder, enquiry)?;
        files.push((enquiry.file.clone(), sha256(text.as_bytes())));
    }
    Ok(Made { command, files, cautions })
}
