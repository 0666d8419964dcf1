//! What a data folder answers: every enquiry judged, in memory.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::explain::{in_unit, margin_words};
use crate::fault::Faults;
use crate::judge::{Finding, Verdict};
use crate::load::Folder;
use crate::quantity::tidy;
use crate::rank;

/// Tape, exposure and criterion by name; no exposure for the enquiry as a whole.
pub(super) type Key = (String, Option<String>, String);

/// A finding as it is printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Shown {
    pub(super) verdict: Verdict,
    /// The number with its spread and unit, or what is missing.
    pub(super) value: String,
    /// The margin.
    pub(super) margin: String,
}

/// What one enquiry is answered.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Answer {
    pub(super) proposed: Option<String>,
    /// The candidates that are not ruled out, best first.
    pub(super) order: Vec<String>,
    pub(super) candidates: BTreeMap<String, Verdict>,
    /// Every finding that was asked.
    pub(super) cells: BTreeMap<Key, Shown>,
}

/// The answers by the number of the enquiry, and the materials of each tape.
pub(super) struct Answers {
    pub(super) of: BTreeMap<String, Answer>,
    /// Backing and adhesive of each tape.
    pub(super) made_of: BTreeMap<String, [String; 2]>,
}

impl Answers {
    /// Judges the enquiries of a folder by its data.
    ///
    /// # Errors
    /// Data or an enquiry that does not load.
    pub(super) fn of(data: &Folder, enquiries: &Folder) -> Result<Answers, Faults> {
        let catalogue = Catalogue::build(data)?;
        let mut faults = Faults::default();
        let mut read = Vec::new();
        for name in enquiries.enquiries() {
            match Enquiry::read(name, enquiries.text(name), &catalogue) {
                Ok(enquiry) => read.push(enquiry),
                Err(found) => faults.extend(found),
            }
        }
        let enquiries = faults.or(read)?;
        let plan = Plan::new(&catalogue, &enquiries)?;
        let standings = plan.standings();
        let order = rank::Order::new(&plan);
        let mut of = BTreeMap::new();
        for (number, enquiry) in enquiries.iter().enumerate() {
            let tape = |index: usize| catalogue.tapes[index].id.clone();
            let ranked = order.of(number, standings.get(number).map_or(&[], Vec::as_slice));
            let able = |r: &&rank::Ranked| r.standing.verdict != Verdict::Unsuitable;
            let findings = plan.findings(number);
            let asked = findings.iter().filter(|f| f.verdict != Verdict::NotAsked);
            let answer = Answer {
                proposed: rank::proposed(&ranked).map(|r| tape(r.tape)),
                order: ranked.iter().filter(able).map(|r| tape(r.tape)).collect(),
                candidates: ranked.iter().map(|r| (tape(r.tape), r.standing.verdict)).collect(),
                cells: asked.map(|finding| cell(&catalogue, enquiry, finding)).collect(),
            };
            of.insert(enquiry.number.clone(), answer);
        }
        let name = |material: usize| catalogue.materials[material].id.clone();
        let made_of = catalogue.tapes.iter().map(|t| (t.id.clone(), [name(t.backing), name(t.adhesive)])).collect();
        Ok(Answers { of, made_of })
    }
}

fn cell(catalogue: &Catalogue, enquiry: &Enquiry, finding: &Finding) -> (Key, Shown) {
    let exposure = finding.exposure.map(|x| enquiry.exposures[x].name.clone());
    let number = |si: f64| tidy(in_unit(si, finding.unit), 4);
    let unit = if finding.unit == "1" { "" } else { finding.unit };
    let value = match finding.value {
        None => finding.missing.first().map(|missing| missing.text(catalogue)).unwrap_or_default(),
        Some(p) if p.x05.total_cmp(&p.x95).is_eq() => format!("{} {unit}", number(p.x50)),
        Some(p) => format!("{} ({} to {}) {unit}", number(p.x50), number(p.x05), number(p.x95)),
    };
    let key = (catalogue.tapes[finding.tape].id.clone(), exposure, catalogue.criteria[finding.criterion].id.clone());
    let value = value.trim_end().to_owned();
    (key, Shown { verdict: finding.verdict, value, margin: margin_words(finding.margin) })
}

/// The cells of two answers that are not printed alike; a candidate that comes or goes is told as one.
pub(super) fn moved(before: &Answer, after: &Answer) -> BTreeSet<Key> {
    let keys: BTreeSet<&Key> = before.cells.keys().chain(after.cells.keys()).collect();
    let stays = |tape: &String| before.candidates.contains_key(tape) && after.candidates.contains_key(tape);
    let differs = |key: &&Key| stays(&key.0) && before.cells.get(*key) != after.cells.get(*key);
    keys.into_iter().filter(differs).cloned().collect()
}
