//! Percentiles of results without sorting them.
//!
//! They are put in order only as far as the three need. A table four times as long is then searched only
//! about the percentiles of the first quarter (the sampling of Floyd and Rivest, Communications of the ACM
//! 18 (1975) 165); where that misses, all are put in order after all. Both give the same.

use super::{FINE, POINTS, Percentiles};

/// Results in the order of the draws.
pub(super) struct Drawn {
    values: Vec<f64>,
    windows: Option<Windows>,
}

/// Between which values the percentiles of more results will lie, almost always.
type Windows = [(f64, f64); 3];

impl Drawn {
    pub(super) fn with_capacity(capacity: usize) -> Drawn {
        Drawn { values: Vec::with_capacity(capacity), windows: None }
    }

    pub(super) fn len(&self) -> usize {
        self.values.len()
    }

    pub(super) fn extend(&mut self, more: impl FnOnce(&mut Vec<f64>)) {
        more(&mut self.values);
    }

    /// The 5th, 50th and 95th percentile.
    pub(super) fn percentiles(&mut self) -> Percentiles {
        if let Some(found) = self.windows.take().and_then(|windows| self.within(&windows)) {
            return found;
        }
        let mut keys: Vec<i64> = self.values.iter().map(|x| key(*x)).collect();
        let ranks = PARTS.map(|p| Rank::of(p, keys.len()));
        let found = in_halves(&mut keys, ranks);
        // The fewer results are not worth it.
        self.windows = (keys.len() > POINTS).then(|| windows(&mut keys, ranks));
        found
    }

    /// From what lies within windows, if the percentiles do.
    #[expect(clippy::large_stack_arrays, reason = "32 kB, of a length that is known, so that it needs no checks")]
    #[expect(clippy::needless_bitwise_bool, reason = "a branch would be guessed wrong too often")]
    fn within(&self, windows: &Windows) -> Option<Percentiles> {
        let [low, middle, high] = windows;
        let apart = low.1 < middle.0 && middle.1 < high.0 && low.0.is_finite() && high.1.is_finite();
        if !apart {
            return None;
        }
        let (mut below, mut numbers) = ([0_u32; 3], 0_u32);
        // Counts cannot pass the length, and without a check of that several go at a time.
        for x in &self.values {
            below[0] = below[0].wrapping_add(u32::from(*x < low.0));
            below[1] = below[1].wrapping_add(u32::from(*x < middle.0));
            below[2] = below[2].wrapping_add(u32::from(*x < high.0));
            numbers = numbers.wrapping_add(u32::from(!x.is_nan()));
        }
        if (numbers as usize) < self.len() {
            return None;
        }
        let mut near = [0.0; FINE];
        let mut count: usize = 0;
        // Each is written, and counts only if it is within.
        for x in &self.values {
            near[count % FINE] = *x;
            let within = windows.iter().fold(false, |any, (low, high)| any | ((x >= low) & (x <= high)));
            count = count.wrapping_add(usize::from(within));
        }
        let near = near.get(..count)?;
        let mut ranks = PARTS.map(|p| Rank::of(p, self.len()));
        let mut from = 0;
        for (nth, rank) in ranks.iter_mut().enumerate() {
            let end = from + near.iter().filter(|x| **x >= windows[nth].0 && **x <= windows[nth].1).count();
            rank.below = from + rank.below.checked_sub(below[nth] as usize)?;
            if rank.below + 1 >= end {
                return None;
            }
            from = end;
        }
        Some(in_halves(&mut near.iter().map(|x| key(*x)).collect::<Vec<i64>>(), ranks))
    }
}

/// The results at three rising places: the middle one first, then one in each half.
fn in_halves(keys: &mut [i64], [low, middle, high]: [Rank; 3]) -> Percentiles {
    let x50 = middle.take(keys, 0);
    let (lower, upper) = keys.split_at_mut(middle.below + 1);
    Percentiles { x05: low.take(lower, 0), x50, x95: high.take(upper, middle.below + 1) }
}

/// Some places about each of three, in keys that are in order as far as those need.
fn windows(keys: &mut [i64], ranks: [Rank; 3]) -> Windows {
    // Three standard deviations of the place, were the draws not more even than chance.
    #[expect(clippy::cast_precision_loss, reason = "at most 4 096 points")]
    let off = PARTS.map(|p| 3.0 * libm::sqrt(p * (1.0 - p) * keys.len() as f64));
    let mut start = 0;
    let mut found = [(0.0, 0.0); 3];
    for nth in 0..ranks.len() {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small whole number")]
        let off = off[nth] as usize;
        let at = ranks[nth].below;
        let end = ranks.get(nth + 1).map_or(keys.len(), |next| next.below);
        let (below, above) = keys[start..end].split_at_mut(at - start);
        let low = below.len().checked_sub(off).map(|place| *below.select_nth_unstable(place).1);
        let high = above.get(off).is_some().then(|| *above.select_nth_unstable(off).1);
        found[nth] = (low.map_or(f64::NEG_INFINITY, number), high.map_or(f64::INFINITY, number));
        start = at + 1;
    }
    found
}

/// The percentiles that are asked for.
const PARTS: [f64; 3] = [0.05, 0.5, 0.95];

/// A whole number that rises with a float, in the order of [`f64::total_cmp`].
fn key(x: f64) -> i64 {
    let bits = x.to_bits().cast_signed();
    bits ^ ((bits >> 63).cast_unsigned() >> 1).cast_signed()
}

/// The float of a [`key`].
fn number(key: i64) -> f64 {
    f64::from_bits((key ^ ((key >> 63).cast_unsigned() >> 1).cast_signed()).cast_unsigned())
}

/// A place among sorted results: linear between the middles of the steps.
#[derive(Clone, Copy)]
struct Rank {
    below: usize,
    share: f64,
}

impl Rank {
    fn of(p: f64, count: usize) -> Rank {
        #[expect(clippy::cast_precision_loss, reason = "at most 4 096 points")]
        let position = (count as f64).mul_add(p, -0.5).max(0.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within 0 and the length")]
        let below = (libm::floor(position) as usize).min(count - 1);
        Rank { below, share: position - libm::floor(position) }
    }

    /// From keys from which the `before` lowest are left out; puts them in another order.
    fn take(self, keys: &mut [i64], before: usize) -> f64 {
        let (_, a, above) = keys.select_nth_unstable(self.below - before);
        let a = *a;
        self.at(number(a), number(above.iter().copied().min().unwrap_or(a)))
    }

    /// Between the results at the place and above it.
    fn at(self, a: f64, b: f64) -> f64 {
        if !a.is_finite() || !b.is_finite() || a.total_cmp(&b).is_eq() {
            return if self.share < 0.5 { a } else { b };
        }
        a + self.share * (b - a)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(values: impl IntoIterator<Item = f64>) -> Drawn {
        let mut drawn = Drawn::with_capacity(0);
        drawn.extend(|all| all.extend(values));
        drawn
    }

    /// Of every kind of result the quick way, where it answers, says what all in order say.
    #[test]
    fn samples_and_order_agree() {
        let step = |i: u32| f64::from(i.wrapping_mul(2_654_435_761) >> 8) / f64::from(1_u32 << 24);
        let kinds: [fn(f64) -> f64; 5] = [
            |u| u,
            |u| libm::exp(9.0 * u),
            |u| -1.0 / u,
            |u| libm::floor(20.0 * u),
            |u| if u < 0.3 { f64::NAN } else { u },
        ];
        let mut quick = 0;
        for kind in kinds {
            for count in [256, 1024] {
                let mut drawn = drawn((1..=count).map(|i| kind(step(i))));
                let mut sorted: Vec<f64> = (1..=4 * count).map(|i| kind(step(i))).collect();
                drawn.percentiles();
                drawn.extend(|all| all.extend(&sorted[count as usize..]));
                sorted.sort_by(f64::total_cmp);
                let [x05, x50, x95] = PARTS.map(|p| {
                    let rank = Rank::of(p, sorted.len());
                    rank.at(sorted[rank.below], sorted[rank.below + 1])
                });
                let all = Percentiles { x05, x50, x95 };
                quick += usize::from(drawn.windows.as_ref().is_some_and(|windows| drawn.within(windows).is_some()));
                let same = |p: Percentiles| {
                    [(p.x05, all.x05), (p.x50, all.x50), (p.x95, all.x95)].iter().all(|(a, b)| a.total_cmp(b).is_eq())
                };
                assert!(same(drawn.percentiles()), "{count}");
            }
        }
        assert!(quick >= 3, "{quick}");
    }
}
