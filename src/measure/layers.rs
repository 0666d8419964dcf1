//! How many layers a lap lays: at its thinnest place, and on the average.

use crate::models::wrap::{Lap, helix, layers_minimum};

use super::{Missing, Work};

/// The lap of the enquiry, or what is missing for it.
fn lap(w: &mut Work<'_>) -> Option<Lap> {
    let winding = &w.enquiry.winding;
    let mut lacks = |there: bool, key| {
        if !there {
            w.lacks(Missing::Given(key));
        }
    };
    lacks(winding.width.is_some(), "winding.width");
    lacks(winding.overlap.is_some(), "winding.overlap");
    lacks(winding.passes.is_some(), "winding.passes");
    Some(Lap { width: winding.width?, overlap: winding.overlap?, passes: winding.passes? })
}

/// Layers at the thinnest place, or what is missing for it.
pub(super) fn least_layers(w: &mut Work<'_>) -> Option<f64> {
    let tolerance = w.enquiry.winding.lap_tolerance;
    if tolerance.is_none() {
        w.lacks(Missing::Given("winding.lap_tolerance"));
    }
    layers_minimum(lap(w)?, tolerance?).ok()
}

/// Layers on the average, or what is missing for it.
pub(super) fn mean_layers(w: &mut Work<'_>) -> Option<f64> {
    let lap = lap(w)?;
    // Layers depend on neither circumference nor length.
    helix(lap, lap.width, lap.width).ok().map(|helix| helix.layers)
}
