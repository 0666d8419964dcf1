//! Tables as people have them become rows of the data folder.
//!
//! A file becomes sheets, a sheet gets a map, its rows become drafts, and drafts are held against what the
//! data hold. Nothing is written here: the result is the texts that the data folder would have, checked as
//! a whole. Whatever can be read in two ways is refused with a question.

mod amount;
mod around;
mod beside;
mod cellwords;
mod convert;
mod delimited;
mod extent;
mod guess;
mod heads;
mod lexicon;
mod map;
mod mapfile;
mod merge;
mod number;
mod package;
mod report;
mod sheet;
mod sources;
mod table;
mod units;
mod wordings;
mod words;
mod workbook;

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::evidence::Place;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::load::Folder;

pub use beside::Beside;
pub use guess::{Stated, guess, sheet_of};
pub use map::{Certainty, Column, Map, Target, Work};
pub use mapfile::{read as read_map, write as write_map};
pub use merge::Fate;
pub use number::Decimal;
pub use report::{Entered, Report, enter};
pub use sheet::{Sheet, letters, mark};
pub use wordings::Wordings;
pub use workbook::read as read_sheets;

use convert::{Converter, Draft};
use merge::{Change, Changes, Tables};
use table::{Edit, Edited, Table};

/// The user's own column that says which cells a row came from.
const FROM: &str = "x_from";
/// The column of a kept older row that says what took its place.
const SUPERSEDED_BY: &str = "x_superseded_by";

/// Where the older rows of a table are kept, which nothing reads.
#[must_use]
pub fn superseded(target: Target) -> String {
    format!("superseded/{}", target.file())
}

/// One row of the sheet and what becomes of it.
#[derive(Clone, Debug)]
pub struct Done {
    /// The row, from 0.
    pub row: usize,
    /// What a person calls it.
    pub key: String,
    /// What becomes of it.
    pub fate: Fate,
    /// The revision that a tape gets.
    pub revision: Option<String>,
    /// The cells that differ: column, before, after.
    pub differs: Vec<(String, String, String)>,
    /// What is worth saying.
    pub remarks: Vec<String>,
}

/// The result of an import that is not written yet.
#[derive(Clone, Debug)]
pub struct Imported {
    /// Every row of the table, in the order of the sheet.
    pub rows: Vec<Done>,
    /// Rows that are none of the table.
    pub beside: Vec<Beside>,
    /// Every reason against rows, all of them, in the order of the sheet.
    pub faults: Vec<Fault>,
    /// The new texts, by path in the data folder, in the order they are to be written.
    pub files: Vec<(String, String)>,
}

impl Imported {
    /// How many rows met a fate.
    #[must_use]
    pub fn count(&self, fate: Fate) -> usize {
        self.rows.iter().filter(|row| row.fate == fate).count()
    }
}

/// What an import is made from.
#[derive(Clone, Copy, Debug)]
pub struct Order<'a> {
    /// The sheet.
    pub sheet: &'a Sheet,
    /// Its map.
    pub map: &'a Map,
    /// What messages call the map.
    pub map_name: &'a str,
    /// The digest of the file, for its entry in the bibliography.
    pub sha256: &'a str,
}

/// The sheet that a map is for, and the map fitted to it.
///
/// # Errors
/// No such sheet, or heads that it does not have.
pub fn fit<'s>(sheets: &'s [Sheet], map: &mut Map, letters: &[String]) -> Result<Cow<'s, Sheet>, Faults> {
    let sheet = sheet_of(sheets, map)?;
    guess::find_again(map, &sheet, letters)?;
    Ok(sheet)
}

/// Every fault of a data folder as a whole: data, enquiries, criteria.
///
/// # Errors
/// Every fault found.
pub fn whole(folder: &Folder) -> Result<(), Faults> {
    let catalogue = Catalogue::build(folder)?;
    let mut faults = Faults::default();
    if let Err(found) = Wordings::read(folder, &catalogue) {
        faults.extend(found);
    }
    for name in folder.enquiries() {
        if let Err(found) = Enquiry::read(name, folder.text(name), &catalogue) {
            faults.extend(found);
        }
    }
    if let Err(found) = Plan::new(&catalogue, &[]) {
        faults.extend(found);
    }
    faults.or(())
}

/// Brings the rows of a sheet into a data folder, in memory.
///
/// `kept` gives the text of a file of older rows, empty if there is none.
///
/// # Errors
/// Faults that no row of the sheet is to blame for: then nothing is brought in.
pub fn import(
    folder: &Folder,
    catalogue: &Catalogue,
    order: Order<'_>,
    kept: impl Fn(&str) -> Result<String, Fault>,
) -> Result<Imported, Faults> {
    let mut folder = folder.clone();
    let mut files: Vec<(String, String)> = Vec::new();
    let (map, entry) = sources::edition(folder.text("sources.yml"), &catalogue.sources, order.map, order.sha256);
    let order = Order { map: &map, ..order };
    if let Some(text) = entry {
        folder.files.insert("sources.yml".to_owned(), text.clone());
        files.push(("sources.yml".to_owned(), text));
    }
    let wordings = Wordings::read(&folder, catalogue)?;
    let (sheet, map_name) = (order.sheet, order.map_name);
    let alike = catalogue.tapes.iter().map(|t| (words::tokens(&t.id).concat(), t.id.as_str())).collect();
    let converter = Converter { sheet, map: order.map, map_name, catalogue, wordings: &wordings, alike };
    let (mut drafts, beside) = converter.rows();
    unstated(&order, &mut drafts, catalogue);
    let mut tables = Tables::read(|name| folder.text(name).to_owned());
    let mut changes: Vec<Option<Changes>> = Vec::new();
    for draft in &mut drafts {
        let place = order.sheet.row_place(draft.row);
        changes.push(match draft.faults.is_empty().then(|| tables.changes(draft, &place)) {
            Some(Ok(changes)) => Some(changes),
            Some(Err(fault)) => {
                draft.faults.add(fault);
                None
            }
            None => None,
        });
    }
    let texts = settle(&folder, &tables, &mut drafts, &mut changes, &order)?;
    let mut rows = Vec::new();
    let mut faults = Vec::new();
    for (draft, changes) in drafts.into_iter().zip(&changes) {
        let fate = fate(changes.as_ref());
        let mut remarks = draft.remarks;
        remarks
            .extend(draft.lines.iter().filter(|line| line.target == order.map.target).flat_map(|l| l.remarks.clone()));
        if let Some(changes) = changes {
            remarks.extend(changes.remarks.clone());
            if order.map.target == Target::Tapes {
                remarks.extend(merge::shadowed(&tables, &draft.key, &changes.differs));
            }
        }
        faults.extend(draft.faults.sorted());
        rows.push(Done {
            row: draft.row,
            key: draft.key,
            fate,
            revision: changes.as_ref().and_then(|c| c.revision.clone()),
            differs: changes.as_ref().map(|c| c.differs.clone()).unwrap_or_default(),
            remarks,
        });
    }
    let any = changes.iter().flatten().any(|c| !c.of.is_empty());
    if any {
        files.extend(superseding(&changes, kept)?);
        files.extend(texts);
    } else {
        files.clear();
    }
    Ok(Imported { rows, beside, faults, files })
}

/// The columns that every row needs and neither a column nor a constant states: one question, not one a row.
fn unstated(order: &Order<'_>, drafts: &mut [Draft], catalogue: &Catalogue) {
    let needed: &[&str] = match order.map.target {
        Target::Tapes => &["backing", "adhesive", "basis", "source"],
        Target::Facts | Target::Pairs => &["basis", "source"],
    };
    for column in needed {
        if order.map.column(column).is_some() || order.map.constants.contains_key(column) {
            continue;
        }
        let remedy = match *column {
            "basis" => {
                "how good are these numbers? add --basis published (or measured, estimated, from-memory)".to_owned()
            }
            "source" => format!("name the work: `source = \"…\"` under [constants] in {}", order.map_name),
            _ => format!("name the column in {}, or state `{column} = \"…\"` under [constants]", order.map_name),
        };
        for draft in drafts.iter_mut() {
            // What only changes a row that the data hold needs no more than it says.
            let held = order.map.target == Target::Tapes && catalogue.tape(&draft.key).is_some();
            if held || draft.lines.is_empty() {
                continue;
            }
            let fault =
                Fault::new(Code::ColumnMissing, "no column and no constant", format!("`{column}`"), remedy.clone());
            draft.faults.add(fault.at(order.sheet.row_place(draft.row)));
        }
    }
}

fn fate(changes: Option<&Changes>) -> Fate {
    let Some(changes) = changes else { return Fate::Refused };
    let of = |change: &Change| if matches!(change, Change::Add(_)) { Fate::Added } else { Fate::Revised };
    let fates: Vec<(Target, Fate)> = changes.of.iter().map(|(target, change)| (*target, of(change))).collect();
    // A tape that is held and gets a range in facts.csv is revised, whatever the range is.
    let tape = fates.iter().find(|(target, _)| *target == Target::Tapes).map(|(_, fate)| *fate);
    tape.or_else(|| fates.iter().map(|(_, fate)| *fate).max()).unwrap_or(Fate::Unchanged)
}

/// The new tables, once every row that the data folder refuses has been taken out.
fn settle(
    folder: &Folder,
    tables: &Tables,
    drafts: &mut [Draft],
    changes: &mut [Option<Changes>],
    order: &Order<'_>,
) -> Result<Vec<(String, String)>, Faults> {
    loop {
        let (edited, owners) = assemble(tables, changes);
        let mut new = folder.clone();
        for (target, edited) in &edited {
            new.files.insert(target.file().to_owned(), edited.text.clone());
        }
        let Err(found) = whole(&new) else {
            return Ok(edited.into_iter().map(|(target, e)| (target.file().to_owned(), e.text)).collect());
        };
        let mut blamed: BTreeSet<usize> = BTreeSet::new();
        let mut others = Faults::default();
        for fault in found.sorted() {
            let place = fault.place.clone().unwrap_or_else(|| Place::file(""));
            let owner = owners.get(&(place.file.to_string(), place.line)).copied();
            match owner {
                Some(number) => {
                    blamed.insert(number);
                    let placed = Fault { place: Some(placed(order, &drafts[number], &place)), ..fault };
                    // The rows that one row of the sheet becomes share its faults.
                    drafts[number].faults.add_once(placed);
                }
                None => others.add(fault),
            }
        }
        if blamed.is_empty() {
            return Err(others);
        }
        for number in blamed {
            changes[number] = None;
        }
    }
}

/// The place in the sheet that a fault of the data folder goes back to.
fn placed(order: &Order<'_>, draft: &Draft, at: &Place) -> Place {
    let line = draft.lines.iter().find(|line| line.target.file() == at.file.as_ref());
    let cell = line.and_then(|line| line.from.get(at.column.as_ref()));
    if let Some((row, column)) = cell {
        let head = order.map.columns.iter().find(|c| c.index == *column).map_or("", |c| c.head.as_str());
        return order.sheet.place(*row, *column, head);
    }
    let row = order.sheet.row_place(draft.row);
    Place::cell(row.file, row.line, format!("for `{}`", at.column))
}

/// Which draft stands on which line of which file.
type Owners = BTreeMap<(String, u32), usize>;

/// The tables with all changes.
fn assemble(tables: &Tables, changes: &[Option<Changes>]) -> (Vec<(Target, Edited)>, Owners) {
    // The edit of a table, and whose its added and its changed rows are.
    type Whose = (Edit, Vec<usize>, BTreeMap<usize, usize>);
    let mut edits: BTreeMap<Target, Whose> = BTreeMap::new();
    for (number, changes) in changes.iter().enumerate() {
        for (target, change) in changes.iter().flat_map(|c| &c.of) {
            let (edit, added, changed) = edits.entry(*target).or_default();
            match change {
                Change::Add(row) => {
                    edit.added.push(row.clone());
                    added.push(number);
                }
                Change::Replace { row, new, .. } => {
                    edit.changed.insert(*row, new.clone());
                    changed.insert(*row, number);
                }
            }
        }
    }
    let mut owners = Owners::new();
    let mut all = Vec::new();
    for (target, (edit, added, changed)) in edits {
        let Some(table) = tables.of.get(&target) else { continue };
        let edited = table.edit(&edit);
        for (line, number) in edited.added.iter().zip(added) {
            owners.insert((target.file().to_owned(), *line), number);
        }
        for (row, number) in changed {
            if let Some(line) = edited.changed.get(&row) {
                owners.insert((target.file().to_owned(), *line), number);
            }
        }
        all.push((target, edited));
    }
    (all, owners)
}

/// The files of older rows, with those that are replaced.
fn superseding(
    changes: &[Option<Changes>],
    kept: impl Fn(&str) -> Result<String, Fault>,
) -> Result<Vec<(String, String)>, Fault> {
    let mut old: BTreeMap<Target, Vec<table::Named>> = BTreeMap::new();
    for (target, change) in changes.iter().flatten().flat_map(|c| &c.of) {
        if let Change::Replace { old: row, .. } = change {
            old.entry(*target).or_default().push(row.clone());
        }
    }
    let with = |(target, added): (Target, Vec<table::Named>)| {
        let path = superseded(target);
        let text = kept(&path)?;
        let table = if text.is_empty() {
            Table::read(&format!("{},{SUPERSEDED_BY}\n", target.columns().join(",")))
        } else {
            Table::read(&text)
        };
        Ok((path, table.edit(&Edit { added, ..Edit::default() }).text))
    };
    old.into_iter().map(with).collect()
}
