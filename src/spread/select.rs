//! Percentiles of results without sorting them.
//!
//! The first results are sorted. Of more, only those count that lie between two of the first about a
//! percentile (the sampling of Floyd and Rivest, Communications of the ACM 18 (1975) 165); where that
//! misses, all are put in order as far as needed. Both give the same.

use super::{FINE, POINTS, Percentiles};

/// Results, and the first of them sorted.
pub(super) struct Drawn {
    values: Vec<f64>,
    sample: Vec<f64>,
}

impl Drawn {
    pub(super) fn with_capacity(capacity: usize) -> Drawn {
        Drawn { values: Vec::with_capacity(capacity), sample: Vec::new() }
    }

    pub(super) fn len(&self) -> usize {
        self.values.len()
    }

    pub(super) fn extend(&mut self, more: impl FnOnce(&mut Vec<f64>)) {
        more(&mut self.values);
        if self.sample.is_empty() {
            let mut keys: Vec<i64> = self.values.iter().take(POINTS).map(|x| key(*x)).collect();
            keys.sort_unstable();
            self.sample = keys.into_iter().map(number).collect();
        }
    }

    /// The 5th, 50th and 95th percentile.
    pub(super) fn percentiles(&self) -> Percentiles {
        if self.len() == self.sample.len() {
            let [x05, x50, x95] = PARTS.map(|p| Rank::of(p, self.len()).in_sorted(&self.sample));
            return Percentiles { x05, x50, x95 };
        }
        self.between_samples().unwrap_or_else(|| self.in_order())
    }

    /// From what lies between samples about each percentile, if all of them are there.
    fn between_samples(&self) -> Option<Percentiles> {
        // How many places of 256 the samples may stand off, most about the middle: the table is even.
        const OFF: [usize; 3] = [4, 8, 4];
        let last = self.sample.len() - 1;
        let windows = [0, 1, 2].map(|nth| {
            let place = Rank::of(PARTS[nth], self.sample.len()).below;
            (self.sample[place.saturating_sub(OFF[nth])], self.sample[(place + 1 + OFF[nth]).min(last)])
        });
        let [low, middle, high] = windows;
        let apart = low.1 < middle.0 && middle.1 < high.0 && high.1.is_finite() && low.0.is_finite();
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
        let near = self.within(&windows);
        let from = windows.map(|(low, _)| near.iter().filter(|x| **x < low).count());
        let mut places = [(0, 0.0); 3];
        for nth in 0..3 {
            let rank = Rank::of(PARTS[nth], self.len());
            let place = from[nth] + rank.below.checked_sub(below[nth] as usize)?;
            let end = from.get(nth + 1).copied().unwrap_or(near.len());
            if place + 1 >= end {
                return None;
            }
            places[nth] = (place, rank.share);
        }
        Some(in_halves(near.into_iter().map(key).collect(), places.map(|(below, share)| Rank { below, share })))
    }

    /// What lies within some windows, in the order of the draws.
    fn within(&self, windows: &[(f64, f64); 3]) -> Vec<f64> {
        let mut near = [0.0; FINE];
        let mut count: usize = 0;
        // Each is written, and counts only if it is within: a branch here would be guessed wrong too often.
        for x in &self.values {
            near[count % FINE] = *x;
            let within = windows.iter().fold(false, |any, (low, high)| any | ((x >= low) & (x <= high)));
            count = count.wrapping_add(usize::from(within));
        }
        near[..count.min(FINE)].to_vec()
    }

    /// From all of them.
    fn in_order(&self) -> Percentiles {
        in_halves(self.values.iter().map(|x| key(*x)).collect(), PARTS.map(|p| Rank::of(p, self.len())))
    }
}

/// The results at three rising places: the middle one first, then one in each half.
fn in_halves(mut keys: Vec<i64>, [low, middle, high]: [Rank; 3]) -> Percentiles {
    let x50 = middle.take(&mut keys, 0);
    let (lower, upper) = keys.split_at_mut(middle.below + 1);
    Percentiles { x05: low.take(lower, 0), x50, x95: high.take(upper, middle.below + 1) }
}

/// A whole number that rises with a float, in the order of [`f64::total_cmp`].
fn key(x: f64) -> i64 {
    let bits = x.to_bits().cast_signed();
    bits ^ ((bits >> 63).cast_unsigned() >> 1).cast_signed()
}

/// The float of a [`key`].
fn number(key: i64) -> f64 {
    f64::from_bits((key ^ ((key >> 63).cast_unsigned() >> 1).cast_signed()).cast_unsigned())
}

/// The percentiles that are asked for.
const PARTS: [f64; 3] = [0.05, 0.5, 0.95];

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

    fn in_sorted(self, values: &[f64]) -> f64 {
        self.at(values[self.below], values[(self.below + 1).min(values.len() - 1)])
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
            for count in [1024, 4096] {
                let drawn = drawn((1..=count).map(|i| kind(step(i))));
                let all = drawn.in_order();
                let same = |p: Percentiles| {
                    [(p.x05, all.x05), (p.x50, all.x50), (p.x95, all.x95)].iter().all(|(a, b)| a.total_cmp(b).is_eq())
                };
                quick += usize::from(drawn.between_samples().is_some());
                assert!(same(drawn.percentiles()), "{count}");
            }
        }
        assert!(quick >= 5, "{quick}");
    }
}
