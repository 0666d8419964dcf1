//! The commit protocol: shared inputs, then the record's folder, then the entry that makes it stand.
//!
//! Each step is durable before the next begins, so that whatever a crash keeps of them is the old state
//! or the new one, and rubbish that no entry names.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::log::{ENTRY, Entry, Event, KeyChange, Log, RecordChange};
use super::{Register, disk, random};
use crate::fault::{Code, Fault};
use crate::record::{FileDigest, RecordId, sha256};

/// Where a record stands, below the register.
pub(super) fn folder_of(id: &RecordId) -> PathBuf {
    Path::new("records").join(&id.enquiry).join(id.folder())
}

/// Where a shared input stands, below the register.
pub(super) fn kept(sha256: &str) -> PathBuf {
    Path::new("kept/sha256").join(sha256.get(..2).unwrap_or("00")).join(sha256)
}

/// A private folder that goes away with its owner, as far as the disk lets it.
pub(super) struct Stage<'r> {
    register: &'r Register,
    pub(super) path: PathBuf,
}

impl Drop for Stage<'_> {
    fn drop(&mut self) {
        let _ = self.register.disk.remove(&self.path);
    }
}

impl Register {
    pub(super) fn stage(&self) -> Result<Stage<'_>, Fault> {
        let all = self.root.join(".staging");
        self.made(&all)?;
        let path = all.join(random()?);
        self.made(&path)?;
        Ok(Stage { register: self, path })
    }

    fn made(&self, folder: &Path) -> Result<bool, Fault> {
        self.disk.folder(folder).map_err(|error| disk::refused(folder, &error))
    }

    fn flushed(&self, folder: &Path) -> Result<(), Fault> {
        self.disk.flush(folder).map_err(|error| disk::refused(folder, &error))
    }

    fn written(&self, path: &Path, bytes: &[u8]) -> Result<(), Fault> {
        self.disk.write(path, bytes).map_err(|error| disk::refused(path, &error))
    }

    /// Keeps shared inputs under their digests; one that is there already is not written again.
    pub(super) fn keep(&self, stage: &Stage<'_>, shared: &[(String, Vec<u8>)]) -> Result<(), Fault> {
        let mut shelves = BTreeSet::new();
        let all = self.root.join("kept/sha256");
        self.made(&self.root.join("kept"))?;
        self.made(&all)?;
        for (name, bytes) in shared {
            let digest = sha256(bytes);
            let path = self.root.join(kept(&digest));
            let shelf = all.join(&digest[..2]);
            self.made(&shelf)?;
            shelves.insert(shelf);
            if !path.exists() {
                let staged = stage.path.join(&digest);
                self.written(&staged, bytes)?;
                disk::make_read_only(&staged);
                self.disk.link(&staged, &path).map_err(|error| disk::refused(&path, &error))?;
            }
            // Whoever wrote it: it must hold what its name says.
            if disk::read(&path).map_err(|error| disk::unreadable(&path, &error))? != *bytes {
                return Err(Fault::new(
                    Code::SharedAltered,
                    format!("`{}` does not hold what its name says", path.display()),
                    format!("the bytes of `{name}`"),
                    "restore the file from a copy of the register",
                ));
            }
        }
        for shelf in shelves {
            self.flushed(&shelf)?;
        }
        if !shared.is_empty() {
            self.flushed(&all)?;
            self.flushed(&self.root.join("kept"))?;
        }
        Ok(())
    }

    /// Writes a record's files and moves the folder into place; the folder of an enquiry of which nothing
    /// was kept before is made durable first.
    pub(super) fn place(
        &self,
        stage: &Stage<'_>,
        id: &RecordId,
        files: &[(String, Vec<u8>)],
        first: bool,
    ) -> Result<(), Fault> {
        let staged = stage.path.join("record");
        self.made(&staged)?;
        let mut folders = BTreeSet::new();
        for (name, bytes) in files {
            let path = staged.join(name);
            if let Some(inner) = path.parent().filter(|parent| *parent != staged) {
                self.made(inner)?;
                folders.insert(inner.to_owned());
            }
            self.written(&path, bytes)?;
        }
        for folder in folders {
            self.flushed(&folder)?;
        }
        self.flushed(&staged)?;
        let target = self.root.join(folder_of(id));
        let records = self.root.join("records");
        let enquiry = records.join(&id.enquiry);
        self.made(&records)?;
        self.made(&enquiry)?;
        if first {
            self.flushed(&records)?;
        }
        self.disk.rename(&staged, &target).map_err(|error| match error.kind() {
            std::io::ErrorKind::DirectoryNotEmpty | std::io::ErrorKind::AlreadyExists => taken(id),
            _ => disk::refused(&target, &error),
        })?;
        self.flushed(&enquiry)?;
        disk::make_read_only(&target);
        Ok(())
    }

    /// Moves a folder out of the way that no entry names: what is left of a signing that was cut short.
    ///
    /// Only while this writer holds the register: otherwise it may be another one's, about to be committed.
    pub(super) fn clear(&self, log: &Log, id: &RecordId, held: bool) -> Result<(), Fault> {
        let target = self.root.join(folder_of(id));
        if !target.exists() {
            return Ok(());
        }
        if !held || log.records().any(|(.., change)| change.record == id.to_string()) {
            return Err(taken(id));
        }
        make_writable(&target);
        let aside = self.root.join(".staging").join(format!("unfinished-{}", random()?));
        self.disk.rename(&target, &aside).map_err(|error| disk::refused(&target, &error))
    }

    /// Writes a key list.
    pub(super) fn keep_list(&self, stage: &Stage<'_>, name: &str, text: &str, held: bool) -> Result<(), Fault> {
        let folder = self.root.join("keys");
        let path = folder.join(name);
        let staged = stage.path.join("keys");
        self.made(&folder)?;
        self.written(&staged, text.as_bytes())?;
        disk::make_read_only(&staged);
        if path.exists() && held {
            // Left of a change that was cut short: the log does not name it.
            self.disk.remove(&path).map_err(|error| disk::refused(&path, &error))?;
        }
        if self.disk.link(&staged, &path).map_err(|error| disk::refused(&path, &error))? {
            return self.flushed(&folder);
        }
        Err(Fault::new(
            Code::RevisionTaken,
            format!("`keys/{name}` is there"),
            "a key list that no other writer makes",
            "do the same again",
        ))
    }

    /// Adds an entry at the end of the log: the commit point is its link.
    ///
    /// `still` is asked again whenever another writer was first.
    pub(super) fn append(
        &self,
        stage: &Stage<'_>,
        mut log: Log,
        event: Event,
        time: &str,
        what: (Option<KeyChange>, Option<RecordChange>),
        still: impl Fn(&Log) -> Result<(), Fault>,
    ) -> Result<Log, Fault> {
        let (key, record) = what;
        loop {
            still(&log)?;
            let seq = log.tree.size() + 1;
            let entry = Entry {
                schema: ENTRY.to_owned(),
                seq,
                previous: log.last.clone(),
                event,
                time: time.to_owned(),
                key: key.clone(),
                record: record.clone(),
                digest: String::new(),
            };
            let text = entry.text()?;
            let staged = stage.path.join(format!("entry-{seq}"));
            self.written(&staged, text.as_bytes())?;
            disk::make_read_only(&staged);
            let path = self.root.join(Entry::path(seq));
            let entries = self.root.join("entries");
            let shelf = path.parent().unwrap_or(&entries).to_owned();
            self.made(&entries)?;
            self.made(&shelf)?;
            if seq == 1 || seq.is_multiple_of(1000) {
                self.flushed(&entries)?;
            }
            if self.disk.link(&staged, &path).map_err(|error| disk::refused(&path, &error))? {
                self.flushed(&shelf)?;
                log.push(entry, text.as_bytes());
                return Ok(log);
            }
            log = self.log()?;
        }
    }
}

/// The digests of files as they are written.
pub(super) fn digests(files: &[(String, Vec<u8>)]) -> Vec<FileDigest> {
    let mut digests: Vec<FileDigest> = files.iter().map(|(name, bytes)| FileDigest::of(name, bytes)).collect();
    digests.sort();
    digests
}

/// What `sha256sum -c` reads: the files of a record's folder and what it shares.
pub(super) fn checksums(files: &[FileDigest], shared: &[FileDigest]) -> String {
    let own = files.iter().map(|f| (f.file.clone(), &f.sha256));
    let kept = shared.iter().map(|f| {
        let path = kept(&f.sha256);
        let parts: Vec<_> = path.iter().map(|part| part.to_string_lossy()).collect();
        (format!("../../../{}", parts.join("/")), &f.sha256)
    });
    let lines: BTreeSet<(String, &String)> = own.chain(kept).collect();
    let lines: Vec<String> = lines.into_iter().map(|(file, digest)| format!("{digest}  {file}\n")).collect();
    lines.concat()
}

fn taken(id: &RecordId) -> Fault {
    Fault::new(
        Code::RevisionTaken,
        format!("`{id}` is there already"),
        "the next revision",
        "look at `lapwise register list`, then sign on top of the newest with --revises",
    )
}

/// A folder that is to be moved must be writable by its owner.
#[expect(clippy::permissions_set_readonly_false, reason = "the folder goes into .staging, which only its owner writes")]
fn make_writable(folder: &Path) {
    if let Ok(data) = std::fs::metadata(folder) {
        let mut permissions = data.permissions();
        permissions.set_readonly(false);
        let _ = std::fs::set_permissions(folder, permissions);
    }
}
