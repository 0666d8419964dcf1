//! A table of the data folder as text: rows are changed and added, all others keep their bytes.

use std::collections::BTreeMap;
use std::ops::Range;

/// One row.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    range: Range<usize>,
    /// Its cells, in the order of the head.
    pub(super) cells: Vec<String>,
}

/// A table with its text.
#[derive(Clone, Debug)]
pub(super) struct Table {
    text: String,
    newline: &'static str,
    /// The heads.
    pub(super) head: Vec<String>,
    /// The rows.
    pub(super) rows: Vec<Entry>,
}

/// A row by column name.
pub(super) type Named = BTreeMap<String, String>;

/// What becomes of a table.
#[derive(Clone, Debug, Default)]
pub(super) struct Edit {
    /// Rows that change, by number: the whole new row.
    pub(super) changed: BTreeMap<usize, Named>,
    /// Rows that are added.
    pub(super) added: Vec<Named>,
}

/// An edited table: its text, and the lines of what was changed and added.
#[derive(Clone, Debug)]
pub(super) struct Edited {
    pub(super) text: String,
    pub(super) changed: BTreeMap<usize, u32>,
    pub(super) added: Vec<u32>,
}

impl Table {
    /// Reads a table; an empty text has no head yet.
    pub(super) fn read(text: &str) -> Table {
        let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
        let mut table = Table { text: text.to_owned(), newline, head: Vec::new(), rows: Vec::new() };
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
        let mut starts: Vec<(usize, csv::StringRecord)> = Vec::new();
        for record in reader.records().flatten() {
            let start = record.position().map_or(0, |p| usize::try_from(p.byte()).unwrap_or(usize::MAX));
            starts.push((start.min(text.len()), record));
        }
        for at in 0..starts.len() {
            let end = starts.get(at + 1).map_or(text.len(), |(next, _)| *next);
            let cells: Vec<String> = starts[at].1.iter().map(|cell| cell.trim().to_owned()).collect();
            if at == 0 {
                table.head = cells;
            }
            let cells =
                if at == 0 { table.head.clone() } else { starts[at].1.iter().map(|c| c.trim().to_owned()).collect() };
            table.rows.push(Entry { range: starts[at].0..end, cells });
        }
        table
    }

    /// The rows below the head, with their numbers.
    pub(super) fn body(&self) -> impl Iterator<Item = (usize, &Entry)> {
        self.rows.iter().enumerate().skip(1)
    }

    /// A cell by column name; empty if there is none.
    pub(super) fn cell(&self, row: usize, column: &str) -> &str {
        let at = self.head.iter().position(|head| head == column);
        at.and_then(|at| self.rows[row].cells.get(at)).map_or("", String::as_str)
    }

    /// A row by column name.
    pub(super) fn named(&self, row: usize) -> Named {
        self.head.iter().cloned().zip(self.rows[row].cells.iter().cloned()).collect()
    }

    /// The table with rows changed and added; a column that is not there yet comes last.
    pub(super) fn edit(&self, edit: &Edit) -> Edited {
        let mut head = self.head.clone();
        for row in edit.changed.values().chain(&edit.added) {
            for (column, value) in row {
                if !value.is_empty() && !head.contains(column) {
                    head.push(column.clone());
                }
            }
        }
        let more = head.len() - self.head.len();
        let mut out = String::with_capacity(self.text.len() + 256 * edit.added.len());
        let mut lines = 1;
        let mut done = Edited { text: String::new(), changed: BTreeMap::new(), added: Vec::new() };
        let line = |row: &Named| joined(head.iter().map(|column| row.get(column).map_or("", String::as_str)));
        for (number, entry) in self.rows.iter().enumerate() {
            let raw = &self.text[entry.range.clone()];
            let body = raw.trim_end_matches(['\r', '\n']);
            let blank = body.len() - body.trim_start_matches(['\r', '\n']).len();
            let from = out.len();
            out.push_str(&body[..blank]);
            lines += count(&body[..blank]);
            if let Some(row) = edit.changed.get(&number) {
                done.changed.insert(number, lines);
                out.push_str(&line(row));
            } else {
                out.push_str(&body[blank..]);
                if number == 0 && more > 0 {
                    out.push(',');
                    out.push_str(&joined(head[self.head.len()..].iter().map(String::as_str)));
                } else {
                    (0..more).for_each(|_| out.push(','));
                }
            }
            let end = &raw[body.len()..];
            out.push_str(if end.is_empty() { self.newline } else { end });
            lines += count(&out[from + blank..]);
        }
        if self.rows.is_empty() && !head.is_empty() {
            out.push_str(&joined(head.iter().map(String::as_str)));
            out.push_str(self.newline);
            lines += 1;
        }
        for row in &edit.added {
            done.added.push(lines);
            let from = out.len();
            out.push_str(&line(row));
            out.push_str(self.newline);
            lines += count(&out[from..]);
        }
        done.text = out;
        done
    }
}

/// Cells as one line of a table.
fn joined<'c>(cells: impl Iterator<Item = &'c str>) -> String {
    let cell = |cell: &str| {
        let marks = cell.contains([',', '"', '\n', '\r']) || cell.trim() != cell;
        if marks { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell.to_owned() }
    };
    cells.map(cell).collect::<Vec<_>>().join(",")
}

fn count(text: &str) -> u32 {
    u32::try_from(text.matches('\n').count()).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(cells: &[(&str, &str)]) -> Named {
        cells.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect()
    }

    #[test]
    fn what_is_not_changed_keeps_its_bytes() {
        let text = "id,note\r\na,\"one, two\"\r\n\r\nb,\"x\r\ny\"\r\nc,";
        let table = Table::read(text);
        assert_eq!(table.cell(2, "note"), "x\r\ny");
        let edited = table.edit(&Edit::default());
        assert_eq!(edited.text, format!("{text}\r\n"));
        let edit = Edit {
            changed: [(3, row(&[("id", "c"), ("note", "say \"so\"")]))].into(),
            added: vec![row(&[("id", "d"), ("x_from", "A7")])],
        };
        let edited = table.edit(&edit);
        assert_eq!(
            edited.text,
            "id,note,x_from\r\na,\"one, two\",\r\n\r\nb,\"x\r\ny\",\r\nc,\"say \"\"so\"\"\",\r\nd,,A7\r\n"
        );
        assert_eq!(edited.changed[&3], 6);
        assert_eq!(edited.added, [7]);
    }

    #[test]
    fn an_empty_table_gets_a_head() {
        let edited = Table::read("").edit(&Edit { added: vec![row(&[("b", "2"), ("a", "1")])], ..Edit::default() });
        assert_eq!(edited.text, "a,b\n1,2\n");
        assert_eq!(edited.added, [2]);
    }
}
