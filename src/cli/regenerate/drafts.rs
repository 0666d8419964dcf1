//! Drafts of next revisions: printed where what they are made from changed, and left alone otherwise.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::{Failure, Mark, Overtaken, Presses, Register, Render, Report, Typst};
use crate::catalogue::Catalogue;
use crate::cli::End;
use crate::cli::progress::Progress;
use crate::dossier::Dossier;
use crate::dossier::pool::{Ended, Pool};
use crate::dossier::view::Stage;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::keep;
use crate::quantity::count;
use crate::record::{self, RecordId, Statement, sha256};
use crate::regenerate::{self, Change, Line, Outcome};
use crate::register::{DraftFile, draft_of, sweep_drafts};

/// How many enquiries are judged together for their drafts. A bound on memory, not on results.
const AT_ONCE: usize = 2500;
/// After how many drafts the list says that they are printed: a run that is killed prints so many again.
const OFTEN: usize = 32;

/// What was done.
#[derive(Default)]
pub(super) struct Done {
    /// Drafts printed.
    pub(super) printed: usize,
    /// Drafts that were there and hold.
    pub(super) kept: usize,
    /// Drafts that no longer hold and were taken away.
    pub(super) removed: usize,
    /// Where the report is.
    pub(super) files: Vec<std::path::PathBuf>,
}

/// What drafts are made from.
pub(super) struct Desk<'a> {
    pub(super) register: &'a Register,
    pub(super) catalogue: &'a Catalogue,
    pub(super) presses: &'a Presses<'a>,
    /// The compiler, or why there is none.
    pub(super) typst: &'a Result<Typst, Fault>,
    pub(super) statements: &'a BTreeMap<String, Statement>,
    /// Who gets a draft; none while the data have a fault.
    pub(super) render: Option<Render>,
    pub(super) jobs: usize,
    /// True once somebody interrupted.
    pub(super) stop: &'a AtomicBool,
    /// True where no progress is told.
    pub(super) quiet: bool,
}

/// A draft that is to be printed.
struct Wanted {
    record: RecordId,
    next: RecordId,
    language: String,
    file: DraftFile,
}

/// The digests of drafts that were printed just now, by their place among the wanted.
type Printed = BTreeMap<usize, String>;

/// Keeps a draft that was printed, by its place among the wanted.
type Keep<'k> = dyn Fn(usize, &[u8]) -> Result<(), Fault> + Sync + 'k;

impl Desk<'_> {
    /// Prints what is missing, takes away what no longer holds, and keeps the list of what was overtaken.
    ///
    /// What fails is noted in the report and stops nothing else; what the machine lacks is returned. An interrupt
    /// leaves what was printed by then.
    pub(super) fn draw(&self, report: &mut Report) -> Result<(Done, Option<Fault>), End> {
        let mut done = Done::default();
        let revisions = regenerate::revisions(self.register).map_err(crate::cli::register::ended)?;
        let before = Overtaken::read(self.register);
        let mut wanted: Vec<Wanted> = Vec::new();
        for line in &mut report.selections {
            let Some(one) = self.wanted(line, &revisions)? else { continue };
            line.draft = Some(one.file.file.clone());
            wanted.push(one);
        }
        for one in &mut wanted {
            let held = before.as_ref().and_then(|list| list.of(&one.record.to_string())?.draft.as_ref());
            let Some(held) = held.filter(|held| held.inputs == one.file.inputs && held.file == one.file.file) else {
                continue;
            };
            let there = std::fs::read(self.register.root().join(&held.file)).map(|bytes| sha256(&bytes)).ok();
            one.file.sha256 = held.sha256.clone().filter(|sha256| Some(sha256) == there.as_ref());
            done.kept += usize::from(one.file.sha256.is_some());
        }
        let list = |report: &Report, wanted: &[Wanted]| {
            self.list(report, wanted, &Printed::new()).map_err(crate::cli::setup::environment)
        };
        list(report, &wanted)?;
        let environment = self.print_all(report, &mut wanted, &mut done);
        list(report, &wanted)?;
        // One that could not be printed has no draft: what an earlier run left in its place says something else.
        let (there, missing): (Vec<&Wanted>, Vec<&Wanted>) = wanted.iter().partition(|one| one.file.sha256.is_some());
        let missing: BTreeSet<String> = missing.iter().map(|one| one.record.to_string()).collect();
        for line in report.selections.iter_mut().filter(|line| missing.contains(&line.record)) {
            line.draft = None;
        }
        let named: BTreeSet<&str> = there.iter().map(|one| one.file.file.as_str()).collect();
        done.removed = sweep_drafts(self.register, report.part, |file| named.contains(file))
            .map_err(crate::cli::register::ended)?;
        Ok((done, environment))
    }

    /// The draft of a line's next revision, if it is to have one; none where somebody signed it meanwhile.
    fn wanted(&self, line: &Line, revisions: &BTreeMap<String, u32>) -> Result<Option<Wanted>, End> {
        let least = match line.outcome {
            Outcome::Overturned => Render::Overturned,
            Outcome::Restated => Render::Restated,
            Outcome::Restyled => Render::All,
            Outcome::NotJudgeable | Outcome::Current | Outcome::Withdrawn => return Ok(None),
        };
        let record: RecordId = line.record.parse()?;
        let Some(statement) = self.statements.get(&line.record) else { return Ok(None) };
        if self.render < Some(least) || revisions.get(&record.enquiry) != Some(&record.revision) {
            return Ok(None);
        }
        let next = RecordId { revision: record.revision + 1, ..record.clone() };
        let language = statement.versions.language.clone();
        let enquiry = statement.files.iter().find(|file| file.file == "inputs/enquiry.toml");
        let press = self.presses.of(&language).ok();
        let inputs = record::canonical(&serde_json::json!({
            "data": press.as_ref().map(|press| crate::dossier::view::of_set(&press.inputs.data)),
            "enquiry": enquiry.map(|file| file.sha256.as_str()),
            "lapwise": env!("CARGO_PKG_VERSION"),
            "language": language,
            "presentation": press.as_ref().map(|press| press.presentation()).transpose()?,
            "revision": next.to_string(),
        }))?;
        let file = DraftFile { file: draft_of(&next), inputs: sha256(inputs.as_bytes()), sha256: None };
        Ok(Some(Wanted { record, next, language, file }))
    }

    /// Keeps the list of what was overtaken, with the drafts as far as they are printed, some of them just now.
    fn list(&self, report: &Report, wanted: &[Wanted], printed: &Printed) -> Result<(), Fault> {
        let draft = |(at, one): (usize, &Wanted)| {
            let sha256 = printed.get(&at).cloned().or_else(|| one.file.sha256.clone());
            (one.record.to_string(), DraftFile { sha256, ..one.file.clone() })
        };
        let drafts: BTreeMap<String, DraftFile> = wanted.iter().enumerate().map(draft).collect();
        let moved =
            report.selections.iter().filter(|line| !matches!(line.outcome, Outcome::Current | Outcome::Withdrawn));
        let marks = moved.map(|line| Mark {
            record: line.record.clone(),
            outcome: line.outcome.text().to_owned(),
            by: by(report, line),
            draft: drafts.get(&line.record).cloned(),
        });
        let list = Overtaken::new(report.head.clone(), &report.data.version, &report.data.sha256, marks.collect());
        list.keep(self.register, report.part)
    }

    /// Prints what is not printed yet; returns what the machine lacks for it.
    fn print_all(&self, report: &mut Report, wanted: &mut [Wanted], done: &mut Done) -> Option<Fault> {
        let mut by_language: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (at, one) in wanted.iter().enumerate().filter(|(_, one)| one.file.sha256.is_none()) {
            by_language.entry(one.language.clone()).or_default().push(at);
        }
        if by_language.is_empty() {
            return None;
        }
        let typst = match self.typst {
            Ok(typst) => typst,
            Err(fault) => return Some(fault.clone()),
        };
        let progress = Progress::of(by_language.values().map(Vec::len).sum(), "drafts", self.quiet);
        let printed = Mutex::new(Printed::new());
        let keep = |at: usize, pdf: &[u8]| -> Result<(), Fault> {
            keep::unless_there(&self.register.root().join(&wanted[at].file.file), pdf)?;
            let mut printed = printed.lock().unwrap_or_else(PoisonError::into_inner);
            printed.insert(at, sha256(pdf));
            if printed.len().is_multiple_of(OFTEN) { self.list(report, wanted, &printed) } else { Ok(()) }
        };
        let mut failed = Vec::new();
        for (language, places) in &by_language {
            for chunk in places.chunks(AT_ONCE).take_while(|_| !self.stop.load(Ordering::SeqCst)) {
                failed.extend(self.print(language, chunk, wanted, (typst, &progress), &keep));
            }
        }
        progress.end();
        for (at, fault) in failed {
            let found = format!("the draft of `{}`: {}", wanted[at].next, fault.found);
            report.fail(Failure { record: wanted[at].record.to_string(), fault: Fault { found, ..fault } });
        }
        for (at, digest) in printed.into_inner().unwrap_or_else(PoisonError::into_inner) {
            wanted[at].file.sha256 = Some(digest);
            done.printed += 1;
        }
        None
    }

    /// Prints some drafts of one language and keeps each; returns what failed.
    fn print(
        &self,
        language: &str,
        places: &[usize],
        wanted: &[Wanted],
        (typst, progress): (&Typst, &Progress),
        keep: &Keep<'_>,
    ) -> Vec<(usize, Fault)> {
        let all = |fault: &Fault| places.iter().map(|at| (*at, fault.clone())).collect::<Vec<_>>();
        let press = match self.presses.of(language) {
            Ok(press) => press,
            Err(faults) => return all(&first(faults)),
        };
        let read: Vec<Result<(String, Enquiry), Fault>> = places.par_iter().map(|at| self.read(&wanted[*at])).collect();
        let (mut failed, mut texts, mut enquiries) = (Vec::new(), Vec::new(), Vec::new());
        for (at, one) in places.iter().copied().zip(read) {
            match one {
                Ok((text, enquiry)) => {
                    texts.push((at, text));
                    enquiries.push(enquiry);
                }
                Err(fault) => failed.push((at, fault)),
            }
        }
        let pool = Pool::new(&press, typst, self.jobs, self.stop);
        let (pool, plan) = match (pool, Plan::new(self.catalogue, &enquiries)) {
            (Ok(pool), Ok(plan)) => (pool, plan),
            (Err(fault), _) => return all(&fault),
            (_, Err(faults)) => return all(&first(faults)),
        };
        let standings = plan.standings();
        let make = |nth: usize| {
            let (at, text) = &texts[nth];
            press.prepare(&plan, nth, &standings[nth], text, Stage::Draft(Some(wanted[*at].next.clone())))
        };
        let keep = |nth: usize, _: &Dossier, pdf: Vec<u8>| Ok(keep(texts[nth].0, &pdf)?);
        let ended = pool.run(texts.len(), make, keep, |_| progress.step());
        failed.extend(texts.iter().zip(ended).filter_map(|((at, _), ended)| match ended {
            Ended::Failed(faults) => Some((*at, first(faults))),
            Ended::Done(()) | Ended::Stopped => None,
        }));
        failed
    }

    /// The kept enquiry, as its text and as it is read today.
    fn read(&self, one: &Wanted) -> Result<(String, Enquiry), Fault> {
        let record = one.record.to_string();
        let statement = self.statements.get(&record).ok_or_else(|| first(Faults::default()))?;
        let text = regenerate::enquiry(self.register, &one.record, statement)?;
        let enquiry = Enquiry::read(&format!("{record}/inputs/enquiry.toml"), &text, self.catalogue).map_err(first)?;
        Ok((text, enquiry))
    }
}

/// What brought it about, in one line; the same whatever else was judged.
fn by(report: &Report, line: &Line) -> String {
    let causes = line.causes.iter().filter_map(|number| report.causes.get(number.checked_sub(1)?));
    let changes: BTreeSet<&Change> = causes.flat_map(|cause| &cause.changes).collect();
    match (changes.first(), changes.len()) {
        (None, _) => line.faults.first().map(|fault| fault.found.clone()).unwrap_or_default(),
        (Some(one), 1) => one.text(),
        (Some(first), n) => format!("{}, and {}", first.text(), count(n - 1, "change more", "changes more")),
    }
}

/// The first of several faults: one line tells what stopped one draft.
fn first(faults: Faults) -> Fault {
    faults.sorted().into_iter().next().unwrap_or_else(|| {
        Fault::new(Code::TemplateFaulty, "no reason given", "a draft that prints", "report this as a defect")
    })
}
