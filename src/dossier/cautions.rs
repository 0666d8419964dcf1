//! Which cautions a dossier prints: a closed set of situations, each read from the enquiry, its media
//! and the short list. Where a fact that decides is missing, the situation counts as met.

use super::language::Language;
use super::view::CautionLine;
use crate::catalogue::{Catalogue, Caution, Material, Pointer, Property, Region, Subject, words};
use crate::enquiry::{Enquiry, Exposure};
use crate::measure;
use crate::quantity::Temperature;

/// K: a medium closer than this to its flash point counts as flammable where it is used; common practice.
const FLASH_DISTANCE: f64 = 15.0;
/// Pa: the atmosphere, and a little more.
const ATMOSPHERE: f64 = 102e3;
/// V, peak: below this no gap of air discharges, however wide. The minimum of air is 305 V by its law and 327 V measured
/// (Naidu and Kamaraju, High Voltage Engineering, from memory).
const NO_DISCHARGE: f64 = 300.0;
/// degC as K.
const ZERO: f64 = 273.15;

/// The situation of a dossier.
struct Situation<'a> {
    catalogue: &'a Catalogue,
    enquiry: &'a Enquiry,
    /// The tapes the dossier names as proposed or alternate.
    tapes: &'a [usize],
}

/// The cautions of the data that are met, in the order of the file.
fn of_data<'c>(catalogue: &'c Catalogue, enquiry: &Enquiry, tapes: &[usize]) -> Vec<&'c Caution> {
    let situation = Situation { catalogue, enquiry, tapes };
    catalogue.cautions.iter().filter(|caution| situation.meets(&caution.trigger)).collect()
}

/// The cautions that apply to an enquiry and some tapes, as hazard and text.
#[must_use]
pub fn cautions_met(catalogue: &Catalogue, enquiry: &Enquiry, tapes: &[usize]) -> Vec<(String, String)> {
    let met = of_data(catalogue, enquiry, tapes);
    met.into_iter().map(|caution| (super::view::sentence(&caution.hazard), caution.text.clone())).collect()
}

/// The cautions that are met, in the order of the file.
pub(super) fn met(catalogue: &Catalogue, enquiry: &Enquiry, tapes: &[usize], language: &Language) -> Vec<CautionLine> {
    of_data(catalogue, enquiry, tapes)
        .into_iter()
        .map(|caution| CautionLine {
            hazard: super::view::sentence(&caution.hazard),
            text: caution.text.clone(),
            because: language.text(&format!("because.{}", caution.trigger)).to_owned(),
        })
        .collect()
}

/// The pointers of a region that concern an enquiry.
pub(super) fn pointers<'r>(
    region: &'r Region,
    (catalogue, enquiry, tapes): (&Catalogue, &Enquiry, &[usize]),
) -> Vec<&'r Pointer> {
    let situation = Situation { catalogue, enquiry, tapes };
    let concerns = |pointer: &&Pointer| {
        let equipment = &pointer.equipment;
        (equipment.is_empty() || equipment.iter().any(|e| e == enquiry.application.equipment))
            && (pointer.when.is_empty() || pointer.when.iter().any(|trigger| situation.meets(trigger)))
    };
    region.pointers.iter().filter(concerns).collect()
}

/// The hazards of some cautions, each word once, in the order of the cautions.
pub(super) fn hazards(cautions: &[CautionLine]) -> String {
    let mut words: Vec<String> = Vec::new();
    for word in cautions.iter().flat_map(|caution| caution.hazard.split(", ")) {
        let word = word.to_lowercase();
        if !words.contains(&word) {
            words.push(word);
        }
    }
    super::view::sentence(&words.join(", "))
}

impl Situation<'_> {
    fn meets(&self, trigger: &str) -> bool {
        debug_assert!(words::TRIGGER.contains(&trigger), "{trigger}");
        let a = &self.enquiry.application;
        let voltage = self.enquiry.voltage.as_ref();
        match trigger {
            "always" => true,
            "voltage" => voltage.is_some(),
            "converter" => voltage.is_some_and(|v| v.kind == "converter"),
            "gap-in-air" => voltage.is_some_and(|v| v.wedge == Some("air")) && self.may_discharge(),
            "liquid-service" => self.any(|x, m| m.kind == "liquid" && x.stage == "service"),
            "hot-liquid" => self.hot_liquid(),
            "legacy-liquid" => self.any(|x, m| m.family == "mineral-oil" && x.stage == "service"),
            "waste-oil" => self.any(|_, m| m.kind == "liquid"),
            "solvent" => self.any(|_, m| is_solvent(m)),
            "solvent-flash" => self.any(|x, m| (is_solvent(m) || is_uncured(m)) && self.near_flash(x)),
            "reactive-resin" => self.any(|_, m| is_uncured(m) || m.family == "reactive-monomer"),
            "peroxide-cure" => self.any(|_, m| {
                is_uncured(m) && matches!(m.family.as_str(), "unsaturated-polyester" | "polyester-imide" | "silicone")
            }),
            "exotherm" => self.any(|_, m| is_uncured(m)),
            "amine-anhydride-isocyanate" => self.any(|_, m| is_uncured(m) && m.family == "epoxy"),
            "waste-resin" => self.any(|_, m| matches!(m.kind, "resin") || is_solvent(m)),
            "vacuum-pressure" => self.any(|x, _| x.vacuum.is_some() || x.pressure.is_some_and(|p| p.si() > ATMOSPHERE)),
            "bake" => self
                .any(|x, m| x.cure || (m.kind == "gas" && x.stage == "assembly" && x.temperature.si() > 100.0 + ZERO)),
            "silicone-adhesive" => self.tape(|tape| {
                let own = &self.catalogue.tapes[tape];
                self.catalogue.materials[own.adhesive].family == "silicone" || own.text("silicone") == "present"
            }),
            "sulphur-halogen-in-liquid" => self.sulphur_in_liquid(),
            "fluoropolymer-hot" => {
                let hot = self.hottest() > 250.0 + ZERO || self.any(|x, _| x.cure);
                hot && self.backing(&["fluoropolymer"])
            }
            "vinyl" => self.backing(&["vinyl"]),
            "glass-dust" => self.backing(&["glass", "polyester-glass"]),
            "aramid-dust" => self.backing(&["aramid"]),
            "banding" => a.function == "banding",
            "rotating" => matches!(a.equipment, "motor" | "generator"),
            "lifted" => !matches!(a.equipment, "toroid" | "coil"),
            "repair-on-site" => !self.any(|x, _| x.stage == "assembly"),
            _ => false,
        }
    }

    /// True if some exposure and its medium are so.
    fn any(&self, is: impl Fn(&Exposure, &Material) -> bool) -> bool {
        self.enquiry.exposures.iter().any(|x| is(x, &self.catalogue.materials[x.medium]))
    }

    fn tape(&self, is: impl Fn(usize) -> bool) -> bool {
        self.tapes.iter().any(|tape| is(*tape))
    }

    fn backing(&self, families: &[&str]) -> bool {
        self.tape(|tape| {
            let backing = self.catalogue.tapes[tape].backing;
            families.contains(&self.catalogue.materials[backing].family.as_str())
        })
    }

    fn hottest(&self) -> f64 {
        let exposures = self.enquiry.exposures.iter().map(|x| x.temperature.si());
        exposures.chain(self.enquiry.duty.hottest().map(Temperature::si)).fold(0.0, f64::max)
    }

    fn hot_liquid(&self) -> bool {
        let warm = 60.0 + ZERO;
        let immersed = self.enquiry.application.equipment == "liquid-immersed-transformer";
        self.any(|x, m| m.kind == "liquid" && x.temperature.si() > warm)
            || (immersed && self.enquiry.duty.load_profile.iter().any(|s| s.temperature.si() > warm))
    }

    /// False below the voltage at which no gap of air discharges.
    fn may_discharge(&self) -> bool {
        let peak = measure::find("pd-margin").and_then(|m| (m.demand.as_ref()?.value)(self.enquiry).ok());
        peak.is_none_or(|peak| peak >= NO_DISCHARGE)
    }

    /// True near or above the flash point, and where no flash point is known.
    fn near_flash(&self, x: &Exposure) -> bool {
        let flash = self.catalogue.find(Subject::Material(x.medium), Property::FlashPoint, None);
        flash.is_none_or(|found| x.temperature.si() > found.spread.low - FLASH_DISTANCE)
    }

    /// True if a named tape may bring sulphur or halogen into a liquid; blank means not known.
    fn sulphur_in_liquid(&self) -> bool {
        let brings = |tape: usize| {
            [Property::Sulphur, Property::Halogen]
                .iter()
                .any(|property| self.catalogue.sheet(tape, *property).is_none_or(|found| found.spread.high > 0.0))
        };
        self.any(|x, m| m.kind == "liquid" && x.stage == "service") && self.tape(brings)
    }
}

/// A solvent that burns or harms.
fn is_solvent(material: &Material) -> bool {
    material.kind == "solvent" && material.family != "water"
}

/// A resin that has not set.
fn is_uncured(material: &Material) -> bool {
    material.kind == "resin" && material.cures_to.is_some()
}
