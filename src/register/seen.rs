//! The last head that this client saw of each register: a log that does not extend it was cut or rewritten.

use std::path::{Path, PathBuf};

use super::disk;
use super::flaw::Flaw;
use super::log::Log;
use crate::fault::{Code, Fault};
use crate::keep;
use crate::record::{self, Head};

/// A client's memory of one register.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    path: PathBuf,
}

impl Seen {
    /// The memory of a register in a folder of this client.
    pub(super) fn of(folder: &Path, register: &str) -> Seen {
        Seen { path: folder.join(format!("{register}.json")) }
    }

    /// The head that was seen; none where none was.
    fn head(&self) -> Result<Option<Head>, Fault> {
        let said = |error: &dyn std::fmt::Display| {
            Fault::new(
                Code::FileUnreadable,
                format!("`{}`: {error}", self.path.display()),
                "the head of the register that this client has seen",
                "take it away only if you know why it cannot be read: what was seen is then forgotten, and a log that was cut \
                 looks whole",
            )
        };
        match disk::read(&self.path) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(said(&error)),
            Ok(bytes) => serde_json::from_slice(&bytes).map(Some).map_err(|error| said(&error)),
        }
    }

    /// What a log lacks of the head that was seen.
    ///
    /// # Errors
    /// A memory that cannot be read.
    pub(super) fn missing(&self, log: &Log) -> Result<Option<Flaw>, Fault> {
        Ok(self.head()?.and_then(|seen| beyond(&seen, log, "this client")))
    }

    /// Remembers the head of a log, unless another process has seen further.
    ///
    /// # Errors
    /// A memory that cannot be read, or a folder that cannot be written.
    pub(super) fn note(&self, log: &Log) -> Result<(), Fault> {
        let head = log.head();
        if self.head()?.is_some_and(|seen| seen.register == head.register && seen.size >= head.size) {
            return Ok(());
        }
        keep::bytes(&self.path, record::canonical(&head)?.as_bytes()).map_err(|fault| Fault {
            remedy: "make the folder writable, or name another with LAPWISE_STATE".to_owned(),
            ..fault
        })
    }
}

/// What a log lacks of a head that someone holds.
pub(super) fn beyond(held: &Head, log: &Log, by: &str) -> Option<Flaw> {
    if held.register != log.register {
        return Some(Flaw::new(
            Code::OtherRegister,
            format!("a head of the register {}", held.register),
            format!("one of {}", log.register),
        ));
    }
    match log.tree.root(held.size) {
        None => Some(
            Flaw::new(
                Code::TailCut,
                format!("a log of {} entries", log.tree.size()),
                format!("the {} entries that {by} has seen", held.size),
            )
            .entry(log.tree.size() + 1),
        ),
        Some(root) if root != held.root => Some(
            Flaw::new(
                Code::HistoryRewritten,
                format!("the root {root} over the first {} entries", held.size),
                format!("the root {} that {by} has seen", held.root),
            )
            .entry(held.size),
        ),
        Some(_) => None,
    }
}
