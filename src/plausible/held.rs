//! Every number held against what is usual, and the slips of a unit behind what is not.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Fact, Property, Subject};
use crate::quantity::{self, TEMPERATURE};

use super::ranges::{Range, Ranges};
use super::{Cell, Found, Kind};

/// What one unit taken for another makes of a number: mm for cm, mil for 25.4 µm, mil for mm, m for cm,
/// `kV` for `V`, `MPa` for `Pa`.
const FACTORS: [f64; 6] = [10.0, 25.4, 1000.0 / 25.4, 100.0, 1000.0, 1e6];
/// A group of fewer like tapes says nothing of what is usual.
const PEERS: usize = 4;
/// How many times the width of a range a factor has to be, to explain what lies outside.
const WIDER: f64 = 2.0;
/// How far beyond its like tapes a number may lie before a slip is looked for.
const BEYOND: f64 = 2.0;

/// Columns that like tapes have in common: by adhesive, then by backing.
const BY_ADHESIVE: &[Property] =
    &[Property::Adhesion, Property::AdhesionToBacking, Property::Shear, Property::Unwind, Property::AdhesiveThickness];
const BY_BACKING: &[Property] = &[
    Property::Elongation,
    Property::EdgeTear,
    Property::Puncture,
    Property::TrackingIndex,
    Property::BackingThickness,
    Property::RollLength,
    Property::MinimumWidth,
];

/// The factor that brings a value into a range, as the number it should have been; the likeliest one is
/// the one that lands nearest to the middle.
pub(super) fn slip(value: f64, low: f64, high: f64, unit: &'static quantity::Kind) -> Option<(f64, String)> {
    if *unit == TEMPERATURE {
        let celsius = value - 273.15;
        let mended = [(celsius - 32.0) / 1.8 + 273.15, celsius * 1.8 + 32.0 + 273.15];
        let words = ["degF written as degC", "degC written as degF"];
        return mended
            .iter()
            .zip(words)
            .find(|(mended, _)| low <= **mended && **mended <= high && is_round(**mended))
            .map(|(mended, words)| (*mended, words.to_owned()));
    }
    // Below an upper end alone everything lies, so a factor that leads there says nothing.
    if value <= 0.0 || low <= 0.0 || !low.is_finite() || !high.is_finite() {
        return None;
    }
    let middle = libm::sqrt(low * high);
    let off = |mended: f64| libm::fabs(libm::log(mended / middle));
    let candidates = FACTORS.iter().flat_map(|f| [(value / f, *f, "too large"), (value * f, *f, "too small")]);
    // In a range about as wide as the factor nearly any number would land.
    candidates
        .filter(|(mended, factor, _)| WIDER * high / low <= *factor && low <= *mended && *mended <= high)
        .min_by(|a, b| off(a.0).total_cmp(&off(b.0)))
        .map(|(mended, factor, way)| (mended, format!("{} times {way}", quantity::tidy(factor, 4))))
}

/// True for a temperature that a sheet would print, a multiple of 5 degC to within the rounding of degF.
fn is_round(temperature: f64) -> bool {
    let fives = (temperature - 273.15) / 5.0;
    libm::fabs(fives - libm::round(fives)) * 5.0 < 0.6
}

/// Remarks on a value outside a range: a slip if a factor explains it, else the kind given.
pub(super) fn against(range: &Range, value: f64, cell: &Cell<'_>, other: Kind, what: &str, found: &mut Found) {
    if range.holds(value) {
        return;
    }
    match slip(value, range.low, range.high, range.unit) {
        Some((mended, how)) => {
            let mended = range.unit.sized(mended);
            found.add(Kind::UnitSlip, cell, format!("{what}, which would be {mended} if it is {how}"), range.words());
        }
        None => found.add(other, cell, what, range.words()),
    }
}

/// Holds the columns of tapes against like tapes, and every fact against its range.
pub(super) fn review(catalogue: &Catalogue, ranges: &Ranges, found: &mut Found) {
    peers(catalogue, ranges, found);
    for fact in &catalogue.facts {
        let subject = subject(catalogue, fact);
        let cell = Cell { subject: &subject, column: fact.property.name(), value: &fact.written, place: &fact.place };
        let what = format!("`{}`", fact.written);
        for (range, other) in of(catalogue, ranges, fact) {
            if found.trusts(&subject, &[cell.column]) {
                against(range, fact.spread.value, &cell, other, &what, found);
            }
        }
    }
}

/// Whom a fact is about: a tape or material, in a medium if it is a pair.
pub(super) fn subject(catalogue: &Catalogue, fact: &Fact) -> String {
    let id = catalogue.subject_id(fact.subject);
    fact.medium.map_or_else(|| id.to_owned(), |m| format!("{id} in {}", catalogue.materials[m].id))
}

/// The ranges of a fact, with the remark that a value outside is.
fn of<'r>(catalogue: &Catalogue, ranges: &'r Ranges, fact: &Fact) -> Vec<(&'r Range, Kind)> {
    let property = fact.property.name();
    if fact.medium.is_some() {
        return ranges.of("pair", "", "", property).into_iter().map(|r| (r, Kind::ValueUnusual)).collect();
    }
    let of_material = |index: usize| {
        let m = &catalogue.materials[index];
        ranges.of(m.kind, &m.id, &m.family, property)
    };
    match fact.subject {
        Subject::Material(index) => of_material(index).into_iter().map(|r| (r, Kind::ValueUnusual)).collect(),
        Subject::Tape(index) => {
            let tape = &catalogue.tapes[index];
            let other = match fact.property {
                Property::TemperatureIndex => Kind::IndexAboveParts,
                Property::HalvingInterval => Kind::HalvingUnusual,
                _ => Kind::ValueUnusual,
            };
            let sides = [of_material(tape.backing), of_material(tape.adhesive), ranges.of("tape", "", "", property)];
            sides.into_iter().flatten().map(|r| (r, other)).collect()
        }
    }
}

/// Looks for slips among tapes alike, where no range of their material says what is usual.
fn peers(catalogue: &Catalogue, ranges: &Ranges, found: &mut Found) {
    let mut groups: BTreeMap<(Property, usize), Vec<&Fact>> = BTreeMap::new();
    for fact in catalogue.facts.iter().filter(|f| f.medium.is_none() && f.place.file.as_ref() == "tapes.csv") {
        let Subject::Tape(index) = fact.subject else { continue };
        let tape = &catalogue.tapes[index];
        let side = match fact.property {
            property if BY_ADHESIVE.contains(&property) => tape.adhesive,
            property if BY_BACKING.contains(&property) => tape.backing,
            _ => continue,
        };
        let m = &catalogue.materials[side];
        if ranges.of(m.kind, &m.id, &m.family, fact.property.name()).is_none() {
            groups.entry((fact.property, side)).or_default().push(fact);
        }
    }
    for ((property, side), group) in groups {
        for fact in group.iter().filter(|_| group.len() > PEERS) {
            let others = group.iter().filter(|f| f.subject != fact.subject).map(|f| f.spread.value);
            let (low, high) = others.fold((f64::INFINITY, 0.0_f64), |(low, high), v| (low.min(v), high.max(v)));
            let value = fact.spread.value;
            if low <= 0.0 || (low / BEYOND <= value && value <= high * BEYOND) {
                continue;
            }
            let unit = property.spec().kind;
            if let Some((mended, how)) = slip(value, low, high, unit) {
                let subject = subject(catalogue, fact);
                let cell =
                    Cell { subject: &subject, column: property.name(), value: &fact.written, place: &fact.place };
                let what = format!("`{}`, which would be {} if it is {how}", fact.written, unit.sized(mended));
                let needed = format!(
                    "{} to {}, as the other {} tapes with {} have",
                    unit.sized(low),
                    unit.sized(high),
                    group.len() - 1,
                    catalogue.materials[side].id
                );
                found.add(Kind::UnitSlip, &cell, what, needed);
            }
        }
    }
}
