//! One pass over all kept selections: each is judged by today's data, and those that moved once more by
//! the data that they were signed on.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::blame::Blame;
use super::faulty::Faulty;
use super::flip::{self, Judged as Case};
use super::join::{SCHEMA, ordered};
use super::kept;
use super::newest::{Holdings, Newest, holdings};
use super::outcome::{Answer, Change, ChangeKind, Data, Failure, Line, Outcome, Part, Report, Tally};
use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::judge::Contested;
use crate::load::Folder;
use crate::part;
use crate::quantity::count;
use crate::rank::{self, Order};
use crate::record::{Statement, enquiry_of, sha256};
use crate::register::Register;
use crate::selection::{Judge, Judged};

/// How many enquiries are one plan: the more, the more cells they share. A bound on memory, not on results.
const AT_ONCE: usize = 10_000;

/// The data that are judged by.
pub struct Today<'t> {
    /// The data folder.
    pub folder: &'t Folder,
    /// Its catalogue.
    pub catalogue: &'t Catalogue,
    /// Its faulty rows, which the folder and the catalogue are without.
    pub faulty: &'t [Faulty],
    /// The digest over its files, without the enquiries.
    pub sha256: &'t str,
    /// The presentation digest of a language; none where there are no texts in it.
    pub presentation: &'t (dyn Fn(&str) -> Option<String> + Sync),
}

/// What a pass found, with the statements that were judged, by record.
pub struct Passed {
    /// What became of each selection.
    pub report: Report,
    /// The statement of each newest selection.
    pub statements: BTreeMap<String, Statement>,
}

/// A line, with what its causes are made from.
pub(super) struct Found {
    pub(super) line: Line,
    pub(super) changes: BTreeSet<Change>,
}

/// Judges every kept selection by today's data, or those of one part.
///
/// `heard` is told of so many selections done, of so many.
///
/// # Errors
/// A register that cannot be read, or whose log does not hold together.
pub fn pass(
    register: &Register,
    today: &Today<'_>,
    part: Option<part::Part>,
    heard: &(dyn Fn(usize, usize) + Sync),
) -> Result<Passed, Fault> {
    let takes = |record: &str| part.is_none_or(|part| part.takes(enquiry_of(record)));
    let Holdings { head, newest: all, superseded, mut failures } = holdings(register, takes)?;
    let about = &today.catalogue.about;
    let faulty = faulty_rows(today.faulty.iter().filter(|row| row.by_itself).count());
    // Remarks are on the data and the register as a whole, whichever part is judged.
    let remarks = faulty.into_iter().chain(of_version(&all, &about.version, today.sha256)).collect();
    let newest: Vec<Newest> = all.into_iter().filter(|one| takes(&one.id.enquiry)).collect();
    failures.retain(|failure| takes(&failure.record));
    let (unreadable, total) = (failures.len(), newest.len());
    let mut groups: BTreeMap<Vec<(&str, &str)>, Vec<&Newest>> = BTreeMap::new();
    let mut found: Vec<Found> = Vec::new();
    for one in &newest {
        if one.withdrawn {
            found.push(Found { line: blank(one, Outcome::Withdrawn), changes: BTreeSet::new() });
            continue;
        }
        let data = one.statement.shared.iter().filter(|file| file.file.starts_with("data/"));
        groups.entry(data.map(|f| (f.file.as_str(), f.sha256.as_str())).collect()).or_default().push(one);
    }
    let enquiries = current_texts(today);
    let mut done = found.len();
    for group in groups.values() {
        let then = Then::default();
        for chunk in group.chunks(AT_ONCE) {
            let judged = judge(register, today, &then, chunk);
            for (one, result) in chunk.iter().zip(judged) {
                match result {
                    Ok(mut one_found) => {
                        one_found.line.notes.extend(differs(&enquiries, one, register));
                        found.push(one_found);
                    }
                    Err(fault) => failures.push(Failure { record: one.id.to_string(), fault }),
                }
            }
            done += chunk.len();
            heard(done, total);
        }
    }
    let mut counts =
        Tally { superseded, failed: failures.len(), total: total + unreadable + superseded, ..Tally::default() };
    for one in &found {
        counts.add(one.line.outcome);
    }
    let statements = newest.into_iter().map(|one| (one.id.to_string(), one.statement)).collect();
    let (causes, selections) = ordered(found);
    let mut report = Report {
        schema: SCHEMA.to_owned(),
        register: register.id().to_owned(),
        head,
        data: Data {
            version: about.version.clone(),
            date: about.date.clone(),
            sha256: today.sha256.to_owned(),
            invented: about.invented,
        },
        lapwise: env!("CARGO_PKG_VERSION").to_owned(),
        part,
        made_from: None,
        remarks,
        counts,
        causes,
        selections,
        failures: Vec::new(),
    };
    for failure in failures {
        report.fail(failure);
    }
    Ok(Passed { report, statements })
}

/// What faulty rows stop beside the selections that need them.
fn faulty_rows(n: usize) -> Option<String> {
    let rows = count(n, "row of the data folder is faulty", "rows of the data folder are faulty");
    (n > 0).then(|| format!("{rows}: `lapwise check` tells all, and no draft is printed until they are mended"))
}

/// Two contents under one version: nobody could tell afterwards which one a record was signed on.
fn of_version(newest: &[Newest], version: &str, sha256: &str) -> Option<String> {
    let other = |one: &&Newest| {
        let versions = &one.statement.versions;
        !one.withdrawn && versions.data == version && versions.data_sha256 != sha256
    };
    let n = newest.iter().filter(other).count();
    let signed = count(n, "selection was", "selections were");
    (n > 0).then(|| {
        format!("{signed} signed on data of the same version {version} that say something else: give `about.toml` a new version")
    })
}

/// The enquiries of the data folder, by number.
fn current_texts<'t>(today: &Today<'t>) -> BTreeMap<String, &'t str> {
    let read = |file: &str| {
        let text = today.folder.files.get(file)?;
        Some((Enquiry::read(file, text, today.catalogue).ok()?.number, text.as_str()))
    };
    today.folder.enquiries().filter_map(read).collect()
}

/// Says where the data folder's enquiry is another than the one kept.
fn differs(enquiries: &BTreeMap<String, &str>, one: &Newest, register: &Register) -> Option<String> {
    let now = enquiries.get(&one.id.enquiry)?;
    let kept = kept::enquiry(register, &one.id, &one.statement).ok()?;
    let plain = |text: &str| text.trim_start_matches('\u{feff}').replace("\r\n", "\n");
    (plain(now) != plain(&kept)).then(|| {
        "the data folder's enquiry of this number is another than the one signed; the one signed was judged".to_owned()
    })
}

fn blank(one: &Newest, outcome: Outcome) -> Line {
    let s = &one.statement;
    Line {
        record: one.id.to_string(),
        customer: s.customer.clone(),
        title: s.title.clone(),
        approved: one.approved,
        outcome,
        tape: s.selection.tape.clone(),
        signed: Answer::of(&s.selection, &s.versions.data),
        today: None,
        moved: Vec::new(),
        flipped: None,
        causes: Vec::new(),
        faults: Vec::new(),
        notes: Vec::new(),
        draft: None,
    }
}

/// The data folder of a group as it was signed: read when something of the group moved.
#[derive(Default)]
struct Then {
    blame: std::sync::OnceLock<Result<Blame, Faults>>,
}

impl Then {
    fn blame(&self, register: &Register, today: &Today<'_>, one: &Newest) -> &Result<Blame, Faults> {
        self.blame.get_or_init(|| Blame::new(&kept::data(register, &one.statement)?, today.folder))
    }
}

/// Judges selections that were signed on the same data.
fn judge(register: &Register, today: &Today<'_>, then: &Then, chunk: &[&Newest]) -> Vec<Result<Found, Fault>> {
    let texts: Vec<Result<String, Fault>> =
        chunk.par_iter().map(|one| kept::enquiry(register, &one.id, &one.statement)).collect();
    let read = |one: &Newest, text: &Result<String, Fault>, catalogue: &Catalogue| {
        let name = format!("{}/inputs/enquiry.toml", one.id);
        text.as_ref().ok().map(|text| Enquiry::read(&name, text, catalogue))
    };
    let now = Side::of(today.catalogue, chunk, |at| read(chunk[at], &texts[at], today.catalogue));
    let plan = now.plan(chunk);
    let judged: Vec<Option<Result<Now, Fault>>> = match &plan {
        Ok(Some(parts)) => now.judged(parts, chunk),
        _ => chunk.iter().map(|_| None).collect(),
    };
    let needed: Vec<Result<Vec<&Faulty>, Fault>> = chunk.par_iter().map(|one| needed(register, today, one)).collect();
    let mut results: Vec<Result<Found, Fault>> = Vec::with_capacity(chunk.len());
    let mut overturned = Vec::new();
    for (at, (one, judged)) in chunk.iter().zip(judged).enumerate() {
        let result = match (texts[at].as_ref().and(needed[at].as_ref()), &now.faults[at], judged, &plan) {
            (Err(fault), ..) => Err(fault.clone()),
            (Ok(needed), ..) if !needed.is_empty() => Ok(needs(one, needed)),
            (_, _, Some(Err(fault)), _) => Err(fault),
            (_, Some(faults), ..) | (_, _, _, Err(faults)) => Ok(not_judgeable(register, today, then, one, faults)),
            (_, _, Some(Ok(judged)), _) => one_judged(register, today, then, one, judged),
            _ => Ok(not_judgeable(register, today, then, one, &Faults::default())),
        };
        if result.as_ref().is_ok_and(|found| found.line.outcome == Outcome::Overturned) {
            overturned.push(at);
        }
        results.push(result);
    }
    if let (Ok(Some(parts)), false) = (&plan, overturned.is_empty()) {
        let moved: Vec<&Newest> = overturned.iter().map(|at| chunk[*at]).collect();
        explain(register, today, then, (&now, parts), (&overturned, &moved, &texts), &mut results);
    }
    results
}

/// What a selection comes to.
enum Now {
    /// Its tape is a candidate.
    Judged(Judged),
    /// Its tape is none; what is proposed.
    NoCandidate(Option<String>),
}

/// The enquiries that load, and where each stands among them.
struct Side<'c> {
    catalogue: &'c Catalogue,
    enquiries: Vec<Enquiry>,
    /// The place of each selection's enquiry.
    place: Vec<Option<usize>>,
    faults: Vec<Option<Faults>>,
}

type Parts<'p> = (Plan<'p>, Vec<Contested>);

impl<'c> Side<'c> {
    fn of(
        catalogue: &'c Catalogue,
        chunk: &[&Newest],
        read: impl Fn(usize) -> Option<Result<Enquiry, Faults>> + Sync + Send,
    ) -> Side<'c> {
        let all: Vec<_> = (0..chunk.len()).into_par_iter().map(read).collect();
        let mut side = Side { catalogue, enquiries: Vec::new(), place: Vec::new(), faults: Vec::new() };
        for one in all {
            let (enquiry, faults) = match one {
                Some(Ok(enquiry)) => (Some(enquiry), None),
                Some(Err(faults)) => (None, Some(faults)),
                None => (None, None),
            };
            side.place.push(enquiry.is_some().then_some(side.enquiries.len()));
            side.enquiries.extend(enquiry);
            side.faults.push(faults);
        }
        side
    }

    /// All of them judged, with the findings of the tape that each selected; none where there is no enquiry.
    fn plan(&self, chunk: &[&Newest]) -> Result<Option<Parts<'_>>, Faults> {
        if self.enquiries.is_empty() {
            return Ok(None);
        }
        let plan = Plan::new(self.catalogue, &self.enquiries)?;
        let mut named = vec![None; self.enquiries.len()];
        for (one, place) in chunk.iter().zip(&self.place) {
            if let Some(place) = place {
                named[*place] = plan.position(&one.statement.selection.tape);
            }
        }
        let contested = plan.contest_with(&named);
        Ok(Some((plan, contested)))
    }

    /// Each selection judged; none where its enquiry does not load.
    fn judged(&self, (plan, contested): &Parts<'_>, chunk: &[&Newest]) -> Vec<Option<Result<Now, Fault>>> {
        let judge = match Judge::new(plan) {
            Ok(judge) => judge,
            Err(fault) => return chunk.iter().map(|_| Some(Err(fault.clone()))).collect(),
        };
        let one = |(one, place): (&&Newest, &Option<usize>)| {
            let place = (*place)?;
            let Contested { standings, findings } = &contested[place];
            let judged = judge.judged_by(place, standings, &one.statement.selection.tape, findings);
            let proposed = || {
                let order = judge.order(place, standings);
                rank::proposed(&order).map(|first| self.catalogue.tapes[first.tape].id.clone())
            };
            Some(judged.map(|judged| judged.map_or_else(|| Now::NoCandidate(proposed()), Now::Judged)))
        };
        chunk.par_iter().zip(&self.place).map(one).collect()
    }
}

/// The faulty rows that a selection needs.
fn needed<'t>(register: &Register, today: &Today<'t>, one: &Newest) -> Result<Vec<&'t Faulty>, Fault> {
    if today.faulty.is_empty() {
        return Ok(Vec::new());
    }
    let kept = kept::own(register, &one.id, &one.statement, "inputs/evidence.json")?;
    let evidence = serde_json::from_str(&kept).unwrap_or_default();
    let needed: Vec<&Faulty> = today.faulty.iter().filter(|row| row.is_needed(&evidence)).collect();
    let (causes, rest): (Vec<&Faulty>, Vec<&Faulty>) = needed.into_iter().partition(|row| row.by_itself);
    Ok(if causes.is_empty() { rest } else { causes })
}

/// What cannot be judged while rows that it needs are faulty.
fn needs(one: &Newest, rows: &[&Faulty]) -> Found {
    let faults = rows.iter().map(|row| row.fault.clone()).collect();
    let line = Line { faults, ..blank(one, Outcome::NotJudgeable) };
    Found { line, changes: rows.iter().map(|row| row.change()).collect() }
}

fn not_judgeable(register: &Register, today: &Today<'_>, then: &Then, one: &Newest, faults: &Faults) -> Found {
    let faults = faults.clone().sorted();
    let line = Line { faults: faults.clone(), ..blank(one, Outcome::NotJudgeable) };
    let changes = match then.blame(register, today, one) {
        Ok(blame) => faults.iter().map(|fault| blame.of_fault(fault)).collect(),
        Err(_) => faults.iter().map(super::blame::of_fault_alone).collect(),
    };
    Found { line, changes }
}

/// A selection whose tape is no candidate any more: the row is gone, or the tape is not made any more.
fn no_candidate(register: &Register, today: &Today<'_>, then: &Then, one: &Newest, proposed: Option<String>) -> Found {
    let tape = &one.statement.selection.tape;
    if today.catalogue.tape(tape).is_none() {
        let ids = today.catalogue.tapes.iter().map(|tape| tape.id.as_str());
        let fault = Fault::unknown_word(Code::ReferenceUnknown, tape, "a tape of the catalogue: its row is gone", ids);
        return not_judgeable(register, today, then, one, &fault.into());
    }
    let data = today.catalogue.about.version.clone();
    let answer = Answer { verdict: None, open_hazards: None, proposed, data };
    let line = Line { today: Some(answer), moved: vec![Part::Verdict], ..blank(one, Outcome::Overturned) };
    Found { line, changes: BTreeSet::new() }
}

/// Holds one judged selection against what was signed.
fn one_judged(register: &Register, today: &Today<'_>, then: &Then, one: &Newest, judged: Now) -> Result<Found, Fault> {
    let signed = &one.statement;
    let version = &today.catalogue.about.version;
    let judged = match judged {
        Now::Judged(judged) => judged,
        Now::NoCandidate(proposed) => return Ok(no_candidate(register, today, then, one, proposed)),
    };
    let same = |text: &str, digest: &str| sha256(text.as_bytes()) == digest;
    let (evidence, decision) =
        (same(&judged.evidence, &signed.digests.evidence), same(&judged.decision, &signed.digests.decision));
    let presentation = (today.presentation)(&signed.versions.language);
    let styled = presentation.as_ref() == Some(&signed.digests.presentation);
    let outcome = match (decision, evidence, styled) {
        (false, ..) => Outcome::Overturned,
        (true, false, _) => Outcome::Restated,
        (true, true, false) => Outcome::Restyled,
        (true, true, true) => Outcome::Current,
    };
    let mut line = Line { today: Some(Answer::of(&judged.selection, version)), ..blank(one, outcome) };
    let mut changes = BTreeSet::new();
    match outcome {
        Outcome::Overturned => {
            let kept = kept::own(register, &one.id, signed, "inputs/decision.json")?;
            line.moved = flip::moved(&signed.selection, &judged.selection, &kept, &judged.decision);
        }
        Outcome::Restated => {
            let kept = kept::own(register, &one.id, signed, "inputs/evidence.json")?;
            changes = match then.blame(register, today, one) {
                Ok(blame) => blame.of_evidence(&kept, &judged.evidence),
                Err(_) => BTreeSet::from([super::blame::unplaced()]),
            };
        }
        Outcome::Restyled => {
            let style = |version: &str| format!("templates, faces and Typst of {version}");
            changes.insert(Change {
                kind: ChangeKind::Presentation,
                file: String::new(),
                row: "templates, texts, faces or Typst".to_owned(),
                column: String::new(),
                before: Some(style(&format!("Lapwise {}", signed.versions.lapwise))),
                after: Some(style(&format!("Lapwise {}", env!("CARGO_PKG_VERSION")))),
                source_before: None,
                source_after: None,
            });
            if presentation.is_none() {
                line.notes.push(format!(
                    "it was printed in the language `{}`, of which there is no file of texts here; name its folder \
                     with --templates",
                    signed.versions.language
                ));
            }
        }
        _ => {}
    }
    Ok(Found { line, changes })
}

/// Judges what was overturned by the data it was signed on, and finds what flipped first and why.
fn explain(
    register: &Register,
    today: &Today<'_>,
    then: &Then,
    (now, (now_plan, now_contested)): (&Side<'_>, &Parts<'_>),
    (places, moved, texts): (&[usize], &[&Newest], &[Result<String, Fault>]),
    results: &mut [Result<Found, Fault>],
) {
    let Some(first) = moved.first() else { return };
    let mut unplaced = |at: usize, why: &str, faults: &Faults| {
        let first = faults.clone().sorted().first().map(|fault| format!(": {}", fault.found)).unwrap_or_default();
        if let Ok(found) = &mut results[at] {
            found.line.notes.push(format!("{why}{first}"));
            found.changes.insert(super::blame::unplaced());
        }
    };
    let blame = match then.blame(register, today, first) {
        Ok(blame) => blame,
        Err(faults) => {
            for at in places {
                unplaced(*at, "the data it was signed on do not load any more", faults);
            }
            return;
        }
    };
    let old = Side::of(&blame.catalogue, moved, |at| {
        let name = format!("{}/inputs/enquiry.toml", moved[at].id);
        texts[places[at]].as_ref().ok().map(|text| Enquiry::read(&name, text, &blame.catalogue))
    });
    let plan = old.plan(moved);
    for (nth, at) in places.iter().enumerate() {
        if old.place[nth].is_none() {
            let faults = old.faults[nth].clone().unwrap_or_default();
            unplaced(*at, "its enquiry does not load any more with the data it was signed on", &faults);
        }
    }
    let parts = match &plan {
        Ok(Some(parts)) => parts,
        Ok(None) => return,
        Err(faults) => {
            for at in places {
                unplaced(*at, "the data it was signed on cannot be judged any more", faults);
            }
            return;
        }
    };
    let judged = old.judged(parts, moved);
    let orders = (Order::new(&parts.0), Order::new(now_plan));
    let told: Vec<Option<(Option<super::outcome::Flip>, BTreeSet<Change>)>> = judged
        .par_iter()
        .enumerate()
        .map(|(nth, judged)| {
            let at = places[nth];
            let (before, after) = (old.place[nth]?, now.place[at]?);
            let one = moved[nth];
            let was = Case { plan: &parts.0, order: &orders.0, enquiry: before, contested: &parts.1[before] };
            let is = Case { plan: now_plan, order: &orders.1, enquiry: after, contested: &now_contested[after] };
            let parts_moved = results[at].as_ref().ok().map(|found| found.line.moved.as_slice()).unwrap_or_default();
            let flip = flip::first(&was, &is, &one.statement.selection.tape, parts_moved);
            let mut changes = match &flip {
                Some(flip) => blame.of_flip(&was, &is, flip),
                None => BTreeSet::new(),
            };
            let again =
                matches!(judged, Some(Ok(Now::Judged(j))) if sha256(j.decision.as_bytes()) == one.statement.digests.decision);
            if !again {
                changes.insert(super::blame::program(&one.statement.versions.lapwise));
            }
            if changes.is_empty() {
                changes.insert(super::blame::unplaced());
            }
            Some((flip.map(|flip| flip.told), changes))
        })
        .collect();
    for (at, told) in places.iter().zip(told) {
        let (Some((flip, changes)), Ok(found)) = (told, &mut results[*at]) else { continue };
        found.line.flipped = flip;
        found.changes = changes;
    }
}
