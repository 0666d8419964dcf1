//! What voltage does: breakdown of the wrap, and discharge in the wedge of a lap.

use core::f64::consts::SQRT_2;

use crate::catalogue::{Property, Side, Subject};
use crate::enquiry::{Enquiry, Stress};
use crate::models::atmosphere;
use crate::models::breakdown::{self, STRENGTH};
use crate::models::converter;
use crate::models::discharge::{Gap, INCEPTION, inception};
use crate::models::layers::{SERIES, equivalent_gap};
use crate::models::paschen::{Gas, TOWNSEND, UNIFORM};
use crate::models::wrap::{Lap, THINNEST, layers_minimum};
use crate::quantity::{FieldStrength, Length, Temperature, Voltage};

use super::{Answer, CaseRead, Demand, Measure, Missing, TapeRead, Work};

/// Peak breakdown voltage of the wrap at its thinnest place, over the peak voltage across it.
pub(super) static BREAKDOWN_MARGIN: Measure = Measure {
    id: "breakdown-margin",
    asked: "short-time breakdown voltage of the wrap at its thinnest place, over the voltage across it, both peak",
    unit: "1",
    per_exposure: false,
    tape: &[TapeRead::Sheet(Property::Breakdown), TapeRead::Sheet(Property::TotalThickness), TapeRead::Backing],
    case: &[CaseRead::Wrap],
    demand: Some(PEAK),
    work: breakdown_margin,
};

/// Peak voltage at which discharge begins, over the peak voltage across the wrap.
pub(super) static PD_MARGIN: Measure = Measure {
    id: "pd-margin",
    asked: "voltage at which discharge begins at a lap, over the voltage across the wrap, both peak",
    unit: "1",
    per_exposure: false,
    tape: &[
        TapeRead::Sheet(Property::BackingThickness),
        TapeRead::Sheet(Property::AdhesiveThickness),
        TapeRead::Sheet(Property::TotalThickness),
        TapeRead::Backing,
        TapeRead::Adhesive,
    ],
    case: &[CaseRead::Wrap, CaseRead::Stress, CaseRead::Hottest, CaseRead::Bakes, CaseRead::Filler],
    demand: Some(PEAK),
    work: pd_margin,
};

/// The peak voltage across the wrap.
const PEAK: Demand = Demand { name: "peak voltage across the wrap", symbol: "Û", unit: "V", value: peak };

/// The peak voltage across the wrap: √2 times the root mean square for ac, the share of turns for a converter.
fn peak(enquiry: &Enquiry) -> Result<f64, &'static str> {
    let v = enquiry.voltage.as_ref().ok_or("voltage")?;
    if v.kind == "converter" && v.across.is_none() {
        let dc_link = v.dc_link.ok_or("voltage.dc_link")?;
        let overshoot = v.overshoot.ok_or("voltage.overshoot")?;
        let share = v.turn_share.ok_or("voltage.turn_share")?;
        return converter::peak(dc_link, overshoot, share).map(Voltage::si).map_err(|_| "voltage.dc_link");
    }
    let across = v.across.ok_or("voltage.across")?.si();
    Ok(if v.kind == "ac" { across * SQRT_2 } else { across })
}

/// Layers at the thinnest place, or what is missing for it.
fn layers(w: &mut Work<'_>) -> Option<f64> {
    let winding = &w.enquiry.winding;
    let mut lacks = |there: bool, key| {
        if !there {
            w.lacks(Missing::Given(key));
        }
    };
    lacks(winding.width.is_some(), "winding.width");
    lacks(winding.overlap.is_some(), "winding.overlap");
    lacks(winding.lap_tolerance.is_some(), "winding.lap_tolerance");
    lacks(winding.passes.is_some(), "winding.passes");
    let lap = Lap { width: winding.width?, overlap: winding.overlap?, passes: winding.passes? };
    layers_minimum(lap, winding.lap_tolerance?).ok()
}

fn breakdown_margin(w: &mut Work<'_>) -> Answer {
    w.method("short-time breakdown of the sheet, carried to the layers of the thinnest place");
    let sheet = w.sheet("Ub", Property::Breakdown);
    let thickness = w.sheet("t", Property::TotalThickness);
    let exponent = w.material("n", w.tape.backing, Side::Backing, Property::StrengthExponent, None);
    let layers = layers(w);
    let (Some(sheet), Some(thickness), Some(exponent), Some(layers)) = (sheet, thickness, exponent, layers) else {
        return Answer::Unknown;
    };
    w.note(|| "a short-time value of the sheet is not a service stress: the limits carry that distance".to_owned());
    w.estimate(&[&STRENGTH, &THINNEST], true, |x, t| {
        t.step("layers at the thinnest place", layers, "1");
        if layers < 1.0 {
            return 0.0;
        }
        let one = Length::from_si(thickness.of(x));
        let strength = FieldStrength::from_si(sheet.of(x) / one.si());
        let wrap = breakdown::at_thickness(strength, one, Length::from_si(one.si() * layers), exponent.of(x));
        let voltage = wrap.map_or(f64::NAN, |wrap| wrap.voltage.si());
        t.step("breakdown of the wrap, rms", voltage, "V");
        voltage * SQRT_2
    })
}

fn pd_margin(w: &mut Work<'_>) -> Answer {
    let Some(stress) = w.enquiry.voltage.as_ref() else {
        w.lacks(Missing::Given("voltage"));
        return Answer::Unknown;
    };
    if stress.kind == "dc" {
        w.method("steady direct voltage");
        w.lacks(Missing::Words("volume resistivities of the layers at service temperature"));
        return Answer::Unknown;
    }
    match stress.wedge {
        Some("air") => air_wedge(w, stress),
        Some(filler) => filled_wedge(w, filler),
        None => {
            w.lacks(Missing::Given("voltage.wedge"));
            Answer::Unknown
        }
    }
}

/// The layers between the wedge and the conductor: backing, adhesive and what is in series.
struct Stack {
    backing: super::work::Slot,
    adhesive: super::work::Slot,
    of_backing: super::work::Slot,
    of_adhesive: super::work::Slot,
    total: super::work::Slot,
    layers: f64,
    other: Vec<(Length, f64)>,
}

impl Stack {
    fn gather(w: &mut Work<'_>) -> Option<Stack> {
        let other = w.enquiry.voltage.as_ref().map(|v| v.other_insulation.clone()).unwrap_or_default();
        let adhesive_now = w.adhesive();
        let backing = w.sheet("tb", Property::BackingThickness);
        let adhesive = w.sheet("ta", Property::AdhesiveThickness);
        let total = w.sheet("t", Property::TotalThickness);
        let of_backing = w.material("εb", w.tape.backing, Side::Backing, Property::Permittivity, None);
        let of_adhesive = w.material("εa", adhesive_now, Side::Adhesive, Property::Permittivity, None);
        let layers = layers(w);
        Some(Stack {
            backing: backing?,
            adhesive: adhesive?,
            of_backing: of_backing?,
            of_adhesive: of_adhesive?,
            total: total?,
            layers: layers?,
            other,
        })
    }

    /// What the stack is worth as a gap of vacuum, in m.
    fn equivalent(&self, x: &[f64]) -> f64 {
        let mut layers = self.other.clone();
        if self.layers >= 1.0 {
            layers.push((Length::from_si(self.backing.of(x) * self.layers), self.of_backing.of(x)));
            layers.push((Length::from_si(self.adhesive.of(x) * self.layers), self.of_adhesive.of(x)));
        }
        equivalent_gap(&layers).map_or(f64::NAN, Length::si)
    }
}

fn air_wedge(w: &mut Work<'_>, stress: &Stress) -> Answer {
    w.method("worst air gap inside the lap wedge, at the hottest temperature");
    let stack = Stack::gather(w);
    let altitude = w.given("h", "voltage.altitude", stress.altitude);
    let hottest = w.given::<Temperature>("T", "duty.load_profile", w.enquiry.duty.hottest());
    let (Some(stack), Some(altitude), Some(hottest)) = (stack, altitude, hottest) else { return Answer::Unknown };
    w.estimate(&[&INCEPTION, &SERIES, &TOWNSEND, &UNIFORM, &THINNEST, &atmosphere::PRESSURE], true, |x, t| {
        let Ok(pressure) = atmosphere::pressure(Length::from_si(altitude.of(x))) else { return f64::NAN };
        let solid = stack.equivalent(x);
        t.step("layers at the thinnest place", stack.layers, "1");
        t.step("Σ t/ε", solid, "m");
        t.step("p", pressure.si(), "Pa");
        let gap = Length::from_si(stack.total.of(x));
        let begins =
            inception(Gas::AIR, Length::from_si(solid), gap, pressure, Temperature::from_si(hottest.of(x)), Gap::Wedge);
        let Ok(begins) = begins else { return f64::NAN };
        t.step("worst gap", begins.worst_gap.si(), "m");
        t.step("inception, peak", begins.voltage.si(), "V");
        begins.voltage.si()
    })
}

/// A wedge filled with liquid or cured resin: the filler's own strength against the field in it.
fn filled_wedge(w: &mut Work<'_>, filler: &str) -> Answer {
    w.method("strength of what fills the wedge, at the thin edge of the wedge");
    let stack = Stack::gather(w);
    let Some(material) = filling(w, filler) else {
        w.lacks(Missing::Words("a medium of the enquiry that fills the wedge"));
        return Answer::Unknown;
    };
    let find = |w: &mut Work<'_>, symbol, property| {
        let at = w.enquiry.duty.hottest().map(Temperature::si);
        let found = w.catalogue.find(Subject::Material(material), property, at);
        w.take(symbol, found, Side::Other, property, Missing::Fact(Subject::Material(material), property))
    };
    let strength = find(w, "Ef", Property::GapBreakdown);
    let permittivity = find(w, "εf", Property::Permittivity);
    let (Some(stack), Some(strength), Some(permittivity)) = (stack, strength, permittivity) else {
        return Answer::Unknown;
    };
    w.note(|| "Paschen's law does not hold in a filled wedge; that it is filled must be shown".to_owned());
    w.estimate(&[&SERIES, &THINNEST], true, |x, t| {
        let solid = stack.equivalent(x);
        t.step("Σ t/ε", solid, "m");
        // At the thin edge the filler adds nothing: its field is U/(εf Σ t/ε).
        let voltage = strength.of(x) * permittivity.of(x) * solid;
        t.step("voltage at the filler's strength", voltage, "V");
        voltage
    })
}

/// The medium that fills the wedge: the liquid of the service, or the resin it is impregnated with, cured.
fn filling(w: &Work<'_>, filler: &str) -> Option<usize> {
    let materials = &w.catalogue.materials;
    if filler == "liquid" {
        let service = w.enquiry.exposures.iter().filter(|x| x.stage == "service");
        return service.map(|x| x.medium).find(|m| materials[*m].kind == "liquid");
    }
    let resin = w.enquiry.exposures.iter().map(|x| x.medium).find(|m| materials[*m].kind == "resin")?;
    Some(materials[resin].cures_to.unwrap_or(resin))
}
