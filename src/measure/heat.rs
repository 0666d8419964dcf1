//! What heat does: the thermal class and the life used.

use crate::catalogue::Property;
use crate::enquiry::{Enquiry, Exposure};
use crate::evidence::{Basis, Place};
use crate::models::ageing::{History, LIFE, LIFE_USED, Line, spent};
use crate::quantity::{Temperature, TemperatureDifference, Time, in_unit};

use super::reads::bakes;
use super::{Answer, CaseRead, Factor, Measure, Missing, Part, Proves, Scale, Step, TapeRead, Work};

/// Thermal classes of IEC 60085, in degC.
const CLASSES: [f64; 9] = [90.0, 105.0, 120.0, 130.0, 155.0, 180.0, 200.0, 220.0, 250.0];
/// How far above its index, in K, a tape kept from oxygen is unproven rather than unsuitable; common practice.
const SEALED: f64 = 60.0;
/// Halving intervals, in K, over which the lower life is taken where the sheet has none; common practice.
const HALVING: [f64; 2] = [5.0, 20.0];

/// How many thermal classes the tape's index lies above the class asked for.
pub(super) static THERMAL_CLASS: Measure = Measure {
    id: "thermal-class",
    asked: "thermal classes of IEC 60085 between the class asked for and that of the tape's index",
    unit: "class",
    per_exposure: false,
    tape: &[TapeRead::Sheet(Property::TemperatureIndex), TapeRead::Systems],
    case: &[CaseRead::Class, CaseRead::Application],
    demand: None,
    parts: &[],
    factor: None,
    best: None,
    work: thermal_class,
};

/// The share of the thermal life that the duty uses.
pub(super) static THERMAL_LIFE: Measure = Measure {
    id: "thermal-life",
    asked: "share of the thermal life used by the load profile and the bakes",
    unit: "1",
    per_exposure: false,
    tape: &[],
    case: &[CaseRead::Duty, CaseRead::Application, CaseRead::Bakes],
    demand: None,
    parts: &[],
    factor: Some(Factor {
        sheet: &[Property::TemperatureIndex, Property::HalvingInterval],
        value: |_, _, sheet| {
            let &[index, halving] = sheet else { return None };
            let line = line(index, halving)?;
            Some(Scale { by: 1.0, own: [line.index.si(), line.halvings] })
        },
    }),
    best: None,
    work: thermal_life,
};

fn thermal_class(w: &mut Work<'_>) -> Answer {
    let a = &w.enquiry.application;
    let class = w.enquiry.duty.thermal_class.map(f64::from);
    if a.recognition == Some("system") {
        let listed = a.system.as_ref().is_some_and(|system| w.tape.systems.contains(system));
        if listed {
            w.method("listed in the insulation system asked for");
            w.note(|| "the system's own evaluation carries its class; the tape's index is not needed".to_owned());
            return w.estimate(&[], true, |_, _| 0.0);
        }
        w.method("not listed in the insulation system asked for");
        w.lacks(Missing::Words("evaluation of the insulation system with this tape"));
        return Answer::Unknown;
    }
    w.method("temperature index against the class");
    let index = w.sheet("TI", Property::TemperatureIndex);
    let (Some(index), Some(class)) = (index, class) else {
        if class.is_none() {
            w.lacks(Missing::Given("duty.thermal_class"));
        }
        return Answer::Unknown;
    };
    let hot = class + 273.15;
    without_oxygen(w, hot);
    w.estimate(&[], true, |x, t| {
        let degrees = index.of(x) - 273.15;
        t.step("class of the index", class_at(degrees).map_or(0.0, |c| CLASSES[c]), "degC");
        let at = |degrees: f64| class_at(degrees).and_then(|c| i32::try_from(c).ok()).map_or(-1.0, f64::from);
        at(degrees) - at(class)
    })
}

/// The highest class that a temperature reaches.
fn class_at(degrees: f64) -> Option<usize> {
    CLASSES.iter().rposition(|class| degrees >= class - 1e-6)
}

fn thermal_life(w: &mut Work<'_>) -> Answer {
    w.method("sum of times over lives, on the endurance line of IEC 60216");
    let index = w.sheet("TI", Property::TemperatureIndex);
    let known = w.catalogue.sheet(w.tape_index, Property::HalvingInterval).is_some();
    let halving = if known { w.sheet("HIC", Property::HalvingInterval) } else { None };
    if !known {
        w.stands_on(Basis::Estimated);
        w.note(|| {
            format!(
                "the sheet has no halving interval: the lower life over {} to {} K is taken",
                HALVING[0], HALVING[1]
            )
        });
    }
    let Some(index) = index else { return Answer::Unknown };
    let enquiry = w.enquiry;
    let hottest = steps(enquiry).map(|(_, t)| t.si()).fold(0.0, f64::max);
    let Ok(history) = History::new(steps(enquiry)) else { return Answer::Unknown };
    let used = |line| history.used(line).unwrap_or(f64::NAN);
    if w.is_apart() {
        let sealed = is_sealed(w);
        return w.each_kin(|[index, halvings]| {
            let line = Line { index: Temperature::from_si(index), halvings };
            (used(line), proves(sealed, hottest, index))
        });
    }
    without_oxygen(w, hottest);
    w.estimate(&[&LIFE, &LIFE_USED], true, |x, t| {
        let index = index.of(x);
        let by = |halving: f64| (halving, line(index, halving).map_or(f64::NAN, used));
        let (halving, used) = match halving {
            Some(halving) => by(halving.of(x)),
            None => lower_life(HALVING.map(by)),
        };
        t.steps(|| told(enquiry, Temperature::from_si(index), TemperatureDifference::from_si(halving)));
        t.step("life used", used, "1");
        used
    })
}

/// The endurance line of a sheet's numbers; none where they make none.
fn line(index: f64, halving: f64) -> Option<Line> {
    Line::new(Temperature::from_si(index), TemperatureDifference::from_si(halving)).ok()
}

/// Of what is used by two halving intervals, the more.
fn lower_life([a, b]: [(f64, f64); 2]) -> (f64, f64) {
    if b.1.is_nan() || a.1 >= b.1 { a } else { b }
}

/// Times at temperatures: the load profile over the life, and the bakes.
fn steps(enquiry: &Enquiry) -> impl Iterator<Item = (Time, Temperature)> {
    let life = enquiry.duty.life.si();
    let profile =
        enquiry.duty.load_profile.iter().map(move |step| (Time::from_si(life * step.share), step.temperature));
    profile.chain(bakes(enquiry, None).map(|bake: &Exposure| (bake.duration, bake.temperature)))
}

/// What each step uses by itself: its temperature and time, the life there, and the share of it.
fn told(enquiry: &Enquiry, index: Temperature, halving: TemperatureDifference) -> Vec<Step> {
    const PROFILE: &str = "duty.load_profile";
    let profile = enquiry.duty.load_profile.iter().map(|_| (PROFILE.to_owned(), enquiry.place(PROFILE)));
    let of_bake = |bake: &Exposure| (bake.name.clone(), enquiry.place(&format!("exposure {}.duration", bake.name)));
    let stated = (1..).zip(profile.chain(bakes(enquiry, None).map(of_bake)));
    let of_step = |((number, (name, place)), (time, temperature)): ((usize, (String, Place)), (Time, Temperature))| {
        let part = Part { number, name, place };
        let spent = spent(index, halving, (time, temperature)).ok()?;
        let step = |symbol, value, unit| Step { part: Some(part.clone()), symbol, value, unit };
        Some([
            step("T", in_unit(temperature.si(), "degC"), "degC"),
            step("t", in_unit(time.si(), "h"), "h"),
            step("L(T)", in_unit(spent.life.si(), "h"), "h"),
            step("t/L(T)", spent.share, "1"),
        ])
    };
    stated.zip(steps(enquiry)).filter_map(of_step).flatten().collect()
}

/// An index is an air value: without oxygen it is milder evidence, and does not rule out up to 60 K above it.
fn without_oxygen(w: &mut Work<'_>, hottest: f64) {
    if !is_sealed(w) {
        return;
    }
    let index = w.catalogue.sheet(w.tape_index, Property::TemperatureIndex);
    if index.is_some_and(|found| proves(true, hottest, found.spread.value) == Proves::NeverOut) {
        w.never_unsuitable();
    }
}

/// Whether the tape is kept from oxygen, which is noted.
fn is_sealed(w: &mut Work<'_>) -> bool {
    let sealed = w.enquiry.application.atmosphere != "air";
    if sealed {
        w.milder();
        w.note(|| {
            "the index was taken in air; without oxygen it is not transferable: it needs a sealed-vessel endurance test"
                .to_owned()
        });
    }
    sealed
}

fn proves(sealed: bool, hottest: f64, index: f64) -> Proves {
    if sealed && hottest <= index + SEALED { Proves::NeverOut } else { Proves::Both }
}
