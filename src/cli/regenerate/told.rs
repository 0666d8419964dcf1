//! What a pass over the register found, told on a terminal: causes first, then each selection.

use std::io::{self, Write};

use super::super::{say, table};
use super::Arguments;
use super::drafts::Done;
use crate::quantity::count;
use crate::regenerate::{Cause, ChangeKind, Line, Outcome, Report};

/// The most changes of one cause that are told one by one.
const CHANGES: usize = 6;
/// The most selections of one outcome that are told one by one; the files hold all.
const LINES: usize = 40;

pub(super) fn tell(report: &Report, done: &Done, arguments: &Arguments) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(out, "{}", report.sentence())?;
    say::named(&mut out, "register", &format!("{} at entry {}", report.register, report.head.size), say::width())?;
    say::named(&mut out, "judged by", &report.judged_by(), say::width())?;
    if let Some(part) = report.part {
        say::named(&mut out, "part", &format!("{part}: the selections of its enquiries alone"), say::width())?;
    }
    for remark in &report.remarks {
        say::named(&mut out, "remark", remark, say::width())?;
    }
    writeln!(out)?;
    let mut counts = table::Table::new(["count", "outcome", "what it asks"], &[0]);
    for (n, outcome, asks) in report.tally() {
        counts.row([n, outcome.to_owned(), asks]);
    }
    counts.print(&mut out)?;
    if !report.causes.is_empty() {
        writeln!(out, "\nCauses")?;
        for cause in &report.causes {
            tell_cause(&mut out, report, cause)?;
        }
    }
    for outcome in [Outcome::Overturned, Outcome::NotJudgeable] {
        tell_lines(&mut out, report, outcome)?;
    }
    let noted: Vec<&Line> = report.selections.iter().filter(|line| !line.notes.is_empty()).collect();
    if !noted.is_empty() {
        writeln!(out, "\nNotes")?;
        for line in noted.iter().take(LINES) {
            say::named(&mut out, &line.record, &line.notes.join("; "), say::width())?;
        }
        rest(&mut out, noted.len())?;
    }
    tell_files(&mut out, report, done, arguments)?;
    if !report.failures.is_empty() {
        writeln!(out, "\nFailed; the rest was done")?;
        for failure in &report.failures {
            writeln!(out, "{}\n{}\n", failure.record, failure.fault)?;
        }
    }
    Ok(())
}

fn tell_cause(out: &mut impl Write, report: &Report, cause: &Cause) -> io::Result<()> {
    let width = say::width();
    for (nth, change) in cause.changes.iter().take(CHANGES).enumerate() {
        let number = if nth == 0 { cause.number.to_string() } else { String::new() };
        let sources = change.sources();
        let sources =
            if sources.is_empty() || change.kind == ChangeKind::Fault { sources } else { format!("  ({sources})") };
        say::named(out, &number, &format!("{}{sources}", change.text()), width)?;
    }
    if cause.changes.len() > CHANGES {
        let more = count(cause.changes.len() - CHANGES, "change more", "changes more");
        say::named(out, "", &format!("and {more} that act on the same selections"), width)?;
    }
    let example = report.example(cause).map(|example| format!("; {example}")).unwrap_or_default();
    say::named(out, "", &format!("→ {}{example}", cause.counts()), width)
}

fn tell_lines(out: &mut impl Write, report: &Report, outcome: Outcome) -> io::Result<()> {
    let lines: Vec<&Line> = report.selections.iter().filter(|line| line.outcome == outcome).collect();
    if lines.is_empty() {
        return Ok(());
    }
    let title = outcome.text();
    writeln!(out, "\n{}{}", title[..1].to_uppercase(), &title[1..])?;
    let mut table = table::Table::new(["record", "signed", "today", "first that flipped", "cause"], &[]);
    for line in lines.iter().take(LINES) {
        table.row([
            line.record.clone(),
            line.signed_words(),
            line.today_words(),
            line.why(),
            line.causes.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        ]);
    }
    table.print(out)?;
    rest(out, lines.len())
}

fn rest(out: &mut impl Write, all: usize) -> io::Result<()> {
    if all > LINES { writeln!(out, "  and {} more, in the files", all - LINES) } else { Ok(()) }
}

fn tell_files(out: &mut impl Write, report: &Report, done: &Done, arguments: &Arguments) -> io::Result<()> {
    writeln!(out)?;
    let width = say::width();
    if arguments.dry_run {
        return say::named(out, "written", "nothing: a dry run", width);
    }
    let files: Vec<String> = done.files.iter().map(|file| file.display().to_string()).collect();
    say::named(out, "report", &files.join(", "), width)?;
    if done.printed + done.kept + done.removed > 0 {
        let mut parts = vec![format!("{} printed", done.printed), format!("{} there already", done.kept)];
        if done.removed > 0 {
            parts.push(format!("{} that no longer hold taken away", done.removed));
        }
        let folder = arguments.register.join(crate::register::DRAFTS);
        say::named(out, "drafts", &format!("{}: {}", folder.display(), parts.join(", ")), width)?;
    }
    let first = report.selections.iter().find(|line| line.outcome == Outcome::Overturned);
    if let Some(line) = first {
        let enquiry = crate::record::enquiry_of(&line.record);
        let tape = line.today.as_ref().and_then(|today| today.proposed.clone()).unwrap_or_else(|| "TAPE".to_owned());
        let register = arguments.register.display();
        let text = format!(
            "read the draft, then `lapwise register sign {register} {enquiry} --tape {tape} --revises {} …`, or \
             `lapwise register withdraw {register} {} …`",
            line.record, line.record
        );
        say::named(out, "next", &text, width)?;
    }
    Ok(())
}
