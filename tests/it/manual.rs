//! The manual is true: every command of README.md and matrices/README.md is run, in order, in a scratch copy.
//!
//! A block of `sh` is run line by line. A block of `text` right below it is what its last line prints, `…` standing for
//! anything. A block of another language is saved under the name that the sentence before it quotes.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

use crate::story::copy;

const MANUALS: [&str; 2] = ["README.md", "matrices/README.md"];

/// Commands that are not run here, by how they start, and where they are instead.
const ELSEWHERE: &[(&str, Elsewhere)] = &[
    // This is that command.
    ("cargo test", Elsewhere::Gate),
    ("python3 tests/", Elsewhere::Gate),
];

enum Elsewhere {
    /// The line, or its script, stands in `.ci/run`.
    Gate,
}

/// Commands that answer to something amiss: the change that brings it about, as below.
const PREPARED: &[(&str, Change)] = &[
    ("lapwise accept", ("tapes.csv", 3, "temperature_index", "400 degF")),
    ("lapwise regenerate --register register --dry-run", ("facts.csv", TENSILE, "value", "60 lbf/in")),
    ("lapwise regenerate --register register --dry-run", ("facts.csv", TENSILE, "low", "50 lbf/in")),
    ("lapwise regenerate --register register --dry-run", ("facts.csv", TENSILE, "high", "70 lbf/in")),
];

/// The line of the tensile force of H-111.
const TENSILE: usize = 894;

/// A cell changed: file, line, column, what it becomes.
type Change = (&'static str, usize, &'static str, &'static str);

/// Texts that show a fault or a remark, and the change that brings it about.
const SHOWN: &[(&str, Change)] = &[
    ("a force per length", ("tapes.csv", 14, "total_thickness", "0.18 N/m")),
    ("(unit-slip)", ("tapes.csv", 4, "tensile", "420 N/cm")),
];

struct Block {
    language: String,
    text: String,
    line: usize,
    /// The last quoted name before the block.
    named: Option<String>,
    /// Nothing but blank lines stands between this block and the one before.
    follows: bool,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn blocks(manual: &str) -> Vec<Block> {
    let text = fs::read_to_string(root().join(manual)).unwrap();
    let (mut blocks, mut open, mut before, mut follows) = (Vec::<Block>::new(), false, String::new(), false);
    for (at, line) in text.lines().enumerate() {
        match line.strip_prefix("```") {
            Some(language) if !open => {
                let named = before.rsplit('`').nth(1).map(str::to_owned);
                blocks.push(Block { language: language.to_owned(), text: String::new(), line: at + 1, named, follows });
                open = true;
            }
            Some(_) => (open, follows) = (false, true),
            None if open => {
                let block = blocks.last_mut().unwrap();
                block.text.push_str(line);
                block.text.push('\n');
            }
            None if line.trim().is_empty() => {}
            None => {
                line.clone_into(&mut before);
                follows = false;
            }
        }
    }
    assert!(!open, "{manual}: a block that does not end");
    blocks
}

/// The commands of a block, each with the exit code that its comment tells; lines that end in a backslash joined.
fn commands(text: &str) -> Vec<(String, i32)> {
    let joined = text.replace("\\\n", " ");
    let told = |line: &str| {
        let (command, comment) = line.split_once(" # ").unwrap_or((line, ""));
        let code = comment.split_once("exit code ").map_or(0, |(_, code)| code.trim().parse().unwrap());
        (command.trim().to_owned(), code)
    };
    joined.lines().filter(|line| !line.trim().is_empty()).map(told).collect()
}

/// A copy of what a person has who reads the manual: the project without its sources, and `lapwise` on the path.
fn scratch() -> (TempDir, String) {
    let folder = TempDir::new().unwrap();
    for name in ["matrices", "templates", "tests/fixtures", "tests/examples", "out"] {
        copy(&root().join(name), &folder.path().join(name));
    }
    let bin = folder.path().join("bin");
    fs::create_dir(&bin).unwrap();
    symlink(env!("CARGO_BIN_EXE_lapwise"), bin.join("lapwise")).unwrap();
    let path = format!("{}:{}", bin.display(), std::env::var("PATH").unwrap());
    (folder, path)
}

/// Runs a line of a manual; what it printed on either stream, and its exit code.
fn run(folder: &Path, path: &str, line: &str) -> (i32, String) {
    let line = line.replace("cargo run --release -- ", "lapwise ");
    // Nobody is there to be asked for a passphrase.
    let line = line.replace("ssh-keygen -t", "ssh-keygen -q -N '' -t");
    let output = Command::new("bash")
        .args(["-c", &line])
        .current_dir(folder)
        .env_clear()
        .envs(std::env::vars().filter(|(n, _)| ["HOME", "XDG_CACHE_HOME", "LAPWISE_TYPST"].contains(&n.as_str())))
        .env("PATH", path)
        .env("LAPWISE_STATE", folder.join("state"))
        .stdin(std::process::Stdio::null())
        .output()
        .unwrap();
    let said = [output.stdout, output.stderr].concat();
    (output.status.code().unwrap_or(-1), String::from_utf8_lossy(&said).into_owned())
}

/// Whether a shown text stands in a printed one; `…` stands for anything.
fn shows(printed: &str, shown: &str) -> bool {
    let mut rest = printed;
    shown.trim_end().split('…').all(|part| {
        let found = rest.find(part);
        rest = found.map_or("", |at| &rest[at + part.len()..]);
        found.is_some()
    })
}

#[test]
fn every_command_of_the_manuals_runs_and_prints_what_they_show() {
    crate::page::typst();
    let gate = fs::read_to_string(root().join(".ci/run")).unwrap();
    let mut wrong = Vec::new();
    for manual in MANUALS {
        let (folder, path) = scratch();
        let (mut printed, mut last) = (String::new(), String::new());
        for block in blocks(manual) {
            let place = format!("{manual} line {}", block.line);
            match block.language.as_str() {
                "sh" => {
                    printed.clear();
                    for (line, expected) in commands(&block.text) {
                        if let Some((start, Elsewhere::Gate)) = ELSEWHERE.iter().find(|(s, _)| line.starts_with(s)) {
                            let script = line
                                .split_whitespace()
                                .find(|word| word.rsplit('.').next() == Some("py"))
                                .unwrap_or(start);
                            if !gate.contains(script.trim_start_matches("cargo ")) {
                                wrong.push(format!("{place}: the gate does not run `{line}`"));
                            }
                            continue;
                        }
                        for (_, change) in PREPARED.iter().filter(|(start, _)| line.starts_with(start)) {
                            changed(folder.path(), *change);
                        }
                        let (code, said) = run(folder.path(), &path, &line);
                        if code != expected {
                            wrong.push(format!("{place}: `{line}` ends with {code}\n{said}"));
                        }
                        printed.push_str(&said);
                        last = said;
                    }
                }
                "text" if block.follows => {
                    if !shows(&last, &block.text) {
                        wrong.push(format!("{place} shows\n{}\nand this is printed\n{last}", block.text));
                    }
                }
                // Seven kept selections stand behind it; the tests of that command hold its words.
                "text" if block.text.contains("2 overturned, 5 restated") => {}
                "text" => {
                    if !shows(&printed, &block.text) && !told_by_a_change(&block.text) {
                        wrong.push(format!("{place} shows what nothing prints\n{}\nbut\n{printed}", block.text));
                    }
                }
                // A query for a program that reads what was written.
                "sql" => {}
                "" => wrong.push(format!("{place}: a block without a language")),
                _ => match &block.named {
                    Some(name) => fs::write(folder.path().join(name), &block.text).unwrap(),
                    None => wrong.push(format!("{place}: a file without a name before it")),
                },
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// Changes a cell of the data folder of a scratch copy.
fn changed(folder: &Path, (file, line, column, cell): Change) {
    let table = folder.join("matrices").join(file);
    let before = fs::read_to_string(&table).unwrap();
    let mut rows: Vec<csv::StringRecord> = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(before.as_bytes())
        .records()
        .map(Result::unwrap)
        .collect();
    let at = rows[0].iter().position(|name| name == column).unwrap();
    let row = rows[line - 1].iter().enumerate().map(|(n, old)| if n == at { cell } else { old }).collect();
    rows[line - 1] = row;
    let mut writer = csv::Writer::from_path(&table).unwrap();
    for row in &rows {
        writer.write_record(row).unwrap();
    }
    writer.flush().unwrap();
}

/// Whether `check` prints a text once a cell is changed as the table above says.
fn told_by_a_change(text: &str) -> bool {
    let Some((_, change)) = SHOWN.iter().find(|(words, _)| text.contains(words)) else { return false };
    let (folder, path) = scratch();
    changed(folder.path(), *change);
    shows(&run(folder.path(), &path, "lapwise check").1, text)
}

/// Quoted commands in a sentence or a table name commands and flags that there are.
#[test]
fn commands_that_are_only_named_exist() {
    let mut wrong = Vec::new();
    let (folder, path) = scratch();
    let mut helps = std::collections::BTreeMap::<String, (i32, String)>::new();
    for manual in MANUALS.iter().copied().chain(["DEVELOPERS.md"]) {
        let text = fs::read_to_string(root().join(manual)).unwrap();
        let prose: String = text.split("```").step_by(2).collect();
        for quoted in prose.split('`').skip(1).step_by(2) {
            let Some(rest) = quoted.strip_prefix("lapwise ") else { continue };
            let words: Vec<&str> = rest.split_whitespace().collect();
            let is_command = |w: &&&str| w.chars().all(|c| c.is_ascii_lowercase() || c == '-') && !w.starts_with('-');
            let deep = if ["register", "enquiry", "evidence"].contains(&words[0]) { 2 } else { 1 };
            let command: Vec<&str> = words.iter().take(deep).take_while(is_command).copied().collect();
            let command = command.join(" ");
            let help = if command == "help" { "lapwise help".to_owned() } else { format!("lapwise {command} --help") };
            let (code, said) = helps.entry(command.clone()).or_insert_with(|| run(folder.path(), &path, &help)).clone();
            if code != 0 {
                wrong.push(format!("{manual}: no command `{command}`, in `{quoted}`"));
            }
            for flag in words.iter().filter(|w| w.starts_with("--") && w.len() > 2) {
                if !said.contains(flag.trim_end_matches(['.', ','])) {
                    wrong.push(format!("{manual}: `{command}` has no {flag}, in `{quoted}`"));
                }
            }
        }
    }
    assert!(helps.len() > 15, "{}", helps.len());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The pictures are there, small, described, and remade by one script.
#[test]
fn pictures_are_small_and_described() {
    let text = fs::read_to_string(root().join("README.md")).unwrap();
    let script = fs::read_to_string(root().join("tests/pictures/remake.sh")).unwrap();
    let mut named: Vec<PathBuf> = Vec::new();
    for picture in text.split("![").skip(1) {
        let (alternative, rest) = picture.split_once("](").unwrap();
        let path = rest.split(')').next().unwrap();
        assert!(alternative.len() > 40, "{path} needs a description");
        let size = fs::metadata(root().join(path)).unwrap().len();
        assert!(size <= 150 << 10, "{path} has {size} bytes");
        assert!(script.contains(path.trim_end_matches(".png")), "{path} is not remade");
        named.push(root().join(path));
    }
    let there = fs::read_dir(root().join("tests/pictures")).unwrap().map(|entry| entry.unwrap().path());
    let mut there: Vec<PathBuf> = there.filter(|p| p.extension().is_some_and(|e| e == "png")).collect();
    there.sort();
    named.sort();
    assert_eq!(named, there);
}
