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

    /// Prints it, two spaces in.
    pub(super) fn print(&self, out: &mut impl Write) -> io::Result<()> {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let width = |c: usize| {
            self.rows.iter().filter_map(|row| row.get(c)).map(|cell| cell.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..columns).map(width).collect();
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
}
