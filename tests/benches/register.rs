//! The register at size: `cargo bench --bench register -- [RECORDS] [FLIPS]`, 10 000 and 0 without.
//!
//! Signs so many invented selections, then times verification, the list by the index and without it,
//! and, with FLIPS, counts single-byte changes over all files that go unnoticed.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::path::{Path, PathBuf};
use std::time::Instant;

use lapwise::record::{Digests, Meaning, Role, Selection, Versions};
use lapwise::register::{Disk, Draft, Index, Register, Scope, Signing};
use ssh_key::PrivateKey;
use ssh_key::private::{Ed25519Keypair, KeypairData};

fn main() {
    let numbers: Vec<usize> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let records = numbers.first().copied().unwrap_or(10_000);
    let flips = numbers.get(1).copied().unwrap_or(0);
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("register");
    let key = PrivateKey::new(KeypairData::Ed25519(Ed25519Keypair::from_seed(&[1; 32])), "invented").unwrap();
    let register = Register::create(&root, false, "2026-11-25T00:00:00+00:00", Disk::default()).unwrap();
    let public = key.public_key().to_openssh().unwrap();
    register.add_key("m.sand", "M (invented)", Role::Author, &public, "2026-11-25T00:00:00+00:00").unwrap();
    let begun = Instant::now();
    for n in 0..records {
        let signing = Signing {
            signer: "m.sand",
            meaning: Meaning::Authored,
            reason: "",
            time: "2026-11-25T00:00:01+00:00",
            key: &key,
        };
        // A page of 50 kB that was rendered before serves.
        register.sign(&draft(n), None, &signing, |_| Ok(vec![b'%'; 50_000])).unwrap();
    }
    println!("{records} signed in {:.1} s", begun.elapsed().as_secs_f64());
    let again = || Register::open(&root, Disk::default()).unwrap();
    let begun = Instant::now();
    let report = again().verify(&Scope::All).unwrap();
    assert!(report.flaws.is_empty(), "{:?}", report.flaws.first());
    println!("verified {} records in {:.2} s, peak {} MB", report.records, begun.elapsed().as_secs_f64(), peak());
    let cache = folder.path().join("index");
    for what in ["index made", "index read"] {
        let begun = Instant::now();
        let lines = Index::read(&again(), Some(&cache)).unwrap().lines.len();
        println!("{what}: {lines} lines in {:.3} s", begun.elapsed().as_secs_f64());
    }
    if flips > 0 {
        println!("{} of {flips} single-byte changes unnoticed", unnoticed(&root, flips));
    }
}

fn draft(n: usize) -> Draft {
    let digest = || "ab".repeat(32);
    Draft {
        enquiry: format!("Q-{n}"),
        title: "an invented coil".to_owned(),
        customer: "Harbour works (invented)".to_owned(),
        selection: Selection {
            tape: "H-111".to_owned(),
            tape_revision: "4".to_owned(),
            verdict: "conditional".to_owned(),
            open_hazards: 0,
            proposed: None,
            reserves: Vec::new(),
            conditions: Vec::new(),
            open_points: Vec::new(),
        },
        digests: Digests { evidence: digest(), decision: digest(), presentation: digest() },
        versions: Versions {
            data: "1".to_owned(),
            data_sha256: digest(),
            criteria_sha256: digest(),
            templates_sha256: digest(),
            fonts_sha256: digest(),
            language: "en".to_owned(),
            lapwise: "0".to_owned(),
            typst: "0".to_owned(),
            invented: true,
        },
        inputs: vec![("enquiry.toml".to_owned(), format!("number = \"Q-{n}\"\n").into_bytes())],
        shared: vec![("data/tapes.csv".to_owned(), b"tape\n".to_vec())],
    }
}

fn unnoticed(root: &Path, flips: usize) -> usize {
    let mut files = Vec::new();
    walk(root, &mut files);
    files.retain(|path| !path.to_string_lossy().contains(".staging"));
    files.sort();
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut random = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(state >> 33).unwrap() % below
    };
    let mut missed = 0;
    for _ in 0..flips {
        let path = &files[random(files.len())];
        let whole = std::fs::read(path).unwrap();
        let (at, bit) = (random(whole.len()), random(8));
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << bit;
        std::fs::remove_file(path).unwrap();
        std::fs::write(path, &bytes).unwrap();
        let found = Register::open(root, Disk::default()).and_then(|register| register.verify(&Scope::All));
        if found.is_ok_and(|report| report.flaws.is_empty()) {
            println!("unnoticed: byte {at} of {}", path.display());
            missed += 1;
        }
        std::fs::write(path, &whole).unwrap();
    }
    missed
}

fn walk(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { walk(&path, files) } else { files.push(path) }
    }
}

/// The peak of this process's memory in MB, where the system tells.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or_default();
    let kb: Option<u64> = line.split_whitespace().nth(1).and_then(|n| n.parse().ok());
    kb.map_or_else(|| "?".to_owned(), |kb| (kb / 1024).to_string())
}
