//! The candidates: a chapter for each short-listed tape, a line for each other.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Case, Pair, References, counted};
use crate::catalogue::Property;
use crate::explain::{Explanation, bound_sign, dominant};
use crate::judge::{Cap, Finding, Verdict};
use crate::output::{Strip, strip};
use crate::rank::{self, Ranked};
use crate::settle;

/// The chapter of a short-listed tape.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Chapter {
    /// The tape.
    pub tape: String,
    /// Its name and the revision of its sheet.
    pub name: String,
    /// Its construction.
    pub construction: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// Why that verdict.
    pub why: String,
    /// Its place in the order, in words.
    pub place: String,
    /// A few numbers of its sheet.
    pub sheet: Vec<Pair>,
    /// Every finding, the worst first.
    pub lines: Vec<Line>,
    /// Its conditions, each behind its mark.
    pub conditions: Vec<Pair>,
    /// What is missing, each once, with the findings that wait for it and the number of their test.
    pub open: Vec<Pair>,
    /// How many findings of each verdict.
    pub counts: String,
    /// What the margin picture shows.
    pub alt: String,
    /// The source of its sheet.
    pub source: usize,
}

/// One finding.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Line {
    /// The criterion.
    pub criterion: String,
    /// The exposure, empty for the enquiry as a whole.
    pub exposure: String,
    /// The verdict.
    pub verdict: Verdict,
    /// Where the margin lies.
    pub strip: Option<Strip>,
    /// The margin in words.
    pub margin: String,
    /// The median with its unit.
    pub value: String,
    /// From 5 to 95 %.
    pub spread: String,
    /// The limit.
    pub limit: String,
    /// The outer limit.
    pub outer: String,
    /// True where higher is better.
    pub higher: bool,
    /// How it was found, on what standing, and what the spread hangs on.
    pub how: String,
    /// Why it is not what the number alone would give, or what is missing.
    pub remark: String,
    /// The number of the source of its limits; none where it has none.
    pub source: Option<usize>,
}

/// A candidate that is ruled out.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RuledOut {
    /// The tape.
    pub tape: String,
    /// Its construction.
    pub construction: String,
    /// What decided.
    pub by: String,
    /// The number against its limit.
    pub against: String,
    /// By how much, as a margin.
    pub margin: String,
    /// How many further findings rule it out, in words.
    pub further: String,
}

/// A candidate that is neither short-listed nor ruled out.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WaitingLine {
    /// Its place in the order.
    pub place: usize,
    /// The tape.
    pub tape: String,
    /// Its construction.
    pub construction: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// The weakest finding.
    pub weakest: String,
    /// What that finding lacks, or empty.
    pub missing: String,
    /// Its margin.
    pub margin: String,
    /// Open hazard findings.
    pub hazards: u32,
}

/// The construction with its thickness.
pub(super) fn construction(case: &Case<'_>, tape: usize) -> String {
    let catalogue = case.plan.catalogue;
    let thickness = catalogue.sheet(tape, Property::TotalThickness);
    let thickness =
        thickness.map(|t| format!(", {}", case.language.sized_to(&crate::quantity::LENGTH, t.spread.value, 3)));
    format!("{}{}", catalogue.construction(tape), thickness.unwrap_or_default())
}

/// A number with the unit of its measure.
fn printed(case: &Case<'_>, x: f64, unit: &str) -> String {
    let l = case.language;
    match unit {
        "class" => l.number(x, 3),
        unit => l.with_unit(&l.number(x, 3), unit),
    }
}

/// The number of a finding against its outer limit: "0.31, at least 4 needed".
pub(super) fn against(case: &Case<'_>, finding: &Finding) -> String {
    let l = case.language;
    let higher = case.criterion(finding).higher_is_better;
    match (finding.value, finding.limits) {
        (Some(p), Some(limits)) => {
            let key = if higher { "ruled.at_least" } else { "ruled.at_most" };
            let nearest = if higher { p.x95 } else { p.x05 };
            let limit = printed(case, limits.outer, finding.unit);
            l.say(key, &[("value", &printed(case, nearest, finding.unit)), ("limit", &limit)])
        }
        _ => match finding.missing.first() {
            Some(_) => l.say("ruled.missing", &[("what", &l.list(&case.missing(finding)))]),
            None => yes_or_no(case, finding),
        },
    }
}

/// What the sheet says where a criterion asks yes or no: "black (white asked)".
fn yes_or_no(case: &Case<'_>, finding: &Finding) -> String {
    let l = case.language;
    let tape = &case.plan.catalogue.tapes[finding.tape];
    match (case.criterion(finding).measure.as_str(), &case.enquiry.application.colour) {
        ("colour", Some(asked)) => l.say("ruled.colour", &[("has", tape.text("colour")), ("asked", asked)]),
        ("flame", _) => l.text("ruled.flame").to_owned(),
        _ => l.text("ruled.no").to_owned(),
    }
}

pub(super) fn chapters(
    case: &Case<'_>,
    explanations: &[Vec<(&Finding, Explanation)>],
    references: &mut References,
) -> Vec<Chapter> {
    (1..)
        .zip(case.short_list())
        .zip(explanations)
        .map(|((place, ranked), explained)| chapter(case, place, ranked, explained, references))
        .collect()
}

fn chapter(
    case: &Case<'_>,
    place: usize,
    ranked: &Ranked,
    explained: &[(&Finding, Explanation)],
    references: &mut References,
) -> Chapter {
    let (l, catalogue) = (case.language, case.plan.catalogue);
    let tape = &catalogue.tapes[ranked.tape];
    let findings = case.of(ranked);
    let mut order: Vec<&(&Finding, Explanation)> = explained.iter().collect();
    order.sort_by(|a, b| b.0.verdict.cmp(&a.0.verdict).then(a.0.margin.order().total_cmp(&b.0.margin.order())));
    let lines: Vec<Line> = order.into_iter().map(|(f, e)| line(case, f, e, references)).collect();
    let verdict = ranked.standing.verdict;
    let worst: Vec<String> = lines
        .iter()
        .take(4)
        .map(|line| format!("{} {} {}", line.criterion.to_lowercase(), case.word(line.verdict), line.margin))
        .collect();
    let alt = l.say("chapter.alt", &[("tape", &tape.id), ("n", &lines.len().to_string()), ("worst", &l.list(&worst))]);
    let position = match place {
        1 => l.text("chapter.first").to_owned(),
        n if verdict == Verdict::Unproven => l.say("chapter.place_unproven", &[("n", &n.to_string())]),
        n => l.say("chapter.place", &[("n", &n.to_string())]),
    };
    let revision = l.say("chapter.sheet_revision", &[("n", &tape.revision)]);
    Chapter {
        tape: tape.id.clone(),
        name: if tape.revision.is_empty() { tape.name.clone() } else { format!("{}, {revision}", tape.name) },
        construction: construction(case, ranked.tape),
        verdict,
        why: super::answer::why(case, verdict, findings),
        place: position,
        sheet: sheet(case, ranked.tape),
        lines,
        conditions: super::answer::conditions(case, findings),
        open: open(case, findings),
        counts: counted(l, findings.iter().map(|f| f.verdict)),
        alt,
        source: references.number(&tape.source),
    }
}

/// The numbers of the sheet that a reader looks for first.
fn sheet(case: &Case<'_>, tape: usize) -> Vec<Pair> {
    const SHOWN: [Property; 7] = [
        Property::TotalThickness,
        Property::Breakdown,
        Property::Tensile,
        Property::Elongation,
        Property::AdhesionToBacking,
        Property::TemperatureIndex,
        Property::RelativeCost,
    ];
    SHOWN
        .iter()
        .filter_map(|property| {
            let found = case.plan.catalogue.sheet(tape, *property)?;
            let name = case.language.text(&format!("properties.{}", property.name())).to_owned();
            Some(Pair { name, value: super::properties::value(case, *property, found.spread.value) })
        })
        .collect()
}

fn line(case: &Case<'_>, f: &Finding, explanation: &Explanation, references: &mut References) -> Line {
    let l = case.language;
    let rule = case.criterion(f);
    let print = |x: f64| printed(case, x, f.unit);
    let plain = |x: f64| l.number(x, 3);
    let spread = f.value.filter(|p| p.x05.total_cmp(&p.x95).is_ne());
    let mut how = vec![f.method.to_owned()];
    if let Some(basis) = f.basis {
        how.push(l.text(&format!("basis.{}", basis.text())).to_owned());
    }
    if let Some(used) = dominant(explanation).filter(|used| used.influence >= 0.2) {
        how.push(l.say("chapter.hangs_on", &[("what", &used.symbol), ("share", &l.percent(used.influence))]));
    }
    let mut remark = Vec::new();
    if let Some(cap) = f.capped {
        remark.push(l.text(cap_key(cap)).to_owned());
    }
    if !f.missing.is_empty() {
        remark.push(l.say("chapter.missing", &[("what", &l.list(&case.missing(f)))]));
    }
    if let Some(mark) = case.condition_of(f) {
        remark.push(l.say("chapter.condition", &[("n", &mark)]));
    }
    if let Some(number) = case.test_of(f) {
        remark.push(l.say("chapter.test", &[("n", &number.to_string())]));
    }
    let value = match (f.value, f.verdict) {
        (Some(p), _) => format!("{}{}", bound_sign(f, rule.higher_is_better), print(p.x50)),
        (None, Verdict::Suitable) => l.text("chapter.yes").to_owned(),
        (None, Verdict::Unsuitable) => l.text("chapter.no").to_owned(),
        (None, _) => "–".to_owned(),
    };
    Line {
        criterion: rule.title.clone(),
        exposure: case.exposure_name(f).to_owned(),
        verdict: f.verdict,
        strip: strip(rule, f),
        margin: case.margin(f),
        value,
        spread: spread.map(|p| format!("{}\u{a0}–\u{a0}{}", plain(p.x05), plain(p.x95))).unwrap_or_default(),
        limit: f.limits.map(|x| print(x.limit)).unwrap_or_default(),
        outer: f.limits.map(|x| print(x.outer)).unwrap_or_default(),
        higher: rule.higher_is_better,
        how: how.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · "),
        remark: remark.join(" "),
        source: f.limits.map(|_| references.number(&rule.source)),
    }
}

/// The key of the sentence on a held-back verdict.
fn cap_key(cap: Cap) -> &'static str {
    match cap {
        Cap::WeakEvidence => "cap.weak_evidence",
        Cap::Extrapolated => "cap.extrapolated",
        Cap::MethodAlone => "cap.method_alone",
        Cap::MilderTest => "cap.milder_test",
    }
}

/// What is missing, each once, with the findings that wait for it.
fn open(case: &Case<'_>, findings: &[Finding]) -> Vec<Pair> {
    let l = case.language;
    let mut open: Vec<(String, Vec<String>)> = Vec::new();
    for f in findings.iter().filter(|f| settle::is_open(case.plan.catalogue, f)) {
        let title = l.within(&case.title(f));
        let title = match case.test_of(f) {
            Some(number) => l.say("chapter.waits", &[("what", &title), ("n", &number.to_string())]),
            None => title,
        };
        for missing in case.missing(f) {
            match open.iter_mut().find(|(m, _)| *m == missing) {
                Some((_, waiting)) => waiting.push(title.clone()),
                None => open.push((missing, vec![title.clone()])),
            }
        }
    }
    open.into_iter().map(|(name, waiting)| Pair { name, value: waiting.join("; ") }).collect()
}

pub(super) fn ruled_out(case: &Case<'_>) -> Vec<RuledOut> {
    let l = case.language;
    case.ranked
        .iter()
        .filter(|r| r.standing.is_out())
        .map(|ranked| {
            let findings = case.of(ranked);
            let ruling = findings.iter().filter(|f| f.verdict == Verdict::Unsuitable).count();
            let weakest = rank::weakest(findings);
            RuledOut {
                tape: case.tape_id(ranked.tape).to_owned(),
                construction: case.plan.catalogue.construction(ranked.tape),
                by: weakest.map(|f| case.title(f)).unwrap_or_default(),
                against: weakest.map(|f| against(case, f)).unwrap_or_default(),
                margin: weakest.map(|f| case.margin(f)).unwrap_or_default(),
                further: if ruling > 1 { l.count("ruled.further", ruling - 1) } else { String::new() },
            }
        })
        .collect()
}

pub(super) fn waiting(case: &Case<'_>) -> Vec<WaitingLine> {
    let l = case.language;
    (1..)
        .zip(&case.ranked)
        .skip(case.short)
        .filter(|(_, r)| !r.standing.is_out())
        .map(|(place, ranked)| {
            let weakest = rank::weakest(case.of(ranked));
            WaitingLine {
                place,
                tape: case.tape_id(ranked.tape).to_owned(),
                construction: case.plan.catalogue.construction(ranked.tape),
                verdict: ranked.standing.verdict,
                weakest: weakest.map(|f| case.title(f)).unwrap_or_default(),
                missing: weakest
                    .filter(|f| !f.missing.is_empty())
                    .map(|f| l.say("ruled.missing", &[("what", &l.list(&case.missing(f)))]))
                    .unwrap_or_default(),
                margin: weakest.map(|f| case.margin(f)).unwrap_or_default(),
                hazards: ranked.standing.open_hazards,
            }
        })
        .collect()
}
