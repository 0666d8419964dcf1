//! `lapwise register`: the signed selections, kept and proven.

mod keep;
mod keys;
mod look;
mod prove;
mod sign;

use std::path::{Path, PathBuf};

use clap::Subcommand;
use schemars::Schema;
use serde::Serialize;

use super::{End, Here, Outcome, say};
use crate::fault::{Code, Fault};
use crate::record::Head;
use crate::register::{Added, Disk, Register};

#[derive(Debug, Subcommand)]
#[command(after_help = "Example: lapwise register verify register")]
pub(super) enum Arguments {
    /// Make a register in a new or empty folder
    Create(keys::Create),
    /// Add or revoke the key of a signer
    #[command(subcommand, after_help = "Example: lapwise register key add --help")]
    Key(keys::Key),
    /// Sign the selection of a tape for an enquiry, and keep the dossier
    Sign(sign::Sign),
    /// Add a signature to a kept selection
    Countersign(sign::Countersign),
    /// Take a kept selection back
    Withdraw(sign::Withdraw),
    /// File the scan of a copy that was signed by hand
    AttachScan(sign::AttachScan),
    /// What is kept, a line for each selection
    List(look::List),
    /// One selection: what was signed, by whom, what stands beside it
    Show(look::Show),
    /// Prove a register, one selection of it, or a PDF
    Verify(prove::Verify),
    /// Put selections, with everything that proves them, into a bag (RFC 8493)
    Export(keep::Export),
    /// Make the local index anew
    RebuildIndex(keep::RebuildIndex),
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    match arguments {
        Arguments::Create(a) => keys::create(here, a),
        Arguments::Key(a) => keys::change(here, a),
        Arguments::Sign(a) => sign::sign(here, a),
        Arguments::Countersign(a) => sign::countersign(here, a),
        Arguments::Withdraw(a) => sign::withdraw(here, a),
        Arguments::AttachScan(a) => sign::attach_scan(here, a),
        Arguments::List(a) => look::list(here, a),
        Arguments::Show(a) => look::show(here, a),
        Arguments::Verify(a) => prove::verify(here, a),
        Arguments::Export(a) => keep::export(here, a),
        Arguments::RebuildIndex(a) => keep::rebuild_index(here, a),
    }
}

/// The forms of the documents, by name.
pub(super) fn schemas() -> Vec<super::schema::Document> {
    vec![
        ("register-created", keys::created_schema),
        ("register-export", keep::schema),
        ("register-index", keep::schema),
        ("register-list", look::list_schema),
        ("register-show", look::show_schema),
        ("register-verify", prove::verify_schema),
        ("register-entry", added_schema),
        ("dossier-proof", prove::proof_schema),
        ("statement", || schemars::schema_for!(crate::record::Statement)),
    ]
}

/// The folder where this client remembers heads and keeps indexes; none where no home is known.
fn memory() -> Option<PathBuf> {
    let of = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    of("LAPWISE_STATE")
        .or_else(|| of("XDG_STATE_HOME").map(|folder| folder.join("lapwise")))
        .or_else(|| of("HOME").map(|home| home.join(".local/state/lapwise")))
        .or_else(|| of("LOCALAPPDATA").map(|folder| folder.join("lapwise")))
}

/// Opens a register, held against what this client has seen of it.
pub(in crate::cli) fn open(folder: &Path) -> Result<Register, End> {
    let register = Register::open(folder, Disk::default()).map_err(ended)?;
    Ok(match memory() {
        Some(memory) => register.seen_by(&memory),
        None => register,
    })
}

/// Where the index of a register is kept.
fn index_of(register: &Register) -> Option<PathBuf> {
    memory().map(|folder| folder.join(format!("{}.index", register.id())))
}

/// A fault of the disk is one of the environment.
pub(in crate::cli) fn ended(fault: Fault) -> End {
    match fault.code {
        Code::LinksRefused | Code::FileUnreadable => End::Environment(fault),
        _ => super::setup::environment(fault),
    }
}

/// The time, as the signer claims it: UTC, whole seconds, with its offset.
fn now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%S+00:00").to_string()
}

#[derive(Serialize, schemars::JsonSchema)]
struct Document {
    schema: &'static str,
    register: String,
    /// The record that was added, if it is one.
    record: Option<String>,
    /// The position of its entry.
    entry: u64,
    /// The head after it.
    head: Head,
    warnings: Vec<String>,
}

fn added_schema() -> Schema {
    schemars::schema_for!(Document)
}

/// Tells what was added, on one line and with the head.
fn tell(here: &Here, register: &Register, added: Added, what: &str) -> Outcome {
    for warning in &added.warnings {
        say::remark(warning)?;
    }
    if here.json {
        say::json(&Document {
            schema: "lapwise/register-entry/1",
            register: register.id().to_owned(),
            record: added.record.map(String::from),
            entry: added.entry,
            head: added.head,
            warnings: added.warnings,
        })?;
        return Ok(());
    }
    say::line(what)?;
    say::line(&format!("  entry {}, root {}", added.entry, added.head.root))?;
    Ok(())
}
