//! What is certain of a result whose percentiles stand on few points.

use crate::catalogue::{Criterion, Limits};
use crate::measure::{Answer, Cell};
use crate::spread::{Asked, FINE, Percentiles};

use super::{Standing, Verdict, margin, verdict};

/// By what ratio the ends of a result may be off: 0.07 in ln. Nearer to a limit a cell is worked out again over the
/// fine table.
const OFF: f64 = 1.072_508_181_254_216_7;

/// What a few points tell.
#[derive(Clone, Copy)]
pub(super) struct Glance {
    /// None where a limit is near.
    pub(super) verdict: Option<Verdict>,
    /// What the margin is at the least and at the most.
    pub(super) margin: [f64; 2],
}

impl Glance {
    /// Of a result and what was asked for of its cell, for one kind of the tapes that share it.
    pub(super) fn of(
        criterion: &Criterion,
        limits: Option<Limits>,
        (cell, kin): (&Cell, usize),
        value: Answer,
        asked: Asked,
    ) -> Glance {
        let ends = ends(value, cell.points_of(kin), asked);
        let [worst, best] = ends.map(|value| verdict(criterion, limits, (cell, kin), value));
        let margin = ends.map(|value| margin(criterion, limits, value).order());
        Glance { verdict: (worst == best).then_some(worst.0), margin }
    }

    pub(super) fn is_out(self) -> bool {
        self.verdict == Some(Verdict::Unsuitable)
    }

    /// Whether more would change nothing for who stands so.
    pub(super) fn is_enough(self, standing: &Standing) -> bool {
        self.is_out() || self.verdict.is_some() && self.margin[0] >= standing.margin
    }
}

/// A result at its worst and at its best: with its ends as far apart as they may be, and as near. On all points nothing
/// is off.
fn ends(value: Answer, points: usize, asked: Asked) -> [Answer; 2] {
    let Answer::Number(p) = value else { return [value; 2] };
    if points >= FINE || p.x05.total_cmp(&p.x95).is_eq() {
        return [value; 2];
    }
    let with = |x05, x95| Answer::Number(Percentiles { x05, x95, ..p });
    let (mut low, mut high) = (OFF, OFF);
    // One that stands on 256 points however wide it is may be off by a share of its width: as far as any was seen off.
    // Many have a long tail below, where the points lie further apart.
    if asked == Asked::Sides {
        if p.x05 <= 0.0 {
            return [with(f64::NEG_INFINITY, f64::INFINITY), with(f64::INFINITY, f64::NEG_INFINITY)];
        }
        let width = libm::log(p.x95 / p.x05);
        low = low.max(libm::exp(0.17_f64.mul_add(width, 0.03)));
        high = high.max(libm::exp(0.09_f64.mul_add(width, 0.03)));
    }
    let moved = |x: f64, by: f64| x + libm::fabs(x) * (by - 1.0);
    [with(moved(p.x05, 1.0 / low), moved(p.x95, high)), with(moved(p.x05, low), moved(p.x95, 1.0 / high))]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spread::POINTS;

    fn number(x05: f64, x95: f64) -> Answer {
        Answer::Number(Percentiles { x05, x50: x05, x95 })
    }

    /// Off by nothing an end that has no bound stays one: no number minus itself.
    #[test]
    fn on_all_points_a_result_stands() {
        for value in [number(1.0, f64::INFINITY), number(0.0, 2.0), number(-1.0, 3.0), Answer::Unknown] {
            assert_eq!(ends(value, FINE, Asked::Ends), [value; 2]);
        }
    }

    /// What is wide is off by more, and what reaches to zero by anything.
    #[test]
    fn on_few_points_the_ends_move() {
        let span = |asked, x05| match ends(number(x05, 8.0), POINTS, asked) {
            [Answer::Number(worst), Answer::Number(best)] => (best.x05 - worst.x05, worst.x95 - best.x95),
            _ => (f64::NAN, f64::NAN),
        };
        let (usual, few) = (span(Asked::Ends, 1.0), span(Asked::Sides, 1.0));
        assert!(few.0 > usual.0 && usual.0 > 0.1 && few.1 > usual.1 && usual.1 > 1.0, "{usual:?} {few:?}");
        assert_eq!(span(Asked::Sides, 0.0), (f64::INFINITY, f64::INFINITY));
    }
}
