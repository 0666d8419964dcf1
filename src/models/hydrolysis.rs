//! Chains cut by water.

use super::{Answer, GAS_CONSTANT, not_negative, number, positive};
use crate::quantity::{Molality, MolarEnergy, MolarMass, ScissionRate, SecondOrderRate, Temperature, Time};

card! {
    SCISSION, scission_card = "hydrolysis", "Chains cut by water, and the time until they are too short";
    equation: "rate = k[E][W]; t = (1/Mcrit − 1/Mn)/rate, or (1/Mn)/rate to one cut per chain";
    units: "k in kg/mol/s; contents of links E and of water W in mol/kg; M in kg/mol; rate in mol/kg/s; t in s";
    valid: "the amorphous phase, water in it at equilibrium, before the acid ends speed it up";
    bound CUT_RANGE: "share of the links cut", FRACTION, 0 to 0.05, "constant E and W: common practice, no source";
    source: "Launay, Thominette and Verdu, Polym. Degrad. Stab. 46 (1994) 319 (abstract): k 1.83e-8 kg/mol/s for polyester at 100 degC";
}

/// The rate at which chains are cut.
///
/// # Errors
/// A negative input, or numbers too large to compute with.
#[doc = scission_card!()]
pub fn scission_rate(rate: SecondOrderRate, ester: Molality, water: Molality) -> Answer<ScissionRate> {
    let links = not_negative(ester.si(), "ester")? * not_negative(water.si(), "water")?;
    number(not_negative(rate.si(), "rate")? * links, "rate").map(ScissionRate::from_si)
}

card! {
    LIFETIME, lifetime_card = "hydrolysis-life", "Time until water has cut chains to their critical molar mass";
    equation: "t = (1/Mcrit − 1/Mn)/(k[E][W]), 0 where Mn is at or below Mcrit; without Mcrit (1/Mn)/(k[E][W])";
    units: "M in kg/mol; k in kg/mol/s; contents of links E and of water W in mol/kg; t in s";
    valid: "as hydrolysis; critical molar mass of polyester 13 to 17 kg/mol (from memory)";
    source: "Launay, Thominette and Verdu, Polym. Degrad. Stab. 46 (1994) 319 (abstract)";
}

/// The time to the critical molar mass or, without one, to one cut per chain: without end where
/// nothing is cut.
///
/// # Errors
/// A molar mass that is not above zero, or a negative rate.
#[doc = lifetime_card!()]
pub fn lifetime(rate: ScissionRate, chain: MolarMass, critical: Option<MolarMass>) -> Answer<Time> {
    let cuts = cuts(chain, critical)?;
    let rate = not_negative(rate.si(), "rate")?;
    // No cut needed takes no time, whatever the rate.
    let time = if cuts == 0.0 { 0.0 } else { cuts / rate };
    number(time, "rate").map(Time::from_si)
}

/// Cuts per mass until the end, mol/kg.
fn cuts(chain: MolarMass, critical: Option<MolarMass>) -> Answer<f64> {
    let ends = 1.0 / positive(chain.si(), "chain")?;
    let cuts = match critical {
        Some(critical) => 1.0 / positive(critical.si(), "critical")? - ends,
        None => ends,
    };
    number(libm::fmax(0.0, cuts), "chain")
}

/// The share of the links that is cut by then, for [`CUT_RANGE`].
///
/// # Errors
/// A molar mass or link content that is not above zero.
#[doc = lifetime_card!()]
pub fn share_cut(ester: Molality, chain: MolarMass, critical: Option<MolarMass>) -> Answer<f64> {
    number(cuts(chain, critical)? / positive(ester.si(), "ester")?, "ester")
}

/// Energies of activation on both sides of a glass transition.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branches {
    /// Above it.
    pub above: MolarEnergy,
    /// Below it.
    pub below: MolarEnergy,
    /// The glass transition, wet.
    pub glass_transition: Temperature,
}

card! {
    RATE, rate_card = "hydrolysis-rate", "Rate constant at another temperature, with one energy above the glass transition and another below";
    equation: "k = k0 exp(φ(T) − φ(T0)), φ(T) = −E/R (1/T − 1/Tg), E that of the side of Tg on which T lies";
    units: "k, k0 in kg/mol/s; E in J/mol; T, T0, Tg in K";
    valid: "one mechanism on each side; below Tg 75 to 134 kJ/mol is carried, not the 31 of a single study";
    bound RATE_TEMPERATURE: "temperature", TEMPERATURE, 20 to 130 "degC", "common practice, no source";
    source: "Non-Arrhenian hydrolysis of polyethylene terephthalate, a 5-year long aging study above and below the glass transition temperature (abstract): 134 kJ/mol above";
}

/// The rate constant at `temperature`, continuous at the glass transition.
///
/// # Errors
/// A temperature that is not above zero, a negative rate, or numbers too large to compute with.
#[doc = rate_card!()]
pub fn rate_at(
    reference: SecondOrderRate,
    at: Temperature,
    energies: Branches,
    temperature: Temperature,
) -> Answer<SecondOrderRate> {
    let transition = positive(energies.glass_transition.si(), "glass_transition")?;
    let phase = |t: f64| {
        let energy = if t >= transition { energies.above } else { energies.below };
        -energy.si() / GAS_CONSTANT * (1.0 / t - 1.0 / transition)
    };
    let exponent = phase(positive(temperature.si(), "temperature")?) - phase(positive(at.si(), "at")?);
    let factor = libm::exp(number(exponent, "energy")?);
    number(not_negative(reference.si(), "rate")? * factor, "rate").map(SecondOrderRate::from_si)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The rate constant of Launay, Thominette and Verdu with 20 kg/mol chains; arithmetic.
    #[test]
    fn polyester_in_saturated_steam_lasts_days() {
        let rate =
            scission_rate(SecondOrderRate::from_si(1.83e-8), Molality::from_si(10.407_45), Molality::from_si(0.3))
                .unwrap();
        let chain = MolarMass::from_si(20.0);
        let once = lifetime(rate, chain, None).unwrap().si();
        assert!((once / 875_091.220_602_7 - 1.0).abs() < 1e-9);
        let critical = lifetime(rate, chain, Some(MolarMass::from_si(15.0))).unwrap().si();
        assert!((critical / once - 1.0 / 3.0).abs() < 1e-12);
        assert!(lifetime(rate, chain, Some(MolarMass::from_si(25.0))).unwrap().si().abs() < 1e-300);
        assert!(lifetime(ScissionRate::from_si(0.0), chain, None).unwrap().si().is_infinite());
    }

    #[test]
    fn the_branches_meet_at_the_transition() {
        let energies = Branches {
            above: MolarEnergy::from_si(134e3),
            below: MolarEnergy::from_si(75e3),
            glass_transition: Temperature::from_si(340.0),
        };
        let rate = |t: f64| {
            rate_at(SecondOrderRate::from_si(1.83e-8), Temperature::from_si(373.15), energies, Temperature::from_si(t))
                .unwrap()
                .si()
        };
        assert!((rate(373.15) / 1.83e-8 - 1.0).abs() < 1e-12);
        assert!((rate(340.0) / rate(340.0 - 1e-9) - 1.0).abs() < 1e-9);
        assert!(rate(300.0) < rate(320.0) && rate(320.0) < rate(360.0));
    }
}
