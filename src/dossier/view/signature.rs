//! What a signed record shows of itself: the selection, who signed it and why, what it rests on, and
//! the head of the register.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Case, Head, Pair, Source, of_set};
use crate::dossier::language::{Language, Words};
use crate::record::{Kind, RecordId, Selection, Statement, sha256};

/// What a dossier is printed as.
#[derive(Clone, Debug)]
pub enum Stage {
    /// Unsigned, with the record that it would become, where a register tells.
    Draft(Option<RecordId>),
    /// Signed.
    Signed(Box<Signature>),
}

impl Stage {
    /// The signatures; none of a draft.
    pub(in crate::dossier) fn signature(&self) -> Option<&Signature> {
        match self {
            Stage::Signed(signature) => Some(signature),
            Stage::Draft(_) => None,
        }
    }

    /// As a decision tells it: `draft` or `signed`.
    pub(in crate::dossier) fn text(&self) -> &'static str {
        match self {
            Stage::Draft(_) => "draft",
            Stage::Signed(_) => "signed",
        }
    }

    /// The stage of a signed dossier of which only the revision is known.
    pub(in crate::dossier) fn signed_as(revision: u32) -> Stage {
        Stage::Signed(Box::new(Signature { revision, ..Signature::default() }))
    }

    /// The revision that it is, or would become.
    pub(in crate::dossier) fn revision(&self) -> Option<u32> {
        match self {
            Stage::Signed(signature) => Some(signature.revision),
            Stage::Draft(next) => next.as_ref().map(|next| next.revision),
        }
    }

    /// What the head of each page says of it.
    pub(super) fn status(&self, language: &Language) -> String {
        match self {
            Stage::Signed(signature) => signature.head(language),
            Stage::Draft(None) => language.text("head.draft").to_owned(),
            Stage::Draft(Some(next)) => language.say("head.draft_of", &[("n", &next.revision.to_string())]),
        }
    }
}

/// Letters of a digest that are enough to tell two apart on a page.
const SHORT: usize = 8;

/// What every page of a draft says: what it was made from, and that it is not to be relied on.
pub(super) fn on_every_page(case: &Case<'_>, source: &Source<'_>) -> String {
    if source.stage.signature().is_some() {
        return String::new();
    }
    let (l, about) = (case.language, &case.plan.catalogue.about);
    let (data, enquiry) = digests(source);
    l.say(
        "head.draft_made",
        &[
            ("version", &about.version),
            ("date", &l.date(&about.date)),
            ("data", &data[..SHORT]),
            ("asked", &l.date(&case.enquiry.date)),
            ("enquiry", &enquiry[..SHORT]),
        ],
    )
}

/// The digests of the data folder and of the enquiry.
fn digests(source: &Source<'_>) -> (String, String) {
    (of_set(&source.inputs.data), sha256(source.enquiry_text.as_bytes()))
}

/// A signature whose open points name the tests by their numbers on the pages.
pub(super) fn numbered(case: &Case<'_>, signature: &Signature) -> Signature {
    let mut signature = signature.clone();
    for condition in &mut signature.conditions {
        if let Some(mark) = case.mark(condition) {
            *condition = case.language.say("signatures.condition", &[("n", &mark), ("what", condition)]);
        }
    }
    for point in &mut signature.open_points {
        let at = case.tests.iter().position(|test| format!("{} ({})", test.test, test.standard) == *point);
        if let Some(at) = at {
            *point = case.language.say("signatures.test", &[("n", &(at + 1).to_string()), ("what", point)]);
        }
    }
    signature
}

/// What a draft would become, who made it and who has to sign it, what it was made from, and how long it stands.
pub(super) fn draft(case: &Case<'_>, source: &Source<'_>) -> Vec<Pair> {
    let Stage::Draft(next) = &source.stage else { return Vec::new() };
    let l = case.language;
    let pair = |key: &str, value: String| Pair { name: l.text(key).to_owned(), value };
    let said = |key: &str, value: &str| pair(key, l.text(value).to_owned());
    let (data, enquiry) = digests(source);
    let would_be = match next {
        None => l.text("signatures.would_be_open").to_owned(),
        Some(next) => {
            let before = RecordId { revision: next.revision - 1, ..next.clone() };
            l.say("signatures.would_be_next", &[("record", &next.to_string()), ("before", &before.to_string())])
        }
    };
    vec![
        pair("signatures.would_be", would_be),
        pair("signatures.author", case.enquiry.prepared_by.clone()),
        said("signatures.review", "signatures.review_open"),
        said("signatures.approval", "signatures.approval_open"),
        pair("signatures.data", format!("{} · {data}", case.plan.catalogue.about.version)),
        pair("signatures.enquiry", format!("{} · {enquiry}", l.date(&case.enquiry.date))),
        said("signatures.stands", "signatures.stands_open"),
    ]
}

/// What a signed record shows.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct Signature {
    /// The record, such as `Q-0412/r0001`.
    pub record: String,
    /// Its revision.
    pub revision: u32,
    /// What this signature makes of it: authored, reviewed, approved, withdrawn.
    pub status: String,
    /// The record it replaces.
    pub supersedes: Option<String>,
    /// The selected tape.
    pub tape: String,
    /// The revision of its sheet.
    pub tape_revision: String,
    /// Its verdict.
    pub verdict: String,
    /// Said where the selected tape is not the first in order, else empty.
    pub against: String,
    /// Its reserves.
    pub reserves: Vec<ReserveLine>,
    /// The conditions.
    pub conditions: Vec<String>,
    /// The open points.
    pub open_points: Vec<String>,
    /// Who signed, in the order of signing.
    pub signers: Vec<Signer>,
    /// The reason given with this signature; empty if none was.
    pub reason: String,
    /// Digests and versions of what it rests on.
    pub rests_on: Vec<Pair>,
    /// The register and its head at signing.
    pub register: RegisterHead,
}

/// One reserve.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReserveLine {
    /// The criterion, and the exposure it is about.
    pub criterion: String,
    /// The verdict.
    pub verdict: String,
    /// The margin with its unit.
    pub margin: String,
}

/// One signature.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Signer {
    /// The printed name.
    pub name: String,
    /// The signer's id.
    pub id: String,
    /// The role.
    pub role: String,
    /// The fingerprint of the key.
    pub fingerprint: String,
    /// authored, reviewed, approved or withdrawn.
    pub meaning: String,
    /// When, in UTC with its offset.
    pub time: String,
    /// Why, if it was said.
    pub reason: String,
}

/// The head of a register at signing.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct RegisterHead {
    /// The register's id.
    pub register: String,
    /// How many entries.
    pub size: u64,
    /// The root over them.
    pub root: String,
}

/// A page of its own: a countersignature or a withdrawal beside a signed dossier.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SignaturePage {
    /// `lapwise/signature-page/1`.
    pub schema: &'static str,
    /// The fixed text, by section and key.
    pub text: Words,
    /// What stands on every page.
    pub head: Head,
    /// The signature.
    pub signature: Signature,
    /// The files that it signs beside its own page: path and digest.
    pub before: Vec<Pair>,
}

impl Signature {
    /// What a statement shows, with those signed before it.
    #[must_use]
    pub fn of(statement: &Statement, earlier: &[Statement], language: &Language) -> Signature {
        let word = |key: &str, word: &str| language.text(&format!("{key}.{word}")).to_owned();
        let signers = earlier.iter().chain([statement]).filter_map(|s| {
            let (signer, meaning) = (s.signer.as_ref()?, s.meaning?);
            Some(Signer {
                name: signer.name.clone(),
                id: signer.id.clone(),
                role: word("signed_as", signer.role.text()),
                fingerprint: signer.fingerprint.clone(),
                meaning: word("signed_as", meaning.text()),
                time: s.time.clone(),
                reason: s.reason.clone(),
            })
        });
        let selection = &statement.selection;
        let status = statement.meaning.map(|meaning| word("signed_as", meaning.text())).unwrap_or_default();
        Signature {
            record: statement.record.clone(),
            revision: statement.revision,
            status,
            supersedes: statement.supersedes.clone(),
            tape: selection.tape.clone(),
            tape_revision: selection.tape_revision.clone(),
            verdict: word("verdict", &selection.verdict),
            against: against(selection, language),
            reserves: selection
                .reserves
                .iter()
                .map(|r| ReserveLine {
                    criterion: if r.exposure.is_empty() {
                        r.criterion.replace('-', " ")
                    } else {
                        format!("{}, {}", r.criterion.replace('-', " "), r.exposure)
                    },
                    verdict: word("verdict", &r.verdict),
                    margin: r.margin.clone(),
                })
                .collect(),
            conditions: selection.conditions.clone(),
            open_points: selection.open_points.clone(),
            signers: signers.collect(),
            reason: statement.reason.clone(),
            rests_on: rests_on(statement, language),
            register: RegisterHead {
                register: statement.head.register.clone(),
                size: statement.head.size,
                root: statement.head.root.clone(),
            },
        }
    }

    /// What the head of each page says of it.
    pub(super) fn head(&self, language: &Language) -> String {
        language.say("head.revision", &[("n", &self.revision.to_string()), ("status", &self.status)])
    }
}

/// Where the selected tape is not the one proposed, it is said.
fn against(selection: &Selection, language: &Language) -> String {
    match &selection.proposed {
        Some(first) if *first == selection.tape => String::new(),
        Some(first) => language.say("signatures.against", &[("tape", first)]),
        None => language.text("signatures.against_none").to_owned(),
    }
}

fn rests_on(statement: &Statement, language: &Language) -> Vec<Pair> {
    let pair = |key: &str, value: String| Pair { name: language.text(key).to_owned(), value };
    let (digests, versions) = (&statement.digests, &statement.versions);
    vec![
        pair("signatures.evidence", digests.evidence.clone()),
        pair("signatures.decision", digests.decision.clone()),
        pair("signatures.presentation", digests.presentation.clone()),
        pair("signatures.data", format!("{} · {}", versions.data, versions.data_sha256)),
        pair("signatures.criteria", versions.criteria_sha256.clone()),
        pair("signatures.templates", versions.templates_sha256.clone()),
        pair("signatures.fonts", versions.fonts_sha256.clone()),
        pair("signatures.programs", format!("Lapwise {} · Typst {}", versions.lapwise, versions.typst)),
    ]
}

impl SignaturePage {
    /// The page of a statement that stands beside a signed dossier.
    #[must_use]
    pub fn of(statement: &Statement, earlier: &[Statement], language: &Language) -> SignaturePage {
        let signature = Signature::of(statement, earlier, language);
        let by = statement.signer.as_ref().map(|signer| signer.name.clone()).unwrap_or_default();
        let status = signature.head(language);
        let title = match statement.kind {
            Kind::Withdrawal => language.text("signatures.withdrawal"),
            _ => language.text("signatures.countersignature"),
        };
        let day = statement.time.get(..10).unwrap_or_default();
        let head = Head {
            language: language.id.clone(),
            letterhead: Vec::new(),
            number: statement.record.clone(),
            revision: statement.revision.to_string(),
            file_title: format!("{} · {status} · {}", statement.record, statement.title),
            status,
            draft: String::new(),
            title: title.to_owned(),
            customer: statement.customer.clone(),
            prepared_by: by,
            date: language.date(day),
            day: super::day(day),
            application: statement.title.clone(),
            rules: String::new(),
            invented: if statement.versions.invented {
                language.text("head.invented").to_owned()
            } else {
                String::new()
            },
            scenario: String::new(),
        };
        let before = statement.before.iter();
        let before =
            before.map(|f| Pair { name: f.file.trim_start_matches("../").to_owned(), value: f.sha256.clone() });
        SignaturePage {
            schema: "lapwise/signature-page/1",
            text: language.words.clone(),
            head,
            before: before.collect(),
            signature,
        }
    }
}
