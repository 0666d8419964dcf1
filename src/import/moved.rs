//! What a change of the data moves: every enquiry judged before and after, in memory.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::Faults;
use crate::judge::Verdict;
use crate::load::Folder;
use crate::rank;

/// A verdict that is another than before; none where there was or is no such finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct Move {
    /// The tape.
    pub tape: String,
    /// The exposure, if the criterion is about one.
    pub exposure: Option<String>,
    /// The criterion; none for the candidate as a whole.
    pub criterion: Option<String>,
    /// Before.
    pub before: Option<Verdict>,
    /// After.
    pub after: Option<Verdict>,
}

impl Move {
    /// What the change is: an open question settled, a settled one open again, or an answer overturned.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match (self.before, self.after) {
            (Some(Verdict::Unproven), Some(_)) => "settled",
            (Some(_), Some(Verdict::Unproven)) => "open again",
            (None, _) => "new",
            (_, None) => "gone",
            _ => "changed",
        }
    }
}

/// What moved in one enquiry.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct Moved {
    /// The enquiry.
    pub enquiry: String,
    /// The proposed tape before.
    pub proposed_before: Option<String>,
    /// The proposed tape after.
    pub proposed_after: Option<String>,
    /// Candidates whose verdict changed.
    pub candidates: Vec<Move>,
    /// Findings whose verdict changed.
    pub findings: Vec<Move>,
}

impl Moved {
    /// True if nothing moved.
    #[must_use]
    pub fn is_still(&self) -> bool {
        self.proposed_before == self.proposed_after && self.candidates.is_empty() && self.findings.is_empty()
    }
}

/// Tape, exposure and criterion by name.
type Key = (String, Option<String>, Option<String>);

/// The verdicts of one enquiry, by name.
struct Answer {
    proposed: Option<String>,
    candidates: BTreeMap<Key, Verdict>,
    findings: BTreeMap<Key, Verdict>,
}

/// What differs between two states of a data folder, by enquiry, in the order of their files.
///
/// # Errors
/// A state that does not load.
pub fn moved(before: &Folder, after: &Folder) -> Result<Vec<Moved>, Faults> {
    let (old, new) = (answers(before)?, answers(after)?);
    let mut all = Vec::new();
    for (number, is) in new {
        let was = old.iter().find(|(other, _)| *other == number).map(|(_, answer)| answer);
        all.push(Moved {
            proposed_before: was.and_then(|a| a.proposed.clone()),
            proposed_after: is.proposed.clone(),
            candidates: was.map(|was| differences(&was.candidates, &is.candidates)).unwrap_or_default(),
            findings: was.map(|was| differences(&was.findings, &is.findings)).unwrap_or_default(),
            enquiry: number,
        });
    }
    Ok(all)
}

fn differences(before: &BTreeMap<Key, Verdict>, after: &BTreeMap<Key, Verdict>) -> Vec<Move> {
    let keys: std::collections::BTreeSet<&Key> = before.keys().chain(after.keys()).collect();
    let change = |key: &Key| {
        let (was, is) = (before.get(key).copied(), after.get(key).copied());
        let (tape, exposure, criterion) = key.clone();
        (was != is).then_some(Move { tape, exposure, criterion, before: was, after: is })
    };
    keys.into_iter().filter_map(change).collect()
}

fn answers(folder: &Folder) -> Result<Vec<(String, Answer)>, Faults> {
    let catalogue = Catalogue::build(folder)?;
    let mut faults = Faults::default();
    let mut enquiries = Vec::new();
    for name in folder.enquiries() {
        match Enquiry::read(name, folder.text(name), &catalogue) {
            Ok(enquiry) => enquiries.push(enquiry),
            Err(found) => faults.extend(found),
        }
    }
    let enquiries = faults.or(enquiries)?;
    let plan = Plan::new(&catalogue, &enquiries)?;
    let standings = plan.standings();
    let mut answers = Vec::new();
    for (number, enquiry) in enquiries.iter().enumerate() {
        let standing = standings.get(number).map_or(&[][..], Vec::as_slice);
        let tape = |index: usize| catalogue.tapes[index].id.clone();
        let ranked = rank::order(&plan, number, standing);
        let candidates = ranked.iter().map(|r| ((tape(r.tape), None, None), r.standing.verdict)).collect();
        let findings = plan
            .findings(number)
            .iter()
            .map(|f| {
                let exposure = f.exposure.map(|x| enquiry.exposures[x].name.clone());
                ((tape(f.tape), exposure, Some(catalogue.criteria[f.criterion].id.clone())), f.verdict)
            })
            .collect();
        let proposed = rank::proposed(&ranked).map(|r| tape(r.tape));
        answers.push((enquiry.number.clone(), Answer { proposed, candidates, findings }));
    }
    Ok(answers)
}
