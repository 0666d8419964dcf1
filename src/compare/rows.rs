//! Which rows differ between two data folders: by their keys and what they say, not by where they stand
//! or how a number is written.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;

use super::lines::{Line, Part, lines, rewritten, same};
use crate::evidence::Place;
use crate::fault::Faults;
use crate::load::{Folder, JURISDICTIONS, NEEDED, is_enquiry};

/// What became of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Change {
    /// It is new.
    Added,
    /// It is gone.
    Removed,
    /// It says something else.
    Changed,
}

impl Change {
    /// The word.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Change::Added => "added",
            Change::Removed => "removed",
            Change::Changed => "changed",
        }
    }
}

/// What a cell says, and where.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Written {
    /// The text.
    pub text: String,
    /// Where it stands.
    pub place: Place,
}

/// A cell that says something else; a side that is blank is none.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CellChange {
    /// The column, or the key.
    pub column: String,
    /// Before.
    pub before: Option<Written>,
    /// After.
    pub after: Option<Written>,
}

/// A row, or an entry of a TOML or YAML file, that differs.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RowChange {
    /// The file.
    pub file: String,
    /// Which row: its key in words.
    pub row: String,
    /// What became of it.
    pub change: Change,
    /// The cells that differ.
    pub cells: Vec<CellChange>,
    #[serde(skip)]
    pub(super) old: Option<Line>,
    #[serde(skip)]
    pub(super) new: Option<Line>,
}

impl RowChange {
    /// Either side, the newer one first.
    pub(super) fn line(&self) -> Option<&Line> {
        self.new.as_ref().or(self.old.as_ref())
    }

    /// What the row says in a column after the change; empty if it is blank or gone.
    #[must_use]
    pub fn says(&self, column: &str) -> &str {
        self.new.as_ref().map_or("", |line| line.cell(column))
    }

    /// What it said before; empty if it was blank or not there.
    #[must_use]
    pub fn said(&self, column: &str) -> &str {
        self.old.as_ref().map_or("", |line| line.cell(column))
    }

    /// The number that the row says after the change, with its ends.
    #[must_use]
    pub fn number_after(&self) -> String {
        number(|column| self.says(column))
    }

    /// The number that it said before, with its ends.
    #[must_use]
    pub fn number_before(&self) -> String {
        number(|column| self.said(column))
    }

    /// Every side there is.
    pub(super) fn sides(&self) -> impl Iterator<Item = &Line> {
        self.old.iter().chain(&self.new)
    }
}

/// A value with its ends, as a row writes them: both or neither.
fn number<'r>(cell: impl Fn(&str) -> &'r str) -> String {
    match (cell("value"), cell("low"), cell("high")) {
        (value, "", "") => value.to_owned(),
        (value, low, high) => format!("{value} ({low} to {high})"),
    }
}

/// The rows that differ, by file and key.
///
/// # Errors
/// A file that cannot be read as a table.
pub fn rows(old: &Folder, new: &Folder) -> Result<Vec<RowChange>, Faults> {
    let mut faults = Faults::default();
    let names: BTreeSet<&String> = old.files.keys().chain(new.files.keys()).filter(|name| is_read(name)).collect();
    let (mut changes, mut asked) = (Vec::new(), (Vec::new(), Vec::new()));
    for file in names {
        let (before, after) = (old.files.get(file), new.files.get(file));
        if before == after {
            continue;
        }
        let mut read = |folder: &Folder, text: Option<&String>| {
            let mut found = Faults::default();
            let lines = text.map(|text| lines(file, text, &mut found)).unwrap_or_default();
            faults.extend(found.below(&folder.root.display().to_string()));
            lines
        };
        let (before, after) = (read(old, before), read(new, after));
        if is_enquiry(file) {
            asked.0.extend(before);
            asked.1.extend(after);
        } else {
            changes.extend(differences(file, before, after));
        }
    }
    // An enquiry is known by its number: its file may have another name.
    for change in differences("", asked.0, asked.1) {
        let file = match change.line().map(|line| &line.part) {
            Some(Part::File(file, _)) => file.clone(),
            _ => String::new(),
        };
        changes.push(RowChange { file, ..change });
    }
    faults.or(changes)
}

/// True for a file that anything is read from; a table that only lies there is none.
fn is_read(file: &str) -> bool {
    const OPTIONAL: [&str; 3] = ["ranges.csv", "accepted.toml", "wordings.csv"];
    NEEDED.contains(&file) || file == JURISDICTIONS || OPTIONAL.contains(&file) || is_enquiry(file)
}

fn differences(file: &str, old: Vec<Line>, new: Vec<Line>) -> Vec<RowChange> {
    let mut pairs = matched(old, new, |line| line.key.clone());
    // A row whose conditions were changed has another key; where it alone is about its subject, it is that row.
    let lone = |pairs: &[(Option<Line>, Option<Line>)]| {
        let mut about: BTreeMap<String, (Vec<usize>, Vec<usize>)> = BTreeMap::new();
        for (at, pair) in pairs.iter().enumerate() {
            match pair {
                (Some(old), None) => about.entry(old.about.clone()).or_default().0.push(at),
                (None, Some(new)) => about.entry(new.about.clone()).or_default().1.push(at),
                _ => {}
            }
        }
        about.into_values().find_map(|(gone, come)| match (gone.as_slice(), come.as_slice()) {
            ([gone], [come]) => Some((*gone, *come)),
            _ => None,
        })
    };
    while let Some((gone, come)) = lone(&pairs) {
        let new = pairs[come].1.take();
        pairs[gone].1 = new;
        pairs.remove(come);
    }
    pairs.into_iter().filter_map(|(old, new)| change(file, old, new)).collect()
}

/// Old and new lines under the same key, without those that say the same.
fn matched(old: Vec<Line>, new: Vec<Line>, key: impl Fn(&Line) -> String) -> Vec<(Option<Line>, Option<Line>)> {
    let mut by_key: BTreeMap<String, (Vec<Line>, Vec<Line>)> = BTreeMap::new();
    for line in old {
        by_key.entry(key(&line)).or_default().0.push(line);
    }
    for line in new {
        by_key.entry(key(&line)).or_default().1.push(line);
    }
    let mut pairs = Vec::new();
    for (mut old, mut new) in by_key.into_values() {
        old.retain(|line| match new.iter().position(|other| cells(line, other).is_empty()) {
            Some(at) => {
                new.remove(at);
                false
            }
            None => true,
        });
        old.sort_by(|a, b| a.text().cmp(&b.text()));
        new.sort_by(|a, b| a.text().cmp(&b.text()));
        let (mut old, mut new) = (old.into_iter(), new.into_iter());
        loop {
            match (old.next(), new.next()) {
                (None, None) => break,
                pair => pairs.push(pair),
            }
        }
    }
    pairs
}

fn change(file: &str, old: Option<Line>, new: Option<Line>) -> Option<RowChange> {
    let change = match (&old, &new) {
        (Some(_), Some(_)) => Change::Changed,
        (Some(_), None) => Change::Removed,
        (None, _) => Change::Added,
    };
    let none = Line::default();
    let cells = cells(old.as_ref().unwrap_or(&none), new.as_ref().unwrap_or(&none));
    let row = new.as_ref().or(old.as_ref())?.name.clone();
    Some(RowChange { file: file.to_owned(), row, change, cells, old, new })
}

/// The cells of two lines that do not say the same.
fn cells(old: &Line, new: &Line) -> Vec<CellChange> {
    let columns: BTreeSet<&String> = old.cells.keys().chain(new.cells.keys()).collect();
    let side = |line: &Line, column: &str| {
        let cell = line.cells.get(column).filter(|cell| !cell.text.is_empty())?;
        Some(Written { text: cell.text.clone(), place: cell.place.clone() })
    };
    let differs = |column: &&String| {
        let text = |line: &Line| line.cells.get(*column).map_or(String::new(), |cell| cell.text.clone());
        !same(old, new, column, &text(old), &text(new))
    };
    let change =
        |column: &String| CellChange { column: column.clone(), before: side(old, column), after: side(new, column) };
    columns.into_iter().filter(differs).map(change).collect()
}

/// A folder with some of the changes made to it, and no others.
pub(super) fn changed(folder: &Folder, changes: &[&RowChange]) -> Folder {
    let mut patched = folder.clone();
    let mut by_file: BTreeMap<&str, Vec<&RowChange>> = BTreeMap::new();
    for change in changes {
        by_file.entry(&change.file).or_default().push(change);
    }
    for (file, changes) in by_file {
        if is_enquiry(file) {
            for change in changes {
                for (line, comes) in [(&change.old, false), (&change.new, true)] {
                    match line.as_ref().map(|line| &line.part) {
                        Some(Part::File(file, text)) if comes => patched.files.insert(file.clone(), text.clone()),
                        Some(Part::File(file, _)) => patched.files.remove(file),
                        _ => None,
                    };
                }
            }
            continue;
        }
        let text = folder.text(file);
        let all: Vec<(Option<&Part>, Option<&Part>)> = changes
            .iter()
            .map(|c| (c.old.as_ref().map(|line| &line.part), c.new.as_ref().map(|line| &line.part)))
            .collect();
        match rewritten(file, text, &all) {
            Some(text) => patched.files.insert(file.to_owned(), text),
            None => patched.files.remove(file),
        };
    }
    patched
}
