//! What all commands print alike: JSON documents, faults, and the width that texts are set to.

use std::io::{self, IsTerminal, Write};

use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::table::wrapped;
use crate::fault::{Fault, Faults};

/// Prints one JSON document.
pub(super) fn json(document: &impl Serialize) -> io::Result<()> {
    self::document(&mut io::stdout().lock(), document)
}

/// Writes one JSON document.
pub(super) fn document(out: &mut dyn Write, document: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, document)?;
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

/// Prints faults, in JSON on stdout or in words on stderr; returns the exit code. Where stdout refuses the JSON, the
/// words stand for it.
pub(super) fn faults(faults: Faults, as_json: bool, code: u8) -> u8 {
    let document = Diagnostics { schema: "lapwise/diagnostics/1", diagnostics: faults.sorted() };
    if as_json {
        match json(&document) {
            Ok(()) => return code,
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => return 0,
            Err(_) => {}
        }
    }
    let mut err = io::stderr().lock();
    for fault in &document.diagnostics {
        if writeln!(err, "{fault}\n").is_err() {
            return code;
        }
    }
    code
}

/// Columns of a text that goes to a file or a pipe: the same wherever it is read.
pub(super) const PIPED: usize = 100;

/// The columns that a text on standard output may fill: those of the terminal, within what reads well.
pub(super) fn width() -> usize {
    if !io::stdout().is_terminal() {
        return PIPED;
    }
    terminal_size::terminal_size().map_or(PIPED, |(width, _)| usize::from(width.0)).clamp(20, 120)
}

/// Prints a text behind its name, its further lines set below its first.
pub(super) fn named(out: &mut (impl Write + ?Sized), name: &str, text: &str, width: usize) -> io::Result<()> {
    const BEHIND: usize = 13;
    for (nth, line) in wrapped(text, width.saturating_sub(BEHIND)).iter().enumerate() {
        let name = if nth == 0 { name } else { "" };
        writeln!(out, "{}", format!("  {name:<10} {line}").trim_end())?;
    }
    Ok(())
}
