//! Percentiles of results without sorting them.
//!
//! They are put in order only as far as the percentiles need. A table four times as long is searched only in
//! its tails, whose ends the first quarter tells (the sampling of Floyd and Rivest, Communications of the ACM
//! 18 (1975) 165); where that misses, all are put in order after all. Both give the same.
//!
//! Kindred results, which lean to one side, keep the order of the points but for a few: what can have come to
//! a percentile lies near the one of the results themselves, and only that is looked at.

use super::{FINE, Percentiles};

/// Which percentiles are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// All three.
    All,
    /// Those at the ends; the middle one is one of them then.
    Ends,
}

/// Results in the order of the draws.
pub(super) struct Drawn {
    values: Vec<f64>,
    /// Up to which and from which value on the ends of more results will lie, almost always.
    tails: Option<(f64, f64)>,
}

impl Drawn {
    pub(super) fn with_capacity(capacity: usize) -> Drawn {
        Drawn { values: Vec::with_capacity(capacity), tails: None }
    }

    pub(super) fn extend(&mut self, more: impl FnOnce(&mut Vec<f64>)) {
        more(&mut self.values);
    }

    /// Where the percentiles lie, and those of kindred results that differ by no more than a ratio of `reach`.
    pub(super) fn places(&mut self, asked: Asked, reach: f64) -> Places<'_> {
        let tails = self.tails.take().filter(|_| asked == Asked::Ends);
        let in_tails = tails.and_then(|(low, high)| {
            let points = outside(&self.values, low * reach, high / reach);
            let found = self.order(&points, asked)?;
            (found.low.1 <= low && found.high.0 >= high).then_some((points, found))
        });
        let (points, found) = in_tails.unwrap_or_else(|| {
            let all: Vec<u32> = (0..).take(self.values.len()).collect();
            let found = self.order(&all, asked).unwrap_or(Found::NOTHING);
            (all, found)
        });
        self.tails = found.tails;
        Places { values: &self.values, points, found, reach }
    }

    /// The results at the percentiles, from points that leave out none but between the ends.
    fn order(&self, points: &[u32], asked: Asked) -> Option<Found> {
        let count = self.values.len();
        let mut keys: Vec<i64> = points.iter().map(|point| key(self.values[*point as usize])).collect();
        let [low, middle, high] = PARTS.map(|p| Rank::of(p, count));
        let low_pair = low.pair(&mut keys, 0)?;
        let before = low.below + 1 + count - points.len();
        let above = keys.get_mut(low.below + 1..)?;
        let middle_pair = if asked == Asked::All { Some(middle.pair(above, before)?) } else { None };
        let high_pair = high.pair(above, before)?;
        let tails = if count < FINE { tails(&mut above[..high.below - before], count) } else { None };
        Some(Found { low: low_pair, middle: middle_pair, high: high_pair, tails })
    }
}

/// The values up to and from which the ends of more results will lie: from keys between the ends of so many,
/// three standard deviations further in, were the draws not more even than chance.
fn tails(between: &mut [i64], count: usize) -> Option<(f64, f64)> {
    #[expect(clippy::cast_precision_loss, reason = "at most 4 096 points")]
    let off = 3.0 * libm::sqrt(PARTS[0] * (1.0 - PARTS[0]) * count as f64);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small whole number")]
    let off = off as usize;
    let last = between.len().checked_sub(off + 1).filter(|last| *last > off)?;
    let (_, high, _) = between.select_nth_unstable(last);
    let high = number(*high);
    let (_, low, _) = between[..last].select_nth_unstable(off);
    Some((number(*low), high))
}

/// The points whose results are not strictly between two values; those that are no number too.
#[expect(clippy::neg_cmp_op_on_partial_ord, reason = "what is no number is on neither side")]
#[expect(clippy::needless_bitwise_bool, reason = "a branch would be guessed wrong too often")]
fn outside(values: &[f64], low: f64, high: f64) -> Vec<u32> {
    keep(values.len(), (0..).zip(values), |(point, x)| (point, !(*x > low) | !(*x < high)))
}

/// What is made of the items, of those that are to be kept. Each is written, and counts only if it is: a branch
/// would be guessed wrong too often.
fn keep<I, T: Clone + Default>(
    most: usize,
    items: impl Iterator<Item = I>,
    mut make: impl FnMut(I) -> (T, bool),
) -> Vec<T> {
    let mut kept = vec![T::default(); most];
    let mut count: usize = 0;
    for item in items {
        let (made, is_kept) = make(item);
        kept[count] = made;
        count = count.wrapping_add(usize::from(is_kept));
    }
    kept.truncate(count);
    kept
}

/// The results at the places about each percentile.
struct Found {
    low: (f64, f64),
    middle: Option<(f64, f64)>,
    high: (f64, f64),
    tails: Option<(f64, f64)>,
}

impl Found {
    /// Of no results.
    const NOTHING: Found = Found { low: (f64::NAN, f64::NAN), middle: None, high: (f64::NAN, f64::NAN), tails: None };
}

/// Where the percentiles lie.
pub(super) struct Places<'v> {
    values: &'v [f64],
    points: Vec<u32>,
    found: Found,
    reach: f64,
}

impl Places<'_> {
    /// The percentiles of the results themselves.
    pub(super) fn percentiles(&self) -> Percentiles {
        let [low, middle, high] = PARTS.map(|p| Rank::of(p, self.values.len()));
        let at = |rank: Rank, (a, b): (f64, f64)| rank.at(a, b);
        let x05 = at(low, self.found.low);
        Percentiles { x05, x50: self.found.middle.map_or(x05, |pair| at(middle, pair)), x95: at(high, self.found.high) }
    }

    /// What kindred results hang on, which lean on numbers of the points within a range; the numbers come in
    /// pieces, each with the point at which it ends.
    pub(super) fn kin(&self, range: (f64, f64), by: &[(usize, &[f64])]) -> Kin {
        let count = self.values.len();
        // Below zero the order would turn, and what is no number has none: then all points may matter.
        let ordered = self.points.iter().all(|point| self.values[*point as usize] > 0.0);
        let all: Vec<u32> = (0..).take(if ordered { 0 } else { count }).collect();
        let points = if ordered { &self.points } else { &all };
        let range = if ordered { range } else { (0.0, f64::INFINITY) };
        let near = |(a, b): (f64, f64), omitted: usize| {
            let (lower, upper) = around((a, b), if ordered { self.reach } else { f64::INFINITY });
            let (mut before, mut near, mut start) = (omitted, Vec::new(), 0);
            for (end, by) in by {
                let here = start + points[start..].partition_point(|point| (*point as usize) < *end);
                let first = end - by.len();
                near.append(&mut keep(here - start, points[start..here].iter(), |point| {
                    let point = *point as usize;
                    let x = self.values[point];
                    before += usize::from(x < lower);
                    ((x, by[point - first]), is_near(x, lower, upper))
                }));
                start = here;
            }
            Near { before, at: (a, b), points: near }
        };
        Kin {
            ranks: PARTS.map(|p| Rank::of(p, count)),
            range,
            low: near(self.found.low, 0),
            middle: self.found.middle.map(|pair| near(pair, 0)),
            // The points that are left out lie between the ends.
            high: near(self.found.high, count - points.len()),
        }
    }
}

/// By which ratio results that lean on numbers within a range can pass one another; rounding is counted in.
pub(super) fn reach((least, most): (f64, f64), lean: f64) -> f64 {
    let reach = (1.0 - lean + lean * most) / (1.0 - lean + lean * least) * (1.0 + 1e-12);
    if reach >= 1.0 { reach } else { f64::INFINITY }
}

/// Between which values those lie that can come to a place between two.
fn around((a, b): (f64, f64), reach: f64) -> (f64, f64) {
    if reach < f64::INFINITY { (a / reach, b * reach) } else { (f64::NEG_INFINITY, f64::INFINITY) }
}

/// Whether a result is between two others; what is no number may be anywhere.
#[expect(clippy::needless_bitwise_bool, reason = "a branch would be guessed wrong too often")]
#[expect(clippy::neg_cmp_op_on_partial_ord, reason = "what is no number is on neither side")]
fn is_near(x: f64, lower: f64, upper: f64) -> bool {
    !(x < lower) & !(x > upper)
}

/// The results that can come to a percentile, each with what it leans on.
struct Near {
    /// How many lie below them all.
    before: usize,
    /// Between which two the percentile of the results themselves lies.
    at: (f64, f64),
    points: Vec<(f64, f64)>,
}

/// What kindred results can have at their percentiles.
pub(super) struct Kin {
    ranks: [Rank; 3],
    range: (f64, f64),
    low: Near,
    middle: Option<Near>,
    high: Near,
}

impl Kin {
    /// The percentiles of the results times `1 − lean + lean · by`.
    pub(super) fn leaning(&self, lean: f64) -> Percentiles {
        let reach = reach(self.range, lean);
        let at = |rank: Rank, near: &Near| {
            let (lower, upper) = around(near.at, reach);
            let mut before = near.before;
            let mut keys = keep(near.points.len(), near.points.iter(), |(x, by)| {
                before += usize::from(*x < lower);
                (key(x * (1.0 - lean + lean * by)), is_near(*x, lower, upper))
            });
            rank.pair(&mut keys, before).map_or(f64::NAN, |(a, b)| rank.at(a, b))
        };
        let [low, middle, high] = self.ranks;
        let x05 = at(low, &self.low);
        let x50 = self.middle.as_ref().map_or(x05, |near| at(middle, near));
        Percentiles { x05, x50, x95: at(high, &self.high) }
    }
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

    /// The results at the place and above it, from keys from which the `before` lowest are left out, if they
    /// reach so far; puts them in another order.
    fn pair(self, keys: &mut [i64], before: usize) -> Option<(f64, f64)> {
        let place = self.below.checked_sub(before).filter(|place| *place < keys.len())?;
        let (_, a, above) = keys.select_nth_unstable(place);
        let a = *a;
        Some((number(a), number(above.iter().copied().min().unwrap_or(a))))
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

    fn same(p: Percentiles, q: Percentiles) -> bool {
        [(p.x05, q.x05), (p.x50, q.x50), (p.x95, q.x95)].iter().all(|(a, b)| a.total_cmp(b).is_eq())
    }

    /// All in order.
    fn sorted(mut values: Vec<f64>) -> Percentiles {
        values.sort_by(f64::total_cmp);
        let [x05, x50, x95] = PARTS.map(|p| {
            let rank = Rank::of(p, values.len());
            rank.at(values[rank.below], values[rank.below + 1])
        });
        Percentiles { x05, x50, x95 }
    }

    /// Of every kind of result the quick way, where it answers, says what all in order say, of itself and of
    /// what leans on another number.
    #[test]
    fn samples_and_order_agree() {
        let step = |i: u32, by: u32| f64::from(i.wrapping_mul(by) >> 8) / f64::from(1_u32 << 24);
        let u = |i| step(i, 2_654_435_761);
        let by = |i| libm::exp(step(i, 1_597_334_677) - 0.5);
        let kinds: [fn(f64) -> f64; 6] = [
            |u| u + 1e-9,
            |u| libm::exp(9.0 * u),
            |u| -1.0 / u,
            |u| libm::floor(20.0 * u),
            |u| if u < 0.3 { f64::NAN } else { u },
            |u| u - 0.01,
        ];
        let reach = libm::exp(1.0 + 1e-9);
        let mut quick = 0;
        for kind in kinds {
            for (asked, reach, leans) in [
                (Asked::All, reach, vec![0.0, 0.01, 0.4, 1.0]),
                (Asked::Ends, reach, vec![0.0, 0.3]),
                (Asked::Ends, 1.0, vec![0.0]),
            ] {
                let mut all = drawn([]);
                for part in [1..257, 257..1025, 1025..4097] {
                    all.extend(|values| values.extend(part.clone().map(|i| kind(u(i)))));
                    let places = all.places(asked, reach);
                    quick += usize::from(places.points.len() < places.values.len());
                    let numbers: Vec<f64> = (1..part.end).map(by).collect();
                    let kin = places.kin((libm::exp(-0.5), libm::exp(0.5)), &[(numbers.len(), &numbers)]);
                    for lean in leans.clone() {
                        let leaning = (1..part.end).map(|i| kind(u(i)) * (1.0 - lean + lean * by(i)));
                        let mut exact = sorted(leaning.collect());
                        if asked == Asked::Ends {
                            exact.x50 = exact.x05;
                        }
                        assert!(same(kin.leaning(lean), exact), "{lean} of {}", part.end);
                        assert!(lean > 0.0 || same(places.percentiles(), exact), "{}", part.end);
                    }
                }
            }
        }
        assert!(quick >= 10, "{quick}");
    }
}
