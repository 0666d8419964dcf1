//! A disk that is full, and a folder that takes nothing: one sentence, one thing to do, and nothing half-written.

use std::path::Path;

use crate::register::told::begun;
use crate::story::{SMALL, Story, Told, tree};

/// One fault of the environment, in words of its own.
fn refused(told: &Told, what: &str) {
    let faults = told.err.matches("\n  do ").count();
    let said = format!("{what}: {}\n{}", told.out, told.err);
    assert!(told.code == 3 && faults == 1 && told.err.contains("(write-failed)"), "{said}");
    assert!(told.out.is_empty() && !said.contains("panic"), "{said}");
}

/// Runs a command while nothing new can be made below a folder, then on disks with ever more room there, until one
/// has enough; until then `state` stays what it is.
fn tried<S: PartialEq + std::fmt::Debug>(
    story: &Story,
    folder: &str,
    arguments: &[&str],
    state: impl Fn(&Story) -> S,
) -> usize {
    let (preload, before) = (story.preload("disk.c"), state(story));
    let shut = story.run_with(arguments, &[("LD_PRELOAD", &preload), ("SHUT", folder)]);
    refused(&shut, &format!("{arguments:?}, {folder} shut"));
    assert_eq!(state(story), before, "{arguments:?}, {folder} shut");
    let mut room = 0_usize;
    for tries in 0.. {
        let what = format!("{arguments:?}, {folder} with room for {room}");
        let full =
            story.run_with(arguments, &[("LD_PRELOAD", &preload), ("FULL", folder), ("ROOM", &room.to_string())]);
        if full.code == 0 {
            assert!(tries > 0, "{what}: nothing was written");
            assert_ne!(state(story), before, "{what}");
            return tries;
        }
        refused(&full, &what);
        assert_eq!(state(story), before, "{what}");
        room = (room * 4).max(256);
    }
    unreachable!()
}

/// The files of a folder of the story.
fn files(folder: &'static str) -> impl Fn(&Story) -> Vec<(String, Vec<u8>)> {
    move |story| tree(&story.root().join(folder))
}

/// The folder of a story as the program sees it in the paths of files.
fn path(story: &Story, folder: &str) -> String {
    std::fs::create_dir_all(story.root().join(folder)).unwrap();
    Path::join(story.root(), folder).display().to_string()
}

/// An answer that could not be written down is told, in words where the document has no room.
#[cfg(target_os = "linux")]
#[test]
fn an_answer_without_room() {
    let story = Story::of(SMALL);
    let full = |arguments: &str, into: &str| {
        let line = format!("{} {arguments} --data data {into}", env!("CARGO_BIN_EXE_lapwise"));
        let output = std::process::Command::new("sh").args(["-c", &line]).current_dir(story.root()).output().unwrap();
        (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    for arguments in ["rank S-1 --json", "rank S-1", "matrix S-1 --format csv", "check --json", "model list --json"] {
        let (code, said) = full(arguments, ">/dev/full");
        assert!(code == Some(3) && said.contains("(write-failed)"), "{arguments}: {code:?} {said}");
    }
    // What is wrong with the input stays wrong.
    let (code, said) = full("rank S-9 --json", ">/dev/full");
    assert!(code == Some(1) && said.contains("(name-unknown)"), "{code:?} {said}");
    for arguments in ["rank S-1 --format csv -o out.csv", "matrix S-1 --format csv -o out.csv"] {
        assert_eq!(full(arguments, "2>/dev/full").0, Some(3), "{arguments}");
    }
    assert_eq!(full("--nonsense", "2>/dev/full").0, Some(2));
}

#[test]
fn an_export() {
    for format in ["csv", "json", "parquet", "xlsx", "html", "table"] {
        for command in ["matrix", "rank"] {
            let story = Story::of(SMALL);
            let out = path(&story, "out");
            let file = format!("{out}/answer");
            tried(&story, &out, &[command, "S-1", "--data", "data", "--format", format, "-o", &file], files("out"));
        }
    }
}

#[test]
fn a_dossier() {
    crate::page::typst();
    let story = Story::of(SMALL);
    let out = path(&story, "out");
    let tries = tried(&story, &out, &["dossier", "S-1", "--data", "data", "-o", &out], files("out"));
    assert!(tries > 3, "room enough after {tries}");
}

/// What is laid out for the compiler, and what the compiler writes itself.
#[test]
fn a_dossier_without_room_for_what_is_temporary() {
    crate::page::typst();
    let story = Story::of(SMALL);
    let (out, temporary, preload) = (path(&story, "out"), path(&story, "temporary"), story.preload("disk.c"));
    let arguments = ["dossier", "S-1", "--data", "data", "-o", &out];
    let run = |full: (&str, &str), room: &str| {
        let variables = [("LD_PRELOAD", preload.as_str()), ("TMPDIR", &temporary), full, ("ROOM", room)];
        story.run_with(&arguments, &variables)
    };
    for full in ["lapwise-fonts-", "dossier.typ", "view.json", "dossier.pdf"] {
        for room in ["0", "1000"] {
            refused(&run(("FULL", full), room), &format!("{full} with room for {room}"));
            assert!(tree(&story.root().join("out")).is_empty() && tree(&story.root().join("temporary")).is_empty());
        }
    }
    refused(&run(("SHUT", &temporary), "0"), "no folder for what is temporary");
    assert_eq!(run(("FULL", "dossier.pdf"), "1000000000").code, 0);
}

/// What can be written is, and the end says that the disk was in the way.
#[test]
fn several_dossiers_of_which_one_cannot_be_written() {
    crate::page::typst();
    let story = Story::of(SMALL);
    let text = std::fs::read_to_string(story.data().join("enquiries/s-1.toml")).unwrap();
    let other = text.replace("number = \"S-1\"", "number = \"S-2\"");
    std::fs::write(story.data().join("enquiries/s-2.toml"), other).unwrap();
    std::fs::create_dir_all(story.root().join("out/S-2_draft.pdf")).unwrap();
    let told = story.lapwise(&["dossier", "S-1", "S-2", "-o", "out", "--jobs", "1"]);
    assert!(told.code == 3 && story.root().join("out/S-1_draft.pdf").is_file(), "{}{}", told.out, told.err);
    assert_eq!((told.out + &told.err).matches("write-failed").count(), 1);
}

#[test]
fn a_signature() {
    crate::page::typst();
    let story = begun();
    let register = path(&story, "register");
    let state = |story: &Story| {
        let listed = story.lapwise(&["register", "list", "register", "--json"]);
        let proven = story.lapwise(&["register", "verify", "register"]);
        (listed.code, listed.out, proven.code)
    };
    let sign = [
        "register",
        "sign",
        &register,
        "S-1",
        "--data",
        "data",
        "--signer",
        "m.sand",
        "--key",
        "m.sand",
        "--tape",
        "S-1",
        "--meaning",
        "authored",
        "--reason",
        "a disk that was full",
    ];
    assert!(tried(&story, &register, &sign, state) > 3);
    // What was cut short is no part of what is proven, and the bag has room or is not there.
    let bags = path(&story, "bags");
    let bag = format!("{bags}/bag");
    let there = |story: &Story| story.root().join("bags/bag").exists();
    tried(&story, &bags, &["register", "export", &register, "S-1/r0001", "-o", &bag], there);
    assert_eq!(tree(&story.root().join("bags")).len(), tree(&story.root().join("bags/bag")).len());
}

/// What a pass cannot write stops nothing else, and the next pass writes it.
#[test]
fn a_pass_over_the_register() {
    crate::page::typst();
    for folder in ["out", "register/drafts"] {
        let shelf =
            crate::regenerate::Shelf::with(1).change("tapes.csv", "125 N/cm,IEC 60454-2", "11 N/cm,IEC 60454-2");
        let story = &shelf.story;
        let (out, register, at) = (path(story, "out"), path(story, "register"), path(story, folder));
        let (preload, mut failed) = (story.preload("disk.c"), 0);
        let pass = |variable: (&str, &str), room: &str| {
            let full = [("LD_PRELOAD", preload.as_str()), variable, ("ROOM", room)];
            let told = story.run_with(&["regenerate", "--register", &register, "--data", "data", "-o", &out], &full);
            let said = format!("{folder} {room}: {}{}", told.out, told.err);
            assert!(matches!(told.code, 0 | 3) && !said.contains("panic"), "{said}");
            assert_eq!(told.code == 3, said.matches("(write-failed)").count() == 1, "{said}");
            let pages = ["out", "register/drafts"].map(|folder| tree(&story.root().join(folder))).concat();
            let pages = pages.iter().filter(|(name, _)| Path::new(name).extension().is_some_and(|end| end == "pdf"));
            assert!(pages.clone().all(|(_, bytes)| bytes.ends_with(b"%%EOF\n")), "{said}");
            (told.code, pages.count())
        };
        assert_eq!(pass(("SHUT", &at), "0").0, 3);
        for room in ["0", "1000", "30000"] {
            failed += usize::from(pass(("FULL", &at), room).0 == 3);
        }
        assert!(failed >= 2, "{folder}: {failed}");
        assert_eq!(pass(("FULL", &at), "100000000"), (0, 2), "{folder}: the report and the draft");
    }
}

#[test]
fn the_data_folder() {
    let story = Story::of(SMALL);
    let data = path(&story, "data");
    std::fs::write(story.root().join("list.csv"), "tape,total_thickness\nS-2,1 mm\n").unwrap();
    tried(&story, &data, &["import", "list.csv", "--data", &data], files("data"));
    let own = format!("{}/own", path(&story, "begun"));
    tried(&story, &own, &["begin", &own, "--owner", "O"], |story: &Story| {
        story.root().join("begun/own/tapes.csv").exists()
    });
}
