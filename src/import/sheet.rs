//! A sheet as people have it: cells with their addresses, and what is hidden or merged.

use std::collections::BTreeSet;

use crate::evidence::Place;

/// What a cell holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Value {
    /// Nothing.
    #[default]
    Blank,
    /// A text.
    Text(String),
    /// A number.
    Number(f64),
    /// A number that is shown as per cent: 0.5 is 50 %.
    Percent(f64),
    /// A date, as `2026-11-20`.
    Date(String),
    /// True or false.
    Flag(bool),
    /// An error of the spreadsheet, such as a division by nought.
    Error(String),
}

/// A cell: what it holds, and the unit that its number format shows behind the number.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// What it holds.
    pub value: Value,
    /// The fixed text of its number format, if it has one.
    pub shown_unit: Option<String>,
}

impl Cell {
    /// A cell without a number format.
    #[must_use]
    pub fn of(value: Value) -> Cell {
        Cell { value, shown_unit: None }
    }

    /// True if it holds nothing, or only spaces.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        match &self.value {
            Value::Blank => true,
            Value::Text(text) => text.trim().is_empty(),
            _ => false,
        }
    }

    /// What a person sees in it.
    #[must_use]
    pub fn text(&self) -> String {
        match &self.value {
            Value::Blank => String::new(),
            Value::Text(text) => one_line(text),
            Value::Number(number) => match &self.shown_unit {
                Some(unit) => format!("{} {unit}", plain(*number)),
                None => plain(*number),
            },
            Value::Percent(number) => format!("{} %", plain(number * 100.0)),
            Value::Date(date) => date.clone(),
            Value::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
            Value::Error(error) => error.clone(),
        }
    }
}

/// A text on one line; a word that was parted at the end of a line is whole again.
fn one_line(text: &str) -> String {
    let mut out = String::new();
    for part in text.split_whitespace() {
        let parted =
            out.ends_with('-') && text.contains(&format!("{}\n", &out[out.rfind(' ').map_or(0, |at| at + 1)..]));
        if parted && part.starts_with(char::is_lowercase) {
            out.pop();
        } else if !out.is_empty() {
            out.push(' ');
        }
        out.push_str(part);
    }
    out
}

/// A number with the digits that a spreadsheet keeps, fifteen, and no power of ten where none is needed.
#[must_use]
pub(super) fn plain(number: f64) -> String {
    let size = libm::fabs(number);
    if (1e-3..1e15).contains(&size) {
        let decimals = 14.0 - libm::floor(libm::log10(size)).clamp(-3.0, 14.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 17")]
        let text = format!("{number:.*}", decimals as usize);
        return if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text };
    }
    crate::quantity::tidy(number, 15)
}

/// A block of merged cells, all bounds counted from 0 and included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Merge {
    /// The first row and column.
    pub from: (usize, usize),
    /// The last row and column.
    pub to: (usize, usize),
}

/// One sheet of a file.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// The name of the file.
    pub file: String,
    /// The name of the sheet; none in a text file.
    pub name: Option<String>,
    /// True if the sheet itself is hidden.
    pub hidden: bool,
    /// True if its cells stood in lines, between delimiters.
    pub delimited: bool,
    /// The cells, from A1 on; rows may differ in length.
    pub rows: Vec<Vec<Cell>>,
    /// Columns that are hidden.
    pub hidden_columns: BTreeSet<usize>,
    /// Rows that are hidden.
    pub hidden_rows: BTreeSet<usize>,
    /// Merged cells.
    pub merges: Vec<Merge>,
    /// True if its rows are the columns that people see: a table with one column a tape, turned round.
    pub turned: bool,
}

static EMPTY: Cell = Cell { value: Value::Blank, shown_unit: None };

impl Sheet {
    /// The cell of a row and column, from 0.
    #[must_use]
    pub fn cell(&self, row: usize, column: usize) -> &Cell {
        self.rows.get(row).and_then(|cells| cells.get(column)).unwrap_or(&EMPTY)
    }

    /// The cell, or the one that its merged block shows in its place.
    #[must_use]
    pub fn shown(&self, row: usize, column: usize) -> &Cell {
        let cell = self.cell(row, column);
        if !cell.is_blank() {
            return cell;
        }
        let inside = |m: &&Merge| {
            (m.from.0..=m.to.0).contains(&row) && (m.from.1..=m.to.1).contains(&column) && m.from != (row, column)
        };
        self.merges.iter().find(inside).map_or(cell, |m| self.cell(m.from.0, m.from.1))
    }

    /// How many columns the longest row has.
    #[must_use]
    pub fn width(&self) -> usize {
        self.rows.iter().map(Vec::len).max().unwrap_or(0)
    }

    /// The file and the sheet, as places name them.
    #[must_use]
    pub fn title(&self) -> String {
        match &self.name {
            Some(name) => format!("{} sheet {name}", self.file),
            None => self.file.clone(),
        }
    }

    /// The sheet with rows and columns changed about; its places stay those that people see.
    #[must_use]
    pub fn turned(&self) -> Sheet {
        let swap = |(row, column): (usize, usize)| (column, row);
        let row = |column: usize| (0..self.rows.len()).map(|row| self.cell(row, column).clone()).collect();
        Sheet {
            file: self.file.clone(),
            name: self.name.clone(),
            hidden: self.hidden,
            delimited: self.delimited,
            rows: (0..self.width()).map(row).collect(),
            hidden_columns: self.hidden_rows.clone(),
            hidden_rows: self.hidden_columns.clone(),
            merges: self.merges.iter().map(|m| Merge { from: swap(m.from), to: swap(m.to) }).collect(),
            turned: !self.turned,
        }
    }

    /// The place of a cell; `head` is what stands above or before it.
    #[must_use]
    pub fn place(&self, row: usize, column: usize, head: &str) -> Place {
        let (row, column) = if self.turned { (column, row) } else { (row, column) };
        let line = u32::try_from(row + 1).unwrap_or(u32::MAX);
        Place::cell(self.title(), line, format!("{} `{head}`", letters(column)))
    }

    /// The place of a whole row.
    #[must_use]
    pub fn row_place(&self, row: usize) -> Place {
        if self.turned {
            return Place::cell(self.title(), 0, letters(row));
        }
        Place::line(self.title(), u32::try_from(row + 1).unwrap_or(u32::MAX))
    }

    /// The address of a cell: `B7`.
    #[must_use]
    pub(super) fn address(&self, row: usize, column: usize) -> String {
        let (row, column) = if self.turned { (column, row) } else { (row, column) };
        format!("{}{}", letters(column), row + 1)
    }
}

/// The letters of a column, from 0: A, B … Z, AA.
#[must_use]
pub fn letters(column: usize) -> String {
    let mut rest = column + 1;
    let mut out = Vec::new();
    while rest > 0 {
        out.push(b'A' + u8::try_from((rest - 1) % 26).unwrap_or(0));
        rest = (rest - 1) / 26;
    }
    out.iter().rev().map(|letter| char::from(*letter)).collect()
}

/// How a map names a column: by its letters, or by the row that it is in a sheet that was turned round.
#[must_use]
pub fn mark(column: usize, turned: bool) -> String {
    if turned { format!("row {}", column + 1) } else { letters(column) }
}

/// The column of its letters, or of its row.
#[must_use]
pub(super) fn column(letters: &str) -> Option<usize> {
    if let Some(row) = letters.strip_prefix("row ") {
        return row.parse::<usize>().ok()?.checked_sub(1);
    }
    if letters.is_empty() || letters.len() > 3 {
        return None;
    }
    letters
        .bytes()
        .try_fold(0_usize, |sum, b| b.is_ascii_uppercase().then(|| sum * 26 + usize::from(b - b'A') + 1))
        .map(|n| n - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_have_letters() {
        for (number, name) in [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA")] {
            assert_eq!(letters(number), name);
            assert_eq!(column(name), Some(number));
        }
        assert_eq!(column("a"), None);
    }

    #[test]
    fn numbers_are_written_as_a_spreadsheet_shows_them() {
        for (number, text) in [
            (0.1 + 0.2, "0.3"),
            (65.0, "65"),
            (1_234_567.0, "1234567"),
            (1e16, "1e16"),
            (0.0, "0"),
            (-12.5, "-12.5"),
            (4e-13, "4e-13"),
        ] {
            assert_eq!(plain(number), text);
        }
    }
}
