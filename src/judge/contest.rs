//! The candidates of every enquiry held against each other: who is ruled out is asked nothing more.
//!
//! What is cheap and rules out many is asked first. A cell whose percentiles need many points is first drawn at few,
//! for all measures. A verdict that stands whatever the few points are off by is kept; the others, and what may be
//! somebody's weakest margin, are drawn in full for those who are left then. What comes out is what asking everybody
//! everything comes to, for those who are left.

use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};

use foldhash::fast::FixedState;
use rayon::prelude::*;

use crate::expand::{Ask, Group, Plan, Row, Worked};
use crate::measure::Together;
use crate::spread::Asked;

use super::glance::Glance;
use super::{Finding, Standing, Verdict, demanded, in_order};

/// An enquiry whose candidates were held against each other.
#[derive(Clone, Debug)]
pub struct Contested {
    /// The standing of every candidate that nothing rules out, by position; [`Standing::RULED_OUT`] of the others.
    pub standings: Vec<Standing>,
    /// The findings of the candidate that was named.
    pub findings: Vec<Finding>,
}

impl Plan<'_> {
    /// The standing of every candidate that nothing rules out, in every enquiry; [`Standing::RULED_OUT`] of the others.
    ///
    /// The same as [`Plan::standings`] for those that are left, with less work: what is dear is asked last, and only
    /// of them.
    #[must_use]
    pub fn contest(&self) -> Vec<Vec<Standing>> {
        self.contest_with(&vec![None; self.enquiries.len()]).into_iter().map(|contested| contested.standings).collect()
    }

    /// The same, with the findings of one candidate of each enquiry, named by its position, ruled out or not.
    #[must_use]
    pub fn contest_with(&self, named: &[Option<usize>]) -> Vec<Contested> {
        if !self.keeps_rows() {
            return self.narrowed(named);
        }
        let left = |standing: Standing| if standing.is_out() { Standing::RULED_OUT } else { standing };
        let with = |(enquiry, (standings, named)): (usize, (Vec<Standing>, &Option<usize>))| {
            let findings = named.map(|position| self.findings_of(enquiry, position)).unwrap_or_default();
            Contested { standings: standings.into_iter().map(left).collect(), findings }
        };
        self.standings().into_par_iter().zip(named).enumerate().map(with).collect()
    }

    /// The same by ruling out, measure after measure.
    fn narrowed(&self, named: &[Option<usize>]) -> Vec<Contested> {
        let all = || (0_u32..).zip(vec![Standing::BLANK; self.candidates.len()]).collect();
        let of = |(enquiry, named): (usize, &Option<usize>)| {
            let cases = named.map(|position| (position, self.cases_of(enquiry, position)));
            let not_asked = cases.map(|(position, cases)| {
                let not_asked = cases.filter(|(_, _, ask)| ask.is_none());
                not_asked.map(|(group, case, _)| self.not_asked(group, case, position)).collect()
            });
            Mutex::new(Left { candidates: all(), named: *named, findings: not_asked.unwrap_or_default() })
        };
        let left: Vec<Mutex<Left>> = named.par_iter().enumerate().map(of).collect();
        let sweep = |number: usize, judge: &(dyn Fn(&Group, u32, &Together) + Sync)| {
            self.bundles([number]).into_par_iter().for_each(|bundle| {
                let together = Together::default();
                for (number, case) in bundle {
                    judge(&self.groups[number], case, &together);
                }
            });
        };
        // No cell is drawn in full while fewer points of another may rule out who needs it.
        let order = self.by_worth();
        let seen = |number: &usize| self.groups[*number].cases().map(|_| OnceLock::new()).collect();
        let seen: Vec<Vec<OnceLock<Seen>>> = order.iter().map(seen).collect();
        for (number, seen) in order.iter().zip(&seen) {
            sweep(*number, &|group, case, together| {
                seen[case as usize].get_or_init(|| self.screen(group, case, together, &left));
            });
        }
        for (number, seen) in order.into_iter().zip(seen) {
            sweep(number, &|group, case, together| {
                let seen = seen[case as usize].get_or_init(|| self.screen(group, case, together, &left));
                self.narrow(group, (case, seen), together, &left);
            });
        }
        let contested = |left: Mutex<Left>| {
            let left = left.into_inner().unwrap_or_else(PoisonError::into_inner);
            let mut standings = vec![Standing::RULED_OUT; self.candidates.len()];
            for (position, standing) in left.candidates {
                standings[position as usize] = standing;
            }
            Contested { standings, findings: in_order(left.findings) }
        };
        left.into_par_iter().map(contested).collect()
    }

    /// The measures, those first that rule out the most candidates by the fewest cells, as a few rows of each tell.
    fn by_worth(&self) -> Vec<usize> {
        let worth = |group: &Group| {
            let cases: Vec<u32> = group.cases().map(|(case, _)| case).collect();
            let (mut out, mut cells) = (0, 1);
            for case in cases.iter().step_by(cases.len() / ROWS + 1) {
                let together = Together::default();
                let row = group.work(self, *case, &together, |_| Some(Asked::Sides));
                for ask in group.asks_of(*case) {
                    let is_out = |class| self.glance(group, &row, ask, class).is_some_and(Glance::is_out);
                    let by_class: Vec<bool> = (0..).zip(&group.classes).map(|(class, _)| is_out(class)).collect();
                    out += group.class_of.iter().filter(|class| by_class[**class as usize]).count();
                }
                cells += row.worked();
            }
            #[expect(clippy::cast_precision_loss, reason = "a comparison")]
            let worth = out as f64 / cells as f64;
            worth
        };
        let mut groups: Vec<(usize, f64)> = self.groups.par_iter().map(worth).enumerate().collect();
        groups.sort_by(|(a, one), (b, other)| other.total_cmp(one).then_with(|| a.cmp(b)));
        groups.into_iter().map(|(number, _)| number).collect()
    }

    /// What each class needs of a row: all for who is named, what is `asked` for the others who are left unless enough is
    /// known of them, by the ask, the class and their standing.
    fn needed(
        group: &Group,
        case: u32,
        left: &[Mutex<Left>],
        asked: Asked,
        mut enough: impl FnMut((usize, usize, &Ask), u32, &Standing) -> bool,
    ) -> Vec<Option<Asked>> {
        let mut needed: Vec<Option<Asked>> = vec![None; group.classes.len()];
        for (number, (nth, ask)) in group.asks_of(case).enumerate() {
            let left = Left::of(left, ask);
            for (position, standing) in &left.candidates {
                let class = group.class_of[*position as usize];
                let asks = group.classes[class as usize].asked[nth];
                if asks && !enough((number, nth, ask), class, standing) {
                    needed[class as usize] = needed[class as usize].max(Some(asked));
                }
            }
            if let Some(class) = left.named_class(group, nth).filter(|_| asked >= Asked::Ends) {
                needed[class as usize] = Some(Asked::All);
            }
        }
        needed
    }

    /// Leaves out who a glance at a row rules out, and judges the others as far as it tells. Of the margin it keeps how
    /// weak the weakest is at the least.
    fn screen(&self, group: &Group, case: u32, together: &Together, left: &[Mutex<Left>]) -> Seen {
        let needed = Self::needed(group, case, left, Asked::Sides, |_, _, _| false);
        let mut seen = Seen(vec![Some(f64::INFINITY); group.cells()]);
        if needed.iter().all(Option::is_none) {
            return seen;
        }
        let row = group.work(self, case, together, |class| needed[class as usize]);
        Self::fold(group, case, left, |(_, nth, ask), class| {
            let Some(glance) = self.glance(group, &row, (nth, ask), class) else { return Standing::BLANK };
            if glance.is_out() {
                return Standing::RULED_OUT;
            }
            seen.add(group.cell_of(class), glance);
            let rule = &self.catalogue.criteria[group.criteria[nth]];
            Standing::judged(rule, glance.verdict.unwrap_or(Verdict::NotAsked), glance.margin[1])
        });
        seen
    }

    /// Judges one row for those who are left, and leaves out who it rules out. Cells are drawn in full only for whom the
    /// glance did not tell enough: a verdict, or that the weakest margin lies elsewhere.
    fn narrow(&self, group: &Group, (case, seen): (u32, &Seen), together: &Together, left: &[Mutex<Left>]) {
        let settles = |class| seen.0[group.cell_of(class)];
        let is_done = |class, standing: &Standing| settles(class).is_some_and(|least| least >= standing.margin);
        let few = Self::needed(group, case, left, Asked::Sides, |_, class, standing| is_done(class, standing));
        let row = group.work(self, case, together, |class| few[class as usize]);
        // By the ask and the class.
        let mut glances: HashMap<(usize, u32), Option<Glance>, FixedState> = HashMap::default();
        let mut glance = |(number, nth, ask): (usize, usize, &Ask), class| {
            let glance = || self.glance(group, &row, (nth, ask), class);
            *glances.entry((number, class)).or_insert_with(glance)
        };
        let needed = Self::needed(group, case, left, Asked::Ends, |ask, class, standing| {
            is_done(class, standing) || glance(ask, class).is_some_and(|it| it.is_enough(standing))
        });
        let row = group.work(self, case, together, |class| needed[class as usize]);
        Self::fold(group, case, left, |(number, nth, ask), class| {
            if needed[class as usize].is_none() {
                return Standing::BLANK;
            }
            let full = self.of_class(group, (case, &row), together, (nth, ask), class);
            let mut told = || glance((number, nth, ask), class).is_some_and(|it| it.verdict.is_some());
            // What a glance told has been added.
            if settles(class).is_some() || told() { Standing { margin: full.margin, ..Standing::BLANK } } else { full }
        });
        for (nth, ask) in group.asks_of(case) {
            let mut left = Left::of(left, ask);
            if let Some(named) = left.named.filter(|_| left.named_class(group, nth).is_some()) {
                let finding = self.finding(group, (case, &row), together, (nth, ask), named);
                left.findings.push(finding);
            }
        }
    }

    /// Adds to everybody who is left what the asks of a case come to for their class, which is asked for once, by the
    /// ask and the class; leaves out who that rules out.
    fn fold(
        group: &Group,
        case: u32,
        left: &[Mutex<Left>],
        mut judged: impl FnMut((usize, usize, &Ask), u32) -> Standing,
    ) {
        // What a class came to, and in which ask.
        let mut known = vec![(usize::MAX, Standing::BLANK); group.classes.len()];
        for (number, (nth, ask)) in group.asks_of(case).enumerate() {
            let mut left = Left::of(left, ask);
            left.candidates.retain_mut(|(position, standing)| {
                let class = group.class_of[*position as usize];
                let known = &mut known[class as usize];
                if known.0 != number {
                    *known = (number, judged((number, nth, ask), class));
                }
                *standing = standing.with(known.1);
                !standing.is_out()
            });
            if left.candidates.len() < left.candidates.capacity() / 2 {
                left.candidates.shrink_to_fit();
            }
        }
    }

    /// What one ask comes to for one class as far as the few points of its cell tell; none where it is not asked.
    fn glance(&self, group: &Group, row: &Row, (nth, ask): (usize, &Ask), class: u32) -> Option<Glance> {
        let of = &group.classes[class as usize];
        let Worked { cell, asked, .. } = group.shared(row, class).filter(|_| of.asked[nth])?;
        let value = demanded(group.measure, ask, cell, of, false);
        let rule = &self.catalogue.criteria[group.criteria[nth]];
        Some(Glance::of(rule, ask.limits, (cell, of.kin), value, *asked))
    }
}

/// What a first glance at a row told, by its cells: of what margins there are at the least, none where a limit is near
/// for somebody.
struct Seen(Vec<Option<f64>>);

impl Seen {
    fn add(&mut self, cell: usize, glance: Glance) {
        self.0[cell] = self.0[cell].filter(|_| glance.verdict.is_some()).map(|least| least.min(glance.margin[0]));
    }
}

/// How many rows of a measure tell what it is worth.
const ROWS: usize = 4;

/// What is left of an enquiry.
struct Left {
    /// The candidates that nothing has ruled out, by position, with what was found of them.
    candidates: Vec<(u32, Standing)>,
    /// The candidate whose findings are kept, by position.
    named: Option<usize>,
    findings: Vec<Finding>,
}

impl Left {
    /// Of the enquiry of an ask.
    fn of<'l>(left: &'l [Mutex<Left>], ask: &Ask) -> MutexGuard<'l, Left> {
        left[ask.enquiry].lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The class of who is named, where the criterion asks it.
    fn named_class(&self, group: &Group, nth: usize) -> Option<u32> {
        let class = group.class_of[self.named?];
        group.classes[class as usize].asked[nth].then_some(class)
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::catalogue::Catalogue;
    use crate::enquiry::Enquiry;
    use crate::load::Folder;
    use crate::quantity::{ForcePerLength, Temperature, Voltage};

    /// An enquiry with other stresses, each by itself and all together.
    fn stressed(enquiry: &Enquiry, nth: u32) -> Enquiry {
        let mut e = enquiry.clone();
        let (warmer, harder) = (f64::from(nth % 5) * 15.0 - 20.0, 0.3 * f64::from(1 + nth % 7));
        e.exposures.iter_mut().for_each(|x| x.temperature = Temperature::from_si(x.temperature.si() + warmer));
        e.winding.tension = e.winding.tension.map(|tension| ForcePerLength::from_si(tension.si() * harder));
        if let Some(voltage) = &mut e.voltage {
            voltage.across = voltage.across.map(|across| Voltage::from_si(across.si() * harder));
        }
        e
    }

    /// Who is left stands as if everything had been asked of everybody, all others are ruled out, and the findings of
    /// who is named are those that a plan of it comes to.
    #[test]
    fn ruling_out_changes_no_standing_of_those_left_and_no_finding_of_who_is_named() {
        let folder = Folder::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("matrices")).unwrap();
        let catalogue = Catalogue::build(&folder).unwrap();
        let read = |file: &str| Enquiry::read(file, folder.text(file), &catalogue).unwrap();
        let shipped: Vec<Enquiry> = folder.enquiries().map(read).collect();
        let enquiries: Vec<Enquiry> = (0..12).flat_map(|nth| shipped.iter().map(move |e| stressed(e, nth))).collect();
        let plan = Plan::new(&catalogue, &enquiries).unwrap();
        let all = plan.standings();
        let named = |nth: usize| (!nth.is_multiple_of(9)).then_some(nth * 7 % plan.candidates.len());
        let all_named: Vec<Option<usize>> = (0..enquiries.len()).map(named).collect();
        let (mut left, mut out) = (0, 0);
        for (enquiry, Contested { standings, findings }) in plan.narrowed(&all_named).into_iter().enumerate() {
            for (whole, narrowed) in all[enquiry].iter().zip(standings) {
                assert_eq!(narrowed, if whole.is_out() { Standing::RULED_OUT } else { *whole });
                if whole.is_out() { out += 1 } else { left += 1 }
            }
            let alone = all_named[enquiry].map(|position| plan.findings_of(enquiry, position));
            assert_eq!(format!("{findings:?}"), format!("{:?}", alone.unwrap_or_default()));
        }
        assert!(left > 300 && out > 1000, "{left} left, {out} ruled out");
    }
}
