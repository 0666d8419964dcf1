//! Numbers for pictures: positions between 0 and 1 (or −1 and 1 about a limit) and the texts beside
//! them. All of it is asked of the measures and models that judge; a template only draws.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use super::language::Language;
use super::view::Case;
use crate::catalogue::Property;
use crate::enquiry::{Enquiry, LoadStep};
use crate::explain::Explanation;
use crate::judge::{Finding, Verdict};
use crate::measure::{self, Answer, Measure, Mode, Work};
use crate::models::discharge::{Gap, inception};
use crate::models::layers::alternating;
use crate::models::paschen::Gas;
use crate::quantity::{self, Length, Pressure, Temperature, Time, Voltage};
use crate::rank::Ranked;
use crate::spread::{POINTS, Percentiles};

fn rounded(x: f64) -> f64 {
    libm::round(x * 1e4) / 1e4
}

/// All pictures but the margins.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Pictures {
    /// Swelling and uptake against time, one a measure and exposure.
    pub courses: Vec<Course>,
    /// Life used, load step by load step.
    pub lives: Option<Lives>,
    /// The field across the layers, and where discharge begins.
    pub fields: Option<Fields>,
    /// The wrap cut open.
    pub section: Option<Section>,
}

/// A mark on an axis.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Tick {
    /// Where, from 0 to 1.
    pub at: f64,
    /// What it says.
    pub text: String,
}

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

/// Life used by each load step.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Lives {
    /// What to see.
    pub caption: String,
    /// The load steps, and the bakes.
    pub steps: Vec<String>,
    /// One row of bars a tape.
    pub panels: Vec<LifePanel>,
    /// Marks of the axis.
    pub ticks: Vec<Tick>,
    /// Those of the limit and the outer limit that lie on the axis.
    pub limits: Vec<f64>,
    /// What the picture shows.
    pub alt: String,
}

/// One tape's life used.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LifePanel {
    /// The tape.
    pub tape: String,
    /// The share of the axis each step takes.
    pub bars: Vec<f64>,
    /// The same as text.
    pub texts: Vec<String>,
    /// All of it.
    pub total: String,
}

/// The field across the layers at the thinnest place, and where discharge begins.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Fields {
    /// What to see.
    pub caption: String,
    /// One panel a tape.
    pub panels: Vec<FieldPanel>,
    /// Marks of the field axis.
    pub ticks: Vec<Tick>,
    /// Marks of the voltage axis of the gap curves; none where the wedge is filled.
    pub voltages: Vec<Tick>,
    /// Marks of the gap axis.
    pub gaps: Vec<Tick>,
    /// The peak voltage on that axis.
    pub peak: Option<Tick>,
    /// What the picture shows.
    pub alt: String,
}

/// One tape's field.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FieldPanel {
    /// The tape.
    pub tape: String,
    /// The layers from the conductor outwards.
    pub layers: Vec<FieldLayer>,
    /// Gap and inception voltage, positions on the shared axes.
    pub curve: Vec<[f64; 2]>,
    /// The worst gap on the curve.
    pub worst: Option<[f64; 2]>,
    /// What it came to.
    pub says: String,
}

/// One layer.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FieldLayer {
    /// What it is.
    pub name: String,
    /// backing, adhesive, other or wedge.
    pub kind: &'static str,
    /// Its share of the stack's thickness.
    pub width: f64,
    /// Its field on the axis.
    pub height: f64,
    /// Its thickness.
    pub thickness: String,
    /// Its field.
    pub field: String,
}

/// The wrap cut open along its axis, of the proposed tape.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Section {
    /// The tape.
    pub tape: String,
    /// Pitch over width.
    pub pitch: f64,
    /// The share of the total that is backing.
    pub backing: f64,
    /// Total thickness over width.
    pub thickness: f64,
    /// How often the thickness is stretched for the drawing.
    pub stretch: f64,
    /// The passes.
    pub passes: u32,
    /// What fills the wedge: air, liquid, resin, or empty.
    pub wedge: &'static str,
    /// Labels: width, pitch, backing, adhesive, wedge.
    pub labels: Vec<String>,
    /// What to see.
    pub caption: String,
    /// What the picture shows.
    pub alt: String,
}

/// All pictures of a case.
pub(super) fn pictures(case: &Case<'_>, explanations: &[Vec<(&Finding, Explanation)>]) -> Pictures {
    Pictures { courses: courses(case), lives: lives(case), fields: fields(case, explanations), section: section(case) }
}

/// Measures whose course over time is drawn.
const COURSES: [&str; 1] = ["adhesive-swelling"];
/// Points of a course.
const TIMES: u32 = 17;

fn courses(case: &Case<'_>) -> Vec<Course> {
    let mut courses = Vec::new();
    for id in COURSES {
        let Some(measure) = measure::find(id) else { continue };
        for exposure in 0..case.enquiry.exposures.len() {
            courses.extend(course(case, measure, exposure));
        }
    }
    courses
}

/// The answer of a measure for a tape in an enquiry that was changed for the picture.
fn asked_of(
    case: &Case<'_>,
    measure: &'static Measure,
    enquiry: &Enquiry,
    tape: usize,
    exposure: Option<usize>,
) -> Option<Percentiles> {
    let mode = Mode { points: POINTS, explain: false };
    match Work::out(measure, case.plan.catalogue, tape, enquiry, exposure, mode).answer {
        Answer::Number(p) if p.x05.is_finite() && p.x95.is_finite() => Some(p),
        _ => None,
    }
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

/// The finding of a measure for a candidate, if it was asked.
fn finding<'c>(case: &'c Case<'_>, ranked: &Ranked, measure: &str, exposure: Option<usize>) -> Option<&'c Finding> {
    case.of(ranked)
        .iter()
        .find(|f| f.exposure == exposure && f.verdict != Verdict::NotAsked && case.criterion(f).measure == measure)
}

/// Marks at whole units of time, few enough to be read.
fn time_ticks(language: &Language, from: f64, to: f64, at: impl Fn(f64) -> f64) -> Vec<Tick> {
    const HOUR: f64 = 3600.0;
    const MARKS: [f64; 13] = [
        1.0,
        10.0,
        60.0,
        600.0,
        HOUR,
        10.0 * HOUR,
        24.0 * HOUR,
        240.0 * HOUR,
        876.6 * HOUR,
        8766.0 * HOUR,
        87_660.0 * HOUR,
        876_600.0 * HOUR,
        8_766_000.0 * HOUR,
    ];
    let mut ticks: Vec<Tick> = Vec::new();
    for mark in MARKS.into_iter().filter(|m| *m >= from && *m <= to) {
        let tick = Tick { at: rounded(at(mark)), text: language.time(mark) };
        if ticks.last().is_none_or(|last| clear_of(last, &tick)) {
            ticks.push(tick);
        }
    }
    ticks
}

/// The share of the narrowest axis that one letter below it takes, and that two texts leave between them.
const LETTER: f64 = 0.045;
const BETWEEN: f64 = 0.05;

/// True if the texts of two marks of an axis, each in the middle below its mark, do not meet.
fn clear_of(a: &Tick, b: &Tick) -> bool {
    let half = |tick: &Tick| f64::from(u32::try_from(tick.text.chars().count()).unwrap_or(u32::MAX)) * LETTER / 2.0;
    b.at - a.at > half(a) + BETWEEN + half(b)
}

/// Marks at equal steps of 1, 2 or 5, with their texts.
fn even_ticks(language: &Language, from: f64, to: f64) -> Vec<(f64, String)> {
    let raw = (to - from) / 3.5;
    if raw.is_nan() || raw <= 0.0 {
        return Vec::new();
    }
    let power = libm::pow(10.0, libm::floor(libm::log10(raw)));
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|s| s * power).find(|s| *s >= raw).unwrap_or(raw);
    let first = libm::ceil(from / step - 1e-9);
    (0..12)
        .map(|i| (first + f64::from(i)) * step)
        .take_while(|v| *v <= to * (1.0 + 1e-9))
        .map(|v| (v, language.number(v, 3)))
        .collect()
}

fn lives(case: &Case<'_>) -> Option<Lives> {
    let l = case.language;
    let measure = measure::find("thermal-life")?;
    let tapes: Vec<&Ranked> = case
        .short_list()
        .iter()
        .filter(|r| finding(case, r, measure.id, None).is_some_and(|f| f.value.is_some()))
        .collect();
    let limits = finding(case, tapes.first()?, measure.id, None)?.limits?;
    let profile = &case.enquiry.duty.load_profile;
    let only = |steps: &[LoadStep], bakes: bool| {
        let mut moved = case.enquiry.clone();
        moved.duty.load_profile = steps.to_vec();
        if !bakes {
            moved.exposures.iter_mut().for_each(|x| x.cure = false);
        }
        moved
    };
    let baked = case.enquiry.exposures.iter().any(|x| x.cure);
    let mut cases: Vec<(String, Enquiry)> = profile
        .iter()
        .map(|s| (format!("{}, {}", l.quantity(s.temperature), l.percent(s.share)), only(&[*s], false)))
        .collect();
    if baked {
        cases.push((l.text("charts.bakes").to_owned(), only(&[], true)));
    }
    let used: Vec<Vec<f64>> = tapes
        .iter()
        .map(|r| cases.iter().map(|(_, e)| asked_of(case, measure, e, r.tape, None).map_or(0.0, |p| p.x50)).collect())
        .collect();
    // The longest bar fills the axis, unless it is beyond twice the outer limit.
    let most = used.iter().flatten().fold(0.0, |most: f64, bar| most.max(*bar));
    let top = most.min(limits.outer * 2.0) * 1.1;
    if top <= 0.0 {
        return None;
    }
    let x = |v: f64| rounded((v / top).clamp(0.0, 1.0));
    let panels: Vec<LifePanel> = tapes
        .iter()
        .zip(&used)
        .map(|(r, bars)| LifePanel {
            tape: case.tape_id(r.tape).to_owned(),
            bars: bars.iter().map(|v| x(*v)).collect(),
            texts: bars.iter().map(|v| l.percent(*v)).collect(),
            total: l.percent(bars.iter().sum()),
        })
        .collect();
    let totals: Vec<String> = panels.iter().map(|p| format!("{} {}", p.tape, p.total)).collect();
    let names = [
        ("life", l.quantity(case.enquiry.duty.life)),
        ("totals", l.list(&totals)),
        ("limit", l.percent(limits.limit)),
        ("outer", l.percent(limits.outer)),
    ];
    let names: Vec<(&str, &str)> = names.iter().map(|(n, v)| (*n, v.as_str())).collect();
    Some(Lives {
        caption: l.say("charts.life_caption", &names),
        alt: l.say("charts.life_alt", &names),
        steps: cases.into_iter().map(|(name, _)| name).collect(),
        panels,
        ticks: even_ticks(l, 0.0, top).into_iter().map(|(v, _)| Tick { at: x(v), text: l.percent(v) }).collect(),
        limits: [limits.limit, limits.outer].into_iter().filter(|v| *v < top).map(x).collect(),
    })
}

/// What the working of the discharge margin says about the stack of one tape.
struct Stack<'e> {
    tape: usize,
    explanation: &'e Explanation,
    finding: &'e Finding,
    layers: Vec<(&'static str, f64, f64)>,
    peak: f64,
}

impl<'e> Stack<'e> {
    fn of(case: &Case<'_>, tape: usize, finding: &'e Finding, explanation: &'e Explanation) -> Option<Stack<'e>> {
        let fact = |symbol: &str| explanation.facts.iter().find(|f| f.symbol == symbol).map(|f| f.si);
        let step = |symbol: &str| explanation.central.iter().find(|s| s.symbol == symbol).map(|s| s.value);
        let (backing, adhesive) = (fact("tb")?, fact("ta")?);
        let (of_backing, of_adhesive) = (fact("εb")?, fact("εa")?);
        let peak = explanation.demand.as_ref().filter(|d| d.unit == "V")?.value;
        let other = case.enquiry.voltage.as_ref().map(|v| v.other_insulation.clone()).unwrap_or_default();
        let mut layers: Vec<(&'static str, f64, f64)> = other.iter().map(|(t, e)| ("other", t.si(), *e)).collect();
        let count = step("layers at the thinnest place").unwrap_or(1.0);
        let turns = if count >= 4.0 { 1.0 } else { count };
        let each = if turns > 0.0 { count / turns } else { 0.0 };
        let mut drawn = 0.0;
        while drawn < turns {
            layers.push(("adhesive", adhesive * each, of_adhesive));
            layers.push(("backing", backing * each, of_backing));
            drawn += 1.0;
        }
        match (step("worst gap"), fact("εf")) {
            (Some(gap), _) if gap > 0.0 => layers.push(("wedge", gap, 1.0)),
            // A filled wedge is drawn as thick as the tape at its lap.
            (_, Some(filler)) => layers.push(("wedge", fact("t")?, filler)),
            _ => {}
        }
        (peak > 0.0 && !layers.is_empty()).then_some(Stack { tape, explanation, finding, layers, peak })
    }

    /// Field in each layer, in V/m, at the peak voltage.
    fn field(&self) -> Option<Vec<f64>> {
        let layers: Vec<(Length, f64)> = self.layers.iter().map(|(_, t, e)| (Length::from_si(*t), *e)).collect();
        let stress = alternating(Voltage::from_si(self.peak), &layers).ok()?;
        Some(stress.iter().map(|s| s.field.si()).collect())
    }

    /// The voltage above which discharge must begin: the peak, times the factors of a converter.
    fn needed(&self) -> f64 {
        let factors = self.explanation.central.iter().find(|s| s.symbol == "enhancement factors");
        self.peak * factors.map_or(1.0, |step| step.value)
    }

    /// Inception voltage over gap, for a wedge in air.
    fn curve(&self) -> Vec<(f64, f64)> {
        let step = |symbol: &str| self.explanation.central.iter().find(|s| s.symbol == symbol).map(|s| s.value);
        let fact = |symbol: &str| self.explanation.facts.iter().find(|f| f.symbol == symbol).map(|f| f.si);
        let (Some(solid), Some(pressure), Some(hottest), Some(width)) =
            (step("Σ t/ε"), step("p"), fact("T"), fact("t"))
        else {
            return Vec::new();
        };
        if step("worst gap").is_none() {
            return Vec::new();
        }
        let from = 4e-6_f64.min(width / 4.0);
        (0..=40)
            .filter_map(|i| {
                let gap = from * libm::pow(width / from, f64::from(i) / 40.0);
                let begins = inception(
                    Gas::AIR,
                    Length::from_si(solid),
                    Length::from_si(gap),
                    Pressure::from_si(pressure),
                    Temperature::from_si(hottest),
                    Gap::Flat,
                );
                begins.ok().map(|b| (gap, b.voltage.si()))
            })
            .collect()
    }
}

fn fields(case: &Case<'_>, explanations: &[Vec<(&Finding, Explanation)>]) -> Option<Fields> {
    let l = case.language;
    let stacks: Vec<Stack<'_>> = case
        .short_list()
        .iter()
        .zip(explanations)
        .filter_map(|(ranked, explained)| {
            let (f, e) = explained.iter().find(|(f, _)| case.criterion(f).measure == "pd-margin")?;
            Stack::of(case, ranked.tape, f, e)
        })
        .collect();
    let fields: Vec<Vec<f64>> = stacks.iter().filter_map(Stack::field).collect();
    if stacks.is_empty() || fields.len() != stacks.len() {
        return None;
    }
    let most = fields.iter().flatten().fold(0.0, |m: f64, f| m.max(*f)) / 1e6 * 1.1;
    let curves: Vec<Vec<(f64, f64)>> = stacks.iter().map(Stack::curve).collect();
    // For a converter discharge must begin above the peak times the enhancement factors.
    let needed = stacks[0].needed();
    let lowest = curves.iter().flatten().map(|(_, v)| *v).fold(f64::INFINITY, f64::min);
    let highest = (lowest * 4.0).max(needed * 1.15);
    let widest = curves.iter().flatten().map(|(g, _)| *g).fold(0.0, f64::max);
    let (gx, vy) = (|g: f64| rounded(g / widest), |v: f64| rounded((v / highest).clamp(0.0, 1.0)));
    let drawn = !curves.iter().all(Vec::is_empty);
    let panels: Vec<FieldPanel> = stacks
        .iter()
        .zip(&fields)
        .zip(&curves)
        .map(|((stack, field), curve)| field_panel(case, stack, field, most, curve, (gx, vy)))
        .collect();
    let wedge = case.enquiry.voltage.as_ref().and_then(|v| v.wedge).unwrap_or("air");
    let said: Vec<String> = panels.iter().map(|p| format!("{}: {}", p.tape, p.says)).collect();
    let names = [("peak", l.sized(&quantity::VOLTAGE, stacks[0].peak)), ("said", said.join("; "))];
    let names: Vec<(&str, &str)> = names.iter().map(|(n, v)| (*n, v.as_str())).collect();
    let caption = if drawn { "charts.field_caption_air" } else { "charts.field_caption_filled" };
    let caption = l.say(caption, &[names[0], ("wedge", l.text(&format!("words.{wedge}")))]);
    Some(Fields {
        caption,
        alt: l.say("charts.field_alt", &names),
        panels,
        ticks: even_ticks(l, 0.0, most).into_iter().map(|(v, text)| Tick { at: rounded(v / most), text }).collect(),
        voltages: if drawn {
            even_ticks(l, 0.0, highest / 1000.0)
                .into_iter()
                .map(|(v, text)| Tick { at: vy(v * 1000.0), text })
                .collect()
        } else {
            Vec::new()
        },
        gaps: if drawn {
            even_ticks(l, 0.0, widest * 1e6).into_iter().map(|(g, text)| Tick { at: gx(g * 1e-6), text }).collect()
        } else {
            Vec::new()
        },
        peak: drawn.then(|| Tick {
            at: vy(needed),
            text: l.say("charts.peak", &[("n", &l.sized(&quantity::VOLTAGE, round3(needed)))]),
        }),
    })
}

fn field_panel(
    case: &Case<'_>,
    stack: &Stack<'_>,
    field: &[f64],
    most: f64,
    curve: &[(f64, f64)],
    (gx, vy): (impl Fn(f64) -> f64, impl Fn(f64) -> f64),
) -> FieldPanel {
    let l = case.language;
    let total: f64 = stack.layers.iter().map(|(_, t, _)| t).sum();
    let layers = stack
        .layers
        .iter()
        .zip(field)
        .map(|((kind, thickness, _), field)| FieldLayer {
            name: l.text(&format!("charts.{kind}")).to_owned(),
            kind,
            width: rounded(thickness / total),
            height: rounded((field / 1e6 / most).clamp(0.0, 1.0)),
            thickness: l.sized_to(&quantity::LENGTH, *thickness, 3),
            field: l.in_unit(&quantity::FIELD_STRENGTH, *field, "kV/mm", 3),
        })
        .collect();
    let step = |symbol: &str| stack.explanation.central.iter().find(|s| s.symbol == symbol).map(|s| s.value);
    let begins = step("inception, peak").or_else(|| step("voltage at the filler's strength"));
    let worst = step("worst gap").zip(step("inception, peak")).filter(|_| !curve.is_empty());
    let says = match (begins, worst) {
        (Some(v), Some((gap, _))) => l.say(
            "charts.says_air",
            &[
                ("inception", &l.sized(&quantity::VOLTAGE, round3(v))),
                ("gap", &l.sized(&quantity::LENGTH, round3(gap))),
                ("margin", &case.margin(stack.finding)),
            ],
        ),
        (Some(v), None) => l.say(
            "charts.says_filled",
            &[("bears", &l.sized(&quantity::VOLTAGE, round3(v))), ("margin", &case.margin(stack.finding))],
        ),
        _ => case.margin(stack.finding),
    };
    FieldPanel {
        tape: case.tape_id(stack.tape).to_owned(),
        layers,
        curve: curve.iter().map(|(g, v)| [gx(*g), vy(*v)]).collect(),
        worst: worst.map(|(g, v)| [gx(g), vy(v)]),
        says,
    }
}

/// Three significant digits.
fn round3(x: f64) -> f64 {
    quantity::significant(x, 3).parse().unwrap_or(x)
}

/// Height over width that the drawing gives to one layer.
const DRAWN: f64 = 0.08;

fn section(case: &Case<'_>) -> Option<Section> {
    let (l, w) = (case.language, &case.enquiry.winding);
    let first = case.short_list().first()?;
    let sheet = |property| case.plan.catalogue.sheet(first.tape, property).map(|f| f.spread.value);
    let (total, backing) = (sheet(Property::TotalThickness)?, sheet(Property::BackingThickness)?);
    let adhesive = sheet(Property::AdhesiveThickness)?;
    let (width, overlap, passes) = (w.width?, w.overlap?, w.passes?);
    let wedge = case.enquiry.voltage.as_ref().and_then(|v| v.wedge).unwrap_or("");
    let ratio = total / width.si();
    let stretch = libm::fmax(1.0, libm::round(DRAWN / ratio));
    let pitch = width.si() * (1.0 - overlap);
    let layer = |x: f64| l.sized_to(&quantity::LENGTH, x, 3);
    let filled = if wedge.is_empty() { String::new() } else { l.text(&format!("words.{wedge}")).to_owned() };
    let names = [
        ("tape", case.tape_id(first.tape).to_owned()),
        ("overlap", l.percent(overlap)),
        ("stretch", l.number(stretch, 3)),
        ("thickness", layer(total)),
        ("wedge", filled),
        ("passes", passes.to_string()),
    ];
    let names: Vec<(&str, &str)> = names.iter().map(|(n, v)| (*n, v.as_str())).collect();
    Some(Section {
        tape: case.tape_id(first.tape).to_owned(),
        pitch: rounded(1.0 - overlap),
        backing: rounded(backing / total),
        thickness: ratio,
        stretch,
        passes,
        wedge,
        labels: vec![
            l.say("charts.width_n", &[("n", &l.quantity(width))]),
            l.say("charts.pitch_n", &[("n", &layer(pitch))]),
            l.say("charts.backing_n", &[("n", &layer(backing))]),
            l.say("charts.adhesive_n", &[("n", &layer(adhesive))]),
            if wedge.is_empty() { l.text("charts.wedge").to_owned() } else { l.say("charts.wedge_n", &names) },
        ],
        caption: l.say("charts.section_caption", &names),
        alt: l.say("charts.section_alt", &names),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_below_an_axis_do_not_meet() {
        let templates = super::super::template::Templates::embedded();
        for language in ["en", "de"].map(|id| templates.language(id).unwrap_or_else(|f| panic!("{:?}", f.sorted()))) {
            for (from, to) in [(1.0, 100.0), (60.0, 3e7), (1.0, 6.3e8), (600.0, 4e9), (10.0, 1e10)] {
                let at = |time: f64| libm::log(time / from) / libm::log(to / from);
                let ticks = time_ticks(&language, from, to, at);
                assert!(ticks.len() > 1, "{from} to {to} s has {} marks", ticks.len());
                for pair in ticks.windows(2) {
                    // The narrowest axis is 29.5 mm wide, a letter of 6.5 pt no wider than 1.4 mm.
                    let letters = pair.iter().map(|tick| tick.text.chars().count()).sum::<usize>();
                    let apart = (pair[1].at - pair[0].at) * 29.5;
                    assert!(
                        apart > f64::from(u32::try_from(letters).unwrap_or(99)) * 1.3 / 2.0,
                        "{} and {}",
                        pair[0].text,
                        pair[1].text
                    );
                }
            }
        }
    }
}
