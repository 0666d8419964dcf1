//! Whether the edge of a lap lifts: the bent backing against slow peel.

use crate::catalogue::{Catalogue, Property, Side};
use crate::enquiry::Enquiry;
use crate::evidence::{Basis, Shape, Spread};
use crate::models::Card;
use crate::models::bending::{self, EDGE_LIFT};
use crate::models::peel::PEEL;
use crate::quantity::{EnergyPerArea, Length, Pressure, Temperature};

use super::kept::{Kept, Methods, PATHS};
use super::work::Shared;
use super::{Answer, CaseRead, Demand, Factor, Measure, TapeRead, Work};

/// Energy that slow peel takes, over the bending energy that the end of a turn gives up.
pub(super) static EDGE_LIFT_HOLD: Measure = Measure {
    id: "edge-lift",
    asked: "energy that slow peel of a lap takes, wetted and warm, over the bending energy that lifts its edge",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive, TapeRead::Backing, TapeRead::Face],
    case: &[CaseRead::Exposure, CaseRead::Bakes, CaseRead::Lap],
    demand: Some(Demand {
        name: "curvature squared of what is wrapped",
        symbol: "1/r²",
        unit: "1/m2",
        value: curvature,
        last: None,
    }),
    factor: Some(Factor {
        sheet: &[Property::AdhesionToBacking, Property::AdhesionAngle, Property::BackingThickness],
        value: peel_over_thickness_cubed,
    }),
    work: edge_lift,
};

fn curvature(enquiry: &Enquiry) -> Result<f64, &'static str> {
    let around = enquiry.winding.circumference.ok_or("winding.circumference")?.si();
    let radius = around / (2.0 * core::f64::consts::PI);
    Ok(1.0 / (radius * radius))
}

/// Peel so slow that only the edge creeps takes a small share of the peel of the sheet, which is fast.
const SLOW: Spread =
    Spread { value: 0.1, low: 0.03, high: 0.3, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };
/// Kelvin above [`WARM`] that halve the peel.
const HALVES: Spread =
    Spread { value: 40.0, low: 20.0, high: 80.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };
/// K, the temperature of peel on a sheet.
const WARM: f64 = 296.15;
/// A backing of fibres bends by their sliding, so it is less stiff in bending than in tension.
const SLIDING: Spread =
    Spread { value: 0.1, low: 0.02, high: 0.4, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };

const METHODS: Methods = Methods {
    tested: "bending energy against slow peel, kept as tested",
    bounded: "bending energy against slow peel at the edge depth; no better than a milder test",
    lap: "bending energy against slow peel at the edge depth",
    dry: "bending energy against slow peel",
};

/// What peels on the sheet takes. The stretch of the backing adds little to it, so its modulus counts at its median.
fn peel_energy(force: f64, angle: f64, thickness: f64, modulus: f64) -> f64 {
    force * (1.0 - libm::cos(angle)) + force * force / (2.0 * modulus * thickness)
}

/// The median modulus of the backing of a tape.
fn modulus_of(catalogue: &Catalogue, tape: usize) -> Option<f64> {
    let backing = catalogue.tapes[tape].backing;
    catalogue.find_on(tape, backing, Property::Modulus, None).map(|found| found.spread.value)
}

fn peel_over_thickness_cubed(catalogue: &Catalogue, tape: usize, sheet: &[f64]) -> Option<f64> {
    let &[force, angle, thickness] = sheet else { return None };
    let peel = peel_energy(force, angle, thickness, modulus_of(catalogue, tape)?);
    Some(peel / (thickness * thickness * thickness))
}

fn edge_lift(w: &mut Work<'_>) -> Answer {
    let adhesive = w.adhesive();
    let kept = Kept::gather(w, adhesive, Property::AdhesionKept, &METHODS);
    let modulus = w.material("E", w.tape.backing, Side::Backing, Property::Modulus, None);
    let thickness = w.sheet("h", Property::BackingThickness);
    let adhesion = w.sheet("F", Property::AdhesionToBacking);
    let angle = w.sheet("θ", Property::AdhesionAngle);
    let temperature = w.given::<Temperature>("T", "temperature", w.exposure().map(|x| x.temperature));
    let other = |property: Property| property.dimension(Side::Other);
    let memory = Basis::FromMemory;
    let slow = w.assumed("slow", "slow peel over peel of the sheet", SLOW, "1", other(Property::AdhesionKept), memory);
    let halves = w.assumed("ΔT", "warming that halves the peel", HALVES, "K", other(Property::GlassTransition), memory);
    let fibres = w.catalogue.is_open(w.tape_index) == Some(true);
    let sliding = fibres.then(|| {
        let name = "bending over tensile stiffness of a backing of fibres";
        w.assumed("slide", name, SLIDING, "1", other(Property::Modulus), memory)
    });
    let (Some(modulus), Some(thickness), Some(adhesion), Some(angle), Some(temperature), Some(kept)) =
        (modulus, thickness, adhesion, angle, temperature, kept)
    else {
        return Answer::Unknown;
    };
    let cards: [&'static Card; 4] = [&EDGE_LIFT, &PEEL, PATHS[0], PATHS[1]];
    let cards = kept.cards(&cards);
    let median = modulus_of(w.catalogue, w.tape_index).unwrap_or(f64::NAN);
    let apart = w.is_apart();
    let mut parts = Vec::with_capacity(3);
    if !apart {
        let on = [adhesion, angle, thickness];
        parts.push(w.shared("peel of the sheet", &on, &[median], move |x, t| {
            let peel = peel_energy(adhesion.of(x), angle.of(x), thickness.of(x), median);
            t.step("peel energy of the sheet", peel, "J/m2");
            peel
        }));
    }
    let kept = kept.shared(w);
    let mut on = vec![slow, halves, temperature];
    on.extend(kept.as_ref().and_then(Shared::slot));
    parts.push(w.shared("share of slow peel", &on, &[], move |x, t| {
        let heat = libm::exp2(-libm::fmax(temperature.of(x) - WARM, 0.0) / halves.of(x));
        let share = slow.of(x) * heat * kept.as_ref().map_or(1.0, |kept| kept.of(x, t));
        t.step("share of it that slow peel takes", share, "1");
        share
    }));
    // At a radius of one metre; the demand brings the curvature of the enquiry. Apart from the cell, a
    // thickness of one metre as well; the factor brings that of the tape.
    let mut on = vec![modulus];
    on.extend(sliding);
    on.extend((!apart).then_some(thickness));
    let form = [f64::from(u8::from(sliding.is_some())), f64::from(u8::from(apart))];
    parts.push(w.shared("no bending", &on, &form, move |x, t| {
        let stiff = modulus.of(x) * sliding.map_or(1.0, |s| s.of(x));
        let thickness = if apart { 1.0 } else { thickness.of(x) };
        let bending = bending::energy(Pressure::from_si(stiff), Length::from_si(thickness), Length::from_si(1.0));
        let bending = bending.map_or(f64::NAN, EnergyPerArea::si);
        t.step("bending energy at a radius of 1 m", bending, "J/m2");
        1.0 / bending
    }));
    w.product(cards, &parts)
}
