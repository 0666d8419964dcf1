//! Files to raw cells, each with the place it came from. Nothing is interpreted here.

mod form;

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

pub use form::Form;
use form::{Sketch, Wanted};

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults, nearest, short};
use crate::quantity::{Fraction, Typed};

/// The texts of a data folder, by path relative to it.
#[derive(Clone, Debug, Default)]
pub struct Folder {
    /// Where the folder is.
    pub root: PathBuf,
    /// Path with forward slashes → text.
    pub files: BTreeMap<String, String>,
}

/// The files that every data folder has.
pub const NEEDED: [&str; 8] = [
    "about.toml",
    "sources.yml",
    "tapes.csv",
    "materials.csv",
    "facts.csv",
    "pairs.csv",
    "criteria.toml",
    "cautions.toml",
];

/// The pointers to local codes; needed like the others.
pub const JURISDICTIONS: &str = "jurisdictions.toml";

impl Folder {
    /// Reads every `.toml`, `.csv` and `.yml` file of the folder and of its `enquiries` folder.
    ///
    /// # Errors
    /// A folder or a needed file that is missing, or a file that is not text in UTF-8.
    pub fn read(root: &Path) -> Result<Folder, Faults> {
        let mut faults = Faults::default();
        let mut folder = Folder { root: root.to_owned(), files: BTreeMap::new() };
        if !root.is_dir() {
            return Err(Fault::new(
                Code::FileMissing,
                format!("no folder `{}`", root.display()),
                "the data folder",
                nearby(root)
                    .unwrap_or_else(|| "run from the project folder, or name the data folder with --data".to_owned()),
            )
            .into());
        }
        for (prefix, path) in [("", root.to_owned()), ("enquiries/", root.join("enquiries"))] {
            let Ok(entries) = fs::read_dir(&path) else { continue };
            for entry in entries.flatten() {
                let name = entry.file_name().to_string_lossy().into_owned();
                let readable = [".toml", ".csv", ".yml"].iter().any(|end| name.ends_with(end));
                if readable && !entry.path().is_dir() {
                    let relative = format!("{prefix}{name}");
                    match inside(root, &entry.path(), &relative).and_then(|()| read_text(&entry.path(), &relative)) {
                        Ok(text) => {
                            folder.files.insert(relative, text);
                        }
                        Err(fault) => faults.add(fault),
                    }
                }
            }
        }
        for name in NEEDED.iter().chain([&JURISDICTIONS]) {
            let noted = folder.files.contains_key(*name) || root.join(name).exists();
            if !noted {
                faults.add(
                    Fault::new(
                        Code::FileMissing,
                        format!("no file `{name}` in `{}`", root.display()),
                        "all files of the data folder",
                        "restore it, or copy it from a data folder that is whole",
                    )
                    .at(Place::file(*name)),
                );
            }
        }
        faults.or(folder)
    }

    /// Reads every `.toml` file of a folder as the enquiries of a data folder.
    ///
    /// # Errors
    /// A folder that is not there or holds none, or a file that is not text in UTF-8.
    pub fn of_enquiries(root: &Path) -> Result<Folder, Faults> {
        let mut faults = Faults::default();
        let mut folder = Folder { root: root.to_owned(), files: BTreeMap::new() };
        let mut names = names_in(root).unwrap_or_default();
        names.retain(|name| Path::new(name).extension().is_some_and(|end| end.eq_ignore_ascii_case("toml")));
        for name in &names {
            match read_text(&root.join(name), name) {
                Ok(text) => {
                    folder.files.insert(format!("enquiries/{name}"), text);
                }
                Err(fault) => faults.add(fault),
            }
        }
        if names.is_empty() {
            let found = format!("no `.toml` file in `{}`", root.display());
            let remedy = nearby(root).unwrap_or_else(|| "name the folder that the enquiries lie in".to_owned());
            faults.add(Fault::new(Code::FileMissing, found, "a folder of enquiries", remedy));
        }
        faults.or(folder)
    }

    /// The text of a file; empty if it is not there, which [`Folder::read`] has already reported.
    #[must_use]
    pub fn text(&self, name: &str) -> &str {
        self.files.get(name).map_or("", String::as_str)
    }

    /// The paths of the enquiries of this folder.
    pub fn enquiries(&self) -> impl Iterator<Item = &str> {
        self.files.keys().map(String::as_str).filter(|n| n.starts_with("enquiries/"))
    }
}

/// Refuses what is no file of the folder: a link that leads out of it, a pipe or a device.
///
/// A folder that came from somebody else must not make this program read, keep or print anything that stands beside it.
///
/// # Errors
/// It is one.
pub fn inside(folder: &Path, path: &Path, name: &str) -> Result<(), Fault> {
    // A link that leads nowhere is told by the reader.
    let (Ok(folder), Ok(file)) = (fs::canonicalize(folder), fs::canonicalize(path)) else { return Ok(()) };
    let found = if !file.starts_with(folder) {
        "a link to a file outside the folder"
    } else if file.is_file() {
        return Ok(());
    } else {
        "a link, a pipe or a device"
    };
    let remedy = "put the file itself there";
    Err(Fault::new(Code::NotAFile, found, "a file of the folder", remedy).at(Place::file(name)))
}

/// The most bytes that a file may have: a catalogue of a hundred thousand tapes fits in.
pub const LARGEST: u64 = 64 << 20;

/// Reads one text file, without a byte order mark.
///
/// # Errors
/// The file is not there, larger than [`LARGEST`], or not UTF-8.
pub fn read_text(path: &Path, name: &str) -> Result<String, Fault> {
    decode(read_bytes(path, name)?, name)
}

/// Reads one file of any kind.
///
/// # Errors
/// The file is not there, or larger than [`LARGEST`].
pub fn read_bytes(path: &Path, name: &str) -> Result<Vec<u8>, Fault> {
    let mut bytes = Vec::new();
    // However long the file says it is or grows, no more is taken than is allowed.
    let read = fs::File::open(path).and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes));
    if let Err(error) = read {
        let code = if error.kind() == std::io::ErrorKind::NotFound { Code::FileMissing } else { Code::FileUnreadable };
        let near = if code == Code::FileMissing { nearby(path) } else { None };
        return Err(Fault::new(
            code,
            format!("`{}`: {error}", path.display()),
            "a file that can be read",
            near.unwrap_or_else(|| "check the path and its permissions".to_owned()),
        )
        .at(Place::file(name)));
    }
    if bytes.len() as u64 > LARGEST {
        return Err(Fault::new(
            Code::FileTooLarge,
            "more than 64 MiB",
            "a file of at most 64 MiB",
            "see whether it is the right file; split it if it is",
        )
        .at(Place::file(name)));
    }
    Ok(bytes)
}

/// The names in a folder, sorted.
///
/// # Errors
/// The folder cannot be read.
pub fn names_in(folder: &Path) -> Result<Vec<String>, Fault> {
    let entries = fs::read_dir(folder).and_then(Iterator::collect::<std::io::Result<Vec<fs::DirEntry>>>);
    let entries = entries.map_err(|error| {
        let found = format!("`{}`: {error}", folder.display());
        Fault::new(Code::FileUnreadable, found, "a folder that can be read", "check the path and its permissions")
    })?;
    let mut names: Vec<String> =
        entries.into_iter().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort_unstable();
    Ok(names)
}

/// The name that stands beside and is nearest to one that does not exist, as what to do.
fn nearby(path: &Path) -> Option<String> {
    let wanted = path.file_name()?.to_string_lossy().into_owned();
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut names: Vec<String> = fs::read_dir(folder)
        .ok()?
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .filter(|name| *name != wanted)
        .collect();
    names.sort_unstable();
    let near = nearest(&wanted, names.iter().map(String::as_str))?;
    Some(format!("did you mean `{}`?", path.with_file_name(near).display()))
}

/// The text of a file's bytes, without a byte order mark.
///
/// # Errors
/// Bytes that are not UTF-8, or that no text has.
pub fn decode(bytes: Vec<u8>, name: &str) -> Result<String, Fault> {
    let unreadable = |before: &[u8], found: &str| {
        let lines = before.split(|byte| *byte == b'\n').count();
        let place = Place::line(name, u32::try_from(lines).unwrap_or(u32::MAX));
        Fault::new(Code::FileUnreadable, found, "a text file in UTF-8", "save the file as UTF-8").at(place)
    };
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        return Err(unreadable(&bytes[..at], "a NUL, as in UTF-16 or a file that is no text"));
    }
    match String::from_utf8(bytes) {
        Ok(text) => Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text)),
        Err(error) => {
            let before = &error.as_bytes()[..error.utf8_error().valid_up_to()];
            Err(unreadable(before, "bytes that are not UTF-8 text"))
        }
    }
}

/// One cell of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// The text, trimmed.
    pub text: String,
    /// Where it stands.
    pub place: Place,
}

/// One row of a table: its line, and its cells by column.
#[derive(Clone, Debug)]
pub struct Row {
    /// Where the row begins.
    pub place: Place,
    cells: BTreeMap<Arc<str>, Cell>,
}

impl Row {
    /// Every cell with its column, blank or not.
    pub fn cells(&self) -> impl Iterator<Item = (&str, &Cell)> {
        self.cells.iter().map(|(column, cell)| (column.as_ref(), cell))
    }

    /// The cell of a column, if it is not blank.
    #[must_use]
    pub fn get(&self, column: &str) -> Option<&Cell> {
        self.cells.get(column).filter(|cell| !cell.text.is_empty())
    }

    /// The text of a column, empty if blank.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        self.cells.get(column).map_or("", |cell| cell.text.as_str())
    }

    /// The place of a column's cell, blank or not.
    #[must_use]
    pub fn place(&self, column: &str) -> Place {
        self.cells.get(column).map_or_else(|| self.place.clone(), |cell| cell.place.clone())
    }

    /// The cell of a column that may not be blank.
    pub fn needed(&self, column: &'static str, faults: &mut Faults) -> Option<&Cell> {
        let cell = self.get(column);
        if cell.is_none() {
            faults.add(
                Fault::new(Code::KeyMissing, "an empty cell", format!("`{column}` in every row"), "fill it in")
                    .at(self.place(column)),
            );
        }
        cell
    }
}

/// A column that is read, by its name; none for one that is not.
type Column = Option<Arc<str>>;

/// The most bytes that a line of a table may have; a whole sheet has less than a thousandth.
const LINE: usize = 1 << 20;

/// The most columns that a head may have: the known ones and many of the user's own.
const COLUMNS: usize = 1000;

/// Reads a CSV table with the given columns: all of them must be there, others only if their head
/// starts with `x_`. Ragged rows are reported and left out.
pub fn table(file: &str, text: &str, columns: &[&str], faults: &mut Faults) -> Vec<Row> {
    let name: Arc<str> = file.into();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    let mut head: Option<Vec<Column>> = None;
    let mut rows = Vec::new();
    let lines = match Lines::of_table(file, text) {
        Ok(lines) => lines,
        Err(fault) => {
            faults.add(fault);
            return rows;
        }
    };
    let mut record = csv::StringRecord::new();
    // Text in memory and rows of any length leave nothing for the reader to refuse.
    while reader.read_record(&mut record).unwrap_or(false) {
        let offset = record.position().map_or(0, |p| usize::try_from(p.byte()).unwrap_or(usize::MAX));
        let mut line = lines.after_blank(text, offset);
        let Some(head) = &head else {
            if record.len() > COLUMNS {
                let found = format!("a head of {} columns", record.len());
                let needed = format!("at most {COLUMNS} columns");
                let fault = Fault::new(Code::ColumnUnknown, found, needed, "see whether it is the right file");
                faults.add(fault.at(Place::line(name, line)));
                return rows;
            }
            head = Some(read_head(&name, line, &record, columns, faults));
            continue;
        };
        let place = Place::line(name.clone(), line);
        if record.len() != head.len() {
            faults.add(
                Fault::new(
                    Code::RowRagged,
                    format!("{} cells", record.len()),
                    format!("{} cells, as in the head", head.len()),
                    "add or take out commas; put a text that contains a comma in double quotes",
                )
                .at(place),
            );
            continue;
        }
        let mut cells = BTreeMap::new();
        for (column, value) in head.iter().zip(&record) {
            if let Some(column) = column {
                let place = Place::cell(name.clone(), line, column.clone());
                cells.insert(column.clone(), Cell { text: value.trim().to_owned(), place });
            }
            line += u32::try_from(value.matches('\n').count()).unwrap_or(0);
        }
        rows.push(Row { place, cells });
    }
    if head.is_none() {
        faults.add(
            Fault::new(
                Code::ColumnMissing,
                "an empty file",
                "a head with the column names",
                format!("start with `{}`", columns.join(",")),
            )
            .at(Place::file(name)),
        );
    }
    rows
}

/// The heads of a table.
#[must_use]
pub fn heads(text: &str) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    let first = reader.records().next().and_then(Result::ok).unwrap_or_default();
    first.iter().map(|head| head.trim().to_owned()).collect()
}

fn read_head(
    name: &Arc<str>,
    line: u32,
    record: &csv::StringRecord,
    columns: &[&str],
    faults: &mut Faults,
) -> Vec<Column> {
    let mut seen = BTreeSet::new();
    let mut head = Vec::with_capacity(record.len());
    for title in record {
        let title = short(title.trim().to_owned());
        let title = title.as_str();
        let place = || Place::cell(name.clone(), line, title);
        let known = columns.iter().find(|c| **c == title).copied();
        if !seen.insert(title.to_owned()) {
            faults.add(
                Fault::new(Code::ColumnDuplicate, format!("a second `{title}`"), "each column once", "take one out")
                    .at(place()),
            );
            head.push(None);
            continue;
        }
        if known.is_none() && !title.starts_with("x_") {
            let mut fault =
                Fault::unknown_word(Code::ColumnUnknown, title, "a column that is read", columns.iter().copied());
            fault.remedy += " (a column of your own starts with `x_`)";
            faults.add(fault.at(place()));
        }
        head.push(known.map(Arc::from));
    }
    for column in columns {
        if !seen.contains(*column) {
            faults.add(
                Fault::new(
                    Code::ColumnMissing,
                    "a head without it",
                    format!("the column `{column}`"),
                    "add the column; its cells may be blank",
                )
                .at(Place::cell(name.clone(), line, *column)),
            );
        }
    }
    head
}

/// Line numbers by byte offset: where each line ends, in a file of at most [`LARGEST`] bytes.
pub struct Lines(Vec<u32>);

impl Lines {
    fn of(text: &str) -> Lines {
        let ends = || memchr::memchr_iter(b'\n', text.as_bytes());
        // Counted first: there may be as many as there are bytes.
        let mut lines = Lines(Vec::with_capacity(ends().count()));
        lines.0.extend(ends().map(|at| u32::try_from(at).unwrap_or(u32::MAX)));
        lines
    }

    /// The lines of a table.
    ///
    /// # Errors
    /// One that is longer than any sheet has.
    pub fn of_table(file: &str, text: &str) -> Result<Lines, Fault> {
        let lines = Lines::of(text);
        let ends = lines.0.iter().map(|end| *end as usize).chain([text.len()]);
        let starts = std::iter::once(0).chain(lines.0.iter().map(|end| *end as usize + 1));
        let longest = (1..).zip(starts.zip(ends).map(|(start, end)| end - start)).max_by_key(|(_, bytes)| *bytes);
        match longest.filter(|(_, bytes)| *bytes > LINE) {
            None => Ok(lines),
            Some((line, bytes)) => Err(Fault::new(
                Code::FileTooLarge,
                format!("a line of {bytes} bytes"),
                format!("at most {LINE} bytes on a line"),
                "see whether it is the right file, and whether its line ends are line feeds",
            )
            .at(Place::line(file, line))),
        }
    }

    /// How many there are, with the one after the last line feed.
    #[must_use]
    pub fn count(&self) -> usize {
        self.0.len() + 1
    }

    /// The line, from 1, of a byte offset.
    fn at(&self, offset: usize) -> u32 {
        u32::try_from(self.0.partition_point(|end| (*end as usize) < offset) + 1).unwrap_or(u32::MAX)
    }

    /// The line, from 1, of the first byte at or after `offset` that does not end a blank line.
    #[must_use]
    pub fn after_blank(&self, text: &str, offset: usize) -> u32 {
        let blank = text
            .as_bytes()
            .get(offset..)
            .map_or(0, |rest| rest.iter().take_while(|b| matches!(b, b'\r' | b'\n')).count());
        self.at(offset + blank)
    }
}

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
        DeValue::Integer(number) => Node::Number(number.as_str().parse().unwrap_or(f64::NAN)),
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
            faults.add(
                Fault::new(Code::KeyMissing, "nothing", format!("the key `{key}`"), "add the key")
                    .at(self.place_of(key)),
            );
        }
        there
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

    /// A date, such as `2026-11-20`.
    pub fn date(&mut self, key: &'static str, faults: &mut Faults) -> Option<String> {
        self.wants(key, Wanted::Date);
        self.typed(key, "a date such as 2026-11-20, without quotes", faults, |node| match node {
            Node::Date(date) if date.len() == 10 => Some(date.clone()),
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

/// A parser's message without the position in front of it, which the place already tells.
fn without_position(message: &str) -> &str {
    message.strip_prefix("error: ").and_then(|m| m.split_once(": ")).map_or(message, |(_, rest)| rest)
}

/// Reads the keys and entries of a bibliography in Hayagriva YAML.
pub fn bibliography(file: &str, text: &str, faults: &mut Faults) -> BTreeMap<String, serde_json::Value> {
    match serde_saphyr::from_str::<BTreeMap<String, serde_json::Value>>(text) {
        Ok(entries) => entries,
        Err(error) => {
            let line = error.location().map_or(1, |location| location.line());
            faults.add(
                Fault::new(
                    Code::YamlSyntax,
                    without_position(error.to_string().lines().next().unwrap_or_default()),
                    "a bibliography in Hayagriva YAML",
                    "mend the entry: keys once each, two spaces of indent, texts with a colon in quotes",
                )
                .at(Place::line(file, u32::try_from(line).unwrap_or(1))),
            );
            BTreeMap::new()
        }
    }
}

/// The lines on which the keys of a bibliography stand.
#[must_use]
pub fn lines_of(text: &str) -> BTreeMap<&str, u32> {
    let heads = text.lines().zip(1..).filter(|(line, _)| !line.starts_with([' ', '#', '-']));
    heads.filter_map(|(line, at)| line.split_once(':').map(|(key, _)| (key.trim_matches('"'), at))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_those_an_editor_shows() {
        let text = "\r\nid,note\r\n\r\n\r\na,\"two\r\nlines\"\r\n\r\nb,x\r\nc\r\n";
        let mut faults = Faults::default();
        let rows = table("t.csv", text, &["id", "note"], &mut faults);
        let lines: Vec<u32> = rows.iter().map(|row| row.place.line).collect();
        assert_eq!(lines, [5, 8]);
        insta::assert_snapshot!(faults.sorted()[0], @r"
        t.csv line 9
          found   1 cells
          needed  2 cells, as in the head
          do      add or take out commas; put a text that contains a comma in double quotes
          (row-ragged)
        ");
    }

    #[test]
    fn every_toml_error_has_its_line() {
        let mut faults = Faults::default();
        let mut keys = toml("a.toml", "x = 1\ny = \nz = \"ok\"\n[t\n", &mut faults);
        assert_eq!(keys.number("x", &mut faults), Some(1.0));
        let lines: Vec<u32> = faults.sorted().iter().filter_map(|f| f.place.as_ref().map(|p| p.line)).collect();
        assert_eq!(lines, [2, 4]);
    }
}
