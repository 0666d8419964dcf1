//! The table of measures: what Lapwise computes for a cell, from what, and by which model.
//!
//! A [`Measure`] declares what it reads of the tape and of the case. Cells that agree in all of it
//! are one cell: it is computed once and shared, whatever the tape or the enquiry. Its `work` asks
//! a [`Work`] for facts, each of which is noted, and gives the closure that computes the number.

mod reads;
mod work;

pub use reads::{CaseRead, TapeRead};
pub use work::{
    Answer, Beside, Cell, Kin, Missing, Mode, Part, Proves, Shared, Step, Together, Trace, Use, Work, Working,
};

use crate::catalogue::{Catalogue, Property};
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
    /// What each part of the number reads of the tape, where it is gathered in parts.
    pub parts: &'static [&'static [TapeRead]],
    /// What of the sheet is told apart within a cell, so that cells are shared by tapes that differ only in it.
    pub factor: Option<Factor>,
    /// The best that its number can come to, where there is a best: a share of 1, a ratio of 1.
    pub best: Option<f64>,
    /// The computation.
    pub work: fn(&mut Work<'_>) -> Answer,
}

/// Numbers of the sheet of which a tape's number follows from the cell's: percentiles pass through a factor.
pub struct Factor {
    /// What it reads of the sheet. It stands apart from the cell only where all of it is stated without spread.
    pub sheet: &'static [Property],
    /// The scale, from what was read.
    pub value: fn(&Catalogue, usize, &[f64]) -> Option<Scale>,
}

/// How the number of a tape follows from the cell that it shares: it is one of the cell's answers, times a factor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// The factor.
    pub by: f64,
    /// What the answer hangs on.
    pub own: Own,
}

/// The numbers of its own on which the answer of a tape hangs, among those of the cell that it shares; what they
/// are, the measure says.
pub type Own = [f64; 2];

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
    /// A step between the cell's number and the division, if there is one.
    pub last: Option<LastStep>,
}

/// A last step that is monotone in the cell's number and reads more of the case than the cell does,
/// so that the cell is shared by cases which differ only in that. Percentiles pass through it.
pub struct LastStep {
    /// What it reads of the case, or the key that is missing; first what the demand is multiplied by in a test.
    pub read: fn(&Catalogue, &Enquiry) -> Result<[f64; 6], &'static str>,
    /// The number, from what was read, what the cell carries along, and the cell's number.
    pub apply: fn(&[f64; 6], f64, f64, &mut Trace<'_>) -> f64,
}

/// What a cell is held against in one case.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// What the number is divided by.
    pub divisor: f64,
    step: [f64; 6],
}

impl Measure {
    /// The scale of a tape, if it stands apart from the cell.
    #[must_use]
    pub fn factor(&self, catalogue: &Catalogue, tape: usize) -> Option<Scale> {
        let factor = self.factor.as_ref()?;
        let exact = |property: &Property| {
            catalogue.sheet(tape, *property).filter(|found| found.spread.is_exact()).map(|found| found.spread.value)
        };
        let numbers: Option<Vec<f64>> = factor.sheet.iter().map(exact).collect();
        let scale = (factor.value)(catalogue, tape, &numbers?)?;
        (scale.by.is_finite() && scale.by > 0.0 && scale.own.iter().all(|own| own.is_finite())).then_some(scale)
    }

    /// The bits of what its cells read of a tape, equal for tapes that share them.
    pub fn tape_bits(&self, catalogue: &Catalogue, tape: usize, out: &mut Vec<u64>) {
        for read in self.tape {
            read.bits(catalogue, tape, out);
        }
        let apart = self.factor(catalogue, tape).is_some();
        out.push(u64::from(apart));
        for property in self.factor.iter().flat_map(|factor| factor.sheet) {
            if apart {
                out.push(catalogue.sheet(tape, *property).map_or(u64::MAX, |found| found.basis as u64));
            } else {
                TapeRead::Sheet(*property).bits(catalogue, tape, out);
            }
        }
    }

    /// What its cells are held against in an enquiry, or what is missing for it.
    ///
    /// # Errors
    /// The enquiry does not state what is needed.
    pub fn terms(&self, catalogue: &Catalogue, enquiry: &Enquiry) -> Result<Terms, Missing> {
        let Some(demand) = &self.demand else { return Ok(Terms { divisor: 1.0, step: [0.0; 6] }) };
        let divisor = (demand.value)(enquiry).map_err(Missing::Given)?;
        let step = demand
            .last
            .as_ref()
            .map_or(Ok([0.0; 6]), |last| (last.read)(catalogue, enquiry))
            .map_err(Missing::Given)?;
        Ok(Terms { divisor, step })
    }

    /// A cell's number, held against a demand.
    #[must_use]
    pub fn held(&self, terms: &Terms, carried: f64, number: f64, trace: &mut Trace<'_>) -> f64 {
        let last = self.demand.as_ref().and_then(|demand| demand.last.as_ref());
        last.map_or(number, |last| (last.apply)(&terms.step, carried, number, trace)) / terms.divisor
    }
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
