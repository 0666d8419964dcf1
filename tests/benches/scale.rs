//! The judging core at scale: generated enquiries × tapes × exposures, its time and peak memory.
//!
//! `cargo bench --bench scale -- [ENQUIRIES] [TAPES] [STATES] [all]`; without arguments the growth from
//! 100 to 1 000 enquiries at 2 000 tapes and 600 distinct states of six exposures each, judged by the
//! eight criteria of the small data folder of the tests; with `all` by every criterion.
//! Materials are copies of the shipped ones under other names; tapes and enquiries are generated.
#![allow(clippy::print_stdout, clippy::cast_precision_loss, clippy::cast_possible_truncation, missing_docs)]

use std::time::Instant;

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::rank;

#[path = "generated.rs"]
mod generated;

fn main() {
    let arguments: Vec<usize> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let tapes = arguments.get(1).copied().unwrap_or(2000);
    let states = arguments.get(2).copied().unwrap_or(600);
    let sizes = arguments.first().map_or_else(|| vec![100, 1000], |n| vec![*n]);
    println!(
        "enquiries   tapes  states |   load s   cells s  judge s  order s |  total s   per enquiry ms | distinct cells  peak MB"
    );
    let all = std::env::args().any(|a| a == "all");
    for enquiries in sizes {
        probe(enquiries, tapes, states, 6, all);
    }
}

fn probe(enquiries: usize, tapes: usize, states: usize, exposures: usize, all: bool) {
    let begun = Instant::now();
    let (mut folder, media) = generated::folder(tapes);
    if !all {
        let eight = include_str!("../fixtures/small/criteria.toml").to_owned();
        folder.files.insert("criteria.toml".to_owned(), eight);
    }
    let catalogue = Catalogue::build(&folder).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let enquiries: Vec<Enquiry> = (0..enquiries)
        .map(|n| {
            let text = generated::enquiry(n, states, exposures, &media);
            Enquiry::read("generated.toml", &text, &catalogue).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()))
        })
        .collect();
    let loaded = begun.elapsed().as_secs_f64();
    let begun = Instant::now();
    let plan = Plan::new(&catalogue, &enquiries).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let cells = begun.elapsed().as_secs_f64();
    let standings = plan.standings();
    let judged = begun.elapsed().as_secs_f64();
    let mut proposed = 0;
    let order = rank::Order::new(&plan);
    for (number, standings) in standings.iter().enumerate() {
        proposed += usize::from(rank::proposed(&order.of(number, standings)).is_some());
    }
    let total = begun.elapsed().as_secs_f64();
    let distinct: usize = plan.groups.iter().map(lapwise::expand::Group::distinct).sum();
    println!(
        "{:>9} {:>7} {:>7} | {:>8.2} {:>9.2} {:>8.2} {:>8.2} | {:>8.2} {:>15.3} | {:>14} {:>8.0}   ({proposed} with a proposal)",
        enquiries.len(),
        catalogue.tapes.len(),
        states,
        loaded,
        cells,
        judged - cells,
        total - judged,
        total,
        total * 1e3 / enquiries.len() as f64,
        distinct,
        peak_megabytes(),
    );
}

fn peak_megabytes() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok()).map_or(f64::NAN, |kb| kb / 1024.0)
}
