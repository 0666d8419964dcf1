//! The register: signed selections, kept so that anyone can prove them without this program.
//!
//! A register is a folder that a person can read. A record is staged, made durable and moved into place
//! in one rename; an entry of the log is then linked to the next free number, and that link is the
//! commit point: before it nothing has happened, after it the record stands. Entries name the digest of
//! the one before and of everything they commit; each statement carries the head of the log that its
//! signer saw, so that every signature is a witness to all that came before it.
//!
//! This module knows bytes, digests and signatures, and nothing of tapes.

mod bag;
mod commit;
mod disk;
mod drafts;
mod flaw;
mod index;
mod keys;
mod log;
mod rules;
mod seen;
mod sign;
mod tree;
mod verify;

use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use serde::{Deserialize, Serialize};

pub use bag::export;
pub use disk::{Disk, Fate, Step};
pub use drafts::{DRAFTS, DraftFile, Mark, Overtaken, draft_of, hold as hold_drafts, sweep as sweep_drafts};
pub use flaw::{Flaw, Flaws};
pub use index::{Index, Line, Status};
pub use keys::{fingerprint, private, public};
pub use log::{Entry, Event, KeyChange, Log, RecordChange};
use seen::Seen;
pub use sign::{Added, Draft, Revision, Signing};
pub use verify::{Report, Scope};

use crate::fault::{Code, Fault};
use crate::record::{self, NAMESPACE, sha256};

/// The form of `REGISTER.json`.
const FORMAT: &str = "lapwise/register/1";
const DEED: &str = "REGISTER.json";
const LEAFLET: &str = "README.txt";
const FOLDERS: [&str; 5] = ["records", "kept", "entries", "keys", ".staging"];
/// What a register says to whoever opens its folder.
const LEAFLET_TEXT: &str = include_str!("leaflet.txt");

/// What a register is, written once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Deed {
    schema: String,
    register: String,
    created: String,
    namespace: String,
    /// Whether one person may author and approve the same selection.
    one_person_may_author_and_approve: bool,
    /// The sha256 of the leaflet beside it.
    leaflet: String,
    /// The sha256 of this text without this key.
    digest: String,
}

impl Deed {
    fn text(&self) -> Result<String, Fault> {
        record::sealed(self, |deed| &mut deed.digest)
    }
}

/// A register that is open.
pub struct Register {
    root: PathBuf,
    disk: Disk,
    deed: Deed,
    /// The sha256 of `REGISTER.json`, which the first entry follows.
    first: String,
    /// What this client has seen of it.
    seen: Option<Seen>,
    /// The log as far as this process has read it: a signing reads on from there, a proof does not.
    read: Mutex<Option<Log>>,
}

impl Register {
    /// Makes a register in an empty or new folder.
    ///
    /// # Errors
    /// A folder that holds something, or a disk without hard links.
    pub fn create(root: &Path, one_person: bool, time: &str, disk: Disk) -> Result<Register, Fault> {
        let refused = |error: std::io::Error| disk::refused(root, &error);
        std::fs::create_dir_all(root).map_err(refused)?;
        let there = disk::names_in(root).map_err(refused)?;
        let exists = || {
            Fault::new(
                Code::RegisterExists,
                format!("`{}` is a register already", root.display()),
                "a new or empty folder",
                "use it as it is, or name another folder",
            )
        };
        if there.iter().any(|name| name == DEED) {
            return Err(exists());
        }
        // A creation that was cut short leaves these and nothing else.
        let unfinished = |name: &String| FOLDERS.contains(&name.as_str()) || name == LEAFLET;
        if let Some(other) = there.iter().find(|name| !unfinished(name)) {
            return Err(Fault::new(
                Code::RegisterExists,
                format!("`{}` holds `{other}`", root.display()),
                "a new or empty folder",
                "name a folder of its own for the register",
            ));
        }
        for folder in FOLDERS {
            disk.folder(&root.join(folder)).map_err(refused)?;
        }
        links(root, &disk)?;
        let leaflet = root.join(LEAFLET);
        disk.remove(&leaflet).map_err(refused)?;
        disk.write(&leaflet, LEAFLET_TEXT.as_bytes()).map_err(refused)?;
        let deed = Deed {
            schema: FORMAT.to_owned(),
            register: random()?,
            created: time.to_owned(),
            namespace: NAMESPACE.to_owned(),
            one_person_may_author_and_approve: one_person,
            leaflet: sha256(LEAFLET_TEXT.as_bytes()),
            digest: String::new(),
        };
        let text = deed.text()?;
        let staged = root.join(".staging").join(format!("{}.json", deed.register));
        disk.write(&staged, text.as_bytes()).map_err(refused)?;
        disk.flush(root).map_err(refused)?;
        if !disk.link(&staged, &root.join(DEED)).map_err(refused)? {
            // Another made it meanwhile, by a deed of its own.
            disk.remove(&staged).map_err(refused)?;
            return Err(exists());
        }
        disk.flush(root).map_err(refused)?;
        if let Some(parent) = root.canonicalize().ok().as_deref().and_then(Path::parent) {
            disk.flush(parent).map_err(refused)?;
        }
        disk.remove(&staged).map_err(refused)?;
        Register::open(root, disk)
    }

    /// Opens a register.
    ///
    /// # Errors
    /// No register there, or one whose deed was altered or is of another format.
    pub fn open(root: &Path, disk: Disk) -> Result<Register, Fault> {
        let path = root.join(DEED);
        let bytes = disk::read(&path).map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => Fault::new(
                Code::RegisterMissing,
                format!("no register in `{}`", root.display()),
                "a folder with a REGISTER.json",
                "check the path, or make one with `lapwise register create`",
            ),
            _ => disk::unreadable(&path, &error),
        })?;
        let altered = || {
            Flaw::new(Code::RegisterAltered, "a text that its own digest does not fit", "the deed as it was written")
                .file(DEED)
                .fault
        };
        let deed: Deed = serde_json::from_slice(&bytes).map_err(|_| altered())?;
        if deed.text()?.as_bytes() != bytes {
            return Err(altered());
        }
        if deed.schema != FORMAT {
            return Err(Fault::new(
                Code::FormatUnknown,
                format!("a register of the form `{}`", deed.schema),
                format!("`{FORMAT}`"),
                "use the version of this program that wrote it, or a later one",
            ));
        }
        Ok(Register { root: root.to_owned(), disk, deed, first: sha256(&bytes), seen: None, read: Mutex::new(None) })
    }

    /// The same, held against what this client has seen of it, which is kept in `folder`.
    #[must_use]
    pub fn seen_by(self, folder: &Path) -> Register {
        let seen = Seen::of(folder, self.id());
        Register { seen: Some(seen), ..self }
    }

    /// Its folder.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Its id.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.deed.register
    }

    /// A shared input by its digest.
    ///
    /// # Errors
    /// A file that is gone, or that does not hold what its name says.
    pub fn kept(&self, sha: &str) -> Result<Vec<u8>, Fault> {
        let path = self.root.join(commit::kept(sha));
        self.proven(&path, sha)
    }

    /// A file of a record, by its name in the statement.
    ///
    /// # Errors
    /// As [`Register::kept`].
    pub fn file(&self, record: &record::RecordId, file: &record::FileDigest) -> Result<Vec<u8>, Fault> {
        self.proven(&self.folder_of(record).join(&file.file), &file.sha256)
    }

    /// Where a record stands.
    #[must_use]
    pub fn folder_of(&self, record: &record::RecordId) -> PathBuf {
        self.root.join(commit::folder_of(record))
    }

    fn proven(&self, path: &Path, sha: &str) -> Result<Vec<u8>, Fault> {
        let bytes = disk::read(path).map_err(|error| disk::unreadable(path, &error))?;
        if sha256(&bytes) == sha {
            return Ok(bytes);
        }
        Err(Fault::new(
            Code::InputAltered,
            format!("`{}` is not what was signed", path.display()),
            "the bytes that were signed",
            format!("run `lapwise register verify {}` and restore what it names", self.root.display()),
        ))
    }

    /// The log, if nothing is wrong with it.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn log(&self) -> Result<Log, Fault> {
        let mut flaws = Flaws::default();
        let read = self.read.lock().ok().and_then(|mut read| read.take()).filter(|log| log.stands(&self.root));
        let log = read.unwrap_or_else(|| Log::unread(self.id(), &self.first)).read_on(&self.root, &mut flaws)?;
        flaws.extend(self.unseen(&log)?);
        match flaws.sorted().into_iter().next() {
            None => {
                self.remember(&log)?;
                if let Ok(mut read) = self.read.lock() {
                    *read = Some(log.clone());
                }
                Ok(log)
            }
            Some(flaw) => Err(Fault {
                remedy: format!("run `lapwise register verify {}` and restore what it names", self.root.display()),
                ..flaw.fault
            }),
        }
    }

    /// What the log lacks of a head that someone holds: nothing, if it extends it.
    ///
    /// # Errors
    /// As [`Register::log`].
    pub fn lacks(&self, held: &record::Head) -> Result<Option<Flaw>, Fault> {
        Ok(seen::beyond(held, &self.log()?, "the holder of the head"))
    }

    /// What the log lacks of the head that this client has seen.
    fn unseen(&self, log: &Log) -> Result<Option<Flaw>, Fault> {
        self.seen.as_ref().map_or(Ok(None), |seen| seen.missing(log))
    }

    fn remember(&self, log: &Log) -> Result<(), Fault> {
        self.seen.as_ref().map_or(Ok(()), |seen| seen.note(log))
    }

    /// Holds the register against other writers on this machine. It saves them retries and is no part
    /// of the protocol: where locks do not work, the commit point alone decides.
    fn hold(&self) -> Option<File> {
        let file = File::options().create(true).append(true).open(self.root.join(".staging/lock")).ok()?;
        file.lock().ok()?;
        Some(file)
    }
}

/// Refuses a disk without hard links: the commit point is one.
fn links(root: &Path, disk: &Disk) -> Result<(), Fault> {
    let (one, other) = (root.join(".staging/probe"), root.join(".staging/probe.link"));
    let refused = |error: std::io::Error| {
        Fault::new(
            Code::LinksRefused,
            format!("`{}` takes no hard link: {error}", root.display()),
            "a file system with hard links",
            "keep the register on another file system or share",
        )
    };
    for path in [&one, &other] {
        disk.remove(path).map_err(|error| disk::refused(path, &error))?;
    }
    disk.write(&one, b"probe\n").map_err(|error| disk::refused(&one, &error))?;
    let linked = disk.link(&one, &other);
    for path in [&one, &other] {
        disk.remove(path).map_err(|error| disk::refused(path, &error))?;
    }
    linked.map(|_| ()).map_err(refused)
}

/// Sixteen random bytes, as text.
fn random() -> Result<String, Fault> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes).map_err(|error| {
        Fault::new(Code::WriteFailed, error.to_string(), "random bytes of the system", "check the machine")
    })?;
    Ok(record::hexadecimal(&bytes))
}
