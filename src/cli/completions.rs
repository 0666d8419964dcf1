//! `lapwise completions`: what a shell offers on Tab.

use std::io::Write;

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::{Here, Outcome};

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise completions bash > ~/.local/share/bash-completion/completions/lapwise")]
pub(super) struct Arguments {
    /// The shell
    shell: Shell,
}

pub(super) fn run(_: &Here, arguments: &Arguments) -> Outcome {
    // Into memory first: a reader that goes away is no reason to stop with an error.
    let mut text = Vec::new();
    clap_complete::generate(arguments.shell, &mut super::Arguments::command(), "lapwise", &mut text);
    std::io::stdout().write_all(&text)?;
    Ok(())
}
