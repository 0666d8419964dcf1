//! `lapwise model`: one computation by itself.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::table::Table;
use super::{End, Here, Outcome, say};
use crate::calculate::{self, Failure};
use crate::fault::{Code, Fault};

#[derive(Debug, Args)]
#[command(
    after_help = "Example: lapwise model ageing-life index=\"155 degC\" halving=\"10 K\" temperature=\"175 degC\""
)]
pub(super) struct Arguments {
    /// The model; `list` names them all
    name: String,
    /// Its inputs as key=value; none prints what it takes
    #[arg(value_name = "KEY=VALUE")]
    inputs: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
struct Listed {
    name: &'static str,
    summary: &'static str,
}

#[derive(Serialize, JsonSchema)]
struct List {
    schema: &'static str,
    models: Vec<Listed>,
}

/// The form of the list.
pub(super) fn list_schema() -> Schema {
    schema_for!(List)
}

/// The form of a computation.
pub(super) fn schema() -> Schema {
    schema_for!(calculate::Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let mut out = std::io::stdout().lock();
    if arguments.name == "list" {
        let models: Vec<Listed> = calculate::names().map(|(name, summary)| Listed { name, summary }).collect();
        if here.json {
            drop(out);
            say::json(&List { schema: "lapwise/models/1", models })?;
            return Ok(());
        }
        let mut table = Table::new(["model", "what it works out"], &[]);
        for m in &models {
            table.row([m.name.to_owned(), m.summary.to_owned()]);
        }
        table.print(&mut out)?;
        writeln!(out, "\n  lapwise model NAME tells what it takes")?;
        return Ok(());
    }
    if arguments.inputs.is_empty()
        && !here.json
        && let Some(text) = calculate::describe(&arguments.name)
    {
        write!(out, "{text}")?;
        return Ok(());
    }
    match calculate::run(&arguments.name, &arguments.inputs) {
        Ok(calculation) if here.json => {
            drop(out);
            say::json(&calculation.document())?;
        }
        Ok(calculation) => writeln!(out, "{calculation}")?,
        Err(Failure::UnknownModel { name, .. }) => {
            let known = calculate::names().map(|(name, _)| name);
            return Err(End::Usage(Fault::unknown_word(
                Code::NameUnknown,
                &name,
                "a model of `lapwise model list`",
                known,
            )));
        }
        Err(Failure::Faults(faults)) => return Err(faults.into()),
    }
    Ok(())
}
