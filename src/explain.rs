//! The full working of a cell: facts with their places, equation, numbers, spread, limits, verdict.

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::evidence::{Basis, Place};
use crate::expand::Plan;
use crate::judge::{Cap, Finding, Margin, Reading, Verdict};
use crate::measure::{self, Mode, Step, Trace, Work};
use crate::quantity::{in_unit, tidy};
use crate::rank;
use crate::settle;
use crate::spread::POINTS;

/// The working of one finding.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Explanation {
    /// The enquiry's number.
    pub enquiry: String,
    /// The tape.
    pub tape: String,
    /// The exposure's name.
    pub exposure: Option<String>,
    /// The criterion.
    pub criterion: String,
    /// Its title.
    pub title: String,
    /// What is asked.
    pub asked: String,
    /// How it was found.
    pub method: String,
    /// The measure's unit.
    pub unit: String,
    /// 5 %.
    pub x05: Option<f64>,
    /// 50 %.
    pub x50: Option<f64>,
    /// 95 %.
    pub x95: Option<f64>,
    /// Inside it: suitable.
    pub limit: Option<f64>,
    /// Beyond it: unproven or unsuitable.
    pub outer_limit: Option<f64>,
    /// `lower` or `higher`.
    pub better: String,
    /// Where the limits come from.
    pub limits_from: LimitsFrom,
    /// The verdict.
    pub verdict: Verdict,
    /// Why it is not what the number alone would give.
    pub capped: Option<Cap>,
    /// The margin, where there is a number.
    pub margin: Option<f64>,
    /// How the margin is to be read.
    pub margin_reads: Reading,
    /// The weakest standing among the facts.
    pub basis: Option<Basis>,
    /// What is missing, in words.
    pub missing: Vec<String>,
    /// The equations and who published them.
    pub equations: Vec<Equation>,
    /// The numbers that went in.
    pub facts: Vec<FactUsed>,
    /// What the cell's number is divided by.
    pub demand: Option<DemandUsed>,
    /// The steps at the central values.
    pub central: Vec<Step>,
    /// The number at the central values.
    pub central_value: Option<f64>,
    /// What was assumed and why.
    pub notes: Vec<String>,
    /// What a finding between its limits asks for; blank for any other.
    pub condition: String,
    /// The test that settles it; blank where nothing is open.
    pub settled_by: String,
}

/// Where a criterion's limits come from.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LimitsFrom {
    /// In words.
    pub basis: String,
    /// A key of the bibliography.
    pub source: String,
    /// Where the criterion stands.
    pub place: Place,
}

/// An equation with its units, validity and sources.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Equation {
    /// The model.
    pub model: String,
    /// The equation.
    pub equation: String,
    /// Its units.
    pub units: String,
    /// Where it holds.
    pub valid: String,
    /// Who published it.
    pub sources: Vec<String>,
}

/// A number that went in.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FactUsed {
    /// Its symbol.
    pub symbol: String,
    /// What it is.
    pub name: String,
    /// Its value in `unit`.
    pub value: f64,
    /// The 5th percentile.
    pub low: f64,
    /// The 95th percentile.
    pub high: f64,
    /// The unit.
    pub unit: String,
    /// The value in SI.
    pub si: f64,
    /// Its standing; none for a number of the enquiry.
    pub basis: Option<Basis>,
    /// A key of the bibliography.
    pub source: Option<String>,
    /// Where it stands.
    pub place: Option<Place>,
    /// As written there.
    pub written: Option<String>,
    /// The temperature in degC that a single fact is about, if it says one.
    pub taken_at: Option<f64>,
    /// A remark of the data.
    pub note: Option<String>,
    /// True if carried beyond where it was taken.
    pub extrapolated: bool,
    /// The share of the spread it explains.
    pub influence: f64,
}

/// What a cell's number is divided by.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DemandUsed {
    /// What it is.
    pub name: String,
    /// Its symbol.
    pub symbol: String,
    /// Its value in `unit`.
    pub value: f64,
    /// The unit.
    pub unit: String,
}

/// Explains one finding of a plan.
#[must_use]
pub fn explain(plan: &Plan<'_>, enquiry: usize, finding: &Finding) -> Explanation {
    let catalogue = plan.catalogue;
    let e = &plan.enquiries[enquiry];
    let rule = &catalogue.criteria[finding.criterion];
    let measure = measure::find(&rule.measure);
    let mode = Mode { points: POINTS, explain: true };
    let asked = finding.verdict != Verdict::NotAsked;
    let cell = measure.filter(|_| asked).map(|m| Work::out(m, catalogue, finding.tape, e, finding.exposure, mode));
    let carried = cell.as_ref().map_or(0.0, |cell| cell.carried);
    let mut working = cell.and_then(|cell| cell.working).unwrap_or_default();
    let central_value = measure.and_then(|m| {
        let terms = m.terms(catalogue, e).ok()?;
        let mut trace = Trace::into(&mut working.steps);
        working.central.map(|x| m.held(&terms, carried, x, &mut trace))
    });
    let demand = measure.and_then(|m| m.demand.as_ref()).filter(|_| asked).and_then(|d| {
        let si = (d.value)(e).ok()?;
        Some(DemandUsed {
            name: d.name.to_owned(),
            symbol: d.symbol.to_owned(),
            value: in_unit(si, d.unit),
            unit: d.unit.to_owned(),
        })
    });
    let influence = |index: usize| working.influence.get(index).copied().unwrap_or(0.0);
    let mut facts: Vec<FactUsed> = Vec::new();
    for (index, used) in working.uses.iter().enumerate() {
        let fact = fact_used(catalogue, used, influence(index));
        // The parts of a working ask for the same number, such as the temperature, each for itself.
        let told = facts.iter().any(|f| f.symbol == fact.symbol && f.name == fact.name && f.place == fact.place);
        if !told {
            facts.push(fact);
        }
    }
    Explanation {
        enquiry: e.number.clone(),
        tape: catalogue.tapes[finding.tape].id.clone(),
        exposure: finding.exposure.map(|x| e.exposures[x].name.clone()),
        criterion: rule.id.clone(),
        title: rule.title.clone(),
        asked: measure.map_or("", |m| m.asked).to_owned(),
        method: finding.method.to_owned(),
        unit: finding.unit.to_owned(),
        x05: finding.value.map(|p| p.x05),
        x50: finding.value.map(|p| p.x50),
        x95: finding.value.map(|p| p.x95),
        limit: finding.limits.map(|l| l.limit),
        outer_limit: finding.limits.map(|l| l.outer),
        better: if rule.higher_is_better { "higher" } else { "lower" }.to_owned(),
        limits_from: LimitsFrom { basis: rule.basis.clone(), source: rule.source.clone(), place: rule.place.clone() },
        verdict: finding.verdict,
        capped: finding.capped,
        margin: finding.margin.number(),
        margin_reads: finding.reading,
        basis: finding.basis,
        missing: finding.missing.iter().map(|m| m.text(catalogue)).collect(),
        equations: working
            .cards
            .iter()
            .map(|card| Equation {
                model: card.name.to_owned(),
                equation: card.equation.to_owned(),
                units: card.units.to_owned(),
                valid: card.valid.to_owned(),
                sources: card.sources.iter().map(|s| (*s).to_owned()).collect(),
            })
            .collect(),
        facts,
        central_value,
        demand,
        central: working.steps,
        notes: working.notes,
        condition: settle::condition(catalogue, finding).unwrap_or_default().to_owned(),
        settled_by: settle::settled_by(catalogue, e, finding),
    }
}

fn fact_used(catalogue: &Catalogue, used: &measure::Use, influence: f64) -> FactUsed {
    let fact = used.facts[0].map(|id| catalogue.fact(id));
    FactUsed {
        symbol: used.symbol.to_owned(),
        name: used.name.clone(),
        value: in_unit(used.spread.value, used.unit),
        low: in_unit(used.spread.low, used.unit),
        high: in_unit(used.spread.high, used.unit),
        unit: used.unit.to_owned(),
        si: used.spread.value,
        basis: used.basis,
        source: fact.map(|f| f.source.clone()),
        place: used.place.clone(),
        written: fact.map(|f| f.written.clone()),
        taken_at: fact.filter(|_| used.facts[1].is_none()).and_then(|f| f.temperature).map(|t| in_unit(t, "degC")),
        note: fact.map(|f| f.note.clone()).filter(|note| !note.is_empty()),
        extrapolated: used.extrapolated,
        influence,
    }
}

/// The input that explains most of the spread: its symbol, name and share.
#[must_use]
pub fn dominant(explanation: &Explanation) -> Option<&FactUsed> {
    let best = explanation.facts.iter().max_by(|a, b| a.influence.total_cmp(&b.influence))?;
    (best.influence > 0.0).then_some(best)
}

/// The finding that is meant: of a tape, a criterion and an exposure, else the one that decides.
#[must_use]
pub fn pick(findings: &[Finding], criterion: Option<usize>, exposure: Option<usize>) -> Option<&Finding> {
    let of =
        |f: &&Finding| criterion.is_none_or(|c| f.criterion == c) && (exposure.is_none() || f.exposure == exposure);
    let asked: Vec<Finding> = findings.iter().filter(of).filter(|f| f.verdict != Verdict::NotAsked).cloned().collect();
    let chosen = rank::weakest(&asked)?;
    findings.iter().find(|f| f.criterion == chosen.criterion && f.exposure == chosen.exposure)
}

/// The number of a finding with its spread and unit: "1.15 (1.1 to 1.2)"; empty where there is none.
#[must_use]
pub fn value_words(finding: &Finding) -> String {
    let Some(p) = finding.value else { return String::new() };
    let unit = if finding.unit == "1" { "" } else { finding.unit };
    let [low, middle, high] = [p.x05, p.x50, p.x95].map(|x| tidy(x, 4));
    let text = if low == high { middle } else { format!("{middle} ({low} to {high})") };
    format!("{text} {unit}").trim_end().to_owned()
}

/// What stands before a number that is only a bound.
#[must_use]
pub fn bound_sign(finding: &Finding, higher_is_better: bool) -> &'static str {
    match (finding.reading, higher_is_better) {
        (Reading::AtLeast, true) | (Reading::AtMost, false) => "≥ ",
        (Reading::AtLeast, false) | (Reading::AtMost, true) => "≤ ",
        (Reading::Exact | Reading::Full, _) => "",
    }
}

/// A margin in words: "1.27 ×", "≥ 1.27 ×", "1.27 × (full)", "+12 K", "ample".
#[must_use]
pub fn margin_words(finding: &Finding) -> String {
    let plain = plain_margin(finding.margin);
    match finding.reading {
        _ if finding.margin.number().is_none() => plain,
        Reading::Exact => plain,
        Reading::AtLeast => format!("≥ {plain}"),
        Reading::AtMost => format!("≤ {plain}"),
        Reading::Full => format!("{plain} (full)"),
    }
}

fn plain_margin(margin: Margin) -> String {
    use crate::quantity::significant;
    match margin {
        Margin::Ratio(x) if x.is_infinite() => "ample".to_owned(),
        Margin::Ratio(x) => format!("{} ×", significant(x, 3)),
        Margin::Kelvin(k) => format!("{}{} K", if k >= 0.0 { "+" } else { "−" }, significant(libm::fabs(k), 3)),
        Margin::Classes(c) => {
            let size = libm::fabs(c);
            let noun = if size.total_cmp(&1.0).is_eq() { "class" } else { "classes" };
            format!("{}{size} {noun}", if c >= 0.0 { "+" } else { "−" })
        }
        Margin::Ample => "ample".to_owned(),
        Margin::NoScale => "–".to_owned(),
        Margin::Missing => "no fact".to_owned(),
    }
}
