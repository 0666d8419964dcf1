//! What people call materials: the file `wordings.csv` of the data folder, which only an import reads.

use std::collections::BTreeSet;

use crate::catalogue::Catalogue;
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Folder};

use super::words::tokens;

/// The file; a folder may be without it.
const FILE: &str = "wordings.csv";

/// Wordings, folded, with the keys of the materials that each may mean.
#[derive(Clone, Debug, Default)]
pub struct Wordings(Vec<(String, String)>);

impl Wordings {
    /// Reads the wordings of a data folder.
    ///
    /// # Errors
    /// Every fault of the file.
    pub fn read(folder: &Folder, catalogue: &Catalogue) -> Result<Wordings, Faults> {
        let mut faults = Faults::default();
        let mut wordings = Wordings::default();
        if !folder.files.contains_key(FILE) {
            return Ok(wordings);
        }
        let mut seen = BTreeSet::new();
        for row in load::table(FILE, folder.text(FILE), &["wording", "material"], &mut faults) {
            let wording = row.needed("wording", &mut faults).map(|cell| tokens(&cell.text).join(" "));
            let Some(material) = row.needed("material", &mut faults) else { continue };
            if catalogue.material(&material.text).is_none() {
                let known = catalogue.materials.iter().map(|m| m.id.as_str());
                let needed = "a material of materials.csv";
                let fault = Fault::unknown_word(Code::ReferenceUnknown, &material.text, needed, known);
                faults.add(fault.at(material.place.clone()));
                continue;
            }
            let Some(wording) = wording else { continue };
            if !seen.insert((wording.clone(), material.text.clone())) {
                let found = format!("`{wording}` for `{}` a second time", material.text);
                let fault = Fault::new(Code::KeyDuplicate, found, "each pair once", "take one out");
                faults.add(fault.at(row.place.clone()));
            }
            wordings.0.push((wording, material.text.clone()));
        }
        faults.or(wordings)
    }

    /// The materials that a wording may mean.
    pub(super) fn of(&self, folded: &str) -> impl Iterator<Item = &str> {
        self.0.iter().filter(move |(wording, _)| wording == folded).map(|(_, material)| material.as_str())
    }
}
