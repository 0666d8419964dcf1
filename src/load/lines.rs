//! On which line of a text a byte stands.

use crate::evidence::Place;
use crate::fault::{Code, Fault};

/// The most bytes that a line of a table may have; a whole sheet has less than a thousandth.
const LINE: usize = 1 << 20;

/// Line numbers by byte offset: where each line ends, in a file of at most [`LARGEST`](super::LARGEST) bytes.
pub struct Lines(Vec<u32>);

impl Lines {
    pub(super) fn of(text: &str) -> Lines {
        let ends = || memchr::memchr_iter(b'\n', text.as_bytes());
        // Counted first: there may be as many as there are bytes.
        let mut lines = Lines(Vec::with_capacity(ends().count()));
        lines.0.extend(ends().map(|at| u32::try_from(at).unwrap_or(u32::MAX)));
        lines
    }

    /// The lines of a table.
    ///
    /// # Errors
    /// One that is longer than any sheet has.
    pub fn of_table(file: &str, text: &str) -> Result<Lines, Fault> {
        let lines = Lines::of(text);
        let ends = lines.0.iter().map(|end| *end as usize).chain([text.len()]);
        let starts = std::iter::once(0).chain(lines.0.iter().map(|end| *end as usize + 1));
        let longest = (1..).zip(starts.zip(ends).map(|(start, end)| end - start)).max_by_key(|(_, bytes)| *bytes);
        match longest.filter(|(_, bytes)| *bytes > LINE) {
            None => Ok(lines),
            Some((line, bytes)) => Err(Fault::new(
                Code::FileTooLarge,
                format!("a line of {bytes} bytes"),
                format!("at most {LINE} bytes on a line"),
                "see whether it is the right file, and whether its line ends are line feeds",
            )
            .at(Place::line(file, line))),
        }
    }

    /// How many there are, with the one after the last line feed.
    #[must_use]
    pub fn count(&self) -> usize {
        self.0.len() + 1
    }

    /// The line, from 1, of a byte offset.
    pub(super) fn at(&self, offset: usize) -> u32 {
        u32::try_from(self.0.partition_point(|end| (*end as usize) < offset) + 1).unwrap_or(u32::MAX)
    }

    /// The line, from 1, of the first byte at or after `offset` that does not end a blank line.
    #[must_use]
    pub fn after_blank(&self, text: &str, offset: usize) -> u32 {
        let blank = text
            .as_bytes()
            .get(offset..)
            .map_or(0, |rest| rest.iter().take_while(|b| matches!(b, b'\r' | b'\n')).count());
        self.at(offset + blank)
    }
}
