//! What becomes of a kept selection when the data change, and what brought it about.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::fault::Fault;
use crate::record::{Head, Selection};

/// What judging a kept selection by today's data came to, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// The decision changed.
    Overturned,
    /// A row that it needs is gone or faulty.
    NotJudgeable,
    /// What it rests on moved, the decision did not.
    Restated,
    /// Templates, faces or the printing program moved; the signature stands.
    Restyled,
    /// Nothing moved.
    Current,
    /// It had been withdrawn, and is not judged.
    Withdrawn,
}

impl Outcome {
    /// Every outcome, the gravest first.
    pub const ALL: [Outcome; 6] = [
        Outcome::Overturned,
        Outcome::NotJudgeable,
        Outcome::Restated,
        Outcome::Restyled,
        Outcome::Current,
        Outcome::Withdrawn,
    ];

    /// The word.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Outcome::Overturned => "overturned",
            Outcome::NotJudgeable => "not judgeable",
            Outcome::Restated => "restated",
            Outcome::Restyled => "restyled",
            Outcome::Current => "current",
            Outcome::Withdrawn => "withdrawn",
        }
    }
}

/// Which part of a decision moved, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// The selected tape's verdict, or its open hazard findings.
    Verdict,
    /// The tape that is proposed.
    Proposed,
    /// The conditions or the open points of the selected tape.
    Conditions,
    /// The reserves of the selected tape, as printed.
    Reserves,
    /// The other candidates: their order, or who is ruled out.
    Order,
    /// None of these, but the text that holds them.
    Form,
}

impl Part {
    /// In words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Part::Verdict => "verdict of the selected tape",
            Part::Proposed => "proposed tape",
            Part::Conditions => "conditions or open points",
            Part::Reserves => "reserves",
            Part::Order => "order of the candidates",
            Part::Form => "form of the decision",
        }
    }
}

/// The answer to an enquiry, as far as a selection says it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// The selected tape's verdict; none where it is no candidate any more.
    pub verdict: Option<String>,
    /// Its open hazard findings.
    pub open_hazards: Option<u32>,
    /// The first in order, if any tape is not ruled out.
    pub proposed: Option<String>,
    /// The version of the data.
    pub data: String,
}

impl Answer {
    /// What a selection says.
    #[must_use]
    pub fn of(selection: &Selection, data: &str) -> Answer {
        Answer {
            verdict: Some(selection.verdict.clone()),
            open_hazards: Some(selection.open_hazards),
            proposed: selection.proposed.clone(),
            data: data.to_owned(),
        }
    }
}

/// A finding on one side of a change.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Side {
    /// The verdict.
    pub verdict: String,
    /// The margin, as printed.
    pub margin: String,
    /// The number and its spread in the measure's unit; empty where there is none.
    pub value: String,
}

/// The first criterion that flipped.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Flip {
    /// The tape that it flipped for.
    pub tape: String,
    /// The criterion; empty where the tape as a whole came or went.
    pub criterion: String,
    /// The exposure's name, empty for the enquiry as a whole.
    pub exposure: String,
    /// Before; none where there was no such candidate.
    pub before: Option<Side>,
    /// After; none where there is no such candidate any more.
    pub after: Option<Side>,
}

impl Flip {
    /// In one line, without the tape.
    #[must_use]
    pub fn text(&self) -> String {
        let side = |side: &Option<Side>, absent: &str| match side {
            Some(side) if side.margin.is_empty() => side.verdict.clone(),
            Some(side) => format!("{} ({})", side.verdict, side.margin),
            None => absent.to_owned(),
        };
        if self.before.is_some() && self.before == self.after {
            let name = if self.exposure.is_empty() { String::new() } else { format!(", {}", self.exposure) };
            let still = side(&self.after, "");
            return format!("{}{name}: still {still}, by another limit, condition or test", self.criterion);
        }
        let (before, after) = (side(&self.before, "no candidate"), side(&self.after, "no candidate"));
        match (self.criterion.as_str(), self.exposure.as_str()) {
            ("", _) => format!("{before} → {after}"),
            (criterion, "") => format!("{criterion}: {before} → {after}"),
            (criterion, exposure) => format!("{criterion}, {exposure}: {before} → {after}"),
        }
    }
}

/// What kind of change brought it about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ChangeKind {
    /// A cell says something else.
    Cell,
    /// A row is new.
    RowAdded,
    /// A row is gone.
    RowRemoved,
    /// A row that is needed is faulty or missing.
    Fault,
    /// Another version of the program.
    Program,
    /// Templates, faces or the printing program.
    Presentation,
    /// The data moved, and no single row says why.
    Unplaced,
}

/// One change: a cell before and after, a row that came or went, a fault.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Of what kind.
    pub kind: ChangeKind,
    /// The file of the data folder; empty for the program.
    pub file: String,
    /// Which row: its key in words.
    pub row: String,
    /// Which column or key; empty for a whole row.
    pub column: String,
    /// What it said, as written.
    pub before: Option<String>,
    /// What it says, as written.
    pub after: Option<String>,
    /// Its source before: a key of the bibliography.
    pub source_before: Option<String>,
    /// Its source after.
    pub source_after: Option<String>,
}

impl Change {
    /// Where it is: `tapes.csv row H-112 temperature_index`.
    #[must_use]
    pub fn place(&self) -> String {
        // The number of a row that is about one number needs no column to be named.
        let plain = self.column.is_empty() || self.column == "value";
        let column = if plain { String::new() } else { format!(" `{}`", self.column) };
        match self.kind {
            ChangeKind::Program | ChangeKind::Presentation | ChangeKind::Unplaced => self.row.clone(),
            _ if self.row.is_empty() => format!("{}{column}", self.file),
            _ if self.row.contains('`') => format!("{} {}{column}", self.file, self.row),
            _ => format!("{} row {}{column}", self.file, self.row),
        }
    }

    /// In one line: where, and before and after.
    #[must_use]
    pub fn text(&self) -> String {
        let said = |text: &Option<String>| text.clone().unwrap_or_else(|| "blank".to_owned());
        let number = |text: &Option<String>| text.as_ref().map(|text| format!(": {text}")).unwrap_or_default();
        match self.kind {
            ChangeKind::RowAdded => format!("{} added{}", self.place(), number(&self.after)),
            ChangeKind::RowRemoved => format!("{} removed{}", self.place(), number(&self.before)),
            ChangeKind::Fault => format!("{}: {}", self.place(), said(&self.after)),
            ChangeKind::Unplaced => self.place(),
            _ => format!("{}  {} → {}", self.place(), said(&self.before), said(&self.after)),
        }
    }

    /// The sources of a cell, if it has them: `a`, or `a → b` where they differ.
    #[must_use]
    pub fn sources(&self) -> String {
        match (&self.source_before, &self.source_after) {
            (Some(before), Some(after)) if before == after => after.clone(),
            (Some(before), Some(after)) => format!("{before} → {after}"),
            (Some(one), None) | (None, Some(one)) => one.clone(),
            (None, None) => String::new(),
        }
    }
}

/// A root cause, and everything that it brought about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cause {
    /// Its number, from 1.
    pub number: usize,
    /// The changes that act together on the very same selections.
    pub changes: Vec<Change>,
    /// How many selections of each outcome.
    pub overturned: usize,
    /// Not judgeable for it.
    pub not_judgeable: usize,
    /// Restated for it.
    pub restated: usize,
    /// Restyled for it.
    pub restyled: usize,
    /// Which selections.
    pub records: Vec<String>,
}

/// One kept selection and what became of it.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// The record: the newest revision of its enquiry.
    pub record: String,
    /// Who asked.
    pub customer: String,
    /// The enquiry's title.
    pub title: String,
    /// Whether it was approved.
    pub approved: bool,
    /// What became of it.
    pub outcome: Outcome,
    /// The selected tape.
    pub tape: String,
    /// The answer that was signed.
    pub signed: Answer,
    /// Today's answer to the kept enquiry; none where it was not judged.
    pub today: Option<Answer>,
    /// Which parts of the decision moved.
    pub moved: Vec<Part>,
    /// The first criterion that flipped.
    pub flipped: Option<Flip>,
    /// The numbers of its causes.
    pub causes: Vec<usize>,
    /// Why it cannot be judged.
    pub faults: Vec<Fault>,
    /// What else a reader should know.
    pub notes: Vec<String>,
    /// The draft of the next revision, relative to the register.
    pub draft: Option<String>,
}

/// How many selections came to what.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tally {
    /// The decision changed.
    pub overturned: usize,
    /// A needed row is gone or faulty.
    pub not_judgeable: usize,
    /// Evidence moved, decision the same.
    pub restated: usize,
    /// Presentation only.
    pub restyled: usize,
    /// Nothing moved.
    pub current: usize,
    /// Withdrawn before.
    pub withdrawn: usize,
    /// Older revisions, which are not judged.
    pub superseded: usize,
    /// Records that could not be read; see the failures.
    pub failed: usize,
    /// All kept selections.
    pub total: usize,
}

impl Tally {
    /// Counts one selection.
    pub(super) fn add(&mut self, outcome: Outcome) {
        let count = match outcome {
            Outcome::Overturned => &mut self.overturned,
            Outcome::NotJudgeable => &mut self.not_judgeable,
            Outcome::Restated => &mut self.restated,
            Outcome::Restyled => &mut self.restyled,
            Outcome::Current => &mut self.current,
            Outcome::Withdrawn => &mut self.withdrawn,
        };
        *count += 1;
    }

    /// The count of one outcome.
    #[must_use]
    pub fn of(&self, outcome: Outcome) -> usize {
        match outcome {
            Outcome::Overturned => self.overturned,
            Outcome::NotJudgeable => self.not_judgeable,
            Outcome::Restated => self.restated,
            Outcome::Restyled => self.restyled,
            Outcome::Current => self.current,
            Outcome::Withdrawn => self.withdrawn,
        }
    }
}

/// The data that were judged by.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Data {
    /// The version.
    pub version: String,
    /// The day it was issued.
    pub date: String,
    /// The digest over the files of the folder, without the enquiries.
    pub sha256: String,
    /// True if the catalogue is invented, which every page then says.
    pub invented: bool,
}

/// Something that failed for one record and stopped nothing else.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Failure {
    /// The record.
    pub record: String,
    /// What failed.
    pub fault: Fault,
}

/// Everything that one pass found.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Report {
    /// `lapwise/regenerate/1`.
    pub schema: String,
    /// The register.
    pub register: String,
    /// The head of its log.
    pub head: Head,
    /// The data that were judged by.
    pub data: Data,
    /// The version of this program.
    pub lapwise: String,
    /// `K/N`; absent where all kept selections are in one report.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub part: Option<crate::part::Part>,
    /// The digest over templates, faces, and which drafts were asked for, which parts have alike; absent as `part` is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_from: Option<String>,
    /// What a reader should know of the data as a whole.
    pub remarks: Vec<String>,
    /// How many came to what.
    pub counts: Tally,
    /// The root causes, the gravest first.
    pub causes: Vec<Cause>,
    /// Every newest selection, the gravest outcome first.
    pub selections: Vec<Line>,
    /// What failed.
    pub failures: Vec<Failure>,
}
