//! The register: what is signed stays proven, whatever the disk, the clock and other people do.

mod crowd;
mod faults;
mod invented;
mod replay;
mod rules;
mod tamper;
pub(crate) mod told;

use std::path::{Path, PathBuf};
use std::process::Command;

pub(crate) use invented::{draft, key, overwrite, spoiled};
use lapwise::fault::Fault;
use lapwise::record::{Meaning, RecordId, Role};
use lapwise::register::{Added, Disk, Draft, Register, Report, Scope, Signing};

pub(crate) fn public(seed: u8) -> String {
    key(seed).public_key().to_openssh().unwrap()
}

/// The time of the n-th act.
pub(crate) fn time(n: u32) -> String {
    format!("2026-11-25T{:02}:{:02}:{:02}+00:00", n / 3600 % 24, n / 60 % 60, n % 60)
}

/// A register with an author, a reviewer and an approver.
pub(crate) struct Shelf {
    pub(crate) folder: tempfile::TempDir,
    pub(crate) register: Register,
}

pub(crate) const AUTHOR: (&str, u8) = ("m.sand", 1);
pub(crate) const REVIEWER: (&str, u8) = ("r.lund", 2);
pub(crate) const APPROVER: (&str, u8) = ("k.holm", 3);

impl Shelf {
    pub(crate) fn new() -> Shelf {
        Shelf::on(Disk::default())
    }

    pub(crate) fn on(disk: Disk) -> Shelf {
        let folder = tempfile::tempdir().unwrap();
        let register = Register::create(&folder.path().join("register"), false, &time(0), disk).unwrap();
        for ((id, seed), role) in [(AUTHOR, Role::Author), (REVIEWER, Role::Reviewer), (APPROVER, Role::Approver)] {
            register.add_key(id, &format!("{id} (invented)"), role, &public(seed), &time(1)).unwrap();
        }
        Shelf { folder, register }
    }

    pub(crate) fn root(&self) -> PathBuf {
        self.folder.path().join("register")
    }

    pub(crate) fn sign(&self, enquiry: &str, revises: Option<&str>, n: u32) -> Result<Added, Fault> {
        sign_by(&self.register, &draft(enquiry), AUTHOR, Meaning::Authored, "", revises, n)
    }

    pub(crate) fn countersign(
        &self,
        record: &str,
        who: (&str, u8),
        meaning: Meaning,
        reason: &str,
    ) -> Result<Added, Fault> {
        let (time, key) = (time(500), key(who.1));
        let signing = Signing { signer: who.0, meaning, reason, time: &time, key: &key };
        self.register.countersign(&record.parse().unwrap(), &signing, |revision| {
            Ok(format!("%PDF page of {}\n", revision.statement.record).into_bytes())
        })
    }

    pub(crate) fn verify(&self) -> Report {
        verify(&self.root())
    }
}

pub(crate) fn verify(root: &Path) -> Report {
    Register::open(root, Disk::default()).unwrap().verify(&Scope::All).unwrap()
}

pub(crate) fn sign_by(
    register: &Register,
    draft: &Draft,
    who: (&str, u8),
    meaning: Meaning,
    reason: &str,
    revises: Option<&str>,
    n: u32,
) -> Result<Added, Fault> {
    let revises: Option<RecordId> = revises.map(|record| record.parse().unwrap());
    let (time, key) = (time(n), key(who.1));
    let signing = Signing { signer: who.0, meaning, reason, time: &time, key: &key };
    // A page that was rendered before serves: what counts here are its bytes.
    register.sign(draft, revises.as_ref(), &signing, |revision| {
        Ok(format!("%PDF dossier of {}\n", revision.statement.record).into_bytes())
    })
}

/// The records that the log holds.
pub(crate) fn records(root: &Path) -> Vec<String> {
    let log = Register::open(root, Disk::default()).unwrap().log().unwrap();
    log.records().map(|(.., change)| change.record.clone()).collect()
}

/// A register with three signed selections, one revised and countersigned, one withdrawn.
pub(crate) fn lived_in() -> Shelf {
    let shelf = Shelf::new();
    shelf.sign("Q-1", None, 10).unwrap();
    shelf.sign("Q-2", None, 11).unwrap();
    shelf.countersign("Q-1/r0001", APPROVER, Meaning::Approved, "").unwrap();
    shelf.sign("Q-1", Some("Q-1/r0001"), 501).unwrap();
    shelf.register.attach_scan(&"Q-1/r0002".parse().unwrap(), "scan.pdf", b"a scan", &time(502)).unwrap();
    shelf.sign("Q-3", None, 503).unwrap();
    shelf.countersign("Q-3/r0001", AUTHOR, Meaning::Withdrawn, "cancelled").unwrap();
    shelf
}

/// Runs a public tool and returns what it said.
fn tool(program: &str, arguments: &[&str], folder: &Path, input: Option<&Path>) -> (bool, String) {
    let mut command = Command::new(program);
    command.args(arguments).current_dir(folder);
    if let Some(input) = input {
        command.stdin(std::fs::File::open(input).unwrap());
    }
    let output = command.output().unwrap();
    let said = [output.stdout, output.stderr].concat();
    (output.status.success(), String::from_utf8_lossy(&said).into_owned())
}
