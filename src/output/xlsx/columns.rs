//! The columns of the sheets, and what stands in them.

use crate::judge::{Finding, Verdict};
use crate::output::{Candidate, Row, margin_unit};

/// A head of a column, how wide it may be, and whether its cells are numbers.
pub(super) struct Column {
    pub(super) head: &'static str,
    pub(super) most: usize,
    pub(super) number: bool,
}

pub(super) const fn text(head: &'static str, most: usize) -> Column {
    Column { head, most, number: false }
}

pub(super) const fn number(head: &'static str) -> Column {
    Column { head, most: 10, number: true }
}

/// The columns of the findings: those of the rows, and what the margin is counted in.
pub(super) const FINDINGS: [Column; 24] = [
    text("Enquiry", 12),
    text("Tape", 14),
    text("Revision", 9),
    text("Exposure", 20),
    text("Criterion", 22),
    text("Measure", 22),
    text("Unit", 8),
    number("5 %"),
    number("50 %"),
    number("95 %"),
    number("Limit"),
    number("Outer limit"),
    text("Better", 7),
    text("Verdict", 12),
    number("Margin"),
    text("Margin in", 8),
    text("Margin reads", 9),
    text("Method", 26),
    text("Basis", 12),
    text("Missing", 26),
    text("Condition", 30),
    text("Settled by", 32),
    text("Capped", 13),
    text("Extrapolated", 12),
];
/// The column of the verdict among [`FINDINGS`], which carries the comment.
pub(super) const VERDICT: u16 = 13;

/// The columns of the order.
pub(super) const ORDER: [Column; 13] = [
    text("Enquiry", 12),
    number("Order"),
    text("Tape", 14),
    text("Construction", 40),
    text("Verdict", 12),
    text("Weakest criterion", 26),
    text("Exposure", 24),
    number("Margin"),
    text("Margin in", 8),
    text("Margin reads", 9),
    text("Missing", 44),
    number("Open hazard findings"),
    number("Cost, first tape = 1"),
];
/// The column of the verdict among [`ORDER`].
pub(super) const ORDER_VERDICT: u16 = 4;

/// A cell of a sheet.
pub(super) enum Value<'v> {
    Text(&'v str),
    Verdict(&'v str, Verdict),
    /// A number that was computed, and the digits it is shown with.
    Computed(Option<f64>, usize),
    /// A number as written.
    Given(Option<f64>),
}

impl Value<'_> {
    /// The letters it takes on one line.
    pub(super) fn letters(&self) -> usize {
        match self {
            Value::Text(text) => text.chars().count(),
            Value::Verdict(word, _) => word.chars().count() + 2,
            Value::Computed(..) => 9,
            Value::Given(_) => 5,
        }
    }
}

/// The cells of a finding.
pub(super) fn finding_cells<'r>(row: &'r Row, finding: &Finding) -> [Value<'r>; 24] {
    [
        Value::Text(&row.enquiry),
        Value::Text(&row.tape),
        Value::Text(&row.revision),
        Value::Text(&row.exposure),
        Value::Text(&row.criterion),
        Value::Text(&row.measure),
        Value::Text(row.unit),
        Value::Computed(row.x05, 4),
        Value::Computed(row.x50, 4),
        Value::Computed(row.x95, 4),
        Value::Given(row.limit),
        Value::Given(row.outer_limit),
        Value::Text(row.better),
        Value::Verdict(row.verdict, finding.verdict),
        Value::Computed(row.margin, 3),
        Value::Text(margin_unit(finding.margin)),
        Value::Text(row.margin_reads),
        Value::Text(&row.method),
        Value::Text(row.basis),
        Value::Text(&row.missing),
        Value::Text(&row.condition),
        Value::Text(&row.settled_by),
        Value::Text(row.capped),
        Value::Text(if row.extrapolated { "true" } else { "false" }),
    ]
}

/// The cells of a candidate.
pub(super) fn order_cells<'c>(candidate: &'c Candidate, missing: &'c str) -> [Value<'c>; 13] {
    [
        Value::Text(&candidate.enquiry),
        Value::Given(Some(f64::from(candidate.order))),
        Value::Text(&candidate.tape),
        Value::Text(&candidate.construction),
        Value::Verdict(candidate.verdict.text(), candidate.verdict),
        Value::Text(&candidate.weakest),
        Value::Text(candidate.exposure.as_deref().unwrap_or_default()),
        Value::Computed(candidate.margin, 3),
        Value::Text(candidate.margin_unit),
        Value::Text(candidate.margin_reads),
        Value::Text(missing),
        Value::Given(Some(f64::from(candidate.open_hazards))),
        Value::Given(candidate.relative_cost),
    ]
}
