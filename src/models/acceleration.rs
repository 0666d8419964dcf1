//! How much faster ageing runs at another temperature.

use super::{Answer, number, positive};
use crate::quantity::{Temperature, TemperatureDifference};

card! {
    ACCELERATION, acceleration_card = "acceleration", "How much faster a rate-controlled change runs at one temperature than at another";
    equation: "factor = exp(B/Tref − B/T)";
    units: "B in K; T, Tref in K, counted from the zero that the source uses; factor without unit";
    valid: "one rate-controlling step, no transition between the two temperatures";
    source: "IEEE C57.91: B = 15000 K, 110 degC, zero 273 (digits of its table from memory)", "IEC 60076-7: the same for thermally upgraded paper";
}

/// The rate at `temperature` over that at `reference`.
///
/// # Errors
/// A temperature that is not above zero, or numbers too large to compute with.
#[doc = acceleration_card!()]
pub fn factor(slope: TemperatureDifference, reference: Temperature, temperature: Temperature) -> Answer<f64> {
    let inverse = 1.0 / positive(reference.si(), "reference")? - 1.0 / positive(temperature.si(), "temperature")?;
    number(libm::exp(number(slope.si() * inverse, "slope")?), "slope")
}

card! {
    STEP, step_card = "acceleration-per-step", "How much faster ageing runs where every step of so many kelvin doubles its rate";
    equation: "factor = 2^((T − Tref)/step)";
    units: "T, Tref, step in K; factor without unit";
    valid: "paper that is not thermally upgraded, with reference 98 degC and step 6 K";
    bound STEP_TEMPERATURE: "temperature", TEMPERATURE, 80 to 140 "degC", "IEC 60076-7 (from memory)";
    source: "IEC 60076-7";
}

/// The rate at `temperature` over that at `reference`, by doubling.
///
/// # Errors
/// A step that is not above zero, or numbers too large to compute with.
#[doc = step_card!()]
pub fn per_step(reference: Temperature, step: TemperatureDifference, temperature: Temperature) -> Answer<f64> {
    let steps = (temperature.si() - reference.si()) / positive(step.si(), "step")?;
    number(libm::exp2(number(steps, "temperature")?), "temperature")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: IEC 60076-7, doubling every 6 K from 98 degC.
    #[test]
    fn doubles_per_step() {
        let rate = |t: f64| {
            let (reference, now) = (Temperature::from_si(98.0 + 273.15), Temperature::from_si(t + 273.15));
            per_step(reference, TemperatureDifference::from_si(6.0), now).unwrap()
        };
        assert!((rate(104.0) - 2.0).abs() < 1e-12 && (rate(92.0) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn one_at_the_reference() {
        let t = Temperature::from_si(383.0);
        assert!((factor(TemperatureDifference::from_si(15_000.0), t, t).unwrap() - 1.0).abs() < 1e-15);
    }
}
