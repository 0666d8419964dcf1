//! Axes: positions and the marks on them.

use schemars::JsonSchema;
use serde::Serialize;

use crate::dossier::language::Language;

/// A mark on an axis.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Tick {
    /// Where, from 0 to 1.
    pub at: f64,
    /// What it says.
    pub text: String,
}

pub(super) fn rounded(x: f64) -> f64 {
    libm::round(x * 1e4) / 1e4
}

/// Marks at whole units of time, few enough to be read.
pub(super) fn time_ticks(language: &Language, from: f64, to: f64, at: impl Fn(f64) -> f64) -> Vec<Tick> {
    const HOUR: f64 = 3600.0;
    const MARKS: [f64; 13] = [
        1.0,
        10.0,
        60.0,
        600.0,
        HOUR,
        10.0 * HOUR,
        24.0 * HOUR,
        240.0 * HOUR,
        876.6 * HOUR,
        8766.0 * HOUR,
        87_660.0 * HOUR,
        876_600.0 * HOUR,
        8_766_000.0 * HOUR,
    ];
    let mut ticks: Vec<Tick> = Vec::new();
    for mark in MARKS.into_iter().filter(|m| *m >= from && *m <= to) {
        let tick = Tick { at: rounded(at(mark)), text: language.time(mark) };
        if ticks.last().is_none_or(|last| clear_of(last, &tick)) {
            ticks.push(tick);
        }
    }
    ticks
}

/// The share of the narrowest axis that one letter below it takes, and that two texts leave between them.
const LETTER: f64 = 0.045;
const BETWEEN: f64 = 0.05;

/// True if the texts of two marks of an axis, each in the middle below its mark, do not meet.
fn clear_of(a: &Tick, b: &Tick) -> bool {
    let half = |tick: &Tick| f64::from(u32::try_from(tick.text.chars().count()).unwrap_or(u32::MAX)) * LETTER / 2.0;
    b.at - a.at > half(a) + BETWEEN + half(b)
}

/// Marks at equal steps of 1, 2 or 5, with their texts.
pub(super) fn even_ticks(language: &Language, from: f64, to: f64) -> Vec<(f64, String)> {
    let raw = (to - from) / 3.5;
    if raw.is_nan() || raw <= 0.0 {
        return Vec::new();
    }
    let power = libm::pow(10.0, libm::floor(libm::log10(raw)));
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|s| s * power).find(|s| *s >= raw).unwrap_or(raw);
    let first = libm::ceil(from / step - 1e-9);
    (0..12)
        .map(|i| (first + f64::from(i)) * step)
        .take_while(|v| *v <= to * (1.0 + 1e-9))
        .map(|v| (v, language.number(v, 3)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_below_an_axis_do_not_meet() {
        let templates = super::super::super::template::Templates::embedded();
        for language in ["en", "de"].map(|id| templates.language(id).unwrap_or_else(|f| panic!("{:?}", f.sorted()))) {
            for (from, to) in [(1.0, 100.0), (60.0, 3e7), (1.0, 6.3e8), (600.0, 4e9), (10.0, 1e10)] {
                let at = |time: f64| libm::log(time / from) / libm::log(to / from);
                let ticks = time_ticks(&language, from, to, at);
                assert!(ticks.len() > 1, "{from} to {to} s has {} marks", ticks.len());
                for pair in ticks.windows(2) {
                    // The narrowest axis is 29.5 mm wide, a letter of 6.5 pt no wider than 1.4 mm.
                    let letters = pair.iter().map(|tick| tick.text.chars().count()).sum::<usize>();
                    let apart = (pair[1].at - pair[0].at) * 29.5;
                    assert!(
                        apart > f64::from(u32::try_from(letters).unwrap_or(99)) * 1.3 / 2.0,
                        "{} and {}",
                        pair[0].text,
                        pair[1].text
                    );
                }
            }
        }
    }
}
