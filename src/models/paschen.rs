//! Breakdown of a gas gap.

use super::{Answer, Refusal, finite, number, positive};
use crate::quantity::{FieldPerPressure, IonisationCoefficient, Length, Pressure, Temperature, Voltage};

/// The coefficients of a gas in Townsend's law.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gas {
    /// Ionisations per length and pressure.
    pub a: IonisationCoefficient,
    /// Field per pressure.
    pub b: FieldPerPressure,
    /// Electrons set free at the cathode by each ion.
    pub gamma: f64,
}

/// One torr, Pa, and one torr centimetre, Pa m.
const TORR: f64 = 101_325.0 / 760.0;
const TORR_CM: f64 = TORR * 0.01;

impl Gas {
    /// Air: A 15 and B 365 per centimetre and torr, γ 0.01, the common textbook set.
    pub const AIR: Gas = Gas {
        a: IonisationCoefficient::from_si(15.0 / TORR_CM),
        b: FieldPerPressure::from_si(365.0 / TORR_CM),
        gamma: 0.01,
    };

    /// A, B and ln(1 + 1/γ), in SI.
    fn checked(self) -> Answer<(f64, f64, f64)> {
        let feedback = libm::log1p(1.0 / positive(self.gamma, "paschen_gamma")?);
        Ok((
            positive(self.a.si(), "paschen_a")?,
            positive(self.b.si(), "paschen_b")?,
            positive(feedback, "paschen_gamma")?,
        ))
    }
}

/// Pressure times gap at the density of 20 degC, in Pa m.
fn product(pressure: Pressure, gap: Length, temperature: Temperature) -> Answer<f64> {
    finite(density(pressure, temperature)? * positive(gap.si(), "gap")?, "gap")
}

/// The pressure at 20 degC of gas as dense as this, in Pa.
fn density(pressure: Pressure, temperature: Temperature) -> Answer<f64> {
    finite(positive(pressure.si(), "pressure")? * (293.15 / positive(temperature.si(), "temperature")?), "pressure")
}

/// The voltages of gaps of any width, at one density.
pub(super) struct Law {
    a: f64,
    b: f64,
    feedback: f64,
    density: f64,
    /// The lowest voltage, and the gap that has it.
    pub(super) lowest: (f64, f64),
    /// The factors of g and of √g in the even-field form.
    pub(super) uniform: (f64, f64),
}

impl Law {
    pub(super) fn new(gas: Gas, pressure: Pressure, temperature: Temperature) -> Answer<Law> {
        let (a, b, feedback) = gas.checked()?;
        let density = positive(density(pressure, temperature)?, "pressure")?;
        let (voltage, product) = lowest(a, b, feedback)?;
        let x = density / 1013.25;
        let uniform = (24.22e3 * x, 6.08e3 * libm::sqrt(x));
        Ok(Law { a, b, feedback, density, lowest: (voltage, product / density), uniform })
    }

    /// None at and left of the pole.
    pub(super) fn townsend(&self, gap: f64) -> Option<f64> {
        let pd = self.density * gap;
        let below = libm::log(self.a * pd / self.feedback);
        let voltage = self.b * pd / below;
        (below > 0.0 && voltage.is_finite()).then_some(voltage)
    }

    /// `A p/ln(1 + 1/γ)` at the density of 20 degC: times a gap, the argument of the law's logarithm.
    pub(super) fn scale(&self) -> f64 {
        self.a * self.density / self.feedback
    }

    pub(super) fn uniform(&self, gap: f64) -> f64 {
        let (a, b) = self.uniform;
        a * gap + b * libm::sqrt(gap)
    }
}

card! {
    TOWNSEND, townsend_card = "gap-breakdown", "Breakdown voltage of a gas gap by Paschen's law, in Townsend's form";
    equation: "V = B pd/[ln(A pd) − ln ln(1 + 1/γ)], pd = p·d·293.15/T";
    units: "pd in Pa m, A in 1/(Pa m), B in V/(Pa m), γ without unit, T in K; V in V, peak; air: A 15, B 365 per cm and torr, γ 0.01";
    valid: "even field, clean dry gas; not defined at or left of the pole, pd = ln(1 + 1/γ)/A, 0.308 torr cm in air";
    bound FIELD_RANGE: "field over pressure", FIELD_PER_PRESSURE, 100 to 800 "V/(cm torr)", "range of A and B for air, textbooks, from memory";
    source: "Townsend's form with A 15, B 365, γ 0.01, the common textbook set, said to follow Bazelyan and Raizer (not read)";
}

/// The breakdown voltage by Townsend's law.
///
/// # Errors
/// A gap left of the pole, a pressure, gap or temperature that is not above zero, or numbers too
/// large to compute with.
#[doc = townsend_card!()]
pub fn townsend(gas: Gas, pressure: Pressure, gap: Length, temperature: Temperature) -> Answer<Voltage> {
    let law = Law::new(gas, pressure, temperature)?;
    law.townsend(positive(gap.si(), "gap")?).map(Voltage::from_si).ok_or(Refusal {
        input: "gap",
        needed: "a product of pressure and gap right of the pole of the law, 0.308 torr cm in air",
        remedy: "write a wider gap or a higher pressure; left of the minimum a discharge takes a longer path",
    })
}

/// The field over pressure at a breakdown voltage, for [`FIELD_RANGE`].
///
/// # Errors
/// A pressure, gap or temperature that is not above zero.
#[doc = townsend_card!()]
pub fn field_over_pressure(
    voltage: Voltage,
    pressure: Pressure,
    gap: Length,
    temperature: Temperature,
) -> Answer<FieldPerPressure> {
    number(voltage.si() / product(pressure, gap, temperature)?, "gap").map(FieldPerPressure::from_si)
}

/// The lowest point of Townsend's law.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Minimum {
    /// The lowest breakdown voltage.
    pub voltage: Voltage,
    /// Pressure times gap there, at 20 degC, in Pa m.
    pub product: f64,
}

card! {
    MINIMUM, minimum_card = "paschen-minimum", "Lowest breakdown voltage of a gas gap by Townsend's form, whatever the gap";
    equation: "V = e B/A ln(1 + 1/γ) at pd = e/A ln(1 + 1/γ)";
    units: "pd in Pa m, A in 1/(Pa m), B in V/(Pa m), γ without unit; V in V, peak";
    valid: "even field, clean dry gas; in air 305 V at 0.836 torr cm, where 327 V at 0.567 was measured";
    source: "Townsend's form, its derivative set to zero", "measured minimum of air: Naidu and Kamaraju, High Voltage Engineering (from memory)";
}

/// The minimum of Townsend's law.
///
/// # Errors
/// Coefficients that are not above zero.
#[doc = minimum_card!()]
pub fn minimum(gas: Gas) -> Answer<Minimum> {
    let (a, b, feedback) = gas.checked()?;
    let (voltage, product) = lowest(a, b, feedback)?;
    Ok(Minimum { voltage: Voltage::from_si(voltage), product })
}

/// The lowest voltage, and pressure times gap there.
fn lowest(a: f64, b: f64, feedback: f64) -> Answer<(f64, f64)> {
    let product = finite(core::f64::consts::E / a * feedback, "paschen_a")?;
    Ok((finite(b * product, "paschen_b")?, product))
}

card! {
    UNIFORM, uniform_card = "gap-breakdown-uniform", "Breakdown voltage of an air gap in an even field, by the measured form for gaps above a tenth of a millimetre";
    equation: "V = 24.22 x + 6.08 √x, x = d (p/101.325)(293.15/T)";
    units: "d in cm, p in kPa, T in K, V in kV, peak";
    valid: "even field, air of ordinary humidity";
    bound UNIFORM_GAP: "gap at normal density", LENGTH, 0.1 to 100 "mm", "common practice, no source";
    source: "Naidu and Kamaraju, High Voltage Engineering (from memory)";
}

/// The breakdown voltage of air in an even field.
///
/// # Errors
/// A pressure, gap or temperature that is not above zero.
#[doc = uniform_card!()]
pub fn uniform(pressure: Pressure, gap: Length, temperature: Temperature) -> Answer<Voltage> {
    let law = Law::new(Gas::AIR, pressure, temperature)?;
    finite(law.uniform(positive(gap.si(), "gap")?), "gap").map(Voltage::from_si)
}

/// The gap that holds as much air at normal density, for [`UNIFORM_GAP`].
///
/// # Errors
/// A pressure, gap or temperature that is not above zero.
#[doc = uniform_card!()]
pub fn normal_gap(pressure: Pressure, gap: Length, temperature: Temperature) -> Answer<Length> {
    product(pressure, gap, temperature).map(|pd| Length::from_si(pd / 101_325.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    const NORMAL: Pressure = Pressure::from_si(101_325.0);
    const ROOM: Temperature = Temperature::from_si(293.15);

    #[test]
    fn the_minimum_is_the_lowest_point() {
        let lowest = minimum(Gas::AIR).unwrap();
        assert!((lowest.voltage.si() - 305.3).abs() < 0.1);
        assert!((lowest.product / TORR_CM - 0.836).abs() < 1e-3);
        for factor in [0.5, 0.99, 1.01, 2.0] {
            let gap = Length::from_si(lowest.product * factor / NORMAL.si());
            assert!(townsend(Gas::AIR, NORMAL, gap, ROOM).unwrap() > lowest.voltage);
        }
    }

    #[test]
    fn left_of_the_pole_there_is_no_answer() {
        for gap in [0.0, 1e-300, 2e-6, 0.3076e-2 * TORR / NORMAL.si()] {
            assert!(townsend(Gas::AIR, NORMAL, Length::from_si(gap), ROOM).is_err(), "{gap}");
        }
    }

    #[test]
    fn heat_and_height_thin_the_gas() {
        let gap = Length::from_si(50e-6);
        let cold = townsend(Gas::AIR, NORMAL, gap, ROOM).unwrap();
        let hot = townsend(Gas::AIR, NORMAL, gap, Temperature::from_si(428.15)).unwrap();
        assert!((hot.si() / cold.si() - 0.79).abs() < 0.03, "about a fifth less at 155 degC");
        let wide = Length::from_si(1e-3);
        assert!(uniform(Pressure::from_si(80e3), wide, ROOM).unwrap() < uniform(NORMAL, wide, ROOM).unwrap());
    }
}
