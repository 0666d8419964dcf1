//! Who may sign what, and that public tools agree.

use lapwise::fault::Code;
use lapwise::record::{Meaning, Role};
use lapwise::register::{Disk, Index, Register, Status};

use super::*;

fn code(result: Result<Added, Fault>) -> &'static str {
    result.map(|added| panic!("{added:?}")).unwrap_err().code.text()
}

#[test]
fn public_tools_accept_every_signature_and_every_record() {
    let shelf = lapwise_in_use();
    let records = records(&shelf.root());
    assert_eq!(records.len(), 7);
    for record in &records {
        let folder = shelf.root().join("records").join(record);
        let (good, said) = tool("sha256sum", &["--strict", "-c", "SHA256SUMS"], &folder, None);
        assert!(good, "{record}: {said}");
        let statement: serde_json::Value =
            serde_json::from_slice(&std::fs::read(folder.join("statement.json")).unwrap()).unwrap();
        let Some(signer) = statement["signer"]["id"].as_str() else { continue };
        let list = format!("../../../{}", statement["keys"].as_str().unwrap());
        let signature = std::fs::read_dir(&folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .find(|name| Path::new(name).extension().is_some_and(|end| end == "sig"))
            .unwrap();
        let arguments = ["-Y", "verify", "-f", &list, "-I", signer, "-n", "lapwise-selection-v1", "-s", &signature];
        let (good, said) = tool("ssh-keygen", &arguments, &folder, Some(&folder.join("statement.json")));
        assert!(good, "{record}: {said}");
        // Another namespace, and another signer, are refused.
        for (at, other) in [(7, "file"), (5, "somebody.else")] {
            let mut arguments = arguments;
            arguments[at] = other;
            assert!(!tool("ssh-keygen", &arguments, &folder, Some(&folder.join("statement.json"))).0, "{other}");
        }
    }
}

fn lapwise_in_use() -> Shelf {
    lived_in()
}

/// Checked against OpenSSH itself: `ssh-keygen -Y sign` of the same bytes with the same key.
#[test]
fn a_signature_has_the_bytes_that_openssh_writes() {
    let shelf = lived_in();
    let folder = shelf.root().join("records/Q-1/r0001");
    let work = tempfile::tempdir().unwrap();
    let private = work.path().join("key");
    std::fs::write(&private, key(1).to_openssh(ssh_key::LineEnding::LF).unwrap().as_bytes()).unwrap();
    let (good, _) = tool("chmod", &["600", "key"], work.path(), None);
    assert!(good);
    std::fs::copy(folder.join("statement.json"), work.path().join("statement.json")).unwrap();
    let (good, said) = tool(
        "ssh-keygen",
        &["-Y", "sign", "-f", "key", "-n", "lapwise-selection-v1", "statement.json"],
        work.path(),
        None,
    );
    assert!(good, "{said}");
    let theirs = std::fs::read_to_string(work.path().join("statement.json.sig")).unwrap();
    let ours = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .find(|p| p.extension().is_some_and(|e| e == "sig"));
    assert_eq!(std::fs::read_to_string(ours.unwrap()).unwrap(), theirs);
}

#[test]
fn a_short_script_without_this_program_verifies_too() {
    let shelf = lived_in();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/verify.py");
    let run = |root: &Path| tool("python3", &[script.to_str().unwrap(), root.to_str().unwrap()], root, None);
    let (good, said) = run(&shelf.root());
    assert!(good && said.contains("7 records"), "{said}");
    let pdf = shelf.root().join("records/Q-2/r0001/Q-2_r0001.pdf");
    overwrite(&pdf, b"%PDF another\n");
    let (good, said) = run(&shelf.root());
    assert!(!good && said.contains("Q-2/r0001"), "{said}");
}

#[test]
fn roles_reasons_and_revisions_are_held() {
    let shelf = Shelf::new();
    let register = &shelf.register;
    let sign =
        |who, meaning, reason: &str, revises, n| sign_by(register, &draft("Q-7"), who, meaning, reason, revises, n);
    // Roles.
    assert_eq!(code(sign(AUTHOR, Meaning::Approved, "", None, 2)), "role-refused");
    assert_eq!(code(sign(AUTHOR, Meaning::Reviewed, "", None, 2)), "role-refused");
    assert_eq!(code(sign(("m.sand", 9), Meaning::Authored, "", None, 2)), "key-mismatch");
    assert_eq!(code(sign(("nobody", 1), Meaning::Authored, "", None, 2)), "signer-unknown");
    sign(AUTHOR, Meaning::Authored, "", None, 3).unwrap();
    // Revisions.
    assert_eq!(code(sign(AUTHOR, Meaning::Authored, "", None, 4)), "revision-needed");
    assert_eq!(code(sign(AUTHOR, Meaning::Authored, "", Some("Q-7/r0002"), 4)), "revision-taken");
    assert_eq!(
        code(sign_by(register, &draft("Q-8"), AUTHOR, Meaning::Authored, "", Some("Q-7/r0001"), 4)),
        "record-unknown"
    );
    // One signature of a meaning, and two persons.
    assert_eq!(code(shelf.countersign("Q-7/r0001", AUTHOR, Meaning::Authored, "")), "signed-already");
    shelf.countersign("Q-7/r0001", REVIEWER, Meaning::Reviewed, "").unwrap();
    sign_by(register, &draft("Q-9"), APPROVER, Meaning::Authored, "", None, 5).unwrap();
    assert_eq!(code(shelf.countersign("Q-9/r0001", APPROVER, Meaning::Approved, "")), "separation-refused");
    // A later revision closes the one before; a withdrawal closes it too.
    sign(AUTHOR, Meaning::Authored, "a new report", Some("Q-7/r0001"), 6).unwrap();
    assert_eq!(code(shelf.countersign("Q-7/r0001", APPROVER, Meaning::Approved, "")), "record-closed");
    assert_eq!(code(shelf.countersign("Q-7/r0002", APPROVER, Meaning::Withdrawn, " ")), "reason-missing");
    shelf.countersign("Q-7/r0002", APPROVER, Meaning::Withdrawn, "cancelled").unwrap();
    assert_eq!(code(shelf.countersign("Q-7/r0002", APPROVER, Meaning::Approved, "")), "record-closed");
    assert_eq!(code(shelf.countersign("Q-77/r0001", APPROVER, Meaning::Approved, "")), "record-unknown");
    // A withdrawal withdraws something.
    assert_eq!(code(sign_by(register, &draft("Q-8"), APPROVER, Meaning::Withdrawn, "no", None, 7)), "role-refused");
    let report = shelf.verify();
    assert!(report.flaws.is_empty(), "{:?}", report.flaws);
}

/// A scan stands beside what is signed under no name that is another file's, and under none that a list cannot hold.
#[test]
fn a_scan_has_a_name_of_its_own() {
    let shelf = lived_in();
    for name in ["statement.json", "SHA256SUMS", "Q-1_r0002.2.pdf", "a\nb.pdf", "a/b.pdf", "a\\b.pdf", ""] {
        let filed = shelf.register.attach_scan(&"Q-1/r0002".parse().unwrap(), name, b"a scan", &time(600));
        assert_eq!(code(filed), "name-unusable", "{name:?}");
    }
    shelf.register.attach_scan(&"Q-1/r0002".parse().unwrap(), "zurück 2.pdf", b"a scan", &time(601)).unwrap();
    assert!(shelf.verify().flaws.is_empty());
}

/// A client whose memory of the head is spoilt says so; it does not take the log's word for it.
#[test]
fn a_spoilt_memory_is_no_empty_one() {
    let shelf = lived_in();
    let memory = shelf.folder.path().join("state");
    let client = || Register::open(&shelf.root(), Disk::default()).unwrap().seen_by(&memory);
    client().log().unwrap();
    let file = std::fs::read_dir(&memory).unwrap().next().unwrap().unwrap().path();
    let whole = std::fs::read(&file).unwrap();
    for spoilt in [&b""[..], &whole[..whole.len() / 2]] {
        std::fs::write(&file, spoilt).unwrap();
        assert_eq!(client().log().map(|_| ()).unwrap_err().code.text(), "file-unreadable");
        assert!(client().verify(&Scope::All).is_err());
        assert_eq!(std::fs::read(&file).unwrap(), spoilt, "it was overwritten");
    }
    // An older head, as of a process that was slower, does not take the place of a newer one.
    std::fs::write(&file, &whole).unwrap();
    shelf.sign("Q-4", None, 602).unwrap();
    let ahead = client();
    ahead.log().unwrap();
    assert_ne!(std::fs::read(&file).unwrap(), whole);
}

#[test]
fn what_is_open_or_unsuitable_is_approved_with_a_reason_only() {
    let shelf = Shelf::new();
    // Where one person may do both, approving is one step.
    let alone = Register::create(&shelf.folder.path().join("alone"), true, &time(0), Disk::default()).unwrap();
    alone.add_key(APPROVER.0, "Kari Holm", Role::Approver, &public(APPROVER.1), &time(1)).unwrap();
    for (verdict, hazards) in [("unsuitable", 0), ("unproven", 2)] {
        let enquiry = format!("Q-{verdict}");
        let mut grave = draft(&enquiry);
        grave.selection.verdict = verdict.to_owned();
        grave.selection.open_hazards = hazards;
        let sign = |register, reason: &str, n| sign_by(register, &grave, APPROVER, Meaning::Approved, reason, None, n);
        assert_eq!(code(sign(&alone, "", 3)), "reason-missing");
        assert_eq!(code(sign(&shelf.register, "tested apart", 3)), "separation-refused");
        let mut page = String::new();
        let (at, approver) = (time(4), key(3));
        let signing = Signing {
            signer: "k.holm",
            meaning: Meaning::Approved,
            reason: "tested apart, report 12",
            time: &at,
            key: &approver,
        };
        alone
            .sign(&grave, None, &signing, |revision| {
                page.clone_from(&revision.statement.reason);
                Ok(b"%PDF\n".to_vec())
            })
            .unwrap();
        assert_eq!(page, "tested apart, report 12", "the page is rendered with the reason");
        // Authored is no release: it needs none.
        sign_by(
            &shelf.register,
            &Draft { enquiry: format!("{enquiry}-a"), ..grave.clone() },
            AUTHOR,
            Meaning::Authored,
            "",
            None,
            5,
        )
        .unwrap();
        let named = format!("{enquiry}-a/r0001");
        assert_eq!(code(shelf.countersign(&named, APPROVER, Meaning::Approved, "")), "reason-missing");
        shelf.countersign(&named, APPROVER, Meaning::Approved, "tested apart").unwrap();
    }
}

#[test]
fn one_person_may_do_both_where_the_policy_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let register = Register::create(&folder.path().join("r"), true, &time(0), Disk::default()).unwrap();
    register.add_key("k.holm", "K", Role::Approver, &public(3), &time(1)).unwrap();
    sign_by(&register, &draft("Q-1"), APPROVER, Meaning::Authored, "", None, 2).unwrap();
    let (at, approver) = (time(3), key(3));
    let signing = Signing { signer: "k.holm", meaning: Meaning::Approved, reason: "", time: &at, key: &approver };
    register.countersign(&"Q-1/r0001".parse().unwrap(), &signing, |_| Ok(b"%PDF\n".to_vec())).unwrap();
}

#[test]
fn a_revoked_key_keeps_what_it_signed_and_signs_no_more() {
    let shelf = Shelf::new();
    shelf.sign("Q-1", None, 2).unwrap();
    shelf.register.revoke_key("m.sand", None, "left", &time(3)).unwrap();
    assert_eq!(code(shelf.sign("Q-2", None, 4)), "signer-unknown");
    assert!(shelf.verify().flaws.is_empty());
    assert_eq!(shelf.register.revoke_key("m.sand", None, "", &time(5)).unwrap_err().code, Code::SignerUnknown);
    // A new key of the same signer signs again; one key belongs to one signer.
    assert_eq!(code(shelf.register.add_key("m.sand", "M", Role::Author, &public(3), &time(6))), "signer-exists");
    shelf.register.add_key("m.sand", "M", Role::Author, &public(11), &time(7)).unwrap();
    assert_eq!(code(shelf.sign("Q-2", None, 8)), "key-mismatch");
    sign_by(&shelf.register, &draft("Q-2"), ("m.sand", 11), Meaning::Authored, "", None, 9).unwrap();
    assert!(shelf.verify().flaws.is_empty());
}

#[test]
fn the_list_says_how_each_selection_stands() {
    let shelf = lived_in();
    let cache = shelf.folder.path().join("index");
    let of = |index: &Index| -> Vec<(String, Status, Option<String>)> {
        index.lines.iter().map(|l| (l.record.clone(), l.status, l.superseded_by.clone())).collect()
    };
    let expected = [
        ("Q-1/r0001", Status::Superseded, Some("Q-1/r0002")),
        ("Q-2/r0001", Status::Open, None),
        ("Q-1/r0002", Status::Open, None),
        ("Q-3/r0001", Status::Withdrawn, None),
    ]
    .map(|(r, s, by)| (r.to_owned(), s, by.map(str::to_owned)));
    let first = Index::read(&shelf.register, Some(&cache)).unwrap();
    assert_eq!(of(&first), expected);
    // From the cache, then after the log has grown, then with a cache that is rubbish.
    assert_eq!(of(&Index::read(&shelf.register, Some(&cache)).unwrap()), expected);
    shelf.countersign("Q-2/r0001", APPROVER, Meaning::Approved, "").unwrap();
    assert_eq!(Index::read(&shelf.register, Some(&cache)).unwrap().lines[1].status, Status::Approved);
    std::fs::write(&cache, b"rubbish").unwrap();
    assert_eq!(Index::read(&shelf.register, Some(&cache)).unwrap().lines[1].status, Status::Approved);
}

#[test]
fn a_clock_that_runs_wild_is_told_and_moves_nothing() {
    let shelf = Shelf::new();
    let at = |time: &str, enquiry: &str| {
        let author = key(1);
        let signing = Signing { signer: "m.sand", meaning: Meaning::Authored, reason: "", time, key: &author };
        shelf.register.sign(&draft(enquiry), None, &signing, |_| Ok(b"%PDF\n".to_vec())).unwrap()
    };
    assert!(at("2026-11-26T00:00:00+00:00", "Q-1").warnings.is_empty());
    assert!(at("2026-11-25T00:00:00+00:00", "Q-2").warnings[0].contains("order is that of the log"));
    assert!(at("2038-01-20T00:00:00+00:00", "Q-3").warnings.is_empty());
    assert_eq!(at("2026-11-27T00:00:00+00:00", "Q-4").warnings.len(), 1);
    let report = shelf.verify();
    assert!(report.flaws.is_empty(), "{:?}", report.flaws);
    assert_eq!(report.clock.len(), 2);
    assert_eq!(records(&shelf.root()), ["Q-1/r0001", "Q-2/r0001", "Q-3/r0001", "Q-4/r0001"]);
}

#[test]
fn a_disk_without_hard_links_is_refused_at_the_start() {
    let folder = tempfile::tempdir().unwrap();
    let disk = Disk::watched(|step| match step {
        lapwise::register::Step::Link(..) => lapwise::register::Fate::Fails(std::io::ErrorKind::Unsupported.into()),
        _ => lapwise::register::Fate::Done,
    });
    let refused = Register::create(&folder.path().join("r"), false, &time(0), disk).err().unwrap();
    assert_eq!(refused.code.text(), "links-refused");
}

#[test]
fn a_register_is_made_in_a_folder_of_its_own() {
    let shelf = Shelf::new();
    let again = |path: &Path| Register::create(path, false, &time(0), Disk::default()).err().unwrap().code.text();
    assert_eq!(again(&shelf.root()), "register-exists");
    assert_eq!(again(shelf.folder.path()), "register-exists");
    let missing = Register::open(shelf.folder.path(), Disk::default()).err().unwrap();
    assert_eq!(missing.code.text(), "register-missing");
}

#[test]
fn another_writer_in_between_is_met_with_the_next_number_or_a_plain_refusal() {
    // While the page is rendered, someone else signs: a different record, then the same one.
    let shelf = Shelf::new();
    let other = Register::open(&shelf.root(), Disk::default()).unwrap();
    let meanwhile = |enquiry: &'static str| {
        let (at, author) = (time(9), key(1));
        let signing = Signing { signer: "m.sand", meaning: Meaning::Authored, reason: "", time: &at, key: &author };
        shelf.register.sign(&draft("Q-1"), None, &signing, |_| {
            sign_by(&other, &draft(enquiry), AUTHOR, Meaning::Authored, "", None, 8)?;
            Ok(b"%PDF\n".to_vec())
        })
    };
    assert_eq!(meanwhile("Q-2").unwrap().entry, 5);
    let shelf2 = Shelf::new();
    let other2 = Register::open(&shelf2.root(), Disk::default()).unwrap();
    let (at, author) = (time(9), key(1));
    let signing = Signing { signer: "m.sand", meaning: Meaning::Authored, reason: "", time: &at, key: &author };
    let lost = shelf2.register.sign(&draft("Q-1"), None, &signing, |_| {
        sign_by(&other2, &draft("Q-1"), AUTHOR, Meaning::Authored, "", None, 8)?;
        Ok(b"%PDF\n".to_vec())
    });
    assert_eq!(code(lost), "revision-needed");
    assert!(shelf.verify().flaws.is_empty() && shelf2.verify().flaws.is_empty());
}
