//! A data folder with faulty rows: what loads without them, and which selections need them.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::outcome::{Change, ChangeKind};
use super::parts;
use crate::catalogue::Catalogue;
use crate::fault::{Code, Fault, Faults};
use crate::load::Folder;

/// The tables that hold something without one of their rows.
const TABLES: [&str; 4] = ["tapes.csv", "materials.csv", "facts.csv", "pairs.csv"];
/// How often rows that refer to a row left out are left out after it.
const ROUNDS: usize = 8;

/// A faulty row, which was left out.
#[derive(Clone, Debug)]
pub struct Faulty {
    /// What is wrong with it.
    pub fault: Fault,
    /// What it is about: the first of its cells.
    row: String,
    /// False where it only refers to a row that was left out.
    pub(super) by_itself: bool,
    /// The parts of the evidence that it belongs to, as the evidence names them.
    parts: BTreeSet<String>,
}

impl Faulty {
    /// The fault as the cause of what cannot be judged.
    pub(super) fn change(&self) -> Change {
        let place = self.fault.place.as_ref();
        Change {
            kind: ChangeKind::Fault,
            file: place.map(|place| place.file.to_string()).unwrap_or_default(),
            row: self.row.clone(),
            column: place.map(|place| place.column.to_string()).unwrap_or_default(),
            before: None,
            after: Some(format!("{}, needed {}", self.fault.found, self.fault.needed)),
            source_before: None,
            source_after: None,
        }
    }

    /// Whether a selection needs the row, by the evidence that it was signed on.
    pub(super) fn is_needed(&self, evidence: &Value) -> bool {
        self.parts.iter().any(|part| match part.split_once(':') {
            Some((section, name)) => evidence[section].get(name).is_some(),
            None => false,
        })
    }
}

/// A data folder as far as it loads: without its faulty rows, and what those are.
pub struct Loaded {
    /// The folder without them.
    pub folder: Folder,
    /// What it holds.
    pub catalogue: Catalogue,
    /// The rows that were left out, those first that are faulty by themselves.
    pub faulty: Vec<Faulty>,
}

/// Loads a data folder, without its faulty rows.
///
/// # Errors
/// A fault that is not one of a row: then nothing can be judged.
pub fn loaded(folder: &Folder) -> Result<Loaded, Faults> {
    let kinds = kinds(folder.text("materials.csv"));
    let mut left = folder.clone();
    let mut faulty = Vec::new();
    let mut first = None;
    for round in 0..ROUNDS {
        let faults = match Catalogue::build(&left) {
            Ok(catalogue) => return Ok(Loaded { folder: left, catalogue, faulty }),
            Err(faults) => faults,
        };
        let told = faults.clone().sorted();
        let all = first.get_or_insert(faults);
        let of_row = |fault: &Fault| {
            let place = fault.place.as_ref()?;
            let table = TABLES.into_iter().find(|table| *table == &*place.file)?;
            (place.line > 1 && fault.code != Code::FaultsMore).then_some((table, place.line))
        };
        let Some(places) = told.iter().map(of_row).collect::<Option<Vec<_>>>() else { return Err(all.clone()) };
        let mut rows: BTreeMap<(&str, u32), BTreeMap<String, String>> = BTreeMap::new();
        for table in TABLES {
            let lines: BTreeSet<u32> =
                places.iter().filter(|(file, _)| *file == table).map(|(_, line)| *line).collect();
            if lines.is_empty() {
                continue;
            }
            let (text, taken) = without(left.text(table), &lines);
            rows.extend(taken.into_iter().map(|(line, cells)| ((table, line), cells)));
            left.files.insert(table.to_owned(), text);
        }
        let Some(new) = told
            .iter()
            .zip(&places)
            .map(|(fault, (table, line))| {
                let cells = rows.get(&(table, *line))?;
                let cell = |column: &str| cells.get(column).map_or("", String::as_str);
                let by_all = |id: &str| kinds.get(id).map(|kind| parts::by_all(kind));
                let (row, parts) = (name(table, cells), parts::parts(table, cell, by_all));
                Some(Faulty { fault: fault.clone(), row, by_itself: round == 0, parts })
            })
            .collect::<Option<Vec<Faulty>>>()
        else {
            return Err(all.clone());
        };
        faulty.extend(new);
    }
    Err(first.unwrap_or_default())
}

/// A table without the rows that cover some lines, whose line ends stay; and the cells of those rows, by each line.
fn without(text: &str, lines: &BTreeSet<u32>) -> (String, BTreeMap<u32, BTreeMap<String, String>>) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    let mut head: Option<Vec<String>> = None;
    let (mut left, mut taken) = (String::with_capacity(text.len()), BTreeMap::new());
    let mut record = csv::StringRecord::new();
    let (mut from, mut line) = (0, 1);
    while reader.read_record(&mut record).unwrap_or(false) {
        let to = usize::try_from(reader.position().byte()).unwrap_or(text.len()).min(text.len());
        let piece = text.get(from..to).unwrap_or_default();
        let ends = u32::try_from(piece.matches('\n').count()).unwrap_or(0);
        let cells = || record.iter().map(|cell| cell.trim().to_owned());
        let covered = lines.range(line..(line + ends.max(1)));
        match &head {
            None => {
                head = Some(cells().collect());
                left.push_str(piece);
            }
            Some(head) => {
                let row: BTreeMap<String, String> = head.iter().cloned().zip(cells()).collect();
                let before = taken.len();
                taken.extend(covered.map(|line| (*line, row.clone())));
                if taken.len() > before {
                    left.extend(std::iter::repeat_n('\n', ends as usize));
                } else {
                    left.push_str(piece);
                }
            }
        }
        (from, line) = (to, line + ends);
    }
    left.push_str(text.get(from..).unwrap_or_default());
    (left, taken)
}

/// The kind of each material, as it is written.
fn kinds(text: &str) -> BTreeMap<String, String> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(text.as_bytes());
    let column = |heads: &csv::StringRecord, name: &str| heads.iter().position(|head| head.trim() == name);
    let heads = reader.headers().cloned().unwrap_or_default();
    let (Some(id), Some(kind)) = (column(&heads, "id"), column(&heads, "kind")) else { return BTreeMap::new() };
    let pair = |row: csv::StringRecord| Some((row.get(id)?.trim().to_owned(), row.get(kind)?.trim().to_owned()));
    reader.records().filter_map(|row| pair(row.ok()?)).collect()
}

/// What a row is about, in words.
fn name(table: &str, cells: &BTreeMap<String, String>) -> String {
    let columns: &[&str] = match table {
        "tapes.csv" => &["tape"],
        "materials.csv" => &["id"],
        "facts.csv" => &["subject", "property"],
        _ => &["material", "medium", "property"],
    };
    let said = columns.iter().filter_map(|column| cells.get(*column)).filter(|cell| !cell.is_empty());
    said.cloned().collect::<Vec<_>>().join(" ")
}
