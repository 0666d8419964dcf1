//! What was found, in words: the same on a terminal and on paper.

use std::collections::BTreeMap;

use super::outcome::{Cause, Line, Outcome, Part, Report};
use crate::quantity::count;

impl Outcome {
    /// What it asks of whoever answers for the register.
    #[must_use]
    pub const fn asks(self) -> &'static str {
        match self {
            Outcome::Overturned => {
                "the signed answer no longer holds: check it, then sign the next revision or withdraw it"
            }
            Outcome::NotJudgeable => "mend the data, then run this again",
            Outcome::Restated => "the evidence moved, the decision did not: confirm as your policy asks",
            Outcome::Restyled => "only the look moved: the signature stands, nothing to do",
            Outcome::Current => "nothing moved: nothing to do",
            Outcome::Withdrawn => "not judged",
        }
    }
}

impl Report {
    /// The one sentence that comes first.
    #[must_use]
    pub fn sentence(&self) -> String {
        let counts = &self.counts;
        let judged = counts.total - counts.superseded - counts.withdrawn;
        let of = count(judged, "kept selection", "kept selections");
        let is = |n: usize| if n == 1 { "is" } else { "are" };
        match (counts.overturned, counts.not_judgeable) {
            (0, 0) if self.failures.is_empty() => format!("None of {of} is overturned"),
            (0, 0) => format!("None of {of} is overturned, as far as they could be judged"),
            (n, 0) => format!("{n} of {of} {} overturned", is(n)),
            (0, m) => format!("None of {of} is overturned, but {m} cannot be judged"),
            (n, m) => format!("{n} of {of} {} overturned, {m} cannot be judged", is(n)),
        }
    }

    /// The data that were judged by.
    #[must_use]
    pub fn judged_by(&self) -> String {
        let data = &self.data;
        let invented = if data.invented { ", invented" } else { "" };
        let digest = data.sha256.get(..16).unwrap_or_default();
        format!("version {} of {}{invented}, sha256 {digest}", data.version, data.date)
    }

    /// How many came to what, with what each asks; the gravest two are said even where there is none.
    #[must_use]
    pub fn tally(&self) -> Vec<(String, &'static str, String)> {
        let mut tally = Vec::new();
        for outcome in Outcome::ALL {
            let n = self.counts.of(outcome);
            if n > 0 || matches!(outcome, Outcome::Overturned | Outcome::NotJudgeable) {
                tally.push((n.to_string(), outcome.text(), if n > 0 { outcome.asks() } else { "" }.to_owned()));
            }
            if n > 0 && outcome == Outcome::Overturned {
                tally.push((String::new(), "", self.of_what()));
            }
        }
        if self.counts.superseded > 0 {
            let n = self.counts.superseded.to_string();
            tally.push((n, "superseded", "older revisions: not judged".to_owned()));
        }
        if !self.failures.is_empty() {
            tally.push((self.failures.len().to_string(), "failed", "see the end".to_owned()));
        }
        tally
    }

    /// In what the overturned moved, each counted by the gravest.
    fn of_what(&self) -> String {
        let mut parts: BTreeMap<Part, usize> = BTreeMap::new();
        for part in self.selections.iter().filter_map(|line| line.moved.first()) {
            *parts.entry(*part).or_default() += 1;
        }
        let said = parts.iter().map(|(part, n)| match part {
            Part::Order => {
                format!("{n} in the order of the other candidates alone: the selected tape's answer is as signed")
            }
            part => format!("{n} in the {}", part.text()),
        });
        said.collect::<Vec<_>>().join(", ")
    }

    /// A selection that a cause flipped, as its example.
    #[must_use]
    pub fn example(&self, cause: &Cause) -> Option<String> {
        let line = self.selections.iter().find(|line| line.flipped.is_some() && line.causes.contains(&cause.number))?;
        let flip = line.flipped.as_ref()?;
        Some(format!("{}: {} {}", line.record, flip.tape, flip.text()))
    }
}

impl Cause {
    /// How many selections of each outcome it brought about.
    #[must_use]
    pub fn counts(&self) -> String {
        let counts = [
            (self.overturned, Outcome::Overturned),
            (self.not_judgeable, Outcome::NotJudgeable),
            (self.restated, Outcome::Restated),
            (self.restyled, Outcome::Restyled),
        ];
        let said = counts.iter().filter(|(n, _)| *n > 0).map(|(n, outcome)| format!("{n} {}", outcome.text()));
        said.collect::<Vec<_>>().join(", ")
    }
}

impl Line {
    /// The answer that was signed.
    #[must_use]
    pub fn signed_words(&self) -> String {
        let state = if self.approved { "approved" } else { "not approved" };
        format!("{} {}, {state}", self.tape, self.signed.verdict.as_deref().unwrap_or_default())
    }

    /// Today's answer.
    #[must_use]
    pub fn today_words(&self) -> String {
        let Some(today) = &self.today else { return "–".to_owned() };
        let verdict = match &today.verdict {
            Some(verdict) => format!("{} {verdict}", self.tape),
            None => format!("{} is no candidate", self.tape),
        };
        match &today.proposed {
            None => format!("{verdict}; no tape is proposed"),
            Some(first) if *first == self.tape => verdict,
            Some(first) if self.signed.proposed.as_ref() == Some(first) => {
                format!("{verdict}; first is still {first}")
            }
            Some(first) => format!("{verdict}; first is now {first}"),
        }
    }

    /// The first criterion that flipped, or the fault.
    #[must_use]
    pub fn why(&self) -> String {
        if let Some(fault) = self.faults.first() {
            return format!("{}, needed {}", fault.found, fault.needed);
        }
        match &self.flipped {
            Some(flip) if flip.tape == self.tape => flip.text(),
            Some(flip) => format!("{} {}", flip.tape, flip.text()),
            None => self.moved.iter().map(|part| part.text()).collect::<Vec<_>>().join(", "),
        }
    }
}
