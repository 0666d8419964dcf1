//! Which change of the data brought something about: the rows that differ, and which of them a finding,
//! a piece of evidence or a fault rests on.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::flip::{Flipped, Judged};
use super::outcome::{Change, ChangeKind};
use super::parts;
use crate::catalogue::Catalogue;
use crate::compare::{self, CellChange, RowChange};
use crate::evidence::Place;
use crate::explain::explain;
use crate::fault::{Fault, Faults};
use crate::load::Folder;

/// The data of a group as they were signed, and what differs from them today.
pub(super) struct Blame {
    pub(super) catalogue: Catalogue,
    rows: Vec<RowChange>,
    /// Which rows stand at a file and line, then and now.
    then: BTreeMap<(String, u32), BTreeSet<usize>>,
    now: BTreeMap<(String, u32), BTreeSet<usize>>,
    /// Which parts of the evidence each row belongs to.
    parts: Vec<BTreeSet<String>>,
}

impl Blame {
    /// Reads the data as they were signed and holds them against today's.
    ///
    /// # Errors
    /// Data that do not load any more.
    pub(super) fn new(old: &Folder, today: &Folder) -> Result<Blame, Faults> {
        let catalogue = Catalogue::build(old)?;
        let without_enquiries = |folder: &Folder| {
            let files = folder.data().map(|(name, text)| (name.clone(), text.clone()));
            Folder { root: folder.root.clone(), files: files.collect() }
        };
        let rows = compare::rows(old, &without_enquiries(today))?;
        let mut blame = Blame {
            parts: rows.iter().map(|row| parts(row, &catalogue)).collect(),
            catalogue,
            rows,
            then: BTreeMap::new(),
            now: BTreeMap::new(),
        };
        for (at, row) in blame.rows.iter().enumerate() {
            for cell in &row.cells {
                let key = |place: &Place| (place.file.to_string(), place.line);
                if let Some(before) = &cell.before {
                    blame.then.entry(key(&before.place)).or_default().insert(at);
                }
                if let Some(after) = &cell.after {
                    blame.now.entry(key(&after.place)).or_default().insert(at);
                }
            }
        }
        Ok(blame)
    }

    /// The changes that a flipped finding rests on.
    pub(super) fn of_flip(&self, was: &Judged<'_>, is: &Judged<'_>, flip: &Flipped) -> BTreeSet<Change> {
        let told = |case: &Judged<'_>, finding: &Option<crate::judge::Finding>| {
            finding.as_ref().map(|finding| explain(case.plan, case.enquiry, finding))
        };
        let (before, after) = (told(was, &flip.before), told(is, &flip.after));
        let mut changes = BTreeSet::new();
        for (explanation, lines, old) in [(&before, &self.then, true), (&after, &self.now, false)] {
            for place in explanation.iter().flat_map(|e| &e.facts).filter_map(|fact| fact.place.as_ref()) {
                for at in lines.get(&(place.file.to_string(), place.line)).into_iter().flatten() {
                    changes.extend(self.cells(*at, place, old));
                }
            }
        }
        let criterion = format!("criterion {}", flip.told.criterion);
        for (at, row) in self.rows.iter().enumerate() {
            if row.file == "criteria.toml" && row.row == criterion {
                changes.extend(self.whole(at));
            }
        }
        if changes.is_empty() {
            changes = self.of_tape(was, is, &flip.told.tape);
        }
        changes
    }

    /// The changes of a row that a number rests on: of a sheet the cell itself, of a row of facts the row.
    fn cells(&self, at: usize, place: &Place, old: bool) -> Vec<Change> {
        let row = &self.rows[at];
        if row.file != "tapes.csv" || row.change != compare::Change::Changed {
            return self.whole(at);
        }
        let here = |cell: &&CellChange| {
            let side = if old { &cell.before } else { &cell.after };
            side.as_ref().is_some_and(|written| written.place.column == place.column)
        };
        row.cells.iter().filter(here).map(|cell| self.change(at, &cell.column)).collect()
    }

    /// One cell of a changed row, or the row where it came or went.
    fn change(&self, at: usize, column: &str) -> Change {
        let row = &self.rows[at];
        let kind = match row.change {
            compare::Change::Changed => ChangeKind::Cell,
            compare::Change::Added => ChangeKind::RowAdded,
            compare::Change::Removed => ChangeKind::RowRemoved,
        };
        let blank = |text: String| (!text.is_empty()).then_some(text);
        let (before, after) = match column {
            "value" => (row.number_before(), row.number_after()),
            column => (row.said(column).to_owned(), row.says(column).to_owned()),
        };
        Change {
            kind,
            file: row.file.clone(),
            row: row.row.clone(),
            column: if kind == ChangeKind::Cell { column.to_owned() } else { String::new() },
            before: blank(before),
            after: blank(after),
            source_before: blank(row.said("source").to_owned()),
            source_after: blank(row.says("source").to_owned()),
        }
    }

    /// Every cell of a changed row but its note, a number with its spread as one; or the row as one.
    fn whole(&self, at: usize) -> Vec<Change> {
        let row = &self.rows[at];
        let spread = |column: &str| ["value", "low", "high"].contains(&column);
        if row.change != compare::Change::Changed {
            return vec![self.change(at, "value")];
        }
        let mut columns: Vec<&str> = row.cells.iter().map(|cell| cell.column.as_str()).collect();
        columns.retain(|column| *column != "note");
        if columns.iter().any(|column| spread(column)) {
            columns.retain(|column| !spread(column));
            columns.insert(0, "value");
        }
        columns.into_iter().map(|column| self.change(at, column)).collect()
    }

    /// What changed about a tape or its materials, where no number of the finding says it.
    fn of_tape(&self, was: &Judged<'_>, is: &Judged<'_>, tape: &str) -> BTreeSet<Change> {
        let mut changes = BTreeSet::new();
        let mut about = |file: &str, row: &str| {
            for (at, other) in self.rows.iter().enumerate() {
                if other.file == file && other.row == row {
                    changes.extend(self.whole(at));
                }
            }
        };
        about("tapes.csv", tape);
        for case in [was, is] {
            let catalogue = case.plan.catalogue;
            let Some(index) = catalogue.tape(tape) else { continue };
            let tape = &catalogue.tapes[index];
            for material in [tape.backing, tape.adhesive] {
                about("materials.csv", &catalogue.materials[material].id);
            }
        }
        if changes.is_empty() {
            for (at, row) in self.rows.iter().enumerate() {
                if row.file == "criteria.toml" && row.row.starts_with("preference") {
                    changes.extend(self.whole(at));
                }
            }
        }
        changes
    }

    /// The changes behind evidence that differs: those that belong to its parts.
    pub(super) fn of_evidence(&self, kept: &str, now: &str) -> BTreeSet<Change> {
        let json = |text: &str| serde_json::from_str::<Value>(text).unwrap_or_default();
        let (kept, now) = (json(kept), json(now));
        let mut differ: BTreeSet<String> = BTreeSet::new();
        for section in ["common", "criteria", "media"] {
            let none = serde_json::Map::new();
            let of = |document: &'_ Value| document[section].as_object().cloned().unwrap_or_else(|| none.clone());
            let (before, after) = (of(&kept), of(&now));
            for name in before.keys().chain(after.keys()) {
                if before.get(name) != after.get(name) {
                    differ.insert(format!("{section}:{name}"));
                }
            }
        }
        let mut changes = BTreeSet::new();
        for (at, parts) in self.parts.iter().enumerate() {
            if !parts.is_disjoint(&differ) {
                changes.extend(self.whole(at));
            }
        }
        if changes.is_empty() {
            changes.insert(unplaced());
        }
        changes
    }

    /// The change behind a fault: the row that went, if what is missing stood in one, else the fault itself.
    pub(super) fn of_fault(&self, fault: &Fault) -> Change {
        let missing = fault.found.trim_matches('`');
        let gone = self.rows.iter().position(|row| row.change == compare::Change::Removed && row.row == missing);
        gone.map_or_else(|| of_fault_alone(fault), |at| self.change(at, ""))
    }
}

/// A fault as a cause: where it stands, as far as that is in the data folder, and what was found.
pub(super) fn of_fault_alone(fault: &Fault) -> Change {
    let place = fault.place.as_ref().filter(|place| !place.file.ends_with("/enquiry.toml"));
    Change {
        kind: ChangeKind::Fault,
        file: place.map_or_else(|| "data folder".to_owned(), |place| place.file.to_string()),
        row: String::new(),
        column: fault.place.as_ref().map(|place| place.column.to_string()).unwrap_or_default(),
        before: None,
        after: Some(format!("{}, needed {}", fault.found, fault.needed)),
        source_before: None,
        source_after: None,
    }
}

/// The data moved, and no single row says why.
pub(super) fn unplaced() -> Change {
    said(ChangeKind::Unplaced, "several changes together: `lapwise compare` tells them apart")
}

/// Another program judges the same data otherwise.
pub(super) fn program(signed_by: &str) -> Change {
    let mut change = said(ChangeKind::Program, "the program judges the signed data otherwise:");
    change.before = Some(format!("Lapwise {signed_by}"));
    change.after = Some(format!("Lapwise {}", env!("CARGO_PKG_VERSION")));
    change
}

fn said(kind: ChangeKind, row: &str) -> Change {
    Change {
        kind,
        file: String::new(),
        row: row.to_owned(),
        column: String::new(),
        before: None,
        after: None,
        source_before: None,
        source_after: None,
    }
}

/// The parts of the evidence that a row belongs to.
fn parts(row: &RowChange, catalogue: &Catalogue) -> BTreeSet<String> {
    match (row.file.as_str(), row.row.strip_prefix("criterion ")) {
        ("cautions.toml", _) => BTreeSet::from(["common:cautions".to_owned()]),
        ("criteria.toml", Some(id)) => BTreeSet::from([format!("criteria:{id}")]),
        ("criteria.toml", None) => BTreeSet::from(["common:preferences".to_owned()]),
        (file, _) => {
            let either = |column: &str| if row.says(column).is_empty() { row.said(column) } else { row.says(column) };
            // Whatever a material was and is, it may be part of either.
            let by_all = |id: &str| {
                let was = catalogue.material(id).map(|material| catalogue.materials[material].kind);
                let is = Some(row.says("kind")).filter(|kind| !kind.is_empty());
                was.into_iter().chain(is).map(parts::by_all).reduce(|was, is| was || is)
            };
            parts::parts(file, either, by_all)
        }
    }
}
