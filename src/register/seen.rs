//! The last head that this client saw of each register: a log that does not extend it was cut or rewritten.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::disk;
use super::flaw::Flaw;
use super::log::Log;
use crate::fault::{Code, Fault};
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

    /// What a log lacks of the head that was seen.
    pub(super) fn missing(&self, log: &Log) -> Option<Flaw> {
        let bytes = disk::read(&self.path).ok()?;
        let seen: Head = serde_json::from_slice(&bytes).ok()?;
        beyond(&seen, log, "this client")
    }

    /// Remembers the head of a log that extends what was seen.
    ///
    /// # Errors
    /// A folder that cannot be written.
    pub(super) fn note(&self, log: &Log) -> Result<(), Fault> {
        let head = log.head();
        let refused = |error: std::io::Error| Fault {
            remedy: "make the folder writable, or name another with LAPWISE_STATE".to_owned(),
            ..disk::refused(&self.path, &error)
        };
        let text = record::canonical(&head)?;
        if disk::read(&self.path).is_ok_and(|old| old == text.as_bytes()) {
            return Ok(());
        }
        let folder = self.path.parent().unwrap_or(Path::new("."));
        std::fs::create_dir_all(folder).map_err(refused)?;
        let mut file = tempfile::NamedTempFile::new_in(folder).map_err(refused)?;
        file.write_all(text.as_bytes()).map_err(refused)?;
        file.persist(&self.path).map_err(|error| refused(error.error))?;
        Ok(())
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
