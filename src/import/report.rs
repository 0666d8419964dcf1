//! A test report to a row of `pairs.csv` or `facts.csv` and its entry in the bibliography.

use crate::catalogue::{Catalogue, On, Property};
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::load::Folder;
use crate::quantity::{KINDS, Kind, tidy};

use super::convert;
use super::map::Target;
use super::merge::{Change, Changes};
use super::sources::{quoted, with};
use super::table::{Named, Table};
use super::{Tables, assemble, superseding, whole};

/// What a report states, as it was typed; blank is not stated.
#[derive(Clone, Debug, Default)]
pub struct Report {
    /// The tape or the material.
    pub subject: String,
    /// True where the subject must be a tape.
    pub is_tape: bool,
    /// The medium, for a pair.
    pub medium: String,
    /// The property.
    pub property: String,
    /// What changes: `on-material` or `on-medium`; blank is the property's own direction.
    pub effect: String,
    /// The value with its unit.
    pub value: String,
    /// The 5th percentile.
    pub low: String,
    /// The 95th percentile.
    pub high: String,
    /// What was measured before, for a property that is a ratio.
    pub before: String,
    /// What was measured after.
    pub after: String,
    /// The other cells of the row: temperature, duration, humidity, atmosphere, condition.
    pub cells: Vec<(&'static str, String)>,
    /// How good the number is.
    pub basis: String,
    /// The key in the bibliography; blank is made from the number.
    pub source: String,
    /// The number of the report.
    pub number: String,
    /// Who tested.
    pub laboratory: String,
    /// The title; blank is made from number and laboratory.
    pub title: String,
    /// The day of the report.
    pub date: String,
    /// The file's name and digest.
    pub file: Option<(String, String)>,
    /// What else is worth keeping.
    pub note: String,
    /// True if the row may take the place of an older one.
    pub revises: bool,
}

/// The row and the data folder that it makes, not written yet.
#[derive(Clone, Debug)]
pub struct Entered {
    /// The table.
    pub target: Target,
    /// The row, in the order of the table's columns.
    pub row: Vec<(String, String)>,
    /// The key in the bibliography.
    pub source: String,
    /// True if the bibliography did not have it.
    pub is_new_source: bool,
    /// The row that it takes the place of.
    pub replaces: Option<Vec<(String, String)>>,
    /// The new texts, by path, in the order they are to be written.
    pub files: Vec<(String, String)>,
    /// The data folder as it would be.
    pub folder: Folder,
}

const COMMAND: &str = "evidence add";

fn at(argument: &str) -> Place {
    Place::argument(COMMAND, argument)
}

/// Enters a report into a data folder, in memory.
///
/// # Errors
/// Every fault of the report, by option.
pub fn enter(
    folder: &Folder,
    catalogue: &Catalogue,
    report: &Report,
    kept: impl Fn(&str) -> Result<String, Fault>,
) -> Result<Entered, Faults> {
    let mut faults = Faults::default();
    let target = if report.medium.is_empty() { Target::Facts } else { Target::Pairs };
    if report.is_tape && catalogue.tape(&report.subject).is_none() {
        let tapes = catalogue.tapes.iter().map(|t| t.id.as_str());
        faults.add(
            Fault::unknown_word(Code::NameUnknown, &report.subject, "a tape of tapes.csv", tapes).at(at("--tape")),
        );
    }
    if !report.is_tape && catalogue.material(&report.subject).is_none() {
        let known = catalogue.materials.iter().map(|m| m.id.as_str());
        let fault = Fault::unknown_word(Code::NameUnknown, &report.subject, "a material of materials.csv", known);
        faults.add(fault.at(at("--material")));
    }
    let property = property(report, target, &mut faults);
    let kept_note = property.and_then(|property| value(report, property, &mut faults));
    let (source, entry) = source(folder, catalogue, report, &mut faults);
    let (Some(property), Some((value, ratio))) = (property, kept_note) else { return Err(faults) };
    faults.or(())?;

    let mut row = Named::new();
    let mut set = |column: &str, text: &str| {
        if !text.is_empty() {
            row.insert(column.to_owned(), text.to_owned());
        }
    };
    match target {
        Target::Pairs => {
            set("material", &report.subject);
            set("medium", &report.medium);
            set("effect", if report.effect.is_empty() { convert::effect(property) } else { &report.effect });
        }
        Target::Facts | Target::Tapes => set("subject", &report.subject),
    }
    set("property", property.name());
    set("value", &value);
    set("low", &report.low);
    set("high", &report.high);
    for (column, text) in &report.cells {
        set(column, text);
    }
    set("basis", if report.basis.is_empty() { "measured" } else { &report.basis });
    set("source", &source);
    let note = [ratio.as_str(), report.note.as_str()].into_iter().filter(|n| !n.is_empty()).collect::<Vec<_>>();
    set("note", &note.join("; "));
    place_row(folder, target, &row, Entry { source, text: entry }, report, kept)
}

/// The report's key, and the bibliography with it where it is new.
struct Entry {
    source: String,
    text: Option<String>,
}

/// The row in its table, the bibliography beside it, all checked.
fn place_row(
    folder: &Folder,
    target: Target,
    row: &Named,
    entry: Entry,
    report: &Report,
    kept: impl Fn(&str) -> Result<String, Fault>,
) -> Result<Entered, Faults> {
    let tables = Tables::read(|name| folder.text(name).to_owned());
    let held = tables.held(target, row);
    let replaces = held.map(|number| ordered(&tables.of[&target], &tables.of[&target].named(number)));
    let change = match held {
        None => Change::Add(row.clone()),
        Some(number) if report.revises => {
            let mut old = tables.of[&target].named(number);
            let by = row.get("value").cloned().unwrap_or_default();
            old.insert(super::SUPERSEDED_BY.to_owned(), by);
            Change::Replace { row: number, new: row.clone(), old }
        }
        Some(number) => {
            let table = &tables.of[&target];
            let (value, of) = (table.cell(number, "value"), table.cell(number, "source"));
            return Err(Fault::new(
                Code::RowConflict,
                format!("{} holds `{value}` of `{of}` for the same subject, property, conditions and basis", target.file()),
                "one row for each",
                "state what differs (temperature, duration, humidity, condition); or add --revise: the older row is then \
                 kept aside",
            )
            .at(at("--property"))
            .into());
        }
    };
    let changes = [Some(Changes { of: vec![(target, change)], ..Changes::default() })];
    let mut files: Vec<(String, String)> =
        entry.text.iter().map(|text| ("sources.yml".to_owned(), text.clone())).collect();
    files.extend(superseding(&changes, kept)?);
    files.extend(assemble(&tables, &changes).0.into_iter().map(|(t, edited)| (t.file().to_owned(), edited.text)));
    let mut new = folder.clone();
    for (name, text) in files.iter().filter(|(name, _)| !name.contains('/')) {
        new.files.insert(name.clone(), text.clone());
    }
    whole(&new).map_err(|found| placed(found, target))?;
    let is_new_source = entry.text.is_some();
    let (row, source) = (ordered(&tables.of[&target], row), entry.source);
    Ok(Entered { target, row, source, is_new_source, replaces, files, folder: new })
}

/// A row in the order of its table's columns, blank cells left out.
fn ordered(table: &Table, row: &Named) -> Vec<(String, String)> {
    let cell =
        |column: &String| row.get(column).filter(|text| !text.is_empty()).map(|text| (column.clone(), text.clone()));
    table.head.iter().filter_map(cell).collect()
}

/// Faults of the new row go back to the options that gave its cells.
fn placed(found: Faults, target: Target) -> Faults {
    let mut faults = Faults::default();
    for fault in found.sorted() {
        let column = fault.place.as_ref().filter(|p| p.file.as_ref() == target.file()).map(|p| p.column.to_string());
        match column {
            Some(column) => {
                let option = match column.as_str() {
                    "subject" | "material" => "--tape".to_owned(),
                    "medium" => "--in".to_owned(),
                    column => format!("--{}", column.replace('_', "-")),
                };
                faults.add(fault.at(at(&option)));
            }
            None => faults.add(fault),
        }
    }
    faults
}

fn property(report: &Report, target: Target, faults: &mut Faults) -> Option<Property> {
    let may = |p: &Property| match target {
        Target::Pairs => matches!(p.spec().on, On::Pair | On::Either),
        Target::Facts | Target::Tapes => p.spec().on != On::Pair,
    };
    let found = Property::of(&report.property);
    if let Some(property) = found.filter(may) {
        return Some(property);
    }
    let needed = match target {
        Target::Pairs => "a property of a material in a medium",
        Target::Facts | Target::Tapes => "a property of a tape or a material by itself",
    };
    let names = Property::ALL.iter().filter(|p| may(p)).map(|p| p.name());
    let mut fault = Fault::unknown_word(Code::WordUnknown, &report.property, needed, names);
    if found.is_some() {
        let remedy = if target == Target::Facts { "name the medium with --in" } else { "leave out --in" };
        remedy.clone_into(&mut fault.remedy);
    }
    faults.add(fault.at(at("--property")));
    None
}

/// The value as stated, or the ratio of after to before with the two in words.
fn value(report: &Report, property: Property, faults: &mut Faults) -> Option<(String, String)> {
    let ratio = property.name().ends_with("_kept") || property == Property::Swelling;
    let stated = (!report.value.is_empty(), !report.before.is_empty(), !report.after.is_empty());
    match stated {
        (true, false, false) => Some((report.value.clone(), String::new())),
        (false, true, true) if ratio => {
            let read = |text: &str, option: &str, faults: &mut Faults| {
                let value = any(text);
                faults.keep(value, &at(option))
            };
            let (before, after) = (read(&report.before, "--before", faults), read(&report.after, "--after", faults));
            let ((kind, before), (other, after)) = (before?, after?);
            if kind.dims != other.dims || before <= 0.0 {
                faults.add(
                    Fault::new(
                        Code::UnitKind,
                        format!("`{}` before and `{}` after", report.before, report.after),
                        "two values of one kind, the first not nought",
                        "write both with their unit, such as --before \"2.4 N/cm\" --after \"2.0 N/cm\"",
                    )
                    .at(at("--after")),
                );
                return None;
            }
            Some((tidy(after / before, 4), format!("before {}, after {}", report.before, report.after)))
        }
        (false, true, true) => {
            let fault = Fault::new(
                Code::ArgumentUnknown,
                format!("a value before and one after, of `{}`", property.name()),
                "a property that is a ratio: what is kept, or swelling",
                "give the result with --value",
            );
            faults.add(fault.at(at("--before")));
            None
        }
        (false, ..) => {
            let fault = Fault::new(
                Code::ArgumentMissing,
                "no result",
                "the value, or the values before and after",
                "add --value, or --before and --after for what is kept",
            );
            faults.add(fault.at(at("--value")));
            None
        }
        _ => {
            let fault = Fault::new(
                Code::ArgumentRepeated,
                "a value, and values before and after",
                "one of the two",
                "leave out --value, or --before and --after",
            );
            faults.add(fault.at(at("--value")));
            None
        }
    }
}

/// A number with any unit there is.
fn any(text: &str) -> Result<(&'static Kind, f64), Fault> {
    let read = |kind: &&'static Kind| kind.read(text).ok().map(|si| (*kind, si));
    match KINDS.iter().find_map(read) {
        Some(found) => Ok(found),
        // The plain kind tells best what is wrong with the number.
        None => Err(KINDS[0].read(text).err().unwrap_or_else(|| {
            Fault::new(Code::NumberUnreadable, format!("`{text}`"), "a number with its unit", "write `2.4 N/cm`")
        })),
    }
}

/// The key of the report in the bibliography, and the new bibliography if it is not there.
fn source(folder: &Folder, catalogue: &Catalogue, report: &Report, faults: &mut Faults) -> (String, Option<String>) {
    let made = || {
        let words = super::words::tokens(&report.number).join("-");
        format!("report-{words}")
    };
    let key = if report.source.is_empty() { made() } else { report.source.clone() };
    if let Some(known) = catalogue.sources.get(&key) {
        let text = known.to_string();
        if let Some((name, digest)) = report.file.as_ref().filter(|(_, digest)| !text.contains(digest.as_str())) {
            faults.add(
                Fault::new(
                    Code::KeyDuplicate,
                    format!("`{key}` in sources.yml, and it is not the file {name} with SHA-256 {}…", &digest[..12]),
                    "a key that means one report",
                    "give this report another key with --source, or leave out --file if it is the same",
                )
                .at(at("--report")),
            );
        }
        return (key, None);
    }
    for (text, option) in [(&report.number, "--report"), (&report.laboratory, "--laboratory")] {
        if text.trim().is_empty() {
            faults.add(
                Fault::new(
                    Code::ArgumentMissing,
                    "nothing",
                    "the number of the report and who tested",
                    format!("add {option}; or name a report that sources.yml has, with --source"),
                )
                .at(at(option)),
            );
        }
    }
    let title = if report.title.is_empty() { format!("Test report {}", report.number) } else { report.title.clone() };
    let mut fields = vec![("type", "report".to_owned()), ("title", quoted(&title))];
    fields.push(("organization", quoted(&report.laboratory)));
    fields.push(("serial-number", quoted(&report.number)));
    if !report.date.is_empty() {
        match report.date.parse::<jiff::civil::Date>() {
            Ok(date) => fields.push(("date", date.to_string())),
            Err(_) => faults.add(
                Fault::new(Code::ValueType, format!("`{}`", report.date), "a date", "write it as 2026-11-20")
                    .at(at("--date")),
            ),
        }
    }
    if let Some((name, digest)) = &report.file {
        fields.push(("note", quoted(&format!("file {name}, SHA-256 {digest}"))));
    }
    let text = with(folder.text("sources.yml"), &key, &fields);
    (key, Some(text))
}
