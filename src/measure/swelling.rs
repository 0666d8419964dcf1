//! What a liquid does to the adhesive: swelling at the end of an exposure.

use crate::catalogue::{Fact, Property, Side};
use crate::evidence::{Basis, FactId, Shape, Spread, Z95};
use crate::models::affinity::{self, AFFINITY_TEMPERATURE, Chi, Hansen, INTERACTION, MIXING, VOLUME_RANGE};
use crate::models::diffusion::{self, DIFFUSIVITY, Faces, UPTAKE};
use crate::models::swelling::{Constraint, Form, Network, SWELLING, equilibrium};
use crate::quantity::{
    Diffusivity, Length, MolarDensity, MolarEnergy, MolarVolume, SolubilityParameter, Temperature, Time,
};

use super::work::{Slot, Trace};
use super::{Answer, CaseRead, Evidence, Measure, Missing, TapeRead, Work};

/// Thickness of the adhesive at the end of the exposure, over its thickness before.
pub(super) static ADHESIVE_SWELLING: Measure = Measure {
    id: "adhesive-swelling",
    asked: "mean thickness ratio of the adhesive over the lap at the end of the exposure, volume forced into thickness",
    unit: "1",
    per_exposure: true,
    tape: &[
        TapeRead::Adhesive,
        TapeRead::Backing,
        TapeRead::Sheet(Property::OpenPorosity),
        TapeRead::Sheet(Property::AdhesiveThickness),
    ],
    case: &[CaseRead::Exposure, CaseRead::Bakes, CaseRead::Lap],
    demand: None,
    work: adhesive_swelling,
};

fn adhesive_swelling(w: &mut Work<'_>) -> Answer {
    let adhesive = w.adhesive();
    match w.evidence(adhesive, Property::Swelling) {
        Evidence::Settles(found) => {
            w.method("measured pair");
            let missing = Missing::Words("");
            let slot = w.take("q", Some(found), Side::Adhesive, Property::Swelling, missing);
            return slot.map_or(Answer::Unknown, |q| w.estimate(&[], true, |x, _| q.of(x)));
        }
        Evidence::Milder(_) => {
            w.note(|| "a milder test is known; it bounds nothing above it, so the model stands".to_owned())
        }
        Evidence::Weak(_) | Evidence::None => {}
    }
    w.method("constrained swelling, by the faster path");
    let crosslinks = w.material("ν", adhesive, Side::Adhesive, Property::CrosslinkDensity, None);
    let volume = w.of_medium("V1", Property::MolarVolume, None);
    let chi = interaction(w, adhesive, volume);
    let uptake = uptake(w, adhesive);
    let (Some(crosslinks), Some(volume), Some(chi), Some(uptake)) = (crosslinks, volume, chi, uptake) else {
        return Answer::Unknown;
    };
    let cards = [&SWELLING, &INTERACTION, &MIXING, &UPTAKE, &DIFFUSIVITY];
    w.estimate(&cards, false, |x, t| {
        let volume = MolarVolume::from_si(volume.of(x));
        let network = Network {
            crosslinks: MolarDensity::from_si(crosslinks.of(x)),
            form: Form::Affine,
            constraint: Constraint::Sheet,
        };
        let Ok(state) = equilibrium(network, volume, &chi.at(x, t), 1.0) else { return f64::NAN };
        let share = uptake.at(x, t);
        t.step("v", state.polymer_fraction, "1");
        let ratio = state.ratio.unwrap_or(f64::INFINITY);
        t.step("equilibrium ratio", ratio, "1");
        if share > 0.0 { 1.0 + (ratio - 1.0) * share } else { 1.0 }
    })
}

/// How χ of a pair is known.
pub(super) enum Interaction {
    /// Published values over the polymer fraction.
    Published { fractions: Vec<f64>, slots: Vec<Slot>, residual: Option<Slot> },
    /// Effective centres and offset.
    Centres {
        polymer: [Slot; 3],
        liquid: [Slot; 3],
        offset: Slot,
        slope: Slot,
        volume: Slot,
        temperature: Slot,
        residual: Slot,
    },
}

/// Below this polymer fraction a published χ speaks for a gel; above it alone it must be carried down.
const DILUTE: f64 = 0.6;
/// Standard deviation of χ0 about its line, from the same fit as [`MIXING`].
const RESIDUAL: f64 = 0.08;

/// χ of the adhesive and the medium: published values first, else effective centres.
pub(super) fn interaction(w: &mut Work<'_>, adhesive: usize, volume: Option<Slot>) -> Option<Interaction> {
    let points = chi_points(w, adhesive);
    if !points.is_empty() {
        let fractions: Vec<f64> = points.iter().map(|(v, _)| *v).collect();
        let slots: Vec<Slot> = points
            .into_iter()
            .filter_map(|(_, id)| {
                let fact = w.catalogue.fact(id);
                let found = crate::catalogue::Found {
                    spread: fact.spread,
                    basis: fact.basis,
                    extrapolated: false,
                    facts: [Some(id), None],
                };
                w.take("χ", Some(found), Side::Adhesive, Property::Chi, Missing::Words(""))
            })
            .collect();
        let residual = fractions.iter().all(|v| *v >= DILUTE).then(|| residual(w));
        return Some(Interaction::Published { fractions, slots, residual });
    }
    let medium = w.exposure()?.medium;
    let of = w.catalogue;
    if of.materials[medium].family == of.materials[adhesive].family {
        w.lacks(Missing::Pair(adhesive, medium, Property::Chi));
        w.note(|| "liquid and adhesive are of one family: effective centres say nothing there".to_owned());
        return None;
    }
    let hansen = [Property::HansenD, Property::HansenP, Property::HansenH];
    let names = ["δD,P", "δP,P", "δH,P"];
    let polymer = [0, 1, 2].map(|i| w.material(names[i], adhesive, Side::Adhesive, hansen[i], None));
    let names = ["δD,L", "δP,L", "δH,L"];
    let liquid = [0, 1, 2].map(|i| w.of_medium(names[i], hansen[i], None));
    let offset = w.material("offset", adhesive, Side::Adhesive, Property::ChiOffset, None);
    let slope = w.material("slope", adhesive, Side::Adhesive, Property::ChiSlope, None);
    let x = w.exposure()?;
    let temperature = w.given::<Temperature>("T", "temperature", Some(x.temperature))?;
    let residual = residual(w);
    if let Some(found) = of.find(crate::catalogue::Subject::Material(medium), Property::MolarVolume, None)
        && let Some(note) = VOLUME_RANGE.check(found.spread.value)
    {
        w.extrapolate(|| note);
    }
    if let Some(note) = AFFINITY_TEMPERATURE.check(x.temperature.si()) {
        w.extrapolate(|| note);
    }
    let all = |slots: [Option<Slot>; 3]| Some([slots[0]?, slots[1]?, slots[2]?]);
    let (polymer, liquid) = (all(polymer)?, all(liquid)?);
    let hydrogen = of.find(crate::catalogue::Subject::Material(medium), Property::HansenH, None)?;
    if hydrogen.spread.value > HYDROGEN_BONDS {
        w.lacks(Missing::Pair(adhesive, medium, Property::Chi));
        w.note(|| "a liquid held together by hydrogen bonds: effective centres do not hold".to_owned());
        return None;
    }
    Some(Interaction::Centres {
        polymer,
        liquid,
        offset: offset?,
        slope: slope?,
        volume: volume?,
        temperature,
        residual,
    })
}

/// Pa^0.5: the fit holds no liquid with stronger hydrogen bonds, such as water.
const HYDROGEN_BONDS: f64 = 26e3;

fn residual(w: &mut Work<'_>) -> Slot {
    let half = RESIDUAL * Z95;
    let spread = Spread {
        value: 0.0,
        low: -half,
        high: half,
        shape: Shape::Normal,
        floor: f64::NEG_INFINITY,
        ceiling: f64::INFINITY,
    };
    let dimension = Property::Chi.dimension(Side::Other);
    w.assumed("Δχ0", "deviation of χ0 from its line", spread, "1", dimension, Basis::Published)
}

/// The published points of χ over polymer fraction at the one temperature nearest to the exposure.
fn chi_points(w: &Work<'_>, adhesive: usize) -> Vec<(f64, FactId)> {
    let (Some(query), Some(x)) = (w.query(adhesive, Property::Chi), w.exposure()) else { return Vec::new() };
    let facts: Vec<(FactId, &Fact)> =
        w.catalogue.pair_rows(query).iter().map(|id| (*id, w.catalogue.fact(*id))).collect();
    let Some(best) = facts.iter().map(|(_, f)| f.basis).min() else { return Vec::new() };
    let at = |f: &Fact| f.temperature.unwrap_or(x.temperature.si());
    let distance = |f: &Fact| libm::fabs(at(f) - x.temperature.si());
    let Some(nearest) = facts
        .iter()
        .filter(|(_, f)| f.basis == best)
        .map(|(_, f)| (distance(f), at(f)))
        .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)))
    else {
        return Vec::new();
    };
    let mut points: Vec<(f64, FactId)> = facts
        .iter()
        .filter(|(_, f)| f.basis == best && at(f).total_cmp(&nearest.1).is_eq())
        .map(|(id, f)| (f.polymer_fraction.unwrap_or(1.0), *id))
        .collect();
    points.sort_by(|a, b| {
        a.0.total_cmp(&b.0).then_with(|| w.catalogue.fact(a.1).written.cmp(&w.catalogue.fact(b.1).written))
    });
    points.dedup_by(|a, b| a.0.total_cmp(&b.0).is_eq());
    points
}

impl Interaction {
    /// χ over the polymer fraction at one draw.
    pub(super) fn at(&self, x: &[f64], t: &mut Trace<'_>) -> Chi {
        match self {
            Interaction::Published { fractions, slots, residual } => {
                if let Some(residual) = residual {
                    let chi1 = slots.last().map_or(f64::NAN, |slot| slot.of(x));
                    t.step("χ1", chi1, "1");
                    return carried(chi1, residual.of(x), t);
                }
                let points: Vec<(f64, f64)> = fractions.iter().zip(slots).map(|(v, slot)| (*v, slot.of(x))).collect();
                Chi::through(&points).unwrap_or(Chi::constant(f64::NAN))
            }
            Interaction::Centres { polymer, liquid, offset, slope, volume, temperature, residual } => {
                let centre = |slots: &[Slot; 3]| Hansen {
                    d: SolubilityParameter::from_si(slots[0].of(x)),
                    p: SolubilityParameter::from_si(slots[1].of(x)),
                    h: SolubilityParameter::from_si(slots[2].of(x)),
                };
                let chi1 = affinity::interaction(
                    centre(polymer),
                    centre(liquid),
                    MolarVolume::from_si(volume.of(x)),
                    Temperature::from_si(temperature.of(x)),
                    slope.of(x),
                    offset.of(x),
                )
                .unwrap_or(f64::NAN);
                t.step("χ1", chi1, "1");
                carried(chi1, residual.of(x), t)
            }
        }
    }
}

fn carried(chi1: f64, deviation: f64, t: &mut Trace<'_>) -> Chi {
    let chi = affinity::carried_down(chi1, deviation);
    t.step("χ0", chi.at(0.0), "1");
    chi
}

/// How much of the equilibrium is reached by the end of the exposure.
pub(super) enum Uptake {
    /// All of it.
    Full,
    /// By diffusion: through one edge of the lap, or through the open face, whichever is faster.
    Paths { reference: Slot, at: Slot, energy: Slot, temperature: Slot, time: Slot, edge: Slot, face: Option<Slot> },
}

/// The share of the equilibrium reached; without a diffusivity all of it, which is the safe side.
pub(super) fn uptake(w: &mut Work<'_>, adhesive: usize) -> Option<Uptake> {
    let query = w.query(adhesive, Property::Diffusivity)?;
    let x = w.exposure()?;
    let known = w.catalogue.find_pair(query, Some(x.temperature.si()));
    let energy_known =
        w.catalogue.find_pair(crate::catalogue::PairQuery { property: Property::ActivationEnergy, ..query }, None);
    let (Some(found), Some(_)) = (known, energy_known) else {
        w.note(|| {
            "no diffusivity of the liquid in the adhesive is known: equilibrium is taken, the safe side".to_owned()
        });
        return Some(Uptake::Full);
    };
    let Some(lap) = w.enquiry.winding.lap() else {
        w.note(|| "no lap is stated: equilibrium is taken, the safe side".to_owned());
        return Some(Uptake::Full);
    };
    let reference_at = found.facts[0].and_then(|id| w.catalogue.fact(id).temperature).unwrap_or(298.15);
    // The activation energy carries the value from where it was taken, so that is no extrapolation.
    let found = crate::catalogue::Found { extrapolated: false, ..found };
    let reference = w.take("D0", Some(found), Side::Adhesive, Property::Diffusivity, Missing::Words(""))?;
    let energy = w.pair("E", adhesive, Side::Adhesive, Property::ActivationEnergy)?;
    let at = w.assumed("T0", "temperature of the diffusivity", Spread::exact(reference_at), "degC", 0, Basis::Measured);
    let (temperature, time) = w.temperature_and_time()?;
    let edge = w.given::<Length>("lap", "winding.overlap", Some(lap))?;
    let face = if w.face_is_open() { Some(w.sheet("ta", Property::AdhesiveThickness)?) } else { None };
    Some(Uptake::Paths { reference, at, energy, temperature, time, edge, face })
}

impl Uptake {
    /// The share at one draw.
    pub(super) fn at(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        let Uptake::Paths { reference, at, energy, temperature, time, edge, face } = self else { return 1.0 };
        let Ok(d) = diffusion::diffusivity(
            Diffusivity::from_si(reference.of(x)),
            Temperature::from_si(at.of(x)),
            MolarEnergy::from_si(energy.of(x)),
            Temperature::from_si(temperature.of(x)),
        ) else {
            return f64::NAN;
        };
        t.step("D", d.si(), "m2/s");
        let through = |length: Slot| {
            diffusion::sheet_uptake(d, Length::from_si(length.of(x)), Time::from_si(time.of(x)), Faces::One)
                .unwrap_or(f64::NAN)
        };
        let by_edge = through(*edge);
        t.step("uptake by the lap edge", by_edge, "1");
        let by_face = face.map_or(0.0, |thickness| {
            let share = through(thickness);
            t.step("uptake by the face", share, "1");
            share
        });
        if by_edge >= by_face { by_edge } else { by_face }
    }
}
