//! `lapwise setup`: finds or installs the compiler that prints dossiers.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{End, Here, Outcome, say};
use crate::dossier::typst::{self, Typst};
use crate::fault::{Code, Fault};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise setup")]
pub(super) struct Arguments {
    /// Install nothing; only say what is there
    #[arg(long)]
    offline: bool,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    version: &'static str,
    program: String,
    origin: &'static str,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let found = find(arguments.offline)?;
    let document = Document {
        schema: "lapwise/setup/1",
        version: typst::VERSION,
        program: found.program.display().to_string(),
        origin: found.origin.text(),
    };
    if here.json {
        say::json(&document)?;
        return Ok(());
    }
    writeln!(std::io::stdout(), "Typst {}, {}: {}", document.version, document.origin, document.program)?;
    Ok(())
}

/// The compiler, installed if it has to be.
pub(super) fn find(offline: bool) -> Result<Typst, End> {
    // What it is busy with may go unheard.
    let tell = |what: &str| drop(say::remark(what));
    Typst::setup(offline, tell).map_err(environment)
}

/// A fault of Typst or the disk is one of the environment; others are of the input.
pub(super) fn environment(fault: Fault) -> End {
    if is_environment(&fault) { End::Environment(fault) } else { fault.into() }
}

fn is_environment(fault: &Fault) -> bool {
    matches!(fault.code, Code::TypstMissing | Code::TypstFailed | Code::WriteFailed)
}

/// The exit code of a command that did all but what failed.
pub(super) fn partly<'f>(mut failed: impl Iterator<Item = &'f Fault>) -> End {
    End::Reported(if failed.any(is_environment) { 3 } else { 1 })
}
