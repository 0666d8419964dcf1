//! The report on paper: everything in words, ready to be printed.

use serde::Serialize;

use super::outcome::{Cause, Line, Outcome, Report};
use crate::dossier::Attachment;
use crate::dossier::language::{Language, Words};
use crate::dossier::view::{AttachmentLine, Head, Pair, day};
use crate::quantity::count;

/// The part of the templates that lays it out.
pub const PART: &str = "regenerate.typ";
/// The most causes on paper, and the most selections of one outcome; the attached files hold all.
const CAUSES: usize = 200;
const LINES: usize = 1000;
/// The most changes and records that are named under one cause.
const CHANGES: usize = 12;
const RECORDS: usize = 60;

/// What the page says.
#[derive(Clone, Debug, Serialize)]
pub struct Page {
    /// The fixed text, by section and key.
    text: Words,
    /// What stands on every page.
    head: Head,
    sentence: String,
    facts: Vec<Pair>,
    counts: Vec<Count>,
    causes: Vec<CauseBlock>,
    causes_more: String,
    groups: Vec<Group>,
    notes: Vec<Pair>,
    failures: Vec<Pair>,
    attachments: Vec<AttachmentLine>,
}

#[derive(Clone, Debug, Serialize)]
struct Count {
    n: String,
    outcome: &'static str,
    asks: String,
}

#[derive(Clone, Debug, Serialize)]
struct CauseBlock {
    number: usize,
    changes: Vec<ChangeLine>,
    more: String,
    counts: String,
    example: String,
    records: String,
}

#[derive(Clone, Debug, Serialize)]
struct ChangeLine {
    text: String,
    sources: String,
}

#[derive(Clone, Debug, Serialize)]
struct Group {
    title: String,
    n: usize,
    asks: &'static str,
    rows: Vec<Row>,
    more: String,
}

#[derive(Clone, Debug, Serialize)]
struct Row {
    record: String,
    about: String,
    signed: String,
    today: String,
    why: String,
    causes: String,
    draft: String,
}

impl Page {
    /// What a report says on paper.
    #[must_use]
    pub fn of(report: &Report, language: &Language, attachments: &[Attachment]) -> Page {
        let pair = |name: &str, value: String| Pair { name: name.to_owned(), value };
        let mut text = language.words.clone();
        if let Some(head) = text.get_mut("head") {
            head.insert("document".to_owned(), "Kept selections by newer data".to_owned());
        }
        let head = &report.head;
        let mut facts = vec![
            pair("register", head.register.clone()),
            pair("its head", format!("{} entries, root {}", head.size, head.root)),
            pair("judged by", format!("data {}", report.judged_by())),
            pair("program", format!("Lapwise {}", report.lapwise)),
        ];
        facts.extend(report.remarks.iter().map(|remark| pair("remark", plain(remark))));
        let counts = report.tally().into_iter().map(|(n, outcome, asks)| Count { n, outcome, asks });
        let groups = [Outcome::Overturned, Outcome::NotJudgeable, Outcome::Restated, Outcome::Restyled];
        let noted = report.selections.iter().filter(|line| !line.notes.is_empty());
        let failed = |f: &super::Failure| {
            pair(&f.record, plain(&format!("{}: {}, needed {}", f.fault.code, f.fault.found, f.fault.needed)))
        };
        Page {
            head: running(report, language),
            text,
            sentence: report.sentence(),
            facts,
            counts: counts.collect(),
            causes: report.causes.iter().take(CAUSES).map(|cause| block(report, cause)).collect(),
            causes_more: more(report.causes.len(), CAUSES),
            groups: groups.into_iter().filter_map(|outcome| group(report, outcome)).collect(),
            notes: noted.take(LINES).map(|line| pair(&line.record, plain(&line.notes.join("; ")))).collect(),
            failures: report.failures.iter().take(LINES).map(failed).collect(),
            attachments: attachments.iter().map(Attachment::line).collect(),
        }
    }
}

fn running(report: &Report, language: &Language) -> Head {
    let register = report.register.get(..8).unwrap_or(&report.register);
    let title = "Kept selections judged by newer data".to_owned();
    Head {
        language: language.id.clone(),
        letterhead: Vec::new(),
        number: format!("register {register}"),
        revision: String::new(),
        status: format!("data {}", report.data.version),
        draft: String::new(),
        file_title: format!(
            "{title} · register {register} at entry {} · data {}",
            report.head.size, report.data.version
        ),
        title,
        customer: String::new(),
        prepared_by: format!("Lapwise {}", report.lapwise),
        date: format!("data of {}", language.date(&report.data.date)),
        day: day(&report.data.date),
        application: "What the data of today make of every selection that is signed and kept".to_owned(),
        rules: String::new(),
        invented: if report.data.invented { language.text("head.invented").to_owned() } else { String::new() },
        scenario: String::new(),
    }
}

fn block(report: &Report, cause: &Cause) -> CauseBlock {
    let changes = cause.changes.iter().take(CHANGES);
    let changes = changes.map(|change| ChangeLine { text: plain(&change.text()), sources: change.sources() }).collect();
    let hidden = cause.changes.len().saturating_sub(CHANGES);
    let records = cause.records.iter().take(RECORDS).cloned().collect::<Vec<_>>().join(", ");
    let rest = cause.records.len().saturating_sub(RECORDS);
    CauseBlock {
        number: cause.number,
        changes,
        more: if hidden == 0 {
            String::new()
        } else {
            format!("and {} that act on the same selections", count(hidden, "change more", "changes more"))
        },
        counts: cause.counts(),
        example: report.example(cause).unwrap_or_default(),
        records: if rest == 0 { records } else { format!("{records}, and {rest} more in the attached files") },
    }
}

fn group(report: &Report, outcome: Outcome) -> Option<Group> {
    let lines: Vec<&Line> = report.selections.iter().filter(|line| line.outcome == outcome).collect();
    if lines.is_empty() {
        return None;
    }
    let row = |line: &&Line| Row {
        record: line.record.clone(),
        about: [line.customer.as_str(), line.title.as_str()].join(": "),
        signed: line.signed_words(),
        today: line.today_words(),
        why: plain(&line.why()),
        causes: line.causes.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        draft: line.draft.as_deref().and_then(|path| path.rsplit('/').next()).unwrap_or_default().to_owned(),
    };
    let title = outcome.text();
    Some(Group {
        title: format!("{}{}", title[..1].to_uppercase(), &title[1..]),
        n: lines.len(),
        asks: outcome.asks(),
        rows: lines.iter().take(LINES).map(row).collect(),
        more: more(lines.len(), LINES),
    })
}

/// On paper nothing marks a name as one that can be typed.
fn plain(text: &str) -> String {
    text.replace('`', "")
}

fn more(all: usize, shown: usize) -> String {
    if all > shown { format!("And {} more, in the attached files.", all - shown) } else { String::new() }
}
