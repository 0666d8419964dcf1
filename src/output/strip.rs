//! A margin with its spread as a bar on a line: the position is the margin.

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::Criterion;
use crate::judge::{Finding, Reading};

/// The widest ratio that a margin picture shows on each side of the outer limit.
const WIDEST: f64 = 5.0;

/// A margin with its spread on a log scale: −1 is a fifth, 0 the outer limit, 1 five times.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Strip {
    /// The unfavourable end of the spread.
    pub lo: f64,
    /// The median; none where only a bound is known.
    pub mid: Option<f64>,
    /// The favourable end.
    pub hi: f64,
    /// Where the limit lies: inside it is suitable.
    pub limit: Option<f64>,
    /// True if the spread goes on to the left.
    pub below: bool,
    /// True if it goes on to the right.
    pub above: bool,
    /// True if the measure can give no more than the favourable end.
    pub full: bool,
}

/// Where a margin lies on the scale.
fn position(margin: f64) -> f64 {
    if margin.is_nan() || margin <= 0.0 {
        return -1.0;
    }
    rounded((libm::log(margin) / libm::log(WIDEST)).clamp(-1.0, 1.0))
}

fn rounded(x: f64) -> f64 {
    libm::round(x * 1e4) / 1e4
}

/// The strip of a finding that has a number and limits.
#[must_use]
pub fn strip(rule: &Criterion, finding: &Finding) -> Option<Strip> {
    let (p, limits) = (finding.value?, finding.limits?);
    let higher = rule.higher_is_better;
    let inside = |x: f64| if higher { x - limits.outer } else { limits.outer - x };
    let margin = |x: f64| match rule.scale {
        "difference" => 1.0 + inside(x) / 10.0,
        "order" => 1.0 + inside(x),
        _ if higher && limits.outer > 0.0 => x / limits.outer,
        _ if !higher && x > 0.0 => limits.outer / x,
        _ => f64::INFINITY,
    };
    let (worse, better) = if higher { (p.x05, p.x95) } else { (p.x95, p.x05) };
    let (lo, hi) = (margin(worse), margin(better));
    // A bound is drawn from where it lies to the end that is not known.
    let (open_below, open_above) = (finding.reading == Reading::AtMost, finding.reading == Reading::AtLeast);
    Some(Strip {
        lo: if open_below { -1.0 } else { position(lo) },
        mid: Some(position(margin(p.x50))).filter(|_| !open_below && !open_above),
        hi: if open_above { 1.0 } else { position(hi) },
        limit: Some(margin(limits.limit)).filter(|m| m.is_finite() && *m > 0.0).map(position),
        below: open_below || lo < 1.0 / WIDEST,
        above: open_above || hi > WIDEST,
        full: finding.reading == Reading::Full,
    })
}

#[cfg(test)]
mod tests {
    use super::position;

    #[test]
    fn the_outer_limit_lies_in_the_middle() {
        assert!(position(1.0).abs() < 1e-12);
        assert!((position(5.0) - 1.0).abs() < 1e-12);
        assert!((position(0.2) + 1.0).abs() < 1e-12);
        assert!((position(f64::INFINITY) - 1.0).abs() < 1e-12);
        assert!((position(-3.0) + 1.0).abs() < 1e-12);
        assert!((position(2.0) + position(0.5)).abs() < 1e-12);
    }
}
