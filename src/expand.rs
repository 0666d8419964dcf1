//! Candidates × exposures by scope: which cells there are, each distinct one worked out once.
//!
//! For every measure the tapes fall into classes that read alike, and so do the cases. A cell
//! belongs to a pair of classes. The full product of tapes, exposures and criteria never exists.

use std::collections::HashMap;
use std::sync::OnceLock;

use rayon::prelude::*;

use crate::catalogue::{Applies, Catalogue, Criterion, Limits};
use crate::enquiry::{Enquiry, Exposure};
use crate::fault::{Code, Fault, Faults};
use crate::measure::{self, Cell, Measure, Missing, Mode, Terms, Work};
use crate::spread::{FINE, POINTS};

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
}

/// A measure with the criteria that judge it.
pub struct Group {
    /// The measure.
    pub measure: &'static Measure,
    /// The criteria, by index into the catalogue's.
    pub criteria: Vec<usize>,
    /// The class of each candidate.
    pub tape_class: Vec<u32>,
    /// One candidate of each class, by position.
    pub tape_of: Vec<usize>,
    /// Whether each criterion asks the tapes of each class: `[criterion][class]`.
    pub asks_tape: Vec<Vec<bool>>,
    /// The cases of each criterion.
    pub asks: Vec<Vec<Ask>>,
    case_of: Vec<(usize, Option<usize>)>,
    cells: Vec<Option<Cell>>,
    fine: Vec<OnceLock<Cell>>,
}

/// One criterion asked of one enquiry or one of its exposures.
#[derive(Clone, Debug)]
pub struct Ask {
    /// The enquiry, by position.
    pub enquiry: usize,
    /// The exposure, unless the measure is of the enquiry as a whole.
    pub exposure: Option<usize>,
    /// The class of the case.
    pub case: u32,
    /// The limits there.
    pub limits: Option<Limits>,
    /// What the cell's number is held against.
    pub terms: Result<Terms, Missing>,
}

impl<'a> Plan<'a> {
    /// Works out every cell that some criterion asks for.
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
        let groups = by_measure
            .into_par_iter()
            .map(|(measure, criteria)| Group::new(catalogue, enquiries, &candidates, measure, criteria))
            .collect();
        Ok(Plan { catalogue, enquiries, candidates, groups })
    }
}

impl Group {
    fn new(
        catalogue: &Catalogue,
        enquiries: &[Enquiry],
        candidates: &[usize],
        measure: &'static Measure,
        criteria: Vec<usize>,
    ) -> Group {
        let rules: Vec<&Criterion> = criteria.iter().map(|c| &catalogue.criteria[*c]).collect();
        let mut classes = Classes::default();
        let mut tape_of = Vec::new();
        let mut asks_tape = vec![Vec::new(); rules.len()];
        let tape_class = candidates
            .iter()
            .enumerate()
            .map(|(position, tape)| {
                let asked: Vec<bool> = rules.iter().map(|rule| asks_tape_of(&rule.applies, catalogue, *tape)).collect();
                let mut bits: Vec<u64> = asked.iter().map(|asked| u64::from(*asked)).collect();
                for read in measure.tape {
                    read.bits(catalogue, *tape, &mut bits);
                }
                let (class, new) = classes.of(bits);
                if new {
                    tape_of.push(position);
                    asks_tape.iter_mut().zip(&asked).for_each(|(list, asked)| list.push(*asked));
                }
                class
            })
            .collect();
        let mut classes = Classes::default();
        let mut case_of = Vec::new();
        let mut asks = vec![Vec::new(); rules.len()];
        for (number, enquiry) in enquiries.iter().enumerate() {
            let terms = measure.terms(catalogue, enquiry);
            for exposure in cases(measure, enquiry) {
                let mut class = None;
                for (rule, asks) in rules.iter().zip(&mut asks) {
                    if !asks_case_of(&rule.applies, catalogue, enquiry, exposure.map(|x| &enquiry.exposures[x])) {
                        continue;
                    }
                    let case = *class.get_or_insert_with(|| {
                        let mut bits = Vec::new();
                        for read in measure.case {
                            read.bits(catalogue, enquiry, number, exposure, &mut bits);
                        }
                        let (class, new) = classes.of(bits);
                        if new {
                            case_of.push((number, exposure));
                        }
                        class
                    });
                    asks.push(Ask {
                        enquiry: number,
                        exposure,
                        case,
                        limits: limits(rule, enquiry),
                        terms: terms.clone(),
                    });
                }
            }
        }
        let mut group = Group {
            measure,
            criteria,
            tape_class,
            tape_of,
            asks_tape,
            asks,
            case_of,
            cells: Vec::new(),
            fine: Vec::new(),
        };
        group.work(catalogue, enquiries, candidates);
        group
    }

    /// Works out the distinct cells, in parallel.
    fn work(&mut self, catalogue: &Catalogue, enquiries: &[Enquiry], candidates: &[usize]) {
        let count = self.tape_of.len() * self.case_of.len();
        let mode = Mode { points: POINTS, explain: false };
        let cells = (0..count)
            .into_par_iter()
            .with_min_len(4)
            .map(|index| {
                let (tape, case) = (index / self.case_of.len(), index % self.case_of.len());
                let asked = self.asks_tape.iter().any(|asked| asked[tape]);
                asked.then(|| {
                    let (enquiry, exposure) = self.case_of[case];
                    Work::out(
                        self.measure,
                        catalogue,
                        candidates[self.tape_of[tape]],
                        &enquiries[enquiry],
                        exposure,
                        mode,
                    )
                })
            })
            .collect();
        self.cells = cells;
        self.fine = (0..count).map(|_| OnceLock::new()).collect();
    }

    /// The cell of a tape class and a case class.
    #[must_use]
    pub fn cell(&self, tape_class: u32, case: u32) -> Option<&Cell> {
        self.cells[self.index(tape_class, case)].as_ref()
    }

    /// The same cell over the fine table of draws.
    #[must_use]
    pub fn fine_cell(&self, plan: &Plan<'_>, tape_class: u32, case: u32) -> &Cell {
        self.fine[self.index(tape_class, case)].get_or_init(|| {
            let (enquiry, exposure) = self.case_of[case as usize];
            let tape = plan.candidates[self.tape_of[tape_class as usize]];
            Work::out(
                self.measure,
                plan.catalogue,
                tape,
                &plan.enquiries[enquiry],
                exposure,
                Mode { points: FINE, explain: false },
            )
        })
    }

    fn index(&self, tape_class: u32, case: u32) -> usize {
        tape_class as usize * self.case_of.len() + case as usize
    }

    /// The distinct cells, each with one candidate and case that it serves: the candidate by position,
    /// the enquiry, the exposure.
    pub fn cells(&self) -> impl Iterator<Item = (usize, usize, Option<usize>, &Cell)> {
        self.cells.iter().enumerate().filter_map(|(index, cell)| {
            let (tape, case) = (index / self.case_of.len(), index % self.case_of.len());
            let (enquiry, exposure) = self.case_of[case];
            cell.as_ref().map(|cell| (self.tape_of[tape], enquiry, exposure, cell))
        })
    }

    /// How many distinct cells were worked out.
    #[must_use]
    pub fn distinct(&self) -> usize {
        self.cells.iter().filter(|cell| cell.is_some()).count()
    }
}

/// The exposures of a measure, or the enquiry as a whole.
pub fn cases(measure: &Measure, enquiry: &Enquiry) -> Vec<Option<usize>> {
    if measure.per_exposure { (0..enquiry.exposures.len()).map(Some).collect() } else { vec![None] }
}

/// Whether any criterion asks anything of an enquiry.
#[must_use]
pub fn asks(catalogue: &Catalogue, enquiry: &Enquiry) -> bool {
    catalogue.criteria.iter().any(|criterion| {
        let cases = measure::find(&criterion.measure).map_or_else(Vec::new, |measure| cases(measure, enquiry));
        let mut cases = cases.into_iter().map(|x| x.map(|x| &enquiry.exposures[x]));
        cases.any(|exposure| asks_case_of(&criterion.applies, catalogue, enquiry, exposure))
    })
}

/// The limits of a criterion in an enquiry: the first override that fits, else its own.
#[must_use]
pub fn limits(criterion: &Criterion, enquiry: &Enquiry) -> Option<Limits> {
    let a = &enquiry.application;
    criterion
        .overrides
        .iter()
        .find(|o| among(&o.equipment, a.equipment) && among(&o.function, a.function))
        .map(|o| o.limits)
        .or(criterion.limits)
}

fn among(list: &[String], word: &str) -> bool {
    list.is_empty() || list.iter().any(|w| w == word)
}

/// Whether a criterion asks a tape.
fn asks_tape_of(applies: &Applies, catalogue: &Catalogue, tape: usize) -> bool {
    let tape = &catalogue.tapes[tape];
    among(&applies.backing_family, &catalogue.materials[tape.backing].family)
        && among(&applies.adhesive_family, &catalogue.materials[tape.adhesive].family)
}

/// Whether a criterion asks an enquiry, or one of its exposures.
fn asks_case_of(applies: &Applies, catalogue: &Catalogue, enquiry: &Enquiry, exposure: Option<&Exposure>) -> bool {
    let a = &enquiry.application;
    let of_exposure = exposure.is_none_or(|x| {
        among(&applies.stage, x.stage)
            && among(&applies.medium, catalogue.materials[x.medium].kind)
            && among(&applies.wanted, x.wanted)
    });
    of_exposure
        && among(&applies.equipment, a.equipment)
        && among(&applies.function, a.function)
        && among(&applies.atmosphere, a.atmosphere)
        && among(&applies.needed, a.needed)
        && among(&applies.life_basis, enquiry.duty.life_basis)
        && (applies.voltage.is_empty() || enquiry.voltage.as_ref().is_some_and(|v| among(&applies.voltage, v.kind)))
        && applies.needs.iter().all(|need| states(catalogue, enquiry, exposure, need))
}

/// K: time of making spent in a gas no hotter than this is storage of the roll (40 degC, common practice).
const STORAGE: f64 = 313.15;

fn is_storage(catalogue: &Catalogue, x: &Exposure) -> bool {
    x.stage == "assembly" && catalogue.materials[x.medium].kind == "gas" && !x.cure && x.temperature.si() <= STORAGE
}

/// Whether an enquiry states something that a criterion needs.
fn states(catalogue: &Catalogue, enquiry: &Enquiry, exposure: Option<&Exposure>, need: &str) -> bool {
    let w = &enquiry.winding;
    match need {
        "voltage" => enquiry.voltage.is_some(),
        "across" => enquiry.voltage.as_ref().is_some_and(|v| v.across.is_some()),
        "tension" => w.tension.is_some(),
        "bend_radius" => w.bend_radius.is_some(),
        "circumference" => w.circumference.is_some(),
        "build_limit" => w.build_limit.is_some(),
        "width" => w.width.is_some(),
        "length" => w.length.is_some(),
        "adhesion_needed" => w.adhesion_needed.is_some(),
        "surface" => w.surface.is_some(),
        "coldest" => enquiry.application.coldest.is_some(),
        "colour" => enquiry.application.colour.is_some(),
        "thermal_class" => enquiry.duty.thermal_class.is_some(),
        "load_profile" => !enquiry.duty.load_profile.is_empty(),
        "recognition" => enquiry.application.recognition.is_some(),
        "storage" => exposure.is_some_and(|x| is_storage(catalogue, x)),
        "wound" => exposure.is_some_and(|x| !is_storage(catalogue, x)),
        "acidity" => exposure.is_some_and(|x| x.acidity.is_some()),
        _ => false,
    }
}

/// Numbers lists of bits in the order they are first met.
#[derive(Default)]
struct Classes(HashMap<Vec<u64>, u32>);

impl Classes {
    fn of(&mut self, bits: Vec<u64>) -> (u32, bool) {
        let next = u32::try_from(self.0.len()).unwrap_or(u32::MAX);
        let class = *self.0.entry(bits).or_insert(next);
        (class, class == next)
    }
}
