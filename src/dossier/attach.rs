//! The files inside the PDF: with them the PDF alone tells again what was decided, from what.

use std::collections::BTreeSet;
use std::path::Path;

use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::view::{Answer, AttachmentLine, Case, Inputs, Source, Stage};
use crate::envelope::Envelope;
use crate::evidence::Place;
use crate::judge::{Reading, Verdict};
use crate::load::Lines;
use crate::output::{self, Counts};
use crate::quantity::canonical;
use crate::rank;
use crate::record::sha256;

/// The decision.
pub(super) const DECISION: &str = "decision.json";
/// Every finding that was asked.
pub(super) const FINDINGS: &str = "findings.csv";
/// Versions and digests.
pub(super) const PROVENANCE: &str = "provenance.json";
/// The enquiry as given, where the name of its own file will not do.
pub(super) const ENQUIRY: &str = "enquiry.toml";
/// The tables of the data folder that the pages cite by line, and the files that hold the lines they cite.
const CITED: [(&str, &str); 3] =
    [("facts.csv", "facts-used.csv"), ("pairs.csv", "pairs-used.csv"), ("tapes.csv", "tapes-used.csv")];
/// The file of the criteria, and the file that holds those that the workings are held against.
const CRITERIA: (&str, &str) = ("criteria.toml", "criteria-used.toml");
/// The texts of the data folder, in a signed dossier: with them the file proves its decision.
pub(super) const INPUTS: &str = "inputs.json";

/// A file inside the PDF.
#[derive(Clone, Debug)]
pub struct Attachment {
    /// Its name where Typst reads it.
    pub name: &'static str,
    /// Its name inside the PDF, where that is another.
    pub given: Option<String>,
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
            name: self.given.clone().unwrap_or_else(|| self.name.to_owned()),
            file: self.name,
            mime: self.mime,
            relationship: self.relationship,
            description: self.description.clone(),
            digest: sha256(&self.bytes),
        }
    }
}

/// What was decided. `stage` is `draft` or `signed`; `revision` is that which it is, or would become where a register tells.
#[derive(Serialize, JsonSchema)]
struct Decision<'a> {
    schema: &'static str,
    stage: &'static str,
    revision: Option<u32>,
    enquiry: &'a str,
    date: &'a str,
    data: &'a str,
    invented: bool,
    proposed: Option<&'a str>,
    verdict: Option<Verdict>,
    conditions: Vec<&'a str>,
    limits: Vec<Limit<'a>>,
    tests: Vec<Trial<'a>>,
    order: Vec<Standing<'a>>,
    discontinued: Vec<&'a str>,
    counts: Counts,
}

/// A test before release, under the number that it has on the pages.
#[derive(Serialize, JsonSchema)]
struct Trial<'a> {
    number: usize,
    test: &'a str,
    standard: &'a str,
    specimens: u32,
    duration: &'a str,
    pass: &'a [String],
    decides: Vec<Decided<'a>>,
}

/// A finding that a test decides.
#[derive(Serialize, JsonSchema)]
struct Decided<'a> {
    tape: &'a str,
    criterion: &'a str,
    exposure: Option<&'a str>,
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
    enquiry_file: &'a str,
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

/// All attachments of a dossier; `cited` are the lines of tables that its pages name.
pub(super) fn attachments(
    case: &Case<'_>,
    answer: &Answer,
    limits: Option<&Envelope>,
    cited: &BTreeSet<&Place>,
    source: &Source<'_>,
) -> Vec<Attachment> {
    let l = case.language;
    let file = |name, mime, relationship, key: &str, bytes| Attachment {
        name,
        given: None,
        mime,
        relationship,
        description: l.text(key).to_owned(),
        bytes,
    };
    let given = given_name(&case.enquiry.file);
    let made_from = MadeFrom {
        schema: "lapwise/provenance/1",
        enquiry: &case.enquiry.number,
        enquiry_file: given,
        enquiry_sha256: sha256(source.enquiry_text.as_bytes()),
        data: &case.plan.catalogue.about.version,
        inputs: source.inputs,
    };
    let decided = json(&decision(case, answer, limits, &source.stage));
    let mut files = vec![
        file(DECISION, "application/json", "data", "attachments.decision", decided),
        file(FINDINGS, "text/csv", "data", "attachments.findings", findings(case)),
    ];
    let lines =
        |table: &str| -> BTreeSet<u32> { cited.iter().filter(|p| p.file.as_ref() == table).map(|p| p.line).collect() };
    let text = |table: &str| source.data.get(table).map(String::as_str).unwrap_or_default();
    for (table, name) in CITED {
        if let Some(rows) = rows(text(table), &lines(table)) {
            let description = l.say("attachments.cited", &[("table", table)]);
            files.push(Attachment { description, ..file(name, "text/csv", "source", "attachments.cited", rows) });
        }
    }
    let (criteria, name) = CRITERIA;
    if let Some(blocks) = blocks(text(criteria), &lines(criteria)) {
        files.push(file(name, "application/toml", "source", "attachments.criteria", blocks));
    }
    files.push(file(PROVENANCE, "application/json", "supplement", "attachments.provenance", json(&made_from)));
    let enquiry = source.enquiry_text.as_bytes().to_vec();
    files.push(Attachment {
        given: Some(given.to_owned()),
        ..file(ENQUIRY, "application/toml", "source", "attachments.enquiry", enquiry)
    });
    if source.stage.signature().is_some() {
        files.push(file(INPUTS, "application/json", "source", "attachments.inputs", json(source.data)));
    }
    files
}

/// The name of the enquiry's own file, as far as every reader of a PDF can be given it.
fn given_name(file: &str) -> &str {
    let name = Path::new(file).file_name().and_then(|name| name.to_str()).unwrap_or(ENQUIRY);
    let is_plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | 'À'..='ſ');
    let others = [DECISION, FINDINGS, PROVENANCE, INPUTS, CRITERIA.1].into_iter().chain(CITED.map(|(_, name)| name));
    if name.chars().all(is_plain) && others.into_iter().all(|other| other != name) { name } else { ENQUIRY }
}

/// The rows of a table that some lines belong to, below its head, each with its line in front; nothing without any.
fn rows(table: &str, cited: &BTreeSet<u32>) -> Option<Vec<u8>> {
    let lines = Lines::of_table("", table).ok()?;
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(["line"].into_iter().chain(reader.headers().ok()?)).ok()?;
    let mut found = false;
    for record in reader.records().flatten() {
        let offset = record.position().map_or(0, |p| usize::try_from(p.byte()).unwrap_or(usize::MAX));
        let first = lines.after_blank(table, offset);
        let breaks: usize = record.iter().map(|cell| cell.matches('\n').count()).sum();
        if cited.range(first..=first + u32::try_from(breaks).unwrap_or(0)).next().is_some() {
            found = true;
            out.write_record([first.to_string().as_str()].into_iter().chain(&record)).ok()?;
        }
    }
    out.into_inner().ok().filter(|_| found)
}

/// The criteria that some lines belong to, as they stand, each behind its line; nothing without any.
fn blocks(criteria: &str, cited: &BTreeSet<u32>) -> Option<Vec<u8>> {
    let lines: Vec<(u32, &str)> = (1..).zip(criteria.lines()).collect();
    let block = |block: &[(u32, &str)]| {
        let [(first, _), .., (last, _)] = block else { return None };
        cited.range(first..=last).next()?;
        // Remarks at the end of a block are about the next one.
        let own = block.iter().rposition(|(_, line)| !line.is_empty() && !line.starts_with('#'))?;
        let text: Vec<&str> = block[..=own].iter().map(|(_, line)| *line).collect();
        Some(format!("# line {first}\n{}\n", text.join("\n")))
    };
    let blocks: Vec<String> = lines.chunk_by(|_, (_, next)| *next != "[[criterion]]").filter_map(block).collect();
    (!blocks.is_empty()).then(|| blocks.join("\n").into_bytes())
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

fn decision<'a>(case: &'a Case<'_>, answer: &'a Answer, limits: Option<&Envelope>, stage: &Stage) -> Decision<'a> {
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
        schema: "lapwise/decision/3",
        stage: stage.text(),
        revision: stage.revision(),
        enquiry: &case.enquiry.number,
        date: &case.enquiry.date,
        data: &catalogue.about.version,
        invented: catalogue.about.invented,
        proposed: answer.proposed.as_ref().map(|p| p.tape.as_str()),
        verdict: answer.proposed.as_ref().map(|p| p.verdict),
        conditions: answer.conditions.iter().map(|c| c.value.as_str()).collect(),
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
        tests: (1..)
            .zip(&case.tests)
            .map(|(number, test)| Trial {
                number,
                test: &test.test,
                standard: &test.standard,
                specimens: test.specimens,
                duration: &test.duration,
                pass: &test.pass,
                decides: test
                    .decides
                    .iter()
                    .map(|d| Decided {
                        tape: case.tape_id(d.tape),
                        criterion: criterion(d.criterion),
                        exposure: exposure(d.exposure),
                    })
                    .collect(),
            })
            .collect(),
        order,
        discontinued: catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.as_str()).collect(),
        counts: Counts::of(case.findings.iter().flatten().map(|f| f.verdict)),
    }
}
