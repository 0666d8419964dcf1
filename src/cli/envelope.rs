//! `lapwise envelope`: limits of use.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::table::Table;
use super::{Here, Outcome, named, say};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::envelope::{self, Envelope, Quantity, Turn};
use crate::judge::Verdict;
use crate::quantity::{in_unit, significant, tidy};

/// What a limit rests on.
const RESTS: [&str; 2] = [
    "each judged by itself, all else as in the enquiry; no leave to wind otherwise",
    "not judged: creepage along a lap; the pass levels of tests are the enquiry's",
];

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise envelope Q-101 H-111")]
pub(super) struct Arguments {
    /// An enquiry: its path, or its number in the data folder
    enquiry: String,
    /// A tape of the catalogue
    tape: String,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    enquiry: String,
    tape: String,
    verdict: Verdict,
    limits: Vec<Limit>,
    unchanged: Vec<Range>,
    not_stated: Vec<&'static str>,
}

#[derive(Serialize, JsonSchema)]
struct Limit {
    quantity: &'static str,
    unit: &'static str,
    now: f64,
    value: f64,
    direction: &'static str,
    verdict: Verdict,
    criterion: String,
    exposure: Option<String>,
}

#[derive(Serialize, JsonSchema)]
struct Range {
    quantity: &'static str,
    unit: &'static str,
    from: f64,
    to: f64,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (folder, catalogue) = here.catalogue()?;
    let enquiry = super::enquiry(&folder, &catalogue, &arguments.enquiry)?;
    let tape = named::candidate(&catalogue, &arguments.tape)?;
    let found = envelope::envelope(&catalogue, &enquiry, tape)?;
    let document = document(&catalogue, &enquiry, tape, &found);
    if here.json {
        say::json(&document)?;
        return Ok(());
    }
    let mut out = std::io::stdout().lock();
    writeln!(out, "Limits of use of {} in {}, now {}\n", document.tape, document.enquiry, document.verdict.text())?;
    let mut table = Table::new(["quantity", "now", "holds", "then", "by"], &[1]);
    for limit in &document.limits {
        let unit = limit.unit;
        let exposure = limit.exposure.as_ref().map(|name| format!(", {name}")).unwrap_or_default();
        table.row([
            limit.quantity.to_owned(),
            format!("{} {unit}", significant(limit.now, 4)),
            format!("{} {} {unit}", limit.direction, tidy(limit.value, 3)),
            limit.verdict.text().to_owned(),
            format!("{}{exposure}", limit.criterion),
        ]);
    }
    table.print(&mut out)?;
    for range in &document.unchanged {
        let (from, to) = (tidy(range.from, 3), tidy(range.to, 3));
        writeln!(out, "  {} changes nothing from {from} to {to} {}", range.quantity, range.unit)?;
    }
    for line in RESTS {
        writeln!(out, "  {line}")?;
    }
    if !document.not_stated.is_empty() {
        writeln!(out, "  not stated in the enquiry: {}", document.not_stated.join(", "))?;
    }
    Ok(())
}

fn document(catalogue: &Catalogue, enquiry: &Enquiry, tape: usize, found: &Envelope) -> Document {
    let value = |quantity: Quantity, si: f64| in_unit(si, quantity.unit());
    let limit = |turn: &Turn| Limit {
        quantity: turn.quantity.name(),
        unit: turn.quantity.unit(),
        now: value(turn.quantity, turn.now),
        value: value(turn.quantity, turn.value),
        direction: if turn.above { "up to" } else { "down to" },
        verdict: turn.verdict,
        criterion: catalogue.criteria[turn.criterion].id.clone(),
        exposure: turn.exposure.map(|x| enquiry.exposures[x].name.clone()),
    };
    Document {
        schema: "lapwise/envelope/1",
        enquiry: enquiry.number.clone(),
        tape: catalogue.tapes[tape].id.clone(),
        verdict: found.verdict,
        limits: found.turns.iter().map(limit).collect(),
        unchanged: found
            .free
            .iter()
            .map(|(q, from, to)| Range {
                quantity: q.name(),
                unit: q.unit(),
                from: value(*q, *from),
                to: value(*q, *to),
            })
            .collect(),
        not_stated: found.unstated.iter().map(|q| q.name()).collect(),
    }
}
