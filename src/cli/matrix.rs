//! `lapwise matrix`: one row per candidate, exposure and criterion.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::asked::Asked;
use super::export::{self, Export, Format};
use super::interrupt::Interrupt;
use super::table::Table;
use super::{End, Here, Outcome, partition, say};
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::output::{self, Counts, Row};
use crate::quantity::significant;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lapwise matrix Q-101 --format xlsx -o q-101.xlsx\n  lapwise matrix --all --format parquet \
                  --partitioned -o findings\n  lapwise matrix --all --part 3/8 --format parquet --partitioned -o findings"
)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: Asked,
    #[command(flatten)]
    export: Export,
    /// With `--format parquet`: one file for each enquiry, in a folder `enquiry=NUMBER` of the folder `-o`
    #[arg(long)]
    partitioned: bool,
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
    let export = &arguments.export;
    let format = export.format(here)?;
    let (folder, catalogue) = here.catalogue()?;
    if arguments.partitioned {
        let interrupt = Interrupt::listen()?;
        let folder_out = partition::folder(export, format)?;
        let enquiries = arguments.asked.enquiries(&folder, &catalogue)?;
        return partition::write(here, &catalogue, &enquiries, folder_out, &interrupt);
    }
    let enquiries = arguments.asked.enquiries(&folder, &catalogue)?;
    let plan = Plan::new(&catalogue, &enquiries)?;
    let told = output::told(&plan);
    let counts = output::counted(&told);
    let made = || {
        let command = format!("lapwise matrix {}", arguments.asked.words());
        export::made(command, &folder, &catalogue, &plan, &told)
    };
    match format {
        Format::Csv => export.write(|out| Ok(output::csv(&output::rows(&plan, &told), out)?))?,
        Format::Parquet => {
            export.write(|out| output::parquet(&output::rows(&plan, &told), out).map_err(End::Environment))?;
        }
        Format::Xlsx => {
            let made = made()?;
            export.write(|out| output::xlsx_matrix(&plan, &told, &made, out).map_err(End::Environment))?;
        }
        Format::Html => {
            let made = made()?;
            export.write(|out| output::html_matrix(&plan, &told, &made, out).map_err(End::Environment))?;
        }
        Format::Json => {
            let rows = output::rows(&plan, &told);
            export.json(&Document { schema: "lapwise/matrix/1", rows: &rows, counts })?;
        }
        Format::Table => export.write(|out| {
            table(&output::rows(&plan, &told), &enquiries, export.width(), out)?;
            writeln!(out, "{}", counts.sentence())?;
            Ok(())
        })?,
    }
    if matches!(format, Format::Csv | Format::Parquet | Format::Xlsx | Format::Html) {
        say::remark(&counts.sentence())?;
    }
    Ok(())
}

fn table(rows: &[Row], enquiries: &[Enquiry], width: usize, out: &mut dyn Write) -> Outcome {
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
        let mut table = Table::new(head, &[4, 5, 6, 7, 9]);
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
        table.print_within(out, width)?;
        writeln!(out)?;
    }
    Ok(())
}
