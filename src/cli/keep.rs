//! A text file written in one go: the old file or the new one, never half of it.

use std::fs;
use std::path::Path;

use super::End;
use crate::fault::{Code, Fault};

/// Writes beside it, then renames over it.
pub(super) fn text(path: &Path, text: &str) -> Result<(), End> {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(".tmp");
    let beside = path.with_file_name(name);
    let written = fs::write(&beside, text).and_then(|()| fs::rename(&beside, path));
    written.map_err(|error| {
        let found = format!("`{}`: {error}", path.display());
        let remedy = "check that the folder is there, its permissions and the disk";
        End::Environment(Fault::new(Code::WriteFailed, found, "a file that can be written", remedy))
    })
}
