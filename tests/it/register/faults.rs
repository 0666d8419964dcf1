//! A disk that fails, a process that dies: the old state or the new, and never a third.

use std::io;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use lapwise::register::{Fate, Step};

use super::*;

/// What happens at the n-th step.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Mishap {
    NoRoom,
    Broken,
    Short,
}

fn failing(at: usize, mishap: Mishap) -> (Disk, Arc<AtomicUsize>) {
    let count = Arc::new(AtomicUsize::new(0));
    let seen = Arc::clone(&count);
    let disk = Disk::watched(move |step| {
        let n = seen.fetch_add(1, Ordering::Relaxed) + 1;
        if n < at || matches!(step, Step::Remove(_)) {
            return Fate::Done;
        }
        match mishap {
            // From here on the disk is full: nothing more is written, and flushes fail too.
            Mishap::NoRoom => Fate::Fails(io::ErrorKind::StorageFull.into()),
            Mishap::Broken if n == at => Fate::Fails(io::Error::other("input/output error")),
            Mishap::Short if n == at => Fate::Short(3),
            _ => Fate::Done,
        }
    });
    (disk, count)
}

/// The state that must be found after an act on a register: before it, or after it.
fn old_or_new(root: &Path, acknowledged: bool, new: &str, what: &str) {
    let report = verify(root);
    assert!(report.flaws.is_empty(), "{what}: {:?}", report.flaws);
    let there = records(root).iter().any(|record| record == new);
    assert!(there || !acknowledged, "{what}: acknowledged and missing");
}

#[test]
fn each_step_fails_in_each_way() {
    for mishap in [Mishap::NoRoom, Mishap::Broken, Mishap::Short] {
        let mut at = 1;
        loop {
            let shelf = lived_in();
            let (disk, count) = failing(at, mishap);
            let register = Register::open(&shelf.root(), disk).unwrap();
            let result = sign_by(&register, &draft("Q-4"), AUTHOR, lapwise::record::Meaning::Authored, "", None, 600);
            let what = format!("{mishap:?} at {at}");
            old_or_new(&shelf.root(), result.is_ok(), "Q-4/r0001", &what);
            if let Err(fault) = &result {
                assert_eq!(fault.code.text(), "write-failed", "{what}: {fault}");
                // With room again the same call succeeds, unless the entry was linked before the failure.
                let again = shelf.sign("Q-4", None, 700);
                let linked = again.as_ref().is_err_and(|fault| fault.code.text() == "revision-needed");
                assert!(again.is_ok() || linked, "{what}: {again:?}");
                old_or_new(&shelf.root(), true, "Q-4/r0001", &what);
            }
            if count.load(Ordering::Relaxed) < at {
                assert!(at > 20, "only {at} steps were counted");
                break;
            }
            at += 1;
        }
    }
}

#[test]
fn a_creation_that_was_cut_short_can_be_repeated() {
    let mut at = 1;
    loop {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("r");
        let (disk, count) = failing(at, Mishap::Broken);
        let result = Register::create(&root, false, &time(0), disk);
        if result.is_err() && !root.join("REGISTER.json").exists() {
            Register::create(&root, false, &time(0), Disk::default()).unwrap();
        }
        assert!(verify(&root).flaws.is_empty(), "at {at}");
        if count.load(Ordering::Relaxed) < at {
            break;
        }
        at += 1;
    }
}

/// A step that kills the process, as `kill -9` does.
pub(crate) fn killed_at(at: usize) -> Disk {
    let count = AtomicUsize::new(0);
    Disk::watched(move |_| {
        if count.fetch_add(1, Ordering::Relaxed) + 1 == at {
            die();
        }
        Fate::Done
    })
}

pub(crate) fn die() -> ! {
    let _ = Command::new("kill").args(["-9", &std::process::id().to_string()]).status();
    loop {
        std::thread::sleep(std::time::Duration::from_secs(1));
    }
}

/// Another process of this test binary, which runs one test that is otherwise ignored.
pub(crate) fn child(test: &str, variables: &[(&str, &str)]) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(["--ignored", "--exact", test, "--nocapture", "--test-threads=1"]);
    command.envs(variables.iter().copied()).stdout(Stdio::piped()).stderr(Stdio::null());
    command
}

#[test]
#[ignore = "run as a child by others"]
fn signs_and_dies() {
    let root = PathBuf::from(std::env::var("LAPWISE_TEST_REGISTER").unwrap());
    let at: usize = std::env::var("LAPWISE_TEST_AT").unwrap().parse().unwrap();
    let register = Register::open(&root, killed_at(at)).unwrap();
    let signed = sign_by(&register, &draft("Q-4"), AUTHOR, lapwise::record::Meaning::Authored, "", None, 600);
    println!("{}", if signed.is_ok() { "acknowledged" } else { "refused" });
}

#[test]
fn killed_at_each_write_point() {
    let shelf = lived_in();
    let saved = shelf.folder.path().join("saved");
    crate::story::copy(&shelf.root(), &saved);
    let mut acknowledged = false;
    let mut at = 0;
    while !acknowledged {
        at += 1;
        let root = shelf.folder.path().join(format!("killed-{at}"));
        crate::story::copy(&saved, &root);
        let output = child(
            "register::faults::signs_and_dies",
            &[("LAPWISE_TEST_REGISTER", root.to_str().unwrap()), ("LAPWISE_TEST_AT", &at.to_string())],
        )
        .output()
        .unwrap();
        acknowledged = String::from_utf8_lossy(&output.stdout).contains("acknowledged");
        old_or_new(&root, acknowledged, "Q-4/r0001", &format!("killed at {at}"));
        // Whoever comes next is not held up by what is left.
        let register = Register::open(&root, Disk::default()).unwrap();
        let next = sign_by(&register, &draft("Q-4"), AUTHOR, lapwise::record::Meaning::Authored, "", None, 601);
        let there = next.as_ref().is_err_and(|fault| fault.code.text() == "revision-needed");
        assert!(next.is_ok() || there, "killed at {at}: {next:?}");
        old_or_new(&root, true, "Q-4/r0001", &format!("after being killed at {at}"));
    }
    assert!(at > 20, "the signing had only {at} steps");
}

#[test]
#[ignore = "run as a child by others"]
fn signs_much() {
    let root = PathBuf::from(std::env::var("LAPWISE_TEST_REGISTER").unwrap());
    let register = Register::open(&root, Disk::default()).unwrap();
    let mut large = draft("Q-4");
    large.inputs.push(("large.bin".to_owned(), vec![7; 200_000]));
    let signed = sign_by(&register, &large, AUTHOR, lapwise::record::Meaning::Authored, "", None, 600);
    println!("{}", signed.map_or_else(|fault| fault.code.text().to_owned(), |_| "acknowledged".to_owned()));
}

/// A disk that is really full, by the system's own limit on the size of a file.
#[test]
#[cfg(unix)]
fn a_real_limit_and_then_room() {
    let shelf = lived_in();
    let signing = child("register::faults::signs_much", &[]);
    let program = signing.get_program().to_str().unwrap().to_owned();
    let run = |limit: &str| {
        let script = format!("trap '' XFSZ; ulimit -f {limit}; exec \"$0\" \"$@\"");
        let output = Command::new("bash")
            .args(["-c", &script, &program])
            .args(signing.get_args())
            .env("LAPWISE_TEST_REGISTER", shelf.root())
            .output()
            .unwrap();
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    let said = run("100");
    assert!(said.contains("write-failed"), "{said}");
    old_or_new(&shelf.root(), false, "Q-4/r0001", "a full disk");
    let said = run("unlimited");
    assert!(said.contains("acknowledged"), "{said}");
    old_or_new(&shelf.root(), true, "Q-4/r0001", "with room again");
}

#[test]
fn a_share_that_vanishes_or_cannot_be_written() {
    let shelf = lived_in();
    std::fs::rename(shelf.root(), shelf.folder.path().join("gone")).unwrap();
    assert_eq!(shelf.sign("Q-5", None, 700).unwrap_err().code.text(), "file-unreadable");
    std::fs::rename(shelf.folder.path().join("gone"), shelf.root()).unwrap();
    assert!(shelf.verify().flaws.is_empty());
}
