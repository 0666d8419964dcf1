//! An invented selection and its key, and a way to spoil bytes: for the tests and for the benchmark.

use std::fs;
use std::path::{Path, PathBuf};

use lapwise::record::{Digests, Reserve, Selection, Versions};
use lapwise::register::Draft;
use ssh_key::PrivateKey;
use ssh_key::private::{Ed25519Keypair, KeypairData};

/// A key that is the same in every run.
pub(crate) fn key(seed: u8) -> PrivateKey {
    PrivateKey::new(KeypairData::Ed25519(Ed25519Keypair::from_seed(&[seed; 32])), "invented").unwrap()
}

/// An invented selection.
pub(crate) fn draft(enquiry: &str) -> Draft {
    Draft {
        enquiry: enquiry.to_owned(),
        title: "an invented coil".to_owned(),
        customer: "Harbour works (invented)".to_owned(),
        selection: Selection {
            tape: "H-111".to_owned(),
            tape_revision: "4".to_owned(),
            verdict: "conditional".to_owned(),
            open_hazards: 0,
            proposed: Some("H-111".to_owned()),
            reserves: vec![Reserve {
                criterion: "tension-margin".to_owned(),
                exposure: String::new(),
                verdict: "suitable".to_owned(),
                margin: "3.65 ×".to_owned(),
            }],
            conditions: vec!["Tie the last turn.".to_owned()],
            open_points: Vec::new(),
        },
        digests: Digests { evidence: "e1".repeat(32), decision: "d1".repeat(32), presentation: "f1".repeat(32) },
        versions: Versions {
            data: "2026.11".to_owned(),
            data_sha256: "aa".repeat(32),
            criteria_sha256: "bb".repeat(32),
            templates_sha256: "cc".repeat(32),
            fonts_sha256: "dd".repeat(32),
            language: "en".to_owned(),
            lapwise: "0.1.0".to_owned(),
            typst: "0.15.1".to_owned(),
            invented: true,
        },
        inputs: vec![
            ("enquiry.toml".to_owned(), format!("number = \"{enquiry}\"\n").into_bytes()),
            ("decision.json".to_owned(), b"{}\n".to_vec()),
        ],
        shared: vec![
            ("data/tapes.csv".to_owned(), b"tape,name\nH-111,invented\n".to_vec()),
            ("templates/main.typ".to_owned(), b"// main\n".to_vec()),
        ],
    }
}

/// Changes single bits, one at a time, at random over every file of a register but the staging folder,
/// and tells which change went unnoticed, over how many files and bytes.
///
/// The seed is fixed, so that what is found can be looked at.
pub(crate) fn spoiled(root: &Path, changes: usize, noticed: impl Fn(&Path) -> bool) -> (Vec<String>, usize, u64) {
    let mut files = Vec::new();
    walk(root, &mut files);
    files.retain(|path| !path.to_string_lossy().contains(".staging"));
    files.sort();
    let total = files.iter().map(|path| fs::metadata(path).unwrap().len()).sum();
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut random = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(state >> 33).unwrap() % below
    };
    let mut unnoticed = Vec::new();
    for _ in 0..changes {
        let path = &files[random(files.len())];
        let whole = fs::read(path).unwrap();
        if whole.is_empty() {
            continue;
        }
        let (at, bit) = (random(whole.len()), random(8));
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << bit;
        overwrite(path, &bytes);
        if !noticed(root) {
            unnoticed.push(format!("byte {at} of {}", path.display()));
        }
        overwrite(path, &whole);
    }
    (unnoticed, files.len(), total)
}

/// Writes a file that was made read-only.
pub(crate) fn overwrite(path: &Path, bytes: &[u8]) {
    let _ = fs::remove_file(path);
    fs::write(path, bytes).unwrap();
}

fn walk(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { walk(&path, files) } else { files.push(path) }
    }
}
