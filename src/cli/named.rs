//! Names on the command line to what they mean, with the nearest name offered.

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::fault::{Code, Fault};

/// An active tape.
pub(super) fn candidate(catalogue: &Catalogue, name: &str) -> Result<usize, Fault> {
    match catalogue.tape(name) {
        Some(index) if catalogue.tapes[index].active => Ok(index),
        Some(_) => Err(Fault::new(
            Code::NameUnknown,
            format!("`{name}`, a discontinued tape"),
            "an active tape of the catalogue",
            "name a tape that can still be had; discontinued ones are listed, not judged",
        )),
        None => {
            let ids = catalogue.tapes.iter().map(|t| t.id.as_str());
            Err(Fault::unknown_word(Code::NameUnknown, name, "a tape of the catalogue", ids))
        }
    }
}

/// A criterion.
pub(super) fn criterion(catalogue: &Catalogue, name: &str) -> Result<usize, Fault> {
    catalogue.criteria.iter().position(|c| c.id == name).ok_or_else(|| {
        let ids = catalogue.criteria.iter().map(|c| c.id.as_str());
        Fault::unknown_word(Code::NameUnknown, name, "a criterion of criteria.toml", ids)
    })
}

/// An exposure of an enquiry.
pub(super) fn exposure(enquiry: &Enquiry, name: &str) -> Result<usize, Fault> {
    enquiry.exposures.iter().position(|x| x.name == name).ok_or_else(|| {
        let names = enquiry.exposures.iter().map(|x| x.name.as_str());
        Fault::unknown_word(Code::NameUnknown, name, "an exposure of the enquiry", names)
    })
}
