//! The field across the layers, and where discharge begins.

use schemars::JsonSchema;
use serde::Serialize;

use crate::dossier::view::Case;
use crate::explain::Explanation;
use crate::judge::Finding;
use crate::models::discharge::{Gap, inception};
use crate::models::layers::alternating;
use crate::models::paschen::Gas;
use crate::quantity::{self, Length, Pressure, Temperature, Voltage};

use super::axis::{Tick, even_ticks, rounded};

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

pub(super) fn fields(case: &Case<'_>, explanations: &[Vec<(&Finding, Explanation)>]) -> Option<Fields> {
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
