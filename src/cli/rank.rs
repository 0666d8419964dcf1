//! `lapwise rank`: the candidates in order.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::export::{self, Export, Format};
use super::table::Table;
use super::{End, Here, Outcome, say};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::explain::margin_words;
use crate::fault::visible;
use crate::judge::Finding;
use crate::output::{self, Candidate, Counts, INVENTED, Told};
use crate::quantity::{count, significant, tidy};
use crate::rank;
use crate::settle;

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise rank Q-101 --format html -o q-101.html")]
pub(super) struct Arguments {
    /// An enquiry: its path, or its number in the data folder
    enquiry: String,
    /// List the unsuitable tapes too; every form but the table always does
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    export: Export,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    enquiry: String,
    candidates: Vec<Candidate>,
    discontinued: Vec<String>,
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
    let enquiries = [super::enquiry(&folder, &catalogue, &arguments.enquiry)?];
    let plan = Plan::new(&catalogue, &enquiries)?;
    let answers = output::told(&plan);
    let [told] = answers.as_slice() else { return Ok(()) };
    let candidates = || output::candidates(&plan, 0, told);
    let made = || {
        let command = format!("lapwise rank {}", arguments.enquiry);
        export::made(command, &folder, &catalogue, &plan, &answers)
    };
    match format {
        Format::Csv => export.write(|out| Ok(output::csv_order(&candidates(), out)?))?,
        Format::Parquet => {
            export.write(|out| output::parquet_order(&candidates(), out).map_err(End::Environment))?;
        }
        Format::Xlsx => {
            let made = made()?;
            export.write(|out| output::xlsx_order(&plan, &answers, &made, out).map_err(End::Environment))?;
        }
        Format::Html => {
            let made = made()?;
            export.write(|out| output::html_order(&plan, &answers, &made, out).map_err(End::Environment))?;
        }
        Format::Json => {
            export.json(&Document {
                schema: "lapwise/rank/1",
                enquiry: enquiries[0].number.clone(),
                candidates: candidates(),
                discontinued: discontinued(&catalogue),
                counts: told.counts,
            })?;
        }
        Format::Table => {
            export.write(|out| table(&catalogue, &enquiries[0], told, arguments.all, export.width(), out))?;
        }
    }
    if matches!(format, Format::Csv | Format::Parquet | Format::Xlsx | Format::Html) {
        say::remark(&told.counts.sentence())?;
    }
    Ok(())
}

fn discontinued(catalogue: &Catalogue) -> Vec<String> {
    catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.clone()).collect()
}

fn table(
    catalogue: &Catalogue,
    enquiry: &Enquiry,
    told: &Told,
    all: bool,
    width: usize,
    out: &mut dyn Write,
) -> Outcome {
    let order = &told.order;
    head(out, catalogue, enquiry, order.len())?;
    let heads = ["order", "tape", "construction", "verdict", "weakest", "open hazards", "cost"];
    let mut table = Table::new(heads, &[0, 6]);
    let shown = order.iter().enumerate().filter(|(_, r)| all || !r.standing.is_out());
    let mut listed = 0;
    for (place, ranked) in shown {
        listed += 1;
        table.row([
            (place + 1).to_string(),
            catalogue.tapes[ranked.tape].id.clone(),
            catalogue.construction(ranked.tape),
            ranked.standing.verdict.text().to_owned(),
            weakest_words(catalogue, enquiry, told.of(ranked)),
            ranked.standing.open_hazards.to_string(),
            ranked.cost.map_or_else(|| "–".to_owned(), |c| significant(c, 2)),
        ]);
    }
    table.print_within(out, width)?;
    let number = &enquiry.number;
    let hidden = order.len() - listed;
    if hidden > 0 {
        writeln!(out, "  … {hidden} more unsuitable: lapwise rank {number} --all")?;
    }
    writeln!(out)?;
    match rank::proposed(order) {
        Some(first) => {
            let subject = match settle::tests(catalogue, enquiry, told.of(first)).len() {
                0 => String::new(),
                n => format!(", subject to {}", count(n, "test", "tests")),
            };
            let id = &catalogue.tapes[first.tape].id;
            writeln!(out, "Proposed: {id}{subject} (lapwise dossier {number}; lapwise envelope {number} {id})")?;
        }
        None => writeln!(out, "Proposed: none; every candidate is unsuitable (lapwise rank {number} --all)")?,
    }
    let discontinued = discontinued(catalogue);
    if !discontinued.is_empty() {
        writeln!(out, "Not judged, discontinued: {}", discontinued.join(", "))?;
    }
    writeln!(out, "{}", told.counts.sentence())?;
    if catalogue.about.invented {
        writeln!(out, "{INVENTED}.")?;
    }
    Ok(())
}

fn head(out: &mut dyn Write, catalogue: &Catalogue, enquiry: &Enquiry, candidates: usize) -> Outcome {
    let a = &enquiry.application;
    let class = enquiry.duty.thermal_class.map(|class| format!(" · class {class}")).unwrap_or_default();
    let life = tidy(enquiry.duty.life.si() / (8766.0 * 3600.0), 3);
    writeln!(out, "{}  {}", enquiry.number, visible(&enquiry.title))?;
    writeln!(out, "  {} · {} · {}{class} · {life} a", a.equipment, a.function, a.atmosphere)?;
    writeln!(
        out,
        "  {}, {}, data {}\n",
        count(candidates, "candidate", "candidates"),
        count(enquiry.exposures.len(), "exposure", "exposures"),
        catalogue.about.version
    )?;
    Ok(())
}

/// The deciding finding in words: its margin and criterion, or the fact that is missing.
pub(super) fn weakest_words(catalogue: &Catalogue, enquiry: &Enquiry, findings: &[Finding]) -> String {
    let Some(weakest) = rank::weakest(findings) else { return "nothing was asked".to_owned() };
    let title = catalogue.criteria[weakest.criterion].title.to_lowercase();
    let exposure = weakest.exposure.map(|x| format!(", {}", enquiry.exposures[x].name)).unwrap_or_default();
    match weakest.missing.first() {
        Some(missing) => format!("{title}{exposure}: no {}", missing.text(catalogue)),
        None => format!("{} {title}{exposure}", margin_words(weakest)),
    }
}
