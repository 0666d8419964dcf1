//! Registers of former versions: each that a release ever wrote stays readable and verifies, by this program and for ever.
//!
//! `tests/fixtures/register-N` was written under the N-th form of the register and is never written again. A new form gets a
//! folder of its own: raise [`FORM`] and run `cargo test --release --test it -- --ignored a_register_of_this_form_is_kept`.

use std::fs;
use std::path::{Path, PathBuf};

use lapwise::record::Meaning;
use lapwise::register::{Disk, Register};

use crate::register::{APPROVER, Shelf, verify};
use crate::story::copy;

/// The number of the register's form.
const FORM: u32 = 1;

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures")
}

#[test]
fn registers_of_former_versions_stay_readable_and_verify() {
    for form in 1..=FORM {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("register");
        copy(&fixtures().join(format!("register-{form}")), &root);
        let report = verify(&root);
        assert!(report.flaws.is_empty(), "form {form}: {:?}", report.flaws);
        let log = Register::open(&root, Disk::default()).unwrap().log().unwrap();
        assert_eq!(log.entries.len(), 6, "three keys, two selections, an approval");
        let statement = root.join("records/Q-1/r0001/statement.json");
        let text = fs::read_to_string(&statement).unwrap();
        fs::remove_file(&statement).unwrap();
        fs::write(&statement, text.replacen("H-111", "H-112", 1)).unwrap();
        assert!(!verify(&root).flaws.is_empty(), "form {form}: an altered statement passes");
    }
}

#[test]
#[ignore = "writes the fixture of a new form of the register, once"]
fn a_register_of_this_form_is_kept() {
    let target = fixtures().join(format!("register-{FORM}"));
    assert!(!target.exists(), "{} is there, and is never written again", target.display());
    let shelf = Shelf::new();
    shelf.sign("Q-1", None, 10).unwrap();
    shelf.countersign("Q-1/r0001", APPROVER, Meaning::Approved, "").unwrap();
    shelf.sign("Q-2", None, 20).unwrap();
    copy(&shelf.root(), &target);
}
