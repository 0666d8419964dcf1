//! `lapwise man`: the manual pages, one a command.

use std::fs;
use std::io::Write;
use std::path::PathBuf;

use clap::{Args, CommandFactory};

use super::{Here, Outcome};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise man ~/.local/share/man/man1")]
pub(super) struct Arguments {
    /// The folder to write to; made if it is not there
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

pub(super) fn run(_: &Here, arguments: &Arguments) -> Outcome {
    fs::create_dir_all(&arguments.folder)?;
    clap_mangen::generate_to(super::Arguments::command().disable_help_subcommand(true), &arguments.folder)?;
    let pages = fs::read_dir(&arguments.folder)?.flatten().filter(|entry| {
        let name = entry.file_name().to_string_lossy().into_owned();
        name.starts_with("lapwise") && name.ends_with(".1")
    });
    writeln!(std::io::stdout(), "{} pages in {}", pages.count(), arguments.folder.display())?;
    Ok(())
}
