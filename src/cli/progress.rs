//! How far long work has come: a bar on a terminal, a line now and then elsewhere.

use std::io::IsTerminal;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use indicatif::{ProgressBar, ProgressStyle};

use super::say;

/// Elsewhere than on a terminal a line is printed each time so many hundredths are done.
const STEP: usize = 10;
/// Fewer are done before anybody reads a line.
const FEW: usize = 20;

/// The progress of some work on things that are counted.
pub(super) struct Progress {
    bar: ProgressBar,
    lines: bool,
    /// What is counted, in the plural.
    what: &'static str,
    count: usize,
    done: AtomicUsize,
    begun: Instant,
}

impl Progress {
    /// Of so many; where it is `quiet` nothing is told.
    pub(super) fn of(count: usize, what: &'static str, quiet: bool) -> Progress {
        let terminal = std::io::stderr().is_terminal();
        let bar = if terminal && !quiet && count > 1 { ProgressBar::new(count as u64) } else { ProgressBar::hidden() };
        let template = format!("{{pos}} of {{len}} {what} {{wide_bar}} {{per_sec:.1}} left {{eta}}");
        if let Ok(style) = ProgressStyle::with_template(&template) {
            let rate = |state: &indicatif::ProgressState, out: &mut dyn std::fmt::Write| {
                // The terminal is no place for an error.
                let _ = write!(out, "{:.1} a second,", state.per_sec());
            };
            bar.set_style(style.with_key("per_sec", rate));
        }
        let lines = !terminal && !quiet && count >= FEW;
        Progress { bar, lines, what, count, done: AtomicUsize::new(0), begun: Instant::now() }
    }

    /// One more is done.
    pub(super) fn step(&self) {
        self.bar.inc(1);
        self.tell(self.done.fetch_add(1, Ordering::Relaxed) + 1, 1);
    }

    /// So many are done by now.
    pub(super) fn reach(&self, done: usize) {
        self.bar.set_position(done as u64);
        self.tell(done, done.saturating_sub(self.done.swap(done, Ordering::Relaxed)));
    }

    /// A line where the last `more` of what is done made a step full.
    fn tell(&self, done: usize, more: usize) {
        let steps = |done: usize| done * 100 / (STEP * self.count.max(1));
        if self.lines && steps(done) > steps(done - more) && done < self.count {
            let seconds = self.begun.elapsed().as_secs_f64();
            // Counts stay far below what an f64 holds.
            #[expect(clippy::cast_precision_loss, reason = "a count of dossiers or selections")]
            let (now, all) = (done as f64, self.count as f64);
            let (rate, left) = (now / seconds, seconds / now * (all - now));
            let line = format!("{done} of {} {}, {rate:.1} a second, {left:.0} s left", self.count, self.what);
            // Whoever does not listen does not stop the work.
            let _ = say::remark(&line);
        }
    }

    /// All is done, or nothing more will be.
    pub(super) fn end(&self) {
        self.bar.finish_and_clear();
    }
}
