//! Many dossiers through a few processes of Typst at once.
//!
//! A dossier is made when a process is free for it, and dropped once it is kept: memory hangs on the count of
//! processes, not on that of the dossiers.

use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use tempfile::TempDir;

use super::typst::Typst;
use super::{Dossier, Press};
use crate::fault::{Fault, Faults};

/// How long after a request to stop the processes are ended, at most.
const HEARD_WITHIN: Duration = Duration::from_millis(50);

/// A few processes of Typst, and the faces that they share.
pub struct Pool<'a> {
    typst: &'a Typst,
    jobs: usize,
    stop: &'a AtomicBool,
    fonts: TempDir,
}

/// What became of one dossier.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ended<T> {
    /// It was printed and kept.
    Done(T),
    /// It was not, and why.
    Failed(Faults),
    /// Somebody asked to stop before it was printed.
    Stopped,
}

impl<'a> Pool<'a> {
    /// Lays the faces out; at most `jobs` processes run at once, and none once `stop` is true.
    ///
    /// # Errors
    /// The folder for temporary files cannot be written.
    pub fn new(press: &Press, typst: &'a Typst, jobs: usize, stop: &'a AtomicBool) -> Result<Pool<'a>, Fault> {
        Ok(Pool { typst, jobs, stop, fonts: press.laid_out()? })
    }

    /// Makes, prints and keeps so many dossiers, and tells `heard` of each that is done or failed.
    ///
    /// All three are called from several threads. The results are in the order of the numbers, whatever the count
    /// of processes; what fails stops nothing else. When `stop` becomes true, processes that run are ended and what
    /// they did is dropped; what was printed by then is still kept.
    pub fn run<T: Send>(
        &self,
        count: usize,
        make: impl Fn(usize) -> Result<Dossier, Faults> + Sync,
        keep: impl Fn(usize, &Dossier, Vec<u8>) -> Result<T, Faults> + Sync,
        heard: impl Fn(usize) + Sync,
    ) -> Vec<Ended<T>> {
        let next = AtomicUsize::new(0);
        let workers = self.jobs.clamp(1, count.max(1));
        let threads = self.jobs / workers;
        let seats: Vec<Seat<'_>> = (0..workers).map(|_| Seat::new(self.stop, threads)).collect();
        let one = |seat: &Seat<'_>, at: usize| -> Ended<T> {
            let printed = make(at).and_then(|dossier| {
                let pdf = dossier.print(self.typst, self.fonts.path(), seat)?;
                Ok(pdf.map(|pdf| keep(at, &dossier, pdf)))
            });
            match printed {
                Ok(Some(Ok(done))) => Ended::Done(done),
                Ok(Some(Err(faults))) | Err(faults) => Ended::Failed(faults),
                Ok(None) => Ended::Stopped,
            }
        };
        let work = |seat: &Seat<'_>| {
            let mut ended = Vec::new();
            while !self.stop.load(Ordering::SeqCst) {
                let at = next.fetch_add(1, Ordering::Relaxed);
                if at >= count {
                    break;
                }
                let one = one(seat, at);
                if !matches!(one, Ended::Stopped) {
                    heard(at);
                }
                ended.push((at, one));
            }
            ended
        };
        let mut ended: Vec<Ended<T>> = (0..count).map(|_| Ended::Stopped).collect();
        std::thread::scope(|scope| {
            let (working, resting) = channel::<()>();
            let seats = &seats;
            scope.spawn(move || {
                while resting.recv_timeout(HEARD_WITHIN) == Err(RecvTimeoutError::Timeout) {
                    if self.stop.load(Ordering::SeqCst) {
                        seats.iter().for_each(Seat::end);
                    }
                }
            });
            let workers: Vec<_> = seats.iter().map(|seat| scope.spawn(|| work(seat))).collect();
            for worker in workers {
                for (at, one) in worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)) {
                    ended[at] = one;
                }
            }
            drop(working);
        });
        ended
    }
}

/// How many processes or threads the machine can run at once.
#[must_use]
pub fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// Where one process runs, so that it can be ended.
pub(super) struct Seat<'a> {
    child: Mutex<Option<Child>>,
    stop: &'a AtomicBool,
    /// How many threads its process may have: the pages are the same with any number.
    pub(super) threads: usize,
}

impl<'a> Seat<'a> {
    fn new(stop: &'a AtomicBool, threads: usize) -> Seat<'a> {
        Seat { child: Mutex::new(None), stop, threads: threads.max(1) }
    }

    /// A seat that nobody stops.
    pub(super) fn alone() -> Seat<'static> {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Seat::new(&NEVER, cores())
    }

    /// Runs a process to its end; none if it was stopped.
    pub(super) fn output(&self, mut command: Command) -> std::io::Result<Option<Output>> {
        if self.stop.load(Ordering::SeqCst) {
            return Ok(None);
        }
        // A Ctrl-C at the terminal goes to all processes of a group: the pool alone ends its own.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped()).spawn()?;
        let said = child.stderr.take();
        *self.child.lock().unwrap_or_else(PoisonError::into_inner) = Some(child);
        let mut stderr = Vec::new();
        if let Some(mut said) = said {
            said.read_to_end(&mut stderr)?;
        }
        let child = self.child.lock().unwrap_or_else(PoisonError::into_inner).take();
        let Some(mut child) = child else { return Ok(None) };
        let status = child.wait()?;
        if !status.success() && self.stop.load(Ordering::SeqCst) {
            return Ok(None);
        }
        Ok(Some(Output { status, stdout: Vec::new(), stderr }))
    }

    fn end(&self) {
        if let Some(child) = self.child.lock().unwrap_or_else(PoisonError::into_inner).as_mut() {
            // One that ended by itself needs no ending.
            let _ = child.kill();
        }
    }
}

impl Dossier {
    /// Prints it: the bytes of the PDF; none if it was stopped.
    fn print(&self, typst: &Typst, fonts: &Path, seat: &Seat<'_>) -> Result<Option<Vec<u8>>, Fault> {
        let files = super::files(&self.data, &self.attachments);
        let job = super::typst::Job { document: &self.document, files: &files, fonts, created: self.created };
        super::typst::print_on(typst, &job, seat)
    }
}
