//! The one integration binary: stories, published values, laws, messages, the house.
#![allow(
    clippy::format_collect,
    missing_docs,
    clippy::disallowed_methods,
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::cast_precision_loss,
    clippy::float_cmp
)]

mod asking;
mod batch;
mod compare;
mod criteria;
mod disk;
mod draws;
mod evidence;
mod exports;
mod faults;
mod former;
mod hostile;
mod house;
mod import;
mod laws_models;
mod manual;
mod page;
mod plausible;
mod reference;
mod regenerate;
mod register;
mod robustness;
mod service;
mod settled;
mod story;
mod told;
