//! Percentiles of results, put in order only as far as they need.

use super::Percentiles;

/// Which percentiles are asked for; the last is the most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Asked {
    /// Those at the ends, and only as well as it takes to tell on which side of something far off they lie: by the fewest
    /// points.
    Sides,
    /// Those at the ends; the middle one is one of them then.
    Ends,
    /// All three.
    All,
}

/// The percentiles of keys in any order; puts them in another.
pub(super) fn percentiles(keys: &mut [i64], asked: Asked) -> Percentiles {
    let [low, middle, high] = ranks(keys.len());
    let mut before = 0;
    // Each place lies above those before it, and so do its keys.
    let mut next = |rank: Rank| {
        let x = rank.among(&mut keys[before..], before);
        before = rank.below + 1;
        x
    };
    let x05 = next(low);
    let x50 = if asked == Asked::All { next(middle) } else { x05 };
    Percentiles { x05, x50, x95: next(high) }
}

/// How many of the first points on either side of a percentile tell how far apart results lie about it.
const ABOUT: usize = 6;

/// Of the first points in any order those about the lower and the upper percentile, [`ABOUT`] below it and as many
/// above; puts them in another order.
pub(super) fn about_ends<T: Copy + Ord>(values: &mut [T]) -> [(T, T); 2] {
    let [low, _, high] = ranks(values.len());
    let above_low = low.below + 1 + ABOUT;
    let (least, above, rest) = values.select_nth_unstable(above_low);
    let (_, below, most) = rest.select_nth_unstable(high.below - ABOUT - above_low - 1);
    let (below_low, above_high) =
        (least.select_nth_unstable(low.below - ABOUT).1, most.select_nth_unstable(2 * ABOUT).1);
    [(*below_low, *above), (*below, *above_high)]
}

/// How far apart, in ln, the results about the ends lie at the most, of the keys of the first points.
pub(super) fn apart(keys: &mut [i64]) -> f64 {
    let apart = |(a, b)| if a == b { 0.0 } else { libm::fabs(libm::log(number(b) / number(a))) };
    about_ends(keys).map(apart).into_iter().fold(0.0, f64::max)
}

/// The places of the percentiles among so many results.
pub(super) fn ranks(count: usize) -> [Rank; 3] {
    [0.05, 0.5, 0.95].map(|p| Rank::of(p, count))
}

/// A whole number that rises with a float, in the order of [`f64::total_cmp`].
pub(super) fn key(x: f64) -> i64 {
    let bits = x.to_bits().cast_signed();
    bits ^ ((bits >> 63).cast_unsigned() >> 1).cast_signed()
}

/// The float of a [`key`].
fn number(key: i64) -> f64 {
    f64::from_bits((key ^ ((key >> 63).cast_unsigned() >> 1).cast_signed()).cast_unsigned())
}

/// A place among sorted results: linear between the middles of the steps.
#[derive(Clone, Copy)]
pub(super) struct Rank {
    /// How many results are below it.
    pub(super) below: usize,
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

    /// The result there, from keys from which the `before` lowest are left out; none that is a number if they do not
    /// reach so far. Puts them in another order.
    pub(super) fn among(self, keys: &mut [i64], before: usize) -> f64 {
        let Some(place) = self.below.checked_sub(before).filter(|place| *place < keys.len()) else { return f64::NAN };
        let (_, a, above) = keys.select_nth_unstable(place);
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
