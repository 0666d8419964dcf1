//! A signed dossier proves itself: its attachments against their digests, and the decision worked out
//! again from the inputs that are inside the file.

use std::collections::BTreeMap;
use std::path::PathBuf;

use lopdf::{Dictionary, Document, LoadOptions, Object};
use serde::Serialize;
use serde_json::Value;

use super::view::Stage;
use super::{Press, attach};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::evidence::Place;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::load::Folder;
use crate::record::sha256;

/// What a dossier proves of itself.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Proof {
    /// The enquiry's number.
    pub enquiry: String,
    /// The tape that the decision proposes.
    pub proposed: Option<String>,
    /// What was held against what, and agrees.
    pub agreed: Vec<String>,
    /// What does not agree.
    pub flaws: Vec<Fault>,
    /// What could not be checked, and why.
    pub unchecked: Vec<String>,
}

/// Reads a dossier back and works its decision out again.
///
/// # Errors
/// Bytes that are no PDF, or no dossier of this program.
pub fn prove(pdf: &[u8]) -> Result<Proof, Faults> {
    let files = attached(pdf)?;
    let lacks = || foreign("a PDF without the attachments of a dossier");
    let (Some(decision), Some(provenance)) = (files.get(attach::DECISION), files.get(attach::PROVENANCE)) else {
        return Err(lacks().into());
    };
    let json = |name: &str, bytes: &[u8]| -> Result<Value, Fault> {
        serde_json::from_slice(bytes).map_err(|error| altered(name, &format!("no JSON: {error}")))
    };
    let told = json(attach::DECISION, decision)?;
    let made_from = json(attach::PROVENANCE, provenance)?;
    let given = made_from["enquiry_file"].as_str().unwrap_or(attach::ENQUIRY);
    let enquiry = files.get(given).ok_or_else(lacks)?;
    let mut proof = Proof {
        enquiry: told["enquiry"].as_str().unwrap_or_default().to_owned(),
        proposed: told["proposed"].as_str().map(str::to_owned),
        ..Proof::default()
    };
    proof.hold(given, &sha256(enquiry), made_from["enquiry_sha256"].as_str());
    let Some(inputs) = files.get(attach::INPUTS) else {
        proof.unchecked.push("the decision: an unsigned draft carries no inputs to work it out from".to_owned());
        return Ok(proof);
    };
    let inputs: BTreeMap<String, String> = serde_json::from_slice(inputs)
        .map_err(|error| altered(attach::INPUTS, &format!("no list of texts: {error}")))?;
    let listed = made_from["inputs"]["data"].as_array().map(Vec::as_slice).unwrap_or_default();
    let wanted = |file: &str| listed.iter().find(|d| d["file"] == file).and_then(|d| d["sha256"].as_str());
    for (file, text) in &inputs {
        proof.hold(file, &sha256(text.as_bytes()), wanted(file));
    }
    for missing in listed.iter().filter_map(|d| d["file"].as_str()).filter(|file| !inputs.contains_key(*file)) {
        proof.flaws.push(altered(missing, "not among the inputs"));
    }
    if proof.flaws.is_empty() {
        let enquiry = String::from_utf8_lossy(enquiry);
        // Only a signed dossier carries its inputs.
        let revision = told["revision"].as_u64().and_then(|n| u32::try_from(n).ok()).unwrap_or_default();
        let again = worked_out(inputs, &enquiry, Stage::signed_as(revision))?;
        for name in [attach::DECISION, attach::FINDINGS] {
            let same = again.get(name) == files.get(name);
            let by = made_from["inputs"]["lapwise"].as_str().unwrap_or_default();
            match (same, by == env!("CARGO_PKG_VERSION")) {
                (true, _) => proof.agreed.push(format!("{name}, worked out again from the inputs")),
                (false, true) => proof.flaws.push(altered(name, "not what the inputs give")),
                (false, false) => {
                    let note = format!(
                        "{name}: version {by} made it, this is {}; they work it out differently",
                        env!("CARGO_PKG_VERSION")
                    );
                    proof.unchecked.push(note);
                }
            }
        }
    }
    Ok(proof)
}

impl Proof {
    fn hold(&mut self, name: &str, digest: &str, wanted: Option<&str>) {
        if wanted == Some(digest) {
            self.agreed.push(format!("{name}, by its digest"));
        } else {
            self.flaws.push(altered(name, &format!("a digest of {digest}, and provenance.json says otherwise")));
        }
    }
}

/// The attachments that the inputs give when they are judged again.
fn worked_out(
    inputs: BTreeMap<String, String>,
    enquiry: &str,
    stage: Stage,
) -> Result<BTreeMap<&'static str, Vec<u8>>, Faults> {
    let folder = Folder { root: PathBuf::new(), files: inputs };
    let catalogue = Catalogue::build(&folder)?;
    let enquiries = [Enquiry::read(attach::ENQUIRY, enquiry, &catalogue)?];
    let plan = Plan::new(&catalogue, &enquiries)?;
    let standings = plan.standings();
    let press = Press::new(&folder, None, "en")?;
    let dossier = press.prepare(&plan, 0, standings.first().map_or(&[][..], Vec::as_slice), enquiry, stage)?;
    Ok(dossier.attachments.into_iter().map(|a| (a.name, a.bytes)).collect())
}

/// The most bytes that one stream of a PDF is unpacked to: a few thousand packed ones can stand for gigabytes.
const UNPACKED: usize = 256 << 20;

/// The files inside a PDF, by name.
fn attached(pdf: &[u8]) -> Result<BTreeMap<String, Vec<u8>>, Fault> {
    let bounded = LoadOptions::with_max_decompressed_size(UNPACKED);
    let document =
        Document::load_mem_with_options(pdf, bounded).map_err(|error| foreign(&format!("no PDF: {error}")))?;
    let mut files = BTreeMap::new();
    for object in document.objects.values() {
        let Ok(spec) = object.as_dict() else { continue };
        let stream = |spec: &Dictionary| -> Option<Vec<u8>> {
            let held = spec.get(b"EF").ok()?.as_dict().ok()?.get(b"F").ok()?;
            let (_, held) = document.dereference(held).ok()?;
            let stream = held.as_stream().ok()?;
            // A file that is not packed stands there as it is.
            if stream.dict.has(b"Filter") {
                return stream.decompressed_content_with_limit(UNPACKED).ok();
            }
            Some(stream.content.clone())
        };
        let name = spec.get(b"UF").or_else(|_| spec.get(b"F")).ok().and_then(text);
        if let (Some(name), Some(bytes)) = (name, stream(spec)) {
            files.insert(name, bytes);
        }
    }
    Ok(files)
}

fn text(object: &Object) -> Option<String> {
    lopdf::decode_text_string(object).ok()
}

fn foreign(found: &str) -> Fault {
    Fault::new(
        Code::FormatUnknown,
        found,
        "the PDF of a dossier",
        "name the PDF that `lapwise dossier` or `lapwise register sign` wrote",
    )
}

fn altered(name: &str, found: &str) -> Fault {
    let fault = Fault::new(
        Code::InputAltered,
        found,
        "what provenance.json names",
        "do not rely on this file; take the dossier from the register",
    );
    fault.at(Place::file(name))
}
