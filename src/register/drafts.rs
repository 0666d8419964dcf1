//! What stands in a register beside what is signed: drafts of next revisions, and what the last judging
//! by newer data overtook. Neither is proven, nothing relies on it, and both can be made again.

use std::fs::File;
use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::flaw::Flaw;
use super::{Register, disk};
use crate::fault::Fault;
use crate::keep;
use crate::part::Part;
use crate::record::{self, Head, RecordId, enquiry_of};

/// The folder of drafts, below the register.
pub const DRAFTS: &str = "drafts";
/// What the last judging found, in it.
const OVERTAKEN: &str = "overtaken.json";
/// The form of [`Overtaken`].
const FORM: &str = "lapwise/overtaken/1";
/// What holds the folder for one writer, or for the writers of parts.
const LOCK: &str = "lock";
/// What holds the list, while a part adds what it found.
const LIST_LOCK: &str = "overtaken.lock";
/// How the name of a draft ends.
const END: &str = "_draft.pdf";

/// What newer data overtook: a cache for whoever lists the register, never a proof.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Overtaken {
    /// `lapwise/overtaken/1`.
    pub schema: String,
    /// The head of the log that was judged.
    pub head: Head,
    /// The version of the data that was judged by.
    pub data: String,
    /// The digest over the files of that data folder.
    pub data_sha256: String,
    /// The parts that were judged, while not all of them are: nothing is said of the selections of others.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(with = "Vec<String>")]
    pub parts: Vec<Part>,
    /// The selections that are not current, by record.
    pub selections: Vec<Mark>,
    /// The sha256 of this text without this key.
    pub digest: String,
}

/// What became of one selection.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// The record.
    pub record: String,
    /// overturned, not judgeable, restated or restyled.
    pub outcome: String,
    /// What brought it about.
    pub by: String,
    /// The draft of the next revision.
    pub draft: Option<DraftFile>,
}

/// A draft of a next revision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DraftFile {
    /// Its path, relative to the register.
    pub file: String,
    /// The digest of everything that it is made from.
    pub inputs: String,
    /// The sha256 of its bytes; none while it is not printed.
    pub sha256: Option<String>,
}

impl Overtaken {
    /// What was found for a register at a head, by some data.
    #[must_use]
    pub fn new(head: Head, data: &str, data_sha256: &str, mut selections: Vec<Mark>) -> Overtaken {
        selections.sort_by(|a, b| a.record.cmp(&b.record));
        let (data, data_sha256) = (data.to_owned(), data_sha256.to_owned());
        let (parts, digest) = (Vec::new(), String::new());
        Overtaken { schema: FORM.to_owned(), head, data, data_sha256, parts, selections, digest }
    }

    /// Keeps the list beside the records, unless the same is there. What was found in one part takes the place of
    /// what was known of that part; of the others stays what was found by the same data.
    ///
    /// # Errors
    /// A folder that cannot be written.
    pub fn keep(self, register: &Register, part: Option<Part>) -> Result<(), Fault> {
        let path = Overtaken::path(register);
        let Some(part) = part else { return keep::unless_there(&path, self.text()?.as_bytes()).map(|_| ()) };
        let (_held, locked) = locked(register, LIST_LOCK, File::lock)?;
        // Without it a part would lose what another found.
        locked.map_err(|error| disk::refused(&register.root().join(DRAFTS).join(LIST_LOCK), &error))?;
        let whole = self.joined(Overtaken::read(register), part);
        keep::unless_there(&path, whole.text()?.as_bytes())?;
        // Whoever was cut short while writing the list left it here; nobody writes it now.
        let folder = register.root().join(DRAFTS);
        let names = disk::names_in(&folder).map_err(|error| disk::unreadable(&folder, &error))?;
        let left = names.iter().filter(|name| name.starts_with(keep::UNFINISHED) && folder.join(name).is_file());
        left.map(|name| format!("{DRAFTS}/{name}")).try_for_each(|file| remove(register, &file))
    }

    /// What was found in one part, with what is known of the others.
    fn joined(mut self, known: Option<Overtaken>, part: Part) -> Overtaken {
        self.parts = vec![part];
        let alike = |known: &Overtaken| (&known.data, &known.data_sha256) == (&self.data, &self.data_sha256);
        let Some(known) = known.filter(alike) else { return self };
        // What became of a record by some data stays so, whatever was signed since; who was signed since is not in it.
        let theirs = known.selections.into_iter().filter(|mark| !part.takes(enquiry_of(&mark.record)));
        self.selections.extend(theirs);
        self.selections.sort_by(|a, b| a.record.cmp(&b.record));
        if known.head != self.head || known.parts.iter().any(|other| other.of() != part.of()) {
            return self;
        }
        // A list without parts is of all of them.
        let all = known.parts.is_empty();
        self.parts.extend(known.parts.into_iter().filter(|other| *other != part));
        self.parts.sort();
        if all || self.parts.len() == part.of() as usize {
            self.parts.clear();
        }
        self
    }

    /// Its text, with its own digest.
    ///
    /// # Errors
    /// Never, for texts and whole numbers.
    pub fn text(&self) -> Result<String, Fault> {
        record::sealed(self, |list| &mut list.digest)
    }

    /// What the last judging of a register found; none where there was none, or where the text is not
    /// as it was written.
    #[must_use]
    pub fn read(register: &Register) -> Option<Overtaken> {
        let bytes = disk::read(&Overtaken::path(register)).ok()?;
        let read: Overtaken = serde_json::from_slice(&bytes).ok()?;
        let whole = read.schema == FORM && read.head.register == register.id();
        (whole && read.text().is_ok_and(|text| text.as_bytes() == bytes)).then_some(read)
    }

    /// Where it stands.
    #[must_use]
    pub fn path(register: &Register) -> PathBuf {
        register.root().join(DRAFTS).join(OVERTAKEN)
    }

    /// What became of one selection.
    #[must_use]
    pub fn of(&self, record: &str) -> Option<&Mark> {
        self.selections.binary_search_by(|mark| mark.record.as_str().cmp(record)).ok().map(|at| &self.selections[at])
    }
}

/// The path of the draft of a revision, relative to the register, with forward slashes.
#[must_use]
pub fn draft_of(revision: &RecordId) -> String {
    format!("{DRAFTS}/{}/{}_{}{END}", revision.enquiry, revision.enquiry, revision.folder())
}

/// Who holds the drafts of a register, as long as this is held.
#[derive(Debug)]
pub struct Held(#[expect(dead_code, reason = "a lock ends with its file")] Vec<File>);

/// Holds the drafts of a register for one writer, or for the writers of parts, each part for one; signing is not held
/// up.
///
/// # Errors
/// A folder that cannot be written.
pub fn hold(register: &Register, part: Option<Part>) -> Result<Held, Fault> {
    // Where locks do not work, two writers of the same drafts write the same bytes.
    let held = |name: &str, lock| locked(register, name, lock).map(|(file, _)| file);
    match part {
        None => Ok(Held(vec![held(LOCK, File::lock)?])),
        Some(part) => Ok(Held(vec![held(LOCK, File::lock_shared)?, held(&lock_of(part), File::lock)?])),
    }
}

/// What holds one part.
fn lock_of(part: Part) -> String {
    format!("part{}.lock", part.of_file())
}

type Lock = fn(&File) -> std::io::Result<()>;

/// A file among the drafts, and whether it is locked now.
fn locked(register: &Register, name: &str, lock: Lock) -> Result<(File, std::io::Result<()>), Fault> {
    let folder = register.root().join(DRAFTS);
    let refused = |error: std::io::Error| disk::refused(&folder, &error);
    if !folder.is_dir() {
        std::fs::create_dir_all(&folder).map_err(refused)?;
    }
    // A shared lock may ask for a file that can be read.
    let file = File::options().create(true).read(true).append(true).open(folder.join(name)).map_err(refused)?;
    let locked = lock(&file);
    Ok((file, locked))
}

/// Removes a file that stands beside the records; one that is gone already is none.
fn remove(register: &Register, file: &str) -> Result<(), Fault> {
    let path = register.root().join(file);
    match std::fs::remove_file(&path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(disk::refused(&path, &error)),
        _ => Ok(()),
    }
}

/// Removes the drafts that nothing names any more, and what a writer that was cut short left, all of one part or of
/// all; returns how many drafts went.
///
/// # Errors
/// A folder that cannot be read or written.
pub fn sweep(register: &Register, part: Option<Part>, named: impl Fn(&str) -> bool) -> Result<usize, Fault> {
    let mut removed = 0;
    let there = Beside::of(register.root())?;
    // What stands in no enquiry's folder is no part's.
    let enquiry = |file: &str| file.strip_prefix(DRAFTS)?.strip_prefix('/')?.split_once('/').map(|(e, _)| e.to_owned());
    let ours = |file: &&String| part.is_none_or(|part| enquiry(file).is_some_and(|enquiry| part.takes(&enquiry)));
    let gone = there.drafts.iter().filter(|file| !named(file));
    for file in gone.chain(&there.unfinished).chain(&there.locks).filter(ours) {
        remove(register, file)?;
        removed += usize::from(file.ends_with(END));
        let path = register.root().join(file);
        if let Some(folder) = path.parent().filter(|folder| *folder != register.root().join(DRAFTS)) {
            // A folder that still holds something stays.
            let _ = std::fs::remove_dir(folder);
        }
    }
    Ok(removed)
}

/// What stands in the folder of drafts.
#[derive(Default)]
pub(super) struct Beside {
    /// The drafts.
    pub(super) drafts: Vec<String>,
    /// Left of writing that was cut short.
    pub(super) unfinished: Vec<String>,
    /// What parts were held by.
    locks: Vec<String>,
    /// What does not belong there.
    pub(super) foreign: Vec<Flaw>,
}

impl Beside {
    /// Reads the folder; without one there is nothing.
    pub(super) fn of(root: &Path) -> Result<Beside, Fault> {
        let mut beside = Beside::default();
        let folder = root.join(DRAFTS);
        let Ok(about) = std::fs::symlink_metadata(&folder) else { return Ok(beside) };
        if !about.is_dir() {
            beside.foreign.push(Flaw::foreign(PathBuf::from(DRAFTS)));
            return Ok(beside);
        }
        let listed = |folder: &Path| disk::names_in(folder).map_err(|error| disk::unreadable(folder, &error));
        let is_file = |path: &Path| std::fs::symlink_metadata(path).is_ok_and(|about| about.is_file());
        for name in listed(&folder)? {
            let inside = folder.join(&name);
            let shown = format!("{DRAFTS}/{name}");
            if is_file(&inside) {
                let of_part = name.strip_prefix("part-").and_then(|rest| rest.strip_suffix(".lock")).is_some();
                beside.sort(shown, of_part || [OVERTAKEN, LOCK, LIST_LOCK].contains(&name.as_str()));
            } else if std::fs::symlink_metadata(&inside).is_ok_and(|about| about.is_dir()) {
                for file in listed(&inside)? {
                    let draft = is_file(&inside.join(&file)) && file.starts_with(&name) && file.ends_with(END);
                    beside.sort(format!("{shown}/{file}"), draft);
                }
            } else {
                beside.foreign.push(Flaw::foreign(PathBuf::from(shown)));
            }
        }
        Ok(beside)
    }

    fn sort(&mut self, file: String, known: bool) {
        let name = file.rsplit('/').next().unwrap_or_default();
        match (known, name) {
            (true, LOCK | LIST_LOCK | OVERTAKEN) => {}
            (true, name) if !name.ends_with(END) => self.locks.push(file),
            (true, _) => self.drafts.push(file),
            (false, name) if name.starts_with(keep::UNFINISHED) => self.unfinished.push(file),
            (false, _) => self.foreign.push(Flaw::foreign(PathBuf::from(file))),
        }
    }
}
