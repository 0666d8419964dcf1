//! The judging core at scale: generated enquiries × tapes × exposures, its time and peak memory.
//!
//! `cargo bench --bench scale -- [ENQUIRIES] [TAPES] [STATES] [all]`; without arguments the growth from
//! 100 to 1 000 enquiries at 2 000 tapes and 600 distinct states of six exposures each, judged by the
//! eight criteria of the small data folder of the tests; with `all` by every criterion, with the key of a
//! criterion by that alone. `little` asks little of the tapes, so that many are left.
//! `growth [all]` doubles enquiries, tapes, exposures and states, each alone. `closed FOLDER` works out cells
//! of closed form only and writes them and their inputs down, for `tests/benches/closed_form.py`.
//! Materials are copies of the shipped ones under other names; tapes and enquiries are generated.
#![allow(clippy::print_stdout, clippy::cast_precision_loss, clippy::cast_possible_truncation, missing_docs)]

use std::path::Path;
use std::time::Instant;

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::Enquiry;
use lapwise::expand::{Group, Plan};
use lapwise::rank;
use rayon::prelude::*;

#[path = "closed.rs"]
mod closed;
#[path = "generated.rs"]
mod generated;

/// As the program has it.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// How much of everything.
#[derive(Clone, Copy)]
struct Size {
    enquiries: usize,
    tapes: usize,
    states: usize,
    exposures: usize,
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<usize> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let number = |at: usize, otherwise| numbers.get(at).copied().unwrap_or(otherwise);
    let is_little = |word: &String| word == "little";
    let asks = if words.iter().any(is_little) { &generated::LITTLE } else { &generated::MUCH };
    let by = words.iter().rfind(|word| word.starts_with(char::is_alphabetic) && !is_little(word));
    let by = by.map_or("eight", String::as_str);
    if let Some(at) = words.iter().position(|word| word == "closed") {
        closed::write(Path::new(words.get(at + 1).map_or(".", String::as_str)), number(0, 10_000));
        return;
    }
    let size = Size { enquiries: number(0, 1000), tapes: number(1, 2000), states: number(2, 600), exposures: 6 };
    let head = "enquiries  tapes  states exposures |  load s  plan s judge s order s | total s   cpu s  ms/enquiry";
    println!("{head} | distinct cells   cells/s  peak MB");
    if words.iter().any(|word| word == "growth") {
        let from = Size { enquiries: 200, tapes: 1000, states: 6000, exposures: 3 };
        for of in [
            from,
            Size { enquiries: 400, ..from },
            Size { tapes: 2000, ..from },
            Size { exposures: 6, ..from },
            // As many states as exposures ask for, against half of them.
            Size { states: 300, ..from },
            Size { states: 600, ..from },
        ] {
            probe(of, (by, asks));
        }
        return;
    }
    if numbers.is_empty() {
        probe(Size { enquiries: 100, ..size }, (by, asks));
    }
    probe(size, (by, asks));
}

/// The generated data, read.
fn read(size: Size, (by, asks): (&str, &generated::Asks)) -> (Catalogue, Vec<Enquiry>) {
    let (mut folder, media) = generated::folder(size.tapes);
    match by {
        "all" => {}
        "eight" | "growth" => {
            let eight = include_str!("../fixtures/small/criteria.toml").to_owned();
            folder.files.insert("criteria.toml".to_owned(), eight);
        }
        criterion => closed::only(&mut folder, criterion),
    }
    let catalogue = Catalogue::build(&folder).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let enquiries = (0..size.enquiries)
        .map(|n| {
            let text = generated::enquiry(n, size.states, size.exposures, &media, asks);
            Enquiry::read("generated.toml", &text, &catalogue).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()))
        })
        .collect();
    (catalogue, enquiries)
}

fn probe(size: Size, asked: (&str, &generated::Asks)) {
    let begun = Instant::now();
    let (catalogue, enquiries) = read(size, asked);
    let loaded = begun.elapsed().as_secs_f64();
    let (begun, used) = (Instant::now(), processor_seconds());
    let plan = Plan::new(&catalogue, &enquiries).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let planned = begun.elapsed().as_secs_f64();
    let standings = plan.contest();
    let judged = begun.elapsed().as_secs_f64();
    let order = rank::Order::new(&plan);
    let ranked = standings.par_iter().enumerate().map(|(number, standings)| order.of(number, standings));
    let proposed = ranked.filter(|ranked| rank::proposed(ranked).is_some()).count();
    let left = standings.par_iter().map(|of| of.iter().filter(|standing| !standing.is_out()).count()).sum::<usize>();
    let left = left as f64 / enquiries.len() as f64;
    let total = begun.elapsed().as_secs_f64();
    let distinct: usize = plan.groups.iter().map(Group::distinct).sum();
    println!(
        "{:>9} {:>6} {:>7} {:>9} | {loaded:>7.2} {planned:>7.2} {:>7.2} {:>7.2} | {total:>7.2} {:>7.2} {:>11.3} | {distinct:>14} {:>9.0} {:>8.0}   ({proposed} with a proposal, {left:.1} tapes left of each)",
        enquiries.len(),
        catalogue.tapes.len(),
        size.states,
        size.exposures,
        judged - planned,
        total - judged,
        processor_seconds() - used,
        total * 1e3 / enquiries.len() as f64,
        distinct as f64 / judged,
        peak_megabytes(),
    );
}

fn peak_megabytes() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok()).map_or(f64::NAN, |kb| kb / 1024.0)
}

/// The processor time of this process, of all its threads, by a clock of a hundredth of a second.
fn processor_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after = stat.rsplit_once(") ").map_or("", |(_, after)| after);
    after.split(' ').skip(11).take(2).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / 100.0
}
