//! The changed rows in words: what each said and what it says.

use std::collections::BTreeSet;

use crate::compare::{Cause, CellChange, Change, Comparison, RowChange, Written};
use crate::quantity::count;

/// A row with more cells that differ is told by their columns.
const CELLS: usize = 5;

/// The changed rows of a cause, a paragraph each; of a tape or material that comes or goes with many rows
/// that are about it, how many.
pub(super) fn heads(all: &Comparison, cause: &Cause) -> Vec<String> {
    let changes: Vec<&RowChange> = cause.changes.iter().map(|at| &all.changes[*at]).collect();
    let is_root = |change: &&RowChange| matches!(change.file.as_str(), "tapes.csv" | "materials.csv");
    let Some(root) = changes.iter().copied().find(is_root).filter(|root| root.change != Change::Changed) else {
        return changes.into_iter().map(head).collect();
    };
    let others: Vec<&RowChange> =
        changes.iter().copied().filter(|c| c.row != root.row || c.file != root.file).collect();
    if others.is_empty() {
        return vec![head(root)];
    }
    let files: BTreeSet<&str> = others.iter().map(|c| c.file.as_str()).collect();
    let files: Vec<&str> = files.into_iter().collect();
    let rows = count(others.len(), "row", "rows");
    vec![format!("{}, with {rows} that name it in {}", head(root), files.join(" and "))]
}

/// The changed row: where it stands, what it said and what it says.
pub(super) fn head(change: &RowChange) -> String {
    let line = |side: &Option<Written>| side.as_ref().map(|written| written.place.line);
    let cell = change.cells.first();
    let at = cell.and_then(|cell| line(&cell.after).or(line(&cell.before)));
    let at = at.map(|line| format!(" line {line}")).unwrap_or_default();
    format!("{}{at}, {}{}", change.file, change.row, what(change))
}

fn what(change: &RowChange) -> String {
    if change.change != Change::Changed {
        return format!(" {}", change.change.text());
    }
    let spread = |cell: &&CellChange| matches!(cell.column.as_str(), "value" | "low" | "high");
    let is_table = change.file == "facts.csv" || change.file == "pairs.csv";
    let number = is_table && change.cells.iter().any(|cell| spread(&cell));
    let mut told: Vec<String> = Vec::new();
    if number {
        told.push(format!("{} → {}", change.number_before(), change.number_after()));
    }
    let cells: Vec<&CellChange> = change.cells.iter().filter(|cell| !(is_table && spread(cell))).collect();
    if cells.len() > CELLS {
        let columns: Vec<&str> = cells.iter().map(|cell| cell.column.as_str()).collect();
        told.push(format!("{} cells, `{}`", cells.len(), columns.join("`, `")));
    } else {
        let said = |side: &Option<Written>| side.as_ref().map_or("blank".to_owned(), |written| short(&written.text));
        told.extend(cells.iter().map(|c| format!("`{}` {} → {}", c.column, said(&c.before), said(&c.after))));
    }
    format!(": {}", told.join("; "))
}

fn short(text: &str) -> String {
    match text.char_indices().nth(60) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}
