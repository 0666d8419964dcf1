//! Lapwise works out which electrically insulating pressure-sensitive tapes can be recommended for
//! a coil, motor or transformer, shows the working, and turns it into a qualification dossier.
//!
//! A value flows down this list and never up: a text becomes a quantity with a place, a fact, an
//! input of a model, a cell, a finding, a standing, a page.

pub mod batch;
pub mod calculate;
pub mod catalogue;
pub mod cli;
pub mod compare;
pub mod dossier;
pub mod enquiry;
pub mod envelope;
pub mod evidence;
pub mod expand;
pub mod explain;
pub mod fault;
pub mod import;
pub mod judge;
pub mod keep;
pub mod load;
pub mod measure;
pub mod models;
pub mod output;
pub mod part;
pub mod plausible;
pub mod quantity;
pub mod rank;
pub mod record;
pub mod regenerate;
pub mod register;
pub mod selection;
pub mod settle;
pub mod spread;
