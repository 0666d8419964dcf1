//! Kept selections judged again: by what they were signed on, or by today's data.
//!
//! A change of the data is judged by three digests of canonical text, of the evidence, the decision and
//! the presentation. Whatever does not move them (the order of rows and columns, line ends, the user's own
//! columns, the clock, the locale) moves nothing here.

mod blame;
mod causes;
mod faulty;
mod flip;
mod join;
mod kept;
mod made;
mod newest;
mod outcome;
mod page;
mod parts;
mod pass;
mod table;
mod words;

pub use faulty::{Faulty, Loaded, loaded};
pub use join::{SCHEMA, join};
pub use kept::{Again, again, data, enquiry};
pub use made::draft;
pub use newest::revisions;
pub use outcome::{Answer, Cause, Change, ChangeKind, Data, Failure, Flip, Line, Outcome, Part, Report, Side, Tally};
pub use page::{PART, Page};
pub use pass::{Passed, Today, pass};
pub use table::csv;
