//! What a cell of a row says: a value, a word, a reference.

use std::collections::HashMap;

use crate::catalogue::{On, Property, Subject};
use crate::evidence::{Basis, Place, Shape, Spread};
use crate::fault::{Code, Fault};
use crate::load::{Cell, Row};
use crate::quantity::{FRACTION, Kind};

use super::{Builder, is_medium};

impl Builder<'_> {
    pub(super) fn spread(
        &mut self,
        row: &Row,
        property: Property,
        value: f64,
        low: Option<f64>,
        high: Option<f64>,
    ) -> Option<Spread> {
        let spec = property.spec();
        let (low, high) = match (low, high) {
            (None, None) => return Some(Spread::exact(value)),
            (Some(low), Some(high)) if low <= value && value <= high => (low, high),
            (Some(_), Some(_)) => {
                self.faults.add(
                    Fault::new(
                        Code::SpreadOrder,
                        format!(
                            "low `{}`, value `{}`, high `{}`",
                            row.text("low"),
                            row.text("value"),
                            row.text("high")
                        ),
                        "low ≤ value ≤ high: the 5th percentile, the median, the 95th percentile",
                        "put the three in order",
                    )
                    .at(row.place("low")),
                );
                return None;
            }
            (low, _) => {
                let column = if low.is_none() { "low" } else { "high" };
                self.faults.add(
                    Fault::new(
                        Code::KeyMissing,
                        "one end of a spread",
                        "both `low` and `high`, or neither",
                        "fill in the other end",
                    )
                    .at(row.place(column)),
                );
                return None;
            }
        };
        let shape = if low > 0.0 && !spec.signed { Shape::LogNormal } else { Shape::Normal };
        Some(Spread { value, low, high, shape, floor: spec.floor, ceiling: spec.ceiling })
    }

    /// Reads a value and holds it against the property's physical bounds.
    pub(super) fn value(&mut self, property: Property, text: &str, place: &Place) -> Option<f64> {
        let spec = property.spec();
        let read = spec.kind.read(text).and_then(|si| {
            if si >= spec.floor && si <= spec.ceiling {
                return Ok(si);
            }
            Err(Fault::new(
                Code::ValueImpossible,
                format!("`{text}`"),
                bounds_text(spec.floor, spec.ceiling),
                format!("correct the value; `{}` cannot be outside these bounds", spec.name),
            ))
        });
        self.faults.keep(read, place)
    }

    pub(super) fn optional(&mut self, row: &Row, column: &str, kind: &'static Kind) -> Option<f64> {
        let cell = row.get(column)?;
        self.faults.keep(kind.read(&cell.text), &cell.place)
    }

    /// A share between 0 and 1.
    pub(super) fn share(&mut self, row: &Row, column: &str) -> Option<f64> {
        let cell = row.get(column)?;
        let read = FRACTION.read(&cell.text).and_then(|value| {
            if (0.0..=1.0).contains(&value) {
                return Ok(value);
            }
            Err(Fault::new(
                Code::ValueImpossible,
                format!("`{}`", cell.text),
                bounds_text(0.0, 1.0),
                "write a fraction such as `0.5` or `50 %`",
            ))
        });
        self.faults.keep(read, &cell.place)
    }

    pub(super) fn property(&mut self, row: &Row, on: &[On]) -> Option<Property> {
        let cell = row.needed("property", self.faults)?;
        let found = Property::of(&cell.text).filter(|p| on.contains(&p.spec().on));
        if found.is_none() {
            let known = Property::ALL.iter().filter(|p| on.contains(&p.spec().on)).map(|p| p.name());
            let mut fault = Fault::unknown_word(Code::WordUnknown, &cell.text, "a property that may stand here", known);
            if Property::of(&cell.text).is_some() {
                fault = Fault::new(
                    Code::RowUnread,
                    format!("`{}`", cell.text),
                    "a property that is read of this subject",
                    "take the row out, or move it to the file or subject it belongs to",
                );
            }
            self.faults.add(fault.at(cell.place.clone()));
        }
        found
    }

    pub(super) fn basis(&mut self, row: &Row) -> Option<Basis> {
        let cell = row.needed("basis", self.faults)?;
        let found = Basis::ALL.into_iter().find(|b| b.text() == cell.text);
        match found {
            None => {
                let fault =
                    Fault::unknown_word(Code::WordUnknown, &cell.text, "a basis", Basis::ALL.iter().map(|b| b.text()));
                self.faults.add(fault.at(cell.place.clone()));
            }
            Some(Basis::Invented) if !self.out.about.invented => {
                self.faults.add(
                    Fault::new(
                        Code::BasisRefused,
                        "`invented`, where about.toml does not say that the catalogue is invented",
                        "a number that somebody measured, published or estimated",
                        "take the row out, or set `invented = true` in about.toml if this is a demonstration",
                    )
                    .at(cell.place.clone()),
                );
            }
            Some(_) => {}
        }
        found
    }

    pub(super) fn source(&mut self, row: &Row) {
        let Some(cell) = row.needed("source", self.faults) else { return };
        if !self.out.sources.is_empty() && !self.out.sources.contains_key(&cell.text) {
            let known = self.out.sources.keys().map(String::as_str);
            let mut fault = Fault::unknown_word(Code::SourceUnknown, &cell.text, "a key of sources.yml", known);
            fault.remedy += " (or add the work to sources.yml)";
            self.faults.add(fault.at(cell.place.clone()));
        }
    }

    pub(super) fn subject(&mut self, row: &Row, column: &'static str) -> Option<Subject> {
        let cell = row.needed(column, self.faults)?;
        let found = self
            .out
            .material(&cell.text)
            .map(Subject::Material)
            .or_else(|| self.out.tape(&cell.text).map(Subject::Tape));
        if found.is_none() && !self.declared.iter().any(|keys| keys.contains(&cell.text)) {
            let out = &self.out;
            let names = out.materials.iter().map(|m| m.id.as_str()).chain(out.tapes.iter().map(|t| t.id.as_str()));
            let fault = Fault::unknown_word(
                Code::ReferenceUnknown,
                &cell.text,
                "a material of materials.csv or a tape of tapes.csv",
                names,
            );
            self.faults.add(fault.at(cell.place.clone()));
        }
        found
    }

    pub(super) fn medium(&mut self, row: &Row) -> Option<usize> {
        let cell = row.needed("medium", self.faults)?;
        let found = self.out.material(&cell.text).filter(|m| is_medium(&self.out.materials[*m]));
        if found.is_none() && (self.out.material(&cell.text).is_some() || !self.declared[0].contains(&cell.text)) {
            let media = self.out.materials.iter().filter(|m| is_medium(m)).map(|m| m.id.as_str());
            let fault = Fault::unknown_word(
                Code::ReferenceUnknown,
                &cell.text,
                "a liquid, resin, solvent or gas of materials.csv",
                media,
            );
            self.faults.add(fault.at(cell.place.clone()));
        }
        found
    }

    /// A material of a given kind that a cell names.
    pub(super) fn reference(&mut self, row: &Row, column: &'static str, kind: &str) -> Option<usize> {
        let cell = row.needed(column, self.faults)?;
        let found = self.out.material(&cell.text).filter(|m| self.out.materials[*m].kind == kind);
        if found.is_none() && (self.out.material(&cell.text).is_some() || !self.declared[0].contains(&cell.text)) {
            let names = self.out.materials.iter().filter(|m| m.kind == kind).map(|m| m.id.as_str());
            let fault = Fault::unknown_word(
                Code::ReferenceUnknown,
                &cell.text,
                &format!("a material of kind {kind} in materials.csv"),
                names,
            );
            self.faults.add(fault.at(cell.place.clone()));
        }
        found
    }

    pub(super) fn dangling<'n>(&mut self, cell: &Cell, needed: &str, names: impl Iterator<Item = &'n str>) {
        self.faults.add(Fault::unknown_word(Code::ReferenceUnknown, &cell.text, needed, names).at(cell.place.clone()));
    }

    pub(super) fn needed_word(
        &mut self,
        row: &Row,
        column: &'static str,
        allowed: &'static [&'static str],
    ) -> Option<&'static str> {
        row.needed(column, self.faults)?;
        self.word(row, column, allowed)
    }

    pub(super) fn word(&mut self, row: &Row, column: &str, allowed: &'static [&'static str]) -> Option<&'static str> {
        let cell = row.get(column)?;
        let found = allowed.iter().find(|w| **w == cell.text).copied();
        if found.is_none() {
            let fault =
                Fault::unknown_word(Code::WordUnknown, &cell.text, "one of the known words", allowed.iter().copied());
            self.faults.add(fault.at(cell.place.clone()));
        }
        found
    }

    /// Rows whose key stands once; a second one is a fault.
    pub(super) fn unique(&mut self, rows: Vec<Row>, column: &'static str) -> Vec<Row> {
        let mut seen: HashMap<String, u32> = HashMap::new();
        rows.into_iter()
            .filter(|row| {
                let Some(cell) = row.needed(column, self.faults) else { return false };
                let Some(first) = seen.get(&cell.text) else {
                    seen.insert(cell.text.clone(), row.place.line);
                    return true;
                };
                self.faults.add(
                    Fault::new(
                        Code::KeyDuplicate,
                        format!("a second `{}`, first on line {first}", cell.text),
                        "each key once",
                        "rename one or take it out",
                    )
                    .at(cell.place.clone()),
                );
                false
            })
            .collect()
    }
}

fn bounds_text(floor: f64, ceiling: f64) -> String {
    match (floor.is_finite(), ceiling.is_finite()) {
        (true, true) => format!("a value from {floor} to {ceiling}"),
        (true, false) => format!("a value of at least {floor}"),
        (false, true) => format!("a value of at most {ceiling}"),
        (false, false) => "a finite value".to_owned(),
    }
}
