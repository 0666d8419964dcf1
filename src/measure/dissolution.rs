//! Whether a liquid dissolves the adhesive or the backing, whatever the time.

use crate::catalogue::{PairQuery, Property, Side};
use crate::models::affinity::{INTERACTION, MIXING};
use crate::models::swelling::{Constraint, Form, Network, SWELLING, equilibrium};
use crate::quantity::{MolarDensity, MolarVolume};

use super::interaction::published;
use super::swelling::polymer_fraction;
use super::{Answer, CaseRead, Measure, Missing, TapeRead, Work};

/// The adhesive polymer's share of the volume at equilibrium in the liquid.
pub(super) static ADHESIVE_DISSOLUTION: Measure = Measure {
    id: "adhesive-dissolution",
    asked: "share of polymer in the adhesive once it has taken up all it can; none if it dissolves",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive],
    case: &[CaseRead::Medium, CaseRead::Bakes],
    demand: None,
    parts: &[],
    factor: None,
    best: Some(1.0),
    work: adhesive_dissolution,
};

/// The backing polymer's share of the volume at equilibrium in the liquid.
pub(super) static BACKING_DISSOLUTION: Measure = Measure {
    id: "backing-dissolution",
    asked: "share of polymer in the backing once it has taken up all it can; none if it dissolves",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Backing],
    case: &[CaseRead::Medium],
    demand: None,
    parts: &[],
    factor: None,
    best: Some(1.0),
    work: backing_dissolution,
};

fn adhesive_dissolution(w: &mut Work<'_>) -> Answer {
    w.method("network against affinity, held by the backing; the time does not count");
    let adhesive = w.adhesive();
    let Some(gel) = polymer_fraction(w, adhesive) else { return Answer::Unknown };
    w.estimate(&[&SWELLING, &INTERACTION, &MIXING], false, |x, t| gel.of(x, t))
}

fn backing_dissolution(w: &mut Work<'_>) -> Answer {
    let (Some(x), backing) = (w.exposure(), w.tape.backing) else { return Answer::Unknown };
    let query = PairQuery { tape: None, material: backing, medium: x.medium, property: Property::Chi };
    if let Some(chi) = published(w, query, Side::Backing) {
        w.method("affinity of the backing without crosslinks; the time does not count");
        w.note(|| "no crosslinks hold the backing: with χ below one half at infinite dilution it dissolves".to_owned());
        let Some(volume) = w.of_medium("V1", Property::MolarVolume, None) else { return Answer::Unknown };
        let network =
            Network { crosslinks: MolarDensity::from_si(0.0), form: Form::Affine, constraint: Constraint::Free };
        return w.estimate(&[&SWELLING, &MIXING], false, |x, t| {
            let state = equilibrium(network, MolarVolume::from_si(volume.of(x)), &chi.at(x, t), 1.0);
            let fraction = state.map_or(f64::NAN, |state| state.polymer_fraction);
            t.step("v", fraction, "1");
            fraction
        });
    }
    w.method("uptake of the backing at saturation, as volume");
    let uptake =
        w.catalogue.find_pair(PairQuery { property: Property::SaturationUptake, ..query }, Some(x.temperature.si()));
    let missing = Missing::Pair(backing, x.medium, Property::SaturationUptake);
    let uptake = w.take("M∞", uptake, Side::Backing, Property::SaturationUptake, missing);
    let solid = w.material("ρb", backing, Side::Backing, Property::Density, None);
    let liquid = w.of_medium("ρl", Property::Density, Some(x.temperature));
    let (Some(uptake), Some(solid), Some(liquid)) = (uptake, solid, liquid) else { return Answer::Unknown };
    w.estimate(&[], false, |x, t| {
        let fraction = 1.0 / (1.0 + uptake.of(x) * solid.of(x) / liquid.of(x));
        t.step("1/(1 + M∞·ρb/ρl)", fraction, "1");
        fraction
    })
}
