//! Whether it sticks: peel against what is needed, and the bond of the resin across the tape.

use crate::catalogue::{Property, Side};
use crate::enquiry::Enquiry;
use crate::quantity::ForcePerLength;

use super::tested::{Clock, Trial};
use super::{Answer, CaseRead, Demand, Measure, Missing, TapeRead, Work};

/// Peel of the sheet on the surface of the enquiry, over that needed.
pub(super) static ADHESION_MARGIN: Measure = Measure {
    id: "adhesion-margin",
    asked: "peel of the sheet on the surface of the enquiry, over the peel that is needed",
    unit: "1",
    per_exposure: false,
    tape: &[
        TapeRead::Sheet(Property::Adhesion),
        TapeRead::Sheet(Property::AdhesionToBacking),
        TapeRead::Text("adhesion_surface"),
    ],
    case: &[CaseRead::Surface],
    demand: Some(Demand {
        name: "adhesion needed",
        symbol: "F needed",
        unit: "N/cm",
        value: adhesion_needed,
        last: None,
    }),
    parts: &[],
    factor: None,
    best: None,
    work: adhesion_margin,
};

/// Bond of the cured resin across the taped joint, over that without tape.
pub(super) static BOND_AFTER_IMPREGNATION: Measure = Measure {
    id: "bond-after-impregnation",
    asked: "bond of the cured resin across the taped joint, over that of the joint without tape",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Adhesive],
    case: &[CaseRead::Exposure, CaseRead::Bakes],
    demand: None,
    parts: &[],
    factor: None,
    best: None,
    work: bond_after_impregnation,
};

/// The surface of a lap on itself, as enquiries and sheets write it.
const OWN_BACKING: &str = "own backing";

fn adhesion_needed(enquiry: &Enquiry) -> Result<f64, &'static str> {
    enquiry.winding.adhesion_needed.map(ForcePerLength::si).ok_or("winding.adhesion_needed")
}

fn adhesion_margin(w: &mut Work<'_>) -> Answer {
    w.method("peel of the sheet on the same surface");
    let Some(surface) = w.enquiry.winding.surface.as_deref() else {
        w.lacks(Missing::Given("winding.surface"));
        return Answer::Unknown;
    };
    let on_sheet = w.tape.text("adhesion_surface");
    let property = if on_sheet == surface {
        Property::Adhesion
    } else if surface == OWN_BACKING {
        Property::AdhesionToBacking
    } else {
        w.lacks(Missing::Words("adhesion on the surface of the enquiry: the sheet states another surface"));
        return Answer::Unknown;
    };
    let Some(peel) = w.sheet("F", property) else { return Answer::Unknown };
    let tape = w.tape;
    w.note(|| {
        let dwell = tape.text("adhesion_method");
        format!("angle, dwell and speed are part of the number: those of the sheet ({dwell}) are taken for the need")
    });
    w.estimate(&[], true, |x, _| peel.of(x))
}

fn bond_after_impregnation(w: &mut Work<'_>) -> Answer {
    w.only_tested(Trial {
        symbol: "kept",
        material: w.adhesive(),
        side: Side::Adhesive,
        property: Property::BondKept,
        clock: Clock::Time,
    })
}
