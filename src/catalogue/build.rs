//! Rows to the catalogue, with every fault on the way.

use std::collections::{HashMap, HashSet};

use crate::evidence::{Basis, FactId, Place, Shape, Spread};
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Cell, Folder, JURISDICTIONS, Keys, Row};
use crate::quantity::{FRACTION, TEMPERATURE, TIME};

use super::{About, Catalogue, Caution, Fact, Material, On, Pointer, Property, Region, Subject, Tape, criteria, words};

const MATERIAL_COLUMNS: &[&str] = &["id", "kind", "family", "name", "cures_to"];
/// The columns of `facts.csv`.
pub const FACT_COLUMNS: &[&str] =
    &["subject", "property", "value", "low", "high", "temperature", "condition", "basis", "source", "note"];
/// The columns of `pairs.csv`.
pub const PAIR_COLUMNS: &[&str] = &[
    "material",
    "medium",
    "effect",
    "property",
    "value",
    "low",
    "high",
    "temperature",
    "duration",
    "polymer_fraction",
    "humidity",
    "atmosphere",
    "basis",
    "source",
    "note",
];
/// The columns of `tapes.csv`.
pub const TAPE_COLUMNS: &[&str] = &[
    "tape",
    "name",
    "status",
    "revision",
    "backing",
    "backing_thickness",
    "adhesive",
    "adhesive_thickness",
    "coated_sides",
    "adhesive_cure",
    "cure_temperature",
    "cure_time",
    "total_thickness",
    "colour",
    "breakdown",
    "breakdown_method",
    "tensile",
    "tensile_method",
    "elongation",
    "adhesion",
    "adhesion_surface",
    "adhesion_angle",
    "adhesion_dwell",
    "adhesion_method",
    "adhesion_to_backing",
    "shear",
    "shear_temperature",
    "shear_method",
    "unwind",
    "edge_tear",
    "puncture",
    "temperature_index",
    "halving_interval",
    "index_basis",
    "systems",
    "flame",
    "electrolytic_corrosion",
    "halogen",
    "sulphur",
    "silicone",
    "tracking_index",
    "shrinkage",
    "shrinkage_temperature",
    "cold_bend",
    "outgassing",
    "open_porosity",
    "shelf_life",
    "storage",
    "roll_length",
    "minimum_width",
    "relative_cost",
    "source",
    "basis",
    "note",
];
/// Columns of `tapes.csv` that are kept as text.
const TAPE_TEXTS: &[&str] = &[
    "colour",
    "breakdown_method",
    "tensile_method",
    "adhesion_surface",
    "adhesion_method",
    "shear_method",
    "index_basis",
    "flame",
    "silicone",
    "storage",
    "note",
];
/// The data format this program reads: its name, and its number.
const FORMAT: (&str, u32) = ("lapwise/data/", 1);

impl Catalogue {
    /// Builds the catalogue of a folder.
    ///
    /// # Errors
    /// Every fault found in every file but the enquiries.
    pub fn build(folder: &Folder) -> Result<Catalogue, Faults> {
        let mut faults = Faults::default();
        let catalogue =
            Builder { folder, faults: &mut faults, out: Catalogue::default(), declared: declared(folder) }.run();
        faults.or(catalogue)
    }
}

struct Builder<'a> {
    folder: &'a Folder,
    faults: &'a mut Faults,
    out: Catalogue,
    /// Keys that stand in a file, in however faulty a row: what refers to them is not a further fault.
    declared: HashSet<String>,
}

impl Builder<'_> {
    fn run(mut self) -> Catalogue {
        self.out.about = self.about();
        if self.faults.has(Code::FormatUnknown) {
            // What else looks wrong in data of another format is not a fault of theirs.
            return self.out;
        }
        self.out.sources = load::bibliography("sources.yml", self.folder.text("sources.yml"), self.faults);
        self.materials();
        self.tapes();
        self.facts();
        self.pairs();
        self.index();
        let keys = load::toml("criteria.toml", self.folder.text("criteria.toml"), self.faults);
        (self.out.criteria, self.out.preferences) = criteria::read(keys, self.faults);
        self.check_criteria();
        self.cautions();
        self.regions();
        self.out
    }

    fn about(&mut self) -> About {
        let f = &mut *self.faults;
        let mut k = load::toml("about.toml", self.folder.text("about.toml"), f);
        for key in ["format", "version", "date", "owner", "invented"] {
            k.present(key, f);
        }
        if let Some(format) = k.text("format", f)
            && let Some(remedy) = other_format(&format)
        {
            let needed = format!("`{}{}`", FORMAT.0, FORMAT.1);
            f.add(Fault::new(Code::FormatUnknown, format!("`{format}`"), needed, remedy).at(k.place_of("format")));
        }
        let about = About {
            version: k.text("version", f).unwrap_or_default(),
            date: k.date("date", f).unwrap_or_default(),
            owner: k.text("owner", f).unwrap_or_default(),
            invented: k.flag("invented", f).unwrap_or_default(),
            scenario: k.text("scenario", f).unwrap_or_default(),
        };
        k.finish(f);
        about
    }

    fn rows(&mut self, file: &str, columns: &[&'static str]) -> Vec<Row> {
        load::table(file, self.folder.text(file), columns, self.faults)
    }

    fn materials(&mut self) {
        let rows = self.rows("materials.csv", MATERIAL_COLUMNS);
        let mut rows = self.unique(rows, "id");
        rows.sort_by(|a, b| a.text("id").cmp(b.text("id")));
        let ids: Vec<String> = rows.iter().map(|row| row.text("id").to_owned()).collect();
        for row in rows {
            for column in ["id", "family", "name"] {
                row.needed(column, self.faults);
            }
            let Some(kind) = self.word(&row, "kind", words::MATERIAL) else { continue };
            let cures_to = row.get("cures_to").and_then(|cell| {
                let found = ids.binary_search(&cell.text).ok();
                if found.is_none() {
                    self.dangling(cell, "a material of materials.csv", ids.iter().map(String::as_str));
                }
                found
            });
            self.out.materials.push(Material {
                id: row.text("id").to_owned(),
                kind,
                family: row.text("family").to_owned(),
                name: row.text("name").to_owned(),
                short: String::new(),
                cures_to,
                place: row.place("id"),
            });
        }
        let short: Vec<String> = self.out.materials.iter().map(|m| short(&self.out.materials, m)).collect();
        for (material, short) in self.out.materials.iter_mut().zip(short) {
            material.short = short;
        }
        if self.out.materials.len() != ids.len() {
            // A row without a kind shifts the indices; the fault is noted and nothing is computed.
            for material in &mut self.out.materials {
                material.cures_to = None;
            }
        }
    }

    fn tapes(&mut self) {
        let rows = self.rows("tapes.csv", TAPE_COLUMNS);
        let mut rows = self.unique(rows, "tape");
        rows.sort_by(|a, b| a.text("tape").cmp(b.text("tape")));
        for row in rows {
            let before = self.faults.len();
            row.needed("name", self.faults);
            let status = self.needed_word(&row, "status", words::STATUS);
            let backing = self.reference(&row, "backing", "backing");
            let adhesive = self.reference(&row, "adhesive", "adhesive");
            let cure = self.word(&row, "adhesive_cure", words::CURE);
            for (column, allowed) in
                [("index_basis", words::INDEX_BASIS), ("flame", words::YES_NO), ("silicone", words::SILICONE)]
            {
                self.word(&row, column, allowed);
            }
            let coated_sides = match row.text("coated_sides") {
                "" | "1" => 1,
                "2" => 2,
                other => {
                    let fault =
                        Fault::new(Code::ValueImpossible, format!("`{other}`"), "1 or 2 coated sides", "write 1 or 2");
                    self.faults.add(fault.at(row.place("coated_sides")));
                    1
                }
            };
            let basis = self.basis(&row);
            self.source(&row);
            let index = self.out.tapes.len();
            let mut facts = Vec::new();
            for property in Property::ALL.iter().filter(|p| p.spec().on != On::Pair && TAPE_COLUMNS.contains(&p.name()))
            {
                let Some(cell) = row.get(property.name()) else { continue };
                let text = match cell.text.as_str() {
                    "none" if matches!(property, Property::Halogen | Property::Sulphur) => "0 mg/kg",
                    text => text,
                };
                if let Some(value) = self.value(*property, text, &cell.place) {
                    facts.push((*property, value, cell.clone()));
                }
            }
            if self.faults.len() > before {
                continue;
            }
            let (Some(status), Some(backing), Some(adhesive), Some(basis)) = (status, backing, adhesive, basis) else {
                continue;
            };
            for (property, value, cell) in facts {
                self.out.facts.push(Fact {
                    subject: Subject::Tape(index),
                    property,
                    medium: None,
                    on_medium: false,
                    spread: Spread::exact(value),
                    written: cell.text,
                    temperature: None,
                    condition: String::new(),
                    duration: None,
                    polymer_fraction: None,
                    humidity: None,
                    atmosphere: String::new(),
                    basis,
                    source: row.text("source").to_owned(),
                    note: String::new(),
                    place: cell.place,
                });
            }
            self.out.tapes.push(Tape {
                id: row.text("tape").to_owned(),
                name: row.text("name").to_owned(),
                active: status == "active",
                revision: row.text("revision").to_owned(),
                backing,
                adhesive,
                // Not stated, the adhesive's own kind says it.
                thermosetting: match cure {
                    Some(cure) => cure == "thermosetting",
                    None => self.out.materials[adhesive].cures_to.is_some(),
                },
                coated_sides,
                systems: row
                    .text("systems")
                    .split(';')
                    .map(|s| s.trim().to_owned())
                    .filter(|s| !s.is_empty())
                    .collect(),
                texts: TAPE_TEXTS
                    .iter()
                    .filter_map(|c| row.get(c).map(|cell| (*c, (cell.text.clone(), cell.place.clone()))))
                    .collect(),
                basis,
                source: row.text("source").to_owned(),
                place: row.place("tape"),
            });
        }
        self.out.overriding = vec![false; self.out.tapes.len()];
    }

    fn facts(&mut self) {
        for row in self.rows("facts.csv", FACT_COLUMNS) {
            let Some(subject) = self.subject(&row, "subject") else { continue };
            let on: &[On] = match subject {
                Subject::Material(_) => &[On::Material, On::Either],
                Subject::Tape(_) => &[On::Material, On::Tape, On::Either],
            };
            let property = self.property(&row, on);
            let fact = self.fact(&row, subject, property);
            if let Some(fact) = fact {
                self.override_noted(subject);
                self.out.facts.push(fact);
            }
        }
    }

    fn pairs(&mut self) {
        for row in self.rows("pairs.csv", PAIR_COLUMNS) {
            let subject = self.subject(&row, "material");
            let medium = self.medium(&row);
            let effect = self.needed_word(&row, "effect", words::EFFECT);
            let property = self.property(&row, &[On::Pair, On::Either]);
            let duration = self.optional(&row, "duration", &TIME);
            let polymer_fraction = self.share(&row, "polymer_fraction");
            let humidity = self.share(&row, "humidity");
            if row.get("atmosphere").is_some() {
                self.word(&row, "atmosphere", words::ATMOSPHERE);
            }
            let Some(subject) = subject else { continue };
            let fact = self.fact(&row, subject, property);
            let (Some(fact), Some(medium), Some(effect)) = (fact, medium, effect) else { continue };
            self.override_noted(subject);
            self.out.facts.push(Fact {
                medium: Some(medium),
                on_medium: effect == "on-medium",
                duration,
                polymer_fraction,
                humidity,
                atmosphere: row.text("atmosphere").to_owned(),
                ..fact
            });
        }
    }

    fn fact(&mut self, row: &Row, subject: Subject, property: Option<Property>) -> Option<Fact> {
        let basis = self.basis(row);
        self.source(row);
        let temperature = self.optional(row, "temperature", &TEMPERATURE);
        let value_cell = row.needed("value", self.faults).cloned();
        let property = property?;
        let value_cell = value_cell?;
        let value = self.value(property, &value_cell.text, &value_cell.place);
        let end = |this: &mut Self, column: &str| match row.get(column) {
            Some(cell) => this.value(property, &cell.text, &cell.place).map(Some),
            None => Some(None),
        };
        let (low, high) = (end(self, "low"), end(self, "high"));
        let spread = self.spread(row, property, value?, low?, high?)?;
        Some(Fact {
            subject,
            property,
            medium: None,
            on_medium: false,
            spread,
            written: value_cell.text,
            temperature,
            condition: row.text("condition").to_owned(),
            duration: None,
            polymer_fraction: None,
            humidity: None,
            atmosphere: String::new(),
            basis: basis?,
            source: row.text("source").to_owned(),
            note: row.text("note").to_owned(),
            place: value_cell.place,
        })
    }

    fn spread(
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
    fn value(&mut self, property: Property, text: &str, place: &Place) -> Option<f64> {
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

    fn optional(&mut self, row: &Row, column: &str, kind: &'static crate::quantity::Kind) -> Option<f64> {
        let cell = row.get(column)?;
        self.faults.keep(kind.read(&cell.text), &cell.place)
    }

    /// A share between 0 and 1.
    fn share(&mut self, row: &Row, column: &str) -> Option<f64> {
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

    fn property(&mut self, row: &Row, on: &[On]) -> Option<Property> {
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

    fn basis(&mut self, row: &Row) -> Option<Basis> {
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

    fn source(&mut self, row: &Row) {
        let Some(cell) = row.needed("source", self.faults) else { return };
        if !self.out.sources.is_empty() && !self.out.sources.contains_key(&cell.text) {
            let known = self.out.sources.keys().map(String::as_str);
            let mut fault = Fault::unknown_word(Code::SourceUnknown, &cell.text, "a key of sources.yml", known);
            fault.remedy += " (or add the work to sources.yml)";
            self.faults.add(fault.at(cell.place.clone()));
        }
    }

    fn subject(&mut self, row: &Row, column: &'static str) -> Option<Subject> {
        let cell = row.needed(column, self.faults)?;
        let found = self
            .out
            .material(&cell.text)
            .map(Subject::Material)
            .or_else(|| self.out.tape(&cell.text).map(Subject::Tape));
        if found.is_none() && !self.declared.contains(&cell.text) {
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

    fn medium(&mut self, row: &Row) -> Option<usize> {
        let cell = row.needed("medium", self.faults)?;
        let found = self.out.material(&cell.text).filter(|m| is_medium(&self.out.materials[*m]));
        if found.is_none() && (self.out.material(&cell.text).is_some() || !self.declared.contains(&cell.text)) {
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
    fn reference(&mut self, row: &Row, column: &'static str, kind: &str) -> Option<usize> {
        let cell = row.needed(column, self.faults)?;
        let found = self.out.material(&cell.text).filter(|m| self.out.materials[*m].kind == kind);
        if found.is_none() && (self.out.material(&cell.text).is_some() || !self.declared.contains(&cell.text)) {
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

    fn dangling<'n>(&mut self, cell: &Cell, needed: &str, names: impl Iterator<Item = &'n str>) {
        self.faults.add(Fault::unknown_word(Code::ReferenceUnknown, &cell.text, needed, names).at(cell.place.clone()));
    }

    fn needed_word(
        &mut self,
        row: &Row,
        column: &'static str,
        allowed: &'static [&'static str],
    ) -> Option<&'static str> {
        row.needed(column, self.faults)?;
        self.word(row, column, allowed)
    }

    fn word(&mut self, row: &Row, column: &str, allowed: &'static [&'static str]) -> Option<&'static str> {
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
    fn unique(&mut self, rows: Vec<Row>, column: &'static str) -> Vec<Row> {
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

    fn override_noted(&mut self, subject: Subject) {
        if let Subject::Tape(index) = subject {
            self.out.overriding[index] = true;
        }
    }

    /// Fills the indices and reports facts that tie.
    fn index(&mut self) {
        let mut seen: HashSet<String> = HashSet::new();
        for (number, fact) in self.out.facts.iter().enumerate() {
            let id = FactId(u32::try_from(number).unwrap_or(u32::MAX));
            let from_sheet = fact.place.file.as_ref() == "tapes.csv";
            let key = format!(
                "{:?} {} {:?} {} {:?} {} {:?} {:?} {:?} {} {} {from_sheet}",
                fact.subject,
                fact.property.name(),
                fact.medium,
                fact.on_medium,
                fact.temperature,
                fact.condition,
                fact.duration,
                fact.polymer_fraction,
                fact.humidity,
                fact.atmosphere,
                fact.basis,
            );
            if !seen.insert(key) {
                self.faults.add(
                    Fault::new(
                        Code::FactTie,
                        format!("a second `{}` of the same standing and conditions", fact.property.name()),
                        "one row for each subject, property, temperature, condition and basis",
                        "take one out, or say in `condition` how they differ",
                    )
                    .at(fact.place.clone()),
                );
            }
            let list = match fact.medium {
                Some(medium) => self.out.by_pair.entry((fact.subject, medium, fact.property)).or_default(),
                None => self.out.by_subject.entry((fact.subject, fact.property)).or_default(),
            };
            list.push(id);
        }
        // A row of facts.csv about a tape replaces its cell.
        let facts = &self.out.facts;
        let sheet = |id: &FactId| facts[id.0 as usize].place.file.as_ref() == "tapes.csv";
        self.out.by_subject.values_mut().filter(|list| list.iter().any(|id| !sheet(id))).for_each(|list| {
            list.retain(|id| !sheet(id));
        });
    }

    fn check_criteria(&mut self) {
        let families: HashSet<&str> = self.out.materials.iter().map(|m| m.family.as_str()).collect();
        let mut seen = HashSet::new();
        for criterion in &self.out.criteria {
            if !seen.insert(criterion.id.as_str()) {
                self.faults.add(
                    Fault::new(
                        Code::KeyDuplicate,
                        format!("a second `{}`", criterion.id),
                        "each criterion once",
                        "rename one or take it out",
                    )
                    .at(criterion.place.clone()),
                );
            }
            if !self.out.sources.is_empty()
                && !criterion.source.is_empty()
                && !self.out.sources.contains_key(&criterion.source)
            {
                let known = self.out.sources.keys().map(String::as_str);
                let fault = Fault::unknown_word(Code::SourceUnknown, &criterion.source, "a key of sources.yml", known);
                self.faults.add(fault.at(criterion.place.clone()));
            }
            for family in criterion.applies.backing_family.iter().chain(&criterion.applies.adhesive_family) {
                if !self.out.materials.is_empty() && !families.contains(family.as_str()) {
                    let fault = Fault::unknown_word(
                        Code::ReferenceUnknown,
                        family,
                        "a family of materials.csv",
                        families.iter().copied(),
                    );
                    self.faults.add(fault.at(criterion.place.clone()));
                }
            }
        }
    }

    fn cautions(&mut self) {
        let f = &mut *self.faults;
        let mut keys = load::toml("cautions.toml", self.folder.text("cautions.toml"), f);
        for mut k in keys.tables("caution", f) {
            for key in ["id", "trigger", "hazard", "text"] {
                k.present(key, f);
            }
            let trigger = k.word("trigger", words::TRIGGER, f).unwrap_or_default().to_owned();
            let mut text = |k: &mut Keys, key| k.text(key, f).unwrap_or_default();
            let caution =
                Caution { id: text(&mut k, "id"), trigger, hazard: text(&mut k, "hazard"), text: text(&mut k, "text") };
            k.get("source");
            k.finish(f);
            self.out.cautions.push(caution);
        }
        keys.finish(f);
    }

    fn regions(&mut self) {
        let f = &mut *self.faults;
        let mut keys = load::toml(JURISDICTIONS, self.folder.text(JURISDICTIONS), f);
        self.out.common_pointers = keys.texts("common", f).into_iter().map(|(text, _)| text).collect();
        for mut k in keys.tables("region", f) {
            for key in ["id", "name", "pointers"] {
                k.present(key, f);
            }
            let region = Region {
                id: k.text("id", f).unwrap_or_default(),
                name: k.text("name", f).unwrap_or_default(),
                pointers: k
                    .tables("pointers", f)
                    .into_iter()
                    .map(|mut p| {
                        let pointer = Pointer {
                            topic: p.text("topic", f).unwrap_or_default(),
                            text: p.text("text", f).unwrap_or_default(),
                            when: p.words("when", words::TRIGGER, f),
                            equipment: p.words("equipment", words::EQUIPMENT, f),
                            from_memory: p.flag("from_memory", f).unwrap_or_default(),
                        };
                        p.finish(f);
                        pointer
                    })
                    .collect(),
            };
            k.finish(f);
            self.out.regions.push(region);
        }
        keys.finish(f);
    }
}

/// What to do with data of another format; nothing for the one that is read.
fn other_format(format: &str) -> Option<String> {
    let (name, number) = FORMAT;
    match format.strip_prefix(name).and_then(|n| n.parse::<u32>().ok()) {
        Some(found) if found == number && format == format!("{name}{number}") => None,
        Some(found) if found < number => Some(format!(
            "these data are older: do what `Format` in matrices/README.md lists since {found}, then write `{name}{number}`"
        )),
        Some(found) if found > number => {
            Some("these data are newer than this program: install a Lapwise that reads them".to_owned())
        }
        _ => Some("use data of this format, or a program that reads the other".to_owned()),
    }
}

/// The first cells of the lines of the files that declare keys.
fn declared(folder: &Folder) -> HashSet<String> {
    let lines = ["materials.csv", "tapes.csv"].into_iter().flat_map(|file| folder.text(file).lines().skip(1));
    lines.filter_map(|line| line.split(',').next()).map(|key| key.trim().to_owned()).collect()
}

/// The name of a material without what stands in brackets, and of what follows its first comma no more than tells it apart
/// from others of its kind: "PTFE film", "silicone (platinum-cured)".
fn short(materials: &[Material], of: &Material) -> String {
    let parts = |m: &Material| -> Vec<String> { outside_brackets(&m.name).split(", ").map(str::to_owned).collect() };
    let own = parts(of);
    let others: Vec<Vec<String>> = materials.iter().filter(|m| m.kind == of.kind && m.id != of.id).map(parts).collect();
    let tells = |n: &usize| !others.iter().any(|other| other.starts_with(&own[..*n]));
    let enough = (1..=own.len()).find(tells).unwrap_or(own.len());
    match own[..enough].split_first() {
        Some((first, [])) => first.clone(),
        Some((first, rest)) => format!("{first} ({})", rest.join(", ")),
        None => String::new(),
    }
}

/// A text without what stands in round brackets, and without the space before it.
fn outside_brackets(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut depth = 0_u32;
    for c in text.chars() {
        match c {
            '(' => {
                out.truncate(out.trim_end().len());
                depth += 1;
            }
            ')' => depth = depth.saturating_sub(1),
            c if depth == 0 => out.push(c),
            _ => {}
        }
    }
    out
}

/// True for a material that a tape can be exposed to.
#[must_use]
pub fn is_medium(material: &Material) -> bool {
    !matches!(material.kind, "backing" | "adhesive")
}

fn bounds_text(floor: f64, ceiling: f64) -> String {
    match (floor.is_finite(), ceiling.is_finite()) {
        (true, true) => format!("a value from {floor} to {ceiling}"),
        (true, false) => format!("a value of at least {floor}"),
        (false, true) => format!("a value of at most {ceiling}"),
        (false, false) => "a finite value".to_owned(),
    }
}
