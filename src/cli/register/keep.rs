//! `lapwise register export` and `lapwise register rebuild-index`.

use std::path::PathBuf;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::super::{Here, Outcome, say};
use super::{ended, index_of, now, open};
use crate::fault::{Code, Fault};
use crate::record::RecordId;
use crate::register::{self, Index};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register export register Q-101/r0001 -o bag")]
pub(in crate::cli) struct Export {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The records, such as Q-101/r0001
    #[arg(required = true, value_name = "RECORD")]
    records: Vec<RecordId>,
    /// The bag: a new folder
    #[arg(short, long, value_name = "BAG")]
    out: PathBuf,
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register rebuild-index register")]
pub(in crate::cli) struct RebuildIndex {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

#[derive(Serialize, JsonSchema)]
struct Done {
    schema: &'static str,
    register: String,
    /// The bag, or the index.
    file: String,
    /// How many files are in the bag, or lines in the index.
    count: u64,
}

/// The form of what was written.
pub(super) fn schema() -> Schema {
    schema_for!(Done)
}

pub(super) fn export(here: &Here, arguments: &Export) -> Outcome {
    let register = open(&arguments.folder)?;
    let today = now();
    let count = register::export(&register, &arguments.records, &arguments.out, today.get(..10).unwrap_or_default())
        .map_err(ended)?;
    let file = arguments.out.display().to_string();
    if here.json {
        say::json(&Done { schema: "lapwise/register-export/1", register: register.id().to_owned(), file, count })?;
        return Ok(());
    }
    say::line(&format!(
        "{count} files in {file}; it proves itself: sha256sum -c manifest-sha256.txt, then data/README.txt"
    ))?;
    Ok(())
}

pub(super) fn rebuild_index(here: &Here, arguments: &RebuildIndex) -> Outcome {
    let register = open(&arguments.folder)?;
    let Some(path) = index_of(&register) else {
        return Err(super::End::Environment(Fault::new(
            Code::WriteFailed,
            "no home folder",
            "a folder for the index",
            "name one with LAPWISE_STATE",
        )));
    };
    let index = Index::rebuild(&register, Some(&path)).map_err(ended)?;
    let (file, count) = (path.display().to_string(), index.lines.len() as u64);
    if here.json {
        say::json(&Done { schema: "lapwise/register-index/1", register: register.id().to_owned(), file, count })?;
        return Ok(());
    }
    say::line(&format!("{count} selections indexed in {file}"))?;
    Ok(())
}
