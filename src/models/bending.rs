//! A bent tape that wants to be flat again.

use super::{Answer, not_negative, number, positive};
use crate::quantity::{EnergyPerArea, Length, Pressure};

card! {
    EDGE_LIFT, edge_lift_card = "bending-energy", "Elastic energy per area of a tape bent to a radius, which lifts its end";
    equation: "G = E h³/(24 r²)";
    units: "modulus E in Pa, thickness h and radius r in m, G in J/m2";
    valid: "an elastic sheet, thin against the radius";
    source: "bending of a thin sheet: moment E h³/(12 r) over half the curvature (derived)";
}

/// The energy per area stored by bending.
///
/// # Errors
/// A radius that is not above zero, a negative modulus or thickness, or numbers too large.
#[doc = edge_lift_card!()]
pub fn energy(modulus: Pressure, thickness: Length, radius: Length) -> Answer<EnergyPerArea> {
    let h = not_negative(thickness.si(), "thickness")?;
    let slope = h / positive(radius.si(), "radius")?;
    number(not_negative(modulus.si(), "modulus")? * h * slope * slope / 24.0, "thickness").map(EnergyPerArea::from_si)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cube_of_thickness_and_square_of_curvature() {
        let at = |h: f64, r: f64| energy(Pressure::from_si(4e9), Length::from_si(h), Length::from_si(r)).unwrap().si();
        assert!((at(50e-6, 5e-3) - 4e9 * 1.25e-13 / (24.0 * 25e-6)).abs() < 1e-12);
        assert!((at(100e-6, 5e-3) / at(50e-6, 5e-3) - 8.0).abs() < 1e-12);
    }
}
