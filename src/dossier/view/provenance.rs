//! What a dossier was made from: versions and digests of everything that went in.

use schemars::JsonSchema;
use serde::Serialize;

use super::Case;
use crate::record::sha256;

/// A file and the sha256 of its bytes.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
pub struct Digest {
    /// Its path, relative to its folder.
    pub file: String,
    /// The sha256, in hexadecimal.
    pub sha256: String,
}

/// The digests of what goes in; gathered once, whatever the number of dossiers.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct Inputs {
    /// The files of the data folder, without the enquiries.
    pub data: Vec<Digest>,
    /// The templates and texts.
    pub templates: Vec<Digest>,
    /// The faces.
    pub fonts: Vec<Digest>,
    /// The version of this program.
    pub lapwise: String,
    /// The version of Typst.
    pub typst: String,
}

/// A program.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Maker {
    /// What it is.
    pub name: String,
    /// Its version.
    pub version: String,
}

/// The provenance, as it is printed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Provenance {
    /// The version, date and owner of the data.
    pub data: String,
    /// The programs.
    pub makers: Vec<Maker>,
    /// The files of the data folder, then the set of templates and the set of faces.
    pub files: Vec<Digest>,
}

/// The digest of a set of files: what `sha256sum` prints of them, sorted by name, hashed once more.
#[must_use]
pub fn of_set(digests: &[Digest]) -> String {
    let lines: Vec<String> = digests.iter().map(|d| format!("{}  {}\n", d.sha256, d.file)).collect();
    sha256(lines.concat().as_bytes())
}

pub(super) fn provenance(case: &Case<'_>, inputs: &Inputs) -> Provenance {
    let (l, about) = (case.language, &case.plan.catalogue.about);
    let set = |key: &str, digests: &[Digest]| Digest {
        file: l.say(key, &[("n", &digests.len().to_string())]),
        sha256: of_set(digests),
    };
    Provenance {
        data: l.say(
            "provenance.data_n",
            &[("version", &about.version), ("date", &l.date(&about.date)), ("owner", &about.owner)],
        ),
        makers: vec![
            Maker { name: "Lapwise".to_owned(), version: inputs.lapwise.clone() },
            Maker { name: "Typst".to_owned(), version: inputs.typst.clone() },
        ],
        files: inputs
            .data
            .iter()
            .cloned()
            .chain([set("provenance.templates", &inputs.templates), set("provenance.fonts", &inputs.fonts)])
            .collect(),
    }
}
