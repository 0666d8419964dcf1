//! New entries of the bibliography, as text below what is there.

use std::collections::BTreeMap;

use super::map::{Map, Work};

/// A text as a YAML scalar in double quotes; every JSON string is one.
pub(super) fn quoted(text: &str) -> String {
    serde_json::Value::String(text.to_owned()).to_string()
}

/// The map whose rows name the entry of this very file, and the bibliography if it needs that entry: the same
/// table with other contents is another edition, under a numbered key.
pub(super) fn edition(
    text: &str,
    known: &BTreeMap<String, serde_json::Value>,
    map: &Map,
    sha256: &str,
) -> (Map, Option<String>) {
    let mut map = map.clone();
    let Some(work) = map.work.clone().filter(|work| map.constants.get("source") == Some(&work.key)) else {
        return (map, None);
    };
    let mut key = work.key.clone();
    let mut number = 1;
    loop {
        match known.get(&key) {
            None => {
                let entry = Work { key: key.clone(), ..work };
                map.constants.insert("source", key);
                return (map, Some(with_table(text, &entry, sha256)));
            }
            Some(entry) if entry.to_string().contains(sha256) => {
                map.constants.insert("source", key);
                return (map, None);
            }
            Some(_) => {
                number += 1;
                key = format!("{}-{number}", work.key);
            }
        }
    }
}

/// The bibliography with an entry for a table.
fn with_table(text: &str, work: &Work, sha256: &str) -> String {
    let note = format!("table brought in; SHA-256 {sha256}");
    with(text, &work.key, &[("type", "misc".to_owned()), ("title", quoted(&work.title)), ("note", quoted(&note))])
}

/// The bibliography with one more entry.
pub(super) fn with(text: &str, key: &str, fields: &[(&str, String)]) -> String {
    let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let mut out = text.to_owned();
    if !out.is_empty() && !out.ends_with('\n') {
        out.push_str(newline);
    }
    out.push_str(&quoted_key(key));
    out.push(':');
    out.push_str(newline);
    for (name, value) in fields {
        for part in ["  ", name, ": ", value, newline] {
            out.push_str(part);
        }
    }
    out
}

/// A key that YAML could take for a number or a word of its own stands in quotes.
fn quoted_key(key: &str) -> String {
    let plain = key.starts_with(|c: char| c.is_ascii_alphabetic())
        && key.chars().all(|c| c.is_ascii_alphanumeric() || "-._".contains(c))
        && !matches!(key.to_lowercase().as_str(), "yes" | "no" | "true" | "false" | "null" | "on" | "off" | "y" | "n");
    if plain { key.to_owned() } else { quoted(key) }
}
