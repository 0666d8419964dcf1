//! The readers of what comes from others or from long ago: tables, workbooks, reports, statements, entries, keys, PDF.

use std::collections::BTreeMap;
use std::path::PathBuf;

use lapwise::dossier::proof;
use lapwise::import::{self, Order, Stated, Wordings};
use lapwise::record::{Meaning, Role, Statement};
use lapwise::register::{self, Disk, Register, Scope, Signing};

use crate::feed::{Dice, PIECES, mangle, spoil};
use crate::{Corpus, Run, bombs, invented};

/// A register with one selection in it, and the texts that are spoilt.
pub(crate) struct Shelf {
    _folder: tempfile::TempDir,
    root: PathBuf,
    statement: PathBuf,
    entry: PathBuf,
}

impl Shelf {
    pub(crate) fn new() -> Shelf {
        let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
        let (root, time) = (folder.path().join("register"), "2026-11-25T00:00:00+00:00");
        let stop = |fault: lapwise::fault::Fault| -> ! { panic!("{fault}") };
        let made = Register::create(&root, false, time, Disk::default()).unwrap_or_else(|f| stop(f));
        let key = invented::key(1);
        let public = key.public_key().to_openssh().unwrap_or_default();
        made.add_key("m.sand", "M. Sand (invented)", Role::Author, &public, time).unwrap_or_else(|f| stop(f));
        let (signer, meaning) = ("m.sand", Meaning::Authored);
        let signing = Signing { signer, meaning, reason: "", time, key: &key };
        let pdf = |_: &register::Revision| Ok(b"%PDF invented\n".to_vec());
        made.sign(&invented::draft("Q-1"), None, &signing, pdf).unwrap_or_else(|f| stop(f));
        let statement = root.join("records/Q-1/r0001/statement.json");
        let entry = root.join("entries/000/000000000002.json");
        assert!(statement.is_file() && entry.is_file());
        Shelf { _folder: folder, root, statement, entry }
    }
}

const LIST: &str = "Tape,Name,Backing,Backing thickness [um],Adhesive,Adhesive thickness [um],Total thickness [um],\
    Tensile [N/cm],Elongation [%],Breakdown [kV],Colour\n\
    T-1,One,polyester film,50,crosslinked acrylic,28,78,80,110,8.0,yellow\n\
    T-2,Two,polyester film,50 – 60,rubber resin,25 ± 3,\"75,5\",≥ 40,90 %,max. 6 kV,n/a\n";

const MAP: &str = "schema = \"lapwise/import-map/1\"\n\n[table]\nfile = \"list.csv\"\ninto = \"tapes\"\nhead = [1, 1]\n\n\
    [constants]\nbasis = \"published\"\n\n[source]\nkey = \"list\"\ntitle = \"A list\"\n\n\
    [[column]]\nhead = \"Tape\"\nletter = \"A\"\nto = \"tape\"\n\n\
    [[column]]\nhead = \"Colour\"\nto = \"colour\"\nwords = [[\"gelb\", \"yellow\"]]\n\n\
    [[column]]\nhead = \"Tensile\"\nto = \"tensile\"\nunit = \"N/cm\"\ndecimal = \"comma\"\n";

/// A workbook that reads without a fault.
pub(crate) fn book() -> Vec<u8> {
    bombs::workbook(&rows(), &[])
}

fn rows() -> String {
    let row = |(at, line): (usize, &str)| {
        let cells = line.split(',').enumerate();
        let cells: String = cells.map(|(n, text)| bombs::cell(&format!("{}{}", letter(n), at + 1), text)).collect();
        format!(r#"<row r="{}">{cells}</row>"#, at + 1)
    };
    LIST.lines().enumerate().map(row).collect()
}

fn letter(at: usize) -> char {
    char::from(b'A' + u8::try_from(at).unwrap_or(0).min(25))
}

pub(crate) fn text_table<'c>(dice: &mut Dice, _: &'c Corpus) -> Run<'c> {
    let bytes = mangle(dice, LIST);
    (format!("{bytes:?}"), Box::new(move || drop(import::read_sheets("list.csv", &bytes))))
}

/// The bytes of the archive spoilt.
pub(crate) fn workbook<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let mut bytes = c.workbook.clone();
    for _ in 0..=dice.below(3) {
        if bytes.is_empty() {
            break;
        }
        let at = dice.below(bytes.len());
        match dice.below(3) {
            0 => bytes.truncate(at.max(2)),
            1 => drop(bytes.drain(at..(at + dice.below(30)).min(bytes.len()))),
            _ => bytes[at] = dice.next() as u8,
        }
    }
    (format!("{bytes:?}"), Box::new(move || drop(import::read_sheets("list.xlsx", &bytes))))
}

/// The text of a sheet spoilt, in an archive that is whole.
pub(crate) fn workbook_part<'c>(dice: &mut Dice, _: &'c Corpus) -> Run<'c> {
    let open = "<table:table-row table:number-rows-repeated=\"2\"><table:table-cell office:value-type=\"string\"><text:p>\
        x</text:p></table:table-cell><table:table-cell table:number-columns-repeated=\"3\" office:value-type=\"float\" \
        office:value=\"1.5\"/></table:table-row>";
    let (input, bytes) = if dice.below(2) == 0 {
        let sheet = spoil(dice, &rows());
        (sheet.clone(), bombs::workbook(&sheet, &[]))
    } else {
        let sheet = spoil(dice, open);
        (sheet.clone(), bombs::open_document(&sheet))
    };
    (input, Box::new(move || drop(import::read_sheets("list.xlsx", &bytes))))
}

fn stated() -> Stated {
    let constants = BTreeMap::from([("basis", "published".to_owned())]);
    Stated { sheet: None, target: None, constants }
}

/// What is read is guessed at and brought in, and what is guessed can be written and read again.
pub(crate) fn import<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let input = spoil(dice, LIST);
    (
        input.clone(),
        Box::new(move || {
            let Ok(sheets) = import::read_sheets("list.csv", input.as_bytes()) else { return };
            let Ok(wordings) = Wordings::read(&c.folder, &c.catalogue) else { return };
            let Ok(map) = import::guess(&sheets, &stated(), &c.catalogue, &wordings) else { return };
            let Ok(sheet) = import::sheet_of(&sheets, &map) else { return };
            let order = Order { sheet: &sheet, map: &map, map_name: "list.map.toml", sha256: "00" };
            let _ = import::import(&c.folder, &c.catalogue, order, |_| Ok(String::new()));
            let text = import::write_map(&map);
            let read = import::read_map("list.map.toml", &text);
            assert!(read.is_ok(), "a map that was written does not read\n{text}");
        }),
    )
}

pub(crate) fn map_file<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let input = spoil(dice, MAP);
    (
        input.clone(),
        Box::new(move || {
            let Ok((mut map, letters)) = import::read_map("list.map.toml", &input) else { return };
            let Ok(sheets) = import::read_sheets("list.csv", LIST.as_bytes()) else { return };
            let Ok(sheet) = import::fit(&sheets, &mut map, &letters) else { return };
            let order = Order { sheet: &sheet, map: &map, map_name: "list.map.toml", sha256: "00" };
            let _ = import::import(&c.folder, &c.catalogue, order, |_| Ok(String::new()));
        }),
    )
}

pub(crate) fn report<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let mut word = |good: &str| if dice.below(4) == 0 { dice.of(PIECES).to_owned() } else { good.to_owned() };
    let report = import::Report {
        subject: word("S-1"),
        is_tape: true,
        medium: word("air"),
        property: word("adhesion_kept"),
        effect: word(""),
        value: word("0.9"),
        low: word(""),
        high: word(""),
        before: word(""),
        after: word(""),
        cells: vec![("temperature", word("100 degC")), ("duration", word("164 h")), ("humidity", word(""))],
        basis: word("measured"),
        source: word(""),
        number: word("26-041"),
        laboratory: word("A laboratory"),
        title: word(""),
        date: word("2026-11-20"),
        file: None,
        note: word(""),
        revises: false,
    };
    let input = format!("{report:?}");
    (input, Box::new(move || drop(import::enter(&c.folder, &c.catalogue, &report, |_| Ok(String::new())))))
}

fn text(path: &PathBuf) -> String {
    std::fs::read_to_string(path).unwrap_or_default()
}

pub(crate) fn statement<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let input = spoil(dice, &text(&c.shelf.statement));
    (
        input.clone(),
        Box::new(move || {
            if let Ok(statement) = serde_json::from_str::<Statement>(&input) {
                let _ = lapwise::record::canonical(&statement);
            }
        }),
    )
}

/// A register with a spoilt entry is read and verified, and says that it is spoilt.
pub(crate) fn entry<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let whole = text(&c.shelf.entry);
    let input = spoil(dice, &whole);
    (
        input.clone(),
        Box::new(move || {
            invented::overwrite(&c.shelf.entry, input.as_bytes());
            let report = Register::open(&c.shelf.root, Disk::default()).and_then(|r| r.verify(&Scope::All));
            let unnoticed = report.is_ok_and(|report| report.flaws.is_empty());
            invented::overwrite(&c.shelf.entry, whole.as_bytes());
            assert_eq!(unnoticed, input == whole, "a spoilt entry passes");
        }),
    )
}

pub(crate) fn key<'c>(dice: &mut Dice, _: &'c Corpus) -> Run<'c> {
    let input = spoil(dice, &invented::key(1).public_key().to_openssh().unwrap_or_default());
    let private =
        spoil(dice, &invented::key(1).to_openssh(ssh_key::LineEnding::LF).map_or(String::new(), |t| t.to_string()));
    (
        format!("{input}\n{private}"),
        Box::new(move || {
            let _ = register::public(&input);
            let _ = register::private(&private, || Ok(String::new()));
        }),
    )
}

pub(crate) fn pdf<'c>(dice: &mut Dice, _: &'c Corpus) -> Run<'c> {
    let whole = bombs::pdf("provenance.json", b"{\"schema\": \"lapwise/provenance/1\"}", "");
    let bytes = mangle(dice, &String::from_utf8_lossy(&whole));
    (String::from_utf8_lossy(&bytes).into_owned(), Box::new(move || drop(proof::prove(&bytes))))
}
