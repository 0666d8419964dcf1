//! Affinity of a polymer for a liquid: Hansen distance and the interaction parameter χ.

use super::{Answer, GAS_CONSTANT, Refusal, number, positive};
use crate::quantity::{MolarVolume, SolubilityParameter, Temperature};

/// Hansen's three solubility parameters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hansen {
    /// Dispersion.
    pub d: SolubilityParameter,
    /// Polarity.
    pub p: SolubilityParameter,
    /// Hydrogen bonds.
    pub h: SolubilityParameter,
}

impl Hansen {
    fn si(self) -> [f64; 3] {
        [self.d.si(), self.p.si(), self.h.si()]
    }

    /// Squared differences of the three parameters.
    fn differences(self, other: Hansen) -> [f64; 3] {
        let (a, b) = (self.si(), other.si());
        [0, 1, 2].map(|i| (a[i] - b[i]) * (a[i] - b[i]))
    }
}

card! {
    DISTANCE, distance_card = "hansen-distance", "Distance between a polymer and a liquid in Hansen's space, absolute and relative to the polymer's radius";
    equation: "Ra = √(4(δD1 − δD2)² + (δP1 − δP2)² + (δH1 − δH2)²), relative Ra/R0";
    units: "δ, Ra, R0 in MPa^0.5; relative without unit";
    valid: "amorphous polymers near the temperature of the parameters; for glassy and semicrystalline films the sphere is not reliable, and a small distance is not a high uptake";
    source: "Hansen, Hansen Solubility Parameters: A User's Handbook, 2nd ed. 2007, ch. 1 (equation from memory)";
}

/// How far apart two substances are.
///
/// # Errors
/// Parameters that are not finite.
#[doc = distance_card!()]
pub fn distance(polymer: Hansen, liquid: Hansen) -> Answer<SolubilityParameter> {
    let [d, p, h] = polymer.differences(liquid);
    number(libm::sqrt(4.0 * d + p + h), "polymer").map(SolubilityParameter::from_si)
}

/// A distance over the radius of the polymer's sphere: below 1 the liquid is near.
///
/// # Errors
/// A radius of zero, or numbers that are not finite.
#[doc = distance_card!()]
pub fn relative_distance(distance: SolubilityParameter, radius: SolubilityParameter) -> Answer<f64> {
    number(distance.si() / positive(radius.si(), "radius")?, "polymer")
}

card! {
    INTERACTION, interaction_card = "interaction", "Interaction parameter of a polymer and a liquid from their Hansen parameters";
    equation: "χ = offset + slope · V1/(RT) · [(δD1 − δD2)² + ¼(δP1 − δP2)² + ¼(δH1 − δH2)²]";
    units: "V1 in m3/mol, T in K, R in J/mol/K, δ in Pa^0.5; χ, slope and offset without unit";
    valid: "amorphous polymers above their glass transition; not halogenated liquids, nitriles, amines, water, nor siloxanes in silicone";
    bound VOLUME_RANGE: "molar volume", MOLAR_VOLUME, 59 to 230 "cm3/mol", "range of the 112 published values the slope 1.25 was fitted to";
    bound AFFINITY_TEMPERATURE: "temperature", TEMPERATURE, 0 to 110 "degC", "range of the 112 published values the slope 1.25 was fitted to";
    source: "Lindvig, Michelsen, Kontogeorgis, Fluid Phase Equilib. 203 (2002) 247 (slope 0.6, from memory)", "slope 1.25 with effective centres: fitted to published values of Orwoll and Arnold, Physical Properties of Polymers Handbook, 2nd ed. 2007, Table 14.1";
}

/// How much a polymer and a liquid dislike each other: below one half they mix.
///
/// # Errors
/// A temperature or molar volume that is not above zero, or numbers that are not finite.
#[doc = interaction_card!()]
pub fn interaction(
    polymer: Hansen,
    liquid: Hansen,
    molar_volume: MolarVolume,
    temperature: Temperature,
    slope: f64,
    offset: f64,
) -> Answer<f64> {
    let volume = positive(molar_volume.si(), "molar-volume")?;
    let energy = GAS_CONSTANT * positive(temperature.si(), "temperature")?;
    let [d, p, h] = polymer.differences(liquid);
    number(offset + slope * volume / energy * (d + 0.25 * p + 0.25 * h), "polymer")
}

/// The interaction parameter over polymer fraction: straight between its points, the end values
/// held outside them.
#[derive(Clone, Debug, PartialEq)]
pub struct Chi {
    first: (f64, f64),
    last: (f64, f64),
    /// What lies between the two; empty, and so without an allocation, in the usual form.
    between: Vec<(f64, f64)>,
}

impl Chi {
    /// The same at every polymer fraction.
    #[must_use]
    pub const fn constant(chi: f64) -> Self {
        Chi::mixed(chi, chi)
    }

    /// `χ(v) = χ0(1−v) + χ1·v`.
    #[must_use]
    pub const fn mixed(chi0: f64, chi1: f64) -> Self {
        Chi { first: (0.0, held(chi0)), last: (1.0, held(chi1)), between: Vec::new() }
    }

    /// Through points `(polymer fraction, χ)` in any order.
    ///
    /// # Errors
    /// No point, a polymer fraction outside 0 to 1 or given twice, a χ that is no number.
    pub fn through(points: &[(f64, f64)]) -> Answer<Self> {
        let refusal = |needed| Refusal {
            input: "chi-points",
            needed,
            remedy: "write χ@polymer fraction, such as `0.445@0,0.82@1`",
        };
        let mut points: Vec<_> = points.iter().map(|(v, chi)| (*v, held(*chi))).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        if points.iter().any(|(v, chi)| !(0.0..=1.0).contains(v) || chi.is_nan()) {
            return Err(refusal("polymer fractions from 0 to 1"));
        }
        if points.windows(2).any(|pair| pair[1].0 <= pair[0].0) {
            return Err(refusal("each polymer fraction once"));
        }
        let (Some(&first), Some(&last)) = (points.first(), points.last()) else {
            return Err(refusal("at least one point"));
        };
        if points.len() == 1 {
            return Ok(Chi::constant(first.1));
        }
        let between = if points.len() > 2 { points[1..points.len() - 1].to_vec() } else { Vec::new() };
        Ok(Chi { first, last, between })
    }

    /// The value at a polymer fraction.
    #[must_use]
    pub fn at(&self, fraction: f64) -> f64 {
        self.value_and_slope(fraction).0
    }

    /// χ0 and χ1, where it is straight from no polymer to all polymer.
    pub(super) fn straight(&self) -> Option<(f64, f64)> {
        let whole = self.between.is_empty() && self.first.0 <= 0.0 && self.last.0 >= 1.0;
        whole.then_some((self.first.1, self.last.1))
    }

    /// Its straight pieces from all polymer down: the polymer fractions from and up to which each holds, and χ at no
    /// polymer and at all polymer on its line.
    pub(super) fn pieces(&self) -> impl Iterator<Item = ([f64; 2], (f64, f64))> {
        let level = |from: f64, to: f64, chi: f64| ([from, to], (chi, chi));
        let point = |nth: usize| match nth {
            0 => self.first,
            nth => *self.between.get(nth - 1).unwrap_or(&self.last),
        };
        let line = move |nth: usize| {
            let ((left, chi), right) = (point(nth), point(nth + 1));
            let rise = (right.1 - chi) / (right.0 - left);
            ([left, right.0], (chi - rise * left, chi + rise * (1.0 - left)))
        };
        let above = (self.last.0 < 1.0).then(|| level(self.last.0, 1.0, self.last.1));
        let below = (self.first.0 > 0.0).then(|| level(0.0, self.first.0, self.first.1));
        above.into_iter().chain((0..=self.between.len()).rev().map(line)).chain(below)
    }

    /// The value and its slope at a polymer fraction.
    pub(super) fn value_and_slope(&self, fraction: f64) -> (f64, f64) {
        if fraction <= self.first.0 {
            return (self.first.1, 0.0);
        }
        if fraction >= self.last.0 {
            return (self.last.1, 0.0);
        }
        let (mut left, mut right) = (self.first, self.last);
        for &point in &self.between {
            if fraction < point.0 {
                right = point;
                break;
            }
            left = point;
        }
        let (width, rise) = (right.0 - left.0, right.1 - left.1);
        (left.1 + rise * ((fraction - left.0) / width), rise / width)
    }

    /// False if it was made of no number.
    pub(super) fn is_number(&self) -> bool {
        !self.first.1.is_nan() && !self.last.1.is_nan()
    }
}

/// No χ is larger; so sums of them are always numbers.
const fn held(chi: f64) -> f64 {
    chi.clamp(-1e9, 1e9)
}

card! {
    MIXING, mixing_card = "interaction-over-fraction", "Interaction parameter of a swollen gel from that at infinite dilution of the liquid";
    equation: "χ(v) = χ0(1 − v) + χ1·v, χ0 = 0.40 + 0.06 χ1";
    units: "all without unit; v is the polymer fraction by volume";
    valid: "elastomers whose χ was measured or estimated at v near 1";
    source: "fitted to published values of Orwoll and Arnold, Physical Properties of Polymers Handbook, 2nd ed. 2007, Table 14.1; sd of χ0 0.08";
}

/// χ over the polymer fraction, from its value in the nearly dry polymer and a deviation of χ0
/// (0 for the median).
#[doc = mixing_card!()]
#[must_use]
pub const fn carried_down(chi1: f64, deviation: f64) -> Chi {
    Chi::mixed(0.40 + 0.06 * held(chi1) + held(deviation), chi1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hansen(d: f64, p: f64, h: f64) -> Hansen {
        let typed = |value: f64| SolubilityParameter::from_si(value * 1e3);
        Hansen { d: typed(d), p: typed(p), h: typed(h) }
    }

    #[test]
    fn distance_is_that_of_the_definition() {
        let ra = distance(hansen(15.9, 0.1, 4.7), hansen(18.0, 1.4, 2.0)).unwrap();
        assert!((ra.si() / 1e3 - 5.159_457_335_805_771).abs() < 1e-12);
        let itself = hansen(17.0, 3.0, 4.0);
        assert!(distance(itself, itself).unwrap().si().abs() < 1e-12);
    }

    #[test]
    fn interaction_falls_with_temperature_and_rises_with_volume() {
        let chi = |volume: f64, kelvin: f64| {
            let (volume, kelvin) = (MolarVolume::from_si(volume), Temperature::from_si(kelvin));
            interaction(hansen(15.9, 0.1, 4.7), hansen(18.0, 1.4, 2.0), volume, kelvin, 0.6, 0.0).unwrap()
        };
        assert!((chi(106.8e-6, 298.15) - 0.172_028_960_129_357_42).abs() < 1e-9);
        assert!(chi(106.8e-6, 350.0) < chi(106.8e-6, 298.15));
        assert!(chi(150e-6, 298.15) > chi(106.8e-6, 298.15));
    }

    #[test]
    fn chi_is_straight_between_points_and_held_outside() {
        let chi = Chi::through(&[(1.0, 1.43), (0.6, 0.86)]).unwrap();
        assert!((chi.at(0.1) - 0.86).abs() < 1e-15);
        assert!((chi.at(0.8) - 1.145).abs() < 1e-15);
        let three = Chi::through(&[(0.2, 0.5), (0.4, 0.7), (0.8, 0.3)]).unwrap();
        assert!((three.at(0.3) - 0.6).abs() < 1e-15);
        assert!((three.at(0.6) - 0.5).abs() < 1e-15);
        assert!((three.at(0.9) - 0.3).abs() < 1e-15);
        assert!(Chi::through(&[]).is_err());
        assert!(Chi::through(&[(0.2, 0.5), (0.2, 0.6)]).is_err());
        assert!((Chi::through(&[(0.2, 0.5)]).unwrap().at(0.9) - 0.5).abs() < 1e-15);
    }
}
