//! Which change moves which answer: each is made to the old folder by itself, and the folder judged again.
//!
//! Changes that cannot meet in a cell are made together, so that a new catalogue of a thousand tapes takes a
//! few judgings and not a thousand: a change of one tape moves no cell of another, one of a criterion no
//! cell of another criterion. Where a cell moves that none of them reaches, they are made one by one.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;

use super::answers::{Answer, Answers, Key, moved};
use super::rows::{Change, changed};
use super::{ByEnquiry, RowChange};
use crate::load::Folder;

/// A proposal that becomes another.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Overturned {
    /// The enquiry.
    pub enquiry: String,
    /// The proposed tape before.
    pub before: Option<String>,
    /// The proposed tape after.
    pub after: Option<String>,
}

/// A moved cell, named.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
pub struct Cell {
    /// The enquiry.
    pub enquiry: String,
    /// The tape.
    pub tape: String,
    /// The exposure.
    pub exposure: Option<String>,
    /// The criterion.
    pub criterion: String,
}

/// What some changes move.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Cause {
    /// The changes, by position.
    pub changes: Vec<usize>,
    /// Proposals that become others.
    pub overturned: Vec<Overturned>,
    /// Enquiries whose order of candidates changes.
    pub orders: Vec<String>,
    /// Enquiry and tape of each candidate whose verdict changes.
    pub candidates: Vec<(String, String)>,
    /// The findings whose verdict changes.
    pub flips: Vec<Cell>,
    /// The findings that keep their verdict and have another number.
    pub restated: Vec<Cell>,
}

impl Cause {
    /// True if nothing moves.
    #[must_use]
    pub fn is_still(&self) -> bool {
        self.overturned.is_empty() && self.orders.is_empty() && self.candidates.is_empty() && self.cells() == 0
    }

    /// How many cells move.
    #[must_use]
    pub fn cells(&self) -> usize {
        self.flips.len() + self.restated.len()
    }

    /// The enquiries in which something moves.
    #[must_use]
    pub fn enquiries(&self) -> BTreeSet<&str> {
        let cells = self.flips.iter().chain(&self.restated).map(|cell| cell.enquiry.as_str());
        let overturned = self.overturned.iter().map(|o| o.enquiry.as_str());
        cells.chain(overturned).chain(self.orders.iter().map(String::as_str)).collect()
    }

    fn gravity(&self) -> [usize; 5] {
        let counts = [self.overturned.len(), self.candidates.len(), self.flips.len(), self.orders.len(), self.cells()];
        counts.map(|count| usize::MAX - count)
    }
}

/// What was found.
pub(super) struct Found {
    pub(super) causes: Vec<Cause>,
    pub(super) together: Option<Cause>,
    pub(super) still: Vec<usize>,
}

/// The cells that a change can reach.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Reach {
    /// What is printed beside the answers: no cell, unless shown otherwise.
    Paper,
    Tape(String),
    Criterion(String),
    Backing(String),
    Adhesive(String),
    Enquiry(String),
    Anything(usize),
}

impl Reach {
    /// Changes of the same kind with other names cannot meet in a cell.
    fn kind(&self) -> u8 {
        match self {
            Reach::Paper => 0,
            Reach::Tape(_) => 1,
            Reach::Criterion(_) => 2,
            Reach::Backing(_) => 3,
            Reach::Adhesive(_) => 4,
            Reach::Enquiry(_) => 5,
            Reach::Anything(_) => 6,
        }
    }
}

/// Changes that are made together because one needs the other, and what they can reach.
struct Unit {
    changes: Vec<usize>,
    reach: Reach,
}

/// Finds what each change moves.
pub(super) fn find(
    old: &Folder,
    enquiries: Option<&Folder>,
    changes: &[RowChange],
    before: &Answers,
    after: &Answers,
) -> Found {
    let trial = Trial { old, enquiries, changes, before, after };
    let total = trial.cells(after);
    let mut causes: Vec<Cause> = Vec::new();
    for round in rounds(units(changes, before, after)) {
        trial.run(round, &total, &mut causes);
    }
    let known = |cell: &Cell| causes.iter().any(|c| c.flips.contains(cell));
    let moved = |cell: &Cell| known(cell) || causes.iter().any(|c| c.restated.contains(cell));
    let all = trial.cause(Vec::new(), after, &total, &|_, _| true);
    let mut together = Cause { changes: (0..changes.len()).collect(), ..all };
    together.flips.retain(|cell| !known(cell));
    together.restated.retain(|cell| !moved(cell));
    together.overturned.retain(|one| !causes.iter().any(|c| c.overturned.iter().any(|o| o.enquiry == one.enquiry)));
    together.orders.retain(|one| !causes.iter().any(|c| c.orders.contains(one)));
    together.candidates.retain(|one| !causes.iter().any(|c| c.candidates.contains(one)));
    let (still, mut causes): (Vec<Cause>, Vec<Cause>) = causes.into_iter().partition(Cause::is_still);
    let mut still: Vec<usize> = still.into_iter().flat_map(|cause| cause.changes).collect();
    still.sort_unstable();
    causes.sort_by(|a, b| (a.gravity(), &a.changes).cmp(&(b.gravity(), &b.changes)));
    Found { causes, together: (!together.is_still()).then_some(together), still }
}

struct Trial<'a> {
    old: &'a Folder,
    enquiries: Option<&'a Folder>,
    changes: &'a [RowChange],
    before: &'a Answers,
    after: &'a Answers,
}

impl Trial<'_> {
    /// The cells that some answers move, by enquiry; those of enquiries that one side lacks are no move.
    fn cells<'s>(&'s self, answers: &'s Answers) -> ByEnquiry<'s> {
        let both = answers.of.iter().filter_map(|(number, is)| Some((number, self.before.of.get(number)?, is)));
        both.map(|(number, was, is)| (number.as_str(), moved(was, is))).filter(|(_, cells)| !cells.is_empty()).collect()
    }

    /// Makes the changes of a round, judges, and says what each unit moved.
    fn run(&self, round: Vec<Unit>, total: &ByEnquiry<'_>, causes: &mut Vec<Cause>) {
        let all: Vec<&RowChange> = round.iter().flat_map(|unit| &unit.changes).map(|at| &self.changes[*at]).collect();
        let data = changed(self.old, &all);
        let answers = Answers::of(&data, self.enquiries.unwrap_or(&data)).ok();
        let moves = answers.as_ref().map(|answers| self.cells(answers));
        let strays = |moves: &ByEnquiry<'_>| {
            let reached = |number: &str, key: &Key| round.iter().any(|unit| self.reaches(&unit.reach, number, key));
            moves.iter().any(|(number, cells)| cells.iter().any(|key| !reached(number, key)))
        };
        let whole = moves.as_ref().is_some_and(|moves| !strays(moves));
        match (whole, round.len(), answers) {
            // It cannot be made by itself, or moves what it should not reach: then half of it at a time.
            (false, 2.., _) => {
                let mut first = round;
                let second = first.split_off(first.len() / 2);
                self.run(first, total, causes);
                self.run(second, total, causes);
            }
            (_, _, None) => {}
            (whole, count, Some(answers)) => {
                for unit in round {
                    let all = |_: &str, _: &Key| true;
                    let own = |number: &str, key: &Key| self.reaches(&unit.reach, number, key);
                    let alone = count == 1;
                    let reached: &dyn Fn(&str, &Key) -> bool = if alone || !whole { &all } else { &own };
                    causes.push(self.cause(unit.changes.clone(), &answers, total, reached));
                }
            }
        }
    }

    /// What answers move of what moves in all, as far as it is reached.
    fn cause(
        &self,
        changes: Vec<usize>,
        answers: &Answers,
        total: &ByEnquiry<'_>,
        reached: &dyn Fn(&str, &Key) -> bool,
    ) -> Cause {
        let mut cause = Cause { changes, ..Cause::default() };
        for (number, is) in &answers.of {
            let (Some(was), Some(end)) = (self.before.of.get(number), self.after.of.get(number)) else { continue };
            let none = BTreeSet::new();
            let finally = total.get(number.as_str()).unwrap_or(&none);
            let own: Vec<Key> =
                moved(was, is).into_iter().filter(|key| finally.contains(key) && reached(number, key)).collect();
            for key in &own {
                let verdict = |answer: &Answer| answer.cells.get(key).map(|shown| shown.verdict);
                let (tape, exposure, criterion) = key.clone();
                let cell = Cell { enquiry: number.clone(), tape, exposure, criterion };
                let flips = verdict(was) != verdict(end) && verdict(was) != verdict(is);
                if flips { cause.flips.push(cell) } else { cause.restated.push(cell) }
            }
            let tapes: BTreeSet<&str> = own.iter().map(|(tape, ..)| tape.as_str()).collect();
            // Of a round that several changes share, a candidate counts for the change that moved one of its cells.
            let touches = |tape: &str| tapes.contains(tape) || reached(number, &(tape.to_owned(), None, String::new()));
            let names: BTreeSet<&String> = was.candidates.keys().chain(end.candidates.keys()).collect();
            for tape in names {
                let differs = |a: &Answer, b: &Answer| a.candidates.get(tape) != b.candidates.get(tape);
                if differs(was, end) && differs(was, is) && touches(tape) {
                    cause.candidates.push((number.clone(), tape.clone()));
                }
            }
            let places = |answer: &Answer, tape: &str| answer.order.iter().position(|other| other == tape);
            let shifts = |tape: &String| places(was, tape) != places(is, tape) && touches(tape);
            if was.order != end.order && was.order.iter().chain(&is.order).any(shifts) {
                cause.orders.push(number.clone());
            }
            let proposed = [&was.proposed, &is.proposed];
            if was.proposed != end.proposed
                && was.proposed != is.proposed
                && proposed.iter().filter_map(|tape| tape.as_deref()).any(touches)
            {
                let (before, after) = (was.proposed.clone(), end.proposed.clone());
                cause.overturned.push(Overturned { enquiry: number.clone(), before, after });
            }
        }
        cause
    }

    fn reaches(&self, reach: &Reach, number: &str, (tape, _, criterion): &Key) -> bool {
        let made_of = |at: usize, material: &String| {
            [self.before, self.after].iter().any(|a| a.made_of.get(tape).is_some_and(|of| of[at] == *material))
        };
        match reach {
            Reach::Paper => false,
            Reach::Anything(_) => true,
            Reach::Tape(own) => own == tape,
            Reach::Criterion(own) => own == criterion,
            Reach::Backing(own) => made_of(0, own),
            Reach::Adhesive(own) => made_of(1, own),
            Reach::Enquiry(own) => own == number,
        }
    }
}

/// The changes, those together that cannot be made alone: a row that comes or goes with what refers to it.
fn units(changes: &[RowChange], before: &Answers, after: &Answers) -> Vec<Unit> {
    let comes_or_goes = |file: &str| -> BTreeSet<String> {
        let whole = changes.iter().filter(|c| c.file == file && c.change != Change::Changed);
        whole.map(|c| c.row.clone()).collect()
    };
    let (tapes, materials) = (comes_or_goes("tapes.csv"), comes_or_goes("materials.csv"));
    let mut units: Vec<Unit> = Vec::new();
    let mut joined: BTreeMap<String, usize> = BTreeMap::new();
    for (at, change) in changes.iter().enumerate() {
        let names = change.sides().flat_map(|line| ["tape", "id", "subject", "material"].map(|c| line.cell(c)));
        let needs = names.filter(|name| tapes.contains(*name) || materials.contains(*name)).map(str::to_owned).next();
        if let Some(name) = needs {
            if let Some(unit) = joined.get(&name) {
                units[*unit].changes.push(at);
            } else {
                joined.insert(name.clone(), units.len());
                let reach = if tapes.contains(&name) { Reach::Tape(name) } else { Reach::Anything(at) };
                units.push(Unit { changes: vec![at], reach });
            }
            continue;
        }
        units.push(Unit { changes: vec![at], reach: reach(at, change, before, after) });
    }
    units
}

fn reach(at: usize, change: &RowChange, before: &Answers, after: &Answers) -> Reach {
    let Some(line) = change.line() else { return Reach::Anything(at) };
    let of_subject = |name: &str| {
        let is =
            |index: usize| [before, after].iter().any(|answers| answers.made_of.values().any(|of| of[index] == name));
        match (before.made_of.contains_key(name) || after.made_of.contains_key(name), is(0), is(1)) {
            (true, ..) => Reach::Tape(name.to_owned()),
            (false, true, false) => Reach::Backing(name.to_owned()),
            (false, false, true) => Reach::Adhesive(name.to_owned()),
            _ => Reach::Anything(at),
        }
    };
    match change.file.as_str() {
        "tapes.csv" => Reach::Tape(line.name.clone()),
        "facts.csv" => of_subject(line.cell("subject")),
        "pairs.csv" => of_subject(line.cell("material")),
        "materials.csv" => Reach::Anything(at),
        "criteria.toml" => match line.name.strip_prefix("criterion ") {
            Some(id) => Reach::Criterion(id.to_owned()),
            None => Reach::Anything(at),
        },
        file if file.starts_with("enquiries/") => Reach::Enquiry(line.name.clone()),
        _ => Reach::Paper,
    }
}

/// Units of a kind with different names go into the same round.
fn rounds(units: Vec<Unit>) -> Vec<Vec<Unit>> {
    let mut rounds: BTreeMap<(u8, usize), Vec<Unit>> = BTreeMap::new();
    let mut seen: BTreeMap<Reach, usize> = BTreeMap::new();
    for unit in units {
        let kind = unit.reach.kind();
        let turn = match unit.reach {
            Reach::Paper => 0,
            Reach::Anything(at) => at,
            _ => {
                let turn = seen.entry(unit.reach.clone()).or_insert(0);
                *turn += 1;
                *turn
            }
        };
        rounds.entry((kind, turn)).or_default().push(unit);
    }
    rounds.into_values().collect()
}
