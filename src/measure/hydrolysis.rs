//! What water does to a polyester-like backing over the years.

use crate::catalogue::{Property, Side, Subject};
use crate::evidence::{Basis, Shape, Spread};
use crate::models::hydrolysis::{self, Branches, LIFETIME, RATE, RATE_TEMPERATURE, SCISSION};
use crate::models::water::{self, ACTIVITY, SOLUBILITY};
use crate::quantity::{
    Content, Fraction, Molality, MolarEnergy, MolarMass, SecondOrderRate, Temperature, TemperatureDifference,
};

use super::tested::{Clock, Heard, Trial};
use super::work::Slot;
use super::{Answer, CaseRead, Measure, Missing, TapeRead, Work};

/// Life against hydrolysis over the duration of the exposure.
pub(super) static HYDROLYSIS_LIFE: Measure = Measure {
    id: "hydrolysis-life",
    asked: "time until water has cut the backing's chains to their critical length, over the duration of the exposure",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Backing],
    case: &[CaseRead::Exposure],
    demand: None,
    parts: &[],
    factor: None,
    best: None,
    work: hydrolysis_life,
};

/// kg/mol.
const WATER: f64 = 0.018_015_28;

/// How much lower the glass transition of a wet film lies (10 to 15 K, from memory).
const WET: Spread =
    Spread { value: 12.0, low: 10.0, high: 15.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };

fn hydrolysis_life(w: &mut Work<'_>) -> Answer {
    let backing = w.tape.backing;
    if let Some(answer) = tested(w, backing) {
        return answer;
    }
    w.method("second-order chain scission to the critical molar mass");
    let fact = |w: &mut Work<'_>, symbol, property| w.material(symbol, backing, Side::Backing, property, None);
    let rate = fact(w, "k0", Property::HydrolysisRate);
    let above = fact(w, "E above Tg", Property::HydrolysisEnergy);
    let below = fact(w, "E below Tg", Property::HydrolysisEnergyBelow);
    let transition = fact(w, "Tg dry", Property::GlassTransition);
    let ester = fact(w, "[E]", Property::EsterConcentration);
    let chain = fact(w, "Mn", Property::NumberAverageMolarMass);
    let critical = fact(w, "Mcrit", Property::CriticalMolarMass);
    let moisture = fact(w, "w100", Property::MoistureAbsorption);
    let wet = w.assumed(
        "ΔTg",
        "fall of the glass transition when wet",
        WET,
        "K",
        Property::GlassTransition.dimension(Side::Other),
        Basis::FromMemory,
    );
    let reference = w
        .catalogue
        .find(Subject::Material(backing), Property::HydrolysisRate, None)
        .and_then(|found| found.facts[0])
        .and_then(|id| w.catalogue.fact(id).temperature);
    if rate.is_some() && reference.is_none() {
        w.lacks(Missing::Words("temperature of the hydrolysis rate"));
    }
    let activity = water_activity(w);
    let times = w.temperature_and_time();
    let (Some(rate), Some(above), Some(below), Some(transition), Some(ester)) = (rate, above, below, transition, ester)
    else {
        return Answer::Unknown;
    };
    let (Some(chain), Some(critical), Some(moisture), Some(activity), Some((temperature, time)), Some(reference)) =
        (chain, critical, moisture, activity, times, reference)
    else {
        return Answer::Unknown;
    };
    let dry = w.catalogue.find(Subject::Material(backing), Property::GlassTransition, None);
    let at = w.exposure().map_or(reference, |x| x.temperature.si());
    if dry.is_none_or(|dry| at < dry.spread.value - WET.value) {
        w.never_unsuitable();
        w.note(|| {
            "below the wet glass transition the energy is an estimate: 75 to 134 kJ/mol is carried, not the 31 of one \
             study, which the practice of decades contradicts; the model alone rules nothing out, and a damp-heat test \
             that stays below it settles it"
                .to_owned()
        });
    }
    if let Some(note) = RATE_TEMPERATURE.check(at) {
        w.extrapolate(|| note);
    }
    w.estimate(&[&RATE, &SCISSION, &LIFETIME, &SOLUBILITY, &ACTIVITY], false, |x, t| {
        let branches = Branches {
            above: MolarEnergy::from_si(above.of(x)),
            below: MolarEnergy::from_si(below.of(x)),
            glass_transition: Temperature::from_si(transition.of(x) - wet.of(x)),
        };
        let k = hydrolysis::rate_at(
            SecondOrderRate::from_si(rate.of(x)),
            Temperature::from_si(reference),
            branches,
            Temperature::from_si(temperature.of(x)),
        );
        let share = activity.at(x);
        let content = Molality::from_si(moisture.of(x) * share / WATER);
        let life = k.and_then(|k| {
            t.step("k", k.si(), "kg/mol/s");
            t.step("[W]", content.si(), "mol/kg");
            let rate = hydrolysis::scission_rate(k, Molality::from_si(ester.of(x)), content)?;
            t.step("scission rate", rate.si(), "mol/kg/s");
            hydrolysis::lifetime(rate, MolarMass::from_si(chain.of(x)), Some(MolarMass::from_si(critical.of(x))))
        });
        let life = life.map_or(f64::NAN, crate::quantity::Time::si);
        t.step("life", life, "s");
        life / time.of(x)
    })
}

/// The share of its strength at which a backing counts as at its end (common practice).
const END: f64 = 0.5;

/// A strength test as hot, as long and as damp shows that the chains outlive it, or how far short they fall.
fn tested(w: &mut Work<'_>, backing: usize) -> Option<Answer> {
    let modelled = w.catalogue.find(Subject::Material(backing), Property::HydrolysisRate, None).is_some();
    let trial = Trial {
        symbol: "kept",
        material: backing,
        side: Side::Backing,
        property: Property::TensileKept,
        clock: Clock::Time,
    };
    let Heard::Settled(kept, id) = w.hear(trial, modelled) else { return None };
    let (test, exposure) = (w.catalogue.fact(id).duration?, w.exposure()?.duration.si());
    w.method("strength test of the pair: life at least its length while half the strength is kept");
    if w.catalogue.fact(id).spread.low >= END {
        w.note(|| "the test ended with half the strength and more: the life is no shorter than the test".to_owned());
        w.at_least();
    }
    Some(w.estimate(&[], true, |x, t| {
        let share = (END / (1.0 - kept.of(x)).max(END)).min(1.0);
        t.step("length of the test", test, "s");
        test / exposure * share
    }))
}

/// The activity of water where the tape is.
pub(super) enum Water {
    /// The relative humidity.
    Humidity(Slot),
    /// The content of a liquid over its solubility.
    Dissolved { content: Slot, a: Slot, b: Slot, temperature: Slot },
}

/// The activity of water in the medium of the exposure.
pub(super) fn water_activity(w: &mut Work<'_>) -> Option<Water> {
    let x = w.exposure()?;
    if w.medium().is_some_and(|m| m.kind == "gas") {
        return w.given::<Fraction>("RH", "humidity", x.humidity.map(Fraction::from_si)).map(Water::Humidity);
    }
    let content = w.given::<Content>("water", "water_content", x.water_content);
    let a = w.of_medium("A", Property::SolubilityA, None);
    let b = w.of_medium("B", Property::SolubilityB, None);
    let temperature = w.given::<Temperature>("T", "temperature", Some(x.temperature))?;
    Some(Water::Dissolved { content: content?, a: a?, b: b?, temperature })
}

impl Water {
    /// The activity at one draw.
    pub(super) fn at(&self, x: &[f64]) -> f64 {
        match self {
            Water::Humidity(share) => share.of(x),
            Water::Dissolved { content, a, b, temperature } => water::solubility(
                a.of(x),
                TemperatureDifference::from_si(b.of(x)),
                Temperature::from_si(temperature.of(x)),
            )
            .and_then(|solubility| water::activity(Content::from_si(content.of(x)), solubility))
            .unwrap_or(f64::NAN)
            .min(1.0),
        }
    }
}
