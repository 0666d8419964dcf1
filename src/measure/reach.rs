//! How far a liquid comes into a lap: through its edge, or through an open backing.

use crate::catalogue::{Found, PairQuery, Property, Side};
use crate::evidence::Spread;
use crate::models::diffusion::{self, Faces};
use crate::quantity::{Diffusivity, Length, MolarEnergy, Temperature, Time};

use super::work::{Shared, Slot, Trace};
use super::{Missing, Work};

/// What a liquid reaches by the end of the exposure.
pub(super) enum Reach {
    /// All of it.
    Full,
    /// By diffusion: through one edge of the lap, or through the open face, whichever is faster.
    Paths { diffusivity: Shared, time: Slot, edge: Slot, face: Option<Shared> },
}

/// The paths of the medium into the adhesive; nothing where its diffusivity or the lap is not known.
pub(super) fn paths(w: &mut Work<'_>, adhesive: usize) -> Option<Reach> {
    let query = w.query(adhesive, Side::Adhesive, Property::Diffusivity)?;
    let x = w.exposure()?;
    let found = w.catalogue.find_pair(query, Some(x.temperature.si()))?;
    w.catalogue.find_pair(PairQuery { property: Property::ActivationEnergy, ..query }, None)?;
    let lap = w.enquiry.winding.lap()?;
    let reference_at = found.facts[0].and_then(|id| w.catalogue.fact(id).temperature).unwrap_or(298.15);
    // The activation energy carries the value from where it was taken, so that is no extrapolation.
    let found = Found { extrapolated: false, ..found };
    let basis = found.basis;
    let reference = w.take("D0", Some(found), Side::Adhesive, Property::Diffusivity, Missing::Words(""))?;
    let energy = w.pair("ED", adhesive, Side::Adhesive, Property::ActivationEnergy)?;
    let at = w.assumed("TD", "temperature of the diffusivity", Spread::exact(reference_at), "degC", 0, basis);
    let (temperature, time) = w.temperature_and_time()?;
    let edge = w.given::<Length>("lap", "winding.overlap", Some(lap))?;
    let thickness = if w.face_is_open() { Some(w.sheet("ta", Property::AdhesiveThickness)?) } else { None };
    let diffusivity = w.shared("diffusivity", &[reference, at, energy, temperature], &[], move |x, t| {
        let d = diffusion::diffusivity(
            Diffusivity::from_si(reference.of(x)),
            Temperature::from_si(at.of(x)),
            MolarEnergy::from_si(energy.of(x)),
            Temperature::from_si(temperature.of(x)),
        )
        .map_or(f64::NAN, Diffusivity::si);
        t.step("D", d, "m2/s");
        d
    });
    w.absorb(&[reference, at, energy]);
    let face = thickness.map(|thickness| {
        let on: Vec<Slot> = diffusivity.slot().into_iter().chain([time, thickness]).collect();
        let d = diffusivity.clone();
        w.shared("share through the face", &on, &[], move |x, _| {
            share_through(d.of(x, &mut Trace::off()), thickness.of(x), time.of(x))
        })
    });
    Some(Reach::Paths { diffusivity, time, edge, face })
}

/// The share of the equilibrium reached; without a diffusivity all of it, which is the safe side.
pub(super) fn uptake(w: &mut Work<'_>, adhesive: usize) -> Reach {
    paths(w, adhesive).unwrap_or_else(|| {
        w.note(|| "no diffusivity or no lap is known: equilibrium is taken, the safe side".to_owned());
        Reach::Full
    })
}

impl Reach {
    /// The inputs that it hangs on, and 2 where the liquid comes through the face too.
    pub(super) fn hangs_on(&self) -> (Vec<Slot>, f64) {
        let Reach::Paths { diffusivity, time, edge, face } = self else { return (Vec::new(), 0.0) };
        let columns = diffusivity.slot().into_iter().chain(face.as_ref().and_then(Shared::slot));
        (columns.chain([*time, *edge]).collect(), if face.is_some() { 2.0 } else { 1.0 })
    }

    /// The share of the final uptake over the lap, at one draw.
    pub(super) fn uptake(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        let Reach::Paths { diffusivity, time, edge, face } = self else { return 1.0 };
        let d = diffusivity.of(x, t);
        let by_edge = share_through(d, edge.of(x), time.of(x));
        t.step("uptake by the lap edge", by_edge, "1");
        let by_face = face.as_ref().map_or(0.0, |face| {
            let share = face.of(x, t);
            t.step("uptake by the face", share, "1");
            share
        });
        if by_edge >= by_face { by_edge } else { by_face }
    }

    /// The share of the lap that the liquid has come to, at one draw: from its edge to a depth √(4Dt),
    /// or through the face.
    pub(super) fn wetted(&self, x: &[f64], t: &mut Trace<'_>) -> f64 {
        let Reach::Paths { diffusivity, time, edge, face } = self else { return 1.0 };
        let d = diffusivity.of(x, t);
        let depth =
            diffusion::edge_depth(Diffusivity::from_si(d), Time::from_si(time.of(x))).map_or(f64::NAN, Length::si);
        t.step("edge depth", depth, "m");
        let by_edge = diffusion::wetted(Length::from_si(depth), Length::from_si(edge.of(x))).unwrap_or(f64::NAN);
        let by_face = face.as_ref().map_or(0.0, |face| face.of(x, t));
        let share = if by_edge >= by_face { by_edge } else { by_face };
        t.step("share of the lap wetted", share, "1");
        share
    }
}

fn share_through(d: f64, length: f64, time: f64) -> f64 {
    diffusion::sheet_uptake(Diffusivity::from_si(d), Length::from_si(length), Time::from_si(time), Faces::One)
        .unwrap_or(f64::NAN)
}
