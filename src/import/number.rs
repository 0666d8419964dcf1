//! A number as people type it into a cell: marks, ranges, limits, remarks. What can be read in two
//! ways is a question, never a guess.

use super::around::{self, footnote};

/// The sign between whole and fraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decimal {
    /// `0.5`
    Point,
    /// `0,5`
    Comma,
}

impl Decimal {
    /// The word of the map file.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Decimal::Point => "point",
            Decimal::Comma => "comma",
        }
    }

    const fn sign(self) -> char {
        match self {
            Decimal::Point => '.',
            Decimal::Comma => ',',
        }
    }
}

/// How the numbers of a column are written, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// The decimal mark.
    pub decimal: Option<Decimal>,
    /// The mark between thousands, where the map states one.
    pub thousands: Option<char>,
    /// True where `min` behind a number is a unit and not a limit.
    pub times: bool,
}

/// What a number is said to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Claim {
    /// The number.
    Exact,
    /// About the number.
    About,
    /// At most the number.
    AtMost,
    /// At least the number.
    AtLeast,
}

/// A cell's number with all that stands around it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Reading {
    /// The number, with a decimal point and no other mark.
    pub(super) number: String,
    /// The ends of a range or of a tolerance.
    pub(super) ends: Option<(String, String)>,
    /// True where the number is the middle of the ends and stands nowhere.
    pub(super) middle: bool,
    /// What the number is said to be.
    pub(super) claim: Claim,
    /// The unit in the cell, as written.
    pub(super) unit: String,
    /// A footnote mark that was taken off.
    pub(super) mark: String,
}

/// Why a text gives no number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Trouble {
    /// It says that there is none: `n/a`, `k.A.`, a dash.
    NotKnown,
    /// It is no number.
    Unreadable,
    /// It can be read as either.
    Either(String, String),
    /// Its mark is not the column's.
    OtherMark,
}

/// Reads the text of a cell.
///
/// # Errors
/// What stands against it.
pub(super) fn read(text: &str, marks: Marks) -> Result<Reading, Trouble> {
    let text: String = text
        .chars()
        .map(|c| match c {
            '\u{a0}' | '\u{202f}' | '\u{2009}' | '\u{2007}' | '\t' | '\n' | '\r' => ' ',
            '\u{2212}' | '\u{2010}' | '\u{2011}' | '﹣' => '-',
            '’' => '\'',
            other => other,
        })
        .collect();
    let text = text.trim().trim_start_matches('\'');
    let (body, mark) = footnote(text);
    if around::says_not_known(body) {
        return Err(Trouble::NotKnown);
    }
    let (claim, body) = around::claim(body, marks);
    let (first, rest) = scan(body).ok_or(Trouble::Unreadable)?;
    let number = resolve(first, marks)?;
    let reading = |number: String, ends, middle, unit: &str| {
        let (unit, late) = footnote(unit.trim());
        let mark = if mark.is_empty() { late } else { mark };
        Reading { number, ends, middle, claim, unit: unit.trim().to_owned(), mark: mark.to_owned() }
    };
    let Some((unit_before, separator, second)) = separator(rest) else {
        // What follows without a letter first is a second number nobody explained.
        let starts = rest.trim_start().chars().next();
        if starts.is_some_and(|c| c.is_ascii_digit() || matches!(c, ',' | '.' | '\'')) {
            return Err(Trouble::Unreadable);
        }
        return Ok(reading(number, None, false, rest));
    };
    let (second, unit) = scan(second).ok_or(Trouble::Unreadable)?;
    let second = resolve(second, marks)?;
    if claim == Claim::AtMost || claim == Claim::AtLeast || !unit_before.is_empty() && unit_before != unit.trim() {
        return Err(Trouble::Unreadable);
    }
    let (a, b) = (parsed(&number)?, parsed(&second)?);
    if separator == Separator::Tolerance {
        let (share, unit) = match unit.trim().strip_prefix('%') {
            Some(_) if !unit_before.is_empty() => return Err(Trouble::Unreadable),
            // `65 ± 5 % µm` cannot be told from 5 µm; `65 µm ± 5 %` has its unit in front.
            _ => (b, unit),
        };
        let ends = (super::sheet::plain(a - share), super::sheet::plain(a + share));
        return Ok(reading(number, Some(ends), false, unit));
    }
    if a > b {
        return Err(Trouble::Unreadable);
    }
    Ok(reading(super::sheet::plain(f64::midpoint(a, b)), Some((number, second)), true, unit))
}

fn parsed(number: &str) -> Result<f64, Trouble> {
    number.parse().map_err(|_| Trouble::Unreadable)
}

/// The number at the start of a text with all its marks, and the rest.
fn scan(text: &str) -> Option<(&str, &str)> {
    let text = text.trim_start();
    let bytes = text.as_bytes();
    let mut end = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let start = end;
    let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let three = |at: usize| digit(at) && digit(at + 1) && digit(at + 2) && !digit(at + 3);
    while end < bytes.len() {
        let next = match bytes[end] {
            b'0'..=b'9' => true,
            b',' | b'.' => digit(end + 1),
            b'\'' => end > start && digit(end - 1) && three(end + 1),
            b' ' => end > start && end - start <= 3 + 12 && digit(end - 1) && three(end + 1),
            _ => false,
        };
        if !next {
            break;
        }
        end += 1;
    }
    if !bytes[start..end].iter().any(u8::is_ascii_digit) {
        return None;
    }
    // A power of ten: `e-5`, `x10^-5`, `·10⁻⁵` is left to the words of the trade: only `e` is read.
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let figures = bytes[(end + 1 + sign).min(bytes.len())..].iter().take_while(|b| b.is_ascii_digit()).count();
        if figures > 0 {
            end += 1 + sign + figures;
        }
    }
    Some((&text[..end], &text[end..]))
}

/// A number in one way, by the marks of its column.
fn resolve(text: &str, marks: Marks) -> Result<String, Trouble> {
    let (mantissa, power) = text.find(['e', 'E']).map_or((text, ""), |at| text.split_at(at));
    let bare: String = mantissa.chars().filter(|c| !matches!(c, ' ' | '\'')).collect();
    let count = |sign: char| bare.matches(sign).count();
    let (commas, points) = (count(','), count('.'));
    let grouped = |text: &str, sign: char| {
        let digits = text.trim_start_matches(['+', '-']);
        let mut groups = digits.split(sign);
        groups.next().is_some_and(|g| (1..=3).contains(&g.len())) && groups.all(|g| g.len() == 3)
    };
    let with = |decimal: Option<char>| {
        let number: String = bare
            .chars()
            .filter(|c| !matches!(c, ',' | '.') || Some(*c) == decimal)
            .map(|c| if c == ',' { '.' } else { c })
            .collect();
        let number = number.trim_start_matches('+');
        let number = if number.starts_with('.') { format!("0{number}") } else { number.to_owned() };
        format!("{number}{power}")
    };
    let fixed = marks.decimal.map(Decimal::sign);
    match (commas, points) {
        (0, 0) => Ok(with(None)),
        (1.., 1) | (1, 2..) => {
            let decimal = if bare.rfind(',') > bare.rfind('.') { ',' } else { '.' };
            let group = if decimal == ',' { '.' } else { ',' };
            let whole = bare.split(decimal).next().unwrap_or_default();
            if count(decimal) > 1 || !grouped(whole, group) {
                return Err(Trouble::Unreadable);
            }
            if fixed.is_some_and(|fixed| fixed != decimal) { Err(Trouble::OtherMark) } else { Ok(with(Some(decimal))) }
        }
        (2.., 2..) => Err(Trouble::Unreadable),
        _ => {
            let sign = if commas > 0 { ',' } else { '.' };
            if count(sign) > 1 {
                let group = fixed != Some(sign) && grouped(&bare, sign);
                return if group { Ok(with(None)) } else { Err(Trouble::Unreadable) };
            }
            let (whole, fraction) = bare.split_once(sign).unwrap_or((&bare, ""));
            let whole = whole.trim_start_matches(['+', '-']);
            let could_group =
                fraction.len() == 3 && grouped(&bare, sign) && !whole.starts_with('0') && power.is_empty();
            match fixed {
                Some(fixed) if fixed == sign => Ok(with(Some(sign))),
                _ if could_group && marks.thousands == Some(sign) => Ok(with(None)),
                // With spaces or apostrophes between thousands the other mark can only be decimal.
                _ if could_group && mantissa.len() == bare.len() => Err(Trouble::Either(with(None), with(Some(sign)))),
                Some(_) => Err(Trouble::OtherMark),
                None => Ok(with(Some(sign))),
            }
        }
    }
}

/// What stands between two numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Separator {
    Range,
    Tolerance,
}

/// A unit before a second number, what stands between, and the second number.
fn separator(text: &str) -> Option<(&str, Separator, &str)> {
    const BETWEEN: &[(&str, Separator)] = &[
        ("+/-", Separator::Tolerance),
        ("±", Separator::Tolerance),
        ("–", Separator::Range),
        ("—", Separator::Range),
        ("…", Separator::Range),
        ("...", Separator::Range),
        ("..", Separator::Range),
        (" bis ", Separator::Range),
        (" to ", Separator::Range),
        (" à ", Separator::Range),
        ("÷", Separator::Range),
        (" - ", Separator::Range),
        ("-", Separator::Range),
    ];
    let padded = text;
    for (sign, what) in BETWEEN {
        let Some(at) = padded.find(sign) else { continue };
        let (before, after) = (padded[..at].trim(), &padded[at + sign.len()..]);
        let number = after.trim_start();
        let is_number = number.trim_start_matches(['+', '-']).starts_with(|c: char| c.is_ascii_digit());
        // A bare hyphen behind a unit is part of it: `s-1`.
        if is_number && (before.is_empty() || *sign != "-") {
            return Some((before, *what, number));
        }
    }
    None
}

/// What a text shows of its decimal mark, if it can be told.
#[must_use]
pub(super) fn evidence(text: &str) -> Option<Decimal> {
    let (number, _) = scan(around::claim(footnote(text.trim()).0, Marks::default()).1)?;
    let bare: String = number.chars().filter(|c| !matches!(c, ' ' | '\'')).collect();
    let at = bare.rfind([',', '.'])?;
    let sign = bare[at..].chars().next()?;
    let fraction = bare[at + 1..].chars().take_while(char::is_ascii_digit).count();
    let both = bare.contains(',') && bare.contains('.');
    let whole = bare[..at].trim_start_matches(['+', '-']);
    let clear =
        both || (bare.matches(sign).count() == 1 && (fraction != 3 || whole.starts_with('0') || whole.len() > 3));
    let decimal = if sign == ',' { Decimal::Comma } else { Decimal::Point };
    clear.then_some(decimal)
}
