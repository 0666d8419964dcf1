//! `lapwise evidence add`: a test report into the data folder, and what it settles or overturns.

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, Subcommand};
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::table::Table;
use super::{Here, Outcome, commit, say};
use crate::compare::{self, Move, Moved};
use crate::evidence::Place;
use crate::fault::{Code, Fault};
use crate::import::{self, Entered, Report, Target};
use crate::judge::Verdict;
use crate::load;
use crate::record::sha256;

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise evidence add --help")]
pub(super) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// A result of a test report, and at once which enquiries it settles or overturns
    Add(Add),
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise evidence add --tape H-012 --in natural-ester --property adhesion_kept \
                        --before \"2.4 N/cm\" --after \"2.0 N/cm\" --temperature \"105 degC\" --duration \"500 h\" \
                        --report 26-041 --laboratory \"Skerrow Tapes (invented)\" --date 2026-11-20 --dry-run")]
struct Add {
    /// The tape that was tested
    #[arg(long, value_name = "TAPE", required_unless_present = "material", conflicts_with = "material")]
    tape: Option<String>,
    /// The material that was tested
    #[arg(long, value_name = "MATERIAL")]
    material: Option<String>,
    /// The medium it was tested in; without it the result is of the tape or material by itself
    #[arg(long = "in", value_name = "MEDIUM")]
    medium: Option<String>,
    /// What was found: a property of pairs.csv or facts.csv
    #[arg(long)]
    property: String,
    /// What changes: on-material or on-medium; without it the property's own direction
    #[arg(long, value_name = "WORD")]
    effect: Option<String>,
    /// The result, with its unit
    #[arg(long, allow_hyphen_values = true)]
    value: Option<String>,
    /// The 5th percentile
    #[arg(long, allow_hyphen_values = true)]
    low: Option<String>,
    /// The 95th percentile
    #[arg(long, allow_hyphen_values = true)]
    high: Option<String>,
    /// What was measured before, of a property that is a ratio
    #[arg(long)]
    before: Option<String>,
    /// What was measured after
    #[arg(long)]
    after: Option<String>,
    /// The temperature of the test
    #[arg(long, allow_hyphen_values = true)]
    temperature: Option<String>,
    /// How long it took
    #[arg(long)]
    duration: Option<String>,
    /// The relative humidity
    #[arg(long)]
    humidity: Option<String>,
    /// What surrounded it: air, nitrogen, vacuum, sealed-liquid
    #[arg(long)]
    atmosphere: Option<String>,
    /// What else goes with a result of a tape or material by itself
    #[arg(long)]
    condition: Option<String>,
    /// The number of the report
    #[arg(long, value_name = "NUMBER")]
    report: Option<String>,
    /// Who tested
    #[arg(long)]
    laboratory: Option<String>,
    /// The title of the report
    #[arg(long)]
    title: Option<String>,
    /// The day of the report
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<String>,
    /// The file of the report; its name and SHA-256 digest are kept, not the file
    #[arg(long)]
    file: Option<PathBuf>,
    /// The key in sources.yml; without it made from the number
    #[arg(long, value_name = "KEY")]
    source: Option<String>,
    /// How good the number is
    #[arg(long, value_name = "WORD", default_value = "measured")]
    basis: String,
    /// Specimens, control, anything else
    #[arg(long)]
    note: Option<String>,
    /// Let the result take the place of an older one under the same conditions, which is kept aside
    #[arg(long)]
    revise: bool,
    /// Show what would happen and write nothing
    #[arg(long)]
    dry_run: bool,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    into: Target,
    /// The row, by column.
    row: serde_json::Map<String, serde_json::Value>,
    /// The row that it takes the place of.
    replaces: Option<serde_json::Map<String, serde_json::Value>>,
    source: String,
    source_is_new: bool,
    /// The enquiries in which something moved.
    moved: Vec<Moved>,
    /// How many enquiries were judged before and after.
    judged: usize,
    dry_run: bool,
    files: Vec<String>,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let What::Add(add) = &arguments.what;
    let (folder, catalogue) = here.catalogue()?;
    import::whole(&folder)?;
    let report = report(add)?;
    let entered = import::enter(&folder, &catalogue, &report, commit::kept(&folder.root))?;
    let all = compare::moved(&folder, &entered.folder)?;
    if !add.dry_run {
        commit::write(&folder, &entered.files)?;
    }
    let document = document(entered, all, add.dry_run);
    if here.json {
        say::json(&document)?;
    } else {
        tell(&document)?;
    }
    Ok(())
}

fn report(add: &Add) -> Result<Report, Fault> {
    let text = |option: &Option<String>| option.clone().unwrap_or_default().trim().to_owned();
    let file = match &add.file {
        None => None,
        Some(path) => {
            let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
            let read = load::read_bytes(path, &name);
            let bytes = read.map_err(|fault| fault.at(Place::argument("evidence add", "--file")))?;
            Some((name, sha256(&bytes)))
        }
    };
    let mut cells = vec![("temperature", text(&add.temperature))];
    if add.medium.is_some() {
        cells.push(("duration", text(&add.duration)));
        cells.push(("humidity", text(&add.humidity)));
        cells.push(("atmosphere", text(&add.atmosphere)));
    } else {
        cells.push(("condition", text(&add.condition)));
    }
    misplaced(add)?;
    Ok(Report {
        subject: text(&add.tape.clone().or_else(|| add.material.clone())),
        is_tape: add.tape.is_some(),
        medium: text(&add.medium),
        property: add.property.trim().to_owned(),
        effect: text(&add.effect),
        value: text(&add.value),
        low: text(&add.low),
        high: text(&add.high),
        before: text(&add.before),
        after: text(&add.after),
        cells,
        basis: add.basis.clone(),
        source: text(&add.source),
        number: text(&add.report),
        laboratory: text(&add.laboratory),
        title: text(&add.title),
        date: text(&add.date),
        file,
        note: text(&add.note),
        revises: add.revise,
    })
}

/// An option that the row has no column for would be lost.
fn misplaced(add: &Add) -> Result<(), Fault> {
    let of_pair = [("--duration", &add.duration), ("--humidity", &add.humidity), ("--atmosphere", &add.atmosphere)];
    let of_fact = [("--condition", &add.condition)];
    let (lost, remedy): (&[_], _) = match &add.medium {
        None => (&of_pair, "name the medium with --in (air is one), or say it in --condition"),
        Some(_) => (&of_fact, "say it in --note"),
    };
    match lost.iter().find(|(_, value)| value.is_some()) {
        Some((option, _)) => Err(Fault::new(
            Code::ArgumentUnknown,
            format!("{option}, which the row has no column for"),
            "what the row can hold",
            remedy,
        )
        .at(Place::argument("evidence add", *option))),
        None => Ok(()),
    }
}

fn document(entered: Entered, all: Vec<Moved>, dry_run: bool) -> Document {
    let map = |row: Vec<(String, String)>| row.into_iter().map(|(column, text)| (column, text.into())).collect();
    let judged = all.len();
    Document {
        schema: "lapwise/evidence/1",
        into: entered.target,
        row: map(entered.row),
        replaces: entered.replaces.map(map),
        source: entered.source,
        source_is_new: entered.is_new_source,
        moved: all.into_iter().filter(|moved| !moved.is_still()).collect(),
        judged,
        dry_run,
        files: entered.files.into_iter().map(|(name, _)| name).collect(),
    }
}

fn tell(document: &Document) -> Outcome {
    let mut out = std::io::stdout().lock();
    writeln!(out, "{}", document.into.file())?;
    for (column, value) in &document.row {
        writeln!(out, "  {column:<12} {}", value.as_str().unwrap_or_default())?;
    }
    if let Some(old) = &document.replaces {
        let value = |key: &str| old.get(key).and_then(|v| v.as_str()).unwrap_or_default();
        writeln!(out, "  in place of `{}` of `{}`, which is kept aside", value("value"), value("source"))?;
    }
    let new = if document.source_is_new { "new in sources.yml" } else { "of sources.yml" };
    writeln!(out, "  source {}, {new}\n", document.source)?;
    for moved in &document.moved {
        enquiry(&mut out, moved)?;
    }
    let still = document.judged - document.moved.len();
    let overturned = document.moved.iter().filter(|m| m.proposed_before != m.proposed_after).count();
    let findings = || document.moved.iter().flat_map(|m| &m.findings);
    let settled = findings().filter(|m| m.word() == "settled").count();
    let plural = |n: usize, word: &str| if n == 1 { format!("{n} {word}") } else { format!("{n} {word}s") };
    writeln!(
        out,
        "{} enquiries judged before and after: {still} unmoved, {} overturned, {} settled",
        document.judged,
        plural(overturned, "proposal"),
        plural(settled, "finding")
    )?;
    match (document.dry_run, document.files.as_slice()) {
        (true, _) => writeln!(out, "Nothing was written. Next: the same without --dry-run")?,
        (false, files) => writeln!(out, "Written: {}. Next: lapwise rank on an enquiry that moved", files.join(", "))?,
    }
    out.flush()?;
    Ok(())
}

fn enquiry(out: &mut impl Write, moved: &Moved) -> Outcome {
    let name = |tape: &Option<String>| tape.clone().unwrap_or_else(|| "none".to_owned());
    let (before, after) = (name(&moved.proposed_before), name(&moved.proposed_after));
    if before == after {
        writeln!(out, "{}: proposed {after}, as before", moved.enquiry)?;
    } else {
        writeln!(out, "{}: proposed {before} → {after}, overturned", moved.enquiry)?;
    }
    let verdict = |v: Option<Verdict>| v.map_or("none", Verdict::text).to_owned();
    let mut table = Table::new(["tape", "finding", "before", "after", ""], &[]);
    let what = |m: &Move| match (&m.criterion, &m.exposure) {
        (None, _) => "the candidate".to_owned(),
        (Some(criterion), None) => criterion.clone(),
        (Some(criterion), Some(exposure)) => format!("{criterion}, {exposure}"),
    };
    for change in moved.candidates.iter().chain(&moved.findings) {
        let word = change.word().to_owned();
        table.row([change.tape.clone(), what(change), verdict(change.before), verdict(change.after), word]);
    }
    if !moved.candidates.is_empty() || !moved.findings.is_empty() {
        table.print(out)?;
    }
    writeln!(out)?;
    Ok(())
}
