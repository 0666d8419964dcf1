//! `lapwise demo`: every enquiry of the data folder, end to end.

use std::io::Write;

use clap::Args;

use super::asked::Asked;
use super::interrupt::Interrupt;
use super::{Here, Outcome, dossier, setup};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise demo")]
pub(super) struct Arguments {
    /// Do not install Typst
    #[arg(long)]
    offline: bool,
    #[command(flatten)]
    printing: dossier::Printing,
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let (folder, catalogue) = here.catalogue()?;
    let typst = setup::find(arguments.offline)?;
    let interrupt = Interrupt::listen()?;
    if catalogue.about.invented && !here.json {
        writeln!(std::io::stdout(), "{}\nInvented demonstration data.\n", catalogue.about.scenario)?;
    }
    let asked = Asked { enquiries: Vec::new(), all: true, part: None };
    dossier::print(here, &folder, &catalogue, &asked, &arguments.printing, &typst, &interrupt)
}
