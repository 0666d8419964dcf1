//! How large a workbook is once it is unfolded, found out before anything unfolds it.
//!
//! A few thousand bytes can stand for gigabytes: packed parts, a cell in the last row and column, a row that is said
//! to be repeated a million times, a count that promises more texts than there are.

use std::io::{self, BufReader, Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;

use super::package::{attribute, number};
use crate::fault::{Code, Fault};

/// The most parts that a workbook may have.
const PARTS: usize = 10_000;
/// The most bytes that its parts may have together, unpacked.
const UNPACKED: u64 = 256 << 20;
/// The most cells that all its sheets may have, from A1 to the last: a hundred thousand tapes in sixty columns.
pub(super) const CELLS: usize = 6_000_000;
/// The most texts, styles and the like that a part may hold or promise.
const ENTRIES: usize = 8_000_000;

/// The most that tags may stand within each other.
const DEEPEST: usize = 1000;

/// What stands in the way of unfolding a workbook, if anything.
///
/// # Errors
/// It is larger than any table of tapes, or of a form whose size cannot be told beforehand.
pub(super) fn check(bytes: &[u8]) -> Result<(), Fault> {
    // What is no archive is told by the reader of workbooks.
    let Ok(mut zip) = ZipArchive::new(Cursor::new(bytes)) else { return Ok(()) };
    if zip.len() > PARTS {
        return Err(too_large(format!("a workbook of {} parts", zip.len()), format!("at most {PARTS} parts")));
    }
    let (mut left, mut cells) = (UNPACKED, 0_usize);
    for at in 0..zip.len() {
        let Ok(part) = zip.by_index(at) else { continue };
        let name = part.name().map_or_else(|_| String::new(), |name| name.into_owned());
        if name == "xl/workbook.bin" {
            let found = "a binary workbook";
            return Err(Fault::new(Code::FileUnreadable, found, "a workbook as .xlsx or .ods", "save it as .xlsx"));
        }
        let mut rest = BufReader::new(part.take(left + 1));
        let is_text = [".xml", ".rels"].iter().any(|end| name.to_lowercase().ends_with(end));
        let (mut outgrown, mut whole) = (false, true);
        if is_text {
            let mut extent = Extent::default();
            whole = extent.of(&mut rest);
            cells = cells.saturating_add(extent.cells());
            outgrown = extent.entries > ENTRIES;
        }
        // What the markup ends before is unpacked all the same.
        let _ = io::copy(&mut rest, &mut io::sink());
        left = rest.into_inner().limit().saturating_sub(1);
        if left == 0 {
            return Err(too_large(
                format!("more than {} MiB once it is unpacked", UNPACKED >> 20),
                format!("at most {} MiB unpacked", UNPACKED >> 20),
            ));
        }
        if outgrown || cells > CELLS {
            let found = format!("sheets that reach over more than {CELLS} cells");
            return Err(too_large(
                found,
                format!("at most {CELLS} cells, from A1 to the last that is filled or styled"),
            ));
        }
        if !whole {
            // Readers of workbooks wait for an end that never comes.
            let found = format!("a workbook whose part `{name}` is cut short or garbled");
            let remedy = "open it in a spreadsheet program and save it again";
            return Err(Fault::new(Code::FileUnreadable, found, "a workbook that is whole", remedy));
        }
    }
    Ok(())
}

fn too_large(found: String, needed: String) -> Fault {
    let remedy =
        "take out what stands far from the table, such as a cell in the last row, or save the one sheet as text";
    Fault::new(Code::FileTooLarge, found, needed, remedy)
}

/// What is counted of a part.
#[derive(Default)]
struct Extent {
    /// Of a sheet of cells with addresses: rows and columns from A1 on.
    rows: usize,
    columns: usize,
    at: (usize, usize),
    /// Of a sheet of repeated rows: cells so far, and those of the row up to the last that holds something.
    repeated: usize,
    row: (usize, usize),
    width: usize,
    /// Texts, styles and other things that are listed, as they are or as they are promised.
    entries: usize,
}

impl Extent {
    /// Counts until the markup ends, is broken, or is more than is read; true unless it is broken.
    fn of(&mut self, part: &mut impl io::BufRead) -> bool {
        let mut reader = Reader::from_reader(part);
        let mut buffer = Vec::new();
        let mut depth = 0_usize;
        loop {
            buffer.clear();
            match reader.read_event_into(&mut buffer) {
                Ok(Event::Start(tag)) => {
                    depth += 1;
                    self.see(&tag, true);
                }
                Ok(Event::Empty(tag)) => self.see(&tag, false),
                Ok(Event::End(_)) => depth = depth.saturating_sub(1),
                Ok(Event::Eof) => return depth == 0,
                Err(_) => return false,
                Ok(_) => {}
            }
            if self.entries > ENTRIES || self.cells() > CELLS || depth > DEEPEST {
                return depth <= DEEPEST;
            }
        }
    }

    fn see(&mut self, tag: &BytesStart<'_>, holds: bool) {
        match tag.name().as_ref() {
            "row" => {
                let row = number(tag, "r").map_or(self.at.0 + 1, |row| row.max(1));
                self.at = (row, 0);
            }
            "c" => {
                let next = (self.at.0, self.at.1 + 1);
                self.at = attribute(tag, "r").and_then(|r| address(&r)).unwrap_or(next);
                self.rows = self.rows.max(self.at.0);
                self.columns = self.columns.max(self.at.1);
            }
            "sst" => {
                let promised = number(tag, "uniqueCount").max(number(tag, "count"));
                self.entries = self.entries.saturating_add(promised.unwrap_or(0));
            }
            "table:table-row" => {
                self.close();
                self.row = (number(tag, "table:number-rows-repeated").unwrap_or(1), 0);
            }
            "table:table-cell" | "table:covered-table-cell" => {
                let count = number(tag, "table:number-columns-repeated").unwrap_or(1);
                self.row.1 = self.row.1.saturating_add(count);
                if holds || attribute(tag, "office:value-type").is_some() {
                    self.width = self.row.1;
                }
            }
            _ => self.entries += 1,
        }
    }

    /// Adds the row that is over: at least what is stored of it, and as often as it is repeated if it holds something.
    fn close(&mut self) {
        let times = if self.width == 0 { 1 } else { self.row.0 };
        self.repeated = self.repeated.saturating_add(self.width.max(1).saturating_mul(times));
        self.width = 0;
    }

    fn cells(&self) -> usize {
        let open = self.width.saturating_mul(self.row.0);
        self.rows.saturating_mul(self.columns).saturating_add(self.repeated).saturating_add(open)
    }
}

/// Row and column of an address such as `AB12`, from 1.
fn address(text: &str) -> Option<(usize, usize)> {
    let digits = text.find(|c: char| c.is_ascii_digit())?;
    let column = text[..digits].bytes().try_fold(0_usize, |sum, letter| {
        letter.is_ascii_alphabetic().then(|| sum.saturating_mul(26) + usize::from(letter.to_ascii_uppercase() - b'@'))
    })?;
    Some((text[digits..].parse().ok()?, column))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn extent(text: &str) -> Extent {
        let mut extent = Extent::default();
        extent.of(&mut text.as_bytes());
        extent.close();
        extent
    }

    #[test]
    fn addresses() {
        let cases = [
            ("A1", Some((1, 1))),
            ("XFD1048576", Some((1_048_576, 16_384))),
            ("ab12", Some((12, 28))),
            ("12", Some((12, 0))),
            ("A", None),
            ("é1", None),
        ];
        for (text, expected) in cases {
            assert_eq!(address(text), expected, "{text}");
        }
    }

    #[test]
    fn cells_are_counted_before_they_are_there() {
        assert_eq!(extent("<s><row r='2'><c r='B2'/><c/></row><row><c/></row></s>").cells(), 3 * 3 + 1);
        let far = "<s><row r='1048576'><c r='XFD1048576'/></row></s>";
        assert!(extent(far).cells() > CELLS);
        let repeated = "<table:table-row table:number-rows-repeated='1000'><table:table-cell office:value-type='float' \
            table:number-columns-repeated='20'/><table:table-cell table:number-columns-repeated='16000'/></table:table-row>";
        assert_eq!(extent(repeated).cells(), 20_000 + 1);
        let blank = "<table:table-row table:number-rows-repeated='1048576'><table:table-cell \
            table:number-columns-repeated='16384'/></table:table-row>";
        assert!(extent(blank).cells() < 10);
        assert!(extent("<sst uniqueCount='99999999999999'/>").entries > ENTRIES);
    }

    #[test]
    fn markup_that_does_not_end_is_told() {
        let whole = |text: &str| Extent::default().of(&mut text.as_bytes());
        assert!(whole("<?xml version='1.0'?><a><b/>text</a>"));
        for text in ["<a><b/>", "<a></b>", "<a", "<a b='", &"<a>".repeat(2000)] {
            assert!(!whole(text), "{text}");
        }
    }
}
