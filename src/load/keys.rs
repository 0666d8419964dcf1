//! Files of keys in TOML, read key by key, each with its place.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::rc::Rc;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::quantity::{Fraction, Typed};

use super::Lines;
use super::form::{Form, Sketch, Wanted};

/// A value of a TOML file with its place; the place's column is the dotted key.
#[derive(Clone, Debug)]
pub struct Item {
    /// Where it stands.
    pub place: Place,
    /// What it is.
    pub node: Node,
}

/// What a TOML value is.
#[derive(Clone, Debug)]
pub enum Node {
    /// A text.
    Text(String),
    /// An integer or a float.
    Number(f64),
    /// True or false.
    Flag(bool),
    /// A date or time, as written.
    Date(String),
    /// A list.
    List(Vec<Item>),
    /// A table, in the order of the file.
    Table(Vec<(String, Item)>),
}

impl Node {
    fn what(&self) -> &'static str {
        match self {
            Node::Text(_) => "a text",
            Node::Number(_) => "a number",
            Node::Flag(_) => "true or false",
            Node::Date(_) => "a date",
            Node::List(_) => "a list",
            Node::Table(_) => "a table",
        }
    }
}

/// Reads a TOML file; every syntax error is reported with its line.
pub fn toml(file: &str, text: &str, faults: &mut Faults) -> Keys {
    let name: Arc<str> = file.into();
    let lines = Lines::of(text);
    let (table, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        let line = error.span().map_or(1, |span| lines.at(span.start));
        faults.add(
            Fault::new(
                Code::TomlSyntax,
                error.message().to_owned(),
                "a TOML file",
                "mend the line; texts stand in double quotes, one key a line",
            )
            .at(Place::line(name.clone(), line)),
        );
    }
    let node = table_node(&name, &lines, "", table.get_ref());
    Keys::new(Item { place: Place::file(name), node })
}

fn table_node(file: &Arc<str>, lines: &Lines, path: &str, table: &DeTable<'_>) -> Node {
    let entry = |(key, value): (&Spanned<std::borrow::Cow<'_, str>>, &Spanned<DeValue<'_>>)| {
        let name = key.get_ref().to_string();
        let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
        let place = Place::cell(file.clone(), lines.at(key.span().start), path.as_str());
        (name, Item { node: node(file, lines, &path, value.get_ref()), place })
    };
    Node::Table(table.iter().map(entry).collect())
}

fn node(file: &Arc<str>, lines: &Lines, path: &str, value: &DeValue<'_>) -> Node {
    match value {
        DeValue::String(text) => Node::Text(text.to_string()),
        // With its radix: what is not written in tens is no plain number here.
        DeValue::Integer(number) => Node::Number(number.to_string().parse().unwrap_or(f64::NAN)),
        DeValue::Float(number) => Node::Number(number.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(flag) => Node::Flag(*flag),
        DeValue::Datetime(date) => Node::Date(date.to_string()),
        DeValue::Array(list) => Node::List(
            list.iter()
                .enumerate()
                .map(|(index, item)| {
                    let path = format!("{path}[{}]", index + 1);
                    let place = Place::cell(file.clone(), lines.at(item.span().start), path.as_str());
                    Item { node: node(file, lines, &path, item.get_ref()), place }
                })
                .collect(),
        ),
        DeValue::Table(table) => table_node(file, lines, path, table),
    }
}

/// A table of a TOML file, read key by key; [`Keys::finish`] reports the keys nobody asked for.
#[derive(Clone, Debug)]
pub struct Keys {
    item: Item,
    asked: BTreeSet<&'static str>,
    sketch: Option<Sketch>,
}

/// The form that a reader asks for, taken down while it reads nothing.
pub fn form(file: &str, read: impl FnOnce(Keys)) -> Form {
    let sketch = Sketch::default();
    read(Keys::sketching(Place::file(file), sketch.clone()));
    sketch.borrow().clone()
}

impl Keys {
    fn new(item: Item) -> Keys {
        Keys { item, asked: BTreeSet::new(), sketch: None }
    }

    fn sketching(place: Place, sketch: Sketch) -> Keys {
        Keys { sketch: Some(sketch), ..Keys::new(Item { place, node: Node::Table(Vec::new()) }) }
    }

    /// Notes what is wanted under a key, unless a narrower wish has been noted.
    fn wants(&self, key: &'static str, wanted: Wanted) {
        if let Some(sketch) = &self.sketch
            && !sketch.borrow().has(key)
        {
            sketch.borrow_mut().note(key, wanted);
        }
    }

    /// Says that a key may also hold a quantity, where another key decides which it is.
    pub fn may_be<Q: Typed>(&self, key: &'static str) {
        if let Some(sketch) = &self.sketch {
            sketch.borrow_mut().note(key, Wanted::Quantity(Q::KIND));
        }
    }

    /// A table within, to take down its form.
    fn within(&self, key: &'static str, wanted: fn(Sketch) -> Wanted) -> Option<Keys> {
        self.sketch.as_ref()?;
        let inner: Sketch = Rc::new(RefCell::new(Form::default()));
        self.wants(key, wanted(inner.clone()));
        Some(Keys::sketching(self.place_of(key), inner))
    }

    /// The whole table with its place.
    #[must_use]
    pub fn item(&self) -> &Item {
        &self.item
    }

    /// Where the table stands.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.item.place
    }

    /// Where a key stands, or would.
    #[must_use]
    pub fn place_of(&self, key: &str) -> Place {
        if let Some((_, item)) = self.entries().iter().find(|(name, _)| name == key) {
            return item.place.clone();
        }
        let here = &self.item.place;
        let path = if here.column.is_empty() { key.to_owned() } else { format!("{}.{key}", here.column) };
        Place::cell(here.file.clone(), here.line.max(1), path)
    }

    fn entries(&self) -> &[(String, Item)] {
        match &self.item.node {
            Node::Table(entries) => entries,
            _ => &[],
        }
    }

    /// A key's value as it is.
    pub fn get(&mut self, key: &'static str) -> Option<&Item> {
        self.asked.insert(key);
        self.entries().iter().find(|(name, _)| name == key).map(|(_, item)| item)
    }

    /// A key that may not be absent.
    pub fn present(&mut self, key: &'static str, faults: &mut Faults) -> bool {
        if let Some(sketch) = &self.sketch {
            sketch.borrow_mut().need(key);
        }
        let there = self.get(key).is_some();
        if !there {
            self.missing(key, "nothing", "add the key", faults);
        }
        there
    }

    /// A key that may not be absent, nor a text without anything in it.
    pub fn stated(&mut self, key: &'static str, faults: &mut Faults) -> bool {
        let is_blank = |item: &Item| matches!(&item.node, Node::Text(text) if text.trim().is_empty());
        if self.get(key).is_some_and(is_blank) {
            self.missing(key, "an empty text", "write what it is", faults);
            return false;
        }
        self.present(key, faults)
    }

    fn missing(&self, key: &str, found: &str, remedy: &str, faults: &mut Faults) {
        let fault = Fault::new(Code::KeyMissing, found, format!("the key `{key}`"), remedy);
        faults.add(fault.at(self.place_of(key)));
    }

    fn typed<T>(
        &mut self,
        key: &'static str,
        wanted: &str,
        faults: &mut Faults,
        read: impl Fn(&Node) -> Option<T>,
    ) -> Option<T> {
        let item = self.get(key)?;
        let value = read(&item.node);
        if value.is_none() {
            let fault = Fault::new(Code::ValueType, item.node.what(), wanted, format!("write {wanted} for `{key}`"));
            faults.add(fault.at(item.place.clone()));
        }
        value
    }

    /// A text.
    pub fn text(&mut self, key: &'static str, faults: &mut Faults) -> Option<String> {
        self.wants(key, Wanted::Text);
        self.typed(key, "a text in double quotes", faults, |node| match node {
            Node::Text(text) => Some(text.clone()),
            _ => None,
        })
    }

    /// True or false.
    pub fn flag(&mut self, key: &'static str, faults: &mut Faults) -> Option<bool> {
        self.wants(key, Wanted::Flag);
        self.typed(key, "true or false", faults, |node| match node {
            Node::Flag(flag) => Some(*flag),
            _ => None,
        })
    }

    /// A plain number.
    pub fn number(&mut self, key: &'static str, faults: &mut Faults) -> Option<f64> {
        self.wants(key, Wanted::Number);
        self.typed(key, "a plain number", faults, |node| match node {
            Node::Number(number) if number.is_finite() => Some(*number),
            _ => None,
        })
    }

    /// A whole number of at least 1.
    pub fn count(&mut self, key: &'static str, faults: &mut Faults) -> Option<u32> {
        let number = self.number(key, faults)?;
        let whole = (1.0..=1e9).contains(&number) && libm::trunc(number).total_cmp(&number).is_eq();
        if !whole {
            let fault =
                Fault::new(Code::ValueImpossible, format!("`{number}`"), "a whole number of at least 1", "correct it");
            faults.add(fault.at(self.place_of(key)));
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number from 1 to 1e9")]
        whole.then_some(number as u32)
    }

    /// A date, such as `2026-11-20`.
    pub fn date(&mut self, key: &'static str, faults: &mut Faults) -> Option<String> {
        self.wants(key, Wanted::Date);
        self.typed(key, "a date such as 2026-11-20, without quotes", faults, |node| match node {
            Node::Date(date) if date.len() == 10 && date.parse::<jiff::civil::Date>().is_ok() => Some(date.clone()),
            _ => None,
        })
    }

    /// A quantity, as a text with its unit or, where the kind allows it, a plain number.
    pub fn quantity<Q: Typed>(&mut self, key: &'static str, faults: &mut Faults) -> Option<Q> {
        self.wants(key, Wanted::Quantity(Q::KIND));
        let item = self.get(key)?;
        let read = match &item.node {
            Node::Text(text) => Q::KIND.read(text),
            Node::Number(number) => Q::KIND.read(&number.to_string()),
            other => Err(Fault::new(
                Code::ValueType,
                other.what(),
                Q::KIND.name,
                format!("write a text such as \"{}\"", Q::KIND.example),
            )),
        };
        let place = item.place.clone();
        faults.keep(read, &place).map(Q::from_si)
    }

    /// A share from 0 to 1, written as `0.5` or `50 %`.
    pub fn share(&mut self, key: &'static str, faults: &mut Faults) -> Option<f64> {
        self.wants(key, Wanted::Share);
        let value = self.quantity::<Fraction>(key, faults)?.si();
        if (0.0..=1.0).contains(&value) {
            return Some(value);
        }
        let written = match &self.get(key)?.node {
            Node::Text(text) => text.clone(),
            _ => value.to_string(),
        };
        let remedy = "write a fraction such as `0.5` or `50 %`";
        let fault = Fault::new(Code::ValueImpossible, format!("`{written}`"), "a share from 0 to 100 %", remedy);
        faults.add(fault.at(self.place_of(key)));
        None
    }

    /// One of the words of a closed list.
    pub fn word(
        &mut self,
        key: &'static str,
        allowed: &'static [&'static str],
        faults: &mut Faults,
    ) -> Option<&'static str> {
        self.wants(key, Wanted::Word(allowed));
        let text = self.text(key, faults)?;
        let found = allowed.iter().find(|word| **word == text).copied();
        if found.is_none() {
            let fault =
                Fault::unknown_word(Code::WordUnknown, &text, "one of the known words", allowed.iter().copied());
            faults.add(fault.at(self.place_of(key)));
        }
        found
    }

    /// A list of texts.
    pub fn texts(&mut self, key: &'static str, faults: &mut Faults) -> Vec<(String, Place)> {
        self.wants(key, Wanted::Texts);
        let list = self.typed(key, "a list of texts", faults, |node| match node {
            Node::List(items) => items
                .iter()
                .map(|item| match &item.node {
                    Node::Text(text) => Some((text.clone(), item.place.clone())),
                    _ => None,
                })
                .collect::<Option<Vec<_>>>(),
            _ => None,
        });
        list.unwrap_or_default()
    }

    /// A list of words of a closed list; others are faults.
    pub fn words(&mut self, key: &'static str, allowed: &'static [&'static str], faults: &mut Faults) -> Vec<String> {
        self.wants(key, Wanted::Words(allowed));
        let mut words = Vec::new();
        for (text, place) in self.texts(key, faults) {
            if allowed.contains(&text.as_str()) {
                words.push(text);
                continue;
            }
            let known = allowed.iter().copied();
            faults.add(Fault::unknown_word(Code::WordUnknown, &text, "one of the known words", known).at(place));
        }
        words
    }

    /// A table under a key.
    pub fn table(&mut self, key: &'static str, faults: &mut Faults) -> Option<Keys> {
        if let Some(within) = self.within(key, Wanted::Table) {
            return Some(within);
        }
        let place = self.get(key)?.place.clone();
        let node = self.typed(key, "a table", faults, |node| matches!(node, Node::Table(_)).then(|| node.clone()))?;
        Some(Keys::new(Item { place, node }))
    }

    /// A list of tables under a key; empty if the key is absent.
    pub fn tables(&mut self, key: &'static str, faults: &mut Faults) -> Vec<Keys> {
        if let Some(within) = self.within(key, Wanted::Tables) {
            return vec![within];
        }
        let list = self.typed(key, "a list of tables", faults, |node| match node {
            Node::List(items) if items.iter().all(|item| matches!(item.node, Node::Table(_))) => Some(items.clone()),
            _ => None,
        });
        list.unwrap_or_default().into_iter().map(Keys::new).collect()
    }

    /// Reports every key that nobody asked for.
    pub fn finish(self, faults: &mut Faults) {
        for (name, item) in self.entries() {
            if !self.asked.contains(name.as_str()) {
                let fault =
                    Fault::unknown_word(Code::KeyUnknown, name, "a key that is read", self.asked.iter().copied());
                faults.add(fault.at(item.place.clone()));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_toml_error_has_its_line() {
        let mut faults = Faults::default();
        let mut keys = toml("a.toml", "x = 1\ny = \nz = \"ok\"\n[t\n", &mut faults);
        assert_eq!(keys.number("x", &mut faults), Some(1.0));
        let lines: Vec<u32> = faults.sorted().iter().filter_map(|f| f.place.as_ref().map(|p| p.line)).collect();
        assert_eq!(lines, [2, 4]);
    }
}
