//! Tests against models: which evidence speaks for a cell, said once for every measure.
//!
//! A measured or published pair at the same or a harsher condition replaces the model. A milder one
//! bounds it: where lower is better, the result is no lower than that of the milder test. Without a
//! model a milder test can rule a tape out, never in. Estimated and recalled pairs serve only where
//! there is no model.

use crate::catalogue::{Fact, Found, PairQuery, Property, Side, Subject};
use crate::enquiry::Exposure;
use crate::evidence::FactId;
use crate::models::diffusion::{Faces, diffusivity, sheet_uptake};
use crate::quantity::{Diffusivity, Length, MolarEnergy, TEMPERATURE, TIME, Temperature, Time, tidy};

use super::work::Slot;
use super::{Answer, Missing, Work};

/// Which way a tested property is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Better {
    /// Less.
    Lower,
    /// More.
    Higher,
}

impl Better {
    /// The worse of a result and, where there is one, the result of a milder test.
    pub(super) fn worse(self, result: f64, milder: Option<f64>) -> f64 {
        match (milder, self) {
            (None, _) => result,
            (Some(bound), Better::Lower) => libm::fmax(result, bound),
            (Some(bound), Better::Higher) => libm::fmin(result, bound),
        }
    }
}

/// How the length of a test counts against that of the exposure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Clock {
    /// It must be as long.
    Time,
    /// It must be as long, or long enough for the liquid to come to rest in the adhesive.
    AdhesiveAtRest,
    /// It must be as long, or long enough for water to come to rest in the backing.
    BackingAtRest,
    /// It has none.
    None,
}

/// The share of its final uptake at which a layer counts as at rest.
const AT_REST: f64 = 0.95;

/// What is asked of the tests of a pair.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trial {
    /// The symbol of its result in the working.
    pub(super) symbol: &'static str,
    /// The material of the tape.
    pub(super) material: usize,
    /// Its side.
    pub(super) side: Side,
    /// What was tested.
    pub(super) property: Property,
    /// How its length counts.
    pub(super) clock: Clock,
}

/// What the tests say.
pub(super) enum Heard {
    /// This is the result, from this fact.
    Settled(Slot, FactId),
    /// The result is no better than this.
    NoBetter(Slot),
    /// Nothing that counts.
    Nothing,
}

impl Heard {
    /// The bound that a milder test sets.
    pub(super) fn bound(&self) -> Option<Slot> {
        match self {
            Heard::NoBetter(slot) => Some(*slot),
            _ => None,
        }
    }
}

/// The conditions of a test, in words.
fn taken_at(fact: &Fact) -> String {
    let parts = [
        fact.duration.map(|time| TIME.sized(time)),
        fact.temperature.map(|temperature| TEMPERATURE.sized(temperature)),
        fact.humidity.map(|humidity| format!("{} % humidity", tidy(humidity * 100.0, 3))),
    ];
    let told: Vec<String> = parts.into_iter().flatten().collect();
    if told.is_empty() { "test at no stated condition".to_owned() } else { format!("test of {}", told.join(", ")) }
}

/// How far a test counts, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Standing {
    Harsher,
    Milder,
    Weak,
    WeakAndMilder,
}

impl Work<'_> {
    /// Hears the tests of a pair; with a model beside them, estimated and recalled ones only in the notes.
    pub(super) fn hear(&mut self, trial: Trial, has_model: bool) -> Heard {
        self.exposure().map_or(Heard::Nothing, |x| self.hear_in(x, trial, has_model))
    }

    /// The same in an exposure other than that of the cell.
    pub(super) fn hear_in(&mut self, x: &Exposure, trial: Trial, has_model: bool) -> Heard {
        let Some((standing, id)) = self.best_test(x, trial) else { return Heard::Nothing };
        let fact = self.catalogue.fact(id);
        let found = Found { spread: fact.spread, basis: fact.basis, extrapolated: false, facts: [Some(id), None] };
        let told = |sentence: &'static str| {
            move || format!("{} ({}): {sentence}", trial.property.name().replace('_', " "), taken_at(fact))
        };
        if standing >= Standing::Weak && has_model {
            self.note(told("an estimated or recalled pair is known; the model stands before it"));
            return Heard::Nothing;
        }
        let Some(slot) = self.take(trial.symbol, Some(found), trial.side, trial.property, Missing::Words("")) else {
            return Heard::Nothing;
        };
        match standing {
            Standing::Harsher => {
                self.note(told("tested at the same or a harsher condition, which replaces any model"));
                Heard::Settled(slot, id)
            }
            Standing::Milder => {
                self.note(told("tested at a milder condition: the result here is no better than that"));
                Heard::NoBetter(slot)
            }
            Standing::Weak => {
                self.note(told("estimated or recalled, and no model: weak evidence"));
                Heard::Settled(slot, id)
            }
            Standing::WeakAndMilder => {
                self.note(told("estimated or recalled at a milder condition, and no model: it only bounds"));
                Heard::NoBetter(slot)
            }
        }
    }

    /// The answer where there is no model: the test's own, a bound, or unknown.
    pub(super) fn only_tested(&mut self, trial: Trial) -> Answer {
        match self.hear(trial, false) {
            Heard::Settled(slot, _) => {
                self.method("test of the pair");
                self.estimate(&[], true, |x, _| slot.of(x))
            }
            Heard::NoBetter(slot) => {
                self.method("milder test of the pair, which only bounds");
                self.bounds_only();
                self.estimate(&[], true, |x, _| slot.of(x))
            }
            Heard::Nothing => {
                self.method("test of the pair: none known");
                if let Some(medium) = self.exposure().map(|x| x.medium) {
                    self.lacks(Missing::Pair(trial.material, medium, trial.property));
                }
                Answer::Unknown
            }
        }
    }

    /// Notes that only a milder test is known.
    pub(super) fn bounds_only(&mut self) {
        self.one_sided();
        self.lacks(Missing::Words("test at the temperature and for the time of the exposure"));
    }

    /// The test that counts most: by standing, then nearest in severity, then by text.
    fn best_test(&self, x: &Exposure, trial: Trial) -> Option<(Standing, FactId)> {
        let query = self.query_in(x.medium, trial.material, trial.side, trial.property);
        let rows = self.catalogue.pair_rows(query).iter().map(|id| (*id, self.catalogue.fact(*id)));
        rows.map(|(id, fact)| {
            let standing = match (fact.basis.is_weak(), self.as_harsh(fact, x, trial)) {
                (true, true) => Standing::Weak,
                (true, false) => Standing::WeakAndMilder,
                (false, true) => Standing::Harsher,
                (false, false) => Standing::Milder,
            };
            (standing, distance(fact, x), fact.written.as_str(), id)
        })
        .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(b.2)))
        .map(|(standing, .., id)| (standing, id))
    }

    /// True if a test was at least as hot, as long and as damp as the exposure.
    fn as_harsh(&self, fact: &Fact, x: &Exposure, trial: Trial) -> bool {
        let at_least = |have: Option<f64>, need: f64| have.is_some_and(|have| have >= need * (1.0 - 1e-9));
        let hot = at_least(fact.temperature, x.temperature.si());
        let long = at_least(fact.duration, x.duration.si());
        let damp = x.humidity.is_none_or(|humidity| at_least(fact.humidity, humidity));
        match trial.clock {
            Clock::None => true,
            Clock::Time => hot && long && damp,
            Clock::AdhesiveAtRest => hot && damp && (long || self.adhesive_at_rest(fact)),
            Clock::BackingAtRest => hot && damp && (long || self.backing_at_rest(fact)),
        }
    }

    fn adhesive_at_rest(&self, fact: &Fact) -> bool {
        let adhesive = self.adhesive();
        let pair = |property| {
            let query = PairQuery { tape: Some(self.tape_index), material: adhesive, medium: fact.medium?, property };
            self.catalogue.find_pair(query, None)
        };
        self.at_rest(fact, Property::AdhesiveThickness, Faces::One, pair)
    }

    fn backing_at_rest(&self, fact: &Fact) -> bool {
        let backing = |property| self.catalogue.find(Subject::Material(self.tape.backing), property, None);
        self.at_rest(fact, Property::BackingThickness, Faces::Two, backing)
    }

    /// True if a layer of the tape was nearly full by the end of a test.
    fn at_rest(
        &self,
        fact: &Fact,
        thickness: Property,
        faces: Faces,
        find: impl Fn(Property) -> Option<Found>,
    ) -> bool {
        let known = || {
            let thickness = Length::from_si(self.catalogue.sheet(self.tape_index, thickness)?.spread.value);
            let slowest = find(Property::Diffusivity)?;
            let at = slowest.facts[0].and_then(|id| self.catalogue.fact(id).temperature)?;
            let energy = find(Property::ActivationEnergy)?;
            let d = diffusivity(
                Diffusivity::from_si(slowest.spread.low),
                Temperature::from_si(at),
                MolarEnergy::from_si(energy.spread.value),
                Temperature::from_si(fact.temperature?),
            );
            sheet_uptake(d.ok()?, thickness, Time::from_si(fact.duration?), faces).ok()
        };
        known().is_some_and(|uptake| uptake >= AT_REST)
    }
}

/// How far a test lies from the exposure, in doublings of severity taken as 10 K each (common practice).
fn distance(fact: &Fact, x: &Exposure) -> f64 {
    let heat = fact.temperature.map_or(0.0, |t| libm::fabs(t - x.temperature.si()) / 10.0);
    let time = fact.duration.map_or(0.0, |t| libm::fabs(libm::log2(t / x.duration.si())));
    heat + time
}
