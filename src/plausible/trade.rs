//! The catalogue as a whole: doubles, ends without a successor, an order without a cost.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Property, Subject, Tape};
use crate::evidence::Place;

use super::{Cell, Found, Kind};

/// How much thicker or thinner a successor may be.
const LIKE: f64 = 0.3;

/// Reviews the tapes among each other.
pub(super) fn review(catalogue: &Catalogue, found: &mut Found) {
    doubles(catalogue, found);
    for tape in catalogue.tapes.iter().filter(|tape| !tape.active) {
        alone(catalogue, tape, found);
    }
    let active = || (0..catalogue.tapes.len()).filter(|tape| catalogue.tapes[*tape].active);
    let costs = active().any(|tape| catalogue.sheet(tape, Property::RelativeCost).is_some());
    if let (Some(first), false) = (active().next(), costs) {
        let place = Place::cell("tapes.csv", 0, "relative_cost");
        let cell = Cell { subject: "tapes.csv", column: "relative_cost", value: "", place: &place };
        let what = format!("blank for all active tapes, from {} on", catalogue.tapes[first].id);
        found.add(Kind::CostMissing, &cell, what, "a cost relative to one of them");
    }
}

/// Active tapes whose construction and numbers are all alike.
fn doubles(catalogue: &Catalogue, found: &mut Found) {
    let mut cells: Vec<Vec<(Property, u64)>> = vec![Vec::new(); catalogue.tapes.len()];
    for fact in catalogue.facts.iter().filter(|f| f.place.file.as_ref() == "tapes.csv") {
        // What a tape costs and how it is sold does not make it another tape.
        let sold = [Property::RelativeCost, Property::RollLength, Property::MinimumWidth, Property::ShelfLife];
        if let Subject::Tape(index) = fact.subject
            && !sold.contains(&fact.property)
        {
            // Seven digits: 1 mil and 25.4 um are the same.
            let digits = format!("{:.6e}", fact.spread.value).parse().unwrap_or(fact.spread.value);
            cells[index].push((fact.property, f64::to_bits(digits)));
        }
    }
    for list in &mut cells {
        list.sort_unstable();
    }
    let mut seen = BTreeMap::new();
    for (index, tape) in catalogue.tapes.iter().enumerate().filter(|(_, tape)| tape.active) {
        let key = (tape.backing, tape.adhesive, tape.coated_sides, tape.text("colour"), &cells[index]);
        let Some(first) = seen.get(&key) else {
            seen.insert(key, index);
            continue;
        };
        let first = &catalogue.tapes[*first];
        let cell = Cell { subject: &tape.id, column: "tape", value: &tape.id, place: &tape.place };
        let what = format!("every physical cell as {} on line {}", first.id, first.place.line);
        found.add(Kind::TapeDuplicate, &cell, what, "two ids for two different tapes");
    }
}

/// A discontinued tape that leaves its users with nothing.
fn alone(catalogue: &Catalogue, tape: &Tape, found: &mut Found) {
    let words = |note: &str| -> Vec<String> {
        note.split(|c: char| !(c.is_alphanumeric() || c == '-' || c == '_')).map(str::to_owned).collect()
    };
    let named = words(tape.text("note"));
    let family = |material: usize| catalogue.materials[material].family.as_str();
    let thickness = |id: &str| {
        let index = catalogue.tape(id)?;
        catalogue.sheet(index, Property::TotalThickness).map(|total| total.spread.value)
    };
    let own = thickness(&tape.id);
    let succeeds = |other: &&Tape| {
        let like = match (own, thickness(&other.id)) {
            (Some(own), Some(other)) => libm::fabs(other - own) <= LIKE * own,
            _ => true,
        };
        named.contains(&other.id)
            || (like
                && family(other.backing) == family(tape.backing)
                && family(other.adhesive) == family(tape.adhesive)
                && other.coated_sides == tape.coated_sides)
    };
    if catalogue.tapes.iter().filter(|other| other.active).any(|other| succeeds(&other)) {
        return;
    }
    let place = Place::cell(tape.place.file.clone(), tape.place.line, "status");
    let cell = Cell { subject: &tape.id, column: "status", value: "discontinued", place: &place };
    let needed = "the id of an active tape in `note`, or an active tape of the same build";
    found.add(Kind::DiscontinuedAlone, &cell, "`discontinued`, and nothing like it is left", needed);
}
