//! Rows of a sheet that are none of its table: titles, footnotes, heads repeated on every page.

use super::convert::Converter;
use super::map::Column;
use super::words;

/// A row that is not part of the table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Beside {
    /// The row, from 0.
    pub row: usize,
    /// Its text.
    pub text: String,
    /// Why it is none.
    pub why: &'static str,
}

impl Converter<'_> {
    /// Why a row is none of the table, if it is none.
    pub(super) fn no_data(&self, row: usize) -> Option<&'static str> {
        if self.map.last.is_some_and(|last| row > last) {
            return Some("below the last row that the map states");
        }
        let filled: Vec<usize> =
            (0..self.sheet.rows[row].len()).filter(|c| !self.sheet.cell(row, *c).is_blank()).collect();
        let used: Vec<&Column> = self.map.columns.iter().filter(|c| c.is_used()).collect();
        let same = |c: &&Column| self.sheet.cell(row, c.index).text() == c.head;
        if used.len() > 1 && used.iter().filter(|c| !c.head.is_empty()).all(same) {
            return Some("the head again");
        }
        let keys = self.map.target.needed();
        let key = |c: &&&Column| keys.contains(&c.to.as_str());
        let stated = |c: &&Column| !self.cell(row, c.index).is_blank();
        if filled.len() == 1 && used.len() > 1 {
            return Some("one cell alone");
        }
        if !used.iter().any(stated) {
            return Some("nothing in the columns that are read");
        }
        // A footnote: a mark where the key should be, and a text beside it.
        let marks = |c: &&Column| {
            let text = self.cell(row, c.index).text();
            let plain: String = text.chars().filter(|c| c.is_alphanumeric()).collect();
            let closed = text.ends_with([')', '⁾', '.', ':']) && plain.chars().count() <= 1;
            !text.is_empty() && (plain.is_empty() && text.contains(['*', '†', '‡', '⁾', '¹', '²', '³']) || closed)
        };
        if filled.len() <= 3 && used.iter().filter(key).any(marks) {
            return Some("a footnote");
        }
        let total = |c: &&Column| {
            matches!(
                words::fold(&self.cell(row, c.index).text()).as_str(),
                "total" | "sum" | "summe" | "gesamt" | "totale" | "somme" | "suma"
            )
        };
        if used.iter().filter(key).any(total) {
            return Some("a total");
        }
        None
    }
}
