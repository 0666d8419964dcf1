//! `lapwise compare`: what differs between two data folders, and which answers that moves.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::table::{Table, wrapped};
use super::{End, Here, Outcome, say};
use crate::compare::{self, Cause, Cell, CellChange, Change, Comparison, Move, RowChange, Written};
use crate::judge::Verdict;
use crate::load::Folder;
use crate::quantity::count;

/// So many findings of a cause are printed; all are in the document.
const PRINTED: usize = 12;

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise compare matrices next --exit-code")]
pub(super) struct Arguments {
    /// The data folder as it is
    old: PathBuf,
    /// The data folder as it would be
    new: PathBuf,
    /// Judge these enquiries, a folder of TOML files, instead of those in the two folders
    #[arg(long, value_name = "DIR")]
    enquiries: Option<PathBuf>,
    /// End with exit code 1 if a verdict, a proposal or an order moves
    #[arg(long)]
    exit_code: bool,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    old: Side,
    new: Side,
    #[serde(flatten)]
    comparison: Comparison,
}

#[derive(Serialize, JsonSchema)]
struct Side {
    folder: String,
    /// The version that the folder says it is.
    version: String,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (old, new) = (Folder::read(&arguments.old)?, Folder::read(&arguments.new)?);
    let enquiries = arguments.enquiries.as_deref().map(Folder::of_enquiries).transpose()?;
    let comparison = compare::compare(&old, &new, enquiries.as_ref())?;
    let side = |folder: &Folder| -> Result<Side, End> {
        let about = crate::catalogue::Catalogue::build(folder)?.about;
        Ok(Side { folder: folder.root.display().to_string(), version: about.version })
    };
    let document = Document { schema: "lapwise/compare/1", old: side(&old)?, new: side(&new)?, comparison };
    let moves = |m: &compare::Moved| !m.is_still() || m.order_before.is_some();
    let moved = document.comparison.moved.iter().any(moves);
    if here.json {
        say::json(&document)?;
    } else {
        tell(&document)?;
    }
    if arguments.exit_code && moved { Err(End::Reported(1)) } else { Ok(()) }
}

fn tell(document: &Document) -> Outcome {
    let mut out = std::io::stdout().lock();
    let all = &document.comparison;
    for (name, side) in [("old", &document.old), ("new", &document.new)] {
        writeln!(out, "{name}  {}, version {}", side.folder, side.version)?;
    }
    let rows = match all.changes.len() {
        0 => "No row says anything else".to_owned(),
        1 => "1 row differs".to_owned(),
        n => format!("{n} rows differ"),
    };
    let judged = count(all.judged, "enquiry", "enquiries");
    writeln!(out, "{rows}; {judged} judged before and after\n")?;
    let width = say::width();
    for cause in &all.causes {
        heads(&mut out, all, cause, width)?;
        reach(&mut out, all, cause, width)?;
    }
    if let Some(together) = &all.together {
        writeln!(out, "Moved by several of the changes together, and by none alone")?;
        reach(&mut out, all, together, width)?;
    }
    for (numbers, what) in [(&all.gone, "only in the old folder"), (&all.new, "only in the new folder")] {
        if !numbers.is_empty() {
            writeln!(out, "{what}, not compared: {}", numbers.join(", "))?;
        }
    }
    if !all.still.is_empty() {
        writeln!(out, "Moving no answer: {}", count(all.still.len(), "row", "rows"))?;
        for at in &all.still {
            let change = &all.changes[*at];
            let columns: Vec<&str> = change.cells.iter().map(|cell| cell.column.as_str()).collect();
            let what = match change.change {
                Change::Changed => format!("`{}`", columns.join("`, `")),
                other => other.text().to_owned(),
            };
            paragraph(&mut out, 2, &format!("{} {}: {what}", change.file, change.row), width)?;
        }
        writeln!(out)?;
    }
    writeln!(out, "{}", sum(all))?;
    out.flush()?;
    Ok(())
}

/// The changed rows of a cause; of one that comes or goes with many that are about it, how many.
fn heads(out: &mut impl Write, all: &Comparison, cause: &Cause, width: usize) -> Outcome {
    let changes: Vec<&RowChange> = cause.changes.iter().map(|at| &all.changes[*at]).collect();
    let is_root = |change: &&RowChange| matches!(change.file.as_str(), "tapes.csv" | "materials.csv");
    let Some(root) = changes.iter().copied().find(is_root).filter(|_| changes.len() > 1) else {
        return changes.into_iter().try_for_each(|change| head(out, change, width));
    };
    head(out, root, width)?;
    let files: std::collections::BTreeSet<&str> =
        changes.iter().filter(|c| !is_root(c)).map(|c| c.file.as_str()).collect();
    let files: Vec<&str> = files.into_iter().collect();
    let rows = count(changes.len() - 1, "row", "rows");
    writeln!(out, "  with {rows} about it in {}", files.join(" and "))?;
    Ok(())
}

/// The changed row: what it said and what it says.
fn head(out: &mut impl Write, change: &RowChange, width: usize) -> Outcome {
    let line = |side: &Option<Written>| side.as_ref().map(|written| written.place.line);
    let cell = change.cells.first();
    let at = cell.and_then(|cell| line(&cell.after).or(line(&cell.before)));
    let at = at.map(|line| format!(", line {line}")).unwrap_or_default();
    let said = |side: &Option<Written>| side.as_ref().map_or("nothing".to_owned(), |written| short(&written.text));
    let told = |cell: &CellChange| format!("`{}` {} → {}", cell.column, said(&cell.before), said(&cell.after));
    let what = match (change.change, change.cells.len()) {
        (Change::Changed, 0..5) => change.cells.iter().map(told).collect::<Vec<_>>().join("; "),
        (Change::Changed, n) => {
            let columns: Vec<&str> = change.cells.iter().map(|cell| cell.column.as_str()).collect();
            format!("{n} cells: `{}`", columns.join("`, `"))
        }
        (other, _) => other.text().to_owned(),
    };
    paragraph(out, 0, &format!("{}{at}: {} {what}", change.file, change.row), width)?;
    Ok(())
}

/// A text within the width, its further lines two spaces further in.
fn paragraph(out: &mut impl Write, indent: usize, text: &str, width: usize) -> std::io::Result<()> {
    for (nth, line) in wrapped(text, width.saturating_sub(indent + 2)).iter().enumerate() {
        writeln!(out, "{}{line}", " ".repeat(if nth == 0 { indent } else { indent + 2 }))?;
    }
    Ok(())
}

fn short(text: &str) -> String {
    match text.char_indices().nth(60) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}

/// What a cause moves: proposals, then verdicts, then how much else.
fn reach(out: &mut impl Write, all: &Comparison, cause: &Cause, width: usize) -> Outcome {
    let name = |tape: &Option<String>| tape.clone().unwrap_or_else(|| "none".to_owned());
    for one in &cause.overturned {
        writeln!(out, "  {}: proposes {} instead of {}", one.enquiry, name(&one.after), name(&one.before))?;
    }
    let standing = |(number, tape): &(String, String)| {
        let moved = all.moved.iter().find(|moved| moved.enquiry == *number);
        moved.and_then(|moved| moved.candidates.iter().find(|m| m.tape == *tape)).map(|m| (m.before, m.after))
    };
    let standings: Vec<_> = cause.candidates.iter().filter_map(standing).collect();
    let come = standings.iter().filter(|(before, _)| before.is_none()).count();
    let gone = standings.iter().filter(|(_, after)| after.is_none()).count();
    let counts = [
        (come, "candidate more", "candidates more"),
        (gone, "candidate less", "candidates less"),
        (standings.len() - come - gone, "candidate changes its verdict", "candidates change their verdict"),
        (cause.flips.len(), "finding changes its verdict", "findings change their verdict"),
        (cause.orders.len(), "enquiry changes its order", "enquiries change their order"),
        (cause.restated.len(), "number changes within its verdict", "numbers change within their verdict"),
    ];
    let told: Vec<String> = counts.iter().filter(|(n, ..)| *n > 0).map(|(n, one, many)| count(*n, one, many)).collect();
    if !told.is_empty() {
        paragraph(out, 2, &told.join(", "), width)?;
    }
    if !cause.flips.is_empty() {
        let mut table = Table::new(["enquiry", "tape", "finding", "before", "after"], &[]);
        for cell in cause.flips.iter().take(PRINTED) {
            let Some(change) = find(all, cell) else { continue };
            let finding = match &cell.exposure {
                Some(exposure) => format!("{}, {exposure}", cell.criterion),
                None => cell.criterion.clone(),
            };
            let state = |verdict: Option<Verdict>, value: &str| match verdict {
                None => "not asked".to_owned(),
                Some(verdict) if value.is_empty() => verdict.text().to_owned(),
                Some(verdict) => format!("{}: {value}", verdict.text()),
            };
            table.row([
                cell.enquiry.clone(),
                cell.tape.clone(),
                finding,
                state(change.before, &change.value_before),
                state(change.after, &change.value_after),
            ]);
        }
        table.print_within(out, width)?;
        if cause.flips.len() > PRINTED {
            writeln!(out, "  and {} more; --json lists all", cause.flips.len() - PRINTED)?;
        }
    }
    writeln!(out)?;
    Ok(())
}

fn find<'a>(all: &'a Comparison, cell: &Cell) -> Option<&'a Move> {
    let moved = all.moved.iter().find(|moved| moved.enquiry == cell.enquiry)?;
    moved
        .findings
        .iter()
        .find(|m| m.tape == cell.tape && m.exposure == cell.exposure && m.criterion.as_ref() == Some(&cell.criterion))
}

/// What it comes to, in one sentence.
fn sum(all: &Comparison) -> String {
    let overturned = all.moved.iter().filter(|m| m.proposed_before != m.proposed_after).count();
    let orders = all.moved.iter().filter(|m| m.order_before.is_some()).count();
    let flips: usize = all.moved.iter().map(|m| m.findings.len()).sum();
    let restated: usize = all.moved.iter().map(|m| m.restated.len()).sum();
    format!(
        "In all: {}, {}, {}, {}",
        count(overturned, "proposal overturned", "proposals overturned"),
        count(flips, "finding with another verdict", "findings with another verdict"),
        count(orders, "enquiry in another order", "enquiries in another order"),
        count(restated, "number restated", "numbers restated"),
    )
}
