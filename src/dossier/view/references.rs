//! The references: numbered in the order of their first use, printed from the bibliography.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use super::super::language::Language;
use crate::catalogue::Catalogue;

/// One reference.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Reference {
    /// Its number.
    pub number: usize,
    /// Its key in `sources.yml`.
    pub key: String,
    /// Who wrote it, empty if nobody is named.
    pub who: String,
    /// What it is called.
    pub title: String,
    /// Where and when it appeared.
    pub place: String,
    /// What to know about it: abstract only, from memory, invented.
    pub note: String,
}

/// Keys in the order of their first use.
#[derive(Debug, Default)]
pub struct References(Vec<String>);

impl References {
    /// The number of a key.
    pub fn number(&mut self, key: &str) -> usize {
        if let Some(at) = self.0.iter().position(|k| k == key) {
            return at + 1;
        }
        self.0.push(key.to_owned());
        self.0.len()
    }

    /// The references so far.
    pub(super) fn list(&self, catalogue: &Catalogue, language: &Language) -> Vec<Reference> {
        (1..).zip(&self.0).map(|(number, key)| reference(number, key, catalogue.sources.get(key), language)).collect()
    }
}

/// Reads what a list needs out of an entry of Hayagriva YAML.
fn reference(number: usize, key: &str, entry: Option<&Value>, language: &Language) -> Reference {
    let get = |name: &str| entry.map(|e| text(&e[name])).unwrap_or_default();
    let parent = entry.map_or(&Value::Null, |e| &e["parent"]);
    let parent = parent.as_array().and_then(|list| list.first()).unwrap_or(parent);
    let mut place = Vec::new();
    let mut add = |text: String| {
        if !text.is_empty() {
            place.push(text);
        }
    };
    add(text(&parent["title"]));
    add(with(language, "references.edited", &text(&parent["author"])));
    for of in [entry.unwrap_or(&Value::Null), parent] {
        add(with(language, "references.edition", &text(&of["edition"])));
        add(with(language, "references.volume", &text(&of["volume"])));
        add(with(language, "references.issue", &text(&of["issue"])));
    }
    add(with(language, "references.pages", &get("page-range")));
    add(text(&parent["publisher"]));
    add(get("publisher"));
    add(get("organization"));
    add(if get("date").is_empty() { text(&parent["date"]) } else { get("date") });
    let serial = entry.map_or(&Value::Null, |e| &e["serial-number"]);
    match serial.as_object() {
        Some(map) => map.iter().for_each(|(name, value)| add(format!("{} {}", name.to_uppercase(), text(value)))),
        None => add(text(serial)),
    }
    add(get("url"));
    Reference {
        number,
        key: key.to_owned(),
        who: get("author").trim_end_matches('.').to_owned(),
        title: if get("title").is_empty() { key.to_owned() } else { get("title") },
        place: place.join(", "),
        note: get("note"),
    }
}

fn with(language: &Language, key: &str, value: &str) -> String {
    if value.is_empty() { String::new() } else { language.say(key, &[("n", value)]) }
}

/// A text, a number, a person, or a list of them.
fn text(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        Value::Array(list) => list.iter().map(text).filter(|t| !t.is_empty()).collect::<Vec<_>>().join("; "),
        Value::Object(map) => {
            let part = |name: &str| map.get(name).map(text).unwrap_or_default();
            let (name, given) = (part("name"), part("given-name"));
            if !name.is_empty() {
                return if given.is_empty() { name } else { format!("{name}, {given}") };
            }
            part("value")
        }
        Value::Bool(_) | Value::Null => String::new(),
    }
}
