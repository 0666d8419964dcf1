//! Several files of a data folder changed together: all are written beside, then moved into place.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::Path;

use super::End;
use crate::evidence::Place;
use crate::fault::{Code, Fault};
use crate::keep::{Whole, unwritable};
use crate::load::{self, Folder};

/// The text of a file of the folder that nothing reads, empty if it is not there.
pub(super) fn kept(root: &Path) -> impl Fn(&str) -> Result<String, Fault> + '_ {
    move |name| match load::read_text(&root.join(name), name) {
        Err(fault) if fault.code == Code::FileMissing => Ok(String::new()),
        read => read,
    }
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
        let refused = |error: std::io::Error| End::Environment(unwritable(&path, &error));
        fs::create_dir_all(path.parent().unwrap_or(&folder.root)).map_err(refused)?;
        let mut whole = Whole::beside(&path).map_err(End::Environment)?;
        whole.file().write_all(text.as_bytes()).and_then(|()| whole.file().sync_all()).map_err(refused)?;
        staged.push(whole);
    }
    unchanged(folder, files)?;
    staged.into_iter().try_for_each(Whole::keep).map_err(End::Environment)
}

/// Somebody else may have written in the meantime: then theirs stands.
fn unchanged(folder: &Folder, files: &[(String, String)]) -> Result<(), End> {
    let before: BTreeMap<&str, &str> = folder.files.iter().map(|(n, t)| (n.as_str(), t.as_str())).collect();
    for (name, _) in files {
        let now = match load::read_text(&folder.root.join(name), name) {
            Err(fault) if fault.code == Code::FileMissing => None,
            read => Some(read?),
        };
        if now.as_deref() != before.get(name.as_str()).copied() {
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
