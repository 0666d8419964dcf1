//! The report as a table: one row a selection.

use super::outcome::{Line, Report};

const HEAD: [&str; 22] = [
    "record",
    "outcome",
    "approved",
    "customer",
    "title",
    "tape",
    "verdict_signed",
    "verdict_today",
    "open_hazards_signed",
    "open_hazards_today",
    "proposed_signed",
    "proposed_today",
    "moved",
    "flipped_tape",
    "criterion",
    "exposure",
    "before",
    "after",
    "causes",
    "cause",
    "fault",
    "draft",
];

/// The rows, with a head.
#[must_use]
pub fn csv(report: &Report) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let rows = report.selections.iter().map(|line| cells(report, line));
    for row in std::iter::once(HEAD.map(str::to_owned)).chain(rows) {
        // A writer into memory does not fail.
        let _ = writer.write_record(&row);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

fn cells(report: &Report, line: &Line) -> [String; 22] {
    let today = line.today.as_ref();
    let flip = line.flipped.as_ref();
    let side = |side: Option<&super::Side>| {
        side.map(|side| format!("{} {} {}", side.verdict, side.margin, side.value).trim_end().to_owned())
    };
    let number = |n: Option<u32>| n.map(|n| n.to_string()).unwrap_or_default();
    let causes = line.causes.iter().filter_map(|n| report.causes.get(n.checked_sub(1)?));
    let changes: Vec<String> = causes.flat_map(|cause| &cause.changes).map(super::Change::text).collect();
    let faults: Vec<String> = line.faults.iter().map(|fault| format!("{}: {}", fault.code, fault.found)).collect();
    [
        line.record.clone(),
        line.outcome.text().to_owned(),
        if line.approved { "yes" } else { "no" }.to_owned(),
        line.customer.clone(),
        line.title.clone(),
        line.tape.clone(),
        line.signed.verdict.clone().unwrap_or_default(),
        today.and_then(|t| t.verdict.clone()).unwrap_or_default(),
        number(line.signed.open_hazards),
        number(today.and_then(|t| t.open_hazards)),
        line.signed.proposed.clone().unwrap_or_default(),
        today.and_then(|t| t.proposed.clone()).unwrap_or_default(),
        line.moved.iter().map(|part| part.text()).collect::<Vec<_>>().join("; "),
        flip.map(|f| f.tape.clone()).unwrap_or_default(),
        flip.map(|f| f.criterion.clone()).unwrap_or_default(),
        flip.map(|f| f.exposure.clone()).unwrap_or_default(),
        flip.and_then(|f| side(f.before.as_ref())).unwrap_or_default(),
        flip.and_then(|f| side(f.after.as_ref())).unwrap_or_default(),
        line.causes.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "),
        changes.join("; "),
        faults.join("; "),
        line.draft.clone().unwrap_or_default(),
    ]
}
