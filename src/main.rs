//! Arguments in, exit code out.

use std::process::ExitCode;

/// Rows of cells come and go by the thousand on every thread.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    ExitCode::from(lapwise::cli::run(std::env::args_os()))
}
