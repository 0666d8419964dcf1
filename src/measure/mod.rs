//! The table of measures: what Lapwise computes for a cell, from what, and by which model.
//!
//! A [`Measure`] declares what it reads of the tape and of the case. Cells that agree in all of it
//! are one cell: it is computed once and shared, whatever the tape or the enquiry. Its `work` asks
//! a [`Work`] for facts, each of which is noted, and gives the closure that computes the number.

mod reads;
mod work;

pub use reads::{CaseRead, TapeRead};
pub use work::{Answer, Cell, Evidence, Missing, Mode, Step, Use, Work, Working};

use crate::enquiry::Enquiry;

/// What is asked of a tape, once per exposure or once per enquiry.
pub struct Measure {
    /// Its key, which criteria name.
    pub id: &'static str,
    /// What it is, as a phrase.
    pub asked: &'static str,
    /// The unit of its numbers, fixed.
    pub unit: &'static str,
    /// True for one cell per exposure, false for one per enquiry.
    pub per_exposure: bool,
    /// What it reads of the tape.
    pub tape: &'static [TapeRead],
    /// What it reads of the enquiry and the exposure.
    pub case: &'static [CaseRead],
    /// What the cell's number is divided by, so that cells are shared between demands.
    pub demand: Option<Demand>,
    /// The computation.
    pub work: fn(&mut Work<'_>) -> Answer,
}

/// What a capability is held against.
pub struct Demand {
    /// What it is.
    pub name: &'static str,
    /// Its symbol in the working.
    pub symbol: &'static str,
    /// The unit it is printed in.
    pub unit: &'static str,
    /// Its value in SI, or the key of the enquiry that is missing.
    pub value: fn(&Enquiry) -> Result<f64, &'static str>,
}

mod absorption;
mod electric;
mod force;
mod heat;
mod hydrolysis;
mod swelling;

/// Every measure.
pub static MEASURES: &[&Measure] = &[
    &swelling::ADHESIVE_SWELLING,
    &absorption::BACKING_ABSORPTION,
    &hydrolysis::HYDROLYSIS_LIFE,
    &heat::THERMAL_CLASS,
    &heat::THERMAL_LIFE,
    &electric::BREAKDOWN_MARGIN,
    &electric::PD_MARGIN,
    &force::TENSION_MARGIN,
];

/// The measure of a key.
#[must_use]
pub fn find(id: &str) -> Option<&'static Measure> {
    MEASURES.iter().find(|m| m.id == id).copied()
}
