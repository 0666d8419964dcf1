//! `lapwise register sign`, `countersign`, `withdraw` and `attach-scan`.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use clap::Args;

use super::super::dossier::Look;
use super::super::{End, Here, Outcome, named, setup};
use super::{ended, now, open, tell};
use crate::dossier::typst::Typst;
use crate::dossier::view::{Signature, Stage};
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::load;
use crate::record::{Meaning, RecordId, sha256};
use crate::regenerate;
use crate::register::{self, Register, Revision, Signing};
use crate::selection::Judge;

#[derive(Debug, Args)]
#[command(
    after_help = "Example: lapwise register sign register Q-101 --tape H-111 --signer m.sand --meaning authored \
                        --key m.sand"
)]
pub(in crate::cli) struct Sign {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// An enquiry: its path, or its number in the data folder
    enquiry: String,
    /// The selected tape
    #[arg(long)]
    tape: String,
    /// authored, reviewed or approved
    #[arg(long)]
    meaning: Meaning,
    /// The newest record of this enquiry, which this one replaces
    #[arg(long, value_name = "RECORD")]
    revises: Option<RecordId>,
    /// Why; needed to approve an unsuitable tape or open hazard findings
    #[arg(long, default_value = "")]
    reason: String,
    #[command(flatten)]
    signer: Signer,
    #[command(flatten)]
    look: Look,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Example: lapwise register countersign register Q-101/r0001 --signer k.holm --meaning approved \
                        --key k.holm"
)]
pub(in crate::cli) struct Countersign {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The record, such as Q-101/r0001
    record: RecordId,
    /// authored, reviewed or approved
    #[arg(long)]
    meaning: Meaning,
    /// Why; needed to approve an unsuitable tape or open hazard findings
    #[arg(long, default_value = "")]
    reason: String,
    #[command(flatten)]
    signer: Signer,
    #[command(flatten)]
    look: Look,
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register withdraw register Q-101/r0001 --signer k.holm --key k.holm \
                        --reason \"order cancelled\"")]
pub(in crate::cli) struct Withdraw {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The record, such as Q-101/r0001
    record: RecordId,
    /// Why
    #[arg(long)]
    reason: String,
    #[command(flatten)]
    signer: Signer,
    #[command(flatten)]
    look: Look,
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register attach-scan register Q-101/r0001 signed-copy.pdf")]
pub(in crate::cli) struct AttachScan {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The record, such as Q-101/r0001
    record: RecordId,
    /// The scan
    file: PathBuf,
}

/// Who signs.
#[derive(Debug, Args)]
struct Signer {
    /// The signer's id in the register
    #[arg(long = "signer", value_name = "ID")]
    id: String,
    /// The private key, as ssh-keygen made it
    #[arg(long, value_name = "FILE")]
    key: PathBuf,
    /// Read the key's passphrase from this open file descriptor instead of asking at the terminal
    #[arg(long, value_name = "N")]
    passphrase_fd: Option<u32>,
}

impl Signer {
    fn open(&self) -> Result<ssh_key::PrivateKey, End> {
        let text = load::read_text(&self.key, &self.key.display().to_string())?;
        Ok(register::private(&text, || passphrase(self.passphrase_fd, &self.key))?)
    }
}

/// The passphrase, from a descriptor or from the terminal; never from an argument.
fn passphrase(descriptor: Option<u32>, key: &Path) -> Result<String, Fault> {
    let missing = |found: String| {
        Fault::new(
            Code::PassphraseMissing,
            found,
            "the key's passphrase",
            "run it at a terminal, or give --passphrase-fd with an open descriptor, such as `3<file`",
        )
    };
    if let Some(descriptor) = descriptor {
        let path = format!("/dev/fd/{descriptor}");
        let text =
            std::fs::read_to_string(&path).map_err(|error| missing(format!("descriptor {descriptor}: {error}")))?;
        return Ok(text.trim_end_matches(['\r', '\n']).to_owned());
    }
    if !std::io::stdin().is_terminal() {
        return Err(missing(format!("`{}` has a passphrase, and there is no terminal to ask at", key.display())));
    }
    inquire::Password::new(&format!("Passphrase of {}", key.display()))
        .without_confirmation()
        .prompt()
        .map_err(|error| missing(error.to_string()))
}

/// A withdrawal is a command of its own.
fn not_withdrawn(meaning: Meaning) -> Outcome {
    if meaning != Meaning::Withdrawn {
        return Ok(());
    }
    Err(End::Usage(Fault::new(
        Code::ArgumentUnknown,
        "--meaning withdrawn",
        "authored, reviewed or approved",
        "use `lapwise register withdraw`",
    )))
}

pub(super) fn sign(here: &Here, arguments: &Sign) -> Outcome {
    not_withdrawn(arguments.meaning)?;
    let register = open(&arguments.folder)?;
    let key = arguments.signer.open()?;
    let (folder, catalogue) = here.catalogue()?;
    let enquiries = [super::super::enquiry(&folder, &catalogue, &arguments.enquiry)?];
    named::candidate(&catalogue, &arguments.tape)?;
    let plan = Plan::new(&catalogue, &enquiries)?;
    let standings = plan.standings();
    let typst = Typst::find().map_err(setup::environment)?;
    let press = arguments.look.press(&folder)?;
    let e = &enquiries[0];
    let text = super::super::text_of(&folder, e)?;
    let Some(judged) = Judge::new(&plan)?.judged(0, &standings[0], &arguments.tape)? else {
        let ids = catalogue.tapes.iter().map(|tape| tape.id.as_str());
        return Err(Fault::unknown_word(Code::NameUnknown, &arguments.tape, "a candidate of the enquiry", ids).into());
    };
    let draft = regenerate::draft(&press, e, judged, &text, &catalogue.about)?;
    let render = |revision: &Revision| -> Result<Vec<u8>, Fault> {
        let signature = Signature::of(&revision.statement, &revision.earlier, &press.language);
        let dossier =
            press.prepare(&plan, 0, &standings[0], &text, Stage::Signed(Box::new(signature))).map_err(first)?;
        press.print(&typst, &dossier)
    };
    let signing = Signing {
        signer: &arguments.signer.id,
        meaning: arguments.meaning,
        reason: &arguments.reason,
        time: &now(),
        key: &key,
    };
    let added = register.sign(&draft, arguments.revises.as_ref(), &signing, render).map_err(ended)?;
    let what = said(&register, added.record.as_ref(), arguments.meaning, &arguments.signer.id);
    tell(here, &register, added, &what)
}

pub(super) fn countersign(here: &Here, arguments: &Countersign) -> Outcome {
    not_withdrawn(arguments.meaning)?;
    beside(
        here,
        (&arguments.folder, &arguments.record),
        (arguments.meaning, &arguments.reason),
        &arguments.signer,
        &arguments.look,
    )
}

pub(super) fn withdraw(here: &Here, arguments: &Withdraw) -> Outcome {
    beside(
        here,
        (&arguments.folder, &arguments.record),
        (Meaning::Withdrawn, &arguments.reason),
        &arguments.signer,
        &arguments.look,
    )
}

fn beside(
    here: &Here,
    (folder, record): (&Path, &RecordId),
    (meaning, reason): (Meaning, &str),
    signer: &Signer,
    look: &Look,
) -> Outcome {
    let register = open(folder)?;
    let key = signer.open()?;
    let typst = Typst::find().map_err(setup::environment)?;
    let press = look.press(&load::Folder::default())?;
    let render =
        |revision: &Revision| press.signature_page(&typst, &revision.statement, &revision.earlier).map_err(first);
    let signing = Signing { signer: &signer.id, meaning, reason, time: &now(), key: &key };
    let added = register.countersign(record, &signing, render).map_err(ended)?;
    let what = said(&register, added.record.as_ref(), meaning, &signer.id);
    tell(here, &register, added, &what)
}

pub(super) fn attach_scan(here: &Here, arguments: &AttachScan) -> Outcome {
    let register = open(&arguments.folder)?;
    let name = arguments.file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let bytes = load::read_bytes(&arguments.file, &name)?;
    let added = register.attach_scan(&arguments.record, &name, &bytes, &now()).map_err(ended)?;
    let record = added.record.as_ref().map(ToString::to_string).unwrap_or_default();
    tell(here, &register, added, &format!("{record}  {name} filed, sha256 {}", sha256(&bytes)))
}

/// One line on what was signed, and where its PDF is.
fn said(register: &Register, record: Option<&RecordId>, meaning: Meaning, signer: &str) -> String {
    let pdf = record.map(|id| register.folder_of(id).join(id.pdf()).display().to_string()).unwrap_or_default();
    let record = record.map(ToString::to_string).unwrap_or_default();
    format!("{record}  {} by {signer}: {pdf}", meaning.text())
}

/// The first of several faults: a page is rendered within a signing, which ends with one.
fn first(faults: Faults) -> Fault {
    faults.sorted().into_iter().next().unwrap_or_else(|| {
        Fault::new(Code::TemplateFaulty, "no reason given", "a page that prints", "report this as a defect")
    })
}
