//! The tests that would settle what is open: the smallest set, and what each decides.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Settlement};
use crate::enquiry::Enquiry;
use crate::expand::settlement;
use crate::judge::{Finding, Verdict};
use crate::measure::{self, Demand};
use crate::quantity::{TEMPERATURE, TIME, Temperature, in_unit, tidy};

/// A test to run before release.
#[derive(Clone, Debug)]
pub struct Test {
    /// What is done.
    pub test: String,
    /// The standard.
    pub standard: String,
    /// How many specimens.
    pub specimens: u32,
    /// How long it takes.
    pub duration: String,
    /// What it has to come to, for each of the criteria it serves.
    pub pass: Vec<String>,
    /// The findings it decides.
    pub decides: Vec<Decided>,
}

impl Test {
    /// True if it decides a finding.
    #[must_use]
    pub fn settles(&self, finding: &Finding) -> bool {
        let (tape, criterion, exposure) = (finding.tape, finding.criterion, finding.exposure);
        self.decides.contains(&Decided { tape, criterion, exposure })
    }
}

/// A finding that a test decides.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Decided {
    /// The tape, by index.
    pub tape: usize,
    /// The criterion, by index.
    pub criterion: usize,
    /// The exposure, by index.
    pub exposure: Option<usize>,
}

/// True if a test has to confirm a finding before release: it is unproven, held back by its evidence, or lies between
/// its limits where a wrong answer is grave and the condition alone does not settle it.
#[must_use]
pub fn is_open(catalogue: &Catalogue, finding: &Finding) -> bool {
    let rule = &catalogue.criteria[finding.criterion];
    match finding.verdict {
        Verdict::Unproven => true,
        Verdict::Conditional => finding.capped.is_some() || (rule.is_grave() && !rule.condition_settles),
        _ => false,
    }
}

/// The condition that a finding between its limits asks for; one that only its evidence holds back asks for a test.
#[must_use]
pub fn condition<'c>(catalogue: &'c Catalogue, finding: &Finding) -> Option<&'c str> {
    let between = finding.verdict == Verdict::Conditional && finding.capped.is_none();
    let text = catalogue.criteria[finding.criterion].condition.as_str();
    (between && !text.is_empty()).then_some(text)
}

/// The test that settles a finding, worded for what the finding is about.
#[must_use]
pub fn test_of(catalogue: &Catalogue, enquiry: &Enquiry, finding: &Finding) -> Settlement {
    worded(named(catalogue, enquiry, finding), catalogue, enquiry, &[finding])
}

/// That test in one line; blank where nothing is open.
#[must_use]
pub fn settled_by(catalogue: &Catalogue, enquiry: &Enquiry, finding: &Finding) -> String {
    if is_open(catalogue, finding) { test_of(catalogue, enquiry, finding).line() } else { String::new() }
}

/// The test of a finding as the criterion has it.
fn named<'c>(catalogue: &'c Catalogue, enquiry: &Enquiry, finding: &Finding) -> &'c Settlement {
    let x = finding.exposure.map(|x| &enquiry.exposures[x]);
    settlement(&catalogue.criteria[finding.criterion], catalogue, enquiry, x)
}

/// A test worded for some findings that are settled by it: what differs between them stands side by side.
fn worded(named: &Settlement, catalogue: &Catalogue, enquiry: &Enquiry, findings: &[&Finding]) -> Settlement {
    let test = named.filled(|name| {
        let mut told: Vec<String> = Vec::new();
        for text in findings.iter().map(|finding| stands_for(name, catalogue, enquiry, finding)) {
            if !told.contains(&text) {
                told.push(text);
            }
        }
        told.join(" and ")
    });
    let Some(finding) = findings.first().filter(|_| test.pass.is_empty() && !test.is_empty()) else { return test };
    let rule = &catalogue.criteria[finding.criterion];
    let title = rule.title.to_lowercase();
    let pass = match limit(finding) {
        Some(limit) if rule.higher_is_better => format!("{title} at least {limit}"),
        Some(limit) => format!("{title} at most {limit}"),
        None => format!("{title} as asked"),
    };
    Settlement { pass, ..test }
}

/// What a name in braces stands for in one finding.
fn stands_for(name: &str, catalogue: &Catalogue, enquiry: &Enquiry, finding: &Finding) -> String {
    let x = finding.exposure.map(|x| &enquiry.exposures[x]);
    let degrees = |t: Temperature| TEMPERATURE.sized(t.si());
    let (known, otherwise) = match name {
        "medium" => (x.map(|x| catalogue.materials[x.medium].short.clone()), "the medium of service"),
        "temperature" => (x.map(|x| degrees(x.temperature)), "the temperature of the enquiry"),
        "duration" => (x.map(|x| TIME.sized(x.duration.si())), "the time of the enquiry"),
        "humidity" => {
            (x.and_then(|x| x.humidity).map(|h| format!("{} %", tidy(h * 100.0, 3))), "the humidity of the enquiry")
        }
        "hottest" => (enquiry.duty.hottest().map(degrees), "the hottest temperature"),
        "coldest" => (enquiry.application.coldest.map(degrees), "the coldest temperature"),
        "surface" => (enquiry.winding.surface.clone(), "the surface of the enquiry"),
        "demand" => (demand(catalogue, enquiry, finding), "that of the enquiry"),
        "needed" => {
            let limit = finding.limits.map(|limits| limits.limit);
            (limit.and_then(|limit| times(limit, catalogue, enquiry, finding)), "as much as is asked")
        }
        _ => (limit(finding), "the limit"),
    };
    known.unwrap_or_else(|| otherwise.to_owned())
}

/// What the number of a finding is held against, in its unit.
fn demand(catalogue: &Catalogue, enquiry: &Enquiry, finding: &Finding) -> Option<String> {
    held_against(catalogue, enquiry, finding, |_| Some(1.0))
}

/// So many times what the number of a finding is held against, in its unit, as a test measures it.
#[must_use]
pub fn times(number: f64, catalogue: &Catalogue, enquiry: &Enquiry, finding: &Finding) -> Option<String> {
    held_against(catalogue, enquiry, finding, |demand| match &demand.last {
        Some(last) => (last.read)(catalogue, enquiry).ok().map(|[with, ..]| with * number),
        None => Some(number),
    })
}

fn held_against(
    catalogue: &Catalogue,
    enquiry: &Enquiry,
    finding: &Finding,
    times: impl Fn(&Demand) -> Option<f64>,
) -> Option<String> {
    let demand = measure::find(&catalogue.criteria[finding.criterion].measure)?.demand.as_ref()?;
    let si = (demand.value)(enquiry).ok()? * times(demand)?;
    Some(format!("{} {}", tidy(in_unit(si, demand.unit), 3), demand.unit))
}

/// The limit of a finding in its unit.
fn limit(finding: &Finding) -> Option<String> {
    let number = tidy(finding.limits?.limit, 4);
    Some(if matches!(finding.unit, "1" | "class") { number } else { format!("{number} {}", finding.unit) })
}

/// The smallest set of tests that settles every open finding of some candidates of an enquiry.
///
/// A test serves all criteria and all exposures to one medium that name it, with more specimens where they differ. The
/// greedy cover takes the test that decides most first, and of those that decide as many the one on the weakest margin.
#[must_use]
pub fn tests<'f>(
    catalogue: &Catalogue,
    enquiry: &Enquiry,
    findings: impl IntoIterator<Item = &'f Finding>,
) -> Vec<Test> {
    let mut by_test: BTreeMap<_, Vec<(&Settlement, &Finding)>> = BTreeMap::new();
    for finding in findings.into_iter().filter(|finding| is_open(catalogue, finding)) {
        let named = named(catalogue, enquiry, finding);
        if !named.is_empty() {
            let medium = finding.exposure.map(|x| enquiry.exposures[x].medium);
            let medium = medium.filter(|_| named.speaks_of("medium"));
            by_test.entry((&named.standard, &named.test, &named.duration, medium)).or_default().push((named, finding));
        }
    }
    let weakest = |served: &Vec<(&Settlement, &Finding)>| {
        served.iter().map(|(_, finding)| finding.margin.order()).fold(f64::INFINITY, f64::min)
    };
    let of = |served| (weakest(served), test(catalogue, enquiry, served));
    let mut tests: Vec<(f64, Test)> = by_test.values().map(of).collect();
    tests.sort_by(|(weak, a), (weaker, b)| {
        let most_first = b.decides.len().cmp(&a.decides.len()).then(weak.total_cmp(weaker));
        most_first.then_with(|| (&a.standard, &a.test, &a.duration).cmp(&(&b.standard, &b.test, &b.duration)))
    });
    tests.into_iter().map(|(_, test)| test).collect()
}

/// One test for all that it serves.
fn test(catalogue: &Catalogue, enquiry: &Enquiry, served: &[(&Settlement, &Finding)]) -> Test {
    let mut all: Vec<&Finding> = served.iter().map(|(_, finding)| *finding).collect();
    all.sort_by_key(|finding| (finding.exposure, finding.criterion, finding.tape));
    let by_criterion: BTreeMap<usize, &Settlement> =
        served.iter().map(|(s, finding)| (finding.criterion, *s)).collect();
    let mut pass: Vec<String> = Vec::new();
    for (criterion, named) in &by_criterion {
        let of: Vec<&Finding> = all.iter().copied().filter(|finding| finding.criterion == *criterion).collect();
        let told = worded(named, catalogue, enquiry, &of).pass;
        if !pass.contains(&told) {
            pass.push(told);
        }
    }
    let of =
        |finding: &&Finding| Decided { tape: finding.tape, criterion: finding.criterion, exposure: finding.exposure };
    let mut decides: Vec<Decided> = all.iter().map(of).collect();
    decides.sort();
    decides.dedup();
    let told = worded(served[0].0, catalogue, enquiry, &all);
    Test {
        test: told.test,
        standard: told.standard,
        specimens: by_criterion.values().map(|named| named.specimens).max().unwrap_or_default(),
        duration: told.duration,
        pass,
        decides,
    }
}
