//! Ctrl-C and the request to end: at once where nothing is under way, gently where files are being written.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;

use super::End;

/// The exit code of a run that was interrupted.
pub(super) const INTERRUPTED: u8 = 130;

/// Whether somebody interrupted.
pub(super) struct Interrupt {
    heard: Arc<AtomicBool>,
    at_once: Arc<AtomicBool>,
}

impl Interrupt {
    /// Listens; until [`Interrupt::gently`] an interrupt ends the program at once.
    pub(super) fn listen() -> Result<Interrupt, End> {
        let interrupt = Interrupt { heard: Arc::default(), at_once: Arc::new(AtomicBool::new(true)) };
        for signal in [SIGINT, SIGTERM] {
            flag::register_conditional_shutdown(signal, INTERRUPTED.into(), interrupt.at_once.clone())?;
            flag::register(signal, interrupt.heard.clone())?;
        }
        Ok(interrupt)
    }

    /// From now on an interrupt only makes this true.
    pub(super) fn gently(&self) -> &AtomicBool {
        self.at_once.store(false, Ordering::SeqCst);
        &self.heard
    }

    /// True once somebody interrupted.
    pub(super) fn heard(&self) -> bool {
        self.heard.load(Ordering::SeqCst)
    }
}
