//! Discharge in the wedge of a lap.

use crate::catalogue::{Catalogue, Property, Side, Subject};
use crate::enquiry::{Enquiry, Stress};
use crate::models::atmosphere;
use crate::models::discharge::{self, FILLED, INCEPTION, filled, inception};
use crate::models::layers::{EQUIVALENT, SERIES, STEADY, equivalent_gap};
use crate::models::paschen::{Gas, TOWNSEND, UNIFORM};
use crate::models::wrap::THINNEST;
use crate::quantity::{FieldPerPressure, FieldStrength, IonisationCoefficient, Length, Pressure, Temperature, Voltage};

use super::breakdown::Wrap;
use super::layers::least_layers;
use super::reads::{holds_air, service_gas};
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
        TapeRead::Sheet(Property::Breakdown),
        TapeRead::Backing,
        TapeRead::Adhesive,
    ],
    case: &[CaseRead::Wrap, CaseRead::Wedge, CaseRead::Bakes],
    demand: Some(Demand { last: Some(LastStep { read: conditions, apply: inception_over_factors }), ..PEAK }),
    parts: &[],
    factor: None,
    best: None,
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
#[derive(Clone, Copy)]
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
        let Some(gas) = service_gas(w.catalogue, w.enquiry) else {
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
    let direct = stress.kind == "dc";
    w.method(match stress.kind {
        "dc" => "the whole direct voltage on the gas of the wedge, at its Paschen minimum: the safe side",
        "converter" => "worst gas gap inside the lap wedge, at the hottest temperature, over the enhancement factors",
        _ => "worst gas gap inside the lap wedge, at the hottest temperature",
    });
    let gas = Gap::gather(w);
    let stack = Stack::gather(w);
    // The last step reads these; they are asked for here so that the working shows them.
    let altitude = w.given("h", "voltage.altitude", stress.altitude);
    let hottest = w.given::<Temperature>("T", w.enquiry.duty.hottest_key(), w.enquiry.duty.hottest());
    let (Some(gas), Some(stack), Some(altitude), Some(hottest)) = (gas, stack, altitude, hottest) else {
        return Answer::Unknown;
    };
    if direct {
        // Steady voltage is shared by resistivity, and that of the gas is above any solid's; how far
        // the solids relieve it is not known, so this alone rules nothing out.
        w.never_unsuitable();
        w.note(|| "how resistivities share the voltage between gas and solids is not known".to_owned());
    }
    let cards = [&INCEPTION, &EQUIVALENT, &TOWNSEND, &UNIFORM, &THINNEST, &atmosphere::PRESSURE];
    let solids = move |x: &[f64], t: &mut Trace<'_>| {
        let solid = if direct { 0.0 } else { stack.equivalent(x) };
        t.step("layers at the thinnest place", stack.layers, "1");
        t.step("Σ t/ε of what is in series", stack.other, "m");
        t.step("Σ t/ε", solid, "m");
        solid
    };
    if holds_air(w.enquiry) {
        // The state of air is the last step, so that the cell is shared by all altitudes and temperatures.
        w.carry(stack.total);
        return w.estimate(&cards, true, solids);
    }
    w.estimate(&cards, true, |x, t| {
        let pressure = atmosphere::pressure(Length::from_si(altitude.of(x))).map_or(f64::NAN, Pressure::si);
        begins(gas.at(x), [pressure, hottest.of(x)], stack.total.of(x), solids(x, t), t)
    })
}

/// Enhancement factors, then pressure, temperature and coefficients of the air in a wedge; a pressure of zero
/// where the cell's number is a voltage already.
fn conditions(catalogue: &Catalogue, enquiry: &Enquiry) -> Result<[f64; 6], &'static str> {
    let stress = enquiry.voltage.as_ref().ok_or("voltage")?;
    let factors = if stress.kind == "converter" { ENHANCEMENT } else { 1.0 };
    if stress.wedge != Some("air") || !holds_air(enquiry) {
        return Ok([factors, 0.0, 0.0, 0.0, 0.0, 0.0]);
    }
    let altitude = stress.altitude.ok_or("voltage.altitude")?;
    let pressure = atmosphere::pressure(altitude).map_err(|_| "voltage.altitude")?;
    let hottest = enquiry.duty.hottest().ok_or("duty.load_profile")?;
    let of = |property| {
        let gas = service_gas(catalogue, enquiry)?;
        catalogue.find(Subject::Material(gas), property, None).map(|found| found.spread.value)
    };
    let air = [Gas::AIR.a.si(), Gas::AIR.b.si(), Gas::AIR.gamma];
    let [a, b, gamma] = [Property::PaschenA, Property::PaschenB, Property::PaschenGamma].map(of);
    let [a, b, gamma] = [a.unwrap_or(air[0]), b.unwrap_or(air[1]), gamma.unwrap_or(air[2])];
    Ok([factors, pressure.si(), hottest.si(), a, b, gamma])
}

fn inception_over_factors(case: &[f64; 6], wedge: f64, number: f64, t: &mut Trace<'_>) -> f64 {
    let &[factors, pressure, temperature, a, b, gamma] = case;
    t.step("enhancement factors", factors, "1");
    if pressure <= 0.0 {
        return number / factors;
    }
    let gas = Gas { a: IonisationCoefficient::from_si(a), b: FieldPerPressure::from_si(b), gamma };
    begins(gas, [pressure, temperature], wedge, number, t) / factors
}

/// The peak voltage at which discharge begins beside solids worth `solid` of vacuum, in a wedge as high as
/// the tape.
fn begins(gas: Gas, [pressure, temperature]: [f64; 2], wedge: f64, solid: f64, t: &mut Trace<'_>) -> f64 {
    let (pressure, temperature) = (Pressure::from_si(pressure), Temperature::from_si(temperature));
    let (solid, wedge) = (Length::from_si(solid), Length::from_si(wedge));
    let Ok(found) = inception(gas, solid, wedge, pressure, temperature, discharge::Gap::Wedge) else { return f64::NAN };
    t.step("p", pressure.si(), "Pa");
    t.step("worst gap", found.worst_gap.si(), "m");
    t.step("inception, peak", found.voltage.si(), "V");
    found.voltage.si()
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
    // Where the wrap breaks down first, nothing in the wedge has to begin before it.
    let wrap = w.attempt(Wrap::gather);
    if wrap.is_some() {
        w.note(|| {
            "discharge begins at the latest where its share of the voltage breaks the wrap down: the lower is taken"
                .to_owned()
        });
    }
    w.note(|| "Paschen's law does not hold in a filled wedge; that it is filled must be shown".to_owned());
    let sharing = if direct { &STEADY } else { &SERIES };
    w.estimate(&[&FILLED, &EQUIVALENT, sharing, &THINNEST], true, |x, t| {
        t.step("layers at the thinnest place", stack.layers, "1");
        t.step("Σ t/ε of what is in series", stack.other, "m");
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
        let strength = FieldStrength::from_si(strength.of(x));
        let voltage = filled(strength, Length::from_si(length)).map_or(f64::NAN, Voltage::si);
        t.step("peak voltage at the filler's strength", voltage, "V");
        // The wrap bears its share; what is in series with it the rest.
        let all = stack.equivalent(x);
        let share = if direct { 1.0 } else { (all - stack.other) / all };
        wrap.as_ref().map_or(voltage, |wrap| libm::fmin(voltage, wrap.peak(x, t) / share))
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
