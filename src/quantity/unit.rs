//! Units as people write them: `N/25 mm`, `kg/mol/s`, `V/(cm torr)`, `MPa^0.5`.

/// Dimensions, in half powers of m, kg, s, A, K, mol and rad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Dims([i8; 7]);

impl Dims {
    /// A plain number.
    pub const NONE: Dims = Dims([0; 7]);

    /// From half powers: a length is `[2, 0, 0, 0, 0, 0, 0]`.
    #[must_use]
    pub const fn new(halves: [i8; 7]) -> Self {
        Dims(halves)
    }

    fn combine(self, other: Dims, times: i8) -> Option<Dims> {
        let mut out = self.0;
        for (a, b) in out.iter_mut().zip(other.0) {
            *a = a.checked_add(b.checked_mul(times)?)?;
        }
        Some(Dims(out))
    }

    /// Raised to a power given in halves; `None` where that leaves half powers of half powers.
    fn power(self, halves: i8) -> Option<Dims> {
        let mut out = self.0;
        for a in &mut out {
            let product = a.checked_mul(halves)?;
            if product % 2 != 0 {
                return None;
            }
            *a = product / 2;
        }
        Some(Dims(out))
    }
}

/// A unit: its dimensions and how its numbers become SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// The dimensions.
    pub dims: Dims,
    factor: f64,
    zero: f64,
    /// Powers of ten kept apart, so that `um` is exactly `1e-6` and not a product of roundings.
    tens: i32,
    scale: bool,
}

const M: [i8; 7] = [2, 0, 0, 0, 0, 0, 0];
const KG: [i8; 7] = [0, 2, 0, 0, 0, 0, 0];
const S: [i8; 7] = [0, 0, 2, 0, 0, 0, 0];
const AMPERE: [i8; 7] = [0, 0, 0, 2, 0, 0, 0];
const KELVIN: [i8; 7] = [0, 0, 0, 0, 2, 0, 0];
const MOL: [i8; 7] = [0, 0, 0, 0, 0, 2, 0];
const RAD: [i8; 7] = [0, 0, 0, 0, 0, 0, 2];
const ONE: [i8; 7] = [0; 7];
const NEWTON: [i8; 7] = [2, 2, -4, 0, 0, 0, 0];
const PASCAL: [i8; 7] = [-2, 2, -4, 0, 0, 0, 0];
const JOULE: [i8; 7] = [4, 2, -4, 0, 0, 0, 0];
const WATT: [i8; 7] = [4, 2, -6, 0, 0, 0, 0];
const VOLT: [i8; 7] = [4, 2, -6, -2, 0, 0, 0];
const OHM: [i8; 7] = [4, 2, -6, -4, 0, 0, 0];
const PER_S: [i8; 7] = [0, 0, -2, 0, 0, 0, 0];
const VOLUME: [i8; 7] = [6, 0, 0, 0, 0, 0, 0];

/// Symbols that stand alone: `(symbol, dimensions, factor, power of ten)`.
const SYMBOLS: &[(&str, [i8; 7], f64, i32)] = &[
    ("in", M, 0.0254, 0),
    ("mil", M, 25.4, -6),
    ("ft", M, 0.3048, 0),
    ("yd", M, 0.9144, 0),
    ("min", S, 60.0, 0),
    ("h", S, 3600.0, 0),
    ("d", S, 86_400.0, 0),
    ("a", S, 8766.0 * 3600.0, 0),
    ("lbf", NEWTON, 4.448_221_615_260_5, 0),
    ("ozf", NEWTON, 4.448_221_615_260_5 / 16.0, 0),
    ("kgf", NEWTON, 9.806_65, 0),
    ("gf", NEWTON, 9.806_65, -3),
    ("atm", PASCAL, 101_325.0, 0),
    ("torr", PASCAL, 101_325.0 / 760.0, 0),
    ("mmHg", PASCAL, 133.322_387_415, 0),
    ("psi", PASCAL, 4.448_221_615_260_5 / (0.0254 * 0.0254), 0),
    ("%", ONE, 1.0, -2),
    ("ppm", ONE, 1.0, -6),
    ("KOH", ONE, 1.0, 0),
    ("deg", RAD, core::f64::consts::PI / 180.0, 0),
    ("rad", RAD, 1.0, 0),
    ("degC", KELVIN, 1.0, 0),
    ("degF", KELVIN, 1.0 / 1.8, 0),
];

/// Symbols that take a decimal prefix.
const PREFIXED: &[(&str, [i8; 7], f64, i32)] = &[
    ("m", M, 1.0, 0),
    ("g", KG, 1.0, -3),
    ("s", S, 1.0, 0),
    ("A", AMPERE, 1.0, 0),
    ("K", KELVIN, 1.0, 0),
    ("mol", MOL, 1.0, 0),
    ("N", NEWTON, 1.0, 0),
    ("Pa", PASCAL, 1.0, 0),
    ("bar", PASCAL, 1.0, 5),
    ("J", JOULE, 1.0, 0),
    ("cal", JOULE, 4.184, 0),
    ("W", WATT, 1.0, 0),
    ("V", VOLT, 1.0, 0),
    ("ohm", OHM, 1.0, 0),
    ("Hz", PER_S, 1.0, 0),
    ("l", VOLUME, 1.0, -3),
    ("L", VOLUME, 1.0, -3),
    ("P", [-2, 2, -2, 0, 0, 0, 0], 1.0, -1),
    ("St", [4, 0, -2, 0, 0, 0, 0], 1.0, -4),
];

const PREFIXES: &[(&str, i32)] =
    &[("G", 9), ("M", 6), ("k", 3), ("h", 2), ("d", -1), ("c", -2), ("m", -3), ("u", -6), ("n", -9), ("p", -12)];

/// A text that is no unit, with the symbol in it that is not known, if that is why.
#[derive(Debug)]
pub struct Unread(Option<String>);

impl Unread {
    /// The known symbol nearest to the unknown one, if any is near.
    #[must_use]
    pub fn near(&self) -> Option<&'static str> {
        let common = [
            "mm", "um", "cm", "m", "N/cm", "N", "kN", "degC", "kV", "V", "MPa", "kPa", "Pa", "kg", "g", "mg", "mol",
            "kJ", "ohm", "Hz", "kHz", "mil", "min", "lbf", "ozf", "deg",
        ];
        self.0.as_deref().and_then(|symbol| crate::fault::nearest(symbol, common))
    }
}

impl Unit {
    const NONE: Unit = Unit { dims: Dims::NONE, factor: 1.0, zero: 0.0, tens: 0, scale: false };

    /// Reads a unit.
    ///
    /// # Errors
    /// It is none.
    pub fn read(text: &str) -> Result<Unit, Unread> {
        let plain = plain(text);
        match plain.as_str() {
            "degC" => return Ok(Unit { dims: Dims(KELVIN), zero: 273.15, scale: true, ..Unit::NONE }),
            "degF" => {
                return Ok(Unit { dims: Dims(KELVIN), factor: 1.0 / 1.8, zero: 459.67 / 1.8, tens: 0, scale: true });
            }
            _ => {}
        }
        let mut reader = Reader { rest: plain.as_str(), depth: 0 };
        let unit = reader.product()?;
        if reader.rest.trim().is_empty() { Ok(unit) } else { Err(Unread(None)) }
    }

    /// True for a temperature scale with a zero of its own.
    #[must_use]
    pub const fn is_scale(self) -> bool {
        self.scale
    }

    /// A number in this unit, as SI.
    #[must_use]
    pub fn to_si(self, number: f64) -> f64 {
        times_ten(number * self.factor, self.tens) + self.zero
    }

    /// An SI value, as a number in this unit.
    #[must_use]
    pub fn number(self, si: f64) -> f64 {
        times_ten((si - self.zero) / self.factor, -self.tens)
    }

    /// What a number in this unit is, for a message.
    #[must_use]
    pub fn kind_name(self) -> &'static str {
        super::KINDS
            .iter()
            .find(|kind| kind.dims == self.dims && (kind.absolute == self.scale || self.dims != Dims(KELVIN)))
            .map_or("a quantity that nothing here takes", |kind| kind.name)
    }

    fn times(self, other: Unit, inverse: bool) -> Option<Unit> {
        let sign = if inverse { -1 } else { 1 };
        Some(Unit {
            dims: self.dims.combine(other.dims, sign)?,
            factor: if inverse { self.factor / other.factor } else { self.factor * other.factor },
            tens: self.tens + i32::from(sign) * other.tens,
            ..Unit::NONE
        })
    }

    fn power(self, halves: i8) -> Option<Unit> {
        let exponent = f64::from(halves) / 2.0;
        let tens = self.tens * i32::from(halves);
        let (tens, odd) = (tens.div_euclid(2), tens.rem_euclid(2));
        Some(Unit {
            dims: self.dims.power(halves)?,
            factor: libm::pow(self.factor, exponent) * if odd == 1 { libm::sqrt(10.0) } else { 1.0 },
            tens,
            ..Unit::NONE
        })
    }
}

/// `number · 10^tens`, rounded once: dividing by an exact power is better than multiplying by an
/// inexact one.
fn times_ten(number: f64, tens: i32) -> f64 {
    let power = |n: i32| libm::pow(10.0, f64::from(n));
    if tens < 0 { number / power(-tens) } else { number * power(tens) }
}

/// A sign as it is typed without its key: `µ` is `u`.
#[must_use]
pub fn typed(sign: char) -> Option<&'static str> {
    Some(match sign {
        'µ' | 'μ' => "u",
        'Ω' | '\u{2126}' => "ohm",
        '°' => "deg",
        '℃' => "degC",
        '℉' => "degF",
        '²' => "2",
        '³' => "3",
        _ => return None,
    })
}

/// The ASCII form of a unit that may carry typographic signs.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match (typed(c), c) {
            (Some(typed), _) => out.push_str(typed),
            (None, '·' | '⋅' | '×' | '*' | '\u{a0}' | '\u{202f}') => out.push(' '),
            (None, other) => out.push(other),
        }
    }
    out
}

/// How deep parentheses may nest.
const DEPTH: u8 = 4;

struct Reader<'a> {
    rest: &'a str,
    depth: u8,
}

impl Reader<'_> {
    /// Terms joined by spaces (times) and slashes (over); a number after a slash binds to its unit.
    fn product(&mut self) -> Result<Unit, Unread> {
        let mut unit = self.term()?;
        loop {
            self.rest = self.rest.trim_start();
            let inverse = self.rest.starts_with('/');
            if inverse {
                self.rest = self.rest[1..].trim_start();
            } else if self.rest.is_empty() || self.rest.starts_with(')') {
                return Ok(unit);
            }
            let mut next = self.term()?;
            if inverse && next.dims == Dims::NONE && next.scale {
                self.rest = self.rest.trim_start();
                let bound = self.term()?;
                next = Unit { scale: false, ..next }.times(bound, false).ok_or(Unread(None))?;
            }
            unit = unit.times(Unit { scale: false, ..next }, inverse).ok_or(Unread(None))?;
        }
    }

    /// One symbol with its power, a number (marked by `scale`), or a parenthesis.
    fn term(&mut self) -> Result<Unit, Unread> {
        if let Some(inner) = self.rest.strip_prefix('(') {
            if self.depth == DEPTH {
                return Err(Unread(None));
            }
            self.depth += 1;
            self.rest = inner;
            let unit = self.product()?;
            self.depth -= 1;
            self.rest = self.rest.strip_prefix(')').ok_or(Unread(None))?;
            return self.raised(unit);
        }
        let digits = self.rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(self.rest.len());
        if digits > 0 {
            let factor: f64 = self.rest[..digits].parse().map_err(|_| Unread(None))?;
            if factor <= 0.0 {
                return Err(Unread(None));
            }
            self.rest = &self.rest[digits..];
            return Ok(Unit { factor, scale: true, ..Unit::NONE });
        }
        let letters = self.rest.find(|c: char| !c.is_alphabetic() && c != '%').unwrap_or(self.rest.len());
        if letters == 0 {
            return Err(Unread(None));
        }
        let (symbol, rest) = self.rest.split_at(letters);
        let unit = symbol_unit(symbol).ok_or_else(|| Unread(Some(symbol.to_owned())))?;
        self.rest = rest;
        self.raised(unit)
    }

    /// A power after a symbol: `mm2`, `m^2`, `s-1`, `MPa^0.5`.
    fn raised(&mut self, unit: Unit) -> Result<Unit, Unread> {
        let caret = self.rest.starts_with('^');
        let text = if caret { &self.rest[1..] } else { self.rest };
        let signed = usize::from(text.starts_with('-'));
        let end = text[signed..]
            .find(|c: char| !(c.is_ascii_digit() || (caret && c == '.')))
            .map_or(text.len(), |at| at + signed);
        if end == signed {
            return if caret || signed == 1 { Err(Unread(None)) } else { Ok(unit) };
        }
        let power: f64 = text[..end].parse().map_err(|_| Unread(None))?;
        let halves = power * 2.0;
        if halves.abs() > 24.0 || libm::trunc(halves).total_cmp(&halves).is_ne() {
            return Err(Unread(None));
        }
        self.rest = &text[end..];
        #[expect(clippy::cast_possible_truncation, reason = "a whole number of at most 24")]
        unit.power(halves as i8).ok_or(Unread(None))
    }
}

fn symbol_unit(symbol: &str) -> Option<Unit> {
    let make = |dims: [i8; 7], factor: f64, tens: i32| Unit { dims: Dims(dims), factor, tens, ..Unit::NONE };
    if matches!(symbol, "degC" | "degF") {
        return None;
    }
    if let Some((_, dims, factor, tens)) = SYMBOLS.iter().chain(PREFIXED).find(|(s, ..)| *s == symbol) {
        return Some(make(*dims, *factor, *tens));
    }
    PREFIXES.iter().find_map(|(prefix, power)| {
        let base = symbol.strip_prefix(prefix)?;
        let (_, dims, factor, tens) = PREFIXED.iter().find(|(s, ..)| *s == base)?;
        Some(make(*dims, *factor, tens + power))
    })
}
