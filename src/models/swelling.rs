//! Equilibrium swelling of a crosslinked polymer in a liquid.
//!
//! With a χ that rises with the polymer fraction the equation may have three roots; the highest
//! is the state that a dry polymer reaches. It is found by scanning down from the dry side over a
//! table of the terms that depend on the polymer fraction alone, then polished.

use std::hint::select_unpredictable;
use std::sync::LazyLock;

use super::affinity::Chi;
use super::solve::{least, root};
use super::{Answer, Refusal, not_negative, positive};
use crate::quantity::{MolarDensity, MolarVolume};

/// How the network's junctions move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// With the body.
    Affine,
    /// Freely, four chains to a junction.
    Phantom,
}

/// What the body around leaves free.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Constraint {
    /// All three directions.
    Free,
    /// Only the thickness: the backing holds length and width.
    Sheet,
}

/// A crosslinked polymer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Network {
    /// Elastic chains per volume; zero for none.
    pub crosslinks: MolarDensity,
    /// How the junctions move.
    pub form: Form,
    /// What is left free.
    pub constraint: Constraint,
}

/// The state that a polymer reaches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swelling {
    /// Polymer by volume; 0 in a solution.
    pub polymer_fraction: f64,
    /// Swollen over dry volume, which in a sheet is the ratio of thicknesses; none in a solution.
    pub ratio: Option<f64>,
    /// True if nothing holds the polymer together.
    pub dissolves: bool,
}

impl Swelling {
    const SOLUTION: Swelling = Swelling { polymer_fraction: 0.0, ratio: None, dissolves: true };

    fn gel(polymer_fraction: f64) -> Swelling {
        Swelling { polymer_fraction, ratio: Some(1.0 / polymer_fraction), dissolves: false }
    }
}

card! {
    SWELLING, swelling_card = "swelling", "Equilibrium swelling of a crosslinked polymer, free or held by a backing";
    equation: "ln(1−v) + v + χ(v)v² + elastic = ln a; elastic: affine V1ρx(v^⅓ − v/2), phantom ½V1ρx v^⅓; in a sheet 1/v stands for v^⅓; ratio 1/v; the root of highest v";
    units: "v polymer fraction by volume, a activity, χ and ratio without unit; V1 in m3/mol, crosslinks ρx in mol/m3";
    valid: "amorphous polymers above their glass transition; without crosslinks and with χ ≤ ½ at v → 0 the polymer dissolves, else v is that of the gel phase beside pure liquid";
    bound FRACTION_RANGE: "polymer fraction", FRACTION, 0.05 to 1, "chains short of their full length: common practice, no source";
    bound CROSSLINK_RANGE: "crosslink density", MOLAR_DENSITY, 0 to 0.001 "mol/cm3", "Gaussian chains between crosslinks: common practice, no source";
    source: "Flory and Rehner, J. Chem. Phys. 11 (1943) 521 (equation from memory)", "thickness only: the same free energy with the swelling in one direction, derived";
}

/// The liquid that a polymer takes up at equilibrium.
///
/// # Errors
/// A molar volume that is not above zero, a negative crosslink density, an activity outside 0 to 1
/// (0 excepted: dry), or numbers that are not finite.
#[doc = swelling_card!()]
pub fn equilibrium(network: Network, molar_volume: MolarVolume, chi: &Chi, activity: f64) -> Answer<Swelling> {
    let volume = positive(molar_volume.si(), "molar-volume")?;
    let crosslinks = not_negative(network.crosslinks.si(), "crosslink-density")?;
    if !chi.is_number() {
        return Err(Refusal { input: "chi", needed: "a number", remedy: "check χ" });
    }
    if !(0.0..=1.0).contains(&activity) {
        return Err(Refusal {
            input: "activity",
            needed: "an activity from 0 to 1",
            remedy: "write 1 for the liquid itself",
        });
    }
    if activity == 0.0 {
        return Ok(Swelling::gel(1.0));
    }
    let balance = Balance {
        chi,
        log_activity: libm::log(activity),
        elastic: volume * crosslinks,
        form: network.form,
        constraint: network.constraint,
    };
    Ok(balance.highest_root())
}

/// What depends on the polymer fraction alone.
#[derive(Clone, Copy)]
struct Terms {
    v: f64,
    /// 1/v
    inverse: f64,
    /// 1/(1−v)
    dryness: f64,
    /// ln(1−v) + v
    mixing: f64,
    /// v^⅓
    cube_root: f64,
}

impl Terms {
    fn at(v: f64) -> Terms {
        Terms { cube_root: libm::cbrt(v), ..Terms::in_a_sheet(v) }
    }

    /// Without the root, which a sheet does not need and which is dear.
    fn in_a_sheet(v: f64) -> Terms {
        Terms { v, inverse: 1.0 / v, dryness: 1.0 / (1.0 - v), mixing: mixing(v), cube_root: f64::NAN }
    }
}

/// ln(1−v) + v, without the loss of digits at small v.
fn mixing(v: f64) -> f64 {
    if v > 0.02 {
        return libm::log1p(-v) + v;
    }
    let tail = 1.0 / 9.0;
    let sum = [8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0].iter().fold(tail, |sum, n| sum * v + 1.0 / n);
    -v * v * sum
}

const SMALLEST: f64 = 1e-6;

/// The table, rising: close together in proportion near 0 and near 1, even between.
static TABLE: LazyLock<Vec<Terms>> = LazyLock::new(|| {
    const EDGE: f64 = 0.02;
    const TAIL: u32 = 48;
    const MIDDLE: u32 = 416;
    let ratio = |i: u32| libm::pow(EDGE / SMALLEST, f64::from(i) / f64::from(TAIL));
    let low = (0..TAIL).map(|i| SMALLEST * ratio(i));
    let middle = (0..=MIDDLE).map(|i| EDGE + (1.0 - 2.0 * EDGE) * f64::from(i) / f64::from(MIDDLE));
    let high = (0..TAIL).rev().map(|i| 1.0 - SMALLEST * ratio(i));
    low.chain(middle).chain(high).map(Terms::at).collect()
});

/// Points of the table from one that is looked at to the next.
const STRIDE: usize = 8;
/// Of Halley's steps the one, relative to the nearer end, after which none is left to be won.
const POLISHED: f64 = 1e-5;

struct Balance<'a> {
    chi: &'a Chi,
    log_activity: f64,
    /// V1ρx
    elastic: f64,
    form: Form,
    constraint: Constraint,
}

impl Balance<'_> {
    /// The elastic term over V1ρx, and its slope.
    fn elastic(&self, terms: &Terms) -> (f64, f64) {
        let v = terms.v;
        let (stretch, slope) = match self.constraint {
            Constraint::Free => (terms.cube_root, terms.cube_root / (3.0 * v)),
            Constraint::Sheet => (terms.inverse, -terms.inverse * terms.inverse),
        };
        match self.form {
            Form::Affine => (stretch - 0.5 * v, slope - 0.5),
            Form::Phantom => (0.5 * stretch, 0.5 * slope),
        }
    }

    /// The liquid's potential in the polymer over that outside: below zero, more comes in.
    fn value(&self, terms: &Terms) -> f64 {
        let v = terms.v;
        terms.mixing + self.chi.at(v) * v * v + self.elastic * self.elastic(terms).0 - self.log_activity
    }

    fn value_and_slope(&self, v: f64) -> (f64, f64) {
        let terms = match self.constraint {
            Constraint::Free => Terms::at(v),
            Constraint::Sheet => Terms::in_a_sheet(v),
        };
        let (chi, chi_slope) = self.chi.value_and_slope(v);
        let (stretch, stretch_slope) = self.elastic(&terms);
        let value = terms.mixing + chi * v * v + self.elastic * stretch - self.log_activity;
        let slope = -v * terms.dryness + (2.0 * chi + chi_slope * v) * v + self.elastic * stretch_slope;
        (value, slope)
    }

    /// Polished from the chord between a point below zero and one that is not, each with its value.
    fn between(&self, (below, low): (f64, f64), (above, high): (f64, f64)) -> Swelling {
        let chord = below + (above - below) * (low / (low - high));
        let start = if chord.is_finite() { chord } else { 0.5 * (below + above) };
        Swelling::gel(root(below, above, start, |v| self.value_and_slope(v)))
    }

    fn highest_root(&self) -> Swelling {
        let bare = self.elastic == 0.0 && self.log_activity == 0.0;
        if bare && self.chi.at(0.0) <= 0.5 {
            return Swelling::SOLUTION;
        }
        let sheet = self.elastic == 0.0 || self.constraint == Constraint::Sheet && self.form == Form::Affine;
        let found = if sheet { self.only_root() } else { None };
        found.map_or_else(|| self.scanned(), Swelling::gel)
    }

    /// The root in a sheet, where the value falls all the way from some point of the table up.
    ///
    /// On the lines of χ, from all polymer down: where a line's root lies below its piece, there is none in it.
    fn only_root(&self) -> Option<f64> {
        // The usual form is one line; to walk a list of it takes a quarter of the time again.
        if let Some(ends) = self.chi.straight() {
            return self.root_on(ends);
        }
        for ([from, to], ends) in self.chi.pieces() {
            let root = self.root_on(ends)?;
            if root >= from {
                return (root <= to).then_some(root);
            }
        }
        None
    }

    /// The root with a χ that is straight, between its values at no polymer and at all polymer.
    ///
    /// The slope over v is concave there, so it is below zero between two points if their tangents meet below zero,
    /// and above a point where it is below zero and falls.
    fn root_on(&self, (chi0, chi1): (f64, f64)) -> Option<f64> {
        let table = TABLE.as_slice();
        let rise = chi1 - chi0;
        let value = |Terms { v, inverse, mixing, .. }: Terms| {
            mixing + (chi0 + rise * v) * v * v + self.elastic * (inverse - 0.5 * v) - self.log_activity
        };
        let slope = |Terms { v, inverse: down, dryness: up, .. }: Terms| {
            let over_v = 2.0 * chi0 + 3.0 * rise * v - up - self.elastic * down * (down * down + 0.5);
            (v, over_v, 3.0 * rise - up * up + self.elastic * down * down * (3.0 * down * down + 0.5))
        };
        let last = table.len() - 1;
        if value(table[0]) < 0.0 || value(table[last]) >= 0.0 {
            return None;
        }
        let (mut above, mut below) = (0, last);
        while below - above > STRIDE {
            // Which half is as good as random, so that no branch hangs on it.
            let middle = usize::midpoint(above, below);
            let wet = value(table[middle]) >= 0.0;
            (above, below) = (select_unpredictable(wet, middle, above), select_unpredictable(wet, below, middle));
        }
        let mut here = slope(table[above]);
        let mut next = above;
        while here.1 < 0.0 && here.2 > 0.0 {
            next = (next + STRIDE).min(last);
            let there = slope(table[next]);
            let meet = (there.1 - here.1 + here.2 * here.0 - there.2 * there.0) / (here.2 - there.2);
            if there.2 >= here.2 || next == last || here.1 + here.2 * (meet - here.0) > 0.0 {
                return None;
            }
            here = there;
        }
        if here.1 >= 0.0 {
            return None;
        }
        // The fraction as a cubic of the value, by both values and slopes, is off by the fourth power of the step.
        let end = |i: usize| (table[i].v, value(table[i]), 1.0 / (table[i].v * slope(table[i]).1));
        let ((low, at_low, by_low), (high, at_high, by_high)) = (end(above), end(below));
        let share = at_low / (at_low - at_high);
        let (rest, whole) = (1.0 - share, at_high - at_low);
        let start = rest * rest * (1.0 + 2.0 * share) * low
            + share * share * (1.0 + 2.0 * rest) * high
            + share * rest * whole * (rest * by_low - share * by_high);
        let mut v = if start > low && start < high { start } else { f64::midpoint(low, high) };
        // Halley's step triples the digits that hold.
        for _ in 0..8 {
            let terms = Terms::in_a_sheet(v);
            let (_, over_v, bend) = slope(terms);
            let newton = value(terms) / (v * over_v);
            let step = newton / (1.0 - 0.5 * newton * (1.0 / v + bend / over_v));
            v -= step;
            if !(v > low && v < high) {
                break;
            }
            if libm::fabs(step) <= POLISHED * v.min(1.0 - v) {
                return Some(v);
            }
        }
        let at = |v: f64| {
            let terms = Terms::in_a_sheet(v);
            (value(terms), v * slope(terms).1)
        };
        Some(root(high, low, f64::midpoint(low, high), at))
    }

    /// The highest root, looked for from the top of the table down.
    fn scanned(&self) -> Swelling {
        let table = TABLE.as_slice();
        let (mut higher, mut highest) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for i in (0..table.len()).rev() {
            let here = self.value(&table[i]);
            if here >= 0.0 {
                return match table.get(i + 1) {
                    Some(next) => self.between((next.v, higher), (table[i].v, here)),
                    None => self.nearly_dry(),
                };
            }
            if let Some(found) = self.hump(i, here, higher, highest) {
                return found;
            }
            (highest, higher) = (higher, here);
        }
        self.nearly_dissolved()
    }

    /// A hump that stays below zero at three of the table's points, but may pass it between them.
    #[inline]
    fn hump(&self, i: usize, left: f64, top: f64, right: f64) -> Option<Swelling> {
        let hump = top >= left && top > right && right > f64::NEG_INFINITY;
        if !hump || top + 2.0 * (top - left).max(top - right) < 0.0 {
            return None;
        }
        let (low, high) = (TABLE.get(i)?.v, TABLE.get(i + 2)?.v);
        let (peak, depth) = least(low, high, |v| -self.value(&Terms::at(v)));
        (depth <= 0.0).then(|| self.between((high, right), (peak, -depth)))
    }

    /// Above the table: the equation solved for 1−v.
    fn nearly_dry(&self) -> Swelling {
        let mut liquid = 0.0;
        for _ in 0..40 {
            let v = 1.0 - liquid;
            let terms = Terms { mixing: 0.0, ..Terms::at(v) };
            let next =
                libm::exp(self.log_activity - v - self.chi.at(v) * v * v - self.elastic * self.elastic(&terms).0);
            let done = libm::fabs(next - liquid) <= 1e-17;
            liquid = next.clamp(0.0, SMALLEST);
            if done {
                break;
            }
        }
        Swelling::gel(1.0 - liquid)
    }

    /// Below the table.
    fn nearly_dissolved(&self) -> Swelling {
        let mut below = SMALLEST;
        while below > 1e-100 {
            let v = below * 1e-3;
            let value = self.value(&Terms::at(v));
            if value >= 0.0 {
                return self.between((below, f64::NAN), (v, value));
            }
            below = v;
        }
        Swelling::SOLUTION
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn solve(volume: f64, crosslinks: f64, chi: &Chi, form: Form, constraint: Constraint, activity: f64) -> Swelling {
        let network = Network { crosslinks: MolarDensity::from_si(crosslinks * 1e6), form, constraint };
        equilibrium(network, MolarVolume::from_si(volume * 1e-6), chi, activity).unwrap()
    }

    fn affine(volume: f64, crosslinks: f64, chi: f64) -> f64 {
        solve(volume, crosslinks, &Chi::constant(chi), Form::Affine, Constraint::Free, 1.0).polymer_fraction
    }

    /// Recomputed with another root finder, so a check of transcription, not of physics.
    #[test]
    fn roots_agree_with_another_solver() {
        assert!((affine(90.1, 1e-4, 1.0) - 0.689_728_276_074_789_8).abs() < 1e-12);
        assert!((affine(228.6, 1e-4, 0.8) - 0.566_035_715_774_7).abs() < 1e-12);
        let phantom = solve(106.3, 1e-4, &Chi::constant(0.39), Form::Phantom, Constraint::Free, 1.0);
        assert!((phantom.polymer_fraction - 0.130_518_613_748_069_97).abs() < 1e-12);
        let sheet = solve(106.3, 1e-4, &Chi::constant(0.39), Form::Affine, Constraint::Sheet, 1.0);
        assert!((sheet.polymer_fraction - 0.337_184_338_362_596_04).abs() < 1e-12);
    }

    #[test]
    fn every_root_satisfies_the_equation() {
        for constraint in [Constraint::Free, Constraint::Sheet] {
            for chi in [-1.0, 0.0, 0.3, 0.49, 0.51, 0.8, 1.5, 4.0, 9.0] {
                for crosslinks in [0.0, 1e-9, 1e-6, 1e-4, 1e-2] {
                    for activity in [1.0, 0.999, 0.5, 0.01] {
                        let chi = Chi::constant(chi);
                        let found = solve(100.0, crosslinks, &chi, Form::Affine, constraint, activity);
                        if found.dissolves {
                            continue;
                        }
                        let balance = Balance {
                            chi: &chi,
                            log_activity: libm::log(activity),
                            elastic: 1e-4 * crosslinks * 1e6,
                            form: Form::Affine,
                            constraint,
                        };
                        let v = found.polymer_fraction;
                        let (value, slope) = balance.value_and_slope(v);
                        assert!(value.abs() <= 1e-12 * v.max(1e-3) * slope.abs().max(1.0), "{v} {value} {slope}");
                    }
                }
            }
        }
    }

    /// χ that rises steeply: a dilute, a middle and a concentrated root.
    #[test]
    fn of_three_roots_the_highest_is_taken() {
        let chi = Chi::mixed(0.3, 1.3);
        let found = solve(100.0, 1e-5, &chi, Form::Affine, Constraint::Free, 1.0).polymer_fraction;
        let network =
            Balance { chi: &chi, log_activity: 0.0, elastic: 1e-3, form: Form::Affine, constraint: Constraint::Free };
        let mut signs = 0;
        let mut last = -1.0;
        for i in (1..20_000).rev() {
            let value = network.value(&Terms::at(f64::from(i) / 20_000.0));
            if value * last < 0.0 {
                signs += 1;
                if signs == 1 {
                    assert!((f64::from(i) / 20_000.0 - found).abs() < 1e-4);
                }
            }
            last = value;
        }
        assert_eq!(signs, 3);
    }

    /// Two ways to the highest root of a sheet: by the one root that its shape allows, piece by piece of χ, and by looking
    /// from the top of the table down.
    #[test]
    fn the_only_root_is_the_highest_that_a_scan_finds() {
        let (mut found, mut asked) = (0, 0);
        for first in [0.2, 0.38, 0.45, 0.6, 1.0, 2.5] {
            for last in [0.1, 0.4, 0.55, 0.9, 1.3, 4.0] {
                let bent = [(0.06, first), (0.16, last)].to_vec();
                let through = [(0.0, first), (0.25, 0.5), (0.6, last), (0.9, first)].to_vec();
                for chi in [Chi::mixed(first, last), Chi::through(&bent).unwrap(), Chi::through(&through).unwrap()] {
                    for elastic in [0.0, 1e-7, 1e-5, 3e-4, 1e-3, 4e-3, 2e-2, 0.3] {
                        for activity in [1.0_f64, 0.98, 0.6] {
                            let balance = Balance {
                                chi: &chi,
                                log_activity: libm::log(activity),
                                elastic,
                                form: Form::Affine,
                                constraint: Constraint::Sheet,
                            };
                            let scanned = balance.scanned().polymer_fraction;
                            asked += 1;
                            let Some(only) = balance.only_root() else { continue };
                            found += 1;
                            let apart = (only - scanned).abs() / scanned.min(1.0 - scanned);
                            assert!(apart < 1e-11, "{chi:?} {elastic} {activity}: {only} {scanned}");
                        }
                    }
                }
            }
        }
        assert!(5 * found > 4 * asked, "{found} of {asked}");
    }

    /// Near the χ at which the highest pair of roots appears, they may lie closer together than the
    /// table's points.
    #[test]
    fn a_pair_of_close_roots_is_not_stepped_over() {
        let solve = |chi1: f64| {
            solve(100.0, 1e-5, &Chi::mixed(0.3, chi1), Form::Affine, Constraint::Free, 1.0).polymer_fraction
        };
        let (mut without, mut with) = (1.0, 1.3);
        for _ in 0..60 {
            let middle = 0.5 * (without + with);
            if solve(middle) < 0.3 { without = middle } else { with = middle }
        }
        let chi = Chi::mixed(0.3, with);
        let balance =
            Balance { chi: &chi, log_activity: 0.0, elastic: 1e-3, form: Form::Affine, constraint: Constraint::Free };
        let (peak, depth) = least(0.3, 0.8, |v| -balance.value(&Terms::at(v)));
        assert!(depth.abs() < 1e-12, "at {peak} the hump still rises {} above zero", -depth);
    }

    #[test]
    fn without_crosslinks_chi_decides() {
        let bare = |chi: f64| solve(100.0, 0.0, &Chi::constant(chi), Form::Affine, Constraint::Free, 1.0);
        assert!(bare(0.35).dissolves && bare(0.5).dissolves);
        assert_eq!(bare(0.35).ratio, None);
        // Near the critical point the gel phase follows 3(χ − ½).
        let near = bare(0.5 + 1e-4).polymer_fraction;
        assert!((near / 3e-4 - 1.0).abs() < 1e-3, "{near}");
        let nearer = bare(0.5 + 1e-8).polymer_fraction;
        assert!((nearer / 3e-8 - 1.0).abs() < 1e-5, "{nearer}");
        assert!(bare(1.0).polymer_fraction > 0.5);
    }

    #[test]
    fn extremes_have_limits() {
        assert!((affine(100.0, 1e-4, 300.0) - 1.0).abs() < 1e-15);
        assert!((affine(100.0, 1e6, 0.3) - 1.0).abs() < 1e-15);
        assert!(affine(100.0, 1e-30, 0.3) < 1e-10);
        let dry = solve(100.0, 0.0, &Chi::constant(0.3), Form::Affine, Constraint::Free, 0.0);
        assert!((dry.polymer_fraction - 1.0).abs() < 1e-15);
    }
}
