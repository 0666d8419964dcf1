//! What is in the register, a line for each selection: a cache beside the client, never the truth.

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::log::{Entry, RecordChange};
use super::{Register, disk};
use crate::fault::Fault;
use crate::record::{Kind, Meaning, RecordId, Statement, sha256};

const INDEX: &str = "lapwise/register-index/2";

/// How a selection stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Signed and not approved.
    Open,
    /// Approved.
    Approved,
    /// Replaced by a later revision.
    Superseded,
    /// Taken back.
    Withdrawn,
}

impl Status {
    /// The word.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Status::Open => "open",
            Status::Approved => "approved",
            Status::Superseded => "superseded",
            Status::Withdrawn => "withdrawn",
        }
    }
}

/// A selection and what stands beside it, in one line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Line {
    /// The record.
    pub record: String,
    /// How it stands.
    pub status: Status,
    /// The selected tape.
    pub tape: String,
    /// Its verdict at signing.
    pub verdict: String,
    /// Who asked.
    pub customer: String,
    /// The enquiry's title.
    pub title: String,
    /// When it was first signed.
    pub signed: String,
    /// Who signed, and as what: `m.sand authored`.
    pub signers: Vec<String>,
    /// The revision that replaced it.
    pub superseded_by: Option<String>,
    /// The positions of its entries: of the selection, then of what stands beside it.
    pub entries: Vec<u64>,
}

/// All lines, and the head that they were made at.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Index {
    schema: String,
    register: String,
    size: u64,
    last: String,
    /// The lines, in the order of the log.
    pub lines: Vec<Line>,
}

impl Index {
    /// The index of a register: from the cache if the log has not grown since, else made anew and kept.
    ///
    /// # Errors
    /// A register that cannot be read or whose log does not hold together.
    pub fn read(register: &Register, cache: Option<&Path>) -> Result<Index, Fault> {
        if let Some(index) = cache.and_then(|path| Index::cached(register, path)) {
            return Ok(index);
        }
        Index::rebuild(register, cache)
    }

    fn cached(register: &Register, path: &Path) -> Option<Index> {
        let index: Index = serde_json::from_slice(&disk::read(path).ok()?).ok()?;
        let last = match index.size {
            0 => register.first.clone(),
            size => sha256(&disk::read(&register.root.join(Entry::path(size))).ok()?),
        };
        let grown = register.root.join(Entry::path(index.size + 1)).exists();
        let current = index.schema == INDEX && index.register == register.id() && index.last == last && !grown;
        current.then_some(index)
    }

    /// How one selection stands, from the log itself.
    ///
    /// # Errors
    /// As [`Index::read`].
    pub fn line(register: &Register, record: &RecordId) -> Result<Option<Line>, Fault> {
        let log = register.log()?;
        let base = record.base();
        let of_enquiry = |change: &RecordChange| change.id().is_some_and(|id| id.enquiry == base.enquiry);
        let records = log.records().filter(|(.., change)| of_enquiry(change));
        let statements: Result<Vec<(u64, Statement)>, Fault> =
            records.map(|(seq, _, change)| register.statement(change).map(|s| (seq, s))).collect();
        let name = base.to_string();
        Ok(lines(&statements?).into_iter().find(|line| line.record == name))
    }

    /// Makes the index anew from the log, and keeps it if it can.
    ///
    /// # Errors
    /// As [`Index::read`].
    pub fn rebuild(register: &Register, cache: Option<&Path>) -> Result<Index, Fault> {
        let log = register.log()?;
        let records: Vec<_> = log.records().collect();
        let statements: Result<Vec<(u64, Statement)>, Fault> =
            records.par_iter().map(|(seq, _, change)| register.statement(change).map(|s| (*seq, s))).collect();
        let lines = lines(&statements?);
        let index = Index {
            schema: INDEX.to_owned(),
            register: register.id().to_owned(),
            size: log.tree.size(),
            last: log.last.clone(),
            lines,
        };
        if let Some(path) = cache {
            // A cache that cannot be kept only costs time.
            let _ = path.parent().map(std::fs::create_dir_all);
            let _ = serde_json::to_vec(&index).map(|bytes| std::fs::write(path, bytes));
        }
        Ok(index)
    }
}

/// One line for each selection of some statements in the order of the log.
fn lines(statements: &[(u64, Statement)]) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut at: BTreeMap<RecordId, usize> = BTreeMap::new();
    for (seq, statement) in statements {
        let Ok(id) = statement.record.parse::<RecordId>() else { continue };
        let signer = statement.signer.as_ref().zip(statement.meaning).map(|(s, m)| format!("{} {}", s.id, m.text()));
        if statement.kind == Kind::Selection {
            let replaced = statement.supersedes.as_ref().and_then(|id| at.get(&id.parse().ok()?));
            if let Some(old) = replaced.and_then(|old| lines.get_mut(*old)) {
                old.superseded_by = Some(statement.record.clone());
                if old.status != Status::Withdrawn {
                    old.status = Status::Superseded;
                }
            }
            at.insert(id, lines.len());
            lines.push(Line {
                record: statement.record.clone(),
                status: if statement.meaning == Some(Meaning::Approved) { Status::Approved } else { Status::Open },
                tape: statement.selection.tape.clone(),
                verdict: statement.selection.verdict.clone(),
                customer: statement.customer.clone(),
                title: statement.title.clone(),
                signed: statement.time.clone(),
                signers: signer.into_iter().collect(),
                superseded_by: None,
                entries: vec![*seq],
            });
        } else if let Some(line) = at.get(&id.base()).and_then(|line| lines.get_mut(*line)) {
            line.signers.extend(signer);
            line.entries.push(*seq);
            match statement.meaning {
                Some(Meaning::Withdrawn) => line.status = Status::Withdrawn,
                Some(Meaning::Approved) if line.status == Status::Open => line.status = Status::Approved,
                _ => {}
            }
        }
    }
    lines
}
