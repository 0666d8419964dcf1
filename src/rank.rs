//! The order of candidates.

use std::cmp::Ordering;

use crate::catalogue::{Catalogue, Preference, Property};
use crate::expand::Plan;
use crate::judge::{self, Finding, Standing, Verdict};

/// A candidate in its place.
#[derive(Clone, Debug)]
pub struct Ranked {
    /// Its position among the plan's candidates.
    pub position: usize,
    /// The tape, by index.
    pub tape: usize,
    /// Its standing.
    pub standing: Standing,
    /// Its place in the function's preference, 0 the most wanted.
    pub preference: usize,
    /// Its relative cost, if the sheet has one.
    pub cost: Option<f64>,
}

/// What the order needs of each candidate, gathered once for all enquiries of a plan.
pub struct Order<'p> {
    plan: &'p Plan<'p>,
    cost: Vec<Option<f64>>,
    preference: Vec<Vec<usize>>,
}

impl<'p> Order<'p> {
    /// Gathers cost and preference of every candidate.
    #[must_use]
    pub fn new(plan: &'p Plan<'p>) -> Order<'p> {
        let catalogue = plan.catalogue;
        let cost = |tape: &usize| catalogue.sheet(*tape, Property::RelativeCost).map(|found| found.spread.value);
        let preference =
            |wanted: &Preference| plan.candidates.iter().map(|t| preference(catalogue, wanted, *t)).collect();
        Order {
            plan,
            cost: plan.candidates.iter().map(cost).collect(),
            preference: catalogue.preferences.iter().map(preference).collect(),
        }
    }

    /// The candidates of one enquiry, best first: verdict, open hazard findings, preference of the
    /// function, weakest margin, relative cost, id.
    #[must_use]
    pub fn of(&self, enquiry: usize, standings: &[Standing]) -> Vec<Ranked> {
        let function = self.plan.enquiries[enquiry].application.function;
        let wanted = self.plan.catalogue.preferences.iter().position(|p| p.function == function);
        let mut ranked: Vec<Ranked> = standings
            .iter()
            .enumerate()
            .map(|(position, standing)| Ranked {
                position,
                tape: self.plan.candidates[position],
                standing: *standing,
                preference: wanted.map_or(0, |wanted| self.preference[wanted][position]),
                cost: self.cost[position],
            })
            .collect();
        ranked.sort_by(compare);
        ranked
    }
}

/// The order of a single enquiry of a plan.
#[must_use]
pub fn order(plan: &Plan<'_>, enquiry: usize, standings: &[Standing]) -> Vec<Ranked> {
    Order::new(plan).of(enquiry, standings)
}

/// Which of two candidates of one enquiry comes first.
pub(crate) fn compare(a: &Ranked, b: &Ranked) -> Ordering {
    let (x, y) = (&a.standing, &b.standing);
    x.verdict
        .cmp(&y.verdict)
        .then(x.open_hazards.cmp(&y.open_hazards))
        .then(a.preference.cmp(&b.preference))
        .then(y.margin.total_cmp(&x.margin))
        .then(a.cost.unwrap_or(f64::INFINITY).total_cmp(&b.cost.unwrap_or(f64::INFINITY)))
        .then(a.tape.cmp(&b.tape))
}

/// The tape that is proposed: the first whose verdict is not unsuitable.
#[must_use]
pub fn proposed(ranked: &[Ranked]) -> Option<&Ranked> {
    ranked.first().filter(|first| !first.standing.is_out())
}

/// The standing that a candidate's findings come to.
#[must_use]
pub fn standing(catalogue: &Catalogue, findings: &[Finding]) -> Standing {
    let asked = findings.iter().filter(|f| f.verdict != Verdict::NotAsked);
    asked.fold(Standing::BLANK, |standing, f| {
        standing.with(Standing::judged(&catalogue.criteria[f.criterion], f.verdict, f.margin.order()))
    })
}

/// True for a finding with a hazard that is unproven or unsuitable.
#[must_use]
pub fn is_open_hazard(catalogue: &Catalogue, finding: &Finding) -> bool {
    judge::is_open_hazard(&catalogue.criteria[finding.criterion], finding.verdict)
}

/// The finding that decides: the worst verdict, then the weakest margin, then the criteria's order.
#[must_use]
pub fn weakest(findings: &[Finding]) -> Option<&Finding> {
    findings
        .iter()
        .filter(|f| f.verdict != Verdict::NotAsked)
        .min_by(|a, b| b.verdict.cmp(&a.verdict).then(a.margin.order().total_cmp(&b.margin.order())))
}

/// The first trait of a preference that the tape has; without one, the last place.
fn preference(catalogue: &Catalogue, wanted: &Preference, tape: usize) -> usize {
    wanted.traits.iter().position(|t| has_trait(catalogue, tape, t)).unwrap_or(wanted.traits.len())
}

/// Thresholds that make a trait; common practice, no source.
mod threshold {
    /// An absorbent backing has at least this share of open pores.
    pub(super) const ABSORBENT: f64 = 0.3;
    /// N/m: a reinforced backing carries at least this.
    pub(super) const STRONG: f64 = 15_000.0;
    /// A reinforced backing stretches no more than this at break.
    pub(super) const STIFF: f64 = 0.12;
    /// A yielding backing stretches at least this at break.
    pub(super) const YIELDING: f64 = 0.4;
    /// m: a thin tape is no thicker than this.
    pub(super) const THIN: f64 = 80e-6;
    /// A backing of low permittivity keeps the field out of the gas beside it.
    pub(super) const LOW_PERMITTIVITY: f64 = 2.6;
}

fn has_trait(catalogue: &Catalogue, index: usize, name: &str) -> bool {
    let tape = &catalogue.tapes[index];
    let sheet = |property| catalogue.sheet(index, property).map(|found| found.spread.value);
    let open = catalogue.is_open(index);
    let absorbent = catalogue.pores(index).is_some_and(|pores| pores.spread.value >= threshold::ABSORBENT);
    match name {
        "open" => open == Some(true),
        "closed" => open == Some(false),
        "thermosetting" => tape.thermosetting,
        "absorbent" => absorbent,
        "absorbent-and-thermosetting" => absorbent && tape.thermosetting,
        "low-permittivity" => catalogue
            .find_on(index, tape.backing, Property::Permittivity, None)
            .is_some_and(|found| found.spread.value <= threshold::LOW_PERMITTIVITY),
        "reinforced" => {
            sheet(Property::Tensile).is_some_and(|t| t >= threshold::STRONG)
                && sheet(Property::Elongation).is_some_and(|e| e <= threshold::STIFF)
        }
        "yielding" => sheet(Property::Elongation).is_some_and(|e| e >= threshold::YIELDING),
        "thin" => sheet(Property::TotalThickness).is_some_and(|t| t <= threshold::THIN),
        _ => false,
    }
}
