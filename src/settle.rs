//! The tests that would settle what is open: the smallest set, and what each decides.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::{Catalogue, Settlement};
use crate::enquiry::Enquiry;
use crate::expand::settlement;
use crate::judge::{Finding, Verdict};
use crate::quantity::{Kind, TEMPERATURE, TIME, Temperature, tidy};

/// A test to run before release.
#[derive(Clone, Debug, Serialize, JsonSchema)]
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

/// A finding that a test decides.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
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
    let rule = &catalogue.criteria[finding.criterion];
    let x = finding.exposure.map(|x| &enquiry.exposures[x]);
    let named = settlement(rule, catalogue, enquiry, x);
    if named.is_empty() {
        return named.clone();
    }
    let degrees = |t: Option<Temperature>| t.map(|t| sized(&TEMPERATURE, t.si()));
    let limit = finding.limits.map(|limits| match finding.unit {
        "1" | "class" => tidy(limits.limit, 4),
        unit => format!("{} {unit}", tidy(limits.limit, 4)),
    });
    let limit = limit.unwrap_or_default();
    let or = |text: Option<String>, otherwise: &str| text.unwrap_or_else(|| otherwise.to_owned());
    let mut test = named.filled(|name| match name {
        "medium" => or(x.map(|x| short(&catalogue.materials[x.medium].name)), "the medium of service"),
        "temperature" => or(degrees(x.map(|x| x.temperature)), "the temperature of the enquiry"),
        "duration" => or(x.map(|x| sized(&TIME, x.duration.si())), "the time of the enquiry"),
        "humidity" => or(x.and_then(|x| x.humidity).map(|h| format!("{} %", tidy(h * 100.0, 3))), "the humidity of the enquiry"),
        "hottest" => or(degrees(enquiry.duty.hottest()), "the hottest temperature"),
        "coldest" => or(degrees(enquiry.application.coldest), "the coldest temperature"),
        "surface" => or(enquiry.winding.surface.clone(), "the surface of the enquiry"),
        _ => limit.clone(),
    });
    if test.pass.is_empty() {
        let sense = if rule.higher_is_better { "at least" } else { "at most" };
        let title = rule.title.to_lowercase();
        test.pass = if limit.is_empty() { format!("{title} as asked") } else { format!("{title} {sense} {limit}") };
    }
    test
}

/// The name of a material without what is told behind a comma or in brackets.
fn short(name: &str) -> String {
    name.split([',', '(']).next().unwrap_or_default().trim_end().to_owned()
}

/// A value in the unit that suits its size.
fn sized(kind: &'static Kind, si: f64) -> String {
    let unit = kind.unit_for(si);
    format!("{} {unit}", tidy(kind.number_in(si, unit).unwrap_or(si), 4))
}

/// The smallest set of tests that settles every open finding of some candidates of an enquiry.
///
/// A test serves all criteria that name it, with more specimens where they differ. The greedy cover takes the test
/// that decides most first.
#[must_use]
pub fn tests<'f>(
    catalogue: &Catalogue,
    enquiry: &Enquiry,
    findings: impl IntoIterator<Item = &'f Finding>,
) -> Vec<Test> {
    let mut by_test: BTreeMap<[String; 3], Test> = BTreeMap::new();
    for finding in findings.into_iter().filter(|finding| is_open(catalogue, finding)) {
        let named = test_of(catalogue, enquiry, finding);
        if named.is_empty() {
            continue;
        }
        let key = [&named.standard, &named.test, &named.duration].map(Clone::clone);
        let test = by_test.entry(key).or_insert_with(|| Test {
            test: named.test,
            standard: named.standard,
            specimens: 0,
            duration: named.duration,
            pass: Vec::new(),
            decides: Vec::new(),
        });
        test.specimens = test.specimens.max(named.specimens);
        if !test.pass.contains(&named.pass) {
            test.pass.push(named.pass);
        }
        test.decides.push(Decided { tape: finding.tape, criterion: finding.criterion, exposure: finding.exposure });
    }
    let mut tests: Vec<Test> = by_test.into_values().collect();
    for test in &mut tests {
        test.pass.sort();
        test.decides.sort();
        test.decides.dedup();
    }
    tests.sort_by(|a, b| {
        let most_first = b.decides.len().cmp(&a.decides.len());
        most_first.then_with(|| (&a.standard, &a.test, &a.duration).cmp(&(&b.standard, &b.test, &b.duration)))
    });
    tests
}
