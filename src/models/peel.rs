//! Peeling at any angle.

use core::f64::consts::PI;

use super::{Answer, Refusal, not_negative, number, positive};
use crate::quantity::{Angle, EnergyPerArea, ForcePerLength, Length, Pressure};

card! {
    PEEL, peel_card = "peel-angle", "Force per width that peels a tape at an angle";
    equation: "F²/(2Eh) + F(1 − cosθ) = G, F per width";
    units: "F in N/m, modulus E in Pa, thickness h in m, adhesion energy G in J/m2, θ in rad";
    valid: "an elastic backing, an energy that does not change with angle or speed";
    bound PEEL_STRAIN: "strain of the peeled tape", FRACTION, 0 to 0.03, "below the yield of common films: common practice, no source";
    source: "Kendall, J. Phys. D 8 (1975) 1449";
}

/// The peel force per width.
///
/// # Errors
/// A modulus or thickness that is not above zero, a negative energy, an angle above 180 degrees.
#[doc = peel_card!()]
pub fn force(energy: EnergyPerArea, angle: Angle, modulus: Pressure, thickness: Length) -> Answer<ForcePerLength> {
    let energy = not_negative(energy.si(), "energy")?;
    let stiffness = positive(positive(modulus.si(), "modulus")? * positive(thickness.si(), "thickness")?, "thickness")?;
    if !(0.0..=PI * (1.0 + 1e-12)).contains(&angle.si()) {
        return Err(Refusal {
            input: "angle",
            needed: "an angle from 0 to 180 deg",
            remedy: "write it in degrees, such as `90 deg`",
        });
    }
    if energy == 0.0 {
        return Ok(ForcePerLength::from_si(0.0));
    }
    let half = libm::sin(0.5 * angle.si());
    let lever = 2.0 * half * half;
    number(2.0 * energy / (lever + libm::hypot(lever, libm::sqrt(2.0 * energy / stiffness))), "energy")
        .map(ForcePerLength::from_si)
}

/// The strain of a tape pulled by a force per width, for [`PEEL_STRAIN`].
///
/// # Errors
/// A modulus or thickness that is not above zero, a negative force.
#[doc = peel_card!()]
pub fn strain(force: ForcePerLength, modulus: Pressure, thickness: Length) -> Answer<f64> {
    let stress = not_negative(force.si(), "energy")? / positive(modulus.si(), "modulus")?;
    number(stress / positive(thickness.si(), "thickness")?, "thickness")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn peel(degrees: f64) -> f64 {
        let angle = Angle::from_si(degrees * PI / 180.0);
        force(EnergyPerArea::from_si(100.0), angle, Pressure::from_si(4e9), Length::from_si(50e-6)).unwrap().si()
    }

    #[test]
    fn the_equation_holds_and_steep_peel_is_easier() {
        assert!((peel(90.0) - 99.975_012_492_170_56).abs() < 1e-9);
        assert!((peel(180.0) - 49.996_875_390_601_05).abs() < 1e-9);
        assert!((peel(0.0) - libm::sqrt(2.0 * 2e5 * 100.0)).abs() < 1e-9);
        assert!(peel(10.0) > peel(45.0));
    }
}
