//! Files made to harm: each met in a process of its own, with its time and its peak memory.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use lapwise::catalogue::Catalogue;
use lapwise::dossier::proof;
use lapwise::fault::Faults;
use lapwise::import;
use lapwise::load::{self, Folder};

use crate::bombs;

/// The name of a hostile file, the file of the data folder it stands for, and its bytes.
pub(crate) type Hostile = (&'static str, &'static str, fn() -> Vec<u8>);

pub(crate) const HOSTILE: &[Hostile] = &[
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
    ("100 MB of text to import", "list.csv", || vec![b'a'; 100_000_000]),
    ("60 MB of commas to import", "list.csv", || vec![b','; 60_000_000]),
    ("60 MB of line feeds to import", "list.csv", || vec![b'\n'; 60_000_000]),
    ("60 MB of short rows to import", "list.csv", || "a,b\n".repeat(15_000_000).into_bytes()),
    ("a million quotes to import", "list.csv", || "\"\n".repeat(1_000_000).into_bytes()),
    ("half a pair of UTF-16", "list.csv", || vec![0xff, 0xfe, 0x00, 0xd8, 0x61, 0x00]),
    ("a sheet of 2 GB, packed", "list.xlsx", || bombs::noughts(2048)),
    ("a cell in the last row and column", "list.xlsx", || {
        bombs::workbook(&format!("{}{}", bombs::lone(1, "A1"), bombs::lone(1_048_576, "XFD1048576")), &[])
    }),
    ("a million rows of one cell", "list.xlsx", || {
        bombs::workbook(&(1..=1_000_000).map(|n| bombs::lone(n, &format!("A{n}"))).collect::<String>(), &[])
    }),
    ("10^18 texts promised", "list.xlsx", || {
        let texts = bombs::listed("sst", "<si><t>a</t></si>", 1, "uniqueCount=\"1000000000000000000\"");
        bombs::workbook(&bombs::lone(1, "A1"), &[("xl/sharedStrings.xml", &texts)])
    }),
    ("ten million texts", "list.xlsx", || {
        let texts = bombs::listed("sst", "<si/>", 10_000_000, "");
        bombs::workbook(&bombs::lone(1, "A1"), &[("xl/sharedStrings.xml", &texts)])
    }),
    ("ten million styles", "list.xlsx", || {
        let styles = format!("<cellXfs>{}</cellXfs>", "<xf/>".repeat(10_000_000));
        let styles = bombs::listed("styleSheet", &styles, 1, "");
        bombs::workbook(&bombs::lone(1, "A1"), &[("xl/styles.xml", &styles)])
    }),
    ("a row repeated a million times", "list.ods", || {
        let cell = "<table:table-cell office:value-type=\"float\" office:value=\"1\" table:number-columns-repeated=\"16384\"/>";
        bombs::open_document(&format!(
            "<table:table-row table:number-rows-repeated=\"1048576\">{cell}</table:table-row>"
        ))
    }),
    ("a hundred thousand wide rows", "list.ods", || {
        let cell = "<table:table-cell office:value-type=\"float\" office:value=\"1\" table:number-columns-repeated=\"16384\"/>";
        bombs::open_document(&format!("<table:table-row>{cell}</table:table-row>").repeat(100_000))
    }),
    ("20 000 parts", "list.xlsx", || {
        let names: Vec<String> = (0..20_000).map(|n| format!("xl/a{n}.xml")).collect();
        let parts: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b"<a/>"[..])).collect();
        bombs::workbook(&bombs::lone(1, "A1"), &parts)
    }),
    ("markup nested 200 000 deep", "list.xlsx", || bombs::workbook(&"<row>".repeat(200_000), &[])),
    ("a PDF with a file of 2 GB, packed", "file.pdf", || bombs::pdf_of_noughts(2048)),
    ("a PDF nested 200 000 deep", "file.pdf", || {
        let deep = format!("%PDF-1.7\n1 0 obj\n{}", "[".repeat(200_000));
        format!("{deep}\nendobj\ntrailer\n<< /Root 1 0 R >>\nstartxref\n9\n%%EOF\n").into_bytes()
    }),
];

/// Reads a folder with one hostile file, as a command would; prints its faults, time and peak memory.
pub(crate) fn meet(at: usize) {
    let (_, file, bytes) = HOSTILE[at];
    if ["list", "file"].iter().any(|start| file.starts_with(start)) {
        return alone(file, bytes);
    }
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

/// Reads a table or a PDF as a command would that was given it.
fn alone(name: &str, bytes: fn() -> Vec<u8>) {
    let folder = tempfile::TempDir::new().unwrap_or_else(|error| panic!("{error}"));
    let path = folder.path().join(name);
    std::fs::write(&path, bytes()).unwrap_or_else(|error| panic!("{error}"));
    let (begun, before) = (Instant::now(), peak());
    let read = load::read_bytes(&path, name).map_err(Into::into);
    let faults: Result<(), Faults> = read.and_then(|bytes| match name {
        "file.pdf" => proof::prove(&bytes).map(drop),
        _ => import::read_sheets(name, &bytes).map(drop).map_err(Into::into),
    });
    let faults = faults.err().map_or(0, |faults| faults.sorted().len());
    println!("{:.2} s, {faults} faults, {before} before, {}", begun.elapsed().as_secs_f64(), peak());
}

/// The peak memory of this process, where the system tells.
pub(crate) fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let megabytes = line.and_then(|l| l.trim().split(' ').next()?.parse::<u64>().ok()).map(|kb| kb / 1024);
    megabytes.map_or_else(|| "memory not told".to_owned(), |mb| format!("{mb} MB"))
}

/// Every hostile file in a process of its own; false if one hung, died or took too much.
pub(crate) fn all() -> bool {
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
