//! `lapwise compare`: what differs between two data folders, and which answers that moves.

mod heads;
mod told;

use std::path::{Path, PathBuf};

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{End, Here, Outcome, say};
use crate::compare::{self, Comparison};
use crate::load::Folder;

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise compare matrices next --exit-code")]
pub(super) struct Arguments {
    /// The data folder as it is
    old: PathBuf,
    /// The data folder as it would be
    new: PathBuf,
    /// Judge these enquiries, a folder of TOML files, instead of those in the two folders
    #[arg(long, value_name = "DIR")]
    enquiries: Option<PathBuf>,
    /// End with exit code 1 if a verdict, a proposal or an order moves
    #[arg(long)]
    exit_code: bool,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    old: Side,
    new: Side,
    #[serde(flatten)]
    comparison: Comparison,
}

#[derive(Serialize, JsonSchema)]
struct Side {
    folder: String,
    /// The version that the folder says it is.
    version: String,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let read = |path: &Path| Folder::read(path).map_err(|faults| faults.below(&path.display().to_string()));
    let (old, new) = (read(&arguments.old)?, read(&arguments.new)?);
    let enquiries = arguments.enquiries.as_deref().map(Folder::of_enquiries).transpose()?;
    let comparison = compare::compare(&old, &new, enquiries.as_ref())?;
    let side = |folder: &Folder, version: &String| Side {
        folder: folder.root.display().to_string(),
        version: version.clone(),
    };
    let [before, after] = &comparison.versions;
    let (old, new) = (side(&old, before), side(&new, after));
    let document = Document { schema: "lapwise/compare/1", old, new, comparison };
    let moves = |m: &compare::Moved| !m.is_still() || m.order_before.is_some();
    let moved = document.comparison.moved.iter().any(moves);
    if here.json {
        say::json(&document)?;
    } else {
        told::tell(&document)?;
    }
    if arguments.exit_code && moved { Err(End::Reported(1)) } else { Ok(()) }
}
