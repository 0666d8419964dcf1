//! Water in air and in a liquid.

use super::{Answer, Refusal, finite, not_negative, number, positive};
use crate::quantity::{Content, Pressure, Temperature, TemperatureDifference};

card! {
    SATURATION, saturation_card = "vapour-pressure", "Saturation pressure of water";
    equation: "p = [2C/(−B + √(B² − 4AC))]⁴, A = ϑ² + n1ϑ + n2, B = n3ϑ² + n4ϑ + n5, C = n6ϑ² + n7ϑ + n8, ϑ = T + n9/(T − n10)";
    units: "T in K, p in MPa";
    valid: "pure water over its own liquid";
    bound TEMPERATURE_RANGE: "temperature", TEMPERATURE, 0 to 150 "degC", "range used here; the equation itself reaches 374 degC";
    source: "IAPWS Industrial Formulation 1997 (IAPWS R7-97), region 4, eq. 30";
}

/// The ten coefficients of region 4, eq. 30 of IAPWS R7-97 (Table 34).
const N: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

/// The critical temperature of water, K (IAPWS R7-97).
const CRITICAL: f64 = 647.096;

/// Below this the equation, made for 273.15 K and above, bends back (computed).
const COLDEST: f64 = 173.15;

/// The pressure at which water boils.
///
/// # Errors
/// A temperature below 173.15 K or above the critical 647.096 K.
#[doc = saturation_card!()]
pub fn saturation_pressure(temperature: Temperature) -> Answer<Pressure> {
    let t = positive(temperature.si(), "temperature")?;
    if !(COLDEST..=CRITICAL).contains(&t) {
        return Err(Refusal {
            input: "temperature",
            needed: "a temperature from -100 degC, below which the equation is void, to the critical 373.946 degC",
            remedy: "write a temperature between the two",
        });
    }
    let theta = t + N[8] / (t - N[9]);
    let a = theta * theta + N[0] * theta + N[1];
    let b = N[2] * theta * theta + N[3] * theta + N[4];
    let c = N[5] * theta * theta + N[6] * theta + N[7];
    let base = 2.0 * c / (-b + libm::sqrt(b * b - 4.0 * a * c));
    let square = number(base, "temperature")?;
    Ok(Pressure::from_si(1e6 * square * square * square * square))
}

card! {
    SOLUBILITY, solubility_card = "water-solubility", "Water that a liquid can dissolve";
    equation: "log10 S = a − b/T";
    units: "S in mg/kg, b and T in K, a without unit";
    valid: "the liquid of the constants, as new; published sets for one kind of liquid differ by tens of per cent";
    bound SOLUBILITY_TEMPERATURE: "temperature", TEMPERATURE, 0 to 110 "degC", "common practice, no source";
    source: "form and mineral oil constants (a 7.0895, b 1567 K) as used in IEC 60422 practice (from memory)";
}

/// The content at saturation.
///
/// # Errors
/// A temperature that is not above zero, or numbers too large to compute with.
#[doc = solubility_card!()]
pub fn solubility(a: f64, b: TemperatureDifference, temperature: Temperature) -> Answer<Content> {
    let power = finite(a, "a")? - finite(b.si(), "b")? / positive(temperature.si(), "temperature")?;
    number(libm::exp10(power) * 1e-6, "b").map(Content::from_si)
}

card! {
    ACTIVITY, activity_card = "water-activity", "Activity of water in air or in a liquid: its content over that at saturation";
    equation: "activity = content/S, in air the relative humidity p/p(saturation); at most 1";
    units: "content and S in the same unit; p in Pa; activity without unit";
    valid: "below saturation; more than that is free water, activity 1";
    source: "definition";
}

/// The activity of water in a liquid.
///
/// # Errors
/// A negative content or a solubility that is not above zero.
#[doc = activity_card!()]
pub fn activity(content: Content, solubility: Content) -> Answer<f64> {
    let ratio = not_negative(content.si(), "water_content")? / positive(solubility.si(), "temperature")?;
    Ok(ratio.min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: IAPWS R7-97, Table 35: 300 K, 500 K and 600 K.
    #[test]
    fn saturation_pressure_as_published() {
        for (kelvin, megapascal) in [(300.0, 0.353_658_941e-2), (500.0, 0.263_889_776e1), (600.0, 0.123_443_146e2)] {
            let p = saturation_pressure(Temperature::from_si(kelvin)).unwrap().si();
            assert!((p / (megapascal * 1e6) - 1.0).abs() < 5e-9, "{kelvin}");
        }
    }

    #[test]
    fn saturation_rises_from_the_cold_to_the_critical_point() {
        let mut last = -1.0;
        for kelvin in 174..=647 {
            let p = saturation_pressure(Temperature::from_si(f64::from(kelvin))).unwrap().si();
            assert!(p > last, "{kelvin}");
            last = p;
        }
        assert!(saturation_pressure(Temperature::from_si(650.175_348_447_98)).is_err());
    }

    #[test]
    fn activity_is_at_most_one() {
        let content = |mg: f64| Content::from_si(mg * 1e-6);
        assert!((activity(content(10.0), content(40.0)).unwrap() - 0.25).abs() < 1e-15);
        assert!((activity(content(90.0), content(40.0)).unwrap() - 1.0).abs() < 1e-15);
    }
}
