//! `lapwise matrix`: one row per candidate, exposure and criterion.

use std::fs::File;
use std::io::{BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{End, Here, Outcome, say};
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault};
use crate::output::{self, Counts, Row};
use crate::quantity::significant;

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Aligned columns for a terminal
    Table,
    /// Comma-separated values
    Csv,
    /// One document
    Json,
    /// For Arrow engines
    Parquet,
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise matrix Q-101 --format csv -o q-101.csv")]
pub(super) struct Arguments {
    /// Enquiries: paths, or numbers in the data folder
    #[arg(required = true, value_name = "ENQUIRY")]
    enquiries: Vec<String>,
    /// The form of the rows
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
    /// The file to write; without it, standard output
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Serialize, JsonSchema)]
struct Document<'r> {
    schema: &'static str,
    rows: &'r [Row],
    counts: Counts,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let format = if here.json { Format::Json } else { arguments.format };
    let to_terminal = arguments.output.is_none() && std::io::stdout().is_terminal();
    if format == Format::Parquet && to_terminal {
        return Err(End::Usage(Fault::new(
            Code::TerminalRefused,
            "binary output to a terminal",
            "a file or a pipe",
            "add `-o FILE`, or pipe it on",
        )));
    }
    let (folder, catalogue) = here.catalogue()?;
    let enquiries = super::enquiries(&folder, &catalogue, &arguments.enquiries)?;
    let plan = Plan::new(&catalogue, &enquiries)?;
    let (rows, counts) = output::rows(&plan);
    match &arguments.output {
        Some(path) => write_whole(path, |out| write(format, &rows, counts, &enquiries, out))?,
        None => write(format, &rows, counts, &enquiries, &mut std::io::stdout().lock())?,
    }
    if matches!(format, Format::Csv | Format::Parquet) {
        eprintln!("{}", counts.sentence());
    }
    Ok(())
}

fn write(format: Format, rows: &[Row], counts: Counts, enquiries: &[Enquiry], out: &mut dyn Write) -> Outcome {
    match format {
        Format::Csv => output::csv(rows, out)?,
        Format::Parquet => output::parquet(rows, out).map_err(End::Environment)?,
        Format::Json => {
            let document = Document { schema: "lapwise/matrix/1", rows, counts };
            serde_json::to_writer_pretty(&mut *out, &document).map_err(std::io::Error::from)?;
            writeln!(out)?;
        }
        Format::Table => table(rows, counts, enquiries, out)?,
    }
    Ok(())
}

/// Writes a file beside its final name and moves it there, so that it is whole or not there.
fn write_whole(path: &Path, fill: impl FnOnce(&mut dyn Write) -> Outcome) -> Outcome {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    {
        let mut out = BufWriter::new(file.as_file_mut() as &mut File);
        fill(&mut out)?;
        out.flush()?;
    }
    file.persist(path).map_err(|error| End::from(error.error))?;
    Ok(())
}

fn table(rows: &[Row], counts: Counts, enquiries: &[Enquiry], mut out: &mut dyn Write) -> Outcome {
    for enquiry in enquiries {
        writeln!(out, "{}  {}\n", enquiry.number, enquiry.title)?;
        let head = [
            "tape",
            "exposure",
            "criterion",
            "verdict",
            "5 %",
            "50 %",
            "95 %",
            "outer limit",
            "unit",
            "margin",
            "what is missing",
        ];
        let mut table = say::Table::new(head, &[4, 5, 6, 7, 9]);
        let number = |x: Option<f64>| x.map(|x| significant(x, 3)).unwrap_or_default();
        for row in rows.iter().filter(|row| row.enquiry == enquiry.number && row.verdict != "not-asked") {
            table.row([
                row.tape.clone(),
                row.exposure.clone(),
                row.criterion.clone(),
                row.verdict.to_owned(),
                number(row.x05),
                number(row.x50),
                number(row.x95),
                number(row.outer_limit),
                row.unit.to_owned(),
                number(row.margin),
                row.missing.clone(),
            ]);
        }
        table.print(&mut out)?;
        writeln!(out)?;
    }
    writeln!(out, "{}", counts.sentence())?;
    Ok(())
}
