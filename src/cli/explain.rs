//! `lapwise explain`: the full working of a cell.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::table::{Table, wrapped};
use super::{Here, Outcome, named, say};
use crate::expand::Plan;
use crate::explain::{self, Explanation};
use crate::fault::{Code, Fault};
use crate::output::{FACT_HEADS, Working};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise explain Q-101 H-111 adhesive-swelling --exposure \"service oil\"")]
pub(super) struct Arguments {
    /// An enquiry: its path, or its number in the data folder
    enquiry: String,
    /// A tape of the catalogue
    tape: String,
    /// A criterion; without one, the criterion that decides
    criterion: Option<String>,
    /// An exposure of the enquiry; without one, the exposure that decides
    #[arg(long, value_name = "NAME")]
    exposure: Option<String>,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    #[serde(flatten)]
    explanation: Explanation,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (folder, catalogue) = here.catalogue()?;
    let enquiries = [super::enquiry(&folder, &catalogue, &arguments.enquiry)?];
    let tape = named::candidate(&catalogue, &arguments.tape)?;
    let criterion = arguments.criterion.as_ref().map(|name| named::criterion(&catalogue, name)).transpose()?;
    let exposure = arguments.exposure.as_ref().map(|name| named::exposure(&enquiries[0], name)).transpose()?;
    let plan = Plan::of(&catalogue, &enquiries, vec![tape])?;
    let findings = plan.findings_of(0, 0);
    let Some(finding) = explain::pick(&findings, criterion, exposure) else {
        return Err(Fault::new(
            Code::NameUnknown,
            "a criterion that is not asked there",
            "a criterion that is asked of this tape in this enquiry",
            "leave the criterion or the exposure out to see the one that decides",
        )
        .into());
    };
    let explanation = explain::explain(&plan, 0, finding);
    if here.json {
        say::json(&Document { schema: "lapwise/explain/1", explanation })?;
        return Ok(());
    }
    print(&Working::of(&explanation, finding))
}

fn print(working: &Working) -> Outcome {
    let mut out = std::io::stdout().lock();
    let width = say::width();
    for line in wrapped(&working.title, width) {
        writeln!(out, "{line}")?;
    }
    writeln!(out)?;
    for (name, text) in &working.answer {
        say::named(&mut out, name, text, width)?;
    }
    writeln!(out)?;
    if !working.facts.is_empty() {
        let mut table = Table::new(FACT_HEADS, &[1]);
        working.facts.iter().for_each(|fact| table.row(fact.clone()));
        table.print(&mut out)?;
        writeln!(out)?;
    }
    for (name, text) in &working.steps {
        say::named(&mut out, name, text, width)?;
    }
    Ok(())
}
