//! A cell to a value with its unit, as it was written; what had to be read into it is said.

use crate::catalogue::Property;
use crate::fault::{Code, Fault};
use crate::quantity::Kind;

use super::map::Column;
use super::number::{self, Claim, Reading, Trouble};
use super::sheet::{Cell, Value, plain};
use super::units;

/// A value as the data files write it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Amount {
    /// The number with its unit.
    pub(super) value: String,
    /// The ends of a range, with their unit.
    pub(super) ends: Option<(String, String)>,
    /// What was read into the cell, for the note of the row.
    pub(super) remark: Option<String>,
}

/// What is asked of a cell.
#[derive(Clone, Debug)]
pub(super) struct Asked<'a> {
    /// What the number is.
    pub(super) kind: &'static Kind,
    /// Of which property, if of one.
    pub(super) property: Option<Property>,
    /// The column.
    pub(super) column: &'a Column,
    /// A unit that another cell of the row states.
    pub(super) unit: Option<String>,
    /// Where the answer goes.
    pub(super) map: &'a str,
}

/// Shares that people write in per cent: without a unit, 0.5 may be a half or half a per cent.
const SHARES: &[&str] = &[
    "elongation",
    "shrinkage",
    "outgassing",
    "open_porosity",
    "porosity",
    "moisture_absorption",
    "soluble_fraction",
    "saturation_uptake",
    "extractable",
    "adhesion_kept",
    "shear_kept",
    "bond_kept",
    "tensile_kept",
    "breakdown_kept",
    "humidity",
    "polymer_fraction",
];

/// Properties of which more is better: what is said to be at least a number may count as the number.
const AT_LEAST: &[&str] = &[
    "breakdown",
    "tensile",
    "elongation",
    "adhesion",
    "adhesion_to_backing",
    "shear",
    "edge_tear",
    "puncture",
    "temperature_index",
    "electrolytic_corrosion",
    "tracking_index",
    "shelf_life",
    "roll_length",
    "adhesion_kept",
    "shear_kept",
    "bond_kept",
    "tensile_kept",
    "breakdown_kept",
    "flash_point",
    "volume_resistivity",
    "pot_life",
];

/// Properties of which less is better.
const AT_MOST: &[&str] = &[
    "halogen",
    "sulphur",
    "shrinkage",
    "outgassing",
    "minimum_width",
    "relative_cost",
    "cold_bend",
    "acidity",
    "loss_factor",
    "saturation_uptake",
    "extractable",
    "moisture_absorption",
];

/// Reads a cell; none if it says that nothing is known.
pub(super) fn read(cell: &Cell, asked: &Asked<'_>) -> Result<Option<Amount>, Fault> {
    let written = cell.text();
    let reading = match &cell.value {
        Value::Blank => return Ok(None),
        Value::Number(number) => exact(plain(*number), cell.shown_unit.clone().unwrap_or_default()),
        Value::Percent(number) => exact(plain(number * 100.0), "%".to_owned()),
        Value::Text(_) => {
            let text = meaning(asked.column, &written);
            if text == "none" && asked.property.is_some_and(|p| matches!(p, Property::Halogen | Property::Sulphur)) {
                return Ok(Some(Amount { value: text.to_owned(), ..Amount::default() }));
            }
            match number::read(text, asked.column.marks) {
                Ok(reading) => reading,
                Err(Trouble::NotKnown) => return Ok(None),
                Err(trouble) => return Err(refuse(&written, &trouble, asked)),
            }
        }
        Value::Date(date) => {
            return Err(Fault::new(
                Code::ValueType,
                format!("the date {date}"),
                asked.kind.name,
                "the spreadsheet took what was typed for a date; type it again in a cell of format text",
            ));
        }
        Value::Flag(_) => return Err(wrong(format!("`{written}`, a yes or no"), asked)),
        Value::Error(error) => return Err(wrong(error.clone(), asked)),
    };
    amount(&written, &reading, asked).map(Some)
}

/// What a text of a column stands for.
pub(super) fn meaning<'t>(column: &'t Column, text: &'t str) -> &'t str {
    column.words.iter().find(|(from, _)| from == text).map_or(text, |(_, to)| to.as_str())
}

fn exact(number: String, unit: String) -> Reading {
    Reading { number, ends: None, middle: false, claim: Claim::Exact, unit, mark: String::new() }
}

fn wrong(found: String, asked: &Asked<'_>) -> Fault {
    let remedy = format!("put {} in the cell, such as `{}`, or clear it", asked.kind.name, asked.kind.example);
    Fault::new(Code::ValueType, found, asked.kind.name, remedy)
}

fn refuse(written: &str, trouble: &Trouble, asked: &Asked<'_>) -> Fault {
    let map = asked.map;
    let head = &asked.column.head;
    let mark = if written.contains(',') { "comma" } else { "point" };
    match trouble {
        Trouble::Either(thousands, fraction) => Fault::new(
            Code::ValueAmbiguous,
            format!("`{written}`, which is {thousands} or {fraction}"),
            "one reading",
            format!(
                "is it {thousands}? then state `thousands = \"{mark}\"` for `{head}` in {map}; is it {fraction}? then \
                 `decimal = \"{mark}\"`"
            ),
        ),
        Trouble::OtherMark => Fault::new(
            Code::ValueAmbiguous,
            format!("`{written}`, with another decimal mark than the rest of the column"),
            "one decimal mark in a column",
            format!("mend the cell, or the `decimal` of `{head}` in {map}"),
        ),
        Trouble::NotKnown | Trouble::Unreadable => Fault::new(
            Code::NumberUnreadable,
            format!("`{written}`"),
            asked.kind.name,
            format!(
                "write one number, such as `{}`, or a range such as `40–50`; or clear the cell",
                asked.kind.example
            ),
        ),
    }
}

fn amount(written: &str, reading: &Reading, asked: &Asked<'_>) -> Result<Amount, Fault> {
    let name = asked.property.map_or("", Property::name);
    let (unit, factor) = unit(written, reading, asked)?;
    let with = |number: &str| -> Result<String, Fault> {
        let number = match factor {
            Some(factor) => plain(number.parse::<f64>().unwrap_or(f64::NAN) * factor),
            None => number.to_owned(),
        };
        let text = if unit.is_empty() { number } else { format!("{number} {unit}") };
        asked.kind.read(&text).map(|_| text)
    };
    let value = with(&reading.number)?;
    let ends = reading.ends.as_ref().map(|(low, high)| Ok((with(low)?, with(high)?))).transpose()?;
    // What a row is told from others by, and the ends of a spread, are one number each.
    let single = asked.property.is_none() || matches!(asked.column.to.as_str(), "low" | "high");
    if single && ends.is_some() {
        return Err(Fault::new(
            Code::ValueAmbiguous,
            format!("`{written}`, a range"),
            "one number",
            "write the number that holds for the result, and the range in a note",
        ));
    }
    let mut remarks: Vec<String> = Vec::new();
    match reading.claim {
        Claim::Exact => {}
        Claim::About => remarks.push(format!("`{written}` in the table")),
        Claim::AtLeast if AT_LEAST.contains(&name) => {
            remarks.push(format!("`{written}` in the table: the limit stands"));
        }
        Claim::AtMost if AT_MOST.contains(&name) => remarks.push(format!("`{written}` in the table: the limit stands")),
        Claim::AtLeast | Claim::AtMost => {
            return Err(Fault::new(
                Code::ValueAmbiguous,
                format!("`{written}`, a limit and not a number"),
                "a number that can be worked with",
                "the limit is not the cautious number here: ask for the measured value, or write the number you stand by",
            ));
        }
    }
    if ends.is_some() {
        let middle = if reading.middle { "; the value is their middle" } else { "" };
        remarks.push(format!("`{written}` in the table, taken as the 5th and 95th percentile{middle}"));
    }
    if factor.is_some() {
        let stated = if reading.unit.is_empty() { asked.column.unit.as_deref().unwrap_or_default() } else { "" };
        remarks.push(format!("`{}` in the table", format!("{written} {stated}").trim_end()));
    }
    if !reading.mark.is_empty() {
        remarks.push(format!("footnote {} in the table", reading.mark));
    }
    let remark = (!remarks.is_empty()).then(|| remarks.join("; "));
    Ok(Amount { value, ends, remark })
}

/// The unit of a reading: that of the cell, else of the row, else of the column.
fn unit(written: &str, reading: &Reading, asked: &Asked<'_>) -> Result<(String, Option<f64>), Fault> {
    let kind = asked.kind;
    let stated = [Some(reading.unit.as_str()), asked.unit.as_deref(), asked.column.unit.as_deref()];
    let stated = stated.into_iter().flatten().find(|unit| !unit.is_empty()).unwrap_or_default();
    if stated == "1" && kind.bare {
        return Ok((String::new(), None));
    }
    if stated.is_empty() {
        let share = asked.property.is_some_and(|p| SHARES.contains(&p.name())) || asked.property.is_none() && kind.bare;
        if kind.bare && !share {
            return Ok((String::new(), None));
        }
        let needed =
            if share { "a share: plain, or in per cent".to_owned() } else { format!("the unit of {}", kind.name) };
        let example = if share { "`unit = \"%\"` or `unit = \"1\"`".to_owned() } else { unit_example(kind) };
        return Err(Fault::new(
            Code::UnitMissing,
            format!("`{written}`, and neither cell nor head says in which unit"),
            needed,
            format!("which unit is meant? state {example} for `{}` in {}", asked.column.head, asked.map),
        ));
    }
    if let Some(spelled) = units::spell(kind, stated) {
        return Ok((spelled.unit, spelled.factor));
    }
    // The fault is the one that the data files would give.
    match kind.read(&format!("1 {stated}")) {
        Err(fault) => Err(Fault { found: format!("`{written}`, with the unit `{stated}`"), ..fault }),
        Ok(_) => Ok((stated.to_owned(), None)),
    }
}

fn unit_example(kind: &Kind) -> String {
    let unit = kind.example.split_once(' ').map_or("1", |(_, unit)| unit);
    format!("`unit = \"{unit}\"`, or another,")
}
