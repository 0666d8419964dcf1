//! What a worked-out cell is: its answer, what it rests on, and its working.

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::{Catalogue, Property, Subject};
use crate::evidence::{Basis, FactId, Place, Spread};
use crate::models::Card;
use crate::spread::{Estimate, Percentiles};

/// How a cell is worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mode {
    /// Points of the table of draws.
    pub points: usize,
    /// True to keep the working, in the place of the percentiles.
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
    /// It bounds the truth on its worse side, so it can rule in but not out: unproven at worst.
    AtLeast,
}

/// A worked-out cell.
#[derive(Clone, Debug)]
pub struct Cell {
    /// What it came to, before any demand.
    pub answer: Answer,
    /// The points of the table that its percentiles stand on; all where it needs none.
    pub points: usize,
    /// The same for each kind of the tapes that share it, in their order, where they are told apart.
    pub kin: Vec<Kin>,
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

/// What a cell comes to for one kind of the tapes that share it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kin {
    /// The number and the points of the table that it stands on.
    pub found: Estimate,
    /// Which verdicts it may carry by itself.
    pub proves: Proves,
}

impl Cell {
    /// Its answer for one kind of tapes.
    #[must_use]
    pub fn answer_of(&self, kin: usize) -> Answer {
        match (self.answer, self.kin.get(kin)) {
            (Answer::Number(_), Some(kin)) => Answer::Number(kin.found.at),
            (answer, _) => answer,
        }
    }

    /// The points that it stands on.
    #[must_use]
    pub fn points_of(&self, kin: usize) -> usize {
        self.kin.get(kin).map_or(self.points, |kin| kin.found.points)
    }

    /// Which verdicts it may carry by itself.
    #[must_use]
    pub fn proves_of(&self, kin: usize) -> Proves {
        self.kin.get(kin).map_or(self.proves, |kin| kin.proves)
    }
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

/// A part of a history, such as a step of the load profile or a bake.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Part {
    /// Its number in the history.
    pub number: usize,
    /// The key of the enquiry that states it, or the name of its exposure.
    pub name: String,
    /// Where it stands.
    pub place: Place,
}

/// One step of the central working.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Step {
    /// The part of a history that it is about; none for the whole.
    pub part: Option<Part>,
    /// The symbol.
    pub symbol: &'static str,
    /// Its value in `unit`.
    pub value: f64,
    /// The unit.
    pub unit: &'static str,
}

/// Takes the steps of the central working; costs nothing in the draws.
pub struct Trace<'t>(pub(super) Option<&'t mut Vec<Step>>);

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
            steps.push(Step { part: None, symbol, value, unit });
        }
    }

    /// Notes steps that are worked out only where they are kept.
    pub fn steps(&mut self, told: impl FnOnce() -> Vec<Step>) {
        if let Some(steps) = &mut self.0 {
            steps.extend(told());
        }
    }
}
