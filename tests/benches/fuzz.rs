//! Mangled and hostile input for every reader: runs, panics and the worst time of each.
//!
//! `cargo bench --bench fuzz -- [SECONDS] [SEED]`: that many seconds over all readers (60), then the hostile files,
//! each in a process of its own with its time and its peak memory. The same seed tries the same inputs.
//! Ends with exit code 1 if a reader panicked, or a hostile file took longer than 20 s or more than 2 GB.
#![allow(
    clippy::print_stdout,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::format_collect,
    missing_docs
)]

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::{Answers, Enquiry};
use lapwise::expand::Plan;
use lapwise::fault::Faults;
use lapwise::load::{self, Folder};
use lapwise::quantity::{KINDS, Unit};
use lapwise::{calculate, plausible};

/// Fixed steps of a well-mixed sequence (splitmix64; Steele, Lea and Flood 2014).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    fn of<'a, T: ?Sized>(&mut self, list: &[&'a T]) -> &'a T {
        list[self.below(list.len())]
    }
}

/// Pieces that readers are known to stumble on.
const PIECES: &[&str] = &[
    "\"",
    "'",
    ",",
    "\n",
    "\r",
    "\r\n",
    "\u{feff}",
    "\0",
    "[",
    "]",
    "{",
    "}",
    "[[",
    "]]",
    "=",
    "#",
    "/",
    "@",
    "%",
    ";",
    "1e308",
    "-1e308",
    "1e-320",
    "0",
    "-0",
    "NaN",
    "inf",
    "9999999999999999999",
    "-1",
    "0.0000001",
    "1e400",
    "50 %",
    "200 %",
    "20 degC",
    "-300 degC",
    "1e9 degC",
    "10 N/cm",
    "1 um",
    "0 mm",
    "1e300 m",
    "1e-300 m",
    "20 a",
    "1e30 a",
    "0 s",
    "µ",
    "é",
    "𝄞",
    "\u{202e}",
    "duty",
    "class",
    "air",
    "true",
    "none",
    "2026-02-30",
    "x_y",
    "…",
    "(((((",
    "^0.5",
];

/// Bytes changed, cut, doubled, moved; pieces put in; a few times over.
fn mangle(dice: &mut Dice, text: &str) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..=dice.below(4) {
        let at = dice.below(bytes.len() + 1);
        let end = (at + dice.below(40)).min(bytes.len());
        match dice.below(7) {
            0 if at < bytes.len() => bytes[at] = dice.next() as u8,
            1 => drop(bytes.drain(at..end)),
            2 => {
                let part = bytes[at..end].to_vec();
                bytes.splice(at..at, part);
            }
            3 => bytes.truncate(at),
            _ => drop(bytes.splice(at..at, dice.of(PIECES).bytes())),
        }
    }
    bytes
}

/// By structure: a cell, a value or a line changed for a piece or for another of the same text.
fn reshape(dice: &mut Dice, text: &str) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for _ in 0..=dice.below(3) {
        if lines.is_empty() {
            break;
        }
        let (at, other) = (dice.below(lines.len()), dice.below(lines.len()));
        match dice.below(5) {
            0 => drop(lines.remove(at)),
            1 => lines.insert(at, lines[other].clone()),
            2 => lines.swap(at, other),
            _ => {
                let separator = if lines[at].contains(" = ") { " = " } else { "," };
                let mut cells: Vec<String> = lines[at].split(separator).map(str::to_owned).collect();
                let cell = dice.below(cells.len());
                let foreign = lines[other].split(separator).last().unwrap_or_default().to_owned();
                cells[cell] = match dice.below(4) {
                    0 => foreign,
                    1 => format!("\"{}\"", dice.of(PIECES)),
                    _ => dice.of(PIECES).to_owned(),
                };
                lines[at] = cells.join(separator);
            }
        }
    }
    lines.join("\n")
}

/// Either way; as text, as it would come from a file.
fn spoil(dice: &mut Dice, text: &str) -> String {
    if dice.below(2) == 0 {
        return reshape(dice, text);
    }
    load::decode(mangle(dice, text), "fuzz").unwrap_or_default()
}

/// What readers are fed with.
struct Corpus {
    folder: Folder,
    catalogue: Catalogue,
    shipped: Folder,
    shipped_catalogue: Catalogue,
}

/// A reader, and one run of it on a spoilt input, which is handed back for the report.
type Reader = (&'static str, for<'c> fn(&mut Dice, &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>));

const READERS: &[Reader] = &[
    ("quantity", quantity),
    ("bytes to text", bytes),
    ("csv table", table),
    ("toml file", toml),
    ("bibliography", bibliography),
    ("catalogue", catalogue),
    ("enquiry", enquiry),
    ("judging", judging),
    ("model arguments", model),
    ("answers", answers),
    ("kept answers", kept),
    ("acceptances", acceptances),
    ("ranges", ranges),
    ("remarks", remarks),
];

fn quantity<'c>(dice: &mut Dice, _: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let kind = KINDS[dice.below(KINDS.len())];
    let input = spoil(dice, kind.example);
    (
        input.clone(),
        Box::new(move || {
            for kind in KINDS {
                if let Ok(si) = kind.read(&input) {
                    assert!(si.is_finite(), "{input} is {si}");
                }
            }
            let _ = Unit::read(&input);
        }),
    )
}

fn bytes<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let input = mangle(dice, c.folder.text("about.toml"));
    (format!("{input:?}"), Box::new(move || drop(load::decode(input, "fuzz"))))
}

fn table<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let file = dice.of(&["tapes.csv", "materials.csv", "pairs.csv"]);
    let input = spoil(dice, c.folder.text(file));
    (
        input.clone(),
        Box::new(move || {
            load::table("fuzz.csv", &input, &["id", "kind", "family", "name", "cures_to"], &mut Faults::default());
        }),
    )
}

fn toml<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let file = dice.of(&["criteria.toml", "cautions.toml", "jurisdictions.toml", "enquiries/s-1.toml"]);
    let input = spoil(dice, c.folder.text(file));
    (
        input.clone(),
        Box::new(move || {
            let mut faults = Faults::default();
            let mut keys = load::toml("fuzz.toml", &input, &mut faults);
            keys.tables("criterion", &mut faults);
            keys.finish(&mut faults);
        }),
    )
}

fn bibliography<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let input = spoil(dice, c.folder.text("sources.yml"));
    (
        input.clone(),
        Box::new(move || {
            let _ = load::lines_of(&input);
            load::bibliography("fuzz.yml", &input, &mut Faults::default());
        }),
    )
}

/// One file of a folder spoilt.
fn one_spoilt(dice: &mut Dice, folder: &Folder, files: &[&str]) -> (Folder, String) {
    let mut folder = folder.clone();
    let file = dice.of(files);
    let input = spoil(dice, folder.text(file));
    folder.files.insert(file.to_owned(), input.clone());
    (folder, format!("{file}:\n{input}"))
}

fn catalogue<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let files: Vec<&str> = load::NEEDED.iter().copied().chain([load::JURISDICTIONS]).collect();
    let (folder, input) = one_spoilt(dice, &c.folder, &files);
    (input, Box::new(move || drop(Catalogue::build(&folder))))
}

fn enquiry<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let files: Vec<&str> = c.shipped.enquiries().collect();
    let file = dice.of(&files);
    let input = spoil(dice, c.shipped.text(file));
    (input.clone(), Box::new(move || drop(Enquiry::read("fuzz.toml", &input, &c.shipped_catalogue))))
}

/// What reads without a fault has to be judged without a panic as well.
fn judging<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let (mut folder, mut input) =
        one_spoilt(dice, &c.folder, &["tapes.csv", "facts.csv", "pairs.csv", "criteria.toml"]);
    let asked = reshape(dice, c.folder.text("enquiries/s-1.toml"));
    if dice.below(2) == 0 {
        folder = c.folder.clone();
        input.clear();
    }
    input = format!("{input}\n{asked}");
    (
        input,
        Box::new(move || {
            let Ok(catalogue) = Catalogue::build(&folder) else { return };
            let enquiry = Enquiry::read("fuzz.toml", &asked, &catalogue)
                .or_else(|_| Enquiry::read("s-1.toml", folder.text("enquiries/s-1.toml"), &catalogue));
            let Ok(enquiry) = enquiry else { return };
            let enquiries = [enquiry];
            if let Ok(plan) = Plan::new(&catalogue, &enquiries) {
                let _ = plan.findings(0);
                let _ = plan.standings();
            }
        }),
    )
}

/// A call of every model that has an answer.
const CALLS: &[&[&str]] = &[
    &["hansen-distance", "polymer=15.9/0.1/4.7", "liquid=18.0/1.4/2.0", "radius=8.1"],
    &["interaction", "polymer=15.9/0.1/4.7", "liquid=18/1.4/2", "molar-volume=106.8 cm3/mol", "temperature=25 degC"],
    &["swelling", "molar-volume=106.8 cm3/mol", "crosslink-density=2e-4 mol/cm3", "chi=0.39", "form=affine"],
    &["swelling", "molar-volume=106.8 cm3/mol", "crosslink-density=2e-4 mol/cm3", "chi-points=0.445@0,0.82@1"],
    &["diffusivity", "reference=4e-13 m2/s", "at=25 degC", "energy=43 kJ/mol", "temperature=60 degC"],
    &["sheet-uptake", "diffusivity=4e-13 m2/s", "thickness=25 um", "time=1 h", "faces=2"],
    &["sheet-time", "diffusivity=4e-13 m2/s", "thickness=25 um", "fraction=0.9"],
    &["wicking", "radius=5 um", "tension=30 mN/m", "angle=20 deg", "viscosity=0.5 Pa s", "time=60 s", "pressure=0 kPa"],
    &["ageing-life", "index=155 degC", "halving=10 K", "temperature=175 degC"],
    &["ageing-fit", "points=7200 h@180 degC, 1800 h@200 degC, 480 h@220 degC"],
    &["life-used", "index=155 degC", "halving=10 K", "steps=100 h@175 degC, 1000 h@165 degC"],
    &["acceleration", "slope=15000 K", "reference=110 degC", "temperature=140 degC"],
    &["gap-breakdown", "gap=25 um", "pressure=101.325 kPa", "temperature=20 degC", "form=townsend"],
    &["layered-field", "voltage=1 kV", "layers=25 um/1.0, 50 um/3.3"],
    &["pd-inception", "solid=0.25 mm/3.3", "gap=25 um", "pressure=101 kPa", "temperature=20 degC", "shape=wedge"],
    &["thickness-strength", "strength=280 kV/mm", "at=25 um", "thickness=50 um", "exponent=0.5"],
    &["vapour-pressure", "temperature=40 degC"],
    &["water-solubility", "a=7.0895", "b=1567 K", "temperature=60 degC"],
    &["hydrolysis", "rate=1.83e-8 kg/mol/s", "water=0.30 mol/kg", "ester=10.4 mol/kg", "chain=20 kg/mol"],
    &[
        "helical-wrap",
        "width=20 mm",
        "overlap=0.5",
        "circumference=60 mm",
        "length=0.3 m",
        "passes=2",
        "lap-tolerance=1 mm",
    ],
    &["roll-length", "outer=120 mm", "core=76.2 mm", "thickness=65 um"],
    &["peel-angle", "energy=100 J/m2", "angle=90 deg", "modulus=4 GPa", "thickness=50 um"],
    &["convert", "value=25 lbf/in", "to=N/cm"],
];

fn model<'c>(dice: &mut Dice, _: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let call = dice.of(CALLS);
    let mut arguments: Vec<String> = call[1..].iter().map(|&a| a.to_owned()).collect();
    for _ in 0..=dice.below(2) {
        let at = dice.below(arguments.len());
        arguments[at] = match (dice.below(2), arguments[at].split_once('=')) {
            (0, Some((key, _))) => format!("{key}={}", dice.of(PIECES)),
            _ => spoil(dice, &arguments[at]),
        };
    }
    let name = call[0];
    (
        format!("{name} {arguments:?}"),
        Box::new(move || {
            if let Ok(done) = calculate::run(name, &arguments) {
                let _ = done.to_string();
                let _ = format!("{done:?}");
            }
        }),
    )
}

const ANSWERS: &[&str] = &[
    "enquiry.number=Q-1",
    "enquiry.title=t",
    "enquiry.customer=c",
    "enquiry.prepared_by=p",
    "enquiry.date=2026-11-20",
    "enquiry.jurisdiction=eu",
    "application.equipment=motor",
    "application.function=banding",
    "duty.life=20 a",
    "duty.life_basis=duty",
    "duty.load_profile=60 %@100 degC, 40 %@130 degC",
    "voltage.kind=converter",
    "voltage.dc_link=700 V",
    "voltage.overshoot=1.3",
    "voltage.other_insulation=0.05 mm/3.5",
    "winding.width=20 mm",
    "winding.passes=2",
    "exposure.1.name=a",
    "exposure.1.stage=service",
    "exposure.1.medium=air",
    "exposure.1.temperature=20 degC",
    "exposure.1.duration=1 d",
    "exposure.2.name=b",
    "exposure.2.stage=cleaning",
    "exposure.2.medium=toluene",
    "exposure.2.evaporates=yes",
    "exposure.2.temperature=20 degC",
    "exposure.2.duration=60 s",
];

fn answers<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let mut given: Vec<String> = ANSWERS.iter().map(|&a| a.to_owned()).collect();
    for _ in 0..=dice.below(3) {
        let at = dice.below(given.len());
        match dice.below(4) {
            0 => drop(given.remove(at)),
            1 => given[at] = format!("{}={}", given[at].split('=').next().unwrap_or_default(), dice.of(PIECES)),
            _ => given[at] = spoil(dice, &given[at]),
        }
    }
    (
        format!("{given:?}"),
        Box::new(move || {
            let Ok(mut answers) = Answers::of(&given) else { return };
            let complete = answers.complete(&c.catalogue).is_ok();
            let read = answers.read(&c.catalogue);
            if let (true, Ok(_)) = (complete, read) {
                Enquiry::read("again.toml", &answers.file(), &c.catalogue)
                    .unwrap_or_else(|f| panic!("{:?}", f.sorted()));
            }
            let kept = Answers::resume("kept", &answers.kept()).unwrap_or_else(|f| panic!("{:?}", f.sorted()));
            assert_eq!(kept, answers);
        }),
    )
}

fn kept<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let given: Vec<String> = ANSWERS.iter().map(|&a| a.to_owned()).collect();
    let input = spoil(dice, &Answers::of(&given).map(|a| a.kept()).unwrap_or_default());
    (
        input.clone(),
        Box::new(move || {
            if let Ok(answers) = Answers::resume("kept", &input) {
                let _ = answers.open(&c.catalogue);
                let _ = answers.read(&c.catalogue);
            }
        }),
    )
}

fn reviewed<'c>(dice: &mut Dice, c: &'c Corpus, file: &'static str) -> (String, Box<dyn FnOnce() + 'c>) {
    let mut folder = c.folder.clone();
    let input = spoil(dice, c.shipped.text(file));
    folder.files.insert(file.to_owned(), input.clone());
    (input, Box::new(move || drop(plausible::review(&folder, &c.catalogue, &[]))))
}

fn acceptances<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    reviewed(dice, c, plausible::ACCEPTED)
}

fn ranges<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    reviewed(dice, c, plausible::RANGES)
}

/// Remarks on data that read without a fault and are odd.
fn remarks<'c>(dice: &mut Dice, c: &'c Corpus) -> (String, Box<dyn FnOnce() + 'c>) {
    let (mut folder, input) = one_spoilt(dice, &c.folder, &["tapes.csv", "facts.csv", "sources.yml", "about.toml"]);
    folder.files.insert(
        plausible::RANGES.to_owned(),
        "kind,of,property,low,high,source,note\ntape,,adhesion,1 N/cm,5 N/cm,common-practice,\n".to_owned(),
    );
    (
        input,
        Box::new(move || {
            let Ok(catalogue) = Catalogue::build(&folder) else { return };
            let Ok(enquiry) = Enquiry::read("s-1.toml", folder.text("enquiries/s-1.toml"), &catalogue) else { return };
            let _ = plausible::review(&folder, &catalogue, &[enquiry]).map(|r| r.remarks.len());
        }),
    )
}

/// The name of a hostile file, the file of the data folder it stands for, and its bytes.
type Hostile = (&'static str, &'static str, fn() -> Vec<u8>);

const HOSTILE: &[Hostile] = &[
    ("100 MB on one line, csv", "facts.csv", || vec![b'a'; 100_000_000]),
    ("100 MB on one line, toml", "criteria.toml", || vec![b'a'; 100_000_000]),
    ("60 MB on one line, csv", "facts.csv", || vec![b'a'; 60_000_000]),
    ("60 MB on one line, toml", "criteria.toml", || vec![b'a'; 60_000_000]),
    ("60 MB on one line, yaml", "sources.yml", || vec![b'a'; 60_000_000]),
    ("60 MB of commas", "facts.csv", || vec![b','; 60_000_000]),
    ("60 MB of line feeds", "facts.csv", || vec![b'\n'; 60_000_000]),
    ("a million columns", "tapes.csv", || (0..1_000_000).map(|n| format!("c{n},")).collect::<String>().into_bytes()),
    ("a million ragged rows", "facts.csv", || format!("subject,property\n{}", "a\n".repeat(1_000_000)).into_bytes()),
    ("a million broken toml lines", "criteria.toml", || "x = \n".repeat(1_000_000).into_bytes()),
    ("a million unknown keys", "about.toml", || {
        (0..1_000_000).map(|n| format!("k{n} = 1\n")).collect::<String>().into_bytes()
    }),
    ("a million tables", "criteria.toml", || "[[criterion]]\n".repeat(1_000_000).into_bytes()),
    ("lists nested 200 000 deep", "criteria.toml", || format!("x = {}", "[".repeat(200_000)).into_bytes()),
    ("inline tables nested 100 000 deep", "criteria.toml", || format!("x = {}", "{a=".repeat(100_000)).into_bytes()),
    ("a key of 100 000 dots", "criteria.toml", || format!("a{} = 1", ".a".repeat(100_000)).into_bytes()),
    ("a head of 100 000 dots", "criteria.toml", || format!("[a{}]", ".a".repeat(100_000)).into_bytes()),
    ("yaml nested 200 000 deep", "sources.yml", || "[".repeat(200_000).into_bytes()),
    ("yaml aliases of aliases", "sources.yml", || {
        let first = "a0: &a0 [x,x,x,x,x,x,x,x,x,x]\n".to_owned();
        let rest = (1..30).map(|n| format!("a{n}: &a{n} [{}]\n", vec![format!("*a{}", n - 1); 10].join(",")));
        (first + &rest.collect::<String>()).into_bytes()
    }),
    ("a quote that never ends", "facts.csv", || format!("\"{}", "a,b\n".repeat(10_000_000)).into_bytes()),
    ("ten million lone quotes", "facts.csv", || vec![b'"'; 10_000_001]),
    ("NULs", "facts.csv", || vec![0; 10_000_000]),
    ("byte order marks", "facts.csv", || "\u{feff}".repeat(3_000_000).into_bytes()),
    ("UTF-16", "about.toml", || "format = \"lapwise/data/1\"".encode_utf16().flat_map(u16::to_le_bytes).collect()),
    ("carriage returns alone", "facts.csv", || "subject,property\r".repeat(1_000_000).into_bytes()),
    ("a number of a million digits", "about.toml", || format!("invented = {}", "9".repeat(1_000_000)).into_bytes()),
    ("a unit of a million signs", "facts.csv", || {
        let head = "subject,property,value,low,high,temperature,condition,basis,source,note\n";
        format!("{head}air,density,1 {},,,,,estimated,estimate,\n", "kg/".repeat(333_333)).into_bytes()
    }),
];

/// Reads a folder with one hostile file, as a command would; prints its faults, time and peak memory.
fn meet(at: usize) {
    let (_, file, bytes) = HOSTILE[at];
    let folder = tempfile::TempDir::new().unwrap_or_else(|error| panic!("{error}"));
    let small = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/small");
    for name in load::NEEDED.iter().chain([&load::JURISDICTIONS]) {
        std::fs::copy(small.join(name), folder.path().join(name)).unwrap_or_else(|error| panic!("{error}"));
    }
    std::fs::write(folder.path().join(file), bytes()).unwrap_or_else(|error| panic!("{error}"));
    let begun = Instant::now();
    let faults = match Folder::read(folder.path()).and_then(|folder| Catalogue::build(&folder)) {
        Ok(_) => 0,
        Err(faults) => faults.sorted().len(),
    };
    println!("{:.2} s, {} faults, {}", begun.elapsed().as_secs_f64(), faults, peak());
}

/// The peak memory of this process, where the system tells.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let megabytes = line.and_then(|l| l.trim().split(' ').next()?.parse::<u64>().ok()).map(|kb| kb / 1024);
    megabytes.map_or_else(|| "memory not told".to_owned(), |mb| format!("{mb} MB"))
}

/// Every hostile file in a process of its own; false if one hung, died or took too much.
fn hostile() -> bool {
    let program = std::env::current_exe().unwrap_or_else(|error| panic!("{error}"));
    let mut good = true;
    println!("\n{:<36} outcome", "hostile file");
    for (at, (name, ..)) in HOSTILE.iter().enumerate() {
        let mut child = Command::new(&program)
            .args(["meet", &at.to_string()])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|error| panic!("{error}"));
        let begun = Instant::now();
        let ended = loop {
            match child.try_wait() {
                Ok(Some(status)) => break Some(status),
                _ if begun.elapsed() > Duration::from_secs(20) => break None,
                _ => std::thread::sleep(Duration::from_millis(20)),
            }
        };
        if ended.is_none() {
            let _ = child.kill();
        }
        let out = child.wait_with_output().map(|o| String::from_utf8_lossy(&o.stdout).trim().to_owned());
        let out = out.unwrap_or_default();
        let told = match ended {
            None => "HUNG for 20 s".to_owned(),
            Some(status) if status.success() => out,
            Some(status) => format!("DIED: {status}"),
        };
        let heavy = told.rsplit(' ').nth(1).and_then(|mb| mb.parse::<u64>().ok()).is_some_and(|mb| mb > 2048);
        good &= !heavy && !told.starts_with("HUNG") && !told.starts_with("DIED");
        println!("{name:<36} {told}");
    }
    good
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    if arguments.first().is_some_and(|a| a == "meet") {
        meet(arguments.get(1).and_then(|n| n.parse().ok()).unwrap_or(0));
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
    let corpus = Corpus { folder, catalogue, shipped, shipped_catalogue };
    std::panic::set_hook(Box::new(|_| {}));
    let share = Duration::from_secs_f64(seconds as f64 / READERS.len() as f64);
    println!("{:<16} {:>10} {:>7} {:>12}", "reader", "runs", "panics", "worst ms");
    let mut panics: BTreeMap<String, (String, String)> = BTreeMap::new();
    for (at, (name, reader)) in READERS.iter().enumerate() {
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
    println!("\n{} after all readers", peak());
    let good = hostile();
    if good && panics.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
