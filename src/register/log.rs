//! The log: one entry after another, each naming the digest of the one before.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::disk;
use super::flaw::{Flaw, Flaws};
use super::tree::Tree;
use crate::fault::{Code, Fault};
use crate::record::{self, FileDigest, Head, RecordId, Role, sha256};

/// The form of [`Entry`].
pub(super) const ENTRY: &str = "lapwise/entry/1";

/// What an entry tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Event {
    /// A key counts from here on.
    KeyAdded,
    /// A key does not count from here on.
    KeyRevoked,
    /// A selection was signed.
    Signed,
    /// A selection was countersigned.
    Countersigned,
    /// A scan was filed.
    ScanAttached,
    /// A selection was withdrawn.
    Withdrawn,
}

/// A change of the key list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeyChange {
    /// The signer's id.
    pub signer: String,
    /// The printed name.
    pub name: String,
    /// The role.
    pub role: Role,
    /// The fingerprint.
    pub fingerprint: String,
    /// The public key as OpenSSH writes it, without comment.
    pub public_key: String,
    /// Why.
    pub reason: String,
    /// The key list from here on.
    pub list: FileDigest,
}

/// A signed or filed record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecordChange {
    /// The record, such as `Q-0412/r0001`.
    pub record: String,
    /// The statement.
    pub statement: FileDigest,
    /// Its signatures.
    pub signatures: Vec<FileDigest>,
    /// The PDF, if it has one.
    pub pdf: Option<FileDigest>,
    /// The checksums.
    pub checksums: FileDigest,
}

impl RecordChange {
    /// The record's name, if it is one.
    pub(super) fn id(&self) -> Option<RecordId> {
        self.record.parse().ok()
    }
}

/// One entry of the log.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// `lapwise/entry/1`.
    pub schema: String,
    /// Its number, from 1.
    pub seq: u64,
    /// The sha256 of the entry before; of the first, that of `REGISTER.json`.
    pub previous: String,
    /// What it tells.
    pub event: Event,
    /// When, as the writer claims.
    pub time: String,
    /// A change of the key list.
    pub key: Option<KeyChange>,
    /// A record.
    pub record: Option<RecordChange>,
    /// The sha256 of this text without this key.
    pub digest: String,
}

impl Entry {
    /// The text of the entry, with its own digest.
    ///
    /// # Errors
    /// Never, for an entry of texts and whole numbers.
    pub(super) fn text(&self) -> Result<String, Fault> {
        record::sealed(self, |entry| &mut entry.digest)
    }

    /// The entry that some bytes are, if its own digest fits.
    pub(super) fn read(bytes: &[u8]) -> Option<Entry> {
        let entry = serde_json::from_slice::<Entry>(bytes).ok()?;
        entry.text().is_ok_and(|own| own.as_bytes() == bytes).then_some(entry)
    }

    /// Where an entry stands, below the register.
    pub(super) fn path(seq: u64) -> PathBuf {
        Path::new("entries").join(format!("{:03}", seq / 1000)).join(format!("{seq:012}.json"))
    }

    /// The record it is about.
    #[must_use]
    pub fn of(&self) -> Option<&str> {
        self.record.as_ref().map(|change| change.record.as_str())
    }
}

/// All entries, with the tree over them.
#[derive(Clone, Debug, Default)]
pub struct Log {
    /// The register's id.
    pub register: String,
    /// The entries, in order.
    pub entries: Vec<Entry>,
    /// The sha256 of the last entry; of an empty log, that of `REGISTER.json`.
    pub(super) last: String,
    pub(super) tree: Tree,
    /// The sha256 of each entry.
    digests: Vec<String>,
    /// Where the entries about keys stand, which are few.
    keyed: Vec<usize>,
}

impl Log {
    /// The log of a register before anything of it is read; `first` is the sha256 of its deed.
    pub(super) fn unread(register: &str, first: &str) -> Log {
        Log { register: register.to_owned(), last: first.to_owned(), ..Log::default() }
    }

    /// True if the last entry that was read is still what stands on the disk.
    pub(super) fn stands(&self, root: &Path) -> bool {
        let size = self.tree.size();
        size > 0 && disk::read(&root.join(Entry::path(size))).is_ok_and(|bytes| sha256(&bytes) == self.last)
    }

    /// Reads on, and notes what is wrong.
    ///
    /// It reads as far as the entries hold together; what stands behind a break is not trusted.
    ///
    /// # Errors
    /// A folder that cannot be read.
    pub(super) fn read_on(mut self, root: &Path, flaws: &mut Flaws) -> Result<Log, Fault> {
        let log = &mut self;
        let files = files(root, flaws)?;
        let newest = files.last().copied().unwrap_or(0);
        for seq in log.tree.size() + 1..=newest {
            let path = root.join(Entry::path(seq));
            let here = |code, found: String, needed: &str| {
                Flaw::new(code, found, needed.to_owned()).file(Entry::path(seq)).entry(seq)
            };
            let bytes = match disk::read(&path) {
                Ok(bytes) => bytes,
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                    flaws.add(here(Code::EntryMissing, format!("no entry {seq}, and a later one"), "every entry"));
                    return Ok(self);
                }
                Err(error) => {
                    flaws.add(here(Code::EntryAltered, error.to_string(), "a regular file"));
                    return Ok(self);
                }
            };
            let digest = sha256(&bytes);
            let Some(entry) = Entry::read(&bytes) else {
                let found = if bytes.is_empty() { "an empty file" } else { "a text that its own digest does not fit" };
                flaws.add(here(Code::EntryAltered, found.to_owned(), "the entry as it was written"));
                return Ok(self);
            };
            if entry.seq != seq {
                let doubled = log.digests.contains(&digest);
                let code = if doubled { Code::EntryDoubled } else { Code::EntryOrder };
                flaws.add(
                    here(code, format!("entry {} in the place of {seq}", entry.seq), "each entry once, in its place")
                        .record(entry.of()),
                );
                return Ok(self);
            }
            if entry.previous != log.last {
                flaws.add(
                    here(
                        Code::EntryOrder,
                        format!("an entry that follows {}", entry.previous),
                        "one that follows the entry before it",
                    )
                    .record(entry.of()),
                );
                return Ok(self);
            }
            log.push(entry, &bytes);
        }
        Ok(self)
    }

    /// Adds an entry that follows.
    pub(super) fn push(&mut self, entry: Entry, text: &[u8]) {
        let digest = sha256(text);
        self.tree.add(text);
        self.last.clone_from(&digest);
        if entry.key.is_some() {
            self.keyed.push(self.entries.len());
        }
        self.entries.push(entry);
        self.digests.push(digest);
    }

    /// The head.
    #[must_use]
    pub fn head(&self) -> Head {
        let size = self.tree.size();
        Head { register: self.register.clone(), size, root: self.tree.root(size).unwrap_or_default() }
    }

    /// The entries about records, with their numbers.
    pub fn records(&self) -> impl Iterator<Item = (u64, &Entry, &RecordChange)> {
        self.entries.iter().filter_map(|entry| entry.record.as_ref().map(|change| (entry.seq, entry, change)))
    }

    /// A selection and what stands beside it, in order.
    pub(super) fn selection(&self, of: &RecordId) -> impl Iterator<Item = (RecordId, &RecordChange)> {
        let base = of.base();
        self.records().filter_map(move |(.., change)| change.id().filter(|id| id.base() == base).map(|id| (id, change)))
    }

    /// The entries about keys, in order.
    pub(super) fn key_changes(&self) -> impl Iterator<Item = (&Entry, &KeyChange)> {
        self.keyed.iter().filter_map(|at| self.entries[*at].key.as_ref().map(|change| (&self.entries[*at], change)))
    }

    /// The keys in force before entry `seq`, by signer.
    #[must_use]
    pub fn keys_before(&self, seq: u64) -> Vec<&KeyChange> {
        let mut keys: Vec<&KeyChange> = Vec::new();
        for (entry, change) in self.key_changes().take_while(|(entry, _)| entry.seq < seq) {
            match entry.event {
                Event::KeyAdded => keys.push(change),
                _ => keys.retain(|key| key.fingerprint != change.fingerprint || key.signer != change.signer),
            }
        }
        keys
    }
}

/// The numbers of the entry files; what else stands there is foreign.
fn files(root: &Path, flaws: &mut Flaws) -> Result<Vec<u64>, Fault> {
    let folder = root.join("entries");
    // A log whose folder is gone is not an empty one: the share may have vanished.
    std::fs::read_dir(&folder).map_err(|e| disk::unreadable(&folder, &e))?;
    let mut numbers = Vec::new();
    for shelf in disk::names_in(&folder).map_err(|e| disk::unreadable(&folder, &e))? {
        let inside = folder.join(&shelf);
        let names = if inside.is_dir() {
            disk::names_in(&inside).map_err(|e| disk::unreadable(&inside, &e))?
        } else {
            Vec::new()
        };
        if !inside.is_dir() {
            flaws.add(Flaw::foreign(Path::new("entries").join(&shelf)));
        }
        for name in names {
            let number = name.strip_suffix(".json").and_then(|n| n.parse::<u64>().ok());
            let path = Path::new("entries").join(&shelf).join(&name);
            match number.filter(|n| *n > 0 && Entry::path(*n) == path) {
                Some(number) => numbers.push(number),
                None => flaws.add(Flaw::foreign(path)),
            }
        }
    }
    numbers.sort_unstable();
    Ok(numbers)
}
