//! One register in parts: what they write, together, is what a run in one writes.

use std::collections::BTreeSet;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use lapwise::part::Part;

use super::again::{overturned, signed, written};
use super::*;

/// Runs one part, or what is named besides.
fn part(shelf: &Shelf, k: &str, more: &[&str]) -> Told {
    shelf.run(&[&["--part", k], more].concat())
}

/// The program, started on the register.
fn started(shelf: &Shelf, more: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_lapwise"))
        .args(["regenerate", "--register", "register", "--data", "data"])
        .args(more)
        .current_dir(shelf.story.root())
        .env("LAPWISE_STATE", shelf.story.root().join("state"))
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Takes away everything that was written beside what is signed.
fn clear(shelf: &Shelf) {
    for folder in ["register/drafts", "out"] {
        std::fs::remove_dir_all(shelf.story.root().join(folder)).unwrap();
    }
}

/// What is written, without the reports of parts and what locks.
fn whole(shelf: &Shelf) -> BTreeMap<String, Vec<u8>> {
    let mut all = written(shelf);
    all.retain(|name, _| !name.contains("-of-") && !name.contains("lock"));
    all
}

const REPORTS: [&str; 3] = [
    "out/regenerate/regenerate-1-of-3.json",
    "out/regenerate/regenerate-2-of-3.json",
    "out/regenerate/regenerate-3-of-3.json",
];

fn gather(shelf: &Shelf, more: &[&str]) -> Told {
    shelf.story.lapwise(&[&["gather"], &REPORTS[..], more].concat())
}

/// Some that are overturned, by more than one change and not all by the same, one withdrawn and one revised.
fn mixed() -> Shelf {
    let shelf = overturned(7);
    shelf.withdraw("T-4/r0001");
    shelf.sign(&enquiry(5), Some("S-1"), Some("T-5/r0001"));
    shelf.change("criteria.toml", "condition = \"Set and check the", "condition = \"Set, check the")
}

#[test]
fn parts_end_as_a_run_in_one_whether_one_after_another_or_at_once() {
    let shelf = mixed();
    let before = signed(&shelf);
    let undivided = shelf.run(&["--render", "all"]);
    assert_eq!(undivided.code, 0, "{}{}", undivided.out, undivided.err);
    let expected = whole(&shelf);
    let report = json(&String::from_utf8(expected["out/regenerate/regenerate.json"].clone()).unwrap());
    let acts: BTreeSet<String> =
        report["causes"].as_array().unwrap().iter().map(|cause| cause["records"].to_string()).collect();
    assert!(acts.len() > 1, "one cause does not show that they are numbered anew: {acts:?}");
    clear(&shelf);
    let mut printed = Vec::new();
    for k in ["2/3", "3/3", "1/3"] {
        let told = part(&shelf, k, &["--render", "all"]);
        assert_eq!(told.code, 0, "{}{}", told.out, told.err);
        assert!(told.out.contains(&format!("{k}: the selections of its enquiries alone")), "{}", told.out);
        printed.push(whole(&shelf).len());
        let listed = shelf.story.lapwise(&["register", "list", "register"]);
        let only = printed.len() < 3;
        assert_eq!(listed.out.contains("of the parts only 2/3"), only, "{}", listed.out);
    }
    assert!(printed[0] < printed[2], "all drafts are of one part: {printed:?}");
    let joined = gather(&shelf, &[]);
    assert_eq!(joined.code, 0, "{}", joined.err);
    assert_eq!(joined.out.as_bytes(), expected["out/regenerate/regenerate.json"]);
    let told = gather(&shelf, &["--report", "out/regenerate"]);
    assert_eq!((told.code, told.out.as_str()), (0, ""), "{}", told.err);
    assert!(told.err.contains("out/regenerate/regenerate.pdf\n"), "{}", told.err);
    assert_eq!(whole(&shelf), expected);
    // A part that is done again writes nothing.
    let then = written(&shelf);
    assert!(part(&shelf, "2/3", &["--render", "all"]).out.contains("0 printed"));
    assert_eq!(written(&shelf), then);
    clear(&shelf);
    let all = ["1/3", "2/3", "3/3"].map(|k| started(&shelf, &["--render", "all", "--part", k]));
    for child in all {
        let output = child.wait_with_output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }
    gather(&shelf, &["--report", "out/regenerate"]);
    assert_eq!(whole(&shelf), expected);
    assert_eq!(signed(&shelf), before, "something signed was touched");
    assert!(verify(&shelf.story.root().join("register")).flaws.is_empty());
}

#[test]
fn what_is_not_all_parts_of_one_pass_is_refused() {
    let shelf = overturned(4);
    for k in ["1/3", "2/3", "3/3"] {
        assert_eq!(part(&shelf, k, &[]).code, 0);
    }
    let refused = |shelf: &Shelf, reports: &[&str]| {
        let told = shelf.story.lapwise(&[&["gather"], reports].concat());
        assert_eq!((told.code, told.out.as_str()), (1, ""), "{}", told.err);
        told.err
    };
    assert!(refused(&shelf, &REPORTS[..2]).contains("no report of 3/3"));
    // A selection that somebody took out, or that is another part's.
    let path = shelf.story.root().join(REPORTS[1]);
    let kept = std::fs::read_to_string(&path).unwrap();
    let second: Part = "2/3".parse().unwrap();
    let elsewhere = (90..200).map(|n| format!("T-{n}")).find(|name| !second.takes(name)).unwrap();
    for (name, change) in [
        ("counts", &(|report: &mut Value| report["counts"]["overturned"] = 0.into()) as &dyn Fn(&mut Value)),
        ("moved", &|report| report["selections"][0]["record"] = format!("{elsewhere}/r0001").into()),
        ("cause", &|report| report["selections"][0]["causes"][0] = 9.into()),
    ] {
        let mut report = json(&kept);
        assert!(!report["selections"].as_array().unwrap().is_empty(), "part 2 of 3 has nothing");
        change(&mut report);
        std::fs::write(&path, report.to_string()).unwrap();
        assert!(refused(&shelf, &REPORTS).contains("(parts-differ)"), "{name}");
    }
    std::fs::write(&path, kept.replace("\"customer\"", "\"client\"")).unwrap();
    assert!(refused(&shelf, &REPORTS).contains("(format-unknown)"));
    std::fs::write(&path, kept).unwrap();
    assert_eq!(gather(&shelf, &[]).code, 0);
    // Somebody signed between two parts: they are not of one pass.
    shelf.sign(&enquiry(50), None, None);
    part(&shelf, "1/3", &[]);
    assert!(refused(&shelf, &REPORTS).contains("a `head` other than in"));
    let told = shelf.story.lapwise(&["gather", "out/regenerate/regenerate-1-of-3.json", "--report", "x", "-o", "y"]);
    assert_eq!(told.code, 2, "{}", told.err);
}

#[test]
fn an_interrupt_leaves_whole_drafts_and_the_next_run_goes_on() {
    let shelf = overturned(6);
    assert_eq!(shelf.run(&[]).code, 0);
    let expected = whole(&shelf);
    clear(&shelf);
    let child = started(&shelf, &["--jobs", "1"]);
    let begun = Instant::now();
    let drafts = || bytes(&shelf.story.root().join("register/drafts"), &["lock", "overtaken.json"]).len();
    while drafts() < 2 {
        assert!(begun.elapsed() < Duration::from_mins(2), "nothing is printed");
        std::thread::sleep(Duration::from_millis(2));
    }
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(130), "{said}");
    assert!(said.contains("finished, and no report is written; run it again to go on"), "{said}");
    let left = whole(&shelf);
    let printed = left.keys().filter(|name| name.ends_with("_draft.pdf")).count();
    assert!((2..6).contains(&printed), "{:?}", left.keys());
    let differs = |(name, bytes): &(&String, &Vec<u8>)| *name != "overtaken.json" && expected.get(*name) != Some(bytes);
    assert_eq!(left.iter().find(differs), None, "a draft is not whole");
    let told = shelf.run(&[]);
    assert!(!told.out.contains(" 0 there already"), "{}", told.out);
    assert_eq!(whole(&shelf), expected);
}

#[test]
fn what_a_part_left_when_it_was_killed_goes_with_the_next() {
    let shelf = overturned(4);
    assert_eq!(shelf.run(&[]).code, 0);
    let expected = whole(&shelf);
    let drafts = shelf.story.root().join("register/drafts");
    std::fs::write(drafts.join(".lapwise-list"), b"x").unwrap();
    for n in 1..=4 {
        std::fs::write(drafts.join(format!("T-{n}/.lapwise-draft")), b"x").unwrap();
    }
    // An older draft of a part, which nothing names any more.
    std::fs::write(drafts.join("T-3/T-3_r0009_draft.pdf"), b"x").unwrap();
    for k in ["1/3", "2/3", "3/3"] {
        assert_eq!(part(&shelf, k, &[]).code, 0);
    }
    assert_eq!(whole(&shelf), expected);
    // A run in one takes what locked the parts with it.
    assert!(drafts.join("part-2-of-3.lock").exists());
    shelf.run(&[]);
    assert!(!drafts.join("part-2-of-3.lock").exists());
    assert!(verify(&shelf.story.root().join("register")).unfinished.is_empty());
}

#[test]
fn parts_of_another_look_or_without_typst_say_so() {
    let shelf = overturned(3);
    for k in ["1/3", "3/3"] {
        assert_eq!(part(&shelf, k, &[]).code, 0);
    }
    // Without a compiler the judgement is there, and the exit code says what is not.
    let words = ["regenerate", "--register", "register", "--data", "data", "--part", "2/3"];
    let told = shelf.story.run_with(&words, &[("LAPWISE_TYPST", "/nowhere/typst")]);
    assert_eq!(told.code, 3, "{}{}", told.out, told.err);
    assert!(told.err.contains("typst-missing"), "{}", told.err);
    assert_eq!(gather(&shelf, &[]).code, 0);
    part(&shelf, "2/3", &["--render", "all"]);
    assert!(gather(&shelf, &[]).err.contains("a `made_from` other than in"));
    // The list outlives a signature: what became of a record by some data stays so.
    part(&shelf, "2/3", &[]);
    shelf.sign(&enquiry(60), None, None);
    let prints = |told: Told| told.out.contains(" printed") && !told.out.contains(": 0 printed");
    assert!(!prints(part(&shelf, "1/3", &[])) && !prints(part(&shelf, "2/3", &[])));
}

/// Names that differ by a leading zero are in one order, whichever part they were in.
#[test]
fn names_alike_but_for_zeros_are_in_the_same_order_from_parts() {
    let shelf = overturned(0);
    for number in ["T-01", "T-001", "T-1", "T-1000000000000000000000", "T-2000000000000000000000"] {
        shelf.sign(&enquiry(1).replace("number = \"T-1\"", &format!("number = \"{number}\"")), Some("S-2"), None);
    }
    let shelf = shelf.change("tapes.csv", "11 N/cm,IEC 60454-2", "10 N/cm,IEC 60454-2");
    let run = |more: &[&str]| assert_eq!(shelf.run(&[&["--render", "restated"], more].concat()).code, 0);
    run(&[]);
    let expected = std::fs::read_to_string(shelf.story.root().join("out/regenerate/regenerate.json")).unwrap();
    for k in ["1/3", "2/3", "3/3"] {
        run(&["--part", k]);
    }
    assert_eq!(gather(&shelf, &[]).out, expected);
}
