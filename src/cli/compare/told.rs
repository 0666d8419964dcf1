//! A comparison on the terminal: by the row that moves it, the gravest first, what is alike in one line.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;

use super::super::table::{Table, wrapped};
use super::super::{Outcome, say};
use super::Document;
use super::heads::{head, heads};
use crate::compare::{Cause, Cell, Comparison, Move, Turned};
use crate::judge::Verdict;
use crate::quantity::count;

/// So many lines of each kind are printed of a cause; all are in the document.
const PRINTED: usize = 12;

/// So many lines of the numbers that change within their verdict.
const RESTATED: usize = 4;

pub(super) fn tell(document: &Document) -> Outcome {
    let mut out = std::io::stdout().lock();
    let all = &document.comparison;
    let width = say::width();
    for (name, side) in [("old", &document.old), ("new", &document.new)] {
        writeln!(out, "{name}  {}, version {}", side.folder, side.version)?;
    }
    let rows = match all.changes.len() {
        0 => "No row says anything else".to_owned(),
        1 => "1 row differs".to_owned(),
        n => format!("{n} rows differ"),
    };
    let judged = count(all.judged, "enquiry", "enquiries");
    paragraph(&mut out, 0, &format!("{rows}; {judged} judged before and after"), width)?;
    for cause in &all.causes {
        writeln!(out)?;
        heads(all, cause).iter().try_for_each(|text| paragraph(&mut out, 0, text, width))?;
        moves(&mut out, all, cause, width)?;
    }
    if let Some(together) = &all.together {
        writeln!(out)?;
        let none = together.is_still();
        let words = if none { "Cannot be made by themselves, and move nothing" } else { "Only together" };
        paragraph(&mut out, 0, &format!("{words}: {}", count(together.changes.len(), "change", "changes")), width)?;
        for at in together.changes.iter().take(PRINTED) {
            paragraph(&mut out, 2, &head(&all.changes[*at]), width)?;
        }
        more(&mut out, together.changes.len(), PRINTED)?;
        moves(&mut out, all, together, width)?;
    }
    still(&mut out, all, width)?;
    orders(&mut out, all, width)?;
    for (numbers, what) in [(&all.gone, "Asked in the old folder only"), (&all.come, "Asked in the new folder only")] {
        if !numbers.is_empty() {
            writeln!(out)?;
            paragraph(&mut out, 0, &format!("{what}, not compared: {}", numbers.join(", ")), width)?;
        }
    }
    writeln!(out)?;
    paragraph(&mut out, 0, &sum(all), width)?;
    for advice in advice(document) {
        paragraph(&mut out, 0, &advice, width)?;
    }
    out.flush()?;
    Ok(())
}

/// A text within the width, its further lines two spaces further in.
fn paragraph(out: &mut impl Write, indent: usize, text: &str, width: usize) -> std::io::Result<()> {
    for (nth, line) in wrapped(text, width.saturating_sub(indent + 2)).iter().enumerate() {
        writeln!(out, "{}{line}", " ".repeat(if nth == 0 { indent } else { indent + 2 }))?;
    }
    Ok(())
}

fn more(out: &mut impl Write, of: usize, printed: usize) -> std::io::Result<()> {
    if of > printed {
        writeln!(out, "    and {} more lines; --json lists all", of - printed)?;
    }
    Ok(())
}

/// What a cause moves: proposals, candidates, findings, then how much else.
fn moves(out: &mut impl Write, all: &Comparison, cause: &Cause, width: usize) -> Outcome {
    if cause.is_still() {
        return Ok(());
    }
    paragraph(out, 2, &counts(all, cause), width)?;
    for one in &cause.overturned {
        let name = |tape: &Option<String>| tape.clone().unwrap_or_else(|| "none".to_owned());
        let text = format!("{} proposes {} instead of {}", one.enquiry, name(&one.after), name(&one.before));
        paragraph(out, 2, &text, width)?;
    }
    let candidates = candidates(&cause.candidates);
    for text in candidates.iter().take(PRINTED) {
        paragraph(out, 2, text, width)?;
    }
    more(out, candidates.len(), PRINTED)?;
    for (cells, printed) in [(&cause.flips, PRINTED), (&cause.restated, RESTATED)] {
        let rows = findings(all, cells);
        if rows.is_empty() {
            continue;
        }
        let mut table = Table::new(["enquiry", "finding", "verdict", "tapes", "the number, of the first"], &[]);
        rows.iter().take(printed).for_each(|row| table.row(row.clone()));
        table.print_within(out, width)?;
        more(out, rows.len(), printed)?;
    }
    Ok(())
}

/// How much moves, in one sentence.
fn counts(all: &Comparison, cause: &Cause) -> String {
    let verdicts = |cell: &Cell| find(all, cell).map(|m| (m.before, m.after));
    let stays = |turned: &&Turned| turned.before.is_some() && turned.after.is_some();
    let candidates: Vec<_> = cause.candidates.iter().filter(stays).map(|t| (t.before, t.after)).collect();
    let findings: Vec<_> = cause.flips.iter().filter_map(verdicts).collect();
    let falls = |of: &[(Option<Verdict>, Option<Verdict>)]| of.iter().filter(|(before, after)| after > before).count();
    let come: BTreeSet<&str> =
        cause.candidates.iter().filter(|t| t.before.is_none()).map(|t| t.tape.as_str()).collect();
    let gone: BTreeSet<&str> = cause.candidates.iter().filter(|t| t.after.is_none()).map(|t| t.tape.as_str()).collect();
    let enquiries: BTreeSet<&str> = cause.flips.iter().map(|cell| cell.enquiry.as_str()).collect();
    let mut told = Vec::new();
    let mut tell = |n: usize, one: &str, many: &str, after: String| {
        if n > 0 {
            told.push(format!("{}{after}", count(n, one, many)));
        }
    };
    tell(cause.overturned.len(), "proposal is overturned", "proposals are overturned", String::new());
    tell(come.len(), "candidate more", "candidates more", String::new());
    tell(gone.len(), "candidate less", "candidates less", String::new());
    let fallen = falls(&candidates);
    tell(fallen, "candidate falls", "candidates fall", String::new());
    tell(candidates.len() - fallen, "candidate rises", "candidates rise", String::new());
    let fallen = falls(&findings);
    let within = format!(" in {}", count(enquiries.len(), "enquiry", "enquiries"));
    tell(fallen, "verdict falls", "verdicts fall", within.clone());
    tell(findings.len() - fallen, "verdict rises", "verdicts rise", within);
    let numbers = cause.orders.join(", ");
    tell(cause.orders.len(), "order changes", "orders change", format!(" ({numbers})"));
    let margins = "numbers or margins change and no verdict with them";
    tell(cause.restated.len(), "number or margin changes and no verdict with it", margins, String::new());
    told.join("; ")
}

fn word(verdict: Option<Verdict>) -> &'static str {
    verdict.map_or("not asked", Verdict::text)
}

/// The candidates that turn, those alike in one line, falls first.
fn candidates(turned: &[Turned]) -> Vec<String> {
    let mut lines: BTreeMap<(bool, String), Vec<&str>> = BTreeMap::new();
    for one in turned {
        let (text, last) = match (one.before, one.after) {
            (None, after) => (format!("{} comes in, {} in", one.tape, word(after)), &one.enquiry),
            (before, None) => (format!("{} is no candidate any more, was {} in", one.tape, word(before)), &one.enquiry),
            (before, after) => (format!("{}: {} → {}", one.enquiry, word(before), word(after)), &one.tape),
        };
        lines.entry((one.after <= one.before, text)).or_default().push(last);
    }
    lines.into_iter().map(|((_, text), last)| format!("{text} {}", last.join(" "))).collect()
}

/// The findings that turn, those alike in one row: falls first, the worst first, then the more tapes.
fn findings(all: &Comparison, flips: &[Cell]) -> Vec<[String; 5]> {
    type Alike<'a> = (&'a str, &'a str, Option<&'a str>, Option<Verdict>, Option<Verdict>);
    let mut alike: BTreeMap<Alike<'_>, Vec<&Move>> = BTreeMap::new();
    for cell in flips {
        let Some(change) = find(all, cell) else { continue };
        let key = (&*cell.enquiry, &*cell.criterion, cell.exposure.as_deref(), change.before, change.after);
        alike.entry(key).or_default().push(change);
    }
    let mut rows: Vec<(Alike<'_>, Vec<&Move>)> = alike.into_iter().collect();
    rows.sort_by_key(|((.., before, after), tapes)| {
        (after <= before, std::cmp::Reverse(*after), std::cmp::Reverse(tapes.len()))
    });
    let row = |((enquiry, criterion, exposure, before, after), tapes): (Alike<'_>, Vec<&Move>)| {
        let first = tapes.first();
        let number = match first.map(|m| (m.value_before.as_str(), m.value_after.as_str())) {
            Some((before, after)) if before == after && !after.is_empty() => match first {
                Some(m) if m.margin_before != m.margin_after => {
                    format!("{after} as before, margin {} → {}", m.margin_before, m.margin_after)
                }
                _ => format!("{after} as before"),
            },
            Some(("", "")) | None => String::new(),
            Some((before, after)) => {
                let [before, after] = [before, after].map(|text| if text.is_empty() { "none" } else { text });
                format!("{before} → {after}")
            }
        };
        let names: Vec<&str> = tapes.iter().map(|m| m.tape.as_str()).collect();
        [
            enquiry.to_owned(),
            exposure.map_or_else(|| criterion.to_owned(), |exposure| format!("{criterion}, {exposure}")),
            if before == after {
                format!("stays {}", word(after))
            } else {
                format!("{} → {}", word(before), word(after))
            },
            names.join(" "),
            number,
        ]
    };
    rows.into_iter().map(row).collect()
}

fn find<'a>(all: &'a Comparison, cell: &Cell) -> Option<&'a Move> {
    let moved = all.moved.iter().find(|moved| moved.enquiry == cell.enquiry)?;
    let cells = moved.findings.iter().chain(&moved.restated);
    cells
        .into_iter()
        .find(|m| m.tape == cell.tape && m.exposure == cell.exposure && m.criterion.as_ref() == Some(&cell.criterion))
}

fn still(out: &mut impl Write, all: &Comparison, width: usize) -> Outcome {
    if all.still.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    writeln!(
        out,
        "{} that {} nothing",
        count(all.still.len(), "change", "changes"),
        if all.still.len() == 1 { "moves" } else { "move" }
    )?;
    for one in all.still.iter().take(PRINTED) {
        paragraph(out, 2, &format!("{} ({})", head(&all.changes[one.change]), one.why), width)?;
    }
    more(out, all.still.len(), PRINTED)?;
    Ok(())
}

/// Every order that is another in the end: who comes, goes, or passes others.
fn orders(out: &mut impl Write, all: &Comparison, width: usize) -> Outcome {
    let mut any = false;
    for moved in &all.moved {
        let (Some(before), Some(after)) = (&moved.order_before, &moved.order_after) else { continue };
        if !any {
            writeln!(out)?;
            writeln!(out, "Orders of the candidates not ruled out, all changes made")?;
            any = true;
        }
        let shifts = shifts(before, after);
        let rest =
            if shifts.len() > PRINTED { format!("; and {} more", shifts.len() - PRINTED) } else { String::new() };
        let shown: Vec<String> = shifts.into_iter().take(PRINTED).collect();
        paragraph(out, 2, &format!("{}: {}{rest}", moved.enquiry, shown.join("; ")), width)?;
    }
    Ok(())
}

/// The fewest tapes that must move to make one order of the other, with their places, of how many.
fn shifts(before: &[String], after: &[String]) -> Vec<String> {
    let place = |tape: &String| before.iter().position(|other| other == tape);
    let places: Vec<Option<usize>> = after.iter().map(place).collect();
    // The longest run of tapes that stay in order; all others are told.
    let mut best: Vec<(usize, Option<usize>)> = Vec::new();
    for (at, own) in places.iter().enumerate() {
        let own = own.map(|own| {
            let before = (0..at).filter(|b| places[*b].is_some_and(|other| other < own));
            before.max_by_key(|b| (best[*b].0, std::cmp::Reverse(*b))).map_or((1, None), |b| (best[b].0 + 1, Some(b)))
        });
        best.push(own.unwrap_or((0, None)));
    }
    let mut stays = BTreeSet::new();
    let mut next = (0..best.len()).filter(|at| best[*at].0 > 0).max_by_key(|at| best[*at].0);
    while let Some(at) = next {
        stays.insert(at);
        next = best[at].1;
    }
    let gone = before.iter().enumerate().filter(|(_, tape)| !after.contains(tape));
    let gone = gone.map(|(was, tape)| format!("{tape} leaves, was {} of {}", was + 1, before.len()));
    let moves = after.iter().enumerate().filter(|(at, _)| !stays.contains(at)).map(|(at, tape)| match places[at] {
        Some(was) if was == at => String::new(),
        Some(was) => format!("{tape} {} → {} of {}", was + 1, at + 1, after.len()),
        None => format!("{tape} comes in as {} of {}", at + 1, after.len()),
    });
    gone.chain(moves).filter(|text| !text.is_empty()).collect()
}

/// What it comes to, in one sentence.
fn sum(all: &Comparison) -> String {
    let overturned = all.moved.iter().filter(|m| m.proposed_before != m.proposed_after).count();
    let orders = all.moved.iter().filter(|m| m.order_before.is_some()).count();
    let flips: usize = all.moved.iter().map(|m| m.findings.len()).sum();
    let restated: usize = all.moved.iter().map(|m| m.restated.len()).sum();
    if overturned + orders + flips + restated == 0 && all.moved.iter().all(|m| m.candidates.is_empty()) {
        return "In all: no answer moves.".to_owned();
    }
    let counts = [
        (overturned, "proposal overturned", "proposals overturned"),
        (flips, "verdict of a finding changed", "verdicts of findings changed"),
        (orders, "order changed", "orders changed"),
        (restated, "other number or margin changed", "other numbers or margins changed"),
    ];
    let told: Vec<String> = counts.iter().filter(|(n, ..)| *n > 0).map(|(n, one, many)| count(*n, one, many)).collect();
    format!("In all: {}.", told.join(", "))
}

/// What to do next.
fn advice(document: &Document) -> Vec<String> {
    let all = &document.comparison;
    let data = &document.new.folder;
    let mut advice = Vec::new();
    // The gravest finding of the gravest cause: one that falls, as far as it falls.
    let gravest = |cell: &&Cell| find(all, cell).map(|m| (m.after > m.before, m.after));
    let mut causes = all.causes.iter().chain(&all.together);
    if let Some(cell) = causes.find_map(|cause| cause.flips.iter().rev().max_by_key(gravest)) {
        let at = cell.exposure.as_ref().map(|name| format!(" --exposure \"{name}\"")).unwrap_or_default();
        let Cell { enquiry, tape, criterion, .. } = cell;
        advice.push(format!("Why: lapwise explain {enquiry} {tape} {criterion}{at} --data {data}"));
    }
    if all.moved.iter().any(|m| !m.is_still() || m.order_before.is_some()) {
        advice.push("Before publishing: read each row above against its source.".to_owned());
        advice.push(format!("What was signed before: lapwise regenerate --register DIR --data {data}"));
    }
    advice
}
