//! A hold that is warmer than where it was taken, and the slow peel of a lap that it is part of.

use super::{Answer, not_negative, number, positive, share};
use crate::quantity::{Temperature, TemperatureDifference};

card! {
    SOFTENING, softening_card = "softening", "Share of a hold that is left where it is warmer than where it was taken";
    equation: "softer = 2^(−(T − T0)/ΔT), 1 below T0";
    units: "T, T0 and ΔT in K; softer without unit";
    valid: "an adhesive above its glass transition, over a few steps of ΔT";
    source: "common practice, no source: ΔT is an input with its spread";
}

/// What is left at `temperature` of a hold taken at `reference`, halved by each `step`.
///
/// # Errors
/// A step that is not above zero, or numbers too large to compute with.
#[doc = softening_card!()]
pub fn softer(temperature: Temperature, reference: Temperature, step: TemperatureDifference) -> Answer<f64> {
    let over = libm::fmax(number(temperature.si() - reference.si(), "temperature")?, 0.0);
    Ok(libm::exp2(-over / positive(step.si(), "step")?))
}

card! {
    SLOW_PEEL, slow_peel_card = "slow-peel", "Share of the peel of a sheet that the slow peel of a warm, wetted lap takes";
    equation: "share = slow · softer · kept; edge lift = share · G of peel-angle / G of bending-energy";
    units: "slow, softer (of softening, with T0 = 23 °C) and kept without unit; G in J/m2";
    valid: "an edge that creeps without end; slow is an input with its spread";
    source: "common practice, no source";
}

/// That share.
///
/// # Errors
/// A negative share, or a softening or a share kept that is not from 0 to 1.
#[doc = slow_peel_card!()]
pub fn slow_peel(slow: f64, softer: f64, kept: f64) -> Answer<f64> {
    Ok(not_negative(slow, "slow")? * share(softer, "softer")? * not_negative(kept, "kept")?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_step_halves_and_cold_hardens_nothing() {
        let at = |t: f64| {
            softer(Temperature::from_si(t), Temperature::from_si(296.15), TemperatureDifference::from_si(40.0)).unwrap()
        };
        assert!([at(250.0), at(296.15)].iter().all(|left| left.total_cmp(&1.0).is_eq()));
        assert!((at(336.15) - 0.5).abs() < 1e-12 && (at(376.15) - 0.25).abs() < 1e-12);
        assert!((slow_peel(0.1, 0.5, 0.8).unwrap() - 0.04).abs() < 1e-15);
        assert!(
            softer(Temperature::from_si(300.0), Temperature::from_si(300.0), TemperatureDifference::from_si(0.0))
                .is_err()
        );
    }
}
