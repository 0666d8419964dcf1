//! Units as tables write them, to the spelling that Lapwise reads: the number stays as it was written
//! wherever a spelling exists.

use crate::quantity::{self, FORCE, FORCE_PER_LENGTH, KINDS, Kind, TIME, Unit};

/// A unit in a spelling that is read, and what a number must be multiplied by to stand before it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Spelled {
    /// The unit.
    pub(super) unit: String,
    /// The factor; none where the number stays as it is.
    pub(super) factor: Option<f64>,
}

/// Words for units, folded to lower case without accents. Sources: the unit names of the SI brochure
/// and NIST SP 811; the words of other languages are common usage, from memory.
const WORDS: &[(&[&str], &str)] = &[
    (&["inch", "inches", "zoll", "pouce", "pouces", "pollice", "pollici", "pulgada", "pulgadas", "cal."], "in"),
    (&["mils", "thou"], "mil"),
    (&["micron", "microns", "mic", "mikron", "micrometer", "micrometre", "mikrometer", "my", "um"], "um"),
    (&["millimeter", "millimetre", "millimetri", "milimetros"], "mm"),
    (&["meter", "metre", "metres", "meters", "metri", "metros", "lfm"], "m"),
    (&["yard", "yards", "yds"], "yd"),
    (&["feet", "foot"], "ft"),
    (&["lb", "lbs", "pound", "pounds"], "lbf"),
    (&["oz", "ounce", "ounces"], "ozf"),
    (&["newton", "newtons"], "N"),
    (&["volt", "volts", "voltios"], "V"),
    (&["kvolt", "kilovolt", "kilovolts"], "kV"),
    (&["hr", "hrs", "hour", "hours", "std", "stunde", "stunden", "heure", "heures", "ore", "horas"], "h"),
    (&["mins", "minute", "minutes", "minuten", "minuti", "minutos"], "min"),
    (&["day", "days", "tag", "tage", "jour", "jours", "giorni", "dias"], "d"),
    (&["year", "years", "yr", "yrs", "jahr", "jahre", "jahren", "an", "ans", "anni", "ano", "anos"], "a"),
    (&["sec", "secs", "second", "seconds", "sekunden", "secondes"], "s"),
    (&["percent", "pct", "prozent", "gew.-%", "gew%", "wt%", "wt.%", "m-%", "vol%", "vol.-%", "por ciento"], "%"),
    (&["celsius", "grad c", "grad celsius", "deg c", "degrees c", "°c", "c"], "degC"),
    (&["fahrenheit", "deg f", "°f", "f"], "degF"),
    (&["grad", "degree", "degrees", "degre", "degres", "gradi", "grados"], "deg"),
    (&["kelvin", "°k"], "K"),
    (&["cp", "cps", "mpas", "mpa.s"], "mPa s"),
    (&["pas", "pa.s"], "Pa s"),
    (&["kv"], "kV"),
    (&["v", "vac", "volts ac"], "V"),
    (&["pli"], "lbf/in"),
    (&["n"], "N"),
    (&["mm", "cm", "m"], ""),
];

/// Units that are read by working them out: the name, the unit, the factor.
const WORKED: &[(&[&str], &str, f64)] = &[
    (&["month", "months", "monat", "monate", "monaten", "mois", "mesi", "meses", "mo"], "a", 1.0 / 12.0),
    (&["week", "weeks", "woche", "wochen", "semaines", "settimane", "semanas"], "d", 7.0),
    (&["dan/cm"], "N/cm", 10.0),
    (&["ksi"], "psi", 1000.0),
];

/// Words behind a unit that are no part of it.
const BEHIND: &[&str] =
    &["width", "wide", "breite", "breit", "largeur", "larghezza", "ancho", "rms", "eff", "ac", "per", "of"];

/// True if a text is a unit and nothing else.
#[must_use]
pub(super) fn is_unit(text: &str) -> bool {
    let text = tidy(text);
    KINDS.iter().any(|kind| spelled(kind, &text).is_some())
}

/// The spelling of a unit that fits a kind, if the text is one.
#[must_use]
pub(super) fn spell(kind: &'static Kind, text: &str) -> Option<Spelled> {
    spelled(kind, &tidy(text))
}

fn spelled(kind: &'static Kind, text: &str) -> Option<Spelled> {
    if text.is_empty() {
        return None;
    }
    if let Some(unit) = fitting(kind, text) {
        return Some(Spelled { unit, factor: None });
    }
    let folded = super::words::fold(text);
    if let Some((_, unit, factor)) = WORKED.iter().find(|(names, ..)| names.contains(&folded.as_str())) {
        return Unit::read(unit)
            .is_ok_and(|unit| fits(kind, unit))
            .then(|| Spelled { unit: (*unit).to_owned(), factor: Some(*factor) });
    }
    let whole = word(&folded).map(str::to_owned);
    [whole, Some(pieces(text, kind))]
        .into_iter()
        .flatten()
        .find_map(|text| fitting(kind, &text))
        .map(|unit| Spelled { unit, factor: None })
}

/// The spelling where the text fits as it stands; a difference takes a degree Celsius as one kelvin.
fn fitting(kind: &'static Kind, text: &str) -> Option<String> {
    let unit = Unit::read(text).ok()?;
    if fits(kind, unit) && !text.starts_with(|c: char| c.is_ascii_digit()) {
        return Some(ascii(text));
    }
    let difference = kind.dims == crate::quantity::DIFFERENCE.dims && !kind.absolute;
    (difference && unit.is_scale() && text.ends_with(['C', '℃'])).then(|| "K".to_owned())
}

fn fits(kind: &Kind, unit: Unit) -> bool {
    unit.dims == kind.dims && (kind.absolute || !unit.is_scale())
}

fn word(folded: &str) -> Option<&'static str> {
    WORDS.iter().find(|(names, unit)| !unit.is_empty() && names.contains(&folded)).map(|(_, unit)| *unit)
}

/// The text without brackets, dots of abbreviation, and words that say width.
fn tidy(text: &str) -> String {
    let text = text.trim().trim_matches(|c| "[](){},;:".contains(c)).trim();
    let text = text.replace("''", "in").replace(['"', '”', '″'], "in").replace(" pro ", "/").replace(" per ", "/");
    let mut kept: Vec<String> = Vec::new();
    for token in text.split_whitespace() {
        if BEHIND.contains(&super::words::fold(token).as_str()) && !kept.is_empty() {
            continue;
        }
        kept.push(token.to_owned());
    }
    let mut text = kept.join(" ");
    for (from, to) in [(" / ", "/"), ("/ ", "/"), (" /", "/"), ("·", " "), ("⁻¹", "-1")] {
        text = text.replace(from, to);
    }
    if matches!(text.as_str(), "µ" | "μ") {
        return "um".to_owned();
    }
    text
}

/// The signs that Lapwise reads, in the letters that its own data files use.
fn ascii(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match (quantity::typed(c), c) {
            (Some(typed), _) => out.push_str(typed),
            (None, '·' | '⋅' | '*') => out.push(' '),
            (None, other) => out.push(other),
        }
    }
    out
}

/// Each name of a compound unit in the spelling that is read: `lb./in.` becomes `lbf/in`.
fn pieces(text: &str, kind: &Kind) -> String {
    let forces = kind.dims == FORCE.dims || kind.dims == FORCE_PER_LENGTH.dims;
    let mut out = String::new();
    let mut name = String::new();
    let flush = |name: &mut String, out: &mut String| {
        let plain = name.trim_end_matches('.');
        let folded = super::words::fold(plain);
        let letter = plain.chars().count() == 1 && !forces && kind.dims != TIME.dims;
        out.push_str(match folded.as_str() {
            "g" | "gr" | "gramm" | "gram" | "grams" if forces => "gf",
            "kg" | "kp" if forces => "kgf",
            _ if letter => plain,
            other => word(other).unwrap_or(plain),
        });
        name.clear();
    };
    for c in text.chars() {
        match c {
            '/' | ' ' | '(' | ')' | '0'..='9' | ',' => {
                flush(&mut name, &mut out);
                // A decimal comma inside a unit: `N/25,4 mm`.
                out.push(if c == ',' { '.' } else { c });
            }
            _ => name.push(c),
        }
    }
    flush(&mut name, &mut out);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{DIFFERENCE, FRACTION, LENGTH, TEMPERATURE, VISCOSITY, VOLTAGE};

    #[test]
    fn tables_write_units_in_many_ways() {
        for (kind, text, unit) in [
            (&LENGTH, "[mm]", "mm"),
            (&LENGTH, "(µm)", "um"),
            (&LENGTH, "mils", "mil"),
            (&LENGTH, "\"", "in"),
            (&LENGTH, "Zoll", "in"),
            (&FORCE_PER_LENGTH, "lb/in", "lbf/in"),
            (&FORCE_PER_LENGTH, "lbs./in. width", "lbf/in"),
            (&FORCE_PER_LENGTH, "oz/inch", "ozf/in"),
            (&FORCE_PER_LENGTH, "N/10 mm", "N/10 mm"),
            (&FORCE_PER_LENGTH, "N / 25,4 mm", "N/25.4 mm"),
            (&FORCE_PER_LENGTH, "g/25mm", "gf/25mm"),
            (&FORCE_PER_LENGTH, "N/cm Breite", "N/cm"),
            (&VOLTAGE, "KV", "kV"),
            (&VOLTAGE, "Volt", "V"),
            (&TEMPERATURE, "°C", "degC"),
            (&TEMPERATURE, "C", "degC"),
            (&DIFFERENCE, "°C", "K"),
            (&FRACTION, "Prozent", "%"),
            (&TIME, "Std.", "h"),
            (&TIME, "Jahre", "a"),
            (&VISCOSITY, "mPa·s", "mPa s"),
            (&VISCOSITY, "cP", "cP"),
        ] {
            assert_eq!(spell(kind, text), Some(Spelled { unit: unit.to_owned(), factor: None }), "{text}");
        }
        assert_eq!(spell(&TIME, "months").unwrap().factor, Some(1.0 / 12.0));
    }

    #[test]
    fn what_is_no_unit_of_the_kind_is_none() {
        for (kind, text) in [(&VOLTAGE, "kV/mm"), (&LENGTH, "N/cm"), (&LENGTH, "steel"), (&VOLTAGE, "")] {
            assert_eq!(spell(kind, text), None, "{text}");
        }
        assert!(is_unit("kV") && is_unit("N/10 mm") && !is_unit("Acrylat"));
    }
}
