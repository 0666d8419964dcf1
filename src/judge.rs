//! Measures and criteria become findings; findings become one standing per candidate.

use polars::lazy::dsl::{max_horizontal, min_horizontal, sum_horizontal};
use polars::prelude::*;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::{Criterion, Limits};
use crate::evidence::Basis;
use crate::expand::{Ask, Group, Plan};
use crate::fault::{Code, Fault};
use crate::measure::{Answer, Cell, Measure, Missing, Proves, Trace};
use crate::spread::Percentiles;

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

    fn of(code: u8) -> Verdict {
        Verdict::ALL[usize::from(code).min(4)]
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
    /// How it was found.
    pub method: &'static str,
    /// The weakest standing among its facts.
    pub basis: Option<Basis>,
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

/// The verdict rule.
#[must_use]
pub fn verdict(criterion: &Criterion, limits: Option<Limits>, cell: &Cell, value: Answer) -> (Verdict, Option<Cap>) {
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
    let hazardous = matches!(criterion.hazard, "dielectric" | "flame" | "thermal");
    match base {
        Verdict::Suitable | Verdict::Conditional if cell.proves == Proves::NeverIn => {
            (Verdict::Unproven, Some(Cap::MilderTest))
        }
        Verdict::Suitable if cell.extrapolated => (Verdict::Conditional, Some(Cap::Extrapolated)),
        Verdict::Suitable if hazardous && (cell.basis.is_weak() || cell.milder) => {
            (Verdict::Conditional, Some(Cap::WeakEvidence))
        }
        Verdict::Unsuitable if cell.proves == Proves::NeverOut => (Verdict::Unproven, Some(Cap::MethodAlone)),
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

/// How near, in ln, a percentile must lie to a limit to be worked out again over the fine table.
const NEAR: f64 = 0.05;

fn near_a_limit(limits: Option<Limits>, value: Answer) -> bool {
    let (Answer::Number(p), Some(limits)) = (value, limits) else { return false };
    if p.x05.total_cmp(&p.x95).is_eq() {
        return false;
    }
    [p.x05, p.x95].iter().any(|x| {
        [limits.limit, limits.outer].iter().any(|bound| {
            let ratio = x / bound;
            ratio > 0.0 && libm::fabs(libm::log(ratio)) < NEAR
        })
    })
}

/// The number held against the demand, or what is missing for it.
fn demanded(measure: &Measure, ask: &Ask, cell: &Cell) -> Answer {
    match (&ask.terms, cell.answer) {
        (Err(_), _) => Answer::Unknown,
        (Ok(terms), Answer::Number(p)) => {
            let p = p.map(|x| measure.held(terms, cell.carried, x, &mut Trace::off()));
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

fn judge<'p>(plan: &'p Plan<'_>, group: &'p Group, criterion: &Criterion, ask: &Ask, class: u32) -> Option<Judged<'p>> {
    let mut cell = group.cell(class, ask.case)?;
    let mut value = demanded(group.measure, ask, cell);
    if near_a_limit(ask.limits, value) {
        cell = group.fine_cell(plan, class, ask.case);
        value = demanded(group.measure, ask, cell);
    }
    let (verdict, cap) = verdict(criterion, ask.limits, cell, value);
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
        let mut findings: Vec<Finding> = Vec::new();
        for group in &self.groups {
            let class = group.tape_class[position];
            for (nth, index) in group.criteria.iter().enumerate() {
                let asks = &group.asks[nth];
                let from = asks.partition_point(|ask| ask.enquiry < enquiry);
                let mine = asks[from..].iter().take_while(|ask| ask.enquiry == enquiry);
                let asked = group.asks_tape[nth][class as usize];
                for exposure in crate::expand::cases(group.measure, &self.enquiries[enquiry]) {
                    let ask = mine.clone().find(|ask| ask.exposure == exposure).filter(|_| asked);
                    findings.push(self.finding(group, *index, position, exposure, ask));
                }
            }
        }
        findings.sort_by_key(|f| (f.criterion, f.exposure));
        findings
    }

    fn finding(
        &self,
        group: &Group,
        criterion: usize,
        position: usize,
        exposure: Option<usize>,
        ask: Option<&Ask>,
    ) -> Finding {
        let rule = &self.catalogue.criteria[criterion];
        let class = group.tape_class[position];
        let blank = Finding {
            tape: self.candidates[position],
            exposure,
            criterion,
            unit: group.measure.unit,
            value: None,
            limits: None,
            verdict: Verdict::NotAsked,
            margin: Margin::NoScale,
            method: "",
            basis: None,
            missing: Vec::new(),
            capped: None,
        };
        let Some((ask, judged)) = ask.and_then(|ask| Some((ask, judge(self, group, rule, ask, class)?))) else {
            return blank;
        };
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
            method: judged.cell.method,
            basis: Some(judged.cell.basis),
            missing,
            capped: judged.cap,
            ..blank
        }
    }

    /// The standing of every candidate in every enquiry: `[enquiry][position]`.
    ///
    /// Each criterion is judged by classes and reduced over its exposures there; only the result is
    /// joined to the tapes.
    ///
    /// # Errors
    /// Polars cannot allocate or join; it is not expected.
    pub fn standings(&self) -> Result<Vec<Vec<Standing>>, Fault> {
        let chunk = (1_000_000 / self.candidates.len().max(1)).clamp(1, 4096);
        let mut standings = Vec::with_capacity(self.enquiries.len());
        for start in (0..self.enquiries.len()).step_by(chunk) {
            let end = (start + chunk).min(self.enquiries.len());
            standings.extend(self.standings_of(start, end).map_err(|error| {
                Fault::new(Code::InputImpossible, error.to_string(), "frames that join", "report this as a defect")
            })?);
        }
        Ok(standings)
    }

    fn standings_of(&self, start: usize, end: usize) -> PolarsResult<Vec<Vec<Standing>>> {
        // Groups whose tapes fall into the same classes are reduced together before the join.
        let mut scopes: Vec<(&[u32], Vec<LazyFrame>)> = Vec::new();
        for group in &self.groups {
            let frame = self.judged_frame(group, start, end)?.lazy();
            match scopes.iter_mut().find(|(classes, _)| *classes == group.tape_class) {
                Some((_, frames)) => frames.push(frame),
                None => scopes.push((&group.tape_class, vec![frame])),
            }
        }
        let candidates = self.candidates.len();
        let mut all = df!("row" => (0..len32((end - start) * candidates)).collect::<Vec<u32>>())?.lazy();
        let in_order = JoinArgs { maintain_order: MaintainOrderJoin::Left, ..JoinArgs::new(JoinType::Left) };
        let mut names = [Vec::new(), Vec::new(), Vec::new()];
        for (nth, (classes, frames)) in scopes.into_iter().enumerate() {
            let of_scope = ["verdict", "open", "margin"].map(|name| format!("{name}{nth}"));
            let [verdict, open, margin] = of_scope.each_ref().map(String::as_str);
            let worst =
                [col("verdict").max().alias(verdict), col("open").sum().alias(open), col("margin").min().alias(margin)];
            let reduced = concat(frames, UnionArgs::default())?.group_by([col("key")]).agg(worst);
            let count = classes.iter().max().map_or(0, |last| last + 1);
            let keys: Vec<u32> =
                (0..len32(end - start)).flat_map(|e| classes.iter().map(move |class| e * count + class)).collect();
            all = all
                .with_column(lit(Series::new("key".into(), keys)))
                .join(reduced, [col("key")], [col("key")], in_order.clone())
                .drop(by_name(["key"], true, false));
            names.iter_mut().zip(of_scope).for_each(|(list, name)| list.push(col(name)));
        }
        let blank = Standing { verdict: Verdict::NotAsked, open_hazards: 0, margin: f64::INFINITY };
        if names[0].is_empty() {
            return Ok(vec![vec![blank; candidates]; end - start]);
        }
        let all = all
            .select([
                max_horizontal(&names[0])?.alias("verdict"),
                sum_horizontal(&names[1], true)?.alias("open"),
                min_horizontal(&names[2])?.alias("margin"),
            ])
            .collect()?;
        let (verdicts, opens, margins) =
            (all.column("verdict")?.u8()?, all.column("open")?.u32()?, all.column("margin")?.f64()?);
        let standings: Vec<Standing> = verdicts
            .iter()
            .zip(opens.iter())
            .zip(margins.iter())
            .map(|((verdict, open), margin)| match (verdict, open, margin) {
                (Some(v), Some(o), Some(m)) => Standing { verdict: Verdict::of(v), open_hazards: o, margin: m },
                _ => blank,
            })
            .collect();
        Ok(standings.chunks(candidates.max(1)).map(<[Standing]>::to_vec).collect())
    }

    /// Every class and case of a group, judged: a key for enquiry and class, verdict, open hazard, margin.
    fn judged_frame(&self, group: &Group, start: usize, end: usize) -> PolarsResult<DataFrame> {
        let classes = len32(group.tape_of.len());
        let mut columns = Columns::default();
        for (nth, index) in group.criteria.iter().enumerate() {
            let rule = &self.catalogue.criteria[*index];
            let asks = &group.asks[nth];
            let from = asks.partition_point(|ask| ask.enquiry < start);
            let to = asks.partition_point(|ask| ask.enquiry < end);
            let parts: Vec<Columns> = asks[from..to]
                .par_chunks(256)
                .map(|asks| {
                    let mut part = Columns::default();
                    for ask in asks {
                        for class in (0..classes).filter(|class| group.asks_tape[nth][*class as usize]) {
                            let Some(judged) = judge(self, group, rule, ask, class) else { continue };
                            let open = rule.hazard != "none" && judged.verdict >= Verdict::Unproven;
                            part.push(
                                len32(ask.enquiry - start) * classes + class,
                                judged.verdict as u8,
                                u32::from(open),
                                judged.margin.order(),
                            );
                        }
                    }
                    part
                })
                .collect();
            for part in parts {
                columns.append(part);
            }
        }
        df!(
            "key" => columns.key,
            "verdict" => columns.verdict,
            "open" => columns.open,
            "margin" => columns.margin,
        )
    }
}

#[derive(Default)]
struct Columns {
    key: Vec<u32>,
    verdict: Vec<u8>,
    open: Vec<u32>,
    margin: Vec<f64>,
}

impl Columns {
    fn push(&mut self, key: u32, verdict: u8, open: u32, margin: f64) {
        self.key.push(key);
        self.verdict.push(verdict);
        self.open.push(open);
        self.margin.push(margin);
    }

    fn append(&mut self, other: Columns) {
        self.key.extend(other.key);
        self.verdict.extend(other.verdict);
        self.open.extend(other.open);
        self.margin.extend(other.margin);
    }
}

fn len32(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}
