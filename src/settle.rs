//! The tests that would settle what is open: the smallest set, and what each decides.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::{Catalogue, Settlement};
use crate::judge::{Finding, Verdict};

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

/// The smallest set of tests that settles every open finding of some candidates.
///
/// A test serves all criteria that name it: more specimens and the longer duration where they
/// differ. The greedy cover takes the test that decides most first.
#[must_use]
pub fn tests<'f>(catalogue: &Catalogue, findings: impl IntoIterator<Item = &'f Finding>) -> Vec<Test> {
    let mut by_test: BTreeMap<(&str, &str), Test> = BTreeMap::new();
    for finding in findings.into_iter().filter(|finding| is_open(catalogue, finding)) {
        let settlement = &catalogue.criteria[finding.criterion].settled_by;
        if settlement.test.is_empty() {
            continue;
        }
        let entry = by_test.entry((&settlement.standard, &settlement.test)).or_insert_with(|| blank(settlement));
        entry.specimens = entry.specimens.max(settlement.specimens);
        entry.decides.push(Decided { tape: finding.tape, criterion: finding.criterion, exposure: finding.exposure });
    }
    let mut tests: Vec<Test> = by_test.into_values().collect();
    for test in &mut tests {
        test.decides.sort();
        test.decides.dedup();
    }
    tests.sort_by(|a, b| {
        b.decides.len().cmp(&a.decides.len()).then_with(|| (&a.standard, &a.test).cmp(&(&b.standard, &b.test)))
    });
    tests
}

fn blank(settlement: &Settlement) -> Test {
    Test {
        test: settlement.test.clone(),
        standard: settlement.standard.clone(),
        specimens: settlement.specimens,
        duration: settlement.duration.clone(),
        decides: Vec::new(),
    }
}
