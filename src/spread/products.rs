//! Kindred products of columns: the products themselves, and those that lean to another column.

use std::sync::Arc;

use super::Percentiles;
use super::column::{Column, PARTS, leaning};
use super::select::{Asked, Rank, apart, key, ranks};
use super::sums::{Sums, steps_over};

/// Products of columns and a number, each times `1 − lean + lean · by` for some leans.
pub(super) struct Products<'c> {
    columns: &'c [Arc<Column>],
    exact: f64,
    by: Option<&'c Column>,
    leans: &'c [f64],
    /// The last part of the table that is in.
    part: usize,
    sums: Option<Sums>,
}

/// The products that may be at each percentile.
pub(super) struct Places {
    low: Near,
    /// None where it is not asked for.
    middle: Option<Near>,
    high: Near,
}

/// The products that may be in one place.
struct Near {
    rank: Rank,
    /// How many lie below them all.
    before: usize,
    some: Multiplied,
}

/// Products at some points, and what they may lean on there.
struct Multiplied {
    products: Vec<f64>,
    by: Vec<f64>,
}

/// Steps by which leaning products may pass one another and are still looked for together.
const NARROW: i32 = 10;

impl<'c> Products<'c> {
    pub(super) fn new(columns: &'c [Arc<Column>], exact: f64, (by, leans): (Option<&'c Column>, &'c [f64])) -> Self {
        let sums = (exact.is_normal() && exact > 0.0).then(Sums::default);
        Products { columns, exact, by, leans, part: 0, sums }
    }

    /// Whether products of this lean are better looked for alone.
    pub(super) fn is_wide(by: Option<&Column>, lean: f64) -> bool {
        by.is_some_and(|by| reach(by.range(0), lean).is_none_or(|steps| steps > NARROW))
    }

    /// The leans.
    pub(super) fn leans(&self) -> &'c [f64] {
        self.leans
    }

    /// The lean of those that are looked for alone, whose sums have it.
    fn alone(&self) -> Option<(&'c Column, f64)> {
        match (self.by, self.leans) {
            (Some(by), [lean]) if Self::is_wide(Some(by), *lean) => Some((by, *lean)),
            _ => None,
        }
    }

    /// Takes in the points of a part, the next at each call.
    pub(super) fn extend(&mut self, part: usize) {
        self.part = part;
        let alone = self.alone();
        self.sums = self.sums.take().and_then(|mut sums| {
            sums.more(PARTS[part].end);
            for column in self.columns {
                sums.add(column.steps(part)?)?;
            }
            if let Some((by, lean)) = alone {
                let steps = by.leaning_steps(part, lean)?;
                sums.add(&steps)?;
            }
            Some(sums)
        });
    }

    /// How far apart, in ln, the products about the ends lie at the most, of the first points. What many lean on by
    /// so little is left out, so that none hangs on the others.
    pub(super) fn apart(&self) -> f64 {
        self.sums.as_ref().map_or_else(
            || {
                let lean = self.alone().map_or(0.0, |(_, lean)| lean);
                apart(&mut self.at(&PARTS[0].clone().collect::<Vec<_>>()).keys(lean))
            },
            Sums::apart,
        )
    }

    /// What lies at the percentiles.
    pub(super) fn places(&self, asked: Asked) -> Places {
        let most = self.leans.iter().copied().fold(0.0, f64::max);
        let range = self.by.filter(|_| self.alone().is_none()).map(|by| by.range(self.part));
        let reach = range.map_or(Some(0), |range| reach(range, most));
        let sums = self.sums.as_ref().zip(reach);
        let count = PARTS[self.part].end;
        let near = |rank: Rank| {
            let found = sums.and_then(|(sums, reach)| sums.points(rank, sums.about(rank), reach));
            let (before, points) = found.unwrap_or_else(|| (0, (0..count).collect()));
            Near { rank, before, some: self.at(&points) }
        };
        let [low, middle, high] = ranks(count);
        Places { low: near(low), middle: (asked == Asked::All).then(|| near(middle)), high: near(high) }
    }

    /// The products at some points, in their order.
    fn at(&self, points: &[usize]) -> Multiplied {
        let mut products = vec![self.exact; points.len()];
        let mut by = vec![1.0; points.len()];
        let mut from = 0;
        for (number, range) in PARTS.iter().enumerate().take(self.part + 1) {
            let to = from + points[from..].partition_point(|point| *point < range.end);
            let at = || points[from..to].iter().map(|point| point - range.start);
            for column in self.columns {
                let values = column.values(number);
                products[from..to].iter_mut().zip(at()).for_each(|(product, point)| *product *= values[point]);
            }
            if let Some(column) = self.by {
                let values = column.values(number);
                by[from..to].iter_mut().zip(at()).for_each(|(by, point)| *by = values[point]);
            }
            from = to;
        }
        Multiplied { products, by }
    }
}

impl Places {
    /// The percentiles of the products of one lean.
    pub(super) fn leaning(&self, lean: f64) -> Percentiles {
        let x05 = self.low.leaning(lean);
        let x50 = self.middle.as_ref().map_or(x05, |near| near.leaning(lean));
        Percentiles { x05, x50, x95: self.high.leaning(lean) }
    }
}

impl Near {
    fn leaning(&self, lean: f64) -> f64 {
        self.rank.among(&mut self.some.keys(lean), self.before)
    }
}

impl Multiplied {
    /// The keys of the products of one lean.
    fn keys(&self, lean: f64) -> Vec<i64> {
        self.products.iter().zip(&self.by).map(|(x, by)| key(x * leaning(lean, *by))).collect()
    }
}

/// By how many steps products that lean on numbers within a range can pass one another; none where they may turn.
fn reach((least, most): (f64, f64), lean: f64) -> Option<i32> {
    let (low, high) = (leaning(lean, least), leaning(lean, most));
    if low > 0.0 { steps_over(high / low) } else { None }
}

#[cfg(test)]
mod tests {
    use super::super::select;
    use super::*;

    fn percentiles(results: &[f64], asked: Asked) -> Percentiles {
        select::percentiles(&mut results.iter().map(|x| key(*x)).collect::<Vec<_>>(), asked)
    }

    fn column(value: impl Fn(u32) -> f64 + Send + Sync + 'static) -> Arc<Column> {
        let draw = move |part: usize| {
            let point = |point: usize| value(u32::try_from(point).unwrap());
            PARTS[part].clone().map(point).collect()
        };
        Arc::new(Column::new(draw))
    }

    fn same(p: Percentiles, q: Percentiles) -> bool {
        [(p.x05, q.x05), (p.x50, q.x50), (p.x95, q.x95)].iter().all(|(a, b)| a.total_cmp(b).is_eq())
    }

    /// Of every kind of factor the quick way says what all products in order say, whatever they lean on.
    #[test]
    fn counting_and_order_agree() {
        let step = |i: u32, by: u32| f64::from(i.wrapping_mul(by) >> 8) / f64::from(1_u32 << 24);
        let u = move |i| step(i, 2_654_435_761);
        let kinds: [fn(f64) -> f64; 9] = [
            |u| u + 1e-9,
            |u| libm::exp(9.0 * u),
            |u| libm::exp(60.0 * u),
            |u| 1.0 - libm::exp(-40.0 * u),
            |u| if u < 0.3 { 0.0 } else { u },
            |u| libm::floor(20.0 * u),
            |u| if u < 0.04 { 1e-200 } else { u },
            |u| if u < 0.3 { f64::NAN } else { u },
            |u| u - 0.01,
        ];
        let mut quick = 0;
        for kind in kinds {
            let factors = [column(move |i| kind(u(i))), column(move |i| libm::exp(step(i, 1_597_334_677)))];
            let by = column(move |i| libm::exp(3.0 * step(i, 1_597_334_677) - 1.5));
            for leans in [vec![0.0, 0.01, 0.002], vec![0.4], vec![1.0, 0.3]] {
                let mut products = Products::new(&factors, 3.0, (Some(&by), &leans));
                for part in 0..PARTS.len() {
                    products.extend(part);
                    for asked in [Asked::All, Asked::Ends] {
                        let places = products.places(asked);
                        quick += usize::from(places.low.some.products.len() < 60);
                        for lean in &leans {
                            let product = |nth: usize, i: usize| {
                                let range = PARTS[nth].clone();
                                let [a, b, by] =
                                    [&factors[0], &factors[1], &by].map(|c| c.values(nth)[i - range.start]);
                                3.0 * a * b * leaning(*lean, by)
                            };
                            let all: Vec<f64> =
                                (0..=part).flat_map(|nth| PARTS[nth].clone().map(move |i| product(nth, i))).collect();
                            assert!(same(places.leaning(*lean), percentiles(&all, asked)), "{lean} of {part}");
                        }
                    }
                }
            }
        }
        assert!(quick > 40, "{quick}");
    }

    /// A percentile is the value between two places of the sorted results.
    #[test]
    fn percentiles_are_those_of_sorted_results() {
        let results: Vec<f64> = (0..256_u32).map(|i| f64::from(i.wrapping_mul(2_654_435_761) >> 8) - 4e6).collect();
        let mut sorted = results.clone();
        sorted.sort_by(f64::total_cmp);
        let at = |below: usize, share: f64| sorted[below] + share * (sorted[below + 1] - sorted[below]);
        let found = percentiles(&results, Asked::All);
        // Of 256 the places are 12.3, 127.5 and 242.7.
        for (x, below, share) in [(found.x05, 12, 0.3), (found.x50, 127, 0.5), (found.x95, 242, 0.7)] {
            assert!((x - at(below, share)).abs() < 1e-6, "{below}");
        }
    }
}
