//! A file written whole or not at all: a private name beside it, its bytes made durable, then the rename.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::fault::{Code, Fault};

/// How the name begins of what is being written, or was when its writer was cut short.
pub const UNFINISHED: &str = ".lapwise-";

/// A file that is being written beside its final name.
///
/// Dropped before it is kept, it goes away, and what stood under the final name stays.
#[derive(Debug)]
pub struct Whole {
    file: NamedTempFile,
    folder: PathBuf,
    path: PathBuf,
}

impl Whole {
    /// Begins a file in the folder of its final name, which must be there. The file that stands there may be read and
    /// written by whom it was.
    ///
    /// # Errors
    /// The folder refuses, or what stands there is no file.
    pub fn beside(path: &Path) -> Result<Whole, Fault> {
        let there = fs::metadata(path).ok();
        if there.as_ref().is_some_and(|there| !there.is_file()) {
            // A folder, or a device that a file in its place would take from everybody.
            return Err(unwritable(path, &std::io::Error::other("not a file")));
        }
        let folder = folder_of(path).to_owned();
        let mut builder = tempfile::Builder::new();
        builder.prefix(UNFINISHED).suffix(path.extension().unwrap_or(OsStr::new("part")));
        // As any file that the user makes: the others of the folder may read it where the user's mask lets them.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let file = builder.tempfile_in(&folder).map_err(|error| unwritable(path, &error))?;
        if let Some(there) = there {
            file.as_file().set_permissions(there.permissions()).map_err(|error| unwritable(path, &error))?;
        }
        Ok(Whole { file, folder, path: path.to_owned() })
    }

    /// Where the bytes go.
    pub fn file(&mut self) -> &mut File {
        self.file.as_file_mut()
    }

    /// Makes the bytes durable and gives the file its name.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn keep(self) -> Result<(), Fault> {
        let Whole { file, folder, path } = self;
        file.as_file().sync_all().map_err(|error| unwritable(&path, &error))?;
        file.persist(&path).map_err(|error| unwritable(&path, &error.error))?;
        sync_folder(&folder).map_err(|error| unwritable(&path, &error))
    }
}

/// Writes a file into a folder that is there.
///
/// # Errors
/// The folder or the disk refuses.
pub fn text(path: &Path, text: &str) -> Result<(), Fault> {
    written(path, text.as_bytes())
}

/// Writes a file; its folder is made where it is not there.
///
/// # Errors
/// The folder or the disk refuses.
pub fn bytes(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    fs::create_dir_all(folder_of(path)).map_err(|error| unwritable(path, &error))?;
    written(path, bytes)
}

/// Writes a file unless it holds these bytes already; true if it was written.
///
/// # Errors
/// As [`bytes`].
pub fn unless_there(path: &Path, bytes: &[u8]) -> Result<bool, Fault> {
    if fs::read(path).is_ok_and(|there| there == bytes) {
        return Ok(false);
    }
    self::bytes(path, bytes).map(|()| true)
}

fn written(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let mut whole = Whole::beside(path)?;
    whole.file().write_all(bytes).map_err(|error| unwritable(path, &error))?;
    whole.keep()
}

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// What the disk said, as a fault.
#[must_use]
pub fn unwritable(path: &Path, error: &std::io::Error) -> Fault {
    Fault::new(
        Code::WriteFailed,
        format!("`{}`: {error}", path.display()),
        "a file or folder that can be written",
        "check that the folder is there, its permissions and the disk, or name another one",
    )
}

#[cfg(unix)]
fn sync_folder(folder: &Path) -> std::io::Result<()> {
    File::open(folder)?.sync_all()
}

#[cfg(not(unix))]
fn sync_folder(_: &Path) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{Whole, bytes, text};
    use std::fs;
    use std::io::Write;

    #[test]
    fn a_file_that_is_not_kept_leaves_the_old_one_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a/b.txt");
        assert!(text(&path, "no folder").is_err());
        bytes(&path, b"old").unwrap();
        let mut whole = Whole::beside(&path).unwrap();
        whole.file().write_all(b"half").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"old");
        drop(whole);
        assert_eq!(fs::read_dir(folder.path().join("a")).unwrap().count(), 1);
        text(&path, "new").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
    }
}
