//! Tables as people have them: three messy ones, and what becomes of every row.

use std::fs;
use std::io::Write;
use std::path::Path;

use rust_xlsxwriter::{Format, Workbook, Worksheet};
use serde_json::Value;

use crate::story::{SMALL, Story, Told};

/// Runs an import and reads its document.
fn import(story: &Story, arguments: &[&str]) -> (Told, Value) {
    let mut all = vec!["import"];
    all.extend(arguments);
    all.push("--json");
    let told = story.lapwise(&all);
    let document = serde_json::from_str(&told.out).unwrap_or_else(|e| panic!("{e}: {told:?}"));
    (told, document)
}

/// Rows in are rows added, revised, unchanged and refused: nothing is lost.
fn counts(document: &Value) -> [u64; 5] {
    let of = |name: &str| document["counts"][name].as_u64().unwrap();
    let all = [of("rows"), of("added"), of("revised"), of("unchanged"), of("refused")];
    assert_eq!(all[0], all[1..].iter().sum::<u64>(), "{document:#}");
    let fates = document["rows"].as_array().unwrap();
    for (name, count) in ["added", "revised", "unchanged", "refused"].iter().zip(&all[1..]) {
        assert_eq!(fates.iter().filter(|row| row["fate"] == *name).count() as u64, *count);
    }
    // Every refused row has a reason, and every reason a row.
    let refused: Vec<u64> =
        fates.iter().filter(|r| r["fate"] == "refused").map(|r| r["row"].as_u64().unwrap()).collect();
    for fault in document["diagnostics"].as_array().unwrap() {
        assert!(refused.contains(&fault["place"]["line"].as_u64().unwrap()), "{fault:#}");
    }
    for row in refused {
        assert!(document["diagnostics"].as_array().unwrap().iter().any(|f| f["place"]["line"] == row), "row {row}");
    }
    all
}

fn whole(story: &Story) {
    let told = story.lapwise(&["check"]);
    assert_eq!(told.code, 0, "{}", told.err);
}

fn codes(document: &Value) -> Vec<(u64, String)> {
    let fault = |f: &Value| (f["place"]["line"].as_u64().unwrap_or(0), f["code"].as_str().unwrap().to_owned());
    document["diagnostics"].as_array().unwrap().iter().map(fault).collect()
}

/// The row of a table of the data that begins with a key.
fn row(story: &Story, file: &str, key: &str) -> String {
    let text = fs::read_to_string(story.data().join(file)).unwrap();
    let start = format!("{key},");
    text.lines().find(|line| line.starts_with(&start)).unwrap_or_else(|| panic!("{file} has no {key}")).to_owned()
}

fn cell(story: &Story, file: &str, key: &str, column: &str) -> String {
    let text = fs::read_to_string(story.data().join(file)).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let at = reader.headers().unwrap().iter().position(|head| head == column).unwrap();
    let record = reader.records().flatten().find(|r| &r[0] == key).unwrap();
    record[at].to_owned()
}

fn texts(sheet: &mut Worksheet, row: u32, cells: &[&str]) {
    for (column, text) in cells.iter().enumerate().filter(|(_, text)| !text.is_empty()) {
        sheet.write(row, u16::try_from(column).unwrap(), *text).unwrap();
    }
}

/// German: title lines, heads over two lines with merged groups, a line of units, decimal commas, footnotes,
/// a hidden column, a date where a number was typed, notes below.
fn german(path: &Path) {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.set_name("Klebebänder").unwrap();
    texts(sheet, 0, &["Isolierklebebänder (erfunden)"]);
    texts(sheet, 1, &["Stand: 12.10.2026"]);
    let plain = Format::new();
    texts(sheet, 3, &["Artikel-Nr.", "Bezeichnung", "Träger", "Klebstoff"]);
    sheet.merge_range(3, 4, 3, 5, "Dicke", &plain).unwrap();
    sheet.merge_range(3, 6, 3, 7, "Klebkraft", &plain).unwrap();
    texts(sheet, 3, &["", "", "", "", "", "", "", "", "Reißdehnung", "Durchschlagspannung", "Halogen", "Farbe"]);
    texts(sheet, 3, &["", "", "", "", "", "", "", "", "", "", "", "", "Lagerfähigkeit", "Preis €/Rolle"]);
    texts(sheet, 4, &["", "", "", "", "Träger", "Gesamt", "auf Stahl", "auf Rücken"]);
    let units = ["", "", "", "", "[mm]", "[mm]", "[N/cm]", "[N/cm]", "[%]", "[kV]", "[mg/kg]", "", "[Monate]", "[€]"];
    texts(sheet, 5, &units);
    let rows: [[&str; 14]; 7] = [
        [
            "K-1",
            "gelb",
            "PET-Folie",
            "Acrylat vernetzt",
            "0,025",
            "0,047",
            "2,8",
            "2,4",
            "95",
            "≥ 5,0",
            "< 40",
            "gelb",
            "24",
            "1.234,50",
        ],
        [
            "K-2",
            "weiß",
            "Polyesterfolie",
            "Acrylat vernetzt",
            "0,050",
            "0,075¹⁾",
            "3,2 – 3,6",
            "n/a",
            "ca. 110",
            "7,5",
            "k.A.",
            "weiß",
            "18",
            "",
        ],
        [
            "K-3*",
            "mit Harz",
            "PET",
            "Kautschuk",
            "0,025",
            "0,065*",
            "2,5",
            "-",
            "70",
            "6,5",
            "-",
            "bernstein",
            "12",
            "",
        ],
        ["K-4", "Tausend?", "PET", "Kautschuk", "1.234", "0,08", "3,2", "2,4", "90", "5", "20", "grün", "24", ""],
        [
            "K-5",
            "Einheiten",
            "PET",
            "Kautschuk",
            "",
            "0,08",
            "3,2 N/cm",
            "52 oz/in",
            "90",
            "5 kV/mm",
            "20",
            "grün",
            "24",
            "",
        ],
        ["K-6", "fremd", "Wolle", "Honig", "0,05", "0,08", "3,2", "2,4", "90", "≤ 5", "20", "grün", "24", ""],
        ["S 1", "fast gleich", "PET", "Kautschuk", "0,05", "0,08", "3,2", "2,4", "90", "5", "20", "grün", "24", ""],
    ];
    for (number, cells) in rows.iter().enumerate() {
        texts(sheet, 7 + u32::try_from(number).unwrap(), cells);
    }
    let date = Format::new().set_num_format("d.m.yyyy");
    sheet.write_with_format(11, 4, 46145.0, &date).unwrap();
    texts(sheet, 15, &["¹⁾ gemessen nach 24 h"]);
    texts(sheet, 16, &["*", "Sonderanfertigung"]);
    texts(sheet, 17, &["Alle Angaben ohne Gewähr."]);
    sheet.set_column_hidden(12).unwrap();
    sheet.set_row_hidden(8).unwrap();
    book.save(path).unwrap();
}

#[test]
fn a_german_list_is_guessed_and_every_row_accounted_for() {
    let story = Story::of(SMALL);
    german(&story.root().join("liste.xlsx"));
    let told = story.lapwise(&["import", "liste.xlsx", "--basis", "invented", "--dry-run"]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.out, @r#"
    liste.xlsx, sheet Klebebänder into tapes.csv
    Map not written: liste.map.toml

      column  head                  goes to              unit                   certainty
      A       Artikel-Nr.           tape                                        certain
      B       Bezeichnung           name                                        certain
      C       Träger                backing                                     certain
      D       Klebstoff             adhesive                                    certain
      E       Dicke Träger          backing_thickness    mm, decimal comma      certain
      F       Dicke Gesamt          total_thickness      mm, decimal comma      certain
      G       Klebkraft auf Stahl   adhesion             N/cm, decimal comma    certain
      H       Klebkraft auf Rücken  adhesion_to_backing  N/cm, decimal comma    certain
      I       Reißdehnung           elongation           %, decimal comma       certain
      J       Durchschlagspannung   breakdown            kV, decimal comma      certain
      K       Halogen               halogen              mg/kg, decimal comma   certain
      L       Farbe                 colour                                      certain
      M       Lagerfähigkeit        shelf_life           Monate, decimal comma  certain, hidden
      N       Preis €/Rolle [€]     left out                                    unmatched
      in every row: basis = invented
      in every row: source = import-liste
      in every row: status = active

    row 8: K-1 added, revision 1
      breakdown `≥ 5,0` in the table: the limit stands
      halogen `< 40` in the table: the limit stands
      shelf_life `24 Monate` in the table

    row 9: K-2 added, revision 1
      the row is hidden in the sheet
      adhesion `3,2 – 3,6` in the table, taken as the 5th and 95th percentile; the value is their middle: facts.csv
      total_thickness footnote ¹⁾ in the table
      elongation `ca. 110` in the table
      shelf_life `18 Monate` in the table

    row 10: K-3 added, revision 1
      `K-3*`: the footnote mark was taken off
      total_thickness footnote * in the table
      shelf_life `12 Monate` in the table

    Not rows of the table:
      row 16, one cell alone: ¹⁾ gemessen nach 24 h
      row 17, a footnote: * | Sonderanfertigung
      row 18, one cell alone: Alle Angaben ohne Gewähr.

    7 rows: 3 added, 0 revised, 0 unchanged, 4 refused; nothing was written
    Next: mend the table or liste.map.toml, then the same without --dry-run
    "#);
    assert!(!story.root().join("liste.map.toml").exists());

    let before = fs::read_to_string(story.data().join("tapes.csv")).unwrap();
    let (_, document) = import(&story, &["liste.xlsx", "--basis", "invented"]);
    assert_eq!(counts(&document), [7, 3, 0, 0, 4]);
    let after = fs::read_to_string(story.data().join("tapes.csv")).unwrap();
    for line in before.lines() {
        assert!(after.contains(line), "a line of the data was lost: {line}");
    }
    assert_eq!(cell(&story, "tapes.csv", "K-1", "total_thickness"), "0.047 mm");
    assert_eq!(cell(&story, "tapes.csv", "K-1", "breakdown"), "5.0 kV");
    assert_eq!(cell(&story, "tapes.csv", "K-1", "shelf_life"), "2 a");
    assert_eq!(cell(&story, "tapes.csv", "K-2", "elongation"), "110 %");
    assert_eq!(cell(&story, "tapes.csv", "K-2", "adhesion"), "");
    assert_eq!(cell(&story, "tapes.csv", "K-3", "halogen"), "");
    assert!(cell(&story, "tapes.csv", "K-1", "x_from").starts_with("liste.xlsx sheet Klebebänder: "));
    assert!(cell(&story, "tapes.csv", "K-1", "x_from").contains("breakdown J8"));
    assert!(cell(&story, "tapes.csv", "K-1", "note").contains("breakdown `≥ 5,0` in the table: the limit stands"));
    insta::assert_snapshot!(
        row(&story, "facts.csv", "K-2"),
        @r#"
        K-2,adhesion,3.4 N/cm,3.2 N/cm,3.6 N/cm,,,invented,import-liste,"`3,2 – 3,6` in the table, taken as the 5th and 95th percentile; the value is their middle",liste.xlsx sheet Klebebänder: value G9
        "#
    );
    whole(&story);
    // The same again: nothing moves, the refused stay refused.
    let (_, again) = import(&story, &["liste.xlsx", "--basis", "invented"]);
    assert_eq!(counts(&again), [7, 0, 0, 3, 4]);
    assert_eq!(again["files"].as_array().unwrap().len(), 0);
    assert_eq!(fs::read_to_string(story.data().join("tapes.csv")).unwrap(), after);
}

#[test]
fn every_refusal_names_the_cell_and_asks() {
    let story = Story::of(SMALL);
    german(&story.root().join("liste.xlsx"));
    let told = story.lapwise(&["import", "liste.xlsx", "--basis", "invented", "--dry-run"]);
    insta::assert_snapshot!(told.err, @r#"

    liste.xlsx sheet Klebebänder row 11, column E `Dicke Träger`
      found   `1.234`, which is 1234 or 1.234
      needed  one reading
      do      is it 1234? then state `thousands = "point"` for `Dicke Träger` in liste.map.toml; is it 1.234? then `decimal = "point"`
      (value-ambiguous)

    liste.xlsx sheet Klebebänder row 12, column E `Dicke Träger`
      found   the date 2026-05-03
      needed  a length
      do      the spreadsheet took what was typed for a date; type it again in a cell of format text
      (value-type)

    liste.xlsx sheet Klebebänder row 12, column J `Durchschlagspannung`
      found   `5 kV/mm`, with the unit `kV/mm`
      needed  a voltage
      do      write a voltage, such as `5.5 kV`
      (unit-kind)

    liste.xlsx sheet Klebebänder row 13, column C `Träger`
      found   `Wolle`
      needed  a material of kind backing in materials.csv
      do      is it polyester-film? then say so in liste.map.toml with `words = [["Wolle", "polyester-film"]]` for `Träger`
      (reference-unknown)

    liste.xlsx sheet Klebebänder row 13, column D `Klebstoff`
      found   `Honig`
      needed  a material of kind adhesive in materials.csv
      do      which is meant: acrylic-crosslinked, rubber-resin? say so in liste.map.toml with `words = [["Honig", "acrylic-crosslinked"]]` for `Klebstoff`
      (reference-unknown)

    liste.xlsx sheet Klebebänder row 13, column J `Durchschlagspannung`
      found   `≤ 5`, a limit and not a number
      needed  a number that can be worked with
      do      the limit is not the cautious number here: ask for the measured value, or write the number you stand by
      (value-ambiguous)

    liste.xlsx sheet Klebebänder row 14, column A `Artikel-Nr.`
      found   `S 1`, and the data hold `S-1`
      needed  keys that nobody can take for one another
      do      if it is the same tape, write `S-1`; if not, give it another key
      (key-nearly)
    "#);
}

#[test]
fn answers_go_into_the_map() {
    let story = Story::of(SMALL);
    german(&story.root().join("liste.xlsx"));
    import(&story, &["liste.xlsx", "--basis", "invented"]);
    let path = story.root().join("liste.map.toml");
    let map = fs::read_to_string(&path).unwrap();
    assert!(map.contains("schema = \"lapwise/import-map/1\""));
    let head = "head = \"Dicke Träger\"\nto = \"backing_thickness\"   # certain\nunit = \"mm\"\ndecimal = \"comma\"\n";
    assert!(map.contains(head), "{map}");
    // 1.234 means 1234; Wolle and Honig are materials of the folder after all.
    let map = map.replace(head, &format!("{head}thousands = \"point\"\n"));
    let map = map.replace("    [\"PET\", ", "    [\"Wolle\", \"polyester-film\"],\n    [\"PET\", ");
    let map = map.replace("    [\"Kautschuk\", ", "    [\"Honig\", \"rubber-resin\"],\n    [\"Kautschuk\", ");
    fs::write(&path, map).unwrap();
    let (_, document) = import(&story, &["liste.xlsx", "--map", "liste.map.toml"]);
    assert_eq!(cell(&story, "tapes.csv", "K-4", "backing_thickness"), "1234 mm");
    // K-6 still claims at most a voltage, which no one can work with.
    assert_eq!(counts(&document), [7, 1, 0, 3, 3]);
    assert_eq!(document["map_is"], "read");
}

/// French, semicolons, code page 1252.
const FRENCH: &str = "\
Référence;Désignation;Support;Adhésif;Épaisseur (µm);Résistance à la traction (N/cm);Allongement à la rupture;Pouvoir adhésif sur acier N/25 mm;Rigidité diélectrique (kV);Statut;Remarque\r
R 1;Film jaune;film polyester;acrylique réticulé;65;42,5;95 %;8,5;5,0;actif;rien\r
R 2;Film blanc;film polyester;caoutchouc;1 050;1.050;0,95;7;4,8;abandonné;\r
R 3;;film PET;caoutchouc;180 ± 10;250;5 à 8 %;env. 9;non mesuré;actif;\"voir; note\"\r
\r
Page 2;;;;;;;;;;\r
Référence;Désignation;Support;Adhésif;Épaisseur (µm);Résistance à la traction (N/cm);Allongement à la rupture;Pouvoir adhésif sur acier N/25 mm;Rigidité diélectrique (kV);Statut;Remarque\r
R 4;x;film PET;caoutchouc;=;250;5 %;9;3;peut-être;\r
R 1;Film jaune;film polyester;acrylique réticulé;65;42,5;95 %;8,5;5,0;actif;rien\r
R 1;Film jaune;film polyester;acrylique réticulé;66;42,5;95 %;8,5;5,0;actif;rien\r
";

#[test]
fn a_french_text_table_in_a_western_code_page() {
    let story = Story::of(SMALL);
    let bytes: Vec<u8> = FRENCH.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    fs::write(story.root().join("bandes.csv"), bytes).unwrap();
    let (told, document) = import(&story, &["bandes.csv", "--basis", "invented"]);
    assert_eq!(told.code, 1);
    assert_eq!(counts(&document), [6, 2, 0, 1, 3]);
    assert_eq!(document["beside"].as_array().unwrap().len(), 2);
    assert_eq!(document["beside"][1]["why"], "the head again");
    let wanted = [
        (3, "unit-missing"),
        (3, "value-ambiguous"),
        (8, "number-unreadable"),
        (8, "word-unknown"),
        (10, "key-duplicate"),
    ];
    let mut found = codes(&document);
    found.sort();
    assert_eq!(found, wanted.map(|(line, code)| (line, code.to_owned())));
    assert_eq!(cell(&story, "tapes.csv", "R 1", "adhesion"), "8.5 N/25 mm");
    assert_eq!(cell(&story, "tapes.csv", "R 3", "total_thickness"), "");
    let facts = fs::read_to_string(story.data().join("facts.csv")).unwrap();
    assert!(facts.contains("R 3,total_thickness,180 um,170 um,190 um,"), "{facts}");
    assert!(facts.contains("R 3,elongation,6.5 %,5 %,8 %,"), "{facts}");
    whole(&story);
}

/// A list of 5 000 rows, in inches, with numbers that carry their unit or per cent in the number format.
fn long(path: &Path, rows: u32) {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    texts(
        sheet,
        0,
        &[
            "Product",
            "Backing",
            "Adhesive",
            "Thickness (mils)",
            "Tensile strength, lb/in",
            "Elongation",
            "Dielectric breakdown",
            "Shelf life (months)",
            "Warehouse",
        ],
    );
    let percent = Format::new().set_num_format("0%");
    let volts = Format::new().set_num_format("0.0\" kV\"");
    for row in 1..=rows {
        texts(sheet, row, &[&format!("L-{row:04}"), "polyester film", "crosslinked acrylic"]);
        sheet.write(row, 3, 2.0 + f64::from(row % 17) / 10.0).unwrap();
        match row % 100 {
            // One row in a hundred is wrong in one of two ways.
            13 => sheet.write(row, 4, "forty").unwrap(),
            57 => sheet.write(row, 4, "1,234").unwrap(),
            _ => sheet.write(row, 4, 20.0 + f64::from(row % 40)).unwrap(),
        };
        sheet.write_with_format(row, 5, 0.5 + f64::from(row % 60) / 100.0, &percent).unwrap();
        sheet.write_with_format(row, 6, 4.0 + f64::from(row % 40) / 10.0, &volts).unwrap();
        sheet.write(row, 7, 12).unwrap();
        sheet.write(row, 8, "W 3").unwrap();
    }
    book.save(path).unwrap();
}

#[test]
fn five_thousand_rows() {
    let story = Story::of(SMALL);
    let path = story.root().join("long.xlsx");
    long(&path, 5000);
    let (_, document) = import(&story, &["long.xlsx", "--basis", "invented"]);
    assert_eq!(counts(&document), [5000, 4900, 0, 0, 100]);
    assert_eq!(cell(&story, "tapes.csv", "L-0001", "elongation"), "51 %");
    assert_eq!(cell(&story, "tapes.csv", "L-0001", "breakdown"), "4.1 kV");
    assert_eq!(cell(&story, "tapes.csv", "L-0007", "tensile"), "27 lbf/in");
    assert_eq!(cell(&story, "tapes.csv", "L-0007", "total_thickness"), "2.7 mil");
    assert_eq!(document["columns"][8]["to"], Value::Null);
    whole(&story);
    // The refused rows are told in groups, all of them.
    let told = story.lapwise(&["import", "long.xlsx", "--dry-run"]);
    assert!(told.err.lines().count() < 20, "{}", told.err);
    assert!(told.err.contains("and the same in rows 114, 214, 314,"), "{}", told.err);
    assert!(told.out.contains("5000 rows: 0 added, 0 revised, 4900 unchanged, 100 refused; nothing was written"));
}

/// A decimal comma between commas moves all that stands behind it; a quote that stays open swallows it.
#[test]
fn a_line_that_is_not_as_long_as_the_head() {
    let story = Story::of(SMALL);
    let head = "Tape,Name,Backing,Adhesive,Tensile [N/cm],Elongation [%],Breakdown [kV]";
    let one = "T-1,a,polyester film,crosslinked acrylic,78,120,4.5";
    let comma = format!("{head}\n{one}\nT-2,b,polyester film,crosslinked acrylic,42,5,110,5.0\n");
    fs::write(story.root().join("comma.csv"), comma).unwrap();
    let (_, document) = import(&story, &["comma.csv", "--basis", "invented"]);
    assert_eq!(counts(&document), [2, 1, 0, 0, 1]);
    assert_eq!(document["diagnostics"][0]["code"], "row-ragged");
    let open = format!("{head}\nT-3,\"open,polyester film,crosslinked acrylic,78,120,4.5\n{one}\n");
    fs::write(story.root().join("open.csv"), open).unwrap();
    let told = story.lapwise(&["import", "open.csv", "--basis", "invented"]);
    assert!(told.code == 1 && told.err.contains("open.csv line 2") && told.err.contains("double quote"), "{told:?}");
}

/// An `.ods` sheet as small as the standard allows, with a hidden column and shares shown as per cent.
fn open_document(path: &Path, rows: &str) {
    let mut zip = zip::ZipWriter::new(fs::File::create(path).unwrap());
    let stored = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    zip.start_file("mimetype", stored).unwrap();
    zip.write_all(b"application/vnd.oasis.opendocument.spreadsheet").unwrap();
    zip.start_file("META-INF/manifest.xml", stored).unwrap();
    zip.write_all(
        br#"<?xml version="1.0"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>"#,
    )
    .unwrap();
    zip.start_file("content.xml", stored).unwrap();
    let content = format!(
        r#"<?xml version="1.0" encoding="UTF-8"?><office:document-content
        xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
        xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
        xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>
        <table:table table:name="Nastri"><table:table-column table:number-columns-repeated="3"/><table:table-column
        table:visibility="collapse"/>{rows}</table:table></office:spreadsheet></office:body></office:document-content>"#
    );
    zip.write_all(content.as_bytes()).unwrap();
    zip.finish().unwrap();
}

#[test]
fn an_italian_open_document_sheet() {
    let story = Story::of(SMALL);
    let text =
        |t: &str| format!(r#"<table:table-cell office:value-type="string"><text:p>{t}</text:p></table:table-cell>"#);
    let share = |v: &str| format!(r#"<table:table-cell office:value-type="percentage" office:value="{v}"/>"#);
    let number = |v: &str| format!(r#"<table:table-cell office:value-type="float" office:value="{v}"/>"#);
    let row = |cells: &[String]| format!("<table:table-row>{}</table:table-row>", cells.concat());
    let rows = [
        row(&["Codice", "Supporto", "Adesivo", "Allungamento a rottura", "Spessore µm", "Colore"].map(text)),
        row(&[text("N 1"), text("film PET"), text("gomma"), share("0.9"), number("52.5"), text("giallo")]),
        row(&[text("N 2"), text("film PET"), text("gomma"), number("0.9"), text("52,5"), text("bianco")]),
    ];
    open_document(&story.root().join("nastri.ods"), &rows.concat());
    let (_, document) = import(&story, &["nastri.ods", "--basis", "invented"]);
    assert_eq!(counts(&document), [2, 1, 0, 0, 1]);
    assert_eq!(document["columns"][3]["hidden"], true);
    assert_eq!(cell(&story, "tapes.csv", "N 1", "elongation"), "90 %");
    assert_eq!(cell(&story, "tapes.csv", "N 1", "total_thickness"), "52.5 um");
    assert_eq!(cell(&story, "tapes.csv", "N 1", "colour"), "yellow");
    assert_eq!(codes(&document), [(3, "unit-missing".to_owned())]);
    whole(&story);
}

/// The catalogue as a user has it in a spreadsheet: every cell a text, but one that was edited.
fn exported(story: &Story, path: &Path, edit: impl Fn(&str, &str, &str) -> Option<f64>) {
    let text = fs::read_to_string(story.data().join("tapes.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().unwrap().clone();
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    texts(sheet, 0, &head.iter().collect::<Vec<_>>());
    for (number, record) in reader.records().flatten().enumerate() {
        let row = u32::try_from(number + 1).unwrap();
        for (column, cell) in record.iter().enumerate() {
            let at = u16::try_from(column).unwrap();
            match edit(&record[0], &head[column], cell) {
                Some(number) => sheet.write(row, at, number).map(|_| ()).unwrap(),
                None if cell.is_empty() => {}
                None => sheet.write(row, at, cell).map(|_| ()).unwrap(),
            }
        }
    }
    book.save(path).unwrap();
}

#[test]
fn one_edited_cell_of_an_exported_catalogue_is_one_revision() {
    for folder in [SMALL, crate::story::SHIPPED] {
        let story = Story::of(folder);
        let path = story.root().join("tapes.xlsx");
        let first = if folder == SMALL { "S-2" } else { "H-014" };
        // Whole numbers come back as numbers, as spreadsheets make them.
        exported(&story, &path, |_, column, cell| (column == "revision").then(|| cell.parse().unwrap()));
        let (told, document) = import(&story, &["tapes.xlsx"]);
        assert_eq!(told.code, 0, "{}", told.err);
        let [rows, added, revised, unchanged, refused] = counts(&document);
        assert_eq!((added, revised, refused, unchanged), (0, 0, 0, rows));

        let before = fs::read_to_string(story.data().join("tapes.csv")).unwrap();
        let old = row(&story, "tapes.csv", first);
        let held = cell(&story, "tapes.csv", first, "revision");
        exported(&story, &path, |tape, column, _| (tape == first && column == "relative_cost").then_some(2.5));
        let (told, document) = import(&story, &["tapes.xlsx"]);
        assert_eq!(told.code, 0, "{}", told.err);
        assert_eq!(counts(&document), [rows, 0, 1, rows - 1, 0]);
        let revised: Vec<&Value> =
            document["rows"].as_array().unwrap().iter().filter(|r| r["fate"] == "revised").collect();
        assert_eq!(revised[0]["key"], first);
        let next = (held.parse::<u32>().unwrap() + 1).to_string();
        assert_eq!(revised[0]["revision"], next.as_str());
        assert_eq!(
            revised[0]["differs"],
            serde_json::json!([{"column": "relative_cost", "before": cell_of(&before, first, "relative_cost"), "after": "2.5"}])
        );
        assert_eq!(cell(&story, "tapes.csv", first, "revision"), next);
        assert_eq!(
            cell(&story, "tapes.csv", first, "x_from"),
            "tapes.xlsx sheet Sheet1: relative_cost AY".to_owned() + &line_of(&before, first)
        );
        // The older row is kept, with what took its place.
        let kept = fs::read_to_string(story.data().join("superseded/tapes.csv")).unwrap();
        assert_eq!(kept.lines().count(), 2);
        assert_eq!(kept.lines().nth(1).unwrap(), format!("{old},{next}"));
        // All other lines are what they were, but for the new column.
        let after = fs::read_to_string(story.data().join("tapes.csv")).unwrap();
        for line in before.lines().filter(|line| !line.starts_with(first)).skip(1) {
            assert!(after.lines().any(|l| l == format!("{line},")), "{line}");
        }
        whole(&story);
    }
}

fn cell_of(text: &str, key: &str, column: &str) -> String {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let at = reader.headers().unwrap().iter().position(|head| head == column).unwrap();
    reader.records().flatten().find(|r| &r[0] == key).unwrap()[at].to_owned()
}

/// The row in the sheet, which is the line of a table without cells of several lines.
fn line_of(text: &str, key: &str) -> String {
    (text.lines().position(|line| line.starts_with(&format!("{key},"))).unwrap() + 1).to_string()
}

#[test]
fn revisions_go_up_and_never_back() {
    let story = Story::of(SMALL);
    let list = |revision: &str, thickness: &str| {
        fs::write(
            story.root().join("list.csv"),
            format!("tape,revision,total_thickness\nS-2,{revision},{thickness}\n"),
        )
        .unwrap();
    };
    // The same number in another unit is no change.
    list("3", "0.105 mm");
    let (_, document) = import(&story, &["list.csv"]);
    assert_eq!(counts(&document), [1, 0, 0, 1, 0]);
    // A higher revision is taken as it is.
    list("7", "107 um");
    let (_, document) = import(&story, &["list.csv"]);
    assert_eq!(counts(&document), [1, 0, 1, 0, 0], "{document:#}");
    assert_eq!(cell(&story, "tapes.csv", "S-2", "revision"), "7");
    assert_eq!(cell(&story, "tapes.csv", "S-2", "total_thickness"), "107 um");
    // A lower one is a conflict.
    list("5", "106 um");
    let told = story.lapwise(&["import", "list.csv"]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err.trim(), @r#"
    list.csv line 2
      found   revision `5`, and the data hold revision `7`
      needed  a sheet that is not older than the data
      do      use the newer sheet; or clear the revision in the sheet if its numbers are the newer ones
      (row-conflict)
    "#);
    assert_eq!(cell(&story, "tapes.csv", "S-2", "total_thickness"), "107 um");
    whole(&story);
}

#[test]
fn facts_of_another_source_are_a_conflict_and_of_the_same_a_revision() {
    let story = Story::of(SMALL);
    let fact = |source: &str, value: &str| {
        let text = format!(
            "subject,property,value,low,high,temperature,condition,basis,source,note\npolyester-film,permittivity,{value},,,23 degC,50 Hz,from-memory,{source},\n"
        );
        fs::write(story.root().join("facts.csv"), text).unwrap();
        import(&story, &["facts.csv", "--into", "facts"]).1
    };
    let document = fact("mark-handbook", "3.3");
    assert_eq!(counts(&document), [1, 0, 0, 0, 1]);
    assert_eq!(codes(&document), [(2, "row-conflict".to_owned())]);
    let document = fact("iec-60674-3-2", "3.3");
    assert_eq!(counts(&document), [1, 0, 1, 0, 0]);
    let facts = fs::read_to_string(story.data().join("facts.csv")).unwrap();
    assert!(
        facts.contains("polyester-film,permittivity,3.3,,,23 degC,50 Hz,from-memory,iec-60674-3-2,,facts.csv: "),
        "{facts}"
    );
    let kept = fs::read_to_string(story.data().join("superseded/facts.csv")).unwrap();
    assert!(
        kept.ends_with("polyester-film,permittivity,3.25,3.15,3.35,23 degC,50 Hz,from-memory,iec-60674-3-2,,3.3\n"),
        "{kept}"
    );
    whole(&story);
}

#[test]
fn properties_side_by_side_become_facts() {
    let story = Story::of(SMALL);
    let text = "Material;Dichte (g/cm³);Viskosität [mPa·s];Flammpunkt °C;Temperatur °C\n\
                toluene;0,867;0,56;4;25\nMineralöl;0,88;10;140;40\n";
    fs::write(story.root().join("stoffe.csv"), text).unwrap();
    let (_, document) = import(&story, &["stoffe.csv", "--basis", "from-memory", "--into", "facts"]);
    assert_eq!(document["into"], "facts");
    let [rows, _, _, _, refused] = counts(&document);
    assert_eq!((rows, refused), (2, 1), "{document:#}");
    let facts = fs::read_to_string(story.data().join("facts.csv")).unwrap();
    assert!(facts.contains("toluene,viscosity,0.56 mPa s,,,25 degC,,from-memory,import-stoffe,"), "{facts}");
    whole(&story);
}

#[test]
fn nothing_is_written_where_the_data_would_not_load() {
    let story = Story::of(SMALL).change("criteria.toml", "measure = \"pd-margin\"", "measure = \"pd-marign\"");
    fs::write(story.root().join("list.csv"), "tape,total_thickness\nS-2,1 mm\n").unwrap();
    let before = fs::read_to_string(story.data().join("tapes.csv")).unwrap();
    let told = story.lapwise(&["import", "list.csv"]);
    assert_eq!(told.code, 1);
    assert!(told.err.contains("pd-marign"), "{told:?}");
    assert_eq!(fs::read_to_string(story.data().join("tapes.csv")).unwrap(), before);
    assert!(!story.root().join("list.map.toml").exists());
}

#[test]
fn a_question_about_the_whole_table_is_asked_once() {
    let story = Story::of(SMALL);
    fs::write(story.root().join("new.csv"), "tape,total_thickness\nT-1,1 mm\nT-2,1 mm\nT-3,1 mm\n").unwrap();
    let told = story.lapwise(&["import", "new.csv"]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err.trim(), @r#"
    new.csv line 2
      found   no column and no constant
      needed  `backing`
      do      name the column in new.map.toml, or state `backing = "…"` under [constants]
      (column-missing)
      and the same in rows 3–4

    new.csv line 2
      found   no column and no constant
      needed  `adhesive`
      do      name the column in new.map.toml, or state `adhesive = "…"` under [constants]
      (column-missing)
      and the same in rows 3–4

    new.csv line 2
      found   no column and no constant
      needed  `basis`
      do      how good are these numbers? add --basis published (or measured, estimated, from-memory)
      (column-missing)
      and the same in rows 3–4
    "#);
}

#[test]
fn a_faulty_map_is_told_all_at_once() {
    let story = Story::of(SMALL);
    fs::write(story.root().join("list.csv"), "tape,total_thickness\nS-2,1 mm\n").unwrap();
    let map = "schema = \"lapwise/import-map/9\"\n[table]\ninto = \"tapes\"\nhead = [2, 1]\n[[column]]\nhead = \"tape\"\n\
               to = \"tapes\"\n[[column]]\nhead = \"total_thickness\"\nto = \"total_thickness\"\nunit = \"N/cm\"\n\
               decimal = \"dot\"\nwords = [\"a\"]\nspare = 1\n";
    fs::write(story.root().join("list.map.toml"), map).unwrap();
    let told = story.lapwise(&["import", "list.csv"]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err.trim(), @r#"
    list.map.toml line 1, key schema
      found   `lapwise/import-map/9`
      needed  `lapwise/import-map/1`
      do      let `lapwise import` write a new map, and carry over what you changed
      (format-unknown)

    list.map.toml line 4, key table.head
      found   something else
      needed  the first and the last row of the head, at most four rows
      do      write them as `head = [3, 4]`
      (value-type)

    list.map.toml line 7, key column[1].to
      found   `tapes`
      needed  a column of tapes.csv, a property, or a name that starts with `x_`
      do      did you mean `tape`?
      (word-unknown)

    list.map.toml line 11, key column[2].unit
      found   the unit `N/cm`
      needed  a unit of a length
      do      write the unit alone, as in `0.18 mm`
      (unit-kind)

    list.map.toml line 12, key column[2].decimal
      found   `dot`
      needed  a mark
      do      write one of: point, comma
      (word-unknown)

    list.map.toml line 13, key column[2].words
      found   something else
      needed  a list of pairs of texts
      do      write `words = [["gelb", "yellow"]]`
      (value-type)

    list.map.toml line 14, key column[2].spare
      found   `spare`
      needed  a key that is read
      do      write one of: decimal, head, letter, thousands, to, unit, words
      (key-unknown)
    "#);
}

#[test]
fn a_file_that_is_no_table_and_one_without_a_head() {
    let story = Story::of(SMALL);
    fs::write(story.root().join("a.xlsx"), b"PK\x03\x04 but no workbook").unwrap();
    fs::write(story.root().join("b.csv"), "1,2\n3,4\n").unwrap();
    fs::write(story.root().join("c.csv"), b"\x00\x01\x02").unwrap();
    for (file, code) in [
        ("a.xlsx", "file-unreadable"),
        ("b.csv", "column-missing"),
        ("c.csv", "file-unreadable"),
        ("d.csv", "file-missing"),
    ] {
        let told = story.lapwise(&["import", file]);
        assert_eq!(told.code, 1, "{told:?}");
        assert!(told.err.contains(&format!("({code})")), "{told:?}");
    }
}

#[test]
fn a_faulty_wording_is_told_by_check() {
    let story = Story::of(SMALL).rewrite("wordings.csv", |text| format!("{text}pet,polyester-film\nloden,woll-film\n"));
    let told = story.lapwise(&["check"]);
    assert_eq!(told.code, 1);
    assert!(told.err.contains("(key-duplicate)") && told.err.contains("(reference-unknown)"), "{}", told.err);
    fs::remove_file(story.data().join("wordings.csv")).unwrap();
    whole(&story);
}

#[test]
fn a_range_where_one_number_must_stand_is_asked_about() {
    let story = Story::of(SMALL);
    let text = "Tape;Medium;Temperature (°C);Time (h);Retained adhesion [%]\n\
                S-1;naphthenic mineral oil;60 – 70;500;90\nS-1;naphthenic mineral oil;70;500;80 – 90\nS-1;;70;500;90\nS-1;sea;70;500;90\n";
    fs::write(story.root().join("aged.csv"), text).unwrap();
    let (_, document) = import(&story, &["aged.csv", "--basis", "measured"]);
    assert_eq!(document["into"], "pairs");
    assert_eq!(counts(&document), [4, 1, 0, 0, 3]);
    let wanted = [(2, "value-ambiguous"), (4, "key-missing"), (5, "reference-unknown")];
    assert_eq!(codes(&document), wanted.map(|(line, code)| (line, code.to_owned())));
    let pairs = fs::read_to_string(story.data().join("pairs.csv")).unwrap();
    assert!(pairs.contains("adhesion_kept,85 %,80 %,90 %,70 degC,500 h,,,,measured,import-aged,"), "{pairs}");
    whole(&story);
}

/// A sheet with one column a tape is turned round; places stay those that people see, and the map says so.
#[test]
fn one_column_a_tape_is_read_like_one_row_a_tape() {
    let story = Story::of(SMALL);
    let upright = "tape,backing,adhesive,total thickness mil,tensile lb/in,adhesion N/cm\n\
                   N-1,polyester-film,acrylic,2.2,25,\"3,x\"\nN-2,polyester-film,acrylic,2.7,30,2.5\n";
    let beside = "Property,Unit,N-1,N-2\nBacking,,polyester-film,polyester-film\nAdhesive,,acrylic,acrylic\n\
                  Total thickness,mil,2.2,2.7\nTensile strength,lb/in,25,30\nAdhesion to steel,N/cm,\"3,x\",2.5\n";
    fs::write(story.root().join("upright.csv"), upright).unwrap();
    fs::write(story.root().join("beside.csv"), beside).unwrap();
    let (_, one) = import(&story, &["upright.csv", "--basis", "invented", "--dry-run"]);
    let (told, other) = import(&story, &["beside.csv", "--basis", "invented"]);
    assert_eq!((&one["turned"], &other["turned"]), (&false.into(), &true.into()));
    for (document, line, column) in [(&one, 2, "F `adhesion N/cm`"), (&other, 6, "C `Adhesion to steel`")] {
        let [fault] = document["diagnostics"].as_array().unwrap().as_slice() else { panic!("{document:#}") };
        assert_eq!((&fault["place"]["line"], &fault["place"]["column"]), (&line.into(), &column.into()));
        assert_eq!((&document["counts"]["added"], &document["counts"]["refused"]), (&1.into(), &1.into()));
    }
    assert_eq!(told.code, 1);
    assert_eq!(cell(&story, "tapes.csv", "N-2", "total_thickness"), "2.7 mil");
    let from = cell(&story, "tapes.csv", "N-2", "x_from");
    assert!(from.contains("total_thickness D4") && from.contains("adhesion D6"), "{from}");
    // The map that was kept reads the mended sheet.
    let map = fs::read_to_string(story.root().join("beside.map.toml")).unwrap();
    assert!(map.contains("turned = true") && map.contains("letter = \"row 4\""), "{map}");
    fs::write(story.root().join("beside.csv"), beside.replace("\"3,x\"", "3.1")).unwrap();
    let (told, again) = import(&story, &["beside.csv"]);
    assert_eq!((told.code, counts(&again)[0]), (0, 2), "{}", told.err);
    assert_eq!(cell(&story, "tapes.csv", "N-1", "adhesion"), "3.1 N/cm");
    whole(&story);
}
