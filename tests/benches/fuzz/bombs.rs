//! Small files that stand for large ones: archives, workbooks and PDF files made to be unfolded.

use std::io::{Cursor, Write};

use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// An archive of parts.
pub(crate) fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap_or_else(|error| panic!("{error}"));
        zip.write_all(bytes).unwrap_or_else(|error| panic!("{error}"));
    }
    zip.finish().unwrap_or_else(|error| panic!("{error}")).into_inner()
}

const HEAD: &str = r#"<?xml version="1.0" encoding="UTF-8"?>"#;
const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const RELATIONS: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";

/// A workbook with one sheet, and what more is in it.
pub(crate) fn workbook(sheet: &str, more: &[(&str, &[u8])]) -> Vec<u8> {
    let package = "http://schemas.openxmlformats.org/package/2006";
    let types = format!(
        r#"{HEAD}<Types xmlns="{package}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>"#
    );
    let top = format!(
        r#"{HEAD}<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>"#
    );
    let book = format!(
        r#"{HEAD}<workbook xmlns="{MAIN}" xmlns:r="{RELATIONS}"><sheets><sheet name="Tapes" sheetId="1" r:id="r1"/></sheets></workbook>"#
    );
    let inner = format!(
        r#"{HEAD}<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{RELATIONS}/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Type="{RELATIONS}/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="r3" Type="{RELATIONS}/styles" Target="styles.xml"/></Relationships>"#
    );
    let sheet = format!(r#"{HEAD}<worksheet xmlns="{MAIN}"><sheetData>{sheet}</sheetData></worksheet>"#);
    let mut parts: Vec<(&str, &[u8])> = vec![
        ("[Content_Types].xml", types.as_bytes()),
        ("_rels/.rels", top.as_bytes()),
        ("xl/workbook.xml", book.as_bytes()),
        ("xl/_rels/workbook.xml.rels", inner.as_bytes()),
        ("xl/worksheets/sheet1.xml", sheet.as_bytes()),
    ];
    parts.extend(more);
    archive(&parts)
}

/// A cell with a text in it.
pub(crate) fn cell(address: &str, text: &str) -> String {
    format!(r#"<c r="{address}" t="inlineStr"><is><t>{text}</t></is></c>"#)
}

/// A row with one cell.
pub(crate) fn lone(row: usize, address: &str) -> String {
    format!(r#"<row r="{row}">{}</row>"#, cell(address, "x"))
}

/// A list of texts or styles.
pub(crate) fn listed(name: &'static str, entry: &str, times: usize, promised: &str) -> Vec<u8> {
    format!(r#"{HEAD}<{name} xmlns="{MAIN}" {promised}>{}</{name}>"#, entry.repeat(times)).into_bytes()
}

/// An open-document sheet of rows.
pub(crate) fn open_document(rows: &str) -> Vec<u8> {
    let office = "urn:oasis:names:tc:opendocument:xmlns";
    let content = format!(
        r#"{HEAD}<office:document-content xmlns:office="{office}:office:1.0" xmlns:table="{office}:table:1.0" xmlns:text="{office}:text:1.0"><office:body><office:spreadsheet><table:table table:name="Tapes">{rows}</table:table></office:spreadsheet></office:body></office:document-content>"#
    );
    archive(&[
        ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
        ("META-INF/manifest.xml", b"<manifest/>"),
        ("content.xml", content.as_bytes()),
    ])
}

/// Megabytes of noughts, deflated: the bytes between an archive's first head and its directory.
fn deflated(megabytes: usize) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("a", SimpleFileOptions::default()).unwrap_or_else(|error| panic!("{error}"));
    let block = vec![0; 1 << 20];
    for _ in 0..megabytes {
        zip.write_all(&block).unwrap_or_else(|error| panic!("{error}"));
    }
    let bytes = zip.finish().unwrap_or_else(|error| panic!("{error}")).into_inner();
    bytes[31..].to_vec()
}

/// An archive with megabytes of noughts for a sheet.
pub(crate) fn noughts(megabytes: usize) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("xl/worksheets/sheet1.xml", SimpleFileOptions::default()).unwrap_or_else(|error| panic!("{error}"));
    let block = vec![b' '; 1 << 20];
    for _ in 0..megabytes {
        zip.write_all(&block).unwrap_or_else(|error| panic!("{error}"));
    }
    zip.finish().unwrap_or_else(|error| panic!("{error}")).into_inner()
}

/// A PDF with a file in it, packed as it is given.
pub(crate) fn pdf(name: &str, packed: &[u8], filter: &str) -> Vec<u8> {
    let mut out = b"%PDF-1.7\n".to_vec();
    let mut places = Vec::new();
    let file = format!("<< /Type /EmbeddedFile {filter} /Length {} >>\nstream\n", packed.len());
    let objects: [(String, &[u8], &str); 3] = [
        ("<< /Type /Catalog /Pages 4 0 R >>".to_owned(), b"", ""),
        (format!("<< /Type /Filespec /F ({name}) /UF ({name}) /EF << /F 3 0 R >> >>"), b"", ""),
        (file, packed, "\nendstream"),
    ];
    for (at, (head, body, tail)) in objects.iter().enumerate() {
        places.push(out.len());
        out.extend(format!("{} 0 obj\n{head}", at + 1).bytes());
        out.extend(*body);
        out.extend(format!("{tail}\nendobj\n").bytes());
    }
    let start = out.len();
    out.extend(format!("xref\n0 {}\n0000000000 65535 f \n", places.len() + 1).bytes());
    for place in &places {
        out.extend(format!("{place:010} 00000 n \n").bytes());
    }
    let size = places.len() + 1;
    out.extend(format!("trailer\n<< /Size {size} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n").bytes());
    out
}

/// A PDF with a file in it that is megabytes of noughts.
pub(crate) fn pdf_of_noughts(megabytes: usize) -> Vec<u8> {
    let packed = [&[0x78, 0x9c][..], &deflated(megabytes)].concat();
    pdf("provenance.json", &packed, "/Filter /FlateDecode")
}
