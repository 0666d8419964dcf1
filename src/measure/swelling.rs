//! What a liquid does to the adhesive: swelling at the end of an exposure.

use crate::catalogue::{Property, Side};
use crate::models::affinity::{INTERACTION, MIXING};
use crate::models::diffusion::{DIFFUSIVITY, UPTAKE};
use crate::models::swelling::{Constraint, Form, Network, SWELLING, equilibrium};
use crate::quantity::{MolarDensity, MolarVolume};

use super::interaction::interaction;
use super::reach::uptake;
use super::tested::{Better, Clock, Heard, Trial};
use super::work::{Shared, Trace};
use super::{Answer, CaseRead, Measure, TapeRead, Work};

/// Thickness of the adhesive at the end of the exposure, over its thickness before.
pub(super) static ADHESIVE_SWELLING: Measure = Measure {
    id: "adhesive-swelling",
    asked: "mean thickness ratio of the adhesive over the lap at the end of the exposure, volume forced into thickness",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive, TapeRead::Face],
    case: &[CaseRead::Exposure, CaseRead::Bakes, CaseRead::Lap],
    demand: None,
    parts: &[],
    factor: None,
    best: Some(1.0),
    work: adhesive_swelling,
};

fn adhesive_swelling(w: &mut Work<'_>) -> Answer {
    let adhesive = w.adhesive();
    let heard = w.hear(
        Trial {
            symbol: "q",
            material: adhesive,
            side: Side::Adhesive,
            property: Property::Swelling,
            clock: Clock::AdhesiveAtRest,
        },
        true,
    );
    if let Heard::Settled(q, _) = heard {
        w.method("test of the pair");
        return w.estimate(&[], true, |x, _| q.of(x));
    }
    let bound = heard.bound();
    w.method(match bound {
        None => "constrained swelling, by the faster path",
        Some(_) => "constrained swelling, by the faster path; no less than a milder test",
    });
    let gel = polymer_fraction(w, adhesive);
    let uptake = uptake(w, adhesive);
    let Some(gel) = gel else { return Answer::Unknown };
    let cards = [&SWELLING, &INTERACTION, &MIXING, &UPTAKE, &DIFFUSIVITY];
    w.estimate(&cards, false, |x, t| {
        let fraction = gel.of(x, t);
        if fraction.is_nan() {
            return f64::NAN;
        }
        // A polymer that dissolves has no end to its swelling.
        let ratio = if fraction > 0.0 { 1.0 / fraction } else { f64::INFINITY };
        let share = uptake.uptake(x, t);
        t.step("equilibrium ratio", ratio, "1");
        let modelled = if share > 0.0 { 1.0 + (ratio - 1.0) * share } else { 1.0 };
        Better::Lower.worse(modelled, bound.map(|b| b.of(x)))
    })
}

/// The polymer's share of the swollen volume at equilibrium, 0 where it dissolves: the adhesive as a
/// network in the liquid, held by its backing.
pub(super) fn polymer_fraction(w: &mut Work<'_>, adhesive: usize) -> Option<Shared> {
    let at = w.exposure().map(|x| x.temperature);
    // A network of domains is none when they melt, so the crosslinks are those at temperature.
    let crosslinks = w.material("ρx", adhesive, Side::Adhesive, Property::CrosslinkDensity, at);
    let volume = w.of_medium("V1", Property::MolarVolume, None);
    let chi = interaction(w, adhesive, volume);
    let (crosslinks, volume, chi) = (crosslinks?, volume?, chi?);
    let (mut on, fractions) = chi.hangs_on();
    on.extend([crosslinks, volume]);
    let fractions = fractions.to_vec();
    let lasts = !chi.hangs_on_the_temperature();
    let model = move |x: &[f64], t: &mut Trace<'_>| {
        let network = Network {
            crosslinks: MolarDensity::from_si(crosslinks.of(x)),
            form: Form::Affine,
            constraint: Constraint::Sheet,
        };
        let volume = MolarVolume::from_si(volume.of(x));
        let fraction =
            equilibrium(network, volume, &chi.at(x, t), 1.0).map_or(f64::NAN, |state| state.polymer_fraction);
        t.step("v", fraction, "1");
        fraction
    };
    let name = "polymer fraction";
    let shared = if lasts { w.lasting(name, &on, &fractions, model) } else { w.shared(name, &on, &fractions, model) };
    w.absorb(&on);
    Some(shared)
}
