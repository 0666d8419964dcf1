//! What a criterion applies to: which tapes it asks, in which cases, with which limits.

use crate::catalogue::{Applies, Catalogue, Criterion, Limits, Override, Settlement};
use crate::enquiry::{Enquiry, Exposure};
use crate::measure::{self, Measure};

/// The exposures of a measure, or the enquiry as a whole.
pub fn cases(measure: &Measure, enquiry: &Enquiry) -> Vec<Option<usize>> {
    if measure.per_exposure { (0..enquiry.exposures.len()).map(Some).collect() } else { vec![None] }
}

/// Whether any criterion asks anything of an enquiry.
#[must_use]
pub fn asks(catalogue: &Catalogue, enquiry: &Enquiry) -> bool {
    catalogue.criteria.iter().any(|criterion| {
        let cases = measure::find(&criterion.measure).map_or_else(Vec::new, |measure| cases(measure, enquiry));
        let mut cases = cases.into_iter().map(|x| x.map(|x| &enquiry.exposures[x]));
        cases.any(|exposure| asks_case_of(&criterion.applies, catalogue, enquiry, exposure))
    })
}

/// The limits of a criterion in an enquiry: the first override that fits, else its own.
#[must_use]
pub fn limits(criterion: &Criterion, enquiry: &Enquiry) -> Option<Limits> {
    let a = &enquiry.application;
    criterion
        .overrides
        .iter()
        .filter(|o| among(&o.equipment, a.equipment) && among(&o.function, a.function))
        .find_map(|o| o.limits)
        .or(criterion.limits)
}

/// The test of a criterion in an enquiry or one of its exposures: the first override that fits, else its own.
#[must_use]
pub fn settlement<'c>(
    criterion: &'c Criterion,
    catalogue: &Catalogue,
    enquiry: &Enquiry,
    exposure: Option<&Exposure>,
) -> &'c Settlement {
    let a = &enquiry.application;
    let kind = enquiry.voltage.as_ref().map_or("", |v| v.kind);
    let fits = |o: &&Override| {
        among(&o.equipment, a.equipment)
            && among(&o.function, a.function)
            && among(&o.voltage, kind)
            && among(&o.stage, exposure.map_or("", |x| x.stage))
            && among(&o.medium, exposure.map_or("", |x| catalogue.materials[x.medium].kind))
    };
    let other = criterion.overrides.iter().filter(fits).find_map(|o| o.settled_by.as_ref());
    other.unwrap_or(&criterion.settled_by)
}

fn among(list: &[String], word: &str) -> bool {
    list.is_empty() || list.iter().any(|w| w == word)
}

/// Whether a criterion asks a tape.
pub(super) fn asks_tape_of(applies: &Applies, catalogue: &Catalogue, tape: usize) -> bool {
    let tape = &catalogue.tapes[tape];
    among(&applies.backing_family, &catalogue.materials[tape.backing].family)
        && among(&applies.adhesive_family, &catalogue.materials[tape.adhesive].family)
}

/// Whether a criterion asks an enquiry, or one of its exposures.
pub(super) fn asks_case_of(
    applies: &Applies,
    catalogue: &Catalogue,
    enquiry: &Enquiry,
    exposure: Option<&Exposure>,
) -> bool {
    let a = &enquiry.application;
    let of_exposure = exposure.is_none_or(|x| {
        among(&applies.stage, x.stage)
            && among(&applies.medium, catalogue.materials[x.medium].kind)
            && among(&applies.wanted, x.wanted)
    });
    of_exposure
        && among(&applies.equipment, a.equipment)
        && among(&applies.function, a.function)
        && among(&applies.atmosphere, a.atmosphere)
        && among(&applies.needed, a.needed)
        && among(&applies.life_basis, enquiry.duty.life_basis)
        && (applies.voltage.is_empty() || enquiry.voltage.as_ref().is_some_and(|v| among(&applies.voltage, v.kind)))
        && applies.needs.iter().all(|need| states(catalogue, enquiry, exposure, need))
}

/// K: time of making spent in a gas no hotter than this is storage of the roll (40 degC, common practice).
const STORAGE: f64 = 313.15;

/// Whether an exposure is storage of the roll.
#[must_use]
pub fn is_storage(catalogue: &Catalogue, x: &Exposure) -> bool {
    x.stage == "assembly" && catalogue.materials[x.medium].kind == "gas" && !x.cure && x.temperature.si() <= STORAGE
}

/// Whether an enquiry states something that a criterion needs.
fn states(catalogue: &Catalogue, enquiry: &Enquiry, exposure: Option<&Exposure>, need: &str) -> bool {
    let w = &enquiry.winding;
    match need {
        "voltage" => enquiry.voltage.is_some(),
        "across" => enquiry.voltage.as_ref().is_some_and(|v| v.across.is_some()),
        "tension" => w.tension.is_some(),
        "bend_radius" => w.bend_radius.is_some(),
        "circumference" => w.circumference.is_some(),
        "build_limit" => w.build_limit.is_some(),
        "width" => w.width.is_some(),
        "length" => w.length.is_some(),
        "adhesion_needed" => w.adhesion_needed.is_some(),
        "surface" => w.surface.is_some(),
        "coldest" => enquiry.application.coldest.is_some(),
        "colour" => enquiry.application.colour.is_some(),
        "thermal_class" => enquiry.duty.thermal_class.is_some(),
        "load_profile" => !enquiry.duty.load_profile.is_empty(),
        "recognition" => enquiry.application.recognition.is_some(),
        "storage" => exposure.is_some_and(|x| is_storage(catalogue, x)),
        "wound" => exposure.is_some_and(|x| !is_storage(catalogue, x)),
        "acidity" => exposure.is_some_and(|x| x.acidity.is_some()),
        _ => false,
    }
}
