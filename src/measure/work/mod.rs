//! Working out one cell: facts asked for and noted, a closure evaluated over the draws.

mod cell;
mod parts;

use crate::catalogue::{Catalogue, Found, Material, PairQuery, Property, Side, Subject, Tape};
use crate::enquiry::{Enquiry, Exposure};
use crate::evidence::{Basis, Spread};
use crate::models::Card;
use crate::quantity::{Temperature, Time, Typed};
use crate::spread::{self, Asked, Estimate, FINE, Input, Percentiles};

pub use cell::{Answer, Cell, Kin, Missing, Mode, Part, Proves, Step, Trace, Use, Working};
pub(super) use parts::Slot;
pub use parts::{Beside, Shared, Together};

use parts::Noted;

use super::reads::bakes;
use super::{Measure, Own};

/// The working-out of one cell.
pub struct Work<'a> {
    /// The catalogue.
    pub catalogue: &'a Catalogue,
    /// The measure.
    pub measure: &'static Measure,
    /// The tape, by index.
    pub tape_index: usize,
    /// The tape.
    pub tape: &'a Tape,
    /// The enquiry.
    pub enquiry: &'a Enquiry,
    exposure: Option<usize>,
    mode: Mode,
    beside: Beside<'a>,
    points: usize,
    kin: Vec<Kin>,
    inputs: Vec<Input>,
    noted: Noted,
    carried: f64,
    working: Working,
}

impl<'a> Work<'a> {
    /// Works out a cell by itself, with all that hangs on the tape in its number.
    #[must_use]
    pub fn out(
        measure: &'static Measure,
        catalogue: &'a Catalogue,
        tape: usize,
        enquiry: &'a Enquiry,
        exposure: Option<usize>,
        mode: Mode,
    ) -> Cell {
        let apart = if mode.explain { None } else { measure.factor(catalogue, tape) };
        let own: Vec<Own> = apart.iter().map(|scale| scale.own).collect();
        let together = Together::default();
        let beside = Beside::none(&together, &own);
        let cell = Work::cell(measure, catalogue, tape, (enquiry, exposure), mode, beside);
        let answer = cell.answer.times(apart.map_or(1.0, |scale| scale.by));
        Cell { answer, ..cell }
    }

    /// Works out a cell that tapes share, beside others with which it shares columns: the measure's factor,
    /// where the tape has one, is not in its number unless the working is shown.
    #[must_use]
    pub fn cell(
        measure: &'static Measure,
        catalogue: &'a Catalogue,
        tape: usize,
        (enquiry, exposure): (&'a Enquiry, Option<usize>),
        mode: Mode,
        beside: Beside<'a>,
    ) -> Cell {
        let mut work = Work {
            catalogue,
            measure,
            tape_index: tape,
            tape: &catalogue.tapes[tape],
            enquiry,
            exposure,
            mode,
            beside,
            points: FINE,
            kin: Vec::new(),
            inputs: Vec::new(),
            noted: Noted::NOTHING,
            carried: 0.0,
            working: Working::default(),
        };
        let answer = (measure.work)(&mut work);
        work.noted.missing.sort();
        work.noted.missing.dedup();
        Cell {
            answer: work.settled(answer),
            points: work.points,
            kin: work.kin,
            method: work.noted.method,
            carried: work.carried,
            basis: work.noted.basis,
            extrapolated: work.noted.extrapolated,
            milder: work.noted.milder,
            proves: work.noted.proves,
            missing: work.noted.missing,
            working: mode.explain.then(|| Box::new(work.working)),
        }
    }

    /// A number that is none is unknown, and says so.
    fn settled(&mut self, answer: Answer) -> Answer {
        match answer {
            Answer::Number(p) if p.x05.is_nan() || p.x50.is_nan() || p.x95.is_nan() => {
                self.noted.missing.push(Missing::OUTSIDE);
                Answer::Unknown
            }
            Answer::Unknown if self.noted.missing.is_empty() => {
                self.noted.missing.push(Missing::Words("method for this case"));
                Answer::Unknown
            }
            other => other,
        }
    }

    /// True where the measure tells tapes apart within the cell.
    #[must_use]
    pub fn is_apart(&self) -> bool {
        !self.beside.own.is_empty()
    }

    /// The exposure; cells per enquiry have none.
    #[must_use]
    pub fn exposure(&self) -> Option<&'a Exposure> {
        self.exposure.map(|index| &self.enquiry.exposures[index])
    }

    /// The medium of the exposure.
    #[must_use]
    pub fn medium(&self) -> Option<&'a Material> {
        self.exposure().map(|x| &self.catalogue.materials[x.medium])
    }

    /// The adhesive as it is at this exposure: cured if an earlier bake was hot and long enough.
    #[must_use]
    pub fn adhesive(&self) -> usize {
        let as_applied = self.tape.adhesive;
        if self.is_set(self.exposure) {
            self.catalogue.materials[as_applied].cures_to.unwrap_or(as_applied)
        } else {
            as_applied
        }
    }

    /// True if the adhesive is not what its sheet and its tests are about: one that has yet to set.
    #[must_use]
    pub fn is_unset(&self) -> bool {
        self.tape.thermosetting && !self.is_set(self.exposure)
    }

    /// The same once the exposure is over, which may itself be the bake that sets the adhesive.
    #[must_use]
    pub fn stays_unset(&self) -> bool {
        self.tape.thermosetting && !self.is_set(self.exposure.map(|index| index + 1))
    }

    /// True if some bake before an exposure sets the adhesive.
    fn is_set(&self, before: Option<usize>) -> bool {
        if !self.tape.thermosetting {
            return false;
        }
        let sheet = |property| self.catalogue.sheet(self.tape_index, property).map(|found| found.spread.value);
        let (Some(temperature), Some(time)) = (sheet(Property::CureTemperature), sheet(Property::CureTime)) else {
            return false;
        };
        bakes(self.enquiry, before)
            .any(|bake| bake.temperature.si() >= temperature - 1e-9 && bake.duration.si() >= time * (1.0 - 1e-9))
    }

    /// True if liquid can pass through the face of the backing; unknown counts as open.
    pub fn face_is_open(&mut self) -> bool {
        let open = self.catalogue.is_open(self.tape_index);
        self.note(|| match open {
            None => "no porosity is known of the backing, so its face counts as open".to_owned(),
            Some(true) => "the backing is porous, so the liquid reaches the adhesive through its face".to_owned(),
            Some(false) => "the backing is dense: its face counts as closed to liquids (common practice)".to_owned(),
        });
        open.unwrap_or(true)
    }

    /// A fact of a material of the tape, the tape's own row first; a row about an adhesive that
    /// sets is about its set state.
    pub fn material(
        &mut self,
        symbol: &'static str,
        material: usize,
        side: Side,
        property: Property,
        at: Option<Temperature>,
    ) -> Option<Slot> {
        let at = at.map(Temperature::si);
        let found = if side == Side::Adhesive && self.is_unset() {
            self.catalogue.find(Subject::Material(material), property, at)
        } else {
            self.catalogue.find_on(self.tape_index, material, property, at)
        };
        self.take(symbol, found, side, property, Missing::Fact(Subject::Material(material), property))
    }

    /// A fact of the medium.
    pub fn of_medium(&mut self, symbol: &'static str, property: Property, at: Option<Temperature>) -> Option<Slot> {
        let medium = self.exposure()?.medium;
        let found = self.catalogue.find(Subject::Material(medium), property, at.map(Temperature::si));
        self.take(symbol, found, Side::Other, property, Missing::Fact(Subject::Material(medium), property))
    }

    /// A number of the tape's sheet.
    pub fn sheet(&mut self, symbol: &'static str, property: Property) -> Option<Slot> {
        let found = self.catalogue.sheet(self.tape_index, property);
        self.take(symbol, found, Side::Other, property, Missing::Sheet(property))
    }

    /// The value of a pair of the tape's material and the medium, at the exposure's temperature.
    pub fn pair(&mut self, symbol: &'static str, material: usize, side: Side, property: Property) -> Option<Slot> {
        let query = self.query(material, side, property)?;
        let found = self.catalogue.find_pair(query, self.exposure().map(|x| x.temperature.si()));
        self.take(symbol, found, side, property, Missing::Pair(material, query.medium, property))
    }

    /// What is asked of the pairs of a material of the tape and the medium of the exposure: the
    /// tape's own rows first, unless they are about an adhesive that has yet to set.
    #[must_use]
    pub fn query(&self, material: usize, side: Side, property: Property) -> Option<PairQuery> {
        Some(self.query_in(self.exposure()?.medium, material, side, property))
    }

    /// The same of a medium other than that of the exposure.
    #[must_use]
    pub fn query_in(&self, medium: usize, material: usize, side: Side, property: Property) -> PairQuery {
        let own = side != Side::Adhesive || !self.is_unset();
        PairQuery { tape: own.then_some(self.tape_index), material, medium, property }
    }

    /// Gathers something that a measure can do without: if it comes to nothing, it leaves no trace.
    pub fn attempt<T>(&mut self, gather: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        let before = (self.noted.basis, self.noted.extrapolated);
        let lengths = (self.inputs.len(), self.noted.missing.len());
        let noted = (self.working.uses.len(), self.working.notes.len());
        let gathered = gather(self);
        if gathered.is_none() {
            (self.noted.basis, self.noted.extrapolated) = before;
            self.inputs.truncate(lengths.0);
            self.noted.missing.truncate(lengths.1);
            self.working.uses.truncate(noted.0);
            self.working.notes.truncate(noted.1);
        }
        gathered
    }

    /// Takes a number that was found, or notes what is missing.
    pub fn take(
        &mut self,
        symbol: &'static str,
        found: Option<Found>,
        side: Side,
        property: Property,
        missing: Missing,
    ) -> Option<Slot> {
        let Some(found) = found else {
            self.noted.missing.push(missing);
            return None;
        };
        self.noted.basis = self.noted.basis.max(found.basis);
        self.noted.extrapolated |= found.extrapolated;
        if self.mode.explain {
            let fact = found.facts[0].map(|id| self.catalogue.fact(id));
            let subject = fact.map(|f| self.catalogue.subject_id(f.subject).to_owned()).unwrap_or_default();
            let medium = fact.and_then(|f| f.medium).map(|m| format!(" in {}", self.catalogue.materials[m].id));
            self.working.uses.push(Use {
                symbol,
                name: format!("{} of {subject}{}", property.name(), medium.unwrap_or_default()),
                spread: found.spread,
                unit: property.spec().kind.unit_for(found.spread.value),
                facts: found.facts,
                basis: Some(found.basis),
                place: fact.map(|f| f.place.clone()),
                extrapolated: found.extrapolated,
            });
        }
        Some(self.input(found.spread, property.dimension(side)))
    }

    /// A number of the enquiry, which has no spread.
    pub fn given<Q: Typed>(&mut self, symbol: &'static str, key: &'static str, value: Option<Q>) -> Option<Slot> {
        let Some(value) = value else {
            self.noted.missing.push(Missing::Given(key));
            return None;
        };
        let spread = Spread::exact(value.si());
        if self.mode.explain {
            let place = match self.exposure() {
                Some(x) if !key.contains('.') => self.enquiry.place(&format!("exposure {}.{key}", x.name)),
                _ => self.enquiry.place(key),
            };
            self.working.uses.push(Use {
                symbol,
                name: key.to_owned(),
                spread,
                unit: Q::KIND.unit_for(value.si()),
                facts: [None, None],
                basis: None,
                place: Some(place),
                extrapolated: false,
            });
        }
        Some(self.input(spread, 0))
    }

    /// A number assumed by the method, with its spread and its reason.
    pub fn assumed(
        &mut self,
        symbol: &'static str,
        name: &'static str,
        spread: Spread,
        unit: &'static str,
        dimension: u32,
        basis: Basis,
    ) -> Slot {
        self.noted.basis = self.noted.basis.max(basis);
        if self.mode.explain {
            self.working.uses.push(Use {
                symbol,
                name: name.to_owned(),
                spread,
                unit,
                facts: [None, None],
                basis: Some(basis),
                place: None,
                extrapolated: false,
            });
        }
        self.input(spread, dimension)
    }

    fn input(&mut self, spread: Spread, dimension: u32) -> Slot {
        self.inputs.push(Input::new(spread, dimension));
        Slot(self.inputs.len() - 1)
    }

    /// The exposure's temperature and duration.
    pub fn temperature_and_time(&mut self) -> Option<(Slot, Slot)> {
        let x = self.exposure()?;
        let t = self.given::<Temperature>("T", "temperature", Some(x.temperature))?;
        let time = self.given::<Time>("t", "duration", Some(x.duration))?;
        Some((t, time))
    }

    /// Notes a missing fact.
    pub fn lacks(&mut self, missing: Missing) {
        self.noted.missing.push(missing);
    }

    /// Notes that an input or the method is used beyond where it was taken.
    pub fn extrapolate(&mut self, why: impl FnOnce() -> String) {
        self.noted.extrapolated = true;
        self.note(why);
    }

    /// Notes that the evidence is milder than the exposure.
    pub fn milder(&mut self) {
        self.noted.milder = true;
    }

    /// Notes that this method alone may not rule a tape out.
    pub fn never_unsuitable(&mut self) {
        self.noted.proves = Proves::NeverOut;
    }

    /// Notes that the number only bounds the truth on its better side.
    pub fn one_sided(&mut self) {
        self.noted.proves = Proves::NeverIn;
    }

    /// Notes that the number only bounds the truth on its worse side: a test that ended too early to say more.
    pub fn at_least(&mut self) {
        self.noted.proves = Proves::AtLeast;
    }

    /// Notes a standing that the method itself has.
    pub fn stands_on(&mut self, basis: Basis) {
        self.noted.basis = self.noted.basis.max(basis);
    }

    /// The central value of an input.
    #[must_use]
    pub(super) fn median(&self, slot: Slot) -> f64 {
        self.inputs[slot.0].spread.value
    }

    /// Keeps the central value of an input for the measure's last step.
    pub fn carry(&mut self, slot: Slot) {
        self.carried = self.median(slot);
    }

    /// Names the method.
    pub fn method(&mut self, method: &'static str) {
        self.noted.method = method;
    }

    /// Keeps a sentence for the working.
    pub fn note(&mut self, sentence: impl FnOnce() -> String) {
        if self.mode.explain {
            self.working.notes.push(sentence());
        }
    }

    /// The percentiles of an intermediate number on which a method turns.
    #[must_use]
    pub fn peek(&self, model: impl Fn(&[f64]) -> f64) -> Percentiles {
        spread::estimate(&self.inputs, (self.mode.points, Asked::All), false, model).at
    }

    /// Evaluates the closure over the inputs; where the working is shown, at the central values only, since the
    /// percentiles are those of the finding that is explained.
    pub fn estimate(
        &mut self,
        cards: &[&'static Card],
        monotone: bool,
        model: impl Fn(&[f64], &mut Trace<'_>) -> f64,
    ) -> Answer {
        let plain = |x: &[f64]| model(x, &mut Trace(None));
        if self.mode.explain {
            self.working.cards.extend_from_slice(cards);
            let central: Vec<f64> = self.inputs.iter().map(|input| input.spread.value).collect();
            let result = model(&central, &mut Trace(Some(&mut self.working.steps)));
            self.working.central = Some(result);
            self.working.influence = spread::influence(&self.inputs, plain);
            return Answer::Number(Percentiles::exact(result));
        }
        let found = spread::estimate(&self.inputs, self.points(), monotone, plain);
        self.number(found)
    }

    /// Evaluates a closed form for each kind of tapes that share the cell: the number, and which verdicts it may
    /// carry, from their own numbers.
    pub fn each_kin(&mut self, model: impl Fn(Own) -> (f64, Proves)) -> Answer {
        let found = |x| Estimate { at: Percentiles::exact(x), points: FINE };
        let kin = self.beside.own.iter().map(|own| match own {
            [first, _] if first.is_nan() => Kin { found: found(f64::NAN), proves: Proves::Both },
            own => {
                let (x, proves) = model(*own);
                Kin { found: found(x), proves }
            }
        });
        self.kin = kin.collect();
        self.wanted()
    }

    /// Evaluates the product of some parts, and of another to the share that each kind of tapes has of it.
    pub fn product(&mut self, cards: &[&'static Card], parts: &[Shared], leans_on: Option<&Shared>) -> Answer {
        let column = |part: &Shared| part.slot().map(|slot| self.inputs[slot.0].clone());
        let columns: Option<Vec<Input>> = parts.iter().map(column).collect();
        match (columns, leans_on.and_then(column)) {
            (Some(columns), Some(by)) => {
                let leans: Vec<f64> = self.beside.own.iter().map(|[lean, _]| *lean).collect();
                let found = spread::products(&columns, (&by, &leans), self.points());
                self.kin = found.into_iter().map(|found| Kin { found, proves: self.noted.proves }).collect();
                self.wanted()
            }
            (Some(columns), None) => {
                let found = spread::product(&columns, self.points());
                self.number(found)
            }
            (None, _) => self.estimate(cards, false, |x, t| parts.iter().map(|part| part.of(x, t)).product()),
        }
    }

    /// The answer of the first kind of tapes that needs one.
    fn wanted(&mut self) -> Answer {
        let wanted = self.beside.own.iter().position(|[own, _]| !own.is_nan()).unwrap_or(0);
        self.kin.get(wanted).copied().map_or(Answer::Unknown, |kin| self.number(kin.found))
    }

    fn points(&self) -> (usize, Asked) {
        (self.mode.points, self.beside.asked)
    }

    fn number(&mut self, found: Estimate) -> Answer {
        self.points = found.points;
        Answer::Number(found.at)
    }
}
