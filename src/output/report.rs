//! What an export tells: the findings of some enquiries in the order of their candidates, and what
//! they were made from.

use rayon::prelude::*;

use super::Counts;
use super::working::Working;
use crate::expand::Plan;
use crate::explain::explain;
use crate::judge::{Finding, Verdict};
use crate::rank::{Order, Ranked};

/// The answer to one enquiry.
pub struct Told {
    /// The candidates, best first.
    pub order: Vec<Ranked>,
    /// The findings of each candidate, by its position.
    pub findings: Vec<Vec<Finding>>,
    /// How many findings of each verdict.
    pub counts: Counts,
}

impl Told {
    /// The findings of a candidate.
    #[must_use]
    pub fn of(&self, ranked: &Ranked) -> &[Finding] {
        self.findings.get(ranked.position).map_or(&[], Vec::as_slice)
    }

    /// The findings of a verdict other than not-asked.
    pub fn asked(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().flatten().filter(|f| f.verdict != Verdict::NotAsked)
    }
}

/// The answers to all enquiries of a plan.
#[must_use]
pub fn told(plan: &Plan<'_>) -> Vec<Told> {
    let standings = plan.standings();
    let order = Order::new(plan);
    let told = |enquiry: usize| {
        let findings: Vec<Vec<Finding>> =
            (0..plan.candidates.len()).into_par_iter().map(|position| plan.findings_of(enquiry, position)).collect();
        // Without a candidate there is no standing either.
        let standings = standings.get(enquiry).map_or(&[][..], Vec::as_slice);
        let counts = Counts::of(findings.iter().flatten().map(|f| f.verdict));
        Told { order: order.of(enquiry, standings), findings, counts }
    };
    (0..plan.enquiries.len()).map(told).collect()
}

/// The workings of some findings of an enquiry, in their order.
#[must_use]
pub fn workings(plan: &Plan<'_>, enquiry: usize, findings: &[&Finding]) -> Vec<Working> {
    findings.par_iter().map(|finding| Working::of(&explain(plan, enquiry, finding), finding)).collect()
}

/// What an export was made from, and how it is made again.
#[derive(Clone, Debug)]
pub struct Made {
    /// The command.
    pub command: String,
    /// The files of the data folder with their sha256.
    pub files: Vec<(String, String)>,
    /// The cautions that apply: hazard and text, each once.
    pub cautions: Vec<(String, String)>,
}

/// What every export says about safety.
pub const SCREENING: &str = "A screening by computation and evidence. It does not replace a qualification test, and \
    it is no basis to release equipment or to take it out of service. Work by licensed persons under the local codes; \
    isolate, discharge and earth before touching; follow the safety data sheets.";

/// What every export of an invented catalogue says.
pub const INVENTED: &str = "Invented demonstration data";

/// What a verdict means, in the words of the manual.
#[must_use]
pub const fn meaning(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Suitable => "inside the limit with its whole 5 to 95 % spread",
        Verdict::Conditional => {
            "inside the outer limit under the condition that is named, to be confirmed by a test as well where \
             insulation or people are at stake, or held back because the evidence is estimated, recalled or \
             extrapolated: confirm by the test that is named"
        }
        Verdict::Unproven => {
            "it cannot be said: a fact is missing, or the spread reaches across the limit; the test that would settle \
             it is named"
        }
        Verdict::Unsuitable => "outside the outer limit with its whole spread",
        Verdict::NotAsked => "the criterion does not apply; counted, and no part of the worst",
    }
}
