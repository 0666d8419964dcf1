//! What is signed: the statement, and the one text form in which anything is hashed.
//!
//! The canonical form is JSON in UTF-8 with the keys of every object sorted, two spaces of indent, no
//! number but a whole one, and a line feed at the end: what any language writes that sorts keys.
//! Physical numbers stand in it as decimal text.

use std::fmt;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

use crate::fault::{Code, Fault};

/// The form of [`Statement`].
pub const STATEMENT: &str = "lapwise/statement/1";
/// The version of the canonical text form.
pub const FORM: &str = "lapwise/canonical/1";
/// What every signature is bound to, so that it counts for nothing else.
pub const NAMESPACE: &str = "lapwise-selection-v1";

/// The sha256 of some bytes, in hexadecimal.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// Bytes as lower-case hexadecimal.
#[must_use]
pub fn hexadecimal(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // Writing to a String does not fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// A document in the canonical form.
///
/// # Errors
/// A number that is not whole: it has no one text.
pub fn canonical(document: &impl Serialize) -> Result<String, Fault> {
    let defect = |found: String| {
        Fault::new(Code::FormatUnknown, found, "a document of texts and whole numbers", "report this as a defect")
    };
    let value = serde_json::to_value(document).map_err(|error| defect(error.to_string()))?;
    let sorted = sorted(value).map_err(|number| defect(format!("the number {number}")))?;
    let mut text = serde_json::to_string_pretty(&sorted).map_err(|error| defect(error.to_string()))?;
    text.push('\n');
    Ok(text)
}

/// The canonical text of a document that holds the sha256 of its own text without that digest.
///
/// # Errors
/// As [`canonical`].
pub fn sealed<T: Serialize + Clone>(document: &T, digest: impl Fn(&mut T) -> &mut String) -> Result<String, Fault> {
    let mut own = document.clone();
    digest(&mut own).clear();
    *digest(&mut own) = sha256(canonical(&own)?.as_bytes());
    canonical(&own)
}

fn sorted(value: Value) -> Result<Value, serde_json::Number> {
    Ok(match value {
        Value::Number(number) if !number.is_u64() => return Err(number),
        Value::Array(items) => Value::Array(items.into_iter().map(sorted).collect::<Result<_, _>>()?),
        Value::Object(map) => {
            let mut entries: Vec<(String, Value)> = map.into_iter().collect();
            entries.sort_by(|a, b| a.0.cmp(&b.0));
            let entries = entries.into_iter().map(|(key, value)| sorted(value).map(|value| (key, value)));
            Value::Object(entries.collect::<Result<_, _>>()?)
        }
        plain => plain,
    })
}

/// The name of a record: the enquiry, the revision, and the number of what was added beside it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RecordId {
    /// The enquiry's number.
    pub enquiry: String,
    /// The revision, from 1.
    pub revision: u32,
    /// 0 for the signed selection itself, then 1, 2, … for what stands beside it.
    pub beside: u32,
}

impl RecordId {
    /// The signed selection that this one belongs to.
    #[must_use]
    pub fn base(&self) -> RecordId {
        RecordId { beside: 0, ..self.clone() }
    }

    /// The name of its folder below that of the enquiry.
    #[must_use]
    pub fn folder(&self) -> String {
        match self.beside {
            0 => format!("r{:04}", self.revision),
            n => format!("r{:04}.{n}", self.revision),
        }
    }

    /// The name of the PDF in it.
    #[must_use]
    pub fn pdf(&self) -> String {
        format!("{}_{}.pdf", self.enquiry, self.folder())
    }
}

/// The enquiry in the name of a record, such as `Q-101/r0001`.
#[must_use]
pub fn enquiry_of(record: &str) -> &str {
    record.split('/').next().unwrap_or_default()
}

impl fmt::Display for RecordId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.enquiry, self.folder())
    }
}

impl FromStr for RecordId {
    type Err = Fault;

    fn from_str(text: &str) -> Result<RecordId, Fault> {
        let read = || {
            let (enquiry, rest) = text.split_once('/')?;
            let rest = rest.strip_prefix('r')?;
            let (revision, beside) = match rest.split_once('.') {
                Some((revision, beside)) => (revision, beside.parse().ok()?),
                None => (rest, 0),
            };
            let id = RecordId { enquiry: enquiry.to_owned(), revision: revision.parse().ok()?, beside };
            // Only the text that it prints is its name.
            (id.to_string() == text && id.revision > 0 && !enquiry.is_empty()).then_some(id)
        };
        read().ok_or_else(|| {
            Fault::new(
                Code::RecordUnknown,
                format!("`{text}`"),
                "a record, such as `Q-0412/r0001`",
                "write the enquiry's number, a slash and the revision; `lapwise register list` shows them",
            )
        })
    }
}

impl From<RecordId> for String {
    fn from(id: RecordId) -> String {
        id.to_string()
    }
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$each:meta])* $word:ident = $text:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        #[serde(rename_all = "kebab-case")]
        pub enum $name { $($(#[$each])* $word),+ }

        impl $name {
            /// All of them, in order.
            pub const ALL: &'static [$name] = &[$($name::$word),+];

            /// The word.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self { $($name::$word => $text),+ }
            }
        }

        impl FromStr for $name {
            type Err = String;

            fn from_str(text: &str) -> Result<$name, String> {
                let words: Vec<&str> = $name::ALL.iter().map(|word| word.text()).collect();
                $name::ALL.iter().copied().find(|word| word.text() == text)
                    .ok_or_else(|| format!("one of {}", words.join(", ")))
            }
        }
    };
}

words! {
    /// What a signature means.
    Meaning {
        /// The signer made the selection.
        Authored = "authored",
        /// The signer checked it.
        Reviewed = "reviewed",
        /// The signer releases it.
        Approved = "approved",
        /// The signer takes it back.
        Withdrawn = "withdrawn",
    }
}

words! {
    /// What a signer may do; each role includes those before it.
    Role {
        /// May author.
        Author = "author",
        /// May review.
        Reviewer = "reviewer",
        /// May approve.
        Approver = "approver",
    }
}

impl Role {
    /// True if a signature of this role may have that meaning.
    #[must_use]
    pub fn may(self, meaning: Meaning) -> bool {
        match meaning {
            Meaning::Authored | Meaning::Withdrawn => true,
            Meaning::Reviewed => self >= Role::Reviewer,
            Meaning::Approved => self >= Role::Approver,
        }
    }
}

words! {
    /// What a statement is about.
    Kind {
        /// A selection with its dossier.
        Selection = "selection",
        /// One more signature under a selection.
        Countersignature = "countersignature",
        /// A scan of a copy signed by hand.
        Scan = "scan",
        /// A selection taken back.
        Withdrawal = "withdrawal",
    }
}

/// Who signs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Signer {
    /// The id in the key list.
    pub id: String,
    /// The printed name.
    pub name: String,
    /// The role.
    pub role: Role,
    /// The fingerprint of the key.
    pub fingerprint: String,
}

/// How far inside a limit the selected tape is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reserve {
    /// The criterion.
    pub criterion: String,
    /// The exposure's name, empty for the enquiry as a whole.
    pub exposure: String,
    /// The verdict.
    pub verdict: String,
    /// The margin with its unit, as printed.
    pub margin: String,
}

/// What was selected.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Selection {
    /// The tape.
    pub tape: String,
    /// The revision of its sheet.
    pub tape_revision: String,
    /// Its verdict.
    pub verdict: String,
    /// How many open hazard findings it has.
    pub open_hazards: u32,
    /// The first in order, if any tape is not ruled out.
    pub proposed: Option<String>,
    /// Its reserves.
    pub reserves: Vec<Reserve>,
    /// The conditions.
    pub conditions: Vec<String>,
    /// The tests that would settle what is open.
    pub open_points: Vec<String>,
}

/// The three digests of canonical text that a data change is judged by.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Digests {
    /// Of candidates, facts and criteria consulted.
    pub evidence: String,
    /// Of verdicts, choice, order and reserves.
    pub decision: String,
    /// Of templates, faces and Typst.
    pub presentation: String,
}

/// The human versions of what went in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Versions {
    /// The version of the data.
    pub data: String,
    /// The digest over the files of the data folder.
    pub data_sha256: String,
    /// The digest over the criteria.
    pub criteria_sha256: String,
    /// The digest over templates and texts.
    pub templates_sha256: String,
    /// The digest over the faces.
    pub fonts_sha256: String,
    /// The language of the fixed text.
    pub language: String,
    /// The version of this program.
    pub lapwise: String,
    /// The version of Typst.
    pub typst: String,
    /// True if the catalogue is invented, which every page then says.
    pub invented: bool,
}

/// A file by its digest.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FileDigest {
    /// Its path, relative to the record's folder.
    pub file: String,
    /// The sha256 of its bytes.
    pub sha256: String,
    /// How many bytes.
    pub size: u64,
}

impl FileDigest {
    /// The digest of some bytes under a name.
    #[must_use]
    pub fn of(file: impl Into<String>, bytes: &[u8]) -> FileDigest {
        FileDigest { file: file.into(), sha256: sha256(bytes), size: bytes.len() as u64 }
    }
}

/// The head of a register.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Head {
    /// The register's id.
    pub register: String,
    /// How many entries.
    pub size: u64,
    /// The root over them, by RFC 6962.
    pub root: String,
}

/// What a signature covers: everything that a signed record says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    /// [`STATEMENT`].
    pub schema: String,
    /// [`FORM`].
    pub form: String,
    /// The record, such as `Q-0412/r0001`.
    pub record: String,
    /// What it is about.
    pub kind: Kind,
    /// The revision.
    pub revision: u32,
    /// The record that it replaces.
    pub supersedes: Option<String>,
    /// The enquiry's title.
    pub title: String,
    /// Who asked.
    pub customer: String,
    /// Who signs; none for a scan that is only filed.
    pub signer: Option<Signer>,
    /// What the signature means.
    pub meaning: Option<Meaning>,
    /// When, in UTC with its offset: the signer's claim.
    pub time: String,
    /// Why.
    pub reason: String,
    /// What was selected.
    pub selection: Selection,
    /// The three digests.
    pub digests: Digests,
    /// The human versions.
    pub versions: Versions,
    /// The files of the record's folder but the statement, its signatures and the checksums.
    pub files: Vec<FileDigest>,
    /// What it shares with other records, by the name it has in the data or template folder.
    pub shared: Vec<FileDigest>,
    /// The statements, signatures and documents signed before it.
    pub before: Vec<FileDigest>,
    /// The key list in force, relative to the register.
    pub keys: String,
    /// The register and the head that the signer saw.
    pub head: Head,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The text that Python's `json.dumps(x, indent=2, sort_keys=True, ensure_ascii=False) + "\n"` gives.
    #[test]
    fn the_canonical_form_is_what_others_write() {
        let document = serde_json::json!({"b": [1, {"z": "ü\t\u{1}\"", "a": null}], "a": [], "c": {}, "B": true});
        let expected = "{\n  \"B\": true,\n  \"a\": [],\n  \"b\": [\n    1,\n    {\n      \"a\": null,\n      \"z\": \
                        \"ü\\t\\u0001\\\"\"\n    }\n  ],\n  \"c\": {}\n}\n";
        assert_eq!(canonical(&document).unwrap(), expected);
        assert!(canonical(&serde_json::json!([1.5])).is_err());
    }

    /// FIPS 180-2, appendix B.1.
    #[test]
    fn the_digest_is_the_published_one() {
        assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn a_record_has_one_name() {
        for name in ["Q-0412/r0001", "Q-0412/r0001.2", "Ä_1.b/r12345"] {
            assert_eq!(name.parse::<RecordId>().unwrap().to_string(), name);
        }
        for name in ["Q-0412", "Q-0412/r1", "Q-0412/r0000", "/r0001", "Q-0412/r0001.0", "Q-0412/0001", "a/b/r0001"] {
            assert!(name.parse::<RecordId>().is_err(), "{name}");
        }
    }
}
