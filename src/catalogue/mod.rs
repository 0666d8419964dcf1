//! The catalogue: raw cells become tapes, materials, facts, pairs and criteria.
//!
//! Every number is a [`Fact`] in one side table, whether it stood in a cell of `tapes.csv`, in a
//! row of `facts.csv` or in a row of `pairs.csv`; everything else refers to it by [`FactId`].

mod build;
mod criteria;
mod lookup;
mod property;
pub mod words;

use std::collections::{BTreeMap, HashMap};

pub use build::{FACT_COLUMNS, PAIR_COLUMNS, TAPE_COLUMNS, is_medium};
pub use criteria::{Applies, Criterion, Limits, Override, Preference, Settlement, form as criteria_form};
pub use lookup::{Found, PairQuery};
pub use property::{Course, On, Property, Side, Spec};

use foldhash::fast::FixedState;

use crate::evidence::{Basis, FactId, Place, Spread};

/// A backing with a larger share of open pores lets liquid in through its face: films, filled or not,
/// stay below, papers and cloths lie well above. Common practice, no source.
const OPEN_PORES: f64 = 0.05;

/// Whom a fact describes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject {
    /// A material, by its index.
    Material(usize),
    /// A tape, by its index.
    Tape(usize),
}

/// A backing, an adhesive or a medium.
#[derive(Clone, Debug)]
pub struct Material {
    /// Its key.
    pub id: String,
    /// backing, adhesive, liquid, resin, solvent or gas.
    pub kind: &'static str,
    /// Its chemical family.
    pub family: String,
    /// What people call it.
    pub name: String,
    /// The same as short as tells it apart from others of its kind.
    pub short: String,
    /// The material it becomes on curing.
    pub cures_to: Option<usize>,
    /// Where it stands.
    pub place: Place,
}

/// One number with its spread, standing and place.
#[derive(Clone, Debug)]
pub struct Fact {
    /// Whom it describes.
    pub subject: Subject,
    /// Of which property.
    pub property: Property,
    /// In which medium, for a pair.
    pub medium: Option<usize>,
    /// True where the medium is what changes.
    pub on_medium: bool,
    /// The value in SI.
    pub spread: Spread,
    /// The value as written.
    pub written: String,
    /// At which temperature, in K.
    pub temperature: Option<f64>,
    /// Under which further condition.
    pub condition: String,
    /// After how long, in s (pairs).
    pub duration: Option<f64>,
    /// At which polymer volume fraction (pairs).
    pub polymer_fraction: Option<f64>,
    /// At which relative humidity, as a fraction (pairs).
    pub humidity: Option<f64>,
    /// In which atmosphere (pairs).
    pub atmosphere: String,
    /// Its standing.
    pub basis: Basis,
    /// A key of the bibliography.
    pub source: String,
    /// A remark.
    pub note: String,
    /// Where it stands.
    pub place: Place,
}

/// A tape of the catalogue. Its numbers are facts; its texts are here.
#[derive(Clone, Debug)]
pub struct Tape {
    /// Its key.
    pub id: String,
    /// Its name.
    pub name: String,
    /// False if discontinued.
    pub active: bool,
    /// The revision of its sheet.
    pub revision: String,
    /// Its backing.
    pub backing: usize,
    /// Its adhesive as applied.
    pub adhesive: usize,
    /// True if the adhesive sets on heating.
    pub thermosetting: bool,
    /// One or two coated sides.
    pub coated_sides: u8,
    /// The insulation systems that list it.
    pub systems: Vec<String>,
    /// Text cells, by column.
    pub texts: BTreeMap<&'static str, (String, Place)>,
    /// Its standing in the data.
    pub basis: Basis,
    /// The source of its sheet.
    pub source: String,
    /// Where its row stands.
    pub place: Place,
}

impl Tape {
    /// A text cell, empty if blank.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        self.texts.get(column).map_or("", |(text, _)| text.as_str())
    }
}

/// What the data folder says about itself.
#[derive(Clone, Debug, Default)]
pub struct About {
    /// The version of the data.
    pub version: String,
    /// The day it was issued.
    pub date: String,
    /// Whose it is.
    pub owner: String,
    /// True if the catalogue is invented, which every page then says.
    pub invented: bool,
    /// The scenario of invented data.
    pub scenario: String,
}

/// A caution and what brings it up.
#[derive(Clone, Debug)]
pub struct Caution {
    /// Its key.
    pub id: String,
    /// The word of the situation it belongs to.
    pub trigger: String,
    /// The hazard, as a heading.
    pub hazard: String,
    /// What to do.
    pub text: String,
}

/// Pointers to the rules of a region.
#[derive(Clone, Debug, Default)]
pub struct Region {
    /// Its key.
    pub id: String,
    /// Its name.
    pub name: String,
    /// What it points to.
    pub pointers: Vec<Pointer>,
}

/// A pointer to a kind of rules.
#[derive(Clone, Debug, Default)]
pub struct Pointer {
    /// Its topic.
    pub topic: String,
    /// What to look for.
    pub text: String,
    /// The situations that it is about, in the words of the cautions; without any it is about all.
    pub when: Vec<String>,
    /// The equipment that it is about; without any it is about all.
    pub equipment: Vec<String>,
    /// True if it is named from memory.
    pub from_memory: bool,
}

/// Everything the data folder holds but the enquiries.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    /// What the folder says about itself.
    pub about: About,
    /// Tapes, by id.
    pub tapes: Vec<Tape>,
    /// Materials, by id.
    pub materials: Vec<Material>,
    /// Every number.
    pub facts: Vec<Fact>,
    /// Criteria, in the order of the file.
    pub criteria: Vec<Criterion>,
    /// Preferences, by function.
    pub preferences: Vec<Preference>,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// What the jurisdictions file says for every region.
    pub common_pointers: Vec<String>,
    /// Regions.
    pub regions: Vec<Region>,
    /// The bibliography, by key.
    pub sources: BTreeMap<String, serde_json::Value>,
    /// Tapes that have rows of their own in facts.csv or pairs.csv.
    overriding: Vec<bool>,
    by_subject: HashMap<(Subject, Property), Vec<FactId>, FixedState>,
    by_pair: HashMap<(Subject, usize, Property), Vec<FactId>, FixedState>,
}

impl Catalogue {
    /// A fact by its id.
    #[must_use]
    pub fn fact(&self, id: FactId) -> &Fact {
        &self.facts[id.0 as usize]
    }

    /// The index of a material.
    #[must_use]
    pub fn material(&self, id: &str) -> Option<usize> {
        self.materials.binary_search_by(|m| m.id.as_str().cmp(id)).ok()
    }

    /// The index of a tape.
    #[must_use]
    pub fn tape(&self, id: &str) -> Option<usize> {
        self.tapes.binary_search_by(|t| t.id.as_str().cmp(id)).ok()
    }

    /// The key of a subject.
    #[must_use]
    pub fn subject_id(&self, subject: Subject) -> &str {
        match subject {
            Subject::Material(index) => &self.materials[index].id,
            Subject::Tape(index) => &self.tapes[index].id,
        }
    }

    /// A tape's sheet value and its fact.
    #[must_use]
    pub fn sheet(&self, tape: usize, property: Property) -> Option<Found> {
        self.find(Subject::Tape(tape), property, None)
    }

    /// Whether liquid comes through the face of the backing of a tape, if its pores are known: those that go
    /// through, where a ply closes them, else all.
    #[must_use]
    pub fn is_open(&self, tape: usize) -> Option<bool> {
        let through = self.find_on(tape, self.tapes[tape].backing, Property::ThroughPorosity, None);
        through.or_else(|| self.pores(tape)).map(|found| found.spread.value > OPEN_PORES)
    }

    /// Whether a tape has pores that a liquid can fill, whether or not they go through.
    #[must_use]
    pub fn is_porous(&self, tape: usize) -> Option<bool> {
        self.pores(tape).map(|found| found.spread.value > OPEN_PORES)
    }

    /// The open pores of a tape: those of the coated tape, else those of the backing.
    #[must_use]
    pub fn pores(&self, tape: usize) -> Option<Found> {
        self.sheet(tape, Property::OpenPorosity)
            .or_else(|| self.find(Subject::Material(self.tapes[tape].backing), Property::Porosity, None))
    }

    /// The construction in a few words, from the names of its materials: "PTFE film, silicone (platinum-cured)".
    #[must_use]
    pub fn construction(&self, tape: usize) -> String {
        let tape = &self.tapes[tape];
        format!("{}, {}", self.materials[tape.backing].short, self.materials[tape.adhesive].short)
    }
}
