//! `lapwise register list` and `lapwise register show`.

use std::path::PathBuf;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::super::{End, Here, Outcome, say, table};
use super::{ended, index_of, open};
use crate::fault::visible;
use crate::part::Part;
use crate::quantity::count;
use crate::record::{Kind, RecordId, Statement};
use crate::register::{Index, Line, Mark, Overtaken, Register, Status};

#[derive(Debug, Args)]
#[expect(clippy::struct_excessive_bools, reason = "one switch for each state")]
#[command(after_help = "Example: lapwise register list register --open")]
pub(in crate::cli) struct List {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Only those signed and not approved
    #[arg(long)]
    open: bool,
    /// Only those replaced by a later revision
    #[arg(long)]
    superseded: bool,
    /// Only those taken back
    #[arg(long)]
    withdrawn: bool,
    /// Only those that the last `lapwise regenerate` found overturned or not judgeable
    #[arg(long)]
    overtaken: bool,
    /// Only those of customers whose name holds this
    #[arg(long, value_name = "NAME")]
    customer: Option<String>,
    /// Only those of this tape
    #[arg(long)]
    tape: Option<String>,
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register show register Q-101/r0001")]
pub(in crate::cli) struct Show {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The record, such as Q-101/r0001
    record: RecordId,
}

#[derive(Serialize, JsonSchema)]
struct Listed {
    schema: &'static str,
    register: String,
    records: Vec<Row>,
    /// What the last `lapwise regenerate` judged by; none if there was none.
    judged: Option<JudgedBy>,
}

/// A selection, and what newer data made of it.
#[derive(Serialize, JsonSchema)]
struct Row {
    #[serde(flatten)]
    line: Line,
    /// What the last `lapwise regenerate` found: no part of what is signed or proven.
    overtaken: Option<Mark>,
}

/// The data that the last `lapwise regenerate` judged by.
#[derive(Serialize, JsonSchema)]
struct JudgedBy {
    /// Their version.
    data: String,
    /// The digest over their files.
    data_sha256: String,
    /// How many entries the log had.
    entries: u64,
    /// The parts that were judged; absent where all are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(with = "Vec<String>")]
    parts: Vec<Part>,
}

impl JudgedBy {
    fn of(overtaken: &Overtaken) -> JudgedBy {
        let (data, data_sha256) = (overtaken.data.clone(), overtaken.data_sha256.clone());
        JudgedBy { data, data_sha256, entries: overtaken.head.size, parts: overtaken.parts.clone() }
    }
}

#[derive(Serialize, JsonSchema)]
struct Shown {
    schema: &'static str,
    register: String,
    #[serde(flatten)]
    line: Line,
    /// What the last `lapwise regenerate` found: no part of what is signed or proven.
    overtaken: Option<Mark>,
    /// The statements: of the selection, then of what stands beside it.
    statements: Vec<Statement>,
    /// The folder of each.
    folders: Vec<String>,
}

pub(super) fn list_schema() -> Schema {
    schema_for!(Listed)
}

pub(super) fn show_schema() -> Schema {
    schema_for!(Shown)
}

pub(super) fn list(here: &Here, arguments: &List) -> Outcome {
    let register = open(&arguments.folder)?;
    let index = Index::read(&register, index_of(&register).as_deref()).map_err(ended)?;
    let asked: Vec<Status> = [
        (arguments.open, Status::Open),
        (arguments.superseded, Status::Superseded),
        (arguments.withdrawn, Status::Withdrawn),
    ]
    .into_iter()
    .filter_map(|(asked, status)| asked.then_some(status))
    .collect();
    let holds = |wanted: &Option<String>, text: &str| {
        wanted.as_ref().is_none_or(|wanted| text.to_lowercase().contains(&wanted.to_lowercase()))
    };
    let total = index.lines.len();
    let newer = newer(&register)?;
    let records: Vec<Row> = index
        .lines
        .into_iter()
        .map(|line| Row { overtaken: mark(newer.as_ref(), &line), line })
        .filter(|row| asked.is_empty() || asked.contains(&row.line.status))
        .filter(|row| holds(&arguments.customer, &row.line.customer))
        .filter(|row| arguments.tape.as_ref().is_none_or(|tape| *tape == row.line.tape))
        .filter(|row| {
            !arguments.overtaken || row.overtaken.as_ref().is_some_and(|mark| GRAVE.contains(&mark.outcome.as_str()))
        })
        .collect();
    if here.json {
        let judged = newer.as_ref().map(JudgedBy::of);
        say::json(&Listed { schema: "lapwise/register-list/1", register: register.id().to_owned(), records, judged })?;
        return Ok(());
    }
    let mut table = table::Table::new(["record", "status", "tape", "verdict", "signed", "signers", "customer"], &[]);
    for Row { line, overtaken } in &records {
        let status = match (&line.superseded_by, overtaken) {
            (Some(by), _) => format!("{} by {by}", line.status.text()),
            (None, Some(mark)) => format!("{}, {}", line.status.text(), mark.outcome),
            (None, None) => line.status.text().to_owned(),
        };
        let signed = line.signed.get(..10).unwrap_or_default().to_owned();
        table.row([
            line.record.clone(),
            status,
            line.tape.clone(),
            line.verdict.clone(),
            signed,
            line.signers.join(", "),
            line.customer.clone(),
        ]);
    }
    table.print(&mut std::io::stdout().lock())?;
    let selections = count(total, "selection", "selections");
    say::line(&format!("{} of {selections} in register {}", records.len(), register.id()))?;
    if let Some(newer) = &newer {
        say::line(&judged_by(newer))?;
    }
    Ok(())
}

/// The outcomes after which a signed answer is not to be relied on.
const GRAVE: [&str; 2] = ["overturned", "not judgeable"];

/// What the last judging by newer data found; a list that is not as written is said and not used.
fn newer(register: &Register) -> Result<Option<Overtaken>, End> {
    let found = Overtaken::read(register);
    if found.is_none() && Overtaken::path(register).exists() {
        say::remark("drafts/overtaken.json is not as it was written and is not used: run `lapwise regenerate` again")?;
    }
    Ok(found)
}

/// What newer data made of a selection that still stands.
fn mark(newer: Option<&Overtaken>, line: &Line) -> Option<Mark> {
    let stands = matches!(line.status, Status::Open | Status::Approved);
    newer.filter(|_| stands)?.of(&line.record).cloned()
}

/// By which data, and when in the log's order, the register was judged last.
fn judged_by(newer: &Overtaken) -> String {
    let parts: Vec<String> = newer.parts.iter().map(ToString::to_string).collect();
    let only = if parts.is_empty() { String::new() } else { format!(", of the parts only {}", parts.join(", ")) };
    format!(
        "judged by `lapwise regenerate` at entry {}, data version {}, sha256 {}{only}: no part of what is signed",
        newer.head.size,
        newer.data,
        newer.data_sha256.get(..16).unwrap_or_default()
    )
}

pub(super) fn show(here: &Here, arguments: &Show) -> Outcome {
    let register = open(&arguments.folder)?;
    let index = Index::read(&register, index_of(&register).as_deref()).map_err(ended)?;
    let base = arguments.record.base().to_string();
    let Some(line) = index.lines.iter().find(|line| line.record == base).cloned() else {
        let known = index.lines.iter().map(|line| line.record.as_str());
        let unknown = crate::fault::Fault::unknown_word(
            crate::fault::Code::RecordUnknown,
            &base,
            "a record of the register",
            known,
        );
        return Err(unknown.into());
    };
    let overtaken = mark(newer(&register)?.as_ref(), &line);
    let found: Result<Vec<_>, _> = line.entries.iter().map(|seq| register.statement_at(*seq)).collect();
    let found = found.map_err(ended)?;
    let folders: Vec<String> = found.iter().map(|(id, _)| register.folder_of(id).display().to_string()).collect();
    let statements: Vec<Statement> = found.into_iter().map(|(_, statement)| statement).collect();
    if here.json {
        let register = register.id().to_owned();
        say::json(&Shown { schema: "lapwise/register-show/1", register, line, overtaken, statements, folders })?;
        return Ok(());
    }
    for text in told(&line, overtaken.as_ref(), &statements, &folders) {
        say::line(&text)?;
    }
    Ok(())
}

/// What a statement says was done, and by whom.
pub(super) fn what(statement: &Statement) -> String {
    match (&statement.signer, statement.meaning, statement.kind) {
        (Some(signer), Some(meaning), _) => format!("{} by {} ({})", meaning.text(), signer.name, signer.id),
        (_, _, Kind::Scan) => "scan filed".to_owned(),
        _ => "without a signature".to_owned(),
    }
}

/// How a selection stands, in words.
pub(super) fn stands(line: &Line) -> String {
    let by = line.superseded_by.as_ref().map(|by| format!(" by {by}")).unwrap_or_default();
    match line.status {
        Status::Open => "open: signed, not approved".to_owned(),
        status => format!("{}{by}", status.text()),
    }
}

/// A record in words.
fn told(line: &Line, overtaken: Option<&Mark>, statements: &[Statement], folders: &[String]) -> Vec<String> {
    let mut lines = Vec::new();
    let Some(first) = statements.first() else { return lines };
    let s = &first.selection;
    lines.push(format!("{}  {}", line.record, visible(&first.title)));
    lines.push(format!("  for       {}", visible(&first.customer)));
    lines.push(format!("  status    {}", stands(line)));
    if let Some(mark) = overtaken {
        lines.push(format!("  newer     {} by newer data: {}", mark.outcome, mark.by));
        lines.extend(mark.draft.iter().map(|draft| format!("  draft     {}, unsigned", draft.file)));
    }
    let against = match &s.proposed {
        Some(first) if *first != s.tape => format!("; the first in order was {first}"),
        None => "; no tape was proposed".to_owned(),
        _ => String::new(),
    };
    lines.push(format!("  selected  {} (sheet revision {}): {}{against}", s.tape, s.tape_revision, s.verdict));
    lines.push(format!("  data      version {}, Lapwise {}", first.versions.data, first.versions.lapwise));
    for condition in &s.conditions {
        lines.push(format!("  condition {condition}"));
    }
    for point in &s.open_points {
        lines.push(format!("  open      {point}"));
    }
    for (statement, folder) in statements.iter().zip(folders) {
        let key = statement.signer.as_ref().map(|signer| format!(", {}", signer.fingerprint)).unwrap_or_default();
        lines.push(String::new());
        lines.push(format!("  {}  {}{key}", statement.record, what(statement)));
        lines.push(format!("    at        {}, after entry {}", statement.time, statement.head.size));
        if !statement.reason.is_empty() {
            lines.push(format!("    reason    {}", statement.reason));
        }
        lines.push(format!("    in        {folder}"));
    }
    lines
}
