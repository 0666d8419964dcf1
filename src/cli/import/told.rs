//! An import in words: the guess, what became of the rows, every reason against them.

use std::io::Write;

use super::{Document, RowLine};
use crate::cli::Outcome;
use crate::cli::table::Table;
use crate::fault::Fault;
use crate::import::{Fate, letters};

/// A refused row has its reasons apart; what would have been read into it does not matter then.
fn says(row: &RowLine) -> bool {
    row.fate != Fate::Refused && !row.remarks.is_empty()
}

pub(super) fn tell(document: &Document) -> Outcome {
    let mut out = std::io::stdout().lock();
    let sheet = document.sheet.as_ref().map(|name| format!(", sheet {name}")).unwrap_or_default();
    writeln!(out, "{}{sheet} into {}", document.file, document.into.file())?;
    writeln!(out, "Map {}: {}\n", document.map_is, document.map)?;
    if document.turned {
        writeln!(out, "One column a tape: read with rows and columns changed about.\n")?;
    }
    let at = |row: usize| if document.turned { format!("column {}", letters(row - 1)) } else { format!("row {row}") };
    let mut table = Table::new(["column", "head", "goes to", "unit", "certainty"], &[]);
    for column in &document.columns {
        let goes = match (&column.to, &column.perhaps) {
            (Some(to), _) => to.clone(),
            (None, Some(perhaps)) => format!("left out; perhaps {perhaps}"),
            (None, None) => "left out".to_owned(),
        };
        let hidden = if column.hidden { ", hidden" } else { "" };
        let decimal = column.decimal.filter(|d| *d == "comma").map(|_| ", decimal comma").unwrap_or_default();
        table.row([
            column.letter.clone(),
            column.head.clone(),
            goes,
            format!("{}{decimal}", column.unit.clone().unwrap_or_default()),
            format!("{}{hidden}", column.certainty.text()),
        ]);
    }
    table.print(&mut out)?;
    for (column, value) in &document.constants {
        writeln!(out, "  in every row: {column} = {value}")?;
    }
    for row in document.rows.iter().filter(|row| row.fate == Fate::Revised || says(row)) {
        let revision = row.revision.as_ref().map(|r| format!(", revision {r}")).unwrap_or_default();
        writeln!(out, "\n{}: {} {}{revision}", at(row.row), row.key, row.fate.text())?;
        for d in &row.differs {
            let blank = |text: &str| if text.is_empty() { "blank".to_owned() } else { format!("`{text}`") };
            writeln!(out, "  {} {} → {}", d.column, blank(&d.before), blank(&d.after))?;
        }
        for remark in &row.remarks {
            writeln!(out, "  {remark}")?;
        }
    }
    if !document.beside.is_empty() {
        writeln!(out, "\nNot rows of the table:")?;
        for beside in &document.beside {
            writeln!(out, "  {}, {}: {}", at(beside.row), beside.why, beside.text)?;
        }
    }
    refusals(&document.diagnostics)?;
    let c = document.counts;
    writeln!(
        out,
        "\n{} rows: {} added, {} revised, {} unchanged, {} refused{}",
        c.rows,
        c.added,
        c.revised,
        c.unchanged,
        c.refused,
        if document.dry_run { "; nothing was written" } else { "" }
    )?;
    if !document.files.is_empty() && !document.dry_run {
        writeln!(out, "Written: {}", document.files.join(", "))?;
    }
    writeln!(out, "Next: {}", document.next)?;
    out.flush()?;
    Ok(())
}

/// Faults that differ in nothing but their row are told once, with all rows.
fn refusals(diagnostics: &[Fault]) -> Outcome {
    let mut groups: Vec<(&Fault, Vec<u32>)> = Vec::new();
    let alike = |a: &Fault, b: &Fault| {
        let column = |f: &Fault| f.place.as_ref().map(|p| p.column.clone());
        a.code == b.code && a.found == b.found && a.needed == b.needed && a.remedy == b.remedy && column(a) == column(b)
    };
    for fault in diagnostics {
        let line = fault.place.as_ref().map_or(0, |p| p.line);
        match groups.iter_mut().find(|(first, _)| alike(first, fault)) {
            Some((_, rows)) => rows.push(line),
            None => groups.push((fault, vec![line])),
        }
    }
    let mut err = std::io::stderr().lock();
    for (fault, rows) in groups {
        writeln!(err, "\n{fault}")?;
        if rows.len() > 1 {
            writeln!(err, "  and the same in rows {}", ranges(&rows[1..]))?;
        }
    }
    Ok(())
}

/// Rows in few words: `5–9, 12`.
fn ranges(rows: &[u32]) -> String {
    let mut parts: Vec<(u32, u32)> = Vec::new();
    for row in rows {
        match parts.last_mut() {
            Some((_, last)) if *last + 1 == *row => *last = *row,
            _ => parts.push((*row, *row)),
        }
    }
    let text = |(a, b): &(u32, u32)| if a == b { a.to_string() } else { format!("{a}–{b}") };
    parts.iter().map(text).collect::<Vec<_>>().join(", ")
}
