//! The geometry and the forces of a lapped winding.

use core::f64::consts::PI;

use super::{Answer, Refusal, finite, not_negative, number, positive};
use crate::quantity::{ForcePerLength, Length, Pressure};

/// A helical lap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lap {
    /// The width of the tape.
    pub width: Length,
    /// The share of the width that each turn lays over the last.
    pub overlap: f64,
    /// How often the length is wrapped.
    pub passes: u32,
}

impl Lap {
    /// Width and the share that is not overlapped.
    fn checked(self) -> Answer<(f64, f64)> {
        let width = positive(self.width.si(), "width")?;
        if !(0.0..1.0).contains(&self.overlap) {
            return Err(Refusal {
                input: "overlap",
                needed: "an overlap from 0 up to, but not, 1",
                remedy: "write a share of the width, such as `0.5` or `50 %`",
            });
        }
        if self.passes == 0 {
            return Err(Refusal {
                input: "passes",
                needed: "one pass or more",
                remedy: "write a whole number, such as `2`",
            });
        }
        Ok((width, 1.0 - self.overlap))
    }
}

/// What a helical lap takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Helix {
    /// The advance of one turn.
    pub pitch: Length,
    /// Turns, over all passes.
    pub turns: f64,
    /// Tape, over all passes.
    pub tape: Length,
    /// Layers on the average.
    pub layers: f64,
}

card! {
    HELICAL, helical_card = "helical-wrap", "Pitch, turns, tape and layers of a helical lap";
    equation: "pitch = w(1 − f), turns N = passes·length/pitch, tape = N √(C² + pitch²), layers = passes/(1 − f), layers-minimum = passes·floor(1/(1 − f + δ/w) + 1e-9)";
    units: "width w, circumference C, length, lap tolerance δ in m; overlap f and layers without unit";
    valid: "a straight bar of constant section; ends, waste and the growth of the circumference not counted";
    source: "geometry of a helical lap";
}

/// Pitch, and turns and tape over all passes, at one circumference.
///
/// # Errors
/// A width or circumference that is not above zero, an overlap outside 0 to 1, no pass, a negative
/// length, or numbers too large to compute with.
#[doc = helical_card!()]
pub fn helix(lap: Lap, circumference: Length, length: Length) -> Answer<Helix> {
    let (width, step) = lap.checked()?;
    let passes = f64::from(lap.passes);
    let pitch = positive(width * step, "width")?;
    let around = positive(circumference.si(), "circumference")?;
    let turns = finite(passes * not_negative(length.si(), "length")? / pitch, "length")?;
    let tape = number(turns * libm::hypot(around, pitch), "length")?;
    Ok(Helix { pitch: Length::from_si(pitch), turns, tape: Length::from_si(tape), layers: passes / step })
}

card! {
    THINNEST, thinnest_card = "layers-minimum", "Layers at the thinnest place of a helical lap";
    equation: "layers = passes·floor(1/(1 − f + δ/w) + 1e-9)";
    units: "width w and lap tolerance δ in m; overlap f and layers without unit";
    valid: "passes whose thin places may lie on top of each other; butt laps leave none at the joint";
    source: "geometry of a helical lap";
}

/// How many layers there are at the thinnest place, when each turn may slip by `tolerance`.
///
/// # Errors
/// As [`helix`], or a negative tolerance.
#[doc = thinnest_card!()]
pub fn layers_minimum(lap: Lap, tolerance: Length) -> Answer<f64> {
    let (width, step) = lap.checked()?;
    let slip = not_negative(tolerance.si(), "lap-tolerance")? / width;
    Ok(f64::from(lap.passes) * libm::floor(1.0 / (step + slip) + 1e-9))
}

card! {
    GROWTH, growth_card = "grown-circumference", "Circumference after so many layers";
    equation: "C = C0 + 2πt·layers";
    units: "C, C0 and thickness t in m; layers without unit";
    valid: "a section without hollows, layers that lie tight";
    source: "geometry";
}

/// The circumference with `layers` of `thickness` on it.
///
/// # Errors
/// A negative input, or numbers too large to compute with.
#[doc = growth_card!()]
pub fn grown(circumference: Length, thickness: Length, layers: f64) -> Answer<Length> {
    let growth = 2.0 * PI * not_negative(thickness.si(), "thickness")? * not_negative(layers, "layers")?;
    finite(not_negative(circumference.si(), "circumference")? + growth, "thickness").map(Length::from_si)
}

/// A wound roll.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roll {
    /// The tape on it.
    pub length: Length,
    /// Its turns.
    pub turns: f64,
}

card! {
    ROLL, roll_card = "roll-length", "Tape and turns on a roll";
    equation: "L = π(D² − d²)/(4t), turns = (D − d)/(2t)";
    units: "outer diameter D, core d, thickness t, length L in m; turns without unit";
    valid: "a tight roll; thickness as wound, adhesive and liner included";
    source: "area of the wound ring";
}

/// What is on a roll.
///
/// # Errors
/// A thickness that is not above zero, or a core that is negative or larger than the roll.
#[doc = roll_card!()]
pub fn roll(outer: Length, core: Length, thickness: Length) -> Answer<Roll> {
    let (outer, core) = (not_negative(outer.si(), "outer")?, not_negative(core.si(), "core")?);
    let thickness = positive(thickness.si(), "thickness")?;
    if core > outer {
        return Err(Refusal {
            input: "core",
            needed: "a core no larger than the roll",
            remedy: "write the diameters, not the radii, and the larger as `outer`",
        });
    }
    let turns = number((outer - core) / (2.0 * thickness), "thickness")?;
    let length = number(turns * PI * (0.5 * outer + 0.5 * core), "outer")?;
    Ok(Roll { length: Length::from_si(length), turns })
}

card! {
    BEND, bend_card = "bend-strain", "Stretch that a helical lap needs on a bent bar";
    equation: "strain = w²/(8Rr), r = C/(2π)";
    units: "width w, bend radius R, bar radius r, circumference C in m; strain without unit";
    valid: "a width small against both radii";
    source: "geometry of a strip on a torus (derived)";
}

/// The strain of a helical lap on a bend, in a bar of a circumference.
///
/// # Errors
/// A radius or circumference that is not above zero, or a negative width.
#[doc = bend_card!()]
pub fn bend_strain(width: Length, bend: Length, circumference: Length) -> Answer<f64> {
    let width = not_negative(width.si(), "width")?;
    let radius = positive(circumference.si(), "circumference")? / (2.0 * PI);
    number(width / positive(bend.si(), "bend_radius")? * (width / radius) / 8.0, "width")
}

card! {
    STEER, steer_card = "steer-strain", "Stretch of a tape's outer edge that is steered in its own plane";
    equation: "strain = w/(2R)";
    units: "width w and radius R in m; strain without unit";
    valid: "a width small against the radius";
    source: "geometry";
}

/// The strain at the outer edge of a tape led along a curve in its own plane.
///
/// # Errors
/// A radius that is not above zero, or a negative width.
#[doc = steer_card!()]
pub fn steer_strain(width: Length, bend: Length) -> Answer<f64> {
    number(not_negative(width.si(), "width")? / positive(bend.si(), "bend_radius")? / 2.0, "width")
}

card! {
    SHEAR, shear_card = "lap-shear", "Shear stress that holds the last lap against the winding tension";
    equation: "τ = T/ℓ";
    units: "tension T per width in N/m, bonded length ℓ in m, τ in Pa";
    valid: "a stress spread evenly over the bonded length, on the average: the end of a stiff tape bears more; the last turn lies on the one below over one circumference, which is ℓ";
    source: "equilibrium of the last lap";
}

/// The shear stress in the last lap.
///
/// # Errors
/// A lap that is not above zero, or a negative tension.
#[doc = shear_card!()]
pub fn lap_shear(tension: ForcePerLength, lap: Length) -> Answer<Pressure> {
    number(not_negative(tension.si(), "tension")? / positive(lap.si(), "lap")?, "lap").map(Pressure::from_si)
}

card! {
    SHEAR_LAG, shear_lag_card = "shear-lag", "Peak over mean shear stress below a band whose end is held by its adhesive";
    equation: "peak = βℓ coth(βℓ), β = √(G/(E h t)), transfer = 1/β";
    units: "E, G in Pa; thickness h of the backing, t of the adhesive and bonded length ℓ in m; peak without unit";
    valid: "a linear adhesive on a base that does not give, at rest; an adhesive that flows evens the stress out";
    source: "Volkersen, Luftfahrtforschung 15 (1938) 41 (from memory), one of the two rigid";
}

/// A band and the adhesive that holds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Modulus of the backing, along.
    pub modulus: Pressure,
    /// Its thickness.
    pub thickness: Length,
    /// Shear modulus of the adhesive.
    pub shear_modulus: Pressure,
    /// Its thickness.
    pub adhesive: Length,
}

/// How unevenly a bonded length bears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShearLag {
    /// Peak over mean stress.
    pub peak: f64,
    /// The length at the end over which most of the force goes over.
    pub transfer: Length,
}

/// How unevenly a bonded length bears the force of a band.
///
/// # Errors
/// A modulus, thickness or length that is not above zero.
#[doc = shear_lag_card!()]
pub fn shear_lag(band: Band, length: Length) -> Answer<ShearLag> {
    let stiff = positive(band.modulus.si(), "modulus")? * positive(band.thickness.si(), "thickness")?;
    let soft = positive(band.adhesive.si(), "adhesive")? / positive(band.shear_modulus.si(), "shear-modulus")?;
    let transfer = libm::sqrt(positive(stiff * soft, "modulus")?);
    let lengths = positive(length.si(), "length")? / transfer;
    let peak = number(lengths / libm::tanh(lengths), "length")?;
    Ok(ShearLag { peak, transfer: Length::from_si(transfer) })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A band cut into short pieces, each held by a spring of its adhesive, solved from the far end: arithmetic of
    /// its own beside the closed form.
    #[test]
    fn a_chain_of_springs_bears_as_the_closed_form_says() {
        let (modulus, thickness, shear_modulus, adhesive) = (9e9, 1.3e-4, 1.2e5, 5e-5);
        let band = Band {
            modulus: Pressure::from_si(modulus),
            thickness: Length::from_si(thickness),
            shear_modulus: Pressure::from_si(shear_modulus),
            adhesive: Length::from_si(adhesive),
        };
        for (length, pieces) in [(1e-3, 2_000), (0.025, 20_000), (0.2, 40_000)] {
            let piece = length / f64::from(pieces);
            let (mut moved, mut force, mut first) = (1e-12, 0.0, 0.0);
            for _ in 0..pieces {
                first = shear_modulus * moved / adhesive;
                force += first * piece;
                moved += force * piece / (modulus * thickness);
            }
            let found = shear_lag(band, Length::from_si(length)).unwrap();
            assert!((found.peak / (first * length / force) - 1.0).abs() < 2e-3, "{length}: {found:?}");
        }
        let short = shear_lag(band, Length::from_si(1e-6)).unwrap();
        assert!((short.peak - 1.0).abs() < 1e-6 && (short.transfer.si() / 0.022_079 - 1.0).abs() < 1e-3, "{short:?}");
    }

    fn lap(overlap: f64, passes: u32) -> Lap {
        Lap { width: Length::from_si(0.02), overlap, passes }
    }

    #[test]
    fn half_lap_gives_two_layers() {
        let wrap = helix(lap(0.5, 1), Length::from_si(0.06), Length::from_si(0.3)).unwrap();
        assert!((wrap.pitch.si() - 0.01).abs() < 1e-15);
        assert!((wrap.turns - 30.0).abs() < 1e-12 && (wrap.layers - 2.0).abs() < 1e-12);
        assert!((wrap.tape.si() - 1.824_828_759_089_465_8).abs() < 1e-12);
    }

    #[test]
    fn the_thinnest_place_counts_slip() {
        let least = |overlap, passes, slip| layers_minimum(lap(overlap, passes), Length::from_si(slip)).unwrap();
        let same = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
        same(least(0.5, 1, 0.0), 2.0);
        same(least(0.5, 1, 0.5e-3), 1.0);
        same(least(0.5, 2, 0.5e-3), 2.0);
        same(least(2.0 / 3.0, 1, 0.0), 3.0);
        same(least(0.0, 1, 0.5e-3), 0.0);
        assert!(layers_minimum(lap(1.0, 1), Length::from_si(0.0)).is_err());
    }

    #[test]
    fn a_roll_is_the_area_of_its_ring() {
        let wound = roll(Length::from_si(0.12), Length::from_si(0.0762), Length::from_si(65e-6)).unwrap();
        assert!((wound.length.si() / 103.836_403_708_396_55 - 1.0).abs() < 1e-12);
        assert!(roll(Length::from_si(0.05), Length::from_si(0.076), Length::from_si(65e-6)).is_err());
    }

    #[test]
    fn forces_and_strains() {
        let strain =
            bend_strain(Length::from_si(0.02), Length::from_si(0.1), Length::from_si(2.0 * PI * 0.01)).unwrap();
        assert!((strain - 0.05).abs() < 1e-12);
        assert!((steer_strain(Length::from_si(0.02), Length::from_si(0.5)).unwrap() - 0.02).abs() < 1e-15);
        let ring = grown(Length::from_si(0.06), Length::from_si(1e-4), 2.0).unwrap();
        assert!((ring.si() - 0.06 - 4e-4 * PI).abs() < 1e-15);
    }
}
