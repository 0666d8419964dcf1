//! `lapwise demo`: every enquiry of the data folder, end to end.

use std::io::Write;

use clap::Args;

use super::{Here, Outcome, dossier, setup};
use crate::enquiry::Enquiry;

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
    if catalogue.about.invented && !here.json {
        writeln!(std::io::stdout(), "{}\nInvented demonstration data.\n", catalogue.about.scenario)?;
    }
    let mut named = Vec::new();
    for file in folder.enquiries() {
        named.push(Enquiry::read(file, folder.text(file), &catalogue)?.number);
    }
    let named: Vec<&str> = named.iter().map(String::as_str).collect();
    dossier::print(here, &folder, &catalogue, &named, &arguments.printing, &typst)
}
