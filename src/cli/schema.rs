//! `lapwise schema`: the JSON Schema of a document.

use clap::Args;
use schemars::{Schema, schema_for};

use super::{
    Here, Outcome, accept, begin, check, compare, dossier, enquiry, envelope, evidence, explain, import, matrix, model,
    rank, regenerate, register, say, setup,
};
use crate::catalogue;
use crate::dossier::view::View;
use crate::dossier::{decision_schema, provenance_schema};
use crate::enquiry::Enquiry;
use crate::fault::{Code, Fault};
use crate::load::Form;

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise schema rank", long_about = long_about())]
pub(super) struct Arguments {
    /// The document; without one, their names
    name: Option<String>,
}

/// A document that is described: the name in its `schema`, and its form.
pub(super) type Document = (&'static str, fn() -> Schema);

/// Every document that is described: what is read, what is printed, what a PDF holds, what a template sees.
const DOCUMENTS: &[Document] = &[
    ("accept", accept::schema),
    ("begin", begin::schema),
    ("check", check::schema),
    ("criteria", || read(&catalogue::criteria_form())),
    ("decision", decision_schema),
    ("diagnostics", say::schema),
    ("dossier", dossier::schema),
    ("dossier-view", || schema_for!(View)),
    ("enquiry", || read(&Enquiry::form())),
    ("enquiry-new", enquiry::schema),
    ("envelope", envelope::schema),
    ("compare", compare::schema),
    ("evidence", evidence::schema),
    ("explain", explain::schema),
    ("import", import::schema),
    ("matrix", matrix::schema),
    ("model", model::schema),
    ("models", model::list_schema),
    ("provenance", provenance_schema),
    ("rank", rank::schema),
    ("regenerate", regenerate::schema),
    ("overtaken", regenerate::overtaken_schema),
    ("setup", setup::schema),
];

/// Documents that had other forms before, with the number of the present one.
const LATER: [(&str, u32); 1] = [("decision", 3)];

fn long_about() -> String {
    let documents = DOCUMENTS.iter().copied().chain(register::schemas());
    let names: Vec<&str> = documents.map(|(name, _)| name).collect();
    format!("The JSON Schema of a document: {}", names.join(", "))
}

/// The form of a file that is read.
fn read(form: &Form) -> Schema {
    form.schema().try_into().unwrap_or_default()
}

pub(super) fn run(_: &Here, arguments: &Arguments) -> Outcome {
    let documents: Vec<Document> = DOCUMENTS.iter().copied().chain(register::schemas()).collect();
    let Some(named) = &arguments.name else {
        documents.iter().try_for_each(|(name, _)| say::line(name))?;
        return Ok(());
    };
    let Some((name, schema)) = documents.iter().find(|(name, _)| name == named) else {
        let known = documents.iter().map(|(name, _)| *name);
        return Err(Fault::unknown_word(Code::NameUnknown, named, "a document that has a schema", known).into());
    };
    let mut schema = schema();
    let number = LATER.iter().find(|(later, _)| later == name).map_or(1, |(_, number)| *number);
    let id = format!("lapwise/{name}/{number}");
    // A document says by its first key which of these it is.
    if let Some(own) = schema.pointer_mut("/properties/schema") {
        *own = serde_json::json!({ "const": id });
    }
    schema.insert("$schema".to_owned(), "https://json-schema.org/draft/2020-12/schema".into());
    schema.insert("$id".to_owned(), id.into());
    say::json(&schema)?;
    Ok(())
}
