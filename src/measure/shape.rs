//! Shape: whether the tape lies flat on the bend, what it builds, whether it is made so narrow.

use crate::catalogue::{Property, Side};
use crate::enquiry::Enquiry;
use crate::evidence::{Basis, Shape, Spread};
use crate::models::wrap::{BEND, GROWTH, HELICAL, STEER, bend_strain, steer_strain};
use crate::quantity::{ForcePerLength, Length};

use super::layers::mean_layers;
use super::{Answer, CaseRead, Demand, Measure, TapeRead, Work};

/// The shear that the adhesive keeps for good, as a share of its thickness.
const SHEARS: Spread =
    Spread { value: 0.5, low: 0.25, high: 1.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };

/// Strain that the tape reaches at the winding tension, over that which the bend needs.
pub(super) static CONFORMABILITY: Measure = Measure {
    id: "conformability",
    asked: "strain that backing and adhesive give at the winding tension, over that which a helical lap needs on the bend",
    unit: "1",
    per_exposure: false,
    tape: &[
        TapeRead::Backing,
        TapeRead::Sheet(Property::BackingThickness),
        TapeRead::Sheet(Property::AdhesiveThickness),
        TapeRead::Sheet(Property::Elongation),
    ],
    case: &[CaseRead::Tension, CaseRead::Bend],
    demand: Some(Demand {
        name: "strain that the bend needs",
        symbol: "w²/(8Rr)",
        unit: "1",
        value: needed,
        last: None,
    }),
    parts: &[],
    factor: None,
    best: None,
    work: conformability,
};

/// What the wrap adds on one side, over what it may add.
pub(super) static BUILD_THICKNESS: Measure = Measure {
    id: "build-thickness",
    asked: "thickness that the wrap adds on one side, over what it may add",
    unit: "1",
    per_exposure: false,
    tape: &[TapeRead::Sheet(Property::TotalThickness)],
    case: &[CaseRead::Wrap],
    demand: Some(Demand { name: "build that is allowed", symbol: "limit", unit: "mm", value: build_limit, last: None }),
    parts: &[],
    factor: None,
    best: None,
    work: build_thickness,
};

/// The narrowest width that is made, over the width asked for.
pub(super) static WIDTH_AVAILABLE: Measure = Measure {
    id: "width-available",
    asked: "narrowest width that is slit, over the width asked for",
    unit: "1",
    per_exposure: false,
    tape: &[TapeRead::Sheet(Property::MinimumWidth)],
    case: &[CaseRead::Nothing],
    demand: Some(Demand { name: "width asked for", symbol: "w", unit: "mm", value: width, last: None }),
    parts: &[],
    factor: None,
    best: None,
    work: width_available,
};

fn needed(enquiry: &Enquiry) -> Result<f64, &'static str> {
    let w = &enquiry.winding;
    let width = w.width.ok_or("winding.width")?;
    let bend = w.bend_radius.ok_or("winding.bend_radius")?;
    let around = w.circumference.ok_or("winding.circumference")?;
    bend_strain(width, bend, around).map_err(|_| "winding.bend_radius")
}

fn build_limit(enquiry: &Enquiry) -> Result<f64, &'static str> {
    enquiry.winding.build_limit.map(Length::si).ok_or("winding.build_limit")
}

fn width(enquiry: &Enquiry) -> Result<f64, &'static str> {
    enquiry.winding.width.map(Length::si).ok_or("winding.width")
}

fn conformability(w: &mut Work<'_>) -> Answer {
    w.method(
        "elastic strain at the winding tension, never that at break, and the give of the adhesive, against the bend",
    );
    let modulus = w.material("E", w.tape.backing, Side::Backing, Property::Modulus, None);
    let thickness = w.sheet("h", Property::BackingThickness);
    let elongation = w.sheet("strain at break", Property::Elongation);
    let winding = &w.enquiry.winding;
    let tension = w.given::<ForcePerLength>("T′", "winding.tension", winding.tension);
    let steer = winding.width.zip(winding.bend_radius).and_then(|(width, bend)| steer_strain(width, bend).ok());
    let adhesive = w.sheet("ta", Property::AdhesiveThickness);
    let around = w.given::<Length>("C", "winding.circumference", winding.circumference);
    let name = "shear of the adhesive over its thickness, for good";
    let shears = w.assumed("γ", name, SHEARS, "1", Property::Shear.dimension(Side::Other), Basis::FromMemory);
    let (Some(modulus), Some(thickness), Some(elongation), Some(tension), Some(adhesive), Some(around)) =
        (modulus, thickness, elongation, tension, adhesive, around)
    else {
        return Answer::Unknown;
    };
    w.note(|| {
        "a tape led along the bend in its own plane needs w/(2R) instead, which only narrow or soft tape has".to_owned()
    });
    w.estimate(&[&BEND, &STEER], true, |x, t| {
        if let Some(steer) = steer {
            t.step("w/(2R), if it is steered", steer, "1");
        }
        let elastic = tension.of(x) / (modulus.of(x) * thickness.of(x));
        t.step("T′/(E h)", elastic, "1");
        let most = elongation.of(x);
        // Around one turn the lap is too long here and too short there by strain times radius, and the
        // adhesive below gives way by a share of its thickness.
        let gives = shears.of(x) * adhesive.of(x) * 2.0 * core::f64::consts::PI / around.of(x);
        t.step("γ ta/r", gives, "1");
        gives + if elastic < most { elastic } else { most }
    })
}

fn build_thickness(w: &mut Work<'_>) -> Answer {
    w.method("mean layers of the lap times the thickness of the tape");
    let total = w.sheet("t", Property::TotalThickness);
    let layers = mean_layers(w);
    let (Some(total), Some(layers)) = (total, layers) else { return Answer::Unknown };
    w.note(|| "the circumference grows by 2π times this".to_owned());
    w.estimate(&[&HELICAL, &GROWTH], true, |x, t| {
        t.step("mean layers", layers, "1");
        total.of(x) * layers
    })
}

fn width_available(w: &mut Work<'_>) -> Answer {
    w.method("narrowest width of the sheet");
    let Some(narrowest) = w.sheet("narrowest", Property::MinimumWidth) else { return Answer::Unknown };
    w.estimate(&[], true, |x, _| narrowest.of(x))
}
