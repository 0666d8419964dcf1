//! `lapwise register list` and `lapwise register show`.

use std::path::PathBuf;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::super::{Here, Outcome, say, table};
use super::{ended, index_of, open};
use crate::quantity::count;
use crate::record::{Kind, RecordId, Statement};
use crate::register::{Index, Line, Status};

#[derive(Debug, Args)]
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
    records: Vec<Line>,
}

#[derive(Serialize, JsonSchema)]
struct Shown {
    schema: &'static str,
    register: String,
    #[serde(flatten)]
    line: Line,
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
    let records: Vec<Line> = index
        .lines
        .into_iter()
        .filter(|line| asked.is_empty() || asked.contains(&line.status))
        .filter(|line| holds(&arguments.customer, &line.customer))
        .filter(|line| arguments.tape.as_ref().is_none_or(|tape| *tape == line.tape))
        .collect();
    if here.json {
        say::json(&Listed { schema: "lapwise/register-list/1", register: register.id().to_owned(), records })?;
        return Ok(());
    }
    let mut table = table::Table::new(["record", "status", "tape", "verdict", "signed", "signers", "customer"], &[]);
    for line in &records {
        let status = match &line.superseded_by {
            Some(by) => format!("{} by {by}", line.status.text()),
            None => line.status.text().to_owned(),
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
    Ok(())
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
    let found: Result<Vec<_>, _> = line.entries.iter().map(|seq| register.statement_at(*seq)).collect();
    let found = found.map_err(ended)?;
    let folders: Vec<String> = found.iter().map(|(id, _)| register.folder_of(id).display().to_string()).collect();
    let statements: Vec<Statement> = found.into_iter().map(|(_, statement)| statement).collect();
    if here.json {
        let register = register.id().to_owned();
        say::json(&Shown { schema: "lapwise/register-show/1", register, line, statements, folders })?;
        return Ok(());
    }
    for text in told(&line, &statements, &folders) {
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
fn told(line: &Line, statements: &[Statement], folders: &[String]) -> Vec<String> {
    let mut lines = Vec::new();
    let Some(first) = statements.first() else { return lines };
    let s = &first.selection;
    lines.push(format!("{}  {}", line.record, first.title));
    lines.push(format!("  for       {}", first.customer));
    lines.push(format!("  status    {}", stands(line)));
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
