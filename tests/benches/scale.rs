//! The judging core at scale: generated enquiries × tapes × exposures, its time and peak memory.
//!
//! `cargo bench --bench scale -- [ENQUIRIES] [TAPES] [STATES] [all]`; without arguments the growth from
//! 100 to 1 000 enquiries at 2 000 tapes and 600 distinct states of six exposures each, judged by the
//! eight criteria of the small data folder of the tests; with `all` by every criterion.
//! Materials are copies of the shipped ones under other names; tapes and enquiries are generated.
#![allow(clippy::print_stdout, clippy::cast_precision_loss, clippy::cast_possible_truncation, missing_docs)]

use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::load::Folder;
use lapwise::rank;

const BACKINGS: usize = 40;
const ADHESIVES: usize = 12;
const THICKNESSES: usize = 10;
const EXPOSURES: usize = 6;

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
        probe(enquiries, tapes, states, all);
    }
}

fn probe(enquiries: usize, tapes: usize, states: usize, all: bool) {
    let begun = Instant::now();
    let (mut folder, media) = folder(tapes);
    if !all {
        let eight = include_str!("../fixtures/small/criteria.toml").to_owned();
        folder.files.insert("criteria.toml".to_owned(), eight);
    }
    let catalogue = Catalogue::build(&folder).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    let enquiries: Vec<Enquiry> = (0..enquiries)
        .map(|n| {
            let text = enquiry(n, states, &media);
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

/// A small congruential sequence, the same on every machine.
fn pick(seed: usize, salt: usize, below: usize) -> usize {
    let mut x = (seed as u64)
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add((salt as u64 + 1).wrapping_mul(1_442_695_040_888_963_407));
    x ^= x >> 29;
    x = x.wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x ^= x >> 32;
    (x % below as u64) as usize
}

/// The shipped data with backings and adhesives copied to the wanted count, and generated tapes.
fn folder(tapes: usize) -> (Folder, Vec<(String, String)>) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("matrices");
    let mut folder = Folder::read(&root).unwrap_or_else(|f| panic!("{:?}", f.sorted().first()));
    folder.files.retain(|name, _| !name.starts_with("enquiries/"));
    let materials = folder.text("materials.csv").to_owned();
    let of = |kind: &str| -> Vec<String> {
        let rows = materials.lines().filter(|line| line.split(',').nth(1) == Some(kind));
        rows.map(|line| line.split(',').next().unwrap_or_default().to_owned()).collect()
    };
    let (backings, adhesives) = (of("backing"), of("adhesive"));
    let media = ["liquid", "resin", "solvent", "gas"]
        .into_iter()
        .flat_map(|kind| of(kind).into_iter().map(move |id| (id, kind.to_owned())))
        .collect();
    let mut copies = Vec::new();
    let mut more = |ids: &[String], wanted: usize| -> Vec<String> {
        let mut all = ids.to_vec();
        for n in ids.len()..wanted {
            let original = &ids[n % ids.len()];
            let copy = format!("{original}-copy{n}");
            copies.push((original.clone(), copy.clone()));
            all.push(copy);
        }
        all
    };
    let backings = more(&backings, BACKINGS);
    let adhesives = more(&adhesives, ADHESIVES);
    for file in ["materials.csv", "facts.csv", "pairs.csv"] {
        let text = folder.text(file).to_owned();
        let tape_free: Vec<&str> = text.lines().filter(|line| !line.starts_with("H-")).collect();
        let mut out = tape_free.join("\n");
        out.push('\n');
        for (original, copy) in &copies {
            for line in tape_free.iter().filter(|line| line.split(',').next() == Some(original)) {
                let _ = writeln!(out, "{copy}{}", &line[original.len()..]);
            }
        }
        folder.files.insert(file.to_owned(), out);
    }
    let shipped = folder.text("tapes.csv").to_owned();
    let mut lines = shipped.lines();
    let head = lines.next().unwrap_or_default();
    let mut out = format!("{head}\n");
    let columns: Vec<&str> = head.split(',').collect();
    for n in 0..tapes {
        let backing = 12.0 + 12.0 * pick(n, 1, THICKNESSES) as f64;
        let adhesive = 25.0;
        let pair = pick(n, 2, 60);
        let cells = columns.iter().map(|column| match *column {
            "tape" => format!("G-{n:05}"),
            "name" => format!("generated {n}"),
            "status" => "active".to_owned(),
            "revision" | "coated_sides" => "1".to_owned(),
            "backing" => backings[pick(n, 3, BACKINGS)].clone(),
            "adhesive" => adhesives[pick(n, 4, ADHESIVES)].clone(),
            "backing_thickness" => format!("{backing} um"),
            "adhesive_thickness" => format!("{adhesive} um"),
            "total_thickness" => format!("{} um", backing + adhesive),
            "adhesive_cure" | "silicone" => "none".to_owned(),
            "breakdown" => format!("{:.2} kV", 1.5 + backing * 0.1),
            "tensile" => format!("{} N/cm", 30 + pick(n, 5, 300)),
            "elongation" => format!("{} %", 3 + pick(n, 6, 120)),
            "adhesion" => format!("{:.1} N/cm", 2.0 + pick(n, 7, 40) as f64 / 10.0),
            "adhesion_to_backing" => format!("{:.1} N/cm", 1.5 + pick(n, 7, 40) as f64 / 10.0),
            "adhesion_surface" => "steel".to_owned(),
            "adhesion_angle" => "180 deg".to_owned(),
            "adhesion_dwell" => "20 min".to_owned(),
            "shear" => format!("{} kPa", 20 + pick(n, 8, 80)),
            "shear_temperature" => "23 degC".to_owned(),
            "temperature_index" => format!("{} degC", 105 + 5 * (pair / 4)),
            "halving_interval" => format!("{} K", 8 + pair % 4),
            "index_basis" => "tape".to_owned(),
            "flame" => "yes".to_owned(),
            "electrolytic_corrosion" => "1.0".to_owned(),
            "halogen" | "sulphur" => "20 mg/kg".to_owned(),
            "tracking_index" => "300 V".to_owned(),
            "shelf_life" => "2 a".to_owned(),
            "minimum_width" => "6 mm".to_owned(),
            "roll_length" => "66 m".to_owned(),
            "relative_cost" => format!("{:.1}", 1.0 + pick(n, 9, 90) as f64 / 10.0),
            "source" => "invented-catalogue".to_owned(),
            "basis" => "invented".to_owned(),
            _ => String::new(),
        });
        let _ = writeln!(out, "{}", cells.collect::<Vec<_>>().join(","));
    }
    folder.files.insert("tapes.csv".to_owned(), out);
    (folder, media)
}

/// Enquiry `n`, its exposures drawn from the wanted number of states, its duty and voltage its own.
fn enquiry(n: usize, states: usize, media: &[(String, String)]) -> String {
    let equipment = ["liquid-immersed-transformer", "dry-type-transformer", "motor", "generator", "reactor"][n % 5];
    let function = ["banding", "outer-wrap", "interlayer", "end-turn-wrap", "phase-separation"][pick(n, 20, 5)];
    let atmosphere = if n.is_multiple_of(5) { "sealed-liquid" } else { "air" };
    let hot = 60.0 + (n % 997) as f64 * 0.07;
    let mut text = format!(
        "schema = \"lapwise/enquiry/1\"\n[enquiry]\nnumber = \"G-{n}\"\ntitle = \"generated\"\ncustomer = \"generated\"\n\
         prepared_by = \"generated\"\ndate = 2026-11-20\njurisdiction = \"eu\"\n[application]\nequipment = \"{equipment}\"\n\
         function = \"{function}\"\nneeded = \"life\"\natmosphere = \"{atmosphere}\"\n[duty]\nlife = \"20 a\"\n\
         life_basis = \"duty\"\nthermal_class = 105\nload_profile = [\n{{ temperature = \"{hot} degC\", share = 0.4 }},\n\
         {{ temperature = \"{} degC\", share = 0.3 }},\n{{ temperature = \"{} degC\", share = 0.2 }},\n\
         {{ temperature = \"{} degC\", share = 0.1 }},\n]\n",
        hot + 10.0,
        hot + 15.0,
        hot + 20.0,
    );
    let _ = write!(
        text,
        "[voltage]\nkind = \"ac\"\nacross = \"{} V\"\nfrequency = \"50 Hz\"\naltitude = \"{} m\"\nwedge = \"air\"\n\
         [winding]\nwidth = \"{} mm\"\noverlap = \"50 %\"\nlap_tolerance = \"0.5 mm\"\npasses = {}\n\
         circumference = \"60 mm\"\nbend_radius = \"{} mm\"\ntension = \"{} N/cm\"\nsurface = \"steel\"\nlength = \"0.3 m\"\n\
         pieces = 100\nwaste = \"5 %\"\nbuild_limit = \"0.8 mm\"\nadhesion_needed = \"2 N/cm\"\n",
        200 + n % 1000,
        500 * pick(n, 21, 3),
        [15, 20, 25, 30][pick(n, 22, 4)],
        1 + pick(n, 23, 3),
        [15, 40][pick(n, 24, 2)],
        8 + n % 40,
    );
    for x in 0..EXPOSURES {
        let state = pick(n, 30 + x, states);
        let (medium, kind) = &media[state % media.len()];
        let stage =
            ["service", "assembly", "cleaning"][if kind == "liquid" || kind == "gas" { 0 } else { 1 + state % 2 }];
        let temperature = 23.0 + (state % 71) as f64 + (state / media.len()) as f64 * 0.013;
        let duration = match stage {
            "service" => "20 a".to_owned(),
            _ => format!("{} min", 5 + state % 50),
        };
        let extra = match kind.as_str() {
            "gas" => format!("humidity = \"{} %\"\n", 20 + state % 75),
            "liquid" => "water_content = \"10 mg/kg\"\n".to_owned(),
            _ => String::new(),
        };
        let _ = write!(
            text,
            "[[exposure]]\nname = \"x{x}\"\nstage = \"{stage}\"\nmedium = \"{medium}\"\ntemperature = \"{temperature} degC\"\n\
             duration = \"{duration}\"\n{extra}"
        );
    }
    text
}
