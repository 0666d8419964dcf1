//! An enquiry: one customer application, read from its TOML file.

mod answers;
mod literal;
pub mod questions;

use std::collections::BTreeMap;

pub use answers::{Answers, Open};

use crate::catalogue::{Catalogue, is_medium, words};
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Form, Keys};
use crate::quantity::{
    Content, ForcePerLength, Fraction, Frequency, Length, Pressure, Temperature, Time, Typed, Voltage,
};

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
        let enquiry = read(keys, file, catalogue, &mut faults);
        match enquiry {
            Some(enquiry) if faults.is_empty() => Ok(enquiry),
            _ => Err(faults),
        }
    }

    /// What the file of an enquiry may hold, as its reader asks for it.
    #[must_use]
    pub fn form() -> Form {
        load::form("enquiry.toml", |keys| {
            read(keys, "enquiry.toml", &Catalogue::default(), &mut Faults::default());
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

fn read(mut k: Keys, file: &str, catalogue: &Catalogue, f: &mut Faults) -> Option<Enquiry> {
    for key in ["schema", "enquiry", "application", "duty", "exposure"] {
        k.present(key, f);
    }
    if let Some(schema) = k.text("schema", f)
        && schema != SCHEMA
    {
        f.add(
            Fault::new(
                Code::FormatUnknown,
                format!("`{schema}`"),
                format!("`{SCHEMA}`"),
                "copy a file of `enquiries/` that came with this program, and carry over what is asked",
            )
            .at(k.place_of("schema")),
        );
    }
    let mut places = BTreeMap::new();
    let head = k.table("enquiry", f);
    let application = k.table("application", f).map(|a| application(a, f, &mut places));
    let duty = k.table("duty", f).and_then(|d| duty(d, f, &mut places));
    let voltage = k.table("voltage", f).and_then(|v| stress(v, f, &mut places));
    let winding = k.table("winding", f).map(|w| winding(w, f, &mut places)).unwrap_or_default();
    let mut exposures: Vec<Exposure> = Vec::new();
    for x in k.tables("exposure", f) {
        let place = x.place().clone();
        let Some(exposure) = exposure(x, catalogue, f, &mut places) else { continue };
        if exposures.iter().any(|e| e.name == exposure.name) {
            f.add(
                Fault::new(
                    Code::KeyDuplicate,
                    format!("a second exposure `{}`", exposure.name),
                    "each name once",
                    "rename one",
                )
                .at(place),
            );
        }
        exposures.push(exposure);
    }
    k.finish(f);
    let mut h = head?;
    for key in ["number", "title", "customer", "prepared_by", "date", "jurisdiction"] {
        h.present(key, f);
    }
    note(&h, "enquiry", &["number", "date", "jurisdiction"], &mut places);
    let jurisdiction = h.text("jurisdiction", f).unwrap_or_default();
    if !jurisdiction.is_empty() && !catalogue.regions.iter().any(|r| r.id == jurisdiction) {
        let regions = catalogue.regions.iter().map(|r| r.id.as_str());
        let fault =
            Fault::unknown_word(Code::ReferenceUnknown, &jurisdiction, "a region of jurisdictions.toml", regions);
        f.add(fault.at(h.place_of("jurisdiction")));
    }
    let number = h.text("number", f).unwrap_or_default();
    let safe = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_' || c == '.';
    if !number.is_empty() && (number.starts_with('.') || !number.chars().all(safe)) {
        f.add(
            Fault::new(
                Code::ValueImpossible,
                format!("`{number}`"),
                "a number of letters, digits, `-`, `_` and `.`",
                "write a number such as `Q-0412`; it names files",
            )
            .at(h.place_of("number")),
        );
    }
    let enquiry = Enquiry {
        number,
        title: h.text("title", f).unwrap_or_default(),
        customer: h.text("customer", f).unwrap_or_default(),
        prepared_by: h.text("prepared_by", f).unwrap_or_default(),
        date: h.date("date", f).unwrap_or_default(),
        jurisdiction,
        application: application?,
        duty: duty?,
        voltage,
        winding,
        exposures,
        places,
        file: file.to_owned(),
    };
    h.finish(f);
    Some(enquiry)
}

type Places = BTreeMap<String, Place>;

/// Remembers where the keys of a table stand.
fn note(k: &Keys, table: &str, keys: &[&str], places: &mut Places) {
    for key in keys {
        places.insert(format!("{table}.{key}"), k.place_of(key));
    }
}

fn application(mut k: Keys, f: &mut Faults, places: &mut Places) -> Application {
    for key in ["equipment", "function", "needed", "atmosphere"] {
        k.present(key, f);
    }
    let application = Application {
        equipment: k.word("equipment", words::EQUIPMENT, f).unwrap_or_default(),
        function: k.word("function", words::FUNCTION, f).unwrap_or_default(),
        needed: k.word("needed", words::NEEDED, f).unwrap_or_default(),
        atmosphere: k.word("atmosphere", words::ATMOSPHERE, f).unwrap_or_default(),
        coldest: k.quantity("coldest", f),
        colour: k.text("colour", f),
        recognition: k.word("recognition", words::RECOGNITION, f),
        system: k.text("system", f),
    };
    if application.recognition == Some("system") {
        k.present("system", f);
    }
    note(
        &k,
        "application",
        &["equipment", "function", "needed", "atmosphere", "coldest", "colour", "recognition", "system"],
        places,
    );
    k.finish(f);
    application
}

fn duty(mut k: Keys, f: &mut Faults, places: &mut Places) -> Option<Duty> {
    for key in ["life", "life_basis"] {
        k.present(key, f);
    }
    let life_basis = k.word("life_basis", words::LIFE_BASIS, f);
    match life_basis {
        Some("duty") => k.present("load_profile", f),
        Some(_) => k.present("thermal_class", f),
        None => true,
    };
    let thermal_class = k.number("thermal_class", f).and_then(|class| {
        let whole = (90.0..=400.0).contains(&class) && libm::trunc(class).total_cmp(&class).is_eq();
        if !whole {
            f.add(
                Fault::new(
                    Code::ValueImpossible,
                    format!("`{class}`"),
                    "a thermal class of IEC 60085, such as 155",
                    "write the class as a whole number",
                )
                .at(k.place_of("thermal_class")),
            );
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number from 90 to 400")]
        whole.then_some(class as u16)
    });
    let profile_place = k.place_of("load_profile");
    let load_profile: Vec<LoadStep> = k
        .tables("load_profile", f)
        .into_iter()
        .filter_map(|mut step| {
            step.present("temperature", f);
            step.present("share", f);
            let temperature = step.quantity("temperature", f);
            let share = step.share("share", f);
            step.finish(f);
            Some(LoadStep { temperature: temperature?, share: share? })
        })
        .collect();
    let sum: f64 = load_profile.iter().map(|step| step.share).sum();
    if !load_profile.is_empty() && (sum - 1.0).abs() > 1e-6 {
        f.add(
            Fault::new(
                Code::SharesSum,
                format!("shares that add up to {} %", crate::quantity::tidy(sum * 100.0, 5)),
                "100 %",
                "mend the shares of the load profile",
            )
            .at(profile_place),
        );
    }
    let life = k.quantity::<Time>("life", f).filter(|life| positive(&k, "life", life.si(), f));
    note(&k, "duty", &["life", "life_basis", "thermal_class", "load_profile"], places);
    k.finish(f);
    Some(Duty { life: life?, life_basis: life_basis?, thermal_class, load_profile })
}

fn stress(mut k: Keys, f: &mut Faults, places: &mut Places) -> Option<Stress> {
    k.present("kind", f);
    let kind = k.word("kind", words::VOLTAGE, f);
    let other_insulation = k
        .texts("other_insulation", f)
        .into_iter()
        .filter_map(|(text, place)| {
            let Some((thickness, permittivity)) = text.rsplit_once('/') else {
                f.add(
                    Fault::new(
                        Code::ValueType,
                        format!("`{text}`"),
                        "a thickness and a permittivity",
                        "write them as `0.05 mm/3.5`",
                    )
                    .at(place),
                );
                return None;
            };
            let thickness = f.keep(Length::KIND.read(thickness), &place).map(Length::from_si);
            let permittivity = f.keep(
                Fraction::KIND.read(permittivity).and_then(|e| {
                    if e >= 1.0 {
                        return Ok(e);
                    }
                    Err(Fault::new(
                        Code::ValueImpossible,
                        format!("a permittivity of {e}"),
                        "a relative permittivity of at least 1",
                        "correct it",
                    ))
                }),
                &place,
            );
            Some((thickness?, permittivity?))
        })
        .collect();
    let stress = Stress {
        kind: kind.unwrap_or_default(),
        across: k.quantity("across", f),
        frequency: k.quantity("frequency", f),
        altitude: k.quantity("altitude", f),
        wedge: k.word("wedge", words::WEDGE, f),
        other_insulation,
        dc_link: k.quantity("dc_link", f),
        overshoot: k.quantity::<Fraction>("overshoot", f).map(Fraction::si),
        rise_time: k.quantity("rise_time", f),
        switching_frequency: k.quantity("switching_frequency", f),
        turn_share: k.share("turn_share", f),
    };
    note(
        &k,
        "voltage",
        &[
            "kind",
            "across",
            "frequency",
            "altitude",
            "wedge",
            "other_insulation",
            "dc_link",
            "overshoot",
            "rise_time",
            "switching_frequency",
            "turn_share",
        ],
        places,
    );
    k.finish(f);
    kind.map(|_| stress)
}

fn winding(mut k: Keys, f: &mut Faults, places: &mut Places) -> Winding {
    let overlap = k.share("overlap", f).filter(|overlap| {
        if *overlap < 1.0 {
            return true;
        }
        f.add(
            Fault::new(
                Code::ValueImpossible,
                "an overlap of the whole width",
                "an overlap below 100 %",
                "write a share such as `50 %`",
            )
            .at(k.place_of("overlap")),
        );
        false
    });
    let winding = Winding {
        width: length(&mut k, "width", f),
        overlap,
        lap_tolerance: k.quantity("lap_tolerance", f),
        passes: count(&mut k, "passes", f),
        circumference: length(&mut k, "circumference", f),
        bend_radius: length(&mut k, "bend_radius", f),
        tension: k.quantity("tension", f),
        surface: k.text("surface", f),
        length: length(&mut k, "length", f),
        pieces: count(&mut k, "pieces", f),
        waste: k.share("waste", f),
        build_limit: length(&mut k, "build_limit", f),
        adhesion_needed: k.quantity("adhesion_needed", f),
    };
    note(
        &k,
        "winding",
        &[
            "width",
            "overlap",
            "lap_tolerance",
            "passes",
            "circumference",
            "bend_radius",
            "tension",
            "surface",
            "length",
            "pieces",
            "waste",
            "build_limit",
            "adhesion_needed",
        ],
        places,
    );
    k.finish(f);
    winding
}

fn exposure(mut k: Keys, catalogue: &Catalogue, f: &mut Faults, places: &mut Places) -> Option<Exposure> {
    for key in ["name", "stage", "medium", "temperature", "duration"] {
        k.present(key, f);
    }
    let name = k.text("name", f);
    let medium = k.text("medium", f).and_then(|text| {
        let found = catalogue.material(&text).filter(|m| is_medium(&catalogue.materials[*m]));
        if found.is_none() {
            let media = catalogue.materials.iter().filter(|m| is_medium(m)).map(|m| m.id.as_str());
            let fault = Fault::unknown_word(
                Code::ReferenceUnknown,
                &text,
                "a liquid, resin, solvent or gas of materials.csv",
                media,
            );
            f.add(fault.at(k.place_of("medium")));
        }
        found
    });
    let stage = k.word("stage", words::STAGE, f);
    let temperature = k.quantity("temperature", f);
    let duration = k.quantity::<Time>("duration", f).filter(|t| positive(&k, "duration", t.si(), f));
    let pressure = k.quantity::<Pressure>("pressure", f).filter(|p| not_negative(&k, "pressure", p.si(), f));
    let vacuum = k.quantity::<Pressure>("vacuum", f).filter(|p| not_negative(&k, "vacuum", p.si(), f));
    let humidity = k.share("humidity", f);
    let wanted = k.word("wanted", words::WANTED, f).unwrap_or("resist");
    let cure = k.flag("cure", f).unwrap_or(false);
    let evaporates = k.flag("evaporates", f).unwrap_or(false);
    let water_content = k.quantity("water_content", f);
    let acidity = k.quantity("acidity", f);
    if let Some(name) = &name {
        note(
            &k,
            &format!("exposure {name}"),
            &[
                "medium",
                "temperature",
                "duration",
                "humidity",
                "pressure",
                "vacuum",
                "water_content",
                "acidity",
                "wanted",
                "stage",
            ],
            places,
        );
    }
    k.finish(f);
    Some(Exposure {
        name: name?,
        stage: stage?,
        medium: medium?,
        kind: catalogue.materials[medium?].kind,
        temperature: temperature?,
        duration: duration?,
        humidity,
        pressure,
        vacuum,
        wanted,
        cure,
        evaporates,
        water_content,
        acidity,
    })
}

fn length(k: &mut Keys, key: &'static str, f: &mut Faults) -> Option<Length> {
    k.quantity::<Length>(key, f).filter(|length| positive(k, key, length.si(), f))
}

fn count(k: &mut Keys, key: &'static str, f: &mut Faults) -> Option<u32> {
    let number = k.number(key, f)?;
    let whole = (1.0..=1e9).contains(&number) && libm::trunc(number).total_cmp(&number).is_eq();
    if !whole {
        f.add(
            Fault::new(Code::ValueImpossible, format!("`{number}`"), "a whole number of at least 1", "correct it")
                .at(k.place_of(key)),
        );
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number from 1 to 1e9")]
    whole.then_some(number as u32)
}

fn positive(k: &Keys, key: &str, value: f64, f: &mut Faults) -> bool {
    if value > 0.0 {
        return true;
    }
    f.add(
        Fault::new(
            Code::ValueImpossible,
            "zero",
            "a value above zero",
            "correct it, or take the key out if it is not known",
        )
        .at(k.place_of(key)),
    );
    false
}

fn not_negative(k: &Keys, key: &str, value: f64, f: &mut Faults) -> bool {
    if value >= 0.0 {
        return true;
    }
    f.add(
        Fault::new(
            Code::ValueImpossible,
            "a negative absolute pressure",
            "an absolute pressure",
            "write it against vacuum, such as `600 kPa`",
        )
        .at(k.place_of(key)),
    );
    false
}
