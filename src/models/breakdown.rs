//! Strength of solid insulation: over thickness, and over time.

use super::{Answer, finite, not_negative, number, positive};
use crate::quantity::{FieldStrength, Length, Voltage};

/// What a sheet stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength {
    /// The field at breakdown.
    pub field: FieldStrength,
    /// The voltage at breakdown.
    pub voltage: Voltage,
}

card! {
    STRENGTH, strength_card = "thickness-strength", "Breakdown strength and voltage at another thickness";
    equation: "E = E0 (t/t0)^−n, V = E t";
    units: "E, E0 in V/m; t, t0 in m; V in V; n without unit";
    valid: "one material and one test; a short-time value, not a service stress";
    bound EXPONENT_RANGE: "exponent", FRACTION, 0.3 to 0.5, "Zhao and Liu, Nanomaterials 10 (2020) 2473 (abstract); range from memory";
    bound STRENGTH_THICKNESS: "thickness", LENGTH, 12 to 250 "um", "films the exponents are of, from memory";
    bound THICKNESS_RATIO: "thickness over that of the test", FRACTION, 0.1 to 10, "common practice, no source";
    source: "Zhao and Liu, Nanomaterials 10 (2020) 2473 (abstract)";
}

/// The strength at `thickness`, from that at another.
///
/// # Errors
/// A thickness that is not above zero, a negative strength, or numbers too large to compute with.
#[doc = strength_card!()]
pub fn at_thickness(strength: FieldStrength, at: Length, thickness: Length, exponent: f64) -> Answer<Strength> {
    let ratio = positive(thickness.si(), "thickness")? / positive(at.si(), "at")?;
    let exponent = finite(exponent, "exponent")?;
    let field = number(not_negative(strength.si(), "strength")? * libm::pow(ratio, -exponent), "exponent")?;
    let voltage = number(field * thickness.si(), "exponent")?;
    Ok(Strength { field: FieldStrength::from_si(field), voltage: Voltage::from_si(voltage) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thin_sheets_are_stronger_and_thick_ones_stand_more() {
        let at = |t: f64| {
            at_thickness(FieldStrength::from_si(280e6), Length::from_si(25e-6), Length::from_si(t), 0.5).unwrap()
        };
        assert!((at(50e-6).field.si() / 197.989_898_732_233_3e6 - 1.0).abs() < 1e-12);
        assert!(at(12e-6).field > at(25e-6).field && at(12e-6).voltage < at(25e-6).voltage);
    }
}
