//! The guess: which sheet, which table, what each column means.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::Catalogue;
use crate::evidence::Place;
use crate::fault::{Code, Fault};
use crate::quantity::TIME;

use super::cellwords;
use super::heads::{self, Found};
use super::map::{Certainty, Column, Map, Target, Work};
use super::number::{self, Decimal, Marks};
use super::sheet::{Sheet, Value, column};
use super::wordings::Wordings;

/// A sheet with more columns is no table with one column a tape.
const WIDE: usize = 2000;

/// What the command line states beforehand.
#[derive(Clone, Debug, Default)]
pub struct Stated {
    /// The sheet.
    pub sheet: Option<String>,
    /// The table.
    pub target: Option<Target>,
    /// Values for every row.
    pub constants: BTreeMap<&'static str, String>,
}

/// Guesses the map of a file.
///
/// # Errors
/// No sheet that can be a table, or several.
pub fn guess(sheets: &[Sheet], stated: &Stated, catalogue: &Catalogue, wordings: &Wordings) -> Result<Map, Fault> {
    let named: Vec<usize> = match &stated.sheet {
        Some(name) => vec![index(sheets, name)?],
        None => (0..sheets.len()).filter(|n| !sheets[*n].hidden).collect(),
    };
    let as_they_are: Vec<Cow<'_, Sheet>> = named.iter().map(|n| Cow::Borrowed(&sheets[*n])).collect();
    let mut found = tables(&as_they_are, stated);
    let turned: Vec<Cow<'_, Sheet>> = match found.as_slice() {
        // None has its tapes one below the other: then side by side.
        [] => named.iter().map(|n| &sheets[*n]).filter(|s| s.width() <= WIDE).map(|s| Cow::Owned(s.turned())).collect(),
        _ => Vec::new(),
    };
    if found.is_empty() {
        found = tables(&turned, stated);
    }
    match found.as_slice() {
        [] => Err(no_table(sheets, stated)),
        [one] => Ok(map(one.0, one.1, &one.2, stated, (catalogue, wordings))),
        many => {
            let names: Vec<String> = many.iter().filter_map(|f| f.0.name.clone()).collect();
            Err(Fault::new(
                Code::ArgumentMissing,
                format!("{} sheets with a table: {}", names.len(), names.join(", ")),
                "which of them to bring in",
                "name it with --sheet; bring in the others one by one",
            )
            .at(Place::file(sheets[0].file.as_str())))
        }
    }
}

/// The best table of each sheet that has one.
fn tables<'s>(sheets: &'s [Cow<'_, Sheet>], stated: &Stated) -> Vec<(&'s Sheet, Target, Found)> {
    let targets = stated.target.map_or_else(|| Target::ALL.to_vec(), |target| vec![target]);
    let whole = |(_, target, head): &(&Sheet, Target, Found)| {
        target.needed().iter().all(|key| head.taken.iter().flatten().any(|t| t.goal == *key))
    };
    let best = |sheet: &'s Cow<'_, Sheet>| {
        let found =
            targets.iter().filter_map(|target| heads::find(sheet, *target).map(|h| (sheet.as_ref(), *target, h)));
        found.filter(whole).rev().max_by_key(|(_, _, head)| head.points)
    };
    sheets.iter().filter_map(best).collect()
}

/// The sheet that a map is for, turned round if the map says so.
///
/// # Errors
/// No such sheet.
pub fn sheet_of<'s>(sheets: &'s [Sheet], map: &Map) -> Result<Cow<'s, Sheet>, Fault> {
    let number = match &map.sheet {
        Some(name) if sheets.len() > 1 || sheets[0].name.is_some() => index(sheets, name)?,
        _ => 0,
    };
    Ok(if map.turned { Cow::Owned(sheets[number].turned()) } else { Cow::Borrowed(&sheets[number]) })
}

/// The sheet of a name, or of its number from 1.
pub(super) fn index(sheets: &[Sheet], name: &str) -> Result<usize, Fault> {
    let by_name = sheets.iter().position(|s| s.name.as_deref() == Some(name));
    let by_number = || name.parse::<usize>().ok().filter(|n| (1..=sheets.len()).contains(n)).map(|n| n - 1);
    by_name.or_else(by_number).ok_or_else(|| {
        let names = sheets.iter().filter_map(|s| s.name.as_deref());
        let file = sheets.first().map_or("", |s| s.file.as_str());
        Fault::unknown_word(Code::NameUnknown, name, "a sheet of the file", names).at(Place::file(file))
    })
}

fn no_table(sheets: &[Sheet], stated: &Stated) -> Fault {
    let file = sheets.first().map_or("", |s| s.file.as_str());
    let keys = stated.target.map_or_else(
        || "`tape`, or `subject`, or `material` and `medium`".to_owned(),
        |target| target.needed().join(" and "),
    );
    Fault::new(
        Code::ColumnMissing,
        "no row that reads as the head of a table",
        format!("a head that names {keys} and what else there is"),
        "write such a head above the table, such as `Article no.` or `Material`; or state it in a map, with --map",
    )
    .at(Place::file(file))
}

fn map(
    sheet: &Sheet,
    target: Target,
    found: &Found,
    stated: &Stated,
    (catalogue, wordings): (&Catalogue, &Wordings),
) -> Map {
    let mut columns: Vec<Column> = Vec::new();
    let first = found.rows.1 + 1;
    let general = decimal_of(sheet, first, 0..sheet.width());
    for (index, head) in found.heads.iter().enumerate() {
        let filled = (first..sheet.rows.len()).any(|row| !sheet.cell(row, index).is_blank());
        if head.text.is_empty() && !filled {
            continue;
        }
        let taken = found.taken[index].as_ref();
        let goal = taken.map_or("", |t| t.goal);
        let kind = target.kind(goal);
        let own = head.text.starts_with("x_") && head.text != super::FROM;
        let mut column = Column {
            index,
            head: head.text.clone(),
            to: if own { head.text.clone() } else { goal.to_owned() },
            unit: taken.and_then(|t| t.unit.clone()),
            marks: Marks::default(),
            words: Vec::new(),
            certainty: if own { Certainty::Certain } else { taken.map_or(Certainty::None, |t| t.certainty) },
            perhaps: String::new(),
            hidden: sheet.hidden_columns.contains(&index),
        };
        if kind.is_some() || matches!(goal, "value" | "low" | "high") {
            column.marks.decimal = match decimal_of(sheet, first, index..index + 1) {
                Shown::Nothing => general.one(),
                shown => shown.one(),
            };
            column.marks.times = kind.is_some_and(|kind| *kind == TIME);
        } else if !goal.is_empty() {
            column.words = cellwords::guess(sheet, first, index, target, goal, catalogue, wordings);
        }
        columns.push(column);
    }
    settle(&mut columns, found);
    let rows = || (first..sheet.rows.len()).filter(|row| !sheet.rows[*row].iter().all(super::sheet::Cell::is_blank));
    // A column that leaves cells blank, or that a remark below the table ends, still wants the constant.
    let lacks = |goal: &str| match columns.iter().find(|c| c.to == goal) {
        Some(column) => rows().any(|row| sheet.cell(row, column.index).is_blank()),
        None => true,
    };
    let mut constants = BTreeMap::new();
    if target == Target::Tapes && lacks("status") {
        constants.insert("status", "active".to_owned());
    }
    constants.extend(stated.constants.clone());
    let key = work_key(&sheet.file);
    let work = (lacks("source") && !constants.contains_key("source")).then(|| {
        constants.insert("source", key.clone());
        Work { key, title: sheet.title() }
    });
    Map {
        file: sheet.file.clone(),
        sheet: sheet.name.clone(),
        target,
        head: found.rows,
        last: None,
        erase: false,
        turned: sheet.turned,
        constants,
        work,
        columns,
    }
}

/// Each goal goes to the column that is surest of it; what is unsure is left out and named.
fn settle(columns: &mut [Column], found: &Found) {
    let weight = |c: &Column| found.taken[c.index].as_ref().map_or(0, |t| t.weight);
    let mut order: Vec<usize> = (0..columns.len()).collect();
    order.sort_by_key(|n| std::cmp::Reverse((columns[*n].certainty, weight(&columns[*n]))));
    let mut given: BTreeSet<String> = BTreeSet::new();
    for number in order {
        let column = &mut columns[number];
        if column.to.is_empty() {
            continue;
        }
        let second = !given.insert(column.to.clone());
        if second || column.certainty < Certainty::Likely {
            column.perhaps = if second { format!("a second {}", column.to) } else { column.to.clone() };
            column.certainty = if second { Certainty::Unsure } else { column.certainty };
            column.to.clear();
            column.words.clear();
        }
    }
}

/// What a stretch of cells shows of its decimal mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shown {
    Nothing,
    One(Decimal),
    Both,
}

impl Shown {
    const fn one(self) -> Option<Decimal> {
        match self {
            Shown::One(decimal) => Some(decimal),
            Shown::Nothing | Shown::Both => None,
        }
    }
}

fn decimal_of(sheet: &Sheet, first: usize, columns: std::ops::Range<usize>) -> Shown {
    let mut shown = Shown::Nothing;
    for row in first..sheet.rows.len() {
        for index in columns.clone() {
            let Value::Text(text) = &sheet.cell(row, index).value else { continue };
            let Some(found) = number::evidence(text) else { continue };
            shown = match shown {
                Shown::Nothing => Shown::One(found),
                Shown::One(before) if before == found => shown,
                _ => return Shown::Both,
            };
        }
    }
    shown
}

/// A key for the bibliography out of a file's name.
fn work_key(file: &str) -> String {
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
    let words = super::words::tokens(stem).join("-");
    let ascii: String = words.chars().filter(|c| c.is_ascii_alphanumeric() || *c == '-').collect();
    let ascii = ascii.trim_matches('-');
    if ascii.is_empty() { "import-table".to_owned() } else { format!("import-{ascii}") }
}

/// The columns of a map that was made for another copy of the sheet, found again by their heads.
///
/// # Errors
/// A head that the sheet does not have, or has twice where the letter does not tell.
pub(super) fn find_again(map: &mut Map, sheet: &Sheet, letters: &[String]) -> Result<(), crate::fault::Faults> {
    let heads = heads::at(sheet, map.head);
    let mut faults = crate::fault::Faults::default();
    for (entry, letter) in map.columns.iter_mut().zip(letters) {
        let same: Vec<usize> = (0..heads.len()).filter(|n| heads[*n].text == entry.head).collect();
        let told = column(letter);
        match same.as_slice() {
            [one] => entry.index = *one,
            many if many.contains(&told.unwrap_or(usize::MAX)) => entry.index = told.unwrap_or_default(),
            _ if !entry.is_used() => {}
            many => {
                let found = if many.is_empty() { "no such head" } else { "the head more than once" };
                let known = heads.iter().map(|h| h.text.as_str()).filter(|t| !t.is_empty());
                let mut fault = Fault::unknown_word(Code::ColumnMissing, &entry.head, "a head of the sheet", known);
                fault.found = format!("{found}: `{}`", entry.head);
                faults.add(fault.at(sheet.row_place(map.head.0)));
            }
        }
        entry.hidden = sheet.hidden_columns.contains(&entry.index);
    }
    faults.or(())
}
