//! Kept selections against today's data: what moves them, what does not, and what is written.

mod again;
mod brute;
mod outcomes;
mod paper;
mod parts;
mod still;

use std::collections::BTreeMap;
use std::path::Path;

use lapwise::catalogue::Catalogue;
use lapwise::dossier::Press;
use lapwise::dossier::view::of_set;
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::load::Folder;
use lapwise::rank;
use lapwise::record::{Meaning, RecordId, Role, sha256};
use lapwise::regenerate::{self, Loaded, Outcome, Passed, Today};
use lapwise::register::{Disk, Register, Signing};
use lapwise::selection::Judge;
use serde_json::Value;

use crate::register::{key, public, time, verify};
use crate::story::{SMALL, Story, Told};

/// A data folder with a register of selections that were signed on it.
pub(crate) struct Shelf {
    pub(crate) story: Story,
}

impl Shelf {
    /// A register on the small data, with so many selections of the tape S-2.
    pub(crate) fn with(selections: usize) -> Shelf {
        let story = Story::of(SMALL);
        let register = Register::create(&story.root().join("register"), true, &time(0), Disk::default()).unwrap();
        register.add_key("m.sand", "M. Sand (invented)", Role::Approver, &public(1), &time(1)).unwrap();
        let shelf = Shelf { story };
        for n in 1..=selections {
            shelf.sign(&enquiry(n), Some("S-2"), None);
        }
        shelf
    }

    pub(crate) fn register(&self) -> Register {
        Register::open(&self.story.root().join("register"), Disk::default()).unwrap()
    }

    /// Signs a selection on the data as they are: the proposed tape, or another.
    pub(crate) fn sign(&self, text: &str, tape: Option<&str>, revises: Option<&str>) {
        let folder = Folder::read(&self.story.data()).unwrap();
        let catalogue = Catalogue::build(&folder).unwrap();
        let enquiries = [Enquiry::read("x.toml", text, &catalogue).unwrap()];
        let plan = Plan::new(&catalogue, &enquiries).unwrap();
        let standings = plan.standings();
        let order = rank::order(&plan, 0, &standings[0]);
        let tape = tape.unwrap_or_else(|| catalogue.tapes[order[0].tape].id.as_str());
        let judged = Judge::new(&plan).unwrap().judged(0, &standings[0], tape).unwrap().unwrap();
        let press = Press::new(&folder, None, "en").unwrap();
        let draft = regenerate::draft(&press, &enquiries[0], judged, text, &catalogue.about).unwrap();
        let (time, key) = (time(10), key(1));
        let signing = Signing { signer: "m.sand", meaning: Meaning::Authored, reason: "", time: &time, key: &key };
        let revises: Option<RecordId> = revises.map(|record| record.parse().unwrap());
        // A page that is not printed serves: what counts here is what is kept.
        self.register().sign(&draft, revises.as_ref(), &signing, |_| Ok(b"%PDF a page\n".to_vec())).unwrap();
    }

    pub(crate) fn withdraw(&self, record: &str) {
        let (time, key) = (time(20), key(1));
        let signing =
            Signing { signer: "m.sand", meaning: Meaning::Withdrawn, reason: "cancelled", time: &time, key: &key };
        self.register().countersign(&record.parse().unwrap(), &signing, |_| Ok(b"%PDF a page\n".to_vec())).unwrap();
    }

    /// Changes a file of the data.
    pub(crate) fn change(self, file: &str, from: &str, to: &str) -> Shelf {
        Shelf { story: self.story.change(file, from, to) }
    }

    /// What a pass by today's data finds.
    pub(crate) fn pass(&self) -> Passed {
        pass(&self.register(), &self.story.data())
    }

    /// Runs `lapwise regenerate` on the register.
    pub(crate) fn run(&self, more: &[&str]) -> Told {
        let mut all = vec!["regenerate", "--register", "register"];
        all.extend(more);
        self.story.lapwise(&all)
    }
}

/// A pass over a register by a data folder.
pub(crate) fn pass(register: &Register, data: &Path) -> Passed {
    let folder = Folder::read(data).unwrap();
    let Loaded { folder, catalogue, faulty } = regenerate::loaded(&folder).unwrap();
    let press = Press::new(&folder, None, "en").unwrap();
    let presentation = |_: &str| press.presentation().ok().map(|text| sha256(text.as_bytes()));
    let digest = of_set(&press.inputs.data);
    let today =
        Today { folder: &folder, catalogue: &catalogue, faulty: &faulty, sha256: &digest, presentation: &presentation };
    regenerate::pass(register, &today, None, &|_, _| {}).unwrap()
}

/// An enquiry of its own: the small one with other numbers.
pub(crate) fn enquiry(n: usize) -> String {
    let text = include_str!("../../fixtures/small/enquiries/s-1.toml");
    let changes = [
        ("number = \"S-1\"", format!("number = \"T-{n}\"")),
        ("\"90 degC\", share", format!("\"{} degC\", share", 80 + 7 * (n % 9))),
        ("tension = \"10 N/cm\"", format!("tension = \"{} N/cm\"", 4 + 5 * (n % 7))),
        ("across = \"600 V\"", format!("across = \"{} V\"", 300 + 150 * (n % 11))),
        ("humidity = \"80 %\"", format!("humidity = \"{} %\"", 30 + 6 * (n % 10))),
    ];
    changes.iter().fold(text.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    })
}

/// Every file below a folder with its bytes, but those of some folders; names that end a path.
pub(crate) fn bytes(root: &Path, but: &[&str]) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![root.to_owned()];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        for entry in entries {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(root).unwrap().to_string_lossy().into_owned();
            if but.contains(&name.as_str()) {
                continue;
            }
            if path.is_dir() {
                folders.push(path);
            } else {
                found.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

pub(crate) fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"))
}
