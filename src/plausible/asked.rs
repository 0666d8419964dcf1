//! Enquiries: what the tape is said to meet against what it is said to bear.

use crate::catalogue::Catalogue;
use crate::enquiry::{Enquiry, Exposure};
use crate::evidence::Place;
use crate::expand;
use crate::fault::nearest;
use crate::quantity::{self, FORCE_PER_LENGTH, FREQUENCY, LENGTH, PRESSURE, TEMPERATURE, TIME, Typed, VOLTAGE, tidy};

use super::ranges::Ranges;
use super::{Cell, Found, Kind, held};

/// K: how far an exposure may lie from the duty without a word.
const HOTTER: f64 = 0.5;
/// s: a wipe is done with by then. Common practice, no source.
const WIPE: f64 = 3600.0;
/// K: 60 degC; nothing that is called a bake is cooler. Common practice, no source.
const BAKE: f64 = 333.15;
/// Pa: half an atmosphere is no vacuum. Common practice, no source.
const VACUUM: f64 = 50e3;

/// A number of an enquiry that has a usual range.
struct Number {
    key: &'static str,
    unit: &'static quantity::Kind,
    of: fn(&Enquiry) -> Option<f64>,
}

/// The numbers of an enquiry, by key.
const NUMBERS: &[Number] = &[
    Number { key: "application.coldest", unit: &TEMPERATURE, of: |e| e.application.coldest.map(Typed::si) },
    Number { key: "duty.life", unit: &TIME, of: |e| Some(e.duty.life.si()) },
    Number { key: "voltage.across", unit: &VOLTAGE, of: |e| e.voltage.as_ref()?.across.map(Typed::si) },
    Number { key: "voltage.frequency", unit: &FREQUENCY, of: |e| e.voltage.as_ref()?.frequency.map(Typed::si) },
    Number { key: "voltage.altitude", unit: &LENGTH, of: |e| e.voltage.as_ref()?.altitude.map(Typed::si) },
    Number { key: "voltage.rise_time", unit: &TIME, of: |e| e.voltage.as_ref()?.rise_time.map(Typed::si) },
    Number { key: "winding.width", unit: &LENGTH, of: |e| e.winding.width.map(Typed::si) },
    Number { key: "winding.circumference", unit: &LENGTH, of: |e| e.winding.circumference.map(Typed::si) },
    Number { key: "winding.tension", unit: &FORCE_PER_LENGTH, of: |e| e.winding.tension.map(Typed::si) },
    Number { key: "winding.build_limit", unit: &LENGTH, of: |e| e.winding.build_limit.map(Typed::si) },
    Number {
        key: "winding.adhesion_needed",
        unit: &FORCE_PER_LENGTH,
        of: |e| e.winding.adhesion_needed.map(Typed::si),
    },
];

/// The keys that can have a range.
pub(super) fn keys() -> impl Iterator<Item = &'static str> {
    NUMBERS.iter().map(|number| number.key)
}

/// What the number of a key is.
pub(super) fn unit(key: &str) -> Option<&'static quantity::Kind> {
    NUMBERS.iter().find(|number| number.key == key).map(|number| number.unit)
}

/// Reviews every enquiry.
pub(super) fn review(catalogue: &Catalogue, enquiries: &[Enquiry], ranges: &Ranges, found: &mut Found) {
    for (at, enquiry) in enquiries.iter().enumerate() {
        numbers(enquiry, ranges, found);
        duty(enquiry, found);
        for x in &enquiry.exposures {
            exposure(enquiry, x, found);
            storage(catalogue, enquiry, x, found);
            cooler(catalogue, enquiry, x, found);
        }
        winding(enquiry, found);
        names(catalogue, enquiry, found);
        let say = |key: &str| Say { enquiry, key: key.to_owned() };
        if !expand::asks(catalogue, enquiry) {
            let needed = "at least one criterion of criteria.toml whose `applies` fits";
            say("application.function").add(
                Kind::NothingAsked,
                enquiry.application.function,
                "no criterion asks",
                needed,
                found,
            );
        }
        if let Some(first) = enquiries[..at].iter().find(|e| e.number == enquiry.number) {
            let what = format!("the number of {} too", first.file);
            say("enquiry.number").add(Kind::NumberTwice, &enquiry.number, &what, "a number of its own", found);
        }
    }
}

/// A key of an enquiry, to remark on.
struct Say<'a> {
    enquiry: &'a Enquiry,
    key: String,
}

impl Say<'_> {
    fn place(&self) -> Place {
        self.enquiry.place(&self.key)
    }

    fn add(&self, kind: Kind, value: &str, what: &str, needed: &str, found: &mut Found) {
        let place = self.place();
        let cell = Cell { subject: &self.enquiry.number, column: &self.key, value, place: &place };
        found.add(kind, &cell, what, needed);
    }
}

fn numbers(enquiry: &Enquiry, ranges: &Ranges, found: &mut Found) {
    for number in NUMBERS {
        let (Some(range), Some(value)) = (ranges.of("enquiry", "", "", number.key), (number.of)(enquiry)) else {
            continue;
        };
        let text = number.unit.sized(value);
        let place = enquiry.place(number.key);
        let cell = Cell { subject: &enquiry.number, column: number.key, value: &text, place: &place };
        held::against(range, value, &cell, Kind::AskedUnusual, &format!("`{text}`"), found);
    }
}

fn duty(enquiry: &Enquiry, found: &mut Found) {
    let profile = enquiry.duty.load_profile.iter().map(|step| step.temperature.si());
    let hottest = profile.max_by(f64::total_cmp);
    if let (Some(hottest), Some(class)) = (hottest, enquiry.duty.thermal_class)
        && hottest > f64::from(class) + 273.15 + HOTTER
    {
        let text = TEMPERATURE.sized(hottest);
        let say = Say { enquiry, key: "duty.load_profile".to_owned() };
        let what = format!("a step at {text}");
        say.add(Kind::ProfileAboveClass, &text, &what, &format!("at most the class, {class} degC"), found);
    }
}

fn exposure(enquiry: &Enquiry, x: &Exposure, found: &mut Found) {
    let say = |key: &str| Say { enquiry, key: format!("exposure {}.{key}", x.name) };
    let temperature = TEMPERATURE.sized(x.temperature.si());
    let duration = TIME.sized(x.duration.si());
    if x.stage == "service" {
        if let Some(hottest) = enquiry.duty.hottest()
            && x.temperature.si() > hottest.si() + HOTTER
        {
            let needed = format!("at most the hottest of the duty, {}", TEMPERATURE.sized(hottest.si()));
            say("temperature").add(Kind::ExposureHotter, &temperature, &temperature, &needed, found);
        }
        let life = enquiry.duty.life.si();
        if x.duration.si() > life * (1.0 + 1e-9) {
            let needed = format!("at most the life, {}", TIME.sized(life));
            say("duration").add(Kind::ExposureLonger, &duration, &duration, &needed, found);
        }
    }
    if x.evaporates && x.duration.si() > WIPE {
        let what = format!("{duration}, and it evaporates");
        say("duration").add(Kind::WipeLong, &duration, &what, "a wipe of an hour at most", found);
    }
    if x.cure && x.temperature.si() < BAKE {
        let what = format!("a bake at {temperature}");
        say("temperature").add(Kind::BakeCool, &temperature, &what, "60 degC or more", found);
    }
    if let Some(vacuum) = x.vacuum {
        let above = x.pressure.is_some_and(|pressure| vacuum.si() >= pressure.si());
        if vacuum.si() >= VACUUM || above {
            let text = PRESSURE.sized(vacuum.si());
            let needed = "a residual pressure, below the pressure that follows";
            say("vacuum").add(Kind::VacuumHigh, &text, &text, needed, found);
        }
    }
}

/// A storage against what the sheets of the active tapes state.
fn storage(catalogue: &Catalogue, enquiry: &Enquiry, x: &Exposure, found: &mut Found) {
    if !expand::is_storage(catalogue, x) {
        return;
    }
    let humidity = x.humidity.map(|h| h * 100.0);
    let degrees = x.temperature.si() - 273.15;
    for (key, unit, value) in [("humidity", "%", humidity), ("temperature", "degC", Some(degrees))] {
        let Some(value) = value else { continue };
        let sheets = catalogue.tapes.iter().filter(|tape| tape.active);
        let stated: Vec<[f64; 2]> = sheets.filter_map(|tape| between(tape.text("storage"), unit)).collect();
        let outside = |[low, high]: &&[f64; 2]| value < *low - 1e-9 || value > *high + 1e-9;
        let Some([low, high]) = stated.iter().find(outside) else { continue };
        let (n, all) = (stated.iter().filter(outside).count(), stated.len());
        let text = format!("{} {unit}", tidy(value, 4));
        let needed = format!("{low} to {high} {unit}, as {n} of the {all} sheets that state it do");
        let say = Say { enquiry, key: format!("exposure {}.{key}", x.name) };
        say.add(Kind::StorageOutside, &text, &format!("stored at {text}"), &needed, found);
    }
}

/// The numbers before a unit in a sheet's words: `40 to 60 % RH`, `10-27 degC`.
fn between(words: &str, unit: &str) -> Option<[f64; 2]> {
    let before = words.split(unit).next().filter(|before| before.len() < words.len())?;
    let spaced = before.replace(['–', '-'], " to ");
    let mut last = spaced.split_whitespace().rev();
    let high = last.next()?.parse().ok()?;
    let low = last.next().filter(|word| *word == "to").and_then(|_| last.next())?.parse().ok()?;
    (low <= high).then_some([low, high])
}

/// A liquid in service against the mean of the load profile: the tape is as warm as what it lies in.
fn cooler(catalogue: &Catalogue, enquiry: &Enquiry, x: &Exposure, found: &mut Found) {
    let profile = &enquiry.duty.load_profile;
    if x.stage != "service" || catalogue.materials[x.medium].kind != "liquid" || profile.is_empty() {
        return;
    }
    let mean: f64 = profile.iter().map(|step| step.temperature.si() * step.share).sum();
    if x.temperature.si() < mean - HOTTER {
        let text = TEMPERATURE.sized(x.temperature.si());
        let needed = format!("at least the mean of the load profile, {}", TEMPERATURE.sized(mean));
        let say = Say { enquiry, key: format!("exposure {}.temperature", x.name) };
        say.add(Kind::ExposureCooler, &text, &text, &needed, found);
    }
}

fn winding(enquiry: &Enquiry, found: &mut Found) {
    let w = &enquiry.winding;
    if let (Some(width), Some(circumference)) = (w.width, w.circumference)
        && width.si() > circumference.si()
        && found.trusts(&enquiry.number, &["winding.width", "winding.circumference"])
    {
        let text = LENGTH.sized(width.si());
        let needed = format!("at most the circumference, {}", LENGTH.sized(circumference.si()));
        Say { enquiry, key: "winding.width".to_owned() }.add(Kind::WidthContradiction, &text, &text, &needed, found);
    }
}

/// Words that nothing in the catalogue answers to.
fn names(catalogue: &Catalogue, enquiry: &Enquiry, found: &mut Found) {
    let active = || catalogue.tapes.iter().filter(|tape| tape.active);
    let near = |word: &str, known: Vec<&str>| {
        nearest(word, known).map_or_else(String::new, |near| format!("; did you mean `{near}`?"))
    };
    if let Some(system) = &enquiry.application.system {
        let known: Vec<&str> = active().flat_map(|tape| &tape.systems).map(String::as_str).collect();
        if !known.contains(&system.as_str()) {
            let needed = format!("a system that some active tape lists{}", near(system, known));
            let say = Say { enquiry, key: "application.system".to_owned() };
            say.add(Kind::SystemUnlisted, system, &format!("`{system}`"), &needed, found);
        }
    }
    if let Some(colour) = &enquiry.application.colour {
        let known: Vec<&str> = active().map(|tape| tape.text("colour")).collect();
        if !known.contains(&colour.as_str()) {
            let needed = format!("a colour that some active tape has{}", near(colour, known));
            let say = Say { enquiry, key: "application.colour".to_owned() };
            say.add(Kind::ColourUnlisted, colour, &format!("`{colour}`"), &needed, found);
        }
    }
}
