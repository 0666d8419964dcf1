//! Drafts of next revisions: printed where what they are made from changed, and left alone otherwise.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::{Failure, Mark, Overtaken, Presses, Register, Render, Report, Typst, put};
use crate::catalogue::Catalogue;
use crate::cli::End;
use crate::cli::progress::Progress;
use crate::dossier::Dossier;
use crate::dossier::view::Stage;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::record::{self, RecordId, Statement, sha256};
use crate::regenerate::{self, Line, Outcome};
use crate::register::{DraftFile, draft_of, sweep_drafts};

/// How many drafts are prepared at once. A bound on memory, not on results.
const AT_ONCE: usize = 32;

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

impl Desk<'_> {
    /// Prints what is missing, takes away what no longer holds, and keeps the list of what was overtaken.
    ///
    /// What fails is noted in the report and stops nothing else; what the machine lacks is returned.
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
        self.list(report, &wanted)?;
        let environment = self.print_all(report, &mut wanted, &mut done)?;
        self.list(report, &wanted)?;
        // One that could not be printed has no draft: what an earlier run left in its place says something else.
        let (there, missing): (Vec<&Wanted>, Vec<&Wanted>) = wanted.iter().partition(|one| one.file.sha256.is_some());
        let missing: BTreeSet<String> = missing.iter().map(|one| one.record.to_string()).collect();
        for line in report.selections.iter_mut().filter(|line| missing.contains(&line.record)) {
            line.draft = None;
        }
        let named: BTreeSet<&str> = there.iter().map(|one| one.file.file.as_str()).collect();
        done.removed = sweep_drafts(self.register, |file| named.contains(file)).map_err(crate::cli::register::ended)?;
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

    /// Keeps the list of what was overtaken, with the drafts as far as they are printed.
    fn list(&self, report: &Report, wanted: &[Wanted]) -> Result<(), End> {
        let drafts: BTreeMap<String, &DraftFile> =
            wanted.iter().map(|one| (one.record.to_string(), &one.file)).collect();
        let moved =
            report.selections.iter().filter(|line| !matches!(line.outcome, Outcome::Current | Outcome::Withdrawn));
        let marks = moved.map(|line| Mark {
            record: line.record.clone(),
            outcome: line.outcome.text().to_owned(),
            by: by(report, line),
            draft: drafts.get(&line.record).map(|file| (*file).clone()),
        });
        let list = Overtaken::new(report.head.clone(), &report.data.version, &report.data.sha256, marks.collect());
        put(&Overtaken::path(self.register), list.text()?.as_bytes()).map_err(crate::cli::setup::environment)?;
        Ok(())
    }

    /// Prints what is not printed yet, some at a time.
    fn print_all(&self, report: &mut Report, wanted: &mut [Wanted], done: &mut Done) -> Result<Option<Fault>, End> {
        let mut by_language: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (at, one) in wanted.iter().enumerate().filter(|(_, one)| one.file.sha256.is_none()) {
            by_language.entry(one.language.clone()).or_default().push(at);
        }
        if by_language.is_empty() {
            return Ok(None);
        }
        let typst = match self.typst {
            Ok(typst) => typst,
            Err(fault) => return Ok(Some(fault.clone())),
        };
        let progress = Progress::of(by_language.values().map(Vec::len).sum(), "drafts", self.quiet);
        for (language, all) in by_language {
            for places in all.chunks(AT_ONCE) {
                let chunk: Vec<&Wanted> = places.iter().map(|at| &wanted[*at]).collect();
                let printed = self.print(&language, &chunk, typst);
                let mut told = Vec::new();
                for (at, result) in places.iter().zip(printed) {
                    progress.step();
                    match result.and_then(|pdf| {
                        let path = self.register.root().join(&wanted[*at].file.file);
                        put(&path, &pdf).map(|_| sha256(&pdf))
                    }) {
                        Ok(digest) => told.push((*at, digest)),
                        Err(fault) => {
                            let record = wanted[*at].record.to_string();
                            let found = format!("the draft of `{}`: {}", wanted[*at].next, fault.found);
                            report.failures.push(Failure { record, fault: Fault { found, ..fault } });
                        }
                    }
                }
                for (at, digest) in told {
                    wanted[at].file.sha256 = Some(digest);
                    done.printed += 1;
                }
                self.list(report, wanted)?;
            }
        }
        progress.end();
        Ok(None)
    }

    /// Prints some drafts of one language; each by itself may fail.
    fn print(&self, language: &str, chunk: &[&Wanted], typst: &Typst) -> Vec<Result<Vec<u8>, Fault>> {
        let all = |fault: &Fault| chunk.iter().map(|_| Err(fault.clone())).collect::<Vec<_>>();
        let press = match self.presses.of(language) {
            Ok(press) => press,
            Err(faults) => return all(&first(faults)),
        };
        let read = |one: &&Wanted| -> Result<(String, Enquiry, Stage), Fault> {
            let record = one.record.to_string();
            let statement = self.statements.get(&record).ok_or_else(|| first(Faults::default()))?;
            let text = regenerate::enquiry(self.register, &one.record, statement)?;
            let enquiry =
                Enquiry::read(&format!("{record}/inputs/enquiry.toml"), &text, self.catalogue).map_err(first)?;
            Ok((text, enquiry, Stage::Draft(Some(one.next.clone()))))
        };
        let texts: Vec<Result<(String, Enquiry, Stage), Fault>> = chunk.par_iter().map(read).collect();
        let enquiries: Vec<Enquiry> = texts.iter().flatten().map(|(_, enquiry, _)| enquiry.clone()).collect();
        let plan = match Plan::new(self.catalogue, &enquiries) {
            Ok(plan) => plan,
            Err(faults) => return all(&first(faults)),
        };
        let standings = plan.standings();
        let good: Vec<(&String, &Stage)> = texts.iter().flatten().map(|(text, _, stage)| (text, stage)).collect();
        let prepared: Vec<Result<Dossier, Fault>> = (0..enquiries.len())
            .into_par_iter()
            .map(|at| {
                let (text, stage) = good[at];
                press.prepare(&plan, at, &standings[at], text, stage.clone()).map_err(first)
            })
            .collect();
        let dossiers: Vec<Dossier> = prepared.iter().flatten().cloned().collect();
        let printed = match press.print(typst, &dossiers, self.jobs, |_| {}) {
            Ok(printed) => printed,
            Err(fault) => return all(&fault),
        };
        // Each result in the place of the selection that it belongs to.
        let mut printed = printed.into_iter();
        let mut prepared = prepared.into_iter();
        let mut next = || match prepared.next()? {
            Ok(_) => printed.next(),
            Err(fault) => Some(Err(fault)),
        };
        texts
            .into_iter()
            .map(|text| match text {
                Ok(_) => next().unwrap_or_else(|| Err(first(Faults::default()))),
                Err(fault) => Err(fault),
            })
            .collect()
    }
}

/// What brought it about, in one line.
fn by(report: &Report, line: &Line) -> String {
    let causes = line.causes.iter().filter_map(|number| report.causes.get(number.checked_sub(1)?));
    let changes: Vec<String> = causes.flat_map(|cause| &cause.changes).map(regenerate::Change::text).collect();
    match changes.as_slice() {
        [] => line.faults.first().map(|fault| fault.found.clone()).unwrap_or_default(),
        [one] => one.clone(),
        [first, rest @ ..] => {
            format!("{first}, and {}", crate::quantity::count(rest.len(), "change more", "changes more"))
        }
    }
}

/// The first of several faults: one line tells what stopped one draft.
fn first(faults: Faults) -> Fault {
    faults.sorted().into_iter().next().unwrap_or_else(|| {
        Fault::new(Code::TemplateFaulty, "no reason given", "a draft that prints", "report this as a defect")
    })
}
