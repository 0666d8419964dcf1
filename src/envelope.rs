//! Limits of use: how far a stress may move until a tape's verdict changes, and which criterion
//! changes it. The same functions that judge are asked again; nothing is inverted by hand, and every
//! limit is a number that a person would write, at which the tape was judged.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::enquiry::{Enquiry, Exposure};
use crate::expand::{Asked, Plan, Shared};
use crate::fault::Faults;
use crate::judge::{Finding, Verdict};
use crate::quantity::{ForcePerLength, Length, Temperature, Time, Voltage, from_unit, in_unit};
use crate::rank;

/// A stress that may move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// The hottest temperature of the load; the liquids of service, which are as warm, move with it. Without a
    /// load profile all media of service do.
    Temperature,
    /// The hottest service exposure that has a temperature of its own beside the load profile.
    Beside,
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
    pub const ALL: [Quantity; 8] = [
        Quantity::Temperature,
        Quantity::Beside,
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
            Quantity::Temperature => "hottest temperature of the load",
            Quantity::Beside => "temperature of the exposures besides the load",
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
            Quantity::Temperature | Quantity::Beside => "degC",
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
            Quantity::Beside => enquiry.exposures.iter().any(|x| x.is_beside(&enquiry.duty)),
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
            Quantity::Beside => warmest(enquiry.exposures.iter().filter(|x| x.is_beside(&enquiry.duty))),
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
            Quantity::Temperature | Quantity::Beside => ((now - 100.0).max(200.0), now + 150.0),
            Quantity::Overlap => (0.0, 0.9),
            Quantity::Width => (now / 6.0, now * 4.0),
            Quantity::Time | Quantity::Voltage | Quantity::Link | Quantity::Tension => (now / 30.0, now * 30.0),
        }
    }

    /// True where steps are equal ratios.
    const fn is_ratio(self) -> bool {
        !matches!(self, Quantity::Temperature | Quantity::Beside | Quantity::Overlap)
    }

    /// The nearest value above or below, or this one, that a person would write: whole degrees and per cent, else
    /// two digits.
    fn written(self, value: f64, above: bool) -> f64 {
        let number = in_unit(value, self.unit());
        let tens = if self.is_ratio() { libm::floor(libm::log10(number)) - 1.0 } else { 0.0 };
        let (step, per) = (libm::exp10(tens.max(0.0)), libm::exp10((-tens).max(0.0)));
        let steps = number / step * per;
        let whole = if above { libm::ceil(steps - 1e-9) } else { libm::floor(steps + 1e-9) };
        from_unit(whole * step / per, self.unit())
    }

    /// The enquiry with this quantity at another value.
    fn moved(self, enquiry: &Enquiry, now: f64, value: f64) -> Enquiry {
        let mut e = enquiry.clone();
        match self {
            Quantity::Temperature => {
                let service = |x: &Exposure| x.stage == "service" && !x.is_beside(&enquiry.duty);
                e.exposures.iter_mut().filter(|x| service(x)).for_each(|x| warmer(&mut x.temperature, value - now));
                e.duty.load_profile.iter_mut().for_each(|step| warmer(&mut step.temperature, value - now));
            }
            Quantity::Beside => {
                let beside = |x: &Exposure| x.is_beside(&enquiry.duty);
                e.exposures.iter_mut().filter(|x| beside(x)).for_each(|x| warmer(&mut x.temperature, value - now));
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

/// The hottest of the load or, without a load profile, of the media of service.
fn hottest(enquiry: &Enquiry) -> Option<f64> {
    let profile = enquiry.duty.load_profile.iter().map(|step| step.temperature.si());
    let service = enquiry.exposures.iter().filter(|x| x.stage == "service" && !x.is_beside(&enquiry.duty));
    profile.chain(warmest(service)).max_by(f64::total_cmp)
}

fn warmest<'e>(exposures: impl Iterator<Item = &'e Exposure>) -> Option<f64> {
    exposures.map(|x| x.temperature.si()).max_by(f64::total_cmp)
}

fn warmer(t: &mut Temperature, by: f64) {
    *t = Temperature::from_si(t.si() + by);
}

/// Where a verdict changes.
#[derive(Clone, Debug, Serialize)]
pub struct Turn {
    /// What moves.
    pub quantity: Quantity,
    /// Its value in the enquiry, in SI.
    pub now: f64,
    /// The last value, in SI, at which the tape was judged and the verdict is still the present one.
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
/// A side of a quantity whose change is looked for: all values between `from` and `to` are alike at `from`.
struct Bracket {
    quantity: Quantity,
    now: f64,
    from: f64,
    to: f64,
    found: Option<(Verdict, usize, Option<usize>)>,
}

impl Bracket {
    /// The value at a share of the way, written as a person would and no further.
    fn at(&self, share: f64) -> f64 {
        let above = self.to > self.from;
        let value = self.quantity.written(self.between(share), !above);
        if (value > self.from) == above { value } else { self.from }
    }

    fn between(&self, share: f64) -> f64 {
        if self.quantity.is_ratio() {
            self.from * libm::pow(self.to / self.from, share)
        } else {
            self.from + (self.to - self.from) * share
        }
    }

    /// A value about the middle that a person would write, if there is one before the end.
    fn middle(&self) -> Option<f64> {
        let (low, high) = if self.from < self.to { (self.from, self.to) } else { (self.to, self.from) };
        let near = [false, true].map(|above| self.quantity.written(self.between(0.5), above));
        near.into_iter().find(|value| low < *value && *value < high)
    }

    fn moved(&self, enquiry: &Enquiry, value: f64) -> Enquiry {
        self.quantity.moved(enquiry, self.now, value)
    }
}

/// Finds the limits of use of one tape.
///
/// # Errors
/// As [`Plan::of`].
pub fn envelope(catalogue: &Catalogue, enquiry: &Enquiry, tape: usize) -> Result<Envelope, Faults> {
    let shared = Shared::default();
    let judge = |enquiries: &[Enquiry]| -> Result<Vec<Judged>, Faults> {
        Ok(judged(&Plan::among(catalogue, enquiries, vec![tape], (&shared, Asked::Sides))?))
    };
    let present = judge(std::slice::from_ref(enquiry))?;
    let verdict = present[0].0;
    let mut brackets = Vec::new();
    let mut unstated = Vec::new();
    for quantity in Quantity::ALL.into_iter().filter(|quantity| quantity.applies(enquiry)) {
        let Some(now) = quantity.now(enquiry) else {
            unstated.push(quantity);
            continue;
        };
        let (low, high) = quantity.range(now);
        let ends = [quantity.written(low, true), quantity.written(high, false)];
        brackets.extend(ends.map(|to| Bracket { quantity, now, from: now, to, found: None }));
    }
    // Outwards in batches: what lies beyond the first change is not looked at.
    let steps: Vec<f64> = (0..=STEPS).map(|step| f64::from(step) / f64::from(STEPS)).collect();
    for batch in steps.windows(BATCH + 1).step_by(BATCH) {
        let looking = || brackets.iter().filter(|b| b.found.is_none());
        let probes = looking().flat_map(|b| batch[1..].iter().map(|share| b.moved(enquiry, b.at(*share))));
        let judged = judge(&probes.collect::<Vec<Enquiry>>())?;
        let looking = brackets.iter_mut().filter(|b| b.found.is_none());
        for (bracket, results) in looking.zip(judged.chunks(BATCH)) {
            let Some(turn) = results.iter().position(|(v, ..)| *v != verdict) else { continue };
            bracket.found = Some(results[turn]);
            (bracket.from, bracket.to) = (bracket.at(batch[turn]), bracket.at(batch[turn + 1]));
        }
    }
    loop {
        let open = |b: &Bracket| b.found.and_then(|_| b.middle());
        let probes: Vec<Enquiry> =
            brackets.iter().filter_map(|b| open(b).map(|middle| b.moved(enquiry, middle))).collect();
        if probes.is_empty() {
            break;
        }
        let judged = judge(&probes)?;
        let halved = brackets.iter_mut().filter_map(|b| open(b).map(|middle| (b, middle)));
        for ((bracket, middle), found) in halved.zip(judged) {
            if found.0 == verdict {
                bracket.from = middle;
            } else {
                (bracket.to, bracket.found) = (middle, Some(found));
            }
        }
    }
    // What is named is judged in full: of several that decide alike, full numbers say which is the weakest.
    let beyond: Vec<Enquiry> = brackets.iter().filter(|b| b.found.is_some()).map(|b| b.moved(enquiry, b.to)).collect();
    let judged = judged(&Plan::among(catalogue, &beyond, vec![tape], (&shared, Asked::All))?);
    brackets.iter_mut().filter(|b| b.found.is_some()).zip(judged).for_each(|(b, found)| b.found = Some(found));
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

/// The verdict of the one tape of a plan in each enquiry, and the finding that decides it.
fn judged(plan: &Plan<'_>) -> Vec<Judged> {
    let one = |enquiry| {
        let findings = plan.findings_of(enquiry, 0);
        let standing = rank::standing(plan.catalogue, &findings);
        let weakest: Option<&Finding> = rank::weakest(&findings);
        (standing.verdict, weakest.map_or(0, |f| f.criterion), weakest.and_then(|f| f.exposure))
    };
    (0..plan.enquiries.len()).into_par_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::load::Folder;

    /// The search asks for verdicts alone, of cells that it works out once: what it finds stands where each value is
    /// judged by itself, as if somebody had asked for it.
    #[test]
    fn a_limit_stands_where_its_value_is_judged_by_itself() {
        let folder = Folder::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("matrices")).unwrap();
        let catalogue = Catalogue::build(&folder).unwrap();
        let mut turned = 0;
        for (number, file) in folder.enquiries().enumerate() {
            let enquiry = Enquiry::read(file, folder.text(file), &catalogue).unwrap();
            let active = (0..catalogue.tapes.len()).filter(|tape| catalogue.tapes[*tape].active);
            for tape in active.skip(number % 3).step_by(3) {
                let found = envelope(&catalogue, &enquiry, tape).unwrap();
                let alone = |moved: Enquiry| judged(&Plan::of(&catalogue, &[moved], vec![tape]).unwrap())[0];
                assert_eq!(alone(enquiry.clone()).0, found.verdict);
                for turn in &found.turns {
                    let at = |value| alone(turn.quantity.moved(&enquiry, turn.now, value));
                    let next = turn.value * if turn.above { 1.0 + 1e-6 } else { 1.0 - 1e-6 };
                    let next = turn.quantity.written(next, turn.above);
                    let what = format!("{} {tape} {turn:?}", enquiry.number);
                    let beyond = (turn.verdict, turn.criterion, turn.exposure);
                    assert_eq!((at(turn.value).0, at(next)), (found.verdict, beyond), "{what}");
                    turned += 1;
                }
            }
        }
        assert!(turned > 200, "{turned}");
    }
}
