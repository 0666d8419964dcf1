//! Every way to tamper that the table names, found with its code and its record.

use std::collections::BTreeMap;
use std::fs;

use lapwise::record::Meaning;
use lapwise::register::Flaw;

use super::*;
use crate::story::copy;

fn signature_of(folder: &Path) -> PathBuf {
    let mut paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    paths.find(|path| path.extension().is_some_and(|e| e == "sig")).unwrap()
}

/// The codes found, with the records they name.
fn found(root: &Path) -> Vec<(&'static str, Option<String>)> {
    match Register::open(root, Disk::default()).and_then(|register| register.verify(&Scope::All)) {
        Ok(report) => report.flaws.iter().map(|f: &Flaw| (f.fault.code.text(), f.record.clone())).collect(),
        Err(fault) => vec![(fault.code.text(), None)],
    }
}

fn assert_found(root: &Path, code: &str, record: Option<&str>, what: &str) {
    let found = found(root);
    let wanted = |(c, r): &(&str, Option<String>)| *c == code && (record.is_none() || r.as_deref() == record);
    assert!(found.iter().any(wanted), "{what}: wanted {code} of {record:?}, found {found:?}");
}

fn entry(root: &Path, seq: u64) -> PathBuf {
    root.join(format!("entries/000/{seq:012}.json"))
}

#[test]
fn files_of_a_record_that_are_not_as_signed() {
    let shelf = lived_in();
    let (root, spoiled) = (shelf.root(), shelf.folder.path().join("spoiled"));
    let with = |change: &dyn Fn(&Path), code: &str, record: &str, what: &str| {
        let _ = fs::remove_dir_all(&spoiled);
        copy(&root, &spoiled);
        change(&spoiled);
        assert_found(&spoiled, code, Some(record), what);
    };
    let file = |spoiled: &Path, name: &str| spoiled.join("records").join(name);
    let pdf = "Q-2/r0001/Q-2_r0001.pdf";
    for (name, code, record) in [
        (pdf, "pdf-altered", "Q-2/r0001"),
        ("Q-2/r0001/statement.json", "statement-altered", "Q-2/r0001"),
        ("Q-2/r0001/SHA256SUMS", "checksums-altered", "Q-2/r0001"),
        ("Q-2/r0001/inputs/enquiry.toml", "input-altered", "Q-2/r0001"),
        ("Q-1/r0002.1/scan.pdf", "scan-altered", "Q-1/r0002.1"),
        ("Q-1/r0001.1/Q-1_r0001.1.pdf", "pdf-altered", "Q-1/r0001.1"),
    ] {
        let whole = fs::read(file(&root, name)).unwrap();
        with(&|s| overwrite(&file(s, name), &whole[..whole.len() - 1]), code, record, "truncated");
        with(&|s| overwrite(&file(s, name), b""), code, record, "empty");
        with(&|s| overwrite(&file(s, name), &[&whole[..], b" "].concat()), code, record, "longer");
        with(&|s| fs::remove_file(file(s, name)).unwrap(), "signed-file-missing", record, "gone");
        #[cfg(unix)]
        with(
            &|s| {
                fs::rename(file(s, name), s.join("../elsewhere")).unwrap();
                std::os::unix::fs::symlink(s.join("../elsewhere"), file(s, name)).unwrap();
            },
            "not-a-file",
            record,
            "a link in its place",
        );
    }
    // Another signed PDF; an older signed statement put back.
    let other = fs::read(file(&root, "Q-1/r0001/Q-1_r0001.pdf")).unwrap();
    with(&|s| overwrite(&file(s, pdf), &other), "pdf-swapped", "Q-2/r0001", "the PDF of another record");
    let old = fs::read(file(&root, "Q-1/r0001/statement.json")).unwrap();
    with(
        &|s| overwrite(&file(s, "Q-1/r0002/statement.json"), &old),
        "statement-swapped",
        "Q-1/r0002",
        "an older signed statement",
    );
    with(&|s| overwrite(&file(s, "Q-2/r0001/extra.txt"), b"x"), "file-added", "Q-2/r0001", "a file more");
    with(&|s| fs::remove_dir_all(file(s, "Q-2/r0001")).unwrap(), "record-missing", "Q-2/r0001", "no folder");
    with(&|s| overwrite(&file(s, "Q-2/r0001/inputs/extra"), b"x"), "file-added", "Q-2/r0001", "an input more");
}

#[test]
fn each_byte_of_a_small_record() {
    let shelf = Shelf::new();
    shelf.sign("Q-1", None, 5).unwrap();
    let record = shelf.root().join("records/Q-1/r0001");
    for path in
        [record.join("statement.json"), signature_of(&record), record.join("Q-1_r0001.pdf"), entry(&shelf.root(), 4)]
    {
        let whole = fs::read(&path).unwrap();
        for at in 0..whole.len() {
            let mut bytes = whole.clone();
            bytes[at] ^= 1;
            overwrite(&path, &bytes);
            let found = found(&shelf.root());
            assert!(!found.is_empty(), "byte {at} of {}", path.display());
        }
        overwrite(&path, &whole);
    }
    assert_eq!(found(&shelf.root()), []);
}

#[test]
fn signatures_that_do_not_count() {
    let shelf = lived_in();
    let record = shelf.root().join("records/Q-2/r0001");
    let path = signature_of(&record);
    let text = fs::read(record.join("statement.json")).unwrap();
    let by = |seed: u8, namespace: &str| {
        let signature = key(seed).sign(namespace, ssh_key::HashAlg::Sha512, &text).unwrap();
        signature.to_pem(ssh_key::LineEnding::LF).unwrap()
    };
    for (signature, code) in [
        (by(9, "lapwise-selection-v1"), "signature-key"),
        (by(1, "file"), "signature-namespace"),
        (by(1, "lapwise-selection-v1").replace("AA", "BA"), "signature-altered"),
        ("rubbish".to_owned(), "signature-altered"),
    ] {
        overwrite(&path, signature.as_bytes());
        assert_found(&shelf.root(), code, Some("Q-2/r0001"), code);
    }
    // A key that was revoked before: the writer's own rules are stepped around by signing beside them.
    let shelf = Shelf::new();
    shelf.sign("Q-1", None, 2).unwrap();
    shelf.register.revoke_key("m.sand", None, "left", &time(3)).unwrap();
    sign_by(&shelf.register, &draft("Q-2"), APPROVER, Meaning::Authored, "", None, 4).unwrap();
    let record = shelf.root().join("records/Q-2/r0001");
    // The record of someone else is made out as that of the signer who left.
    let statement = String::from_utf8(fs::read(record.join("statement.json")).unwrap()).unwrap();
    let forged = statement.replace("\"id\": \"k.holm\"", "\"id\": \"m.sand\"");
    let signature = key(1).sign("lapwise-selection-v1", ssh_key::HashAlg::Sha512, forged.as_bytes()).unwrap();
    overwrite(&record.join("statement.json"), forged.as_bytes());
    overwrite(&signature_of(&record), signature.to_pem(ssh_key::LineEnding::LF).unwrap().as_bytes());
    relog(&shelf.root(), 6, &record);
    assert_found(&shelf.root(), "signature-key-not-in-force", Some("Q-2/r0001"), "a revoked key");
}

/// Rewrites an entry so that it names the files as they are now: what a writer of the share could do.
fn relog(root: &Path, seq: u64, record: &Path) {
    let path = entry(root, seq);
    let mut entry: serde_json::Value = serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
    let change = &mut entry["record"];
    for (slot, file) in [("statement", "statement.json".to_owned()), ("checksums", "SHA256SUMS".to_owned())] {
        let bytes = fs::read(record.join(&file)).unwrap();
        change[slot]["sha256"] = lapwise::record::sha256(&bytes).into();
        change[slot]["size"] = bytes.len().into();
    }
    let signature = fs::read(signature_of(record)).unwrap();
    change["signatures"][0]["sha256"] = lapwise::record::sha256(&signature).into();
    change["signatures"][0]["size"] = signature.len().into();
    entry["digest"] = "".into();
    let digest = lapwise::record::sha256(lapwise::record::canonical(&entry).unwrap().as_bytes());
    entry["digest"] = digest.into();
    overwrite(&path, lapwise::record::canonical(&entry).unwrap().as_bytes());
}

#[test]
fn a_record_of_another_register_does_not_count() {
    let (one, other) = (Shelf::new(), Shelf::new());
    one.sign("Q-1", None, 5).unwrap();
    other.sign("Q-1", None, 5).unwrap();
    let folder = one.root().join("records/Q-1/r0001");
    fs::remove_dir_all(&folder).unwrap();
    copy(&other.root().join("records/Q-1/r0001"), &folder);
    assert_found(&one.root(), "statement-altered", Some("Q-1/r0001"), "the log still names its own");
    relog(&one.root(), 4, &folder);
    assert_found(&one.root(), "other-register", Some("Q-1/r0001"), "with the log adjusted");
}

#[test]
fn entries_removed_swapped_and_doubled() {
    let shelf = lived_in();
    let (root, spoiled) = (shelf.root(), shelf.folder.path().join("spoiled"));
    let with = |change: &dyn Fn(&Path), code: &str, record: Option<&str>, what: &str| {
        let _ = fs::remove_dir_all(&spoiled);
        copy(&root, &spoiled);
        change(&spoiled);
        assert_found(&spoiled, code, record, what);
    };
    let read = |seq| fs::read(entry(&root, seq)).unwrap();
    // Entry 5 is Q-2/r0001.
    with(&|s| fs::remove_file(entry(s, 5)).unwrap(), "entry-missing", None, "one from the middle");
    with(&|s| fs::remove_file(entry(s, 5)).unwrap(), "record-unlogged", Some("Q-2/r0001"), "its record is named");
    let swap = |s: &Path| {
        overwrite(&entry(s, 4), &read(5));
        overwrite(&entry(s, 5), &read(4));
    };
    with(&swap, "entry-order", Some("Q-2/r0001"), "two swapped");
    with(&|s| overwrite(&entry(s, 6), &read(5)), "entry-doubled", Some("Q-2/r0001"), "one doubled over another");
    with(&|s| overwrite(&entry(s, 11), &read(5)), "entry-doubled", Some("Q-2/r0001"), "one doubled at the end");
    with(&|s| overwrite(&entry(s, 7), b""), "entry-altered", None, "one emptied");
    with(&|s| overwrite(&s.join("entries/000/notes.txt"), b"x"), "file-added", None, "a foreign file in the log");
    // The last one: a later head in a statement tells, or a client's memory; nobody else can.
    let cut = |s: &Path| {
        for seq in 9..=10 {
            fs::remove_file(entry(s, seq)).unwrap();
        }
    };
    with(&cut, "tail-cut", Some("Q-3/r0001.1"), "a statement that saw more");
    let memory = shelf.folder.path().join("memory");
    Register::open(&root, Disk::default()).unwrap().seen_by(&memory).verify(&Scope::All).unwrap();
    let _ = fs::remove_dir_all(&spoiled);
    copy(&root, &spoiled);
    fs::remove_file(entry(&spoiled, 10)).unwrap();
    assert_eq!(found(&spoiled), [], "the newest entry alone: seen by nobody without a later head");
    let client = Register::open(&spoiled, Disk::default()).unwrap().seen_by(&memory);
    let report = client.verify(&Scope::All).unwrap();
    assert_eq!(report.flaws[0].fault.code.text(), "tail-cut");
    assert_eq!(client.log().unwrap_err().code.text(), "tail-cut", "nothing is signed on a log that was cut");
}

#[test]
fn history_written_anew_is_seen_by_whoever_holds_a_head() {
    let shelf = Shelf::new();
    let memory = shelf.folder.path().join("memory");
    let before = shelf.folder.path().join("before");
    copy(&shelf.root(), &before);
    shelf.sign("Q-1", None, 5).unwrap();
    shelf.sign("Q-2", None, 6).unwrap();
    let open = |root: &Path| Register::open(root, Disk::default()).unwrap();
    assert!(open(&shelf.root()).seen_by(&memory).verify(&Scope::All).unwrap().flaws.is_empty());
    // From the same start another history, as long and valid by itself.
    let register = open(&before);
    sign_by(&register, &draft("Q-8"), AUTHOR, Meaning::Authored, "", None, 5).unwrap();
    sign_by(&register, &draft("Q-9"), AUTHOR, Meaning::Authored, "", None, 6).unwrap();
    assert_eq!(found(&before), []);
    let report = open(&before).seen_by(&memory).verify(&Scope::All).unwrap();
    assert_eq!(report.flaws[0].fault.code.text(), "history-rewritten");
}

#[test]
fn what_nobody_logged_and_what_was_shared() {
    let shelf = lived_in();
    let root = shelf.root();
    let clean = shelf.folder.path().join("clean");
    copy(&root, &clean);
    let again = || {
        let _ = fs::remove_dir_all(&root);
        copy(&clean, &root);
    };
    // A record that was never logged: a copy of one under another name.
    copy(&root.join("records/Q-2/r0001"), &root.join("records/Q-9/r0001"));
    assert_found(&root, "record-unlogged", Some("Q-9/r0001"), "a copied record");
    again();
    fs::create_dir_all(root.join("records/Q-2/r0002")).unwrap();
    assert_found(&root, "record-unlogged", Some("Q-2/r0002"), "an empty folder");
    again();
    let shared = root.join("kept/sha256");
    let mut files = BTreeMap::new();
    for shelf in fs::read_dir(&shared).unwrap() {
        for file in fs::read_dir(shelf.unwrap().path()).unwrap() {
            let path = file.unwrap().path();
            files.insert(path.clone(), fs::read(&path).unwrap());
        }
    }
    for (path, bytes) in &files {
        overwrite(path, b"another");
        assert_found(&root, "shared-altered", Some("Q-1/r0001"), "a shared input altered");
        fs::remove_file(path).unwrap();
        assert_found(&root, "shared-missing", Some("Q-1/r0001"), "a shared input gone");
        overwrite(path, bytes);
    }
    // Nothing is signed on top of a shared input that is not what its name says.
    overwrite(files.keys().next().unwrap(), b"another");
    assert_eq!(shelf.sign("Q-5", None, 900).unwrap_err().code.text(), "shared-altered");
    again();
    for list in ["allowed_signers.1", "allowed_signers.3"] {
        let path = root.join("keys").join(list);
        let text = fs::read_to_string(&path).unwrap();
        overwrite(&path, text.replace("m.sand", "x.sand").as_bytes());
        assert_found(&root, "keys-altered", None, "a key list edited");
        again();
    }
    overwrite(&root.join("keys/more"), b"x");
    assert_found(&root, "file-added", None, "a foreign file among the keys");
    again();
    overwrite(&root.join("notes.txt"), b"x");
    assert_found(&root, "file-added", None, "a foreign file in the register");
    again();
    for name in ["REGISTER.json", "README.txt"] {
        let text = fs::read_to_string(root.join(name)).unwrap();
        overwrite(&root.join(name), text.replace('e', "E").as_bytes());
        assert_found(&root, "register-altered", None, name);
        again();
    }
    assert_eq!(found(&root), []);
}

/// Single bytes at random over every file but the staging folder; the seed is fixed, so that a failure
/// can be looked at.
#[test]
fn random_bytes_are_never_unnoticed() {
    let shelf = Shelf::new();
    for n in 0..50 {
        shelf.sign(&format!("Q-{n}"), None, 10 + n).unwrap();
    }
    let (unnoticed, files, total) = spoiled(&shelf.root(), 300, |root| !found(root).is_empty());
    assert!(files > 350 && total > 100_000);
    assert!(unnoticed.is_empty(), "{unnoticed:?}");
    assert_eq!(found(&shelf.root()), []);
}

/// What a writer of the share could add behind all that is signed: whole in itself, and against the rules.
#[test]
fn what_the_rules_forbid_is_seen_though_every_byte_fits() {
    let shelf = Shelf::new();
    shelf.sign("Q-1", None, 5).unwrap();
    shelf.countersign("Q-1/r0001", REVIEWER, Meaning::Reviewed, "").unwrap();
    let seq = shelf.verify().head.size;
    let forged = shelf.folder.path().join("forged");
    // The last countersignature, made out otherwise and signed by that key or by none.
    let forge = |change: &dyn Fn(&mut serde_json::Value), seed: Option<u8>| {
        let _ = fs::remove_dir_all(&forged);
        copy(&shelf.root(), &forged);
        let record = forged.join("records/Q-1/r0001.1");
        let read = |path: &Path| serde_json::from_slice::<serde_json::Value>(&fs::read(path).unwrap()).unwrap();
        let mut statement = read(&record.join("statement.json"));
        change(&mut statement);
        let text = lapwise::record::canonical(&statement).unwrap();
        overwrite(&record.join("statement.json"), text.as_bytes());
        let signature = signature_of(&record);
        match seed {
            Some(seed) => {
                let signed = key(seed).sign("lapwise-selection-v1", ssh_key::HashAlg::Sha512, text.as_bytes()).unwrap();
                overwrite(&signature, signed.to_pem(ssh_key::LineEnding::LF).unwrap().as_bytes());
            }
            None => fs::remove_file(&signature).unwrap(),
        }
        let mut names: Vec<String> = fs::read_dir(&record)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name != "SHA256SUMS")
            .collect();
        names.sort_unstable();
        let sum = |name: &String| lapwise::record::sha256(&fs::read(record.join(name)).unwrap());
        let sums: String = names.iter().map(|name| format!("{}  {name}\n", sum(name))).collect();
        overwrite(&record.join("SHA256SUMS"), sums.as_bytes());
        if seed.is_some() {
            relog(&forged, seq, &record);
        } else {
            let mut entry = read(&self::entry(&forged, seq));
            entry["record"]["signatures"] = serde_json::json!([]);
            for (slot, file) in [("statement", "statement.json"), ("checksums", "SHA256SUMS")] {
                let bytes = fs::read(record.join(file)).unwrap();
                entry["record"][slot]["sha256"] = lapwise::record::sha256(&bytes).into();
                entry["record"][slot]["size"] = bytes.len().into();
            }
            entry["digest"] = "".into();
            entry["digest"] = lapwise::record::sha256(lapwise::record::canonical(&entry).unwrap().as_bytes()).into();
            overwrite(&self::entry(&forged, seq), lapwise::record::canonical(&entry).unwrap().as_bytes());
        }
        found(&forged).into_iter().map(|(code, _)| code).collect::<Vec<_>>()
    };
    assert_eq!(forge(&|_| (), Some(2)), [""; 0], "made out as it was");
    assert_eq!(forge(&|s| s["signer"] = serde_json::Value::Null, None), ["statement-altered"], "by nobody");
    let approved = |s: &mut serde_json::Value| s["meaning"] = "approved".into();
    assert_eq!(forge(&approved, Some(2)), ["role-refused"], "a reviewer approves");
    let promoted = |s: &mut serde_json::Value| {
        approved(s);
        s["signer"]["role"] = "approver".into();
    };
    assert_eq!(forge(&promoted, Some(2)), ["statement-altered"], "in a role that the key list does not give");
    let named = |s: &mut serde_json::Value| s["signer"]["name"] = "Kari Holm".into();
    assert_eq!(forge(&named, Some(2)), ["statement-altered"], "in another's name");
    let other = |s: &mut serde_json::Value| s["selection"]["tape"] = "H-999".into();
    assert_eq!(forge(&other, Some(2)), ["statement-swapped"], "another tape");
    assert_eq!(forge(&|s| s["before"] = serde_json::json!([]), Some(2)), ["statement-altered"], "over nothing");
    let withdrawn = |s: &mut serde_json::Value| s["meaning"] = "withdrawn".into();
    assert_eq!(forge(&withdrawn, Some(2)), ["statement-altered"], "a countersignature that withdraws");
    // A program of another hand sees it too.
    forge(&promoted, Some(2));
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/verify.py");
    let (good, said) = tool("python3", &[&script.display().to_string(), "forged"], shelf.folder.path(), None);
    assert!(!good && said.contains("the signer is told otherwise"), "{said}");
}
