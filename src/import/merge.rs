//! Rows from a sheet against the rows of the data: added, revised, unchanged or refused.

use std::collections::{BTreeMap, HashMap};

use crate::catalogue::{On, Property};
use crate::evidence::Place;
use crate::fault::{Code, Fault};

use super::convert::{Draft, Line};
use super::map::Target;
use super::table::{Named, Table};
use super::{FROM, SUPERSEDED_BY};

/// What becomes of a row of the sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Fate {
    /// The data hold the same.
    Unchanged,
    /// It is new.
    Added,
    /// It takes the place of an older row, which is kept.
    Revised,
    /// It is not brought in.
    Refused,
}

impl Fate {
    /// The word.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Fate::Unchanged => "unchanged",
            Fate::Added => "added",
            Fate::Revised => "revised",
            Fate::Refused => "refused",
        }
    }
}

/// What a line does to its table.
#[derive(Clone, Debug)]
pub(super) enum Change {
    /// A new row.
    Add(Named),
    /// A row, by number, that becomes another; the older one is kept with what took its place.
    Replace { row: usize, new: Named, old: Named },
}

/// The changes of a row of the sheet, by table, with what is worth saying.
#[derive(Clone, Debug, Default)]
pub(super) struct Changes {
    pub(super) of: Vec<(Target, Change)>,
    pub(super) remarks: Vec<String>,
    /// The revision that a tape gets.
    pub(super) revision: Option<String>,
    /// The columns that differ: before and after.
    pub(super) differs: Vec<(String, String, String)>,
}

/// The tables of the data folder, with their rows by key.
pub(super) struct Tables {
    pub(super) of: BTreeMap<Target, Table>,
    keys: BTreeMap<Target, HashMap<String, usize>>,
    seen: HashMap<(Target, String), (usize, Named)>,
}

impl Tables {
    pub(super) fn read(text: impl Fn(&str) -> String) -> Tables {
        let of: BTreeMap<Target, Table> =
            Target::ALL.into_iter().map(|target| (target, Table::read(&text(target.file())))).collect();
        let mut keys: BTreeMap<Target, HashMap<String, usize>> = BTreeMap::new();
        for (target, table) in &of {
            let rows = table.body().map(|(number, _)| (target.key(|column| table.cell(number, column)), number));
            keys.insert(*target, rows.collect());
        }
        Tables { of, keys, seen: HashMap::new() }
    }

    /// The row that the data hold under the key of another.
    pub(super) fn held(&self, target: Target, row: &Named) -> Option<usize> {
        let key = target.key(|column| row.get(column).map_or("", String::as_str));
        self.keys.get(&target)?.get(&key).copied()
    }

    /// What a draft changes.
    ///
    /// # Errors
    /// A conflict with the data or with an earlier row of the sheet.
    pub(super) fn changes(&mut self, draft: &Draft, place: &Place) -> Result<Changes, Fault> {
        let mut changes = Changes::default();
        let mut seen = Vec::new();
        for line in &draft.lines {
            let key = line.target.key(|column| line.cells.get(column).map_or("", String::as_str));
            let known = (line.target, key.clone());
            if let Some((row, cells)) = self.seen.get(&known) {
                let same = cells.iter().filter(|(c, _)| *c != FROM).eq(line.cells.iter().filter(|(c, _)| *c != FROM));
                if same {
                    changes.remarks.push(format!("the same as row {}", row + 1));
                    continue;
                }
                return Err(Fault::new(
                    Code::KeyDuplicate,
                    format!("a second row for `{}`, first in row {}, and they differ", draft.key, row + 1),
                    "each key once",
                    "keep the one that holds, or give them keys or conditions that differ",
                )
                .at(place.clone()));
            }
            seen.push((known, (draft.row, line.cells.clone())));
            match self.keys.get(&line.target).and_then(|keys| keys.get(&key)) {
                None => {
                    changes.of.push((line.target, Change::Add(added(line))));
                    if line.target == Target::Tapes {
                        changes.revision = line.cells.get("revision").cloned().or_else(|| Some("1".to_owned()));
                    }
                }
                Some(row) => self.against(*row, line, place, &mut changes)?,
            }
        }
        self.seen.extend(seen);
        Ok(changes)
    }

    /// A line against the row that the data hold under its key.
    fn against(&self, row: usize, line: &Line, place: &Place, changes: &mut Changes) -> Result<(), Fault> {
        let Some(table) = self.of.get(&line.target) else { return Ok(()) };
        let old = table.named(row);
        let before = |column: &str| old.get(column).map_or("", String::as_str);
        let property = before("property");
        let mut differs: Vec<(String, String, String)> = Vec::new();
        for (column, value) in &line.cells {
            let states = line.from.contains_key(column) || matches!(column.as_str(), "low" | "high" | "value");
            let aside = column == FROM || column == "revision" && line.target == Target::Tapes;
            if states && !aside && !line.target.same(column, property, before(column), value) {
                differs.push((column.clone(), before(column).to_owned(), value.clone()));
            }
        }
        if line.target != Target::Tapes && line.from.contains_key("value") {
            // A value without ends is exact: ends that the data hold beside it go with it.
            for end in ["low", "high"] {
                if !line.cells.contains_key(end) && !before(end).is_empty() && differs.iter().any(|d| d.0 == "value") {
                    differs.push((end.to_owned(), before(end).to_owned(), String::new()));
                }
            }
        }
        let revision = self.revision(row, line, !differs.is_empty(), place)?;
        if differs.is_empty() && revision.is_none() {
            if !before("source").is_empty() && line.cells.get("source").is_some_and(|s| s != before("source")) {
                changes.remarks.push(format!("the data hold the same of `{}`", before("source")));
            }
            return Ok(());
        }
        let source = line.cells.get("source").map_or("", String::as_str);
        if line.target != Target::Tapes && edition(source) != edition(before("source")) {
            return Err(Fault::new(
                Code::RowConflict,
                format!("{}, and the data hold `{}` of `{}`", shown(&differs), before("value"), before("source")),
                "one row for each subject, property, conditions and basis, or a newer one of the same source",
                "say in `condition` how they differ, change the basis of one, or take the older one out by hand",
            )
            .at(place.clone()));
        }
        let mut new = old.clone();
        for (column, value) in &line.cells {
            let takes =
                line.from.contains_key(column) || matches!(column.as_str(), "source" | "basis" | "low" | "high");
            if takes {
                new.insert(column.clone(), value.clone());
            }
        }
        for (column, _, value) in &differs {
            new.insert(column.clone(), value.clone());
        }
        let (title, places) = line.cells.get(FROM).and_then(|from| from.rsplit_once(": ")).unwrap_or_default();
        let places: Vec<&str> =
            places.split(", ").filter(|p| differs.iter().any(|d| p.split(' ').next() == Some(d.0.as_str()))).collect();
        new.insert(FROM.to_owned(), format!("{title}: {}", places.join(", ")));
        noted(&mut new, line);
        let by = match &revision {
            Some(revision) => {
                new.insert("revision".to_owned(), revision.clone());
                revision.clone()
            }
            None => new.get("value").cloned().unwrap_or_default(),
        };
        let mut kept = old;
        kept.insert(SUPERSEDED_BY.to_owned(), by);
        changes.revision = revision;
        changes.differs = differs;
        changes.of.push((line.target, Change::Replace { row, new, old: kept }));
        Ok(())
    }

    /// The revision that a changed tape gets; none where nothing calls for one.
    fn revision(&self, row: usize, line: &Line, differs: bool, place: &Place) -> Result<Option<String>, Fault> {
        if line.target != Target::Tapes {
            return Ok(None);
        }
        let held = self.of.get(&Target::Tapes).map_or("", |table| table.cell(row, "revision"));
        let stated = line.cells.get("revision").map_or("", String::as_str);
        let order = if stated.is_empty() || stated == held { std::cmp::Ordering::Equal } else { compare(stated, held) };
        match order {
            std::cmp::Ordering::Greater => Ok(Some(stated.to_owned())),
            std::cmp::Ordering::Equal if !differs => Ok(None),
            std::cmp::Ordering::Equal => match next(held) {
                Some(revision) => Ok(Some(revision)),
                None => Err(Fault::new(
                    Code::RowConflict,
                    format!(
                        "a change of `{}`, whose revision is `{held}`",
                        line.cells.get("tape").map_or("", String::as_str)
                    ),
                    "a revision that comes after it",
                    "state the new revision in a column of the sheet",
                )
                .at(place.clone())),
            },
            std::cmp::Ordering::Less => Err(Fault::new(
                Code::RowConflict,
                format!("revision `{stated}`, and the data hold revision `{held}`"),
                "a sheet that is not older than the data",
                "use the newer sheet; or clear the revision in the sheet if its numbers are the newer ones",
            )
            .at(place.clone())),
        }
    }
}

/// The key of a table that was brought in, without the number of its edition.
fn edition(source: &str) -> &str {
    let numbered = source.strip_prefix("import-").and_then(|_| source.rsplit_once('-'));
    match numbered {
        Some((base, number)) if number.chars().all(|c| c.is_ascii_digit()) && base != "import" => base,
        _ => source,
    }
}

/// A new row: revision 1 where the sheet states none.
fn added(line: &Line) -> Named {
    let mut new = line.cells.clone();
    if line.target == Target::Tapes && new.get("revision").is_none_or(String::is_empty) {
        new.insert("revision".to_owned(), "1".to_owned());
    }
    noted(&mut new, line);
    new
}

/// What was read into the cells goes into the note.
fn noted(row: &mut Named, line: &Line) {
    let note = row.entry("note".to_owned()).or_default();
    for remark in &line.remarks {
        if !note.contains(remark.as_str()) {
            if !note.is_empty() {
                note.push_str("; ");
            }
            note.push_str(remark);
        }
    }
}

fn shown(differs: &[(String, String, String)]) -> String {
    let cells: Vec<String> = differs.iter().map(|(column, _, new)| format!("{column} `{new}`")).collect();
    cells.join(", ")
}

/// The order of two revisions: numbers by size, single letters and dates by their order.
fn compare(a: &str, b: &str) -> std::cmp::Ordering {
    match (a.parse::<f64>(), b.parse::<f64>()) {
        (Ok(a), Ok(b)) => a.total_cmp(&b),
        _ if b.is_empty() => std::cmp::Ordering::Greater,
        _ if a.len() == b.len() => a.cmp(b),
        _ => std::cmp::Ordering::Less,
    }
}

/// The revision after another, where it is plain which that is.
fn next(held: &str) -> Option<String> {
    if held.is_empty() {
        return Some("1".to_owned());
    }
    if let Ok(number) = held.parse::<u64>() {
        return number.checked_add(1).map(|n| n.to_string());
    }
    match held.as_bytes() {
        [letter @ (b'A'..=b'Y' | b'a'..=b'y')] => Some(char::from(letter + 1).to_string()),
        _ => None,
    }
}

/// Rows of `facts.csv` that come before cells of a tape that are revised.
pub(super) fn shadowed(tables: &Tables, tape: &str, columns: &[(String, String, String)]) -> Vec<String> {
    let Some(facts) = tables.of.get(&Target::Facts) else { return Vec::new() };
    let mut found: Vec<String> = Vec::new();
    for (column, ..) in columns {
        let is_cell = Property::of(column).is_some_and(|p| p.spec().on != On::Pair);
        let over = facts.body().any(|(n, _)| facts.cell(n, "subject") == tape && facts.cell(n, "property") == column);
        if is_cell && over {
            found.push(format!("facts.csv holds `{column}` of `{tape}` too and comes first"));
        }
    }
    found
}
