//! What the tape does to the liquid it lies in, and to the cure of the resin.

use crate::catalogue::{Property, Side, Subject};

use super::tested::{Better, Clock, Heard, Trial};
use super::work::Slot;
use super::{Answer, CaseRead, Measure, Missing, TapeRead, Work};

/// The liquid after a test with the tape in it, against what is asked of the liquid.
pub(super) static LIQUID_CONTAMINATION: Measure = Measure {
    id: "liquid-contamination",
    asked: "liquid after a test with the tape in it, worst of its properties over what is asked of the liquid in new equipment",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive, TapeRead::Sheet(Property::AdhesiveThickness)],
    case: &[CaseRead::Exposure, CaseRead::Bakes],
    demand: None,
    parts: &[],
    factor: None,
    best: None,
    work: liquid_contamination,
};

/// The gel time of the resin with the tape in it, against the resin alone.
pub(super) static CURE_INHIBITION: Measure = Measure {
    id: "cure-inhibition",
    asked: "gel time of the resin with the tape in it over that of the resin alone, or the inverse where it is quicker",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive],
    case: &[CaseRead::Exposure, CaseRead::Bakes],
    demand: None,
    parts: &[],
    factor: None,
    best: Some(1.0),
    work: cure_inhibition,
};

/// What is tested of a liquid, and which way it is better.
const OF_LIQUID: [(&str, &str, Property, Better); 4] = [
    ("tan δ", "tan δ asked", Property::LossFactor, Better::Lower),
    ("σ", "σ asked", Property::InterfacialTension, Better::Higher),
    ("acid", "acid asked", Property::Acidity, Better::Lower),
    ("Ub", "Ub asked", Property::Breakdown, Better::Higher),
];

fn liquid_contamination(w: &mut Work<'_>) -> Answer {
    w.method("test of the liquid with the tape in it");
    let Some(medium) = w.exposure().map(|x| x.medium) else { return Answer::Unknown };
    let adhesive = w.adhesive();
    let mut parts: Vec<(Slot, Slot, Better)> = Vec::with_capacity(OF_LIQUID.len());
    let (mut asked_for, mut milder) = (false, false);
    for (symbol, asked, property, better) in OF_LIQUID {
        let Some(allowed) = w.catalogue.find(Subject::Material(medium), property, None) else { continue };
        asked_for = true;
        // What comes out comes out until the adhesive is at rest; a longer test adds nothing.
        let trial = Trial { symbol, material: adhesive, side: Side::Adhesive, property, clock: Clock::AdhesiveAtRest };
        let slot = match w.hear(trial, false) {
            Heard::Settled(slot, _) => slot,
            Heard::NoBetter(slot) => {
                milder = true;
                slot
            }
            Heard::Nothing => continue,
        };
        if let Some(allowed) = w.take(asked, Some(allowed), Side::Other, property, Missing::Words("")) {
            parts.push((slot, allowed, better));
        }
    }
    if parts.is_empty() {
        w.lacks(if asked_for {
            Missing::Pair(adhesive, medium, Property::LossFactor)
        } else {
            Missing::Fact(Subject::Material(medium), Property::LossFactor)
        });
        return Answer::Unknown;
    }
    if milder {
        w.bounds_only();
    }
    w.estimate(&[], false, |x, t| {
        let mut worst = 0.0;
        for (slot, allowed, better) in &parts {
            let share = match better {
                Better::Lower => slot.of(x) / allowed.of(x),
                Better::Higher => allowed.of(x) / slot.of(x),
            };
            t.step("share of what is asked", share, "1");
            worst = libm::fmax(worst, share);
        }
        worst
    })
}

fn cure_inhibition(w: &mut Work<'_>) -> Answer {
    w.method("gel time with and without the tape");
    let Some(medium) = w.exposure().map(|x| x.medium) else { return Answer::Unknown };
    let adhesive = w.adhesive();
    let trial = Trial {
        symbol: "t gel",
        material: adhesive,
        side: Side::Adhesive,
        property: Property::GelTime,
        clock: Clock::None,
    };
    let Heard::Settled(with, id) = w.hear(trial, false) else {
        w.lacks(Missing::Pair(adhesive, medium, Property::GelTime));
        return Answer::Unknown;
    };
    let subject = Subject::Material(medium);
    let alone = w.catalogue.find(subject, Property::GelTime, w.catalogue.fact(id).temperature);
    let Some(alone) =
        w.take("t alone", alone, Side::Other, Property::GelTime, Missing::Fact(subject, Property::GelTime))
    else {
        return Answer::Unknown;
    };
    w.estimate(&[], false, |x, t| {
        let ratio = with.of(x) / alone.of(x);
        t.step("with tape over alone", ratio, "1");
        libm::fmax(ratio, 1.0 / ratio)
    })
}
