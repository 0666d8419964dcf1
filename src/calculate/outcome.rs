//! What a computation came to, as text and as a document.

use std::collections::BTreeMap;
use std::fmt;

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use crate::models::{Bound, Card};
use crate::quantity::{Kind, significant};

/// One result: its name, the kind of its SI number, and the unit it is printed in.
pub(super) type Column = (&'static str, &'static Kind, &'static str);

/// What a row of the table gives back.
pub(super) struct Outcome {
    /// In SI, in the order of the row's results.
    values: Vec<Option<f64>>,
    /// Another card than the row's, where a form has its own.
    card: Option<&'static Card>,
    /// Another unit than the row's.
    unit: Option<String>,
    outside: Vec<String>,
    notes: Vec<String>,
}

impl Outcome {
    pub(super) fn of(values: Vec<Option<f64>>) -> Self {
        Outcome { values, card: None, unit: None, outside: Vec::new(), notes: Vec::new() }
    }

    pub(super) fn new(values: impl IntoIterator<Item = f64>) -> Self {
        Outcome::of(values.into_iter().map(Some).collect())
    }

    pub(super) fn within(mut self, bound: &Bound, si: f64) -> Self {
        self.outside.extend(bound.check(si));
        self
    }

    pub(super) fn note(mut self, note: &str) -> Self {
        self.notes.push(note.to_owned());
        self
    }

    pub(super) fn card(mut self, card: &'static Card) -> Self {
        self.card = Some(card);
        self
    }

    pub(super) fn unit(mut self, unit: String) -> Self {
        self.unit = Some(unit);
        self
    }
}

/// One printed result.
#[derive(Clone, Debug, PartialEq)]
pub struct Printed {
    /// Its name.
    pub name: String,
    /// Its number in `unit`; none where there is none, or no bound to it.
    pub value: Option<f64>,
    /// The unit.
    pub unit: String,
}

/// A computation that was made.
#[derive(Debug)]
pub struct Calculation {
    /// The card of what was computed.
    pub card: &'static Card,
    /// The name of the model.
    pub model: &'static str,
    /// What served as inputs, as written, defaults included.
    pub inputs: Vec<(&'static str, String)>,
    /// The results.
    pub results: Vec<Printed>,
    /// True if all inputs are where the equation holds.
    pub valid: bool,
    /// What is to be said about it, beginning with why it is not valid.
    pub notes: Vec<String>,
}

impl Calculation {
    pub(super) fn new(
        (card, columns): (&'static Card, &[Column]),
        inputs: Vec<(&'static str, String)>,
        outcome: Outcome,
    ) -> Self {
        let per_column = (outcome.values.len() / columns.len()).max(1);
        let valid = outcome.outside.is_empty();
        let mut notes = outcome.outside;
        notes.extend(outcome.notes);
        let mut results = Vec::with_capacity(outcome.values.len());
        for (i, si) in outcome.values.into_iter().enumerate() {
            let (name, kind, unit) = columns[i / per_column];
            let name = name.replace('…', &(i % per_column + 1).to_string());
            let number = si.and_then(|si| kind.number_in(si, unit));
            if number.is_some_and(|number| !number.is_finite()) {
                notes.push(format!("{name} is beyond all bounds"));
            }
            let unit = outcome.unit.clone().unwrap_or_else(|| unit.to_owned());
            results.push(Printed { name, value: number.filter(|number| number.is_finite()), unit });
        }
        Calculation { card: outcome.card.unwrap_or(card), model: card.name, inputs, results, valid, notes }
    }
}

/// A calculation as a document.
#[derive(Serialize, JsonSchema)]
pub struct Document<'a> {
    schema: &'static str,
    model: &'static str,
    #[serde(serialize_with = "in_order")]
    #[schemars(with = "BTreeMap<String, String>")]
    inputs: Vec<(&'a str, &'a str)>,
    #[serde(serialize_with = "in_order")]
    #[schemars(with = "BTreeMap<String, Number>")]
    results: Vec<(&'a str, Number<'a>)>,
    valid: bool,
    notes: &'a [String],
    equation: &'a str,
    sources: &'a [&'a str],
}

/// A result with its unit.
#[derive(Serialize, JsonSchema)]
struct Number<'a> {
    value: Option<f64>,
    unit: &'a str,
}

impl Calculation {
    /// The document that says it.
    #[must_use]
    pub fn document(&self) -> Document<'_> {
        Document {
            schema: "lapwise/model/1",
            model: self.model,
            inputs: self.inputs.iter().map(|(key, text)| (*key, text.as_str())).collect(),
            results: self.results.iter().map(|r| (r.name.as_str(), Number { value: r.value, unit: &r.unit })).collect(),
            valid: self.valid,
            notes: &self.notes,
            equation: self.card.equation,
            sources: self.card.sources,
        }
    }
}

/// Pairs as a map, in their order.
fn in_order<V: Serialize, S: Serializer>(pairs: &[(&str, V)], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(pairs.iter().map(|(key, value)| (*key, value)))
}

impl fmt::Display for Calculation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let inputs = self.inputs.iter().map(|(key, _)| *key);
        let names = inputs.chain(self.results.iter().map(|result| result.name.as_str()));
        let width = names.map(|name| name.chars().count()).fold(8, usize::max);
        writeln!(f, "{}: {}\n", self.model, self.card.summary)?;
        for (key, text) in &self.inputs {
            writeln!(f, "  {key:width$}  {text}")?;
        }
        writeln!(f)?;
        for Printed { name, value, unit } in &self.results {
            let number = value.map_or_else(|| "none".to_owned(), |value| significant(value, 6));
            let unit = if unit == "1" { "" } else { unit };
            writeln!(f, "  {}", format!("{name:width$}  {number} {unit}").trim_end())?;
        }
        writeln!(f, "\nequation  {}", self.card.equation)?;
        writeln!(f, "units     {}", self.card.units)?;
        writeln!(f, "valid     {}; {}", if self.valid { "yes" } else { "no" }, self.card.valid)?;
        self.notes.iter().try_for_each(|note| writeln!(f, "note      {note}"))?;
        self.card.sources.iter().try_for_each(|source| writeln!(f, "source    {source}"))
    }
}
