//! Lapwise.

pub mod quantity;
pub mod evidence;
pub mod fault;
pub mod spread;
pub mod load;
pub mod catalogue;
pub mod enquiry;
