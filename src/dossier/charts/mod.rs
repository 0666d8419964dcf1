//! Numbers for pictures: positions between 0 and 1 (or −1 and 1 about a limit) and the texts beside
//! them. All of it is asked of the measures and models that judge; a template only draws.

mod axis;
mod course;
mod field;
mod life;
mod section;

use schemars::JsonSchema;
use serde::Serialize;

use super::view::Case;
use crate::enquiry::Enquiry;
use crate::explain::Explanation;
use crate::judge::{Finding, Verdict};
use crate::measure::{Answer, Measure, Mode, Work};
use crate::rank::Ranked;
use crate::spread::{POINTS, Percentiles};

use course::{Course, courses};
use field::{Fields, fields};
use life::{Lives, lives};
use section::{Section, section};

/// All pictures but the margins.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Pictures {
    /// Swelling and uptake against time, one a measure and exposure.
    pub courses: Vec<Course>,
    /// Life used, load step by load step.
    pub lives: Option<Lives>,
    /// The field across the layers, and where discharge begins.
    pub fields: Option<Fields>,
    /// The wrap cut open.
    pub section: Option<Section>,
}

/// All pictures of a case.
pub(super) fn pictures(case: &Case<'_>, explanations: &[Vec<(&Finding, Explanation)>]) -> Pictures {
    Pictures { courses: courses(case), lives: lives(case), fields: fields(case, explanations), section: section(case) }
}

/// The finding of a measure for a candidate, if it was asked.
fn finding<'c>(case: &'c Case<'_>, ranked: &Ranked, measure: &str, exposure: Option<usize>) -> Option<&'c Finding> {
    case.of(ranked)
        .iter()
        .find(|f| f.exposure == exposure && f.verdict != Verdict::NotAsked && case.criterion(f).measure == measure)
}

/// The answer of a measure for a tape in an enquiry that was changed for the picture.
fn asked_of(
    case: &Case<'_>,
    measure: &'static Measure,
    enquiry: &Enquiry,
    tape: usize,
    exposure: Option<usize>,
) -> Option<Percentiles> {
    let mode = Mode { points: POINTS, explain: false };
    match Work::out(measure, case.plan.catalogue, tape, enquiry, exposure, mode).answer {
        Answer::Number(p) if p.x05.is_finite() && p.x95.is_finite() => Some(p),
        _ => None,
    }
}
