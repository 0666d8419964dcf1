//! The questions of an enquiry, as one table: key, what an answer is, the words, what it is for, when it
//! is asked, what is taken where nothing is said.
//!
//! Keys are those of the TOML file. The questions about an exposure are asked once for each of them.

use crate::catalogue::{Catalogue, words};
use crate::quantity::{
    CONTENT, FORCE_PER_LENGTH, FRACTION, FREQUENCY, Kind, LENGTH, PRESSURE, TEMPERATURE, TIME, VOLTAGE,
};

use super::answers::Answers;

/// What an answer is.
#[derive(Clone, Copy, Debug)]
pub enum Answer {
    /// Any text.
    Text,
    /// A date.
    Date,
    /// One of the words of a closed list.
    Word(&'static [&'static str]),
    /// A region of the data.
    Region,
    /// A medium of the data.
    Medium,
    /// An insulation system of the data, or any other.
    System,
    /// A colour of the data, or any other.
    Colour,
    /// A surface that sheets state, or any other.
    Surface,
    /// A thermal class.
    Class,
    /// A whole number.
    Count,
    /// A plain number.
    Number,
    /// Yes or no.
    Flag,
    /// A quantity with its unit.
    Quantity(&'static Kind),
    /// Shares at temperatures: `60 %@130 degC, 40 %@90 degC`.
    Profile,
    /// Thicknesses and permittivities: `0.05 mm/3.5, 0.1 mm/3.2`.
    Layers,
    /// Yes or no, which decides what is asked next and is not written itself.
    Gate,
}

/// The state that a question may look at: the answers so far, the data, the exposure asked about.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    /// The answers so far.
    pub answers: &'a Answers,
    /// The data.
    pub catalogue: &'a Catalogue,
    /// Which exposure, from 1; 0 before them.
    pub exposure: usize,
}

impl Case<'_> {
    fn is(&self, key: &str, word: &str) -> bool {
        self.answers.get(&self.key(key)) == Some(word)
    }

    /// A key of the table as one of the file: `exposure.medium` is `exposure.2.medium`.
    #[must_use]
    pub fn key(&self, key: &str) -> String {
        match key.strip_prefix("exposure.") {
            Some(rest) => format!("exposure.{}.{rest}", self.exposure.max(1)),
            None => key.to_owned(),
        }
    }

    /// True if the medium of the exposure is of one of these kinds.
    fn medium(&self, kinds: &[&str]) -> bool {
        let named = self.answers.get(&self.key("exposure.medium"));
        let found = named.and_then(|id| self.catalogue.material(id));
        found.is_some_and(|index| kinds.contains(&self.catalogue.materials[index].kind))
    }
}

/// What is taken where nothing is said, if anything is.
type Default = fn(&Case<'_>) -> Option<&'static str>;

/// One question.
pub struct Question {
    /// The key in the file; `exposure.` stands for every exposure.
    pub key: &'static str,
    /// What an answer is.
    pub answer: Answer,
    /// The question.
    pub prompt: &'static str,
    /// What the answer is for.
    pub why: &'static str,
    /// True if it may not stay open where it is asked.
    pub needed: bool,
    /// Whether it is asked at all.
    pub when: fn(&Case<'_>) -> bool,
    /// What is taken where nothing is said.
    pub default: Default,
}

impl Question {
    /// True for a question about an exposure.
    #[must_use]
    pub fn of_exposure(&self) -> bool {
        self.key.starts_with("exposure.")
    }

    /// An answer written as it should be.
    #[must_use]
    pub fn example(&self) -> &'static str {
        // What a quantity of this kind is elsewhere would mislead here.
        let own = EXAMPLES.iter().find(|(key, _)| *key == self.key);
        match self.answer {
            _ if own.is_some() => own.map_or("", |(_, example)| example),
            Answer::Quantity(kind) if *kind == FRACTION => "50 %",
            Answer::Quantity(kind) => kind.example,
            Answer::Date => "2026-11-20",
            Answer::Class => "155",
            Answer::Count => "2",
            Answer::Number => "1.3",
            Answer::Flag | Answer::Gate => "yes",
            Answer::Profile => "60 %@130 degC, 40 %@90 degC",
            Answer::Layers => "0.05 mm/3.5, 0.1 mm/3.2",
            Answer::Word(words) => words.first().copied().unwrap_or_default(),
            Answer::Text | Answer::Region | Answer::Medium | Answer::System | Answer::Colour | Answer::Surface => "",
        }
    }
}

/// Answers as they may be, where the example of the kind would be odd.
const EXAMPLES: &[(&str, &str)] = &[
    ("application.coldest", "-25 degC"),
    ("winding.width", "20 mm"),
    ("winding.circumference", "60 mm"),
    ("winding.bend_radius", "15 mm"),
    ("winding.tension", "30 N/cm"),
    ("winding.length", "0.3 m"),
    ("winding.build_limit", "0.6 mm"),
    ("winding.adhesion_needed", "2 N/cm"),
    ("exposure.pressure", "600 kPa"),
    ("exposure.vacuum", "0.5 kPa"),
];

/// Thermal classes of IEC 60085 (designations from memory).
pub const CLASSES: &[&str] = &["90", "105", "120", "130", "155", "180", "200", "220", "250"];

const ALWAYS: fn(&Case<'_>) -> bool = |_| true;
const NONE: Default = |_| None;

fn electric(c: &Case<'_>) -> bool {
    c.is("voltage", "yes")
}

fn converter(c: &Case<'_>) -> bool {
    electric(c) && c.is("voltage.kind", "converter")
}

fn immersed(c: &Case<'_>) -> bool {
    c.is("application.atmosphere", "sealed-liquid")
}

macro_rules! questions {
    ($($key:literal, $need:ident, $answer:expr, $prompt:literal, $why:literal, $when:expr, $default:expr;)+) => {
        &[$(Question {
            key: $key,
            answer: $answer,
            prompt: $prompt,
            why: $why,
            needed: questions!(@ $need),
            when: $when,
            default: $default,
        }),+]
    };
    (@ needed) => { true };
    (@ open) => { false };
}

use Answer::{
    Class, Colour, Count, Date, Flag, Gate, Layers, Medium, Number, Profile, Quantity, Region, Surface, System, Text,
    Word,
};

/// The key of the gate after an exposure.
pub const MORE: &str = "exposure.more";

/// Every question, in the order they are asked.
pub const QUESTIONS: &[Question] = questions! {
    "enquiry.number", needed, Text, "Number of the enquiry", "It names files and the dossier: letters, digits, `-`, `_`, `.`, such as Q-0412.", ALWAYS, NONE;
    "enquiry.title", needed, Text, "What is it about?", "The title of the dossier.", ALWAYS, NONE;
    "enquiry.customer", needed, Text, "Who asks?", "The customer, as the dossier names them.", ALWAYS, NONE;
    "enquiry.prepared_by", needed, Text, "Who prepares the answer?", "Stands on page one of the dossier.", ALWAYS, NONE;
    "enquiry.date", needed, Date, "Date of the enquiry", "Stands on page one of the dossier.", ALWAYS, NONE;
    "enquiry.jurisdiction", needed, Region, "Where will the equipment be used?", "Decides which local codes and licences the dossier points to.", ALWAYS, NONE;

    "application.equipment", needed, Word(words::EQUIPMENT), "What equipment is it?", "Decides which criteria ask, and their limits.", ALWAYS, NONE;
    "application.function", needed, Word(words::FUNCTION), "What does the tape do there?", "Decides which criteria ask, and which build is preferred.", ALWAYS, NONE;
    "application.needed", needed, Word(words::NEEDED), "How long must the tape itself work?", "`until-cure`: afterwards a resin holds, and the tape need only do no harm.", ALWAYS, |_| Some("life");
    "application.atmosphere", needed, Word(words::ATMOSPHERE), "What surrounds it in service?", "Decides what water, oxygen and liquid can do.", ALWAYS,
        |c| Some(if c.is("application.equipment", "liquid-immersed-transformer") { "sealed-liquid" } else { "air" });
    "application.coldest", open, Quantity(&TEMPERATURE), "Coldest temperature, on site or in service", "The tape must not crack when it is bent or shaken cold.", ALWAYS, NONE;
    "application.colour", open, Colour, "Colour, only if one is specified", "A tape of another colour is then ruled out.", ALWAYS, NONE;
    "application.recognition", open, Word(words::RECOGNITION), "Is recognition asked for?", "`tape`: flame test of the tape. `system`: the tape is listed in the insulation system.", ALWAYS, NONE;
    "application.system", needed, System, "Which insulation system?", "Only tapes that it lists are inside; any other needs its certifier.", |c| c.is("application.recognition", "system"), NONE;

    "duty.life", needed, Quantity(&TIME), "Life asked for", "Ageing, hydrolysis and dissolution are held against it; `a` is a year.", ALWAYS, |_| Some("20 a");
    "duty.life_basis", needed, Word(words::LIFE_BASIS), "What does the life rest on?", "`class`: rated life at the class temperature. `duty`: the load profile, hour by hour.", ALWAYS, |_| Some("class");
    "duty.thermal_class", needed, Class, "Thermal class", "The temperature the rated life holds at.", |c| !c.is("duty.life_basis", "duty"), NONE;
    "duty.load_profile", needed, Profile, "Load profile: shares of the life at temperatures", "Hot-spot temperatures at the tape; the shares add up to 100 %.", |c| c.is("duty.life_basis", "duty"), NONE;

    "voltage", needed, Gate, "Does a voltage stand across the wrap?", "Without it no breakdown, discharge or tracking is judged.", ALWAYS, |_| Some("no");
    "voltage.kind", needed, Word(words::VOLTAGE), "Kind of voltage", "Decides how the stress is worked out.", electric, |_| Some("ac");
    "voltage.across", needed, Quantity(&VOLTAGE), "Voltage across the wrap", "The root mean square for ac; the worst place, such as between two turns or layers.", |c| electric(c) && !converter(c), NONE;
    "voltage.frequency", open, Quantity(&FREQUENCY), "Frequency", "Of the voltage; of a converter, its fundamental.", |c| electric(c) && !c.is("voltage.kind", "dc"), |_| Some("50 Hz");
    "voltage.altitude", open, Quantity(&LENGTH), "Altitude of the site", "Thin air sparks sooner.", electric, |_| Some("1000 m");
    "voltage.wedge", open, Word(words::WEDGE), "What fills the wedge at a lap?", "Discharge starts in a wedge that holds air.", electric, |c| Some(if immersed(c) { "liquid" } else { "air" });
    "voltage.other_insulation", open, Layers, "Other insulation in series, thickness/permittivity", "Enamel and the like take their share of the voltage.", electric, NONE;
    "voltage.dc_link", needed, Quantity(&VOLTAGE), "Voltage of the dc link", "The pulses of a converter rise from it.", converter, NONE;
    "voltage.overshoot", open, Number, "Overshoot, peak over dc link", "Long cables raise it, up to 2.", converter, |_| Some("2");
    "voltage.rise_time", open, Quantity(&TIME), "Rise time of a pulse", "A steep pulse stands across the first turns.", converter, NONE;
    "voltage.switching_frequency", open, Quantity(&FREQUENCY), "Switching frequency", "Endurance counts pulses.", converter, NONE;
    "voltage.turn_share", open, Quantity(&FRACTION), "Share of the peak across the wrap", "100 % between phases or to earth; less between turns.", converter, |_| Some("100 %");

    "winding.width", open, Quantity(&LENGTH), "Tape width", "Turns, lap, and whether a tape is slit so narrow.", ALWAYS, NONE;
    "winding.overlap", open, Quantity(&FRACTION), "Overlap, as a share of the width", "Sets the layers and the length of a lap.", ALWAYS, |_| Some("50 %");
    "winding.lap_tolerance", open, Quantity(&LENGTH), "How far may a lap slip?", "The thinnest place of the wrap follows from it.", ALWAYS, |_| Some("1 mm");
    "winding.passes", open, Count, "Passes over the length", "Layers, build and tape needed.", ALWAYS, |_| Some("1");
    "winding.circumference", open, Quantity(&LENGTH), "Circumference of what is wrapped", "Turns, tape needed, the last lap of a band.", ALWAYS, NONE;
    "winding.bend_radius", open, Quantity(&LENGTH), "Radius of the bend along its length", "A stiff tape wrinkles there; large for a straight bar. Left out, conformability is not asked.", ALWAYS, NONE;
    "winding.tension", open, Quantity(&FORCE_PER_LENGTH), "Winding tension, force per width", "Held against the tensile strength.", ALWAYS, NONE;
    "winding.surface", open, Surface, "What does it stick to?", "Adhesion is compared for this surface only; `own backing` when it lies on itself.", ALWAYS, NONE;
    "winding.length", open, Quantity(&LENGTH), "Length to wrap, one piece", "Tape needed.", ALWAYS, NONE;
    "winding.pieces", open, Count, "How many pieces?", "Tape needed.", ALWAYS, |_| Some("1");
    "winding.waste", open, Quantity(&FRACTION), "Share wasted", "Tape needed.", ALWAYS, |_| Some("5 %");
    "winding.build_limit", open, Quantity(&LENGTH), "The most the wrap may add on one side", "Held against the thickness of the wrap.", ALWAYS, NONE;
    "winding.adhesion_needed", open, Quantity(&FORCE_PER_LENGTH), "Adhesion needed", "Held against the sheet, at its own surface, angle and dwell.", ALWAYS, NONE;

    "exposure.name", needed, Text, "Name of the exposure", "Such as impregnation, final wipe, service oil; each name once.", ALWAYS, NONE;
    "exposure.stage", needed, Word(words::STAGE), "When is it met?", "In service the swollen state stays; in assembly and cleaning it passes.", ALWAYS, NONE;
    "exposure.medium", needed, Medium, "Which medium?", "What it does to the tape, and the tape to it.", ALWAYS, NONE;
    "exposure.temperature", needed, Quantity(&TEMPERATURE), "Its temperature", "In service a mean: the hot hours are the duty's business.", ALWAYS, NONE;
    "exposure.duration", needed, Quantity(&TIME), "How long?", "From a wipe of a minute to the life.", ALWAYS, NONE;
    "exposure.humidity", open, Quantity(&FRACTION), "Relative humidity", "Damp lowers breakdown and cuts chains.", |c| c.medium(&["gas"]), NONE;
    "exposure.wanted", open, Word(words::WANTED), "What is wanted of it?", "`impregnate`: it should fill the tape. `pass-through`: it should get past it.", |c| c.medium(&["resin", "liquid"]) && c.is("exposure.stage", "assembly"), |_| Some("resist");
    "exposure.pressure", open, Quantity(&PRESSURE), "Absolute pressure while it is met", "Drives a liquid into pores and laps.", |c| c.medium(&["resin", "liquid"]) && c.is("exposure.stage", "assembly"), NONE;
    "exposure.vacuum", open, Quantity(&PRESSURE), "Residual pressure before", "Takes the air out of pores and laps; brings a caution.", |c| c.is("exposure.stage", "assembly"), NONE;
    "exposure.cure", open, Flag, "Is it a bake that cures?", "Sets the thermosetting adhesives, if it is hot and long enough.", |c| c.medium(&["gas"]) && c.is("exposure.stage", "assembly"), |_| Some("no");
    "exposure.evaporates", open, Flag, "Is it a wipe that dries off?", "What evaporates leaves the tape again.", |c| c.medium(&["solvent"]), |_| Some("yes");
    "exposure.water_content", open, Quantity(&CONTENT), "Water in the liquid", "Hydrolysis, and the breakdown of the liquid.", |c| c.medium(&["liquid"]), NONE;
    "exposure.acidity", open, Quantity(&CONTENT), "Acidity, as potassium hydroxide per mass", "30 mg/kg is 0.03 mg KOH/g.", |c| c.medium(&["liquid"]) && c.is("exposure.stage", "service"), NONE;
    "exposure.more", needed, Gate, "Another exposure?", "Each liquid, resin, solvent, bake and damp air is one.", ALWAYS, |_| Some("no");
};

/// The question of a key, and the exposure it is about: `exposure.2.medium`.
#[must_use]
pub fn find(key: &str) -> Option<(&'static Question, usize)> {
    let (name, exposure) = match key.strip_prefix("exposure.").and_then(|rest| rest.split_once('.')) {
        Some((number, rest)) => {
            let exposure = number.parse::<usize>().ok().filter(|n| (1..=MOST).contains(n))?;
            (format!("exposure.{rest}"), exposure)
        }
        None if key.starts_with("exposure.") => return None,
        None => (key.to_owned(), 0),
    };
    QUESTIONS.iter().find(|question| question.key == name).map(|question| (question, exposure))
}

/// The most exposures that are asked for.
pub const MOST: usize = 99;
