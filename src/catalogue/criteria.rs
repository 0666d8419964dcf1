//! Criteria and preferences as data: `criteria.toml` to types.

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::load::{Form, Keys};
use crate::quantity::{TemperatureDifference, count};

use super::words;

/// To what a criterion applies; an empty list asks for nothing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Applies {
    /// Kinds of equipment.
    pub equipment: Vec<String>,
    /// Functions of the tape.
    pub function: Vec<String>,
    /// Stages of an exposure.
    pub stage: Vec<String>,
    /// Kinds of medium of an exposure.
    pub medium: Vec<String>,
    /// What is wanted of the medium.
    pub wanted: Vec<String>,
    /// Atmospheres in service.
    pub atmosphere: Vec<String>,
    /// `life` or `until-cure`.
    pub needed: Vec<String>,
    /// Kinds of voltage.
    pub voltage: Vec<String>,
    /// `class` or `duty`.
    pub life_basis: Vec<String>,
    /// Families of the backing.
    pub backing_family: Vec<String>,
    /// Families of the adhesive.
    pub adhesive_family: Vec<String>,
    /// What the enquiry must state.
    pub needs: Vec<String>,
}

/// The two limits, in the measure's unit; none for a yes-or-no criterion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Inside it: suitable.
    pub limit: f64,
    /// Beyond it: unproven or unsuitable.
    pub outer: f64,
}

/// Other limits for some applications, or another test for some applications or exposures.
#[derive(Clone, Debug, PartialEq)]
pub struct Override {
    /// Kinds of equipment; empty: any.
    pub equipment: Vec<String>,
    /// Functions; empty: any.
    pub function: Vec<String>,
    /// Kinds of voltage; empty: any.
    pub voltage: Vec<String>,
    /// Stages of an exposure; empty: any.
    pub stage: Vec<String>,
    /// Kinds of medium of an exposure; empty: any.
    pub medium: Vec<String>,
    /// The limits there, if they are others.
    pub limits: Option<Limits>,
    /// The test there, if it is another.
    pub settled_by: Option<Settlement>,
}

/// The names in braces that a test may hold, for what the finding it settles is about.
const FILLED: [&str; 10] =
    ["medium", "temperature", "duration", "humidity", "hottest", "coldest", "surface", "demand", "limit", "needed"];

/// The test that settles an open finding. Its texts may hold names in braces, such as `{medium}`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settlement {
    /// The standard.
    pub standard: String,
    /// What is done.
    pub test: String,
    /// How many specimens.
    pub specimens: u32,
    /// How long it takes.
    pub duration: String,
    /// What it has to come to.
    pub pass: String,
}

impl Settlement {
    /// True if no test is named.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.test.is_empty()
    }

    /// True if a name in braces stands in one of its texts.
    #[must_use]
    pub fn speaks_of(&self, name: &str) -> bool {
        let hole = format!("{{{name}}}");
        [&self.test, &self.duration, &self.pass].iter().any(|text| text.contains(&hole))
    }

    /// With every name in braces replaced by what `of` says it stands for.
    #[must_use]
    pub fn filled(&self, of: impl Fn(&str) -> String) -> Settlement {
        let fill = |text: &String| {
            let (mut out, mut rest) = (String::with_capacity(text.len()), text.as_str());
            while let Some((before, after)) = rest.split_once('{') {
                out.push_str(before);
                if let Some((name, behind)) = after.split_once('}').filter(|(name, _)| FILLED.contains(name)) {
                    out.push_str(&of(name));
                    rest = behind;
                } else {
                    out.push('{');
                    rest = after;
                }
            }
            out + rest
        };
        Settlement {
            standard: self.standard.clone(),
            test: fill(&self.test),
            specimens: self.specimens,
            duration: fill(&self.duration),
            pass: fill(&self.pass),
        }
    }

    /// In one line, for tables.
    #[must_use]
    pub fn line(&self) -> String {
        if self.is_empty() {
            return String::new();
        }
        let count = match self.specimens {
            0 => String::new(),
            n => format!(", {}", count(n as usize, "specimen", "specimens")),
        };
        let time = if self.duration.is_empty() { String::new() } else { format!(", {}", self.duration) };
        let pass = if self.pass.is_empty() { String::new() } else { format!("; pass: {}", self.pass) };
        format!("{} ({}){count}{time}{pass}", self.test, self.standard)
    }
}

/// A measure, what it applies to, its limits and where they come from.
#[derive(Clone, Debug, PartialEq)]
pub struct Criterion {
    /// Its key.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// The measure it judges.
    pub measure: String,
    /// To what it applies.
    pub applies: Applies,
    /// What a wrong answer endangers.
    pub hazard: &'static str,
    /// How the margin is taken.
    pub scale: &'static str,
    /// True where a higher value is better.
    pub higher_is_better: bool,
    /// The limits, unless yes-no.
    pub limits: Option<Limits>,
    /// Other limits and other tests, of each the first that fits.
    pub overrides: Vec<Override>,
    /// What is printed with a finding between the limits.
    pub condition: String,
    /// True if that condition alone settles such a finding, whatever the hazard.
    pub condition_settles: bool,
    /// The test that settles it.
    pub settled_by: Settlement,
    /// Where the limits come from.
    pub basis: String,
    /// A key of the bibliography.
    pub source: String,
    /// Where it stands.
    pub place: Place,
}

impl Criterion {
    /// True if a wrong answer endangers insulation or people, so that what is not plainly inside the limit on
    /// good evidence is confirmed by a test before release.
    #[must_use]
    pub fn is_grave(&self) -> bool {
        matches!(self.hazard, "dielectric" | "flame" | "thermal")
    }
}

/// The traits that a function prefers, most wanted first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Preference {
    /// The function.
    pub function: &'static str,
    /// The traits.
    pub traits: Vec<String>,
    /// Why.
    pub why: String,
}

/// What `criteria.toml` may hold, as its reader asks for it.
#[must_use]
pub fn form() -> Form {
    crate::load::form("criteria.toml", |keys| {
        read(keys, &mut Faults::default());
    })
}

/// Reads `criteria.toml`.
pub(super) fn read(mut keys: Keys, faults: &mut Faults) -> (Vec<Criterion>, Vec<Preference>) {
    let criteria = keys.tables("criterion", faults).into_iter().map(|k| criterion(k, faults)).collect();
    let preferences = keys.tables("preference", faults).into_iter().filter_map(|k| preference(k, faults)).collect();
    keys.finish(faults);
    (criteria, preferences)
}

fn criterion(mut k: Keys, f: &mut Faults) -> Criterion {
    for key in ["id", "title", "measure", "hazard", "scale", "basis", "source"] {
        k.present(key, f);
    }
    let place = k.place_of("id");
    let scale = k.word("scale", words::SCALE, f);
    let judged = scale.is_some_and(|s| s != "yes-no");
    if judged {
        for key in ["better", "limit", "outer_limit", "condition"] {
            k.present(key, f);
        }
    }
    let higher_is_better = k.word("better", words::BETTER, f) == Some("higher");
    let limits = limits(&mut k, scale, higher_is_better, f);
    let overrides = k.tables("override", f).into_iter().map(|o| overriding(o, scale, higher_is_better, f)).collect();
    let criterion = Criterion {
        id: k.text("id", f).unwrap_or_default(),
        title: k.text("title", f).unwrap_or_default(),
        measure: k.text("measure", f).unwrap_or_default(),
        applies: k.table("applies", f).map(|a| applies(a, f)).unwrap_or_default(),
        hazard: k.word("hazard", words::HAZARD, f).unwrap_or("none"),
        scale: scale.unwrap_or("ratio"),
        higher_is_better,
        limits,
        overrides,
        condition: k.text("condition", f).unwrap_or_default(),
        condition_settles: k.flag("condition_settles", f).unwrap_or(false),
        settled_by: k.table("settled_by", f).map(|s| settlement(s, f)).unwrap_or_default(),
        basis: k.text("basis", f).unwrap_or_default(),
        source: k.text("source", f).unwrap_or_default(),
        place,
    };
    k.finish(f);
    criterion
}

fn overriding(mut k: Keys, scale: Option<&str>, higher: bool, f: &mut Faults) -> Override {
    let read = Override {
        equipment: k.words("equipment", words::EQUIPMENT, f),
        function: k.words("function", words::FUNCTION, f),
        voltage: k.words("voltage", words::VOLTAGE, f),
        stage: k.words("stage", words::STAGE, f),
        medium: k.words("medium", words::MATERIAL, f),
        limits: limits(&mut k, scale, higher, f),
        settled_by: k.table("settled_by", f).map(|s| settlement(s, f)),
    };
    let stated = [k.get("limit").is_some(), k.get("outer_limit").is_some()];
    let lacks = match (stated, &read.settled_by) {
        ([true, false], _) => Some("outer_limit"),
        ([false, true], _) => Some("limit"),
        ([false, false], None) => Some("settled_by"),
        _ => None,
    };
    if let Some(key) = lacks {
        let needed = format!("`limit` and `outer_limit`, or `settled_by`: here `{key}`");
        f.add(Fault::new(Code::KeyMissing, "nothing", needed, "add the key").at(k.place_of(key)));
    }
    let narrowed = [("voltage", &read.voltage), ("stage", &read.stage), ("medium", &read.medium)];
    if let Some((key, _)) = narrowed.iter().find(|(_, list)| read.limits.is_some() && !list.is_empty()) {
        f.add(
            Fault::new(
                Code::KeyUnknown,
                format!("other limits, narrowed by `{key}`"),
                "limits that hang on `equipment` and `function` alone",
                format!("take `{key}` out, or write a criterion of its own whose `applies` has it"),
            )
            .at(k.place_of(key)),
        );
    }
    k.finish(f);
    read
}

fn limits(k: &mut Keys, scale: Option<&str>, higher: bool, f: &mut Faults) -> Option<Limits> {
    let (limit, outer) = if scale == Some("difference") {
        (
            k.quantity::<TemperatureDifference>("limit", f).map(TemperatureDifference::si),
            k.quantity::<TemperatureDifference>("outer_limit", f).map(TemperatureDifference::si),
        )
    } else {
        (k.number("limit", f), k.number("outer_limit", f))
    };
    // The scale decides which of the two it is.
    k.may_be::<TemperatureDifference>("limit");
    k.may_be::<TemperatureDifference>("outer_limit");
    let (limit, outer) = (limit?, outer?);
    if (higher && limit < outer) || (!higher && limit > outer) {
        f.add(
            Fault::new(
                Code::SpreadOrder,
                format!("limit {limit} and outer_limit {outer}"),
                "an outer limit beyond the limit",
                "swap them, or mend `better`",
            )
            .at(k.place_of("outer_limit")),
        );
    }
    Some(Limits { limit, outer })
}

fn applies(mut k: Keys, f: &mut Faults) -> Applies {
    let applies = Applies {
        equipment: k.words("equipment", words::EQUIPMENT, f),
        function: k.words("function", words::FUNCTION, f),
        stage: k.words("stage", words::STAGE, f),
        medium: k.words("medium", words::MATERIAL, f),
        wanted: k.words("wanted", words::WANTED, f),
        atmosphere: k.words("atmosphere", words::ATMOSPHERE, f),
        needed: k.words("needed", words::NEEDED, f),
        voltage: k.words("voltage", words::VOLTAGE, f),
        life_basis: k.words("life_basis", words::LIFE_BASIS, f),
        backing_family: k.texts("backing_family", f).into_iter().map(|(text, _)| text).collect(),
        adhesive_family: k.texts("adhesive_family", f).into_iter().map(|(text, _)| text).collect(),
        needs: k.words("needs", words::NEEDS, f),
    };
    k.finish(f);
    applies
}

fn settlement(mut k: Keys, f: &mut Faults) -> Settlement {
    let settlement = Settlement {
        standard: k.text("standard", f).unwrap_or_default(),
        test: k.text("test", f).unwrap_or_default(),
        specimens: k.count("specimens", f).unwrap_or_default(),
        duration: k.text("duration", f).unwrap_or_default(),
        pass: k.text("pass", f).unwrap_or_default(),
    };
    for (key, text) in [("test", &settlement.test), ("duration", &settlement.duration), ("pass", &settlement.pass)] {
        let named = text.split('{').skip(1).map(|rest| rest.split('}').next().unwrap_or_default());
        for name in named.filter(|name| !FILLED.contains(name)) {
            let fault = Fault::unknown_word(Code::WordUnknown, name, "a name that can stand in braces", FILLED);
            f.add(fault.at(k.place_of(key)));
        }
    }
    k.finish(f);
    settlement
}

fn preference(mut k: Keys, f: &mut Faults) -> Option<Preference> {
    for key in ["function", "traits"] {
        k.present(key, f);
    }
    let function = k.word("function", words::FUNCTION, f);
    let traits = k.words("traits", words::TRAITS, f);
    let why = k.text("why", f).unwrap_or_default();
    k.finish(f);
    Some(Preference { function: function?, traits, why })
}
