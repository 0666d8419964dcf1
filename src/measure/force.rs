//! Tension against strength: at winding, and after years in the liquid.

use crate::catalogue::{Property, Side};
use crate::enquiry::Enquiry;

use super::tested::{Clock, Trial};
use super::{Answer, CaseRead, Demand, Measure, TapeRead, Work};

/// Tensile strength of the sheet over the winding tension, both per width.
pub(super) static TENSION_MARGIN: Measure = Measure {
    id: "tension-margin",
    asked: "tensile strength of the sheet over the winding tension, both per width",
    unit: "1",
    per_exposure: false,
    tape: &[TapeRead::Sheet(Property::Tensile)],
    case: &[CaseRead::Nothing],
    demand: Some(Demand { name: "winding tension", symbol: "T′", unit: "N/cm", value: tension, last: None }),
    parts: &[],
    factor: None,
    best: None,
    work: tension_margin,
};

/// The share of its tensile strength that the tape keeps.
pub(super) static TENSILE_KEPT: Measure = Measure {
    id: "tensile-kept",
    asked: "share of its tensile strength that the tape keeps to the end of the exposure",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Backing],
    case: &[CaseRead::Exposure],
    demand: None,
    parts: &[],
    factor: None,
    best: Some(1.0),
    work: tensile_kept,
};

fn tension(enquiry: &Enquiry) -> Result<f64, &'static str> {
    enquiry.winding.tension.map(crate::quantity::ForcePerLength::si).ok_or("winding.tension")
}

fn tension_margin(w: &mut Work<'_>) -> Answer {
    w.method("tensile strength of the sheet over the winding tension");
    let Some(tensile) = w.sheet("F", Property::Tensile) else { return Answer::Unknown };
    w.estimate(&[], true, |x, _| tensile.of(x))
}

fn tensile_kept(w: &mut Work<'_>) -> Answer {
    w.only_tested(Trial {
        symbol: "kept",
        material: w.tape.backing,
        side: Side::Backing,
        property: Property::TensileKept,
        clock: Clock::Time,
    })
}
