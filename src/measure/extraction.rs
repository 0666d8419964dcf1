//! What a liquid takes out of the adhesive.

use crate::catalogue::{Property, Side};
use crate::evidence::{Basis, Shape, Spread};
use crate::models::diffusion::{DIFFUSIVITY, UPTAKE};

use super::reach::uptake;
use super::tested::{Better, Clock, Heard, Trial};
use super::{Answer, CaseRead, Measure, TapeRead, Work};

/// The share of the adhesive's mass that has gone into the liquid by the end of the exposure.
pub(super) static ADHESIVE_EXTRACTION: Measure = Measure {
    id: "adhesive-extraction",
    asked: "share of the adhesive's mass that the liquid has taken out by the end of the exposure",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive, TapeRead::Face],
    case: &[CaseRead::Exposure, CaseRead::Bakes, CaseRead::Lap],
    demand: None,
    parts: &[],
    factor: None,
    best: None,
    work: adhesive_extraction,
};

/// Of what a good solvent takes out, the share that a service liquid takes out: most of it, because
/// there is far more liquid than adhesive.
const TAKEN: Spread = Spread { value: 0.8, low: 0.5, high: 1.0, shape: Shape::Normal, floor: 0.0, ceiling: 1.0 };

fn adhesive_extraction(w: &mut Work<'_>) -> Answer {
    let adhesive = w.adhesive();
    let heard = w.hear(
        Trial {
            symbol: "m",
            material: adhesive,
            side: Side::Adhesive,
            property: Property::Extractable,
            clock: Clock::Time,
        },
        true,
    );
    if let Heard::Settled(m, _) = heard {
        w.method("test of the pair");
        return w.estimate(&[], true, |x, _| m.of(x));
    }
    let bound = heard.bound();
    w.method(match bound {
        None => "soluble part of the adhesive, by the faster path",
        Some(_) => "soluble part of the adhesive, by the faster path; no less than a milder test",
    });
    let Some(soluble) = w.material("s", adhesive, Side::Adhesive, Property::SolubleFraction, None) else {
        return Answer::Unknown;
    };
    let taken = w.assumed(
        "k",
        "share of the soluble part that the liquid takes",
        TAKEN,
        "1",
        Property::Extractable.dimension(Side::Other),
        Basis::Estimated,
    );
    let uptake = uptake(w, adhesive);
    w.estimate(&[&UPTAKE, &DIFFUSIVITY], false, |x, t| {
        let lost = soluble.of(x) * taken.of(x) * uptake.uptake(x, t);
        t.step("s·k·uptake", lost, "1");
        Better::Lower.worse(lost, bound.map(|b| b.of(x)))
    })
}
