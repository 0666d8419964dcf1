//! Several files of a data folder changed together: all are written beside, then moved into place.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::Path;

use super::End;
use crate::evidence::Place;
use crate::fault::{Code, Fault};
use crate::load::Folder;

/// The text of a file of the folder that nothing reads, empty if it is not there.
pub(super) fn kept(root: &Path) -> impl Fn(&str) -> String + '_ {
    move |name| fs::read_to_string(root.join(name)).unwrap_or_default()
}

/// Writes files of a data folder, in the order given, which must leave a folder that loads after each.
///
/// # Errors
/// A file that was changed since it was read, or a disk that does not take it: then nothing is moved,
/// unless the disk fails between two moves.
pub(super) fn write(folder: &Folder, files: &[(String, String)]) -> Result<(), End> {
    let mut staged = Vec::new();
    for (name, text) in files {
        let path = folder.root.join(name);
        let parent = path.parent().unwrap_or(&folder.root);
        fs::create_dir_all(parent)?;
        let mut file = tempfile::Builder::new().prefix(".lapwise-").tempfile_in(parent)?;
        file.write_all(text.as_bytes())?;
        if let Ok(about) = fs::metadata(&path) {
            file.as_file().set_permissions(about.permissions())?;
        } else {
            readable(file.as_file())?;
        }
        file.as_file().sync_all()?;
        staged.push((file, path));
    }
    unchanged(folder, files)?;
    for (file, path) in staged {
        file.persist(&path).map_err(|error| End::from(error.error))?;
    }
    Ok(())
}

/// Somebody else may have written in the meantime: then theirs stands.
fn unchanged(folder: &Folder, files: &[(String, String)]) -> Result<(), End> {
    let before: BTreeMap<&str, &str> = folder.files.iter().map(|(n, t)| (n.as_str(), t.as_str())).collect();
    for (name, _) in files {
        let Some(before) = before.get(name.as_str()) else { continue };
        let now = crate::load::read_text(&folder.root.join(name), name)?;
        if now != *before {
            let fault = Fault::new(
                Code::FileChanged,
                "another text than a moment ago",
                "a file that nobody else changes at the same time",
                "run the command again; nothing was written",
            );
            return Err(fault.at(Place::file(name.as_str())).into());
        }
    }
    Ok(())
}

#[cfg(unix)]
fn readable(file: &fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable(_: &fs::File) -> std::io::Result<()> {
    Ok(())
}
