//! The house: who may use whom, where a library may appear, what every model says of itself.

use std::fs;
use std::path::{Path, PathBuf};

/// The modules in the order a value flows, and those each may use besides the ground.
///
/// A module may use what stands before it; this table says which of that it does. A use that is
/// not listed and a listing that is not used both fail, so the table in DEVELOPERS.md is the truth.
const MAY_USE: &[(&str, &[&str])] = &[
    ("quantity", &["fault"]),
    ("evidence", &[]),
    ("fault", &["evidence"]),
    ("spread", &["evidence"]),
    ("record", &["fault"]),
    ("part", &["record"]),
    ("keep", &["fault"]),
    ("load", &["evidence", "fault", "quantity"]),
    ("catalogue", &["evidence", "fault", "load", "quantity"]),
    ("enquiry", &["catalogue", "evidence", "fault", "load", "quantity"]),
    ("models", &["quantity"]),
    ("calculate", &["evidence", "fault", "models", "quantity"]),
    ("measure", &["catalogue", "enquiry", "evidence", "models", "quantity", "spread"]),
    ("expand", &["catalogue", "enquiry", "fault", "measure", "spread"]),
    ("judge", &["catalogue", "evidence", "expand", "measure", "spread"]),
    ("plausible", &["catalogue", "enquiry", "evidence", "expand", "fault", "load", "quantity"]),
    ("rank", &["catalogue", "expand", "judge"]),
    ("settle", &["catalogue", "enquiry", "expand", "judge", "measure", "quantity"]),
    ("envelope", &["catalogue", "enquiry", "expand", "fault", "judge", "quantity", "rank"]),
    ("explain", &["catalogue", "evidence", "expand", "judge", "measure", "quantity", "rank", "settle", "spread"]),
    ("import", &["catalogue", "enquiry", "evidence", "expand", "fault", "load", "quantity"]),
    (
        "compare",
        &[
            "catalogue",
            "enquiry",
            "evidence",
            "expand",
            "explain",
            "fault",
            "import",
            "judge",
            "load",
            "quantity",
            "rank",
        ],
    ),
    ("output", &["catalogue", "enquiry", "expand", "explain", "fault", "judge", "quantity", "rank", "settle"]),
    (
        "selection",
        &["catalogue", "enquiry", "expand", "explain", "fault", "judge", "quantity", "rank", "record", "settle"],
    ),
    (
        "dossier",
        &[
            "catalogue",
            "enquiry",
            "envelope",
            "evidence",
            "expand",
            "explain",
            "fault",
            "judge",
            "keep",
            "load",
            "measure",
            "models",
            "output",
            "quantity",
            "rank",
            "record",
            "settle",
            "spread",
        ],
    ),
    ("register", &["evidence", "fault", "keep", "part", "record"]),
    (
        "regenerate",
        &[
            "catalogue",
            "compare",
            "dossier",
            "enquiry",
            "evidence",
            "expand",
            "explain",
            "fault",
            "judge",
            "load",
            "part",
            "quantity",
            "rank",
            "record",
            "register",
            "selection",
            "settle",
        ],
    ),
    ("batch", &["evidence", "fault", "part", "quantity", "record", "regenerate"]),
    (
        "cli",
        &[
            "batch",
            "calculate",
            "catalogue",
            "compare",
            "dossier",
            "enquiry",
            "envelope",
            "evidence",
            "expand",
            "explain",
            "fault",
            "import",
            "judge",
            "keep",
            "load",
            "output",
            "part",
            "plausible",
            "quantity",
            "rank",
            "record",
            "regenerate",
            "register",
            "selection",
            "settle",
        ],
    ),
];

/// Where a library or a door to the outside may appear.
const ONLY_IN: &[(&str, &[&str])] = &[
    ("polars::", &["output"]),
    ("calamine::", &["import"]),
    ("quick_xml::", &["import"]),
    ("zip::", &["import"]),
    ("minijinja::", &["dossier", "output"]),
    ("rust_xlsxwriter::", &["output"]),
    ("clap::", &["cli"]),
    ("ssh_key::", &["register", "cli"]),
    ("lopdf::", &["dossier"]),
    ("std::fs", &["keep", "load", "dossier", "register", "cli"]),
    ("std::process", &["dossier", "main"]),
    ("SystemTime", &["cli"]),
    ("Timestamp::now", &["cli"]),
    ("Zoned::now", &["cli"]),
    ("ZonedDateTime::now", &["cli"]),
];

fn sources() -> Vec<(String, PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    walk(&root, &mut |path| {
        if path.extension().is_some_and(|e| e == "rs") {
            let relative = path.strip_prefix(&root).unwrap();
            let module = relative.components().next().unwrap().as_os_str().to_string_lossy().replace(".rs", "");
            found.push((module, path.to_owned(), fs::read_to_string(path).unwrap()));
        }
    });
    found.sort();
    found
}

fn walk(folder: &Path, see: &mut impl FnMut(&Path)) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { walk(&path, see) } else { see(&path) }
    }
}

/// The text before the tests of a file.
fn code(text: &str) -> &str {
    text.split("#[cfg(test)]").next().unwrap()
}

#[test]
fn a_value_flows_one_way() {
    let order: Vec<&str> = MAY_USE.iter().map(|(module, _)| *module).collect();
    let mut wrong = Vec::new();
    for (module, allowed) in MAY_USE {
        let mut used: Vec<&str> = Vec::new();
        for (_, _, text) in sources().iter().filter(|(name, ..)| name == module) {
            for target in &order {
                let paths = [format!("crate::{target}::"), format!("crate::{target};"), format!("crate::{target}}}")];
                if target != module && paths.iter().any(|path| code(text).contains(path)) && !used.contains(target) {
                    used.push(target);
                }
            }
        }
        used.sort_unstable();
        if used != *allowed {
            wrong.push(format!("{module} uses {used:?}, the table says {allowed:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_table_is_the_one_that_developers_read() {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md")).unwrap();
    for (module, uses) in MAY_USE {
        let uses = if uses.is_empty() { "–".to_owned() } else { uses.join(", ") };
        let row = format!("| `{module}` | {uses} |");
        assert!(text.contains(&row), "DEVELOPERS.md lacks the row\n{row}");
    }
}

#[test]
fn libraries_stay_in_their_rooms() {
    let mut wrong = Vec::new();
    for (module, path, text) in sources() {
        for (library, rooms) in ONLY_IN {
            if code(&text).contains(library) && !rooms.contains(&module.as_str()) {
                wrong.push(format!("{} uses {library}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_model_function_carries_its_card() {
    let mut wrong = Vec::new();
    for (module, path, text) in sources() {
        if module != "models" || path.ends_with("mod.rs") || path.ends_with("solve.rs") {
            continue;
        }
        let lines: Vec<&str> = code(&text).lines().collect();
        for (at, line) in lines.iter().enumerate() {
            if !(line.starts_with("pub fn ") || line.starts_with("pub const fn ")) {
                continue;
            }
            let docs = lines[..at].iter().rev().take_while(|l| l.starts_with("///") || l.starts_with("#["));
            if !docs.into_iter().any(|l| l.contains("_card!()]")) {
                wrong.push(format!("{}: {line}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_fault_code_has_a_test() {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it");
    let mut all = String::new();
    walk(&tests, &mut |path| {
        if !path.ends_with("house.rs") {
            all.push_str(&fs::read_to_string(path).unwrap_or_default());
        }
    });
    let untested: Vec<&str> =
        lapwise::fault::Code::ALL.iter().map(|code| code.text()).filter(|text| !all.contains(text)).collect();
    assert!(untested.is_empty(), "no test shows {untested:?}");
}

#[test]
fn every_path_that_the_documents_name_exists() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut wrong = Vec::new();
    for document in ["README.md", "DEVELOPERS.md"] {
        let text = fs::read_to_string(root.join(document)).unwrap();
        for named in text.split('`').skip(1).step_by(2) {
            let is_path =
                ["src/", "tests/", "templates/", "matrices/", ".ci/"].iter().any(|start| named.starts_with(start));
            let plain = named.chars().all(|c| c.is_ascii_alphanumeric() || "/._-".contains(c));
            if is_path && plain && !root.join(named).exists() {
                wrong.push(format!("{document} names {named}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
