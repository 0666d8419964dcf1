//! Why a change moves no answer.

use schemars::JsonSchema;
use serde::Serialize;

use super::RowChange;
use super::lines::{Line, lines};
use super::rows::Change;
use crate::evidence::Basis;
use crate::fault::Faults;
use crate::load::{self, Folder};

/// A change that moves nothing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Still {
    /// The change, by position.
    pub change: usize,
    /// Why, as far as it can be told.
    pub why: String,
}

/// Tells of each of some changes why it moves nothing.
pub(super) fn told(changes: Vec<usize>, all: &[RowChange], new: &Folder) -> Vec<Still> {
    let mut unread = Faults::default();
    let mut read = |file: &str| lines(file, new.text(file), &mut unread);
    let (facts, pairs, tapes) = (read("facts.csv"), read("pairs.csv"), read("tapes.csv"));
    let why = |change: &RowChange| match change.file.as_str() {
        "cautions.toml" | "jurisdictions.toml" => "printed in dossiers, judges nothing".to_owned(),
        "sources.yml" => "a reference, judges nothing".to_owned(),
        "ranges.csv" | "accepted.toml" => "read by `check`, judges nothing".to_owned(),
        "wordings.csv" => "read by `import`, judges nothing".to_owned(),
        file if load::is_enquiry(file) && change.change == Change::Added => "a new question".to_owned(),
        file if load::is_enquiry(file) && change.change == Change::Removed => "no longer asked".to_owned(),
        "tapes.csv" => of_tape(change, &facts, &tapes),
        "facts.csv" => better(change, &facts).unwrap_or_else(nothing),
        "pairs.csv" => better(change, &pairs).unwrap_or_else(nothing),
        _ => nothing(),
    };
    changes.into_iter().map(|at| Still { change: at, why: why(&all[at]) }).collect()
}

fn nothing() -> String {
    "no printed number hangs on it".to_owned()
}

/// A tape that is no candidate, or whose facts hold in the place of its sheet.
fn of_tape(change: &RowChange, facts: &[Line], tapes: &[Line]) -> String {
    if tapes.iter().any(|tape| tape.name == change.row && tape.cell("status") != "active") {
        return "the tape is not active".to_owned();
    }
    let place = |line: &Line| line.cells.values().next().map_or(0, |cell| cell.place.line);
    let overrides = change.cells.iter().filter_map(|cell| {
        let fact = facts.iter().find(|f| f.cell("subject") == change.row && f.cell("property") == cell.column)?;
        Some(format!("facts.csv line {} holds in the place of `{}`", place(fact), cell.column))
    });
    let told: Vec<String> = overrides.collect();
    if told.is_empty() { nothing() } else { told.join("; ") }
}

/// A row about the same that stands better.
fn better(change: &RowChange, rows: &[Line]) -> Option<String> {
    let rank = |line: &Line| Basis::ALL.iter().position(|basis| basis.text() == line.cell("basis"));
    let own = change.new.as_ref().or(change.old.as_ref())?;
    let better = rows.iter().filter(|row| row.about == own.about);
    let better = better.filter(|row| rank(row).zip(rank(own)).is_some_and(|(theirs, mine)| theirs < mine));
    let line = better.flat_map(|row| row.cells.values()).map(|cell| cell.place.line).min()?;
    Some(format!("{} line {line} about the same stands better and holds", change.file))
}
