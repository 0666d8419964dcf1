//! The answer of page one: what is proposed, under which conditions, up to which limits.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::{Case, Pair, TestLine, sentence};
use crate::catalogue::Property;
use crate::envelope::{Envelope, Quantity, Turn};
use crate::judge::{Finding, Reading, Verdict};
use crate::quantity::Temperature;
use crate::rank::{self, Ranked};
use crate::settle;

/// The answer.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Answer {
    /// The tape that is proposed.
    pub proposed: Option<Proposed>,
    /// Said where there is none.
    pub none: String,
    /// What would have to change for the nearest candidates, where there is none.
    pub changes: Vec<Change>,
    /// Conditions of the proposed tape, each behind its mark.
    pub conditions: Vec<Pair>,
    /// Its limits of use.
    pub limits: Vec<LimitLine>,
    /// What the limits rest on, and what may move without changing its verdict.
    pub free: String,
    /// The next in order that may stand in for it.
    pub alternates: Vec<Alternate>,
    /// The next in order that may not, before their tests.
    pub unproven: Vec<Alternate>,
    /// Why one stands before another whose margin reads better.
    pub before: Vec<String>,
    /// Hazards that have a caution, in a line.
    pub counts: String,
}

/// The proposed tape.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Proposed {
    /// "Proposed, subject to tests 1 to 3".
    pub line: String,
    /// The tape.
    pub tape: String,
    /// Its name.
    pub name: String,
    /// Its construction and thickness.
    pub construction: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// Why that verdict, in a sentence.
    pub why: String,
    /// The weakest margin.
    pub margin: String,
    /// What it belongs to.
    pub weakest: String,
    /// How that margin is to be read, where it is a bound or all that there can be.
    pub reads: String,
    /// The smallest margin of all findings, where another decides.
    pub next: String,
}

/// What would have to change for a candidate that is ruled out.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Change {
    /// The tape.
    pub tape: String,
    /// Its construction.
    pub construction: String,
    /// What rules it out.
    pub by: Vec<String>,
}

/// A limit of use.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LimitLine {
    /// What may move.
    pub name: String,
    /// Its present value.
    pub now: String,
    /// From where to where the verdict holds.
    pub holds: String,
    /// The verdicts beyond, and the criteria that decide there.
    pub then: Vec<String>,
}

/// A candidate after the proposed one.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Alternate {
    /// The tape.
    pub tape: String,
    /// Its construction.
    pub construction: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// Its weakest margin.
    pub margin: String,
    /// What it belongs to.
    pub weakest: String,
    /// That service is hotter than it bears, where it is judged until the cure alone; else empty.
    pub below: String,
}

/// How many ruled-out candidates are said to be near.
const NEAR: usize = 3;

pub(super) fn answer(case: &Case<'_>, limits: Option<&Envelope>, tests: &[TestLine]) -> Answer {
    let l = case.language;
    let first = case.short_list().first();
    let judged = case.ranked.len();
    let none = match (first, judged) {
        (Some(_), _) => String::new(),
        (None, 0) => l.text("answer.no_candidates").to_owned(),
        (None, n) => l.say("answer.none", &[("n", &n.to_string())]),
    };
    Answer {
        proposed: first.map(|ranked| proposed(case, ranked, tests)),
        none,
        changes: if first.is_some() { Vec::new() } else { changes(case) },
        conditions: first.map(|r| conditions(case, case.of(r))).unwrap_or_default(),
        limits: limits.map(|e| lines(case, e)).unwrap_or_default(),
        free: limits.map(|e| free(case, e)).unwrap_or_default(),
        alternates: others(case, false),
        unproven: others(case, true),
        before: case.short_list().windows(2).filter_map(|pair| before(case, &pair[0], &pair[1])).collect(),
        counts: candidates(case),
    }
}

/// How many candidates there are of each verdict.
fn candidates(case: &Case<'_>) -> String {
    let l = case.language;
    let mut counts: BTreeMap<Verdict, usize> = BTreeMap::new();
    case.ranked.iter().for_each(|r| *counts.entry(r.standing.verdict).or_default() += 1);
    let parts: Vec<String> = counts.iter().map(|(verdict, n)| format!("{n} {}", case.word(*verdict))).collect();
    l.say("answer.candidates", &[("n", &case.ranked.len().to_string()), ("parts", &l.list(&parts))])
}

fn proposed(case: &Case<'_>, ranked: &Ranked, tests: &[TestLine]) -> Proposed {
    let (l, catalogue) = (case.language, case.plan.catalogue);
    let own = tests.iter().filter(|t| t.of_proposed).count();
    let line = match own {
        0 => l.text("answer.proposed").to_owned(),
        1 => l.text("answer.proposed_one").to_owned(),
        2 => l.text("answer.proposed_two").to_owned(),
        n => l.say("answer.proposed_many", &[("n", &n.to_string())]),
    };
    let findings = case.of(ranked);
    let weakest = rank::weakest(findings);
    let (reads, next) = weakest.map(|weakest| reads(case, weakest, findings)).unwrap_or_default();
    let tape = &catalogue.tapes[ranked.tape];
    Proposed {
        line: if own > 0 && !conditions(case, findings).is_empty() {
            format!("{line}{}", l.text("answer.and_conditions"))
        } else {
            line
        },
        tape: tape.id.clone(),
        name: tape.name.clone(),
        construction: super::chapter::construction(case, ranked.tape),
        verdict: ranked.standing.verdict,
        why: [why(case, ranked.standing.verdict, findings), until_cure(case, ranked.tape)].concat(),
        margin: weakest.map(|f| case.margin(f)).unwrap_or_default(),
        weakest: weakest.map(|f| case.title(f)).unwrap_or_default(),
        reads,
        next,
    }
}

/// How the margin of the deciding finding is to be read where it is a bound or all that there can be, and the
/// smallest margin where that is another.
fn reads(case: &Case<'_>, decides: &Finding, findings: &[Finding]) -> (String, String) {
    let l = case.language;
    let reads = match decides.reading {
        Reading::Exact => "",
        Reading::AtLeast => l.text("answer.reads_at_least"),
        Reading::AtMost => l.text("answer.reads_at_most"),
        Reading::Full => l.text("answer.reads_full"),
    };
    let next = smallest(findings)
        .filter(|f| decides.margin.number().is_some() && f.margin.order() < decides.margin.order())
        .map(|f| {
            let (margin, what) = (case.margin(f), l.within(&case.title(f)));
            l.say("answer.next_margin", &[("margin", &margin), ("what", &what), ("verdict", case.word(f.verdict))])
        });
    (reads.to_owned(), next.unwrap_or_default())
}

/// The finding with the smallest margin, whatever its verdict.
fn smallest(findings: &[Finding]) -> Option<&Finding> {
    let numbers = findings.iter().filter(|f| f.verdict != Verdict::NotAsked && f.margin.number().is_some());
    numbers.min_by(|a, b| a.margin.order().total_cmp(&b.margin.order()))
}

/// Why one stands before the next, where that has the same verdict and a deciding margin that reads better.
fn before(case: &Case<'_>, first: &Ranked, next: &Ranked) -> Option<String> {
    let l = case.language;
    let decides = |r: &Ranked| rank::weakest(case.of(r)).map(|f| f.margin.order());
    if first.standing.verdict != next.standing.verdict || decides(first)? >= decides(next)? {
        return None;
    }
    let (a, b) = (first.standing.open_hazards, next.standing.open_hazards);
    let why = if a != b {
        l.say("answer.before_hazards", &[("first", &a.to_string()), ("next", &b.to_string())])
    } else if first.preference != next.preference {
        let function = case.enquiry.application.function;
        let preference = case.plan.catalogue.preferences.iter().find(|p| p.function == function)?;
        let word = l.text(&format!("words.{function}"));
        l.say("answer.before_preference", &[("function", word), ("why", preference.why.trim_end_matches('.'))])
    } else {
        let [a, b] = [first, next].map(|r| smallest(case.of(r)).map(|f| case.margin(f)).unwrap_or_default());
        let key = match (first.standing.margin.total_cmp(&next.standing.margin).is_eq(), a == b) {
            (true, _) => "answer.before_cost",
            (false, true) => "answer.before_digits",
            (false, false) => "answer.before_margin",
        };
        let cost = |r: &Ranked| r.cost.map_or_else(|| "–".to_owned(), |cost| l.number(cost, 3));
        let names = [("first", a), ("next", b), ("cost", cost(first)), ("against", cost(next))];
        l.say(key, &names.each_ref().map(|(name, value)| (*name, value.as_str())))
    };
    let names = [("first", case.tape_id(first.tape)), ("next", case.tape_id(next.tape)), ("why", &why)];
    Some(l.say("answer.before", &names))
}

/// What an answer that ends with the cure does not say.
fn until_cure(case: &Case<'_>, tape: usize) -> String {
    if case.enquiry.application.needed != "until-cure" {
        return String::new();
    }
    let below = below_service(case, tape, "answer.below_service").map(|below| format!(" {below}")).unwrap_or_default();
    format!(" {}{below}", case.language.text("answer.until_cure"))
}

/// That a tape which is judged until the cure alone stays in what runs hotter than its index.
fn below_service(case: &Case<'_>, tape: usize, text: &str) -> Option<String> {
    let index = case.plan.catalogue.sheet(tape, Property::TemperatureIndex)?.spread.value;
    let hottest = case.enquiry.duty.hottest().filter(|_| case.enquiry.application.needed == "until-cure")?;
    let l = case.language;
    let names = [("index", l.quantity(Temperature::from_si(index))), ("hottest", l.quantity(hottest))];
    (index < hottest.si()).then(|| l.say(text, &names.each_ref().map(|(name, value)| (*name, value.as_str()))))
}

/// Why a tape has its verdict, from the counts of its findings.
pub(super) fn why(case: &Case<'_>, verdict: Verdict, findings: &[Finding]) -> String {
    let l = case.language;
    let count = |v: Verdict| findings.iter().filter(|f| f.verdict == v).count();
    let asked = findings.iter().filter(|f| f.verdict != Verdict::NotAsked).count().to_string();
    let open = findings.iter().filter(|f| rank::is_open_hazard(case.plan.catalogue, f)).count();
    let (conditional, unproven) = (count(Verdict::Conditional), count(Verdict::Unproven));
    let names: Vec<(&str, String)> = vec![
        ("asked", asked),
        ("conditional", conditional.to_string()),
        ("unproven", unproven.to_string()),
        ("unsuitable", count(Verdict::Unsuitable).to_string()),
        ("hazards", open.to_string()),
    ];
    let names: Vec<(&str, &str)> = names.iter().map(|(n, v)| (*n, v.as_str())).collect();
    let key = match verdict {
        Verdict::NotAsked => "answer.why_not_asked",
        Verdict::Suitable => "answer.why_suitable",
        Verdict::Conditional => "answer.why_conditional",
        Verdict::Unproven if open > 0 => "answer.why_unproven_hazards",
        Verdict::Unproven => "answer.why_unproven",
        Verdict::Unsuitable => "answer.why_unsuitable",
    };
    l.say(key, &names)
}

/// The conditions of a tape's findings between their limits, each once behind its mark, with the exposures it is about.
pub(super) fn conditions(case: &Case<'_>, findings: &[Finding]) -> Vec<Pair> {
    let mut conditions: Vec<(String, Vec<String>)> = Vec::new();
    for finding in findings {
        let Some(text) = settle::condition(case.plan.catalogue, finding) else { continue };
        let at = conditions.iter().position(|(t, _)| t == text).unwrap_or_else(|| {
            conditions.push((text.to_owned(), Vec::new()));
            conditions.len() - 1
        });
        let name = case.exposure_name(finding).to_owned();
        if !name.is_empty() && !conditions[at].1.contains(&name) {
            conditions[at].1.push(name);
        }
    }
    conditions.sort_by_key(|(text, _)| case.conditions.iter().position(|known| known == text));
    conditions
        .into_iter()
        .map(|(text, names)| Pair {
            name: case.mark(&text).unwrap_or_default(),
            value: if names.is_empty() {
                text
            } else {
                format!("{} ({})", text.trim_end_matches('.'), names.join(", "))
            },
        })
        .collect()
}

/// The key of a quantity's texts.
fn key(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Temperature => "limits.temperature",
        Quantity::Beside => "limits.beside",
        Quantity::Time => "limits.time",
        Quantity::Voltage => "limits.voltage",
        Quantity::Link => "limits.link",
        Quantity::Tension => "limits.tension",
        Quantity::Overlap => "limits.overlap",
        Quantity::Width => "limits.width",
    }
}

/// One line a quantity: where the verdict holds, and what ends it below and above.
fn lines(case: &Case<'_>, envelope: &Envelope) -> Vec<LimitLine> {
    let l = case.language;
    let quantities = Quantity::ALL.into_iter();
    quantities
        .filter_map(|quantity| {
            let mut turns: Vec<&Turn> = envelope.turns.iter().filter(|turn| turn.quantity == quantity).collect();
            turns.sort_by_key(|turn| turn.above);
            let unit = match quantity.unit() {
                "V" if turns.iter().all(|turn| turn.value >= 1000.0) => "kV",
                unit => unit,
            };
            let number = |turn: &Turn| l.number(crate::quantity::in_unit(turn.value, unit), 3);
            let with_unit = |turn: &Turn| l.with_unit(&number(turn), unit);
            let holds = match turns[..] {
                [] => return None,
                [one] if one.above => l.say("limits.up_to", &[("n", &with_unit(one))]),
                [one] => l.say("limits.down_to", &[("n", &with_unit(one))]),
                [below, above, ..] => l.say("limits.between", &[("from", &number(below)), ("to", &with_unit(above))]),
            };
            let both = turns.len() > 1;
            Some(LimitLine {
                name: l.text(key(quantity)).to_owned(),
                now: l.with_unit(&l.number(crate::quantity::in_unit(turns[0].now, unit), 4), unit),
                holds,
                then: turns.iter().map(|turn| then(case, turn, both)).collect(),
            })
        })
        .collect()
}

/// What ends the verdict on one side.
fn then(case: &Case<'_>, turn: &Turn, both: bool) -> String {
    let title = case.plan.catalogue.criteria[turn.criterion].title.to_lowercase();
    let exposure = turn.exposure.map(|x| format!(", {}", case.enquiry.exposures[x].name)).unwrap_or_default();
    let said = format!("{}: {title}{exposure}", case.word(turn.verdict));
    if !both {
        return said;
    }
    let side = if turn.above { "limits.above" } else { "limits.below" };
    case.language.say(side, &[("what", &said)])
}

fn free(case: &Case<'_>, envelope: &Envelope) -> String {
    let l = case.language;
    let parts: Vec<String> = envelope.free.iter().map(|(quantity, ..)| l.within(l.text(key(*quantity)))).collect();
    let rests = l.text("limits.rests");
    if parts.is_empty() {
        rests.to_owned()
    } else {
        format!("{rests} {}", l.say("limits.free", &[("list", &l.list(&parts))]))
    }
}

/// The short list behind the proposed tape: those that are unproven, or those that are not.
fn others(case: &Case<'_>, unproven: bool) -> Vec<Alternate> {
    let behind = case.short_list().iter().skip(1);
    behind.filter(|r| (r.standing.verdict == Verdict::Unproven) == unproven).map(|r| alternate(case, r)).collect()
}

fn alternate(case: &Case<'_>, ranked: &Ranked) -> Alternate {
    let weakest = rank::weakest(case.of(ranked));
    Alternate {
        tape: case.tape_id(ranked.tape).to_owned(),
        construction: super::chapter::construction(case, ranked.tape),
        verdict: ranked.standing.verdict,
        margin: weakest.map(|f| case.margin(f)).unwrap_or_default(),
        weakest: weakest.map(|f| case.title(f).to_lowercase()).unwrap_or_default(),
        below: below_service(case, ranked.tape, "answer.below_service_too").unwrap_or_default(),
    }
}

/// The candidates with the fewest findings that rule them out, and those findings.
fn changes(case: &Case<'_>) -> Vec<Change> {
    let ruling = |r: &Ranked| case.of(r).iter().filter(|f| f.verdict == Verdict::Unsuitable).count();
    let mut nearest: Vec<&Ranked> = case.ranked.iter().collect();
    nearest.sort_by_key(|r| ruling(r));
    nearest
        .into_iter()
        .take(NEAR)
        .map(|ranked| Change {
            tape: case.tape_id(ranked.tape).to_owned(),
            construction: super::chapter::construction(case, ranked.tape),
            by: case
                .of(ranked)
                .iter()
                .filter(|f| f.verdict == Verdict::Unsuitable)
                .map(|f| sentence(&format!("{}: {}", case.title(f), super::chapter::against(case, f))))
                .collect(),
        })
        .collect()
}
