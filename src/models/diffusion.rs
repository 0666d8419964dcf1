//! Diffusion into a sheet, and along a bond line from its edge.

use core::f64::consts::PI;

use super::solve::root;
use super::{Answer, GAS_CONSTANT, not_negative, number, positive, share};
use crate::quantity::{Diffusivity, Length, MolarEnergy, Temperature, Time};

/// Through how many faces a sheet takes up liquid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Faces {
    /// One; the other is closed.
    One,
    /// Both.
    Two,
}

card! {
    DIFFUSIVITY, diffusivity_card = "diffusivity", "Diffusivity at another temperature";
    equation: "D = D0 exp(−ED/R (1/T − 1/TD))";
    units: "D, D0 in m2/s; activation energy ED in J/mol; T and TD, where D0 was taken, in K; R in J/mol/K";
    valid: "one mechanism, no glass transition between the two temperatures";
    bound DIFFUSIVITY_SPAN: "distance from the measured temperature", DIFFERENCE, -60 to 60 "K", "common practice, no source";
    source: "Arrhenius form; Crank, The Mathematics of Diffusion, 2nd ed. 1975 (from memory)";
}

/// The diffusivity at `temperature`, from that at another.
///
/// # Errors
/// A temperature that is not above zero, or numbers too large to compute with.
#[doc = diffusivity_card!()]
pub fn diffusivity(
    reference: Diffusivity,
    at: Temperature,
    energy: MolarEnergy,
    temperature: Temperature,
) -> Answer<Diffusivity> {
    let inverse = 1.0 / positive(temperature.si(), "temperature")? - 1.0 / positive(at.si(), "at")?;
    let factor = libm::exp(-energy.si() / GAS_CONSTANT * inverse);
    number(reference.si() * factor, "energy").map(Diffusivity::from_si)
}

/// Dt/L², L the thickness between two open faces.
fn reduced_time(diffusivity: Diffusivity, thickness: Length, time: Time, faces: Faces) -> Answer<f64> {
    let length = depth(thickness, faces)?;
    let spread = not_negative(diffusivity.si(), "diffusivity")? * not_negative(time.si(), "time")?;
    number(spread / length / length, "time")
}

fn depth(thickness: Length, faces: Faces) -> Answer<f64> {
    let sides = match faces {
        Faces::One => 2.0,
        Faces::Two => 1.0,
    };
    Ok(sides * positive(thickness.si(), "thickness")?)
}

/// Where the two series change places; they agree there to 1e-12.
const SWITCH: f64 = 0.06;

/// Above this Dt/L² nothing that a float could hold is missing.
const FULL: f64 = 4.0;
/// Beyond this z, ierfc(z) is nothing beside 1.
const FAR: f64 = 6.5;

/// Uptake by the series for short times, at x = Dt/L².
fn early(x: f64) -> f64 {
    let root = libm::sqrt(x);
    let images: f64 = [(1.0, -1.0), (2.0, 1.0), (3.0, -1.0)]
        .iter()
        .map(|(n, sign)| (n / (2.0 * root), sign))
        .take_while(|(z, _)| *z < FAR)
        .map(|(z, sign)| sign * (libm::exp(-z * z) / libm::sqrt(PI) - z * libm::erfc(z)))
        .sum();
    4.0 * root / libm::sqrt(PI) * (1.0 + 2.0 * libm::sqrt(PI) * images)
}

/// What each term of the series for long times stands for at first: 8/(π² n²), n odd.
const SHARES: [f64; 5] = {
    let first = 8.0 / (PI * PI);
    [first, first / 9.0, first / 25.0, first / 49.0, first / 81.0]
};

/// What is still missing by the series for long times, and its slope in x.
fn missing(x: f64) -> (f64, f64) {
    // From one term to the next the exponent grows by 8n.
    let first = libm::exp(-PI * PI * x);
    let fourth = first * first * first * first;
    let eighth = fourth * fourth;
    let (mut sum, mut slope, mut decay, mut step) = (0.0, 0.0, first, eighth);
    for share in SHARES {
        sum += share * decay;
        slope -= 8.0 * decay;
        decay *= step;
        step *= eighth;
    }
    (sum, slope)
}

card! {
    UPTAKE, uptake_card = "sheet-uptake", "Share of its final uptake that a sheet has reached after a time";
    equation: "M/M∞ = 1 − (8/π²) Σ (2n+1)⁻² exp(−(2n+1)²π²x), x = Dt/L²; for small x 4√(x/π)(1 + 2√π Σ (−1)ⁿ ierfc(n/(2√x))); one face: L is twice the thickness";
    units: "D in m2/s, t in s, L in m; result without unit";
    valid: "a sheet much wider than thick, a constant diffusivity, a surface that is saturated at once";
    source: "Crank, The Mathematics of Diffusion, 2nd ed. 1975, ch. 4 (equations from memory)";
}

/// Uptake over final uptake.
///
/// # Errors
/// A thickness of zero, a negative diffusivity or time, or numbers too large to compute with.
#[doc = uptake_card!()]
pub fn sheet_uptake(diffusivity: Diffusivity, thickness: Length, time: Time, faces: Faces) -> Answer<f64> {
    let x = reduced_time(diffusivity, thickness, time, faces)?;
    let uptake = match x {
        0.0 => 0.0,
        x if x < SWITCH => early(x),
        x if x <= FULL => 1.0 - missing(x).0,
        _ => 1.0,
    };
    Ok(uptake.clamp(0.0, 1.0))
}

card! {
    TIME, time_card = "sheet-time", "Time until a sheet has reached a share of its final uptake";
    equation: "M/M∞ of sheet-uptake, solved for t; at one half Dt/L² = 0.0492";
    units: "D in m2/s, L in m, t in s; share without unit";
    valid: "a sheet much wider than thick, a constant diffusivity, a surface that is saturated at once; the whole of it takes for ever";
    source: "Crank, The Mathematics of Diffusion, 2nd ed. 1975, ch. 4 (equations from memory)";
}

/// When a share of the final uptake is reached; never, for the whole of it.
///
/// # Errors
/// A thickness or diffusivity of zero, or a share outside 0 to 1.
#[doc = time_card!()]
pub fn sheet_time(diffusivity: Diffusivity, thickness: Length, fraction: f64, faces: Faces) -> Answer<Time> {
    let fraction = share(fraction, "fraction")?;
    let diffusivity = positive(diffusivity.si(), "diffusivity")?;
    let length = depth(thickness, faces)?;
    let x = if fraction >= 1.0 { f64::INFINITY } else { reduced_time_at(fraction) };
    number(x / diffusivity * length * length, "diffusivity").map(Time::from_si)
}

/// The inverse of the uptake: Dt/L² at a share below one.
fn reduced_time_at(fraction: f64) -> f64 {
    let short = PI * fraction * fraction / 16.0;
    if fraction < 0.15 {
        // The first image is below 1e-12 of the first term here.
        return short;
    }
    // In the logarithm of what is missing the long series is nearly straight.
    let wanted = libm::log(1.0 - fraction);
    let long = (libm::log(8.0 / (PI * PI)) - wanted) / (PI * PI);
    if long > SWITCH {
        return root(0.5 * SWITCH, 4.0, long, |x| {
            let (left, slope) = missing(x);
            (wanted - libm::log(left), -slope / left)
        });
    }
    root(0.0, 2.0 * SWITCH, short, |x| {
        let (left, slope) = missing(x);
        (if x < SWITCH { early(x) } else { 1.0 - left } - fraction, -slope)
    })
}

card! {
    EDGE, edge_card = "edge-depth", "How far a liquid has come along a bond line from its edge";
    equation: "depth = √(4Dt)";
    units: "D in m2/s, t in s, depth in m";
    valid: "a bond line much longer than the depth, a constant diffusivity";
    source: "Crank, The Mathematics of Diffusion, 2nd ed. 1975, ch. 2: concentration erfc(1) = 16 % of that at the edge (from memory)";
}

/// The depth reached from an edge.
///
/// # Errors
/// A negative diffusivity or time, or numbers too large to compute with.
#[doc = edge_card!()]
pub fn edge_depth(diffusivity: Diffusivity, time: Time) -> Answer<Length> {
    let spread = not_negative(diffusivity.si(), "diffusivity")? * not_negative(time.si(), "time")?;
    number(2.0 * libm::sqrt(spread), "time").map(Length::from_si)
}

card! {
    LAP, lap_card = "lap-wetted", "Share of a lap that a liquid has come to";
    equation: "share = depth/lap, at most 1; through an open face M/M∞ of sheet-uptake, where that is more";
    units: "depth of edge-depth and lap in m; share without unit";
    valid: "what lies before the front is dry, what lies behind it wet";
    source: "the front of edge-depth; common practice, no source";
}

/// The share reached from the edge.
///
/// # Errors
/// A negative depth, or a lap that is not above zero.
#[doc = lap_card!()]
pub fn wetted(depth: Length, lap: Length) -> Answer<f64> {
    Ok((not_negative(depth.si(), "depth")? / positive(lap.si(), "lap")?).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn uptake(x: f64) -> f64 {
        sheet_uptake(Diffusivity::from_si(1.0), Length::from_si(1.0), Time::from_si(x), Faces::Two).unwrap()
    }

    fn time(fraction: f64) -> f64 {
        sheet_time(Diffusivity::from_si(1.0), Length::from_si(1.0), fraction, Faces::Two).unwrap().si()
    }

    #[test]
    fn both_series_agree_where_they_meet() {
        for x in [0.9 * SWITCH, SWITCH, 1.1 * SWITCH] {
            assert!((early(x) - (1.0 - missing(x).0)).abs() < 1e-12, "{x}");
        }
    }

    /// Source: Crank, The Mathematics of Diffusion, 2nd ed. 1975, ch. 4: half of the final uptake
    /// at Dt/L² = 0.049 (digits from memory).
    #[test]
    fn half_time() {
        assert!((time(0.5) - 0.049_18).abs() < 1e-5);
    }

    #[test]
    fn time_is_the_inverse_of_uptake() {
        for i in 1..1000 {
            let fraction = f64::from(i) / 1000.0;
            assert!((uptake(time(fraction)) - fraction).abs() < 1e-10, "{fraction}");
        }
        for rest in [1e-4, 1e-8, 1e-12] {
            let left = missing(time(1.0 - rest)).0;
            assert!((left / rest - 1.0).abs() < 1e-3, "{rest}");
        }
        assert!(time(0.0).abs() < 1e-300 && time(1.0).is_infinite());
    }

    #[test]
    fn one_face_takes_four_times_as_long() {
        let one = sheet_time(Diffusivity::from_si(1.0), Length::from_si(1.0), 0.7, Faces::One).unwrap().si();
        assert!((one / time(0.7) - 4.0).abs() < 1e-12);
    }

    /// A 10 mm lap, one edge, 1e-11 m²/s: 90 % in 98 days.
    #[test]
    fn a_lap_fills_in_months() {
        let filled = sheet_time(Diffusivity::from_si(1e-11), Length::from_si(0.01), 0.9, Faces::One).unwrap();
        assert!((filled.si() / 86_400.0 - 98.0).abs() < 0.5, "{}", filled.si() / 86_400.0);
    }

    #[test]
    fn nothing_at_once_and_all_in_the_end() {
        assert!(uptake(0.0).abs() < 1e-300);
        assert!((uptake(1e300) - 1.0).abs() < 1e-15);
        assert!(sheet_uptake(Diffusivity::from_si(1.0), Length::from_si(0.0), Time::from_si(1.0), Faces::Two).is_err());
    }
}
