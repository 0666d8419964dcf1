//! Tables of comma-separated values: rows of cells, each with its place.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults, short};

use super::Lines;

/// One cell of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// The text, trimmed.
    pub text: String,
    /// Where it stands.
    pub place: Place,
}

/// One row of a table: its line, and its cells by column.
#[derive(Clone, Debug)]
pub struct Row {
    /// Where the row begins.
    pub place: Place,
    cells: BTreeMap<Arc<str>, Cell>,
}

impl Row {
    /// Every cell with its column, blank or not.
    pub fn cells(&self) -> impl Iterator<Item = (&str, &Cell)> {
        self.cells.iter().map(|(column, cell)| (column.as_ref(), cell))
    }

    /// The cell of a column, if it is not blank.
    #[must_use]
    pub fn get(&self, column: &str) -> Option<&Cell> {
        self.cells.get(column).filter(|cell| !cell.text.is_empty())
    }

    /// The text of a column, empty if blank.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        self.cells.get(column).map_or("", |cell| cell.text.as_str())
    }

    /// The place of a column's cell, blank or not.
    #[must_use]
    pub fn place(&self, column: &str) -> Place {
        self.cells.get(column).map_or_else(|| self.place.clone(), |cell| cell.place.clone())
    }

    /// The cell of a column that may not be blank.
    pub fn needed(&self, column: &'static str, faults: &mut Faults) -> Option<&Cell> {
        let cell = self.get(column);
        if cell.is_none() {
            faults.add(
                Fault::new(Code::KeyMissing, "an empty cell", format!("`{column}` in every row"), "fill it in")
                    .at(self.place(column)),
            );
        }
        cell
    }
}

/// A column that is read, by its name; none for one that is not.
type Column = Option<Arc<str>>;

/// The most columns that a head may have: the known ones and many of the user's own.
const COLUMNS: usize = 1000;

/// Reads a CSV table with the given columns: all of them must be there, others only if their head
/// starts with `x_`. Ragged rows are reported and left out.
pub fn table(file: &str, text: &str, columns: &[&str], faults: &mut Faults) -> Vec<Row> {
    let name: Arc<str> = file.into();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    let mut head: Option<Vec<Column>> = None;
    let mut rows = Vec::new();
    let lines = match Lines::of_table(file, text) {
        Ok(lines) => lines,
        Err(fault) => {
            faults.add(fault);
            return rows;
        }
    };
    if let Some((at, fault)) = open_quote(text, b',') {
        faults.add(fault.at(Place::line(name, lines.after_blank(text, at))));
        return rows;
    }
    let mut record = csv::StringRecord::new();
    // Text in memory and rows of any length leave nothing for the reader to refuse.
    while reader.read_record(&mut record).unwrap_or(false) {
        let offset = record.position().map_or(0, |p| usize::try_from(p.byte()).unwrap_or(usize::MAX));
        let mut line = lines.after_blank(text, offset);
        let Some(head) = &head else {
            if record.len() > COLUMNS {
                let found = format!("a head of {} columns", record.len());
                let needed = format!("at most {COLUMNS} columns");
                let fault = Fault::new(Code::ColumnUnknown, found, needed, "see whether it is the right file");
                faults.add(fault.at(Place::line(name, line)));
                return rows;
            }
            head = Some(read_head(&name, line, &record, columns, faults));
            continue;
        };
        let place = Place::line(name.clone(), line);
        if record.len() != head.len() {
            faults.add(
                Fault::new(
                    Code::RowRagged,
                    format!("{} cells", record.len()),
                    format!("{} cells, as in the head", head.len()),
                    "add or take out commas; put a text that contains a comma in double quotes",
                )
                .at(place),
            );
            continue;
        }
        let mut cells = BTreeMap::new();
        for (column, value) in head.iter().zip(&record) {
            if let Some(column) = column {
                let place = Place::cell(name.clone(), line, column.clone());
                cells.insert(column.clone(), Cell { text: value.trim().to_owned(), place });
            }
            line += u32::try_from(value.matches('\n').count()).unwrap_or(0);
        }
        rows.push(Row { place, cells });
    }
    if head.is_none() {
        faults.add(
            Fault::new(
                Code::ColumnMissing,
                "an empty file",
                "a head with the column names",
                format!("start with `{}`", columns.join(",")),
            )
            .at(Place::file(name)),
        );
    }
    rows
}

/// A cell that begins with a double quote which does not close where the cell ends: at which byte, and the fault.
#[must_use]
pub fn open_quote(text: &str, delimiter: u8) -> Option<(usize, Fault)> {
    let fault = |at| {
        let fault = Fault::new(
            Code::RowRagged,
            "a double quote that does not close where its cell ends",
            "quotes about a whole cell, and two of them for one in it",
            "close it, or take it out: what stands behind it would be read as one cell",
        );
        (at, fault)
    };
    stray_quote(text, delimiter).map(fault)
}

fn stray_quote(text: &str, delimiter: u8) -> Option<usize> {
    let ends = |byte: Option<&u8>| byte.is_none_or(|byte| *byte == delimiter || matches!(byte, b'\n' | b'\r'));
    let bytes = text.as_bytes();
    let (mut at, mut opened, mut is_start) = (0, None, true);
    while at < bytes.len() {
        match (opened, bytes[at]) {
            (Some(_), b'"') if bytes.get(at + 1) == Some(&b'"') => at += 1,
            (Some(start), b'"') => {
                if !ends(bytes.get(at + 1)) {
                    return Some(start);
                }
                (opened, is_start) = (None, false);
            }
            (Some(_), _) => {}
            (None, b'"') if is_start => opened = Some(at),
            (None, byte) => is_start = ends(Some(&byte)),
        }
        at += 1;
    }
    opened
}

/// The heads of a table.
#[must_use]
pub fn heads(text: &str) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    let first = reader.records().next().and_then(Result::ok).unwrap_or_default();
    first.iter().map(|head| head.trim().to_owned()).collect()
}

fn read_head(
    name: &Arc<str>,
    line: u32,
    record: &csv::StringRecord,
    columns: &[&str],
    faults: &mut Faults,
) -> Vec<Column> {
    let mut seen = BTreeSet::new();
    let mut head = Vec::with_capacity(record.len());
    for title in record {
        let title = short(title.trim().to_owned());
        let title = title.as_str();
        let place = || Place::cell(name.clone(), line, title);
        let known = columns.iter().find(|c| **c == title).copied();
        if !seen.insert(title.to_owned()) {
            faults.add(
                Fault::new(Code::ColumnDuplicate, format!("a second `{title}`"), "each column once", "take one out")
                    .at(place()),
            );
            head.push(None);
            continue;
        }
        if known.is_none() && !title.starts_with("x_") {
            let mut fault =
                Fault::unknown_word(Code::ColumnUnknown, title, "a column that is read", columns.iter().copied());
            fault.remedy += " (a column of your own starts with `x_`)";
            faults.add(fault.at(place()));
        }
        head.push(known.map(Arc::from));
    }
    for column in columns {
        if !seen.contains(*column) {
            faults.add(
                Fault::new(
                    Code::ColumnMissing,
                    "a head without it",
                    format!("the column `{column}`"),
                    "add the column; its cells may be blank",
                )
                .at(Place::cell(name.clone(), line, *column)),
            );
        }
    }
    head
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_those_an_editor_shows() {
        let text = "\r\nid,note\r\n\r\n\r\na,\"two\r\nlines\"\r\n\r\nb,x\r\nc\r\n";
        let mut faults = Faults::default();
        let rows = table("t.csv", text, &["id", "note"], &mut faults);
        let lines: Vec<u32> = rows.iter().map(|row| row.place.line).collect();
        assert_eq!(lines, [5, 8]);
        insta::assert_snapshot!(faults.sorted()[0], @r"
        t.csv line 9
          found   1 cells
          needed  2 cells, as in the head
          do      add or take out commas; put a text that contains a comma in double quotes
          (row-ragged)
        ");
    }
}
