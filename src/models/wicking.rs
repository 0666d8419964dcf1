//! A liquid drawn or pressed into pores.

use core::f64::consts::PI;

use super::{Answer, Refusal, finite, not_negative, number, positive};
use crate::quantity::{Angle, Length, Pressure, SurfaceTension, Time, Viscosity};

card! {
    WICKING, wicking_card = "wicking", "How deep a liquid enters a pore, drawn by its surface tension and pressed by a difference of pressure";
    equation: "L = √(r²(2γ cosθ/r + Δp)t/(4η)); 0 where nothing drives";
    units: "r, L in m; γ in N/m; Δp in Pa; t in s; η in Pa s";
    valid: "round pores of one radius, laminar flow, a viscosity that does not change; Δp is the absolute pressure less the vacuum left in the pore";
    source: "Washburn, Phys. Rev. 17 (1921) 273 (from memory); pressure term by Poiseuille's law";
}

/// The depth reached after a time.
///
/// # Errors
/// A radius or viscosity of zero, a contact angle above 180 degrees, a negative tension or time, or
/// numbers that are not finite.
#[doc = wicking_card!()]
pub fn depth(
    radius: Length,
    tension: SurfaceTension,
    angle: Angle,
    viscosity: Viscosity,
    time: Time,
    pressure: Pressure,
) -> Answer<Length> {
    let r = positive(radius.si(), "radius")?;
    let eta = positive(viscosity.si(), "viscosity")?;
    if !(0.0..=PI * (1.0 + 1e-12)).contains(&angle.si()) {
        return Err(Refusal {
            input: "angle",
            needed: "a contact angle from 0 to 180 deg",
            remedy: "write it in degrees, such as `20 deg`",
        });
    }
    let cosine = libm::cos(angle.si());
    // A right angle is none that a double can hold.
    let cosine = if libm::fabs(cosine) < 1e-15 { 0.0 } else { cosine };
    let drive = 2.0 * not_negative(tension.si(), "tension")? * cosine * r + r * r * finite(pressure.si(), "pressure")?;
    let driven = number(libm::fmax(drive, 0.0) * not_negative(time.si(), "time")? / (4.0 * eta), "pressure")?;
    Ok(Length::from_si(libm::sqrt(driven)))
}

card! {
    DEAD_END, dead_end_card = "dead-end-fill", "Share of a closed pore that a liquid fills against the gas left in it";
    equation: "share = 1 − p0/p";
    units: "p0, the pressure of the gas before, and p, that of the liquid, absolute, in Pa";
    valid: "a gas that neither leaves nor dissolves, at one temperature; capillary pressure not counted";
    source: "Boyle's law";
}

/// The share of a dead-end pore that fills.
///
/// # Errors
/// A pressure of the liquid that is not above zero, or a negative pressure of the gas.
#[doc = dead_end_card!()]
pub fn dead_end_fill(residual: Pressure, pressure: Pressure) -> Answer<f64> {
    let ratio = not_negative(residual.si(), "vacuum")? / positive(pressure.si(), "pressure")?;
    Ok((1.0 - ratio).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn depth_of(radius: f64, degrees: f64, pressure: f64) -> f64 {
        depth(
            Length::from_si(radius),
            SurfaceTension::from_si(0.03),
            Angle::from_si(degrees * PI / 180.0),
            Viscosity::from_si(0.5),
            Time::from_si(60.0),
            Pressure::from_si(pressure),
        )
        .unwrap()
        .si()
    }

    #[test]
    fn washburn_and_no_drive() {
        assert!((depth_of(1e-6, 0.0, 0.0) / 0.001_341_640_786_499_873_8 - 1.0).abs() < 1e-12);
        assert!(depth_of(1e-6, 90.0, 0.0).abs() < 1e-300);
        assert!(depth_of(1e-6, 120.0, 0.0).abs() < 1e-300);
        assert!(depth_of(1e-6, 120.0, 1e5) > 0.0);
        assert!(depth_of(4e-6, 0.0, 0.0) / depth_of(1e-6, 0.0, 0.0) - 2.0 < 1e-12);
    }

    #[test]
    fn a_closed_pore_fills_by_the_pressure_ratio() {
        let fill = |p0: f64, p: f64| dead_end_fill(Pressure::from_si(p0), Pressure::from_si(p)).unwrap();
        assert!((fill(1e5, 6e5) - 5.0 / 6.0).abs() < 1e-15);
        assert!(fill(2e5, 1e5).abs() < 1e-15);
    }
}
