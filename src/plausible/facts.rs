//! Facts against each other: what cannot both be right, and what claims to be known too well.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Fact};
use crate::quantity::TEMPERATURE;

use super::{Cell, Found, Kind, held};

/// What an exact number may be off, as nobody measures closer: 5 %, or 5 K. Common practice, no source.
const OFF: f64 = 0.05;
const OFF_KELVIN: f64 = 5.0;
/// A spread that ends within this share of a recalled value claims what no memory holds.
const NARROW: f64 = 1e-3;

/// Reviews every fact.
pub(super) fn review(catalogue: &Catalogue, found: &mut Found) {
    let mut alike: BTreeMap<String, Vec<&Fact>> = BTreeMap::new();
    for fact in &catalogue.facts {
        alike.entry(occasion(catalogue, fact)).or_default().push(fact);
        narrow(catalogue, fact, found);
    }
    for group in alike.values().filter(|group| group.len() > 1) {
        conflicts(catalogue, group, found);
    }
}

/// What two facts must share to be about the same thing; a sheet states no occasion and meets all of 23 degC.
fn occasion(catalogue: &Catalogue, fact: &Fact) -> String {
    let room = |t: f64| (t - 293.15).abs() < 7.0;
    let temperature = fact.temperature.filter(|t| fact.medium.is_some() || !room(*t)).map(|t| format!("{t:.1}"));
    let on_sheet = fact.place.file.as_ref() == "tapes.csv";
    let condition = if on_sheet { "" } else { fact.condition.as_str() };
    format!(
        "{} {} {} {temperature:?} {condition} {:?} {:?} {:?} {}",
        held::subject(catalogue, fact),
        fact.on_medium,
        fact.property.name(),
        fact.duration,
        fact.polymer_fraction,
        fact.humidity,
        fact.atmosphere
    )
}

/// The interval that a fact claims.
fn interval(fact: &Fact) -> (f64, f64) {
    let s = &fact.spread;
    if !s.is_exact() {
        return (s.low, s.high);
    }
    let off = if *fact.property.spec().kind == TEMPERATURE { OFF_KELVIN } else { OFF * s.value.abs() };
    (s.value - off, s.value + off)
}

/// The weaker of two facts that do not meet is remarked on, once.
fn conflicts(catalogue: &Catalogue, group: &[&Fact], found: &mut Found) {
    let Some(best) = group.iter().min_by_key(|f| (f.basis, f.place.file.as_ref() == "tapes.csv", &f.place)) else {
        return;
    };
    let (low, high) = interval(best);
    for fact in group.iter().filter(|f| f.place != best.place) {
        let (other_low, other_high) = interval(fact);
        if other_low <= high && low <= other_high {
            continue;
        }
        let subject = held::subject(catalogue, fact);
        if !found.trusts(&subject, &[fact.property.name()]) {
            continue;
        }
        let cell = Cell { subject: &subject, column: fact.property.name(), value: &fact.written, place: &fact.place };
        let needed = format!("what {} says, {}: `{}`{}", best.place, best.basis, best.written, ends(best));
        found.add(Kind::FactConflict, &cell, format!("`{}`{}, {}", fact.written, ends(fact), fact.basis), needed);
    }
}

/// The spread of a fact, for a message.
fn ends(fact: &Fact) -> String {
    if fact.spread.is_exact() {
        return String::new();
    }
    let unit = fact.property.spec().kind;
    format!(" ({} to {})", unit.sized(fact.spread.low), unit.sized(fact.spread.high))
}

fn narrow(catalogue: &Catalogue, fact: &Fact, found: &mut Found) {
    let s = &fact.spread;
    let size = s.value.abs() * NARROW;
    if fact.basis.is_weak() && !s.is_exact() && s.high - s.value < size && s.value - s.low < size {
        let subject = held::subject(catalogue, fact);
        let cell = Cell { subject: &subject, column: fact.property.name(), value: &fact.written, place: &fact.place };
        let needed = format!("the spread of a number that is {}", fact.basis);
        found.add(Kind::SpreadNarrow, &cell, format!("`{}`{}", fact.written, ends(fact)), needed);
    }
}
