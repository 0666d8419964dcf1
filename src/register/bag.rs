//! Records to go: a bag by RFC 8493, complete with what the records share, the log and the keys.

use std::collections::BTreeMap;
use std::path::Path;

use super::commit::{folder_of, kept};
use super::log::Entry;
use super::sign::unknown_record;
use super::{DEED, LEAFLET, Register, disk};
use crate::fault::{Code, Fault};
use crate::keep;
use crate::record::{RecordId, sha256};

/// Puts selections, with everything that proves them, into a new folder.
///
/// # Errors
/// A record that is not there; a register that does not hold together; a folder that is not new.
pub fn export(register: &Register, records: &[RecordId], bag: &Path, date: &str) -> Result<u64, Fault> {
    let log = register.log()?;
    let mut payload: BTreeMap<String, Vec<u8>> = BTreeMap::new();
    let read = |path: &Path| {
        let whole = register.root().join(path);
        disk::read(&whole).map_err(|error| disk::unreadable(&whole, &error))
    };
    let mut take = |path: &Path| -> Result<(), Fault> {
        payload.insert(format!("data/{}", disk::slashed(path)), read(path)?);
        Ok(())
    };
    take(Path::new(DEED))?;
    take(Path::new(LEAFLET))?;
    for entry in &log.entries {
        take(&Entry::path(entry.seq))?;
        if let Some(change) = &entry.key {
            take(Path::new(&change.list.file))?;
        }
    }
    for record in records {
        let mut found = false;
        for (id, change) in log.selection(record) {
            found = true;
            let statement = register.statement(change)?;
            let own =
                [&change.statement, &change.checksums].into_iter().chain(&change.signatures).chain(&statement.files);
            for file in own {
                take(&folder_of(&id).join(&file.file))?;
            }
            for file in &statement.shared {
                take(&kept(&file.sha256))?;
            }
        }
        if !found {
            return Err(unknown_record(&log, record));
        }
    }
    write(bag, &payload, date)
}

/// What `sha256sum` prints of some files.
fn sums(files: &BTreeMap<String, Vec<u8>>) -> String {
    let lines: Vec<String> = files.iter().map(|(path, bytes)| format!("{}  {path}\n", sha256(bytes))).collect();
    lines.concat()
}

/// Writes the bag beside its place, then moves it there whole.
fn write(bag: &Path, payload: &BTreeMap<String, Vec<u8>>, date: &str) -> Result<u64, Fault> {
    let refused = |error: std::io::Error| Fault {
        remedy: "name a new folder on a disk with room".to_owned(),
        ..disk::refused(bag, &error)
    };
    if bag.exists() {
        return Err(Fault::new(
            Code::WriteFailed,
            format!("`{}` is there already", bag.display()),
            "a new folder",
            "name another folder, or remove that one",
        ));
    }
    let parent = bag.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    std::fs::create_dir_all(parent).map_err(refused)?;
    let staged = tempfile::Builder::new().prefix(keep::UNFINISHED).tempdir_in(parent).map_err(refused)?;
    let bytes: u64 = payload.values().map(|bytes| bytes.len() as u64).sum();
    let manifest = sums(payload);
    let mut files: BTreeMap<String, Vec<u8>> = BTreeMap::from([
        ("bagit.txt".to_owned(), b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n".to_vec()),
        (
            "bag-info.txt".to_owned(),
            format!("Bagging-Date: {date}\nPayload-Oxum: {bytes}.{}\n", payload.len()).into_bytes(),
        ),
        ("manifest-sha256.txt".to_owned(), manifest.into_bytes()),
    ]);
    let tags = sums(&files);
    files.insert("tagmanifest-sha256.txt".to_owned(), tags.into_bytes());
    // A folder for temporary files is for its maker's eyes only, a bag is not.
    let whole = staged.path().join("bag");
    for (path, bytes) in files.iter().chain(payload) {
        let path = whole.join(path);
        std::fs::create_dir_all(path.parent().unwrap_or(&whole)).map_err(refused)?;
        std::fs::write(&path, bytes).map_err(refused)?;
    }
    std::fs::rename(&whole, bag).map_err(refused)?;
    Ok(payload.len() as u64)
}
