//! The table of measures: what Lapwise computes for a cell, from what, and by which model.
//!
//! A [`Measure`] declares what it reads of the tape and of the case. Cells that agree in all of it
//! are one cell: it is computed once and shared, whatever the tape or the enquiry. Its `work` asks
//! a [`Work`] for facts, each of which is noted, and gives the closure that computes the number.

mod reads;
mod work;

pub use reads::{CaseRead, TapeRead};
pub use work::{Answer, Cell, Missing, Mode, Proves, Step, Use, Work, Working};

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
mod adhesion;
mod breakdown;
mod contamination;
mod discharge;
mod dissolution;
mod edge;
mod extraction;
mod force;
mod heat;
mod hydrolysis;
mod impregnation;
mod interaction;
mod kept;
mod layers;
mod moisture;
mod reach;
mod shape;
mod shear;
mod sheet;
mod stress;
mod swelling;
mod tested;

/// Every measure.
pub static MEASURES: &[&Measure] = &[
    &swelling::ADHESIVE_SWELLING,
    &extraction::ADHESIVE_EXTRACTION,
    &dissolution::ADHESIVE_DISSOLUTION,
    &edge::EDGE_LIFT_HOLD,
    &shear::SHEAR_HOLD,
    &absorption::BACKING_ABSORPTION,
    &dissolution::BACKING_DISSOLUTION,
    &impregnation::IMPREGNATION,
    &moisture::MOISTURE_EFFECT,
    &hydrolysis::HYDROLYSIS_LIFE,
    &heat::THERMAL_CLASS,
    &heat::THERMAL_LIFE,
    &breakdown::BREAKDOWN_MARGIN,
    &discharge::PD_MARGIN,
    &sheet::TRACKING,
    &force::TENSION_MARGIN,
    &force::TENSILE_KEPT,
    &shape::CONFORMABILITY,
    &adhesion::ADHESION_MARGIN,
    &adhesion::BOND_AFTER_IMPREGNATION,
    &contamination::LIQUID_CONTAMINATION,
    &contamination::CURE_INHIBITION,
    &sheet::ELECTROLYTIC_CORROSION,
    &sheet::OUTGASSING,
    &sheet::SHRINKAGE,
    &sheet::COLD_APPLICATION,
    &shape::BUILD_THICKNESS,
    &shape::WIDTH_AVAILABLE,
    &sheet::SHELF_LIFE,
    &sheet::COLOUR,
    &sheet::FLAME,
    &sheet::RECOGNITION,
];

/// The measure of a key.
#[must_use]
pub fn find(id: &str) -> Option<&'static Measure> {
    MEASURES.iter().find(|m| m.id == id).copied()
}
