//! Text tables: the encoding and the delimiter are found out, and lines keep their numbers.

use crate::evidence::Place;
use crate::fault::{Code, Fault};
use crate::load::{Lines, open_quote};

use super::extent::CELLS;
use super::sheet::{Cell, Sheet, Value};

/// Reads a text table.
///
/// # Errors
/// The bytes are no text, such as a workbook under another name.
pub(super) fn read(file: &str, bytes: &[u8]) -> Result<Sheet, Fault> {
    let text = decode(bytes).filter(|text| !text.contains('\0')).ok_or_else(|| {
        Fault::new(
            Code::FileUnreadable,
            "bytes that are no text",
            "a table: .xlsx, .ods, or text with commas, semicolons or tabs",
            "save it from the spreadsheet program as .xlsx or .ods, or as text in UTF-8",
        )
        .at(Place::file(file))
    })?;
    let lines = Lines::of_table(file, &text)?;
    let (told, body) = told_delimiter(&text);
    let delimiter = told.unwrap_or_else(|| delimiter(body));
    if let Some((at, fault)) = open_quote(body, delimiter) {
        let line = lines.after_blank(&text, text.len() - body.len() + at);
        return Err(fault.at(Place::line(file, line)));
    }
    let widest = widths(body, delimiter).max().unwrap_or(0);
    let height = lines.count();
    if widest.saturating_mul(height) > CELLS {
        let found = format!("a table of {height} lines and {widest} columns");
        let needed = format!("at most {CELLS} cells, lines times columns");
        let remedy = "see whether it is the right file; split the table if it is";
        return Err(Fault::new(Code::FileTooLarge, found, needed, remedy).at(Place::file(file)));
    }
    let mut sheet = Sheet { file: file.to_owned(), delimited: true, ..Sheet::default() };
    let (mut reader, mut record) = (reader(body, delimiter), csv::StringRecord::new());
    // Text in memory and rows of any length leave nothing for the reader to refuse.
    while reader.read_record(&mut record).unwrap_or(false) {
        let offset = record.position().map_or(0, |p| usize::try_from(p.byte()).unwrap_or(usize::MAX));
        let row = lines.after_blank(&text, text.len() - body.len() + offset) as usize - 1;
        sheet.rows.resize(row.max(sheet.rows.len()), Vec::new());
        let cell = |text: &str| match text.trim() {
            "" => Cell::default(),
            _ => Cell::of(Value::Text(text.to_owned())),
        };
        sheet.rows.push(record.iter().map(cell).collect());
    }
    Ok(sheet)
}

fn reader(text: &str, delimiter: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(text.as_bytes())
}

/// How many cells each row has.
fn widths(text: &str, delimiter: u8) -> impl Iterator<Item = usize> {
    let (mut reader, mut record) = (reader(text, delimiter), csv::ByteRecord::new());
    std::iter::from_fn(move || reader.read_byte_record(&mut record).unwrap_or(false).then(|| record.len()))
}

/// UTF-8 and UTF-16 by their marks, else UTF-8 where it is valid, else the western code page.
fn decode(bytes: &[u8]) -> Option<String> {
    let wide = |pair: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes[2..].chunks_exact(2).map(|b| pair([b[0], b[1]])).collect();
        String::from_utf16(&units).ok()
    };
    match bytes {
        [0xff, 0xfe, ..] => return wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => return wide(u16::from_be_bytes),
        _ => {}
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Some(text.strip_prefix('\u{feff}').unwrap_or(text).to_owned()),
        Err(_) => Some(bytes.iter().map(|b| western(*b)).collect()),
    }
}

/// A character of code page 1252; source: the WHATWG Encoding Standard, index windows-1252 (from memory).
fn western(byte: u8) -> char {
    const HIGH: [char; 32] = [
        '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž', '\u{8f}', '\u{90}', '‘',
        '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}', 'ž', 'Ÿ',
    ];
    match byte {
        0x80..=0x9f => HIGH[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

/// The delimiter that a first line `sep=;` names, and the rest.
fn told_delimiter(text: &str) -> (Option<u8>, &str) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    match first.trim_end().strip_prefix("sep=").map(str::as_bytes) {
        Some([delimiter]) => (Some(*delimiter), rest),
        _ => (None, text),
    }
}

/// The delimiter that gives most lines the same number of cells, more than one.
fn delimiter(text: &str) -> u8 {
    let count = |delimiter: u8| {
        let widths: Vec<usize> = widths(text, delimiter).take(200).collect();
        let most = widths
            .iter()
            .copied()
            .filter(|w| *w > 1)
            .max_by_key(|w| (widths.iter().filter(|other| *other == w).count(), *w));
        most.map_or((0, 0), |most| (widths.iter().filter(|w| **w == most).count(), most))
    };
    // A decimal comma makes commas frequent too: of equal standing, the first of this list serves.
    [b';', b'\t', b'|', b','].into_iter().rev().max_by_key(|d| count(*d)).unwrap_or(b',')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(sheet: &Sheet) -> Vec<Vec<String>> {
        sheet.rows.iter().map(|row| row.iter().map(Cell::text).collect()).collect()
    }

    #[test]
    fn delimiters_and_encodings_are_found_out() {
        let wanted = vec![vec!["Dicke".to_owned(), "µm".to_owned()], vec!["0,18".to_owned(), "5".to_owned()]];
        let western: Vec<u8> = "Dicke;µm\r\n0,18;5\r\n".chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
        let mut wide = vec![0xff, 0xfe];
        wide.extend("Dicke\tµm\r\n0,18\t5\r\n".encode_utf16().flat_map(u16::to_le_bytes));
        let quoted = "\u{feff}Dicke,µm\n\"0,18\",5\n".as_bytes().to_vec();
        for bytes in [western, wide, quoted] {
            assert_eq!(texts(&read("t.csv", &bytes).unwrap()), wanted);
        }
        assert_eq!(read("t.csv", b"sep=;\na;b\n").unwrap().rows.len(), 2);
    }

    #[test]
    fn rows_stand_on_the_lines_of_the_file() {
        let sheet = read("t.csv", b"a,b\n\n\n\"two\nlines\",c\nd,e\n").unwrap();
        assert_eq!(sheet.cell(3, 0).text(), "two lines");
        assert_eq!(sheet.cell(5, 0).text(), "d");
    }

    #[test]
    fn a_picture_is_no_table() {
        assert_eq!(read("t.csv", b"\x89PNG\r\n\x1a\n\0\0").unwrap_err().code, Code::FileUnreadable);
    }
}
