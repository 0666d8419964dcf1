//! The form of a TOML file, taken down while its reader asks for keys that are not there.
//!
//! A reader is run once over nothing; every key it asks for, with the kind of value it wants, is
//! noted. So the form that an editor checks against cannot differ from what is read.

use std::cell::RefCell;
use std::rc::Rc;

use serde_json::{Map, Value, json};

use crate::quantity::Kind;

/// What a reader wants under a key.
#[derive(Clone, Debug)]
pub(super) enum Wanted {
    Text,
    Flag,
    Number,
    Date,
    Quantity(&'static Kind),
    Share,
    Word(&'static [&'static str]),
    Texts,
    Words(&'static [&'static str]),
    Table(Sketch),
    Tables(Sketch),
}

/// What a table may hold.
#[derive(Clone, Debug, Default)]
pub struct Form {
    entries: Vec<(&'static str, Vec<Wanted>)>,
    needed: Vec<&'static str>,
}

/// A form in the making.
pub(super) type Sketch = Rc<RefCell<Form>>;

impl Form {
    /// Notes a kind of value under a key; the first is what a reader asks first.
    pub(super) fn note(&mut self, key: &'static str, wanted: Wanted) {
        match self.entries.iter_mut().find(|(name, _)| *name == key) {
            Some((_, all)) => all.push(wanted),
            None => self.entries.push((key, vec![wanted])),
        }
    }

    /// True if something is noted under a key.
    pub(super) fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|(name, _)| *name == key)
    }

    /// Notes a key that may not be absent.
    pub(super) fn need(&mut self, key: &'static str) {
        if !self.needed.contains(&key) {
            self.needed.push(key);
        }
    }

    /// The form as a JSON Schema.
    #[must_use]
    pub fn schema(&self) -> Value {
        let properties: Map<String, Value> = self
            .entries
            .iter()
            .map(|(key, wanted)| {
                let mut forms: Vec<Value> = wanted.iter().map(Wanted::schema).collect();
                let form = if forms.len() == 1 { forms.remove(0) } else { json!({ "anyOf": forms }) };
                ((*key).to_owned(), form)
            })
            .collect();
        let mut schema = json!({ "type": "object", "properties": properties, "additionalProperties": false });
        if !self.needed.is_empty() {
            schema["required"] = json!(self.needed);
        }
        schema
    }
}

impl Wanted {
    fn schema(&self) -> Value {
        match self {
            Wanted::Text => json!({ "type": "string" }),
            Wanted::Flag => json!({ "type": "boolean" }),
            Wanted::Number => json!({ "type": "number" }),
            Wanted::Date => json!({ "type": "string", "format": "date", "description": "a date, without quotes" }),
            Wanted::Quantity(kind) => quantity(kind),
            Wanted::Share => json!({
                "description": "a share from 0 to 1, such as `50 %`",
                "anyOf": [
                    { "type": "number", "minimum": 0, "maximum": 1 },
                    { "type": "string", "pattern": written(r"(\s*\S.*)?") },
                ],
            }),
            Wanted::Word(words) => json!({ "enum": words }),
            Wanted::Texts => json!({ "type": "array", "items": { "type": "string" } }),
            Wanted::Words(words) => json!({ "type": "array", "items": { "enum": words } }),
            Wanted::Table(form) => form.borrow().schema(),
            Wanted::Tables(form) => json!({ "type": "array", "items": form.borrow().schema() }),
        }
    }
}

fn quantity(kind: &Kind) -> Value {
    let description = format!("{}, such as `{}`", kind.name, kind.example);
    if kind.bare {
        let text = json!({ "type": "string", "pattern": written(r"(\s*\S.*)?") });
        return json!({ "description": description, "anyOf": [{ "type": "number" }, text] });
    }
    json!({ "type": "string", "pattern": written(r"\s*[^\s\d.].*"), "description": description, "examples": [kind.example] })
}

/// A number and what follows it, as a pattern.
fn written(unit: &str) -> String {
    format!(r"^\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?{unit}$")
}
