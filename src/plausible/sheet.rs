//! The cells of one tape against each other: what its construction cannot do.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Fact, Property, Subject};
use crate::evidence::Place;
use crate::quantity::{FIELD_STRENGTH, FRACTION, LENGTH, PRESSURE, tidy};

use super::ranges::{BREAKDOWN_STRENGTH, Ranges, TENSILE_STRENGTH};
use super::{Cell, Found, Kind, held};

/// How far the total may be from the sum of the layers; `README.md` of the data folder says so.
const THICKNESS: f64 = 0.03;
/// Unwind over adhesion to own backing: it is the same peel at another angle and speed. Common practice, no source.
const UNWIND: (f64, f64) = (0.3, 1.6);
/// Own backing holds less than steel; where it holds more, the two are swapped. Common practice, no source.
const OVER_STEEL: f64 = 1.1;
/// A tape that peels at this share of its tensile force tears now and then. Common practice, no source.
const TEARS: f64 = 0.5;
/// Backings yield, so the chord to the break may be this much steeper than the modulus says. Common practice, no source.
const STEEPER: f64 = 0.5;
/// m: the radius of a bend test. Common practice, no source.
const BEND: f64 = 3e-3;
/// s: 18 months. Common practice, no source.
const SHELF: f64 = 1.5 * 8766.0 * 3600.0;
/// Vinyl is more than half chlorine; with plasticiser a quarter or more. Common practice, no source.
const VINYL: f64 = 0.01;

/// The sheet of one tape: its cells, as facts.
struct Sheet<'a> {
    catalogue: &'a Catalogue,
    tape: usize,
    cells: BTreeMap<Property, &'a Fact>,
}

impl Sheet<'_> {
    fn id(&self) -> &str {
        &self.catalogue.tapes[self.tape].id
    }

    fn value(&self, property: Property) -> Option<f64> {
        self.cells.get(&property).map(|fact| fact.spread.value)
    }

    /// The cell of a column, unless it or one of the others is in doubt.
    fn cell(&self, property: Property, others: &[Property], found: &Found) -> Option<Cell<'_>> {
        let fact = self.cells.get(&property)?;
        let columns: Vec<&str> = others.iter().chain([&property]).map(|p| p.name()).collect();
        found.trusts(self.id(), &columns).then(|| Cell {
            subject: self.id(),
            column: property.name(),
            value: &fact.written,
            place: &fact.place,
        })
    }

    /// As written, for a message.
    fn told(&self, property: Property) -> String {
        self.cells.get(&property).map_or_else(String::new, |fact| format!("`{}`", fact.written))
    }
}

/// Reviews every tape.
pub(super) fn review(catalogue: &Catalogue, ranges: &Ranges, found: &mut Found) {
    let mut sheets: Vec<Sheet<'_>> =
        (0..catalogue.tapes.len()).map(|tape| Sheet { catalogue, tape, cells: BTreeMap::new() }).collect();
    for fact in catalogue.facts.iter().filter(|f| f.medium.is_none() && f.place.file.as_ref() == "tapes.csv") {
        if let Subject::Tape(index) = fact.subject {
            sheets[index].cells.insert(fact.property, fact);
        }
    }
    for sheet in &sheets {
        thickness(sheet, found);
        strength(sheet, ranges, found);
        peel(sheet, found);
        stretch(sheet, found);
        heat(sheet, found);
        cure(sheet, found);
        content(sheet, found);
    }
}

fn thickness(sheet: &Sheet<'_>, found: &mut Found) {
    use Property::{AdhesiveThickness, BackingThickness, TotalThickness};
    let sides = f64::from(sheet.catalogue.tapes[sheet.tape].coated_sides);
    let (Some(backing), Some(adhesive), Some(total)) =
        (sheet.value(BackingThickness), sheet.value(AdhesiveThickness), sheet.value(TotalThickness))
    else {
        return;
    };
    let Some(cell) = sheet.cell(TotalThickness, &[BackingThickness, AdhesiveThickness], found) else { return };
    let sum = backing + sides * adhesive;
    if libm::fabs(total - sum) <= THICKNESS * sum {
        return;
    }
    let needed = format!(
        "{}: backing {} and adhesive {} on {sides} side(s)",
        LENGTH.sized(sum),
        sheet.told(BackingThickness),
        sheet.told(AdhesiveThickness)
    );
    let told = sheet.told(TotalThickness);
    match held::slip(total, sum * (1.0 - THICKNESS), sum * (1.0 + THICKNESS), &LENGTH) {
        Some((_, how)) => found.add(Kind::UnitSlip, &cell, format!("{told}, {how}"), needed),
        None => found.add(Kind::ThicknessSum, &cell, told, needed),
    }
}

/// What the backing bears per thickness: breakdown voltage and tensile force.
fn strength(sheet: &Sheet<'_>, ranges: &Ranges, found: &mut Found) {
    use Property::{BackingThickness, Breakdown, Tensile};
    let backing = &sheet.catalogue.materials[sheet.catalogue.tapes[sheet.tape].backing];
    let Some(thickness) = sheet.value(BackingThickness).filter(|t| *t > 0.0) else { return };
    for (property, name, unit, kind) in [
        (Breakdown, BREAKDOWN_STRENGTH, &FIELD_STRENGTH, Kind::StrengthImpossible),
        (Tensile, TENSILE_STRENGTH, &PRESSURE, Kind::TensileImpossible),
    ] {
        let Some(range) = ranges.of("backing", &backing.id, &backing.family, name) else { continue };
        let (Some(value), Some(cell)) = (sheet.value(property), sheet.cell(property, &[BackingThickness], found))
        else {
            continue;
        };
        let per = value / thickness;
        let what = format!(
            "{}, {} over the backing's {}",
            sheet.told(property),
            unit.sized(per),
            sheet.told(BackingThickness)
        );
        held::against(range, per, &cell, kind, &what, found);
    }
}

fn peel(sheet: &Sheet<'_>, found: &mut Found) {
    use Property::{Adhesion, AdhesionToBacking, Tensile, Unwind};
    if let (Some(own), Some(unwind)) = (sheet.value(AdhesionToBacking), sheet.value(Unwind))
        && let Some(cell) = sheet.cell(Unwind, &[AdhesionToBacking], found)
        && !(UNWIND.0..=UNWIND.1).contains(&(unwind / own))
    {
        let needed = format!(
            "{} to {} times the adhesion to own backing, {}",
            UNWIND.0,
            UNWIND.1,
            sheet.told(AdhesionToBacking)
        );
        found.add(Kind::UnwindContradiction, &cell, sheet.told(Unwind), needed);
    }
    let on_steel = sheet.catalogue.tapes[sheet.tape].text("adhesion_surface") == "steel";
    if let (Some(steel), Some(own), true) = (sheet.value(Adhesion), sheet.value(AdhesionToBacking), on_steel)
        && let Some(cell) = sheet.cell(AdhesionToBacking, &[Adhesion, Unwind], found)
        && own > OVER_STEEL * steel
    {
        let needed = format!("at most {OVER_STEEL} times the adhesion to steel, {}", sheet.told(Adhesion));
        found.add(Kind::BackingOverSteel, &cell, sheet.told(AdhesionToBacking), needed);
    }
    let Some(tensile) = sheet.value(Tensile) else { return };
    for property in [Adhesion, AdhesionToBacking, Unwind] {
        let Some(value) = sheet.value(property).filter(|value| *value > TEARS * tensile) else { continue };
        if let Some(cell) = sheet.cell(property, &[Tensile], found) {
            let what = format!("{}, {} % of the tensile force", sheet.told(property), tidy(100.0 * value / tensile, 2));
            found.add(Kind::PeelTears, &cell, what, format!("at most half of {}", sheet.told(Tensile)));
            return;
        }
    }
}

fn stretch(sheet: &Sheet<'_>, found: &mut Found) {
    use Property::{BackingThickness, ColdBend, Elongation, Modulus, Tensile, TotalThickness};
    let Some(elongation) = sheet.value(Elongation) else { return };
    let backing = Subject::Material(sheet.catalogue.tapes[sheet.tape].backing);
    if let (Some(tensile), Some(thickness)) = (sheet.value(Tensile), sheet.value(BackingThickness))
        && let Some(modulus) = sheet.catalogue.find(backing, Modulus, None)
        && let Some(cell) = sheet.cell(Elongation, &[Tensile, BackingThickness], found)
    {
        let least = STEEPER * tensile / thickness / modulus.spread.high;
        if elongation < least {
            let needed = format!(
                "at least {} %: a pull of {} stretches this backing so far",
                tidy(100.0 * least, 2),
                PRESSURE.sized(tensile / thickness)
            );
            found.add(Kind::ElongationSmall, &cell, sheet.told(Elongation), needed);
        }
    }
    if let Some(total) = sheet.value(TotalThickness)
        && let Some(cell) = sheet.cell(ColdBend, &[Elongation, TotalThickness], found)
    {
        let strain = total / (2.0 * BEND + total);
        if strain > elongation {
            let needed = format!(
                "an elongation of at least {} %, what the outer face of {} has to stretch; it is {}",
                tidy(100.0 * strain, 2),
                sheet.told(TotalThickness),
                sheet.told(Elongation)
            );
            found.add(Kind::BendContradiction, &cell, format!("a bend passed at {}", sheet.told(ColdBend)), needed);
        }
    }
}

fn heat(sheet: &Sheet<'_>, found: &mut Found) {
    use Property::{ShearTemperature, TemperatureIndex};
    if let (Some(index), Some(shear)) = (sheet.value(TemperatureIndex), sheet.value(ShearTemperature))
        && shear > index + 1e-6
        && let Some(cell) = sheet.cell(ShearTemperature, &[TemperatureIndex], found)
    {
        let needed = format!("no more than the temperature index, {}", sheet.told(TemperatureIndex));
        found.add(Kind::ShearAboveIndex, &cell, sheet.told(ShearTemperature), needed);
    }
}

fn cure(sheet: &Sheet<'_>, found: &mut Found) {
    use Property::{CureTemperature, CureTime, ShelfLife};
    let tape = &sheet.catalogue.tapes[sheet.tape];
    let adhesive = &sheet.catalogue.materials[tape.adhesive];
    let place = &Place::cell(tape.place.file.clone(), tape.place.line, "adhesive_cure");
    let cell = Cell { subject: &tape.id, column: "adhesive_cure", value: cure_word(tape.thermosetting), place };
    if tape.thermosetting != adhesive.cures_to.is_some() {
        let becomes = adhesive.cures_to.map_or("nothing", |to| sheet.catalogue.materials[to].id.as_str());
        let found_words = format!("`{}`, while {} cures to {becomes}", cell.value, adhesive.id);
        found.add(Kind::CureContradiction, &cell, found_words, "both or neither");
    } else if tape.thermosetting && (sheet.value(CureTemperature).is_none() || sheet.value(CureTime).is_none()) {
        found.add(
            Kind::CureContradiction,
            &cell,
            "a thermosetting adhesive without its bake",
            "`cure_temperature` and `cure_time`",
        );
    }
    if tape.thermosetting
        && found.trusts(&tape.id, &["adhesive_cure"])
        && sheet.value(ShelfLife).is_some_and(|life| life > SHELF)
        && let Some(cell) = sheet.cell(ShelfLife, &[], found)
    {
        found.add(
            Kind::ShelfLifeThermosetting,
            &cell,
            sheet.told(ShelfLife),
            "at most 18 months for a reactive adhesive",
        );
    }
}

fn cure_word(thermosetting: bool) -> &'static str {
    if thermosetting { "thermosetting" } else { "none" }
}

fn content(sheet: &Sheet<'_>, found: &mut Found) {
    use Property::{Halogen, OpenPorosity, Porosity};
    let tape = &sheet.catalogue.tapes[sheet.tape];
    let adhesive = &sheet.catalogue.materials[tape.adhesive];
    if let Some((value, place)) = tape.texts.get("silicone")
        && adhesive.family == "silicone"
        && value == "none"
    {
        let cell = Cell { subject: &tape.id, column: "silicone", value, place };
        let needed = format!("`present`: the adhesive is {}", adhesive.id);
        found.add(Kind::SiliconeContradiction, &cell, "`none`", needed);
    }
    let backing = &sheet.catalogue.materials[tape.backing];
    if backing.family == "vinyl"
        && sheet.value(Halogen).is_some_and(|halogen| halogen < VINYL)
        && let Some(cell) = sheet.cell(Halogen, &[], found)
    {
        found.add(
            Kind::HalogenContradiction,
            &cell,
            sheet.told(Halogen),
            "the chlorine of a vinyl film, a quarter of it or more",
        );
    }
    if let Some(open) = sheet.value(OpenPorosity)
        && let Some(pores) = sheet.catalogue.find(Subject::Material(tape.backing), Porosity, None)
        && open > pores.spread.high
        && let Some(cell) = sheet.cell(OpenPorosity, &[], found)
    {
        let needed = format!("at most {}, the pores of {}", FRACTION.sized(pores.spread.high), backing.id);
        found.add(Kind::PorosityContradiction, &cell, sheet.told(OpenPorosity), needed);
    }
}
