//! The one seam through which a register is written.
//!
//! Every write, flush, rename and link goes through here, so that a test can count them, fail them,
//! stop at one of them, or play their record back.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::Path;
use std::sync::Arc;

use crate::fault::{Code, Fault};

/// One thing that is asked of the disk.
#[derive(Clone, Copy, Debug)]
pub enum Step<'a> {
    /// A folder is made.
    Folder(&'a Path),
    /// A new file is written.
    Write(&'a Path, &'a [u8]),
    /// A file's bytes are made durable.
    Flush(&'a Path),
    /// A folder's names are made durable.
    FlushFolder(&'a Path),
    /// A file or folder gets another name.
    Rename(&'a Path, &'a Path),
    /// A file gets a second name, which must be free.
    Link(&'a Path, &'a Path),
    /// A file or a tree goes away.
    Remove(&'a Path),
}

/// What becomes of a step.
#[derive(Debug)]
pub enum Fate {
    /// It is done.
    Done,
    /// It fails.
    Fails(io::Error),
    /// So many bytes are written, then it fails.
    Short(usize),
}

/// The most bytes that a file of a register may have: none that is larger is written, and none is read.
const LARGEST: u64 = 64 << 20;

type Watch = dyn Fn(Step<'_>) -> Fate + Send + Sync;

/// The disk, with whoever watches it.
#[derive(Clone, Default)]
pub struct Disk {
    watch: Option<Arc<Watch>>,
}

impl Disk {
    /// A disk whose every step is first told to `watch`, which decides what becomes of it.
    #[must_use]
    pub fn watched(watch: impl Fn(Step<'_>) -> Fate + Send + Sync + 'static) -> Disk {
        Disk { watch: Some(Arc::new(watch)) }
    }

    fn fate(&self, step: Step<'_>) -> Fate {
        self.watch.as_ref().map_or(Fate::Done, |watch| watch(step))
    }

    fn step(&self, step: Step<'_>, run: impl FnOnce() -> io::Result<()>) -> io::Result<()> {
        match self.fate(step) {
            Fate::Done => run(),
            Fate::Fails(error) => Err(error),
            Fate::Short(_) => Err(io::ErrorKind::WriteZero.into()),
        }
    }

    /// Makes a folder; true if it was not there.
    pub(super) fn folder(&self, path: &Path) -> io::Result<bool> {
        if path.is_dir() {
            return Ok(false);
        }
        match self.step(Step::Folder(path), || fs::create_dir(path)) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(false),
            other => other.map(|()| true),
        }
    }

    /// Writes a new file and makes its bytes durable. A failed flush is not tried again: what the disk
    /// then holds is not known.
    pub(super) fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        within(bytes)?;
        let fate = self.fate(Step::Write(path, bytes));
        if let Fate::Fails(error) = fate {
            return Err(error);
        }
        let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
        if let Fate::Short(count) = fate {
            file.write_all(&bytes[..count.min(bytes.len())])?;
            return Err(io::ErrorKind::WriteZero.into());
        }
        file.write_all(bytes)?;
        self.step(Step::Flush(path), || file.sync_all())
    }

    /// Makes the names in a folder durable.
    pub(super) fn flush(&self, folder: &Path) -> io::Result<()> {
        self.step(Step::FlushFolder(folder), || flush_folder(folder))
    }

    /// Gives a file or folder another name in one step.
    pub(super) fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.step(Step::Rename(from, to), || fs::rename(from, to))
    }

    /// Gives a file a second name; false if the name is taken.
    ///
    /// On a network share the answer to a link that was made can be lost: a file that then has two
    /// names was linked.
    pub(super) fn link(&self, from: &Path, to: &Path) -> io::Result<bool> {
        match self.step(Step::Link(from, to), || fs::hard_link(from, to)) {
            Ok(()) => Ok(true),
            Err(_) if names(from) == Some(2) => Ok(true),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// Removes a file or a tree; one that is gone is no error.
    pub(super) fn remove(&self, path: &Path) -> io::Result<()> {
        let run = || if path.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) };
        match self.step(Step::Remove(path), run) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
            other => other,
        }
    }
}

#[cfg(unix)]
fn flush_folder(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

#[cfg(not(unix))]
fn flush_folder(_: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(unix)]
fn names(path: &Path) -> Option<u64> {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(path).ok().map(|data| data.nlink())
}

#[cfg(not(unix))]
fn names(_: &Path) -> Option<u64> {
    None
}

/// A tree becomes read-only. Best effort: what is signed is proven by digests, not by modes.
pub(super) fn make_read_only(path: &Path) {
    if path.is_dir() {
        for entry in fs::read_dir(path).into_iter().flatten().flatten() {
            make_read_only(&entry.path());
        }
    }
    if let Ok(data) = fs::symlink_metadata(path)
        && !data.is_symlink()
    {
        let mut permissions = data.permissions();
        permissions.set_readonly(true);
        let _ = fs::set_permissions(path, permissions);
    }
}

/// The bytes of a regular file; a link, a folder, a pipe or a device in its place is refused.
pub(super) fn read(path: &Path) -> io::Result<Vec<u8>> {
    if !fs::symlink_metadata(path)?.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "not a regular file"));
    }
    let mut bytes = Vec::new();
    File::open(path)?.take(LARGEST + 1).read_to_end(&mut bytes)?;
    within(&bytes)?;
    Ok(bytes)
}

/// Refuses what is larger than any file of a register.
fn within(bytes: &[u8]) -> io::Result<()> {
    if bytes.len() as u64 > LARGEST {
        return Err(io::Error::new(io::ErrorKind::FileTooLarge, format!("more than {} MiB", LARGEST >> 20)));
    }
    Ok(())
}

/// A path with forward slashes: the same text on every system.
pub(super) fn slashed(path: &Path) -> String {
    path.iter().map(|part| part.to_string_lossy()).collect::<Vec<_>>().join("/")
}

/// The names in a folder, sorted; none if it is not there.
pub(super) fn names_in(folder: &Path) -> io::Result<Vec<String>> {
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        other => other?,
    };
    let mut names = Vec::new();
    for entry in entries {
        names.push(entry?.file_name().to_string_lossy().into_owned());
    }
    names.sort();
    Ok(names)
}

/// What the disk said, as a fault.
pub(super) fn refused(path: &Path, error: &io::Error) -> Fault {
    Fault::new(
        Code::WriteFailed,
        format!("`{}`: {error}", path.display()),
        "a register on a disk that takes and keeps what is written",
        "check room and permissions, then do the same again; nothing that was acknowledged is lost",
    )
}

/// What reading said, as a fault.
pub(super) fn unreadable(path: &Path, error: &io::Error) -> Fault {
    Fault::new(
        Code::FileUnreadable,
        format!("`{}`: {error}", path.display()),
        "a register that can be read",
        "check the path, the share and the permissions",
    )
}
