//! What the adhesive keeps of a dry property while a liquid is at its lap.
//!
//! A test of the pair says it. Without one the dry part of the lap keeps all. Of the wetted part
//! nothing is guessed, so it may keep anything from nothing to all; only for the hours of making, and
//! for shear, which the body of the adhesive bears, its dilution by the liquid says how much.

use crate::catalogue::{Property, Side};
use crate::evidence::{Basis, Shape, Spread};
use crate::models::Card;
use crate::models::diffusion::{DIFFUSIVITY, EDGE, LAP};

use super::reach::{Reach, paths};
use super::swelling::polymer_fraction;
use super::tested::{Better, Clock, Heard, Trial};
use super::work::{Shared, Slot, Trace};
use super::{Missing, Work};

/// From nothing to all.
const ANYTHING: Spread = Spread { value: 0.5, low: 0.02, high: 0.98, shape: Shape::Normal, floor: 0.0, ceiling: 1.0 };

/// The cards of the paths into the lap.
pub(super) const PATHS: [&Card; 3] = [&EDGE, &LAP, &DIFFUSIVITY];

/// The power of the polymer's share with which the stiffness of an entangled, diluted polymer falls:
/// 7/3 by scaling theory (Rubinstein and Colby, *Polymer Physics*, 2003, from memory), taken wide
/// because a hold is more than stiffness.
const DILUTION: Spread =
    Spread { value: 2.3, low: 1.0, high: 4.0, shape: Shape::LogNormal, floor: 0.0, ceiling: f64::INFINITY };

/// What the wetted part of the lap keeps.
enum Wet {
    /// Anything.
    Anything(Slot),
    /// As much as the liquid leaves of the polymer's share, to a power.
    Diluted(Shared),
}

impl Wet {
    fn gather(w: &mut Work<'_>, adhesive: usize, property: Property) -> Wet {
        let passes = w.exposure().is_some_and(|x| x.stage != "service");
        let gel =
            if passes && property == Property::ShearKept { w.attempt(|w| polymer_fraction(w, adhesive)) } else { None };
        let dimension = property.dimension(Side::Adhesive);
        if let Some(gel) = gel {
            if w.exposure().is_some_and(|x| x.evaporates) {
                w.never_unsuitable();
                w.note(|| {
                    "a wipe brings little liquid: as if it were a bath is the safe side, and rules nothing out"
                        .to_owned()
                });
            }
            w.note(|| {
                "what the wetted part of the lap still holds was not tested: its dilution by the liquid is taken, and \
                 the dry part holds"
                    .to_owned()
            });
            let name = "power of dilution with which the hold falls";
            let power = w.assumed("n", name, DILUTION, "1", dimension, Basis::FromMemory);
            let on: Vec<Slot> = gel.slot().into_iter().chain([power]).collect();
            let kept = move |x: &[f64], t: &mut Trace<'_>| libm::exp2(power.of(x) * libm::log2(gel.of(x, t)));
            let diluted = w.shared("diluted", &on, &[], kept);
            w.absorb(&on);
            return Wet::Diluted(diluted);
        }
        w.note(|| {
            "what the wetted part of the lap still holds was not tested: anything from nothing to all is taken, and \
             the dry part holds"
                .to_owned()
        });
        let name = "share that the wetted part still holds";
        Wet::Anything(w.assumed("k", name, ANYTHING, "1", dimension, Basis::Estimated))
    }

    fn slot(&self) -> Option<Slot> {
        match self {
            Wet::Anything(share) => Some(*share),
            Wet::Diluted(share) => share.slot(),
        }
    }

    fn at(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        match self {
            Wet::Anything(share) => share.of(x),
            Wet::Diluted(share) => share.of(x, t),
        }
    }
}

/// The share of a property of the adhesive that is kept.
pub(super) struct Kept {
    tested: Option<Slot>,
    lap: Option<(Reach, Wet)>,
}

/// How a measure says what it did: with a test, with a milder one, with the lap alone, dry.
pub(super) struct Methods {
    /// A test as harsh.
    pub(super) tested: &'static str,
    /// The lap, bounded by a milder test.
    pub(super) bounded: &'static str,
    /// The lap alone.
    pub(super) lap: &'static str,
    /// No liquid.
    pub(super) dry: &'static str,
}

impl Kept {
    /// From tests, else from the paths of the medium into the lap, or what is missing for them.
    pub(super) fn gather(w: &mut Work<'_>, adhesive: usize, property: Property, methods: &Methods) -> Option<Kept> {
        let medium = w.exposure()?.medium;
        if w.catalogue.materials[medium].kind == "gas" {
            w.method(methods.dry);
            return Some(Kept { tested: None, lap: None });
        }
        let trial = Trial { symbol: "kept", material: adhesive, side: Side::Adhesive, property, clock: Clock::Time };
        let tested = match w.hear(trial, true) {
            Heard::Settled(slot, _) => {
                w.method(methods.tested);
                return Some(Kept { tested: Some(slot), lap: None });
            }
            heard => heard.bound(),
        };
        w.method(if tested.is_some() { methods.bounded } else { methods.lap });
        let Some(reach) = paths(w, adhesive) else {
            w.lacks(Missing::Pair(adhesive, medium, property));
            if w.enquiry.winding.lap().is_none() {
                w.lacks(Missing::Given("winding.overlap"));
            }
            return None;
        };
        let wet = Wet::gather(w, adhesive, property);
        Some(Kept { tested, lap: Some((reach, wet)) })
    }

    /// The cards of a measure that ends its list with those of the paths into the lap, which a test
    /// makes needless.
    pub(super) fn cards<'c>(&self, cards: &'c [&'static Card]) -> &'c [&'static Card] {
        let paths = if self.lap.is_some() { 0 } else { PATHS.len() };
        &cards[..cards.len() - paths]
    }

    /// The share as a sub-result, which tapes share that differ in what is kept but not in how it is wetted;
    /// none where all is kept.
    pub(super) fn shared(self, w: &mut Work<'_>) -> Option<Shared> {
        if self.tested.is_none() && self.lap.is_none() {
            return None;
        }
        let mut on: Vec<Slot> = self.tested.into_iter().collect();
        let mut form = [f64::from(u8::from(self.tested.is_some())), 0.0];
        if let Some((reach, wet)) = &self.lap {
            let (paths, ways) = reach.hangs_on();
            on.extend(paths.into_iter().chain(wet.slot()));
            form[1] = 1.0 + ways;
        }
        let shared = w.shared("share kept", &on, &form, move |x, t| self.at(x, t));
        w.absorb(&on);
        Some(shared)
    }

    /// The share, at one draw.
    fn at(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        let tested = self.tested.map(|slot| slot.of(x));
        let Some((reach, wet)) = &self.lap else { return tested.unwrap_or(1.0) };
        let held = 1.0 - reach.wetted(x, t) * (1.0 - wet.at(x, t));
        let kept = Better::Higher.worse(held, tested);
        t.step("share kept", kept, "1");
        kept
    }
}
