//! What a measure may read, as data: the keys of shared cells are made from it.

use crate::catalogue::{Catalogue, Property, Subject};
use crate::enquiry::{Enquiry, Exposure};
use crate::quantity::{Pressure, Temperature, Typed};

/// A thing read of the tape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TapeRead {
    /// The backing and everything known of it.
    Backing,
    /// The adhesive, how it cures, and everything known of it.
    Adhesive,
    /// Whether liquid comes through the face of the backing and, if so, how thick the adhesive is that it meets.
    Face,
    /// A number of the sheet.
    Sheet(Property),
    /// A word of the sheet, by its column.
    Text(&'static str),
    /// The insulation systems that list it.
    Systems,
}

impl TapeRead {
    /// Appends the bits of what is read, equal for tapes that cannot differ in it.
    pub fn bits(self, catalogue: &Catalogue, index: usize, out: &mut Vec<u64>) {
        let tape = &catalogue.tapes[index];
        let own = if catalogue.tape_overrides(index) { index as u64 + 1 } else { 0 };
        match self {
            TapeRead::Backing => out.extend([tape.backing as u64, own]),
            TapeRead::Adhesive => {
                out.extend([tape.adhesive as u64, own, u64::from(tape.thermosetting)]);
                for property in [Property::CureTemperature, Property::CureTime] {
                    TapeRead::Sheet(property).bits(catalogue, index, out);
                }
            }
            TapeRead::Face => {
                let open = catalogue.is_open(index) != Some(false);
                out.push(u64::from(open));
                if open {
                    TapeRead::Sheet(Property::AdhesiveThickness).bits(catalogue, index, out);
                }
            }
            TapeRead::Sheet(property) => match catalogue.find(Subject::Tape(index), property, None) {
                Some(found) => {
                    let s = found.spread;
                    out.extend([s.value.to_bits(), s.low.to_bits(), s.high.to_bits(), found.basis as u64]);
                }
                None => out.push(u64::MAX),
            },
            TapeRead::Text(column) => text_bits(tape.text(column), out),
            TapeRead::Systems => {
                tape.systems.iter().for_each(|system| text_bits(system, out));
                out.push(u64::MAX);
            }
        }
    }
}

/// A thing read of the enquiry or of the exposure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CaseRead {
    /// Medium, temperature, duration, humidity, water content, acidity, pressures and purpose.
    Exposure,
    /// The same of every exposure of service.
    Service,
    /// Only the medium and its temperature.
    Medium,
    /// The bakes that come before the exposure, or all of them where there is no exposure.
    Bakes,
    /// The length of a lap.
    Lap,
    /// Width, overlap, tolerance, passes.
    Wrap,
    /// The winding tension.
    Tension,
    /// Width, bend radius and circumference.
    Bend,
    /// What the tape sticks to.
    Surface,
    /// The load profile, the class, the life and what the life rests on.
    Duty,
    /// The thermal class.
    Class,
    /// The hottest temperature of the duty.
    Hottest,
    /// Kind of voltage, what the wedge holds and, where it is filled, by what; other insulation. Neither the
    /// voltage nor the state of the air, which the last step reads.
    Wedge,
    /// The same where it counts: in service, where it is hotter than the exposure.
    HottestInService,
    /// Whether the voltage is direct, and then the hottest temperature and the bakes.
    DirectVoltage,
    /// The hottest temperature of the duty and of every exposure.
    Heat,
    /// The coldest temperature.
    Cold,
    /// The colour that is specified.
    Colour,
    /// Equipment, function, how long it is needed, atmosphere, recognition and system.
    Application,
    /// Nothing: one cell serves every case.
    Nothing,
}

impl CaseRead {
    /// Appends the bits of what is read, equal for cases that cannot differ in it.
    pub fn bits(self, catalogue: &Catalogue, enquiry: &Enquiry, exposure: Option<usize>, out: &mut Vec<u64>) {
        let w = &enquiry.winding;
        match self {
            CaseRead::Exposure => {
                if let Some(x) = exposure.map(|index| &enquiry.exposures[index]) {
                    out.extend([
                        x.medium as u64,
                        x.temperature.si().to_bits(),
                        x.duration.si().to_bits(),
                        bit(x.humidity),
                        bit(x.water_content.map(Typed::si)),
                        bit(x.acidity.map(Typed::si)),
                        bit(x.pressure.map(Pressure::si)),
                        bit(x.vacuum.map(Pressure::si)),
                        word(x.wanted),
                        word(x.stage),
                        u64::from(x.evaporates),
                        u64::from(x.cure),
                    ]);
                }
            }
            CaseRead::Service => {
                for (index, _) in enquiry.exposures.iter().enumerate().filter(|(_, x)| x.stage == "service") {
                    CaseRead::Exposure.bits(catalogue, enquiry, Some(index), out);
                }
                out.push(u64::MAX);
            }
            CaseRead::Medium => {
                if let Some(x) = exposure.map(|index| &enquiry.exposures[index]) {
                    out.extend([x.medium as u64, x.temperature.si().to_bits()]);
                }
            }
            CaseRead::Bakes => {
                for bake in bakes(enquiry, exposure) {
                    out.extend([bake.temperature.si().to_bits(), bake.duration.si().to_bits()]);
                }
                out.push(u64::MAX);
            }
            CaseRead::Lap => out.push(bit(w.lap().map(Typed::si))),
            CaseRead::Wrap => out.extend([
                bit(w.width.map(Typed::si)),
                bit(w.overlap),
                bit(w.lap_tolerance.map(Typed::si)),
                w.passes.map_or(u64::MAX, u64::from),
            ]),
            CaseRead::Tension => out.push(bit(w.tension.map(Typed::si))),
            CaseRead::Bend => out.extend([
                bit(w.width.map(Typed::si)),
                bit(w.bend_radius.map(Typed::si)),
                bit(w.circumference.map(Typed::si)),
            ]),
            CaseRead::Surface => text_bits(w.surface.as_deref().unwrap_or_default(), out),
            CaseRead::Duty => {
                let d = &enquiry.duty;
                out.extend([d.life.si().to_bits(), word(d.life_basis), d.thermal_class.map_or(u64::MAX, u64::from)]);
                for step in &d.load_profile {
                    out.extend([step.temperature.si().to_bits(), step.share.to_bits()]);
                }
                out.push(u64::MAX);
            }
            CaseRead::Class => out.push(enquiry.duty.thermal_class.map_or(u64::MAX, u64::from)),
            CaseRead::Hottest => out.push(bit(enquiry.duty.hottest().map(Typed::si))),
            CaseRead::HottestInService => {
                let hottest = exposure.and_then(|index| hottest_in_service(enquiry, &enquiry.exposures[index]));
                out.push(bit(hottest.map(Typed::si)));
            }
            CaseRead::DirectVoltage => {
                let direct = enquiry.voltage.as_ref().is_some_and(|v| v.kind == "dc");
                out.push(u64::from(direct));
                if direct {
                    CaseRead::Hottest.bits(catalogue, enquiry, exposure, out);
                    CaseRead::Bakes.bits(catalogue, enquiry, exposure, out);
                }
            }
            CaseRead::Heat => out.push(bit(enquiry.heat().map(Typed::si))),
            CaseRead::Cold => out.push(bit(enquiry.application.coldest.map(Typed::si))),
            CaseRead::Colour => text_bits(enquiry.application.colour.as_deref().unwrap_or_default(), out),
            CaseRead::Wedge => {
                wedge(catalogue, enquiry, out);
                // Beside a filled wedge the wrap may break down first.
                if enquiry.voltage.as_ref().is_some_and(|v| v.wedge != Some("air")) {
                    CaseRead::Service.bits(catalogue, enquiry, exposure, out);
                    CaseRead::DirectVoltage.bits(catalogue, enquiry, exposure, out);
                }
            }
            CaseRead::Application => {
                let a = &enquiry.application;
                out.extend([word(a.equipment), word(a.function), word(a.needed), word(a.atmosphere)]);
                out.push(a.recognition.map_or(u64::MAX, word));
                text_bits(a.system.as_deref().unwrap_or_default(), out);
            }
            CaseRead::Nothing => {}
        }
    }
}

/// In service the hottest hours of the duty count, whatever the medium's mean.
pub(super) fn hottest_in_service(enquiry: &Enquiry, x: &Exposure) -> Option<Temperature> {
    enquiry.duty.hottest().filter(|hot| x.stage == "service" && hot.si() > x.temperature.si())
}

/// A text and its length, so that two texts after one another are not a third.
fn text_bits(text: &str, out: &mut Vec<u64>) {
    out.push(text.len() as u64);
    out.extend(text.bytes().map(u64::from));
}

/// The bakes met before an exposure, or all of them.
pub(super) fn bakes(enquiry: &Enquiry, before: Option<usize>) -> impl Iterator<Item = &Exposure> {
    let end = before.unwrap_or(enquiry.exposures.len());
    enquiry.exposures[..end].iter().filter(|x| x.cure)
}

/// What is between the wedge and its neighbours; the state of air in it is left to the last step.
fn wedge(catalogue: &Catalogue, enquiry: &Enquiry, out: &mut Vec<u64>) {
    let atmosphere = enquiry.application.atmosphere;
    let Some(v) = &enquiry.voltage else {
        out.push(u64::MAX);
        return;
    };
    let air = v.wedge == Some("air") && holds_air(enquiry);
    let (altitude, hottest) = (v.altitude.map(Typed::si), enquiry.duty.hottest().map(Typed::si));
    out.extend([word(v.kind), v.wedge.map_or(u64::MAX, word), word(atmosphere)]);
    if air {
        out.extend([u64::from(altitude.is_some()), u64::from(hottest.is_some())]);
        out.push(service_gas(catalogue, enquiry).map_or(u64::MAX, |gas| gas as u64));
    } else {
        out.extend([bit(altitude), bit(hottest)]);
        for x in &enquiry.exposures {
            let shown = u64::from(x.vacuum.is_some() || x.pressure.is_some());
            out.extend([x.medium as u64, u64::from(x.stage == "service"), shown]);
        }
    }
    for (thickness, permittivity) in &v.other_insulation {
        out.extend([thickness.si().to_bits(), permittivity.to_bits()]);
    }
    out.push(u64::MAX);
}

fn bit(x: Option<f64>) -> u64 {
    x.map_or(u64::MAX, f64::to_bits)
}

/// Words come from closed lists, so each has one address for the whole run.
fn word(x: &'static str) -> u64 {
    x.as_ptr() as u64
}

/// True where an unfilled wedge holds the air of the place: outside air, or air shut in.
pub(super) fn holds_air(enquiry: &Enquiry) -> bool {
    matches!(enquiry.application.atmosphere, "air" | "sealed-liquid")
}

/// The gas among the exposures of service, if there is one.
pub(super) fn service_gas(catalogue: &Catalogue, enquiry: &Enquiry) -> Option<usize> {
    let mut service = enquiry.exposures.iter().filter(|x| x.stage == "service").map(|x| x.medium);
    service.find(|medium| catalogue.materials[*medium].kind == "gas")
}
