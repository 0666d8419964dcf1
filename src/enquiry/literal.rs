//! Answers as they are typed, written as TOML.

use std::fmt::Write as _;

use super::questions::Answer;

/// A text in double quotes.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// An answer as TOML; what is not of its kind becomes a text, which the enquiry's reader then refuses.
pub(super) fn literal(answer: Answer, text: &str) -> String {
    let list = |items: Vec<String>| format!("[{}]", items.join(", "));
    let parts = || text.split(',').map(str::trim).filter(|part| !part.is_empty());
    match answer {
        Answer::Date if text.parse::<jiff::civil::Date>().is_ok_and(|date| date.to_string() == text) => text.to_owned(),
        Answer::Class | Answer::Count | Answer::Number if text.parse::<f64>().is_ok_and(f64::is_finite) => {
            plain_number(text)
        }
        Answer::Flag => match text {
            "yes" | "true" => "true".to_owned(),
            "no" | "false" => "false".to_owned(),
            other => quoted(other),
        },
        Answer::Layers => list(parts().map(quoted).collect()),
        Answer::Profile => list(
            parts()
                .map(|part| {
                    let (share, temperature) = part.split_once('@').unwrap_or((part, ""));
                    let (share, temperature) = (quoted(share.trim()), quoted(temperature.trim()));
                    format!("{{ temperature = {temperature}, share = {share} }}")
                })
                .collect(),
        ),
        _ => quoted(text),
    }
}

/// A number that TOML reads too: no sign in front, digits on both sides of the point.
fn plain_number(text: &str) -> String {
    let value: f64 = text.parse().unwrap_or(f64::NAN);
    format!("{value}")
}
