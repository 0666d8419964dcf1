//! Whether a resin or a liquid fills the tape, or gets past it, in its time.

use crate::catalogue::{Property, Side};
use crate::models::wicking::{DEAD_END, WICKING, dead_end_fill, depth};
use crate::models::wrap::HELICAL;
use crate::quantity::{Angle, Length, Pressure, SurfaceTension, Time, Viscosity};

use super::layers::mean_layers;
use super::{Answer, CaseRead, Measure, Missing, TapeRead, Work};

/// The share of the open pores that the medium fills, or of the way past the tape that it goes.
pub(super) static IMPREGNATION: Measure = Measure {
    id: "impregnation",
    asked: "share of the wrap's open pores that the medium fills; to pass through, share of the way that it goes",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Backing, TapeRead::Sheet(Property::OpenPorosity), TapeRead::Sheet(Property::TotalThickness)],
    case: &[CaseRead::Exposure, CaseRead::Wrap],
    demand: None,
    parts: &[],
    factor: None,
    best: Some(1.0),
    work: impregnation,
};

/// Pa, where the enquiry states no pressure: nothing is evacuated or pressed (standard atmosphere).
const ATMOSPHERE: f64 = 101_325.0;

fn impregnation(w: &mut Work<'_>) -> Answer {
    let Some(x) = w.exposure() else { return Answer::Unknown };
    let filling = x.wanted == "impregnate";
    let Some(pores) = w.catalogue.pores(w.tape_index) else {
        w.lacks(Missing::Sheet(Property::OpenPorosity));
        return Answer::Unknown;
    };
    w.take("open pores", Some(pores), Side::Backing, Property::Porosity, Missing::Words(""));
    let open = if filling { w.catalogue.is_porous(w.tape_index) } else { w.catalogue.is_open(w.tape_index) };
    if open == Some(false) {
        if filling {
            w.method("a backing without open pores does not fill");
            w.note(|| "the pores are closed to liquids (common practice): nothing enters through the face".to_owned());
            return Answer::Number(crate::spread::Percentiles::exact(0.0));
        }
        w.method("a backing without open pores: only by the laps and the ends");
        w.lacks(Missing::Words("known path for the resin past the tape, by its laps or the ends of the winding"));
        return Answer::Unknown;
    }
    if w.catalogue.sheet(w.tape_index, Property::OpenPorosity).is_none() {
        // The adhesive fills part of a cloth or paper: the bare backing says nothing of the coated tape.
        w.method("open pores of the coated tape: not known");
        w.lacks(Missing::Sheet(Property::OpenPorosity));
        return Answer::Unknown;
    }
    w.method(if filling {
        "pores filled by capillarity and pressure within the pot life, against the gas left in them"
    } else {
        "way through the wrap by capillarity and pressure within the pot life"
    });
    let backing = w.tape.backing;
    let radius = w.material("r", backing, Side::Backing, Property::PoreRadius, None);
    let angle = w.material("θ", backing, Side::Backing, Property::ContactAngle, None);
    let tension = w.of_medium("γ", Property::SurfaceTension, Some(x.temperature));
    let viscosity = w.of_medium("η", Property::Viscosity, Some(x.temperature));
    let thickness = w.sheet("t tape", Property::TotalThickness);
    let time = w.given::<Time>("t", "duration", Some(x.duration));
    let reacts = w.medium().is_some_and(|m| m.kind == "resin");
    let pot_life =
        if reacts { w.of_medium("pot life", Property::PotLife, Some(x.temperature)).map(Some) } else { Some(None) };
    let layers = mean_layers(w);
    let (Some(radius), Some(angle), Some(tension), Some(viscosity)) = (radius, angle, tension, viscosity) else {
        return Answer::Unknown;
    };
    let (Some(thickness), Some(time), Some(pot_life), Some(layers)) = (thickness, time, pot_life, layers) else {
        return Answer::Unknown;
    };
    let outside = x.pressure.map_or(ATMOSPHERE, Pressure::si);
    let left = x.vacuum.map_or(ATMOSPHERE, Pressure::si);
    w.estimate(&[&WICKING, &DEAD_END, &HELICAL], false, |x, t| {
        let way = thickness.of(x) * layers;
        t.step("way through the wrap", way, "m");
        let time = pot_life.map_or(time.of(x), |pot_life| libm::fmin(pot_life.of(x), time.of(x)));
        let reached = depth(
            Length::from_si(radius.of(x)),
            SurfaceTension::from_si(tension.of(x)),
            Angle::from_si(angle.of(x)),
            Viscosity::from_si(viscosity.of(x)),
            Time::from_si(time),
            Pressure::from_si(outside - left),
        );
        let reached = reached.map_or(f64::NAN, Length::si);
        t.step("depth reached", reached, "m");
        let share = reached / way;
        let share = if share < 1.0 { share } else { 1.0 };
        if !filling {
            return share;
        }
        let suction = libm::fmax(2.0 * tension.of(x) * libm::cos(angle.of(x)) / radius.of(x), 0.0);
        let filled = dead_end_fill(Pressure::from_si(left), Pressure::from_si(outside + suction)).unwrap_or(f64::NAN);
        t.step("fill of a dead end", filled, "1");
        share * filled
    })
}
