//! Root causes first: what acts on the very same selections is one cause, however many cells it has.

use std::collections::{BTreeMap, BTreeSet};

use super::outcome::{Cause, Change, Outcome};
use super::pass::Found;

/// Collapses the changes behind all lines into causes, the gravest first, and numbers them.
///
/// A selection that rests on two changes which act on different selections stands under both.
pub(super) fn collapse(found: &mut [Found]) -> Vec<Cause> {
    let mut acts: BTreeMap<&Change, BTreeSet<usize>> = BTreeMap::new();
    for (at, one) in found.iter().enumerate() {
        for change in &one.changes {
            acts.entry(change).or_default().insert(at);
        }
    }
    let mut together: BTreeMap<&BTreeSet<usize>, Vec<Change>> = BTreeMap::new();
    for (change, on) in &acts {
        together.entry(on).or_default().push((*change).clone());
    }
    let mut causes: Vec<(Cause, Vec<usize>)> = Vec::new();
    for (on, changes) in &together {
        let mut cause = Cause {
            number: 0,
            changes: changes.clone(),
            overturned: 0,
            not_judgeable: 0,
            restated: 0,
            restyled: 0,
            records: on.iter().map(|at| found[*at].line.record.clone()).collect(),
        };
        for at in *on {
            match found[*at].line.outcome {
                Outcome::Overturned => cause.overturned += 1,
                Outcome::NotJudgeable => cause.not_judgeable += 1,
                Outcome::Restated => cause.restated += 1,
                Outcome::Restyled => cause.restyled += 1,
                Outcome::Current | Outcome::Withdrawn => {}
            }
        }
        causes.push((cause, on.iter().copied().collect()));
    }
    let gravity = |c: &Cause| [c.overturned, c.not_judgeable, c.restated, c.restyled].map(|n| usize::MAX - n);
    causes.sort_by(|(a, _), (b, _)| (gravity(a), &a.changes).cmp(&(gravity(b), &b.changes)));
    let mut numbered = Vec::with_capacity(causes.len());
    for (number, (cause, on)) in (1..).zip(causes) {
        for at in on {
            found[at].line.causes.push(number);
        }
        numbered.push(Cause { number, ..cause });
    }
    numbered
}
