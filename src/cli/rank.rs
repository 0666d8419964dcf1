//! `lapwise rank`: the candidates in order.

use clap::Args;

use super::{Here, Outcome};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise rank Q-101")]
pub(super) struct Arguments {
    /// An enquiry: its path, or its number in the data folder
    enquiry: String,
    /// List the unsuitable tapes too
    #[arg(long)]
    all: bool,
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (folder, catalogue) = here.catalogue()?;
    let enquiry = super::enquiry(&folder, &catalogue, &arguments.enquiry)?;
    let _ = (enquiry.number, arguments.all);
    Ok(())
}
