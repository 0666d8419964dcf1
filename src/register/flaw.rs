//! What is wrong with a register: which record, which entry, which file.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::Serialize;

use super::disk;
use crate::evidence::Place;
use crate::fault::{Code, Fault};

/// One thing that is not as it was signed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Flaw {
    /// The record it is about.
    pub record: Option<String>,
    /// The position in the log.
    pub entry: Option<u64>,
    /// What is wrong, in which file.
    #[serde(flatten)]
    pub fault: Fault,
}

impl Flaw {
    pub(super) fn new(code: Code, found: impl Into<String>, needed: impl Into<String>) -> Flaw {
        let fault = Fault::new(code, found, needed, remedy(code));
        Flaw { record: None, entry: None, fault }
    }

    /// A file that nothing in the log names.
    pub(super) fn foreign(path: PathBuf) -> Flaw {
        Flaw::new(Code::FileAdded, "a file that no entry names", "only what was signed").file(path)
    }

    pub(super) fn record(mut self, record: Option<&str>) -> Flaw {
        self.record = record.map(str::to_owned);
        self
    }

    pub(super) fn entry(mut self, seq: u64) -> Flaw {
        self.entry = Some(seq);
        self
    }

    pub(super) fn file(mut self, path: impl Into<PathBuf>) -> Flaw {
        self.fault = self.fault.at(Place::file(disk::slashed(&path.into())));
        self
    }
}

impl std::fmt::Display for Flaw {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (&self.record, self.entry) {
            (Some(record), Some(entry)) => writeln!(f, "{record}, entry {entry}")?,
            (Some(record), None) => writeln!(f, "{record}")?,
            (None, Some(entry)) => writeln!(f, "entry {entry}")?,
            (None, None) => {}
        }
        self.fault.fmt(f)
    }
}

fn remedy(code: Code) -> &'static str {
    match code {
        Code::TailCut | Code::HistoryRewritten => {
            "restore the register from a copy that holds this head; until then trust nothing signed after it"
        }
        Code::FileAdded | Code::RecordUnlogged => "do not rely on it; move it out of the register",
        Code::RegisterAltered | Code::KeysAltered => "restore the file from a copy; compare the copy's head first",
        _ => "do not rely on this record; restore it from a copy and verify that",
    }
}

/// Every flaw found.
#[derive(Clone, Debug, Default)]
pub struct Flaws(Vec<Flaw>);

impl Flaws {
    pub(super) fn add(&mut self, flaw: Flaw) {
        self.0.push(flaw);
    }

    pub(super) fn extend(&mut self, flaws: impl IntoIterator<Item = Flaw>) {
        self.0.extend(flaws);
    }

    /// True if nothing is wrong.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All of them, by position in the log and file.
    #[must_use]
    pub fn sorted(mut self) -> Vec<Flaw> {
        self.0.sort_by(|a, b| (a.entry, &a.record, &a.fault.place).cmp(&(b.entry, &b.record, &b.fault.place)));
        self.0
    }
}
