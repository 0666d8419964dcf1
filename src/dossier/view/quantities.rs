//! The tape needed: turns, length, rolls and build for each short-listed tape.

use schemars::JsonSchema;
use serde::Serialize;

use super::Case;
use crate::catalogue::Property;
use crate::enquiry::Winding;
use crate::models::wrap::{Lap, grown, helix, layers_minimum};
use crate::quantity::Length;

/// The tape needed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Needed {
    /// One line a tape.
    pub lines: Vec<NeededLine>,
    /// What it rests on, or what is missing for it.
    pub basis: String,
}

/// The quantities of one tape.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct NeededLine {
    /// The tape.
    pub tape: String,
    /// Turns a piece.
    pub turns: String,
    /// Layers on the average and at the thinnest place.
    pub layers: String,
    /// What the wrap adds on one side, on the average and where laps meet.
    pub build: String,
    /// Tape a piece.
    pub piece: String,
    /// Tape for all pieces, with waste.
    pub all: String,
    /// Rolls, with their length.
    pub rolls: String,
}

/// What the quantities rest on.
struct Basis {
    lap: Lap,
    tolerance: Option<Length>,
    circumference: Length,
    length: Length,
    pieces: Option<u32>,
    waste: Option<f64>,
}

impl Basis {
    fn of(w: &Winding) -> Result<Basis, Vec<&'static str>> {
        let needed = [
            ("width", w.width.is_some()),
            ("overlap", w.overlap.is_some()),
            ("passes", w.passes.is_some()),
            ("circumference", w.circumference.is_some()),
            ("length", w.length.is_some()),
        ];
        let missing: Vec<&'static str> = needed.iter().filter(|(_, there)| !there).map(|(key, _)| *key).collect();
        let (Some(width), Some(overlap), Some(passes), Some(circumference), Some(length)) =
            (w.width, w.overlap, w.passes, w.circumference, w.length)
        else {
            return Err(missing);
        };
        Ok(Basis {
            lap: Lap { width, overlap, passes },
            tolerance: w.lap_tolerance,
            circumference,
            length,
            pieces: w.pieces,
            waste: w.waste,
        })
    }

    /// Turns and tape of one piece: pass by pass, the circumference growing with what lies below.
    fn piece(&self, thickness: Length) -> Option<(f64, f64)> {
        let one = Lap { passes: 1, ..self.lap };
        let mut turns = 0.0;
        let mut tape = 0.0;
        for pass in 0..self.lap.passes {
            let layers = f64::from(pass) + 0.5;
            let around = grown(self.circumference, thickness, layers / (1.0 - self.lap.overlap)).ok()?;
            let helix = helix(one, around, self.length).ok()?;
            turns += helix.turns;
            tape += helix.tape.si();
        }
        Some((turns, tape))
    }
}

pub(super) fn needed(case: &Case<'_>) -> Needed {
    let (l, w) = (case.language, &case.enquiry.winding);
    let basis = match Basis::of(w) {
        Ok(basis) => basis,
        Err(missing) => {
            let names: Vec<String> = missing.iter().map(|key| l.within(l.text(&format!("asked.{key}")))).collect();
            return Needed { lines: Vec::new(), basis: l.say("needed.missing", &[("what", &l.list(&names))]) };
        }
    };
    let unstated = || l.text("properties.unstated").to_owned();
    let said = l.say(
        "needed.basis",
        &[
            ("width", &l.quantity(basis.lap.width)),
            ("overlap", &l.percent(basis.lap.overlap)),
            ("passes", &basis.lap.passes.to_string()),
            ("length", &l.quantity(basis.length)),
            ("circumference", &l.quantity(basis.circumference)),
            ("pieces", &basis.pieces.map_or_else(unstated, |pieces| l.number(f64::from(pieces), 9))),
            ("waste", &basis.waste.map_or_else(|| l.text("needed.no_waste").to_owned(), |waste| l.percent(waste))),
        ],
    );
    Needed { lines: case.short_list().iter().filter_map(|r| line(case, &basis, r.tape)).collect(), basis: said }
}

fn line(case: &Case<'_>, basis: &Basis, tape: usize) -> Option<NeededLine> {
    let (l, catalogue) = (case.language, case.plan.catalogue);
    let thickness = Length::from_si(catalogue.sheet(tape, Property::TotalThickness)?.spread.value);
    let (turns, piece) = basis.piece(thickness)?;
    let all = basis.pieces.map(|pieces| piece * f64::from(pieces) * (1.0 + basis.waste.unwrap_or(0.0)));
    let mean = f64::from(basis.lap.passes) / (1.0 - basis.lap.overlap);
    let most = f64::from(basis.lap.passes) * libm::ceil(1.0 / (1.0 - basis.lap.overlap) - 1e-9);
    let least = basis.tolerance.and_then(|tolerance| layers_minimum(basis.lap, tolerance).ok());
    let thick = |layers: f64| l.sized_to(&crate::quantity::LENGTH, thickness.si() * layers, 3);
    let metres = |x: f64| l.in_unit(&crate::quantity::LENGTH, x, "m", 3);
    let unstated = || l.text("needed.pieces_unstated").to_owned();
    let rolls = catalogue.sheet(tape, Property::RollLength).map(|roll| {
        let roll = roll.spread.value;
        let Some(all) = all else { return unstated() };
        // A roll begun is a roll bought.
        let count = libm::ceil(all / roll - 1e-9);
        l.say("needed.rolls_of", &[("n", &l.number(count, 9)), ("length", &metres(roll))])
    });
    Some(NeededLine {
        tape: case.tape_id(tape).to_owned(),
        turns: l.number(turns, 3),
        layers: match least {
            Some(least) => l.say("needed.layers_n", &[("mean", &l.number(mean, 3)), ("least", &l.number(least, 3))]),
            None => l.number(mean, 3),
        },
        build: l.say(
            if most > mean { "needed.build_n" } else { "needed.build_even" },
            &[("mean", &thick(mean)), ("most", &thick(most))],
        ),
        piece: metres(piece),
        all: all.map_or_else(unstated, metres),
        rolls: rolls.unwrap_or_else(|| l.text("needed.roll_unknown").to_owned()),
    })
}
