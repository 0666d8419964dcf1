//! `lapwise schema`: the JSON Schema of a document.

use clap::Args;
use schemars::{Schema, schema_for};

use super::{Here, Outcome, check, envelope, explain, matrix, model, rank, register, say};
use crate::dossier::view::View;
use crate::fault::{Code, Fault};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise schema rank")]
pub(super) struct Arguments {
    /// The document: check, diagnostics, dossier-view, envelope, explain, matrix, models or rank
    name: String,
}

/// A document that is described: the name in its `schema`, and its form.
type Document = (&'static str, fn() -> Schema);

/// Every document that is described.
const DOCUMENTS: &[Document] = &[
    ("check", check::schema),
    ("diagnostics", say::schema),
    ("dossier-view", view),
    ("envelope", envelope::schema),
    ("explain", explain::schema),
    ("matrix", matrix::schema),
    ("models", model::schema),
    ("rank", rank::schema),
];

/// What a template sees.
fn view() -> Schema {
    schema_for!(View)
}

pub(super) fn run(_: &Here, arguments: &Arguments) -> Outcome {
    let documents: Vec<Document> = DOCUMENTS.iter().copied().chain(register::schemas()).collect();
    let Some((name, schema)) = documents.iter().find(|(name, _)| *name == arguments.name) else {
        let known = documents.iter().map(|(name, _)| *name);
        return Err(
            Fault::unknown_word(Code::NameUnknown, &arguments.name, "a document that has a schema", known).into()
        );
    };
    let mut schema = schema();
    schema.insert("$id".to_owned(), format!("lapwise/{name}/1").into());
    say::json(&schema)?;
    Ok(())
}
