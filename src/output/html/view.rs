//! What a page says, typed and as printed text.

use std::collections::BTreeMap;

use serde::Serialize;

use super::cells::{Cells, Of};
use crate::catalogue::Criterion;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::explain::margin_words;
use crate::judge::{Finding, Verdict};
use crate::output::report::{INVENTED, Made, SCREENING, Told, meaning, workings};
use crate::output::working::{FACT_HEADS, Working};
use crate::output::{Counts, counted, strip};
use crate::quantity::{count, significant, tidy};
use crate::rank::{self, Ranked};
use crate::settle;

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
struct Matrix {
    number: String,
    columns: Vec<Column>,
    rows: Vec<TileRow>,
}

#[derive(Serialize)]
struct Column {
    name: String,
    what: String,
}

#[derive(Serialize)]
struct TileRow {
    tape: String,
    construction: String,
    verdict: &'static str,
    tiles: Vec<Tile>,
}

#[derive(Default, Serialize)]
struct Tile {
    working: Option<usize>,
    verdict: &'static str,
    margin: String,
    criterion: String,
    exposure: String,
    strip: Option<Bar>,
}

/// One finding.
#[derive(Serialize)]
struct Line {
    enquiry: String,
    tape: String,
    exposure: String,
    criterion: String,
    verdict: &'static str,
    margin: String,
    /// The margin to sort by, blank without one.
    order: String,
    strip: Option<Bar>,
    value: String,
    /// The median to sort by.
    median: String,
    spread: String,
    limits: String,
    method: String,
    open: String,
    working: usize,
}

/// One candidate.
#[derive(Serialize)]
struct Place {
    enquiry: String,
    nth: usize,
    tape: String,
    construction: String,
    verdict: &'static str,
    margin: String,
    order: String,
    strip: Option<Bar>,
    criterion: String,
    decided_by: String,
    missing: String,
    hazards: u32,
    cost: String,
    working: Option<usize>,
}

/// A strip on a line of 100.
#[derive(Serialize)]
struct Bar {
    from: f64,
    width: f64,
    mid: f64,
    limit: Option<f64>,
    below: bool,
    above: bool,
}

#[derive(Serialize)]
struct NotAsked {
    enquiry: String,
    criterion: String,
    exposure: String,
    candidates: String,
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

/// The exposure of a finding that is about the enquiry as a whole.
const WHOLE: &str = "the enquiry as a whole";

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

/// One enquiry of a plan.
struct Side<'p> {
    plan: &'p Plan<'p>,
    e: &'p Enquiry,
}

impl Side<'_> {
    fn rule(&self, f: &Finding) -> &Criterion {
        &self.plan.catalogue.criteria[f.criterion]
    }

    fn tape(&self, index: usize) -> &str {
        &self.plan.catalogue.tapes[index].id
    }

    fn exposure(&self, exposure: Option<usize>) -> &str {
        exposure.map_or(WHOLE, |x| &self.e.exposures[x].name)
    }

    fn missing(&self, f: &Finding) -> String {
        f.missing.iter().map(|m| m.text(self.plan.catalogue)).collect::<Vec<_>>().join("; ")
    }

    fn bar(&self, f: &Finding) -> Option<Bar> {
        let at = |position: f64| libm::round((50.0 + 50.0 * position) * 10.0) / 10.0;
        strip(self.rule(f), f).map(|s| Bar {
            from: at(s.lo),
            width: (at(s.hi) - at(s.lo)).max(0.8),
            mid: at(s.mid),
            limit: s.limit.map(at).filter(|x| (*x - 50.0).abs() > 0.5),
            below: s.below,
            above: s.above,
        })
    }

    /// Adds a working to the cells of the page; its number.
    fn add(&self, f: &Finding, working: &Working, cells: &mut Cells) -> usize {
        let exposure = f.exposure.map(|x| format!(" --exposure \"{}\"", self.e.exposures[x].name)).unwrap_or_default();
        let command = format!("lapwise explain {} {} {}{exposure}", self.e.number, self.tape(f.tape), self.rule(f).id);
        cells.add(
            working,
            &Of {
                enquiry: &self.e.number,
                tape: self.tape(f.tape),
                exposure: self.exposure(f.exposure),
                command: &command,
            },
        )
    }

    fn line(&self, f: &Finding, working: usize) -> Line {
        let rule = self.rule(f);
        let unit = if f.unit == "1" { String::new() } else { format!(" {}", f.unit) };
        let sense = if rule.higher_is_better { "at least" } else { "at most" };
        let mut open = Vec::new();
        if !f.missing.is_empty() {
            open.push(format!("no {}", self.missing(f)));
        }
        if f.verdict == Verdict::Conditional && !rule.condition.is_empty() {
            open.push(rule.condition.clone());
        }
        if settle::is_open(f) && !rule.settled_by.test.is_empty() {
            open.push(format!("Settled by {}", rule.settled_by.line()));
        }
        let mut method = vec![f.method.to_owned(), f.basis.map_or("", |b| b.text()).to_owned()];
        method.retain(|part| !part.is_empty());
        Line {
            enquiry: self.e.number.clone(),
            tape: self.tape(f.tape).to_owned(),
            exposure: self.exposure(f.exposure).to_owned(),
            criterion: rule.title.clone(),
            verdict: f.verdict.text(),
            margin: margin_words(f.margin),
            order: plain(f.margin.order()),
            strip: self.bar(f),
            value: f.value.map(|p| format!("{}{unit}", significant(p.x50, 3))).unwrap_or_default(),
            median: f.value.map(|p| plain(p.x50)).unwrap_or_default(),
            spread: f
                .value
                .filter(|p| p.x05.total_cmp(&p.x95).is_ne())
                .map(|p| format!("{} to {}", significant(p.x05, 3), significant(p.x95, 3)))
                .unwrap_or_default(),
            limits: f
                .limits
                .map(|l| format!("{sense} {}{unit}; outer {}{unit}", tidy(l.limit, 4), tidy(l.outer, 4)))
                .unwrap_or_default(),
            method: method.join("; "),
            open: open.iter().map(|part| format!("{}.", part.trim_end_matches('.'))).collect::<Vec<_>>().join(" "),
            working,
        }
    }

    fn place(&self, place: usize, ranked: &Ranked, weakest: Option<&Finding>, working: Option<usize>) -> Place {
        let decided_by = weakest.map(|f| match f.exposure {
            Some(_) => format!("{}, {}", self.rule(f).title, self.exposure(f.exposure)),
            None => self.rule(f).title.clone(),
        });
        Place {
            enquiry: self.e.number.clone(),
            nth: place,
            tape: self.tape(ranked.tape).to_owned(),
            construction: self.plan.catalogue.construction(ranked.tape),
            verdict: ranked.standing.verdict.text(),
            margin: weakest.map(|f| margin_words(f.margin)).unwrap_or_default(),
            order: weakest.map(|f| plain(f.margin.order())).unwrap_or_default(),
            strip: weakest.and_then(|f| self.bar(f)),
            criterion: weakest.map(|f| self.rule(f).title.clone()).unwrap_or_default(),
            decided_by: decided_by.unwrap_or_default(),
            missing: weakest.map(|f| self.missing(f)).unwrap_or_default(),
            hazards: ranked.standing.open_hazards,
            cost: ranked.cost.map(|c| tidy(c, 3)).unwrap_or_default(),
            working,
        }
    }

    fn proposal(&self, told: &Told) -> String {
        let number = &self.e.number;
        match rank::proposed(&told.order) {
            Some(first) => {
                let tests = settle::tests(self.plan.catalogue, told.of(first)).len();
                let subject =
                    if tests == 0 { String::new() } else { format!(", subject to {}", count(tests, "test", "tests")) };
                format!("Proposed for {number}: {}{subject}.", self.tape(first.tape))
            }
            None => format!("Proposed for {number}: none; every candidate is unsuitable."),
        }
    }

    /// The exposures in their order, then the enquiry as a whole.
    fn columns(&self) -> Vec<Column> {
        let exposures = self.e.exposures.iter().map(|x| {
            let temperature = tidy(crate::explain::in_unit(x.temperature.si(), "degC"), 4);
            let unit = crate::quantity::TIME.unit_for(x.duration.si());
            let duration = tidy(crate::explain::in_unit(x.duration.si(), unit), 3);
            Column { name: x.name.clone(), what: format!("{temperature} °C, {duration} {unit}") }
        });
        exposures.chain([Column { name: WHOLE.to_owned(), what: String::new() }]).collect()
    }

    fn tiles(&self, ranked: &Ranked, findings: &[Finding], number: impl Fn(&Finding) -> Option<usize>) -> TileRow {
        let columns = (0..self.e.exposures.len()).map(Some).chain([None]);
        let tile = |column: Option<usize>| {
            let of_column: Vec<Finding> = findings.iter().filter(|f| f.exposure == column).cloned().collect();
            rank::weakest(&of_column).map_or_else(Tile::default, |f| Tile {
                working: number(f),
                verdict: f.verdict.text(),
                margin: margin_words(f.margin),
                criterion: self.rule(f).title.clone(),
                exposure: self.exposure(f.exposure).to_owned(),
                strip: self.bar(f),
            })
        };
        TileRow {
            tape: self.tape(ranked.tape).to_owned(),
            construction: self.plan.catalogue.construction(ranked.tape),
            verdict: ranked.standing.verdict.text(),
            tiles: columns.map(tile).collect(),
        }
    }

    /// What was not asked, a line a criterion and exposure.
    fn not_asked(&self, told: &Told) -> Vec<NotAsked> {
        let mut groups: BTreeMap<(usize, Option<usize>), Vec<&str>> = BTreeMap::new();
        for f in told.findings.iter().flatten().filter(|f| f.verdict == Verdict::NotAsked) {
            groups.entry((f.criterion, f.exposure)).or_default().push(self.tape(f.tape));
        }
        let all = self.plan.candidates.len();
        groups
            .into_iter()
            .map(|((criterion, exposure), tapes)| NotAsked {
                enquiry: self.e.number.clone(),
                criterion: self.plan.catalogue.criteria[criterion].title.clone(),
                exposure: self.exposure(exposure).to_owned(),
                candidates: if tapes.len() == all { format!("all {all}") } else { tapes.join(", ") },
            })
            .collect()
    }
}

/// A number for a script to sort by; blank where there is none.
fn plain(x: f64) -> String {
    if x.is_finite() {
        x.to_string()
    } else if x > 0.0 {
        "1e308".to_owned()
    } else if x < 0.0 {
        "-1e308".to_owned()
    } else {
        String::new()
    }
}
