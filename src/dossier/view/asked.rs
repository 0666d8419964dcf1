//! The enquiry as understood: what was stated, in groups, and what was not.

use schemars::JsonSchema;
use serde::Serialize;

use super::super::language::Language;
use super::{Case, sentence};
use crate::enquiry::Exposure;
use crate::judge::Verdict;

/// The enquiry as understood.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Asked {
    /// Application, duty, voltage, winding.
    pub groups: Vec<Group>,
    /// The exposures, in their order.
    pub exposures: Vec<ExposureLine>,
    /// What the enquiry does not state, in words; empty if nothing.
    pub unstated: String,
}

/// What was stated about one thing.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Group {
    /// Its heading.
    pub title: String,
    /// What was stated.
    pub pairs: Vec<Pair>,
}

/// A name and a value.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Pair {
    /// The name.
    pub name: String,
    /// The value.
    pub value: String,
}

/// One exposure.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ExposureLine {
    /// Its name.
    pub name: String,
    /// Its stage.
    pub stage: String,
    /// The medium.
    pub medium: String,
    /// The temperature.
    pub temperature: String,
    /// The duration.
    pub duration: String,
    /// What else was stated.
    pub further: String,
}

/// Gathers the pairs of a group, and what is missing.
struct Gather<'a> {
    language: &'a Language,
    pairs: Vec<Pair>,
    unstated: Vec<String>,
}

impl Gather<'_> {
    fn name(&self, key: &str) -> String {
        self.language.text(&format!("asked.{key}")).to_owned()
    }

    fn add(&mut self, key: &str, value: impl Into<String>) {
        self.pairs.push(Pair { name: self.name(key), value: value.into() });
    }

    fn maybe(&mut self, key: &str, value: Option<String>) {
        match value {
            Some(value) => self.add(key, value),
            None => self.unstated.push(self.language.within(&self.name(key))),
        }
    }

    /// Stated or of no interest.
    fn extra(&mut self, key: &str, value: Option<String>) {
        if let Some(value) = value {
            self.add(key, value);
        }
    }

    fn group(&mut self, key: &str) -> Group {
        Group { title: self.name(key), pairs: std::mem::take(&mut self.pairs) }
    }
}

pub(super) fn asked(case: &Case<'_>) -> Asked {
    let mut g = Gather { language: case.language, pairs: Vec::new(), unstated: Vec::new() };
    let groups = vec![
        head(case, &mut g),
        application(case, &mut g),
        duty(case, &mut g),
        voltage(case, &mut g),
        winding(case, &mut g),
    ];
    Asked {
        groups: groups.into_iter().filter(|group| !group.pairs.is_empty()).collect(),
        exposures: case.enquiry.exposures.iter().map(|x| exposure(case, x)).collect(),
        unstated: case.language.list(&g.unstated),
    }
}

/// One line on the application, for the head of page one.
pub(super) fn application_line(case: &Case<'_>) -> String {
    let (e, l) = (case.enquiry, case.language);
    let a = &e.application;
    let class = e.duty.thermal_class.map(|c| l.say("asked.class_n", &[("n", &c.to_string())]));
    let parts = [
        Some(word(l, a.equipment)),
        Some(word(l, a.function)),
        Some(word(l, a.atmosphere)),
        class,
        Some(l.quantity(e.duty.life)),
    ];
    sentence(&parts.into_iter().flatten().collect::<Vec<_>>().join(" · "))
}

/// A word of the enquiry, in the language.
fn word(language: &Language, word: &str) -> String {
    language.text(&format!("words.{word}")).to_owned()
}

/// Who asks what, in full: page one shortens what is very long.
fn head(case: &Case<'_>, g: &mut Gather<'_>) -> Group {
    let e = case.enquiry;
    g.add("number", e.number.as_str());
    g.add("subject", e.title.as_str());
    g.add("customer", e.customer.as_str());
    g.add("prepared_by", e.prepared_by.as_str());
    g.group("enquiry")
}

fn application(case: &Case<'_>, g: &mut Gather<'_>) -> Group {
    let (a, l) = (&case.enquiry.application, case.language);
    g.add("equipment", word(l, a.equipment));
    g.add("function", word(l, a.function));
    g.add("needed", word(l, a.needed));
    g.add("atmosphere", word(l, a.atmosphere));
    g.maybe("coldest", a.coldest.map(|t| l.quantity(t)));
    g.extra("colour", a.colour.clone());
    let recognition = a.recognition.map(|r| match (&a.system, r) {
        (Some(system), "system") => format!("{} {system}", word(l, "system")),
        _ => word(l, r),
    });
    g.extra(
        "recognition",
        recognition.map(|r| if judged(case, "recognition") { r } else { l.say("asked.not_judged", &[("what", &r)]) }),
    );
    g.group("application")
}

/// True if some criterion asks a measure of some candidate.
fn judged(case: &Case<'_>, measure: &str) -> bool {
    let mut findings = case.findings.iter().flatten();
    findings.any(|f| f.verdict != Verdict::NotAsked && case.criterion(f).measure == measure)
}

fn duty(case: &Case<'_>, g: &mut Gather<'_>) -> Group {
    let (d, l) = (&case.enquiry.duty, case.language);
    g.add("life", l.quantity(d.life));
    g.add("life_basis", word(l, d.life_basis));
    g.maybe("thermal_class", d.thermal_class.map(|c| c.to_string()));
    let steps: Vec<String> = d
        .load_profile
        .iter()
        .map(|s| l.say("asked.step", &[("share", &l.percent(s.share)), ("temperature", &l.quantity(s.temperature))]))
        .collect();
    g.maybe("load_profile", (!steps.is_empty()).then(|| steps.join(", ")));
    g.extra("hours", hours(case));
    g.group("duty")
}

/// What is not judged of the hours of the load profile, and which come on top of them.
fn hours(case: &Case<'_>) -> Option<String> {
    let (e, l) = (case.enquiry, case.language);
    if e.duty.load_profile.is_empty() {
        return None;
    }
    let class = (e.duty.life_basis == "class").then(|| l.text("asked.hours_of_class").to_owned());
    let beside: Vec<&Exposure> = e.exposures.iter().filter(|x| x.is_beside(&e.duty)).collect();
    let time = crate::quantity::Time::from_si(beside.iter().map(|x| x.duration.si()).sum());
    let names: Vec<String> = beside.iter().map(|x| x.name.clone()).collect();
    let on_top = (!names.is_empty())
        .then(|| l.say("asked.hours_on_top", &[("list", &l.list(&names)), ("time", &l.quantity(time))]));
    let told: Vec<String> = class.into_iter().chain(on_top).collect();
    (!told.is_empty()).then(|| told.join(" "))
}

fn voltage(case: &Case<'_>, g: &mut Gather<'_>) -> Group {
    let l = case.language;
    let Some(v) = &case.enquiry.voltage else {
        g.add("kind", l.text("asked.no_voltage"));
        return g.group("voltage");
    };
    let converter = v.kind == "converter";
    g.add("kind", word(l, v.kind));
    if !converter || v.across.is_some() {
        g.maybe("across", v.across.map(|u| l.quantity(u)));
    }
    if converter {
        g.maybe("dc_link", v.dc_link.map(|u| l.quantity(u)));
        g.maybe("overshoot", v.overshoot.map(|x| l.number(x, 3)));
        g.maybe("rise_time", v.rise_time.map(|t| l.in_unit(&crate::quantity::TIME, t.si(), "us", 3)));
        g.maybe("switching_frequency", v.switching_frequency.map(|f| l.quantity(f)));
        g.maybe("turn_share", v.turn_share.map(|s| l.percent(s)));
        g.extra("frequency", v.frequency.map(|f| l.quantity(f)));
    } else {
        g.maybe("frequency", v.frequency.map(|f| l.quantity(f)));
    }
    g.maybe("altitude", v.altitude.map(|h| l.quantity(h)));
    g.maybe("wedge", v.wedge.map(|w| word(l, w)));
    let other: Vec<String> = v
        .other_insulation
        .iter()
        .map(|(t, e)| l.say("asked.layer", &[("thickness", &l.quantity(*t)), ("permittivity", &l.number(*e, 3))]))
        .collect();
    g.extra("other_insulation", (!other.is_empty()).then(|| other.join(", ")));
    g.group("voltage")
}

fn winding(case: &Case<'_>, g: &mut Gather<'_>) -> Group {
    let (w, l) = (&case.enquiry.winding, case.language);
    g.maybe("width", w.width.map(|x| l.quantity(x)));
    g.maybe("overlap", w.overlap.map(|x| l.percent(x)));
    g.maybe("lap_tolerance", w.lap_tolerance.map(|x| l.quantity(x)));
    g.maybe("passes", w.passes.map(|n| n.to_string()));
    g.maybe("circumference", w.circumference.map(|x| l.quantity(x)));
    g.maybe("bend_radius", w.bend_radius.map(|x| l.quantity(x)));
    g.maybe("tension", w.tension.map(|x| l.quantity(x)));
    g.maybe("surface", w.surface.clone());
    g.maybe("length", w.length.map(|x| l.quantity(x)));
    g.maybe("pieces", w.pieces.map(|n| l.number(f64::from(n), 9)));
    g.maybe("waste", w.waste.map(|x| l.percent(x)));
    g.maybe("build_limit", w.build_limit.map(|x| l.quantity(x)));
    g.maybe("adhesion_needed", w.adhesion_needed.map(|x| l.quantity(x)));
    g.group("winding")
}

fn exposure(case: &Case<'_>, x: &Exposure) -> ExposureLine {
    let l = case.language;
    let mut further = Vec::new();
    let mut say = |key: &str, value: String| further.push(l.say(&format!("asked.{key}"), &[("n", &value)]));
    if let Some(h) = x.humidity {
        say("humidity_n", l.percent(h));
    }
    if let Some(p) = x.pressure {
        say("pressure_n", l.quantity(p));
    }
    if let Some(p) = x.vacuum {
        say("vacuum_n", l.quantity(p));
    }
    if let Some(c) = x.water_content {
        say("water_n", l.quantity(c));
    }
    if let Some(a) = x.acidity {
        say("acidity_n", l.quantity(a));
    }
    if x.wanted != "resist" {
        further.push(word(l, x.wanted));
    }
    if x.cure {
        further.push(l.text("asked.cures").to_owned());
    }
    if x.evaporates {
        further.push(l.text("asked.evaporates").to_owned());
    }
    ExposureLine {
        name: x.name.clone(),
        stage: word(l, x.stage),
        medium: case.plan.catalogue.materials[x.medium].name.clone(),
        temperature: l.quantity(x.temperature),
        duration: l.quantity(x.duration),
        further: further.join(", "),
    }
}
