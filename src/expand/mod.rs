//! Candidates × exposures by scope: which cells there are, each distinct one worked out once.
//!
//! For every measure the tapes fall into classes that are judged alike, those into classes that share
//! cells, and the cases into classes too. A cell belongs to a pair of the last two. The cells of one
//! case are a row; rows that share columns of draws are worked out together, and a large plan drops
//! each row once it is judged. The full product of tapes, exposures and criteria never exists.

mod applies;
mod group;

use std::collections::BTreeMap;

use rayon::prelude::*;

pub use applies::{asks, cases, is_storage, limits, settlement};
pub(crate) use group::Worked;
pub use group::{Ask, Group, Row, Shared, TapeClass};

pub use crate::spread::Asked;

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::fault::{Code, Fault, Faults};
use crate::measure::{self, Measure, Together};

/// The cells of many enquiries against one catalogue.
pub struct Plan<'a> {
    /// The catalogue.
    pub catalogue: &'a Catalogue,
    /// The enquiries, in the order given.
    pub enquiries: &'a [Enquiry],
    /// The candidates: all active tapes, by index, in the order of their ids.
    pub candidates: Vec<usize>,
    /// One entry per measure that some criterion names.
    pub groups: Vec<Group>,
    /// What it shares with other plans, and what its cells have to tell then.
    shared: Option<(&'a Shared, Asked)>,
}

impl<'a> Plan<'a> {
    /// All active tapes, and every cell that some criterion asks for.
    ///
    /// # Errors
    /// A criterion that names no measure.
    pub fn new(catalogue: &'a Catalogue, enquiries: &'a [Enquiry]) -> Result<Plan<'a>, Faults> {
        let active = (0..catalogue.tapes.len()).filter(|index| catalogue.tapes[*index].active).collect();
        Plan::of(catalogue, enquiries, active)
    }

    /// The same for some candidates only; no cell depends on which.
    ///
    /// # Errors
    /// A criterion that names no measure.
    pub fn of(catalogue: &'a Catalogue, enquiries: &'a [Enquiry], candidates: Vec<usize>) -> Result<Plan<'a>, Faults> {
        Plan::planned(catalogue, enquiries, candidates, None)
    }

    /// The same, one of several plans of these candidates against this catalogue: what one of them has worked out is
    /// not worked out again. Its numbers are good for what is `asked` of them.
    ///
    /// # Errors
    /// As [`Plan::new`].
    pub fn among(
        catalogue: &'a Catalogue,
        enquiries: &'a [Enquiry],
        candidates: Vec<usize>,
        (shared, asked): (&'a Shared, Asked),
    ) -> Result<Plan<'a>, Faults> {
        Plan::planned(catalogue, enquiries, candidates, Some((shared, asked)))
    }

    fn planned(
        catalogue: &'a Catalogue,
        enquiries: &'a [Enquiry],
        candidates: Vec<usize>,
        shared: Option<(&'a Shared, Asked)>,
    ) -> Result<Plan<'a>, Faults> {
        let mut faults = Faults::default();
        let mut by_measure: Vec<(&'static Measure, Vec<usize>)> = Vec::new();
        for (index, criterion) in catalogue.criteria.iter().enumerate() {
            let Some(measure) = measure::find(&criterion.measure) else {
                let known = measure::MEASURES.iter().map(|m| m.id);
                let fault = Fault::unknown_word(
                    Code::ReferenceUnknown,
                    &criterion.measure,
                    "a measure that this program computes",
                    known,
                );
                faults.add(fault.at(criterion.place.clone()));
                continue;
            };
            match by_measure.iter_mut().find(|(m, _)| m.id == measure.id) {
                Some((_, criteria)) => criteria.push(index),
                None => by_measure.push((measure, vec![index])),
            }
        }
        faults.or(())?;
        let groups =
            by_measure.into_par_iter().map(|of| Group::new(catalogue, enquiries, &candidates, of, shared)).collect();
        let plan = Plan { catalogue, enquiries, candidates, groups, shared };
        if plan.keeps_rows() {
            plan.work_out();
        }
        Ok(plan)
    }

    /// The position of a tape among the candidates.
    #[must_use]
    pub fn position(&self, tape: &str) -> Option<usize> {
        self.candidates.binary_search(&self.catalogue.tape(tape)?).ok()
    }

    /// True where there are so few cells that all are kept once they are worked out. A plan that keeps none still
    /// keeps those that single findings are asked of: ask them by [`Plan::with_rows`].
    #[must_use]
    pub fn keeps_rows(&self) -> bool {
        self.groups.iter().map(Group::distinct).sum::<usize>() <= KEPT
    }

    /// Reads one enquiry in a plan that keeps its rows, at its place there: in this one, or where that is too large in
    /// one of the enquiry alone.
    ///
    /// # Errors
    /// As [`Plan::new`].
    pub fn with_rows<T>(&self, enquiry: usize, read: impl FnOnce(&Plan<'_>, usize) -> T) -> Result<T, Faults> {
        if self.keeps_rows() {
            return Ok(read(self, enquiry));
        }
        let own = Plan::of(self.catalogue, &self.enquiries[enquiry..=enquiry], self.candidates.clone())?;
        Ok(read(&own, 0))
    }

    /// Works out every cell, and keeps none that a large plan would not.
    pub fn work_out(&self) {
        self.each_row(|_, _, _| ());
    }

    /// Works out every row and hands it on, in parallel and in no order; a large plan does not keep it.
    pub(crate) fn each_row(&self, see: impl Fn(&Group, (u32, &Row), &Together) + Sync) {
        let keep = self.keeps_rows();
        self.bundles(0..self.groups.len()).into_par_iter().for_each(|bundle| {
            let together = self.together();
            for (group, case) in bundle {
                let group = &self.groups[group];
                if keep {
                    see(group, (case, group.row(self, case, &together)), &together);
                } else {
                    see(group, (case, &group.work(self, case, &together, |_| Some(Asked::Ends))), &together);
                }
            }
        });
    }

    /// What the cells that are kept have to tell.
    pub(crate) fn asked(&self) -> Asked {
        self.shared.map_or(Asked::All, |(_, asked)| asked)
    }

    /// For cells that are worked out together.
    pub(crate) fn together(&self) -> Together {
        self.shared.map_or_else(Together::default, |(shared, _)| shared.together())
    }

    /// The rows of some measures, those together that may share columns of draws: one medium at one temperature.
    pub(crate) fn bundles(&self, groups: impl IntoIterator<Item = usize>) -> Vec<Vec<(usize, u32)>> {
        let mut bundles: BTreeMap<(usize, u64), Vec<(usize, u32)>> = BTreeMap::new();
        let mut single = Vec::new();
        for (number, group) in groups.into_iter().map(|number| (number, &self.groups[number])) {
            for (case, (enquiry, exposure)) in group.cases() {
                match exposure.map(|x| &self.enquiries[enquiry].exposures[x]) {
                    Some(x) => {
                        bundles.entry((x.medium, x.temperature.si().to_bits())).or_default().push((number, case));
                    }
                    None => single.push(vec![(number, case)]),
                }
            }
        }
        bundles.into_values().chain(single).collect()
    }
}

/// How many cells a plan keeps. A bound on memory, not on results.
const KEPT: usize = 400_000;
