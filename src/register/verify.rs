//! Proving that a register is what was signed: every byte, every signature, the order.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::commit::{checksums, folder_of, kept};
use super::drafts::{Beside, DRAFTS};
use super::flaw::{Flaw, Flaws};
use super::log::{Entry, Event, KeyChange, Log, RecordChange};
use super::rules::standing;
use super::seen::beyond;
use super::sign::{list_in_force, named_before, unknown_record};
use super::{DEED, FOLDERS, LEAFLET, Register, disk, keys};
use crate::fault::{Code, Fault};
use crate::record::{FileDigest, Head, Kind, RecordId, Statement, sha256};

/// How much is proven.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Scope {
    /// Everything.
    All,
    /// The log, the keys, and one selection with what stands beside it.
    Record(RecordId),
}

/// What was found.
#[derive(Clone, Debug)]
pub struct Report {
    /// The head of the log, as far as it holds together.
    pub head: Head,
    /// How many records were checked.
    pub records: usize,
    /// How many signatures were checked.
    pub signatures: usize,
    /// What is wrong.
    pub flaws: Vec<Flaw>,
    /// What no entry names and nobody should rely on: left of writing that was cut short.
    pub unfinished: Vec<String>,
    /// Drafts of next revisions: unsigned, and no part of what is proven.
    pub drafts: Vec<String>,
    /// Entries whose clock ran behind the one before.
    pub clock: Vec<String>,
}

impl Register {
    /// Proves the register, or one selection of it.
    ///
    /// # Errors
    /// A register that cannot be read, or a record that is not there.
    pub fn verify(&self, scope: &Scope) -> Result<Report, Fault> {
        let mut flaws = Flaws::default();
        let log = Log::unread(self.id(), &self.first).read_on(&self.root, &mut flaws)?;
        let broken = !flaws.is_empty();
        let wanted = |change: &RecordChange| match scope {
            Scope::All => true,
            Scope::Record(id) => change.id().is_some_and(|own| own.base() == id.base()),
        };
        let records: Vec<(u64, &Entry, &RecordChange)> = log.records().filter(|(.., change)| wanted(change)).collect();
        if let (Scope::Record(id), true, false) = (scope, records.is_empty(), broken) {
            return Err(unknown_record(&log, id));
        }
        self.deed_and_leaflet(&mut flaws);
        self.key_lists(&log, &mut flaws)?;
        let known = Known::of(&log);
        let checked: Vec<(Vec<Flaw>, Option<Statement>)> =
            records.par_iter().map(|(seq, entry, change)| self.record(&log, &known, *seq, entry, change)).collect();
        let signatures = records.iter().map(|(.., change)| change.signatures.len()).sum();
        let mut statements = Vec::new();
        for ((found, statement), (.., change)) in checked.into_iter().zip(&records) {
            flaws.extend(found);
            statements.extend(statement.map(|statement| (change.record.as_str(), statement)));
        }
        // Each by itself may be whole, and still stand where it must not. What cannot be read has been told.
        if statements.len() == records.len() {
            flaws.extend(self.rules(&log, records.iter().zip(statements.iter().map(|(_, statement)| statement))));
        }
        // Where a statement cannot be read, what it alone names would be listed as nobody's.
        let mut unfinished = self.shared(scope, &statements, &mut flaws);
        if broken || statements.len() < records.len() {
            unfinished.clear();
        }
        let mut drafts = Vec::new();
        if *scope == Scope::All {
            unfinished.extend(self.strangers(&log, broken, &mut flaws)?);
            let beside = Beside::of(&self.root)?;
            flaws.extend(beside.foreign);
            unfinished.extend(beside.unfinished);
            drafts = beside.drafts;
        }
        if let Some(cut) = self.unseen(&log)?
            && !broken
        {
            flaws.add(cut);
        }
        if flaws.is_empty() {
            self.remember(&log)?;
        }
        let clock = log.entries.windows(2).filter(|pair| pair[1].time < pair[0].time).map(|pair| {
            format!("entry {} says {}, before entry {}: {}", pair[1].seq, pair[1].time, pair[0].seq, pair[0].time)
        });
        Ok(Report {
            head: log.head(),
            records: records.len(),
            signatures,
            clock: clock.collect(),
            flaws: flaws.sorted(),
            unfinished,
            drafts,
        })
    }

    /// Holds the statements, in the order of the log, against the rules of signing and those before them.
    fn rules<'s>(
        &self,
        log: &Log,
        statements: impl Iterator<Item = (&'s (u64, &'s Entry, &'s RecordChange), &'s Statement)>,
    ) -> Vec<Flaw> {
        let mut under: BTreeMap<RecordId, Under<'_>> = BTreeMap::new();
        let mut flaws = Vec::new();
        for ((seq, _, change), statement) in statements {
            let Some(id) = change.id() else { continue };
            let Under { statements: earlier, records: there } = under.entry(id.base()).or_default();
            let here = |code, found: String, needed: &str| {
                let file = folder_of(&id).join("statement.json");
                Flaw::new(code, found, needed).file(file).record(Some(&change.record)).entry(*seq)
            };
            let one_person = self.deed.one_person_may_author_and_approve;
            if let Err(fault) = standing(statement, &log.keys_before(*seq), earlier, one_person) {
                flaws.push(here(fault.code, fault.found, &fault.needed));
            }
            if statement.before != named_before(there.iter().cloned()) {
                let found = "other files before it than there are".to_owned();
                flaws.push(here(Code::StatementAltered, found, "what stood under the selection by then"));
            }
            earlier.push(statement);
            there.push((id, change));
        }
        flaws
    }

    fn deed_and_leaflet(&self, flaws: &mut Flaws) {
        let altered = |file: &str| {
            Flaw::new(Code::RegisterAltered, "a text that is not the one written at the start", "the first text")
                .file(file)
        };
        match disk::read(&self.root.join(LEAFLET)) {
            Ok(bytes) if sha256(&bytes) == self.deed.leaflet => {}
            _ => flaws.add(altered(LEAFLET)),
        }
        if disk::read(&self.root.join(DEED)).map_or(true, |bytes| sha256(&bytes) != self.first) {
            flaws.add(altered(DEED));
        }
    }

    fn key_lists(&self, log: &Log, flaws: &mut Flaws) -> Result<(), Fault> {
        let mut named = BTreeSet::new();
        for entry in &log.entries {
            let Some(change) = &entry.key else { continue };
            named.insert(change.list.file.clone());
            let expected = keys::list(&log.keys_before(entry.seq + 1));
            let held = disk::read(&self.root.join(&change.list.file));
            if !held.is_ok_and(|bytes| bytes == expected.as_bytes() && sha256(&bytes) == change.list.sha256) {
                flaws.add(
                    Flaw::new(
                        Code::KeysAltered,
                        "a key list that is not the one logged",
                        "the keys that the log adds up to",
                    )
                    .file(&change.list.file)
                    .entry(entry.seq),
                );
            }
        }
        let folder = self.root.join("keys");
        for name in disk::names_in(&folder).map_err(|e| disk::unreadable(&folder, &e))? {
            let file = format!("keys/{name}");
            let next = format!("keys/allowed_signers.{}", named.len() + 1);
            // The next list may stand there already: left of a change that was cut short.
            if !named.contains(&file) && file != next {
                flaws.add(Flaw::foreign(PathBuf::from(file)));
            }
        }
        Ok(())
    }

    /// Checks one record's folder; returns its statement if that is the one signed.
    fn record(
        &self,
        log: &Log,
        known: &Known<'_>,
        seq: u64,
        entry: &Entry,
        change: &RecordChange,
    ) -> (Vec<Flaw>, Option<Statement>) {
        let mut flaws: Vec<Flaw> = Vec::new();
        let Some(id) = change.id() else {
            let flaw =
                Flaw::new(Code::RecordUnknown, format!("`{}`", change.record), "the name of a record").entry(seq);
            return (vec![flaw], None);
        };
        let folder = folder_of(&id);
        let here = |code, file: &str, found: String, needed: &str| {
            Flaw::new(code, found, needed).file(folder.join(file)).record(Some(&change.record)).entry(seq)
        };
        let whole = self.root.join(&folder);
        if !std::fs::symlink_metadata(&whole).is_ok_and(|data| data.is_dir()) {
            return (vec![here(Code::RecordMissing, "", "no folder".to_owned(), "the folder of the record")], None);
        }
        // What is there.
        let mut there = BTreeMap::new();
        walk(&whole, "", &mut there);
        let mut read = |file: &FileDigest, code: Code, others: &BTreeMap<&str, &str>| -> Option<Vec<u8>> {
            let is_file = there.remove(&file.file);
            let bytes = match (is_file, disk::read(&whole.join(&file.file))) {
                (None, _) => {
                    flaws.push(here(
                        Code::SignedFileMissing,
                        &file.file,
                        "no such file".to_owned(),
                        "the file that was signed",
                    ));
                    return None;
                }
                (Some(false), _) => {
                    flaws.push(here(
                        Code::NotAFile,
                        &file.file,
                        "a link or a folder".to_owned(),
                        "the regular file that was signed",
                    ));
                    return None;
                }
                (Some(true), Err(error)) => {
                    flaws.push(here(code, &file.file, error.to_string(), "a file that can be read"));
                    return None;
                }
                (Some(true), Ok(bytes)) => bytes,
            };
            let digest = sha256(&bytes);
            if digest == file.sha256 {
                return Some(bytes);
            }
            let (code, found) = match others.get(digest.as_str()) {
                Some(other) if code == Code::PdfAltered => (Code::PdfSwapped, format!("the PDF of `{other}`")),
                Some(other) if code == Code::StatementAltered => {
                    (Code::StatementSwapped, format!("the statement of `{other}`"))
                }
                _ if bytes.is_empty() => (code, format!("an empty file instead of {} bytes", file.size)),
                _ if (bytes.len() as u64) < file.size => (code, format!("{} bytes of {}", bytes.len(), file.size)),
                _ => (code, format!("{} bytes with the digest {digest}", bytes.len())),
            };
            flaws.push(here(code, &file.file, found, "the bytes that were signed"));
            // A signature that was replaced is still read: its reason says more than its digest.
            (code == Code::SignatureAltered).then_some(bytes)
        };
        let none = BTreeMap::new();
        let text = read(&change.statement, Code::StatementAltered, &known.statements);
        let signatures: Vec<(&FileDigest, Option<Vec<u8>>)> =
            change.signatures.iter().map(|file| (file, read(file, Code::SignatureAltered, &none))).collect();
        let statement = text.as_ref().and_then(|text| serde_json::from_slice::<Statement>(text).ok());
        if let Some(statement) = &statement {
            for file in &statement.files {
                let code = match (&change.pdf, statement.kind) {
                    (Some(pdf), _) if pdf.file == file.file => Code::PdfAltered,
                    (_, Kind::Scan) => Code::ScanAltered,
                    _ => Code::InputAltered,
                };
                read(file, code, &known.pdfs);
            }
        } else {
            // Without its statement the PDF is still held against the log.
            change.pdf.as_ref().map(|pdf| read(pdf, Code::PdfAltered, &known.pdfs));
        }
        let sums = read(&change.checksums, Code::ChecksumsAltered, &none);
        if let Some(statement) = &statement {
            flaws.extend(there.keys().map(|file| {
                here(Code::FileAdded, file, "a file that was not signed".to_owned(), "only what was signed")
            }));
            let said = |code, found: String, needed: &str| here(code, "statement.json", found, needed);
            flaws.extend(history(log, seq, entry, change, statement, said));
            let own = statement.files.iter().chain([&change.statement]).chain(&change.signatures);
            if sums.is_some_and(|sums| sums != checksums(own, &statement.shared).as_bytes()) {
                flaws.push(here(
                    Code::ChecksumsAltered,
                    "SHA256SUMS",
                    "other checksums".to_owned(),
                    "those of what was signed",
                ));
            }
        }
        if let (Some(text), Some(statement)) = (&text, &statement) {
            judge(log, seq, (text, statement), &signatures, &mut flaws, here);
        }
        (flaws, statement)
    }

    /// Checks the shared inputs that statements name; returns those that nobody names.
    fn shared(&self, scope: &Scope, statements: &[(&str, Statement)], flaws: &mut Flaws) -> Vec<String> {
        let mut named: BTreeMap<&str, (&str, &FileDigest)> = BTreeMap::new();
        for (record, statement) in statements {
            for file in &statement.shared {
                named.entry(&file.sha256).or_insert((record, file));
            }
        }
        let check = |(digest, (record, file)): (&&str, &(&str, &FileDigest))| {
            let path = kept(digest);
            let flaw = |code, found: String| {
                Flaw::new(code, found, format!("`{}` as it was signed", file.file))
                    .file(path.clone())
                    .record(Some(record))
            };
            match disk::read(&self.root.join(&path)) {
                Ok(bytes) if sha256(&bytes) == **digest => None,
                Ok(bytes) => Some(flaw(
                    Code::SharedAltered,
                    format!("{} bytes of {}, with another digest", bytes.len(), file.size),
                )),
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                    Some(flaw(Code::SharedMissing, "no such file".to_owned()))
                }
                Err(error) => Some(flaw(Code::NotAFile, error.to_string())),
            }
        };
        let found: Vec<Flaw> = named.par_iter().filter_map(check).collect();
        flaws.extend(found);
        let mut unnamed = Vec::new();
        if *scope == Scope::All {
            let mut there = BTreeMap::new();
            walk(&self.root.join("kept"), "kept/", &mut there);
            for (file, _) in there {
                let digest = file.rsplit('/').next().unwrap_or_default();
                if named.contains_key(digest) && Path::new(&file) == kept(digest) {
                    continue;
                }
                // What was kept for a record that never came is rubbish; anything else is foreign.
                let honest =
                    disk::read(&self.root.join(&file)).is_ok_and(|bytes| Path::new(&file) == kept(&sha256(&bytes)));
                if honest { unnamed.push(file) } else { flaws.add(Flaw::foreign(PathBuf::from(file))) }
            }
        }
        unnamed
    }

    /// What stands in the register without an entry: rubbish of a writer that was cut short, or foreign.
    fn strangers(&self, log: &Log, broken: bool, flaws: &mut Flaws) -> Result<Vec<String>, Fault> {
        let listed = |folder: &Path| disk::names_in(folder).map_err(|error| disk::unreadable(folder, &error));
        let mut unfinished = Vec::new();
        for name in listed(&self.root)? {
            if !FOLDERS.contains(&name.as_str()) && ![DEED, LEAFLET, DRAFTS].contains(&name.as_str()) {
                flaws.add(Flaw::foreign(PathBuf::from(name)));
            }
        }
        for name in listed(&self.root.join(".staging"))?.into_iter().filter(|name| name != "lock") {
            unfinished.push(format!(".staging/{name}"));
        }
        // Behind a break the entries are not trusted, yet they tell which folder belongs to which.
        let named: BTreeSet<String> = log
            .records()
            .map(|(.., change)| change.record.clone())
            .chain(if broken { self.named_behind(log) } else { Vec::new() })
            .collect();
        let records = self.root.join("records");
        for enquiry in listed(&records)? {
            let inside = records.join(&enquiry);
            if !inside.is_dir() {
                flaws.add(Flaw::foreign(Path::new("records").join(&enquiry)));
                continue;
            }
            for folder in listed(&inside)? {
                let name = format!("{enquiry}/{folder}");
                if named.contains(&name) {
                    continue;
                }
                match self.unlogged(log, &inside.join(&folder), &name) {
                    None if !broken => unfinished.push(format!("records/{name}")),
                    found => {
                        let unlogged = || {
                            Flaw::new(Code::RecordUnlogged, "a record that no entry names", "only what the log names")
                                .file(Path::new("records").join(&enquiry).join(&folder))
                                .record(Some(&name))
                        };
                        flaws.add(found.unwrap_or_else(unlogged));
                    }
                }
            }
        }
        Ok(unfinished)
    }

    /// The records that entries behind the trusted part of the log name.
    fn named_behind(&self, log: &Log) -> Vec<String> {
        let mut files = BTreeMap::new();
        let folder = self.root.join("entries");
        walk(&folder, "", &mut files);
        let trusted = log.entries.len();
        let behind = files.into_iter().skip(trusted).filter_map(|(file, _)| {
            let entry: Entry = serde_json::from_slice(&disk::read(&folder.join(file)).ok()?).ok()?;
            entry.record.map(|change| change.record)
        });
        behind.collect()
    }

    /// Why a folder that no entry names is not just left of a signing that was cut short.
    fn unlogged(&self, log: &Log, folder: &Path, name: &str) -> Option<Flaw> {
        let flaw = |code, found: &str, needed: &str| {
            let shown = folder.strip_prefix(&self.root).unwrap_or(folder);
            Some(Flaw::new(code, found, needed).file(shown).record(Some(name)))
        };
        let text = disk::read(&folder.join("statement.json")).unwrap_or_default();
        let Ok(statement) = serde_json::from_slice::<Statement>(&text) else {
            return flaw(
                Code::RecordUnlogged,
                "a folder without a statement that no entry names",
                "only what the log names",
            );
        };
        if let Some(cut) = beyond(&statement.head, log, &format!("the signer of `{name}`")) {
            return Some(cut.record(Some(name)));
        }
        let in_force = log.keys_before(u64::MAX);
        let signed = match &statement.signer {
            None => statement.kind == Kind::Scan,
            Some(signer) => disk::names_in(folder).unwrap_or_default().iter().any(|file| {
                let signature = Path::new(file)
                    .extension()
                    .is_some_and(|end| end == "sig")
                    .then(|| disk::read(&folder.join(file)).unwrap_or_default());
                signature.is_some_and(|s| keys::judge(&s, &text, &signer.id, &in_force, &in_force).is_ok())
            }),
        };
        if statement.record == name && signed {
            return None;
        }
        flaw(Code::RecordUnlogged, "a record that no entry names", "only what the log names")
    }
}

/// What other records hold, to say whose file stands in the wrong place.
struct Known<'l> {
    statements: BTreeMap<&'l str, &'l str>,
    pdfs: BTreeMap<&'l str, &'l str>,
}

impl<'l> Known<'l> {
    fn of(log: &'l Log) -> Known<'l> {
        let changes = || log.records().map(|(.., change)| change);
        Known {
            statements: changes().map(|c| (c.statement.sha256.as_str(), c.record.as_str())).collect(),
            pdfs: changes()
                .filter_map(|c| c.pdf.as_ref().map(|pdf| (pdf.sha256.as_str(), c.record.as_str())))
                .collect(),
        }
    }
}

/// Holds a statement against the log: its name, its time, the register and the head that it names.
fn history(
    log: &Log,
    seq: u64,
    entry: &Entry,
    change: &RecordChange,
    statement: &Statement,
    said: impl Fn(Code, String, &str) -> Flaw,
) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    if statement.record != change.record {
        flaws.push(said(
            Code::StatementSwapped,
            format!("a statement on `{}`", statement.record),
            "that of this record",
        ));
    }
    if statement.time != entry.time {
        flaws.push(said(Code::StatementAltered, format!("the time {}", statement.time), &entry.time));
    }
    if statement.head.size >= seq {
        flaws.push(said(
            Code::HistoryRewritten,
            format!("a head of {} entries", statement.head.size),
            "an earlier head",
        ));
    }
    if let Some(flaw) = beyond(&statement.head, log, "the signer") {
        flaws.push(said(flaw.fault.code, flaw.fault.found, &flaw.fault.needed));
    }
    let seen = usize::try_from(statement.head.size).unwrap_or(usize::MAX).min(log.entries.len());
    if statement.keys != list_in_force(&log.entries[..seen]) {
        flaws.push(said(Code::KeysAltered, format!("the key list `{}`", statement.keys), "the one in force then"));
    }
    flaws
}

/// Judges the signatures of a statement by the keys in force at its place in the log.
fn judge(
    log: &Log,
    seq: u64,
    (text, statement): (&[u8], &Statement),
    signatures: &[(&FileDigest, Option<Vec<u8>>)],
    flaws: &mut Vec<Flaw>,
    here: impl Fn(Code, &str, String, &str) -> Flaw,
) {
    let Some(signer) = &statement.signer else {
        // Whether it may be without one, the rules say; signed by nobody it is not.
        let file = signatures.first().map(|(file, _)| file.file.clone());
        flaws.extend(file.map(|file| here(Code::FileAdded, &file, "a signature by nobody".to_owned(), "a signer")));
        return;
    };
    let in_force = log.keys_before(seq);
    let ever: Vec<&KeyChange> =
        log.key_changes().filter(|(entry, _)| entry.event == Event::KeyAdded).map(|(_, change)| change).collect();
    if signatures.is_empty() {
        flaws.push(here(
            Code::SignedFileMissing,
            "statement.json",
            "no signature".to_owned(),
            "the signer's signature",
        ));
    }
    for (file, bytes) in signatures {
        let Some(bytes) = bytes else { continue };
        if let Err(refused) = keys::judge(bytes, text, &signer.id, &in_force, &ever) {
            let flaw = here(refused.code, &file.file, refused.found, &refused.needed);
            // The plainest reason stands in the place of "other bytes".
            flaws.retain(|f| f.fault.place != flaw.fault.place);
            flaws.push(flaw);
        }
    }
}

/// What stands under a selection so far.
#[derive(Default)]
struct Under<'l> {
    statements: Vec<&'l Statement>,
    records: Vec<(RecordId, &'l RecordChange)>,
}

/// The files below a folder, by their path with forward slashes; false for what is no regular file.
fn walk(folder: &Path, prefix: &str, found: &mut BTreeMap<String, bool>) {
    let names = match disk::names_in(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return,
        // What cannot be looked into may hold anything.
        Err(_) => {
            found.insert(prefix.to_owned(), false);
            return;
        }
        Ok(names) => names,
    };
    for name in names {
        let path = folder.join(&name);
        let data = std::fs::symlink_metadata(&path);
        if data.as_ref().is_ok_and(std::fs::Metadata::is_dir) {
            walk(&path, &format!("{prefix}{name}/"), found);
        } else {
            found.insert(format!("{prefix}{name}"), data.is_ok_and(|data| data.is_file()));
        }
    }
}
