//! What absorbed water does to the breakdown voltage.

use crate::catalogue::{Property, Side};
use crate::evidence::Basis;
use crate::models::water::{ACTIVITY, SOLUBILITY};

use super::hydrolysis::water_activity;
use super::tested::{Clock, Heard, Trial};
use super::{Answer, CaseRead, Measure, Missing, TapeRead, Work};

/// Share of the breakdown voltage that the wrap keeps in the damp.
pub(super) static MOISTURE_EFFECT: Measure = Measure {
    id: "moisture-effect",
    asked: "share of its breakdown voltage that the wrap keeps with the water it has taken up",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Backing, TapeRead::Sheet(Property::BackingThickness)],
    case: &[CaseRead::Exposure],
    demand: None,
    parts: &[],
    factor: None,
    best: Some(1.0),
    work: moisture_effect,
};

/// Below this activity of water a liquid dries the tape (common practice).
const DRY: f64 = 0.1;

/// The tests that say which share of its breakdown voltage a tape keeps.
pub(super) fn trial(w: &Work<'_>) -> Trial {
    Trial {
        symbol: "kept",
        material: w.tape.backing,
        side: Side::Backing,
        property: Property::BreakdownKept,
        // What water does is at rest once it is spread; what it does over years is hydrolysis.
        clock: Clock::BackingAtRest,
    }
}

fn moisture_effect(w: &mut Work<'_>) -> Answer {
    let trial = trial(w);
    if w.medium().is_none_or(|m| m.kind == "gas") {
        return w.only_tested(trial);
    }
    if let Heard::Settled(kept, _) = w.hear(trial, true) {
        w.method("test of the pair");
        return w.estimate(&[], true, |x, _| kept.of(x));
    }
    w.method("activity of water in the liquid: one that is dry dries the tape");
    let Some(water) = water_activity(w) else { return Answer::Unknown };
    let damp = w.peek(|x| water.at(x)).x95.total_cmp(&DRY).is_gt();
    if damp {
        w.lacks(Missing::Pair(w.tape.backing, w.exposure().map_or(0, |x| x.medium), Property::BreakdownKept));
        return Answer::Unknown;
    }
    w.stands_on(Basis::Estimated);
    w.estimate(&[&SOLUBILITY, &ACTIVITY], true, |x, t| {
        t.step("activity of water", water.at(x), "1");
        1.0
    })
}
