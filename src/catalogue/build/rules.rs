//! What is no table: criteria, cautions, and pointers to local codes.

use std::collections::HashSet;

use crate::catalogue::{Caution, Pointer, Region, criteria, words};
use crate::evidence::Place;
use crate::fault::{Code, Fault};
use crate::load::{self, JURISDICTIONS, Keys};

use super::Builder;

impl Builder<'_> {
    pub(super) fn criteria(&mut self) {
        let before = self.faults.len();
        let keys = load::toml("criteria.toml", self.folder.text("criteria.toml"), self.faults);
        (self.out.criteria, self.out.preferences) = criteria::read(keys, self.faults);
        if self.out.criteria.is_empty() && self.faults.len() == before {
            self.holds_nothing("criteria.toml", "`[[criterion]]`");
        }
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

    /// A file that must hold something and holds nothing: an answer by no rule, or without a warning, is none.
    pub(super) fn holds_nothing(&mut self, file: &'static str, entry: &str) {
        let needed = format!("at least one {entry}");
        let fault =
            Fault::new(Code::KeyMissing, "nothing", needed, "restore it, or copy it from a data folder that is whole");
        self.faults.add(fault.at(Place::file(file)));
    }

    pub(super) fn cautions(&mut self) {
        let before = self.faults.len();
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
        if self.out.cautions.is_empty() && self.faults.len() == before {
            self.holds_nothing("cautions.toml", "`[[caution]]`");
        }
    }

    pub(super) fn regions(&mut self) {
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
