//! `lapwise rank`: the candidates in order.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{Here, Outcome, say};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::explain::margin_words;
use crate::judge::{Finding, Verdict};
use crate::output::Counts;
use crate::quantity::significant;
use crate::rank::{self, Ranked};
use crate::settle;

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise rank Q-101")]
pub(super) struct Arguments {
    /// An enquiry: its path, or its number in the data folder
    enquiry: String,
    /// List the unsuitable tapes too
    #[arg(long)]
    all: bool,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    enquiry: String,
    candidates: Vec<Candidate>,
    discontinued: Vec<String>,
    counts: Counts,
}

#[derive(Serialize, JsonSchema)]
struct Candidate {
    tape: String,
    verdict: Verdict,
    /// The criterion that decides.
    weakest: String,
    /// The exposure it is about, if it is about one.
    exposure: Option<String>,
    margin: Option<f64>,
    /// What is missing for it, in words.
    missing: Vec<String>,
    open_hazards: u32,
    relative_cost: Option<f64>,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (folder, catalogue) = here.catalogue()?;
    let enquiries = [super::enquiry(&folder, &catalogue, &arguments.enquiry)?];
    let plan = Plan::new(&catalogue, &enquiries)?;
    let standings = plan.standings();
    let order = rank::order(&plan, 0, &standings[0]);
    let findings = plan.findings(0);
    let counts = Counts::of(findings.iter().map(|f| f.verdict));
    let of = |ranked: &Ranked| -> Vec<Finding> { findings.iter().filter(|f| f.tape == ranked.tape).cloned().collect() };
    if here.json {
        let candidates = order.iter().map(|r| candidate(&catalogue, &enquiries[0], r, &of(r))).collect();
        let discontinued = catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.clone()).collect();
        let document = Document {
            schema: "lapwise/rank/1",
            enquiry: enquiries[0].number.clone(),
            candidates,
            discontinued,
            counts,
        };
        say::json(&document)?;
        return Ok(());
    }
    let mut out = std::io::stdout().lock();
    head(&mut out, &catalogue, &enquiries[0], order.len())?;
    let mut table =
        say::Table::new(["order", "tape", "construction", "verdict", "weakest", "open hazards", "cost"], &[]);
    let shown = order.iter().enumerate().filter(|(_, r)| arguments.all || r.standing.verdict != Verdict::Unsuitable);
    let mut count = 0;
    for (place, ranked) in shown {
        count += 1;
        table.row([
            (place + 1).to_string(),
            catalogue.tapes[ranked.tape].id.clone(),
            catalogue.construction(ranked.tape),
            ranked.standing.verdict.text().to_owned(),
            weakest_words(&catalogue, &enquiries[0], &of(ranked)),
            ranked.standing.open_hazards.to_string(),
            ranked.cost.map_or_else(|| "–".to_owned(), |c| significant(c, 2)),
        ]);
    }
    table.print(&mut out)?;
    let hidden = order.len() - count;
    if hidden > 0 {
        writeln!(out, "  … {hidden} more unsuitable: lapwise rank {} --all", enquiries[0].number)?;
    }
    writeln!(out)?;
    match rank::proposed(&order) {
        Some(first) => {
            let tests = settle::tests(&catalogue, &of(first)).len();
            let subject = match tests {
                0 => String::new(),
                1 => ", subject to 1 test".to_owned(),
                n => format!(", subject to {n} tests"),
            };
            let id = &catalogue.tapes[first.tape].id;
            let number = &enquiries[0].number;
            writeln!(out, "Proposed: {id}{subject} (lapwise dossier {number}; lapwise envelope {number} {id})")?;
        }
        None => {
            writeln!(
                out,
                "Proposed: none; every candidate is unsuitable (lapwise rank {} --all)",
                enquiries[0].number
            )?;
        }
    }
    let discontinued: Vec<&str> = catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.as_str()).collect();
    if !discontinued.is_empty() {
        writeln!(out, "Not judged, discontinued: {}", discontinued.join(", "))?;
    }
    writeln!(out, "{}", counts.sentence())?;
    if catalogue.about.invented {
        writeln!(out, "Invented demonstration data.")?;
    }
    Ok(())
}

fn head(out: &mut impl Write, catalogue: &Catalogue, enquiry: &Enquiry, candidates: usize) -> Outcome {
    let a = &enquiry.application;
    let class = enquiry.duty.thermal_class.map(|class| format!(" · class {class}")).unwrap_or_default();
    let life = significant(enquiry.duty.life.si() / (8766.0 * 3600.0), 3);
    writeln!(out, "{}  {}", enquiry.number, enquiry.title)?;
    writeln!(out, "  {} · {} · {}{class} · {life} a", a.equipment, a.function, a.atmosphere)?;
    writeln!(
        out,
        "  {candidates} candidates, {} exposures, data {}\n",
        enquiry.exposures.len(),
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
        None => format!("{} {title}{exposure}", margin_words(weakest.margin)),
    }
}

fn candidate(catalogue: &Catalogue, enquiry: &Enquiry, ranked: &Ranked, findings: &[Finding]) -> Candidate {
    let weakest = rank::weakest(findings);
    Candidate {
        tape: catalogue.tapes[ranked.tape].id.clone(),
        verdict: ranked.standing.verdict,
        weakest: weakest.map(|f| catalogue.criteria[f.criterion].id.clone()).unwrap_or_default(),
        exposure: weakest.and_then(|f| f.exposure).map(|x| enquiry.exposures[x].name.clone()),
        margin: weakest.and_then(|f| f.margin.number()),
        missing: weakest.map(|f| f.missing.iter().map(|m| m.text(catalogue)).collect()).unwrap_or_default(),
        open_hazards: ranked.standing.open_hazards,
        relative_cost: ranked.cost,
    }
}
