//! The voltage across a wrap.

use core::f64::consts::SQRT_2;

use crate::enquiry::Enquiry;
use crate::models::converter;

use super::Demand;

/// The peak voltage across the wrap.
pub(super) const PEAK: Demand =
    Demand { name: "peak voltage across the wrap", symbol: "Û", unit: "V", value: peak, last: None };

/// The peak voltage across the wrap: √2 times the root mean square for ac; for a converter the share of
/// the overshooting link, and never less than the peak of a root mean square that is stated as well.
fn peak(enquiry: &Enquiry) -> Result<f64, &'static str> {
    let v = enquiry.voltage.as_ref().ok_or("voltage")?;
    if v.kind == "converter" {
        let dc_link = v.dc_link.ok_or("voltage.dc_link")?;
        let overshoot = v.overshoot.ok_or("voltage.overshoot")?;
        let share = v.turn_share.ok_or("voltage.turn_share")?;
        let of_link = converter::peak(dc_link, overshoot, share).map_err(|_| "voltage.dc_link")?.si();
        return Ok(of_link.max(v.across.map_or(0.0, |across| across.si() * SQRT_2)));
    }
    let across = v.across.ok_or("voltage.across")?.si();
    Ok(if v.kind == "ac" { across * SQRT_2 } else { across })
}
