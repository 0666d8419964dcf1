//! Swelling and uptake against time.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use crate::dossier::view::Case;
use crate::measure::{self, Measure};
use crate::quantity::Time;
use crate::rank::Ranked;
use crate::spread::Percentiles;

use super::axis::{Tick, even_ticks, rounded, time_ticks};
use super::{asked_of, finding};

/// One measure against time in one exposure, a panel for each short-listed tape.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Course {
    /// Its title.
    pub title: String,
    /// What to see.
    pub caption: String,
    /// Its panels.
    pub panels: Vec<CoursePanel>,
    /// Marks of the time axis.
    pub times: Vec<Tick>,
    /// Marks of the value axis.
    pub values: Vec<Tick>,
    /// The limit and the outer limit on the value axis.
    pub limits: [f64; 2],
    /// The end of the exposure on the time axis.
    pub exposure: f64,
    /// What the picture shows.
    pub alt: String,
}

/// One tape's course.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CoursePanel {
    /// The tape.
    pub tape: String,
    /// Time, and 5, 50 and 95 % of the value.
    pub points: Vec<[f64; 4]>,
    /// The value at the end of the exposure.
    pub end: String,
    /// How it was found.
    pub method: String,
}

/// Measures whose course over time is drawn.
const COURSES: [&str; 1] = ["adhesive-swelling"];
/// Points of a course.
const TIMES: u32 = 17;

pub(super) fn courses(case: &Case<'_>) -> Vec<Course> {
    let mut courses = Vec::new();
    for id in COURSES {
        let Some(measure) = measure::find(id) else { continue };
        for exposure in 0..case.enquiry.exposures.len() {
            courses.extend(course(case, measure, exposure));
        }
    }
    courses
}

fn course(case: &Case<'_>, measure: &'static Measure, exposure: usize) -> Option<Course> {
    let l = case.language;
    let with_number = |r: &&Ranked| finding(case, r, measure.id, Some(exposure)).is_some_and(|f| f.value.is_some());
    let tapes: Vec<&Ranked> = case.short_list().iter().filter(with_number).collect();
    let first = finding(case, tapes.first()?, measure.id, Some(exposure))?;
    let x = &case.enquiry.exposures[exposure];
    let end = x.duration.si();
    // From a millionth of the exposure to twice as long, in equal ratios.
    let (from, to) = ((end / 1e6).max(1.0), end * 2.0);
    let at = |t: f64| libm::log(t / from) / libm::log(to / from);
    let times: Vec<f64> =
        (0..TIMES).map(|i| from * libm::pow(to / from, f64::from(i) / f64::from(TIMES - 1))).collect();
    let series: Vec<Vec<Percentiles>> = tapes
        .par_iter()
        .map(|ranked| {
            times
                .par_iter()
                .map(|t| {
                    let mut moved = case.enquiry.clone();
                    moved.exposures[exposure].duration = Time::from_si(*t);
                    asked_of(case, measure, &moved, ranked.tape, Some(exposure))
                })
                .collect::<Option<Vec<_>>>()
                .unwrap_or_default()
        })
        .collect();
    let limits = first.limits?;
    let base = if measure.id == "adhesive-swelling" { 1.0 } else { 0.0 };
    let highest = series.iter().flatten().map(|p| p.x95).fold(limits.outer, f64::max);
    let top = base + (highest - base).min((limits.outer - base) * 3.0) * 1.08;
    let y = |v: f64| rounded(((v - base) / (top - base)).clamp(0.0, 1.0));
    let rule = case.criterion(first);
    let print = |v: f64| l.with_unit(&l.number(v, 3), first.unit);
    let panels: Vec<CoursePanel> = tapes
        .iter()
        .zip(&series)
        .filter(|(_, series)| !series.is_empty())
        .filter_map(|(ranked, series)| {
            let f = finding(case, ranked, measure.id, Some(exposure))?;
            let points =
                times.iter().zip(series).map(|(t, p)| [rounded(at(*t)), y(p.x05), y(p.x50), y(p.x95)]).collect();
            Some(CoursePanel {
                tape: case.tape_id(ranked.tape).to_owned(),
                points,
                end: f.value.map(|p| print(p.x50)).unwrap_or_default(),
                method: f.method.to_owned(),
            })
        })
        .collect();
    if panels.is_empty() {
        return None;
    }
    let ends: Vec<String> = panels.iter().map(|p| format!("{} {}", p.tape, p.end)).collect();
    let names = [
        ("measure", rule.title.clone()),
        ("exposure", x.name.clone()),
        ("temperature", l.quantity(x.temperature)),
        ("duration", l.quantity(x.duration)),
        ("asked", measure.asked.to_owned()),
        ("ends", l.list(&ends)),
        ("limit", print(limits.limit)),
        ("outer", print(limits.outer)),
    ];
    let names: Vec<(&str, &str)> = names.iter().map(|(n, v)| (*n, v.as_str())).collect();
    Some(Course {
        title: l.say("charts.course_title", &names),
        caption: l.say("charts.course_caption", &names),
        alt: l.say("charts.course_alt", &names),
        panels,
        times: time_ticks(l, from, to, at),
        values: even_ticks(l, base, top).into_iter().map(|(v, text)| Tick { at: y(v), text }).collect(),
        limits: [y(limits.limit), y(limits.outer)],
        exposure: rounded(at(end)),
    })
}
