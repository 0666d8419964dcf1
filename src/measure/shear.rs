//! Whether the last lap holds the winding tension by shear.

use crate::catalogue::{Property, Side};
use crate::enquiry::Enquiry;
use crate::evidence::{Basis, Shape, Spread};
use crate::models::GAS_CONSTANT;
use crate::models::diffusion::{DIFFUSIVITY, EDGE};
use crate::models::wrap::{SHEAR, lap_shear};
use crate::quantity::{Pressure, Temperature};

use super::kept::{Kept, Methods};
use super::work::Slot;
use super::{Answer, CaseRead, Demand, Measure, TapeRead, Work};

/// Static shear stress that the last lap holds, over the stress that the winding tension puts on it.
pub(super) static SHEAR_HOLD: Measure = Measure {
    id: "shear-hold",
    asked: "static shear stress that the adhesive of the last lap holds, wetted and warm, over that of the winding tension",
    unit: "1",
    per_exposure: true,
    tape: &[
        TapeRead::Adhesive,
        TapeRead::Backing,
        TapeRead::Sheet(Property::OpenPorosity),
        TapeRead::Sheet(Property::AdhesiveThickness),
        TapeRead::Sheet(Property::Shear),
        TapeRead::Sheet(Property::ShearTemperature),
    ],
    case: &[CaseRead::Exposure, CaseRead::Bakes, CaseRead::Lap, CaseRead::Hottest],
    demand: Some(Demand { name: "shear stress of the last lap", symbol: "τ", unit: "kPa", value: stress }),
    work: shear_hold,
};

/// The last turn lies on the one below over its whole length, so the lap that holds is one circumference.
fn stress(enquiry: &Enquiry) -> Result<f64, &'static str> {
    let tension = enquiry.winding.tension.ok_or("winding.tension")?;
    let lap = enquiry.winding.circumference.ok_or("winding.circumference")?;
    lap_shear(tension, lap).map(Pressure::si).map_err(|_| "winding.circumference")
}

/// Kelvin above the test that halve the stress held.
const HALVES: Spread =
    Spread { value: 25.0, low: 12.0, high: 50.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };
/// The shear strain at which a network at rest lets go.
const STRAIN: Spread =
    Spread { value: 0.6, low: 0.3, high: 1.2, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };

/// Where the stress held comes from.
enum Strength {
    /// The sheet, at its temperature and, where it is hotter here, softened from there.
    Sheet { shear: Slot, at: Slot, halves: Option<Slot> },
    /// The network of an adhesive that has yet to set.
    Network { crosslinks: Slot, strain: Slot },
}

impl Strength {
    fn gather(w: &mut Work<'_>, adhesive: usize, hottest: Temperature) -> Option<Strength> {
        let dimension = Property::Shear.dimension(Side::Other);
        if w.stays_unset() {
            w.note(|| {
                "the adhesive has yet to set, and the shear of the sheet is that of the set adhesive: what its sparse \
                 network holds at rest is taken"
                    .to_owned()
            });
            let crosslinks = w.material("ν", adhesive, Side::Adhesive, Property::CrosslinkDensity, Some(hottest));
            let name = "shear strain at which the network lets go";
            let strain = w.assumed("γ", name, STRAIN, "1", dimension, Basis::Estimated);
            return Some(Strength::Network { crosslinks: crosslinks?, strain });
        }
        let shear = w.sheet("S", Property::Shear);
        let at = w.sheet("T0", Property::ShearTemperature);
        let tested = w.catalogue.sheet(w.tape_index, Property::ShearTemperature)?.spread.value;
        let halves = (hottest.si() > tested + 1e-9).then(|| {
            w.extrapolate(|| "it is hotter than where the sheet took the shear: softened from there".to_owned());
            let name = "warming that halves the stress held";
            let dimension = Property::ShearTemperature.dimension(Side::Other);
            w.assumed("ΔT", name, HALVES, "K", dimension, Basis::FromMemory)
        });
        Some(Strength::Sheet { shear: shear?, at: at?, halves })
    }

    fn at(&self, x: &[f64], temperature: f64) -> f64 {
        match self {
            Strength::Sheet { shear, at, halves } => {
                let softer = halves.map_or(1.0, |halves| libm::exp2(-(temperature - at.of(x)) / halves.of(x)));
                shear.of(x) * softer
            }
            Strength::Network { crosslinks, strain } => strain.of(x) * crosslinks.of(x) * GAS_CONSTANT * temperature,
        }
    }
}

const METHODS: Methods = Methods {
    tested: "static shear, kept as tested",
    bounded: "static shear at the edge depth; no better than a milder test",
    lap: "static shear at the edge depth",
    dry: "static shear at temperature",
};

fn shear_hold(w: &mut Work<'_>) -> Answer {
    let adhesive = w.adhesive();
    let Some(exposure) = w.exposure() else { return Answer::Unknown };
    let kept = Kept::gather(w, adhesive, Property::ShearKept, &METHODS);
    // In service the hottest hours of the duty count, whatever the medium's mean.
    let duty =
        w.enquiry.duty.hottest().filter(|hot| exposure.stage == "service" && hot.si() > exposure.temperature.si());
    let key = if duty.is_some() { "duty.load_profile" } else { "temperature" };
    let hottest = duty.unwrap_or(exposure.temperature);
    let temperature = w.given::<Temperature>("T", key, Some(hottest));
    let strength = Strength::gather(w, adhesive, hottest);
    let (Some(strength), Some(temperature), Some(kept)) = (strength, temperature, kept) else { return Answer::Unknown };
    w.estimate(&[&SHEAR, &EDGE, &DIFFUSIVITY], false, |x, t| {
        let dry = strength.at(x, temperature.of(x));
        t.step("stress held dry", dry, "Pa");
        dry * kept.at(x, t)
    })
}
