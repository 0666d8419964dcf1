//! Kept selections at size: `cargo bench --bench regenerate -- [SELECTIONS] [TAPES] [STATES] [EXPOSURES]`, 10 000, 100,
//! 600 and 3 without.
//!
//! Signs so many generated enquiries on generated tapes, with pages that are not printed, then times a pass that
//! finds nothing, one that restates everything, and one that overturns many. Peaks are of one process; the register
//! is kept and judged again by a child of its own for each, so that signing does not count.
#![allow(
    clippy::print_stdout,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::unwrap_used,
    missing_docs
)]
#![allow(dead_code, reason = "the shared parts serve other benchmarks too")]

use std::path::{Path, PathBuf};
use std::time::Instant;

use rayon::prelude::*;

use lapwise::catalogue::Catalogue;
use lapwise::dossier::Press;
use lapwise::dossier::view::of_set;
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::judge::{Contested, Standing};
use lapwise::load::Folder;
use lapwise::rank::Order;
use lapwise::record::{Meaning, Role, sha256};
use lapwise::regenerate::{self, Today};
use lapwise::register::{Disk, Register, Signing};
use lapwise::selection::Judge;

#[path = "generated.rs"]
mod generated;
#[path = "../it/register/invented.rs"]
mod invented;

/// As the program has it.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    if let [pass, root, data] = words.as_slice()
        && pass == "pass"
    {
        judged(Path::new(root), Path::new(data));
        return;
    }
    let numbers: Vec<usize> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let number = |at: usize, otherwise| numbers.get(at).copied().unwrap_or(otherwise);
    let (selections, tapes) = (number(0, 10_000), number(1, 100));
    let place = tempfile::tempdir().unwrap();
    let (root, data) = (place.path().join("register"), place.path().join("data"));
    let (folder, media) = generated::folder(tapes);
    write(&folder, &data);
    let begun = Instant::now();
    sign(&root, &folder, selections, |n| generated::enquiry(n, number(2, 600), number(3, 3), &media, &generated::MUCH));
    println!("{selections} signed on {tapes} tapes in {:.1} s", begun.elapsed().as_secs_f64());
    let child = |what: &str| {
        let arguments = ["pass", root.to_str().unwrap(), data.to_str().unwrap()];
        let output = std::process::Command::new(std::env::current_exe().unwrap()).args(arguments).output().unwrap();
        let said = String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned();
        println!("{what:<24} {}", said.trim());
    };
    child("nothing changed");
    // A caution, which every selection consults and none is decided by.
    let changed = |file: &str, from: &str, to: &str| {
        let text = std::fs::read_to_string(data.join(file)).unwrap();
        assert!(text.contains(from), "{file} has no {from}");
        std::fs::write(data.join(file), text.replacen(from, to, 1)).unwrap();
    };
    changed("cautions.toml", "text = \"", "text = \"Take care. ");
    child("a caution, all restated");
    changed("criteria.toml", "id = \"tension-margin\"", "id = \"tension-of-winding\"");
    child("a criterion, many overturned");
}

fn write(folder: &Folder, to: &PathBuf) {
    std::fs::create_dir_all(to).unwrap();
    for (name, text) in &folder.files {
        std::fs::write(to.join(name), text).unwrap();
    }
}

/// Signs the first candidate of each enquiry.
fn sign(root: &Path, folder: &Folder, selections: usize, text: impl Fn(usize) -> String) {
    let key = invented::key(1);
    let time = "2026-11-25T00:00:00+00:00";
    let register = Register::create(root, true, time, Disk::default()).unwrap();
    let public = key.public_key().to_openssh().unwrap();
    register.add_key("m.sand", "M (invented)", Role::Author, &public, time).unwrap();
    let catalogue = Catalogue::build(folder).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let press = Press::new(folder, None, "en").unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let all: Vec<usize> = (0..selections).collect();
    for chunk in all.chunks(2500) {
        let texts: Vec<String> = chunk.iter().map(|n| text(*n)).collect();
        let enquiries: Vec<Enquiry> =
            texts.iter().map(|text| Enquiry::read("x.toml", text, &catalogue).unwrap()).collect();
        let plan = Plan::new(&catalogue, &enquiries).unwrap();
        let order = Order::new(&plan);
        let first = |(at, standings): (usize, Vec<Standing>)| Some(order.of(at, &standings)[0].position);
        let first: Vec<Option<usize>> = plan.contest().into_par_iter().enumerate().map(first).collect();
        let contested = plan.contest_with(&first);
        let judge = Judge::new(&plan).unwrap();
        for (at, (text, contested)) in texts.iter().zip(contested).enumerate() {
            let Contested { standings, findings } = contested;
            let tape = &catalogue.tapes[findings[0].tape].id;
            let judged = judge.judged_by(at, &standings, tape, &findings).unwrap().unwrap();
            let mut draft = regenerate::draft(&press, &enquiries[at], judged, text, &catalogue.about).unwrap();
            // The faces are no part of what is judged.
            draft.shared.retain(|(name, _)| name.starts_with("data/"));
            let signing = Signing { signer: "m.sand", meaning: Meaning::Authored, reason: "", time, key: &key };
            register.sign(&draft, None, &signing, |_| Ok(b"%PDF a page\n".to_vec())).unwrap();
        }
    }
}

/// One pass, and what it took.
fn judged(root: &Path, data: &Path) {
    let begun = Instant::now();
    let register = Register::open(root, Disk::default()).unwrap();
    let folder = Folder::read(data).unwrap();
    let catalogue = Catalogue::build(&folder).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let press = Press::new(&folder, None, "en").unwrap();
    let presentation = |_: &str| press.presentation().ok().map(|text| sha256(text.as_bytes()));
    let digest = of_set(&press.inputs.data);
    let today =
        Today { folder: &folder, catalogue: &catalogue, faulty: &[], sha256: &digest, presentation: &presentation };
    let report = regenerate::pass(&register, &today, None, &|_, _| {}).unwrap().report;
    let counts = report.counts;
    println!(
        "{:.1} s, peak {} MB: {} current, {} restated, {} overturned, {} not judgeable, {} causes",
        begun.elapsed().as_secs_f64(),
        peak(),
        counts.current,
        counts.restated,
        counts.overturned,
        counts.not_judgeable,
        report.causes.len()
    );
}

/// The peak of this process's memory in MB, where the system tells.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or_default();
    let kb: Option<u64> = line.split_whitespace().nth(1).and_then(|n| n.parse().ok());
    kb.map_or_else(|| "?".to_owned(), |kb| (kb / 1024).to_string())
}
