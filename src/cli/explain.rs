//! `lapwise explain`: the full working of a cell.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{Here, Outcome, named, say};
use crate::expand::Plan;
use crate::explain::{self, Explanation, FactUsed};
use crate::fault::{Code, Fault};
use crate::quantity::{significant, tidy};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise explain Q-101 H-111 adhesive-swelling --exposure \"service oil\"")]
pub(super) struct Arguments {
    /// An enquiry: its path, or its number in the data folder
    enquiry: String,
    /// A tape of the catalogue
    tape: String,
    /// A criterion; without one, the criterion that decides
    criterion: Option<String>,
    /// An exposure of the enquiry; without one, the exposure that decides
    #[arg(long, value_name = "NAME")]
    exposure: Option<String>,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    #[serde(flatten)]
    explanation: Explanation,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (folder, catalogue) = here.catalogue()?;
    let enquiries = [super::enquiry(&folder, &catalogue, &arguments.enquiry)?];
    let tape = named::candidate(&catalogue, &arguments.tape)?;
    let criterion = arguments.criterion.as_ref().map(|name| named::criterion(&catalogue, name)).transpose()?;
    let exposure = arguments.exposure.as_ref().map(|name| named::exposure(&enquiries[0], name)).transpose()?;
    let plan = Plan::of(&catalogue, &enquiries, vec![tape])?;
    let findings = plan.findings_of(0, 0);
    let Some(finding) = explain::pick(&findings, criterion, exposure) else {
        return Err(Fault::new(
            Code::NameUnknown,
            "a criterion that is not asked there",
            "a criterion that is asked of this tape in this enquiry",
            "leave the criterion or the exposure out to see the one that decides",
        )
        .into());
    };
    let explanation = explain::explain(&plan, 0, finding);
    if here.json {
        say::json(&Document { schema: "lapwise/explain/1", explanation })?;
        return Ok(());
    }
    print(&explanation, &explain::margin_words(finding.margin))
}

fn print(x: &Explanation, margin: &str) -> Outcome {
    let mut out = std::io::stdout().lock();
    let place = x.exposure.as_ref().map(|name| format!(" in {name}")).unwrap_or_default();
    writeln!(out, "{} of {}{place}, {}: {}, margin {margin}\n", x.title, x.tape, x.enquiry, x.verdict.text())?;
    let unit = if x.unit == "1" { String::new() } else { format!(" {}", x.unit) };
    let mut line = |name: &str, text: &str| writeln!(out, "  {name:<11}{text}");
    line("asked", &x.asked)?;
    line("method", &x.method)?;
    if let (Some(limit), Some(outer)) = (x.limit, x.outer_limit) {
        let sense = if x.better == "higher" { "at least" } else { "at most" };
        let from = &x.limits_from;
        line(
            "limits",
            &format!("{sense} {limit}{unit} suitable, {outer}{unit} conditional   ({}, {})", from.basis, from.place),
        )?;
    }
    if let (Some(low), Some(mid), Some(high)) = (x.x05, x.x50, x.x95) {
        let number = |v| significant(v, 4);
        line("value", &format!("{}{unit}   ({} to {}, 5 to 95 %)", number(mid), number(low), number(high)))?;
    }
    if let Some(cap) = x.capped {
        line("held", cap_words(cap))?;
    }
    for missing in &x.missing {
        line("missing", missing)?;
    }
    let mut reasons: Vec<&FactUsed> = x.facts.iter().filter(|f| f.influence >= 0.05).collect();
    reasons.sort_by(|a, b| b.influence.total_cmp(&a.influence));
    if !reasons.is_empty() {
        let shares: Vec<String> =
            reasons.iter().take(3).map(|f| format!("{} {} %", f.symbol, significant(f.influence * 100.0, 2))).collect();
        line("because", &format!("the spread hangs on {}", shares.join(", ")))?;
    }
    for (nth, equation) in x.equations.iter().enumerate() {
        line(
            if nth == 0 { "equation" } else { "" },
            &format!("{}   [{}]", equation.equation, equation.sources.join("; ")),
        )?;
    }
    writeln!(out)?;
    let mut table = say::Table::new(["symbol", "value", "5 to 95 %", "what", "where", "basis", "source"], &[1]);
    for fact in &x.facts {
        let unit = if fact.unit == "1" { String::new() } else { format!(" {}", fact.unit) };
        let spread = if fact.low < fact.high {
            format!("{} to {}", tidy(fact.low, 4), tidy(fact.high, 4))
        } else {
            "exact".to_owned()
        };
        let beyond = if fact.extrapolated { ", extrapolated" } else { "" };
        table.row([
            fact.symbol.clone(),
            format!("{}{unit}", tidy(fact.value, 6)),
            spread,
            fact.name.clone(),
            fact.place.as_ref().map(ToString::to_string).unwrap_or_default(),
            format!("{}{beyond}", fact.basis.map_or("given", |b| b.text())),
            fact.source.clone().unwrap_or_default(),
        ]);
    }
    if !x.facts.is_empty() {
        table.print(&mut out)?;
        writeln!(out)?;
    }
    let mut line = |name: &str, text: &str| writeln!(out, "  {name:<11}{text}");
    let steps: Vec<String> = x.central.iter().map(|s| with_unit(s.symbol, s.value, s.unit)).collect();
    if !steps.is_empty() {
        line("with", &steps.join("; "))?;
    }
    if let Some(demand) = &x.demand {
        line("over", &format!("{} {}", demand.name, with_unit(&demand.symbol, demand.value, &demand.unit)))?;
    }
    if let Some(value) = x.central_value {
        line("gives", &format!("{}{unit}", significant(value, 6)))?;
    }
    for note in &x.notes {
        line("note", note)?;
    }
    if x.verdict == crate::judge::Verdict::Conditional {
        line("condition", &x.condition)?;
    }
    if !x.settled_by.is_empty() {
        line("settle", &x.settled_by)?;
    }
    Ok(())
}

fn with_unit(symbol: &str, value: f64, unit: &str) -> String {
    let unit = if unit == "1" { String::new() } else { format!(" {unit}") };
    format!("{symbol} = {}{unit}", tidy(value, 6))
}

fn cap_words(cap: crate::judge::Cap) -> &'static str {
    use crate::judge::Cap;
    match cap {
        Cap::WeakEvidence => "conditional at best: the evidence is estimated, recalled or milder than the exposure",
        Cap::Extrapolated => "conditional at best: an input is carried beyond where it was taken",
        Cap::MethodAlone => "unproven at worst: this method alone rules nothing out here",
        Cap::MilderTest => "unproven at best: a test milder than the exposure rules out, but not in",
    }
}
