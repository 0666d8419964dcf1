//! Breakdown of the wrap at its thinnest place.

use core::f64::consts::SQRT_2;

use crate::catalogue::{Property, Side};
use crate::models::breakdown::{STRENGTH, STRENGTH_THICKNESS, at_thickness};
use crate::models::layers::{SERIES, STEADY};
use crate::models::wrap::THINNEST;
use crate::quantity::{FieldStrength, Length};

use super::layers::least_layers;
use super::moisture::trial;
use super::stress::PEAK;
use super::tested::Heard;
use super::work::{Slot, Trace};
use super::{Answer, CaseRead, Measure, TapeRead, Work};

/// Peak breakdown voltage of the wrap at its thinnest place, over the peak voltage across it.
pub(super) static BREAKDOWN_MARGIN: Measure = Measure {
    id: "breakdown-margin",
    asked: "short-time breakdown voltage of the wrap at its thinnest place, as service leaves it, over the voltage across it, both peak",
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
    case: &[CaseRead::Wrap, CaseRead::Service, CaseRead::DirectVoltage],
    demand: Some(PEAK),
    parts: &[],
    factor: None,
    best: None,
    work: breakdown_margin,
};

fn breakdown_margin(w: &mut Work<'_>) -> Answer {
    let direct = w.enquiry.voltage.as_ref().is_some_and(|v| v.kind == "dc");
    w.method(if direct {
        "short-time breakdown of the sheet, carried to the layers of the thinnest place, to service and to sharing by \
         resistivity"
    } else {
        "short-time breakdown of the sheet, carried to the layers of the thinnest place and to service"
    });
    let Some(wrap) = Wrap::gather(w) else { return Answer::Unknown };
    w.note(|| "a short-time value of the sheet is not a service stress: the limits carry that distance".to_owned());
    if w.enquiry.voltage.as_ref().is_some_and(|v| !v.other_insulation.is_empty()) {
        w.note(|| {
            "the wrap is asked to bear all of the voltage: what lies in series with it is not counted".to_owned()
        });
    }
    w.estimate(&[&STRENGTH, &THINNEST, &SERIES, &STEADY], wrap.sharing.is_none(), |x, t| wrap.peak(x, t))
}

/// What the breakdown of a wrap hangs on.
pub(super) struct Wrap {
    sheet: Slot,
    thickness: Slot,
    exponent: Slot,
    layers: f64,
    /// The shares that tests say it keeps in the exposures of service.
    kept: Vec<Slot>,
    sharing: Option<Sharing>,
}

impl Wrap {
    pub(super) fn gather(w: &mut Work<'_>) -> Option<Wrap> {
        let sheet = w.sheet("Ub", Property::Breakdown);
        let thickness = w.sheet("t", Property::TotalThickness);
        let exponent = w.material("n", w.tape.backing, Side::Backing, Property::StrengthExponent, None);
        let layers = least_layers(w);
        let kept = Wrap::kept(w);
        let direct = w.enquiry.voltage.as_ref().is_some_and(|v| v.kind == "dc");
        let sharing = if direct { Some(Sharing::gather(w)?) } else { None };
        let (thickness, layers) = (thickness?, layers?);
        let one = w.median(thickness);
        let beyond = [one, one * layers.max(1.0)].iter().find_map(|at| STRENGTH_THICKNESS.check(*at));
        if let Some(note) = beyond.filter(|_| layers > 1.0) {
            w.extrapolate(|| note);
        }
        Some(Wrap { sheet: sheet?, thickness, exponent: exponent?, layers, kept, sharing })
    }

    /// Damp and liquids act on the same voltage, so what they leave of it belongs in the margin.
    fn kept(w: &mut Work<'_>) -> Vec<Slot> {
        let enquiry = w.enquiry;
        let service = enquiry.exposures.iter().filter(|x| x.stage == "service");
        service
            .filter_map(|x| {
                let trial = trial(w);
                let kept = match w.hear_in(x, trial, false) {
                    Heard::Settled(slot, _) | Heard::NoBetter(slot) => Some(slot),
                    Heard::Nothing => None,
                };
                w.note(|| match kept {
                    Some(_) => format!("what {} leaves of the breakdown voltage is taken in, a gain is not", x.name),
                    None => {
                        format!("what {} leaves of the breakdown voltage was not tested: it is not in here", x.name)
                    }
                });
                kept
            })
            .collect()
    }

    /// The peak voltage at which the wrap breaks down in the exposure of service that leaves least.
    pub(super) fn peak(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        t.step("layers at the thinnest place", self.layers, "1");
        if self.layers < 1.0 {
            return 0.0;
        }
        let one = Length::from_si(self.thickness.of(x));
        let strength = FieldStrength::from_si(self.sheet.of(x) / one.si());
        let wrap = at_thickness(strength, one, Length::from_si(one.si() * self.layers), self.exponent.of(x));
        let voltage = wrap.map_or(f64::NAN, |wrap| wrap.voltage.si());
        t.step("breakdown of the wrap, rms", voltage, "V");
        let kept = self.kept.iter().map(|kept| kept.of(x)).fold(1.0, f64::min);
        t.step("share kept in service", kept, "1");
        voltage * SQRT_2 * kept * self.sharing.as_ref().map_or(1.0, |sharing| sharing.relief(x, t))
    }
}

/// Backing and adhesive in series, sharing alternating voltage by permittivity, direct by resistivity.
struct Sharing {
    thickness: [Slot; 2],
    permittivity: [Slot; 2],
    resistivity: [Slot; 2],
}

impl Sharing {
    fn gather(w: &mut Work<'_>) -> Option<Sharing> {
        let hottest = w.given("T", w.enquiry.duty.hottest_key(), w.enquiry.duty.hottest());
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
