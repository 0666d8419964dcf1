//! One measure with the criteria that judge it: the classes of tapes and cases, and the rows of cells.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use foldhash::fast::FixedState;
use rayon::prelude::*;

use crate::catalogue::{Catalogue, Criterion, Limits};
use crate::enquiry::Enquiry;
use crate::measure::{Answer, Beside, Cell, Measure, Missing, Mode, Own, TapeRead, Terms, Together, Work};
use crate::spread::{Asked, Columns, FINE, POINTS};

use super::Plan;
use super::applies::{asks_case_of, asks_tape_of, cases, limits};

/// A measure with the criteria that judge it.
pub struct Group {
    /// The measure.
    pub measure: &'static Measure,
    /// The criteria, by index into the catalogue's.
    pub criteria: Vec<usize>,
    /// The class of each candidate.
    pub class_of: Vec<u32>,
    /// The classes of tapes that are judged alike.
    pub classes: Vec<TapeClass>,
    /// The cases of each criterion.
    pub asks: Vec<Vec<Ask>>,
    /// One candidate of each class that shares cells, by position.
    cell_tape: Vec<usize>,
    /// One candidate of each kind of tapes that has an answer of its own: by the cell and the place in it.
    kinds: BTreeMap<(u32, usize), usize>,
    /// What tells those apart that have answers of their own in them.
    cell_own: Vec<Vec<Own>>,
    /// The classes of those by what each part of the measure reads.
    cell_parts: Vec<Vec<u32>>,
    /// One enquiry and exposure of each case.
    case_of: Vec<(usize, Option<usize>)>,
    /// The asks of each case: the criterion by position, the ask by index.
    asks_of: Vec<Vec<(u32, u32)>>,
    rows: Vec<SharedRow>,
}

/// Tapes that are judged alike.
pub struct TapeClass {
    /// Whether each criterion asks them.
    pub asked: Vec<bool>,
    /// What the number of their cell is multiplied by.
    pub factor: f64,
    /// Which of the answers of the cell is theirs.
    pub kin: usize,
    /// The class whose cells they share.
    cell: u32,
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

/// The cells of one case, by class of tapes; none where no tape needs it.
pub struct Row(Vec<Option<Worked>>);

/// A cell of a row.
pub(crate) struct Worked {
    /// The cell.
    pub(crate) cell: Cell,
    /// What was asked for of it.
    pub(crate) asked: Asked,
    /// What tells those apart who need it; no numbers in the place of those who do not.
    own: Vec<Own>,
    fine: OnceLock<Cell>,
}

impl Row {
    /// How many cells it has that some tape needs.
    pub(crate) fn worked(&self) -> usize {
        self.0.iter().flatten().count()
    }
}

/// A row that is worked out when it is first asked for, whichever plan asks.
type SharedRow = Arc<OnceLock<Row>>;

/// The measure, what its cells have to tell, and what the case reads.
type RowKey = (&'static str, Asked, Vec<u64>);

/// What plans of the same catalogue and candidates share: what one has worked out no other works out again.
#[derive(Default)]
pub struct Shared {
    rows: Mutex<HashMap<RowKey, SharedRow, FixedState>>,
    columns: Arc<Columns>,
}

impl Shared {
    /// The row of a case, by what it reads.
    fn row(&self, measure: &Measure, asked: Asked, bits: Vec<u64>) -> SharedRow {
        let mut rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
        rows.entry((measure.id, asked, bits)).or_default().clone()
    }

    /// For cells that are worked out together.
    pub(super) fn together(&self) -> Together {
        Together::with(&self.columns)
    }
}

/// A case as it is met in an enquiry: what it reads, and each criterion that asks it, by position, with its limits and
/// what the number is held against.
struct Met {
    exposure: Option<usize>,
    bits: Vec<u64>,
    asks: Vec<(usize, Option<Limits>, Result<Terms, Missing>)>,
}

impl Group {
    pub(super) fn new(
        catalogue: &Catalogue,
        enquiries: &[Enquiry],
        candidates: &[usize],
        (measure, criteria): (&'static Measure, Vec<usize>),
        shared: Option<(&Shared, Asked)>,
    ) -> Group {
        let rules: Vec<&Criterion> = criteria.iter().map(|c| &catalogue.criteria[*c]).collect();
        let mut group = Group {
            measure,
            criteria,
            class_of: Vec::with_capacity(candidates.len()),
            classes: Vec::new(),
            asks: vec![Vec::new(); rules.len()],
            cell_tape: Vec::new(),
            kinds: BTreeMap::new(),
            cell_own: Vec::new(),
            cell_parts: Vec::new(),
            case_of: Vec::new(),
            asks_of: Vec::new(),
            rows: Vec::new(),
        };
        group.class_tapes(catalogue, candidates, &rules);
        group.class_cases(catalogue, enquiries, &rules, shared);
        group
    }

    fn class_tapes(&mut self, catalogue: &Catalogue, candidates: &[usize], rules: &[&Criterion]) {
        let (mut judged, mut sharing) = (Numbers::default(), Numbers::default());
        let mut parts: Vec<Numbers> = self.measure.parts.iter().map(|_| Numbers::default()).collect();
        for (position, tape) in candidates.iter().enumerate() {
            let asked: Vec<bool> = rules.iter().map(|rule| asks_tape_of(&rule.applies, catalogue, *tape)).collect();
            let scale = self.measure.factor(catalogue, *tape);
            let mut bits = vec![u64::from(asked.contains(&true))];
            self.measure.tape_bits(catalogue, *tape, &mut bits);
            let (cell, new) = sharing.of(bits);
            if new {
                self.cell_tape.push(position);
                self.cell_own.push(Vec::new());
                let of_part = |(reads, numbers): (&&[TapeRead], &mut Numbers)| {
                    let mut bits = Vec::new();
                    reads.iter().for_each(|read| read.bits(catalogue, *tape, &mut bits));
                    numbers.of(bits).0
                };
                self.cell_parts.push(self.measure.parts.iter().zip(&mut parts).map(of_part).collect());
            }
            let kin = scale.map_or(0, |scale| place_of(scale.own, &mut self.cell_own[cell as usize]));
            let factor = scale.map_or(1.0, |scale| scale.by);
            let of_cell = [u64::from(cell), factor.to_bits(), kin as u64];
            let (class, new) = judged.of(of_cell.into_iter().chain(asked.iter().map(|a| u64::from(*a))).collect());
            if new {
                if asked.contains(&true) {
                    self.kinds.entry((cell, kin)).or_insert(position);
                }
                self.classes.push(TapeClass { asked, factor, kin, cell });
            }
            self.class_of.push(class);
        }
    }

    fn class_cases(
        &mut self,
        catalogue: &Catalogue,
        enquiries: &[Enquiry],
        rules: &[&Criterion],
        shared: Option<(&Shared, Asked)>,
    ) {
        // What the cases read is gathered side by side, then numbered in their order.
        let met: Vec<Vec<Met>> = enquiries.par_iter().map(|one| self.met(catalogue, one, rules).collect()).collect();
        let mut numbers = Numbers::default();
        for (enquiry, met) in met.into_iter().enumerate() {
            for Met { exposure, bits, asks } in met {
                let read = shared.map(|shared| (shared, bits.clone()));
                let (case, new) = numbers.of(bits);
                if new {
                    self.case_of.push((enquiry, exposure));
                    self.asks_of.push(Vec::new());
                    let of = |((shared, asked), bits): ((&Shared, Asked), _)| shared.row(self.measure, asked, bits);
                    self.rows.push(read.map_or_else(SharedRow::default, of));
                }
                for (nth, limits, terms) in asks {
                    self.asks_of[case as usize].push((len32(nth), len32(self.asks[nth].len())));
                    self.asks[nth].push(Ask { enquiry, exposure, case, limits, terms });
                }
            }
        }
    }

    /// The cases of an enquiry that some criterion asks.
    fn met<'e>(
        &'e self,
        catalogue: &'e Catalogue,
        enquiry: &'e Enquiry,
        rules: &'e [&Criterion],
    ) -> impl Iterator<Item = Met> + 'e {
        let mut terms = None;
        cases(self.measure, enquiry).into_iter().filter_map(move |exposure| {
            let x = exposure.map(|x| &enquiry.exposures[x]);
            let asking = (0..).zip(rules).filter(|(_, rule)| asks_case_of(&rule.applies, catalogue, enquiry, x));
            let ask = |(nth, rule): (usize, &&Criterion)| {
                let terms = terms.get_or_insert_with(|| self.measure.terms(catalogue, enquiry)).clone();
                (nth, limits(rule, enquiry), terms)
            };
            let asks: Vec<_> = asking.map(ask).collect();
            (!asks.is_empty()).then(|| {
                let mut bits = Vec::new();
                for read in self.measure.case {
                    read.bits(catalogue, enquiry, exposure, &mut bits);
                }
                Met { exposure, bits, asks }
            })
        })
    }

    /// The cases, each with an enquiry and an exposure that it stands for.
    pub(crate) fn cases(&self) -> impl Iterator<Item = (u32, (usize, Option<usize>))> {
        self.case_of.iter().enumerate().map(|(case, of)| (len32(case), *of))
    }

    /// The asks of a case, each with its criterion by position.
    pub(crate) fn asks_of(&self, case: u32) -> impl Iterator<Item = (usize, &Ask)> {
        let asks = self.asks_of[case as usize].iter();
        asks.map(|(nth, ask)| (*nth as usize, &self.asks[*nth as usize][*ask as usize]))
    }

    /// The cells of a case; they are kept.
    pub(crate) fn row(&self, plan: &Plan<'_>, case: u32, together: &Together) -> &Row {
        self.rows[case as usize].get_or_init(|| self.work(plan, case, together, |_| Some(plan.asked())))
    }

    /// Works out the cells of a case, of which each class needs so much: none, or what is asked of its cell.
    pub(crate) fn work(
        &self,
        plan: &Plan<'_>,
        case: u32,
        together: &Together,
        needs: impl Fn(u32) -> Option<Asked>,
    ) -> Row {
        let mut needed: Vec<Option<(Asked, Vec<Own>)>> = vec![None; self.cell_tape.len()];
        for (nth, class) in (0..).zip(&self.classes).filter(|(_, class)| class.asked.contains(&true)) {
            let Some(asks) = needs(nth) else { continue };
            let all = &self.cell_own[class.cell as usize];
            let (asked, wanted) =
                needed[class.cell as usize].get_or_insert_with(|| (asks, vec![[f64::NAN; 2]; all.len()]));
            *asked = asks.max(*asked);
            if let (Some(wanted), Some(own)) = (wanted.get_mut(class.kin), all.get(class.kin)) {
                *wanted = *own;
            }
        }
        let work = |(number, needed): (usize, Option<(Asked, Vec<Own>)>)| {
            let (asked, own) = needed?;
            let cell = self.cell(plan, (number, &own), case, (POINTS, asked), together);
            Some(Worked { cell, asked, own, fine: OnceLock::new() })
        };
        Row(needed.into_iter().enumerate().map(work).collect())
    }

    fn cell(
        &self,
        plan: &Plan<'_>,
        (cell, own): (usize, &[Own]),
        case: u32,
        (points, asked): (usize, Asked),
        together: &Together,
    ) -> Cell {
        let (enquiry, exposure) = self.case_of[case as usize];
        let tape = plan.candidates[self.cell_tape[cell]];
        let beside = Beside::row(together, case, &self.cell_parts[cell], own, asked);
        let mode = Mode { points, explain: false };
        Work::cell(self.measure, plan.catalogue, tape, (&plan.enquiries[enquiry], exposure), mode, beside)
    }

    /// How many cells a row has.
    pub(crate) fn cells(&self) -> usize {
        self.cell_tape.len()
    }

    /// The place in a row of the cell that a class of tapes shares.
    pub(crate) fn cell_of(&self, class: u32) -> usize {
        self.classes[class as usize].cell as usize
    }

    /// The cell that a class of tapes shares.
    pub(crate) fn shared<'r>(&self, row: &'r Row, class: u32) -> Option<&'r Worked> {
        row.0[self.cell_of(class)].as_ref()
    }

    /// The same cell over the fine table of draws.
    pub(crate) fn fine<'r>(
        &self,
        plan: &Plan<'_>,
        (case, worked): (u32, &'r Worked),
        class: u32,
        together: &Together,
    ) -> &'r Cell {
        let cell = (self.cell_of(class), &worked.own[..]);
        worked.fine.get_or_init(|| self.cell(plan, cell, case, (FINE, worked.asked), together))
    }

    /// The distinct answers, each with one candidate and case that it serves: the candidate by position, the
    /// enquiry, the exposure.
    pub fn answers<'p>(&'p self, plan: &'p Plan<'_>) -> impl Iterator<Item = (usize, usize, Option<usize>, Answer)> {
        self.cases().flat_map(move |(case, (enquiry, exposure))| {
            let row = self.row(plan, case, &Together::default());
            let answer = |((cell, kin), tape): (&(u32, usize), &usize)| {
                row.0[*cell as usize].as_ref().map(|worked| (*tape, enquiry, exposure, worked.cell.answer_of(*kin)))
            };
            self.kinds.iter().filter_map(answer).collect::<Vec<_>>()
        })
    }

    /// How many distinct answers there are.
    #[must_use]
    pub fn distinct(&self) -> usize {
        self.kinds.len() * self.case_of.len()
    }
}

/// The place of some numbers in a list, added where they are not there.
fn place_of(own: Own, list: &mut Vec<Own>) -> usize {
    list.iter().position(|known| known.map(f64::to_bits) == own.map(f64::to_bits)).unwrap_or_else(|| {
        list.push(own);
        list.len() - 1
    })
}

fn len32(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

/// Numbers lists of bits in the order they are first met.
#[derive(Default)]
struct Numbers(HashMap<Vec<u64>, u32, FixedState>);

impl Numbers {
    fn of(&mut self, bits: Vec<u64>) -> (u32, bool) {
        let next = len32(self.0.len());
        let number = *self.0.entry(bits).or_insert(next);
        (number, number == next)
    }
}
