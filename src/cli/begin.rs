//! `lapwise begin`: a data folder of one's own, with all that is not invented in it and no tape yet.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{Here, Outcome, say};
use crate::catalogue::TAPE_COLUMNS;
use crate::fault::{Code, Fault};
use crate::keep::{UNFINISHED, unwritable};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise begin own --owner \"Our works\"")]
pub(super) struct Arguments {
    /// The folder to make; it must not be there, or be empty
    folder: PathBuf,
    /// Whose catalogue it is
    #[arg(long)]
    owner: String,
    /// The day of the data, as 2026-11-20; today without it
    #[arg(long, value_name = "DATE")]
    date: Option<jiff::civil::Date>,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    folder: String,
    /// The files that were written.
    files: Vec<String>,
    next: String,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

macro_rules! shipped {
    ($($name:literal),+ $(,)?) => { &[$(($name, include_str!(concat!("../../matrices/", $name)))),+] };
}

/// What a catalogue of anybody's can start from.
const SHIPPED: &[(&str, &str)] = shipped![
    "README.md",
    "materials.csv",
    "facts.csv",
    "pairs.csv",
    "sources.yml",
    "criteria.toml",
    "cautions.toml",
    "jurisdictions.toml",
    "ranges.csv",
    "wordings.csv",
    "schema/criteria.json",
    "schema/enquiry.json",
];

/// The paragraph of the shipped README that holds for the demonstration only.
const DEMONSTRATION: &str = "This copy is a **demonstration**";

/// The basis that only a demonstration knows.
const INVENTED: &str = "invented";

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let folder = &arguments.folder;
    if fs::read_dir(folder).map_or_else(|_| folder.exists(), |mut entries| entries.next().is_some()) {
        let found = format!("`{}`, with something in it", folder.display());
        return Err(
            Fault::new(Code::FolderExists, found, "a folder that is new or empty", "name another folder").into()
        );
    }
    let date = arguments.date.unwrap_or_else(|| jiff::ZonedDateTime::now().date());
    let mut files =
        vec![("about.toml", about(&arguments.owner, date)), ("tapes.csv", format!("{}\n", TAPE_COLUMNS.join(",")))];
    files.extend(SHIPPED.iter().map(|(name, text)| (*name, of_anybody(name, text))));
    whole(folder, &files).map_err(|error| super::End::Environment(unwritable(folder, &error)))?;
    let shown = folder.display();
    let next = format!("fill in `{shown}/tapes.csv`, or `lapwise import TABLE --data {shown}`; then `lapwise check`");
    if here.json {
        let files = files.iter().map(|(name, _)| (*name).to_owned()).collect();
        say::json(&Document { schema: "lapwise/begin/1", folder: shown.to_string(), files, next })?;
        return Ok(());
    }
    say::line(&format!("{shown}: {} files; materials, media and criteria are there, no tape yet", files.len()))?;
    say::line(&format!("next: {next}"))?;
    Ok(())
}

/// Fills a folder, or leaves it as it was: one that lacks a file serves nobody, and would be in the way of the next try.
fn whole(folder: &Path, files: &[(&str, String)]) -> std::io::Result<()> {
    fs::create_dir_all(folder)?;
    let staged = tempfile::Builder::new().prefix(UNFINISHED).tempdir_in(folder)?;
    for part in ["enquiries", "schema"] {
        fs::create_dir(staged.path().join(part))?;
    }
    for (name, text) in files {
        fs::write(staged.path().join(name), text)?;
    }
    for entry in fs::read_dir(staged.path())? {
        let entry = entry?;
        fs::rename(entry.path(), folder.join(entry.file_name()))?;
    }
    Ok(())
}

fn about(owner: &str, date: jiff::civil::Date) -> String {
    let owner = toml::Value::String(owner.to_owned());
    let (year, month) = (date.year(), date.month());
    format!(
        "# What this data folder is. Raise the version with every change that goes out.\n\
         format = \"lapwise/data/1\"\nversion = \"{year}.{month:02}\"\ndate = {date}\nowner = {owner}\ninvented = false\n"
    )
}

/// A shipped file without what is invented in it.
fn of_anybody(name: &str, text: &str) -> String {
    match name {
        "README.md" => text.split("\n\n").filter(|part| !part.contains(DEMONSTRATION)).collect::<Vec<_>>().join("\n\n"),
        "sources.yml" => entries(text).filter(|entry| !entry.contains("\n  note: \"invented")).collect(),
        "facts.csv" | "pairs.csv" => real_rows(text),
        _ => text.to_owned(),
    }
}

/// The entries of a bibliography, each with its lines; comments go with what follows.
fn entries(text: &str) -> impl Iterator<Item = &str> {
    let heads = text.match_indices('\n').map(|(at, _)| at + 1);
    let heads = heads.filter(|at| text[*at..].starts_with(|first: char| first.is_alphanumeric()));
    let starts: Vec<usize> = std::iter::once(0).chain(heads).chain([text.len()]).collect();
    starts.windows(2).map(|ends| &text[ends[0]..ends[1]]).collect::<Vec<_>>().into_iter()
}

/// The rows of a table whose basis is not that of a demonstration, as they are written.
fn real_rows(text: &str) -> String {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    let (mut kept, mut basis, mut from) = (String::new(), None, 0);
    while reader.read_record(&mut record).unwrap_or(false) {
        let to = usize::try_from(reader.position().byte()).unwrap_or(text.len());
        let column = *basis.get_or_insert_with(|| record.iter().position(|head| head == "basis").unwrap_or(0));
        if record.get(column) != Some(INVENTED) {
            kept.push_str(&text[from..to]);
        }
        from = to;
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_invented_stays_behind() {
        for (name, text) in SHIPPED.iter().filter(|(name, _)| ["facts.csv", "pairs.csv", "sources.yml"].contains(name))
        {
            let kept = of_anybody(name, text);
            assert!(!kept.contains(",invented,") && !kept.contains("\ninvented-"), "{name}");
            assert!(kept.lines().all(|line| text.contains(line)), "{name}");
        }
        let readme = of_anybody("README.md", SHIPPED[0].1);
        assert!(SHIPPED[0].1.contains(DEMONSTRATION) && !readme.contains(DEMONSTRATION));
        assert_eq!(
            real_rows("a,basis\n\"x\ny\",published\nz,invented\nw,measured\n"),
            "a,basis\n\"x\ny\",published\nw,measured\n"
        );
    }

    #[test]
    fn an_owner_with_quotes_is_a_text_still() {
        let text = about("The \"old\" \\ works\n", jiff::civil::date(2026, 11, 20));
        let table: toml::Table = text.parse().unwrap();
        assert_eq!(table["owner"].as_str(), Some("The \"old\" \\ works\n"));
    }
}
