//! Signing, countersigning, filing a scan, withdrawing, and the keys that may.

use ssh_key::PrivateKey;

use super::commit::{checksums, digests, folder_of};
use super::log::{Entry, Event, KeyChange, Log, RecordChange};
use super::rules::Act;
use super::{Register, disk, keys};
use crate::fault::{Code, Fault};
use crate::record::{
    self, Digests, FORM, FileDigest, Head, Kind, Meaning, RecordId, Role, STATEMENT, Selection, Signer, Statement,
    Versions,
};

/// A selection that is to be signed: what it says and what it rests on.
#[derive(Clone, Debug)]
pub struct Draft {
    /// The enquiry's number.
    pub enquiry: String,
    /// Its title.
    pub title: String,
    /// Who asked.
    pub customer: String,
    /// What is selected.
    pub selection: Selection,
    /// The three digests.
    pub digests: Digests,
    /// The human versions.
    pub versions: Versions,
    /// Files of its own, kept in `inputs/`.
    pub inputs: Vec<(String, Vec<u8>)>,
    /// Files that it shares with other records.
    pub shared: Vec<(String, Vec<u8>)>,
}

/// Who signs, and how.
pub struct Signing<'k> {
    /// The signer's id.
    pub signer: &'k str,
    /// What it means.
    pub meaning: Meaning,
    /// Why.
    pub reason: &'k str,
    /// When, in UTC with its offset.
    pub time: &'k str,
    /// The private key.
    pub key: &'k PrivateKey,
}

/// What a signature page shows beyond the dossier; the digest of the PDF alone is missing.
#[derive(Clone, Debug)]
pub struct Revision {
    /// The statement as far as it is known before the page is rendered.
    pub statement: Statement,
    /// The statements before it, in order.
    pub earlier: Vec<Statement>,
}

/// A file by its name.
type Named = (String, Vec<u8>);

/// What was added to the register.
#[derive(Clone, Debug)]
pub struct Added {
    /// The record; none for a key.
    pub record: Option<RecordId>,
    /// Its entry.
    pub entry: u64,
    /// The head after it.
    pub head: Head,
    /// What the signer should know: a clock that runs behind, a head that could not be remembered.
    pub warnings: Vec<String>,
}

impl Register {
    /// Adds a key.
    ///
    /// # Errors
    /// A signer who has that key already, a disk that refuses.
    pub fn add_key(&self, id: &str, name: &str, role: Role, public: &str, time: &str) -> Result<Added, Fault> {
        let plain = |c: char| c.is_ascii_alphanumeric() || "-_.@+".contains(c);
        if id.is_empty() || !id.chars().all(plain) {
            return Err(Fault::new(
                Code::SignerUnknown,
                format!("`{id}`"),
                "a signer's id of letters, digits and `-_.@+`",
                "write an id such as `m.sand`; the name may hold anything",
            ));
        }
        let key = keys::public(public)?;
        let text = key.to_openssh().map_err(|e| defect(&e.to_string()))?.trim().to_owned();
        let print = keys::fingerprint(&key);
        let change = |list| KeyChange {
            signer: id.to_owned(),
            name: name.to_owned(),
            role,
            fingerprint: print.clone(),
            public_key: text.clone(),
            reason: String::new(),
            list,
        };
        self.change_keys(Event::KeyAdded, time, |log| {
            let now = log.keys_before(u64::MAX);
            if let Some(held) = now.iter().find(|held| held.fingerprint == print) {
                return Err(Fault::new(
                    Code::SignerExists,
                    format!("the key {print} is that of `{}`", held.signer),
                    "a key that nobody else signs with",
                    "use another key, or revoke that one first",
                ));
            }
            let new = change(FileDigest::of("", &[]));
            let list = keys::list(&now.into_iter().chain([&new]).collect::<Vec<_>>());
            Ok((list, new))
        })
    }

    /// Revokes the keys of a signer, or one of them; what they signed before stands.
    ///
    /// # Errors
    /// A signer without such a key in force.
    pub fn revoke_key(&self, id: &str, fingerprint: Option<&str>, reason: &str, time: &str) -> Result<Added, Fault> {
        self.change_keys(Event::KeyRevoked, time, |log| {
            let now = log.keys_before(u64::MAX);
            let meant =
                |key: &&&KeyChange| key.signer == id && fingerprint.is_none_or(|print| print == key.fingerprint);
            let Some(gone) = now.iter().find(meant) else { return Err(unknown_signer(&now, id)) };
            let left: Vec<&KeyChange> = now.iter().copied().filter(|key| key != gone).collect();
            Ok((keys::list(&left), KeyChange { reason: reason.to_owned(), ..(*gone).clone() }))
        })
    }

    fn change_keys(
        &self,
        event: Event,
        time: &str,
        change: impl Fn(&Log) -> Result<(String, KeyChange), Fault>,
    ) -> Result<Added, Fault> {
        let held = self.hold();
        let log = self.log()?;
        let clock = clock(&log, time);
        let (text, mut new) = change(&log)?;
        let number = 1 + log.entries.iter().filter(|entry| entry.key.is_some()).count();
        let name = format!("allowed_signers.{number}");
        new.list = FileDigest::of(format!("keys/{name}"), text.as_bytes());
        let stage = self.stage()?;
        self.keep_list(&stage, &name, &text, held.is_some())?;
        // Another writer's change of the keys makes this list wrong.
        let still = |log: &Log| {
            let same = log.entries.iter().filter(|entry| entry.key.is_some()).count() + 1 == number;
            if same { Ok(()) } else { Err(overtaken()) }
        };
        let log = self.append(&stage, log, event, time, (Some(new), None), still)?;
        Ok(self.added(None, &log, clock))
    }

    /// Signs a selection. `render` prints the dossier with its signature page; its bytes are then hashed
    /// into the statement, and the statement is signed.
    ///
    /// # Errors
    /// A signer, key, role, reason or revision that does not fit; a page that does not print; a disk
    /// that refuses.
    pub fn sign(
        &self,
        draft: &Draft,
        revises: Option<&RecordId>,
        signing: &Signing<'_>,
        render: impl FnOnce(&Revision) -> Result<Vec<u8>, Fault>,
    ) -> Result<Added, Fault> {
        if signing.meaning == Meaning::Withdrawn {
            return Err(Fault::new(
                Code::RoleRefused,
                "a selection signed as withdrawn",
                "authored, reviewed or approved",
                "use `lapwise register withdraw`",
            ));
        }
        let log = self.log()?;
        let check = |log: &Log| {
            let revision = next_revision(log, &draft.enquiry, revises)?;
            let key = self.may_sign(log, signing, &draft.selection, &[])?;
            Ok((revision, key))
        };
        let (revision, signer) = check(&log)?;
        let id = RecordId { enquiry: draft.enquiry.clone(), revision, beside: 0 };
        let inputs: Vec<(String, Vec<u8>)> =
            draft.inputs.iter().map(|(name, bytes)| (format!("inputs/{name}"), bytes.clone())).collect();
        let statement = Statement {
            schema: STATEMENT.to_owned(),
            form: FORM.to_owned(),
            record: id.to_string(),
            kind: Kind::Selection,
            revision,
            supersedes: revises.map(ToString::to_string),
            title: draft.title.clone(),
            customer: draft.customer.clone(),
            signer: Some(signer),
            meaning: Some(signing.meaning),
            time: signing.time.to_owned(),
            reason: signing.reason.to_owned(),
            selection: draft.selection.clone(),
            digests: draft.digests.clone(),
            versions: draft.versions.clone(),
            files: digests(&inputs),
            shared: digests(&draft.shared),
            before: Vec::new(),
            keys: list_in_force(&log.entries),
            head: log.head(),
        };
        let still = |log: &Log| check(log).map(|_| ());
        self.commit(
            log,
            Event::Signed,
            (id, statement, Vec::new()),
            (inputs, &draft.shared),
            Some(signing),
            render,
            still,
        )
    }

    /// Puts a countersignature or a withdrawal beside a signed selection.
    ///
    /// # Errors
    /// As [`Register::sign`]; a record that is not there, overtaken or withdrawn.
    pub fn countersign(
        &self,
        record: &RecordId,
        signing: &Signing<'_>,
        render: impl FnOnce(&Revision) -> Result<Vec<u8>, Fault>,
    ) -> Result<Added, Fault> {
        let (kind, event) = match signing.meaning {
            Meaning::Withdrawn => (Kind::Withdrawal, Event::Withdrawn),
            _ => (Kind::Countersignature, Event::Countersigned),
        };
        let log = self.log()?;
        let (id, earlier) = self.beside(&log, record)?;
        let signer = self.may_sign(&log, signing, &earlier[0].selection, &earlier)?;
        let statement = Statement {
            kind,
            signer: Some(signer),
            meaning: Some(signing.meaning),
            time: signing.time.to_owned(),
            reason: signing.reason.to_owned(),
            ..added_to(&log, &id, &earlier)
        };
        let still = |log: &Log| {
            let (now, earlier) = self.beside(log, record)?;
            self.may_sign(log, signing, &earlier[0].selection, &earlier)?;
            if now == id { Ok(()) } else { Err(overtaken()) }
        };
        self.commit(log, event, (id.clone(), statement, earlier), (Vec::new(), &[]), Some(signing), render, still)
    }

    /// Files a scan of a copy that was signed by hand, by its digest.
    ///
    /// # Errors
    /// A record that is not there; a disk that refuses.
    pub fn attach_scan(&self, record: &RecordId, name: &str, bytes: &[u8], time: &str) -> Result<Added, Fault> {
        let log = self.log()?;
        let (id, earlier) = self.beside(&log, record)?;
        let own = ["statement.json", "SHA256SUMS"].contains(&name) || name == id.pdf();
        if own || name.is_empty() || name.contains(|c: char| c.is_control() || matches!(c, '/' | '\\')) {
            return Err(Fault::new(
                Code::NameUnusable,
                format!("{name:?}, in a record of `{id}`"),
                "a name that no file of a record has, without control characters and slashes",
                "rename the file, such as `scan.pdf`",
            ));
        }
        let files = vec![(name.to_owned(), bytes.to_vec())];
        let statement = Statement {
            kind: Kind::Scan,
            signer: None,
            meaning: None,
            time: time.to_owned(),
            reason: String::new(),
            files: digests(&files),
            ..added_to(&log, &id, &earlier)
        };
        let still = |log: &Log| if self.beside(log, record)?.0 == id { Ok(()) } else { Err(overtaken()) };
        let no_page = |_: &Revision| Ok(Vec::new());
        self.commit(log, Event::ScanAttached, (id.clone(), statement, earlier), (files, &[]), None, no_page, still)
    }

    /// The next place beside a selection, and the statements that stand there.
    fn beside(&self, log: &Log, record: &RecordId) -> Result<(RecordId, Vec<Statement>), Fault> {
        let base = record.base();
        let later = |id: &RecordId| id.enquiry == base.enquiry && id.revision > base.revision;
        if let Some(later) = log.records().filter_map(|(.., change)| change.id()).find(later) {
            return Err(closed(&base, &format!("overtaken by `{}`", later.base())));
        }
        let mut earlier = Vec::new();
        let mut last = 0;
        for (id, change) in log.selection(&base) {
            last = last.max(id.beside);
            earlier.push(self.statement(change)?);
        }
        if earlier.is_empty() {
            return Err(unknown_record(log, record));
        }
        if earlier.iter().any(|statement| statement.kind == Kind::Withdrawal) {
            return Err(closed(&base, "withdrawn"));
        }
        Ok((RecordId { beside: last + 1, ..base }, earlier))
    }

    /// The statement of a record, as the log names it.
    ///
    /// # Errors
    /// A file that is gone or is not the one that was signed.
    pub fn statement(&self, change: &RecordChange) -> Result<Statement, Fault> {
        let id: RecordId = change.record.parse()?;
        let path = self.root.join(folder_of(&id)).join("statement.json");
        let bytes = disk::read(&path).map_err(|error| disk::unreadable(&path, &error))?;
        let read = || {
            let same = record::sha256(&bytes) == change.statement.sha256;
            serde_json::from_slice(&bytes).ok().filter(|_| same)
        };
        read().ok_or_else(|| {
            Fault::new(
                Code::StatementAltered,
                format!("`{}` is not what was signed", path.display()),
                "the statement that the log names",
                "run `lapwise register verify` and restore the record from a copy",
            )
        })
    }

    /// The statement of the record that one entry is about; the entry is not held against the log around it.
    ///
    /// # Errors
    /// An entry that is gone, altered or about no record; a statement as in [`Register::statement`].
    pub fn statement_at(&self, seq: u64) -> Result<(RecordId, Statement), Fault> {
        let path = self.root.join(Entry::path(seq));
        let bytes = disk::read(&path).map_err(|error| disk::unreadable(&path, &error))?;
        let change = Entry::read(&bytes).and_then(|entry| entry.record).ok_or_else(|| {
            Fault::new(
                Code::EntryAltered,
                format!("`{}` is no entry about a record", path.display()),
                "the entry as it was written",
                "run `lapwise register verify` and restore the entry from a copy",
            )
        })?;
        Ok((change.record.parse()?, self.statement(&change)?))
    }

    /// The statements of a selection and of what stands beside it, in the order of the log.
    ///
    /// # Errors
    /// A log that does not hold together, a record that is not there, a statement that was altered.
    pub fn statements_of(&self, record: &RecordId) -> Result<Vec<(RecordId, Statement)>, Fault> {
        let log = self.log()?;
        let found = log.selection(record).map(|(id, change)| self.statement(change).map(|statement| (id, statement)));
        let found = found.collect::<Result<Vec<_>, _>>()?;
        if found.is_empty() { Err(unknown_record(&log, record)) } else { Ok(found) }
    }

    /// The signer, if role, key, reason and the signatures before allow it.
    fn may_sign(
        &self,
        log: &Log,
        signing: &Signing<'_>,
        selection: &Selection,
        earlier: &[Statement],
    ) -> Result<Signer, Fault> {
        let now = log.keys_before(u64::MAX);
        let print = keys::fingerprint(signing.key.public_key());
        let of_signer: Vec<&&KeyChange> = now.iter().filter(|key| key.signer == signing.signer).collect();
        if of_signer.is_empty() {
            return Err(unknown_signer(&now, signing.signer));
        }
        let Some(key) = of_signer.iter().find(|key| key.fingerprint == print) else {
            return Err(Fault::new(
                Code::KeyMismatch,
                format!("the key {print}"),
                format!("the key of `{}`, {}", signing.signer, of_signer[0].fingerprint),
                "name the private half of that key, or add this one with `lapwise register key add`",
            ));
        };
        let act = Act { key, meaning: signing.meaning, reason: signing.reason, selection };
        act.allowed(&earlier.iter().collect::<Vec<_>>(), self.deed.one_person_may_author_and_approve)?;
        let (id, name, role, fingerprint) = (&key.signer, &key.name, key.role, &key.fingerprint);
        Ok(Signer { id: id.clone(), name: name.clone(), role, fingerprint: fingerprint.clone() })
    }

    /// Renders, hashes, signs, and commits.
    #[expect(clippy::too_many_arguments, reason = "the parts of one commit")]
    fn commit(
        &self,
        log: Log,
        event: Event,
        (id, mut statement, earlier): (RecordId, Statement, Vec<Statement>),
        (mut files, shared): (Vec<Named>, &[Named]),
        signing: Option<&Signing<'_>>,
        render: impl FnOnce(&Revision) -> Result<Vec<u8>, Fault>,
        still: impl Fn(&Log) -> Result<(), Fault>,
    ) -> Result<Added, Fault> {
        let clock = clock(&log, &statement.time);
        let revision = Revision { statement: statement.clone(), earlier };
        let page = render(&revision)?;
        if !page.is_empty() {
            files.push((id.pdf(), page));
        }
        statement.files = digests(&files);
        let pdf = statement.files.iter().find(|file| file.file == id.pdf()).cloned();
        let text = record::canonical(&statement)?;
        let mut signatures = Vec::new();
        if let Some(signing) = signing {
            let name = format!("statement.json.{}.sig", keys::short(signing.key.public_key()));
            let signature = keys::sign(signing.key, &text)?.into_bytes();
            signatures.push(FileDigest::of(&name, &signature));
            files.push((name, signature));
        }
        let named = FileDigest::of("statement.json", text.as_bytes());
        files.push(("statement.json".to_owned(), text.into_bytes()));
        let own = statement.files.iter().chain([&named]).chain(&signatures);
        let sums = checksums(own, &statement.shared).into_bytes();
        let checksums = FileDigest::of("SHA256SUMS", &sums);
        files.push(("SHA256SUMS".to_owned(), sums));
        let change = RecordChange { record: id.to_string(), statement: named, signatures, pdf, checksums };
        let stage = self.stage()?;
        self.keep(&stage, shared)?;
        let held = self.hold();
        // Others may have written while the page was rendered.
        let log = if held.is_some() { self.log()? } else { log };
        still(&log)?;
        self.clear(&log, &id, held.is_some())?;
        let first = !log.records().filter_map(|(.., change)| change.id()).any(|kept| kept.enquiry == id.enquiry);
        self.place(&stage, &id, &files, first)?;
        let log = self.append(&stage, log, event, &statement.time, (None, Some(change)), still)?;
        Ok(self.added(Some(id), &log, clock))
    }

    fn added(&self, record: Option<RecordId>, log: &Log, clock: Option<String>) -> Added {
        // It stands, whether or not this client can remember it.
        let memory = self.remember(log).err().map(|fault| format!("this head is not remembered here: {}", fault.found));
        Added { record, entry: log.tree.size(), head: log.head(), warnings: clock.into_iter().chain(memory).collect() }
    }
}

/// The statements, signatures and pages that stand under a selection, as a statement beside them names them.
pub(super) fn named_before<'l>(there: impl Iterator<Item = (RecordId, &'l RecordChange)>) -> Vec<FileDigest> {
    let mut before = Vec::new();
    for (own, change) in there {
        let folder = own.folder();
        let named = |file: &FileDigest| FileDigest { file: format!("../{folder}/{}", file.file), ..file.clone() };
        before.push(named(&change.statement));
        before.extend(change.signatures.iter().map(named));
        before.extend(change.pdf.iter().map(named));
    }
    before.sort();
    before
}

/// What every statement beside a selection repeats of it.
fn added_to(log: &Log, id: &RecordId, earlier: &[Statement]) -> Statement {
    Statement {
        record: id.to_string(),
        files: Vec::new(),
        shared: Vec::new(),
        before: named_before(log.selection(id)),
        keys: list_in_force(&log.entries),
        head: log.head(),
        ..earlier[0].clone()
    }
}

/// A record that the log does not know.
pub(super) fn unknown_record(log: &Log, record: &RecordId) -> Fault {
    let known: Vec<&str> = log.records().map(|(.., change)| change.record.as_str()).collect();
    Fault::unknown_word(Code::RecordUnknown, &record.to_string(), "a record of the register", known)
}

/// The revision that comes next, if `revises` is the newest there is.
fn next_revision(log: &Log, enquiry: &str, revises: Option<&RecordId>) -> Result<u32, Fault> {
    let ids = log.records().filter_map(|(.., change)| change.id()).filter(|id| id.enquiry == enquiry);
    let newest = ids.map(|id| id.base()).max_by_key(|id| id.revision);
    match (newest, revises) {
        (None, None) => Ok(1),
        (Some(newest), Some(revises)) if newest == revises.base() => Ok(newest.revision + 1),
        (Some(newest), None) => Err(Fault::new(
            Code::RevisionNeeded,
            format!("`{enquiry}` is signed as `{newest}`"),
            "the revision that this one replaces",
            format!("add --revises {newest}"),
        )),
        (Some(newest), Some(revises)) => Err(Fault::new(
            Code::RevisionTaken,
            format!("--revises {revises}, and the newest is `{newest}`"),
            "the newest revision of this enquiry",
            format!("look at `{newest}`, then use --revises {newest}"),
        )),
        (None, Some(revises)) => Err(Fault::new(
            Code::RecordUnknown,
            format!("`{revises}`"),
            "a signed record of this enquiry",
            "leave --revises out: this is the first revision",
        )),
    }
}

/// The key list in force after some entries.
pub(super) fn list_in_force(entries: &[Entry]) -> String {
    let newest = entries.iter().rev().find_map(|entry| entry.key.as_ref());
    newest.map(|change| change.list.file.clone()).unwrap_or_default()
}

/// A clock that runs behind the log is said, and changes nothing: the order is the log's.
fn clock(log: &Log, time: &str) -> Option<String> {
    let last = log.entries.last()?;
    (time < last.time.as_str()).then(|| {
        format!(
            "the clock says {time}, and entry {} was written at {}; the order is that of the log",
            last.seq, last.time
        )
    })
}

fn unknown_signer(keys: &[&KeyChange], id: &str) -> Fault {
    let known = keys.iter().map(|key| key.signer.as_str());
    Fault::unknown_word(Code::SignerUnknown, id, "a signer with a key in force", known)
}

fn closed(record: &RecordId, why: &str) -> Fault {
    Fault::new(
        Code::RecordClosed,
        format!("`{record}` is {why}"),
        "a record that stands",
        "sign, countersign or withdraw the newest revision instead",
    )
}

fn overtaken() -> Fault {
    Fault::new(
        Code::RevisionTaken,
        "another writer was first",
        "a register that did not change meanwhile",
        "look at `lapwise register list`, then do the same again",
    )
}

fn defect(found: &str) -> Fault {
    Fault::new(Code::KeyUnreadable, found, "a key that can be written", "report this as a defect")
}
