//! Roots and minima of smooth functions of one number.

/// Of Newton's steps the one, relative to where it leads, after which no other is made.
pub(super) const LAST: f64 = 1e-9;

/// The root between a point where `f` is below zero and one where it is not; `f` gives value and
/// slope. Newton's step, halved intervals where it would leave the bracket.
///
/// A step doubles the digits that hold, so that after one of [`LAST`] none is left to be won.
pub(super) fn root(mut below: f64, mut above: f64, start: f64, f: impl Fn(f64) -> (f64, f64)) -> f64 {
    let mut x = start;
    for _ in 0..200 {
        let (value, slope) = f(x);
        if value == 0.0 {
            return x;
        }
        if value < 0.0 {
            below = x;
        } else {
            above = x;
        }
        let newton = x - value / slope;
        let inside = newton > below.min(above) && newton < below.max(above);
        let next = if inside { newton } else { 0.5 * (below + above) };
        let last = if inside { LAST } else { 2e-15 };
        if libm::fabs(next - x) <= last * libm::fabs(x) {
            return next;
        }
        x = next;
    }
    x
}

/// Where `f` is least between `low` and `high`, and its value there, by golden section.
pub(super) fn least(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> (f64, f64) {
    const SECTION: f64 = 0.618_033_988_749_894_8;
    let mut left = high - SECTION * (high - low);
    let mut right = low + SECTION * (high - low);
    let (mut at_left, mut at_right) = (f(left), f(right));
    for _ in 0..32 {
        if at_left <= at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - SECTION * (high - low);
            at_left = f(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + SECTION * (high - low);
            at_right = f(right);
        }
    }
    if at_left <= at_right { (left, at_left) } else { (right, at_right) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_a_root_and_a_minimum() {
        let x = root(0.0, 2.0, 1.0, |x| (x * x - 2.0, 2.0 * x));
        assert!((x - libm::sqrt(2.0)).abs() < 1e-15);
        let (at, value) = least(0.0, 3.0, |x| (x - 1.0) * (x - 1.0) + 5.0);
        assert!((at - 1.0).abs() < 1e-6 && (value - 5.0).abs() < 1e-12);
    }
}
