//! Whether the edge of a lap lifts: the bent backing against slow peel.

use crate::catalogue::{Catalogue, Property, Side};
use crate::enquiry::Enquiry;
use crate::evidence::{Basis, Shape, Spread};
use crate::models::Card;
use crate::models::bending::{self, EDGE_LIFT};
use crate::models::peel::PEEL;
use crate::models::softening::{SLOW_PEEL, SOFTENING, slow_peel, softer};
use crate::quantity::{EnergyPerArea, Length, Pressure, Temperature, TemperatureDifference};

use super::kept::{Kept, Methods, PATHS};
use super::work::{Shared, Slot};
use super::{Answer, CaseRead, Demand, Factor, Measure, Scale, TapeRead, Work};

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
    parts: &[&[TapeRead::Adhesive, TapeRead::Face], &[TapeRead::Backing], &[TapeRead::Backing]],
    factor: Some(Factor {
        sheet: &[Property::AdhesionToBacking, Property::AdhesionAngle, Property::BackingThickness],
        value: peel_over_thickness_cubed,
    }),
    best: None,
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

/// What peels on the sheet takes, and what of it the stretch of the backing does.
fn peel_energy(force: f64, angle: f64, thickness: f64, modulus: f64) -> (f64, f64) {
    let stretch = force * force / (2.0 * modulus * thickness);
    (force * (1.0 - libm::cos(angle)) + stretch, stretch)
}

/// The peel of a sheet at the median modulus of its backing, and the share of it that is stretch, which goes with the
/// compliance.
fn peel_over_thickness_cubed(catalogue: &Catalogue, tape: usize, sheet: &[f64]) -> Option<Scale> {
    let &[force, angle, thickness] = sheet else { return None };
    let modulus = catalogue.find_on(tape, catalogue.tapes[tape].backing, Property::Modulus, None)?.spread.value;
    let (peel, stretch) = peel_energy(force, angle, thickness, modulus);
    let share = stretch / peel;
    let by = peel / (thickness * thickness * thickness);
    (0.0..=1.0).contains(&share).then_some(Scale { by, own: [share, 0.0] })
}

fn edge_lift(w: &mut Work<'_>) -> Answer {
    let mut cards: &[&'static Card] = &[&EDGE_LIFT, &PEEL, &SLOW_PEEL, &SOFTENING, PATHS[0], PATHS[1], PATHS[2]];
    let share = w.part(SHARE, |w| share_of_slow_peel(w, &mut cards));
    let peel = peel_of_sheet(w);
    let bending = if w.is_apart() { w.part(BENDING, |w| no_bending(w, None)) } else { bending_of_sheet(w) };
    let (Some(peel), Some(share), Some(bending)) = (peel, share, bending) else { return Answer::Unknown };
    let compliance = if w.is_apart() { w.part(COMPLIANCE, compliance) } else { None };
    w.product(cards, &peel.into_iter().chain([share, bending]).collect::<Vec<Shared>>(), compliance.as_ref())
}

/// The parts that tapes share which are not alike in all.
const SHARE: usize = 0;
const BENDING: usize = 1;
const COMPLIANCE: usize = 2;

/// What the sheet's peel takes; no part where it is in the factor of the tape.
fn peel_of_sheet(w: &mut Work<'_>) -> Option<Vec<Shared>> {
    let adhesion = w.sheet("F", Property::AdhesionToBacking);
    let angle = w.sheet("θ", Property::AdhesionAngle);
    let thickness = w.sheet("h", Property::BackingThickness);
    let (adhesion, angle, thickness) = (adhesion?, angle?, thickness?);
    if w.is_apart() {
        return Some(Vec::new());
    }
    let modulus = modulus(w)?;
    let peel = w.shared("peel of the sheet", &[adhesion, angle, thickness, modulus], &[], move |x, t| {
        let (peel, _) = peel_energy(adhesion.of(x), angle.of(x), thickness.of(x), modulus.of(x));
        t.step("peel energy of the sheet", peel, "J/m2");
        peel
    });
    Some(vec![peel])
}

fn modulus(w: &mut Work<'_>) -> Option<Slot> {
    w.material("E", w.tape.backing, Side::Backing, Property::Modulus, None)
}

/// The compliance of the backing over that at its median modulus.
fn compliance(w: &mut Work<'_>) -> Option<Shared> {
    let modulus = modulus(w)?;
    let median = w.median(modulus);
    Some(w.lasting("compliance", &[modulus], &[], move |x, _| median / modulus.of(x)))
}

/// Of that, what slow peel takes, wetted and warm.
fn share_of_slow_peel(w: &mut Work<'_>, cards: &mut &[&'static Card]) -> Option<Shared> {
    let adhesive = w.adhesive();
    let kept = Kept::gather(w, adhesive, Property::AdhesionKept, &METHODS);
    let temperature = w.given::<Temperature>("T", "temperature", w.exposure().map(|x| x.temperature));
    let other = |property: Property| property.dimension(Side::Other);
    let memory = Basis::FromMemory;
    let slow = w.assumed("slow", "slow peel over peel of the sheet", SLOW, "1", other(Property::AdhesionKept), memory);
    let halves = w.assumed("ΔT", "warming that halves the peel", HALVES, "K", other(Property::GlassTransition), memory);
    let (kept, temperature) = (kept?, temperature?);
    *cards = kept.cards(cards);
    let kept = kept.shared(w);
    let mut on = vec![slow, halves, temperature];
    on.extend(kept.as_ref().and_then(Shared::slot));
    Some(w.shared("share of slow peel", &on, &[], move |x, t| {
        let (now, warm) = (Temperature::from_si(temperature.of(x)), Temperature::from_si(WARM));
        let softer = softer(now, warm, TemperatureDifference::from_si(halves.of(x)));
        let kept = kept.as_ref().map_or(1.0, |kept| kept.of(x, t));
        let share = softer.and_then(|softer| slow_peel(slow.of(x), softer, kept)).unwrap_or(f64::NAN);
        t.step("share of it that slow peel takes", share, "1");
        share
    }))
}

/// Over the bending energy of a backing as thick as the sheet says.
fn bending_of_sheet(w: &mut Work<'_>) -> Option<Shared> {
    let thickness = w.sheet("h", Property::BackingThickness);
    no_bending(w, Some(thickness?))
}

/// Over the bending energy at a radius of one metre; the demand brings the curvature of the enquiry. Without
/// a thickness at one of a metre as well; the factor brings that of the tape.
fn no_bending(w: &mut Work<'_>, thickness: Option<Slot>) -> Option<Shared> {
    let modulus = modulus(w);
    let fibres = w.catalogue.is_open(w.tape_index) == Some(true);
    let sliding = fibres.then(|| {
        let name = "bending over tensile stiffness of a backing of fibres";
        let dimension = Property::Modulus.dimension(Side::Other);
        w.assumed("slide", name, SLIDING, "1", dimension, Basis::FromMemory)
    });
    let modulus = modulus?;
    let on: Vec<Slot> = [Some(modulus), sliding, thickness].into_iter().flatten().collect();
    let form = [sliding, thickness].map(|slot| f64::from(u8::from(slot.is_some())));
    Some(w.lasting("no bending", &on, &form, move |x, t| {
        let stiff = Pressure::from_si(modulus.of(x) * sliding.map_or(1.0, |s| s.of(x)));
        let thickness = Length::from_si(thickness.map_or(1.0, |thickness| thickness.of(x)));
        let bending = bending::energy(stiff, thickness, Length::from_si(1.0)).map_or(f64::NAN, EnergyPerArea::si);
        t.step("bending energy at a radius of 1 m", bending, "J/m2");
        1.0 / bending
    }))
}
