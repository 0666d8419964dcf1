//! Is it plausible? Remarks on data that are well formed and could be wrong all the same.
//!
//! A fault stops the work; a remark does not. It says what looks odd, against which limit, and how to
//! settle it: by mending the number, or by accepting it with a reason that is kept in
//! `accepted.toml`. Where one cell is in doubt, what follows from it is not remarked on again.

mod accepted;
mod asked;
mod facts;
mod held;
mod kind;
mod library;
mod ranges;
mod sheet;
mod trade;

use std::collections::BTreeSet;
use std::fmt;

use schemars::JsonSchema;
use serde::Serialize;

pub use accepted::{Acceptance, FILE as ACCEPTED};
pub use kind::Kind;
pub use ranges::FILE as RANGES;

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::evidence::Place;
use crate::fault::Faults;
use crate::load::Folder;

/// One thing that looks odd.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Remark {
    /// Which kind of remark.
    #[schemars(with = "String")]
    pub code: Kind,
    /// Whom it is about: a tape, a material, a material in a medium, a source, an enquiry.
    pub subject: String,
    /// The column, property or key.
    pub column: String,
    /// The value as written; an acceptance holds for this value only.
    pub value: String,
    /// Where it stands.
    pub place: Place,
    /// What was found.
    pub found: String,
    /// What would be usual.
    pub needed: String,
    /// How to settle it.
    #[serde(rename = "do")]
    pub remedy: String,
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.place)?;
        writeln!(f, "  found   {}: {}", self.subject, self.found)?;
        writeln!(f, "  needed  {}", self.needed)?;
        writeln!(f, "  do      {}", self.remedy)?;
        write!(f, "  ({})", self.code)
    }
}

/// What the review of a data folder found.
#[derive(Clone, Debug, Default)]
pub struct Review {
    /// The remarks that stand, in the order of files, lines and columns.
    pub remarks: Vec<Remark>,
    /// The remarks that are accepted, with the acceptance.
    pub accepted: Vec<(Remark, Acceptance)>,
    /// True if there are no usual ranges to hold values against.
    pub without_ranges: bool,
}

/// Reviews a catalogue and its enquiries.
///
/// # Errors
/// Faults of `ranges.csv` and `accepted.toml`.
pub fn review(folder: &Folder, catalogue: &Catalogue, enquiries: &[Enquiry]) -> Result<Review, Faults> {
    let mut faults = Faults::default();
    let ranges = ranges::Ranges::read(folder, catalogue, &mut faults);
    let acceptances = accepted::read(folder, &mut faults);
    faults.or(())?;
    let mut found = Found::default();
    held::review(catalogue, &ranges, &mut found);
    sheet::review(catalogue, &ranges, &mut found);
    facts::review(catalogue, &mut found);
    trade::review(catalogue, &mut found);
    library::review(folder, catalogue, &mut found);
    asked::review(catalogue, enquiries, &ranges, &mut found);
    let mut review = accepted::apply(found.remarks, acceptances);
    review.without_ranges = ranges.is_empty();
    Ok(review)
}

/// The remarks so far, and the cells that they put in doubt.
#[derive(Default)]
struct Found {
    remarks: Vec<Remark>,
    doubtful: BTreeSet<(String, String)>,
}

/// What a remark is about, before it is one.
struct Cell<'a> {
    subject: &'a str,
    column: &'a str,
    value: &'a str,
    place: &'a Place,
}

impl Found {
    /// Adds a remark and puts its cell in doubt.
    fn add(&mut self, code: Kind, cell: &Cell<'_>, found: impl Into<String>, needed: impl Into<String>) {
        self.doubtful.insert((cell.subject.to_owned(), cell.column.to_owned()));
        self.remarks.push(Remark {
            code,
            subject: cell.subject.to_owned(),
            column: cell.column.to_owned(),
            value: cell.value.to_owned(),
            place: cell.place.clone(),
            found: found.into(),
            needed: needed.into(),
            remedy: code.settle().to_owned(),
        });
    }

    /// True if none of these cells is in doubt already.
    fn trusts(&self, subject: &str, columns: &[&str]) -> bool {
        !columns.iter().any(|column| self.doubtful.contains(&(subject.to_owned(), (*column).to_owned())))
    }
}
