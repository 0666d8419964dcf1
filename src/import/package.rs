//! What the library that reads workbooks does not tell: hidden columns and rows, and the cells that an
//! `.ods` sheet shows as per cent.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;

/// What is known of a sheet beyond its values.
#[derive(Clone, Debug, Default)]
pub(super) struct Extra {
    /// Hidden columns, from 0.
    pub(super) columns: BTreeSet<usize>,
    /// Hidden rows, from 0.
    pub(super) rows: BTreeSet<usize>,
    /// Cells shown as per cent, by row and column.
    pub(super) percent: BTreeSet<(usize, usize)>,
}

/// The largest part that is read, and the most a run of equal rows or columns counts.
const PART: u64 = 256 << 20;
const RUN: usize = 16_384;

/// What is hidden in each sheet; what cannot be read tells nothing.
pub(super) fn extras(bytes: &[u8]) -> BTreeMap<String, Extra> {
    let Ok(mut zip) = ZipArchive::new(Cursor::new(bytes)) else { return BTreeMap::new() };
    match part(&mut zip, "content.xml") {
        Some(content) => open_document(&content),
        None => office_open(&mut zip),
    }
}

fn part(zip: &mut ZipArchive<Cursor<&[u8]>>, name: &str) -> Option<String> {
    let mut text = String::new();
    zip.by_name(name).ok()?.take(PART).read_to_string(&mut text).ok()?;
    Some(text)
}

/// An attribute by its whole name.
pub(super) fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = tag.attributes().flatten().find(|a| a.key.as_ref() == name)?;
    found.normalized_value(quick_xml::XmlVersion::Implicit1_0).ok().map(std::borrow::Cow::into_owned)
}

pub(super) fn number(tag: &BytesStart<'_>, name: &str) -> Option<usize> {
    attribute(tag, name)?.parse().ok()
}

/// Calls `see` with every opening tag.
fn tags(text: &str, mut see: impl FnMut(&BytesStart<'_>)) {
    let mut reader = Reader::from_str(text);
    loop {
        match reader.read_event() {
            Ok(Event::Start(tag) | Event::Empty(tag)) => see(&tag),
            Ok(Event::Eof) | Err(_) => return,
            Ok(_) => {}
        }
    }
}

fn open_document(content: &str) -> BTreeMap<String, Extra> {
    let mut sheets: BTreeMap<String, Extra> = BTreeMap::new();
    let mut name = String::new();
    let (mut row, mut next_row, mut column, mut declared) = (0, 0, 0, 0);
    tags(content, |tag| {
        let repeated = |attribute| number(tag, attribute).unwrap_or(1);
        let collapsed = || attribute(tag, "table:visibility").is_some_and(|v| v != "visible");
        match tag.name().as_ref() {
            "table:table" => {
                name = attribute(tag, "table:name").unwrap_or_default();
                (next_row, declared) = (0, 0);
            }
            "table:table-column" => {
                let count = repeated("table:number-columns-repeated");
                if collapsed() {
                    let extra = sheets.entry(name.clone()).or_default();
                    extra.columns.extend((declared..declared + count).take(RUN));
                }
                declared += count;
            }
            "table:table-row" => {
                let count = repeated("table:number-rows-repeated");
                (row, column) = (next_row, 0);
                if collapsed() {
                    sheets.entry(name.clone()).or_default().rows.extend((row..row + count).take(RUN));
                }
                next_row += count;
            }
            "table:table-cell" | "table:covered-table-cell" => {
                let count = repeated("table:number-columns-repeated");
                if attribute(tag, "office:value-type").is_some_and(|kind| kind == "percentage") {
                    let cells = (row..next_row).take(RUN).flat_map(|r| (column..column + count).map(move |c| (r, c)));
                    sheets.entry(name.clone()).or_default().percent.extend(cells.take(RUN));
                }
                column += count;
            }
            _ => {}
        }
    });
    sheets
}

fn office_open(zip: &mut ZipArchive<Cursor<&[u8]>>) -> BTreeMap<String, Extra> {
    let mut targets: BTreeMap<String, String> = BTreeMap::new();
    tags(&part(zip, "xl/_rels/workbook.xml.rels").unwrap_or_default(), |tag| {
        if let (Some(id), Some(target)) = (attribute(tag, "Id"), attribute(tag, "Target")) {
            targets.insert(id, target);
        }
    });
    let mut sheets: Vec<(String, String)> = Vec::new();
    tags(&part(zip, "xl/workbook.xml").unwrap_or_default(), |tag| {
        if tag.name().as_ref() == "sheet"
            && let (Some(name), Some(id)) = (attribute(tag, "name"), attribute(tag, "r:id"))
            && let Some(target) = targets.get(&id)
        {
            let path = target.strip_prefix('/').map_or_else(|| format!("xl/{target}"), str::to_owned);
            sheets.push((name, path));
        }
    });
    let mut extras = BTreeMap::new();
    for (name, path) in sheets {
        let mut extra = Extra::default();
        tags(&part(zip, &path).unwrap_or_default(), |tag| {
            let hidden = || attribute(tag, "hidden").is_some_and(|h| h == "1" || h == "true");
            match tag.name().as_ref() {
                "col" if hidden() => {
                    if let (Some(min), Some(max)) = (number(tag, "min"), number(tag, "max")) {
                        extra.columns.extend((min.max(1) - 1..max).take(RUN));
                    }
                }
                "row" if hidden() => extra.rows.extend(number(tag, "r").map(|r| r.max(1) - 1)),
                _ => {}
            }
        });
        extras.insert(name, extra);
    }
    extras
}
