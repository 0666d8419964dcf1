//! What a liquid does to the backing: change of thickness by what it absorbs.

use crate::catalogue::{Property, Side};

use super::{Answer, CaseRead, Measure, TapeRead, Work};

/// Relative change of the backing's thickness at equilibrium.
pub(super) static BACKING_ABSORPTION: Measure = Measure {
    id: "backing-absorption",
    asked: "relative change of the backing's thickness once it has taken up what it can, all of it in thickness",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Backing],
    case: &[CaseRead::Medium],
    demand: None,
    parts: &[],
    factor: None,
    best: None,
    work: backing_absorption,
};

fn backing_absorption(w: &mut Work<'_>) -> Answer {
    let backing = w.tape.backing;
    w.method("saturation uptake by mass, as volume, all of it in thickness");
    let at = w.exposure().map(|x| x.temperature);
    let uptake = w.pair("M∞", backing, Side::Backing, Property::SaturationUptake);
    let solid = w.material("ρb", backing, Side::Backing, Property::Density, None);
    let liquid = w.of_medium("ρl", Property::Density, at);
    let (Some(uptake), Some(solid), Some(liquid)) = (uptake, solid, liquid) else { return Answer::Unknown };
    w.note(|| "pores do not count: what fills them does not thicken the backing".to_owned());
    w.estimate(&[], false, |x, t| {
        let change = uptake.of(x) * solid.of(x) / liquid.of(x);
        t.step("M∞·ρb/ρl", change, "1");
        change
    })
}
