//! `lapwise import`: a table as people have it, into the data folder.

mod told;

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{End, Here, Outcome, commit, say};
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::import::{self, Certainty, Fate, Imported, Map, Order, Sheet, Stated, Target};
use crate::load;
use crate::record::sha256;

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Into {
    /// One tape a row
    Tapes,
    /// Properties of tapes or materials
    Facts,
    /// Properties of a material in a medium
    Pairs,
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise import list.xlsx --basis published --dry-run")]
pub(super) struct Arguments {
    /// A table: .xlsx, .ods, or text with commas, semicolons or tabs
    file: PathBuf,
    /// The sheet, by name or number, where a file has several tables
    #[arg(long, value_name = "NAME")]
    sheet: Option<String>,
    /// What the columns mean; without it FILE.map.toml beside the table, written if it is not there
    #[arg(long, value_name = "MAP.toml")]
    map: Option<PathBuf>,
    /// The table of the data folder that rows go into
    #[arg(long, value_enum)]
    into: Option<Into>,
    /// How good the numbers are: measured, published, estimated, from-memory
    #[arg(long, value_name = "WORD")]
    basis: Option<String>,
    /// The key in sources.yml of the work the table is; without it the table itself is entered there
    #[arg(long, value_name = "KEY")]
    source: Option<String>,
    /// Show what would happen and write nothing
    #[arg(long)]
    dry_run: bool,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    file: String,
    sheet: Option<String>,
    into: Target,
    /// True if the table has one column a tape: then a row is told by the number of its column.
    turned: bool,
    /// The map file that was read or written.
    map: String,
    map_is: &'static str,
    columns: Vec<ColumnLine>,
    constants: BTreeMap<String, String>,
    counts: Counts,
    rows: Vec<RowLine>,
    /// Rows that are none of the table: notes, footnotes, heads again.
    beside: Vec<BesideLine>,
    diagnostics: Vec<Fault>,
    dry_run: bool,
    /// The files that were written, or would be.
    files: Vec<String>,
    next: String,
}

#[derive(Serialize, JsonSchema)]
struct ColumnLine {
    letter: String,
    head: String,
    to: Option<String>,
    unit: Option<String>,
    decimal: Option<&'static str>,
    certainty: Certainty,
    /// What it may be, where that is not sure.
    perhaps: Option<String>,
    hidden: bool,
}

/// The rows of the table; `rows` is the sum of the others.
#[derive(Clone, Copy, Serialize, JsonSchema)]
struct Counts {
    rows: usize,
    added: usize,
    revised: usize,
    unchanged: usize,
    refused: usize,
}

#[derive(Serialize, JsonSchema)]
struct RowLine {
    row: usize,
    key: String,
    fate: Fate,
    revision: Option<String>,
    differs: Vec<Differs>,
    remarks: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
struct Differs {
    column: String,
    before: String,
    after: String,
}

#[derive(Serialize, JsonSchema)]
struct BesideLine {
    row: usize,
    text: String,
    why: &'static str,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let name = arguments.file.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let bytes = load::read_bytes(&arguments.file, &name)?;
    let digest = sha256(&bytes);
    let sheets = import::read_sheets(&name, &bytes)?;
    let (folder, catalogue) = here.catalogue()?;
    import::whole(&folder)?;
    let map_path = arguments.map.clone().unwrap_or_else(|| beside(&arguments.file));
    let map_name = map_path.display().to_string();
    let (map, sheet, is_new) = if map_path.exists() {
        let (map, sheet) = told(&sheets, &map_path, &map_name, arguments)?;
        (map, sheet, false)
    } else {
        let map =
            import::guess(&sheets, &stated(arguments), &catalogue, &import::Wordings::read(&folder, &catalogue)?)?;
        let sheet = import::sheet_of(&sheets, &map)?;
        (map, sheet, true)
    };
    let order = Order { sheet: &sheet, map: &map, map_name: &map_name, sha256: &digest };
    let imported = import::import(&folder, &catalogue, order, commit::kept(&folder.root))?;
    if !arguments.dry_run {
        if is_new {
            crate::keep::text(&map_path, &import::write_map(&map)).map_err(End::Environment)?;
        }
        commit::write(&folder, &imported.files)?;
    }
    let map_is = match (is_new, arguments.dry_run) {
        (false, _) => "read",
        (true, false) => "written",
        (true, true) => "not written",
    };
    let document = document(arguments, &map, &map_name, map_is, imported);
    let refused = document.counts.refused;
    if here.json {
        say::json(&document)?;
    } else {
        told::tell(&document)?;
    }
    if refused > 0 { Err(End::Reported(1)) } else { Ok(()) }
}

/// The map's own place: beside the table, under its name.
fn beside(file: &Path) -> PathBuf {
    file.with_extension("map.toml")
}

fn stated(arguments: &Arguments) -> Stated {
    let mut constants = BTreeMap::new();
    for (column, value) in [("basis", &arguments.basis), ("source", &arguments.source)] {
        if let Some(value) = value {
            constants.insert(column, value.clone());
        }
    }
    let target = arguments.into.map(|into| match into {
        Into::Tapes => Target::Tapes,
        Into::Facts => Target::Facts,
        Into::Pairs => Target::Pairs,
    });
    Stated { sheet: arguments.sheet.clone(), target, constants }
}

/// A map that is there; what the command line states comes before it.
fn told<'s>(
    sheets: &'s [Sheet],
    path: &Path,
    name: &str,
    arguments: &Arguments,
) -> Result<(Map, Cow<'s, Sheet>), Faults> {
    let text = load::read_text(path, name)?;
    let (mut map, letters) = import::read_map(name, &text)?;
    let stated = stated(arguments);
    if let Some(target) = stated.target.filter(|target| *target != map.target) {
        return Err(Fault::new(
            Code::ArgumentUnknown,
            format!("--into {}, and the map is for {}", target.text(), map.target.text()),
            "one of the two",
            "leave out --into, or name another map with --map",
        )
        .at(Place::file(name))
        .into());
    }
    map.sheet = stated.sheet.or(map.sheet);
    map.constants.extend(stated.constants);
    let sheet = import::fit(sheets, &mut map, &letters)?;
    Ok((map, sheet))
}

fn document(arguments: &Arguments, map: &Map, map_name: &str, map_is: &'static str, imported: Imported) -> Document {
    let count = |fate| imported.count(fate);
    let counts = Counts {
        rows: imported.rows.len(),
        added: count(Fate::Added),
        revised: count(Fate::Revised),
        unchanged: count(Fate::Unchanged),
        refused: count(Fate::Refused),
    };
    let file = arguments.file.display().to_string();
    let next = next(&file, map_name, map, counts, arguments.dry_run);
    let some = |text: &String| (!text.is_empty()).then(|| text.clone());
    Document {
        schema: "lapwise/import/1",
        file,
        sheet: map.sheet.clone(),
        into: map.target,
        turned: map.turned,
        map: map_name.to_owned(),
        map_is,
        columns: map
            .columns
            .iter()
            .map(|c| ColumnLine {
                letter: import::mark(c.index, map.turned),
                head: c.head.clone(),
                to: some(&c.to),
                unit: c.unit.clone().filter(|_| c.is_used()),
                decimal: c.marks.decimal.filter(|_| c.is_used()).map(import::Decimal::text),
                certainty: c.certainty,
                perhaps: some(&c.perhaps),
                hidden: c.hidden,
            })
            .collect(),
        constants: map.constants.iter().map(|(column, value)| ((*column).to_owned(), value.clone())).collect(),
        counts,
        rows: imported
            .rows
            .into_iter()
            .map(|row| RowLine {
                row: row.row + 1,
                key: row.key,
                fate: row.fate,
                revision: row.revision,
                differs: row
                    .differs
                    .into_iter()
                    .map(|(column, before, after)| Differs { column, before, after })
                    .collect(),
                remarks: row.remarks,
            })
            .collect(),
        beside: imported.beside.into_iter().map(|b| BesideLine { row: b.row + 1, text: b.text, why: b.why }).collect(),
        diagnostics: imported.faults,
        dry_run: arguments.dry_run,
        files: imported.files.into_iter().map(|(name, _)| name).collect(),
        next,
    }
}

/// What to run after this, in one line.
fn next(file: &str, map: &str, of: &Map, counts: Counts, dry_run: bool) -> String {
    let changed = counts.added + counts.revised > 0;
    if counts.refused > 0 {
        let what = if dry_run { "the same without --dry-run" } else { &format!("lapwise import {file} --map {map}") };
        return format!("mend the table or {map}, then {what}");
    }
    match (changed, dry_run) {
        (true, true) => "the same without --dry-run".to_owned(),
        (true, false) => match of.target {
            Target::Tapes => "lapwise check, then lapwise rank on an enquiry the tapes should serve".to_owned(),
            Target::Facts | Target::Pairs => "lapwise check, then lapwise matrix on an enquiry they touch".to_owned(),
        },
        (false, _) => "nothing; the data hold all of it".to_owned(),
    }
}
