//! Drafts and the list of what was overtaken: nothing signed is touched, a second run writes nothing, a
//! run that was killed ends as one that was not.

use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use super::*;
use crate::register::verify;

/// A register of which some selections are overturned.
pub(super) fn overturned(selections: usize) -> Shelf {
    crate::page::typst();
    Shelf::with(selections).change("tapes.csv", "125 N/cm,IEC 60454-2", "11 N/cm,IEC 60454-2")
}

pub(super) fn signed(shelf: &Shelf) -> BTreeMap<String, Vec<u8>> {
    bytes(&shelf.story.root().join("register"), &["drafts"])
}

pub(super) fn written(shelf: &Shelf) -> BTreeMap<String, Vec<u8>> {
    let mut all = bytes(&shelf.story.root().join("register/drafts"), &["lock"]);
    all.extend(bytes(&shelf.story.root().join("out"), &[]).into_iter().map(|(n, b)| (format!("out/{n}"), b)));
    all
}

fn times(shelf: &Shelf) -> BTreeMap<String, std::time::SystemTime> {
    let root = shelf.story.root();
    let all = bytes(root, &["state"]);
    all.keys().map(|name| (name.clone(), std::fs::metadata(root.join(name)).unwrap().modified().unwrap())).collect()
}

#[test]
fn drafts_are_written_beside_the_signed_and_a_second_run_writes_nothing() {
    let shelf = overturned(3);
    let before = signed(&shelf);
    let dry = (times(&shelf), shelf.run(&["--dry-run"]));
    assert_eq!((dry.1.code, times(&shelf) == dry.0), (0, true), "a dry run writes: {}", dry.1.err);
    let told = shelf.run(&[]);
    assert_eq!(told.code, 0, "{}{}", told.out, told.err);
    assert!(told.out.contains("3 printed"), "{}", told.out);
    assert_eq!(signed(&shelf), before, "something signed was touched");
    let first = written(&shelf);
    let draft = &first["T-1/T-1_r0002_draft.pdf"];
    assert!(draft.starts_with(b"%PDF-"));
    for name in ["overtaken.json", "out/regenerate/regenerate.json", "out/regenerate/regenerate.csv"] {
        assert!(first.contains_key(name), "{name}: {:?}", first.keys());
    }
    let then = times(&shelf);
    let again = shelf.run(&[]);
    assert!(again.out.contains("0 printed, 3 there already"), "{}", again.out);
    assert_eq!((written(&shelf) == first, times(&shelf) == then), (true, true), "the second run wrote");
    // Verifying lists the drafts and trusts none; the public script sees nothing wrong.
    let report = verify(&shelf.story.root().join("register"));
    assert!(report.flaws.is_empty() && report.unfinished.is_empty() && report.drafts.len() == 3, "{report:?}");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/verify.py");
    let output = Command::new("python3").arg(script).arg(shelf.story.root().join("register")).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    // A draft that somebody spoiled is printed again; one that no longer holds goes.
    std::fs::write(shelf.story.root().join("register/drafts/T-2/T-2_r0002_draft.pdf"), b"scribble").unwrap();
    assert!(shelf.run(&[]).out.contains("1 printed, 2 there already"));
    assert_eq!(written(&shelf), first);
    let shelf = shelf.change("tapes.csv", "11 N/cm,IEC 60454-2", "125 N/cm,IEC 60454-2");
    let back = shelf.run(&[]);
    assert!(back.out.contains("3 that no longer hold taken away"), "{}", back.out);
    assert!(!shelf.story.root().join("register/drafts/T-1").exists());
    assert_eq!(signed(&shelf), before);
}

#[test]
fn listing_says_what_is_overtaken_and_believes_no_list_that_was_altered() {
    let shelf = overturned(2);
    shelf.run(&[]);
    let listed = json(&shelf.story.lapwise(&["register", "list", "register", "--overtaken", "--json"]).out);
    assert_eq!(listed["records"].as_array().unwrap().len(), 2);
    let mark = &listed["records"][0]["overtaken"];
    assert_eq!(mark["outcome"], "overturned");
    assert!(mark["by"].as_str().unwrap().contains("125 N/cm → 11 N/cm"), "{mark}");
    assert_eq!(mark["draft"]["file"], "drafts/T-1/T-1_r0002_draft.pdf");
    let shown = shelf.story.lapwise(&["register", "show", "register", "T-1/r0001"]);
    assert!(shown.out.contains("overturned by newer data: tapes.csv row S-2 `tensile`"), "{}", shown.out);
    let path = shelf.story.root().join("register/drafts/overtaken.json");
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("overturned", "restyled")).unwrap();
    let told = shelf.story.lapwise(&["register", "list", "register", "--json"]);
    assert!(told.err.contains("not as it was written"), "{}", told.err);
    assert!(json(&told.out)["records"][0]["overtaken"].is_null());
    assert_eq!(shelf.story.lapwise(&["register", "verify", "register"]).code, 0);
}

#[test]
fn what_does_not_belong_among_the_drafts_is_foreign() {
    let shelf = overturned(1);
    shelf.run(&[]);
    let root = shelf.story.root().join("register");
    std::fs::write(root.join("drafts/T-1/notes.txt"), b"x").unwrap();
    std::fs::write(root.join("drafts/.lapwise-left.pdf"), b"x").unwrap();
    let report = verify(&root);
    assert_eq!(report.flaws.iter().map(|flaw| flaw.fault.code.text()).collect::<Vec<_>>(), ["file-added"]);
    assert_eq!(report.unfinished, ["drafts/.lapwise-left.pdf"]);
    std::fs::remove_file(root.join("drafts/T-1/notes.txt")).unwrap();
    shelf.run(&[]);
    assert!(verify(&root).unfinished.is_empty(), "what was left is taken away");
}

/// A run that is killed after a while.
fn killed(shelf: &Shelf, after: Duration) -> bool {
    let mut child = Command::new(env!("CARGO_BIN_EXE_lapwise"))
        .args(["regenerate", "--register", "register", "--data", "data", "--jobs", "2"])
        .current_dir(shelf.story.root())
        .env("LAPWISE_STATE", shelf.story.root().join("state"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    while begun.elapsed() < after {
        if child.try_wait().unwrap().is_some() {
            return false;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    true
}

#[test]
fn a_run_that_is_killed_and_repeated_ends_as_one_that_was_not() {
    let shelf = overturned(4);
    let before = signed(&shelf);
    let begun = Instant::now();
    assert_eq!(shelf.run(&[]).code, 0);
    let whole = begun.elapsed();
    let undisturbed = written(&shelf);
    let mut kills = 0;
    for part in [1, 3, 4, 5, 7] {
        let _ = std::fs::remove_dir_all(shelf.story.root().join("register/drafts"));
        let _ = std::fs::remove_dir_all(shelf.story.root().join("out"));
        kills += u32::from(killed(&shelf, whole * part / 8));
        assert_eq!(signed(&shelf), before, "killed at {part}/8");
        let report = verify(&shelf.story.root().join("register"));
        assert!(report.flaws.is_empty(), "killed at {part}/8: {:?}", report.flaws);
        assert_eq!(shelf.run(&[]).code, 0);
        assert_eq!(written(&shelf), undisturbed, "killed at {part}/8");
    }
    assert!(kills >= 3, "{kills} of 5 runs were killed");
}

#[test]
fn signing_beside_it_disturbs_neither() {
    let shelf = overturned(5);
    let mut child = Command::new(env!("CARGO_BIN_EXE_lapwise"))
        .args(["regenerate", "--register", "register", "--data", "data", "--json"])
        .current_dir(shelf.story.root())
        .env("LAPWISE_STATE", shelf.story.root().join("state"))
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let mut signed = 0;
    while child.try_wait().unwrap().is_none() || signed < 3 {
        signed += 1;
        shelf.sign(&enquiry(100 + signed), None, None);
    }
    assert!(child.wait().unwrap().success());
    shelf.sign(&enquiry(1), Some("S-1"), Some("T-1/r0001"));
    let report = verify(&shelf.story.root().join("register"));
    assert!(report.flaws.is_empty(), "{:?}", report.flaws);
    // The next run sees all of them, and the draft of what was signed meanwhile is gone.
    let told = json(&shelf.run(&["--json"]).out);
    assert_eq!(told["counts"]["total"], 6 + signed, "{}", told["counts"]);
    assert!(!shelf.story.root().join("register/drafts/T-1").exists());
    assert!(shelf.story.root().join("register/drafts/T-2").exists());
}

#[test]
fn two_runs_at_once_end_as_one() {
    let shelf = overturned(4);
    let start = || {
        Command::new(env!("CARGO_BIN_EXE_lapwise"))
            .args(["regenerate", "--register", "register", "--data", "data", "--json"])
            .current_dir(shelf.story.root())
            .env("LAPWISE_STATE", shelf.story.root().join("state"))
            .stdout(Stdio::null())
            .spawn()
            .unwrap()
    };
    let both = [start(), start()];
    for mut child in both {
        assert!(child.wait().unwrap().success());
    }
    let then = (written(&shelf), times(&shelf));
    assert_eq!(shelf.run(&[]).code, 0);
    assert_eq!((written(&shelf), times(&shelf)), then);
}

#[test]
fn a_draft_that_fails_stops_no_other() {
    let shelf = overturned(3);
    // Where the draft of T-2 belongs stands a folder.
    let root = shelf.story.root().join("register/drafts/T-2/T-2_r0002_draft.pdf");
    std::fs::create_dir_all(root.join("in the way")).unwrap();
    let told = shelf.run(&[]);
    assert_eq!(told.code, 3, "{}", told.out);
    assert!(told.out.contains("write-failed") && told.out.contains("2 printed"), "{}", told.out);
    std::fs::remove_dir_all(root).unwrap();
    assert!(shelf.run(&[]).out.contains("1 printed, 2 there already"));
}

#[test]
fn render_chooses_who_gets_a_draft() {
    crate::page::typst();
    let shelf =
        Shelf::with(2).change("criteria.toml", "condition = \"Set and check the", "condition = \"Set, check the");
    let counts = shelf.pass().report.counts;
    assert!(counts.restated > 0, "{counts:?}");
    let printed = |more: &[&str]| {
        assert_eq!(shelf.run(more).code, 0);
        bytes(&shelf.story.root().join("register/drafts"), &["lock", "overtaken.json"]).len()
    };
    assert_eq!(printed(&[]), counts.overturned);
    assert_eq!(printed(&["--render", "restated"]), 2);
    assert_eq!(printed(&["--render", "overturned"]), counts.overturned);
}
