//! Which change moves which answer: each is made to the old folder by itself, and what it can reach is
//! judged again.
//!
//! Changes that cannot meet in a cell are made in one go and told apart afterwards, so that a new catalogue
//! of a thousand tapes takes a few judgings and not a thousand; the order of candidates is made for each
//! change by itself. The two folders as wholes are always judged in full, so that what no change is found to
//! move by itself is told as moved by several together, and nothing is lost.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;

use super::RowChange;
use super::answers::{Answer, Answers, Key, Scope, moved};
use super::rows::changed;
use super::units::{Reach, Unit, rounds, units};
use crate::judge::Verdict;
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

/// A candidate that gets another verdict, comes or goes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Turned {
    /// The enquiry.
    pub enquiry: String,
    /// The tape.
    pub tape: String,
    /// The verdict before; none for one that comes.
    pub before: Option<Verdict>,
    /// The verdict after; none for one that goes.
    pub after: Option<Verdict>,
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
    /// The candidates whose verdict changes.
    pub candidates: Vec<Turned>,
    /// The findings whose verdict changes.
    pub flips: Vec<Cell>,
    /// The findings whose number or margin changes and whose verdict does not, by this alone.
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

/// Finds what each change moves.
pub(super) fn find(
    old: &Folder,
    new: &Folder,
    enquiries: Option<&Folder>,
    changes: &[RowChange],
    before: &Answers,
    after: &Answers,
) -> Found {
    let total = before.of.iter().filter_map(|(number, was)| Some((number.as_str(), moved(was, after.of.get(number)?))));
    let total = total.collect();
    let mut base = old.clone();
    base.files.insert("sources.yml".to_owned(), super::lines::all_sources(old, new));
    let mut trial = Trial { base, enquiries, changes, before, after, total, causes: Vec::new(), tied: Vec::new() };
    let all = units(changes, before, after);
    let (paper, live): (Vec<Unit>, Vec<Unit>) = all.iter().cloned().partition(|unit| unit.reach == Reach::Paper);
    if let ([only], true) = (live.as_slice(), paper.is_empty()) {
        // All that differs is the cause of all that moves.
        trial.lay(only, after);
    } else {
        for round in rounds(live) {
            trial.run(round);
        }
    }
    if !trial.tied.is_empty() {
        let tied = Unit { changes: std::mem::take(&mut trial.tied), reach: Reach::Anything };
        trial.run(vec![tied]);
    }
    let mut together = trial.together();
    if together.is_still() {
        trial.causes.extend(paper.into_iter().map(|unit| Cause { changes: unit.changes, ..Cause::default() }));
    } else {
        trial.run(paper);
        together = trial.together();
    }
    together.changes = trial.movers(&together, &all);
    together.changes.extend(&trial.tied);
    together.changes.sort_unstable();
    together.changes.dedup();
    let (still, mut causes): (Vec<Cause>, Vec<Cause>) = trial.causes.into_iter().partition(Cause::is_still);
    let mut still: Vec<usize> = still.into_iter().flat_map(|cause| cause.changes).collect();
    still.retain(|at| together.is_still() || !together.changes.contains(at));
    still.sort_unstable();
    causes.sort_by(|a, b| (a.gravity(), &a.changes).cmp(&(b.gravity(), &b.changes)));
    Found { causes, together: (!together.changes.is_empty()).then_some(together), still }
}

struct Trial<'a> {
    /// The old folder, with the sources of both.
    base: Folder,
    enquiries: Option<&'a Folder>,
    changes: &'a [RowChange],
    before: &'a Answers,
    after: &'a Answers,
    /// All cells that move, by enquiry.
    total: BTreeMap<&'a str, BTreeSet<Key>>,
    causes: Vec<Cause>,
    /// Changes that do not load by themselves.
    tied: Vec<usize>,
}

impl Trial<'_> {
    /// Makes the changes of a round, judges what they can reach, and says what each unit moved.
    fn run(&mut self, round: Vec<Unit>) {
        let Some(first) = round.first() else { return };
        let at: Vec<usize> = round.iter().flat_map(|unit| unit.changes.iter().copied()).collect();
        let answers = self.judged(&at, &self.scope(&round));
        let shared = matches!(first.reach, Reach::Anything | Reach::Paper);
        match answers {
            Some(answers) if round.len() == 1 || !shared => round.iter().for_each(|unit| self.lay(unit, &answers)),
            Some(answers) if self.is_still(&answers) => {
                self.causes.extend(round.into_iter().map(|unit| Cause { changes: unit.changes, ..Cause::default() }));
            }
            None if round.len() == 1 => self.tied.extend(at),
            _ => {
                let mut first = round;
                let second = first.split_off(first.len() / 2);
                self.run(first);
                self.run(second);
            }
        }
    }

    /// The old folder with some changes, judged; none if it does not load.
    fn judged(&self, changes: &[usize], scope: &Scope) -> Option<Answers> {
        let changes: Vec<&RowChange> = changes.iter().map(|at| &self.changes[*at]).collect();
        let data = changed(&self.base, &changes);
        Answers::of(&data, self.enquiries.unwrap_or(&data), scope).ok()
    }

    fn is_still(&self, answers: &Answers) -> bool {
        self.before.of.iter().all(|(number, was)| {
            answers.of.get(number).is_some_and(|is| {
                was.candidates.keys().eq(is.candidates.keys()) && moved(was, is).is_empty() && was.order() == is.order()
            })
        })
    }

    /// The tapes that have a material as backing, 0, or adhesive, 1, before or after.
    fn made_of(&self, part: usize, material: &str) -> BTreeSet<String> {
        let both = self.before.made_of.iter().chain(&self.after.made_of);
        both.filter(|(_, of)| of[part] == material).map(|(tape, _)| tape.clone()).collect()
    }

    fn tapes(&self, reach: &Reach) -> BTreeSet<String> {
        match reach {
            Reach::Tape(tape) => BTreeSet::from([tape.clone()]),
            Reach::Backing(material) => self.made_of(0, material),
            Reach::Adhesive(material) => self.made_of(1, material),
            _ => BTreeSet::new(),
        }
    }

    /// All that the units of a round can reach, which are of one kind.
    fn scope(&self, round: &[Unit]) -> Scope {
        let mut scope = Scope::default();
        for unit in round {
            match &unit.reach {
                Reach::Paper | Reach::Anything => {}
                Reach::Criterion(id) => {
                    scope.criteria.get_or_insert_default().insert(id.clone());
                }
                Reach::Enquiry(number) => {
                    scope.enquiries.get_or_insert_default().insert(number.clone());
                }
                reach => scope.tapes.get_or_insert_default().extend(self.tapes(reach)),
            }
        }
        scope
    }

    /// Lays to a unit what it moves: of some answers what it can reach, all else as before.
    fn lay(&mut self, unit: &Unit, answers: &Answers) {
        let tapes = self.tapes(&unit.reach);
        let mut cause = Cause { changes: unit.changes.clone(), ..Cause::default() };
        for (number, was) in &self.before.of {
            let (Some(trial), Some(end)) = (answers.of.get(number), self.after.of.get(number)) else { continue };
            let is = match &unit.reach {
                Reach::Paper | Reach::Anything => trial.clone(),
                Reach::Enquiry(own) if own == number => trial.clone(),
                Reach::Enquiry(_) => continue,
                Reach::Criterion(id) => was.with_criterion(trial, id),
                _ => was.with_tapes(trial, &tapes),
            };
            self.add(&mut cause, number, [was, &is, end]);
        }
        self.causes.push(cause);
    }

    /// What moves by itself, of what moves in all.
    fn add(&self, cause: &mut Cause, number: &str, [was, is, end]: [&Answer; 3]) {
        let none = BTreeSet::new();
        let total = self.total.get(number).unwrap_or(&none);
        for key in moved(was, is).into_iter().filter(|key| total.contains(key)) {
            let [old, own, new] = [was, is, end].map(|answer| answer.shown(&key).map(|shown| shown.verdict));
            let (tape, exposure, criterion) = key;
            let cell = Cell { enquiry: number.to_owned(), tape, exposure, criterion };
            if old != new && old != own { cause.flips.push(cell) } else { cause.restated.push(cell) }
        }
        let tapes: BTreeSet<&String> = was.candidates.keys().chain(end.candidates.keys()).collect();
        for tape in tapes {
            let [before, own, after] = [was, is, end].map(|answer| answer.verdict(tape));
            if before != after && before != own {
                let (enquiry, tape) = (number.to_owned(), tape.clone());
                cause.candidates.push(Turned { enquiry, tape, before, after });
            }
        }
        let [before, own, after] = [was, is, end].map(Answer::order);
        if before != after && before != own {
            cause.orders.push(number.to_owned());
        }
        let [before, own, after] = [before, own, after].map(|order| order.first().cloned());
        if before != after && before != own {
            cause.overturned.push(Overturned { enquiry: number.to_owned(), before, after });
        }
    }

    /// All that moves and is laid to no change by itself.
    fn together(&self) -> Cause {
        let mut all = Cause::default();
        for (number, was) in &self.before.of {
            if let Some(end) = self.after.of.get(number) {
                self.add(&mut all, number, [was, end, end]);
            }
        }
        let flips: BTreeSet<&Cell> = self.causes.iter().flat_map(|c| &c.flips).collect();
        let restated: BTreeSet<&Cell> = self.causes.iter().flat_map(|c| &c.restated).collect();
        all.flips.retain(|cell| !flips.contains(cell));
        all.restated.retain(|cell| !flips.contains(cell) && !restated.contains(cell));
        all.overturned.retain(|one| !self.causes.iter().any(|c| c.overturned.contains(one)));
        all.orders.retain(|one| !self.causes.iter().any(|c| c.orders.contains(one)));
        all.candidates.retain(|one| !self.causes.iter().any(|c| c.candidates.contains(one)));
        all
    }

    /// The changes that a cause of several needs: those that reach its cells, if they suffice; else all.
    fn movers(&self, together: &Cause, units: &[Unit]) -> Vec<usize> {
        if together.is_still() {
            return Vec::new();
        }
        let cells: Vec<&Cell> = together.flips.iter().chain(&together.restated).collect();
        let tapes = |reach: &Reach| self.tapes(reach);
        let reaches = |unit: &&Unit| match &unit.reach {
            Reach::Paper => false,
            Reach::Anything => true,
            Reach::Criterion(id) => cells.iter().any(|cell| cell.criterion == *id),
            Reach::Enquiry(number) => cells.iter().any(|cell| cell.enquiry == *number),
            reach => cells.iter().any(|cell| tapes(reach).contains(&cell.tape)),
        };
        let near: Vec<usize> = units.iter().filter(reaches).flat_map(|unit| unit.changes.clone()).collect();
        let is_moved = |answers: &Answers| {
            cells.iter().all(|cell| {
                let key = (cell.tape.clone(), cell.exposure.clone(), cell.criterion.clone());
                let shown = |answers: &Answers| answers.of.get(&cell.enquiry).and_then(|a| a.shown(&key).cloned());
                shown(answers) == shown(self.after)
            })
        };
        let suffice = !cells.is_empty() && self.judged(&near, &Scope::default()).is_some_and(|a| is_moved(&a));
        if suffice { near } else { units.iter().flat_map(|unit| unit.changes.clone()).collect() }
    }
}
