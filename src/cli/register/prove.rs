//! `lapwise register verify`: a register, one selection of it, or a PDF.

use std::path::{Path, PathBuf};

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::super::{End, Here, Outcome, say};
use super::{ended, open};
use crate::dossier::proof::{self, Proof};
use crate::fault::{Code, Fault};
use crate::record::{Head, RecordId, sha256};
use crate::regenerate::{self, Again};
use crate::register::{Flaw, Register, Report, Scope};

#[derive(Debug, Args)]
#[command(after_help = "Examples: lapwise register verify register\n          lapwise register verify register \
                        Q-101/r0001\n          lapwise register verify Q-101_r0001.pdf --register register")]
pub(in crate::cli) struct Verify {
    /// The register, or a PDF
    #[arg(value_name = "DIR|FILE.pdf")]
    what: PathBuf,
    /// One selection of the register, such as Q-101/r0001
    record: Option<RecordId>,
    /// The register that a PDF belongs to, where it does not stand in it
    #[arg(long, value_name = "DIR")]
    register: Option<PathBuf>,
}

#[derive(Serialize, JsonSchema)]
#[expect(clippy::struct_field_names, reason = "the document's own words")]
struct Verified {
    schema: &'static str,
    verified: bool,
    register: String,
    head: Head,
    records: usize,
    signatures: usize,
    flaws: Vec<Flaw>,
    /// What no entry names: left of writing that was cut short. Nobody should rely on it.
    unfinished: Vec<String>,
    /// Entries whose clock ran behind the one before.
    clock: Vec<String>,
    /// What judging the selection again by its kept inputs came to.
    decision: Option<String>,
}

#[derive(Serialize, JsonSchema)]
struct Proven {
    schema: &'static str,
    verified: bool,
    file: String,
    sha256: String,
    enquiry: String,
    proposed: Option<String>,
    /// The record that the file is, where a register holds it.
    record: Option<String>,
    agreed: Vec<String>,
    unchecked: Vec<String>,
    flaws: Vec<Flaw>,
}

pub(super) fn verify_schema() -> Schema {
    schema_for!(Verified)
}

pub(super) fn proof_schema() -> Schema {
    schema_for!(Proven)
}

pub(super) fn verify(here: &Here, arguments: &Verify) -> Outcome {
    if arguments.what.is_file() {
        return file(here, &arguments.what, arguments.register.as_deref());
    }
    let register = open(&arguments.what)?;
    let scope = arguments.record.clone().map_or(Scope::All, Scope::Record);
    let report = register.verify(&scope).map_err(ended)?;
    let (flaws, decision) = match &scope {
        Scope::Record(id) if report.flaws.is_empty() => decision(&register, id)?,
        _ => (Vec::new(), None),
    };
    let flaws: Vec<Flaw> = report.flaws.iter().cloned().chain(flaws).collect();
    let verified = flaws.is_empty();
    if here.json {
        let (head, records, signatures) = (report.head, report.records, report.signatures);
        say::json(&Verified {
            schema: "lapwise/register-verify/1",
            verified,
            register: register.id().to_owned(),
            head,
            records,
            signatures,
            flaws,
            unfinished: report.unfinished,
            clock: report.clock,
            decision,
        })?;
    } else {
        tell(&register, &report, &flaws, decision.as_deref())?;
    }
    if verified { Ok(()) } else { Err(End::Reported(1)) }
}

/// Judges a selection again by its kept inputs.
fn decision(register: &Register, id: &RecordId) -> Result<(Vec<Flaw>, Option<String>), End> {
    let statements = register.statements_of(id).map_err(ended)?;
    let Some((base, statement)) = statements.first() else { return Ok((Vec::new(), None)) };
    Ok(match regenerate::again(register, base, statement)? {
        Again::Same => (Vec::new(), Some("judged again by the kept inputs: the decision that was signed".to_owned())),
        Again::OtherVersion(version) => {
            let note = format!("judged again: version {version} signed it, and this one decides otherwise");
            (Vec::new(), Some(note))
        }
        Again::Other => {
            let fault = Fault::new(
                Code::InputAltered,
                "judged again by the kept inputs: another decision than the one signed",
                "the decision that was signed",
                "do not rely on it: the program or the record was altered before signing",
            );
            (vec![Flaw { record: Some(base.to_string()), entry: None, fault }], None)
        }
    })
}

fn tell(register: &Register, report: &Report, flaws: &[Flaw], decision: Option<&str>) -> Outcome {
    for flaw in flaws {
        say::line(&format!("{flaw}\n"))?;
    }
    let said = if flaws.is_empty() { "Verified" } else { "NOT VERIFIED" };
    let count = match flaws.len() {
        0 => String::new(),
        1 => ", 1 flaw".to_owned(),
        n => format!(", {n} flaws"),
    };
    say::line(&format!("{said}: {} records, {} signatures{count}", report.records, report.signatures))?;
    if let Some(decision) = decision {
        say::line(&format!("  {decision}"))?;
    }
    say::line(&format!("  register {}", register.id()))?;
    say::line(&format!("  head     {} entries, root {}", report.head.size, report.head.root))?;
    for name in &report.unfinished {
        say::line(&format!("  unfinished, never acknowledged, not to be relied on: {name}"))?;
    }
    for remark in &report.clock {
        say::line(&format!("  clock    {remark}"))?;
    }
    Ok(())
}

/// A PDF by itself, and in its register if there is one.
fn file(here: &Here, path: &Path, register: Option<&Path>) -> Outcome {
    let bytes = std::fs::read(path).map_err(|error| {
        ended(Fault::new(
            Code::FileUnreadable,
            format!("`{}`: {error}", path.display()),
            "a file that can be read",
            "check the path and its permissions",
        ))
    })?;
    let digest = sha256(&bytes);
    let around = around(path);
    let (record, mut flaws, register_said) = match register.map(Path::to_owned).or(around) {
        Some(folder) => in_register(&folder, path, &digest)?,
        None => (
            None,
            Vec::new(),
            vec![
                "the pages, and who signed them: the file alone proves neither; name its register with --register"
                    .to_owned(),
            ],
        ),
    };
    let proof = match proof::prove(&bytes) {
        Ok(proof) => proof,
        // A file that is in no register and is no dossier either is a faulty input.
        Err(faults) if flaws.is_empty() && record.is_none() => return Err(faults.into()),
        // The page of a countersignature carries nothing but itself; its record proves it.
        Err(_) if flaws.is_empty() => Proof {
            enquiry: String::new(),
            proposed: None,
            agreed: Vec::new(),
            flaws: Vec::new(),
            unchecked: Vec::new(),
        },
        Err(faults) => {
            let unread = faults.sorted().into_iter().map(|fault| Flaw { record: record.clone(), entry: None, fault });
            flaws.extend(unread);
            Proof {
                enquiry: String::new(),
                proposed: None,
                agreed: Vec::new(),
                flaws: Vec::new(),
                unchecked: Vec::new(),
            }
        }
    };
    flaws.extend(proof.flaws.into_iter().map(|fault| Flaw { record: record.clone(), entry: None, fault }));
    let verified = flaws.is_empty();
    let document = Proven {
        schema: "lapwise/dossier-proof/1",
        verified,
        file: path.display().to_string(),
        sha256: digest,
        enquiry: proof.enquiry,
        proposed: proof.proposed,
        record,
        agreed: proof.agreed,
        unchecked: proof.unchecked.into_iter().chain(register_said).collect(),
        flaws,
    };
    if here.json {
        say::json(&document)?;
    } else {
        for flaw in &document.flaws {
            say::line(&format!("{flaw}\n"))?;
        }
        let said = match (verified, &document.record) {
            (true, Some(_)) => "Verified",
            (true, None) => "Attachments agree, pages and signatures NOT CHECKED",
            (false, _) => "NOT VERIFIED",
        };
        let of = document.record.as_ref().map(|record| format!(", {record} of its register")).unwrap_or_default();
        say::line(&format!("{said}: {}{of}", document.file))?;
        say::line(&format!("  sha256    {}", document.sha256))?;
        for agreed in &document.agreed {
            say::line(&format!("  agrees    {agreed}"))?;
        }
        for unchecked in &document.unchecked {
            say::line(&format!("  unchecked {unchecked}"))?;
        }
    }
    if verified { Ok(()) } else { Err(End::Reported(1)) }
}

/// The register that a file stands in: three folders up from the folder of its record.
fn around(path: &Path) -> Option<PathBuf> {
    let whole = path.canonicalize().ok()?;
    let folder = whole.ancestors().nth(4)?;
    folder.join("REGISTER.json").is_file().then(|| folder.to_owned())
}

type InRegister = (Option<String>, Vec<Flaw>, Vec<String>);

fn in_register(folder: &Path, path: &Path, digest: &str) -> Result<InRegister, End> {
    let register = open(folder)?;
    let log = register.log().map_err(ended)?;
    let by_digest = log.records().find(|(.., c)| c.pdf.as_ref().is_some_and(|pdf| pdf.sha256 == digest));
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let by_name = || log.records().find(|(.., c)| c.pdf.as_ref().is_some_and(|pdf| pdf.file == name));
    let Some((seq, _, change)) = by_digest.or_else(by_name) else {
        let fault = Fault::new(
            Code::PdfAltered,
            format!("no record of the register {} has a PDF with the digest {digest}", register.id()),
            "a PDF that was signed",
            "do not rely on it",
        );
        return Ok((None, vec![Flaw { record: None, entry: None, fault }], Vec::new()));
    };
    let record = change.record.clone();
    if change.pdf.as_ref().is_some_and(|pdf| pdf.sha256 != digest) {
        let fault = Fault::new(
            Code::PdfAltered,
            format!("`{name}` has the digest {digest}"),
            format!("the digest that was signed for `{record}`"),
            "do not rely on this file; take the record from a copy of the register",
        );
        return Ok((Some(record.clone()), vec![Flaw { record: Some(record), entry: Some(seq), fault }], Vec::new()));
    }
    let id: RecordId = record.parse()?;
    let report = register.verify(&Scope::Record(id.clone())).map_err(ended)?;
    let (more, said) = if report.flaws.is_empty() { decision(&register, &id)? } else { (Vec::new(), None) };
    let flaws = report.flaws.into_iter().chain(more).collect();
    // The decision is told by the record here, so a draft's lack of inputs does not matter.
    let _ = said;
    Ok((Some(record), flaws, Vec::new()))
}
