//! `accepted.toml`: remarks that somebody has looked at and taken on, each with a reason that is kept.

use schemars::JsonSchema;
use serde::Serialize;

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Folder};

use super::{Kind, Remark, Review};

/// The file of the acceptances.
pub const FILE: &str = "accepted.toml";

/// One acceptance.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Acceptance {
    /// The code of the remark.
    pub code: String,
    /// Its subject.
    pub subject: String,
    /// Its column.
    pub column: String,
    /// The value, as written where the remark stands.
    pub value: String,
    /// Why it is right all the same.
    pub reason: String,
    /// Who says so.
    pub by: String,
    /// When, as `2026-11-20`.
    pub date: String,
    /// Where it stands.
    pub place: Place,
}

impl Acceptance {
    fn is_of(&self, remark: &Remark) -> bool {
        self.code == remark.code.code() && self.subject == remark.subject && self.column == remark.column
    }

    /// As it stands in the file.
    #[must_use]
    pub fn text(&self) -> String {
        let line = |key: &str, value: &str| format!("{key} = {}\n", toml::Value::from(value));
        let mut text = String::from("[[accepted]]\n");
        for (key, value) in [
            ("code", &self.code),
            ("subject", &self.subject),
            ("column", &self.column),
            ("value", &self.value),
            ("reason", &self.reason),
            ("by", &self.by),
        ] {
            text += &line(key, value);
        }
        text + &format!("date = {}\n", self.date)
    }
}

/// Reads them; a folder without the file has none.
pub(super) fn read(folder: &Folder, faults: &mut Faults) -> Vec<Acceptance> {
    let mut list: Vec<Acceptance> = Vec::new();
    if !folder.files.contains_key(FILE) {
        return list;
    }
    let mut keys = load::toml(FILE, folder.text(FILE), faults);
    for mut k in keys.tables("accepted", faults) {
        for key in ["code", "subject", "column", "value", "reason", "by", "date"] {
            k.present(key, faults);
        }
        let place = k.place_of("code");
        let code = k.text("code", faults).unwrap_or_default();
        if !code.is_empty() && (Kind::of(&code).is_none() || code == Kind::AcceptanceStale.code()) {
            let known = Kind::ALL.iter().filter(|kind| **kind != Kind::AcceptanceStale).map(|kind| kind.code());
            let needed = "the code of a remark that can be accepted";
            faults.add(Fault::unknown_word(Code::WordUnknown, &code, needed, known).at(place.clone()));
        }
        for key in ["reason", "by"] {
            if k.text(key, &mut Faults::default()).is_some_and(|text| text.trim().is_empty()) {
                let needed = format!("`{key}` in words");
                let fault = Fault::new(Code::KeyMissing, "an empty text", needed, "an acceptance stands on its reason");
                faults.add(fault.at(k.place_of(key)));
            }
        }
        let mut text = |key| k.text(key, faults).unwrap_or_default();
        let (subject, column, value) = (text("subject"), text("column"), text("value"));
        let (reason, by) = (text("reason"), text("by"));
        let date = k.date("date", faults).unwrap_or_default();
        k.finish(faults);
        let acceptance = Acceptance { code, subject, column, value, reason, by, date, place };
        if list.iter().any(|a| {
            (&a.code, &a.subject, &a.column, &a.value)
                == (&acceptance.code, &acceptance.subject, &acceptance.column, &acceptance.value)
        }) {
            let found = format!("a second acceptance of {} for {}", acceptance.code, acceptance.subject);
            let fault = Fault::new(Code::KeyDuplicate, found, "each acceptance once", "take one out");
            faults.add(fault.at(acceptance.place.clone()));
        }
        list.push(acceptance);
    }
    keys.finish(faults);
    list
}

/// Sets accepted remarks apart, and remarks on acceptances that nothing answers to any more.
pub(super) fn apply(remarks: Vec<Remark>, acceptances: Vec<Acceptance>) -> Review {
    let mut review = Review::default();
    let mut served = vec![false; acceptances.len()];
    let mut changed = vec![None; acceptances.len()];
    for remark in remarks {
        let fitting = acceptances.iter().position(|a| a.is_of(&remark) && a.value == remark.value);
        for (at, _) in acceptances.iter().enumerate().filter(|(_, a)| a.is_of(&remark)) {
            changed[at] = Some(remark.value.clone());
        }
        match fitting {
            Some(at) => {
                served[at] = true;
                review.accepted.push((remark, acceptances[at].clone()));
            }
            None => review.remarks.push(remark),
        }
    }
    for ((acceptance, _), now) in acceptances.into_iter().zip(&served).zip(changed).filter(|((_, served), _)| !**served)
    {
        let needed = now.map_or_else(
            || "a remark that it answers; there is none any more".to_owned(),
            |now| format!("the value of today, `{now}`"),
        );
        review.remarks.push(Remark {
            code: Kind::AcceptanceStale,
            found: format!("{} in {}, accepted as `{}`", acceptance.code, acceptance.column, acceptance.value),
            needed,
            remedy: Kind::AcceptanceStale.settle().to_owned(),
            subject: acceptance.subject,
            column: acceptance.column,
            value: acceptance.value,
            place: acceptance.place,
        });
    }
    review.remarks.sort_by(|a, b| (&a.place, a.code, &a.subject).cmp(&(&b.place, b.code, &b.subject)));
    review.accepted.sort_by(|a, b| (&a.0.place, a.0.code).cmp(&(&b.0.place, b.0.code)));
    review
}
