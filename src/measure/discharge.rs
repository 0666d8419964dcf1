//! Discharge in the wedge of a lap.

use core::f64::consts::SQRT_2;

use crate::catalogue::{Property, Side, Subject};
use crate::enquiry::{Enquiry, Stress};
use crate::models::atmosphere;
use crate::models::discharge::{Gap, INCEPTION, inception};
use crate::models::layers::{SERIES, STEADY, equivalent_gap};
use crate::models::paschen::{Gas, TOWNSEND, UNIFORM};
use crate::models::wrap::THINNEST;
use crate::quantity::{Length, Pressure, Temperature};

use super::layers::least_layers;
use super::stress::PEAK;
use super::work::Slot;
use super::{Answer, CaseRead, Demand, LastStep, Measure, Missing, TapeRead, Trace, Work};

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
    case: &[CaseRead::Wrap, CaseRead::Wedge, CaseRead::Bakes],
    demand: Some(Demand { last: Some(LastStep { read: gap_conditions, apply: begins }), ..PEAK }),
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

/// Whether the law of air may serve for what the wedge holds.
fn gas_is_known(w: &mut Work<'_>) -> bool {
    match w.enquiry.application.atmosphere {
        "air" | "sealed-liquid" => true,
        "vacuum" => {
            w.lacks(Missing::Words("the pressure left in the vacuum, which decides inception"));
            false
        }
        _ => {
            w.note(|| "the law of air stands in for the gas: its own even-field form is not known".to_owned());
            w.extrapolate(|| "air stands in for the gas of the atmosphere".to_owned());
            true
        }
    }
}

fn air_wedge(w: &mut Work<'_>, stress: &Stress) -> Answer {
    let direct = stress.kind == "dc";
    w.method(match stress.kind {
        "dc" => "the whole direct voltage on the gas of the wedge, at its Paschen minimum: the safe side",
        "converter" => "worst gas gap inside the lap wedge, at the hottest temperature, over the enhancement factors",
        _ => "worst gas gap inside the lap wedge, at the hottest temperature",
    });
    let known = gas_is_known(w);
    let stack = Stack::gather(w);
    // The last step reads these; they are asked for here so that the working shows them.
    let altitude = w.given("h", "voltage.altitude", stress.altitude);
    let hottest = w.given::<Temperature>("T", "duty.load_profile", w.enquiry.duty.hottest());
    let (true, Some(stack), Some(_), Some(_)) = (known, stack, altitude, hottest) else { return Answer::Unknown };
    if direct {
        // Steady voltage is shared by resistivity, and that of the gas is above any solid's; how far
        // the solids relieve it is not known, so this alone rules nothing out.
        w.never_unsuitable();
        w.note(|| "how resistivities share the voltage between gas and solids is not known".to_owned());
    }
    w.carry(stack.total);
    w.estimate(&[&INCEPTION, &SERIES, &TOWNSEND, &UNIFORM, &THINNEST, &atmosphere::PRESSURE], true, |x, t| {
        let solid = if direct { 0.0 } else { stack.equivalent(x) };
        t.step("layers at the thinnest place", stack.layers, "1");
        t.step("Σ t/ε", solid, "m");
        solid
    })
}

/// Pressure and temperature of the gas in a wedge and the enhancement factors; a pressure of zero where
/// the wedge is filled and the cell's number is a voltage already.
fn gap_conditions(enquiry: &Enquiry) -> Result<[f64; 4], &'static str> {
    let stress = enquiry.voltage.as_ref().ok_or("voltage")?;
    let enhancement = if stress.kind == "converter" { ENHANCEMENT } else { 1.0 };
    if stress.wedge != Some("air") {
        return Ok([0.0, 0.0, enhancement, 0.0]);
    }
    let altitude = stress.altitude.ok_or("voltage.altitude")?;
    let pressure = atmosphere::pressure(altitude).map_err(|_| "voltage.altitude")?;
    let hottest = enquiry.duty.hottest().ok_or("duty.load_profile")?;
    Ok([pressure.si(), hottest.si(), enhancement, 0.0])
}

/// The voltage at which discharge begins beside solids worth `solid` of vacuum, in a wedge as high as the tape.
fn begins(&[pressure, temperature, enhancement, _]: &[f64; 4], wedge: f64, solid: f64, t: &mut Trace<'_>) -> f64 {
    t.step("enhancement factors", enhancement, "1");
    if pressure <= 0.0 {
        return solid / enhancement;
    }
    let (pressure, temperature) = (Pressure::from_si(pressure), Temperature::from_si(temperature));
    let (solid, wedge) = (Length::from_si(solid), Length::from_si(wedge));
    let Ok(found) = inception(Gas::AIR, solid, wedge, pressure, temperature, Gap::Wedge) else { return f64::NAN };
    t.step("p", pressure.si(), "Pa");
    t.step("worst gap", found.worst_gap.si(), "m");
    t.step("inception, peak", found.voltage.si(), "V");
    found.voltage.si() / enhancement
}

/// A wedge filled with liquid or cured resin: the filler's own strength against the field in it.
fn filled_wedge(w: &mut Work<'_>, stress: &Stress, filler: &str) -> Answer {
    let direct = stress.kind == "dc";
    w.method(if direct {
        "strength of what fills the wedge, at its thin edge, sharing by resistivity"
    } else {
        "strength of what fills the wedge, at its thin edge"
    });
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
        voltage
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
