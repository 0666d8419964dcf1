//! Voltage shared among layers in series.

use super::{Answer, finite, number, positive};
use crate::quantity::{FieldStrength, Length, Resistivity, Voltage};

/// One layer's share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stress {
    /// The field in the layer.
    pub field: FieldStrength,
    /// The voltage across it.
    pub voltage: Voltage,
}

/// Shares a voltage among layers `(thickness, weight)`: the field goes with the weight.
fn shares(voltage: Voltage, layers: impl Iterator<Item = Answer<(f64, f64)>> + Clone) -> Answer<Vec<Stress>> {
    let voltage = finite(voltage.si(), "voltage")?;
    let mut total = 0.0;
    for layer in layers.clone() {
        let (thickness, weight) = layer?;
        total += thickness * weight;
    }
    let total = positive(total, "layers")?;
    layers
        .map(|layer| {
            let (thickness, weight) = layer?;
            let field = number(voltage * (weight / total), "layers")?;
            let across = number(field * thickness, "layers")?;
            Ok(Stress { field: FieldStrength::from_si(field), voltage: Voltage::from_si(across) })
        })
        .collect()
}

card! {
    SERIES, series_card = "layered-field", "Field and voltage of each layer in series, for alternating and impulse voltage";
    equation: "Ei = U/(εi Σ tj/εj), Ui = Ei ti";
    units: "U, Ui in V; E in V/m; t in m; ε relative, without unit";
    valid: "flat layers, thin against their radius, losses small; not for steady direct voltage";
    source: "continuity of the normal displacement, any text on fields, such as Hayt and Buck, Engineering Electromagnetics, 8th ed. (from memory)";
}

/// The stress of each layer `(thickness, relative permittivity)`.
///
/// # Errors
/// No layer, or a thickness or permittivity that is not above zero.
#[doc = series_card!()]
pub fn alternating(voltage: Voltage, layers: &[(Length, f64)]) -> Answer<Vec<Stress>> {
    shares(
        voltage,
        layers.iter().map(|(thickness, permittivity)| {
            Ok((positive(thickness.si(), "layers")?, 1.0 / positive(*permittivity, "layers")?))
        }),
    )
}

card! {
    EQUIVALENT, equivalent_card = "equivalent-gap", "Gap of vacuum that solid layers in series are worth";
    equation: "Σ t/ε = layers · (tb/εb + ta/εa) + Σ t/ε of what is in series";
    units: "t in m; ε relative, without unit; b backing, a adhesive, layers those at the thinnest place";
    valid: "as layered-field";
    source: "layered-field, with the layers taken together";
}

/// Thickness over relative permittivity, summed: the vacuum gap that layers are worth.
///
/// # Errors
/// A thickness that is negative or a permittivity that is not above zero.
#[doc = equivalent_card!()]
pub fn equivalent_gap(layers: &[(Length, f64)]) -> Answer<Length> {
    let mut total = 0.0;
    for (thickness, permittivity) in layers {
        total += super::not_negative(thickness.si(), "solid")? / positive(*permittivity, "solid")?;
    }
    finite(total, "solid").map(Length::from_si)
}

card! {
    STEADY, steady_card = "layered-field-direct", "Field and voltage of each layer in series, for steady direct voltage";
    equation: "Ei = U ρi/Σ tj ρj, Ui = Ei ti";
    units: "U, Ui in V; E in V/m; t in m; ρ in ohm m";
    valid: "long after switching on, when the charge on the interfaces is at rest; resistivity falls steeply with heat and moisture";
    source: "continuity of the normal current, any text on fields, such as Hayt and Buck, Engineering Electromagnetics, 8th ed. (from memory)";
}

/// The stress of each layer `(thickness, volume resistivity)`.
///
/// # Errors
/// No layer, or a thickness or resistivity that is not above zero.
#[doc = steady_card!()]
pub fn direct(voltage: Voltage, layers: &[(Length, Resistivity)]) -> Answer<Vec<Stress>> {
    shares(
        voltage,
        layers.iter().map(|(thickness, resistivity)| {
            Ok((positive(thickness.si(), "layers")?, positive(resistivity.si(), "layers")?))
        }),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_voltages_add_up_and_the_gap_takes_most() {
        let layers = [(Length::from_si(25e-6), 1.0), (Length::from_si(50e-6), 3.3)];
        let stress = alternating(Voltage::from_si(1000.0), &layers).unwrap();
        let total: f64 = stress.iter().map(|s| s.voltage.si()).sum();
        assert!((total - 1000.0).abs() < 1e-9);
        assert!((stress[0].field.si() / stress[1].field.si() - 3.3).abs() < 1e-12);
        let ohmic =
            [(Length::from_si(1e-3), Resistivity::from_si(1e14)), (Length::from_si(1e-3), Resistivity::from_si(1e12))];
        let stress = direct(Voltage::from_si(101.0), &ohmic).unwrap();
        assert!((stress[0].voltage.si() - 100.0).abs() < 1e-9);
        assert!(alternating(Voltage::from_si(1.0), &[]).is_err());
    }
}
