//! What the adhesive keeps of a dry property while a liquid is at its lap.
//!
//! A test of the pair says it. Without one nothing is guessed: the dry part of the lap keeps all,
//! the wetted part anything from nothing to all.

use crate::catalogue::{Property, Side};
use crate::evidence::{Basis, Shape, Spread};

use super::reach::{Reach, paths};
use super::tested::{Better, Clock, Heard, Trial};
use super::work::{Slot, Trace};
use super::{Missing, Work};

/// From nothing to all.
const ANYTHING: Spread = Spread { value: 0.5, low: 0.02, high: 0.98, shape: Shape::Normal, floor: 0.0, ceiling: 1.0 };

/// The share of a property of the adhesive that is kept.
pub(super) struct Kept {
    tested: Option<Slot>,
    lap: Option<(Reach, Slot)>,
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
        w.note(|| {
            "what the wetted part of the lap still holds was not tested: anything from nothing to all is taken, and \
             the dry part holds"
                .to_owned()
        });
        let name = "share that the wetted part still holds";
        let wet = w.assumed("k", name, ANYTHING, "1", property.dimension(Side::Adhesive), Basis::Measured);
        Some(Kept { tested, lap: Some((reach, wet)) })
    }

    /// The share, at one draw.
    pub(super) fn at(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        let tested = self.tested.map(|slot| slot.of(x));
        let Some((reach, wet)) = &self.lap else { return tested.unwrap_or(1.0) };
        let held = 1.0 - reach.wetted(x, t) * (1.0 - wet.of(x));
        let kept = Better::Higher.worse(held, tested);
        t.step("share kept", kept, "1");
        kept
    }
}
