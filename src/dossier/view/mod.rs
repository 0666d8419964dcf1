//! What a dossier says, as typed and printed text: the one place where a number is rounded.
//!
//! A [`View`] is all that a template sees. It holds printed text and positions in pictures, no
//! quantity: whatever stands on a page can be read in its JSON, and nothing else can.

mod answer;
mod appendix;
mod asked;
mod chapter;
mod matrix;
mod properties;
mod provenance;
mod quantities;
mod references;
mod signature;

use std::collections::BTreeMap;

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

pub use answer::{Alternate, Answer, Change, LimitLine, Proposed};
pub use appendix::{FactLine, History, HistoryLine, Method, Working, WorkingsOf};
pub use asked::{Asked, ExposureLine, Group, Pair};
pub use chapter::{Chapter, Line, RuledOut, WaitingLine};
pub use matrix::{Column, Matrix, Row, Tile};
pub use properties::{Apart, Properties, PropertyLine};
pub use provenance::{Digest, Inputs, Maker, Provenance, of_set};
pub use quantities::{Needed, NeededLine};
pub use references::{Reference, References};
pub use signature::{RegisterHead, ReserveLine, Signature, SignaturePage, Signer, Stage};

use super::charts::{self, Pictures};
use super::language::{Language, Words};
use super::{attach, cautions};
use crate::catalogue::{Pointer, Region, Subject};
use crate::enquiry::Enquiry;
use crate::envelope;
use crate::expand::Plan;
use crate::explain::{self, Explanation};
use crate::fault::Faults;
use crate::judge::{Finding, Reading, Standing, Verdict};
use crate::measure::Missing;
use crate::output::Counts;
use crate::rank::{self, Ranked};
use crate::settle;

/// How many tapes have a chapter of their own: the proposed one and its alternates.
pub const SHORT_LIST: usize = 4;
/// How many candidates the picture of the exposures shows; the appendix shows all.
const PICTURED: usize = 16;

/// Everything a dossier says.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct View {
    /// `lapwise/dossier-view/1`.
    pub schema: &'static str,
    /// The fixed text, by section and key.
    pub text: Words,
    /// What stands on every page.
    pub head: Head,
    /// The answer of page one.
    pub answer: Answer,
    /// The enquiry as understood.
    pub asked: Asked,
    /// The first candidates against the exposures, in slices that fit a page's width.
    pub matrix: Vec<Matrix>,
    /// One chapter for each short-listed tape.
    pub chapters: Vec<Chapter>,
    /// Candidates that are not ruled out and not short-listed.
    pub waiting: Vec<WaitingLine>,
    /// Candidates that are ruled out, and by what.
    pub ruled_out: Vec<RuledOut>,
    /// Tapes that are listed and not judged.
    pub discontinued: Vec<String>,
    /// Properties, like for like.
    pub properties: Properties,
    /// Numbers for pictures.
    pub pictures: Pictures,
    /// Turns, lengths and rolls.
    pub needed: Needed,
    /// Tests that would settle what is open.
    pub tests: Vec<TestLine>,
    /// Cautions whose trigger is met.
    pub cautions: Vec<CautionLine>,
    /// Their hazards in a line.
    pub hazards: String,
    /// Pointers to local codes.
    pub codes: Codes,
    /// The signatures; none in a draft.
    pub signature: Option<Signature>,
    /// What a draft would become, who has to sign it, and how long it stands; nothing where it is signed.
    pub draft: Vec<Pair>,
    /// What it was made from.
    pub provenance: Provenance,
    /// The references, in the order of their numbers.
    pub references: Vec<Reference>,
    /// Every candidate against every exposure, in slices that fit a page's width.
    pub appendix: Vec<Matrix>,
    /// What the symbols of the workings stand for.
    pub symbols: Vec<Pair>,
    /// The equations that the workings use.
    pub methods: Vec<Method>,
    /// The working of each finding of each short-listed tape.
    pub workings: Vec<WorkingsOf>,
    /// The files inside the PDF.
    pub attachments: Vec<AttachmentLine>,
}

/// What stands on every page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Head {
    /// The code of the language.
    pub language: String,
    /// The lines of the letterhead, the name first; none without one.
    pub letterhead: Vec<String>,
    /// The enquiry's number.
    pub number: String,
    /// The revision, such as `1`; in a draft that which it would become, empty where no register tells.
    pub revision: String,
    /// The status in words.
    pub status: String,
    /// Said on every page of a draft: what it was made from, and that it is not to be relied on; else empty.
    pub draft: String,
    /// The title of the file: number, revision, title.
    pub file_title: String,
    /// What it is about.
    pub title: String,
    /// Who asks.
    pub customer: String,
    /// Who prepared it.
    pub prepared_by: String,
    /// The date, in words.
    pub date: String,
    /// Year, month and day of the date.
    pub day: [i32; 3],
    /// One line on the application.
    pub application: String,
    /// Whose rules are pointed to; empty where the page is about none.
    pub rules: String,
    /// Said on every page where the catalogue is invented, else empty.
    pub invented: String,
    /// The invented scenario, else empty.
    pub scenario: String,
}

/// One test.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TestLine {
    /// Its number on page one.
    pub number: usize,
    /// What is done.
    pub test: String,
    /// The standard.
    pub standard: String,
    /// Specimens and duration.
    pub extent: String,
    /// What it has to come to.
    pub pass: String,
    /// Said where what is computed of the proposed tape falls short of that; else empty.
    pub warning: String,
    /// How many findings it settles, in words.
    pub settles: String,
    /// Which findings, tape by tape.
    pub decides: Vec<Pair>,
    /// True if the proposed tape waits for it.
    pub of_proposed: bool,
}

/// One caution.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CautionLine {
    /// The hazard, as a heading.
    pub hazard: String,
    /// What to do.
    pub text: String,
    /// Why it stands here.
    pub because: String,
}

/// Pointers to the rules of a region.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Codes {
    /// The region.
    pub region: String,
    /// Said for every region.
    pub common: Vec<String>,
    /// Topic and text.
    pub pointers: Vec<Pair>,
}

/// A file inside the PDF.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct AttachmentLine {
    /// Its name inside the PDF.
    pub name: String,
    /// Its name where Typst reads it.
    pub file: &'static str,
    /// Its mime type.
    pub mime: &'static str,
    /// How it belongs to the document.
    pub relationship: &'static str,
    /// What it is, in words.
    pub description: String,
    /// The sha256 of its bytes.
    pub digest: String,
}

/// From what a view is made.
pub struct Source<'a> {
    /// The judged cells.
    pub plan: &'a Plan<'a>,
    /// Which enquiry.
    pub enquiry: usize,
    /// The standing of each candidate.
    pub standings: &'a [Standing],
    /// The text of the enquiry's file.
    pub enquiry_text: &'a str,
    /// The digests of everything that goes in.
    pub inputs: &'a Inputs,
    /// The texts of the data folder, without the enquiries.
    pub data: &'a BTreeMap<String, String>,
    /// The language.
    pub language: &'a Language,
    /// The lines of the letterhead.
    pub letterhead: &'a [String],
    /// Signed, or a draft.
    pub stage: Stage,
}

/// One enquiry, judged and put in order: what all parts of a view are made from.
pub(super) struct Case<'a> {
    pub(super) plan: &'a Plan<'a>,
    pub(super) number: usize,
    pub(super) enquiry: &'a Enquiry,
    pub(super) language: &'a Language,
    pub(super) ranked: Vec<Ranked>,
    /// The findings of each candidate, by its position.
    pub(super) findings: Vec<Vec<Finding>>,
    /// The short list, as places in `ranked`.
    pub(super) short: usize,
    /// The tests that settle what is open of the short list, those of the proposed tape first: the first is test 1.
    pub(super) tests: Vec<settle::Test>,
    /// The conditions of the short list, those of the proposed tape first: the first is C1.
    pub(super) conditions: Vec<&'a str>,
}

impl<'a> Case<'a> {
    fn new(source: &Source<'a>) -> Case<'a> {
        let plan = source.plan;
        let enquiry = &plan.enquiries[source.enquiry];
        let ranked = rank::order(plan, source.enquiry, source.standings);
        let findings: Vec<Vec<Finding>> =
            (0..plan.candidates.len()).into_par_iter().map(|p| plan.findings_of(source.enquiry, p)).collect();
        let possible = ranked.iter().take_while(|r| !r.standing.is_out()).count();
        let short = possible.min(SHORT_LIST);
        let listed = ranked[..short].iter().flat_map(|r| &findings[r.position]);
        let mut tests = settle::tests(plan.catalogue, enquiry, listed.clone());
        tests.sort_by_key(|test| !test.decides.iter().any(|d| d.tape == ranked[0].tape));
        let mut conditions: Vec<&str> = Vec::new();
        for finding in listed {
            let text = settle::condition(plan.catalogue, finding);
            conditions.extend(text.filter(|text| !conditions.contains(text)));
        }
        let (number, language) = (source.enquiry, source.language);
        Case { plan, number, enquiry, language, ranked, findings, short, tests, conditions }
    }

    /// The mark of a condition of the short list, such as `C1`.
    pub(super) fn mark(&self, condition: &str) -> Option<String> {
        let at = self.conditions.iter().position(|known| *known == condition)?;
        Some(self.language.say("chapter.condition_mark", &[("n", &(at + 1).to_string())]))
    }

    /// The mark of the condition that a finding asks for.
    pub(super) fn condition_of(&self, finding: &Finding) -> Option<String> {
        self.mark(settle::condition(self.plan.catalogue, finding)?)
    }

    /// The number of the test that settles a finding of the short list.
    pub(super) fn test_of(&self, finding: &Finding) -> Option<usize> {
        self.tests.iter().position(|test| test.settles(finding)).map(|at| at + 1)
    }

    pub(super) fn short_list(&self) -> &[Ranked] {
        &self.ranked[..self.short]
    }

    pub(super) fn of(&self, ranked: &Ranked) -> &[Finding] {
        &self.findings[ranked.position]
    }

    pub(super) fn tape_id(&self, tape: usize) -> &str {
        &self.plan.catalogue.tapes[tape].id
    }

    pub(super) fn criterion(&self, finding: &Finding) -> &crate::catalogue::Criterion {
        &self.plan.catalogue.criteria[finding.criterion]
    }

    pub(super) fn exposure_name(&self, finding: &Finding) -> &str {
        finding.exposure.map_or("", |x| self.enquiry.exposures[x].name.as_str())
    }

    /// A finding's name: its criterion and its exposure.
    pub(super) fn title(&self, finding: &Finding) -> String {
        let title = &self.criterion(finding).title;
        match self.exposure_name(finding) {
            "" => title.clone(),
            name => format!("{title}, {name}"),
        }
    }

    /// A margin in words, as it is to be read.
    pub(super) fn margin(&self, finding: &Finding) -> String {
        let plain = self.plain_margin(finding);
        let key = match finding.reading {
            _ if finding.margin.number().is_none() => return plain,
            Reading::Exact => return plain,
            Reading::AtLeast => "margin.at_least",
            Reading::AtMost => "margin.at_most",
            Reading::Full => "margin.full",
        };
        self.language.say(key, &[("n", &plain)])
    }

    fn plain_margin(&self, finding: &Finding) -> String {
        use crate::judge::Margin;
        let l = self.language;
        let signed = |x: f64| {
            let sign = if x < 0.0 { "−" } else { "+" };
            format!("{sign}{}", l.number(libm::fabs(x), 3))
        };
        match finding.margin {
            Margin::Ratio(x) if x.is_finite() => {
                // Near the limit one digit more: nothing is rounded to a number that it does not reach.
                let digits = if (0.5..2.0).contains(&x) || x >= 100.0 { 3 } else { 2 };
                format!("{}\u{a0}×", l.precise(x, digits))
            }
            Margin::Ratio(_) | Margin::Ample => l.text("margin.ample").to_owned(),
            Margin::Kelvin(k) => format!("{}\u{a0}K", signed(k)),
            Margin::Classes(c) => {
                let n = libm::fabs(c);
                let key = if (n - 1.0).abs() < 1e-9 { "margin.class_one" } else { "margin.class_many" };
                l.say(key, &[("n", &signed(c))])
            }
            Margin::NoScale => l.text("margin.none").to_owned(),
            Margin::Missing => l.text("margin.missing").to_owned(),
        }
    }

    /// What a finding lacks, in words: what is missing of one thing, or of one in another, together.
    pub(super) fn missing(&self, finding: &Finding) -> Vec<String> {
        let catalogue = self.plan.catalogue;
        let name = |material: &usize| catalogue.materials[*material].short.as_str();
        let mut lacks: Vec<(String, Vec<String>)> = Vec::new();
        for missing in &finding.missing {
            let (what, of) = match missing {
                Missing::Fact(Subject::Material(of), property) => {
                    (property.name().to_owned(), format!(" of {}", name(of)))
                }
                Missing::Pair(of, medium, property) => {
                    (property.name().to_owned(), format!(" of {} in {}", name(of), name(medium)))
                }
                other => (other.text(catalogue), String::new()),
            };
            let what = what.replace('_', " ");
            match lacks.iter_mut().find(|(same, _)| *same == of && !of.is_empty()) {
                Some((_, list)) => list.push(what),
                None => lacks.push((of, vec![what])),
            }
        }
        lacks.into_iter().map(|(of, what)| format!("{}{of}", self.language.list(&what))).collect()
    }

    /// The verdict's word.
    pub(super) fn word(&self, verdict: Verdict) -> &str {
        self.language.text(&format!("verdict.{}", verdict.text()))
    }
}

/// Makes the view of one enquiry, and the files that go into its PDF.
///
/// # Errors
/// As the limits of use: a criterion that names no measure.
pub fn view(source: &Source<'_>) -> Result<(View, Vec<attach::Attachment>), Faults> {
    let case = Case::new(source);
    let catalogue = source.plan.catalogue;
    let mut references = References::default();
    // What costs most, side by side.
    let ((explanations, pictures), limits) = rayon::join(
        || {
            let explain = |ranked| {
                let asked = case.of(ranked).iter().filter(|f| f.verdict != Verdict::NotAsked);
                asked.map(|f| (f, explain::explain(case.plan, case.number, f))).collect()
            };
            let explanations: Vec<Vec<(&Finding, Explanation)>> = case.short_list().par_iter().map(explain).collect();
            let pictures = charts::pictures(&case, &explanations);
            (explanations, pictures)
        },
        || {
            let first = case.short_list().first();
            first.map(|first| envelope::envelope(catalogue, case.enquiry, first.tape)).transpose()
        },
    );
    let limits = limits?;
    let tests = tests(&case);
    let short: Vec<usize> = case.short_list().iter().map(|r| r.tape).collect();
    let cautions = cautions::met(catalogue, case.enquiry, &short, source.language);
    let answer = answer::answer(&case, limits.as_ref(), &tests);
    let cited = explanations.iter().flatten().flat_map(|(_, e)| {
        let facts = e.facts.iter().filter_map(|fact| fact.place.as_ref());
        facts.chain([&e.limits_from.place])
    });
    let cited = cited.collect();
    let (attachments, (chapters, properties, (workings, symbols, methods))) = rayon::join(
        || attach::attachments(&case, &answer, limits.as_ref(), &cited, source),
        || {
            let chapters = chapter::chapters(&case, &explanations, &mut references);
            let properties = properties::properties(&case, &mut references);
            (chapters, properties, appendix::workings(&case, &explanations, &mut references))
        },
    );
    let view = View {
        schema: "lapwise/dossier-view/1",
        text: source.language.words.clone(),
        head: head(&case, source),
        asked: asked::asked(&case),
        matrix: matrix::slices(&case, PICTURED),
        waiting: chapter::waiting(&case),
        ruled_out: chapter::ruled_out(&case),
        discontinued: catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.clone()).collect(),
        pictures,
        needed: quantities::needed(&case),
        codes: codes(&case, &short),
        signature: source.stage.signature().map(|signed| signature::numbered(&case, signed)),
        draft: signature::draft(&case, source),
        provenance: provenance::provenance(&case, source.inputs),
        appendix: matrix::slices(&case, usize::MAX),
        attachments: attachments.iter().map(attach::Attachment::line).collect(),
        references: references.list(catalogue, source.language),
        hazards: cautions::hazards(&cautions),
        answer,
        chapters,
        properties,
        tests,
        cautions,
        methods,
        symbols,
        workings,
    };
    Ok((view, attachments))
}

fn head(case: &Case<'_>, source: &Source<'_>) -> Head {
    let (e, l, about) = (case.enquiry, case.language, &case.plan.catalogue.about);
    let status = source.stage.status(l);
    let revision = source.stage.revision().map(|n| n.to_string()).unwrap_or_default();
    Head {
        letterhead: source.letterhead.to_vec(),
        language: l.id.clone(),
        number: e.number.clone(),
        file_title: format!("{} · {status} · {}", e.number, e.title),
        revision,
        status,
        draft: signature::on_every_page(case, source),
        title: e.title.clone(),
        customer: e.customer.clone(),
        prepared_by: e.prepared_by.clone(),
        date: l.date(&e.date),
        day: day(&e.date),
        application: asked::application_line(case),
        rules: region(case).map(|r| l.say("head.rules", &[("region", &r.name)])).unwrap_or_default(),
        invented: if about.invented { l.text("head.invented").to_owned() } else { String::new() },
        scenario: if about.invented { about.scenario.clone() } else { String::new() },
    }
}

/// Year, month and day of a date such as `2026-11-20`.
#[must_use]
pub fn day(date: &str) -> [i32; 3] {
    let mut day = [2000, 1, 1];
    for (slot, part) in day.iter_mut().zip(date.split('-')) {
        *slot = part.get(..part.len().min(4)).and_then(|p| p.parse().ok()).unwrap_or(*slot);
    }
    day
}

fn tests(case: &Case<'_>) -> Vec<TestLine> {
    let l = case.language;
    let proposed = case.short_list().first().map(|r| r.tape);
    (1..)
        .zip(&case.tests)
        .map(|(number, test)| {
            let mut decides: Vec<Pair> = Vec::new();
            for ranked in case.short_list() {
                let mut of_tape: Vec<(usize, Vec<String>)> = Vec::new();
                for d in test.decides.iter().filter(|d| d.tape == ranked.tape) {
                    if of_tape.last().is_none_or(|(c, _)| *c != d.criterion) {
                        of_tape.push((d.criterion, Vec::new()));
                    }
                    let name = d.exposure.map(|x| case.enquiry.exposures[x].name.clone());
                    if let (Some((_, names)), Some(name)) = (of_tape.last_mut(), name) {
                        names.push(name);
                    }
                }
                let parts: Vec<String> = of_tape
                    .into_iter()
                    .map(|(criterion, names)| {
                        let title = case.plan.catalogue.criteria[criterion].title.to_lowercase();
                        if names.is_empty() { title } else { format!("{title} ({})", names.join(", ")) }
                    })
                    .collect();
                if !parts.is_empty() {
                    decides.push(Pair { name: case.tape_id(ranked.tape).to_owned(), value: parts.join("; ") });
                }
            }
            let mut extent = Vec::new();
            if test.specimens > 0 {
                extent.push(l.count("tests.specimen", test.specimens as usize));
            }
            if !test.duration.is_empty() {
                extent.push(test.duration.clone());
            }
            let of_proposed = test.decides.iter().filter(|d| Some(d.tape) == proposed).count();
            TestLine {
                number,
                test: sentence(&test.test),
                standard: test.standard.clone(),
                extent: extent.join(", "),
                pass: l.say("tests.pass", &[("what", &test.pass.join("; "))]),
                warning: falls_short(case, test).map_or_else(String::new, |finding| short(case, finding)),
                settles: l.count("tests.finding", if of_proposed > 0 { of_proposed } else { test.decides.len() }),
                decides,
                of_proposed: of_proposed > 0,
            }
        })
        .collect()
}

/// The finding of the proposed tape that does not reach, with any of its spread, what a test has to come to.
fn falls_short<'c>(case: &'c Case<'_>, test: &settle::Test) -> Option<&'c Finding> {
    let own = case.short_list().first().map_or(&[][..], |proposed| case.of(proposed));
    own.iter().filter(|_| !test.pass.is_empty()).find(|f| {
        let rule = &case.plan.catalogue.criteria[f.criterion];
        let (Some(p), Some(limits)) = (f.value, f.limits) else { return false };
        let reaches = if rule.higher_is_better { p.x95 >= limits.limit } else { p.x05 <= limits.limit };
        // What is no less than a number may still reach it.
        !reaches && f.reading != Reading::AtLeast && test.settles(f)
    })
}

/// What to expect of a test that a finding falls short of, and from where on its condition carries it.
fn short(case: &Case<'_>, finding: &Finding) -> String {
    let rule = &case.plan.catalogue.criteria[finding.criterion];
    let l = case.language;
    let outer = finding
        .limits
        .filter(|_| rule.higher_is_better && !rule.condition.is_empty())
        .and_then(|limits| settle::times(limits.outer, case.plan.catalogue, case.enquiry, finding));
    outer.map_or_else(|| l.text("tests.short").to_owned(), |outer| l.say("tests.short_between", &[("outer", &outer)]))
}

/// The region of the enquiry's jurisdiction.
fn region<'a>(case: &Case<'a>) -> Option<&'a Region> {
    case.plan.catalogue.regions.iter().find(|r| r.id == case.enquiry.jurisdiction)
}

fn codes(case: &Case<'_>, tapes: &[usize]) -> Codes {
    let catalogue = case.plan.catalogue;
    let region = region(case);
    let concern = region.into_iter().flat_map(|r| cautions::pointers(r, (catalogue, case.enquiry, tapes)));
    let line = |p: &Pointer| {
        let sign = if p.from_memory { case.language.text("codes.sign") } else { "" };
        Pair { name: format!("{}{sign}", sentence(&p.topic)), value: p.text.clone() }
    };
    Codes {
        region: region.map(|r| r.name.clone()).unwrap_or_default(),
        common: catalogue.common_pointers.clone(),
        pointers: concern.map(line).collect(),
    }
}

/// The counts of a set of findings, as the sentence that ends a table.
pub(super) fn counted(language: &Language, findings: impl IntoIterator<Item = Verdict>) -> String {
    let c = Counts::of(findings);
    let total = c.suitable + c.conditional + c.unproven + c.unsuitable + c.not_asked;
    language.say(
        "matrix.counts",
        &[
            ("total", &total.to_string()),
            ("suitable", &c.suitable.to_string()),
            ("conditional", &c.conditional.to_string()),
            ("unproven", &c.unproven.to_string()),
            ("unsuitable", &c.unsuitable.to_string()),
            ("not_asked", &c.not_asked.to_string()),
        ],
    )
}

/// A phrase with a capital at its start.
pub(super) fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}
