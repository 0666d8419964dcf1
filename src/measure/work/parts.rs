//! What cells share: columns of draws, and parts that hang on less than a cell.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::Arc;

use foldhash::fast::FixedState;

use crate::evidence::{Basis, Spread};
use crate::spread::{Asked, Columns, Input};

use super::{Missing, Own, Proves, Trace, Work};

/// A place in the inputs of the closure.
#[derive(Clone, Copy, Debug)]
pub struct Slot(pub(super) usize);

impl Slot {
    /// The drawn value.
    #[must_use]
    pub fn of(self, x: &[f64]) -> f64 {
        x[self.0]
    }
}

/// A sub-result of a cell, shared with others, or worked out in place where the working is shown.
#[derive(Clone)]
pub enum Shared {
    /// Worked out once over the table.
    Column(Slot),
    /// Worked out in place.
    Inline(Arc<SubModel>),
}

type SubModel = dyn Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync;

impl Shared {
    /// The input that holds it, where it is not worked out in place.
    #[must_use]
    pub fn slot(&self) -> Option<Slot> {
        match self {
            Shared::Column(slot) => Some(*slot),
            Shared::Inline(_) => None,
        }
    }

    /// Its value at one draw.
    pub fn of(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        match self {
            Shared::Column(slot) => slot.of(x),
            Shared::Inline(model) => model(x, t),
        }
    }
}

/// What cells that are worked out together share: columns of draws, and parts that hang on less than a cell.
#[derive(Default)]
pub struct Together {
    columns: Arc<Columns>,
    parts: RefCell<HashMap<PartKey, Part, FixedState>>,
}

impl Together {
    /// Cells of one plan, which share columns with those of others.
    #[must_use]
    pub fn with(columns: &Arc<Columns>) -> Together {
        Together { columns: Arc::clone(columns), parts: RefCell::default() }
    }
}

/// The measure, the part by its number, the class of the tapes and the case.
type PartKey = (usize, usize, u32, u32);

/// A part of a cell: what was noted on the way to it, and its column if it came to one.
#[derive(Clone)]
struct Part {
    noted: Noted,
    column: Option<Input>,
}

/// The cells that a cell is worked out beside.
#[derive(Clone, Copy)]
pub struct Beside<'a> {
    together: &'a Together,
    case: u32,
    classes: &'a [u32],
    pub(super) own: &'a [Own],
    pub(super) asked: Asked,
}

impl<'a> Beside<'a> {
    /// Cells of any case; `own` are the numbers of each kind of tapes that share the cell where the measure tells
    /// them apart, no numbers where nobody needs the answer.
    #[must_use]
    pub fn none(together: &'a Together, own: &'a [Own]) -> Beside<'a> {
        Beside { together, case: 0, classes: &[], own, asked: Asked::All }
    }

    /// Cells of one case; the tape is of these classes by what each part of the measure reads of it.
    #[must_use]
    pub fn row(together: &'a Together, case: u32, classes: &'a [u32], own: &'a [Own], asked: Asked) -> Beside<'a> {
        Beside { together, case, classes, own, asked }
    }
}

/// What is noted of a cell while its facts are gathered.
#[derive(Clone)]
pub(super) struct Noted {
    pub(super) missing: Vec<Missing>,
    pub(super) basis: Basis,
    pub(super) extrapolated: bool,
    pub(super) milder: bool,
    pub(super) proves: Proves,
    pub(super) method: &'static str,
}

impl Noted {
    pub(super) const NOTHING: Noted = Noted {
        missing: Vec::new(),
        basis: Basis::Measured,
        extrapolated: false,
        milder: false,
        proves: Proves::Both,
        method: "",
    };

    /// Adds what a part noted.
    fn add(&mut self, part: &Noted) {
        self.missing.extend_from_slice(&part.missing);
        self.basis = self.basis.max(part.basis);
        self.extrapolated |= part.extrapolated;
        self.milder |= part.milder;
        if part.proves != Proves::Both {
            self.proves = part.proves;
        }
        if !part.method.is_empty() {
            self.method = part.method;
        }
    }
}

impl Work<'_> {
    /// A sub-result that hangs on some inputs and constants only, so that cells share it.
    pub fn shared(
        &mut self,
        name: &'static str,
        on: &[Slot],
        constants: &[f64],
        model: impl Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync + 'static,
    ) -> Shared {
        self.sub_result((name, false), on, constants, model)
    }

    /// The same of what many cases have in common, kept for all of them. It may hang on no other sub-result.
    pub fn lasting(
        &mut self,
        name: &'static str,
        on: &[Slot],
        constants: &[f64],
        model: impl Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync + 'static,
    ) -> Shared {
        self.sub_result((name, true), on, constants, model)
    }

    fn sub_result(
        &mut self,
        (name, lasting): (&'static str, bool),
        on: &[Slot],
        constants: &[f64],
        model: impl Fn(&[f64], &mut Trace<'_>) -> f64 + Send + Sync + 'static,
    ) -> Shared {
        if self.mode.explain {
            return Shared::Inline(Arc::new(model));
        }
        let mut key: Vec<u64> = Vec::with_capacity(1 + constants.len() + 7 * on.len());
        key.push(name.as_ptr() as u64);
        key.extend(constants.iter().map(|c| c.to_bits()));
        for slot in on {
            self.inputs[slot.0].bits(&mut key);
        }
        // What it does not hang on is no number for it, so that a use that is not declared shows.
        let inputs = || {
            let mut inputs = vec![Input::new(Spread::exact(f64::NAN), 0); self.inputs.len()];
            for slot in on {
                inputs[slot.0] = self.inputs[slot.0].clone();
            }
            inputs
        };
        let columns = &self.beside.together.columns;
        let shared = columns.shared(key, lasting, inputs, move |x| model(x, &mut Trace::off()));
        self.inputs.push(shared);
        Shared::Column(Slot(self.inputs.len() - 1))
    }

    /// A part of the cell by its number among the measure's parts: gathered once for all cells of the row
    /// whose tapes are alike in what the part reads.
    pub fn part(&mut self, number: usize, gather: impl FnOnce(&mut Self) -> Option<Shared>) -> Option<Shared> {
        let Beside { together, case, classes, .. } = self.beside;
        let Some(class) = classes.get(number).filter(|_| !self.mode.explain) else { return gather(self) };
        let key = (core::ptr::from_ref(self.measure).addr(), number, *class, case);
        let known = together.parts.borrow().get(&key).cloned();
        let part = known.unwrap_or_else(|| {
            let others = core::mem::replace(&mut self.noted, Noted::NOTHING);
            let shared = gather(self);
            let column = shared.and_then(|shared| shared.slot()).map(|slot| self.inputs[slot.0].clone());
            let part = Part { noted: core::mem::replace(&mut self.noted, others), column };
            together.parts.borrow_mut().insert(key, part.clone());
            part
        });
        self.noted.add(&part.noted);
        self.inputs.push(part.column?);
        Some(Shared::Column(Slot(self.inputs.len() - 1)))
    }

    /// Leaves out of the draws the inputs that only a shared sub-result hangs on; they are no number from here on.
    pub fn absorb(&mut self, slots: &[Slot]) {
        if !self.mode.explain {
            for slot in slots {
                self.inputs[slot.0] = Input::new(Spread::exact(f64::NAN), 0);
            }
        }
    }
}
