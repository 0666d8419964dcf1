//! Typed quantities: read as a data sheet prints them, converted to SI, printed again.
//!
//! Units live at the edge. Inside, a [`Kind`] says what a number is, and the models take newtypes
//! such as [`Length`] whose raw number is always SI.

mod print;
mod unit;

pub use print::{canonical, count, significant, tidy};
pub use unit::{Dims, Unit, Unread, typed};

use crate::fault::{Code, Fault};

/// What a number is: a length, a temperature, a force per length.
#[derive(Debug, PartialEq)]
pub struct Kind {
    /// With its article: "a length".
    pub name: &'static str,
    /// A value written as it should be.
    pub example: &'static str,
    /// The unit its numbers are printed in by default.
    pub unit: &'static str,
    /// Its dimensions.
    pub dims: Dims,
    /// True for a point on the temperature scale, where `degC` and `degF` have their own zero.
    pub absolute: bool,
    /// True where a plain number is enough.
    pub bare: bool,
    /// The lowest possible value, in SI.
    pub min: f64,
}

impl Kind {
    /// Reads a value of this kind, in SI.
    ///
    /// # Errors
    /// A fault without a place: no number, no unit, an unknown unit, a unit of the wrong kind, or a
    /// value below the kind's physical bound.
    pub fn read(&'static self, text: &str) -> Result<f64, Fault> {
        let text = text.trim();
        let (number, rest) = split(text).ok_or_else(|| self.unreadable(text))?;
        let si = self.convert(text, number, rest)?;
        if !si.is_finite() {
            return Err(self.unreadable(text));
        }
        if si < self.min {
            return Err(self.impossible(text));
        }
        Ok(si)
    }

    /// True if two texts are the same amount, however it is written.
    #[must_use]
    pub fn alike(&'static self, a: &str, b: &str) -> bool {
        match (self.read(a), self.read(b)) {
            (Ok(a), Ok(b)) => libm::fabs(a - b) <= 1e-9 * libm::fabs(a).max(libm::fabs(b)),
            _ => false,
        }
    }

    fn convert(&'static self, text: &str, number: f64, unit: &str) -> Result<f64, Fault> {
        if unit.is_empty() {
            if self.bare {
                return Ok(number);
            }
            return Err(Fault::new(
                Code::UnitMissing,
                format!("`{text}`, a number without a unit"),
                self.name,
                format!("write it with its unit, such as `{}`", self.example),
            ));
        }
        let unit = Unit::read(unit).map_err(|unread| {
            let hint = unread.near().map_or_else(
                || format!("write {}, such as `{}`", self.name, self.example),
                |near| format!("did you mean `{near}`? For example `{}`", self.example),
            );
            Fault::new(Code::UnitUnknown, format!("`{text}`, with the unknown unit `{unit}`"), self.name, hint)
        })?;
        let fits = unit.dims == self.dims && (self.absolute || !unit.is_scale());
        if !fits {
            return Err(Fault::new(
                Code::UnitKind,
                format!("`{text}`, {}", unit.kind_name()),
                self.name,
                format!("write {}, such as `{}`", self.name, self.example),
            ));
        }
        Ok(unit.to_si(number))
    }

    /// The unit in which a person would print a value: a tape in µm, a hill in m, a wipe in s.
    #[must_use]
    pub fn unit_for(&self, si: f64) -> &'static str {
        const DAY: f64 = 86_400.0;
        let size = libm::fabs(si);
        let steps: &[(f64, &'static str)] = match self.unit {
            "mm" => &[(1e-3, "um"), (1.0, "mm"), (f64::INFINITY, "m")],
            "h" => &[(120.0, "s"), (7200.0, "min"), (3.0 * DAY, "h"), (730.5 * DAY, "d"), (f64::INFINITY, "a")],
            unit => return unit,
        };
        if size == 0.0 {
            return self.unit;
        }
        // A value on the edge, such as 1 m, may come out a rounding below it.
        steps.iter().find(|(below, _)| size < below * (1.0 - 1e-12)).map_or(self.unit, |(_, unit)| unit)
    }

    fn unreadable(&self, text: &str) -> Fault {
        let hint = if text.contains(',') {
            format!("write a decimal point and no thousands mark, such as `{}`", self.example)
        } else {
            format!("write a number, such as `{}`", self.example)
        };
        Fault::new(Code::NumberUnreadable, format!("`{text}`"), self.name, hint)
    }

    fn impossible(&self, text: &str) -> Fault {
        let bound = if self.absolute {
            "a temperature above absolute zero".to_owned()
        } else {
            format!("{} that is not negative", self.name)
        };
        Fault::new(
            Code::ValueImpossible,
            format!("`{text}`"),
            bound,
            format!("write {}, such as `{}`", self.name, self.example),
        )
    }

    /// A value as a person would write it, in the unit that suits its size.
    #[must_use]
    pub fn sized(&self, si: f64) -> String {
        let unit = match self.unit {
            "kPa" if si >= 1e9 => "GPa",
            "kPa" if si >= 1e6 => "MPa",
            _ => self.unit_for(si),
        };
        let number = tidy(self.number_in(si, unit).unwrap_or(si), 4);
        if unit == "1" { number } else { format!("{number} {unit}") }
    }

    /// A value in SI as a number in `unit`; `None` if the unit is unknown or of another kind.
    #[must_use]
    pub fn number_in(&self, si: f64, unit: &str) -> Option<f64> {
        if unit == "1" && self.dims == Dims::NONE {
            return Some(si);
        }
        let unit = Unit::read(unit).ok()?;
        (unit.dims == self.dims).then(|| unit.number(si))
    }
}

/// An SI number in a unit; unchanged where the unit is a plain number.
#[must_use]
pub fn in_unit(si: f64, unit: &str) -> f64 {
    Unit::read(unit).map_or(si, |unit| unit.number(si))
}

/// A number in a unit, as SI; unchanged where the unit is a plain number.
#[must_use]
pub fn from_unit(number: f64, unit: &str) -> f64 {
    Unit::read(unit).map_or(number, |unit| unit.to_si(number))
}

/// The number at the start of `text`, and the rest without the space between.
fn split(text: &str) -> Option<(f64, &str)> {
    let bytes = text.as_bytes();
    let mut end = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let digits = |from: usize| from + bytes[from..].iter().take_while(|b| b.is_ascii_digit()).count();
    let whole = digits(end);
    let mut any = whole > end;
    end = whole;
    if bytes.get(end) == Some(&b'.') {
        let fraction = digits(end + 1);
        any |= fraction > end + 1;
        end = fraction;
    }
    if !any {
        return None;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = digits(end + 1 + sign);
        if exponent > end + 1 + sign {
            end = exponent;
        }
    }
    let rest = text[end..].trim_start();
    if rest.starts_with([',', '.', '\'']) {
        return None;
    }
    Some((text[..end].parse().ok()?, rest))
}

/// A newtype over one SI number.
pub trait Typed: Copy {
    /// What the number is.
    const KIND: &'static Kind;
    /// Wraps an SI number.
    fn from_si(si: f64) -> Self;
    /// The SI number.
    fn si(self) -> f64;
}

macro_rules! quantities {
    ($($name:ident, $constant:ident = $words:literal, $example:literal, $unit:literal, [$($d:expr),+], min $min:expr $(, $flag:ident)*;)+) => {
        $(
            #[doc = concat!("The kind of [`", stringify!($name), "`]: ", $words, ", printed in ", $unit, ".")]
            pub static $constant: Kind = Kind {
                name: $words,
                example: $example,
                unit: $unit,
                dims: Dims::new([$($d),+]),
                absolute: quantities!(@has absolute $($flag)*),
                bare: quantities!(@has bare $($flag)*),
                min: $min,
            };

            #[doc = concat!("The SI number of ", $words, "; written like `", $example, "`.")]
            #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
            pub struct $name(f64);

            impl $name {
                /// Wraps an SI number.
                #[must_use]
                pub const fn from_si(si: f64) -> Self { $name(si) }
                /// The SI number.
                #[must_use]
                pub const fn si(self) -> f64 { self.0 }
            }

            impl Typed for $name {
                const KIND: &'static Kind = &$constant;
                fn from_si(si: f64) -> Self { $name(si) }
                fn si(self) -> f64 { self.0 }
            }
        )+

        /// Every kind there is.
        pub static KINDS: &[&Kind] = &[$(&$constant),+];
    };
    (@has $flag:ident) => { false };
    (@has absolute absolute $($rest:ident)*) => { true };
    (@has bare bare $($rest:ident)*) => { true };
    (@has $flag:ident $other:ident $($rest:ident)*) => { quantities!(@has $flag $($rest)*) };
}

const NEG: f64 = f64::NEG_INFINITY;

// Dimensions in half powers of m, kg, s, A, K, mol, rad. The first kind of given dimensions lends
// its name to messages about a unit of the wrong kind.
quantities! {
    Fraction, FRACTION = "a number or a fraction", "0.5", "1", [0, 0, 0, 0, 0, 0, 0], min NEG, bare;
    Length, LENGTH = "a length", "0.18 mm", "mm", [2, 0, 0, 0, 0, 0, 0], min 0.0;
    Area, AREA = "an area", "10 mm2", "mm2", [4, 0, 0, 0, 0, 0, 0], min 0.0;
    Time, TIME = "a time", "20 min", "h", [0, 0, 2, 0, 0, 0, 0], min 0.0;
    Temperature, TEMPERATURE = "a temperature", "105 degC", "degC", [0, 0, 0, 0, 2, 0, 0], min 0.0, absolute;
    TemperatureDifference, DIFFERENCE = "a temperature difference", "10 K", "K", [0, 0, 0, 0, 2, 0, 0], min NEG;
    Pressure, PRESSURE = "a pressure", "101.325 kPa", "kPa", [-2, 2, -4, 0, 0, 0, 0], min NEG;
    ForcePerLength, FORCE_PER_LENGTH = "a force per length", "45 N/cm", "N/cm", [0, 2, -4, 0, 0, 0, 0], min 0.0;
    EnergyPerArea, ENERGY_PER_AREA = "an energy per area", "100 J/m2", "J/m2", [0, 2, -4, 0, 0, 0, 0], min 0.0;
    SurfaceTension, SURFACE_TENSION = "a surface tension", "30 mN/m", "mN/m", [0, 2, -4, 0, 0, 0, 0], min 0.0;
    Force, FORCE = "a force", "12 N", "N", [2, 2, -4, 0, 0, 0, 0], min 0.0;
    Voltage, VOLTAGE = "a voltage", "5.5 kV", "V", [4, 2, -6, -2, 0, 0, 0], min 0.0;
    FieldStrength, FIELD_STRENGTH = "an electric field strength", "280 kV/mm", "kV/mm", [2, 2, -6, -2, 0, 0, 0], min 0.0;
    Frequency, FREQUENCY = "a frequency", "50 Hz", "Hz", [0, 0, -2, 0, 0, 0, 0], min 0.0;
    Resistivity, RESISTIVITY = "a volume resistivity", "1e12 ohm m", "ohm m", [6, 2, -6, -4, 0, 0, 0], min 0.0;
    Angle, ANGLE = "an angle", "90 deg", "deg", [0, 0, 0, 0, 0, 0, 2], min 0.0;
    Viscosity, VISCOSITY = "a viscosity", "0.5 Pa s", "mPa s", [-2, 2, -2, 0, 0, 0, 0], min 0.0;
    Diffusivity, DIFFUSIVITY = "a diffusivity", "4e-13 m2/s", "m2/s", [4, 0, -2, 0, 0, 0, 0], min 0.0;
    Density, DENSITY = "a density", "1.39 g/cm3", "kg/m3", [-6, 2, 0, 0, 0, 0, 0], min 0.0;
    MolarVolume, MOLAR_VOLUME = "a molar volume", "106.8 cm3/mol", "cm3/mol", [6, 0, 0, 0, 0, -2, 0], min 0.0;
    MolarDensity, MOLAR_DENSITY = "an amount per volume", "2e-4 mol/cm3", "mol/cm3", [-6, 0, 0, 0, 0, 2, 0], min 0.0;
    MolarEnergy, MOLAR_ENERGY = "an energy per amount", "43 kJ/mol", "kJ/mol", [4, 2, -4, 0, 0, -2, 0], min 0.0;
    MolarMass, MOLAR_MASS = "a molar mass", "20 kg/mol", "kg/mol", [0, 2, 0, 0, 0, -2, 0], min 0.0;
    Molality, MOLALITY = "an amount per mass", "0.3 mol/kg", "mol/kg", [0, -2, 0, 0, 0, 2, 0], min 0.0;
    SecondOrderRate, SECOND_ORDER_RATE = "a second-order rate constant", "1.83e-8 kg/mol/s", "kg/mol/s", [0, 2, -2, 0, 0, -2, 0], min 0.0;
    ScissionRate, SCISSION_RATE = "an amount per mass and time", "1e-8 mol/kg/s", "mol/kg/s", [0, -2, -2, 0, 0, 2, 0], min 0.0;
    SolubilityParameter, SOLUBILITY_PARAMETER = "a solubility parameter", "18.0 MPa^0.5", "MPa^0.5", [-1, 1, -2, 0, 0, 0, 0], min NEG;
    IonisationCoefficient, IONISATION = "a Paschen coefficient per pressure and length", "15 1/(cm torr)", "1/(cm torr)", [0, -2, 4, 0, 0, 0, 0], min 0.0;
    FieldPerPressure, FIELD_PER_PRESSURE = "a voltage per pressure and length", "365 V/(cm torr)", "V/(cm torr)", [4, 0, -2, -2, 0, 0, 0], min 0.0;
    Content, CONTENT = "a content by mass", "20 mg/kg", "mg/kg", [0, 0, 0, 0, 0, 0, 0], min 0.0;
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: exact definitions, BIPM SI brochure and NIST SP 811 (lbf = 4.448 221 615 260 5 N,
    /// in = 25.4 mm, kgf = 9.806 65 N, torr = 101 325/760 Pa).
    #[test]
    fn units_convert_by_definition() {
        for (kind, text, si) in [
            (&LENGTH, "2.5 mil", 2.5 * 25.4e-6),
            (&LENGTH, "65um", 65e-6),
            (&LENGTH, "65 µm", 65e-6),
            (&FORCE_PER_LENGTH, "25 lbf/in", 25.0 * 4.448_221_615_260_5 / 0.0254),
            (&FORCE_PER_LENGTH, "50 N/25 mm", 2000.0),
            (&TEMPERATURE, "311 degF", 311.0 / 1.8 + 459.67 / 1.8),
            (&TIME, "1 a", 8766.0 * 3600.0),
            (&FRACTION, "50 %", 0.5),
            (&IONISATION, "15 1/(cm torr)", 15.0 * 760.0 / 101_325.0 * 100.0),
            (&SOLUBILITY_PARAMETER, "18 MPa^0.5", 18e3),
            (&FIELD_STRENGTH, "1000 V/mil", 1000.0 / 25.4e-6),
            (&SECOND_ORDER_RATE, "1.83e-8 kg/mol/s", 1.83e-8),
            (&CONTENT, "20 mg/kg", 20e-6),
        ] {
            let read = kind.read(text).unwrap_or_else(|fault| panic!("{text}: {fault}"));
            assert!((read / si - 1.0).abs() < 1e-12, "{text}: {read} is not {si}");
        }
    }

    #[test]
    fn faults_name_what_was_found_and_needed() {
        let fault = |kind: &'static Kind, text: &str| kind.read(text).expect_err(text).to_string();
        insta::assert_snapshot!(fault(&LENGTH, "0.18 N/m"), @r"
          found   `0.18 N/m`, a force per length
          needed  a length
          do      write a length, such as `0.18 mm`
          (unit-kind)
        ");
        insta::assert_snapshot!(fault(&DIFFERENCE, "10 degC"), @r"
          found   `10 degC`, a temperature
          needed  a temperature difference
          do      write a temperature difference, such as `10 K`
          (unit-kind)
        ");
        insta::assert_snapshot!(fault(&LENGTH, "0.18"), @r"
          found   `0.18`, a number without a unit
          needed  a length
          do      write it with its unit, such as `0.18 mm`
          (unit-missing)
        ");
        insta::assert_snapshot!(fault(&LENGTH, "0.18 mmm"), @r"
          found   `0.18 mmm`, with the unknown unit `mmm`
          needed  a length
          do      did you mean `mm`? For example `0.18 mm`
          (unit-unknown)
        ");
        insta::assert_snapshot!(fault(&LENGTH, "0,18 mm"), @r"
          found   `0,18 mm`
          needed  a length
          do      write a decimal point and no thousands mark, such as `0.18 mm`
          (number-unreadable)
        ");
        insta::assert_snapshot!(fault(&TEMPERATURE, "-300 degC"), @r"
          found   `-300 degC`
          needed  a temperature above absolute zero
          do      write a temperature, such as `105 degC`
          (value-impossible)
        ");
    }

    #[test]
    fn a_value_is_printed_in_the_unit_of_its_size() {
        for (kind, si, unit) in [
            (&LENGTH, 65e-6, "um"),
            (&LENGTH, 1e-3, "mm"),
            (&LENGTH, 40.0, "m"),
            (&TIME, 60.0, "s"),
            (&TIME, 1200.0, "min"),
            (&TIME, 164.0 * 3600.0, "d"),
            (&TIME, 20.0 * 8766.0 * 3600.0, "a"),
            (&VOLTAGE, 5.0, "V"),
            (&LENGTH, 0.0, "mm"),
        ] {
            assert_eq!(kind.unit_for(si), unit, "{si}");
        }
    }

    #[test]
    fn every_example_reads_as_its_own_kind() {
        for kind in KINDS {
            kind.read(kind.example).unwrap_or_else(|fault| panic!("{}: {fault}", kind.name));
        }
    }
}
