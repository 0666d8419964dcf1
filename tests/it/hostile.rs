//! What a folder or a template from somebody else can do: nothing outside its folder.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

use crate::story::{SMALL, Story, copy, tree};

/// What must never be read: a file beside the folder, with a word that nothing else has.
const SECRET: &str = "quincunx-7";

fn with_a_secret() -> Story {
    let story = Story::of(SMALL);
    fs::write(story.root().join("secret.csv"), format!("tape,name\n{SECRET},{SECRET}\n")).unwrap();
    fs::write(story.root().join("secret.typ"), format!("#let secret = [{SECRET}]\n")).unwrap();
    story
}

#[test]
fn a_link_out_of_the_data_folder_is_refused_and_not_read() {
    for file in ["tapes.csv", "about.toml", "sources.yml", "enquiries/s-1.toml"] {
        let story = with_a_secret();
        let path = story.data().join(file);
        fs::remove_file(&path).unwrap();
        symlink(story.root().join("secret.csv"), &path).unwrap();
        for command in [&["check"][..], &["rank", "S-1"], &["check", "--json"]] {
            let told = story.lapwise(command);
            assert_eq!(told.code, 1, "{file}: {}", told.err);
            let said = told.out + &told.err;
            assert!(said.contains("not-a-file") && !said.contains(SECRET), "{said}");
        }
    }
}

#[test]
fn a_pipe_in_place_of_a_file_does_not_hold_anybody_up() {
    let story = Story::of(SMALL);
    let path = story.data().join("facts.csv");
    fs::remove_file(&path).unwrap();
    assert!(std::process::Command::new("mkfifo").arg(&path).status().unwrap().success());
    let told = story.lapwise(&["check"]);
    assert!(told.code == 1 && told.err.contains("facts.csv") && told.err.contains("(not-a-file)"), "{}", told.err);
}

/// Paths in any field are words, not places: nothing is opened by them and nothing is written by them.
#[test]
fn paths_in_the_data_are_words() {
    let wild = ["../secret", "/etc/passwd", "../../../../written", "..\\\\secret", "a/b", "C:/x"];
    for name in wild {
        let story = with_a_secret().change("enquiries/s-1.toml", "number = \"S-1\"", &format!("number = \"{name}\""));
        let before = tree(story.root());
        let told = story.lapwise(&["dossier", "data/enquiries/s-1.toml", "-o", "out"]);
        assert_eq!(told.code, 1, "{name}: {}", told.err);
        assert_eq!(tree(story.root()), before, "{name} left something behind");
    }
    let story = with_a_secret().change("tapes.csv", "\nS-1,", "\n../secret,").change(
        "sources.yml",
        "title: ",
        "url: \"file:///etc/passwd\"\n  title: ",
    );
    let before: Vec<String> = tree(story.root()).into_iter().map(|(name, _)| name).collect();
    let told = story.lapwise(&["rank", "S-1"]);
    assert!(!(told.out + &told.err).contains(SECRET));
    let after: Vec<String> = tree(story.root()).into_iter().map(|(name, _)| name).collect();
    assert_eq!(after, before);
}

/// A template of somebody else is read by a compiler that sees one folder: what it reaches for is not there.
#[test]
fn a_template_reaches_nothing_outside_its_folder() {
    crate::page::typst();
    // The same part with a line that reaches for nothing is obeyed.
    let harmless = "#let harmless = 1";
    let reaching = [
        harmless,
        "#read(\"/etc/passwd\")",
        "#read(\"../../secret.typ\")",
        "#import \"../../secret.typ\": secret",
        "#import \"../secret.typ\": secret",
        "#include \"/../secret.typ\"",
        "#import \"@preview/cetz:0.3.0\"",
        "#import \"@local/secret:0.1.0\"",
        "#plugin(\"/secret.wasm\")",
        "#image(\"/proc/self/environ\")",
        "{% include \"../secret.typ\" %}",
        "{% include \"/etc/passwd\" %}",
        "{% import \"../secret.typ\" as secret %}",
    ];
    for text in reaching {
        let story = with_a_secret();
        fs::create_dir(story.root().join("look")).unwrap();
        let parts = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/look.typ")).unwrap();
        fs::write(story.root().join("look/look.typ"), format!("{parts}\n{text}\n")).unwrap();
        let before = tree(story.root());
        let told = story.lapwise(&["dossier", "S-1", "-o", "out", "--templates", "look"]);
        if text == harmless {
            assert_eq!(told.code, 0, "{}", told.err);
            continue;
        }
        assert_ne!(told.code, 0, "{text} was obeyed: {}", told.out);
        let said = told.out + &told.err;
        assert!(!said.contains(SECRET) && !said.contains("root:"), "{text}: {said}");
        assert_eq!(tree(story.root()), before, "{text} left something behind");
    }
}

#[test]
fn a_template_folder_with_links_out_of_it_is_refused() {
    for name in ["look.typ", "en.toml", "fonts/Inter-Regular.otf"] {
        let story = with_a_secret();
        fs::create_dir_all(story.root().join("look/fonts")).unwrap();
        symlink(story.root().join("secret.typ"), story.root().join("look").join(name)).unwrap();
        let told = story.lapwise(&["dossier", "S-1", "-o", "out", "--templates", "look"]);
        assert!(told.code == 1 && told.err.contains("(not-a-file)"), "{name}: {}", told.err);
        assert!(!told.err.contains(SECRET));
    }
}

/// A few thousand bytes that stand for gigabytes are refused before they are unfolded.
#[test]
fn a_workbook_that_would_fill_the_memory_is_refused() {
    let story = Story::of(SMALL);
    let path = story.root().join("list.xlsx");
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    sheet.write(0, 0, "Tape").unwrap();
    sheet.write(1_048_575, 16_383, "far").unwrap();
    book.save(&path).unwrap();
    let told = story.lapwise(&["import", "list.xlsx", "--basis", "invented", "--dry-run"]);
    assert!(told.code == 1 && told.err.contains("(file-too-large)"), "{}", told.err);
    for bytes in [&b"PK\x03\x04"[..], &fs::read(&path).unwrap()[..2000], &[0xd0, 0xcf, 0x11, 0xe0, 0, 0]] {
        fs::write(&path, bytes).unwrap();
        let told = story.lapwise(&["import", "list.xlsx", "--basis", "invented", "--dry-run"]);
        assert!(told.code == 1 && told.err.contains("(file-unreadable)"), "{}", told.err);
    }
    fs::write(&path, vec![b'a'; 70 << 20]).unwrap();
    let told = story.lapwise(&["import", "list.xlsx", "--basis", "invented", "--dry-run"]);
    assert!(told.code == 1 && told.err.contains("(file-too-large)"), "{}", told.err);
}

/// Rows are counted from 1: what stands for no row is a fault, and was once a panic.
#[test]
fn a_map_with_a_row_that_is_none_is_a_fault() {
    for head in ["[0, 1]", "[01, 1]", "[-1, 1]", "[nan, 1]", "[1e300, 1]", "[1, 0]"] {
        let text = format!("schema = \"lapwise/import-map/1\"\n[table]\ninto = \"tapes\"\nhead = {head}\n");
        assert!(lapwise::import::read_map("list.map.toml", &text).is_err(), "{head}");
    }
}

/// Whoever may write the share can put anything in the place of a file: nobody reads it to its end, or waits for one.
#[test]
fn a_huge_file_or_a_pipe_in_a_register_is_refused() {
    let spoil = |what: &str, path: &Path| match what {
        "huge" => fs::File::create(path).unwrap().set_len(64 << 30).unwrap(),
        _ => assert!(std::process::Command::new("mkfifo").arg(path).status().unwrap().success()),
    };
    let files = [
        "REGISTER.json",
        "entries/000/000000000003.json",
        "keys/allowed_signers.2",
        "records/Q-1/r0001/statement.json",
        "records/Q-1/r0001/Q-1_r0001.pdf",
        "records/Q-1/r0001/inputs/enquiry.toml",
        "kept/sha256/62/62e125360976725c80dc8ab71945412184dd79cf8e52fd4ec3d72cdab147cd11",
    ];
    for file in files {
        for (what, words) in
            [("huge", &["more than 64 MiB"][..]), ("pipe", &["not a regular file", "a link or a folder"])]
        {
            let story = Story::of(SMALL);
            copy(
                &Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/register-1"),
                &story.root().join("register"),
            );
            assert_eq!(story.run(&["register", "verify", "register"]).code, 0);
            let path = story.root().join("register").join(file);
            fs::remove_file(&path).unwrap();
            spoil(what, &path);
            let told = story.run(&["register", "verify", "register"]);
            let said = format!("{file} {what}: {}{}", told.out, told.err);
            // A list of keys is held against what the log adds up to, and told as another.
            let named = file.starts_with("keys/") || words.iter().any(|word| said.contains(word));
            assert!(matches!(told.code, 1 | 3) && named, "{said}");
            // The log is read by all; what else there is by whoever asks for it.
            let listed = story.run(&["register", "list", "register"]);
            assert!(matches!(listed.code, 0 | 1 | 3), "{file} {what}: {}", listed.err);
        }
    }
}

#[test]
fn a_huge_file_that_is_to_be_proven_or_filed_is_refused() {
    let story = Story::of(SMALL);
    copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/register-1"), &story.root().join("register"));
    fs::File::create(story.root().join("huge.pdf")).unwrap().set_len(64 << 30).unwrap();
    let commands =
        [&["register", "verify", "huge.pdf"][..], &["register", "attach-scan", "register", "Q-1/r0001", "huge.pdf"]];
    for command in commands {
        let told = story.run(command);
        assert!(told.code == 1 && told.err.contains("(file-too-large)"), "{command:?}: {}{}", told.out, told.err);
    }
}
