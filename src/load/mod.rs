//! Files to raw cells, each with the place it came from. Nothing is interpreted here.

mod form;
mod keys;
mod lines;
mod table;

use std::collections::BTreeMap;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

pub use form::Form;
pub use keys::{Item, Keys, Node, form, toml};
pub use lines::Lines;
pub use table::{Cell, Row, heads, open_quote, table};

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults, nearest};

/// The texts of a data folder, by path relative to it.
#[derive(Clone, Debug, Default)]
pub struct Folder {
    /// Where the folder is.
    pub root: PathBuf,
    /// Path with forward slashes → text.
    pub files: BTreeMap<String, String>,
}

/// The files that every data folder has.
pub const NEEDED: [&str; 8] = [
    "about.toml",
    "sources.yml",
    "tapes.csv",
    "materials.csv",
    "facts.csv",
    "pairs.csv",
    "criteria.toml",
    "cautions.toml",
];

/// The pointers to local codes; needed like the others.
pub const JURISDICTIONS: &str = "jurisdictions.toml";

impl Folder {
    /// Reads every `.toml`, `.csv` and `.yml` file of the folder and of its `enquiries` folder.
    ///
    /// # Errors
    /// A folder or a needed file that is missing, or a file that is not text in UTF-8.
    pub fn read(root: &Path) -> Result<Folder, Faults> {
        let mut faults = Faults::default();
        let mut folder = Folder { root: root.to_owned(), files: BTreeMap::new() };
        if !root.is_dir() {
            return Err(Fault::new(
                Code::FileMissing,
                format!("no folder `{}`", root.display()),
                "the data folder",
                nearby(root)
                    .unwrap_or_else(|| "run from the project folder, or name the data folder with --data".to_owned()),
            )
            .into());
        }
        for (prefix, path) in [("", root.to_owned()), (ENQUIRIES, root.join(ENQUIRIES))] {
            let is_there = prefix.is_empty() || fs::symlink_metadata(&path).is_ok();
            let names = if is_there { names_in(&path) } else { Ok(Vec::new()) };
            let names = names.unwrap_or_else(|fault| {
                faults.add(fault);
                Vec::new()
            });
            for name in names {
                let path = path.join(&name);
                let is_read = ["toml", "csv", "yml"].iter().any(|end| ends_in(&name, end));
                if is_read {
                    let relative = format!("{prefix}{name}");
                    match inside(root, &path, &relative).and_then(|()| read_text(&path, &relative)) {
                        Ok(text) => {
                            folder.files.insert(relative, text);
                        }
                        Err(fault) => faults.add(fault),
                    }
                }
            }
        }
        for name in NEEDED.iter().chain([&JURISDICTIONS]) {
            let noted = folder.files.contains_key(*name) || root.join(name).exists();
            if !noted {
                faults.add(
                    Fault::new(
                        Code::FileMissing,
                        format!("no file `{name}` in `{}`", root.display()),
                        "all files of the data folder",
                        "restore it, or copy it from a data folder that is whole",
                    )
                    .at(Place::file(*name)),
                );
            }
        }
        faults.or(folder)
    }

    /// Reads every `.toml` file of a folder as the enquiries of a data folder.
    ///
    /// # Errors
    /// A folder that is not there or holds none, or a file that is not text in UTF-8.
    pub fn of_enquiries(root: &Path) -> Result<Folder, Faults> {
        let mut faults = Faults::default();
        let mut folder = Folder { root: root.to_owned(), files: BTreeMap::new() };
        let mut names = if root.is_dir() { names_in(root)? } else { Vec::new() };
        names.retain(|name| ends_in(name, "toml"));
        for name in &names {
            match read_text(&root.join(name), name) {
                Ok(text) => {
                    folder.files.insert(format!("{ENQUIRIES}{name}"), text);
                }
                Err(fault) => faults.add(fault),
            }
        }
        if names.is_empty() {
            let found = format!("no `.toml` file in `{}`", root.display());
            let remedy = nearby(root).unwrap_or_else(|| "name the folder that the enquiries lie in".to_owned());
            faults.add(Fault::new(Code::FileMissing, found, "a folder of enquiries", remedy));
        }
        faults.or(folder)
    }

    /// The text of a file; empty if it is not there, which [`Folder::read`] has already reported.
    #[must_use]
    pub fn text(&self, name: &str) -> &str {
        self.files.get(name).map_or("", String::as_str)
    }

    /// The paths of the enquiries of this folder.
    pub fn enquiries(&self) -> impl Iterator<Item = &str> {
        self.files.keys().map(String::as_str).filter(|name| is_enquiry(name))
    }

    /// What is no enquiry, by path.
    pub fn data(&self) -> impl Iterator<Item = (&String, &String)> {
        self.files.iter().filter(|(name, _)| !is_enquiry(name))
    }
}

/// The folder of the enquiries in a data folder.
const ENQUIRIES: &str = "enquiries/";

/// Whether a path within a data folder is that of an enquiry.
#[must_use]
pub fn is_enquiry(path: &str) -> bool {
    path.starts_with(ENQUIRIES)
}

/// Whether a file's name has this extension, in large letters or small ones.
#[must_use]
pub fn ends_in(name: &str, extension: &str) -> bool {
    Path::new(name).extension().is_some_and(|end| end.eq_ignore_ascii_case(extension))
}

/// Refuses what is no file of the folder: a link that leads out of it, a pipe or a device.
///
/// A folder that came from somebody else must not make this program read, keep or print anything that stands beside it.
///
/// # Errors
/// It is one.
pub fn inside(folder: &Path, path: &Path, name: &str) -> Result<(), Fault> {
    // A link that leads nowhere is told by the reader.
    let (Ok(folder), Ok(file)) = (fs::canonicalize(folder), fs::canonicalize(path)) else { return Ok(()) };
    let found = if !file.starts_with(folder) {
        "a link to a file outside the folder"
    } else if file.is_file() {
        return Ok(());
    } else {
        "a folder, a pipe or a device"
    };
    let remedy = "put the file itself there";
    Err(Fault::new(Code::NotAFile, found, "a file of the folder", remedy).at(Place::file(name)))
}

/// The most bytes that a file may have: a catalogue of a hundred thousand tapes fits in.
pub const LARGEST: u64 = 64 << 20;

/// Reads one text file, without a byte order mark.
///
/// # Errors
/// The file is not there, larger than [`LARGEST`], or not UTF-8.
pub fn read_text(path: &Path, name: &str) -> Result<String, Fault> {
    decode(read_bytes(path, name)?, name)
}

/// Reads one file of any kind.
///
/// # Errors
/// The file is not there, or larger than [`LARGEST`].
pub fn read_bytes(path: &Path, name: &str) -> Result<Vec<u8>, Fault> {
    let mut bytes = Vec::new();
    // However long the file says it is or grows, no more is taken than is allowed.
    let read = fs::File::open(path).and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes));
    if let Err(error) = read {
        let code = if error.kind() == std::io::ErrorKind::NotFound { Code::FileMissing } else { Code::FileUnreadable };
        let near = if code == Code::FileMissing { nearby(path) } else { None };
        return Err(Fault::new(
            code,
            format!("`{}`: {error}", path.display()),
            "a file that can be read",
            near.unwrap_or_else(|| "check the path and its permissions".to_owned()),
        )
        .at(Place::file(name)));
    }
    if bytes.len() as u64 > LARGEST {
        return Err(Fault::new(
            Code::FileTooLarge,
            "more than 64 MiB",
            "a file of at most 64 MiB",
            "see whether it is the right file; split it if it is",
        )
        .at(Place::file(name)));
    }
    Ok(bytes)
}

/// The names in a folder, sorted.
///
/// # Errors
/// The folder cannot be read.
pub fn names_in(folder: &Path) -> Result<Vec<String>, Fault> {
    let entries = fs::read_dir(folder).and_then(Iterator::collect::<std::io::Result<Vec<fs::DirEntry>>>);
    let entries = entries.map_err(|error| {
        let found = format!("`{}`: {error}", folder.display());
        Fault::new(Code::FileUnreadable, found, "a folder that can be read", "check the path and its permissions")
    })?;
    let mut names: Vec<String> =
        entries.into_iter().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort_unstable();
    Ok(names)
}

/// The name that stands beside and is nearest to one that does not exist, as what to do.
fn nearby(path: &Path) -> Option<String> {
    let wanted = path.file_name()?.to_string_lossy().into_owned();
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut names: Vec<String> = fs::read_dir(folder)
        .ok()?
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .filter(|name| *name != wanted)
        .collect();
    names.sort_unstable();
    let near = nearest(&wanted, names.iter().map(String::as_str))?;
    Some(format!("did you mean `{}`?", path.with_file_name(near).display()))
}

/// The text of a file's bytes, without a byte order mark.
///
/// # Errors
/// Bytes that are not UTF-8, or that no text has.
pub fn decode(bytes: Vec<u8>, name: &str) -> Result<String, Fault> {
    let unreadable = |before: &[u8], found: &str| {
        let lines = before.split(|byte| *byte == b'\n').count();
        let place = Place::line(name, u32::try_from(lines).unwrap_or(u32::MAX));
        Fault::new(Code::FileUnreadable, found, "a text file in UTF-8", "save the file as UTF-8").at(place)
    };
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        return Err(unreadable(&bytes[..at], "a NUL, as in UTF-16 or a file that is no text"));
    }
    match String::from_utf8(bytes) {
        Ok(text) => Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text)),
        Err(error) => {
            let before = &error.as_bytes()[..error.utf8_error().valid_up_to()];
            Err(unreadable(before, "bytes that are not UTF-8 text"))
        }
    }
}

/// A parser's message without the position in front of it, which the place already tells.
fn without_position(message: &str) -> &str {
    message.strip_prefix("error: ").and_then(|m| m.split_once(": ")).map_or(message, |(_, rest)| rest)
}

/// Reads the keys and entries of a bibliography in Hayagriva YAML.
pub fn bibliography(file: &str, text: &str, faults: &mut Faults) -> BTreeMap<String, serde_json::Value> {
    match serde_saphyr::from_str::<BTreeMap<String, serde_json::Value>>(text) {
        Ok(entries) => entries,
        Err(error) => {
            let line = error.location().map_or(1, |location| location.line());
            faults.add(
                Fault::new(
                    Code::YamlSyntax,
                    without_position(error.to_string().lines().next().unwrap_or_default()),
                    "a bibliography in Hayagriva YAML",
                    "mend the entry: keys once each, two spaces of indent, texts with a colon in quotes",
                )
                .at(Place::line(file, u32::try_from(line).unwrap_or(1))),
            );
            BTreeMap::new()
        }
    }
}

/// The lines on which the keys of a bibliography stand.
#[must_use]
pub fn lines_of(text: &str) -> BTreeMap<&str, u32> {
    let heads = text.lines().zip(1..).filter(|(line, _)| !line.starts_with([' ', '#', '-']));
    heads.filter_map(|(line, at)| line.split_once(':').map(|(key, _)| (key.trim_matches('"'), at))).collect()
}
