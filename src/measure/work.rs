//! Working out one cell: facts asked for and noted, a closure evaluated over the draws.

use std::cell::RefCell;
use std::collections::HashMap;

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::{Catalogue, Found, Material, PairQuery, Property, Side, Subject, Tape};
use crate::enquiry::{Enquiry, Exposure};
use crate::evidence::{Basis, FactId, Place, Spread};
use crate::models::Card;
use crate::quantity::{Temperature, Time, Typed};
use crate::spread::{self, Columns, Estimate, FINE, Input, Percentiles};

use super::Measure;
use super::reads::bakes;

/// How a cell is worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mode {
    /// Points of the table of draws.
    pub points: usize,
    /// True to keep the working.
    pub explain: bool,
}

/// Something that a cell would need and nobody has stated.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Missing {
    /// A property of a material.
    Fact(Subject, Property),
    /// A number of the tape's sheet; which tape is known where it is told.
    Sheet(Property),
    /// A property of a material in a medium.
    Pair(usize, usize, Property),
    /// A key of the enquiry.
    Given(&'static str),
    /// Anything else, in words.
    Words(&'static str),
}

impl Missing {
    /// The inputs lie outside where the method holds.
    pub const OUTSIDE: Missing = Missing::Words("result: the inputs lie outside where the method holds");

    /// In words, with the names of the data.
    #[must_use]
    pub fn text(&self, catalogue: &Catalogue) -> String {
        let id = |index: &usize| catalogue.materials[*index].id.as_str();
        match self {
            Missing::Fact(subject, property) => format!("{} of {}", property.name(), catalogue.subject_id(*subject)),
            Missing::Sheet(property) => format!("{} of the tape", property.name()),
            Missing::Pair(material, medium, property) => {
                format!("{} of {} in {}", property.name(), id(material), id(medium))
            }
            Missing::Given(key) => format!("{key} in the enquiry"),
            Missing::Words(words) => (*words).to_owned(),
        }
    }
}

/// What a cell came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Answer {
    /// A number, in the measure's unit.
    Number(Percentiles),
    /// It is so.
    Yes,
    /// It is not so.
    No,
    /// It cannot be said: a fact is missing.
    Unknown,
}

impl Answer {
    /// A number, times another.
    #[must_use]
    pub fn times(self, factor: f64) -> Answer {
        match self {
            Answer::Number(p) => Answer::Number(p.map(|x| x * factor)),
            other => other,
        }
    }
}

/// Which verdicts a number may carry by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Proves {
    /// Any.
    Both,
    /// It may not rule a tape out: unproven at worst.
    NeverOut,
    /// It bounds the truth on its better side, so it can rule out but not in: unproven at best.
    NeverIn,
}

/// A worked-out cell.
#[derive(Clone, Debug)]
pub struct Cell {
    /// What it came to, before any demand.
    pub answer: Answer,
    /// The points of the table that its percentiles stand on; all where it needs none.
    pub points: usize,
    /// A number of the tape that the measure's last step needs beside the answer.
    pub carried: f64,
    /// How, in a phrase.
    pub method: &'static str,
    /// The weakest standing among its facts.
    pub basis: Basis,
    /// True if an input was carried beyond where it was taken.
    pub extrapolated: bool,
    /// True if the evidence is milder than the exposure.
    pub milder: bool,
    /// Which verdicts it may carry by itself.
    pub proves: Proves,
    /// What was missing.
    pub missing: Vec<Missing>,
    /// The working, if asked for.
    pub working: Option<Box<Working>>,
}

/// The working of a cell.
#[derive(Clone, Debug, Default)]
pub struct Working {
    /// The models used.
    pub cards: Vec<&'static Card>,
    /// The numbers used.
    pub uses: Vec<Use>,
    /// The steps at the central values.
    pub steps: Vec<Step>,
    /// The cell's number at the central values, before any demand.
    pub central: Option<f64>,
    /// The share of the spread that each use explains, in the order of `uses`.
    pub influence: Vec<f64>,
    /// Plain sentences: what was assumed and why.
    pub notes: Vec<String>,
}

/// One number used.
#[derive(Clone, Debug)]
pub struct Use {
    /// Its symbol in the equation.
    pub symbol: &'static str,
    /// What it is.
    pub name: String,
    /// Its value and spread, in SI.
    pub spread: Spread,
    /// The unit it is printed in.
    pub unit: &'static str,
    /// The facts behind it; none for a number of the enquiry.
    pub facts: [Option<FactId>; 2],
    /// Its standing; none for a number of the enquiry.
    pub basis: Option<Basis>,
    /// Where it stands.
    pub place: Option<Place>,
    /// True if it was carried beyond where it was taken.
    pub extrapolated: bool,
}

/// One step of the central working.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Step {
    /// The symbol.
    pub symbol: &'static str,
    /// Its value in `unit`.
    pub value: f64,
    /// The unit.
    pub unit: &'static str,
}

/// Takes the steps of the central working; costs nothing in the draws.
pub struct Trace<'t>(Option<&'t mut Vec<Step>>);

impl<'t> Trace<'t> {
    /// A trace that keeps the steps.
    #[must_use]
    pub fn into(steps: &'t mut Vec<Step>) -> Self {
        Trace(Some(steps))
    }

    /// A trace that keeps nothing.
    #[must_use]
    pub const fn off() -> Self {
        Trace(None)
    }

    /// Notes one step.
    pub fn step(&mut self, symbol: &'static str, value: f64, unit: &'static str) {
        if let Some(steps) = &mut self.0 {
            steps.push(Step { symbol, value, unit });
        }
    }
}

/// A place in the inputs of the closure.
#[derive(Clone, Copy, Debug)]
pub struct Slot(usize);

impl Slot {
    /// The drawn value.
    #[must_use]
    pub fn of(self, x: &[f64]) -> f64 {
        x[self.0]
    }
}

/// A sub-result of a cell, shared with others, or worked out in place where the working is shown.
pub enum Shared {
    /// Worked out once over the table.
    Column(Slot),
    /// Worked out in place.
    Inline(Box<SubModel>),
}

type SubModel = dyn Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync;

impl Shared {
    /// The input that holds it, where it is not worked out in place.
    #[must_use]
    pub fn slot(&self) -> Option<Slot> {
        match self {
            Shared::Column(slot) => Some(*slot),
            Shared::Inline(_) => None,
        }
    }

    /// Its value at one draw.
    pub fn of(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        match self {
            Shared::Column(slot) => slot.of(x),
            Shared::Inline(model) => model(x, t),
        }
    }
}

/// What cells that are worked out together share: columns of draws, and parts that hang on less than a cell.
#[derive(Default)]
pub struct Together {
    columns: Columns,
    parts: RefCell<HashMap<(usize, usize, u32, u32), Part>>,
}

/// A part of a cell: what was noted on the way to it, and its column if it came to one.
#[derive(Clone)]
struct Part {
    noted: Noted,
    column: Option<Input>,
}

/// The cells that a cell is worked out beside.
#[derive(Clone, Copy)]
pub struct Beside<'a> {
    together: &'a Together,
    case: u32,
    classes: &'a [u32],
}

impl<'a> Beside<'a> {
    /// Cells of any case.
    #[must_use]
    pub fn none(together: &'a Together) -> Beside<'a> {
        Beside { together, case: 0, classes: &[] }
    }

    /// Cells of one case; the tape is of these classes by what each part of the measure reads of it.
    #[must_use]
    pub fn row(together: &'a Together, case: u32, classes: &'a [u32]) -> Beside<'a> {
        Beside { together, case, classes }
    }
}

/// What is noted of a cell while its facts are gathered.
#[derive(Clone)]
struct Noted {
    missing: Vec<Missing>,
    basis: Basis,
    extrapolated: bool,
    milder: bool,
    proves: Proves,
    method: &'static str,
}

impl Noted {
    const NOTHING: Noted = Noted {
        missing: Vec::new(),
        basis: Basis::Measured,
        extrapolated: false,
        milder: false,
        proves: Proves::Both,
        method: "",
    };

    /// Adds what a part noted.
    fn add(&mut self, part: &Noted) {
        self.missing.extend_from_slice(&part.missing);
        self.basis = self.basis.max(part.basis);
        self.extrapolated |= part.extrapolated;
        self.milder |= part.milder;
        if part.proves != Proves::Both {
            self.proves = part.proves;
        }
        if !part.method.is_empty() {
            self.method = part.method;
        }
    }
}

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
    apart: Option<f64>,
    points: usize,
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
        let cell = Work::cell(measure, catalogue, tape, (enquiry, exposure), mode, Beside::none(&Together::default()));
        let answer = cell.answer.times(apart.unwrap_or(1.0));
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
            apart: if mode.explain { None } else { measure.factor(catalogue, tape) },
            points: FINE,
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

    /// True where the measure's factor is left out of the cell's number.
    #[must_use]
    pub fn is_apart(&self) -> bool {
        self.apart.is_some()
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
        let medium = self.exposure()?.medium;
        let own = side != Side::Adhesive || !self.is_unset();
        Some(PairQuery { tape: own.then_some(self.tape_index), material, medium, property })
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

    /// Notes a standing that the method itself has.
    pub fn stands_on(&mut self, basis: Basis) {
        self.noted.basis = self.noted.basis.max(basis);
    }

    /// Keeps the central value of an input for the measure's last step.
    pub fn carry(&mut self, slot: Slot) {
        self.carried = self.inputs[slot.0].spread.value;
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
        spread::estimate(&self.inputs, self.mode.points, false, model).at
    }

    /// A sub-result that hangs on some inputs and constants only, so that cells share it.
    pub fn shared(
        &mut self,
        name: &'static str,
        on: &[Slot],
        constants: &[f64],
        model: impl Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync + 'static,
    ) -> Shared {
        self.sub_result((name, false), on, constants, model)
    }

    /// The same of the tape alone, kept for all cases.
    pub fn lasting(
        &mut self,
        name: &'static str,
        on: &[Slot],
        constants: &[f64],
        model: impl Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync + 'static,
    ) -> Shared {
        self.sub_result((name, true), on, constants, model)
    }

    fn sub_result(
        &mut self,
        (name, lasting): (&'static str, bool),
        on: &[Slot],
        constants: &[f64],
        model: impl Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync + 'static,
    ) -> Shared {
        if self.mode.explain {
            return Shared::Inline(Box::new(model));
        }
        let mut key: Vec<u64> = vec![name.as_ptr() as u64];
        key.extend(constants.iter().map(|c| c.to_bits()));
        // What it does not hang on is no number for it, so that a use that is not declared shows.
        let mut inputs = vec![Input::new(Spread::exact(f64::NAN), 0); self.inputs.len()];
        for slot in on {
            self.inputs[slot.0].bits(&mut key);
            inputs[slot.0] = self.inputs[slot.0].clone();
        }
        let columns = &self.beside.together.columns;
        self.inputs.push(columns.shared(key, lasting, inputs, move |x| model(x, &mut Trace::off())));
        Shared::Column(Slot(self.inputs.len() - 1))
    }

    /// A part of the cell by its number among the measure's parts: gathered once for all cells of the row
    /// whose tapes are alike in what the part reads.
    pub fn part(&mut self, number: usize, gather: impl FnOnce(&mut Self) -> Option<Shared>) -> Option<Shared> {
        let Beside { together, case, classes } = self.beside;
        let Some(class) = classes.get(number).filter(|_| !self.mode.explain) else { return gather(self) };
        let key = (core::ptr::from_ref(self.measure).addr(), number, *class, case);
        let known = together.parts.borrow().get(&key).cloned();
        let part = known.unwrap_or_else(|| {
            let others = core::mem::replace(&mut self.noted, Noted::NOTHING);
            let shared = gather(self);
            let column = shared.and_then(|shared| shared.slot()).map(|slot| self.inputs[slot.0].clone());
            let part = Part { noted: core::mem::replace(&mut self.noted, others), column };
            together.parts.borrow_mut().insert(key, part.clone());
            part
        });
        self.noted.add(&part.noted);
        self.inputs.push(part.column?);
        Some(Shared::Column(Slot(self.inputs.len() - 1)))
    }

    /// Leaves out of the draws the inputs that only a shared sub-result hangs on; they are no number from here on.
    pub fn absorb(&mut self, slots: &[Slot]) {
        if !self.mode.explain {
            for slot in slots {
                self.inputs[slot.0] = Input::new(Spread::exact(f64::NAN), 0);
            }
        }
    }

    /// Evaluates the closure over the inputs.
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
            self.working.central = Some(model(&central, &mut Trace(Some(&mut self.working.steps))));
            self.working.influence = spread::influence(&self.inputs, plain);
        }
        let found = spread::estimate(&self.inputs, self.mode.points, monotone, plain);
        self.number(found)
    }

    /// Evaluates the product of some parts.
    pub fn product(&mut self, cards: &[&'static Card], parts: &[Shared]) -> Answer {
        let columns: Option<Vec<Input>> =
            parts.iter().map(|part| part.slot().map(|slot| self.inputs[slot.0].clone())).collect();
        match columns {
            Some(columns) => {
                let found = spread::product(&columns, self.mode.points);
                self.number(found)
            }
            None => self.estimate(cards, false, |x, t| parts.iter().map(|part| part.of(x, t)).product()),
        }
    }

    fn number(&mut self, found: Estimate) -> Answer {
        self.points = found.points;
        Answer::Number(found.at)
    }
}
