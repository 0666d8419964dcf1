//! Which changes are made together, and which cells they can reach.

use std::collections::{BTreeMap, BTreeSet};

use super::answers::Answers;
use super::rows::{Change, RowChange};

/// The cells that a change can reach.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Reach {
    /// What is printed beside the answers, or read by another command: no cell.
    Paper,
    Tape(String),
    Criterion(String),
    Backing(String),
    Adhesive(String),
    Enquiry(String),
    Anything,
}

impl Reach {
    /// Changes of the same kind with other names cannot meet in a cell: a number of one tape is in no cell
    /// of another, a tape has one backing and one adhesive, a finding is of one criterion and enquiry.
    fn kind(&self) -> u8 {
        match self {
            Reach::Paper => 0,
            Reach::Tape(_) => 1,
            Reach::Criterion(_) => 2,
            Reach::Backing(_) => 3,
            Reach::Adhesive(_) => 4,
            Reach::Enquiry(_) => 5,
            Reach::Anything => 6,
        }
    }
}

/// Changes that are made together because one needs the other, and what they can reach.
#[derive(Clone, Debug)]
pub(super) struct Unit {
    pub(super) changes: Vec<usize>,
    pub(super) reach: Reach,
}

/// The changes, those together that cannot be made alone: a tape or a material that comes or goes with
/// every row that names it.
pub(super) fn units(changes: &[RowChange], before: &Answers, after: &Answers) -> Vec<Unit> {
    let whole = changes.iter().filter(|c| c.change != Change::Changed);
    let subjects = whole.filter(|c| matches!(c.file.as_str(), "tapes.csv" | "materials.csv"));
    let names: BTreeSet<&str> = subjects.map(|c| c.row.as_str()).collect();
    let mut root: Vec<usize> = (0..changes.len()).collect();
    let mut first: BTreeMap<&str, usize> = BTreeMap::new();
    let end = |root: &[usize], mut at: usize| {
        while root[at] != at {
            at = root[at];
        }
        at
    };
    for (at, change) in changes.iter().enumerate() {
        let texts = change.sides().flat_map(|line| line.cells.values().map(|cell| cell.text.as_str()));
        for name in texts.filter(|text| names.contains(text)) {
            let Some(name) = names.get(name) else { continue };
            let (a, b) = (end(&root, *first.entry(name).or_insert(at)), end(&root, at));
            root[a.max(b)] = a.min(b);
        }
    }
    let mut units: BTreeMap<usize, Unit> = BTreeMap::new();
    for (at, change) in changes.iter().enumerate() {
        let reach = reach(change, before, after);
        match units.get_mut(&end(&root, at)) {
            None => {
                units.insert(at, Unit { changes: vec![at], reach });
            }
            Some(unit) => {
                unit.changes.push(at);
                if unit.reach == Reach::Paper || unit.reach == reach {
                    unit.reach = reach;
                } else if reach != Reach::Paper {
                    unit.reach = Reach::Anything;
                }
            }
        }
    }
    units.into_values().collect()
}

fn reach(change: &RowChange, before: &Answers, after: &Answers) -> Reach {
    let Some(line) = change.line() else { return Reach::Anything };
    let of_subject = |name: &str| {
        let is =
            |index: usize| [before, after].iter().any(|answers| answers.made_of.values().any(|of| of[index] == name));
        match (before.made_of.contains_key(name) || after.made_of.contains_key(name), is(0), is(1)) {
            (true, ..) => Reach::Tape(name.to_owned()),
            (false, true, false) => Reach::Backing(name.to_owned()),
            (false, false, true) => Reach::Adhesive(name.to_owned()),
            _ => Reach::Anything,
        }
    };
    match change.file.as_str() {
        "tapes.csv" => Reach::Tape(line.name.clone()),
        "facts.csv" => of_subject(line.cell("subject")),
        "pairs.csv" => of_subject(line.cell("material")),
        "criteria.toml" => match line.name.strip_prefix("criterion ") {
            Some(id) => Reach::Criterion(id.to_owned()),
            None => Reach::Anything,
        },
        "sources.yml" | "cautions.toml" | "jurisdictions.toml" | "ranges.csv" | "accepted.toml" | "wordings.csv" => {
            Reach::Paper
        }
        file if crate::load::is_enquiry(file) => Reach::Enquiry(line.name.clone()),
        _ => Reach::Anything,
    }
}

/// Units that can be made at once and told apart all the same: of one kind, with different names. Those
/// that can reach anything are one round, to be halved.
pub(super) fn rounds(units: Vec<Unit>) -> Vec<Vec<Unit>> {
    let mut rounds: BTreeMap<(u8, usize), Vec<Unit>> = BTreeMap::new();
    let mut seen: BTreeMap<Reach, usize> = BTreeMap::new();
    for unit in units {
        let turn = match unit.reach {
            Reach::Paper | Reach::Anything => 0,
            _ => {
                let turn = seen.entry(unit.reach.clone()).or_insert(0);
                *turn += 1;
                *turn
            }
        };
        rounds.entry((unit.reach.kind(), turn)).or_default().push(unit);
    }
    rounds.into_values().collect()
}
