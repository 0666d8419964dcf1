//! Findings as rows, and rows as CSV, JSON, Parquet, workbooks and pages. Nothing is judged here.

mod html;
mod order;
mod report;
mod strip;
mod working;
mod xlsx;

use std::io::Write;

use polars::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

pub use html::{matrix as html_matrix, order as html_order};
pub use order::{Candidate, candidates, margin_unit};
pub use report::{INVENTED, Made, SCREENING, Told, meaning, told, workings};
pub use strip::{Strip, strip};
pub use working::{FACT_HEADS, Working};
pub use xlsx::{matrix as xlsx_matrix, order as xlsx_order};

use crate::expand::Plan;
use crate::fault::{Code, Fault};
use crate::judge::{Cap, Finding, Verdict};
use crate::quantity::count;
use crate::settle;

/// One finding, as it is printed. The names are those of the columns.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Row {
    /// The enquiry's number.
    pub enquiry: String,
    /// The candidate.
    pub tape: String,
    /// The revision of its sheet.
    pub revision: String,
    /// The exposure's name; blank for the enquiry as a whole.
    pub exposure: String,
    /// The criterion.
    pub criterion: String,
    /// Its measure.
    pub measure: String,
    /// The measure's unit.
    pub unit: &'static str,
    /// 5 %.
    pub x05: Option<f64>,
    /// 50 %.
    pub x50: Option<f64>,
    /// 95 %.
    pub x95: Option<f64>,
    /// Inside it: suitable.
    pub limit: Option<f64>,
    /// Beyond it: unproven or unsuitable.
    pub outer_limit: Option<f64>,
    /// `lower` or `higher`.
    pub better: &'static str,
    /// The verdict.
    pub verdict: &'static str,
    /// The margin, where there is a number.
    pub margin: Option<f64>,
    /// How the margin is to be read: blank as it stands, `at-least`, `at-most`, `full`.
    pub margin_reads: &'static str,
    /// How it was found.
    pub method: String,
    /// The weakest standing among its facts.
    pub basis: &'static str,
    /// What is missing, in words.
    pub missing: String,
    /// What a conditional verdict asks for.
    pub condition: String,
    /// The test that would settle it.
    pub settled_by: String,
    /// Why the verdict is not what the number alone would give: blank, `weak-evidence`, `extrapolated`,
    /// `method-alone`, `milder-test`.
    pub capped: &'static str,
    /// True if an input was carried beyond where it was taken, whether or not that changed the verdict.
    pub extrapolated: bool,
}

/// How many findings of each verdict.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Counts {
    /// Suitable.
    pub suitable: usize,
    /// Conditional.
    pub conditional: usize,
    /// Unproven.
    pub unproven: usize,
    /// Unsuitable.
    pub unsuitable: usize,
    /// Not asked.
    #[serde(rename = "not-asked")]
    pub not_asked: usize,
}

impl Counts {
    /// Counts verdicts.
    pub fn of(verdicts: impl IntoIterator<Item = Verdict>) -> Counts {
        let mut counts = Counts::default();
        for verdict in verdicts {
            *match verdict {
                Verdict::Suitable => &mut counts.suitable,
                Verdict::Conditional => &mut counts.conditional,
                Verdict::Unproven => &mut counts.unproven,
                Verdict::Unsuitable => &mut counts.unsuitable,
                Verdict::NotAsked => &mut counts.not_asked,
            } += 1;
        }
        counts
    }

    /// With those of other findings.
    #[must_use]
    pub fn with(self, other: &Counts) -> Counts {
        Counts {
            suitable: self.suitable + other.suitable,
            conditional: self.conditional + other.conditional,
            unproven: self.unproven + other.unproven,
            unsuitable: self.unsuitable + other.unsuitable,
            not_asked: self.not_asked + other.not_asked,
        }
    }

    /// How many findings there are.
    #[must_use]
    pub fn total(&self) -> usize {
        self.each().iter().map(|(_, n)| n).sum()
    }

    /// Each verdict with its count, best first and not-asked last.
    #[must_use]
    pub fn each(&self) -> [(Verdict, usize); 5] {
        [
            (Verdict::Suitable, self.suitable),
            (Verdict::Conditional, self.conditional),
            (Verdict::Unproven, self.unproven),
            (Verdict::Unsuitable, self.unsuitable),
            (Verdict::NotAsked, self.not_asked),
        ]
    }

    /// The sentence that ends a table: every cell is accounted for.
    #[must_use]
    pub fn sentence(&self) -> String {
        let Counts { suitable, conditional, unproven, unsuitable, not_asked } = self;
        let total = count(self.total(), "finding", "findings");
        format!(
            "{total}: {suitable} suitable, {conditional} conditional, {unproven} unproven, {unsuitable} unsuitable, {not_asked} not asked"
        )
    }
}

/// The row of a finding.
#[must_use]
pub fn row(plan: &Plan<'_>, enquiry: usize, finding: &Finding) -> Row {
    let catalogue = plan.catalogue;
    let e = &plan.enquiries[enquiry];
    let rule = &catalogue.criteria[finding.criterion];
    let tape = &catalogue.tapes[finding.tape];
    let finite = |x: f64| x.is_finite().then_some(x);
    let missing: Vec<String> = finding.missing.iter().map(|m| m.text(catalogue)).collect();
    Row {
        enquiry: e.number.clone(),
        tape: tape.id.clone(),
        revision: tape.revision.clone(),
        exposure: finding.exposure.map(|x| e.exposures[x].name.clone()).unwrap_or_default(),
        criterion: rule.id.clone(),
        measure: rule.measure.clone(),
        unit: finding.unit,
        x05: finding.value.and_then(|p| finite(p.x05)),
        x50: finding.value.and_then(|p| finite(p.x50)),
        x95: finding.value.and_then(|p| finite(p.x95)),
        limit: finding.limits.map(|l| l.limit),
        outer_limit: finding.limits.map(|l| l.outer),
        better: if rule.higher_is_better { "higher" } else { "lower" },
        verdict: finding.verdict.text(),
        margin: finding.margin.number(),
        margin_reads: finding.reading.text(),
        method: finding.method.to_owned(),
        basis: finding.basis.map_or("", |b| b.text()),
        missing: missing.join("; "),
        condition: settle::condition(catalogue, finding).unwrap_or_default().to_owned(),
        settled_by: settle::settled_by(catalogue, e, finding),
        capped: finding.capped.map_or("", Cap::text),
        extrapolated: finding.extrapolated,
    }
}

/// Every row of the answer to one enquiry of a plan, candidate by candidate.
#[must_use]
pub fn rows_of(plan: &Plan<'_>, enquiry: usize) -> Vec<Row> {
    let findings = (0..plan.candidates.len()).flat_map(|position| plan.findings_of(enquiry, position));
    findings.map(|finding| row(plan, enquiry, &finding)).collect()
}

/// Every row of the answers to the enquiries of a plan.
#[must_use]
pub fn rows(plan: &Plan<'_>, told: &[Told]) -> Vec<Row> {
    let of = |(enquiry, told): (usize, &Told)| -> Vec<Row> {
        told.findings.iter().flatten().map(|finding| row(plan, enquiry, finding)).collect()
    };
    told.iter().enumerate().flat_map(of).collect()
}

/// The counts of several answers together.
#[must_use]
pub fn counted(told: &[Told]) -> Counts {
    Counts::of(told.iter().flat_map(|t| &t.findings).flatten().map(|f| f.verdict))
}

/// Writes rows as CSV, a head first.
///
/// # Errors
/// The writer fails.
pub fn csv(rows: &[Row], out: impl Write) -> std::io::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    for row in rows {
        writer.serialize(row).map_err(|error| match error.into_kind() {
            csv::ErrorKind::Io(error) => error,
            other => std::io::Error::other(format!("{other:?}")),
        })?;
    }
    writer.flush()
}

/// Writes the order of candidates as CSV, a head first.
///
/// # Errors
/// The writer fails.
pub fn csv_order(candidates: &[Candidate], out: impl Write) -> std::io::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(Candidate::HEADS)?;
    for candidate in candidates {
        writer.write_record(candidate.cells())?;
    }
    writer.flush()
}

/// Writes rows as Parquet.
///
/// # Errors
/// Polars cannot build the frame, or the writer fails.
pub fn parquet(rows: &[Row], out: impl Write) -> Result<(), Fault> {
    write_parquet(frame(rows), out)
}

/// Writes the order of candidates as Parquet.
///
/// # Errors
/// Polars cannot build the frame, or the writer fails.
pub fn parquet_order(candidates: &[Candidate], out: impl Write) -> Result<(), Fault> {
    write_parquet(order::frame(candidates), out)
}

/// Writes the findings of one enquiry as a part of a table that is split by enquiry: its folder tells the
/// enquiry, and the column is left out.
///
/// # Errors
/// Polars cannot build the frame, or the writer fails.
pub fn parquet_of_enquiry(rows: &[Row], out: impl Write) -> Result<(), Fault> {
    write_parquet(frame(rows).and_then(|frame| frame.drop("enquiry")), out)
}

fn write_parquet(frame: PolarsResult<DataFrame>, out: impl Write) -> Result<(), Fault> {
    frame.and_then(|mut frame| ParquetWriter::new(out).finish(&mut frame)).map(drop).map_err(|error| {
        Fault::new(Code::WriteFailed, error.to_string(), "a Parquet file", "check the disk and the permissions")
    })
}

fn frame(rows: &[Row]) -> PolarsResult<DataFrame> {
    let text = |of: fn(&Row) -> &str| rows.iter().map(of).collect::<Vec<&str>>();
    let number = |of: fn(&Row) -> Option<f64>| rows.iter().map(of).collect::<Vec<Option<f64>>>();
    df!(
        "enquiry" => text(|r| &r.enquiry),
        "tape" => text(|r| &r.tape),
        "revision" => text(|r| &r.revision),
        "exposure" => text(|r| &r.exposure),
        "criterion" => text(|r| &r.criterion),
        "measure" => text(|r| &r.measure),
        "unit" => text(|r| r.unit),
        "x05" => number(|r| r.x05),
        "x50" => number(|r| r.x50),
        "x95" => number(|r| r.x95),
        "limit" => number(|r| r.limit),
        "outer_limit" => number(|r| r.outer_limit),
        "better" => text(|r| r.better),
        "verdict" => text(|r| r.verdict),
        "margin" => number(|r| r.margin),
        "margin_reads" => text(|r| r.margin_reads),
        "method" => text(|r| &r.method),
        "basis" => text(|r| r.basis),
        "missing" => text(|r| &r.missing),
        "condition" => text(|r| &r.condition),
        "settled_by" => text(|r| &r.settled_by),
        "capped" => text(|r| r.capped),
        "extrapolated" => rows.iter().map(|r| r.extrapolated).collect::<Vec<bool>>(),
    )
}
