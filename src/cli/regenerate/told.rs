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

/// What each outcome asks of whoever answers for the register.
fn asks(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Overturned => "the signed answer no longer holds: check it, sign the next revision or withdraw it",
        Outcome::NotJudgeable => "mend the data, then run this again",
        Outcome::Restated => "the evidence moved, the decision did not: confirm as your policy asks",
        Outcome::Restyled => "only the look moved: the signature stands, nothing to do",
        Outcome::Current => "nothing moved: nothing to do",
        Outcome::Withdrawn => "not judged",
    }
}

pub(super) fn tell(report: &Report, done: &Done, arguments: &Arguments) -> io::Result<()> {
    let mut out = io::stdout().lock();
    let invented = if report.data.invented { ", invented" } else { "" };
    let data = format!("version {} of {}{invented}, sha256 {}", report.data.version, report.data.date, &report.data.sha256[..16]);
    writeln!(out, "{}", of_all(report))?;
    say::named(&mut out, "register", &format!("{} at entry {}", report.register, report.head.size), say::width())?;
    say::named(&mut out, "judged by", &data, say::width())?;
    writeln!(out)?;
    let mut counts = table::Table::new(["count", "outcome", "what it asks"], &[0]);
    for outcome in Outcome::ALL {
        let n = report.counts.of(outcome);
        if n > 0 || matches!(outcome, Outcome::Overturned | Outcome::NotJudgeable) {
            counts.row([n.to_string(), outcome.text().to_owned(), if n > 0 { asks(outcome).to_owned() } else { String::new() }]);
        }
    }
    if report.counts.superseded > 0 {
        counts.row([report.counts.superseded.to_string(), "superseded".to_owned(), "older revisions: not judged".to_owned()]);
    }
    if !report.failures.is_empty() {
        counts.row([report.failures.len().to_string(), "failed".to_owned(), "see the end".to_owned()]);
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

/// The one sentence that comes first.
fn of_all(report: &Report) -> String {
    let counts = &report.counts;
    let judged = counts.total - counts.superseded - counts.withdrawn;
    let of = count(judged, "kept selection", "kept selections");
    match (counts.overturned, counts.not_judgeable) {
        (0, 0) if report.failures.is_empty() => format!("None of {of} is overturned"),
        (0, 0) => format!("None of {of} is overturned, as far as they could be judged"),
        (n, 0) => format!("{n} of {of} {} overturned", if n == 1 { "is" } else { "are" }),
        (n, m) => format!("{n} of {of} {} overturned, {m} cannot be judged", if n == 1 { "is" } else { "are" }),
    }
}

fn tell_cause(out: &mut impl Write, report: &Report, cause: &Cause) -> io::Result<()> {
    let width = say::width();
    for (nth, change) in cause.changes.iter().take(CHANGES).enumerate() {
        let number = if nth == 0 { cause.number.to_string() } else { String::new() };
        let sources = change.sources();
        let sources = if sources.is_empty() || change.kind == ChangeKind::Fault { sources } else { format!("  ({sources})") };
        say::named(out, &number, &format!("{}{sources}", change.text()), width)?;
    }
    if cause.changes.len() > CHANGES {
        let more = count(cause.changes.len() - CHANGES, "change more", "changes more");
        say::named(out, "", &format!("and {more} that act on the same selections"), width)?;
    }
    let counts = [
        (cause.overturned, "overturned"),
        (cause.not_judgeable, "not judgeable"),
        (cause.restated, "restated"),
        (cause.restyled, "restyled"),
    ];
    let counts: Vec<String> = counts.iter().filter(|(n, _)| *n > 0).map(|(n, word)| format!("{n} {word}")).collect();
    let first = report.selections.iter().find(|line| line.flipped.is_some() && line.causes.contains(&cause.number));
    let first = first.and_then(|line| Some((line, line.flipped.as_ref()?)));
    let shown = first.map(|(line, flip)| format!("; {}: {} {}", line.record, flip.tape, flip.text())).unwrap_or_default();
    say::named(out, "", &format!("→ {}{shown}", counts.join(", ")), width)
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
            signed(line),
            today(line),
            why(line),
            line.causes.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        ]);
    }
    table.print(out)?;
    rest(out, lines.len())
}

fn signed(line: &Line) -> String {
    let state = if line.approved { "approved" } else { "not approved" };
    format!("{} {}, {state}", line.tape, line.signed.verdict.clone().unwrap_or_default())
}

fn today(line: &Line) -> String {
    let Some(today) = &line.today else { return "–".to_owned() };
    let verdict = match &today.verdict {
        Some(verdict) => format!("{} {verdict}", line.tape),
        None => format!("{} is no candidate", line.tape),
    };
    match &today.proposed {
        None => format!("{verdict}; no tape is proposed"),
        Some(first) if *first == line.tape => verdict,
        Some(first) if line.signed.proposed.as_ref() == Some(first) => format!("{verdict}; first is still {first}"),
        Some(first) => format!("{verdict}; first is now {first}"),
    }
}

fn why(line: &Line) -> String {
    if let Some(fault) = line.faults.first() {
        return format!("{}, needed {}", fault.found, fault.needed);
    }
    let parts = || line.moved.iter().map(|part| part.text()).collect::<Vec<_>>().join(", ");
    match &line.flipped {
        Some(flip) if flip.tape == line.tape => flip.text(),
        Some(flip) => format!("{} {}", flip.tape, flip.text()),
        None => parts(),
    }
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
        let enquiry = line.record.split('/').next().unwrap_or_default();
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
