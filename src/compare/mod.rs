//! What a change of the data does: the rows that differ, the answers that move, and which row moves which.

mod answers;
mod causes;
mod lines;
mod rows;
mod still;
mod units;

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::Serialize;

use answers::{Answer, Answers, Key, Scope, Shown};
pub use causes::{Cause, Cell, Overturned, Turned};
pub use rows::{CellChange, Change, RowChange, Written, rows};
pub use still::Still;

use crate::fault::Faults;
use crate::judge::Verdict;
use crate::load::{self, Folder};

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
    /// The changes that move nothing, and why.
    pub still: Vec<Still>,
    /// Every enquiry in which something moved.
    pub moved: Vec<Moved>,
    /// Enquiries that only the older folder has.
    pub gone: Vec<String>,
    /// Enquiries that only the newer folder has.
    pub come: Vec<String>,
    /// How many enquiries were judged before and after.
    pub judged: usize,
    /// The versions that the two folders say they are.
    #[serde(skip)]
    pub versions: [String; 2],
}

/// Compares two data folders by the enquiries of each, or by those of a third.
///
/// # Errors
/// Data or an enquiry that does not load.
pub fn compare(old: &Folder, new: &Folder, enquiries: Option<&Folder>) -> Result<Comparison, Faults> {
    let asked = (enquiries.unwrap_or(old), enquiries.unwrap_or(new));
    let all = Scope::default();
    let both = rayon::join(|| Answers::of(old, asked.0, &all), || Answers::of(new, asked.1, &all));
    let (before, after) = (in_folder(old, both.0)?, in_folder(new, both.1)?);
    let mut changes = rows(old, new)?;
    if enquiries.is_some() {
        changes.retain(|change| !load::is_enquiry(&change.file));
    }
    let found = causes::find(old, new, enquiries, &changes, &before, &after);
    let numbers: BTreeSet<&String> = before.of.keys().chain(after.of.keys()).collect();
    let (both, one): (Vec<&String>, Vec<&String>) =
        numbers.into_iter().partition(|number| before.of.contains_key(*number) && after.of.contains_key(*number));
    let all = both.iter().map(|number| difference(number, &before.of[*number], &after.of[*number]));
    let moved = all.filter(|m| !m.is_still() || m.order_before.is_some() || !m.restated.is_empty()).collect();
    let (gone, fresh) = one.into_iter().cloned().partition(|number| before.of.contains_key(number));
    Ok(Comparison {
        causes: found.causes,
        together: found.together,
        still: still::told(found.still, &changes, new),
        changes,
        moved,
        gone,
        come: fresh,
        judged: both.len(),
        versions: [before.version, after.version],
    })
}

/// What two states of a data folder answer differently, by enquiry, in the order of their numbers.
///
/// # Errors
/// A state that does not load.
pub fn moved(before: &Folder, after: &Folder) -> Result<Vec<Moved>, Faults> {
    let all = Scope::default();
    let (old, new) = rayon::join(|| Answers::of(before, before, &all), || Answers::of(after, after, &all));
    let (old, new) = (old?, new?);
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
    let candidates = tapes.into_iter().filter(|tape| was.verdict(tape) != is.verdict(tape)).map(|tape| {
        let mut whole = of(tape, None, None, [None, None]);
        (whole.before, whole.after) = (was.verdict(tape), is.verdict(tape));
        whole
    });
    let cells = answers::moved(was, is).into_iter().map(|key| {
        let pair = [was.shown(&key), is.shown(&key)];
        let (tape, exposure, criterion): Key = key;
        of(&tape, exposure, Some(criterion), pair)
    });
    let (findings, restated) = cells.partition(Move::flips);
    let (before, after) = (was.order(), is.order());
    let moves = before != after;
    Moved {
        enquiry: number.to_owned(),
        proposed_before: before.first().cloned(),
        proposed_after: after.first().cloned(),
        order_before: moves.then_some(before),
        order_after: moves.then_some(after),
        candidates: candidates.collect(),
        findings,
        restated,
    }
}

/// Faults with the folder named before the file, since there are two.
fn in_folder<T>(folder: &Folder, result: Result<T, Faults>) -> Result<T, Faults> {
    result.map_err(|faults| faults.below(&folder.root.display().to_string()))
}
