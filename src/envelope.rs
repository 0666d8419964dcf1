//! Limits of use: how far a stress may move until a tape's verdict changes, and which criterion
//! changes it. The same functions that judge are asked again; nothing is inverted by hand.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::Faults;
use crate::judge::{Finding, Verdict};
use crate::quantity::{ForcePerLength, Length, Temperature, Time, Voltage};
use crate::rank;

/// A stress that may move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// The hottest temperature in service; the load profile and the service media move with it.
    Temperature,
    /// The life; the service media last as long.
    Time,
    /// The voltage across the wrap.
    Voltage,
    /// The link voltage of a converter, which its output follows.
    Link,
    /// The winding tension.
    Tension,
    /// The overlap.
    Overlap,
    /// The width of the tape, at the same overlap.
    Width,
}

impl Quantity {
    /// Every quantity, in the order of the page.
    pub const ALL: [Quantity; 7] = [
        Quantity::Temperature,
        Quantity::Time,
        Quantity::Voltage,
        Quantity::Link,
        Quantity::Tension,
        Quantity::Overlap,
        Quantity::Width,
    ];

    /// What people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Quantity::Temperature => "hottest service temperature",
            Quantity::Time => "life in service",
            Quantity::Voltage => "voltage across the wrap",
            Quantity::Link => "link voltage of the converter",
            Quantity::Tension => "winding tension",
            Quantity::Overlap => "overlap",
            Quantity::Width => "tape width",
        }
    }

    /// The unit it is printed in.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Quantity::Temperature => "degC",
            Quantity::Time => "a",
            Quantity::Voltage | Quantity::Link => "V",
            Quantity::Tension => "N/cm",
            Quantity::Overlap => "%",
            Quantity::Width => "mm",
        }
    }

    /// Whether it means anything in an enquiry: a converter has a link, other sources a voltage.
    fn applies(self, enquiry: &Enquiry) -> bool {
        let converter = enquiry.voltage.as_ref().is_some_and(|v| v.kind == "converter");
        match self {
            Quantity::Voltage => !converter,
            Quantity::Link => converter,
            _ => true,
        }
    }

    /// Its value in an enquiry, in SI; none where the enquiry does not state it.
    fn now(self, enquiry: &Enquiry) -> Option<f64> {
        let w = &enquiry.winding;
        match self {
            Quantity::Temperature => hottest(enquiry),
            Quantity::Time => Some(enquiry.duty.life.si()),
            Quantity::Voltage => enquiry.voltage.as_ref()?.across.map(Voltage::si),
            Quantity::Link => enquiry.voltage.as_ref()?.dc_link.map(Voltage::si),
            Quantity::Tension => w.tension.map(ForcePerLength::si),
            Quantity::Overlap => w.overlap,
            Quantity::Width => w.width.map(Length::si),
        }
        .filter(|now| *now > 0.0)
    }

    /// The range that is looked at about the present value, in SI.
    fn range(self, now: f64) -> (f64, f64) {
        match self {
            Quantity::Temperature => ((now - 100.0).max(200.0), now + 150.0),
            Quantity::Overlap => (0.0, 0.9),
            Quantity::Width => (now / 6.0, now * 4.0),
            Quantity::Time | Quantity::Voltage | Quantity::Link | Quantity::Tension => (now / 30.0, now * 30.0),
        }
    }

    /// True where steps are equal ratios.
    const fn is_ratio(self) -> bool {
        !matches!(self, Quantity::Temperature | Quantity::Overlap)
    }

    /// The enquiry with this quantity at another value.
    fn moved(self, enquiry: &Enquiry, now: f64, value: f64) -> Enquiry {
        let mut e = enquiry.clone();
        match self {
            Quantity::Temperature => {
                let shift = value - now;
                let warm = |t: Temperature| Temperature::from_si(t.si() + shift);
                e.duty.load_profile.iter_mut().for_each(|step| step.temperature = warm(step.temperature));
                let service = e.exposures.iter_mut().filter(|x| x.stage == "service");
                service.for_each(|x| x.temperature = warm(x.temperature));
            }
            Quantity::Time => {
                let factor = value / now;
                let longer = |t: Time| Time::from_si(t.si() * factor);
                e.duty.life = longer(e.duty.life);
                let service = e.exposures.iter_mut().filter(|x| x.stage == "service");
                service.for_each(|x| x.duration = longer(x.duration));
            }
            Quantity::Voltage | Quantity::Link => {
                if let Some(v) = &mut e.voltage {
                    let factor = value / now;
                    v.across = v.across.map(|across| Voltage::from_si(across.si() * factor));
                    v.dc_link = v.dc_link.map(|link| Voltage::from_si(link.si() * factor));
                }
            }
            Quantity::Tension => e.winding.tension = Some(ForcePerLength::from_si(value)),
            Quantity::Overlap => e.winding.overlap = Some(value),
            Quantity::Width => e.winding.width = Some(Length::from_si(value)),
        }
        e
    }
}

fn hottest(enquiry: &Enquiry) -> Option<f64> {
    let profile = enquiry.duty.load_profile.iter().map(|step| step.temperature.si());
    let service = enquiry.exposures.iter().filter(|x| x.stage == "service").map(|x| x.temperature.si());
    profile.chain(service).max_by(f64::total_cmp)
}

/// Where a verdict changes.
#[derive(Clone, Debug, Serialize)]
pub struct Turn {
    /// What moves.
    pub quantity: Quantity,
    /// Its value in the enquiry, in SI.
    pub now: f64,
    /// The last value, in SI, at which the verdict is still the present one.
    pub value: f64,
    /// True if it lies above the present value.
    pub above: bool,
    /// The verdict beyond it.
    pub verdict: Verdict,
    /// The criterion that decides there, by index.
    pub criterion: usize,
    /// The exposure it is about.
    pub exposure: Option<usize>,
}

/// The limits of use of a tape in an enquiry.
#[derive(Clone, Debug, Serialize)]
pub struct Envelope {
    /// The present verdict.
    pub verdict: Verdict,
    /// The changes nearest to the present values, at most one above and one below each.
    pub turns: Vec<Turn>,
    /// What was moved over its whole range without any change, with the range in SI.
    pub free: Vec<(Quantity, f64, f64)>,
    /// What the enquiry does not state.
    pub unstated: Vec<Quantity>,
}

/// Steps on each side of the present value, a multiple of [`BATCH`].
const STEPS: u32 = 12;
/// Steps that are judged together.
const BATCH: usize = 4;
/// How often the step with the change is halved.
const HALVINGS: u32 = 8;

/// A side of a quantity whose change is looked for: all values between `from` and `to` are alike at `from`.
struct Bracket {
    quantity: Quantity,
    now: f64,
    from: f64,
    to: f64,
    found: Option<(Verdict, usize, Option<usize>)>,
}

impl Bracket {
    /// The enquiry at a share of the way.
    fn moved(&self, enquiry: &Enquiry, share: f64) -> Enquiry {
        self.quantity.moved(enquiry, self.now, self.at(share))
    }

    /// The value at a share of the way.
    fn at(&self, share: f64) -> f64 {
        if self.quantity.is_ratio() {
            self.from * libm::pow(self.to / self.from, share)
        } else {
            self.from + (self.to - self.from) * share
        }
    }
}

/// Finds the limits of use of one tape.
///
/// # Errors
/// As [`Plan::of`].
pub fn envelope(catalogue: &Catalogue, enquiry: &Enquiry, tape: usize) -> Result<Envelope, Faults> {
    let present = judge(catalogue, std::slice::from_ref(enquiry), tape)?;
    let verdict = present[0].0;
    let mut brackets = Vec::new();
    let mut unstated = Vec::new();
    for quantity in Quantity::ALL.into_iter().filter(|quantity| quantity.applies(enquiry)) {
        let Some(now) = quantity.now(enquiry) else {
            unstated.push(quantity);
            continue;
        };
        let (low, high) = quantity.range(now);
        brackets.extend([low, high].map(|to| Bracket { quantity, now, from: now, to, found: None }));
    }
    // Outwards in batches: what lies beyond the first change is not looked at.
    let steps: Vec<f64> = (0..=STEPS).map(|step| f64::from(step) / f64::from(STEPS)).collect();
    for batch in steps.windows(BATCH + 1).step_by(BATCH) {
        let looking = || brackets.iter().filter(|b| b.found.is_none());
        let probes = looking().flat_map(|b| batch[1..].iter().map(|share| b.moved(enquiry, *share)));
        let judged = judge(catalogue, &probes.collect::<Vec<Enquiry>>(), tape)?;
        let looking = brackets.iter_mut().filter(|b| b.found.is_none());
        for (bracket, results) in looking.zip(judged.chunks(BATCH)) {
            let Some(turn) = results.iter().position(|(v, ..)| *v != verdict) else { continue };
            bracket.found = Some(results[turn]);
            (bracket.from, bracket.to) = (bracket.at(batch[turn]), bracket.at(batch[turn + 1]));
        }
    }
    for _ in 0..HALVINGS {
        let open = || brackets.iter().filter(|b| b.found.is_some());
        let probes: Vec<Enquiry> = open().map(|b| b.moved(enquiry, 0.5)).collect();
        let judged = judge(catalogue, &probes, tape)?;
        for (bracket, found) in brackets.iter_mut().filter(|b| b.found.is_some()).zip(judged) {
            let middle = bracket.at(0.5);
            if found.0 == verdict {
                bracket.from = middle;
            } else {
                (bracket.to, bracket.found) = (middle, Some(found));
            }
        }
    }
    let mut free = Vec::new();
    let mut turns = Vec::new();
    for pair in brackets.chunks(2) {
        if pair.iter().all(|b| b.found.is_none()) {
            free.push((pair[0].quantity, pair[0].to, pair[1].to));
        }
        for b in pair {
            let Some((verdict, criterion, exposure)) = b.found else { continue };
            turns.push(Turn {
                quantity: b.quantity,
                now: b.now,
                value: b.from,
                above: b.to > b.now,
                verdict,
                criterion,
                exposure,
            });
        }
    }
    Ok(Envelope { verdict, turns, free, unstated })
}

type Judged = (Verdict, usize, Option<usize>);

/// The verdict of one tape in each enquiry and the finding that decides it.
fn judge(catalogue: &Catalogue, enquiries: &[Enquiry], tape: usize) -> Result<Vec<Judged>, Faults> {
    let plan = Plan::of(catalogue, enquiries, vec![tape])?;
    Ok((0..enquiries.len())
        .into_par_iter()
        .map(|enquiry| {
            let findings = plan.findings_of(enquiry, 0);
            let standing = rank::standing(catalogue, &findings);
            let weakest: Option<&Finding> = rank::weakest(&findings);
            (standing.verdict, weakest.map_or(0, |f| f.criterion), weakest.and_then(|f| f.exposure))
        })
        .collect())
}
