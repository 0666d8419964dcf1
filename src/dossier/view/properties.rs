//! Properties of the short list, like for like: a value stands in the comparison only if it was
//! taken as the first tape's was; others stand apart, with the condition that differs.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Case, References};
use crate::catalogue::Property;

/// The comparison.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Properties {
    /// The tapes, in their order.
    pub tapes: Vec<String>,
    /// One line a property.
    pub lines: Vec<PropertyLine>,
    /// Values that were taken otherwise.
    pub apart: Vec<Apart>,
    /// The numbers of the sheets' sources, one a tape.
    pub sources: Vec<usize>,
}

/// One property.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PropertyLine {
    /// Its name.
    pub name: String,
    /// The condition that all values share.
    pub condition: String,
    /// The values, one a tape; empty where not known or taken otherwise.
    pub values: Vec<String>,
}

/// A value that was taken otherwise.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Apart {
    /// The tape.
    pub tape: String,
    /// The property.
    pub name: String,
    /// The value.
    pub value: String,
    /// How it was taken.
    pub condition: String,
    /// How the compared ones were.
    pub compared: String,
}

/// Properties and what is part of their numbers.
const COMPARED: &[(Property, &[Part])] = &[
    (Property::TotalThickness, &[]),
    (Property::BackingThickness, &[]),
    (Property::AdhesiveThickness, &[]),
    (Property::Breakdown, &[Part::Text("breakdown_method")]),
    (Property::Tensile, &[Part::Text("tensile_method")]),
    (Property::Elongation, &[Part::Text("tensile_method")]),
    (
        Property::Adhesion,
        &[
            Part::Text("adhesion_surface"),
            Part::Number(Property::AdhesionAngle),
            Part::Number(Property::AdhesionDwell),
            Part::Text("adhesion_method"),
        ],
    ),
    (
        Property::AdhesionToBacking,
        &[Part::Number(Property::AdhesionAngle), Part::Number(Property::AdhesionDwell), Part::Text("adhesion_method")],
    ),
    (Property::Shear, &[Part::Number(Property::ShearTemperature), Part::Text("shear_method")]),
    (Property::TemperatureIndex, &[Part::Text("index_basis")]),
    (Property::HalvingInterval, &[]),
    (Property::ElectrolyticCorrosion, &[]),
    (Property::TrackingIndex, &[]),
    (Property::Shrinkage, &[Part::Number(Property::ShrinkageTemperature)]),
    (Property::Outgassing, &[]),
    (Property::ColdBend, &[]),
    (Property::OpenPorosity, &[]),
    (Property::ShelfLife, &[]),
    (Property::RollLength, &[]),
    (Property::RelativeCost, &[]),
];

/// A thing that is part of a number.
enum Part {
    /// A text of the sheet.
    Text(&'static str),
    /// A number of the sheet.
    Number(Property),
}

/// A property's value in the unit that suits it.
pub(super) fn value(case: &Case<'_>, property: Property, si: f64) -> String {
    let l = case.language;
    match property {
        Property::Elongation | Property::Shrinkage | Property::Outgassing | Property::OpenPorosity => l.percent(si),
        property => l.sized_to(property.spec().kind, si, 3),
    }
}

pub(super) fn properties(case: &Case<'_>, references: &mut References) -> Properties {
    let l = case.language;
    let tapes: Vec<usize> = case.short_list().iter().map(|r| r.tape).collect();
    let mut lines = Vec::new();
    let mut apart = Vec::new();
    for (property, parts) in COMPARED {
        let name = l.text(&format!("properties.{}", property.name())).to_owned();
        let cells: Vec<Option<(String, String)>> = tapes
            .iter()
            .map(|tape| {
                let found = case.plan.catalogue.sheet(*tape, *property)?;
                Some((value(case, *property, found.spread.value), condition(case, *tape, parts)))
            })
            .collect();
        let Some(shared) = most_common(&cells) else { continue };
        let mut values = Vec::new();
        for (tape, cell) in tapes.iter().zip(cells) {
            match cell {
                Some((value, condition)) if condition == shared => values.push(value),
                Some((value, condition)) => {
                    values.push(l.text("properties.apart_mark").to_owned());
                    apart.push(Apart {
                        tape: case.tape_id(*tape).to_owned(),
                        name: name.clone(),
                        value,
                        condition,
                        compared: shared.clone(),
                    });
                }
                None => values.push(String::new()),
            }
        }
        lines.push(PropertyLine { name, condition: shared, values });
    }
    Properties {
        sources: tapes.iter().map(|t| references.number(&case.plan.catalogue.tapes[*t].source)).collect(),
        tapes: tapes.iter().map(|t| case.tape_id(*t).to_owned()).collect(),
        lines,
        apart,
    }
}

/// The condition that most values share; of equals the first in the order of tapes.
fn most_common(cells: &[Option<(String, String)>]) -> Option<String> {
    let mut best: Option<(usize, &String)> = None;
    for (_, condition) in cells.iter().flatten() {
        let count = cells.iter().flatten().filter(|(_, c)| c == condition).count();
        if best.is_none_or(|(most, _)| count > most) {
            best = Some((count, condition));
        }
    }
    best.map(|(_, condition)| condition.clone())
}

fn condition(case: &Case<'_>, tape: usize, parts: &[Part]) -> String {
    let l = case.language;
    let texts: Vec<String> = parts
        .iter()
        .map(|part| match part {
            Part::Text(column) => {
                let text = case.plan.catalogue.tapes[tape].text(column);
                if text.is_empty() { l.text("properties.unstated").to_owned() } else { text.to_owned() }
            }
            Part::Number(property) => case
                .plan
                .catalogue
                .sheet(tape, *property)
                .map_or_else(|| l.text("properties.unstated").to_owned(), |f| value(case, *property, f.spread.value)),
        })
        .collect();
    texts.join(", ")
}
