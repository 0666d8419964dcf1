//! One fixed table of draws, and the percentiles of a closure over it. Knows no model.
//!
//! The table is an Owen-scrambled Sobol sequence with one constant scramble: a dimension for each
//! property on each side of a wrap, 256 points that are the first 256 of 4 096. It depends on no
//! seed, order, enquiry or clock, so that every cell of every run sees the same draws.

mod column;
mod products;
mod select;
mod sums;
mod table;

use std::sync::{Arc, LazyLock};

use crate::evidence::{Spread, Z95};

pub use column::Columns;
use column::{Column, Lasting, PARTS};
use products::Products;
pub use select::Asked;
use select::{apart, key, percentiles};
pub use table::deviates;

/// Points of the usual table.
pub const POINTS: usize = 256;
/// Points where a percentile lies near a limit.
pub const FINE: usize = 4096;
/// One input: a distribution and the dimension that draws it, or values worked out before.
#[derive(Clone)]
pub struct Input {
    /// The distribution; of a worked-out column only its name in a key is left.
    pub spread: Spread,
    /// The dimension of the table.
    pub dimension: u32,
    column: Option<Arc<Column>>,
}

impl Input {
    /// An input of known distribution.
    #[must_use]
    pub const fn new(spread: Spread, dimension: u32) -> Input {
        Input { spread, dimension, column: None }
    }

    /// Appends what tells this input from another.
    pub fn bits(&self, out: &mut Vec<u64>) {
        match &self.column {
            Some(column) => out.push(Arc::as_ptr(column) as u64),
            None => out.extend(self.key()),
        }
    }

    fn key(&self) -> [u64; 7] {
        let Spread { value, low, high, shape, floor, ceiling } = self.spread;
        let [value, low, high, floor, ceiling] = [value, low, high, floor, ceiling].map(f64::to_bits);
        [value, low, high, floor, ceiling, shape as u64, u64::from(self.dimension)]
    }

    fn is_exact(&self) -> bool {
        self.column.is_none() && self.spread.is_exact()
    }

    fn column(&self) -> Option<Arc<Column>> {
        static DRAWN: LazyLock<Lasting<[u64; 7]>> = LazyLock::new(Lasting::default);
        let Input { spread, dimension, .. } = *self;
        if self.is_exact() {
            return None;
        }
        self.column.clone().or_else(|| {
            let draw =
                move |part: usize| deviates(dimension)[PARTS[part].clone()].iter().map(|z| spread.at(*z)).collect();
            Some(DRAWN.of(&self.key(), || Arc::new(Column::new(draw))).unwrap_or_else(|make| make()))
        })
    }
}

/// The 5th, 50th and 95th percentile of a result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Percentiles {
    /// 5 %.
    pub x05: f64,
    /// 50 %.
    pub x50: f64,
    /// 95 %.
    pub x95: f64,
}

impl Percentiles {
    /// A result without spread.
    #[must_use]
    pub const fn exact(x: f64) -> Self {
        Percentiles { x05: x, x50: x, x95: x }
    }

    /// The percentiles after a monotone change of the result.
    #[must_use]
    pub fn map(self, change: impl Fn(f64) -> f64) -> Self {
        let x50 = change(self.x50);
        Percentiles { x50, ..self.map_ends(change) }
    }

    /// The ends after a monotone change, for what does not hang on the middle, which is one of them here.
    #[must_use]
    pub fn map_ends(self, change: impl Fn(f64) -> f64) -> Self {
        let (a, b) = (change(self.x05), change(self.x95));
        let (x05, x95) = if a.total_cmp(&b).is_gt() { (b, a) } else { (a, b) };
        Percentiles { x05, x50: x05, x95 }
    }
}

/// Percentiles and how many points of the table they stand on; those that need none stand on all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The percentiles.
    pub at: Percentiles,
    /// The points.
    pub points: usize,
}

impl Estimate {
    /// Of nothing.
    const NONE: Estimate = Estimate { at: Percentiles::exact(f64::NAN), points: FINE };
}

/// The percentiles of `model` over the inputs.
///
/// Without uncertain inputs the model runs once. With one, and a model that is monotone in it, it
/// runs at that input's own percentiles. Otherwise it runs at every point of the table.
pub fn estimate(
    inputs: &[Input],
    (points, asked): (usize, Asked),
    monotone: bool,
    mut model: impl FnMut(&[f64]) -> f64,
) -> Estimate {
    let mut x: Vec<f64> = inputs.iter().map(|input| input.spread.value).collect();
    let mut uncertain = inputs.iter().enumerate().filter(|(_, input)| !input.is_exact());
    let Some((first, only)) = uncertain.next() else {
        return Estimate { at: Percentiles::exact(model(&x)), points: FINE };
    };
    if monotone && only.column.is_none() && uncertain.next().is_none() {
        let mut at = |z| {
            x[first] = only.spread.at(z);
            model(&x)
        };
        let at = Percentiles { x05: at(-Z95), x50: at(0.0), x95: at(Z95) }.map(|y| y);
        return Estimate { at, points: FINE };
    }
    // In which order they stand is of no matter from here on.
    let mut keys: Vec<i64> = Vec::with_capacity(FINE);
    let more = |keys: &mut Vec<i64>, part| keys.extend(draws(inputs, part, &mut model).into_iter().map(key));
    let points = grow(&mut keys, (points, asked), more, |keys| apart(keys));
    Estimate { at: percentiles(&mut keys, asked), points }
}

/// The percentiles of a product of columns.
#[must_use]
pub fn product(factors: &[Input], points: (usize, Asked)) -> Estimate {
    let nothing = Input::new(Spread::exact(1.0), 0);
    products(factors, (&nothing, &[0.0]), points).first().copied().unwrap_or(Estimate::NONE)
}

/// The percentiles of kindred products: of the columns and `1 − lean + lean · by`, for each lean that is a number.
#[must_use]
pub fn products(factors: &[Input], (by, leans): (&Input, &[f64]), (points, asked): (usize, Asked)) -> Vec<Estimate> {
    let (drawn, exact): (Vec<&Input>, Vec<&Input>) = factors.iter().partition(|factor| !factor.is_exact());
    let exact: f64 = exact.iter().map(|factor| factor.spread.value).product();
    let columns: Vec<Arc<Column>> = drawn.iter().filter_map(|factor| factor.column()).collect();
    let by = by.column();
    if columns.is_empty() && by.is_none() {
        return vec![Estimate { at: Percentiles::exact(exact), points: FINE }; leans.len()];
    }
    let by = by.as_deref();
    let asked_for = (0..leans.len()).filter(|nth| !leans[*nth].is_nan());
    let (wide, narrow): (Vec<usize>, Vec<usize>) = asked_for.partition(|nth| Products::is_wide(by, leans[*nth]));
    let mut found = vec![Estimate::NONE; leans.len()];
    for together in wide.chunks(1).chain([&narrow[..]]).filter(|together| !together.is_empty()) {
        let leans: Vec<f64> = together.iter().map(|nth| leans[*nth]).collect();
        let estimates = settled(Products::new(&columns, exact, (by, &leans)), (points, asked));
        together.iter().zip(estimates).for_each(|(nth, estimate)| found[*nth] = estimate);
    }
    found
}

/// The percentiles of products, over as many points as they need.
fn settled(mut products: Products<'_>, (points, asked): (usize, Asked)) -> Vec<Estimate> {
    let points = grow(&mut products, (points, asked), Products::extend, |products| products.apart());
    let places = products.places(asked);
    products.leans().iter().map(|lean| Estimate { at: places.leaning(*lean), points }).collect()
}

/// Takes in part after part of the table until a result stands on as many points as it needs, and says on how many.
fn grow<R>(
    result: &mut R,
    (points, asked): (usize, Asked),
    mut more: impl FnMut(&mut R, usize),
    apart: impl FnOnce(&mut R) -> f64,
) -> usize {
    more(result, 0);
    let wanted = if asked == Asked::Sides { points } else { points.max(points_for(apart(result))) };
    let last = PARTS.iter().position(|part| wanted <= part.end).unwrap_or(PARTS.len() - 1);
    (1..=last).for_each(|part| more(result, part));
    PARTS[last].end
}

/// How many points a result needs to stand within about 0.06 in ln, by how far apart, in ln, the first of them lie about
/// its ends: where a twentieth of all lie so far apart, percentiles were seen off by up to a third of that.
fn points_for(apart: f64) -> usize {
    // Four times the points bring percentiles four times as near; twice these only half as near again.
    const ENOUGH: [f64; PARTS.len() - 1] = [0.15, 0.6, 0.9];
    ENOUGH.iter().zip(&PARTS).find(|(enough, _)| apart <= **enough).map_or(FINE, |(_, part)| part.end)
}

/// The results of `model` at the points of a part of the table, in their order.
fn draws(inputs: &[Input], part: usize, mut model: impl FnMut(&[f64]) -> f64) -> Vec<f64> {
    let columns: Vec<Option<Arc<Column>>> = inputs.iter().map(Input::column).collect();
    let mut x: Vec<f64> = inputs.iter().map(|input| input.spread.value).collect();
    let drawn: Vec<(usize, &[f64])> = columns
        .iter()
        .enumerate()
        .filter_map(|(nth, column)| column.as_ref().map(|column| (nth, column.values(part))))
        .collect();
    (0..PARTS[part].len())
        .map(|point| {
            for (nth, values) in &drawn {
                x[*nth] = values[point];
            }
            model(&x)
        })
        .collect()
}

/// The squared rank correlation of each input with the result: what the spread hangs on.
///
/// Inputs without spread have none. Ranks are by value, ties by point.
pub fn influence(inputs: &[Input], mut model: impl FnMut(&[f64]) -> f64) -> Vec<f64> {
    let results = ranks(&draws(inputs, 0, &mut model));
    inputs
        .iter()
        .map(Input::column)
        .map(|z| {
            z.map_or(0.0, |z| {
                let r = correlation(z.ranks(), &results);
                r * r
            })
        })
        .collect()
}

fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]).then(a.cmp(b)));
    let mut ranks = vec![0.0; values.len()];
    let mut start = 0;
    while start < order.len() {
        let mut end = start + 1;
        while end < order.len() && values[order[end]].total_cmp(&values[order[start]]).is_eq() {
            end += 1;
        }
        #[expect(clippy::cast_precision_loss, reason = "at most 4 096 points")]
        let mean = (start + end - 1) as f64 / 2.0;
        for at in &order[start..end] {
            ranks[*at] = mean;
        }
        start = end;
    }
    ranks
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "at most 4 096 points")]
    let mean = (a.len().max(1) - 1) as f64 / 2.0;
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        ab += (x - mean) * (y - mean);
        aa += (x - mean) * (x - mean);
        bb += (y - mean) * (y - mean);
    }
    if aa > 0.0 && bb > 0.0 { ab / libm::sqrt(aa * bb) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Shape;

    fn normal(dimension: u32) -> Input {
        let spread = Spread {
            value: 0.0,
            low: -Z95,
            high: Z95,
            shape: Shape::Normal,
            floor: f64::NEG_INFINITY,
            ceiling: f64::INFINITY,
        };
        Input::new(spread, dimension)
    }

    /// The sum of two standard normal variables has the standard deviation √2.
    #[test]
    fn percentiles_of_a_sum_are_known() {
        let inputs = [normal(3), normal(11)];
        let wide = estimate(&inputs, (POINTS, Asked::All), true, |x| x[0] + x[1]).at;
        let fine = estimate(&inputs, (FINE, Asked::All), true, |x| x[0] + x[1]).at;
        let exact = Z95 * core::f64::consts::SQRT_2;
        assert!((wide.x95 / exact - 1.0).abs() < 0.05 && (wide.x05 / exact + 1.0).abs() < 0.05, "{wide:?}");
        assert!((fine.x95 / exact - 1.0).abs() < 0.01 && fine.x50.abs() < 0.01, "{fine:?}");
    }

    #[test]
    fn one_uncertain_input_draws_nothing() {
        let mut calls = 0;
        let p = estimate(&[normal(3)], (POINTS, Asked::All), true, |x| {
            calls += 1;
            -x[0]
        })
        .at;
        assert_eq!(calls, 3);
        assert!((p.x95 - Z95).abs() < 1e-12 && (p.x05 + Z95).abs() < 1e-12);
    }

    #[test]
    fn the_dominant_input_is_found() {
        let inputs = [normal(3), normal(11), Input::new(Spread::exact(1.0), 1)];
        let share = influence(&inputs, |x| 5.0 * x[0] + x[1] + x[2]);
        assert!(share[0] > 0.9 && share[1] < 0.1 && share[2].abs() < 1e-12, "{share:?}");
    }
}
