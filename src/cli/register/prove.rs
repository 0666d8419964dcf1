//! `lapwise register verify`: a register, one selection of it, or a PDF.

use std::path::{Path, PathBuf};

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::super::{End, Here, Outcome, say};
use super::look::{stands, what};
use super::{ended, open};
use crate::dossier::proof::{self, Proof};
use crate::fault::{Code, Fault};
use crate::load;
use crate::quantity::count;
use crate::record::{Head, RecordId, sha256};
use crate::regenerate::{self, Again};
use crate::register::{DRAFTS, Flaw, Index, Line, Register, Report, Scope, Status};

#[derive(Debug, Args)]
#[command(after_help = "Examples: lapwise register verify register\n          lapwise register verify register \
                        Q-101/r0001\n          lapwise register verify Q-101_r0001.pdf --register register\n\nA head \
                        is printed by every command that signs, and on every signature page. Without --register a \
                        PDF that stands in no register is held against itself only.")]
pub(in crate::cli) struct Verify {
    /// The register, or a PDF
    #[arg(value_name = "DIR|FILE.pdf")]
    what: PathBuf,
    /// One selection of the register, such as Q-101/r0001
    record: Option<RecordId>,
    /// The register that a PDF belongs to, where it does not stand in it
    #[arg(long, value_name = "DIR")]
    register: Option<PathBuf>,
    /// A head that you hold, such as one on a signature page: the register must extend it
    #[arg(long, value_name = "ENTRIES:ROOT", value_parser = head)]
    head: Option<(u64, String)>,
}

/// How many entries, and the root over them.
fn head(text: &str) -> Result<(u64, String), String> {
    let parts = text.split_once(':').and_then(|(size, root)| Some((size.parse().ok()?, root.to_ascii_lowercase())));
    let whole = |(_, root): &(u64, String)| root.len() == 64 && root.bytes().all(|byte| byte.is_ascii_hexdigit());
    parts.filter(whole).ok_or_else(|| "write the entries, a colon and the root of 64 digits: `12:ab…`".to_owned())
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
    /// Drafts of next revisions: unsigned, and no part of what is proven.
    drafts: Vec<String>,
    /// Entries whose clock ran behind the one before.
    clock: Vec<String>,
    /// What judging the selection again by its kept inputs came to.
    decision: Option<String>,
    /// How the selection stands, where one was asked about.
    selection: Option<Line>,
}

#[derive(Serialize, JsonSchema)]
struct Proven {
    schema: &'static str,
    verified: bool,
    file: String,
    sha256: String,
    enquiry: String,
    proposed: Option<String>,
    /// What it was held against: its own attachments, or the register that holds it.
    against: &'static str,
    /// The record that the file is, where a register holds it.
    record: Option<String>,
    /// How that selection stands.
    selection: Option<Line>,
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
        return file(here, arguments);
    }
    let register = open(&arguments.what)?;
    let scope = arguments.record.clone().map_or(Scope::All, Scope::Record);
    let mut report = proven(&register, &scope, arguments.head.as_ref())?;
    let known = match &scope {
        Scope::Record(id) if report.flaws.is_empty() => Known::of(&register, id)?,
        _ => Known::default(),
    };
    report.flaws.extend(known.flaw.clone());
    let verified = report.flaws.is_empty();
    if here.json {
        say::json(&Verified {
            schema: "lapwise/register-verify/1",
            verified,
            register: register.id().to_owned(),
            head: report.head,
            records: report.records,
            signatures: report.signatures,
            flaws: report.flaws,
            unfinished: report.unfinished,
            drafts: report.drafts,
            clock: report.clock,
            decision: known.decision,
            selection: known.line,
        })?;
    } else {
        tell(&register, &report, &known)?;
    }
    if verified { Ok(()) } else { Err(End::Reported(1)) }
}

/// Proves what is asked, and that the log extends the head that the caller holds.
fn proven(register: &Register, scope: &Scope, head: Option<&(u64, String)>) -> Result<Report, End> {
    let mut report = register.verify(scope).map_err(ended)?;
    if let (Some((size, root)), true) = (head, report.flaws.is_empty()) {
        let held = Head { register: register.id().to_owned(), size: *size, root: root.clone() };
        report.flaws.extend(register.lacks(&held).map_err(ended)?);
    }
    Ok(report)
}

/// What a proven selection is, and what judging it again by its kept inputs came to.
#[derive(Default)]
struct Known {
    flaw: Option<Flaw>,
    decision: Option<String>,
    line: Option<Line>,
    /// Who signed, as what, when.
    signed: Vec<String>,
}

impl Known {
    fn of(register: &Register, id: &RecordId) -> Result<Known, End> {
        let statements = register.statements_of(id).map_err(ended)?;
        let Some((base, statement)) = statements.first() else { return Ok(Known::default()) };
        let (flaw, decision) = match regenerate::again(register, base, statement) {
            // They are the bytes that were signed; that this program does not read them any more takes nothing from that.
            Err(faults) => {
                let why = faults.sorted().first().map(|fault| format!(": {}", fault.found)).unwrap_or_default();
                (None, format!("NOT judged again, the kept inputs do not load{why}"))
            }
            Ok(Again::Same) => (None, "judged again by the kept inputs: the decision that was signed".to_owned()),
            Ok(Again::OtherVersion(version)) => {
                (None, format!("judged again: version {version} signed it, and this one decides otherwise"))
            }
            Ok(Again::Other) => {
                let fault = Fault::new(
                    Code::InputAltered,
                    "judged again by the kept inputs: another decision than the one signed",
                    "the decision that was signed",
                    "do not rely on it: the program or the record was altered before signing",
                );
                (Some(Flaw { record: Some(base.to_string()), entry: None, fault }), String::new())
            }
        };
        Ok(Known {
            decision: flaw.is_none().then_some(decision),
            flaw,
            line: Index::line(register, base).map_err(ended)?,
            signed: statements.iter().map(|(_, s)| format!("{} at {}", what(s), s.time)).collect(),
        })
    }

    /// What a verified selection is not, and a hasty reader would take it for.
    fn but(&self) -> &'static str {
        match self.line.as_ref().map(|line| line.status) {
            Some(Status::Withdrawn) => ", but WITHDRAWN",
            Some(Status::Superseded) => ", but OVERTAKEN by a later revision",
            Some(Status::Open) => ", but NOT APPROVED",
            Some(Status::Approved) | None => "",
        }
    }

    fn tell(&self) -> Outcome {
        if let Some(line) = &self.line {
            say::line(&format!("  selection {}, {}", line.record, stands(line)))?;
            say::line(&format!("  tape      {}, {} at signing", line.tape, line.verdict))?;
        }
        for signed in &self.signed {
            say::line(&format!("  signed    {signed}"))?;
        }
        if let Some(decision) = &self.decision {
            say::line(&format!("  decision  {decision}"))?;
        }
        Ok(())
    }
}

fn tell(register: &Register, report: &Report, known: &Known) -> Outcome {
    for flaw in &report.flaws {
        say::line(&format!("{flaw}\n"))?;
    }
    let (said, flaws) = match report.flaws.len() {
        0 => (format!("Verified{}", known.but()), String::new()),
        n => ("NOT VERIFIED".to_owned(), format!(", {}", count(n, "flaw", "flaws"))),
    };
    let records = count(report.records, "record", "records");
    let signatures = count(report.signatures, "signature", "signatures");
    say::line(&format!("{said}: {records}, {signatures}{flaws}"))?;
    known.tell()?;
    say::line(&format!("  register  {}", register.id()))?;
    say::line(&format!("  head      {} entries, root {}", report.head.size, report.head.root))?;
    for name in &report.unfinished {
        say::line(&format!("  unfinished, never acknowledged, not to be relied on: {name}"))?;
    }
    if !report.drafts.is_empty() {
        let drafts = count(report.drafts.len(), "draft", "drafts");
        say::line(&format!(
            "  beside    {drafts} of next revisions in {DRAFTS}: unsigned, and not part of what is proven"
        ))?;
    }
    for remark in &report.clock {
        say::line(&format!("  clock     {remark}"))?;
    }
    Ok(())
}

/// A PDF by itself, and in its register if there is one.
fn file(here: &Here, arguments: &Verify) -> Outcome {
    let path = arguments.what.as_path();
    let bytes = load::read_bytes(path, &path.display().to_string()).map_err(ended)?;
    let digest = sha256(&bytes);
    let mut unchecked = Vec::new();
    let (record, mut flaws, known) = if let Some(folder) = arguments.register.clone().or_else(|| around(path)) {
        in_register(&folder, arguments, &digest)?
    } else if arguments.head.is_some() {
        return Err(Fault::new(
            Code::RegisterMissing,
            "a head, and a file that stands in no register",
            "the register that must extend the head",
            "name it with --register",
        )
        .into());
    } else {
        unchecked.push(
            "the pages, and who signed them: the file alone proves neither; name its register with --register"
                .to_owned(),
        );
        (None, Vec::new(), Known::default())
    };
    let proof = match proof::prove(&bytes) {
        Ok(proof) => proof,
        // A file that is in no register and is no dossier either is a faulty input.
        Err(faults) if flaws.is_empty() && record.is_none() => return Err(faults.into()),
        // The page of a countersignature carries nothing but itself; its record proves it.
        Err(_) if flaws.is_empty() => Proof::default(),
        Err(faults) => Proof { flaws: faults.sorted(), ..Proof::default() },
    };
    unchecked.splice(0..0, proof.unchecked);
    flaws.extend(proof.flaws.into_iter().map(|fault| Flaw { record: record.clone(), entry: None, fault }));
    let verified = flaws.is_empty();
    let document = Proven {
        schema: "lapwise/dossier-proof/1",
        verified,
        file: path.display().to_string(),
        sha256: digest,
        enquiry: proof.enquiry,
        proposed: proof.proposed,
        against: if record.is_some() { "register" } else { "attachments" },
        record,
        selection: known.line.clone(),
        agreed: proof.agreed,
        unchecked,
        flaws,
    };
    if here.json {
        say::json(&document)?;
    } else {
        for flaw in &document.flaws {
            say::line(&format!("{flaw}\n"))?;
        }
        let said = match (verified, &document.record) {
            (true, Some(_)) => format!("Verified{}", known.but()),
            (true, None) => "Attachments agree, pages and signatures NOT CHECKED".to_owned(),
            (false, _) => "NOT VERIFIED".to_owned(),
        };
        let of = document.record.as_ref().map(|record| format!(", {record} of its register")).unwrap_or_default();
        say::line(&format!("{said}: {}{of}", document.file))?;
        known.tell()?;
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

/// The record of a register that a file is, and what is wrong with it.
fn in_register(folder: &Path, arguments: &Verify, digest: &str) -> Result<(Option<String>, Vec<Flaw>, Known), End> {
    let path = arguments.what.as_path();
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
        return Ok((None, vec![Flaw { record: None, entry: None, fault }], Known::default()));
    };
    let record = change.record.clone();
    if change.pdf.as_ref().is_some_and(|pdf| pdf.sha256 != digest) {
        let fault = Fault::new(
            Code::PdfAltered,
            format!("`{name}` has the digest {digest}"),
            format!("the digest that was signed for `{record}`"),
            "do not rely on this file; take the record from a copy of the register",
        );
        let flaw = Flaw { record: Some(record.clone()), entry: Some(seq), fault };
        return Ok((Some(record), vec![flaw], Known::default()));
    }
    let id: RecordId = record.parse()?;
    let report = proven(&register, &Scope::Record(id.clone()), arguments.head.as_ref())?;
    if !report.flaws.is_empty() {
        return Ok((Some(record), report.flaws, Known::default()));
    }
    // What judging again comes to the file's own proof tells.
    let known = Known { decision: None, ..Known::of(&register, &id)? };
    Ok((Some(record), known.flaw.clone().into_iter().collect(), known))
}
