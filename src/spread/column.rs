//! Columns of values over the table, and how they are shared.

use std::collections::HashMap;
use std::hash::Hash;
use std::ops::Range;
use std::sync::{Arc, LazyLock, Mutex, OnceLock, PoisonError, RwLock};

use foldhash::fast::FixedState;

use crate::evidence::Spread;

use super::sums::Steps;
use super::{FINE, Input, POINTS, draws, ranks};

/// The parts of the table, each drawn when it is first asked for.
pub(super) const PARTS: [Range<usize>; 4] = [0..POINTS, POINTS..4 * POINTS, 4 * POINTS..8 * POINTS, 8 * POINTS..FINE];

/// The values of one input over the table: the same for every cell that reads the same distribution.
pub(super) struct Column {
    draw: Box<dyn Fn(usize) -> Vec<f64> + Send + Sync>,
    parts: [OnceLock<Vec<f64>>; PARTS.len()],
    ranges: [OnceLock<(f64, f64)>; PARTS.len()],
    ranks: OnceLock<Vec<f64>>,
    steps: [OnceLock<Option<Steps>>; PARTS.len()],
    leaning: Mutex<Leaning>,
}

/// Logarithms by part and lean.
type Leaning = HashMap<(usize, u64), Option<Arc<Steps>>, FixedState>;

/// How many leans a column keeps the logarithms of. A bound on memory, not on results.
const LEANS: usize = 3_000;

impl Column {
    pub(super) fn new(draw: impl Fn(usize) -> Vec<f64> + Send + Sync + 'static) -> Column {
        Column {
            draw: Box::new(draw),
            parts: Default::default(),
            ranges: Default::default(),
            ranks: OnceLock::default(),
            steps: Default::default(),
            leaning: Mutex::default(),
        }
    }

    pub(super) fn values(&self, part: usize) -> &[f64] {
        self.parts[part].get_or_init(|| (self.draw)(part))
    }

    /// The ranks of its values in the first part.
    pub(super) fn ranks(&self) -> &[f64] {
        self.ranks.get_or_init(|| ranks(self.values(0)))
    }

    /// The logarithms of its values in a part.
    pub(super) fn steps(&self, part: usize) -> Option<&Steps> {
        self.steps[part].get_or_init(|| Steps::of(self.values(part).iter().copied(), self.range(0).1)).as_ref()
    }

    /// Those of what a product that leans on it is multiplied by.
    pub(super) fn leaning_steps(&self, part: usize, lean: f64) -> Option<Arc<Steps>> {
        let key = (part, lean.to_bits());
        let lock = || self.leaning.lock().unwrap_or_else(PoisonError::into_inner);
        let known = lock().get(&key).cloned();
        known.unwrap_or_else(|| {
            let values = self.values(part).iter().map(|by| leaning(lean, *by));
            let steps = Steps::of(values, leaning(lean, self.range(0).1)).map(Arc::new);
            let mut kept = lock();
            if kept.len() < LEANS {
                kept.insert(key, steps.clone());
            }
            steps
        })
    }

    /// The least and the largest of its values up to the end of a part.
    pub(super) fn range(&self, part: usize) -> (f64, f64) {
        *self.ranges[part].get_or_init(|| {
            let before = part.checked_sub(1).map_or((f64::INFINITY, f64::NEG_INFINITY), |part| self.range(part));
            self.values(part).iter().fold(before, |(least, most), x| (least.min(*x), most.max(*x)))
        })
    }
}

/// What a product that leans on a number is multiplied by.
pub(super) fn leaning(lean: f64, by: f64) -> f64 {
    1.0 - lean + lean * by
}

/// How many columns last. A bound on memory, not on results.
const KEPT: usize = 20_000;

/// Columns that last, by what they hang on.
pub(super) struct Lasting<K>(RwLock<HashMap<K, Arc<Column>, FixedState>>);

impl<K> Default for Lasting<K> {
    fn default() -> Self {
        Lasting(RwLock::default())
    }
}

impl<K: Eq + Hash + Clone> Lasting<K> {
    /// The column of a key; what makes it is handed back where there is no more room.
    pub(super) fn of<F: FnOnce() -> Arc<Column>>(&self, key: &K, make: F) -> Result<Arc<Column>, F> {
        if let Some(column) = self.0.read().ok().and_then(|columns| columns.get(key).cloned()) {
            return Ok(column);
        }
        match self.0.write() {
            Ok(mut columns) if columns.len() < KEPT => Ok(columns.entry(key.clone()).or_insert_with(make).clone()),
            _ => Err(make),
        }
    }
}

/// Sub-results over the table, kept for the cells that are worked out together.
#[derive(Default)]
pub struct Columns(Mutex<HashMap<Vec<u64>, Arc<Column>, FixedState>>);

impl Columns {
    /// A sub-result of other inputs, worked out once over the table for all cells with the same `key`:
    /// the key must hold everything that the sub-result hangs on. A `lasting` one is kept for good.
    pub fn shared(
        &self,
        key: Vec<u64>,
        lasting: bool,
        inputs: impl FnOnce() -> Vec<Input>,
        model: impl Fn(&[f64]) -> f64 + Send + Sync + 'static,
    ) -> Input {
        static LASTING: LazyLock<Lasting<Vec<u64>>> = LazyLock::new(Lasting::default);
        let make = move || {
            let inputs = inputs();
            Arc::new(Column::new(move |part| draws(&inputs, part, &model)))
        };
        let mut here = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let column = match here.get(&key) {
            Some(column) => Arc::clone(column),
            None if lasting => {
                LASTING.of(&key, make).unwrap_or_else(|make| here.entry(key).or_insert_with(make).clone())
            }
            None => here.entry(key).or_insert_with(make).clone(),
        };
        Input { spread: Spread::exact(f64::NAN), dimension: 0, column: Some(column) }
    }
}
