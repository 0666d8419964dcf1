//! Who may sign what, by key, role and the signatures before: asked before a signature is made, and again of every one
//! that stands.

use super::log::KeyChange;
use crate::fault::{Code, Fault};
use crate::record::{Kind, Meaning, Selection, Statement};

/// What a signature says.
#[derive(Clone, Copy)]
pub(super) struct Act<'a> {
    /// The signer's key.
    pub(super) key: &'a KeyChange,
    /// What is meant.
    pub(super) meaning: Meaning,
    /// Why.
    pub(super) reason: &'a str,
    /// What is signed.
    pub(super) selection: &'a Selection,
}

impl Act<'_> {
    /// Whether role, reason and the signatures under the selection so far allow it.
    ///
    /// # Errors
    /// The first rule that is broken.
    pub(super) fn allowed(self, earlier: &[&Statement], one_person: bool) -> Result<(), Fault> {
        let Act { key, meaning, reason, selection } = self;
        if !key.role.may(meaning) {
            return Err(Fault::new(
                Code::RoleRefused,
                format!("`{}`, in the role {}, signing as {}", key.signer, key.role.text(), meaning.text()),
                "a role that may",
                "let someone sign whose role allows it; reviewers review, approvers also approve",
            ));
        }
        let signed = |meaning| earlier.iter().filter(move |statement| statement.meaning == Some(meaning));
        // Who holds the same key is the same person, whatever the name.
        let is_theirs = |statement: &&Statement| {
            statement.signer.as_ref().is_some_and(|by| by.id == key.signer || by.fingerprint == key.fingerprint)
        };
        if signed(meaning).any(is_theirs) {
            return Err(Fault::new(
                Code::SignedAlready,
                format!("`{}` has signed as {}", key.signer, meaning.text()),
                "one signature of each meaning from a signer",
                "nothing is left to do",
            ));
        }
        let other = match meaning {
            Meaning::Approved => Some(Meaning::Authored),
            Meaning::Authored => Some(Meaning::Approved),
            _ => None,
        };
        if let Some(other) = other.filter(|_| !one_person) {
            let refused = |found: String, remedy: &str| {
                Err(Fault::new(Code::SeparationRefused, found, "two persons: this register keeps them apart", remedy))
            };
            if signed(other).any(is_theirs) {
                return refused(format!("`{}` as author and approver", key.signer), "let someone else approve");
            }
            if meaning == Meaning::Approved && signed(other).next().is_none() {
                return refused(
                    format!("`{}` as approver of what nobody has authored", key.signer),
                    "let its author sign first, as authored",
                );
            }
        }
        let grave = selection.verdict == "unsuitable" || selection.open_hazards > 0;
        let needed = meaning == Meaning::Withdrawn || (meaning == Meaning::Approved && grave);
        if needed && reason.trim().is_empty() {
            let found = match meaning {
                Meaning::Withdrawn => "a withdrawal without a reason".to_owned(),
                _ => format!(
                    "`{}`, {}, with {} open hazard findings, and no reason",
                    selection.tape, selection.verdict, selection.open_hazards
                ),
            };
            return Err(Fault::new(Code::ReasonMissing, found, "a written reason", "give it with --reason \"…\""));
        }
        Ok(())
    }
}

/// Holds a statement against the keys in force at its place and the statements before it under the same selection, in
/// their order: what is wrong with it, and what is needed.
pub(super) fn standing(
    statement: &Statement,
    in_force: &[&KeyChange],
    earlier: &[&Statement],
    one_person: bool,
) -> Result<(), Fault> {
    let wrong = |code, found: String, needed: &str| Err(Fault::new(code, found, needed, ""));
    let kinds: &[Option<Meaning>] = match statement.kind {
        Kind::Selection | Kind::Countersignature => {
            &[Some(Meaning::Authored), Some(Meaning::Reviewed), Some(Meaning::Approved)]
        }
        Kind::Withdrawal => &[Some(Meaning::Withdrawn)],
        Kind::Scan => &[None],
    };
    if !kinds.contains(&statement.meaning) || statement.signer.is_some() != statement.meaning.is_some() {
        let meaning = statement.meaning.map_or("nothing", Meaning::text);
        let by = if statement.signer.is_some() { "signed" } else { "without a signer" };
        return wrong(
            Code::StatementAltered,
            format!("a {} that means {meaning}, {by}", statement.kind.text()),
            "a selection or countersignature that is signed, a withdrawal that is, or a scan that is not",
        );
    }
    match (earlier.first(), statement.kind) {
        (None, Kind::Selection) => {}
        (Some(base), kind) if kind != Kind::Selection => {
            let same = base.selection == statement.selection
                && base.digests == statement.digests
                && base.versions == statement.versions
                && (&base.title, &base.customer) == (&statement.title, &statement.customer);
            if !same {
                return wrong(
                    Code::StatementSwapped,
                    "another selection".to_owned(),
                    "the selection that it stands beside",
                );
            }
            if earlier.iter().any(|statement| statement.kind == Kind::Withdrawal) {
                return wrong(Code::RecordClosed, "a statement behind a withdrawal".to_owned(), "nothing behind it");
            }
        }
        _ => {
            let found = format!("a {} in another's place", statement.kind.text());
            return wrong(Code::StatementSwapped, found, "a selection first, and all else beside it");
        }
    }
    let (Some(signer), Some(meaning)) = (&statement.signer, statement.meaning) else { return Ok(()) };
    let of = |key: &&&KeyChange| key.signer == signer.id && key.fingerprint == signer.fingerprint;
    let Some(key) = in_force.iter().find(of) else {
        return wrong(
            Code::SignatureKeyNotInForce,
            format!("`{}` with the key {}", signer.id, signer.fingerprint),
            "a signer and a key in force then",
        );
    };
    if key.name != signer.name || key.role != signer.role {
        return wrong(
            Code::StatementAltered,
            format!("`{}` as {}, {}", signer.id, signer.name, signer.role.text()),
            &format!("{}, {}, as the key list says", key.name, key.role.text()),
        );
    }
    Act { key, meaning, reason: &statement.reason, selection: &statement.selection }.allowed(earlier, one_person)
}
