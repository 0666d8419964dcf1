//! The standing of every candidate: findings judged by classes of tapes, and folded into one.
//!
//! The worst verdict, the number of open hazard findings and the weakest margin do not hang on the
//! order in which findings are met, so that rows are judged as they come and none is kept.

use std::sync::{Mutex, PoisonError};

use crate::catalogue::Criterion;
use crate::expand::{Ask, Group, Plan, Row};
use crate::measure::Together;

use super::{Standing, Verdict, judge};

impl Standing {
    /// Of no finding.
    pub const BLANK: Standing = Standing { verdict: Verdict::NotAsked, open_hazards: 0, margin: f64::INFINITY };

    /// Of a candidate that something rules out, whatever else would be found of it.
    pub const RULED_OUT: Standing =
        Standing { verdict: Verdict::Unsuitable, open_hazards: 0, margin: f64::NEG_INFINITY };

    /// Of one finding.
    #[must_use]
    pub fn judged(rule: &Criterion, verdict: Verdict, margin: f64) -> Standing {
        Standing { verdict, open_hazards: u32::from(is_open_hazard(rule, verdict)), margin }
    }

    /// True of who is ruled out.
    #[must_use]
    pub fn is_out(self) -> bool {
        self.verdict == Verdict::Unsuitable
    }

    /// With one finding more, or those of another standing.
    #[must_use]
    pub fn with(self, other: Standing) -> Standing {
        Standing {
            verdict: self.verdict.max(other.verdict),
            open_hazards: self.open_hazards + other.open_hazards,
            margin: if other.margin < self.margin { other.margin } else { self.margin },
        }
    }
}

impl Plan<'_> {
    /// The standing of every candidate in every enquiry: `[enquiry][position]`.
    ///
    /// Each criterion is judged by classes; only the result is joined to the tapes.
    #[must_use]
    pub fn standings(&self) -> Vec<Vec<Standing>> {
        let standings: Vec<Mutex<Vec<Standing>>> =
            self.enquiries.iter().map(|_| Mutex::new(vec![Standing::BLANK; self.candidates.len()])).collect();
        self.each_row(|group, row, together| {
            for (nth, ask) in group.asks_of(row.0) {
                let by_class = self.by_class(group, row, together, (nth, ask));
                let mut of_enquiry = standings[ask.enquiry].lock().unwrap_or_else(PoisonError::into_inner);
                for (standing, class) in of_enquiry.iter_mut().zip(&group.class_of) {
                    *standing = standing.with(by_class[*class as usize]);
                }
            }
        });
        standings.into_iter().map(|one| one.into_inner().unwrap_or_else(PoisonError::into_inner)).collect()
    }

    /// What one ask comes to, for each class of tapes.
    fn by_class(&self, group: &Group, row: (u32, &Row), together: &Together, ask: (usize, &Ask)) -> Vec<Standing> {
        (0..).zip(&group.classes).map(|(class, _)| self.of_class(group, row, together, ask, class)).collect()
    }

    /// What one ask comes to, for one class of tapes.
    pub(super) fn of_class(
        &self,
        group: &Group,
        row: (u32, &Row),
        together: &Together,
        (nth, ask): (usize, &Ask),
        class: u32,
    ) -> Standing {
        let rule = &self.catalogue.criteria[group.criteria[nth]];
        let asked = group.classes[class as usize].asked[nth];
        let judged = asked.then(|| judge(self, group, row, together, rule, (ask, class), false)).flatten();
        judged.map_or(Standing::BLANK, |judged| Standing::judged(rule, judged.verdict, judged.margin.order()))
    }
}

/// True of a verdict that leaves a hazard open.
#[must_use]
pub fn is_open_hazard(rule: &Criterion, verdict: Verdict) -> bool {
    rule.hazard != "none" && verdict >= Verdict::Unproven
}
