//! A report in its order, and the reports of parts joined into the one of the whole.

use super::causes;
use super::outcome::{Cause, Failure, Line, Outcome, Report, Tally};
use super::pass::Found;
use crate::fault::{Code, Fault};

/// The form of a report.
pub const SCHEMA: &str = "lapwise/regenerate/1";

/// What was found, the gravest first, with its causes.
pub(super) fn ordered(mut found: Vec<Found>) -> (Vec<Cause>, Vec<Line>) {
    found.sort_by(|a, b| {
        let key = |f: &Found| (f.line.outcome, f.line.moved.first().copied());
        key(a).cmp(&key(b)).then_with(|| natural(&a.line.record).cmp(&natural(&b.line.record)))
    });
    let causes = causes::collapse(&mut found);
    (causes, found.into_iter().map(|one| one.line).collect())
}

impl Report {
    /// Adds what failed, in the order of records.
    pub fn fail(&mut self, failure: Failure) {
        let after = |other: &Failure| natural(&other.record) <= natural(&failure.record);
        self.failures.insert(self.failures.partition_point(after), failure);
    }
}

/// Joins the reports of all parts of one register, judged at one head by one set of data: the report of a run in one.
///
/// # Errors
/// A report whose counts or causes are not those of its selections.
pub fn join(first: Report, others: impl IntoIterator<Item = Report>) -> Result<Report, Fault> {
    let mut whole =
        Report { part: None, made_from: None, counts: Tally::default(), failures: Vec::new(), ..first.clone() };
    let mut found = Vec::new();
    for report in std::iter::once(first).chain(others) {
        whole.counts = together(&whole.counts, &report)?;
        for failure in report.failures {
            whole.fail(failure);
        }
        for line in report.selections {
            // Causes are numbered anew: what acts on the very same selections of a part may not do so in all.
            let of = |number: &usize| report.causes.get(number.checked_sub(1)?);
            let causes: Option<Vec<&Cause>> = line.causes.iter().map(of).collect();
            let causes = causes.ok_or_else(|| altered(&format!("a cause of {} that is not there", line.record)))?;
            let changes = causes.iter().flat_map(|cause| cause.changes.iter().cloned()).collect();
            found.push(Found { line: Line { causes: Vec::new(), ..line }, changes });
        }
    }
    (whole.causes, whole.selections) = ordered(found);
    Ok(whole)
}

/// The counts so far, with those of one more report.
fn together(counts: &Tally, report: &Report) -> Result<Tally, Fault> {
    let (mut judged, said) = (Tally::default(), &report.counts);
    for line in &report.selections {
        judged.add(line.outcome);
    }
    let sum = |more: &[usize]| more.iter().try_fold(0_usize, |sum, n| sum.checked_add(*n));
    let as_said = Outcome::ALL.iter().all(|outcome| judged.of(*outcome) == said.of(*outcome))
        && sum(&[report.selections.len(), said.failed, said.superseded]) == Some(said.total);
    let Some(total) = sum(&[counts.total, said.total]).filter(|_| as_said) else {
        return Err(altered("counts that are not those of the selections"));
    };
    Ok(Tally {
        overturned: counts.overturned + said.overturned,
        not_judgeable: counts.not_judgeable + said.not_judgeable,
        restated: counts.restated + said.restated,
        restyled: counts.restyled + said.restyled,
        current: counts.current + said.current,
        withdrawn: counts.withdrawn + said.withdrawn,
        superseded: counts.superseded + said.superseded,
        failed: counts.failed + said.failed,
        total,
    })
}

fn altered(found: &str) -> Fault {
    let needed = "a report as `lapwise regenerate --part K/N` wrote it";
    Fault::new(Code::PartsDiffer, found, needed, "do this part again")
}

/// Numbers within a name count as numbers: Q-9 comes before Q-10. Names that are alike so far are in their own order.
fn natural(name: &str) -> (Vec<(String, u64)>, &str) {
    let mut parts = Vec::new();
    let mut rest = name;
    while !rest.is_empty() {
        let text_ends = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
        let (text, after) = rest.split_at(text_ends);
        let digits_end = after.find(|c: char| !c.is_ascii_digit()).unwrap_or(after.len());
        let (digits, after) = after.split_at(digits_end);
        parts.push((text.to_owned(), digits.parse().unwrap_or(0)));
        rest = after;
    }
    (parts, name)
}
