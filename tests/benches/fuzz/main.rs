//! Mangled and hostile input for every reader: runs, panics and the worst time of each.
//!
//! `cargo bench --bench fuzz -- [SECONDS] [SEED] [READER]`: that many seconds over all readers (60), then the hostile
//! files, each in a process of its own with its time and its peak memory; or over the one reader that is named, and no
//! more. The same seed tries the same inputs.
//! Ends with exit code 1 if a reader panicked, or a hostile file took longer than 20 s or more than 2 GB.
#![allow(
    clippy::print_stdout,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::format_collect,
    clippy::unwrap_used,
    missing_docs
)]

mod bombs;
mod data;
mod feed;
mod hostile;
#[path = "../../it/register/invented.rs"]
#[allow(dead_code)]
mod invented;
mod kept;
mod told;

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use lapwise::catalogue::Catalogue;
use lapwise::load::Folder;

use feed::Dice;
use kept::Shelf;

/// What readers are fed with.
pub(crate) struct Corpus {
    pub(crate) folder: Folder,
    pub(crate) catalogue: Catalogue,
    pub(crate) shipped: Folder,
    pub(crate) shipped_catalogue: Catalogue,
    /// A register with a selection in it.
    pub(crate) shelf: Shelf,
    /// A workbook.
    pub(crate) workbook: Vec<u8>,
}

/// One run of a reader on the input that it is given for the report.
pub(crate) type Run<'c> = (String, Box<dyn FnOnce() + 'c>);

/// A reader, and one run of it on a spoilt input, which is handed back for the report.
pub(crate) type Reader = (&'static str, for<'c> fn(&mut Dice, &'c Corpus) -> Run<'c>);

const READERS: &[Reader] = &[
    ("quantity", data::quantity),
    ("bytes to text", data::bytes),
    ("csv table", data::table),
    ("toml file", data::toml),
    ("bibliography", data::bibliography),
    ("catalogue", data::catalogue),
    ("enquiry", data::enquiry),
    ("judging", data::judging),
    ("model arguments", told::model),
    ("answers", told::answers),
    ("kept answers", told::kept),
    ("acceptances", told::acceptances),
    ("ranges", told::ranges),
    ("remarks", told::remarks),
    ("text table", kept::text_table),
    ("workbook", kept::workbook),
    ("workbook part", kept::workbook_part),
    ("import", kept::import),
    ("map file", kept::map_file),
    ("test report", kept::report),
    ("statement", kept::statement),
    ("log entry", kept::entry),
    ("public key", kept::key),
    ("pdf", kept::pdf),
];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    if arguments.first().is_some_and(|a| a == "meet") {
        hostile::meet(arguments.get(1).and_then(|n| n.parse().ok()).unwrap_or(0));
        return ExitCode::SUCCESS;
    }
    let number = |at: usize, other| arguments.get(at).and_then(|a| a.parse().ok()).unwrap_or(other);
    let (seconds, seed) = (number(0, 60), number(1, 1));
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |data: &str| {
        let folder = Folder::read(&root.join(data)).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
        let catalogue = Catalogue::build(&folder).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
        (folder, catalogue)
    };
    let ((folder, catalogue), (shipped, shipped_catalogue)) = (read("tests/fixtures/small"), read("matrices"));
    let (shelf, workbook) = (Shelf::new(), kept::book());
    let corpus = Corpus { folder, catalogue, shipped, shipped_catalogue, shelf, workbook };
    std::panic::set_hook(Box::new(|_| {}));
    let readers = READERS.iter().enumerate().filter(|(_, (name, _))| arguments.get(2).is_none_or(|only| only == name));
    let share = Duration::from_secs_f64(seconds as f64 / readers.clone().count().max(1) as f64);
    println!("{:<16} {:>10} {:>7} {:>12}", "reader", "runs", "panics", "worst ms");
    let mut panics: BTreeMap<String, (String, String)> = BTreeMap::new();
    for (at, (name, reader)) in readers {
        let mut dice = Dice(seed ^ (at as u64) << 32);
        let (begun, mut runs, mut failed, mut worst) = (Instant::now(), 0_u64, 0_u64, Duration::ZERO);
        while begun.elapsed() < share {
            let (input, run) = reader(&mut dice, &corpus);
            let before = Instant::now();
            let outcome = catch_unwind(AssertUnwindSafe(run));
            worst = worst.max(before.elapsed());
            runs += 1;
            if let Err(payload) = outcome {
                failed += 1;
                let words = payload.downcast_ref::<String>().cloned();
                let words = words.or_else(|| payload.downcast_ref::<&str>().map(|&s| s.to_owned()));
                let words: String = words.unwrap_or_default().chars().take(200).collect();
                panics.entry(format!("{name}: {words}")).or_insert_with(|| (words, input));
            }
        }
        println!("{name:<16} {runs:>10} {failed:>7} {:>12.1}", worst.as_secs_f64() * 1e3);
    }
    for (what, (_, input)) in panics.iter().take(8) {
        let shown: String = input.chars().take(1500).collect();
        println!("\npanic in {what}\n{}", shown.escape_debug());
    }
    println!("\n{} after all readers", hostile::peak());
    let good = arguments.len() > 2 || hostile::all();
    if good && panics.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
