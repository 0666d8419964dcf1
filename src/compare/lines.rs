//! The rows of any file of a data folder, by what they say.

use std::collections::{BTreeMap, BTreeSet};

use crate::evidence::Place;
use crate::fault::Faults;
use crate::import::Target;
use crate::load::{self, Cell, Folder, Item, Node};
use crate::quantity::KINDS;

/// A row of a table, an entry of a TOML list or of the bibliography, or a whole enquiry.
#[derive(Clone, Debug, Default)]
pub(super) struct Line {
    /// What tells it from the others of its file, numbers in SI.
    pub(super) key: String,
    /// What it is about, conditions aside.
    pub(super) about: String,
    /// The key as people say it.
    pub(super) name: String,
    /// Its cells, without those of the user's own columns.
    pub(super) cells: BTreeMap<String, Cell>,
    target: Option<Target>,
    /// What it takes to put it elsewhere.
    pub(super) part: Part,
}

/// A line as it stands in its file.
#[derive(Clone, Debug, Default)]
pub(super) enum Part {
    /// The whole file.
    #[default]
    Nothing,
    /// A row of a table: where it begins, and its cells.
    Row(u32, BTreeMap<String, String>),
    /// An element of a list of tables.
    Element(String, usize, toml::Value),
    /// A key at the top of a TOML file.
    Key(String, toml::Value),
    /// The file and its text.
    File(String, String),
}

impl Line {
    /// The cell of a column, empty if blank.
    pub(super) fn cell(&self, column: &str) -> &str {
        self.cells.get(column).map_or("", |cell| cell.text.as_str())
    }

    /// All of it, to sort by.
    pub(super) fn text(&self) -> Vec<(&str, &str)> {
        self.cells.iter().map(|(column, cell)| (column.as_str(), cell.text.as_str())).collect()
    }
}

/// The lines of a file.
pub(super) fn lines(file: &str, text: &str, faults: &mut Faults) -> Vec<Line> {
    if load::is_enquiry(file) {
        return vec![enquiry(file, text, faults)];
    }
    match file.rsplit('.').next() {
        Some("csv") => table(file, text, faults),
        Some("yml") => bibliography(file, text, faults),
        _ => entries(file, text, faults),
    }
}

fn table(file: &str, text: &str, faults: &mut Faults) -> Vec<Line> {
    let heads = load::heads(text);
    let heads: Vec<&str> = heads.iter().map(String::as_str).filter(|head| !head.starts_with("x_")).collect();
    let target = Target::ALL.into_iter().find(|target| target.file() == file);
    let line = |row: load::Row| {
        let cells: BTreeMap<String, Cell> = row.cells().map(|(head, cell)| (head.to_owned(), cell.clone())).collect();
        let at = |column: &str| cells.get(column).map_or("", |cell| cell.text.as_str());
        let (key, about, name) = match target {
            Some(target) => named(target, &at),
            None if heads.contains(&"id") => (at("id").to_owned(), at("id").to_owned(), at("id").to_owned()),
            None => {
                let texts: Vec<&str> = heads.iter().map(|head| at(head)).collect();
                let name: Vec<&str> = texts.iter().take(3).copied().filter(|text| !text.is_empty()).collect();
                // By the heads in their own order, not the file's.
                let key: Vec<&str> = cells.values().map(|cell| cell.text.as_str()).collect();
                (key.join("\u{1f}"), texts.first().copied().unwrap_or_default().to_owned(), name.join(" "))
            }
        };
        let texts = cells.iter().map(|(head, cell)| (head.clone(), cell.text.clone())).collect();
        Line { key, about, name, target, part: Part::Row(row.place.line, texts), cells }
    };
    load::table(file, text, &heads, faults).into_iter().map(line).collect()
}

/// Key, subject and name of a row of a table that is imported into.
fn named<'c>(target: Target, at: &impl Fn(&str) -> &'c str) -> (String, String, String) {
    let key = target.key(at);
    let about: &[&str] = match target {
        Target::Tapes => &["tape"],
        Target::Facts => &["subject", "property"],
        Target::Pairs => &["material", "medium", "effect", "property"],
    };
    let about: Vec<&str> = about.iter().map(|column| at(column)).collect();
    let conditions = ["temperature", "duration", "polymer_fraction", "humidity", "atmosphere", "condition"];
    let conditions: Vec<&str> = conditions.iter().map(|column| at(column)).filter(|text| !text.is_empty()).collect();
    let mut name = match target {
        Target::Tapes => at("tape").to_owned(),
        Target::Facts => format!("{} `{}`", at("subject"), at("property")),
        Target::Pairs => format!("{} in {} `{}`", at("material"), at("medium"), at("property")),
    };
    if target != Target::Tapes && !conditions.is_empty() {
        name = format!("{name} at {}", conditions.join(", "));
    }
    (key, about.join("\u{1f}"), name)
}

fn bibliography(file: &str, text: &str, faults: &mut Faults) -> Vec<Line> {
    let at = load::lines_of(text);
    let line = |(key, value): (String, serde_json::Value)| {
        let place = Place::line(file, at.get(key.as_str()).copied().unwrap_or(1));
        let mut cells = BTreeMap::new();
        json(&value, "", &place, &mut cells);
        let (about, name) = (key.clone(), key.clone());
        Line { key, about, name, cells, target: None, part: Part::File(file.to_owned(), text.to_owned()) }
    };
    load::bibliography(file, text, faults).into_iter().map(line).collect()
}

fn json(value: &serde_json::Value, path: &str, place: &Place, cells: &mut BTreeMap<String, Cell>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match value {
        serde_json::Value::Object(map) => map.iter().for_each(|(key, value)| json(value, &below(key), place, cells)),
        serde_json::Value::Array(list) => {
            let items = list.iter().zip(1..);
            items.for_each(|(value, n)| json(value, &below(&n.to_string()), place, cells));
        }
        serde_json::Value::String(text) => {
            cells.insert(path.to_owned(), Cell { text: text.clone(), place: place.clone() });
        }
        other => {
            cells.insert(path.to_owned(), Cell { text: other.to_string(), place: place.clone() });
        }
    }
}

fn enquiry(file: &str, text: &str, faults: &mut Faults) -> Line {
    let keys = load::toml(file, text, faults);
    let mut cells = BTreeMap::new();
    leaves(keys.item(), "", &mut cells);
    let number = cells.get("enquiry.number").map_or(file, |cell| cell.text.as_str()).to_owned();
    let (about, name) = (number.clone(), number.clone());
    Line { key: number, about, name, cells, target: None, part: Part::File(file.to_owned(), text.to_owned()) }
}

/// The keys and list elements at the top of a TOML file.
fn entries(file: &str, text: &str, faults: &mut Faults) -> Vec<Line> {
    let keys = load::toml(file, text, faults);
    let Node::Table(top) = &keys.item().node else { return Vec::new() };
    let values: toml::Table = text.parse().unwrap_or_default();
    let mut found = Vec::new();
    let mut line = |key: String, item: &Item, part: Part| {
        let mut cells = BTreeMap::new();
        leaves(item, "", &mut cells);
        let (about, name) = (key.clone(), key.clone());
        found.push(Line { key, about, name, cells, target: None, part });
    };
    for (key, item) in top {
        let value = values.get(key).cloned().unwrap_or(toml::Value::Boolean(false));
        match (&item.node, &value) {
            (Node::List(items), toml::Value::Array(all)) if items.iter().all(is_table) && !items.is_empty() => {
                for (at, (item, value)) in items.iter().zip(all).enumerate() {
                    let part = Part::Element(key.clone(), at, value.clone());
                    line(format!("{key} {}", label(item, at)), item, part);
                }
            }
            _ => line(key.clone(), item, Part::Key(key.clone(), value)),
        }
    }
    found
}

fn is_table(item: &Item) -> bool {
    matches!(item.node, Node::Table(_))
}

/// What an element of a list is called.
fn label(item: &Item, at: usize) -> String {
    let text = |key: &str| match &item.node {
        Node::Table(entries) => entries.iter().find(|(name, _)| name == key).and_then(|(_, item)| match &item.node {
            Node::Text(text) => Some(text.clone()),
            _ => None,
        }),
        _ => None,
    };
    let subject = || Some(format!("{} {} {}", text("code")?, text("subject")?, text("column").unwrap_or_default()));
    ["id", "function", "name", "topic"]
        .iter()
        .find_map(|key| text(key))
        .or_else(subject)
        .unwrap_or_else(|| format!("number {}", at + 1))
}

/// Every value below a table, by its dotted path.
fn leaves(item: &Item, path: &str, cells: &mut BTreeMap<String, Cell>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    let mut leaf = |text: String| {
        cells.insert(
            if path.is_empty() { "value".to_owned() } else { path.to_owned() },
            Cell { text, place: item.place.clone() },
        );
    };
    match &item.node {
        Node::Table(entries) => entries.iter().for_each(|(key, item)| leaves(item, &below(key), cells)),
        Node::List(items) if items.iter().any(is_table) => {
            items.iter().enumerate().for_each(|(at, item)| leaves(item, &below(&label(item, at)), cells));
        }
        Node::List(items) => {
            let text = |item: &Item| match &item.node {
                Node::Text(text) | Node::Date(text) => text.clone(),
                Node::Number(number) => number.to_string(),
                _ => String::new(),
            };
            leaf(items.iter().map(text).collect::<Vec<_>>().join("; "));
        }
        Node::Text(text) | Node::Date(text) => leaf(text.clone()),
        Node::Number(number) => leaf(number.to_string()),
        Node::Flag(flag) => leaf(flag.to_string()),
    }
}

/// The bibliography of the new folder, and the entries that only the old one has.
pub(super) fn all_sources(old: &Folder, new: &Folder) -> String {
    let (before, after) = (old.text("sources.yml"), new.text("sources.yml"));
    if before == after {
        return after.to_owned();
    }
    let (entries, kept) = (load::lines_of(before), load::lines_of(after));
    let mut own = false;
    let gone = before.lines().zip(1..).filter(|(_, at)| {
        if let Some((key, _)) = entries.iter().find(|(_, line)| *line == at) {
            own = !kept.contains_key(key);
        }
        own
    });
    gone.fold(format!("{}\n", after.trim_end()), |text, (line, _)| format!("{text}{line}\n"))
}

/// True if two cells say the same, however their numbers are written.
pub(super) fn same(old: &Line, new: &Line, column: &str, before: &str, after: &str) -> bool {
    if before == after {
        return true;
    }
    match new.target.or(old.target) {
        Some(target) => {
            let property = |line: &Line| line.cell("property").to_owned();
            property(old) == property(new) && target.same(column, &property(new), before, after)
        }
        None if before.is_empty() || after.is_empty() => false,
        None => KINDS.iter().any(|kind| kind.alike(before, after)),
    }
}

/// The text of a file after some changes of its lines; none if the file is gone.
pub(super) fn rewritten(file: &str, text: &str, changes: &[(Option<&Part>, Option<&Part>)]) -> Option<String> {
    if changes.iter().any(|(old, new)| [old, new].into_iter().flatten().any(|part| matches!(part, Part::File(..)))) {
        return changes.iter().find_map(|(_, new)| match new {
            Some(Part::File(_, text)) => Some(text.clone()),
            _ => None,
        });
    }
    Some(if file.rsplit('.').next() == Some("csv") {
        rewritten_table(text, changes)
    } else {
        rewritten_toml(text, changes)
    })
}

fn rewritten_table(text: &str, changes: &[(Option<&Part>, Option<&Part>)]) -> String {
    let mut faults = Faults::default();
    let mut rows: Vec<(u32, Option<BTreeMap<String, String>>)> = Vec::new();
    for line in table("", text, &mut faults) {
        if let Part::Row(at, cells) = line.part {
            rows.push((at, Some(cells)));
        }
    }
    for (old, new) in changes {
        let new = match new {
            Some(Part::Row(_, cells)) => Some(cells.clone()),
            _ => None,
        };
        let held = match old {
            Some(Part::Row(at, _)) => rows.iter_mut().find(|(line, _)| line == at),
            _ => None,
        };
        match held {
            Some(row) => row.1 = new,
            None => rows.push((u32::MAX, new)),
        }
    }
    let mut heads: Vec<String> = load::heads(text).into_iter().filter(|head| !head.starts_with("x_")).collect();
    for head in rows.iter().filter_map(|(_, row)| row.as_ref()).flat_map(BTreeMap::keys) {
        if !heads.contains(head) {
            heads.push(head.clone());
        }
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    let rows = rows.iter().filter_map(|(_, row)| row.as_ref());
    let rows = rows.map(|row| heads.iter().map(|head| row.get(head).cloned().unwrap_or_default()).collect());
    // A writer into memory does not fail.
    for row in std::iter::once(heads.clone()).chain(rows) {
        let _ = writer.write_record(&row);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

fn rewritten_toml(text: &str, changes: &[(Option<&Part>, Option<&Part>)]) -> String {
    let mut table: toml::Table = text.parse().unwrap_or_default();
    let mut gone: BTreeMap<&str, BTreeSet<usize>> = BTreeMap::new();
    for (old, new) in changes {
        match (old, new) {
            (Some(Part::Element(list, at, _)), Some(Part::Element(_, _, value))) => {
                let held = table.get_mut(list).and_then(toml::Value::as_array_mut).and_then(|all| all.get_mut(*at));
                if let Some(held) = held {
                    *held = value.clone();
                }
            }
            (Some(Part::Element(list, at, _)), _) => {
                gone.entry(list).or_default().insert(*at);
            }
            (None, Some(Part::Element(list, _, value))) => {
                let all = table.entry(list.clone()).or_insert_with(|| toml::Value::Array(Vec::new()));
                if let Some(all) = all.as_array_mut() {
                    all.push(value.clone());
                }
            }
            (_, Some(Part::Key(key, value))) => {
                table.insert(key.clone(), value.clone());
            }
            (Some(Part::Key(key, _)), None) => {
                table.remove(key);
            }
            _ => {}
        }
    }
    for (list, gone) in gone {
        if let Some(all) = table.get_mut(list).and_then(toml::Value::as_array_mut) {
            let mut at = 0..;
            all.retain(|_| at.next().is_none_or(|at| !gone.contains(&at)));
        }
    }
    toml::to_string(&table).unwrap_or_default()
}
