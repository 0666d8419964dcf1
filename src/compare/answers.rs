//! What a data folder answers: every enquiry judged, in memory.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::explain::{margin_words, value_words};
use crate::fault::Faults;
use crate::judge::{Finding, Standing, Verdict};
use crate::load::Folder;
use crate::rank::{self, Ranked};

/// Exposure and criterion by name; no exposure for the enquiry as a whole.
pub(super) type Case = (Option<String>, String);

/// Tape, exposure and criterion by name.
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

/// A finding, and what it adds to the standing of its candidate.
#[derive(Clone, Debug)]
pub(super) struct Weighed {
    pub(super) shown: Shown,
    standing: Standing,
}

/// What is found of a candidate, and what its place in the order hangs on.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    standing: Standing,
    preference: usize,
    cost: Option<f64>,
    /// Every finding that was asked.
    pub(super) cells: BTreeMap<Case, Weighed>,
}

impl Candidate {
    /// With the findings of one criterion as another has them.
    fn with(&self, criterion: &str, other: &Candidate) -> Candidate {
        let own = self.cells.iter().filter(|((_, c), _)| c != criterion);
        let cells: BTreeMap<Case, Weighed> = own
            .chain(other.cells.iter().filter(|((_, c), _)| c == criterion))
            .map(|(case, weighed)| (case.clone(), weighed.clone()))
            .collect();
        let standing = cells.values().fold(Standing::BLANK, |standing, cell| standing.with(cell.standing));
        Candidate { standing, cells, ..*self }
    }
}

/// What one enquiry is answered, by tape.
#[derive(Clone, Debug, Default)]
pub(super) struct Answer {
    pub(super) candidates: BTreeMap<String, Arc<Candidate>>,
}

impl Answer {
    /// The verdict of a candidate; none for a tape that is none.
    pub(super) fn verdict(&self, tape: &str) -> Option<Verdict> {
        self.candidates.get(tape).map(|candidate| candidate.standing.verdict)
    }

    /// A finding as it is printed.
    pub(super) fn shown(&self, (tape, exposure, criterion): &Key) -> Option<&Shown> {
        let case = (exposure.clone(), criterion.clone());
        Some(&self.candidates.get(tape)?.cells.get(&case)?.shown)
    }

    /// The candidates that are not ruled out, best first.
    pub(super) fn order(&self) -> Vec<String> {
        let ranked = |(tape, (_, candidate)): (usize, (&String, &Arc<Candidate>))| {
            let Candidate { standing, preference, cost, .. } = **candidate;
            Ranked { position: tape, tape, standing, preference, cost }
        };
        // Ids stand in order, so that their places serve as the tapes of the last tie.
        let mut all: Vec<Ranked> = self.candidates.iter().enumerate().map(ranked).collect();
        all.sort_by(rank::compare);
        let names: Vec<&String> = self.candidates.keys().collect();
        let able = all.iter().filter(|r| !r.standing.is_out());
        able.map(|r| names[r.tape].clone()).collect()
    }

    /// With some candidates as another answer has them.
    pub(super) fn with_tapes<'t>(&self, other: &Answer, tapes: impl IntoIterator<Item = &'t String>) -> Answer {
        let mut mixed = self.clone();
        for tape in tapes {
            match other.candidates.get(tape) {
                Some(candidate) => mixed.candidates.insert(tape.clone(), candidate.clone()),
                None => mixed.candidates.remove(tape),
            };
        }
        mixed
    }

    /// With the findings of one criterion as another answer has them.
    pub(super) fn with_criterion(&self, other: &Answer, criterion: &str) -> Answer {
        let mixed = |(tape, own): (&String, &Arc<Candidate>)| {
            let other = other.candidates.get(tape);
            (tape.clone(), other.map_or_else(|| own.clone(), |other| Arc::new(own.with(criterion, other))))
        };
        Answer { candidates: self.candidates.iter().map(mixed).collect() }
    }
}

/// What is judged: all, unless tapes, criteria or enquiries are named.
#[derive(Clone, Debug, Default)]
pub(super) struct Scope {
    pub(super) tapes: Option<BTreeSet<String>>,
    pub(super) criteria: Option<BTreeSet<String>>,
    pub(super) enquiries: Option<BTreeSet<String>>,
}

/// The answers by the number of the enquiry, and the materials of each tape.
#[derive(Clone)]
pub(super) struct Answers {
    pub(super) of: BTreeMap<String, Answer>,
    /// Backing and adhesive of each tape.
    pub(super) made_of: BTreeMap<String, [String; 2]>,
    /// The version that the data say they are.
    pub(super) version: String,
}

impl Answers {
    /// Judges the enquiries of a folder by its data.
    ///
    /// # Errors
    /// Data or an enquiry that does not load.
    pub(super) fn of(data: &Folder, enquiries: &Folder, scope: &Scope) -> Result<Answers, Faults> {
        let within = |only: &Option<BTreeSet<String>>, name: &str| only.as_ref().is_none_or(|all| all.contains(name));
        let mut catalogue = Catalogue::build(data)?;
        let mut faults = Faults::default();
        let mut read = Vec::new();
        for name in enquiries.enquiries() {
            match Enquiry::read(name, enquiries.text(name), &catalogue) {
                Ok(enquiry) => read.push(enquiry),
                Err(found) => faults.extend(found),
            }
        }
        let mut enquiries = faults.or(read)?;
        enquiries.retain(|enquiry| within(&scope.enquiries, &enquiry.number));
        catalogue.criteria.retain(|criterion| within(&scope.criteria, &criterion.id));
        let judged = |index: &usize| {
            let tape = &catalogue.tapes[*index];
            tape.active && within(&scope.tapes, &tape.id)
        };
        let candidates = (0..catalogue.tapes.len()).filter(judged).collect();
        let plan = Plan::of(&catalogue, &enquiries, candidates)?;
        let order = rank::Order::new(&plan);
        let mut of = BTreeMap::new();
        for (number, enquiry) in enquiries.iter().enumerate() {
            // Where two enquiries have one number, the file tells them apart.
            let key = if of.contains_key(&enquiry.number) {
                format!("{} ({})", enquiry.number, enquiry.file)
            } else {
                enquiry.number.clone()
            };
            of.insert(key, answer(&plan, &order, number));
        }
        let name = |material: usize| catalogue.materials[material].id.clone();
        let made_of = catalogue.tapes.iter().map(|t| (t.id.clone(), [name(t.backing), name(t.adhesive)])).collect();
        Ok(Answers { of, made_of, version: catalogue.about.version.clone() })
    }
}

fn answer(plan: &Plan<'_>, order: &rank::Order<'_>, number: usize) -> Answer {
    let found: Vec<(Standing, BTreeMap<Case, Weighed>)> = (0..plan.candidates.len())
        .into_par_iter()
        .map(|position| {
            let findings = plan.findings_of(number, position);
            let asked = findings.iter().filter(|f| f.verdict != Verdict::NotAsked);
            let cells = asked.map(|finding| cell(plan.catalogue, &plan.enquiries[number], finding)).collect();
            (rank::standing(plan.catalogue, &findings), cells)
        })
        .collect();
    let standings: Vec<Standing> = found.iter().map(|(standing, _)| *standing).collect();
    let mut cells: Vec<BTreeMap<Case, Weighed>> = found.into_iter().map(|(_, cells)| cells).collect();
    let candidate = |r: Ranked| {
        let cells = std::mem::take(&mut cells[r.position]);
        let Ranked { standing, preference, cost, .. } = r;
        (plan.catalogue.tapes[r.tape].id.clone(), Arc::new(Candidate { standing, preference, cost, cells }))
    };
    Answer { candidates: order.of(number, &standings).into_iter().map(candidate).collect() }
}

fn cell(catalogue: &Catalogue, enquiry: &Enquiry, finding: &Finding) -> (Case, Weighed) {
    let exposure = finding.exposure.map(|x| enquiry.exposures[x].name.clone());
    let missing = || finding.missing.first().map(|missing| missing.text(catalogue)).unwrap_or_default();
    let value = if finding.value.is_some() { value_words(finding) } else { missing() };
    let shown = Shown { verdict: finding.verdict, value, margin: margin_words(finding) };
    let standing = rank::standing(catalogue, std::slice::from_ref(finding));
    ((exposure, catalogue.criteria[finding.criterion].id.clone()), Weighed { shown, standing })
}

/// The cells of two answers that are not printed alike; a candidate that comes or goes is told as one.
pub(super) fn moved(before: &Answer, after: &Answer) -> BTreeSet<Key> {
    let mut keys = BTreeSet::new();
    for (tape, was) in &before.candidates {
        let Some(is) = after.candidates.get(tape).filter(|is| !Arc::ptr_eq(was, is)) else { continue };
        let cases: BTreeSet<&Case> = was.cells.keys().chain(is.cells.keys()).collect();
        for case in cases {
            let shown = |candidate: &Candidate| candidate.cells.get(case).map(|cell| cell.shown.clone());
            if shown(was) != shown(is) {
                keys.insert((tape.clone(), case.0.clone(), case.1.clone()));
            }
        }
    }
    keys
}
