//! Breakdown of the wrap at its thinnest place.

use core::f64::consts::SQRT_2;

use crate::catalogue::{Property, Side};
use crate::models::breakdown::{STRENGTH, at_thickness};
use crate::models::layers::{SERIES, STEADY};
use crate::models::wrap::THINNEST;
use crate::quantity::{FieldStrength, Length};

use super::layers::least_layers;
use super::stress::PEAK;
use super::work::{Slot, Trace};
use super::{Answer, CaseRead, Measure, TapeRead, Work};

/// Peak breakdown voltage of the wrap at its thinnest place, over the peak voltage across it.
pub(super) static BREAKDOWN_MARGIN: Measure = Measure {
    id: "breakdown-margin",
    asked: "short-time breakdown voltage of the wrap at its thinnest place, over the voltage across it, both peak",
    unit: "1",
    per_exposure: false,
    tape: &[
        TapeRead::Sheet(Property::Breakdown),
        TapeRead::Sheet(Property::TotalThickness),
        TapeRead::Sheet(Property::BackingThickness),
        TapeRead::Sheet(Property::AdhesiveThickness),
        TapeRead::Backing,
        TapeRead::Adhesive,
    ],
    case: &[CaseRead::Wrap, CaseRead::DirectVoltage],
    demand: Some(PEAK),
    parts: &[],
    factor: None,
    best: None,
    work: breakdown_margin,
};

fn breakdown_margin(w: &mut Work<'_>) -> Answer {
    let direct = w.enquiry.voltage.as_ref().is_some_and(|v| v.kind == "dc");
    w.method(if direct {
        "short-time breakdown of the sheet, carried to the layers of the thinnest place and to sharing by resistivity"
    } else {
        "short-time breakdown of the sheet, carried to the layers of the thinnest place"
    });
    let sheet = w.sheet("Ub", Property::Breakdown);
    let thickness = w.sheet("t", Property::TotalThickness);
    let exponent = w.material("n", w.tape.backing, Side::Backing, Property::StrengthExponent, None);
    let layers = least_layers(w);
    let sharing = if direct { Sharing::gather(w).map(Some) } else { Some(None) };
    let (Some(sheet), Some(thickness), Some(exponent), Some(layers), Some(sharing)) =
        (sheet, thickness, exponent, layers, sharing)
    else {
        return Answer::Unknown;
    };
    w.note(|| "a short-time value of the sheet is not a service stress: the limits carry that distance".to_owned());
    w.estimate(&[&STRENGTH, &THINNEST, &SERIES, &STEADY], sharing.is_none(), |x, t| {
        t.step("layers at the thinnest place", layers, "1");
        if layers < 1.0 {
            return 0.0;
        }
        let one = Length::from_si(thickness.of(x));
        let strength = FieldStrength::from_si(sheet.of(x) / one.si());
        let wrap = at_thickness(strength, one, Length::from_si(one.si() * layers), exponent.of(x));
        let voltage = wrap.map_or(f64::NAN, |wrap| wrap.voltage.si());
        t.step("breakdown of the wrap, rms", voltage, "V");
        voltage * SQRT_2 * sharing.as_ref().map_or(1.0, |sharing| sharing.relief(x, t))
    })
}

/// Backing and adhesive in series, sharing alternating voltage by permittivity, direct by resistivity.
struct Sharing {
    thickness: [Slot; 2],
    permittivity: [Slot; 2],
    resistivity: [Slot; 2],
}

impl Sharing {
    fn gather(w: &mut Work<'_>) -> Option<Sharing> {
        let hottest = w.given("T", "duty.load_profile", w.enquiry.duty.hottest());
        let at = w.enquiry.duty.hottest();
        let (backing, adhesive) = (w.tape.backing, w.adhesive());
        let tb = w.sheet("tb", Property::BackingThickness);
        let ta = w.sheet("ta", Property::AdhesiveThickness);
        let eb = w.material("εb", backing, Side::Backing, Property::Permittivity, None);
        let ea = w.material("εa", adhesive, Side::Adhesive, Property::Permittivity, None);
        let rb = w.material("ρb", backing, Side::Backing, Property::VolumeResistivity, at);
        let ra = w.material("ρa", adhesive, Side::Adhesive, Property::VolumeResistivity, at);
        hottest?;
        Some(Sharing { thickness: [tb?, ta?], permittivity: [eb?, ea?], resistivity: [rb?, ra?] })
    }

    /// The direct voltage at which a layer bears what it bore in the alternating test, over the
    /// alternating voltage of that test.
    fn relief(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        let [tb, ta] = self.thickness.map(|slot| slot.of(x));
        let [eb, ea] = self.permittivity.map(|slot| slot.of(x));
        let [rb, ra] = self.resistivity.map(|slot| slot.of(x));
        let (alternating, direct) = ((tb / eb, ta / ea), (tb * rb, ta * ra));
        let share = |(one, other): (f64, f64)| one / (one + other);
        let swap = |(one, other): (f64, f64)| (other, one);
        let backing = share(alternating) / share(direct);
        let adhesive = share(swap(alternating)) / share(swap(direct));
        let relief = if backing <= adhesive { backing } else { adhesive };
        t.step("direct over alternating voltage at breakdown", relief, "1");
        relief
    }
}
