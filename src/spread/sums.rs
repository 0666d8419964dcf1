//! The percentiles of products, found among small whole numbers.
//!
//! The logarithm of a product is a sum. Each column has its logarithms in 128ths of an octave, so that the sums are
//! whole numbers, quick to add and to count. A sum is off by no more than its columns were rounded, so the products
//! at a percentile are among those whose sums lie that near to the sum in its place. Only these are multiplied out
//! and put in order: what comes out is what all products in order would give.

use std::sync::LazyLock;

use super::select::{Rank, about_ends};

/// Steps of a logarithm to the octave.
const STEPS: i32 = 128;
/// How far, in steps, the logarithm of a column may lie from its origin, so that a sum of [`MOST`] is no larger
/// than its type holds.
const FAR: i16 = 8_000;
/// The logarithm of zero, whatever is added to it.
const ZERO: i16 = i16::MIN;
/// The columns that are added at most.
const MOST: i32 = 4;
/// By how many steps two sums may change places for each of their columns: more than twice what is rounded off.
const ROUNDED: i32 = 2;
/// How near, in steps, a place is found by counting; the rest is put in order.
const NEAR: i32 = 12;

/// The logarithm of a number in steps, to within 0.7; none of what is not finite and above zero.
fn steps(x: f64) -> Option<i32> {
    static MANTISSAS: LazyLock<Vec<i32>> = LazyLock::new(|| {
        let step = |mantissa: i32| f64::from(STEPS) * libm::log2(1.0 + (f64::from(mantissa) + 0.5) / 2048.0);
        #[expect(clippy::cast_possible_truncation, reason = "from 0 to 128")]
        (0..2048).map(|mantissa| libm::round(step(mantissa)) as i32).collect()
    });
    if !x.is_normal() || x < 0.0 {
        return None;
    }
    let bits = x.to_bits();
    let exponent = i32::try_from(bits >> 52).ok()? - 1023;
    let mantissa = usize::try_from((bits >> 41) & 2047).ok()?;
    Some(exponent * STEPS + MANTISSAS[mantissa])
}

/// The logarithms of a column's values, in steps from one origin for all its parts.
pub(super) struct Steps {
    each: Box<[i16]>,
    /// Whether some are too far below the origin, and stand with zero.
    far: bool,
    most: i16,
}

impl Steps {
    /// Of values and the origin near the top of them all; none where one has no logarithm or is far above.
    pub(super) fn of(values: impl Iterator<Item = f64>, origin: f64) -> Option<Steps> {
        let origin = if origin == 0.0 { 0 } else { steps(origin)? };
        let (mut far, mut most) = (false, ZERO);
        let each = values.map(|x| {
            if x == 0.0 {
                return Some(ZERO);
            }
            let step = i16::try_from(steps(x)? - origin).ok().filter(|step| *step <= FAR)?;
            most = most.max(step);
            far |= step < -FAR;
            Some(if step < -FAR { ZERO } else { step })
        });
        let each = each.collect::<Option<_>>()?;
        Some(Steps { each, far, most })
    }
}

/// How many steps a ratio of one and more spans, at least; none if it has no end.
pub(super) fn steps_over(ratio: f64) -> Option<i32> {
    let steps = libm::ceil(libm::log2(ratio) * f64::from(STEPS));
    #[expect(clippy::cast_possible_truncation, reason = "within the range of the sums")]
    (0.0..f64::from(i16::MAX)).contains(&steps).then_some(steps as i32 + 1)
}

/// The sums of the logarithms of some columns, up to a point of the table.
#[derive(Default)]
pub(super) struct Sums {
    each: Vec<i16>,
    /// The first point whose sum is being made.
    from: usize,
    added: i32,
    /// Whether some columns are far below their origin somewhere, and the most that the others add to those.
    far: bool,
    most: i32,
}

impl Sums {
    /// Begins the sums of more points, up to one.
    pub(super) fn more(&mut self, end: usize) {
        self.from = self.each.len();
        self.each.resize(end, 0);
        self.added = 0;
    }

    /// Adds the logarithms of a column at these points; none where there are too many columns.
    pub(super) fn add(&mut self, steps: &Steps) -> Option<()> {
        self.added += 1;
        self.far |= steps.far;
        self.most += i32::from(steps.most.max(0));
        self.each[self.from..].iter_mut().zip(&steps.each).for_each(|(sum, step)| {
            // Zero is below every other logarithm.
            *sum = if (*step).min(*sum) == ZERO { ZERO } else { sum.wrapping_add(*step) };
        });
        (self.added <= MOST).then_some(())
    }

    /// How far apart, in ln, the products about the ends lie at the most, of the first points.
    pub(super) fn apart(&self) -> f64 {
        let octaves = |(a, b): (i16, i16)| match (a, b) {
            (a, b) if a == b => 0.0,
            (ZERO, _) => f64::INFINITY,
            (a, b) => f64::from(i32::from(b) - i32::from(a)) / f64::from(STEPS),
        };
        about_ends(&mut self.each.clone()).map(octaves).into_iter().fold(0.0, f64::max) * core::f64::consts::LN_2
    }

    /// Between which sums those lie that are in a place and in the next, a few steps apart unless many are alike.
    pub(super) fn about(&self, rank: Rank) -> (i32, i32) {
        let upto = |sum| self.counts(sum, sum).1;
        let about = |mut low, mut high, count| {
            while high - low > NEAR {
                let middle = i32::midpoint(low, high);
                *(if upto(middle) < count { &mut low } else { &mut high }) = middle;
            }
            (low, high)
        };
        let (least, most) = self.ends();
        let (low, high) = about(least, most, rank.below + 1);
        let next = rank.below + 2;
        (low, if upto(high) < next { about(high, most, next).1 } else { high })
    }

    /// How many sums are below one number, and how many are not above another.
    fn counts(&self, low: i32, high: i32) -> (usize, usize) {
        let (low, high) = (clamped(low), clamped(high));
        let (mut below, mut upto) = (0_u16, 0_u16);
        for sum in &self.each {
            below = below.wrapping_add(u16::from(*sum < low));
            upto = upto.wrapping_add(u16::from(*sum <= high));
        }
        (usize::from(below), usize::from(upto))
    }

    /// The points whose products may be in a place between two sums, or come to it by `reach` steps more, and how
    /// many lie below them all; none where that hangs on what is too far below to tell.
    pub(super) fn points(&self, rank: Rank, (low, high): (i32, i32), reach: i32) -> Option<(usize, Vec<usize>)> {
        let apart = self.added * ROUNDED + reach;
        if self.far && low - apart <= self.most - i32::from(FAR) {
            return None;
        }
        if clamped(high) == ZERO {
            // All are zero there: two stand for them.
            let zero = self.each.iter().position(|sum| *sum == ZERO);
            return Some((rank.below, zero.into_iter().cycle().take(2).collect()));
        }
        let (low, high) = (low.saturating_sub(apart), high.saturating_add(apart));
        let (before, _) = self.counts(low, low);
        let (low, high) = (clamped(low), clamped(high));
        let span = high.abs_diff(low);
        let is_inside = |sum: &i16| sum.wrapping_sub(low).cast_unsigned() <= span;
        let mut points = Vec::with_capacity(64);
        // Few blocks hold any: as short as a register, so that little is looked at one by one.
        let (blocks, _) = self.each.as_chunks::<8>();
        for (number, block) in blocks.iter().enumerate() {
            if block.iter().fold(false, |any, sum| any | is_inside(sum)) {
                let inside = (number * 8..).zip(block).filter(|(_, sum)| is_inside(sum));
                points.extend(inside.map(|(point, _)| point));
            }
        }
        Some((before, points))
    }

    /// The least and the largest sum.
    fn ends(&self) -> (i32, i32) {
        let ends = self.each.iter().fold((i16::MAX, i16::MIN), |(least, most), sum| (least.min(*sum), most.max(*sum)));
        (i32::from(ends.0), i32::from(ends.1))
    }
}

/// As a sum has it; what is further off is off all the same.
fn clamped(steps: i32) -> i16 {
    i16::try_from(steps).unwrap_or(if steps < 0 { i16::MIN } else { i16::MAX })
}
