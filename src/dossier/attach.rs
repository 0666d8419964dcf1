//! The files inside the PDF: with them the PDF alone tells again what was decided, from what.

use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::view::{Answer, AttachmentLine, Case, Inputs, Source};
use crate::envelope::Envelope;
use crate::judge::{Reading, Verdict};
use crate::output::{self, Counts};
use crate::quantity::canonical;
use crate::rank;
use crate::record::sha256;
use crate::settle;

/// The decision.
pub(super) const DECISION: &str = "decision.json";
/// Every finding that was asked.
pub(super) const FINDINGS: &str = "findings.csv";
/// Versions and digests.
pub(super) const PROVENANCE: &str = "provenance.json";
/// The enquiry as given.
pub(super) const ENQUIRY: &str = "enquiry.toml";
/// The texts of the data folder, in a signed dossier: with them the file proves its decision.
pub(super) const INPUTS: &str = "inputs.json";

/// A file inside the PDF.
#[derive(Clone, Debug)]
pub struct Attachment {
    /// Its name.
    pub name: &'static str,
    /// Its mime type.
    pub mime: &'static str,
    /// How it belongs to the document: data, source or supplement.
    pub relationship: &'static str,
    /// What it is, in words.
    pub description: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl Attachment {
    /// Its line on the page.
    #[must_use]
    pub fn line(&self) -> AttachmentLine {
        AttachmentLine {
            name: self.name,
            mime: self.mime,
            relationship: self.relationship,
            description: self.description.clone(),
            digest: sha256(&self.bytes),
        }
    }
}

#[derive(Serialize, JsonSchema)]
struct Decision<'a> {
    schema: &'static str,
    enquiry: &'a str,
    date: &'a str,
    data: &'a str,
    invented: bool,
    proposed: Option<&'a str>,
    verdict: Option<Verdict>,
    conditions: &'a [String],
    limits: Vec<Limit<'a>>,
    tests: &'a [settle::Test],
    order: Vec<Standing<'a>>,
    discontinued: Vec<&'a str>,
    counts: Counts,
}

/// A limit of use; numbers in SI, as canonical text.
#[derive(Serialize, JsonSchema)]
struct Limit<'a> {
    quantity: crate::envelope::Quantity,
    now: String,
    holds: String,
    above: bool,
    verdict: Verdict,
    criterion: &'a str,
    exposure: Option<&'a str>,
}

#[derive(Serialize, JsonSchema)]
struct Standing<'a> {
    tape: &'a str,
    revision: &'a str,
    verdict: Verdict,
    open_hazards: u32,
    weakest: Option<&'a str>,
    exposure: Option<&'a str>,
    margin: Option<String>,
    margin_reads: Reading,
}

#[derive(Serialize, JsonSchema)]
struct MadeFrom<'a> {
    schema: &'static str,
    enquiry: &'a str,
    enquiry_sha256: String,
    data: &'a str,
    inputs: &'a Inputs,
}

/// The form of the decision inside a PDF.
#[must_use]
pub fn decision_schema() -> Schema {
    schema_for!(Decision)
}

/// The form of what a dossier was made from, inside its PDF.
#[must_use]
pub fn provenance_schema() -> Schema {
    schema_for!(MadeFrom)
}

/// All attachments of a dossier.
pub(super) fn attachments(
    case: &Case<'_>,
    answer: &Answer,
    limits: Option<&Envelope>,
    tests: &[settle::Test],
    source: &Source<'_>,
) -> Vec<Attachment> {
    let l = case.language;
    let file = |name, mime, relationship, key: &str, bytes| Attachment {
        name,
        mime,
        relationship,
        description: l.text(key).to_owned(),
        bytes,
    };
    let made_from = MadeFrom {
        schema: "lapwise/provenance/1",
        enquiry: &case.enquiry.number,
        enquiry_sha256: sha256(source.enquiry_text.as_bytes()),
        data: &case.plan.catalogue.about.version,
        inputs: source.inputs,
    };
    let mut files = vec![
        file(
            DECISION,
            "application/json",
            "data",
            "attachments.decision",
            json(&decision(case, answer, limits, tests)),
        ),
        file(FINDINGS, "text/csv", "data", "attachments.findings", findings(case)),
        file(PROVENANCE, "application/json", "supplement", "attachments.provenance", json(&made_from)),
        file(ENQUIRY, "application/toml", "source", "attachments.enquiry", source.enquiry_text.as_bytes().to_vec()),
    ];
    if source.signature.is_some() {
        files.push(file(INPUTS, "application/json", "source", "attachments.inputs", json(source.data)));
    }
    files
}

fn json(document: &impl Serialize) -> Vec<u8> {
    let mut bytes = serde_json::to_vec_pretty(document).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

/// Every finding that was asked, of every candidate.
fn findings(case: &Case<'_>) -> Vec<u8> {
    let asked = case.ranked.iter().flat_map(|r| case.of(r)).filter(|f| f.verdict != Verdict::NotAsked);
    let rows: Vec<output::Row> = asked.map(|f| output::row(case.plan, case.number, f)).collect();
    let mut bytes = Vec::new();
    // A vector takes every byte.
    let _ = output::csv(&rows, &mut bytes);
    bytes
}

fn decision<'a>(
    case: &'a Case<'_>,
    answer: &'a Answer,
    limits: Option<&Envelope>,
    tests: &'a [settle::Test],
) -> Decision<'a> {
    let catalogue = case.plan.catalogue;
    let criterion = |index: usize| catalogue.criteria[index].id.as_str();
    let exposure = |x: Option<usize>| x.map(|x| case.enquiry.exposures[x].name.as_str());
    let order = case
        .ranked
        .iter()
        .map(|ranked| {
            let weakest = rank::weakest(case.of(ranked));
            Standing {
                tape: case.tape_id(ranked.tape),
                revision: &catalogue.tapes[ranked.tape].revision,
                verdict: ranked.standing.verdict,
                open_hazards: ranked.standing.open_hazards,
                weakest: weakest.map(|f| criterion(f.criterion)),
                exposure: weakest.and_then(|f| exposure(f.exposure)),
                margin: weakest.and_then(|f| f.margin.number()).map(canonical),
                margin_reads: weakest.map(|f| f.reading).unwrap_or_default(),
            }
        })
        .collect();
    let turns = limits.map(|e| e.turns.as_slice()).unwrap_or_default();
    Decision {
        schema: "lapwise/decision/1",
        enquiry: &case.enquiry.number,
        date: &case.enquiry.date,
        data: &catalogue.about.version,
        invented: catalogue.about.invented,
        proposed: answer.proposed.as_ref().map(|p| p.tape.as_str()),
        verdict: answer.proposed.as_ref().map(|p| p.verdict),
        conditions: &answer.conditions,
        limits: turns
            .iter()
            .map(|turn| Limit {
                quantity: turn.quantity,
                now: canonical(turn.now),
                holds: canonical(turn.value),
                above: turn.above,
                verdict: turn.verdict,
                criterion: criterion(turn.criterion),
                exposure: exposure(turn.exposure),
            })
            .collect(),
        tests,
        order,
        discontinued: catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.as_str()).collect(),
        counts: Counts::of(case.findings.iter().flatten().map(|f| f.verdict)),
    }
}
