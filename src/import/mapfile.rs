//! The map as a file to keep: written with comments, read with all its faults at once.

use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Item, Keys, Node};

use super::map::{self, Certainty, Column, Map, SCHEMA, Target, Work};
use super::number::Marks;
use super::sheet::mark;
use super::units;

/// A text in double quotes.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// The text of a map file.
#[must_use]
pub fn write(map: &Map) -> String {
    let mut out = String::new();
    let mut line = |text: &str| {
        out.push_str(text);
        out.push('\n');
    };
    line("# What the columns of a table mean to Lapwise. Change what is wrong, keep it, and give it back with --map.");
    line("# It serves every later copy of the table whose heads are the same.");
    line(&format!("schema = {}\n", quoted(SCHEMA)));
    line("[table]");
    line(&format!("file = {}                 # for people; any file may be read with this map", quoted(&map.file)));
    if let Some(sheet) = &map.sheet {
        line(&format!("sheet = {}", quoted(sheet)));
    }
    line(&format!("into = {}              # tapes, facts or pairs", quoted(map.target.text())));
    if map.turned {
        line("turned = true                 # one column a tape: what is said of rows is meant of columns");
    }
    line(&format!(
        "head = [{}, {}]                # the first and the last row of the head",
        map.head.0 + 1,
        map.head.1 + 1
    ));
    match map.last {
        Some(last) => line(&format!("last = {}", last + 1)),
        None => line("# last = 120                # the last row of the table, if more stands below it"),
    }
    line(&format!("blank = {}", quoted(if map.erase { "erase" } else { "keep" })));
    line("                            # keep: a blank cell leaves what the data hold; erase: it takes it out");
    line("\n# One value for every row, where no column has it.");
    line("[constants]");
    for (column, value) in &map.constants {
        line(&format!("{column} = {}", quoted(value)));
    }
    if !map.constants.contains_key("basis") && map.column("basis").is_none() {
        line("# basis = \"published\"       # how good the numbers are: measured, published, estimated, from-memory");
    }
    if let Some(work) = &map.work {
        line("\n# The entry of sources.yml that `source` names; it is added if it is not there.");
        line("[source]");
        line(&format!("key = {}", quoted(&work.key)));
        line(&format!("title = {}", quoted(&work.title)));
    }
    line(
        "\n# One table a column. `to` is a column of the data, or a name of your own that starts with `x_`; \"\" leaves it out.",
    );
    line(
        "# `unit` serves cells without one: as Lapwise reads it, or \"1\" for plain numbers, or \"date\" for day numbers.",
    );
    line("# `decimal` is \"point\" or \"comma\"; `thousands` too, where 1.234 or 1,234 means more than a thousand.");
    line("# `words` are pairs: what stands in a cell, and what it means.");
    for column in &map.columns {
        line("\n[[column]]");
        line(&format!("letter = {}", quoted(&mark(column.index, map.turned))));
        line(&format!("head = {}", quoted(&column.head)));
        let aside = match (column.certainty, column.perhaps.as_str(), column.hidden) {
            (certainty, "", false) => certainty.text().to_owned(),
            (certainty, "", true) => format!("{}; the column is hidden", certainty.text()),
            (_, perhaps, _) => format!("left out: perhaps {perhaps}?"),
        };
        line(&format!("to = {}   # {aside}", quoted(&column.to)));
        if let Some(unit) = &column.unit {
            line(&format!("unit = {}", quoted(unit)));
        }
        if let Some(decimal) = column.marks.decimal {
            line(&format!("decimal = {}", quoted(decimal.text())));
        }
        if let Some(mark) = column.marks.thousands {
            line(&format!("thousands = {}", quoted(if mark == ',' { "comma" } else { "point" })));
        }
        if !column.words.is_empty() {
            line("words = [");
            for (from, to) in &column.words {
                line(&format!("    [{}, {}],", quoted(from), quoted(to)));
            }
            line("]");
        }
    }
    out
}

/// Reads a map file; with it the letters of its columns, by which equal heads are told apart.
///
/// # Errors
/// Every fault of the file.
pub fn read(name: &str, text: &str) -> Result<(Map, Vec<String>), Faults> {
    let mut faults = Faults::default();
    let f = &mut faults;
    let mut keys = load::toml(name, text, f);
    keys.present("schema", f);
    if let Some(schema) = keys.text("schema", f).filter(|schema| schema != SCHEMA) {
        let fault = Fault::new(
            Code::FormatUnknown,
            format!("`{schema}`"),
            format!("`{SCHEMA}`"),
            "let `lapwise import` write a new map, and carry over what you changed",
        );
        f.add(fault.at(keys.place_of("schema")));
    }
    let mut map = Map {
        file: String::new(),
        sheet: None,
        target: Target::Tapes,
        head: (0, 0),
        last: None,
        erase: false,
        turned: false,
        constants: std::collections::BTreeMap::new(),
        work: None,
        columns: Vec::new(),
    };
    keys.present("table", f);
    if let Some(table) = keys.table("table", f) {
        table_of(table, &mut map, f);
    }
    if let Some(mut constants) = keys.table("constants", f) {
        for column in map.target.columns() {
            if let Some(value) = constants.text(column, f) {
                map.constants.insert(column, value);
            }
        }
        constants.finish(f);
    }
    if let Some(mut work) = keys.table("source", f) {
        for key in ["key", "title"] {
            work.present(key, f);
        }
        if let (Some(key), Some(title)) = (work.text("key", f), work.text("title", f)) {
            map.work = Some(Work { key, title });
        }
        work.finish(f);
    }
    let mut letters = Vec::new();
    let mut given = std::collections::BTreeSet::new();
    for column in keys.tables("column", f) {
        let place = column.place().clone();
        let (letter, column) = column_of(column, map.target, f);
        if column.is_used() && !given.insert(column.to.clone()) {
            let fault = Fault::new(
                Code::KeyDuplicate,
                format!("a second column for `{}`", column.to),
                "each column of the data once",
                "leave one out with `to = \"\"`",
            );
            f.add(fault.at(place));
        }
        letters.push(letter);
        map.columns.push(column);
    }
    keys.finish(f);
    faults.or((map, letters))
}

fn table_of(mut table: Keys, map: &mut Map, f: &mut Faults) {
    for key in ["into", "head"] {
        table.present(key, f);
    }
    map.file = table.text("file", f).unwrap_or_default();
    map.sheet = table.text("sheet", f);
    let target = table.word("into", &["tapes", "facts", "pairs"], f);
    map.target = Target::ALL.into_iter().find(|t| Some(t.text()) == target).unwrap_or(Target::Tapes);
    map.turned = table.flag("turned", f) == Some(true);
    map.erase = table.word("blank", &["keep", "erase"], f) == Some("erase");
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to be a row")]
    let row = |number: f64| ((1.0..=1_048_576.0).contains(&number)).then(|| number as usize - 1);
    map.last = table.number("last", f).and_then(row);
    let place = table.place_of("head");
    let rows = match table.get("head").map(|item| &item.node) {
        Some(Node::List(items)) => match items.as_slice() {
            [Item { node: Node::Number(a), .. }, Item { node: Node::Number(b), .. }] => row(*a).zip(row(*b)),
            _ => None,
        },
        None => Some((0, 0)),
        _ => None,
    };
    match rows.filter(|(a, b)| a <= b && b - a < 4) {
        Some(rows) => map.head = rows,
        None => f.add(
            Fault::new(
                Code::ValueType,
                "something else",
                "the first and the last row of the head, at most four rows",
                "write them as `head = [3, 4]`",
            )
            .at(place),
        ),
    }
    table.finish(f);
}

fn column_of(mut keys: Keys, target: Target, f: &mut Faults) -> (String, Column) {
    for key in ["head", "to"] {
        keys.present(key, f);
    }
    let to = keys.text("to", f).unwrap_or_default();
    if !to.is_empty() && !to.starts_with("x_") && target.goal(&to).is_none() {
        let needed = format!("a column of {}, a property, or a name that starts with `x_`", target.file());
        f.add(Fault::unknown_word(Code::WordUnknown, &to, &needed, target.goals()).at(keys.place_of("to")));
    }
    let unit = keys.text("unit", f);
    if let (Some(unit), Some(kind)) = (&unit, target.kind(&to)) {
        let plain = unit == "1" && kind.bare;
        if !plain && units::spell(kind, unit).is_none() {
            let fault = Fault::new(
                Code::UnitKind,
                format!("the unit `{unit}`"),
                format!("a unit of {}", kind.name),
                format!("write the unit alone, as in `{}`", kind.example),
            );
            f.add(fault.at(keys.place_of("unit")));
        }
    }
    let words: &[&str] = &["point", "comma"];
    let decimal = keys.text("decimal", f);
    let thousands = keys.text("thousands", f);
    for (key, word) in [("decimal", &decimal), ("thousands", &thousands)] {
        if let Some(word) = word.as_deref().filter(|word| !words.contains(word)) {
            let fault = Fault::unknown_word(Code::WordUnknown, word, "a mark", words.iter().copied());
            f.add(fault.at(keys.place_of(key)));
        }
    }
    if decimal.is_some() && decimal == thousands {
        let fault = Fault::new(
            Code::ValueImpossible,
            "the same mark for decimals and thousands",
            "two marks that differ",
            "leave out `thousands`, or change one",
        );
        f.add(fault.at(keys.place_of("thousands")));
    }
    let letter = keys.text("letter", f).unwrap_or_default();
    let column = Column {
        index: super::sheet::column(&letter).unwrap_or_default(),
        head: keys.text("head", f).unwrap_or_default(),
        unit,
        marks: Marks {
            decimal: decimal.as_deref().and_then(map::decimal),
            thousands: thousands.as_deref().and_then(map::thousands),
            times: target.kind(&to).is_some_and(|kind| *kind == crate::quantity::TIME),
        },
        words: words_of(&mut keys, f),
        certainty: if to.is_empty() { Certainty::None } else { Certainty::Told },
        perhaps: String::new(),
        hidden: false,
        to,
    };
    keys.finish(f);
    (letter, column)
}

/// Pairs of texts.
fn words_of(keys: &mut Keys, f: &mut Faults) -> Vec<(String, String)> {
    let place = keys.place_of("words");
    let Some(item) = keys.get("words") else { return Vec::new() };
    let pair = |item: &Item| match &item.node {
        Node::List(two) => match two.as_slice() {
            [Item { node: Node::Text(from), .. }, Item { node: Node::Text(to), .. }] => {
                Some((from.clone(), to.clone()))
            }
            _ => None,
        },
        _ => None,
    };
    let read = match &item.node {
        Node::List(items) => items.iter().map(pair).collect::<Option<Vec<_>>>(),
        _ => None,
    };
    read.unwrap_or_else(|| {
        let fault = Fault::new(
            Code::ValueType,
            "something else",
            "a list of pairs of texts",
            "write `words = [[\"gelb\", \"yellow\"]]`",
        );
        f.add(fault.at(place));
        Vec::new()
    })
}
