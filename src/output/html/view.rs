//! What a page says, typed and as printed text.

use std::collections::BTreeMap;

use serde::Serialize;

use super::cells::Cells;
use super::side::Side;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::judge::{Finding, Verdict};
use crate::output::report::{INVENTED, Made, SCREENING, Told, meaning, workings};
use crate::output::working::FACT_HEADS;
use crate::output::{Counts, counted};
use crate::quantity::{count, tidy};
use crate::rank;

/// A page.
#[derive(Serialize)]
pub(super) struct Page {
    title: String,
    tool: &'static str,
    invented: &'static str,
    scenario: String,
    screening: &'static str,
    enquiries: Vec<Asked>,
    matrices: Vec<Matrix>,
    findings: Option<Vec<Line>>,
    order: Option<Vec<Place>>,
    proposal: String,
    discontinued: String,
    tapes: Vec<String>,
    exposures: Vec<String>,
    criteria: Vec<String>,
    verdicts: [&'static str; 4],
    not_asked: Vec<NotAsked>,
    not_asked_count: String,
    counts: Vec<CountLine>,
    sentence: String,
    meanings: Vec<Meaning>,
    cautions: Vec<Pair>,
    made: Vec<Pair>,
    fact_heads: [&'static str; 7],
}

#[derive(Serialize)]
struct Asked {
    number: String,
    title: String,
    line: String,
    customer: String,
    prepared_by: String,
    date: String,
    extent: String,
}

#[derive(Serialize)]
pub(super) struct Matrix {
    pub(super) number: String,
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<TileRow>,
}

#[derive(Serialize)]
pub(super) struct Column {
    pub(super) name: String,
    pub(super) what: String,
}

#[derive(Serialize)]
pub(super) struct TileRow {
    pub(super) tape: String,
    pub(super) construction: String,
    pub(super) verdict: &'static str,
    pub(super) tiles: Vec<Tile>,
}

#[derive(Default, Serialize)]
pub(super) struct Tile {
    pub(super) working: Option<usize>,
    pub(super) verdict: &'static str,
    pub(super) margin: String,
    pub(super) criterion: String,
    pub(super) exposure: String,
    pub(super) strip: Option<Bar>,
}

/// One finding.
#[derive(Serialize)]
pub(super) struct Line {
    pub(super) enquiry: String,
    pub(super) tape: String,
    pub(super) exposure: String,
    pub(super) criterion: String,
    pub(super) verdict: &'static str,
    pub(super) margin: String,
    /// The margin to sort by, blank without one.
    pub(super) order: String,
    pub(super) strip: Option<Bar>,
    pub(super) value: String,
    /// The median to sort by.
    pub(super) median: String,
    pub(super) spread: String,
    pub(super) limits: String,
    pub(super) method: String,
    pub(super) open: String,
    pub(super) working: usize,
}

/// One candidate.
#[derive(Serialize)]
pub(super) struct Place {
    pub(super) enquiry: String,
    pub(super) nth: usize,
    pub(super) tape: String,
    pub(super) construction: String,
    pub(super) verdict: &'static str,
    pub(super) margin: String,
    pub(super) order: String,
    pub(super) strip: Option<Bar>,
    pub(super) criterion: String,
    pub(super) decided_by: String,
    pub(super) missing: String,
    pub(super) hazards: u32,
    pub(super) cost: String,
    pub(super) working: Option<usize>,
}

/// A strip on a line of 100.
#[derive(Serialize)]
pub(super) struct Bar {
    pub(super) from: f64,
    pub(super) width: f64,
    pub(super) mid: Option<f64>,
    pub(super) limit: Option<f64>,
    pub(super) below: bool,
    pub(super) above: bool,
}

#[derive(Serialize)]
pub(super) struct NotAsked {
    pub(super) enquiry: String,
    pub(super) criterion: String,
    pub(super) exposure: String,
    pub(super) candidates: String,
}

#[derive(Serialize)]
struct CountLine {
    name: String,
    numbers: Vec<usize>,
}

#[derive(Serialize)]
struct Meaning {
    verdict: &'static str,
    word: String,
    text: &'static str,
}

#[derive(Serialize)]
struct Pair {
    name: String,
    value: String,
}

/// Every finding of the enquiries.
pub(super) fn matrix(plan: &Plan<'_>, told: &[Told], made: &Made, cells: &mut Cells) -> Page {
    let mut page = page(plan, told, made, "Findings");
    let mut lines = Vec::new();
    for (enquiry, told) in told.iter().enumerate() {
        let side = Side { plan, e: &plan.enquiries[enquiry] };
        let asked: Vec<&Finding> =
            told.order.iter().flat_map(|ranked| told.of(ranked)).filter(|f| f.verdict != Verdict::NotAsked).collect();
        let mut number_of = BTreeMap::new();
        for (finding, working) in asked.iter().zip(workings(plan, enquiry, &asked)) {
            let number = side.add(finding, &working, cells);
            number_of.insert((finding.tape, finding.criterion, finding.exposure), number);
            lines.push(side.line(finding, number));
        }
        let number = |f: &Finding| number_of.get(&(f.tape, f.criterion, f.exposure)).copied();
        page.matrices.push(Matrix {
            number: side.e.number.clone(),
            columns: side.columns(),
            rows: told.order.iter().map(|ranked| side.tiles(ranked, told.of(ranked), number)).collect(),
        });
        page.not_asked.extend(side.not_asked(told));
    }
    let each = |of: fn(&Line) -> &String| -> Vec<String> {
        let mut seen = std::collections::BTreeSet::new();
        lines.iter().map(of).filter(|text| seen.insert((*text).clone())).cloned().collect()
    };
    page.tapes = each(|line| &line.tape);
    page.tapes.sort();
    page.exposures = each(|line| &line.exposure);
    page.criteria = each(|line| &line.criterion);
    page.criteria.sort();
    page.findings = Some(lines);
    page
}

/// The candidates of the enquiries in their order.
pub(super) fn order(plan: &Plan<'_>, told: &[Told], made: &Made, cells: &mut Cells) -> Page {
    let mut page = page(plan, told, made, "Order of candidates");
    let mut places = Vec::new();
    let mut proposals = Vec::new();
    for (enquiry, told) in told.iter().enumerate() {
        let side = Side { plan, e: &plan.enquiries[enquiry] };
        let deciding: Vec<Option<&Finding>> = told.order.iter().map(|r| rank::weakest(told.of(r))).collect();
        let asked: Vec<&Finding> = deciding.iter().copied().flatten().collect();
        let mut texts = workings(plan, enquiry, &asked).into_iter();
        for (place, (ranked, weakest)) in (1..).zip(told.order.iter().zip(deciding)) {
            let working = weakest.and_then(|f| texts.next().map(|working| side.add(f, &working, cells)));
            places.push(side.place(place, ranked, weakest, working));
        }
        proposals.push(side.proposal(told));
    }
    page.order = Some(places);
    page.proposal = proposals.join(" ");
    page
}

fn page(plan: &Plan<'_>, told: &[Told], made: &Made, what: &str) -> Page {
    let about = &plan.catalogue.about;
    let numbers: Vec<&str> = plan.enquiries.iter().map(|e| e.number.as_str()).collect();
    let mut counts: Vec<CountLine> =
        plan.enquiries.iter().zip(told).map(|(e, t)| count_line(&e.number, t.order.len(), t.counts)).collect();
    let all = counted(told);
    if counts.len() > 1 {
        counts.push(count_line("all", plan.candidates.len(), all));
    }
    let discontinued: Vec<&str> = plan.catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.as_str()).collect();
    Page {
        title: format!("{what}: {}", numbers.join(", ")),
        tool: concat!("lapwise ", env!("CARGO_PKG_VERSION")),
        invented: if about.invented { INVENTED } else { "" },
        scenario: about.scenario.clone(),
        screening: SCREENING,
        enquiries: plan.enquiries.iter().map(|e| asked(e, plan.candidates.len())).collect(),
        matrices: Vec::new(),
        findings: None,
        order: None,
        proposal: String::new(),
        discontinued: discontinued.join(", "),
        tapes: Vec::new(),
        exposures: Vec::new(),
        criteria: Vec::new(),
        verdicts: ["suitable", "conditional", "unproven", "unsuitable"],
        not_asked: Vec::new(),
        not_asked_count: count(all.not_asked, "finding", "findings"),
        counts,
        sentence: all.sentence(),
        meanings: Counts::default()
            .each()
            .iter()
            .map(|(v, _)| Meaning { verdict: v.text(), word: v.text().replace('-', " "), text: meaning(*v) })
            .collect(),
        cautions: made.cautions.iter().map(|(name, value)| Pair { name: name.clone(), value: value.clone() }).collect(),
        made: made_from(plan, made),
        fact_heads: FACT_HEADS,
    }
}

fn asked(e: &Enquiry, candidates: usize) -> Asked {
    let a = &e.application;
    let class = e.duty.thermal_class.map(|class| format!(" · class {class}")).unwrap_or_default();
    let life = tidy(e.duty.life.si() / (8766.0 * 3600.0), 3);
    Asked {
        number: e.number.clone(),
        title: e.title.clone(),
        line: format!("{} · {} · {}{class} · {life} a", a.equipment, a.function, a.atmosphere),
        customer: e.customer.clone(),
        prepared_by: e.prepared_by.clone(),
        date: e.date.clone(),
        extent: format!(
            "{}, {}",
            count(candidates, "candidate", "candidates"),
            count(e.exposures.len(), "exposure", "exposures")
        ),
    }
}

fn count_line(name: &str, candidates: usize, counts: Counts) -> CountLine {
    let each = counts.each().map(|(_, n)| n);
    CountLine { name: name.to_owned(), numbers: [candidates].into_iter().chain(each).chain([counts.total()]).collect() }
}

fn made_from(plan: &Plan<'_>, made: &Made) -> Vec<Pair> {
    let about = &plan.catalogue.about;
    let pair = |name: &str, value: String| Pair { name: name.to_owned(), value };
    let mut pairs = vec![
        pair("Tool", format!("lapwise {}", env!("CARGO_PKG_VERSION"))),
        pair("Made again by", made.command.clone()),
        pair("Data", format!("version {}, {}, {}", about.version, about.date, about.owner)),
    ];
    pairs.extend(made.files.iter().map(|(file, sha256)| pair(file, format!("sha256 {sha256}"))));
    pairs
}
