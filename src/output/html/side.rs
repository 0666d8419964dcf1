//! What a page says of one enquiry: its findings, candidates, tiles, and what was not asked.

use std::collections::BTreeMap;

use super::cells::{Cells, Of};
use super::view::{Bar, Column, Line, NotAsked, Place, Tile, TileRow};
use crate::catalogue::Criterion;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::explain::margin_words;
use crate::judge::{Finding, Verdict};
use crate::output::report::Told;
use crate::output::strip;
use crate::output::working::Working;
use crate::quantity::{TIME, count, in_unit, significant, tidy};
use crate::rank::{self, Ranked};
use crate::settle;

/// The exposure of a finding that is about the enquiry as a whole.
const WHOLE: &str = "the enquiry as a whole";

/// One enquiry of a plan.
pub(super) struct Side<'p> {
    pub(super) plan: &'p Plan<'p>,
    pub(super) e: &'p Enquiry,
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
            mid: s.mid.map(at),
            limit: s.limit.map(at).filter(|x| (*x - 50.0).abs() > 0.5),
            below: s.below,
            above: s.above,
        })
    }

    /// Adds a working to the cells of the page; its number.
    pub(super) fn add(&self, f: &Finding, working: &Working, cells: &mut Cells) -> usize {
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

    pub(super) fn line(&self, f: &Finding, working: usize) -> Line {
        let rule = self.rule(f);
        let unit = if f.unit == "1" { String::new() } else { format!(" {}", f.unit) };
        let sense = if rule.higher_is_better { "at least" } else { "at most" };
        let mut open = Vec::new();
        if !f.missing.is_empty() {
            open.push(format!("no {}", self.missing(f)));
        }
        open.extend(settle::condition(self.plan.catalogue, f).map(str::to_owned));
        let test = settle::settled_by(self.plan.catalogue, self.e, f);
        if !test.is_empty() {
            open.push(format!("Settled by {test}"));
        }
        let mut method = vec![f.method.to_owned(), f.basis.map_or("", |b| b.text()).to_owned()];
        method.retain(|part| !part.is_empty());
        Line {
            enquiry: self.e.number.clone(),
            tape: self.tape(f.tape).to_owned(),
            exposure: self.exposure(f.exposure).to_owned(),
            criterion: rule.title.clone(),
            verdict: f.verdict.text(),
            margin: margin_words(f),
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

    pub(super) fn place(
        &self,
        place: usize,
        ranked: &Ranked,
        weakest: Option<&Finding>,
        working: Option<usize>,
    ) -> Place {
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
            margin: weakest.map(margin_words).unwrap_or_default(),
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

    pub(super) fn proposal(&self, told: &Told) -> String {
        let number = &self.e.number;
        match rank::proposed(&told.order) {
            Some(first) => {
                let tests = settle::tests(self.plan.catalogue, self.e, told.of(first)).len();
                let subject =
                    if tests == 0 { String::new() } else { format!(", subject to {}", count(tests, "test", "tests")) };
                format!("Proposed for {number}: {}{subject}.", self.tape(first.tape))
            }
            None => format!("Proposed for {number}: none; every candidate is unsuitable."),
        }
    }

    /// The exposures in their order, then the enquiry as a whole.
    pub(super) fn columns(&self) -> Vec<Column> {
        let exposures = self.e.exposures.iter().map(|x| {
            let temperature = tidy(in_unit(x.temperature.si(), "degC"), 4);
            let unit = TIME.unit_for(x.duration.si());
            let duration = tidy(in_unit(x.duration.si(), unit), 3);
            Column { name: x.name.clone(), what: format!("{temperature} °C, {duration} {unit}") }
        });
        exposures.chain([Column { name: WHOLE.to_owned(), what: String::new() }]).collect()
    }

    pub(super) fn tiles(
        &self,
        ranked: &Ranked,
        findings: &[Finding],
        number: impl Fn(&Finding) -> Option<usize>,
    ) -> TileRow {
        let columns = (0..self.e.exposures.len()).map(Some).chain([None]);
        let tile = |column: Option<usize>| {
            let of_column: Vec<Finding> = findings.iter().filter(|f| f.exposure == column).cloned().collect();
            rank::weakest(&of_column).map_or_else(Tile::default, |f| Tile {
                working: number(f),
                verdict: f.verdict.text(),
                margin: margin_words(f),
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
    pub(super) fn not_asked(&self, told: &Told) -> Vec<NotAsked> {
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
