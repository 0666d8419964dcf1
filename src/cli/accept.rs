//! `lapwise accept`: takes a remark of `check` on, with a reason that is kept in the data folder.

use std::io::Write;

use clap::Args;
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{End, Here, Outcome, commit};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::load::Folder;
use crate::plausible::{self, ACCEPTED, Acceptance, Kind, Remark};

/// What a new file begins with.
const HEAD: &str = "# Remarks of `lapwise check` that somebody has looked at and taken on, each with the reason. `lapwise accept` adds one.\n\
# An acceptance holds for the value it names: when the value changes, it is reported as stale.\n";

#[derive(Debug, Args)]
#[command(
    after_help = "Example: lapwise accept index-above-parts H-012 --reason \"ageing report 14, 20 000 h at 172 degC\" --by \"A. Example\""
)]
pub(super) struct Arguments {
    /// The code of the remark, as `check` prints it in parentheses
    code: String,
    /// Whom it is about: a tape, a material, a source, the number of an enquiry
    subject: String,
    /// The column, property or key; needed where there are several remarks of the code on the subject
    column: Option<String>,
    /// Why it is right all the same
    #[arg(long)]
    reason: String,
    /// Who says so
    #[arg(long)]
    by: String,
    /// The day it is said, as 2026-11-20; today without it
    #[arg(long, value_name = "DATE")]
    date: Option<jiff::civil::Date>,
}

#[derive(Serialize, JsonSchema)]
struct Document {
    schema: &'static str,
    #[serde(flatten)]
    acceptance: Acceptance,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Document)
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    for (key, text) in [("reason", &arguments.reason), ("by", &arguments.by)] {
        if text.trim().is_empty() {
            let found = format!("an empty --{key}");
            let fault = Fault::new(Code::ArgumentMissing, found, "words", "an acceptance stands on its reason");
            return Err(End::Usage(fault));
        }
    }
    let (folder, catalogue) = here.catalogue()?;
    let remarks = remarks(&folder, &catalogue)?;
    let remark = chosen(&remarks, arguments)?;
    let date = arguments.date.unwrap_or_else(|| jiff::ZonedDateTime::now().date());
    let acceptance = Acceptance {
        code: remark.code.code().to_owned(),
        subject: remark.subject.clone(),
        column: remark.column.clone(),
        value: remark.value.clone(),
        reason: arguments.reason.trim().to_owned(),
        by: arguments.by.trim().to_owned(),
        date: date.to_string(),
        place: Place::file(ACCEPTED),
    };
    let before = folder.files.get(ACCEPTED).map_or(HEAD, String::as_str);
    let gap = if before.ends_with('\n') { "" } else { "\n" };
    let text = format!("{before}{gap}\n{}", acceptance.text());
    commit::write(&folder, &[(ACCEPTED.to_owned(), text)])?;
    if here.json {
        super::say::json(&Document { schema: "lapwise/accept/1", acceptance })?;
    } else {
        let Acceptance { code, subject, column, value, .. } = &acceptance;
        writeln!(
            std::io::stdout(),
            "accepted in {}: {code} on {subject}, {column} `{value}`",
            here.data.join(ACCEPTED).display()
        )?;
    }
    Ok(())
}

/// The remarks that stand in the data folder.
fn remarks(folder: &Folder, catalogue: &Catalogue) -> Result<Vec<Remark>, Faults> {
    let mut faults = Faults::default();
    let mut enquiries = Vec::new();
    for name in folder.enquiries() {
        match Enquiry::read(name, folder.text(name), catalogue) {
            Ok(enquiry) => enquiries.push(enquiry),
            Err(found) => faults.extend(found),
        }
    }
    faults.or(())?;
    Ok(plausible::review(folder, catalogue, &enquiries)?.remarks)
}

/// The one remark that is meant.
fn chosen<'r>(remarks: &'r [Remark], arguments: &Arguments) -> Result<&'r Remark, Fault> {
    let Arguments { code, subject, column, .. } = arguments;
    let unknown = |found: &str, needed: &str, known: Vec<&str>| -> Fault {
        Fault::unknown_word(Code::NameUnknown, found, needed, known)
    };
    if Kind::of(code).is_none() {
        return Err(unknown(code, "the code of a remark", Kind::ALL.iter().map(|kind| kind.code()).collect()));
    }
    let acceptable = |r: &&Remark| r.code.code() == code && r.code != Kind::AcceptanceStale;
    let of_code: Vec<&Remark> = remarks.iter().filter(acceptable).collect();
    let of_subject: Vec<&Remark> = of_code.iter().copied().filter(|r| r.subject == *subject).collect();
    if of_subject.is_empty() {
        let known: Vec<&str> = of_code.iter().map(|r| r.subject.as_str()).collect();
        let mut fault = unknown(subject, &format!("a subject of which `check` remarks {code}"), known.clone());
        if known.is_empty() {
            "nothing is to be accepted; `lapwise check` lists what stands".clone_into(&mut fault.remedy);
        }
        return Err(fault);
    }
    let fitting: Vec<&Remark> =
        of_subject.iter().copied().filter(|r| column.as_ref().is_none_or(|column| r.column == *column)).collect();
    let columns = || of_subject.iter().map(|r| r.column.as_str()).collect::<Vec<_>>();
    match (fitting.as_slice(), column) {
        ([], Some(column)) => Err(unknown(column, &format!("a column of {subject} with this remark"), columns())),
        ([one, ..], _) if fitting.iter().all(|r| r.column == one.column && r.value == one.value) => Ok(one),
        (several, _) => Err(Fault::new(
            Code::NameUnknown,
            format!("{} remarks of this code on {subject}", several.len()),
            "the one that is meant",
            format!("name its column: {}", columns().join(", ")),
        )),
    }
}
