//! Measures and criteria become findings; findings become one standing per candidate.

mod contest;
mod glance;
mod reading;
mod standings;

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::{Criterion, Limits};
use crate::evidence::Basis;
use crate::expand::{Ask, Group, Plan, Row, TapeClass};
use crate::measure::{Answer, Cell, Measure, Missing, Proves, Together, Trace};
use crate::spread::Percentiles;

pub use contest::Contested;
use glance::Glance;
pub use reading::Reading;
pub use standings::is_open_hazard;

/// The verdicts, best first; a candidate's verdict is its worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The criterion does not apply.
    NotAsked,
    /// Inside the limit with its whole spread.
    Suitable,
    /// Inside the outer limit, under a condition.
    Conditional,
    /// It cannot be said yet.
    Unproven,
    /// Outside the outer limit with its whole spread.
    Unsuitable,
}

impl Verdict {
    /// Every verdict, best first.
    pub const ALL: [Verdict; 5] =
        [Verdict::NotAsked, Verdict::Suitable, Verdict::Conditional, Verdict::Unproven, Verdict::Unsuitable];

    /// The word.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Verdict::NotAsked => "not-asked",
            Verdict::Suitable => "suitable",
            Verdict::Conditional => "conditional",
            Verdict::Unproven => "unproven",
            Verdict::Unsuitable => "unsuitable",
        }
    }
}

/// How far inside the outer limit a finding lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Margin {
    /// A ratio; below 1 is outside.
    Ratio(f64),
    /// A temperature difference in K; below 0 is outside.
    Kelvin(f64),
    /// A number of classes; below 0 is outside.
    Classes(f64),
    /// The number is 0 where lower is better: no ratio says how far.
    Ample,
    /// A yes-or-no criterion has none.
    NoScale,
    /// Nothing is known.
    Missing,
}

impl Margin {
    /// The margin on one scale, to order by: 1 is the outer limit.
    #[must_use]
    pub fn order(self) -> f64 {
        match self {
            Margin::Ratio(ratio) => ratio,
            Margin::Kelvin(k) => 1.0 + k / 10.0,
            Margin::Classes(classes) => 1.0 + classes,
            Margin::Ample | Margin::NoScale => f64::INFINITY,
            Margin::Missing => f64::NEG_INFINITY,
        }
    }

    /// The number in the files: none where there is no scale or no fact.
    #[must_use]
    pub fn number(self) -> Option<f64> {
        match self {
            Margin::Ratio(x) | Margin::Kelvin(x) | Margin::Classes(x) => x.is_finite().then_some(x),
            _ => None,
        }
    }
}

/// A criterion's result for one candidate and one case.
#[derive(Clone, Debug)]
pub struct Finding {
    /// The candidate, by index into the tapes.
    pub tape: usize,
    /// The exposure, by index; none for the enquiry as a whole.
    pub exposure: Option<usize>,
    /// The criterion, by index.
    pub criterion: usize,
    /// The measure's unit.
    pub unit: &'static str,
    /// The number with its spread.
    pub value: Option<Percentiles>,
    /// The limits it was held against.
    pub limits: Option<Limits>,
    /// The verdict.
    pub verdict: Verdict,
    /// The margin.
    pub margin: Margin,
    /// How the margin is to be read.
    pub reading: Reading,
    /// How it was found.
    pub method: &'static str,
    /// The weakest standing among its facts.
    pub basis: Option<Basis>,
    /// True if an input was carried beyond where it was taken.
    pub extrapolated: bool,
    /// What was missing.
    pub missing: Vec<Missing>,
    /// Why a number inside the limit is not suitable, or one outside not unsuitable.
    pub capped: Option<Cap>,
}

/// Why a verdict is not what the number alone would give.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Cap {
    /// Estimated, recalled or milder evidence where a hazard asks for more.
    WeakEvidence,
    /// An input carried beyond where it was taken.
    Extrapolated,
    /// The method alone may not rule a tape out.
    MethodAlone,
    /// A test milder than the exposure, which alone may rule a tape out but not in.
    MilderTest,
}

impl Cap {
    /// The word of the data.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Cap::WeakEvidence => "weak-evidence",
            Cap::Extrapolated => "extrapolated",
            Cap::MethodAlone => "method-alone",
            Cap::MilderTest => "milder-test",
        }
    }
}

/// The result of one candidate over all its findings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// The worst verdict.
    pub verdict: Verdict,
    /// How many open hazard findings.
    pub open_hazards: u32,
    /// The weakest margin, as [`Margin::order`].
    pub margin: f64,
}

/// The verdict rule, for one kind of the tapes that share the cell.
#[must_use]
pub fn verdict(
    criterion: &Criterion,
    limits: Option<Limits>,
    (cell, kin): (&Cell, usize),
    value: Answer,
) -> (Verdict, Option<Cap>) {
    let proves = cell.proves_of(kin);
    let base = match (value, limits) {
        (Answer::Yes, _) => Verdict::Suitable,
        (Answer::No, _) => Verdict::Unsuitable,
        (Answer::Unknown, _) | (Answer::Number(_), None) => Verdict::Unproven,
        (Answer::Number(p), Some(Limits { limit, outer })) => {
            let (worse, better) = if criterion.higher_is_better { (p.x05, p.x95) } else { (p.x95, p.x05) };
            let inside = |x: f64, bound: f64| if criterion.higher_is_better { x >= bound } else { x <= bound };
            if inside(worse, limit) {
                Verdict::Suitable
            } else if inside(worse, outer) {
                Verdict::Conditional
            } else if inside(better, outer) {
                Verdict::Unproven
            } else {
                Verdict::Unsuitable
            }
        }
    };
    match base {
        Verdict::Suitable | Verdict::Conditional if proves == Proves::NeverIn => {
            (Verdict::Unproven, Some(Cap::MilderTest))
        }
        Verdict::Suitable if cell.extrapolated => (Verdict::Conditional, Some(Cap::Extrapolated)),
        Verdict::Suitable if criterion.is_grave() && (cell.basis.is_weak() || cell.milder) => {
            (Verdict::Conditional, Some(Cap::WeakEvidence))
        }
        Verdict::Unsuitable if matches!(proves, Proves::NeverOut | Proves::AtLeast) => {
            (Verdict::Unproven, Some(Cap::MethodAlone))
        }
        verdict => (verdict, None),
    }
}

fn margin(criterion: &Criterion, limits: Option<Limits>, value: Answer) -> Margin {
    let (Answer::Number(p), Some(limits)) = (value, limits) else {
        return if value == Answer::Unknown { Margin::Missing } else { Margin::NoScale };
    };
    let worse = if criterion.higher_is_better { p.x05 } else { p.x95 };
    let inside = if criterion.higher_is_better { worse - limits.outer } else { limits.outer - worse };
    match criterion.scale {
        "difference" => Margin::Kelvin(inside),
        "order" => Margin::Classes(inside),
        _ if criterion.higher_is_better => {
            if limits.outer > 0.0 {
                Margin::Ratio(worse / limits.outer)
            } else {
                Margin::Ample
            }
        }
        _ => {
            if worse > 0.0 {
                Margin::Ratio(limits.outer / worse)
            } else {
                Margin::Ample
            }
        }
    }
}

/// The number held against the demand, or what is missing for it; its middle only where it is told.
fn demanded(measure: &Measure, ask: &Ask, cell: &Cell, class: &TapeClass, told: bool) -> Answer {
    match (&ask.terms, cell.answer_of(class.kin).times(class.factor)) {
        (Err(_), _) => Answer::Unknown,
        (Ok(terms), Answer::Number(p)) => {
            let held = |x| measure.held(terms, cell.carried, x, &mut Trace::off());
            let p = if told { p.map(held) } else { p.map_ends(held) };
            if p.x05.is_nan() || p.x50.is_nan() || p.x95.is_nan() { Answer::Unknown } else { Answer::Number(p) }
        }
        (Ok(_), other) => other,
    }
}

/// One cell judged by one criterion in one case.
struct Judged<'c> {
    cell: &'c Cell,
    value: Answer,
    verdict: Verdict,
    cap: Option<Cap>,
    margin: Margin,
}

fn judge<'r>(
    plan: &Plan<'_>,
    group: &Group,
    (case, row): (u32, &'r Row),
    together: &Together,
    criterion: &Criterion,
    (ask, class): (&Ask, u32),
    told: bool,
) -> Option<Judged<'r>> {
    let of = &group.classes[class as usize];
    let worked = group.shared(row, class)?;
    let mut cell = &worked.cell;
    let mut value = demanded(group.measure, ask, cell, of, told);
    if Glance::of(criterion, ask.limits, (cell, of.kin), value, worked.asked).verdict.is_none() {
        cell = group.fine(plan, (case, worked), class, together);
        value = demanded(group.measure, ask, cell, of, told);
    }
    let (verdict, cap) = verdict(criterion, ask.limits, (cell, of.kin), value);
    Some(Judged { cell, value, verdict, cap, margin: margin(criterion, ask.limits, value) })
}

impl Plan<'_> {
    /// All findings of one enquiry: candidate by candidate, criteria in their order, not-asked ones too.
    #[must_use]
    pub fn findings(&self, enquiry: usize) -> Vec<Finding> {
        (0..self.candidates.len()).flat_map(|position| self.findings_of(enquiry, position)).collect()
    }

    /// The findings of one candidate, by its position.
    #[must_use]
    pub fn findings_of(&self, enquiry: usize, position: usize) -> Vec<Finding> {
        let together = self.together();
        let finding = |(group, (nth, exposure), ask): (&Group, _, Option<&Ask>)| {
            let Some(ask) = ask else { return self.not_asked(group, (nth, exposure), position) };
            let row = (ask.case, group.row(self, ask.case, &together));
            self.finding(group, row, &together, (nth, ask), position)
        };
        in_order(self.cases_of(enquiry, position).map(finding).collect())
    }

    /// Every case of a candidate: the measure, the criterion by position and the exposure, and how it is asked, if it is.
    fn cases_of(
        &self,
        enquiry: usize,
        position: usize,
    ) -> impl Iterator<Item = (&Group, (usize, Option<usize>), Option<&Ask>)> {
        self.groups.iter().flat_map(move |group| {
            let class = &group.classes[group.class_of[position] as usize];
            class.asked.iter().enumerate().flat_map(move |(nth, asked)| {
                let asks = &group.asks[nth];
                let from = asks.partition_point(|ask| ask.enquiry < enquiry);
                let mine = asks[from..].iter().take_while(move |ask| *asked && ask.enquiry == enquiry);
                let case = move |exposure| (group, (nth, exposure), mine.clone().find(|ask| ask.exposure == exposure));
                crate::expand::cases(group.measure, &self.enquiries[enquiry]).into_iter().map(case)
            })
        })
    }

    fn not_asked(&self, group: &Group, (nth, exposure): (usize, Option<usize>), position: usize) -> Finding {
        Finding {
            tape: self.candidates[position],
            exposure,
            criterion: group.criteria[nth],
            unit: group.measure.unit,
            value: None,
            limits: None,
            verdict: Verdict::NotAsked,
            margin: Margin::NoScale,
            reading: Reading::Exact,
            method: "",
            basis: None,
            extrapolated: false,
            missing: Vec::new(),
            capped: None,
        }
    }

    /// What one ask comes to for one candidate, with all that is told of it.
    fn finding(
        &self,
        group: &Group,
        row: (u32, &Row),
        together: &Together,
        (nth, ask): (usize, &Ask),
        position: usize,
    ) -> Finding {
        let blank = self.not_asked(group, (nth, ask.exposure), position);
        let (rule, class) = (&self.catalogue.criteria[group.criteria[nth]], group.class_of[position]);
        let Some(judged) = judge(self, group, row, together, rule, (ask, class), true) else { return blank };
        let mut missing = judged.cell.missing.clone();
        missing.extend(ask.terms.clone().err());
        if judged.value == Answer::Unknown && missing.is_empty() {
            missing.push(Missing::OUTSIDE);
        }
        Finding {
            value: match judged.value {
                Answer::Number(p) => Some(p),
                _ => None,
            },
            limits: ask.limits,
            verdict: judged.verdict,
            margin: judged.margin,
            reading: reading::reading(
                group.measure,
                rule.higher_is_better,
                judged.cell.proves_of(group.classes[class as usize].kin),
                ask.limits,
                judged.value,
            ),
            method: judged.cell.method,
            basis: Some(judged.cell.basis),
            extrapolated: judged.cell.extrapolated,
            missing,
            capped: judged.cap,
            ..blank
        }
    }
}

/// Findings by criterion and exposure, in the order of both.
fn in_order(mut findings: Vec<Finding>) -> Vec<Finding> {
    findings.sort_by_key(|f| (f.criterion, f.exposure));
    findings
}
