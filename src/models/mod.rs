//! The mechanisms: one a file, pure functions of typed quantities.
//!
//! A model knows no tape and no file. It takes SI newtypes, returns a typed answer, and says on
//! its [`Card`] which equation it is, in which units, where it holds and who published it. The
//! same literals make the card, the doc comment, the `model` command, the working and the dossier,
//! so the text exists once. A limit of validity is likewise one constant, a [`Bound`].
//!
//! No model returns `NaN`. Input without an answer is refused with a reason ([`Refusal`]); input
//! outside the range where an equation holds still gets its number, and the bound says so.
//! An infinite answer is a limit: a life at absolute zero, a time to full saturation.

use std::fmt;

use crate::quantity::{Kind, Unit, tidy};

/// Declares a [`Card`], its [`Bound`]s, and the macro that gives a function's doc comment the same
/// text: `card! { LIFE, life_card = "ageing-life", "…"; … }`, then `#[doc = life_card!()]`.
macro_rules! card {
    (
        $card:ident, $doc:ident = $name:literal, $($summary:literal)+;
        equation: $($equation:literal)+;
        units: $($units:literal)+;
        valid: $($valid:literal)+;
        $(bound $bound:ident: $what:literal, $kind:ident, $min:literal to $max:literal $($unit:literal)?, $basis:literal;)*
        source: $($source:literal),+;
    ) => {
        $(
            #[doc = concat!("Where the model `", $name, "` holds: ", $what, " ", $min, " to ", $max, $(" ", $unit,)? " (", $basis, ").")]
            #[allow(clippy::cast_lossless, clippy::unnecessary_cast)]
            pub static $bound: $crate::models::Bound = $crate::models::Bound {
                what: $what,
                kind: &$crate::quantity::$kind,
                unit: concat!($($unit)?),
                min: $min as f64,
                max: $max as f64,
                source: $basis,
            };
        )*

        #[doc = concat!("The card `", $name, "`: ", $($summary),+, ".")]
        pub static $card: $crate::models::Card = $crate::models::Card {
            name: $name,
            summary: concat!($($summary),+),
            equation: concat!($($equation),+),
            units: concat!($($units),+),
            valid: concat!($($valid),+ $(, "; ", $what, " ", $min, " to ", $max $(, " ", $unit)?, " (", $basis, ")")*),
            bounds: &[$(&$bound),*],
            sources: &[$($source),+],
        };

        macro_rules! $doc {
            () => {
                concat!(
                    "\n\nThis text is that of its card, [`", stringify!($card), "`].\n\n",
                    "Equation: `", $($equation),+, "`\n\nUnits: ", $($units),+,
                    "\n\nValid: ", $($valid),+ $(, "; ", $what, " ", $min, " to ", $max $(, " ", $unit)?, " (", $basis, ")")*,
                    $("\n\nSource: ", $source),+
                )
            };
        }
    };
}

pub mod acceleration;
pub mod affinity;
pub mod ageing;
pub mod atmosphere;
pub mod bending;
pub mod breakdown;
pub mod converter;
pub mod diffusion;
pub mod discharge;
pub mod hydrolysis;
pub mod layers;
pub mod paschen;
pub mod peel;
pub mod softening;
mod solve;
pub mod swelling;
pub mod water;
pub mod wicking;
pub mod wrap;

/// The molar gas constant, J/mol/K (exact product of defined constants, BIPM SI brochure, 9th ed.
/// 2019, to ten digits).
pub const GAS_CONSTANT: f64 = 8.314_462_618;

/// What a model says about itself.
#[derive(Debug)]
pub struct Card {
    /// Its name, that of the `model` command where there is one.
    pub name: &'static str,
    /// What it works out, in a line.
    pub summary: &'static str,
    /// The equation.
    pub equation: &'static str,
    /// The units of the equation's symbols.
    pub units: &'static str,
    /// Where it holds, the bounds included.
    pub valid: &'static str,
    /// The numeric limits of validity.
    pub bounds: &'static [&'static Bound],
    /// Who published it.
    pub sources: &'static [&'static str],
}

impl fmt::Display for Card {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Equation: {}", self.equation)?;
        writeln!(f, "Units: {}", self.units)?;
        write!(f, "Valid: {}", self.valid)?;
        self.sources.iter().try_for_each(|source| write!(f, "\nSource: {source}"))
    }
}

/// One limit of validity: a number between two others, in a printed unit.
#[derive(Debug)]
pub struct Bound {
    /// What the number is, without an article: "temperature".
    pub what: &'static str,
    /// Its kind.
    pub kind: &'static Kind,
    /// The unit of `min` and `max`; empty for a plain number.
    pub unit: &'static str,
    /// The lowest value where the equation holds, in `unit`.
    pub min: f64,
    /// The highest value where the equation holds, in `unit`.
    pub max: f64,
    /// Who says so.
    pub source: &'static str,
}

impl Bound {
    /// The lowest and the highest value, in SI.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        Unit::read(self.unit).map_or((self.min, self.max), |unit| (unit.to_si(self.min), unit.to_si(self.max)))
    }

    /// Nothing if an SI value is within, else a sentence for a note.
    #[must_use]
    pub fn check(&self, si: f64) -> Option<String> {
        let (low, high) = self.range();
        // A value that was converted and back may miss its own limit by a rounding.
        let slack = 1e-12 * libm::fmax(libm::fabs(low), libm::fabs(high));
        if si >= low - slack && si <= high + slack {
            return None;
        }
        let number = if self.unit.is_empty() { si } else { self.kind.number_in(si, self.unit).unwrap_or(si) };
        let space = if self.unit.is_empty() { "" } else { " " };
        Some(format!(
            "{} {}{space}{} is outside {self}, where the equation holds",
            self.what,
            tidy(number, 4),
            self.unit
        ))
    }
}

impl fmt::Display for Bound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let space = if self.unit.is_empty() { "" } else { " " };
        write!(f, "{} to {}{space}{}", self.min, self.max, self.unit)
    }
}

/// Why a model has no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// The input at fault, under its name in the `model` command.
    pub input: &'static str,
    /// What would have been needed.
    pub needed: &'static str,
    /// What to do.
    pub remedy: &'static str,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} needs {}; {}", self.input, self.needed, self.remedy)
    }
}

/// What a model returns: an answer that is never `NaN`, or the reason why there is none.
pub type Answer<T> = Result<T, Refusal>;

/// The number, if it is one.
fn number(value: f64, input: &'static str) -> Answer<f64> {
    if value.is_nan() {
        return Err(Refusal {
            input,
            needed: "numbers of a size that can be computed with",
            remedy: "check the size and the unit of the inputs",
        });
    }
    Ok(value)
}

/// The number, if it is above zero and finite.
fn positive(value: f64, input: &'static str) -> Answer<f64> {
    if value > 0.0 && value.is_finite() {
        return Ok(value);
    }
    Err(Refusal { input, needed: "a finite value above zero", remedy: "check the sign, the size and the unit" })
}

/// The number, if it is zero or above and finite.
fn not_negative(value: f64, input: &'static str) -> Answer<f64> {
    if value >= 0.0 && value.is_finite() {
        return Ok(value);
    }
    Err(Refusal { input, needed: "a finite value, zero or above", remedy: "check the sign, the size and the unit" })
}

/// The number, if it is finite.
fn finite(value: f64, input: &'static str) -> Answer<f64> {
    if value.is_finite() {
        return Ok(value);
    }
    Err(Refusal { input, needed: "a finite value", remedy: "check the size and the unit" })
}

/// The number, if it lies between zero and one.
fn share(value: f64, input: &'static str) -> Answer<f64> {
    if (0.0..=1.0).contains(&value) {
        return Ok(value);
    }
    Err(Refusal { input, needed: "a share from 0 to 1", remedy: "write a share, such as `0.5` or `50 %`" })
}

/// Every card there is, in the order of the files.
pub static CARDS: &[&Card] = &[
    &acceleration::ACCELERATION,
    &acceleration::STEP,
    &affinity::DISTANCE,
    &affinity::INTERACTION,
    &affinity::MIXING,
    &ageing::LIFE,
    &ageing::FIT,
    &ageing::LIFE_USED,
    &atmosphere::PRESSURE,
    &bending::EDGE_LIFT,
    &breakdown::STRENGTH,
    &converter::PEAK,
    &diffusion::DIFFUSIVITY,
    &diffusion::UPTAKE,
    &diffusion::TIME,
    &diffusion::EDGE,
    &diffusion::LAP,
    &discharge::INCEPTION,
    &discharge::FILLED,
    &hydrolysis::SCISSION,
    &hydrolysis::LIFETIME,
    &hydrolysis::RATE,
    &layers::SERIES,
    &layers::EQUIVALENT,
    &layers::STEADY,
    &paschen::TOWNSEND,
    &paschen::UNIFORM,
    &paschen::MINIMUM,
    &peel::PEEL,
    &softening::SOFTENING,
    &softening::SLOW_PEEL,
    &swelling::SWELLING,
    &water::SATURATION,
    &water::SOLUBILITY,
    &water::ACTIVITY,
    &wicking::WICKING,
    &wicking::DEAD_END,
    &wrap::HELICAL,
    &wrap::THINNEST,
    &wrap::GROWTH,
    &wrap::ROLL,
    &wrap::BEND,
    &wrap::STEER,
    &wrap::SHEAR,
    &wrap::SHEAR_LAG,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_card_says_all_of_it_once() {
        let mut names: Vec<_> = CARDS.iter().map(|card| card.name).collect();
        for card in CARDS {
            let texts = [card.name, card.summary, card.equation, card.units, card.valid];
            assert!(texts.iter().all(|text| !text.is_empty()), "{}", card.name);
            assert!(!card.sources.is_empty(), "{}", card.name);
            for bound in card.bounds {
                assert!(card.valid.contains(&bound.to_string()), "{}: {bound}", card.name);
                assert!(bound.min < bound.max);
                assert!(bound.unit.is_empty() || bound.kind.number_in(0.0, bound.unit).is_some());
            }
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), CARDS.len());
    }

    #[test]
    fn a_bound_notes_what_is_outside() {
        let bound = &water::TEMPERATURE_RANGE;
        assert_eq!(bound.check(273.15), None);
        assert_eq!(bound.check(150.0 + 273.15), None);
        assert_eq!(
            bound.check(200.0 + 273.15).unwrap_or_default(),
            "temperature 200 degC is outside 0 to 150 degC, where the equation holds"
        );
        assert!(bound.check(f64::NAN).is_some());
    }
}
