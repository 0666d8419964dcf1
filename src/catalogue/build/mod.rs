//! Rows to the catalogue, with every fault on the way.

mod cells;
mod columns;
mod rules;

use std::collections::HashSet;

use crate::evidence::{FactId, Spread};
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Folder, Row};
use crate::quantity::{TEMPERATURE, TIME};

pub use columns::{FACT_COLUMNS, PAIR_COLUMNS, TAPE_COLUMNS};
use columns::{MATERIAL_COLUMNS, TAPE_TEXTS};

use super::{About, Catalogue, Fact, Material, On, Property, Subject, Tape, words};

/// The data format this program reads: its name, and its number.
const FORMAT: (&str, u32) = ("lapwise/data/", 1);

impl Catalogue {
    /// Builds the catalogue of a folder.
    ///
    /// # Errors
    /// Every fault found in every file but the enquiries.
    pub fn build(folder: &Folder) -> Result<Catalogue, Faults> {
        let mut faults = Faults::default();
        let catalogue = Builder {
            folder,
            faults: &mut faults,
            out: Catalogue::default(),
            declared: ["materials.csv", "tapes.csv"].map(|file| declared(folder, file)),
        }
        .run();
        faults.or(catalogue)
    }
}

struct Builder<'a> {
    folder: &'a Folder,
    faults: &'a mut Faults,
    out: Catalogue,
    /// Keys of materials and of tapes that stand in a file, in however faulty a row: what refers to them is not a further
    /// fault.
    declared: [HashSet<String>; 2],
}

impl Builder<'_> {
    fn run(mut self) -> Catalogue {
        self.out.about = self.about();
        if self.faults.has(Code::FormatUnknown) {
            // What else looks wrong in data of another format is not a fault of theirs.
            return self.out;
        }
        self.out.sources = load::bibliography("sources.yml", self.folder.text("sources.yml"), self.faults);
        if self.out.sources.is_empty() && self.faults.is_empty() {
            self.holds_nothing("sources.yml", "work");
        }
        self.materials();
        self.tapes();
        self.facts();
        self.pairs();
        self.index();
        self.criteria();
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

/// The first cells of the lines of a file that declares keys.
fn declared(folder: &Folder, file: &str) -> HashSet<String> {
    let lines = folder.text(file).lines().skip(1);
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
