//! Thermal endurance: a temperature index and the interval that halves the life.

use core::f64::consts::LN_2;

use super::{Answer, GAS_CONSTANT, Refusal, not_negative, number, positive};
use crate::quantity::{MolarEnergy, Temperature, TemperatureDifference, Time};

/// The life at the temperature index, 20 000 h (IEC 60216-1).
pub const LIFE_AT_INDEX: Time = Time::from_si(20_000.0 * 3600.0);

card! {
    LIFE, life_card = "ageing-life", "Life at a steady temperature, from temperature index and halving interval";
    equation: "L = 20000 h · exp(b(1/T − 1/TI)), b = ln 2/[1/TI − 1/(TI + HIC)]";
    units: "T, TI in K; HIC in K; b in K; L in h";
    valid: "one ageing process, the end point and the air of the test; not transferable to a sealed liquid or to vacuum";
    bound LIFE_SPAN: "distance from the index", DIFFERENCE, -60 to 100 "K", "common practice, no source";
    source: "IEC 60216-1: index at 20 000 h, halving interval taken at the index";
}

/// A line of endurance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// The temperature index.
    pub index: Temperature,
    /// Halvings of the life by a step of 1/T, in K: the slope b over ln 2.
    pub halvings: f64,
}

impl Line {
    /// The line of an index and a halving interval.
    ///
    /// # Errors
    /// One of them that is not above zero.
    #[doc = life_card!()]
    pub fn new(index: Temperature, halving: TemperatureDifference) -> Answer<Line> {
        let ti = positive(index.si(), "index")?;
        let hic = positive(halving.si(), "halving")?;
        Ok(Line { index, halvings: positive(ti * (ti + hic) / hic, "halving")? })
    }
}

/// The life at `temperature`: without end at absolute zero.
///
/// # Errors
/// A halving interval or index that is not above zero, or a temperature below it.
#[doc = life_card!()]
pub fn life(index: Temperature, halving: TemperatureDifference, temperature: Temperature) -> Answer<Time> {
    let line = Line::new(index, halving)?;
    let inverse = 1.0 / not_negative(temperature.si(), "temperature")?;
    number(LIFE_AT_INDEX.si() * libm::exp2(line.halvings * (inverse - 1.0 / index.si())), "temperature")
        .map(Time::from_si)
}

/// A fitted endurance line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Endurance {
    /// The temperature with a life of 20 000 h.
    pub index: Temperature,
    /// The rise above it that halves the life.
    pub halving: TemperatureDifference,
    /// The slope as an energy of activation.
    pub energy: MolarEnergy,
    /// How far the index lies below the coolest test.
    pub extrapolation: TemperatureDifference,
}

card! {
    FIT, fit_card = "ageing-fit", "Temperature index and halving interval from times to the end point";
    equation: "ln t = a + b/T by least squares of ln t on 1/T; TI at 20000 h; HIC = 1/(1/TI − ln 2/b) − TI; E = bR";
    units: "t in h, T and TI in K, b and HIC in K, E in J/mol";
    valid: "one ageing process over all temperatures, three of them or more";
    bound FIT_EXTRAPOLATION: "extrapolation below the coolest test", DIFFERENCE, -100 to 25 "K", "IEC 60216-1 (from memory)";
    bound FIT_POINTS: "number of temperatures", FRACTION, 3 to 1000, "IEC 60216-1 (from memory)";
    source: "IEC 60216-3 (least squares; its tests of linearity and spread are not made)";
}

/// The endurance line through the points `(time to the end point, temperature)`.
///
/// # Errors
/// Fewer than two temperatures, a time or temperature that is not above zero, or lives that do not
/// fall as the temperature rises.
#[doc = fit_card!()]
pub fn fit(points: &[(Time, Temperature)]) -> Answer<Endurance> {
    let mut line = Vec::with_capacity(points.len());
    for (time, temperature) in points {
        let x = 1.0 / positive(temperature.si(), "points")?;
        line.push((x, libm::log(positive(time.si(), "points")? / LIFE_AT_INDEX.si())));
    }
    let count = libm::fmax(1.0, line.iter().map(|_| 1.0).sum());
    let (x0, y0) = line.iter().fold((0.0, 0.0), |(x, y), p| (x + p.0 / count, y + p.1 / count));
    let spread: f64 = line.iter().map(|(x, _)| (x - x0) * (x - x0)).sum();
    let b = line.iter().map(|(x, y)| (x - x0) * (y - y0)).sum::<f64>() / spread;
    // 1/TI, where ln(t/20 000 h) is zero.
    let inverse = x0 - y0 / b;
    let warmer = inverse - LN_2 / b;
    if !(spread > 1e-24 && b > 0.0 && b.is_finite() && warmer > 0.0) {
        return Err(Refusal {
            input: "points",
            needed: "two temperatures or more, with lives that fall as the temperature rises",
            remedy: "write time@temperature, such as `7200 h@180 degC, 480 h@220 degC`",
        });
    }
    let index = 1.0 / inverse;
    let coolest = points.iter().map(|(_, temperature)| temperature.si()).fold(f64::INFINITY, f64::min);
    Ok(Endurance {
        index: Temperature::from_si(number(index, "points")?),
        halving: TemperatureDifference::from_si(number(1.0 / warmer - index, "points")?),
        energy: MolarEnergy::from_si(number(b * GAS_CONSTANT, "points")?),
        extrapolation: TemperatureDifference::from_si(number(coolest - index, "points")?),
    })
}

card! {
    LIFE_USED, life_used_card = "life-used", "Share of the life that a history of temperatures uses up";
    equation: "Σ ti/L(Ti), L of ageing-life";
    units: "t and L in the same unit, T in K; result without unit, 1 for the whole life";
    valid: "damage that adds up whatever its order; bounds of ageing-life";
    source: "linear damage sum over IEC 60216 lives (common practice)";
}

/// Times at temperatures, to be held against any number of endurance lines.
#[derive(Clone, Debug)]
pub struct History {
    /// The share of the life at the index that a step would use there, and the inverse of its temperature.
    steps: Vec<(f64, f64)>,
}

impl History {
    /// The steps `(time, temperature)`.
    ///
    /// # Errors
    /// A negative time, a temperature below absolute zero.
    pub fn new(steps: impl IntoIterator<Item = (Time, Temperature)>) -> Answer<History> {
        let step = |(time, temperature): (Time, Temperature)| {
            let share = not_negative(time.si(), "steps")? / LIFE_AT_INDEX.si();
            Ok((share, 1.0 / not_negative(temperature.si(), "steps")?))
        };
        let steps: Answer<Vec<(f64, f64)>> = steps.into_iter().map(step).collect();
        Ok(History { steps: steps?.into_iter().filter(|(share, _)| *share > 0.0).collect() })
    }

    /// The share of life used.
    ///
    /// # Errors
    /// A line that holds no numbers, or a sum too large to compute with.
    #[doc = life_used_card!()]
    pub fn used(&self, line: Line) -> Answer<f64> {
        let at_index = 1.0 / line.index.si();
        let share = |(share, inverse): &(f64, f64)| share * libm::exp2(line.halvings * (at_index - inverse));
        number(self.steps.iter().map(share).sum(), "steps")
    }
}

/// The share of life used by `(time, temperature)` steps.
///
/// # Errors
/// As [`History`].
#[doc = life_used_card!()]
pub fn life_used(index: Temperature, halving: TemperatureDifference, steps: &[(Time, Temperature)]) -> Answer<f64> {
    History::new(steps.iter().copied())?.used(Line::new(index, halving)?)
}

/// What one step of a history uses up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spent {
    /// The life at the step's temperature.
    pub life: Time,
    /// The share of it that the step's time is.
    pub share: f64,
}

/// The life at the temperature of a step, and the share of it that a time there uses.
///
/// # Errors
/// As [`life`] and [`life_used`].
#[doc = life_used_card!()]
pub fn spent(index: Temperature, halving: TemperatureDifference, step: (Time, Temperature)) -> Answer<Spent> {
    Ok(Spent { life: life(index, halving, step.1)?, share: life_used(index, halving, &[step])? })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn celsius(t: f64) -> Temperature {
        Temperature::from_si(t + 273.15)
    }

    fn hours(index: f64, halving: f64, temperature: f64) -> f64 {
        life(celsius(index), TemperatureDifference::from_si(halving), celsius(temperature)).unwrap().si() / 3600.0
    }

    /// Source: IEC 60216-1, the definitions of index and halving interval.
    #[test]
    fn the_index_lasts_20_000_hours_and_the_interval_halves_it() {
        assert!((hours(155.0, 10.0, 155.0) - 20_000.0).abs() < 1e-6);
        assert!((hours(155.0, 10.0, 165.0) - 10_000.0).abs() < 1e-6);
        // The rule of thumb of halving again every 10 K is 3 % off two intervals up.
        assert!((hours(155.0, 10.0, 175.0) / 5_000.0 - 1.031).abs() < 1e-3);
    }

    #[test]
    fn a_fit_returns_the_line_it_was_given() {
        let points: Vec<_> =
            [180.0, 200.0, 220.0].map(|t| (Time::from_si(hours(155.0, 9.0, t) * 3600.0), celsius(t))).to_vec();
        let found = fit(&points).unwrap();
        assert!((found.index.si() - 428.15).abs() < 1e-8);
        assert!((found.halving.si() - 9.0).abs() < 1e-8);
        assert!((found.extrapolation.si() - 25.0).abs() < 1e-8);
        assert!(fit(&points[..1]).is_err());
        assert!(fit(&[points[0], points[0]]).is_err());
        assert!(fit(&[]).is_err());
        assert!(fit(&[(points[0].0, celsius(200.0)), (points[0].0, celsius(220.0))]).is_err());
    }

    #[test]
    fn using_the_life_at_the_index_uses_it_up() {
        let used = life_used(
            celsius(155.0),
            TemperatureDifference::from_si(10.0),
            &[
                (Time::from_si(0.5 * LIFE_AT_INDEX.si()), celsius(155.0)),
                (Time::from_si(0.25 * LIFE_AT_INDEX.si()), celsius(165.0)),
            ],
        );
        assert!((used.unwrap() - 1.0).abs() < 1e-12);
    }
}
