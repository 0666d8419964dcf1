//! The fixed text of a dossier, and how a language writes numbers, units and dates.
//!
//! One file a language: `templates/en.toml`, `templates/de.toml`. English is the measure: every
//! other file has the same keys and, in each text, the same `{names}`.

use std::collections::{BTreeMap, BTreeSet};

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::quantity::{self, Kind, Typed, Unit, from_unit, in_unit, significant};

/// Texts by section and key.
pub type Words = BTreeMap<String, BTreeMap<String, String>>;

/// A space that keeps a number and its unit on one line.
const BOUND: char = '\u{a0}';

/// A language: its texts and its habits.
#[derive(Clone, Debug)]
pub struct Language {
    /// Its code, such as `en`.
    pub id: String,
    /// Its texts.
    pub words: Words,
}

impl Language {
    /// Reads a file of texts and holds it against the English one.
    ///
    /// # Errors
    /// Every text that is missing, unknown, or lacks a name that the English one has.
    pub fn read(file: &str, text: &str, english: &str) -> Result<Language, Faults> {
        let words = parse(file, text)?;
        let measure = parse("en.toml", english)?;
        let mut faults = Faults::default();
        let mut fault = |section: &str, key: &str, found: String, needed: &str, remedy: &str| {
            let place = Place::cell(file, line_of(text, section, key), format!("{section}.{key}"));
            faults.add(Fault::new(Code::TemplateFaulty, found, needed, remedy).at(place));
        };
        for (section, key, english) in entries(&measure) {
            let Some(own) = words.get(section).and_then(|s| s.get(key)) else {
                fault(section, key, "no text".to_owned(), "every text of en.toml", "add it, translated");
                continue;
            };
            let (have, need) = (names(own), names(english));
            if have != need && section != "months" {
                let list = need.iter().map(|n| format!("{{{n}}}")).collect::<Vec<_>>().join(" ");
                let needed = if list.is_empty() { "a text without names in braces".to_owned() } else { list };
                fault(section, key, format!("`{own}`"), &needed, "use the same names in braces as en.toml");
            }
        }
        for (section, key, _) in entries(&words) {
            if measure.get(section).is_none_or(|s| !s.contains_key(key)) {
                fault(section, key, "a text that nothing prints".to_owned(), "the keys of en.toml", "take it out");
            }
        }
        faults.or(())?;
        let id = words["language"]["id"].clone();
        Ok(Language { id, words })
    }

    /// A text, by `section.key`.
    #[must_use]
    pub fn text(&self, key: &str) -> &str {
        let (section, name) = key.split_once('.').unwrap_or((key, ""));
        self.words.get(section).and_then(|s| s.get(name)).map_or("", String::as_str)
    }

    /// A text with its names filled in.
    #[must_use]
    pub fn say(&self, key: &str, names: &[(&str, &str)]) -> String {
        let text = self.text(key);
        let mut out = String::with_capacity(text.len() + 32);
        let mut rest = text;
        while let Some((before, after)) = rest.split_once('{') {
            out.push_str(before);
            let Some((name, tail)) = after.split_once('}') else {
                out.push('{');
                rest = after;
                continue;
            };
            if let Some((_, value)) = names.iter().find(|(n, _)| *n == name) {
                out.push_str(value);
            } else {
                out.push('{');
                out.push_str(name);
                out.push('}');
            }
            rest = tail;
        }
        out.push_str(rest);
        out
    }

    /// A text that counts: the key with `_one` for one, with `_many` else; `{n}` is the count.
    #[must_use]
    pub fn count(&self, key: &str, n: usize) -> String {
        let form = if n == 1 { "one" } else { "many" };
        self.say(&format!("{key}_{form}"), &[("n", &n.to_string())])
    }

    /// A number with so many significant digits, without the zeros at its end.
    #[must_use]
    pub fn number(&self, value: f64, digits: usize) -> String {
        let text = significant(value, digits);
        let text = match text.split_once('e') {
            Some((mantissa, exponent)) => format!("{}e{exponent}", trimmed(mantissa)),
            None => trimmed(&text).to_owned(),
        };
        self.localised(&text)
    }

    /// A number with so many significant digits, zeros kept: 1.30 is not 1.3.
    #[must_use]
    pub fn precise(&self, value: f64, digits: usize) -> String {
        self.localised(&significant(value, digits))
    }

    fn localised(&self, text: &str) -> String {
        if !text.bytes().any(|b| b.is_ascii_digit()) {
            return text.to_owned();
        }
        let (mantissa, exponent) = text.split_once('e').map_or((text, None), |(m, e)| (m, Some(e)));
        let (sign, digits) = mantissa.strip_prefix('-').map_or(("", mantissa), |rest| ("−", rest));
        let (whole, fraction) = digits.split_once('.').map_or((digits, None), |(w, f)| (w, Some(f)));
        let mut out = sign.to_owned();
        let grouped = whole.len() > 4;
        for (at, c) in whole.chars().enumerate() {
            if grouped && at > 0 && (whole.len() - at).is_multiple_of(3) {
                out.push_str(self.text("language.thousands"));
            }
            out.push(c);
        }
        if let Some(fraction) = fraction {
            out.push_str(self.text("language.decimal"));
            out.push_str(fraction);
        }
        if let Some(exponent) = exponent {
            out.push_str("·10");
            out.extend(exponent.chars().map(raised));
        }
        out
    }

    /// An SI value in a given unit, with its unit.
    #[must_use]
    pub fn in_unit(&self, kind: &'static Kind, si: f64, unit: &str, digits: usize) -> String {
        let number = kind.number_in(si, unit).unwrap_or(si);
        self.with_unit(&self.number(number, digits), unit)
    }

    /// A printed number and its unit.
    #[must_use]
    pub fn with_unit(&self, number: &str, unit: &str) -> String {
        match unit {
            "1" | "" | "class" => number.to_owned(),
            unit => format!("{number}{BOUND}{}", unit_sign(unit)),
        }
    }

    /// A quantity in the unit that suits its size.
    #[must_use]
    pub fn quantity<Q: Typed>(&self, value: Q) -> String {
        self.sized(Q::KIND, value.si())
    }

    /// An SI value in the unit that suits its size.
    #[must_use]
    pub fn sized(&self, kind: &'static Kind, si: f64) -> String {
        self.sized_to(kind, si, 4)
    }

    /// The same with so many significant digits.
    #[must_use]
    pub fn sized_to(&self, kind: &'static Kind, si: f64, digits: usize) -> String {
        if kind == &quantity::TIME {
            return self.time(si);
        }
        self.in_unit(kind, si, fitting(kind, si), digits)
    }

    /// A duration, in the largest unit that leaves a number of at least one.
    #[must_use]
    pub fn time(&self, seconds: f64) -> String {
        const UNITS: [(&str, f64); 5] =
            [("a", 8766.0 * 3600.0), ("d", 86_400.0), ("h", 3600.0), ("min", 60.0), ("s", 0.0)];
        // Whole hours up to two days read better as hours.
        let hours = seconds / 3600.0;
        let unit = if (24.0..=72.0).contains(&hours) && libm::trunc(hours).total_cmp(&hours).is_eq() {
            "h"
        } else {
            UNITS.iter().find(|(_, least)| seconds >= *least * 0.999_999).map_or("s", |(unit, _)| *unit)
        };
        self.in_unit(&quantity::TIME, seconds, unit, 3)
    }

    /// A share as a percentage.
    #[must_use]
    pub fn percent(&self, share: f64) -> String {
        format!("{}{BOUND}%", self.number(share * 100.0, 3))
    }

    /// A date such as `2026-11-20`, in words.
    #[must_use]
    pub fn date(&self, iso: &str) -> String {
        let parts: Vec<&str> = iso.split('-').collect();
        let [year, month, day] = parts[..] else { return iso.to_owned() };
        let (Ok(month), Ok(day)) = (month.parse::<u8>(), day.get(..2).unwrap_or(day).parse::<u8>()) else {
            return iso.to_owned();
        };
        let name = self.text(&format!("months.m{month:02}")).to_owned();
        self.say("language.date", &[("day", &day.to_string()), ("month", &name), ("year", year)])
    }

    /// A heading within a sentence: small, unless the language writes its nouns large.
    #[must_use]
    pub fn within(&self, heading: &str) -> String {
        if self.text("language.nouns") == "large" { heading.to_owned() } else { heading.to_lowercase() }
    }

    /// `a, b and c`.
    #[must_use]
    pub fn list(&self, items: &[String]) -> String {
        match items {
            [] => String::new(),
            [one] => one.clone(),
            [before @ .., last] => format!("{}{}{last}", before.join(", "), self.text("language.and")),
        }
    }
}

fn parse(file: &str, text: &str) -> Result<Words, Fault> {
    toml::from_str(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        let line = 1 + text.get(..at).unwrap_or("").matches('\n').count();
        Fault::new(
            Code::TemplateFaulty,
            error.message().to_owned(),
            "a file of texts: sections of keys, each with a text in quotes",
            "mend it by the pattern of en.toml",
        )
        .at(Place::line(file, u32::try_from(line).unwrap_or(1)))
    })
}

fn entries(words: &Words) -> impl Iterator<Item = (&str, &str, &str)> {
    words
        .iter()
        .flat_map(|(section, keys)| keys.iter().map(|(key, text)| (section.as_str(), key.as_str(), text.as_str())))
}

/// The names in braces of a text.
fn names(text: &str) -> BTreeSet<&str> {
    text.split('{').skip(1).filter_map(|rest| rest.split_once('}')).map(|(name, _)| name).collect()
}

/// The line of a key, or of its section, or 0.
fn line_of(text: &str, section: &str, key: &str) -> u32 {
    let mut here = "";
    let mut head = 0;
    for (line, content) in (1_u32..).zip(text.lines()) {
        if let Some(name) = content.trim().strip_prefix('[').and_then(|rest| rest.strip_suffix(']')) {
            here = name;
            if here == section {
                head = line;
            }
        } else if here == section && content.split('=').next().is_some_and(|name| name.trim() == key) {
            return line;
        }
    }
    head
}

fn trimmed(number: &str) -> &str {
    if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number }
}

fn raised(c: char) -> char {
    const DIGITS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    c.to_digit(10).map_or('⁻', |d| DIGITS[d as usize])
}

/// The unit in which a value of this size is read most easily.
fn fitting(kind: &Kind, si: f64) -> &'static str {
    let size = libm::fabs(si);
    match kind.unit {
        "mm" if size >= 1.0 => "m",
        "mm" if size < 1e-3 && size > 0.0 => "um",
        "kPa" if size < 100.0 && size > 0.0 => "Pa",
        unit => by_size(unit, si),
    }
}

/// Numbers given in one unit, in that which suits the size of the first.
#[must_use]
pub fn fitted<const N: usize>(values: [f64; N], unit: &str) -> ([f64; N], &str) {
    let first = values.first().map_or(0.0, |first| from_unit(*first, unit));
    let fitting = by_size(unit, first);
    if fitting == unit { (values, unit) } else { (values.map(|x| in_unit(from_unit(x, unit), fitting)), fitting) }
}

/// The larger unit in which a value is read more easily than in its own.
fn by_size(unit: &str, si: f64) -> &str {
    let size = libm::fabs(si);
    match unit {
        "Pa" | "kPa" | "MPa" if size >= 1e9 => "GPa",
        "Pa" | "kPa" if size >= 1e6 => "MPa",
        "Pa" if size >= 1e4 => "kPa",
        "V" if size >= 1000.0 => "kV",
        "Hz" if size >= 1000.0 => "kHz",
        unit => unit,
    }
}

/// Units of the data files that are printed by another sign.
const SIGNS: [(&str, &str); 8] = [
    ("degC", "°C"),
    ("degF", "°F"),
    ("deg", "°"),
    ("ohm", "Ω"),
    ("um", "µm"),
    ("us", "µs"),
    ("MPa^0.5", "MPa^½"),
    ("Pa^0.5", "Pa^½"),
];
/// Those of them that are no word of a sentence, whatever stands before them.
const UNMISTAKABLE: [&str; 5] = ["degC", "degF", "ohm", "MPa^0.5", "Pa^0.5"];
/// Units that a sentence raises to a power.
const POWERED: [&str; 6] = ["m", "mm", "cm", "um", "km", "s"];

/// True if a text begins with a word and not with a longer one.
fn begins(text: &str, word: &str) -> bool {
    text.strip_prefix(word).is_some_and(|rest| !rest.starts_with(char::is_alphabetic))
}

/// A sentence with its units as they are printed: `0.3 us`, `60 degC`, `D in m2/s`.
#[must_use]
pub fn units_in(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let behind = rest.strip_prefix([' ', BOUND]).filter(|_| out.ends_with(|last: char| last.is_ascii_digit()));
        let unit = behind.and_then(|unit| SIGNS.iter().find(|(name, _)| begins(unit, name)).map(|sign| (unit, sign)));
        if let Some((unit, (name, sign))) = unit {
            out.push(BOUND);
            out.push_str(sign);
            rest = &unit[name.len()..];
            continue;
        }
        if (out.is_empty() || out.ends_with([' ', BOUND, '(', '[']))
            && let Some(unit) = unit_at(rest)
        {
            out.push_str(&unit_sign(unit));
            rest = &rest[unit.len()..];
            continue;
        }
        out.push(c);
        rest = &rest[c.len_utf8()..];
    }
    out
}

/// False for a text that [`units_in`] surely leaves as it is.
#[must_use]
pub fn may_have_units(text: &str) -> bool {
    let hints = |pair: &[u8]| match pair {
        [before, b' '] => before.is_ascii_digit(),
        [before, b'2' | b'3'] => before.is_ascii_alphabetic(),
        _ => false,
    };
    !text.is_ascii() || text.as_bytes().windows(2).any(hints) || ["deg", "ohm", "^"].iter().any(|u| text.contains(u))
}

/// The unit that a text begins with, where no other word looks like it: `m2/s`, `mol/cm3`, `ohm`.
fn unit_at(text: &str) -> Option<&str> {
    if let Some(name) = UNMISTAKABLE.iter().find(|name| begins(text, name)) {
        return Some(&text[..name.len()]);
    }
    let end = text.find(|c: char| !(c.is_ascii_alphanumeric() || c == '/')).unwrap_or(text.len());
    let word = &text[..end];
    // A file or an address goes on behind its point; a sentence does not.
    let behind = text[end..].trim_start_matches(['.', ',', ';', ':', ')', ']']);
    if !(behind.is_empty() || behind.starts_with([' ', BOUND])) {
        return None;
    }
    let power = |part: &str| part.strip_suffix(['2', '3']).map(|unit| POWERED.contains(&unit));
    let powers: Vec<bool> = word.split('/').filter_map(power).collect();
    (!powers.is_empty() && powers.iter().all(|known| *known) && Unit::read(word).is_ok()).then_some(word)
}

/// A unit of the data files, as it is printed.
#[must_use]
pub fn unit_sign(unit: &str) -> String {
    let mut out = String::with_capacity(unit.len());
    let mut rest = unit;
    while let Some(c) = rest.chars().next() {
        let starts = out.chars().last().is_none_or(|last| !last.is_alphabetic());
        if let Some((name, sign)) = SIGNS.iter().find(|(name, _)| starts && begins(rest, name)) {
            out.push_str(sign);
            rest = &rest[name.len()..];
            continue;
        }
        let after_letter = out.chars().last().is_some_and(char::is_alphabetic);
        out.push(if c.is_ascii_digit() && after_letter { raised(c) } else { c });
        rest = &rest[c.len_utf8()..];
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn language(name: &str, text: &str) -> Language {
        Language::read(name, text, super::super::template::ENGLISH).unwrap_or_else(|f| panic!("{:?}", f.sorted()))
    }

    #[test]
    fn numbers_and_dates_follow_the_language() {
        let english = language("en.toml", super::super::template::ENGLISH);
        let german = language("de.toml", super::super::template::GERMAN);
        assert_eq!(english.number(0.127, 3), "0.127");
        assert_eq!(german.number(0.127, 3), "0,127");
        assert_eq!(english.number(20_000.0, 3), "20\u{202f}000");
        assert_eq!(german.number(20_000.0, 3), "20.000");
        assert_eq!(english.number(-9.0e-5, 3), "−9·10⁻⁵");
        assert_eq!(english.date("2026-11-20"), "20\u{a0}November\u{a0}2026");
        assert_eq!(german.date("2026-03-02"), "2.\u{a0}März\u{a0}2026");
        assert_eq!(english.time(164.0 * 3600.0), "6.83\u{a0}d");
        assert_eq!(english.time(48.0 * 3600.0), "48\u{a0}h");
        assert_eq!(english.sized(&quantity::LENGTH, 65e-6), "65\u{a0}µm");
        assert_eq!(english.sized(&quantity::VOLTAGE, 5500.0), "5.5\u{a0}kV");
    }

    #[test]
    fn units_are_printed_as_people_write_them() {
        for (unit, sign) in [
            ("m2/s", "m²/s"),
            ("cm3/mol", "cm³/mol"),
            ("degC", "°C"),
            ("ohm m", "Ω m"),
            ("um", "µm"),
            ("us", "µs"),
            ("N/cm", "N/cm"),
        ] {
            assert_eq!(unit_sign(unit), sign);
        }
    }

    #[test]
    fn a_sentence_prints_its_units_and_leaves_its_words() {
        for (text, printed) in [
            ("D in m2/s, depth in m", "D in m²/s, depth in m"),
            ("V1 in m3/mol, G in J/m2; R in J/mol/K.", "V1 in m³/mol, G in J/m²; R in J/mol/K."),
            ("58.67 cm3/mol (59 to 230 cm3/mol)", "58.67 cm³/mol (59 to 230 cm³/mol)"),
            ("ρ in ohm m, δ in Pa^0.5", "ρ in Ω m, δ in Pa^½"),
            ("at 1/m2 and 32 1/m2", "at 1/m² and 32 1/m²"),
            ("H2 and T2, tape m2x of ohmic make", "H2 and T2, tape m2x of ohmic make"),
            ("report-m2.pdf, m2.pdf, m2-b", "report-m2.pdf, m2.pdf, m2-b"),
        ] {
            assert_eq!(units_in(text), printed);
        }
    }

    #[test]
    fn a_modulus_is_printed_in_the_unit_of_its_size() {
        let english = language("en.toml", super::super::template::ENGLISH);
        let fitted = |values: [f64; 2], unit| {
            let ([a, b], unit) = super::fitted(values, unit);
            format!("{} {} {unit}", english.number(a, 3), english.number(b, 3))
        };
        assert_eq!(fitted([9e6, 1.7e7], "kPa"), "9 17 GPa");
        assert_eq!(fitted([2500.0, 500.0], "kPa"), "2.5 0.5 MPa");
        assert_eq!(fitted([70.0, 88.0], "kPa"), "70 88 kPa");
        assert_eq!(fitted([24_200.0, 5.0], "Pa"), "24.2 0.005 kPa");
        assert_eq!(fitted([0.5, 2.0], "mm"), "0.5 2 mm");
    }

    #[test]
    fn a_language_without_a_text_or_a_name_is_refused() {
        let english = super::super::template::ENGLISH;
        let without = english.replacen("reason = ", "raison = ", 1);
        let faults = Language::read("xx.toml", &without, english).expect_err("a key is missing").sorted();
        assert_eq!(faults.len(), 2, "{faults:?}");
    }
}
