//! The selections to judge: the newest revision of each enquiry that the log holds.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::outcome::Failure;
use crate::fault::Fault;
use crate::record::{Head, Kind, Meaning, RecordId, Statement};
use crate::register::{RecordChange, Register};

/// The newest revision of one enquiry.
#[derive(Clone, Debug)]
pub(super) struct Newest {
    pub(super) id: RecordId,
    pub(super) statement: Statement,
    pub(super) approved: bool,
    pub(super) withdrawn: bool,
}

/// What a register keeps, at one head of its log.
#[derive(Debug)]
pub(super) struct Holdings {
    pub(super) head: Head,
    pub(super) newest: Vec<Newest>,
    /// How many older revisions there are, of the enquiries that count.
    pub(super) superseded: usize,
    pub(super) failures: Vec<Failure>,
}

/// The newest revision of every enquiry, as the log has it now.
///
/// # Errors
/// A log that cannot be read or does not hold together.
pub fn revisions(register: &Register) -> Result<BTreeMap<String, u32>, Fault> {
    let mut newest = BTreeMap::new();
    for (.., change) in register.log()?.records() {
        let id: RecordId = change.record.parse()?;
        let revision = newest.entry(id.enquiry).or_insert(0);
        *revision = id.revision.max(*revision);
    }
    Ok(newest)
}

/// Reads the newest selections; a record that cannot be read is a failure of its own. Older revisions are counted
/// where `counts` says so of their enquiry.
pub(super) fn holdings(register: &Register, counts: impl Fn(&str) -> bool) -> Result<Holdings, Fault> {
    let log = register.log()?;
    let mut by_enquiry: BTreeMap<String, BTreeMap<RecordId, &RecordChange>> = BTreeMap::new();
    for (.., change) in log.records() {
        let id: RecordId = change.record.parse()?;
        by_enquiry.entry(id.enquiry.clone()).or_default().insert(id, change);
    }
    let read = |records: &BTreeMap<RecordId, &RecordChange>| {
        let base = records.keys().map(RecordId::base).max_by_key(|id| id.revision)?;
        let of_base = records.iter().filter(|(id, _)| id.base() == base).map(|(_, change)| *change);
        let read = newest(register, &base, of_base);
        Some(read.map_err(|fault| Box::new(Failure { record: base.to_string(), fault })))
    };
    let all: Vec<&BTreeMap<RecordId, &RecordChange>> = by_enquiry.values().collect();
    let read: Vec<Result<Newest, Box<Failure>>> = all.par_iter().filter_map(|records| read(records)).collect();
    let older = |records: &BTreeMap<RecordId, _>| records.keys().filter(|id| id.beside == 0).count().saturating_sub(1);
    let superseded = by_enquiry.iter().filter(|(enquiry, _)| counts(enquiry)).map(|(_, records)| older(records)).sum();
    let (mut newest, mut failures) = (Vec::new(), Vec::new());
    for one in read {
        match one {
            Ok(one) => newest.push(one),
            Err(failure) => failures.push(*failure),
        }
    }
    Ok(Holdings { head: log.head(), newest, superseded, failures })
}

/// A selection with what stands beside it.
fn newest<'c>(
    register: &Register,
    base: &RecordId,
    changes: impl Iterator<Item = &'c RecordChange>,
) -> Result<Newest, Fault> {
    let statements = changes.map(|change| register.statement(change)).collect::<Result<Vec<Statement>, Fault>>()?;
    let approved = statements.iter().any(|s| s.meaning == Some(Meaning::Approved));
    let withdrawn = statements.iter().any(|s| s.kind == Kind::Withdrawal);
    let selection = statements.into_iter().find(|s| s.kind == Kind::Selection);
    let statement = selection.ok_or_else(|| super::kept::lost(base, "statement.json"))?;
    Ok(Newest { id: base.clone(), statement, approved, withdrawn })
}
