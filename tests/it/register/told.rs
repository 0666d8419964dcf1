//! The register at the command line: from a new folder to a bag, in the words of the manual.

use serde_json::Value;

use super::*;
use crate::story::{SMALL, Story};

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"))
}

/// A story with a register and two signers, whose keys OpenSSH made: one with a passphrase.
pub(crate) fn begun() -> Story {
    let story = Story::of(SMALL);
    for (who, passphrase) in [("m.sand", ""), ("k.holm", "open sesame")] {
        let arguments = ["-q", "-t", "ed25519", "-N", passphrase, "-C", who, "-f", who];
        let (good, said) = tool("ssh-keygen", &arguments, story.root(), None);
        assert!(good, "{said}");
    }
    assert_eq!(story.lapwise(&["register", "create", "register"]).code, 0);
    for (who, name, role) in [("m.sand", "Mira Sand", "author"), ("k.holm", "Kari Holm", "approver")] {
        let public = format!("{who}.pub");
        let told = story.lapwise(&[
            "register", "key", "add", "register", "--signer", who, "--name", name, "--role", role, "--key", &public,
        ]);
        assert_eq!(told.code, 0, "{}", told.err);
    }
    story
}

fn sign(story: &Story, more: &[&str]) -> crate::story::Told {
    crate::page::typst();
    let mut all = vec!["register", "sign", "register", "S-1", "--signer", "m.sand", "--key", "m.sand"];
    all.extend(more);
    story.lapwise(&all)
}

#[test]
fn a_selection_is_signed_approved_listed_shown_and_proven() {
    let story = begun();
    let tape =
        json(&story.lapwise(&["rank", "S-1", "--json"]).out)["candidates"][0]["tape"].as_str().unwrap().to_owned();
    let told = sign(&story, &["--tape", &tape, "--meaning", "authored", "--json"]);
    assert_eq!(told.code, 0, "{}{}", told.out, told.err);
    assert_eq!(json(&told.out)["record"], "S-1/r0001");
    // The passphrase comes through a descriptor; without one and without a terminal it is asked for in vain.
    let approve = [
        "register",
        "countersign",
        "register",
        "S-1/r0001",
        "--signer",
        "k.holm",
        "--meaning",
        "approved",
        "--key",
        "k.holm",
        "--reason",
        "tests ordered",
    ];
    let told = story.lapwise(&approve);
    assert!(told.code == 1 && told.err.contains("passphrase-missing"), "{}", told.err);
    for (passphrase, code, word) in [("wrong", 1, "passphrase-wrong"), ("open sesame", 0, "approved by k.holm")] {
        let program = env!("CARGO_BIN_EXE_lapwise");
        let script = format!("exec 3<<<'{passphrase}'; exec \"$0\" \"$@\" --passphrase-fd 3");
        let output = Command::new("bash")
            .args(["-c", &script, program, "--data", "data"])
            .args(approve)
            .current_dir(story.root())
            .env("LAPWISE_STATE", story.root().join("state"))
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned();
        assert!(output.status.code() == Some(code) && said.contains(word), "{said}");
    }
    let listed = json(&story.lapwise(&["register", "list", "register", "--json"]).out);
    let line = &listed["records"][0];
    assert_eq!(
        (&line["record"], &line["status"], &line["tape"]),
        (&"S-1/r0001".into(), &"approved".into(), &tape.as_str().into())
    );
    assert!(line["signed"].is_string() && line["customer"].is_string());
    assert_eq!(
        json(&story.lapwise(&["register", "list", "register", "--open", "--json"]).out)["records"],
        Value::Array(vec![])
    );
    let shown = story.lapwise(&["register", "show", "register", "S-1/r0001"]);
    for word in ["Mira Sand", "Kari Holm", "tests ordered", "approved", &tape] {
        assert!(shown.out.contains(word), "{word}: {}", shown.out);
    }
    let whole = json(&story.lapwise(&["register", "verify", "register", "--json"]).out);
    assert_eq!((&whole["verified"], &whole["records"], &whole["signatures"]), (&true.into(), &2.into(), &2.into()));
    let one = story.lapwise(&["register", "verify", "register", "S-1/r0001"]);
    assert_eq!(one.code, 0, "{}", one.err);
    for word in ["Verified: ", "the decision that was signed", "approved by Kari Holm", "S-1/r0001, approved", &tape] {
        assert!(one.out.contains(word), "{word}: {}", one.out);
    }
    // A head that somebody wrote down is extended, or something was cut or rewritten.
    let root = whole["head"]["root"].as_str().unwrap();
    let other = root.replace(|digit: char| digit.is_ascii_digit(), "f");
    for (held, code, word) in [
        (format!("4:{root}"), 0, "Verified"),
        (format!("4:{other}"), 1, "history-rewritten"),
        (format!("5:{root}"), 1, "tail-cut"),
        ("4".to_owned(), 2, "a colon"),
    ] {
        let told = story.lapwise(&["register", "verify", "register", "--head", &held]);
        assert!(told.code == code && (told.out + &told.err).contains(word), "{held} {word}");
    }
    let pdf = "register/records/S-1/r0001/S-1_r0001.pdf";
    let proven = json(&story.lapwise(&["register", "verify", pdf, "--json"]).out);
    assert_eq!((&proven["verified"], &proven["record"]), (&true.into(), &"S-1/r0001".into()));
    // Away from its register the file still proves its decision, and says what it cannot prove.
    std::fs::copy(story.root().join(pdf), story.root().join("copy.pdf")).unwrap();
    let alone = json(&story.lapwise(&["register", "verify", "copy.pdf", "--json"]).out);
    assert_eq!((&alone["verified"], &alone["record"]), (&true.into(), &Value::Null));
    assert!(alone["unchecked"].to_string().contains("who signed them"), "{alone}");
    assert_eq!((&alone["against"], &proven["against"]), (&"attachments".into(), &"register".into()));
    let homeless = story.lapwise(&["register", "verify", "copy.pdf", "--head", &format!("4:{root}")]);
    assert!(homeless.code == 1 && homeless.err.contains("--register"), "{}", homeless.err);
    // The page shows what the statement says.
    let (good, text) = tool("pdftotext", &["-layout", pdf, "-"], story.root(), None);
    assert!(good);
    for word in ["S-1/r0001", "Mira Sand", "authored", "2 entries, root"] {
        assert!(text.contains(word), "the page lacks {word}");
    }
    for page in [pdf, "register/records/S-1/r0001.1/S-1_r0001.1.pdf"] {
        crate::page::assert_valid(&std::fs::read(story.root().join(page)).unwrap(), page);
    }
    let (good, said) =
        tool("python3", &[concat!(env!("CARGO_MANIFEST_DIR"), "/tests/verify.py"), "register"], story.root(), None);
    assert!(good, "{said}");
    // A bag that checks itself.
    let told = story.lapwise(&["register", "export", "register", "S-1/r0001", "-o", "bag"]);
    assert_eq!(told.code, 0, "{}", told.err);
    for manifest in ["manifest-sha256.txt", "tagmanifest-sha256.txt"] {
        let (good, said) = tool("sha256sum", &["--strict", "-c", manifest], &story.root().join("bag"), None);
        assert!(good, "{said}");
    }
    let bagged = json(&story.lapwise(&["register", "verify", "bag/data", "--json"]).out);
    assert_eq!(bagged["verified"], true, "{bagged}");
}

#[test]
fn an_altered_pdf_is_told_in_plain_words() {
    let story = begun();
    let told = sign(&story, &["--tape", "S-1", "--meaning", "authored"]);
    assert!(told.code == 0 || told.err.contains("name-unknown"), "{}", told.err);
    let tape =
        json(&story.lapwise(&["rank", "S-1", "--json"]).out)["candidates"][0]["tape"].as_str().unwrap().to_owned();
    if told.code != 0 {
        assert_eq!(sign(&story, &["--tape", &tape, "--meaning", "authored"]).code, 0);
    }
    let pdf = story.root().join("register/records/S-1/r0001/S-1_r0001.pdf");
    let mut bytes = std::fs::read(&pdf).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 4;
    overwrite(&pdf, &bytes);
    for what in ["register", "register/records/S-1/r0001/S-1_r0001.pdf"] {
        let told = story.lapwise(&["register", "verify", what]);
        assert_eq!(told.code, 1);
        for word in ["S-1/r0001", "pdf-altered", "NOT VERIFIED"] {
            assert!(told.out.contains(word), "{word}: {}", told.out);
        }
    }
}

#[test]
fn what_is_wrong_at_the_command_line_is_said() {
    let story = begun();
    for (arguments, code, word) in [
        (vec!["register", "verify", "nowhere"], 1, "register-missing"),
        (vec!["register", "create", "register"], 1, "register-exists"),
        (vec!["register", "show", "register", "S-9/r0001"], 1, "record-unknown"),
        (vec!["register", "show", "register", "S-9"], 2, "such as `Q-0412/r0001`"),
        (vec!["register", "key", "revoke", "register", "--signer", "m.sond"], 1, "did you mean `m.sand`?"),
        (
            vec![
                "register", "key", "add", "register", "--signer", "x", "--name", "X", "--role", "author", "--key",
                "m.sand",
            ],
            1,
            "key-unreadable",
        ),
    ] {
        let told = story.lapwise(&arguments);
        assert!(told.code == code && told.err.contains(word), "{arguments:?}: {} {}", told.code, told.err);
    }
}
