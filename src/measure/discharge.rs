//! Discharge in the wedge of a lap.

use core::f64::consts::SQRT_2;

use crate::catalogue::{Property, Side, Subject};
use crate::enquiry::Stress;
use crate::models::atmosphere;
use crate::models::discharge::{self, INCEPTION, inception};
use crate::models::layers::{SERIES, STEADY, equivalent_gap};
use crate::models::paschen::{Gas, TOWNSEND, UNIFORM};
use crate::models::wrap::THINNEST;
use crate::quantity::{FieldPerPressure, IonisationCoefficient, Length, Temperature};

use super::layers::least_layers;
use super::stress::PEAK;
use super::work::Slot;
use super::{Answer, CaseRead, Measure, Missing, TapeRead, Work};

/// Peak voltage at which discharge begins, over the peak voltage across the wrap.
pub(super) static PD_MARGIN: Measure = Measure {
    id: "pd-margin",
    asked: "voltage at which discharge begins at a lap, over the voltage across the wrap, both peak; for a converter with the enhancement factors of its qualification",
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

/// Enhancement factors of IEC 60034-18-41, from memory: safety 1.25 and ageing 1.2. The third, 1.1
/// for temperature, is left out because inception is worked out at the hottest temperature.
const ENHANCEMENT: f64 = 1.25 * 1.2;

fn pd_margin(w: &mut Work<'_>) -> Answer {
    let Some(stress) = w.enquiry.voltage.as_ref() else {
        w.lacks(Missing::Given("voltage"));
        return Answer::Unknown;
    };
    match stress.wedge {
        Some("air") => air_wedge(w, stress),
        Some(filler) => filled_wedge(w, stress, filler),
        None => {
            w.lacks(Missing::Given("voltage.wedge"));
            Answer::Unknown
        }
    }
}

/// The layers between the wedge and the conductor: backing, adhesive and what is in series.
struct Stack {
    thickness: [Slot; 2],
    permittivity: [Slot; 2],
    total: Slot,
    layers: f64,
    other: f64,
}

impl Stack {
    fn gather(w: &mut Work<'_>) -> Option<Stack> {
        let other = w.enquiry.voltage.as_ref().map_or(&[][..], |v| &v.other_insulation[..]);
        let other = equivalent_gap(other).ok()?.si();
        let (backing, adhesive) = (w.tape.backing, w.adhesive());
        let tb = w.sheet("tb", Property::BackingThickness);
        let ta = w.sheet("ta", Property::AdhesiveThickness);
        let total = w.sheet("t", Property::TotalThickness);
        let eb = w.material("εb", backing, Side::Backing, Property::Permittivity, None);
        let ea = w.material("εa", adhesive, Side::Adhesive, Property::Permittivity, None);
        let layers = least_layers(w)?;
        Some(Stack { thickness: [tb?, ta?], permittivity: [eb?, ea?], total: total?, layers, other })
    }

    /// What the stack is worth as a gap of vacuum, in m.
    fn equivalent(&self, x: &[f64]) -> f64 {
        let one = |i: usize| self.thickness[i].of(x) / self.permittivity[i].of(x);
        self.other + self.layers * (one(0) + one(1))
    }
}

/// The coefficients of the gas in the wedge.
enum Gap {
    /// Of the gas that surrounds the winding in service, by its facts.
    Stated([Slot; 3]),
    /// Air that was shut in: no gas of the enquiry speaks for it.
    ShutIn,
}

impl Gap {
    fn gather(w: &mut Work<'_>) -> Option<Gap> {
        let atmosphere = w.enquiry.application.atmosphere;
        if atmosphere == "vacuum" {
            w.lacks(Missing::Words("pressure left in the vacuum, which decides inception"));
            return None;
        }
        if atmosphere != "air" {
            w.extrapolate(|| "above 0.1 mm the even-field form of air stands in for another gas".to_owned());
        }
        let materials = &w.catalogue.materials;
        let mut service = w.enquiry.exposures.iter().filter(|x| x.stage == "service").map(|x| x.medium);
        let Some(gas) = service.find(|medium| materials[*medium].kind == "gas") else {
            w.note(|| "no gas is among the exposures of service: the wedge holds air".to_owned());
            return Some(Gap::ShutIn);
        };
        let subject = Subject::Material(gas);
        let find = |w: &mut Work<'_>, symbol, property| {
            let found = w.catalogue.find(subject, property, None);
            w.take(symbol, found, Side::Other, property, Missing::Fact(subject, property))
        };
        let a = find(w, "A", Property::PaschenA);
        let b = find(w, "B", Property::PaschenB);
        let gamma = find(w, "γ", Property::PaschenGamma);
        Some(Gap::Stated([a?, b?, gamma?]))
    }

    fn at(&self, x: &[f64]) -> Gas {
        match self {
            Gap::ShutIn => Gas::AIR,
            Gap::Stated([a, b, gamma]) => Gas {
                a: IonisationCoefficient::from_si(a.of(x)),
                b: FieldPerPressure::from_si(b.of(x)),
                gamma: gamma.of(x),
            },
        }
    }
}

fn air_wedge(w: &mut Work<'_>, stress: &Stress) -> Answer {
    let enhancement = if stress.kind == "converter" { ENHANCEMENT } else { 1.0 };
    let direct = stress.kind == "dc";
    w.method(match stress.kind {
        "dc" => "the whole direct voltage on the gas of the wedge, at its Paschen minimum: the safe side",
        "converter" => "worst gas gap inside the lap wedge, at the hottest temperature, over the enhancement factors",
        _ => "worst gas gap inside the lap wedge, at the hottest temperature",
    });
    let gas = Gap::gather(w);
    let stack = Stack::gather(w);
    let altitude = w.given("h", "voltage.altitude", stress.altitude);
    let hottest = w.given::<Temperature>("T", "duty.load_profile", w.enquiry.duty.hottest());
    let (Some(gas), Some(stack), Some(altitude), Some(hottest)) = (gas, stack, altitude, hottest) else {
        return Answer::Unknown;
    };
    if direct {
        // Steady voltage is shared by resistivity, and that of the gas is above any solid's; how far
        // the solids relieve it is not known, so this alone rules nothing out.
        w.never_unsuitable();
        w.note(|| "how resistivities share the voltage between gas and solids is not known".to_owned());
    }
    w.estimate(&[&INCEPTION, &SERIES, &TOWNSEND, &UNIFORM, &THINNEST, &atmosphere::PRESSURE], true, |x, t| {
        let Ok(pressure) = atmosphere::pressure(Length::from_si(altitude.of(x))) else { return f64::NAN };
        let solid = if direct { 0.0 } else { stack.equivalent(x) };
        t.step("layers at the thinnest place", stack.layers, "1");
        t.step("Σ t/ε", solid, "m");
        t.step("p", pressure.si(), "Pa");
        let gap = Length::from_si(stack.total.of(x));
        let hottest = Temperature::from_si(hottest.of(x));
        let Ok(begins) = inception(gas.at(x), Length::from_si(solid), gap, pressure, hottest, discharge::Gap::Wedge)
        else {
            return f64::NAN;
        };
        t.step("worst gap", begins.worst_gap.si(), "m");
        t.step("inception, peak", begins.voltage.si(), "V");
        t.step("enhancement factors", enhancement, "1");
        begins.voltage.si() / enhancement
    })
}

/// A wedge filled with liquid or cured resin: the filler's own strength against the field in it.
fn filled_wedge(w: &mut Work<'_>, stress: &Stress, filler: &str) -> Answer {
    let direct = stress.kind == "dc";
    w.method(if direct {
        "strength of what fills the wedge, at its thin edge, sharing by resistivity"
    } else {
        "strength of what fills the wedge, at its thin edge"
    });
    let enhancement = if stress.kind == "converter" { ENHANCEMENT } else { 1.0 };
    let stack = Stack::gather(w);
    let Some((material, shown)) = filling(w, filler) else {
        w.lacks(Missing::Words("medium of the enquiry that fills the wedge"));
        return Answer::Unknown;
    };
    if !shown {
        w.milder();
        w.note(|| "no exposure fills it under vacuum or pressure: that the wedge is filled is not shown".to_owned());
    }
    let at = w.enquiry.duty.hottest();
    let find = |w: &mut Work<'_>, symbol, property| {
        let subject = Subject::Material(material);
        let found = w.catalogue.find(subject, property, at.map(Temperature::si));
        w.take(symbol, found, Side::Other, property, Missing::Fact(subject, property))
    };
    let strength = find(w, "Ef", Property::GapBreakdown);
    let weight = if direct {
        let filler = find(w, "ρf", Property::VolumeResistivity);
        let (backing, adhesive) = (w.tape.backing, w.adhesive());
        let backing = w.material("ρb", backing, Side::Backing, Property::VolumeResistivity, at);
        let adhesive = w.material("ρa", adhesive, Side::Adhesive, Property::VolumeResistivity, at);
        filler.zip(backing.zip(adhesive)).map(|(filler, (backing, adhesive))| (filler, Some([backing, adhesive])))
    } else {
        find(w, "εf", Property::Permittivity).map(|slot| (slot, None))
    };
    let (Some(stack), Some(strength), Some((filler, solids))) = (stack, strength, weight) else {
        return Answer::Unknown;
    };
    w.note(|| "Paschen's law does not hold in a filled wedge; that it is filled must be shown".to_owned());
    w.estimate(&[&SERIES, &STEADY, &THINNEST], true, |x, t| {
        // At the thin edge the filler adds nothing: its field is U/(εf Σ t/ε), or U·ρf/Σ t·ρ. The
        // resistivity of other insulation is not known; without it the filler bears more.
        let length = match &solids {
            None => filler.of(x) * stack.equivalent(x),
            Some(resistivity) => {
                let one = |i: usize| stack.thickness[i].of(x) * resistivity[i].of(x);
                stack.layers * (one(0) + one(1)) / filler.of(x)
            }
        };
        t.step("thickness of filler that the solids are worth", length, "m");
        // The strength of a filler is stated as a root mean square.
        let voltage = strength.of(x) * SQRT_2 * length;
        t.step("peak voltage at the filler's strength", voltage, "V");
        voltage / enhancement
    })
}

/// What fills the wedge, and whether an exposure shows that it does: the liquid of the service, or
/// the resin it is impregnated with, cured.
fn filling(w: &Work<'_>, filler: &str) -> Option<(usize, bool)> {
    let materials = &w.catalogue.materials;
    let kind = |x: &&crate::enquiry::Exposure| {
        materials[x.medium].kind == filler && (filler == "resin" || x.stage == "service")
    };
    let medium = w.enquiry.exposures.iter().find(kind)?.medium;
    let shown = w.enquiry.exposures.iter().any(|x| x.medium == medium && (x.vacuum.is_some() || x.pressure.is_some()));
    let cured = materials[medium].cures_to.filter(|_| filler == "resin");
    Some((cured.unwrap_or(medium), shown))
}
