//! Rows of a sheet to rows of the data files, cell by cell, with every reason against them.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Property};
use crate::fault::{Code, Fault, Faults};

use super::amount::{self, Amount, Asked, meaning};
use super::beside::Beside;
use super::cellwords;
use super::map::{Column, Map, Target, UNIT};
use super::number::{self, Marks, Trouble};
use super::sheet::{Cell, Merge, Sheet, Value, plain};
use super::table::Named;
use super::wordings::Wordings;
use super::{FROM, words};

/// One row for a data file, with the cells of the sheet that its columns come from.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// The file.
    pub(super) target: Target,
    /// The cells, by column.
    pub(super) cells: Named,
    /// The columns that the sheet states; the others are constants.
    pub(super) from: BTreeMap<String, (usize, usize)>,
    /// What was read into the cells.
    pub(super) remarks: Vec<String>,
}

/// What a row of the sheet becomes.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    /// The row, from 0.
    pub(super) row: usize,
    /// What a person calls it.
    pub(super) key: String,
    /// The rows it becomes.
    pub(super) lines: Vec<Line>,
    /// Every reason against it.
    pub(super) faults: Faults,
    /// What is worth saying.
    pub(super) remarks: Vec<String>,
}

pub(super) struct Converter<'a> {
    pub(super) sheet: &'a Sheet,
    pub(super) map: &'a Map,
    pub(super) map_name: &'a str,
    pub(super) catalogue: &'a Catalogue,
    pub(super) wordings: &'a Wordings,
    /// The keys of tapes by their letters and figures alone.
    pub(super) alike: BTreeMap<String, &'a str>,
}

impl Converter<'_> {
    /// Every row below the head: drafts, and what stands beside the table.
    pub(super) fn rows(&self) -> (Vec<Draft>, Vec<Beside>) {
        let (mut drafts, mut beside) = (Vec::new(), Vec::new());
        for row in self.map.head.1 + 1..self.sheet.rows.len() {
            if self.sheet.rows[row].iter().all(Cell::is_blank) {
                continue;
            }
            match self.no_data(row) {
                Some(why) => beside.push(Beside { row, text: self.text(row), why }),
                None => drafts.push(self.draft(row)),
            }
        }
        (drafts, beside)
    }

    fn text(&self, row: usize) -> String {
        let cells = self.sheet.rows[row].iter().map(Cell::text).filter(|text| !text.is_empty());
        cells.collect::<Vec<_>>().join(" | ")
    }

    /// A cell, or the one whose block reaches down to it.
    pub(super) fn cell(&self, row: usize, column: usize) -> &Cell {
        let cell = self.sheet.cell(row, column);
        let down = |m: &&Merge| {
            m.from.1 == column && m.to.1 == column && m.from.0 < row && row <= m.to.0 && m.from.0 > self.map.head.1
        };
        if cell.is_blank()
            && let Some(merge) = self.sheet.merges.iter().find(down)
        {
            return self.sheet.cell(merge.from.0, column);
        }
        cell
    }

    fn draft(&self, row: usize) -> Draft {
        let mut draft =
            Draft { row, key: String::new(), lines: Vec::new(), faults: Faults::default(), remarks: Vec::new() };
        if self.sheet.hidden_rows.contains(&row) {
            draft.remarks.push("the row is hidden in the sheet".to_owned());
        }
        if let Some(fault) = self.ragged(row) {
            draft.faults.add(fault);
        }
        let mut line = Line {
            target: self.map.target,
            cells: self.map.constants.iter().map(|(column, value)| ((*column).to_owned(), value.clone())).collect(),
            from: BTreeMap::new(),
            remarks: Vec::new(),
        };
        let mut apart: Vec<(&Column, Property, Amount)> = Vec::new();
        for column in self.map.columns.iter().filter(|c| c.is_used() && c.to != UNIT) {
            let place = self.sheet.place(row, column.index, &column.head);
            let Some(asked) = self.asked(row, column) else {
                match self.word(row, column) {
                    Ok(Some(text)) => {
                        line.cells.insert(column.to.clone(), text);
                        line.from.insert(column.to.clone(), (row, column.index));
                    }
                    Ok(None) => self.blank(row, column, &mut line),
                    Err(fault) => draft.faults.add(fault.at(place)),
                }
                continue;
            };
            match amount::read(self.cell(row, column.index), &asked) {
                Ok(Some(amount)) => {
                    line.from.insert(column.to.clone(), (row, column.index));
                    let beside = !self.map.target.columns().contains(&column.to.as_str());
                    match asked.property {
                        Some(property) if beside || self.map.target == Target::Tapes && amount.ends.is_some() => {
                            apart.push((column, property, amount));
                        }
                        _ => {
                            if let Some(remark) = &amount.remark {
                                line.remarks.push(format!("{} {remark}", column.to));
                            }
                            if let (Some((low, high)), "value") = (amount.ends, column.to.as_str()) {
                                line.cells.insert("low".to_owned(), low);
                                line.cells.insert("high".to_owned(), high);
                            }
                            line.cells.insert(column.to.clone(), amount.value);
                        }
                    }
                }
                Ok(None) => self.blank(row, column, &mut line),
                Err(fault) => draft.faults.add(fault.at(place)),
            }
        }
        self.key(row, &mut line, &mut draft);
        self.spread(row, line, apart, &mut draft);
        draft
    }

    /// A line with cells behind the last head: a delimiter within a cell moved what stands behind it.
    fn ragged(&self, row: usize) -> Option<Fault> {
        let width =
            |row: usize| self.sheet.rows[row].iter().rposition(|cell| !cell.is_blank()).map_or(0, |last| last + 1);
        let (first, last) = self.map.head;
        let (found, heads) = (width(row), (first..=last).map(width).max()?);
        let fault = || {
            Fault::new(
                Code::RowRagged,
                format!("{found} cells"),
                format!("{heads} cells, as in the head"),
                "put a number with a decimal comma, or a text with the delimiter in it, in double quotes",
            )
        };
        (self.sheet.delimited && !self.sheet.turned && found > heads).then(|| fault().at(self.sheet.row_place(row)))
    }

    /// A blank cell says nothing, unless the map says that it takes out what the data hold.
    fn blank(&self, row: usize, column: &Column, line: &mut Line) {
        let own = self.map.target.columns().contains(&column.to.as_str());
        if self.map.erase && own && !self.map.constants.contains_key(column.to.as_str()) {
            line.cells.insert(column.to.clone(), String::new());
            line.from.insert(column.to.clone(), (row, column.index));
        }
    }

    /// What is asked of a column's cell in a row, if it is a number.
    fn asked<'c>(&'c self, row: usize, column: &'c Column) -> Option<Asked<'c>> {
        let target = self.map.target;
        let value = target != Target::Tapes && matches!(column.to.as_str(), "value" | "low" | "high");
        let property = if value { Some(self.property(row)?) } else { Property::of(&column.to) };
        let kind = match property {
            Some(property) if value => property.spec().kind,
            _ => target.kind(&column.to)?,
        };
        let property =
            property.filter(|_| value || !target.columns().contains(&column.to.as_str()) || target == Target::Tapes);
        let beside = self.map.column(UNIT).filter(|_| value);
        let unit = beside.map(|c| self.cell(row, c.index).text()).filter(|unit| !unit.is_empty());
        Some(Asked { kind, property, column, unit, map: self.map_name })
    }

    /// The property that a row of a tidy table names.
    fn property(&self, row: usize) -> Option<Property> {
        let named = self.map.column("property").map(|c| (c, self.cell(row, c.index).text()));
        let text = match named {
            Some((column, text)) => meaning(column, &text).to_owned(),
            None => self.map.constants.get("property").cloned().unwrap_or_default(),
        };
        Property::of(&text).or_else(|| Property::of(&words::tokens(&text).join("_")))
    }

    /// The text of a cell, in the words of the data files.
    fn word(&self, row: usize, column: &Column) -> Result<Option<String>, Fault> {
        let cell = self.cell(row, column.index);
        let goal = column.to.as_str();
        let text = match &cell.value {
            Value::Blank => return Ok(None),
            Value::Number(number) if column.unit.as_deref() == Some("date") => day(*number)?,
            Value::Number(number) if column.words.is_empty() => plain(*number),
            Value::Error(error) => {
                let remedy = "put a text in the cell, or clear it";
                return Err(Fault::new(Code::ValueType, error.clone(), "a text", remedy));
            }
            Value::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
            _ => cell.text(),
        };
        let keeps = goal == "note" || goal.starts_with("x_");
        if !keeps && number::read(&text, Marks::default()) == Err(Trouble::NotKnown) {
            // `none` and a dash differ only where a list has the word.
            return Ok(None);
        }
        let meant = meaning(column, &text).to_owned();
        let allowed = cellwords::allowed(goal);
        if let Some(allowed) = allowed.filter(|allowed| !allowed.contains(&meant.as_str())) {
            let mut fault =
                Fault::unknown_word(Code::WordUnknown, &meant, "one of the known words", allowed.iter().copied());
            fault.remedy = format!(
                "say in {} what it means: `words = [[\"{text}\", \"{}\"]]` for `{}`, or another of: {}",
                self.map_name,
                allowed[0],
                column.head,
                allowed.join(", ")
            );
            return Err(fault);
        }
        self.material(&text, &meant, goal, column)?;
        if goal == "property" && Property::of(&meant).is_none() {
            let guess = words::tokens(&meant).join("_");
            if Property::of(&guess).is_some() {
                return Ok(Some(guess));
            }
            let names = Property::ALL.iter().map(|p| p.name());
            let mut fault = Fault::unknown_word(Code::WordUnknown, &meant, "a property", names);
            let words = format!("; say in {} what it means, with `words` for `{}`", self.map_name, column.head);
            fault.remedy.push_str(&words);
            return Err(fault);
        }
        Ok(Some(meant))
    }

    /// A material that a cell names: one of the data folder, or a question.
    fn material(&self, text: &str, meant: &str, goal: &str, column: &Column) -> Result<(), Fault> {
        let found = self.catalogue.material(meant).map(|m| self.catalogue.materials[m].kind);
        let is_tape = || self.catalogue.tape(meant).is_some();
        let (known, needed) = match (self.map.target, goal) {
            (Target::Tapes, "backing" | "adhesive") => {
                (found == Some(goal), format!("a material of kind {goal} in materials.csv"))
            }
            (Target::Pairs, "medium") => (
                found.is_some_and(|kind| !matches!(kind, "backing" | "adhesive")),
                "a liquid, resin, solvent or gas of materials.csv".to_owned(),
            ),
            (Target::Facts, "subject") | (Target::Pairs, "material") => {
                (found.is_some() || is_tape(), "a material of materials.csv or a tape of tapes.csv".to_owned())
            }
            _ => return Ok(()),
        };
        if known {
            return Ok(());
        }
        let candidates = cellwords::candidates(text, goal, self.catalogue, self.wordings);
        let (which, example) = match candidates.as_slice() {
            [] => ("add it there first; or if it has another key there,".to_owned(), "…".to_owned()),
            [one] => (format!("is it {one}? then"), one.clone()),
            [first, ..] => (format!("which is meant: {}?", candidates.join(", ")), first.clone()),
        };
        let say = format!("say so in {} with `words = [[\"{text}\", \"{example}\"]]`", self.map_name);
        let remedy = format!("{which} {say} for `{}`", column.head);
        Err(Fault::new(Code::ReferenceUnknown, format!("`{text}`"), needed, remedy))
    }

    /// The key of the row, without the marks of a footnote, and not nearly another one.
    fn key(&self, row: usize, line: &mut Line, draft: &mut Draft) {
        let needed = self.map.target.needed();
        for key in needed {
            let place = || match self.map.column(key) {
                Some(column) => self.sheet.place(row, column.index, &column.head),
                None => self.sheet.row_place(row),
            };
            let Some(text) = line.cells.get(*key).cloned() else {
                let stated = self.map.column(key).is_some_and(|c| !self.cell(row, c.index).is_blank());
                if stated && !draft.faults.is_empty() {
                    // Something stands there, and what is wrong with it has been said.
                    continue;
                }
                let fault = Fault::new(
                    Code::KeyMissing,
                    "an empty cell",
                    format!("`{key}` in every row"),
                    "fill it in; if this is a remark below the table, state the `last` row in the map",
                );
                draft.faults.add(fault.at(place()));
                continue;
            };
            let plain = text.trim_end_matches(['*', '†', '‡', '⁾', '¹', '²', '³', ' ']);
            if plain.len() < text.len() && !plain.is_empty() {
                draft.remarks.push(format!("`{text}`: the footnote mark was taken off"));
                line.cells.insert((*key).to_owned(), plain.to_owned());
            }
            if self.map.target == Target::Tapes {
                let near = self.alike.get(&words::tokens(plain).concat());
                if let Some(id) = near.filter(|id| **id != plain && self.catalogue.tape(plain).is_none()) {
                    let fault = Fault::new(
                        Code::KeyNearly,
                        format!("`{plain}`, and the data hold `{id}`"),
                        "keys that nobody can take for one another",
                        format!("if it is the same tape, write `{id}`; if not, give it another key"),
                    );
                    draft.faults.add(fault.at(place()));
                }
            }
        }
        let parts = needed.iter().filter_map(|key| line.cells.get(*key));
        draft.key = parts.cloned().collect::<Vec<_>>().join(" in ");
        if self.map.target == Target::Tapes && !line.cells.contains_key("name") {
            let name = line.cells.get("tape").cloned().unwrap_or_default();
            if self.catalogue.tape(&name).is_none() {
                line.cells.insert("name".to_owned(), name);
            }
        }
    }

    /// The lines of a row: a tape with the ranges of its cells as facts; a material with its properties.
    fn spread(&self, row: usize, mut line: Line, apart: Vec<(&Column, Property, Amount)>, draft: &mut Draft) {
        let stated: Vec<String> = line.from.keys().cloned().collect();
        for (column, property, amount) in apart {
            let target = if self.map.target == Target::Tapes { Target::Facts } else { self.map.target };
            line.from.remove(&column.to);
            let mut fact = Line {
                target,
                cells: Named::new(),
                from: BTreeMap::from([("value".to_owned(), (row, column.index))]),
                remarks: amount.remark.clone().into_iter().collect(),
            };
            if self.map.target == Target::Tapes {
                fact.cells.insert("subject".to_owned(), line.cells.get("tape").cloned().unwrap_or_default());
                for column in ["basis", "source"] {
                    fact.cells.insert(column.to_owned(), line.cells.get(column).cloned().unwrap_or_default());
                }
                // The range stands in facts.csv alone: a cell beside it would say that it is exact.
                line.cells.insert(column.to.clone(), String::new());
                line.from.insert(column.to.clone(), (row, column.index));
                draft.remarks.push(format!("{} {}: facts.csv", column.to, amount.remark.unwrap_or_default()));
            } else {
                fact.cells.clone_from(&line.cells);
                fact.remarks.extend(line.remarks.clone());
                for (name, at) in &line.from {
                    if target.columns().contains(&name.as_str()) {
                        fact.from.insert(name.clone(), *at);
                    }
                }
                if target == Target::Pairs && !fact.cells.contains_key("effect") {
                    fact.cells.insert("effect".to_owned(), effect(property).to_owned());
                }
            }
            fact.cells.insert("property".to_owned(), property.name().to_owned());
            fact.cells.insert("value".to_owned(), amount.value);
            if let Some((low, high)) = amount.ends {
                fact.cells.insert("low".to_owned(), low);
                fact.cells.insert("high".to_owned(), high);
            }
            draft.lines.push(fact);
        }
        let tidy = self.map.target == Target::Tapes || stated.iter().any(|c| c == "value") || draft.lines.is_empty();
        if tidy {
            draft.lines.insert(0, line);
        }
        for line in &mut draft.lines {
            let places: Vec<String> = line
                .from
                .iter()
                .map(|(column, (row, at))| format!("{column} {}", self.sheet.address(*row, *at)))
                .collect();
            line.cells.insert(FROM.to_owned(), format!("{}: {}", self.sheet.title(), places.join(", ")));
        }
    }
}

/// The direction that a property has by itself.
#[must_use]
pub(super) fn effect(property: Property) -> &'static str {
    let of_medium = matches!(
        property,
        Property::LossFactor
            | Property::InterfacialTension
            | Property::Acidity
            | Property::Colour
            | Property::Breakdown
            | Property::DissolvedGas
            | Property::GelTime
    );
    if of_medium { "on-medium" } else { "on-material" }
}

/// The date of a spreadsheet's day number: days since 30 December 1899, as ISO/IEC 29500 counts them
/// (from memory).
fn day(number: f64) -> Result<String, Fault> {
    let wrong = || {
        Fault::new(
            Code::ValueImpossible,
            format!("`{}`", plain(number)),
            "the day number of a date between 1900 and 2200",
            "write the date, such as 2026-11-20",
        )
    };
    if !(1.0..110_000.0).contains(&number) {
        return Err(wrong());
    }
    #[expect(clippy::cast_possible_truncation, reason = "a day number of at most six digits")]
    let days = libm::floor(number) as i64;
    let date = jiff::civil::date(1899, 12, 30).checked_add(jiff::Span::new().days(days)).map_err(|_| wrong())?;
    Ok(date.to_string())
}
