//! The keys of an enquiry's file, read and held against what can be.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, is_medium, words};
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::load::Keys;
use crate::quantity::{Fraction, Length, Pressure, Time, Typed};

use super::{Application, Duty, Enquiry, Exposure, LoadStep, SCHEMA, Stress, Winding};

/// Where the keys stand, by their dotted names.
type Places = BTreeMap<String, Place>;

/// An enquiry from the keys of its file.
pub(super) fn read(mut k: Keys, file: &str, catalogue: &Catalogue, f: &mut Faults) -> Option<Enquiry> {
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
        h.stated(key, f);
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
        passes: k.count("passes", f),
        circumference: length(&mut k, "circumference", f),
        bend_radius: length(&mut k, "bend_radius", f),
        tension: k.quantity("tension", f),
        surface: k.text("surface", f),
        length: length(&mut k, "length", f),
        pieces: k.count("pieces", f),
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
        k.stated(key, f);
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
