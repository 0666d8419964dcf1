//! The exposures, candidate by candidate: one tile for the worst finding of each pair.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Case, counted};
use crate::judge::{Finding, Verdict};
use crate::output::{Strip, strip};
use crate::rank::{self, Ranked};

/// A picture of candidates against exposures.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Matrix {
    /// The exposures, and the enquiry as a whole.
    pub columns: Vec<Column>,
    /// The candidates.
    pub rows: Vec<Row>,
    /// How many findings of each verdict are behind it.
    pub counts: String,
    /// What the picture shows, for whoever cannot see it.
    pub alt: String,
}

/// One exposure.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// Temperature and duration.
    pub what: String,
}

/// One candidate.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Row {
    /// The tape.
    pub tape: String,
    /// Its construction.
    pub construction: String,
    /// Its verdict over all.
    pub verdict: Verdict,
    /// One tile a column.
    pub tiles: Vec<Tile>,
}

/// The worst finding of one candidate in one exposure.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Tile {
    /// Its verdict.
    pub verdict: Verdict,
    /// Where its margin lies, if it has one.
    pub strip: Option<Strip>,
    /// Why there is no margin, else the margin.
    pub note: String,
    /// Its criterion.
    pub criterion: String,
}

/// The columns that fit the width of a page, in type that can be read.
const WIDE: usize = 9;

/// So many candidates in their order, all exposures in slices that fit a page, as even as they come.
pub(super) fn slices(case: &Case<'_>, most: usize) -> Vec<Matrix> {
    let rows: Vec<&Ranked> = case.ranked.iter().take(most).collect();
    let columns = columns(case);
    let wide = columns.len().div_ceil(columns.len().div_ceil(WIDE));
    columns.chunks(wide).map(|slice| matrix(case, &rows, slice)).collect()
}

/// The exposures in their order, then the enquiry as a whole.
fn columns(case: &Case<'_>) -> Vec<Option<usize>> {
    (0..case.enquiry.exposures.len()).map(Some).chain([None]).collect()
}

fn matrix(case: &Case<'_>, rows: &[&Ranked], columns: &[Option<usize>]) -> Matrix {
    let l = case.language;
    let heads = columns
        .iter()
        .map(|column| match column {
            Some(x) => {
                let x = &case.enquiry.exposures[*x];
                let what = format!("{}, {}", l.quantity(x.temperature), l.quantity(x.duration));
                Column { name: x.name.clone(), what }
            }
            None => Column { name: l.text("matrix.whole").to_owned(), what: l.text("matrix.whole_what").to_owned() },
        })
        .collect();
    let lines: Vec<Row> = rows
        .iter()
        .map(|ranked| Row {
            tape: case.tape_id(ranked.tape).to_owned(),
            construction: case.plan.catalogue.construction(ranked.tape),
            verdict: ranked.standing.verdict,
            tiles: columns.iter().map(|column| tile(case, case.of(ranked), *column)).collect(),
        })
        .collect();
    let verdicts = rows.iter().flat_map(|r| case.of(r)).map(|f| f.verdict);
    let said: Vec<String> = lines.iter().take(6).map(|r| format!("{} {}", r.tape, case.word(r.verdict))).collect();
    let alt = l.say(
        "matrix.alt",
        &[("rows", &rows.len().to_string()), ("columns", &columns.len().to_string()), ("said", &l.list(&said))],
    );
    Matrix { columns: heads, rows: lines, counts: counted(l, verdicts), alt }
}

fn tile(case: &Case<'_>, findings: &[Finding], column: Option<usize>) -> Tile {
    let of_column: Vec<Finding> = findings.iter().filter(|f| f.exposure == column).cloned().collect();
    let Some(worst) = rank::weakest(&of_column) else {
        return Tile { verdict: Verdict::NotAsked, strip: None, note: String::new(), criterion: String::new() };
    };
    let rule = case.criterion(worst);
    Tile { verdict: worst.verdict, strip: strip(rule, worst), note: case.margin(worst), criterion: rule.title.clone() }
}
