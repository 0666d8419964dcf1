//! A kept selection judged by the very inputs that it was signed on.

use std::path::PathBuf;

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::load::Folder;
use crate::record::{RecordId, Statement, sha256};
use crate::register::Register;
use crate::selection::Judge;

/// What judging again came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Again {
    /// The decision that was signed.
    Same,
    /// Another one, by the program of the version that signed it: what was signed is not what it says.
    Other,
    /// Another one, by another version of the program.
    OtherVersion(String),
}

/// The data folder that a selection was signed on.
///
/// # Errors
/// A kept file that is gone or altered.
pub fn data(register: &Register, statement: &Statement) -> Result<Folder, Faults> {
    let mut folder = Folder { root: PathBuf::new(), files: std::collections::BTreeMap::new() };
    for file in &statement.shared {
        if let Some(name) = file.file.strip_prefix("data/") {
            folder.files.insert(name.to_owned(), text(register.kept(&file.sha256)?)?);
        }
    }
    Ok(folder)
}

/// A file of its own that a selection was signed with.
pub(super) fn own(register: &Register, id: &RecordId, statement: &Statement, name: &str) -> Result<String, Fault> {
    let file = statement.files.iter().find(|file| file.file == name).ok_or_else(|| lost(id, name))?;
    text(register.file(id, file)?)
}

/// A record that lacks what every signed selection has.
pub(super) fn lost(id: &RecordId, what: &str) -> Fault {
    let needed = "everything that it was signed with";
    Fault::new(Code::SignedFileMissing, format!("`{id}` keeps no `{what}`"), needed, "it cannot be judged again")
}

/// The enquiry that a selection was signed on.
///
/// # Errors
/// A kept file that is gone or altered.
pub fn enquiry(register: &Register, id: &RecordId, statement: &Statement) -> Result<String, Fault> {
    own(register, id, statement, "inputs/enquiry.toml")
}

/// Judges a kept selection again by its own inputs, and holds the decision against the one signed.
///
/// # Errors
/// Inputs that are gone, altered or do not load.
pub fn again(register: &Register, id: &RecordId, statement: &Statement) -> Result<Again, Faults> {
    let catalogue = Catalogue::build(&data(register, statement)?)?;
    let text = enquiry(register, id, statement)?;
    let enquiries = [Enquiry::read("enquiry.toml", &text, &catalogue)?];
    let plan = Plan::new(&catalogue, &enquiries)?;
    let standings = plan.standings();
    let judged = Judge::new(&plan)?.judged(0, &standings[0], &statement.selection.tape)?;
    let same = judged.is_some_and(|judged| sha256(judged.decision.as_bytes()) == statement.digests.decision);
    Ok(match (same, statement.versions.lapwise == env!("CARGO_PKG_VERSION")) {
        (true, _) => Again::Same,
        (false, true) => Again::Other,
        (false, false) => Again::OtherVersion(statement.versions.lapwise.clone()),
    })
}

fn text(bytes: Vec<u8>) -> Result<String, Fault> {
    String::from_utf8(bytes).map_err(|_| {
        Fault::new(Code::FileUnreadable, "a kept input that is no text", "text in UTF-8", "restore it from a copy")
    })
}
