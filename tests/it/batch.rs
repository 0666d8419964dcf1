//! Thousands at once, on a few: parts and their joined report, failures that stop nothing, interrupts, split tables.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::page::typst;
use crate::story::{SMALL, Story};

/// The small data with so many enquiries, alike but for their numbers.
fn many(count: usize) -> Story {
    let story = Story::of(SMALL);
    let first = fs::read_to_string(story.data().join("enquiries/s-1.toml")).unwrap();
    for n in 2..=count {
        let text = first.replacen("number = \"S-1\"", &format!("number = \"S-{n}\""), 1);
        assert_ne!(text, first);
        fs::write(story.data().join(format!("enquiries/s-{n}.toml")), text).unwrap();
    }
    story
}

/// The report of a part, kept in a file; its text.
fn part(story: &Story, part: &str, more: &[&str]) -> String {
    let mut words = vec!["dossier", "--all", "--json", "-o", "out"];
    if !part.is_empty() {
        words.extend(["--part", part]);
    }
    words.extend(more);
    let told = story.lapwise(&words);
    assert_eq!(told.code, 0, "{}", told.err);
    fs::write(story.root().join(format!("{}.json", part.replace('/', "-"))), &told.out).unwrap();
    told.out
}

#[test]
fn the_parts_joined_are_the_report_of_a_run_in_one() {
    typst();
    let story = many(4);
    let whole = part(&story, "", &[]);
    let parts = ["1/3", "2/3", "3/3"].map(|k| part(&story, k, &[]));
    let sizes = parts.each_ref().map(|text| entries(text, "dossiers").len());
    assert!(sizes.iter().filter(|size| **size > 0).count() > 1, "all in one part: {sizes:?}");
    let told = story.run(&["gather", "3-3.json", "1-3.json", "2-3.json"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert_eq!(told.out, whole);
    assert_eq!(told.err, "3 parts: 4 dossiers, 0 failed, 0 unfinished\n");
    story.run(&["gather", "1-3.json", "2-3.json", "3-3.json", "-o", "all.json"]);
    assert_eq!(fs::read_to_string(story.root().join("all.json")).unwrap(), whole);
}

#[test]
fn what_is_not_all_parts_of_one_batch_is_refused() {
    typst();
    let story = many(3);
    for k in ["1/2", "2/2", "1/3", ""] {
        part(&story, k, &[]);
    }
    let refused = |files: &[&str]| {
        let told = story.run(&[&["gather"], files].concat());
        assert_eq!((told.code, told.out.as_str()), (1, ""), "{}", told.err);
        told.err
    };
    insta::assert_snapshot!(refused(&["1-2.json"]), @r"
    found   no report of 2/2
    needed  the report of every part
    do      do these parts, then gather again with all reports
    (part-missing)
    ");
    assert!(refused(&["1-2.json", "2-2.json", "2-2.json"]).contains("(part-repeated)"));
    assert!(refused(&["1-2.json", "1-3.json"]).contains("a part of 3, `part` other than in"));
    assert!(refused(&["1-2.json", ".json"]).contains("the report of a whole batch, in no parts"));
    assert!(refused(&["1-2.json", "data/tapes.csv"]).contains("(format-unknown)"));
    // An entry that somebody moved from part to part, or took out.
    let kept = fs::read_to_string(story.root().join("1-2.json")).unwrap();
    let more = entries(&fs::read_to_string(story.root().join("2-2.json")).unwrap(), "dossiers");
    let changed = |change: &dyn Fn(&mut Vec<Value>)| {
        let mut document: Value = serde_json::from_str(&kept).unwrap();
        change(document["dossiers"].as_array_mut().unwrap());
        fs::write(story.root().join("changed.json"), document.to_string()).unwrap();
        refused(&["changed.json", "2-2.json"])
    };
    assert!(changed(&|list| list.extend(more.clone())).contains("(parts-differ)"));
    let size = entries(&kept, "dossiers").len() + more.len();
    assert_eq!(size, 3);
    assert!(changed(&|list| list.clear()).contains("the 3 of the batch") || entries(&kept, "dossiers").is_empty());
    // Other data.
    let story = story.change("tapes.csv", "small 1 (invented)", "small one (invented)");
    part(&story, "2/2", &[]);
    let told = story.run(&["gather", "1-2.json", "2-2.json"]);
    assert!(told.err.contains("a `made_from` other than in `1-2.json`"), "{}", told.err);
    let usage = story.lapwise(&["dossier", "--all", "--part", "4/3"]);
    assert_eq!(usage.code, 2);
    assert!(usage.err.contains("write K/N, such as 3/8"), "{}", usage.err);
}

fn entries(report: &str, list: &str) -> Vec<Value> {
    let document: Value = serde_json::from_str(report).unwrap();
    document[list].as_array().unwrap().clone()
}

#[test]
fn a_failure_stops_nothing_and_is_told_at_the_end() {
    typst();
    let story = many(4).change("enquiries/s-2.toml", "Nobody (invented)", "株 (invented)").change(
        "enquiries/s-3.toml",
        "[application]",
        "[application",
    );
    let told = story.lapwise(&["dossier", "--all", "-o", "out"]);
    assert_eq!(told.code, 1);
    assert!(told.out.contains("out/S-1_draft.pdf") && told.out.contains("out/S-4_draft.pdf"), "{}", told.out);
    assert!(told.err.contains("S-2 failed\n  found   `株`"), "{}", told.err);
    assert!(told.err.contains("enquiries/s-3.toml failed\n"), "{}", told.err);
    assert!(told.err.ends_with("2 dossiers, 2 failed\n"), "{}", told.err);
    assert_eq!(finished(story.root()), ["S-1_draft.pdf", "S-4_draft.pdf"]);
    let told = story.lapwise(&["dossier", "data/enquiries", "-o", "out", "--json"]);
    assert_eq!(told.code, 1);
    let failed: Vec<String> = entries(&told.out, "failed")
        .iter()
        .map(|failed| format!("{} {}", failed["enquiry"], failed["diagnostics"][0]["code"]))
        .collect();
    assert_eq!(failed.len(), 2, "{failed:?}");
    assert!(failed.contains(&"\"S-2\" \"glyph-missing\"".to_owned()), "{failed:?}");
    // With nothing to show for it, a run ends as any command that fails.
    let told = story.lapwise(&["dossier", "S-2", "-o", "out", "--json"]);
    assert_eq!(told.code, 1);
    assert!(told.out.contains("lapwise/diagnostics/1"), "{}", told.out);
}

/// The files in the folder `out`, each of them a whole PDF.
fn finished(root: &Path) -> Vec<String> {
    let mut names = Vec::new();
    for entry in fs::read_dir(root.join("out")).into_iter().flatten() {
        let entry = entry.unwrap();
        let bytes = fs::read(entry.path()).unwrap();
        assert!(
            bytes.starts_with(b"%PDF-") && bytes.ends_with(b"%%EOF\n"),
            "{} is no whole PDF",
            entry.path().display()
        );
        names.push(entry.file_name().into_string().unwrap());
    }
    names.sort();
    names
}

#[test]
fn an_interrupt_leaves_whole_files_and_says_what_is_finished() {
    typst();
    for (signal, when) in [("INT", 0), ("INT", 1), ("TERM", 2), ("TERM", 3)] {
        let story = many(9);
        let temporary = story.root().join("temporary");
        fs::create_dir(&temporary).unwrap();
        let mut run = Command::new(env!("CARGO_BIN_EXE_lapwise"))
            .args(["dossier", "--all", "--data", "data", "-o", "out", "--jobs", "2", "--json"])
            .current_dir(story.root())
            .env("TMPDIR", &temporary)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let begun = Instant::now();
        // The moment: processes of Typst run, or so many files are there.
        let names = || fs::read_dir(story.root().join("out")).map_or(0, Iterator::count);
        let printing = || fs::read_dir(&temporary).unwrap().count() > 1;
        while !printing() || names() < when {
            assert!(begun.elapsed() < Duration::from_mins(2), "nothing is printed");
            std::thread::sleep(Duration::from_millis(2));
        }
        let pid = run.id().to_string();
        assert!(Command::new("kill").args([&format!("-{signal}"), &pid]).status().unwrap().success());
        let output = loop {
            if run.try_wait().unwrap().is_some() {
                break run.wait_with_output().unwrap();
            }
            assert!(begun.elapsed() < Duration::from_mins(3), "it does not end");
            std::thread::sleep(Duration::from_millis(5));
        };
        assert_eq!(output.status.signal(), None, "{signal} after {when} ended it by force");
        assert_eq!(output.status.code(), Some(130), "{}", String::from_utf8_lossy(&output.stderr));
        let report = String::from_utf8(output.stdout).unwrap();
        let told: Vec<String> = entries(&report, "dossiers")
            .iter()
            .map(|line| line["file"].as_str().unwrap().trim_start_matches("out/").to_owned())
            .collect();
        assert_eq!(told, finished(story.root()), "{signal} after {when}");
        assert_eq!(told.len() + entries(&report, "unfinished").len(), 9);
        assert!(told.len() < 9 && told.len() >= when);
        assert_eq!(fs::read_dir(&temporary).unwrap().count(), 0, "something is left behind");
    }
}

#[test]
fn findings_are_split_by_enquiry_and_the_same_in_any_number_of_parts() {
    let story = many(5);
    let split = ["matrix", "--all", "--format", "parquet", "--partitioned", "-o"];
    let whole = story.lapwise(&[&split[..], &["whole"]].concat());
    assert_eq!(whole.code, 0, "{}", whole.err);
    assert!(whole.err.starts_with("5 enquiries: "), "{}", whole.err);
    for k in ["1/2", "2/2"] {
        assert_eq!(story.lapwise(&[&split[..], &["parts", "--part", k]].concat()).code, 0);
    }
    let folders = |of: &str| -> BTreeSet<String> {
        let entries = fs::read_dir(story.root().join(of)).unwrap();
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
    };
    assert_eq!(folders("whole"), (1..=5).map(|n| format!("enquiry=S-{n}")).collect());
    assert_eq!(folders("whole"), folders("parts"));
    for folder in folders("whole") {
        let bytes = |of: &str| fs::read(story.root().join(of).join(&folder).join("part.parquet")).unwrap();
        assert!(bytes("whole").starts_with(b"PAR1"));
        assert_eq!(bytes("whole"), bytes("parts"), "{folder}");
        assert_eq!(fs::read_dir(story.root().join("whole").join(&folder)).unwrap().count(), 1);
    }
    let told = story.lapwise(&["matrix", "--all", "--partitioned", "--format", "csv"]);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("add `--format parquet -o DIR`"), "{}", told.err);
    let told = story.lapwise(&["matrix", "data", "--format", "csv"]);
    assert!(told.err.contains("toml"), "{}", told.err);
}
