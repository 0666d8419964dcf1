//! Which part of a decision moved, and which criterion flipped first.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::outcome::{Flip, Part, Side};
use crate::expand::Plan;
use crate::explain::{margin_words, value_words};
use crate::judge::{Contested, Finding, Standing, Verdict};
use crate::rank::{self, Order, Ranked};
use crate::record::Selection;
use crate::settle;

/// One enquiry of a plan, judged.
#[derive(Clone, Copy)]
pub(super) struct Judged<'p> {
    pub(super) plan: &'p Plan<'p>,
    pub(super) order: &'p Order<'p>,
    pub(super) enquiry: usize,
    pub(super) contested: &'p Contested,
}

/// A flip with the findings behind it.
pub(super) struct Flipped {
    pub(super) told: Flip,
    pub(super) before: Option<Finding>,
    pub(super) after: Option<Finding>,
}

/// What differs between two decisions, the gravest first; `kept` and `now` are their canonical texts.
pub(super) fn moved(signed: &Selection, today: &Selection, kept: &str, now: &str) -> Vec<Part> {
    let json = |text: &str| serde_json::from_str::<Value>(text).unwrap_or_default();
    let (kept, now) = (json(kept), json(now));
    let others = kept["order"] != now["order"] || kept["ruled_out"] != now["ruled_out"];
    let parts = [
        (Part::Verdict, signed.verdict != today.verdict || signed.open_hazards != today.open_hazards),
        (Part::Proposed, signed.proposed != today.proposed),
        (Part::Conditions, signed.conditions != today.conditions || signed.open_points != today.open_points),
        (Part::Reserves, signed.reserves != today.reserves),
        (Part::Order, others),
    ];
    let parts: Vec<Part> = parts.into_iter().filter_map(|(part, moved)| moved.then_some(part)).collect();
    if parts.is_empty() { vec![Part::Form] } else { parts }
}

/// The first criterion that flipped: of the selected tape where its own answer moved, else of the tape
/// whose move changed the proposal or the order.
pub(super) fn first(was: &Judged<'_>, is: &Judged<'_>, selected: &str, moved: &[Part]) -> Option<Flipped> {
    let (old, new) = (was.ranked(), is.ranked());
    let mut tapes: Vec<&str> = Vec::new();
    for part in moved {
        match part {
            Part::Verdict | Part::Conditions | Part::Reserves => tapes.push(selected),
            Part::Proposed => {
                let both = [rank::proposed(&new).map(|r| is.at(r)), rank::proposed(&old).map(|r| was.at(r))];
                let both: Vec<&str> = both.into_iter().flatten().collect();
                // The one whose own standing moved says why.
                let (moved, still): (Vec<&str>, Vec<&str>) =
                    both.into_iter().partition(|id| was.standing(id) != is.standing(id));
                tapes.extend(moved.into_iter().chain(still));
            }
            Part::Order => tapes.extend(others(was, is, &old, &new)),
            Part::Form => {}
        }
    }
    let mut seen = BTreeSet::new();
    let once: Vec<&str> = tapes.into_iter().filter(|tape| seen.insert(*tape)).collect();
    once.iter().find_map(|tape| of_tape(was, is, tape))
}

/// The candidates whose standing changed, came or went, in the new order, then those that are gone.
fn others<'p>(was: &Judged<'p>, is: &Judged<'p>, old: &[Ranked], new: &[Ranked]) -> Vec<&'p str> {
    let ids = |case: &Judged<'p>, ranked: &[Ranked]| -> Vec<&'p str> {
        ranked.iter().map(|r| case.plan.catalogue.tapes[r.tape].id.as_str()).collect()
    };
    let (old, new) = (ids(was, old), ids(is, new));
    let gone: Vec<&str> = old.iter().filter(|id| !new.contains(id)).copied().collect();
    let said = |standing: Option<Standing>| standing.map(|s| (s.verdict, s.open_hazards));
    let by_verdict: Vec<&str> =
        new.iter().filter(|id| said(was.standing(id)) != said(is.standing(id))).copied().collect();
    let by_margin = new.iter().filter(|id| was.standing(id) != is.standing(id)).copied();
    let mut all: Vec<&str> = by_verdict.into_iter().chain(gone).collect();
    all.extend(by_margin);
    // What has moved its place without a number of its own: cost or preference.
    all.extend(new.iter().enumerate().filter(|(at, id)| old.get(*at) != Some(id)).map(|(_, id)| *id));
    all
}

impl<'p> Judged<'p> {
    fn ranked(&self) -> Vec<Ranked> {
        self.order.of(self.enquiry, &self.contested.standings)
    }

    fn at(&self, ranked: &Ranked) -> &'p str {
        &self.plan.catalogue.tapes[ranked.tape].id
    }

    fn standing(&self, tape: &str) -> Option<Standing> {
        self.plan.position(tape).map(|position| self.contested.standings[position])
    }

    /// By which terms a finding was judged: its limits, what holds it back, its condition and its test.
    fn terms<'f>(&'f self, finding: &'f Finding) -> impl PartialEq + 'f {
        let rule = &self.plan.catalogue.criteria[finding.criterion];
        let limits = finding.limits.map(|limits| (limits.limit.to_bits(), limits.outer.to_bits()));
        let test = settle::test_of(self.plan.catalogue, &self.plan.enquiries[self.enquiry], finding);
        (limits, finding.capped, rule.condition.as_str(), rule.condition_settles, test.line())
    }

    /// The findings of a candidate, by criterion and exposure, in their order.
    fn findings(&self, position: usize) -> Vec<((String, String), Finding)> {
        let (catalogue, enquiry) = (self.plan.catalogue, &self.plan.enquiries[self.enquiry]);
        let named = |finding: Finding| {
            let exposure = finding.exposure.map(|x| enquiry.exposures[x].name.clone()).unwrap_or_default();
            ((catalogue.criteria[finding.criterion].id.clone(), exposure), finding)
        };
        let (tape, known) = (self.plan.candidates[position], &self.contested.findings);
        if known.first().is_some_and(|finding| finding.tape == tape) {
            return known.iter().cloned().map(named).collect();
        }
        // A large plan keeps no cell: those of one tape are worked out by themselves.
        let own = std::slice::from_ref(enquiry);
        let alone = (!self.plan.keeps_rows()).then(|| Plan::of(catalogue, own, vec![tape]).ok()).flatten();
        let findings = match &alone {
            Some(alone) => alone.findings_of(0, 0),
            None => self.plan.findings_of(self.enquiry, position),
        };
        findings.into_iter().map(named).collect()
    }
}

/// A finding before and after, by criterion and exposure.
type Pair<'f> = (&'f (String, String), Option<&'f Finding>, Option<&'f Finding>);

/// The first criterion that flipped for one tape: of those whose verdict changed the gravest, else the
/// first whose printed margin did.
fn of_tape(was: &Judged<'_>, is: &Judged<'_>, tape: &str) -> Option<Flipped> {
    let blank = |before: Option<Side>, after: Option<Side>| Flip {
        tape: tape.to_owned(),
        criterion: String::new(),
        exposure: String::new(),
        before,
        after,
    };
    let whole = |case: &Judged<'_>| {
        case.standing(tape).map(|s| Side {
            verdict: s.verdict.text().to_owned(),
            margin: String::new(),
            value: String::new(),
        })
    };
    let (before, after) = match (was.plan.position(tape), is.plan.position(tape)) {
        (None, None) => return None,
        (Some(before), Some(after)) => (was.findings(before), is.findings(after)),
        _ => return Some(Flipped { told: blank(whole(was), whole(is)), before: None, after: None }),
    };
    let old: BTreeMap<&(String, String), &Finding> = before.iter().map(|(key, finding)| (key, finding)).collect();
    let pairs: Vec<Pair<'_>> = after
        .iter()
        .map(|(key, finding)| (key, old.get(key).copied(), Some(finding)))
        .chain({
            let new: BTreeSet<&(String, String)> = after.iter().map(|(key, _)| key).collect();
            before.iter().filter(move |(key, _)| !new.contains(key)).map(|(key, finding)| (key, Some(finding), None))
        })
        .collect();
    let verdict = |finding: Option<&Finding>| finding.map_or(Verdict::NotAsked, |finding| finding.verdict);
    let worst = |(_, a, b): &Pair<'_>| verdict(*a).max(verdict(*b));
    let flips = || pairs.iter().filter(|(_, a, b)| verdict(*a) != verdict(*b));
    let gravest = flips().map(worst).max();
    let words = |finding: Option<&Finding>| finding.map(margin_words);
    let chosen = flips()
        .find(|pair| Some(worst(pair)) == gravest)
        .or_else(|| pairs.iter().find(|(_, a, b)| words(*a) != words(*b)))
        .or_else(|| pairs.iter().find(|(_, a, b)| a.map(|a| was.terms(a)) != b.map(|b| is.terms(b))))?;
    let ((criterion, exposure), before, after) = chosen;
    let side = |finding: &Finding| Side {
        verdict: finding.verdict.text().to_owned(),
        margin: margin_words(finding),
        value: value_words(finding),
    };
    Some(Flipped {
        told: Flip {
            criterion: criterion.clone(),
            exposure: exposure.clone(),
            ..blank(before.map(side), after.map(side))
        },
        before: before.cloned(),
        after: after.cloned(),
    })
}
