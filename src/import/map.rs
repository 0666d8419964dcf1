//! What each column of a sheet means: guessed, shown, kept as a file, read again.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::catalogue::{FACT_COLUMNS, On, PAIR_COLUMNS, Property, TAPE_COLUMNS};
use crate::quantity::{FRACTION, Kind, TEMPERATURE, TIME};

use super::number::{Decimal, Marks};

/// The schema of the file.
pub(super) const SCHEMA: &str = "lapwise/import-map/1";
/// The target of a column that carries the unit of `value`.
pub(super) const UNIT: &str = "unit";

/// The table that rows go into.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Target {
    /// `tapes.csv`
    Tapes,
    /// `facts.csv`
    Facts,
    /// `pairs.csv`
    Pairs,
}

impl Target {
    /// Every table.
    pub const ALL: [Target; 3] = [Target::Tapes, Target::Facts, Target::Pairs];

    /// The word of the command line and the map file.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Target::Tapes => "tapes",
            Target::Facts => "facts",
            Target::Pairs => "pairs",
        }
    }

    /// The file.
    #[must_use]
    pub const fn file(self) -> &'static str {
        match self {
            Target::Tapes => "tapes.csv",
            Target::Facts => "facts.csv",
            Target::Pairs => "pairs.csv",
        }
    }

    /// The columns of the file.
    #[must_use]
    pub const fn columns(self) -> &'static [&'static str] {
        match self {
            Target::Tapes => TAPE_COLUMNS,
            Target::Facts => FACT_COLUMNS,
            Target::Pairs => PAIR_COLUMNS,
        }
    }

    /// The columns that tell a row from the others.
    #[must_use]
    pub const fn keys(self) -> &'static [&'static str] {
        match self {
            Target::Tapes => &["tape"],
            Target::Facts => &["subject", "property", "temperature", "condition", "basis"],
            Target::Pairs => &[
                "material",
                "medium",
                "effect",
                "property",
                "temperature",
                "duration",
                "polymer_fraction",
                "humidity",
                "atmosphere",
                "basis",
            ],
        }
    }

    /// The columns without which no row is told from another, in a sheet.
    #[must_use]
    pub const fn needed(self) -> &'static [&'static str] {
        match self {
            Target::Tapes => &["tape"],
            Target::Facts => &["subject"],
            Target::Pairs => &["material", "medium"],
        }
    }

    /// What a column of a sheet may go to: a column, a property beside it, the unit of `value`.
    #[must_use]
    pub fn goal(self, name: &str) -> Option<&'static str> {
        let property = |p: &&Property| match self {
            Target::Tapes => false,
            Target::Facts => p.spec().on != On::Pair,
            Target::Pairs => matches!(p.spec().on, On::Pair | On::Either),
        };
        let column = self.columns().iter().find(|c| **c == name).copied();
        let beside = || Property::ALL.iter().filter(property).map(|p| p.name()).find(|p| *p == name);
        let unit = || (name == UNIT && self != Target::Tapes).then_some(UNIT);
        column.or_else(beside).or_else(unit)
    }

    /// Every goal there is.
    pub fn goals(self) -> impl Iterator<Item = &'static str> {
        let names = Property::ALL.iter().map(|p| p.name());
        let beside = names.filter(move |n| !self.columns().contains(n) && self.goal(n).is_some());
        self.columns().iter().copied().chain(beside).chain((self != Target::Tapes).then_some(UNIT))
    }

    /// What numbers of a goal are; none for a text, and for `value`, whose property decides.
    #[must_use]
    pub fn kind(self, goal: &str) -> Option<&'static Kind> {
        match (self, goal) {
            (_, "basis" | "source" | "note" | "colour" | "systems") => None,
            (Target::Tapes, _) if !TAPE_COLUMNS.contains(&goal) => None,
            (Target::Facts | Target::Pairs, "temperature") => Some(&TEMPERATURE),
            (Target::Pairs, "duration") => Some(&TIME),
            (Target::Pairs, "polymer_fraction" | "humidity") => Some(&FRACTION),
            _ => Property::of(goal).map(|p| p.spec().kind),
        }
    }

    /// The key of a row, numbers in SI.
    pub fn key<'c>(self, cell: impl Fn(&str) -> &'c str) -> String {
        let part = |column: &&'static str| {
            let text = cell(column);
            match self.kind(column) {
                Some(kind) if self != Target::Tapes => {
                    kind.read(text).map_or_else(|_| text.to_owned(), crate::quantity::canonical)
                }
                _ => text.to_owned(),
            }
        };
        self.keys().iter().map(part).collect::<Vec<_>>().join("\u{1f}")
    }

    /// True if two cells of a column say the same, whatever their units; `property` is what `value` is of.
    #[must_use]
    pub fn same(self, column: &str, property: &str, a: &str, b: &str) -> bool {
        if a == b {
            return true;
        }
        let kind: Option<&'static Kind> = match column {
            "value" | "low" | "high" if self != Target::Tapes => Property::of(property).map(|p| p.spec().kind),
            _ => self.kind(column),
        };
        let content = |text: &str| {
            let none = text == "none" && matches!(column, "halogen" | "sulphur");
            if none { "0 mg/kg".to_owned() } else { text.to_owned() }
        };
        kind.is_some_and(|kind| kind.alike(&content(a), &content(b)))
    }
}

/// How sure a guess is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Certainty {
    /// Nothing is like it.
    None,
    /// It may be: left out until the map says so.
    Unsure,
    /// The words of the head and the unit agree with one column.
    Likely,
    /// The head is one of the wordings of the column.
    Certain,
    /// The map file says so.
    Told,
}

impl Certainty {
    /// The word that is printed.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Certainty::None => "unmatched",
            Certainty::Unsure => "unsure",
            Certainty::Likely => "likely",
            Certainty::Certain => "certain",
            Certainty::Told => "told",
        }
    }
}

/// One column of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Where it stands, from 0.
    pub index: usize,
    /// What stands above it, all lines of the head joined.
    pub head: String,
    /// Where it goes; empty if it is left out.
    pub to: String,
    /// The unit of numbers that carry none: as Lapwise reads it; `1` for plain numbers; `date` for the day
    /// numbers of a spreadsheet.
    pub unit: Option<String>,
    /// How its numbers are written.
    pub marks: Marks,
    /// Words of its cells and what they stand for.
    pub words: Vec<(String, String)>,
    /// How sure the guess is.
    pub certainty: Certainty,
    /// What it may be, where that is not sure.
    pub perhaps: String,
    /// True if the column is hidden in the sheet.
    pub hidden: bool,
}

impl Column {
    /// True if its cells are brought in.
    #[must_use]
    pub fn is_used(&self) -> bool {
        !self.to.is_empty()
    }
}

/// The work that a sheet is, as an entry of `sources.yml`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Work {
    /// Its key.
    pub key: String,
    /// Its title.
    pub title: String,
}

/// The meaning of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Map {
    /// The file it was made for.
    pub file: String,
    /// The sheet.
    pub sheet: Option<String>,
    /// The table that rows go into.
    pub target: Target,
    /// True if the table has one column a tape: rows and columns change places before anything is read.
    pub turned: bool,
    /// The first and the last row of the head, from 0.
    pub head: (usize, usize),
    /// The last row of the table, from 0, where the map ends it.
    pub last: Option<usize>,
    /// True if a blank cell of the sheet takes out what the data hold.
    pub erase: bool,
    /// Columns of the table that have one value in every row.
    pub constants: BTreeMap<&'static str, String>,
    /// The work that is added to the bibliography if its key is not there.
    pub work: Option<Work>,
    /// The columns, in the order of the sheet.
    pub columns: Vec<Column>,
}

impl Map {
    /// The column that goes to a goal.
    #[must_use]
    pub fn column(&self, goal: &str) -> Option<&Column> {
        self.columns.iter().find(|c| c.to == goal)
    }
}

/// The mark between thousands as the map file names it.
#[must_use]
pub(super) fn thousands(word: &str) -> Option<char> {
    match word {
        "point" => Some('.'),
        "comma" => Some(','),
        _ => None,
    }
}

/// The decimal mark as the map file names it.
#[must_use]
pub(super) fn decimal(word: &str) -> Option<Decimal> {
    [Decimal::Point, Decimal::Comma].into_iter().find(|d| d.text() == word)
}
