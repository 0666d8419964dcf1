//! The register at size: `cargo bench --bench register -- [RECORDS] [FLIPS]`, 10 000 and 0 without.
//!
//! Signs so many invented selections, then times verification, the list by the index and without it, one record shown,
//! and, with FLIPS, counts single-byte changes over all files that go unnoticed.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, missing_docs)]

#[path = "../it/register/invented.rs"]
mod invented;

use std::path::Path;
use std::time::Instant;

use lapwise::record::{Meaning, Role};
use lapwise::register::{Disk, Index, Register, Scope, Signing};

fn main() {
    let numbers: Vec<usize> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let records = numbers.first().copied().unwrap_or(10_000);
    let flips = numbers.get(1).copied().unwrap_or(0);
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("register");
    let key = invented::key(1);
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
        register.sign(&invented::draft(&format!("Q-{n}")), None, &signing, |_| Ok(vec![b'%'; 50_000])).unwrap();
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
    let begun = Instant::now();
    let index = Index::read(&again(), Some(&cache)).unwrap();
    let shown = index.lines[records / 2].entries.iter().filter_map(|seq| again().statement_at(*seq).ok()).count();
    println!("shown by the index: {shown} statement in {:.3} s", begun.elapsed().as_secs_f64());
    if flips > 0 {
        let noticed = |root: &Path| {
            let found = Register::open(root, Disk::default()).and_then(|register| register.verify(&Scope::All));
            !found.is_ok_and(|report| report.flaws.is_empty())
        };
        let (unnoticed, files, bytes) = invented::spoiled(&root, flips, noticed);
        println!("{} of {flips} changes over {files} files, {bytes} bytes, unnoticed: {unnoticed:?}", unnoticed.len());
    }
}

/// The peak of this process's memory in MB, where the system tells.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or_default();
    let kb: Option<u64> = line.split_whitespace().nth(1).and_then(|n| n.parse().ok());
    kb.map_or_else(|| "?".to_owned(), |kb| (kb / 1024).to_string())
}
