//! Voltage between turns fed by a converter.

use super::{Answer, not_negative, number};
use crate::quantity::Voltage;

card! {
    PEAK, peak_card = "converter-peak", "Peak voltage that one place of a converter-fed winding sees";
    equation: "V = turn share · overshoot · dc link";
    units: "V and dc link in V; turn share and overshoot without unit";
    valid: "share and overshoot belong to the rise time and the cable; the enhancement factors of the qualification test come on top";
    source: "IEC 60034-18-41 (from memory)";
}

/// The peak voltage from the direct voltage of the link.
///
/// # Errors
/// A negative input, or numbers too large to compute with.
#[doc = peak_card!()]
pub fn peak(dc_link: Voltage, overshoot: f64, turn_share: f64) -> Answer<Voltage> {
    let factor = not_negative(overshoot, "overshoot")? * not_negative(turn_share, "turn_share")?;
    number(not_negative(dc_link.si(), "dc_link")? * factor, "dc_link").map(Voltage::from_si)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_multiply() {
        let v = peak(Voltage::from_si(560.0), 1.5, 0.7).unwrap().si();
        assert!((v - 588.0).abs() < 1e-9);
    }
}
