//! The workings: each finding of each short-listed tape, with its equations, numbers and steps.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::super::language::fitted;
use super::{Case, Pair, References, sentence};
use crate::evidence::Place;
use crate::explain::{Explanation, FactUsed};
use crate::judge::{Finding, Verdict};
use crate::measure::Step;

/// An equation, printed once however many workings use it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Method {
    /// The model's name.
    pub name: String,
    /// The equation.
    pub equation: String,
    /// The units of its symbols.
    pub units: String,
    /// Where it holds.
    pub valid: String,
    /// Who published it.
    pub sources: String,
}

/// The workings of one tape.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WorkingsOf {
    /// The tape.
    pub tape: String,
    /// One for each finding that was asked.
    pub workings: Vec<Working>,
}

/// The working of one finding.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Working {
    /// Criterion and exposure.
    pub title: String,
    /// What is asked.
    pub asked: String,
    /// The verdict.
    pub verdict: Verdict,
    /// The result in a line: value, spread, limits with the standing of their source, margin.
    pub result: String,
    /// The number of the source of its limits; none where it has none.
    pub source: Option<usize>,
    /// How, and by which equations.
    pub method: String,
    /// The numbers that went in.
    pub facts: Vec<FactLine>,
    /// What went by, part by part; none where the measure has no history.
    pub history: Option<History>,
    /// The steps at the central values.
    pub steps: Vec<Pair>,
    /// What was assumed.
    pub notes: Vec<String>,
}

/// The parts of a history, such as the steps of a load profile.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct History {
    /// The symbols of what is told of each.
    pub heads: Vec<String>,
    /// One line a part.
    pub parts: Vec<HistoryLine>,
}

/// A part of a history.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct HistoryLine {
    /// Its number.
    pub number: usize,
    /// What it is.
    pub name: String,
    /// Where it stands.
    pub place: String,
    /// A number for each head.
    pub values: Vec<String>,
}

/// A number that went in.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FactLine {
    /// Its symbol.
    pub symbol: String,
    /// What it is.
    pub name: String,
    /// Its value and unit.
    pub value: String,
    /// From 5 to 95 %, or empty.
    pub spread: String,
    /// Where it stands, and on which standing.
    pub place: String,
    /// The number of its source; none for a number of the enquiry or an assumption.
    pub source: Option<usize>,
    /// The share of the spread it explains.
    pub influence: String,
}

pub(super) fn workings(
    case: &Case<'_>,
    explanations: &[Vec<(&Finding, Explanation)>],
    references: &mut References,
) -> (Vec<WorkingsOf>, Vec<Pair>, Vec<Method>) {
    let mut methods: Vec<Method> = Vec::new();
    let workings = case
        .short_list()
        .iter()
        .zip(explanations)
        .map(|(ranked, explained)| WorkingsOf {
            tape: case.tape_id(ranked.tape).to_owned(),
            workings: explained
                .iter()
                .map(|(finding, explanation)| {
                    for e in &explanation.equations {
                        if !methods.iter().any(|m| m.name == e.model) {
                            methods.push(Method {
                                name: e.model.clone(),
                                equation: e.equation.clone(),
                                units: e.units.clone(),
                                valid: e.valid.clone(),
                                sources: e.sources.join("; "),
                            });
                        }
                    }
                    working(case, finding, explanation, references)
                })
                .collect(),
        })
        .collect();
    methods.sort_by(|a, b| a.name.cmp(&b.name));
    (workings, symbols(case, explanations), methods)
}

/// A symbol is longer than this where it is words that tell themselves.
const SYMBOL: usize = 4;

/// What each symbol stands for and, where it stands for several things, in which workings.
fn symbols(case: &Case<'_>, explanations: &[Vec<(&Finding, Explanation)>]) -> Vec<Pair> {
    let mut symbols: BTreeMap<&str, Vec<(String, Vec<String>)>> = BTreeMap::new();
    for (_, explanation) in explanations.iter().flatten() {
        let inputs = explanation.facts.iter().map(|used| (used.symbol.as_str(), meaning(case, &used.name)));
        let demand = explanation.demand.iter().map(|d| (d.symbol.as_str(), d.name.clone()));
        let title = case.language.within(&explanation.title);
        for (symbol, meaning) in inputs.chain(demand).filter(|(symbol, _)| symbol.chars().count() <= SYMBOL) {
            let meanings = symbols.entry(symbol).or_default();
            match meanings.iter_mut().find(|(known, _)| *known == meaning) {
                Some((_, titles)) if titles.contains(&title) => {}
                Some((_, titles)) => titles.push(title.clone()),
                None => meanings.push((meaning, vec![title.clone()])),
            }
        }
    }
    let said = |(meaning, titles): &(String, Vec<String>), one: bool| {
        if one {
            return meaning.clone();
        }
        case.language.say("workings.meaning", &[("meaning", meaning), ("where", &titles.join(", "))])
    };
    let line = |(symbol, meanings): (&str, Vec<(String, Vec<String>)>)| Pair {
        name: symbol.to_owned(),
        value: meanings.iter().map(|m| said(m, meanings.len() == 1)).collect::<Vec<_>>().join("; "),
    };
    symbols.into_iter().map(line).collect()
}

/// What a number is, whatever it is of.
fn meaning(case: &Case<'_>, name: &str) -> String {
    let catalogue = case.plan.catalogue;
    let is_key = |word: &str| catalogue.material(word).is_some() || catalogue.tape(word).is_some();
    let of = |(at, of): (usize, &str)| {
        let key = name[at + of.len()..].split(' ').next().unwrap_or_default();
        is_key(key).then_some(&name[..at])
    };
    plain(case, name.match_indices(" of ").find_map(of).unwrap_or(name))
}

fn working(case: &Case<'_>, finding: &Finding, e: &Explanation, references: &mut References) -> Working {
    let l = case.language;
    let mut facts: Vec<FactLine> = e.facts.iter().map(|used| fact(case, used, references)).collect();
    if let Some(demand) = &e.demand {
        facts.push(FactLine {
            symbol: demand.symbol.clone(),
            name: demand.name.clone(),
            value: printed(case, demand.value, &demand.unit),
            spread: String::new(),
            place: l.text("workings.of_enquiry").to_owned(),
            source: None,
            influence: String::new(),
        });
    }
    let source = finding.limits.map(|_| references.number(&e.limits_from.source));
    let models: Vec<String> = e.equations.iter().map(|equation| equation.model.clone()).collect();
    let mut method = sentence(&e.method);
    if !models.is_empty() {
        method = format!("{method} ({})", models.join(", "));
    }
    Working {
        title: case.title(finding),
        asked: sentence(&e.asked),
        verdict: finding.verdict,
        result: result(case, finding, &e.limits_from.basis, source),
        source,
        method,
        facts,
        history: history(case, &e.central),
        steps: e
            .central
            .iter()
            .filter(|s| s.part.is_none())
            .map(|s| Pair { name: s.symbol.to_owned(), value: printed(case, s.value, s.unit) })
            .collect(),
        notes: e.notes.clone(),
    }
}

/// A number of the working, in the unit that suits its size.
fn printed(case: &Case<'_>, value: f64, unit: &str) -> String {
    let ([value], unit) = fitted([value], unit);
    case.language.with_unit(&case.language.number(value, 4), unit)
}

/// The steps of the parts of a history, a line for each part.
fn history(case: &Case<'_>, steps: &[Step]) -> Option<History> {
    let l = case.language;
    let mut heads: Vec<String> = Vec::new();
    let mut parts: Vec<HistoryLine> = Vec::new();
    for of_part in steps.chunk_by(|a, b| a.part == b.part) {
        let Some(part) = &of_part[0].part else { continue };
        heads = of_part.iter().map(|s| s.symbol.to_owned()).collect();
        parts.push(HistoryLine {
            number: part.number,
            name: plain(case, &part.name),
            place: placed(&part.place),
            values: of_part.iter().map(|s| l.with_unit(&l.number(s.value, 4), s.unit)).collect(),
        });
    }
    (!parts.is_empty()).then_some(History { heads, parts })
}

/// A file and its line.
fn placed(place: &Place) -> String {
    let file = place.file.rsplit('/').next().unwrap_or(&place.file);
    if place.line > 0 { format!("{file}:{}", place.line) } else { file.to_owned() }
}

/// Value, spread, limits with their standing, and margin in a line.
fn result(case: &Case<'_>, f: &Finding, basis: &str, source: Option<usize>) -> String {
    let l = case.language;
    let mut parts = Vec::new();
    match f.value {
        Some(p) if p.x05.total_cmp(&p.x95).is_ne() => parts.push(l.say(
            "workings.value_spread",
            &[
                ("value", &l.with_unit(&l.number(p.x50, 4), f.unit)),
                ("low", &l.number(p.x05, 4)),
                ("high", &l.number(p.x95, 4)),
            ],
        )),
        Some(p) => parts.push(l.with_unit(&l.number(p.x50, 4), f.unit)),
        None => {}
    }
    if let (Some(limits), Some(source)) = (f.limits, source) {
        parts.push(l.say(
            "workings.limits",
            &[
                ("limit", &l.number(limits.limit, 4)),
                ("outer", &l.number(limits.outer, 4)),
                ("from", &format!("{basis} [{source}]")),
            ],
        ));
    }
    if !f.missing.is_empty() {
        parts.push(l.say("chapter.missing", &[("what", &l.list(&case.missing(f)))]));
    } else if f.limits.is_some() {
        parts.push(l.say("workings.margin", &[("n", &case.margin(f))]));
    }
    parts.join(" · ")
}

fn fact(case: &Case<'_>, used: &FactUsed, references: &mut References) -> FactLine {
    let l = case.language;
    let spread = used.low.total_cmp(&used.high).is_ne();
    let ([value, low, high], unit) = fitted([used.value, used.low, used.high], &used.unit);
    let mut place = vec![used.place.as_ref().map_or_else(|| l.text("workings.assumed").to_owned(), placed)];
    if let Some(basis) = used.basis {
        place.push(l.text(&format!("basis.{}", basis.text())).to_owned());
    }
    if used.extrapolated {
        place.push(l.text("workings.extrapolated").to_owned());
    }
    FactLine {
        symbol: used.symbol.clone(),
        name: name(case, used),
        value: l.with_unit(&l.number(value, 4), unit),
        spread: if spread { format!("{} – {}", l.number(low, 3), l.number(high, 3)) } else { String::new() },
        place: place.join(", "),
        source: used.source.as_ref().map(|key| references.number(key)),
        influence: if used.influence >= 0.01 { l.percent(round_share(used.influence)) } else { String::new() },
    }
}

fn round_share(share: f64) -> f64 {
    libm::round(share * 100.0) / 100.0
}

/// What a number is, with the names of materials for their keys and the temperature it was taken at.
fn name(case: &Case<'_>, used: &FactUsed) -> String {
    let (l, catalogue) = (case.language, case.plan.catalogue);
    let word = |word: &str| match catalogue.material(word) {
        Some(material) if word.contains('-') => catalogue.materials[material].short.clone(),
        _ => word.to_owned(),
    };
    let words: Vec<String> = used.name.split(' ').map(word).collect();
    let what = plain(case, &words.join(" "));
    let Some(at) = used.taken_at else { return what };
    l.say("workings.taken_at", &[("what", &what), ("at", &l.with_unit(&l.number(at, 4), "degC"))])
}

/// A key of the enquiry reads as the enquiry's own heading.
fn plain(case: &Case<'_>, name: &str) -> String {
    let key = name.rsplit('.').next().unwrap_or(name);
    let own = case.language.text(&format!("asked.{key}"));
    if name.contains(' ') || own.is_empty() { name.replace('_', " ") } else { case.language.within(own) }
}
