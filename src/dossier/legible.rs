//! Every text of a view made fit for the page: characters that steer a line or have no shape are
//! shown as `�`, and a character that no face has is a fault, found before anything is printed.

use std::collections::BTreeMap;

use serde_json::Value;
use ttf_parser::Face;

use super::language::{may_have_units, units_in};
use crate::fault::{Code, Fault, Faults};

/// What stands for a character that must not act: the Unicode replacement character.
const REPLACEMENT: char = '\u{fffd}';

/// A word of so many letters is longer than some line that it stands on, and may break after each so many.
const LONG: usize = 30;
const BREAK: usize = 8;

/// Cleans every text of a document, and checks that the faces have all its characters.
///
/// # Errors
/// One fault for each character that no face has, with a text that it stands in.
pub(super) fn check(document: &mut Value, fonts: &BTreeMap<String, Vec<u8>>) -> Result<(), Faults> {
    let faces: Vec<Face<'_>> = fonts.values().filter_map(|bytes| Face::parse(bytes, 0).ok()).collect();
    let mut seen: BTreeMap<char, Option<String>> = BTreeMap::new();
    // Most characters are these, and are looked for once.
    let mut ascii = [false; 128];
    walk(document, &mut |text| {
        if !is_plain(text) {
            *text = breakable(clean(text));
        }
        for c in text.chars() {
            let known = ascii.get_mut(c as usize).is_some_and(|seen| core::mem::replace(seen, true));
            if known || is_bare(c) {
                continue;
            }
            seen.entry(c).or_insert_with(|| {
                let has = faces.iter().any(|face| face.glyph_index(c).is_some());
                (!has).then(|| text.clone())
            });
        }
    });
    let mut faults = Faults::default();
    for (c, text) in seen.into_iter().filter_map(|(c, text)| Some((c, text?))) {
        faults.add(Fault::new(
            Code::GlyphMissing,
            format!("`{c}` (U+{:04X}) in `{}`", c as u32, excerpt(&text)),
            "characters that a face of the dossier has",
            "write it otherwise, or put a face that has it into the folder `fonts` of a template folder and name that folder with --templates",
        ));
    }
    faults.or(())
}

fn walk(value: &mut Value, change: &mut impl FnMut(&mut String)) {
    match value {
        Value::String(text) => change(text),
        Value::Array(list) => list.iter_mut().for_each(|item| walk(item, change)),
        Value::Object(map) => map.values_mut().for_each(|item| walk(item, change)),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// True for a text in which there is nothing to change, as most are: without signs, units, long words or two spaces.
fn is_plain(text: &str) -> bool {
    let (mut last, mut letters) = (b'.', 0);
    let all = text.bytes().all(|byte| {
        let before = core::mem::replace(&mut last, byte);
        letters = if byte == b' ' { 0 } else { letters + 1 };
        matches!(byte, b' '..=b'~') && (before, byte) != (b' ', b' ') && letters < LONG
    });
    all && !may_have_units(text)
}

/// One line of text, without characters that steer or have no shape; units as people write them.
fn clean(text: &str) -> String {
    let text = units_in(&text.replace(" degC", "\u{a0}°C"));
    let mut out = String::with_capacity(text.len());
    let mut space = false;
    for c in text.chars() {
        let c = match c {
            '\t' | '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' | '\u{2028}' | '\u{2029}' => ' ',
            c if steers(c) => REPLACEMENT,
            c => c,
        };
        if c == ' ' && space {
            continue;
        }
        space = c == ' ';
        out.push(c);
    }
    out
}

/// A text whose long words may break anywhere; a digest, which is copied, has the room that it needs.
fn breakable(text: String) -> String {
    let is_digest = |word: &str| word.len() == 64 && word.bytes().all(|b| b.is_ascii_hexdigit());
    let is_long = |word: &str| word.chars().count() >= LONG && !is_digest(word);
    if !text.split(char::is_whitespace).any(is_long) {
        return text;
    }
    let mut out = String::with_capacity(text.len() + text.len() / BREAK * 3);
    for part in text.split_inclusive(char::is_whitespace) {
        let broken = is_long(part.trim_end());
        for (at, c) in part.chars().enumerate() {
            if broken && at > 0 && at % BREAK == 0 {
                out.push('\u{200b}');
            }
            out.push(c);
        }
    }
    out
}

/// Control characters, marks that turn the direction of a line, private and tag characters, and
/// code points that are no characters.
fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c as u32,
            0x061C | 0x200E | 0x200F | 0x202A..=0x202E | 0x2060..=0x206F | 0xFEFF
            | 0xE000..=0xF8FF | 0xFDD0..=0xFDEF | 0xFFF0..=0xFFFB | 0xE_0000..=0x10_FFFF)
        || (c as u32) & 0xFFFE == 0xFFFE
}

/// Characters without ink, which need no glyph.
fn is_bare(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{ad}' | '\u{200b}'..='\u{200d}' | '\u{fe00}'..='\u{fe0f}')
}

/// The beginning of a text.
fn excerpt(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST { text.to_owned() } else { text.chars().take(LONGEST).chain(['…']).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_shown_and_what_breaks_lines_is_a_space() {
        assert_eq!(clean("a\nb\t\tc"), "a b c");
        assert_eq!(clean("safe\u{202e}txt"), "safe\u{fffd}txt");
        assert_eq!(clean("bell\u{7}"), "bell\u{fffd}");
        assert_eq!(clean("Ωμή Яж ≤ ½"), "Ωμή Яж ≤ ½");
    }

    #[test]
    fn a_plain_text_is_one_that_nothing_changes() {
        const TEXTS: &str = "|a b|3 um|a  b|x degC|a\tb|Ω|7 |a-word-of-more-than-thirty-letters|words, none long, but many of them|G in J/m2|(mol/cm3)|in ohm m|in MPa^0.5|degF, or what|m3|2 us";
        for text in TEXTS.split('|') {
            assert!(!is_plain(text) || breakable(clean(text)) == text, "{text}");
        }
        assert!(is_plain("solvent and damp air") && !is_plain("60 degC"));
    }

    #[test]
    fn long_words_may_break_and_digests_do_not() {
        let long = "Transformerrefurbishmentconsortium";
        assert_eq!(
            breakable(format!("the {long} of")),
            "the Transfor\u{200b}merrefur\u{200b}bishment\u{200b}consorti\u{200b}um of"
        );
        for plain in ["ab".repeat(32).as_str(), "words of no great length, and many of them"] {
            assert_eq!(breakable(plain.to_owned()), plain);
        }
    }

    #[test]
    fn units_behind_numbers_are_printed_as_people_write_them() {
        assert_eq!(clean("0.3 us at 60 degC over 25 um"), "0.3\u{a0}µs at 60\u{a0}°C over 25\u{a0}µm");
        assert_eq!(clean("3 users tell us of 2 umbrellas"), "3 users tell us of 2 umbrellas");
    }

    #[test]
    fn a_character_without_a_face_is_a_fault_with_its_text() {
        let fonts = super::super::template::Templates::embedded().fonts;
        let mut document = serde_json::json!({ "customer": "Büro Ω Жук", "list": ["≥ 2", "σ"] });
        assert!(check(&mut document, &fonts).is_ok());
        let mut document = serde_json::json!({ "customer": "株式会社" });
        let faults = check(&mut document, &fonts).expect_err("no face has these").sorted();
        assert_eq!(faults.len(), 4);
        assert!(faults[0].found.contains("株式会社"), "{}", faults[0]);
    }
}
