//! Inception of partial discharge in an air gap beside solid insulation.

use core::f64::consts::SQRT_2;

use super::paschen::{Gas, Law};
use super::solve::LAST;
use super::{Answer, not_negative, number, positive};
use crate::quantity::{FieldStrength, Length, Pressure, Temperature, Voltage};

/// The shape of the gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gap {
    /// Of one width.
    Flat,
    /// Tapering to nothing, as at the edge of a lap.
    Wedge,
}

/// When discharge begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inception {
    /// The peak voltage across the whole stack.
    pub voltage: Voltage,
    /// The gap that discharges first.
    pub worst_gap: Length,
}

card! {
    INCEPTION, inception_card = "pd-inception", "Voltage at which discharge begins in an air gap in series with solid insulation";
    equation: "V = V(g)(1 + (Σ t/ε)/g); V(g) by gap-breakdown, held at its minimum left of it, above 0.1 mm the lower of its two forms; wedge: the least over 0 < g ≤ gap";
    units: "t and g in m, ε relative, without unit; V in V, peak";
    valid: "an air gap; not one filled with liquid or cured resin; flat layers, a clean surface without charge left on it";
    bound INCEPTION_GAP: "gap", LENGTH, 0.001 to 10 "mm", "common practice, no source";
    source: "gap in series with a solid, failing at its Paschen voltage (any text on high voltage engineering)", "laws of the gap: see gap-breakdown and gap-breakdown-uniform";
}

card! {
    FILLED, filled_card = "filled-wedge", "Voltage at which what fills a lap wedge bears its own strength, at the thin edge of the wedge";
    equation: "Û = √2 Ef εf Σ t/ε; for steady direct voltage √2 Ef Σ t ρ/ρf";
    units: "Û in V, peak; strength Ef in V/m, root mean square; Σ t/ε of equivalent-gap in m; ε relative, ρ in ohm m; f filler";
    valid: "a wedge that is filled without voids; at its thin edge the filler adds nothing to the layers";
    source: "layered-field, with the field in the filler at its strength";
}

/// The peak voltage of a filler of that strength, beside solids worth `length` of it.
///
/// # Errors
/// A negative strength or length, or numbers too large to compute with.
#[doc = filled_card!()]
pub fn filled(strength: FieldStrength, length: Length) -> Answer<Voltage> {
    let rms = not_negative(strength.si(), "strength")? * SQRT_2;
    number(rms * not_negative(length.si(), "length")?, "length").map(Voltage::from_si)
}

/// Above this gap the measured even-field form is read as well.
const TENTH: f64 = 1e-4;

/// The inception voltage of a gap beside solid insulation worth `solid` of vacuum
/// ([`super::layers::equivalent_gap`]); `solid` may be zero, a bare gap.
///
/// # Errors
/// A gap, pressure or temperature that is not above zero, a negative solid, or numbers too large to
/// compute with.
#[doc = inception_card!()]
pub fn inception(
    gas: Gas,
    solid: Length,
    gap: Length,
    pressure: Pressure,
    temperature: Temperature,
    shape: Gap,
) -> Answer<Inception> {
    let law = Law::new(gas, pressure, temperature)?;
    let solid = not_negative(solid.si(), "solid")?;
    let width = positive(gap.si(), "gap")?;
    let (lowest, least_gap) = law.lowest;
    let across = |g: f64| -> f64 {
        let held = if g <= least_gap { lowest } else { law.townsend(g).unwrap_or(f64::INFINITY) };
        let gap_voltage = if g > TENTH { held.min(law.uniform(g)) } else { held };
        gap_voltage * (1.0 + solid / g)
    };
    let at = |g: f64| (g, across(g));
    let mut worst = match shape {
        Gap::Flat => at(width),
        // Left of the minimum the held voltage only rises as the gap narrows.
        Gap::Wedge => at(worst_by_townsend(&law, solid).clamp(least_gap.min(width), width)),
    };
    // The lower of two forms is least where one of them is.
    let beyond = TENTH * (1.0 + 1e-9);
    if shape == Gap::Wedge && width > beyond {
        let other = at(worst_by_uniform(&law, solid).clamp(beyond, width));
        if other.1 < worst.1 {
            worst = other;
        }
    }
    let (worst, voltage) = worst;
    Ok(Inception {
        voltage: Voltage::from_si(number(voltage, "gap")?),
        worst_gap: Length::from_si(number(worst, "gap")?),
    })
}

/// The worst gap of a wedge by Townsend's form: where `u = A pd/ln(1 + 1/γ)` meets `u(ln u − 1) = s`,
/// with `s` the same multiple of the solid; `w = ln u − 1` solves `w eʷ = s/e`.
fn worst_by_townsend(law: &Law, solid: f64) -> f64 {
    use core::f64::consts::E;
    let scale = law.scale();
    let product = scale * solid / E;
    // To within 2 %; one step leaves the fourth power of that, where the voltage is flat.
    let order = libm::log1p(product);
    let near = order * (1.0 - libm::log1p(order) / (2.0 + order));
    if near <= f64::MIN_POSITIVE {
        return E / scale;
    }
    let off = libm::log(product / near) - near;
    let whole = 2.0 * (1.0 + near) * (1.0 + near + 2.0 / 3.0 * off);
    let w = near + near * (off / (1.0 + near) * (whole - off) / (whole - 2.0 * off));
    E * product / w / scale
}

/// The worst gap by the even-field form `a x + b √x`: the one positive root of a cubic in √g.
fn worst_by_uniform(law: &Law, solid: f64) -> f64 {
    let (a, b) = law.uniform;
    let half = b / (2.0 * a);
    // r³ + half r² = half S, from above.
    let mut r = libm::cbrt(half * solid);
    for _ in 0..60 {
        let step = (r * r * (r + half) - half * solid) / (r * (3.0 * r + 2.0 * half));
        if !step.is_finite() {
            break;
        }
        r -= step;
        if libm::fabs(step) <= LAST * r {
            break;
        }
    }
    r * r
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts(solid: f64, gap: f64, shape: Gap) -> Inception {
        inception(
            Gas::AIR,
            Length::from_si(solid),
            Length::from_si(gap),
            Pressure::from_si(101_325.0),
            Temperature::from_si(293.15),
            shape,
        )
        .unwrap()
    }

    /// Recomputed with another minimiser: 0.25 mm of permittivity 3.3.
    #[test]
    fn the_worst_gap_of_a_wedge_lies_inside_it() {
        let solid = 0.25e-3 / 3.3;
        assert!((volts(solid, 25e-6, Gap::Flat).voltage.si() - 1_535.245_077_488).abs() < 1e-6);
        let wedge = volts(solid, 180e-6, Gap::Wedge);
        assert!((wedge.voltage.si() - 1_387.793_486_38).abs() < 1e-5);
        assert!((wedge.worst_gap.si() - 50.03e-6).abs() < 0.05e-6);
    }

    #[test]
    fn a_wedge_is_never_better_than_any_gap_in_it() {
        for solid in [0.0, 1e-6, 1e-5, 1e-4, 1e-3] {
            for width in [1e-6, 7e-6, 3e-5, 9.9e-5, 1.01e-4, 2e-4, 1e-3, 1e-2] {
                let wedge = volts(solid, width, Gap::Wedge).voltage;
                for i in 1..=400 {
                    let flat = volts(solid, width * f64::from(i) / 400.0, Gap::Flat).voltage;
                    assert!(wedge.si() <= flat.si() * (1.0 + 1e-9), "{solid} {width} {i}");
                }
            }
        }
    }
}
