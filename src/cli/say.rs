//! What all commands print alike: JSON documents, faults, aligned tables.

use std::io::{self, Write};

use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use crate::fault::{Fault, Faults};

/// Prints one JSON document.
pub(super) fn json(document: &impl Serialize) -> io::Result<()> {
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, document)?;
    writeln!(out)
}

/// Prints one line.
pub(super) fn line(text: &str) -> io::Result<()> {
    writeln!(io::stdout().lock(), "{text}")
}

/// Prints a remark that is no part of the answer.
pub(super) fn remark(text: &str) -> io::Result<()> {
    writeln!(io::stderr().lock(), "{text}")
}

#[derive(Serialize, JsonSchema)]
struct Diagnostics {
    schema: &'static str,
    diagnostics: Vec<Fault>,
}

/// The form of a failure.
pub(super) fn schema() -> Schema {
    schema_for!(Diagnostics)
}

/// Prints faults, in JSON on stdout or in words on stderr; returns the exit code.
pub(super) fn faults(faults: Faults, as_json: bool, code: u8) -> u8 {
    let diagnostics = faults.sorted();
    if as_json {
        let document = Diagnostics { schema: "lapwise/diagnostics/1", diagnostics };
        return if json(&document).is_ok() { code } else { 0 };
    }
    let mut err = io::stderr().lock();
    for fault in &diagnostics {
        if writeln!(err, "{fault}\n").is_err() {
            return code;
        }
    }
    code
}

/// A table whose columns are as wide as their widest cell; the last one is not padded.
pub(super) struct Table {
    rows: Vec<Vec<String>>,
    right: Vec<usize>,
}

impl Table {
    /// A table with a head; the columns of `right` are set flush right.
    pub(super) fn new<const N: usize>(head: [&str; N], right: &[usize]) -> Table {
        Table { rows: vec![head.iter().map(|cell| (*cell).to_owned()).collect()], right: right.to_vec() }
    }

    /// Adds a row.
    pub(super) fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(Vec::from(cells));
    }

    /// Prints it, two spaces in; a terminal too narrow for a line gets the cells below each other.
    pub(super) fn print(&self, out: &mut impl Write) -> io::Result<()> {
        self.print_within(out, columns())
    }

    fn print_within(&self, out: &mut impl Write, limit: Option<usize>) -> io::Result<()> {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let width = |c: usize| {
            self.rows.iter().filter_map(|row| row.get(c)).map(|cell| cell.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..columns).map(width).collect();
        if let Some(limit) = limit.filter(|limit| widths.iter().map(|w| w + 2).sum::<usize>() > *limit) {
            return self.print_stacked(out, limit);
        }
        for row in &self.rows {
            let mut line = String::from(" ");
            for (c, cell) in row.iter().enumerate() {
                let pad = widths[c] - cell.chars().count();
                let spaces = " ".repeat(pad);
                line.push(' ');
                if self.right.contains(&c) {
                    line.push_str(&spaces);
                    line.push_str(cell);
                } else {
                    line.push_str(cell);
                    line.push_str(&spaces);
                }
                line.push(' ');
            }
            writeln!(out, "{}", line.trim_end())?;
        }
        Ok(())
    }

    /// Each row as a paragraph: its cells under each other, each behind its head.
    fn print_stacked(&self, out: &mut impl Write, limit: usize) -> io::Result<()> {
        let Some((heads, rows)) = self.rows.split_first() else { return Ok(()) };
        let margin = heads.iter().map(|head| head.chars().count()).max().unwrap_or(0) + 4;
        for row in rows {
            for (head, cell) in heads.iter().zip(row).filter(|(_, cell)| !cell.is_empty()) {
                let mut label = head.as_str();
                for line in folded(cell, limit.saturating_sub(margin)) {
                    writeln!(out, "  {label:<width$}{line}", width = margin - 2)?;
                    label = "";
                }
            }
            writeln!(out)?;
        }
        Ok(())
    }
}

/// The columns of the terminal that standard output is, if it is one.
fn columns() -> Option<usize> {
    terminal_size::terminal_size_of(io::stdout()).map(|(width, _)| usize::from(width.0))
}

/// A text in lines of at most so many characters, broken between words; a longer word stands alone.
fn folded(text: &str, limit: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= limit => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_narrow_terminal_gets_paragraphs() {
        let mut table = Table::new(["tape", "construction", "cost"], &[2]);
        table.row(["H-1".to_owned(), "glass cloth, acrylic crosslinked".to_owned(), "3.6".to_owned()]);
        table.row(["H-2".to_owned(), String::new(), "1".to_owned()]);
        let printed = |limit| {
            let mut out = Vec::new();
            table.print_within(&mut out, limit).unwrap();
            String::from_utf8(out).unwrap()
        };
        insta::assert_snapshot!(printed(Some(34)), @r"
          tape          H-1
          construction  glass cloth,
                        acrylic
                        crosslinked
          cost          3.6

          tape          H-2
          cost          1
        ");
        assert_eq!(printed(None), printed(Some(60)));
        assert!(printed(Some(34)).lines().all(|line| line.chars().count() <= 34));
    }
}
