//! An enquiry: one customer application, read from its TOML file.

mod answers;
mod literal;
pub mod questions;
mod read;

use std::collections::BTreeMap;

pub use answers::{Answers, Open};

use crate::catalogue::Catalogue;
use crate::evidence::Place;
use crate::fault::Faults;
use crate::load::{self, Form};
use crate::quantity::{Content, ForcePerLength, Frequency, Length, Pressure, Temperature, Time, Voltage};

/// The schema this program reads.
const SCHEMA: &str = "lapwise/enquiry/1";

/// One enquiry.
#[derive(Clone, Debug)]
pub struct Enquiry {
    /// Its number, such as `Q-0412`.
    pub number: String,
    /// What it is about.
    pub title: String,
    /// Who asks.
    pub customer: String,
    /// Who prepared it.
    pub prepared_by: String,
    /// When, as `2026-11-20`.
    pub date: String,
    /// The region whose rules are pointed to.
    pub jurisdiction: String,
    /// What the tape is for.
    pub application: Application,
    /// How hot and how long.
    pub duty: Duty,
    /// The electric stress, if there is one.
    pub voltage: Option<Stress>,
    /// How the tape is wound.
    pub winding: Winding,
    /// The media it meets.
    pub exposures: Vec<Exposure>,
    /// Where each key stands.
    pub places: BTreeMap<String, Place>,
    /// The file it came from.
    pub file: String,
}

/// What the tape is for.
#[derive(Clone, Debug)]
pub struct Application {
    /// The equipment.
    pub equipment: &'static str,
    /// The function.
    pub function: &'static str,
    /// `life` or `until-cure`.
    pub needed: &'static str,
    /// What surrounds it in service.
    pub atmosphere: &'static str,
    /// The coldest temperature in service or on site.
    pub coldest: Option<Temperature>,
    /// The colour, if specified.
    pub colour: Option<String>,
    /// `tape` or `system`, if recognition is asked for.
    pub recognition: Option<&'static str>,
    /// The insulation system it must be listed in.
    pub system: Option<String>,
}

/// How hot and how long.
#[derive(Clone, Debug)]
pub struct Duty {
    /// The life asked for.
    pub life: Time,
    /// `class` or `duty`.
    pub life_basis: &'static str,
    /// The thermal class.
    pub thermal_class: Option<u16>,
    /// Temperatures and their shares of the life.
    pub load_profile: Vec<LoadStep>,
}

impl Duty {
    /// The hottest step of the profile, else the class temperature.
    #[must_use]
    pub fn hottest(&self) -> Option<Temperature> {
        let profile = self.load_profile.iter().map(|step| step.temperature);
        profile
            .max_by(|a, b| a.si().total_cmp(&b.si()))
            .or_else(|| self.thermal_class.map(|class| Temperature::from_si(f64::from(class) + 273.15)))
    }

    /// The key that states it.
    #[must_use]
    pub fn hottest_key(&self) -> &'static str {
        if self.load_profile.is_empty() { "duty.thermal_class" } else { "duty.load_profile" }
    }
}

/// One step of a load profile.
#[derive(Clone, Copy, Debug)]
pub struct LoadStep {
    /// The temperature.
    pub temperature: Temperature,
    /// Its share of the life.
    pub share: f64,
}

/// The electric stress.
#[derive(Clone, Debug)]
pub struct Stress {
    /// ac, dc, impulse or converter.
    pub kind: &'static str,
    /// The voltage across the wrap; the root mean square for ac.
    pub across: Option<Voltage>,
    /// The frequency.
    pub frequency: Option<Frequency>,
    /// The height above sea level.
    pub altitude: Option<Length>,
    /// What fills the wedge at a lap.
    pub wedge: Option<&'static str>,
    /// Insulation in series: thickness and permittivity.
    pub other_insulation: Vec<(Length, f64)>,
    /// Converter: the dc link.
    pub dc_link: Option<Voltage>,
    /// Converter: peak over dc link.
    pub overshoot: Option<f64>,
    /// Converter: rise time.
    pub rise_time: Option<Time>,
    /// Converter: switching frequency.
    pub switching_frequency: Option<Frequency>,
    /// Converter: share of the peak between turns.
    pub turn_share: Option<f64>,
}

/// How the tape is wound.
#[derive(Clone, Debug, Default)]
pub struct Winding {
    /// Tape width.
    pub width: Option<Length>,
    /// Overlap as a share of the width.
    pub overlap: Option<f64>,
    /// How far a lap may slip.
    pub lap_tolerance: Option<Length>,
    /// Passes over the length.
    pub passes: Option<u32>,
    /// Circumference of what is wrapped.
    pub circumference: Option<Length>,
    /// Radius of the bend.
    pub bend_radius: Option<Length>,
    /// Winding tension per width.
    pub tension: Option<ForcePerLength>,
    /// What the tape sticks to.
    pub surface: Option<String>,
    /// Length to wrap.
    pub length: Option<Length>,
    /// How many pieces.
    pub pieces: Option<u32>,
    /// Share wasted.
    pub waste: Option<f64>,
    /// The most the wrap may add on one side.
    pub build_limit: Option<Length>,
    /// The adhesion needed.
    pub adhesion_needed: Option<ForcePerLength>,
}

impl Winding {
    /// The length of one lap: the overlap, or the full width of a butt wrap.
    #[must_use]
    pub fn lap(&self) -> Option<Length> {
        let (width, overlap) = (self.width?.si(), self.overlap?);
        Some(Length::from_si(if overlap > 0.0 { width * overlap } else { width }))
    }
}

/// One medium met by the tape.
#[derive(Clone, Debug)]
pub struct Exposure {
    /// Its name within the enquiry.
    pub name: String,
    /// assembly, cleaning or service.
    pub stage: &'static str,
    /// The medium, an index into the materials.
    pub medium: usize,
    /// The kind of the medium.
    pub kind: &'static str,
    /// The temperature.
    pub temperature: Temperature,
    /// How long.
    pub duration: Time,
    /// Relative humidity, for air.
    pub humidity: Option<f64>,
    /// Absolute pressure while it is met.
    pub pressure: Option<Pressure>,
    /// Residual pressure before it is met.
    pub vacuum: Option<Pressure>,
    /// resist, impregnate or pass-through.
    pub wanted: &'static str,
    /// True for a bake that cures.
    pub cure: bool,
    /// True for a wipe that dries off.
    pub evaporates: bool,
    /// Water in a liquid.
    pub water_content: Option<Content>,
    /// Acidity of a liquid, as mass of potassium hydroxide per mass.
    pub acidity: Option<Content>,
}

impl Exposure {
    /// True for air in service beside a load profile: its temperature and its hours are its own.
    #[must_use]
    pub fn is_beside(&self, duty: &Duty) -> bool {
        self.stage == "service" && self.kind == "gas" && !duty.load_profile.is_empty()
    }
}

impl Enquiry {
    /// Reads an enquiry against the catalogue whose media and regions it names.
    ///
    /// # Errors
    /// Every fault found in it.
    pub fn read(file: &str, text: &str, catalogue: &Catalogue) -> Result<Enquiry, Faults> {
        let mut faults = Faults::default();
        let keys = load::toml(file, text, &mut faults);
        if !faults.is_empty() {
            return Err(faults);
        }
        let enquiry = read::read(keys, file, catalogue, &mut faults);
        match enquiry {
            Some(enquiry) if faults.is_empty() => Ok(enquiry),
            _ => Err(faults),
        }
    }

    /// What the file of an enquiry may hold, as its reader asks for it.
    #[must_use]
    pub fn form() -> Form {
        load::form("enquiry.toml", |keys| {
            read::read(keys, "enquiry.toml", &Catalogue::default(), &mut Faults::default());
        })
    }

    /// The hottest temperature that the tape sees, in its duty or in an exposure.
    #[must_use]
    pub fn heat(&self) -> Option<Temperature> {
        let met = self.exposures.iter().map(|x| x.temperature);
        met.chain(self.duty.hottest()).max_by(|a, b| a.si().total_cmp(&b.si()))
    }

    /// The place of a key, such as `duty.life`.
    #[must_use]
    pub fn place(&self, key: &str) -> Place {
        self.places.get(key).cloned().unwrap_or_else(|| Place::file(self.file.as_str()))
    }
}
