//! Which enquiries a command is asked for: paths, folders, numbers in the data folder, or all there are.

use std::collections::BTreeSet;
use std::path::Path;

use clap::Args;
use rayon::prelude::*;

use super::is_path;
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Folder};
use crate::part::Part;

/// The enquiries of a command that takes many.
#[derive(Debug, Args)]
pub(super) struct Asked {
    /// Enquiries: paths, folders of them, or numbers in the data folder
    #[arg(required_unless_present = "all", value_name = "ENQUIRY")]
    pub(super) enquiries: Vec<String>,
    /// Every enquiry of the data folder
    #[arg(long, conflicts_with = "enquiries")]
    pub(super) all: bool,
    /// Only the K-th of N parts: each enquiry is in one, which hangs on its number alone
    #[arg(long, value_name = "K/N")]
    pub(super) part: Option<Part>,
}

/// One enquiry that was asked for: as it is read, or what is wrong with it.
pub(super) struct One {
    /// Its number, or how it was named where it cannot be read.
    pub(super) name: String,
    /// The enquiry.
    pub(super) read: Result<Enquiry, Faults>,
}

impl Asked {
    /// Reads all of them, those of other parts too, in the order they are named.
    ///
    /// # Errors
    /// A folder that cannot be read or holds none, two enquiries of one number, names that are in no folder.
    pub(super) fn read(&self, folder: &Folder, catalogue: &Catalogue) -> Result<Vec<One>, Faults> {
        let mut named: Vec<(String, Result<Enquiry, Faults>)> = Vec::new();
        let mut faults = Faults::default();
        let all = || -> Vec<(String, Result<Enquiry, Faults>)> {
            let files: Vec<&str> = folder.enquiries().collect();
            let read = |file: &&str| ((*file).to_owned(), Enquiry::read(file, folder.text(file), catalogue));
            files.par_iter().map(read).collect()
        };
        if self.all {
            named = all();
            if named.is_empty() {
                faults.add(none_in("the data folder"));
            }
        }
        // Thousands of numbers are looked up in one reading.
        let known = if self.enquiries.iter().filter(|name| !is_path(name)).count() > 1 { all() } else { Vec::new() };
        for name in &self.enquiries {
            let path = Path::new(name);
            if path.is_dir() {
                match files_of(path) {
                    Ok(files) if files.is_empty() => faults.add(none_in(&format!("`{name}`"))),
                    Ok(files) => {
                        let read = |file: &String| (file.clone(), super::enquiry(folder, catalogue, file));
                        named.extend(files.par_iter().map(read).collect::<Vec<_>>());
                    }
                    Err(fault) => faults.add(fault),
                }
                continue;
            }
            let of_number = |(_, read): &&(String, Result<Enquiry, Faults>)| {
                read.as_ref().is_ok_and(|enquiry| enquiry.number == *name)
            };
            let mut of_number = known.iter().filter(of_number);
            match (of_number.next(), of_number.next()) {
                (Some((file, read)), None) if !is_path(name) => named.push((file.clone(), read.clone())),
                _ => named.push((name.clone(), super::enquiry(folder, catalogue, name))),
            }
        }
        let one = |(name, read): (String, Result<Enquiry, Faults>)| {
            let name = read.as_ref().map_or(name, |enquiry| enquiry.number.clone());
            One { name, read }
        };
        let read: Vec<One> = named.into_iter().map(one).collect();
        let mut seen = BTreeSet::new();
        for one in read.iter().filter(|one| !seen.insert(one.name.as_str())) {
            faults.add(twice(one));
        }
        faults.or(read)
    }

    /// The enquiries of this part, all of which must be read well.
    ///
    /// # Errors
    /// As [`Asked::read`], and those of each enquiry.
    pub(super) fn enquiries(&self, folder: &Folder, catalogue: &Catalogue) -> Result<Vec<Enquiry>, Faults> {
        let mut faults = Faults::default();
        let mut enquiries = Vec::new();
        for one in self.read(folder, catalogue)?.into_iter().filter(|one| self.takes(one)) {
            match one.read {
                Ok(enquiry) => enquiries.push(enquiry),
                Err(found) => faults.extend(found),
            }
        }
        faults.or(enquiries)
    }

    /// True if one is of this part, or there are no parts.
    pub(super) fn takes(&self, one: &One) -> bool {
        self.part.is_none_or(|part| part.takes(&one.name))
    }

    /// As it was called.
    pub(super) fn words(&self) -> String {
        let mut words = self.enquiries.clone();
        words.extend(self.all.then(|| "--all".to_owned()));
        words.extend(self.part.map(|part| format!("--part {part}")));
        words.join(" ")
    }
}

fn none_in(what: &str) -> Fault {
    Fault::new(Code::FileMissing, format!("no enquiry in {what}"), "files ending in `.toml`", "name another folder")
}

/// Two enquiries of one number would overwrite each other's file.
fn twice(one: &One) -> Fault {
    let fault = Fault::new(
        Code::KeyDuplicate,
        format!("enquiry `{}` twice", one.name),
        "each number once: it names the file",
        "name it once, or give the other enquiry a number of its own",
    );
    match &one.read {
        Ok(enquiry) => fault.at(enquiry.place("enquiry.number")),
        Err(_) => fault.at(Place::file(one.name.as_str())),
    }
}

/// The files of a folder that end as enquiries do, by their names.
fn files_of(folder: &Path) -> Result<Vec<String>, Fault> {
    Ok(load::names_in(folder)?
        .into_iter()
        .filter(|name| load::ends_in(name, "toml"))
        .map(|name| folder.join(name))
        .filter(|path| !path.is_dir())
        .map(|path| path.display().to_string())
        .collect())
}
