//! Affinity of a material and the medium as the data know it: published χ first, else effective centres.

use crate::catalogue::{Fact, Found, PairQuery, Property, Side, Subject};
use crate::evidence::{Basis, FactId, Shape, Spread, Z95};
use crate::models::affinity::{self, AFFINITY_TEMPERATURE, Chi, Hansen, VOLUME_RANGE};
use crate::quantity::{MolarVolume, SolubilityParameter, Temperature};

use super::work::{Slot, Trace};
use super::{Missing, Work};

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
    if let Some(query) = w.query(adhesive, Side::Adhesive, Property::Chi)
        && let Some(published) = published(w, query, Side::Adhesive)
    {
        return Some(published);
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
    if let Some(found) = of.find(Subject::Material(medium), Property::MolarVolume, None)
        && let Some(note) = VOLUME_RANGE.check(found.spread.value)
    {
        w.extrapolate(|| note);
    }
    if let Some(note) = AFFINITY_TEMPERATURE.check(x.temperature.si()) {
        w.extrapolate(|| note);
    }
    let all = |slots: [Option<Slot>; 3]| Some([slots[0]?, slots[1]?, slots[2]?]);
    let (polymer, liquid) = (all(polymer)?, all(liquid)?);
    let hydrogen = of.find(Subject::Material(medium), Property::HansenH, None)?;
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

/// χ of a pair as published, if it is.
pub(super) fn published(w: &mut Work<'_>, query: PairQuery, side: Side) -> Option<Interaction> {
    let points = chi_points(w, query);
    if points.is_empty() {
        return None;
    }
    let fractions: Vec<f64> = points.iter().map(|(v, _)| *v).collect();
    let slots: Vec<Slot> = points
        .into_iter()
        .filter_map(|(_, id)| {
            let fact = w.catalogue.fact(id);
            let found = Found { spread: fact.spread, basis: fact.basis, extrapolated: false, facts: [Some(id), None] };
            w.take("χ", Some(found), side, Property::Chi, Missing::Words(""))
        })
        .collect();
    let residual = fractions.iter().all(|v| *v >= DILUTE).then(|| residual(w));
    Some(Interaction::Published { fractions, slots, residual })
}

/// The published points of χ over polymer fraction at the one temperature nearest to the exposure.
fn chi_points(w: &Work<'_>, query: PairQuery) -> Vec<(f64, FactId)> {
    let Some(x) = w.exposure() else { return Vec::new() };
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
    /// The inputs that χ hangs on, and the polymer fractions it is known at.
    pub(super) fn hangs_on(&self) -> (Vec<Slot>, &[f64]) {
        match self {
            Interaction::Published { fractions, slots, residual } => {
                (slots.iter().copied().chain(*residual).collect(), fractions)
            }
            Interaction::Centres { polymer, liquid, offset, slope, volume, temperature, residual } => {
                let others = [*offset, *slope, *volume, *temperature, *residual];
                (polymer.iter().chain(liquid).copied().chain(others).collect(), &[])
            }
        }
    }

    /// False of published values, which stand for all temperatures about theirs.
    pub(super) const fn hangs_on_the_temperature(&self) -> bool {
        matches!(self, Interaction::Centres { .. })
    }

    /// χ over the polymer fraction at one draw.
    pub(super) fn at(&self, x: &[f64], t: &mut Trace<'_>) -> Chi {
        match self {
            Interaction::Published { fractions, slots, residual } => {
                if let Some(residual) = residual {
                    let chi1 = slots.last().map_or(f64::NAN, |slot| slot.of(x));
                    t.step("χ1", chi1, "1");
                    return carried(chi1, residual.of(x), t);
                }
                if let [only] = slots[..] {
                    return Chi::constant(only.of(x));
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
