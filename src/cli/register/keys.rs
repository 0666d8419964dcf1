//! `lapwise register create` and `lapwise register key`.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::super::{Here, Outcome, say};
use super::{ended, now, open, tell};
use crate::load;
use crate::record::Role;
use crate::register::{Disk, Register};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register create register")]
pub(in crate::cli) struct Create {
    /// A new or empty folder
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Let one person author and approve the same selection
    #[arg(long)]
    one_person: bool,
}

#[derive(Debug, Subcommand)]
pub(in crate::cli) enum Key {
    /// Let a key sign from here on
    Add(Add),
    /// Let a key sign no more; what it signed before stands
    Revoke(Revoke),
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register key add register --signer m.sand --name \"Mira Sand\" \
                        --role author --key m.sand.pub")]
pub(in crate::cli) struct Add {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The signer's id
    #[arg(long, value_name = "ID")]
    signer: String,
    /// The name as it is printed
    #[arg(long)]
    name: String,
    /// author, reviewer (may author too) or approver (may do all)
    #[arg(long, value_name = "ROLE")]
    role: Role,
    /// The public half of an OpenSSH Ed25519 key
    #[arg(long, value_name = "FILE.pub")]
    key: PathBuf,
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise register key revoke register --signer m.sand --reason \"left the company\"")]
pub(in crate::cli) struct Revoke {
    /// The register
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The signer's id
    #[arg(long, value_name = "ID")]
    signer: String,
    /// One of several keys: its fingerprint, or the file of its public half
    #[arg(long, value_name = "FINGERPRINT|FILE.pub")]
    key: Option<String>,
    /// Why
    #[arg(long, default_value = "")]
    reason: String,
}

#[derive(Serialize, JsonSchema)]
struct Created {
    schema: &'static str,
    register: String,
    folder: String,
}

/// The form of what was made.
pub(super) fn created_schema() -> Schema {
    schema_for!(Created)
}

pub(super) fn create(here: &Here, arguments: &Create) -> Outcome {
    let register = Register::create(&arguments.folder, arguments.one_person, &now(), Disk::default()).map_err(ended)?;
    let folder = register.root().display().to_string();
    if here.json {
        say::json(&Created { schema: "lapwise/register-created/1", register: register.id().to_owned(), folder })?;
        return Ok(());
    }
    say::line(&format!("Register {} in {folder}", register.id()))?;
    say::line("  next: lapwise register key add, for each signer")?;
    Ok(())
}

pub(super) fn change(here: &Here, arguments: &Key) -> Outcome {
    match arguments {
        Key::Add(a) => {
            let register = open(&a.folder)?;
            let text = load::read_text(&a.key, &a.key.display().to_string())?;
            let added = register.add_key(&a.signer, &a.name, a.role, &text, &now()).map_err(ended)?;
            tell(here, &register, added, &format!("{} may sign as {}", a.signer, a.role.text()))
        }
        Key::Revoke(a) => {
            let register = open(&a.folder)?;
            let print = a.key.as_deref().map(fingerprint).transpose()?;
            let added = register.revoke_key(&a.signer, print.as_deref(), &a.reason, &now()).map_err(ended)?;
            tell(here, &register, added, &format!("the key of {} signs no more; what it signed stands", a.signer))
        }
    }
}

/// A fingerprint as given, or that of a public key's file.
fn fingerprint(given: &str) -> Result<String, super::End> {
    if given.starts_with("SHA256:") {
        return Ok(given.to_owned());
    }
    let text = load::read_text(&PathBuf::from(given), given)?;
    Ok(crate::register::fingerprint(&crate::register::public(&text)?))
}
