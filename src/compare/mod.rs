//! What a change of the data does: the rows that differ, the answers that move, and which row moves which.

mod answers;
mod causes;
mod lines;
mod rows;

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;

use answers::{Answer, Answers, Key, Shown};
pub use causes::{Cause, Cell, Overturned};
pub use rows::{CellChange, Change, RowChange, Written, rows};

use crate::fault::Faults;
use crate::judge::Verdict;
use crate::load::Folder;

/// An answer that is another than before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Move {
    /// The tape.
    pub tape: String,
    /// The exposure, if the criterion is about one.
    pub exposure: Option<String>,
    /// The criterion; none for the candidate as a whole.
    pub criterion: Option<String>,
    /// The verdict before; none where nothing was asked.
    pub before: Option<Verdict>,
    /// The verdict after.
    pub after: Option<Verdict>,
    /// The number before, with spread and unit, or what was missing.
    pub value_before: String,
    /// The number after.
    pub value_after: String,
    /// The margin before.
    pub margin_before: String,
    /// The margin after.
    pub margin_after: String,
}

impl Move {
    /// What the change is: an open question settled, a settled one open again, or an answer overturned.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match (self.before, self.after) {
            (Some(Verdict::Unproven), Some(_)) => "settled",
            (Some(_), Some(Verdict::Unproven)) => "open again",
            (None, _) => "new",
            (_, None) => "gone",
            (before, after) if before == after => "restated",
            _ => "changed",
        }
    }

    /// True if the verdict is another.
    #[must_use]
    pub fn flips(&self) -> bool {
        self.before != self.after
    }
}

/// What moved in one enquiry.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Moved {
    /// The enquiry.
    pub enquiry: String,
    /// The proposed tape before.
    pub proposed_before: Option<String>,
    /// The proposed tape after.
    pub proposed_after: Option<String>,
    /// The candidates that were not ruled out, best first, where their order is another.
    pub order_before: Option<Vec<String>>,
    /// The candidates that are not ruled out now.
    pub order_after: Option<Vec<String>>,
    /// Candidates whose verdict changed.
    pub candidates: Vec<Move>,
    /// Findings whose verdict changed.
    pub findings: Vec<Move>,
    /// Findings that keep their verdict and have another number.
    pub restated: Vec<Move>,
}

impl Moved {
    /// True if no verdict and no proposal moved.
    #[must_use]
    pub fn is_still(&self) -> bool {
        self.proposed_before == self.proposed_after && self.candidates.is_empty() && self.findings.is_empty()
    }
}

/// What differs between two data folders, and what that does.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Comparison {
    /// The rows that differ.
    pub changes: Vec<RowChange>,
    /// What moves what, the gravest first.
    pub causes: Vec<Cause>,
    /// What only several changes together move.
    pub together: Option<Cause>,
    /// The changes, by position, that move nothing.
    pub still: Vec<usize>,
    /// Every enquiry in which something moved.
    pub moved: Vec<Moved>,
    /// Enquiries that only the older folder has.
    pub gone: Vec<String>,
    /// Enquiries that only the newer folder has.
    pub new: Vec<String>,
    /// How many enquiries were judged before and after.
    pub judged: usize,
}

/// Compares two data folders by the enquiries of each, or by those of a third.
///
/// # Errors
/// Data or an enquiry that does not load.
pub fn compare(old: &Folder, new: &Folder, enquiries: Option<&Folder>) -> Result<Comparison, Faults> {
    let asked = (enquiries.unwrap_or(old), enquiries.unwrap_or(new));
    let (before, after) = (Answers::of(old, asked.0)?, Answers::of(new, asked.1)?);
    let mut changes = rows(old, new)?;
    if enquiries.is_some() {
        changes.retain(|change| !change.file.starts_with("enquiries/"));
    }
    let found = causes::find(old, enquiries, &changes, &before, &after);
    let none = Answer::default();
    let pair = |number: &String| (before.of.get(number).unwrap_or(&none), after.of.get(number).unwrap_or(&none));
    let numbers: BTreeSet<&String> = before.of.keys().chain(after.of.keys()).collect();
    let (both, one): (Vec<&String>, Vec<&String>) =
        numbers.into_iter().partition(|number| before.of.contains_key(*number) && after.of.contains_key(*number));
    let all = both.iter().map(|number| {
        let (was, is) = pair(number);
        difference(number, was, is)
    });
    let moved = all.filter(|m| !m.is_still() || m.order_before.is_some() || !m.restated.is_empty()).collect();
    let (gone, new) = one.into_iter().cloned().partition(|number| before.of.contains_key(number));
    Ok(Comparison {
        changes,
        causes: found.causes,
        together: found.together,
        still: found.still,
        moved,
        gone,
        new,
        judged: both.len(),
    })
}

/// What two states of a data folder answer differently, by enquiry, in the order of their numbers.
///
/// # Errors
/// A state that does not load.
pub fn moved(before: &Folder, after: &Folder) -> Result<Vec<Moved>, Faults> {
    let (old, new) = (Answers::of(before, before)?, Answers::of(after, after)?);
    let none = Answer::default();
    let all = new.of.iter().map(|(number, is)| difference(number, old.of.get(number).unwrap_or(&none), is));
    Ok(all.collect())
}

fn difference(number: &str, was: &Answer, is: &Answer) -> Moved {
    let of = |tape: &str, exposure: Option<String>, criterion: Option<String>, pair: [Option<&Shown>; 2]| {
        let [before, after] = pair.map(|shown| shown.map(|s| s.verdict));
        let [value_before, value_after] = pair.map(|shown| shown.map(|s| s.value.clone()).unwrap_or_default());
        let [margin_before, margin_after] = pair.map(|shown| shown.map(|s| s.margin.clone()).unwrap_or_default());
        let tape = tape.to_owned();
        Move { tape, exposure, criterion, before, after, value_before, value_after, margin_before, margin_after }
    };
    let tapes: BTreeSet<&String> = was.candidates.keys().chain(is.candidates.keys()).collect();
    let candidates =
        tapes.into_iter().filter(|tape| was.candidates.get(*tape) != is.candidates.get(*tape)).map(|tape| {
            let mut whole = of(tape, None, None, [None, None]);
            (whole.before, whole.after) = (was.candidates.get(tape).copied(), is.candidates.get(tape).copied());
            whole
        });
    let cells = answers::moved(was, is).into_iter().map(|key| {
        let pair = [was.cells.get(&key), is.cells.get(&key)];
        let (tape, exposure, criterion): Key = key;
        of(&tape, exposure, Some(criterion), pair)
    });
    let (findings, restated) = cells.partition(Move::flips);
    let order = |answer: &Answer| (was.order != is.order).then(|| answer.order.clone());
    Moved {
        enquiry: number.to_owned(),
        proposed_before: was.proposed.clone(),
        proposed_after: is.proposed.clone(),
        order_before: order(was),
        order_after: order(is),
        candidates: candidates.collect(),
        findings,
        restated,
    }
}

/// Answers by enquiry, for what has none.
type ByEnquiry<'a> = BTreeMap<&'a str, BTreeSet<Key>>;
