//! What people write around a number: that it is not known, that it is a limit, that there is a footnote.

use super::number::{Claim, Marks};
use super::words::fold;

/// Ways to say that a number is not known, folded.
const NOT_KNOWN: &[&str] = &[
    "",
    "-",
    "–",
    "—",
    "--",
    "---",
    "/",
    "./.",
    "?",
    "n/a",
    "n.a.",
    "n.a",
    "na",
    "#n/a",
    "#nv",
    "k.a.",
    "k. a.",
    "k.a",
    "ka",
    "keine angabe",
    "n.b.",
    "nicht bestimmt",
    "nicht gepruft",
    "nicht gemessen",
    "n.d.",
    "nd",
    "n/d",
    "n.m.",
    "n.t.",
    "not tested",
    "not available",
    "not applicable",
    "not known",
    "unknown",
    "none given",
    "tbd",
    "tba",
    "non mesure",
    "non determine",
    "sans objet",
    "non disponibile",
    "s.d.",
    "s/d",
    "sin datos",
    "no disponible",
    "entfallt",
    "null",
    "unbekannt",
    "auf anfrage",
    "on request",
    "sur demande",
];

const LIMITS: &[(&str, Claim)] = &[
    ("<=", Claim::AtMost),
    ("=<", Claim::AtMost),
    (">=", Claim::AtLeast),
    ("=>", Claim::AtLeast),
    ("<", Claim::AtMost),
    ("≤", Claim::AtMost),
    ("⩽", Claim::AtMost),
    (">", Claim::AtLeast),
    ("≥", Claim::AtLeast),
    ("⩾", Claim::AtLeast),
    ("~", Claim::About),
    ("≈", Claim::About),
    ("∼", Claim::About),
    ("±", Claim::About),
];

const LIMIT_WORDS: &[(&str, Claim)] = &[
    ("maximum", Claim::AtMost),
    ("maximal", Claim::AtMost),
    ("max", Claim::AtMost),
    ("up to", Claim::AtMost),
    ("bis zu", Claim::AtMost),
    ("hochstens", Claim::AtMost),
    ("jusqu'a", Claim::AtMost),
    ("hasta", Claim::AtMost),
    ("fino a", Claim::AtMost),
    ("minimum", Claim::AtLeast),
    ("mindestens", Claim::AtLeast),
    ("mind", Claim::AtLeast),
    ("minimal", Claim::AtLeast),
    ("min", Claim::AtLeast),
    ("at least", Claim::AtLeast),
    ("au moins", Claim::AtLeast),
    ("circa", Claim::About),
    ("approx", Claim::About),
    ("about", Claim::About),
    ("environ", Claim::About),
    ("etwa", Claim::About),
    ("rund", Claim::About),
    ("env", Claim::About),
    ("ca", Claim::About),
    ("c.", Claim::About),
    ("aprox", Claim::About),
    ("typical", Claim::Exact),
    ("typisch", Claim::Exact),
    ("typ", Claim::Exact),
    ("nominal", Claim::Exact),
    ("nom", Claim::Exact),
];

/// True for a text that says that a number is not known.
pub(super) fn says_not_known(text: &str) -> bool {
    NOT_KNOWN.contains(&fold(text).as_str())
}

/// A text without the footnote mark at its end, and the mark.
pub(super) fn footnote(text: &str) -> (&str, &str) {
    let raised = |c: char| matches!(c, '¹' | '²' | '³' | '⁰' | '⁴'..='⁹' | '⁾' | '⁽');
    let text = text.trim_end();
    let stars = text.trim_end_matches(['*', '†', '‡', '§', '#']);
    if stars.len() < text.len() {
        return (stars.trim_end(), &text[stars.len()..]);
    }
    let plain = text.trim_end_matches([')', '⁾']);
    let raised_from = plain.trim_end_matches(raised);
    let is_raised = raised_from.len() < plain.len();
    // `mm²` is a unit: a raised figure behind a letter is a mark only before a bracket.
    let behind_digit = raised_from.ends_with(|c: char| c.is_ascii_digit() || c == ' ' || c == '%');
    if is_raised && (behind_digit || plain.len() < text.len()) && !raised_from.is_empty() {
        return (raised_from.trim_end(), &text[raised_from.len()..]);
    }
    // `65 1)`: a closing bracket that nothing opens.
    if plain.len() + 1 == text.len() && !text.contains('(') {
        let start = plain.rfind(' ').unwrap_or(0);
        let mark = plain[start..].trim();
        if start > 0 && mark.chars().count() <= 2 && mark.chars().all(char::is_alphanumeric) {
            return (plain[..start].trim_end(), &text[start + 1..]);
        }
    }
    (text, "")
}

/// The limit or remark around a number, and the rest.
pub(super) fn claim(text: &str, marks: Marks) -> (Claim, &str) {
    for (sign, claim) in LIMITS {
        if let Some(rest) = text.strip_prefix(sign) {
            return (*claim, rest.trim_start());
        }
    }
    let folded = fold(text);
    if folded.chars().count() == text.chars().count() {
        let cut = |from: usize| text.char_indices().nth(from).map_or("", |(at, _)| &text[at..]);
        for (word, claim) in LIMIT_WORDS {
            if let Some(rest) = folded.strip_prefix(word)
                && !rest.starts_with(char::is_alphabetic)
            {
                let rest = cut(word.chars().count());
                return (*claim, rest.trim_start_matches(['.', ':', ' ']));
            }
        }
        for (word, claim) in LIMIT_WORDS {
            let bare = folded.trim_end_matches(['.', ')', ' ']);
            let minutes = *word == "min" && marks.times;
            let Some(before) = bare.strip_suffix(word).filter(|_| !minutes) else { continue };
            if before.ends_with([' ', '(']) {
                let end = text.char_indices().nth(before.chars().count()).map_or(text.len(), |(at, _)| at);
                return (*claim, text[..end].trim_end_matches(['(', ' ', ',']));
            }
        }
    }
    (Claim::Exact, text)
}
