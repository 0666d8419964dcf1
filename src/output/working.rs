//! The working of a finding as text: what a terminal, a comment in a workbook and a page say alike.

use serde::Serialize;

use crate::explain::{Explanation, FactUsed, margin_words};
use crate::judge::{Cap, Finding};
use crate::quantity::{count, significant, tidy};

/// The columns of the facts of a working.
pub const FACT_HEADS: [&str; 7] = ["symbol", "value", "5 to 95 %", "what", "where", "basis", "source"];

/// The working of a finding, ready to be printed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Working {
    /// Which finding, with verdict and margin.
    pub title: String,
    /// What was asked, how, against what, and what came of it: name and text.
    pub answer: Vec<(&'static str, String)>,
    /// The numbers that went in, a cell for each of [`FACT_HEADS`].
    pub facts: Vec<[String; 7]>,
    /// The steps at the central values, remarks, condition and test: name and text.
    pub steps: Vec<(&'static str, String)>,
}

/// Where a number stands that no file and no enquiry states.
const ASSUMED: &str = "the method";

/// The facts that a comment has room for; `explain` prints them all.
const IN_SHORT: usize = 12;

impl Working {
    /// The texts of an explanation of a finding.
    #[must_use]
    pub fn of(x: &Explanation, finding: &Finding) -> Working {
        let place = x.exposure.as_ref().map(|name| format!(" in {name}")).unwrap_or_default();
        let margin = margin_words(finding);
        Working {
            title: format!("{} of {}{place}, {}: {}, margin {margin}", x.title, x.tape, x.enquiry, x.verdict.text()),
            answer: answer(x),
            facts: x.facts.iter().map(fact).collect(),
            steps: steps(x),
        }
    }

    /// In short, for a comment: method, limits, value, what is missing, facts, condition, test.
    #[must_use]
    pub fn short(&self) -> String {
        const TOLD: [&str; 8] = ["method", "limits", "value", "held", "missing", "over", "condition", "settle"];
        let told = |lines: &[(&'static str, String)]| -> Vec<String> {
            let told = lines.iter().filter(|(name, _)| TOLD.contains(name));
            told.map(|(name, line)| format!("{name}: {line}")).collect()
        };
        let mut lines = vec![self.title.clone()];
        lines.extend(told(&self.answer));
        for [symbol, value, spread, what, place, basis, source] in self.facts.iter().take(IN_SHORT) {
            let spread = if spread == "exact" { String::new() } else { format!(" ({spread})") };
            let from: Vec<&str> =
                [what, place, basis, source].into_iter().map(String::as_str).filter(|t| !t.is_empty()).collect();
            lines.push(format!("· {symbol} {value}{spread}: {}", from.join("; ")));
        }
        if self.facts.len() > IN_SHORT {
            let more = count(self.facts.len() - IN_SHORT, "more fact", "more facts");
            lines.push(format!("· {more}: lapwise explain"));
        }
        lines.extend(told(&self.steps));
        lines.join("\n")
    }
}

fn answer(x: &Explanation) -> Vec<(&'static str, String)> {
    let unit = suffix(&x.unit);
    let mut lines = vec![("asked", x.asked.clone()), ("method", x.method.clone())];
    if let (Some(limit), Some(outer)) = (x.limit, x.outer_limit) {
        let sense = if x.better == "higher" { "at least" } else { "at most" };
        let from = &x.limits_from;
        lines.push((
            "limits",
            format!("{sense} {limit}{unit} suitable, {outer}{unit} conditional   ({}, {})", from.basis, from.place),
        ));
    }
    if let (Some(low), Some(mid), Some(high)) = (x.x05, x.x50, x.x95) {
        let number = |v| significant(v, 4);
        lines.push(("value", format!("{}{unit}   ({} to {}, 5 to 95 %)", number(mid), number(low), number(high))));
    }
    if let Some(cap) = x.capped {
        lines.push(("held", cap_words(cap).to_owned()));
    }
    lines.extend(x.missing.iter().map(|missing| ("missing", missing.clone())));
    let mut reasons: Vec<&FactUsed> = x.facts.iter().filter(|f| f.influence >= 0.05).collect();
    reasons.sort_by(|a, b| b.influence.total_cmp(&a.influence));
    if !reasons.is_empty() {
        let share = |f: &&FactUsed| format!("{} {} %", f.symbol, significant(f.influence * 100.0, 2));
        let shares: Vec<String> = reasons.iter().take(3).map(share).collect();
        lines.push(("because", format!("the spread hangs on {}", shares.join(", "))));
    }
    for (nth, equation) in x.equations.iter().enumerate() {
        let name = if nth == 0 { "equation" } else { "" };
        lines.push((name, format!("{}   [{}]", equation.equation, equation.sources.join("; "))));
    }
    lines.retain(|(_, text)| !text.is_empty());
    lines
}

fn fact(used: &FactUsed) -> [String; 7] {
    let spread = if used.low < used.high {
        format!("{} to {}", tidy(used.low, 4), tidy(used.high, 4))
    } else {
        "exact".to_owned()
    };
    let beyond = if used.extrapolated { ", extrapolated" } else { "" };
    [
        used.symbol.clone(),
        format!("{}{}", tidy(used.value, 6), suffix(&used.unit)),
        spread,
        used.name.clone(),
        used.place.as_ref().map_or_else(|| ASSUMED.to_owned(), ToString::to_string),
        format!("{}{beyond}", used.basis.map_or("given", |b| b.text())),
        used.source.clone().unwrap_or_default(),
    ]
}

fn steps(x: &Explanation) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    for of_part in x.central.chunk_by(|a, b| a.part == b.part) {
        if let Some(part) = &of_part[0].part {
            let told: Vec<String> = of_part.iter().map(|s| with_unit(s.symbol, s.value, s.unit)).collect();
            lines.push(("part", format!("{}: {}   ({})", part.number, told.join("; "), part.place)));
        }
    }
    let whole = x.central.iter().filter(|s| s.part.is_none());
    let steps: Vec<String> = whole.map(|s| with_unit(s.symbol, s.value, s.unit)).collect();
    if !steps.is_empty() {
        lines.push(("with", steps.join("; ")));
    }
    if let Some(demand) = &x.demand {
        lines.push(("over", format!("{} {}", demand.name, with_unit(&demand.symbol, demand.value, &demand.unit))));
    }
    if let Some(value) = x.central_value {
        lines.push(("gives", format!("{}{}", significant(value, 6), suffix(&x.unit))));
    }
    lines.extend(x.notes.iter().map(|note| ("note", note.clone())));
    if !x.condition.is_empty() {
        lines.push(("condition", x.condition.clone()));
    }
    if !x.settled_by.is_empty() {
        lines.push(("settle", x.settled_by.clone()));
    }
    lines
}

fn with_unit(symbol: &str, value: f64, unit: &str) -> String {
    format!("{symbol} = {}{}", tidy(value, 6), suffix(unit))
}

/// A unit behind its number; nothing for a plain number.
fn suffix(unit: &str) -> String {
    if unit == "1" { String::new() } else { format!(" {unit}") }
}

fn cap_words(cap: Cap) -> &'static str {
    match cap {
        Cap::WeakEvidence => "conditional at best: the evidence is estimated, recalled or milder than the exposure",
        Cap::Extrapolated => "conditional at best: an input is carried beyond where it was taken",
        Cap::MethodAlone => "unproven at worst: this method alone rules nothing out here",
        Cap::MilderTest => "unproven at best: a test milder than the exposure rules out, but not in",
    }
}
