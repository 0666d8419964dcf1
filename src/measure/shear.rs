//! Whether the last lap holds the winding tension by shear.

use crate::catalogue::{Catalogue, Found, Property, Side};
use crate::enquiry::Enquiry;
use crate::evidence::{Basis, Shape, Spread};
use crate::models::Card;
use crate::models::GAS_CONSTANT;
use crate::models::softening::{SOFTENING, softer};
use crate::models::wrap::{Band, SHEAR, ShearLag, lap_shear, shear_lag};
use crate::quantity::{Length, Pressure, Temperature, TemperatureDifference, Time, tidy};

use super::kept::{Kept, Methods, PATHS};
use super::reads::hottest_in_service;
use super::work::{Shared, Slot, Trace};
use super::{Answer, CaseRead, Demand, Factor, Measure, Missing, Scale, TapeRead, Work};

/// Static shear stress that the last lap holds, over the stress that the winding tension puts on it.
pub(super) static SHEAR_HOLD: Measure = Measure {
    id: "shear-hold",
    asked: "static shear stress that the adhesive of the last lap holds, wetted and warm, over that of the winding tension",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive, TapeRead::Face, TapeRead::Sheet(Property::ShearTemperature)],
    case: &[CaseRead::Exposure, CaseRead::Bakes, CaseRead::Lap, CaseRead::HottestInService],
    demand: Some(Demand { name: "shear stress of the last lap", symbol: "τ", unit: "kPa", value: stress, last: None }),
    parts: &[],
    factor: Some(Factor { sheet: &[Property::Shear], value: shear_of_sheet }),
    best: None,
    work: shear_hold,
};

/// The shear of the sheet; an adhesive that sets may have yet to, and then does not hang on it.
fn shear_of_sheet(catalogue: &Catalogue, tape: usize, sheet: &[f64]) -> Option<Scale> {
    let by = sheet.first().copied().filter(|_| !catalogue.tapes[tape].thermosetting)?;
    Some(Scale { by, own: [0.0; 2] })
}

/// The last turn lies on the one below over its whole length, so the lap that holds is one circumference.
fn stress(enquiry: &Enquiry) -> Result<f64, &'static str> {
    let tension = enquiry.winding.tension.ok_or("winding.tension")?;
    let lap = enquiry.winding.circumference.ok_or("winding.circumference")?;
    lap_shear(tension, lap).map(Pressure::si).map_err(|_| "winding.circumference")
}

/// Kelvin above the test that halve the stress held.
const HALVES: Spread =
    Spread { value: 25.0, low: 12.0, high: 50.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };
/// The same of an adhesive that has set: its network does not soften, its hold on the surface does.
const HALVES_SET: Spread =
    Spread { value: 50.0, low: 25.0, high: 100.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };
/// The shear strain at which a network at rest lets go.
const STRAIN: Spread =
    Spread { value: 0.6, low: 0.3, high: 1.2, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };
/// The shear strain, in thicknesses, through which entanglements are drawn before they let go.
const DRAWN: Spread =
    Spread { value: 2.0, low: 1.0, high: 4.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };
/// The power of time by which the entanglements of an adhesive that has yet to set relax.
const RELAXES: Spread = Spread { value: 0.2, low: 0.12, high: 0.3, shape: Shape::LogNormal, floor: 0.0, ceiling: 1.0 };
/// s, to which the modulus at 1 Hz belongs.
const SECOND: f64 = 1.0;
/// K, the temperature of the modulus.
const WARM: f64 = 296.15;

/// Where the stress held comes from.
enum Strength {
    /// The sheet, at its temperature and, where it is hotter here, softened from there; without its shear
    /// where that is the factor of the tape.
    Sheet { shear: Option<Slot>, at: Slot, halves: Option<Slot> },
    /// An adhesive that has yet to set: its sparse network at rest and what its entanglements still
    /// bear after the time.
    Unset { crosslinks: Slot, modulus: Slot, strain: [Slot; 2], relaxes: Slot, halves: Slot, time: Slot },
}

impl Strength {
    fn gather(w: &mut Work<'_>, adhesive: usize, hottest: Temperature) -> Option<Strength> {
        if w.tape.thermosetting {
            // Without its bake nobody can say whether the sheet's shear holds here.
            let stated = [Property::CureTemperature, Property::CureTime].map(|property| {
                let known = w.catalogue.sheet(w.tape_index, property).is_some();
                if !known {
                    w.lacks(Missing::Sheet(property));
                }
                known
            });
            if stated != [true, true] {
                return None;
            }
        }
        if w.stays_unset() {
            return Strength::unset(w, adhesive, hottest);
        }
        let shear = w.sheet("S", Property::Shear);
        let at = w.sheet("T0", Property::ShearTemperature);
        let tested = w.catalogue.sheet(w.tape_index, Property::ShearTemperature)?.spread.value;
        let halves = (hottest.si() > tested + 1e-9).then(|| {
            w.extrapolate(|| "it is hotter than where the sheet took the shear: softened from there".to_owned());
            let set = w.tape.thermosetting;
            softening(w, if set { HALVES_SET } else { HALVES })
        });
        let shear = shear?;
        Some(Strength::Sheet { shear: (!w.is_apart()).then_some(shear), at: at?, halves })
    }

    fn unset(w: &mut Work<'_>, adhesive: usize, hottest: Temperature) -> Option<Strength> {
        w.note(|| {
            "the adhesive has yet to set, and the shear of the sheet is that of the set adhesive: what its sparse \
             network and its entanglements bear for this long is taken"
                .to_owned()
        });
        let crosslinks = w.material("ρx", adhesive, Side::Adhesive, Property::CrosslinkDensity, Some(hottest));
        let modulus = w.material("G", adhesive, Side::Adhesive, Property::Modulus, None);
        let time = w.given::<Time>("t", "duration", w.exposure().map(|x| x.duration));
        let name = "shear strain at which the network lets go";
        let rest = w.assumed("γ rest", name, STRAIN, "1", Property::Shear.dimension(Side::Other), Basis::Estimated);
        let name = "shear strain at which entanglements let go";
        let dimension = Property::Elongation.dimension(Side::Other);
        let drawn = w.assumed("γ drawn", name, DRAWN, "1", dimension, Basis::FromMemory);
        let name = "power of time by which entanglements relax";
        let dimension = Property::CrosslinkDensity.dimension(Side::Other);
        let relaxes = w.assumed("m", name, RELAXES, "1", dimension, Basis::FromMemory);
        let halves = softening(w, HALVES);
        Some(Strength::Unset {
            crosslinks: crosslinks?,
            modulus: modulus?,
            strain: [rest, drawn],
            relaxes,
            halves,
            time: time?,
        })
    }

    /// True where it is taken elsewhere than at the temperature of its number.
    const fn softens(&self) -> bool {
        !matches!(self, Strength::Sheet { halves: None, .. })
    }

    /// The inputs that it hangs on, and which form it has.
    fn hangs_on(&self) -> (Vec<Slot>, f64) {
        match self {
            Strength::Sheet { shear, at, halves } => {
                let form = if shear.is_some() { 1.0 } else { 2.0 } + if halves.is_some() { 2.0 } else { 0.0 };
                (shear.iter().chain([at]).chain(halves).copied().collect(), form)
            }
            Strength::Unset { crosslinks, modulus, strain, relaxes, halves, time } => {
                (vec![*crosslinks, *modulus, strain[0], strain[1], *relaxes, *halves, *time], 0.0)
            }
        }
    }

    fn at(&self, x: &[f64], temperature: f64, t: &mut Trace<'_>) -> f64 {
        match self {
            Strength::Sheet { shear, at, halves } => {
                let softer = halves.map_or(1.0, |halves| softer_at(temperature, at.of(x), halves.of(x)));
                if halves.is_some() {
                    t.step("softer", softer, "1");
                }
                shear.map_or(1.0, |shear| shear.of(x)) * softer
            }
            Strength::Unset { crosslinks, modulus, strain, relaxes, halves, time } => {
                let network = crosslinks.of(x) * GAS_CONSTANT * temperature;
                let relaxed = libm::exp2(-relaxes.of(x) * libm::log2(libm::fmax(time.of(x) / SECOND, 1.0)));
                let softer = softer_at(temperature, WARM, halves.of(x));
                t.step("ρx R T", network, "Pa");
                t.step("G of the entanglements by then", modulus.of(x) * relaxed * softer, "Pa");
                strain[0].of(x) * network + strain[1].of(x) * modulus.of(x) * relaxed * softer
            }
        }
    }
}

fn softer_at(temperature: f64, reference: f64, halves: f64) -> f64 {
    let [temperature, reference] = [temperature, reference].map(Temperature::from_si);
    softer(temperature, reference, TemperatureDifference::from_si(halves)).unwrap_or(f64::NAN)
}

fn softening(w: &mut Work<'_>, halves: Spread) -> Slot {
    let dimension = Property::ShearTemperature.dimension(Side::Other);
    w.assumed("ΔT", "warming that halves the stress held", halves, "K", dimension, Basis::FromMemory)
}

/// How unevenly the last lap bears at rest, at central values; none where they are not known. It is told and not
/// counted: how far the adhesive flows before it lets go is for the test to say.
fn uneven(catalogue: &Catalogue, tape: usize, adhesive: usize, lap: Option<Length>) -> Option<ShearLag> {
    let central = |found: Option<Found>| found.map(|found| found.spread.value);
    let thickness = |property| central(catalogue.sheet(tape, property)).map(Length::from_si);
    let modulus = |of| central(catalogue.find_on(tape, of, Property::Modulus, None)).map(Pressure::from_si);
    let band = Band {
        modulus: modulus(catalogue.tapes[tape].backing)?,
        thickness: thickness(Property::BackingThickness)?,
        shear_modulus: modulus(adhesive)?,
        adhesive: thickness(Property::AdhesiveThickness)?,
    };
    shear_lag(band, lap?).ok()
}

fn unevenly(uneven: Option<ShearLag>) -> String {
    let bound = uneven.map_or_else(String::new, |uneven| {
        let (length, peak) = (tidy(uneven.transfer.si() * 1e3, 2), tidy(uneven.peak, 2));
        format!(": most of the force goes over within {length} mm of the end, at up to {peak} times τ (Volkersen)")
    });
    format!("until the adhesive has flowed the stress is not even{bound}; where the end must not creep, tie it")
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
    let duty = hottest_in_service(w.enquiry, exposure);
    let key = if duty.is_some() { w.enquiry.duty.hottest_key() } else { "temperature" };
    let hottest = duty.unwrap_or(exposure.temperature);
    w.note(|| {
        "the winding tension is borne by the last turn, which lies on the one below over its whole length: τ is the \
         tension over one circumference, not over the overlap"
            .to_owned()
    });
    let (catalogue, tape, lap) = (w.catalogue, w.tape_index, w.enquiry.winding.circumference);
    w.note(|| unevenly(uneven(catalogue, tape, adhesive, lap)));
    let temperature = w.given::<Temperature>("T", key, Some(hottest));
    let strength = Strength::gather(w, adhesive, hottest);
    let (Some(strength), Some(temperature), Some(kept)) = (strength, temperature, kept) else { return Answer::Unknown };
    let cards: [&'static Card; 5] = [&SOFTENING, &SHEAR, PATHS[0], PATHS[1], PATHS[2]];
    let cards = &kept.cards(&cards)[usize::from(!strength.softens())..];
    let (mut on, form) = strength.hangs_on();
    on.push(temperature);
    let dry = w.shared("stress held dry", &on, &[form], move |x, t| {
        let dry = strength.at(x, temperature.of(x), t);
        t.step("stress held dry", dry, "Pa");
        dry
    });
    let parts: Vec<Shared> = [Some(dry), kept.shared(w)].into_iter().flatten().collect();
    w.product(cards, &parts, None)
}
