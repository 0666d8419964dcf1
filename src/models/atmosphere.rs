//! Air pressure over altitude.

use super::{Answer, Refusal, number};
use crate::quantity::{Length, Pressure};

card! {
    PRESSURE, pressure_card = "air-pressure", "Mean air pressure at an altitude";
    equation: "p = 101.325 (1 − 2.25577e-5 h)^5.25588";
    units: "h in m, p in kPa";
    valid: "the standard atmosphere; the weather moves it by a few per cent";
    bound ALTITUDE_RANGE: "altitude", LENGTH, 0 to 11000 "m", "ISO 2533, the lowest layer (from memory)";
    source: "ISO 2533 standard atmosphere, in the form of common engineering tables (from memory)";
}

/// The pressure at an altitude above sea level.
///
/// # Errors
/// An altitude above 44.3 km, where this form ends.
#[doc = pressure_card!()]
pub fn pressure(altitude: Length) -> Answer<Pressure> {
    let base = 1.0 - 2.255_77e-5 * altitude.si();
    if !(base > 0.0 && base.is_finite()) {
        return Err(Refusal {
            input: "altitude",
            needed: "an altitude below 44 km",
            remedy: "check the unit of the altitude",
        });
    }
    number(101_325.0 * libm::pow(base, 5.255_88), "altitude").map(Pressure::from_si)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: ISO 2533 standard atmosphere: 89.87 kPa at 1000 m, 79.50 at 2000 m, 54.02 at 5000 m
    /// (digits from memory).
    #[test]
    fn standard_atmosphere() {
        for (metres, kilopascal) in [(0.0, 101.325), (1000.0, 89.87), (2000.0, 79.50), (5000.0, 54.02)] {
            let p = pressure(Length::from_si(metres)).unwrap().si() / 1e3;
            assert!((p - kilopascal).abs() < 0.01, "{metres}: {p}");
        }
        assert!(pressure(Length::from_si(1e5)).is_err());
    }
}
