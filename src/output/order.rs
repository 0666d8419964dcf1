//! The order of candidates as rows.

use polars::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use super::report::Told;
use crate::expand::Plan;
use crate::judge::{Finding, Margin, Verdict};
use crate::rank::{self, Ranked};

/// A candidate in its place, as it is printed. The names are those of the columns.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Candidate {
    /// The enquiry's number.
    pub enquiry: String,
    /// Its place, from 1.
    pub order: u32,
    /// The tape.
    pub tape: String,
    /// What it is made of.
    pub construction: String,
    /// Its verdict, the worst of its findings.
    pub verdict: Verdict,
    /// The criterion that decides.
    pub weakest: String,
    /// The exposure it is about, if it is about one.
    pub exposure: Option<String>,
    /// The margin, where there is a number.
    pub margin: Option<f64>,
    /// What the margin is counted in: ×, K or classes; blank without one.
    pub margin_unit: &'static str,
    /// How the margin is to be read: blank as it stands, `at-least`, `at-most`, `full`.
    pub margin_reads: &'static str,
    /// What is missing for it, in words.
    pub missing: Vec<String>,
    /// Findings with a hazard that are unproven or unsuitable.
    pub open_hazards: u32,
    /// Cost relative to the first tape of the list.
    pub relative_cost: Option<f64>,
}

impl Candidate {
    /// The heads of its columns.
    pub const HEADS: [&'static str; 13] = [
        "enquiry",
        "order",
        "tape",
        "construction",
        "verdict",
        "weakest",
        "exposure",
        "margin",
        "margin_unit",
        "margin_reads",
        "missing",
        "open_hazards",
        "relative_cost",
    ];

    fn of(plan: &Plan<'_>, enquiry: usize, place: u32, ranked: &Ranked, findings: &[Finding]) -> Candidate {
        let (catalogue, e) = (plan.catalogue, &plan.enquiries[enquiry]);
        let weakest = rank::weakest(findings);
        Candidate {
            enquiry: e.number.clone(),
            order: place,
            tape: catalogue.tapes[ranked.tape].id.clone(),
            construction: catalogue.construction(ranked.tape),
            verdict: ranked.standing.verdict,
            weakest: weakest.map(|f| catalogue.criteria[f.criterion].id.clone()).unwrap_or_default(),
            exposure: weakest.and_then(|f| f.exposure).map(|x| e.exposures[x].name.clone()),
            margin: weakest.and_then(|f| f.margin.number()),
            margin_unit: weakest.map_or("", |f| margin_unit(f.margin)),
            margin_reads: weakest.map_or("", |f| f.reading.text()),
            missing: weakest.map(|f| f.missing.iter().map(|m| m.text(catalogue)).collect()).unwrap_or_default(),
            open_hazards: ranked.standing.open_hazards,
            relative_cost: ranked.cost,
        }
    }

    /// Its cells as texts, numbers at full precision.
    #[must_use]
    pub fn cells(&self) -> [String; 13] {
        let number = |x: Option<f64>| x.map(|x| x.to_string()).unwrap_or_default();
        [
            self.enquiry.clone(),
            self.order.to_string(),
            self.tape.clone(),
            self.construction.clone(),
            self.verdict.text().to_owned(),
            self.weakest.clone(),
            self.exposure.clone().unwrap_or_default(),
            number(self.margin),
            self.margin_unit.to_owned(),
            self.margin_reads.to_owned(),
            self.missing.join("; "),
            self.open_hazards.to_string(),
            number(self.relative_cost),
        ]
    }
}

/// What a margin is counted in; blank where it is no number.
#[must_use]
pub fn margin_unit(margin: Margin) -> &'static str {
    match margin {
        _ if margin.number().is_none() => "",
        Margin::Kelvin(_) => "K",
        Margin::Classes(_) => "classes",
        _ => "×",
    }
}

/// The candidates of one enquiry, best first.
#[must_use]
pub fn candidates(plan: &Plan<'_>, enquiry: usize, told: &Told) -> Vec<Candidate> {
    (1..).zip(&told.order).map(|(place, ranked)| Candidate::of(plan, enquiry, place, ranked, told.of(ranked))).collect()
}

pub(super) fn frame(rows: &[Candidate]) -> PolarsResult<DataFrame> {
    let missing: Vec<String> = rows.iter().map(|r| r.missing.join("; ")).collect();
    let text = |of: fn(&Candidate) -> &str| rows.iter().map(of).collect::<Vec<&str>>();
    let number = |of: fn(&Candidate) -> Option<f64>| rows.iter().map(of).collect::<Vec<Option<f64>>>();
    let whole = |of: fn(&Candidate) -> u32| rows.iter().map(of).collect::<Vec<u32>>();
    df!(
        "enquiry" => text(|r| &r.enquiry),
        "order" => whole(|r| r.order),
        "tape" => text(|r| &r.tape),
        "construction" => text(|r| &r.construction),
        "verdict" => text(|r| r.verdict.text()),
        "weakest" => text(|r| &r.weakest),
        "exposure" => text(|r| r.exposure.as_deref().unwrap_or_default()),
        "margin" => number(|r| r.margin),
        "margin_unit" => text(|r| r.margin_unit),
        "margin_reads" => text(|r| r.margin_reads),
        "missing" => missing,
        "open_hazards" => whole(|r| r.open_hazards),
        "relative_cost" => number(|r| r.relative_cost),
    )
}
