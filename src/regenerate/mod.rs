//! Kept selections judged again: by what they were signed on, or by today's data.

mod kept;

pub use kept::{Again, again, data};
