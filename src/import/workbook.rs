//! Files to sheets: workbooks (`.xlsx`, `.ods`) and text tables.

use std::cell;
use std::io::Cursor;
use std::panic::{self, UnwindSafe};
use std::sync::Once;

use calamine::{Data, Reader, SheetVisible, Sheets};

use crate::evidence::Place;
use crate::fault::{Code, Fault};

use super::package::{self, Extra};
use super::sheet::{Cell, Merge, Sheet, Value};
use super::{delimited, extent, units};

/// The sheets of a file, by its bytes; what it is shows in them, not in its name.
///
/// # Errors
/// The file is neither a workbook nor text, is damaged, or is locked with a password.
pub fn read(file: &str, bytes: &[u8]) -> Result<Vec<Sheet>, Fault> {
    let zipped = bytes.starts_with(b"PK");
    // The old binary format and a workbook locked with a password look alike from outside, and neither tells its size.
    let compound = bytes.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]);
    if !zipped && !compound {
        return Ok(vec![delimited::read(file, bytes)?]);
    }
    extent::check(bytes).map_err(|fault| fault.at(Place::file(file)))?;
    let refuse = |error: String| {
        Fault::new(
            Code::FileUnreadable,
            format!("a workbook that cannot be read: {error}"),
            "a workbook that opens without a password",
            "open it in a spreadsheet program and save it as .xlsx or .ods, without a password",
        )
        .at(Place::file(file))
    };
    if compound {
        return Err(refuse("it is of the old binary form, or locked with a password".to_owned()));
    }
    contained(|| unfold(file, bytes, &refuse)).unwrap_or_else(|| Err(refuse("it is damaged".to_owned())))
}

thread_local! {
    /// True while this thread unfolds a workbook.
    static UNFOLDING: cell::Cell<bool> = const { cell::Cell::new(false) };
}

/// Runs what a damaged file may break: it must not take this program with it, nor be told beside the fault. None if it
/// broke. What goes wrong on another thread in the meantime is told as ever.
fn contained<T>(run: impl FnOnce() -> T + UnwindSafe) -> Option<T> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let told = panic::take_hook();
        panic::set_hook(Box::new(move |about| {
            if !UNFOLDING.get() {
                told(about);
            }
        }));
    });
    UNFOLDING.set(true);
    let done = panic::catch_unwind(run).ok();
    UNFOLDING.set(false);
    done
}

/// The sheets of a workbook.
fn unfold(file: &str, bytes: &[u8], refuse: &impl Fn(String) -> Fault) -> Result<Vec<Sheet>, Fault> {
    let mut book = calamine::open_workbook_auto_from_rs(Cursor::new(bytes)).map_err(|e| refuse(e.to_string()))?;
    let extras = package::extras(bytes);
    let blank = Extra::default();
    let mut sheets = Vec::new();
    for about in book.sheets_metadata().to_vec() {
        if about.typ != calamine::SheetType::WorkSheet {
            continue;
        }
        let range = book.worksheet_range(&about.name).map_err(|e| refuse(e.to_string()))?;
        let formulas = book.worksheet_formula(&about.name).ok();
        let extra = extras.get(&about.name).unwrap_or(&blank);
        let mut sheet = Sheet {
            file: file.to_owned(),
            name: Some(about.name.clone()),
            hidden: about.visible != SheetVisible::Visible,
            hidden_columns: extra.columns.clone(),
            hidden_rows: extra.rows.clone(),
            ..Sheet::default()
        };
        let (top, left) = range.start().unwrap_or((0, 0));
        sheet.rows.resize(top as usize, Vec::new());
        for row in range.rows() {
            let mut cells = vec![Cell::default(); left as usize];
            cells.extend(row.iter().map(|data| Cell::of(value(data))));
            sheet.rows.push(cells);
        }
        for (row, column) in &extra.percent {
            if let Some(cell) = sheet.rows.get_mut(*row).and_then(|cells| cells.get_mut(*column))
                && let Value::Number(number) = cell.value
            {
                cell.value = Value::Percent(number);
            }
        }
        if let Some(formulas) = formulas {
            mark_formulas(&mut sheet, &formulas);
        }
        if let Sheets::Xlsx(book) = &mut book {
            number_formats(&mut sheet, &book.worksheet_style(&about.name).map_err(|e| refuse(e.to_string()))?);
            let merges = book.merge_cells_by_sheet_name(&about.name).unwrap_or_default();
            let at = |(row, column): (u32, u32)| (row as usize, column as usize);
            sheet.merges = merges.into_iter().map(|m| Merge { from: at(m.start), to: at(m.end) }).collect();
        }
        sheets.push(sheet);
    }
    Ok(sheets)
}

fn value(data: &Data) -> Value {
    match data {
        Data::Empty => Value::Blank,
        Data::String(text) if text.trim().is_empty() => Value::Blank,
        Data::String(text) => Value::Text(text.clone()),
        #[expect(clippy::cast_precision_loss, reason = "a spreadsheet's whole numbers are floats")]
        Data::Int(number) => Value::Number(*number as f64),
        Data::Float(number) => Value::Number(*number),
        Data::Bool(flag) => Value::Flag(*flag),
        Data::DateTime(date) if date.is_duration() => Value::Error("a time of day or a duration".to_owned()),
        Data::DateTime(date) => {
            let (year, month, day, ..) = date.to_ymd_hms_milli();
            Value::Date(format!("{year:04}-{month:02}-{day:02}"))
        }
        Data::DateTimeIso(text) => Value::Date(text.chars().take(10).collect()),
        Data::DurationIso(text) => Value::Error(format!("the duration {text}")),
        Data::Error(error) => Value::Error(format!("the error {error}")),
    }
}

/// A formula whose value was never worked out is not a blank cell.
fn mark_formulas(sheet: &mut Sheet, formulas: &calamine::Range<String>) {
    let (top, left) = formulas.start().unwrap_or((0, 0));
    for (row, column, formula) in formulas.used_cells() {
        let (row, column) = (row + top as usize, column + left as usize);
        let cell = sheet.rows.get_mut(row).and_then(|cells| cells.get_mut(column));
        if let Some(cell) = cell.filter(|cell| !formula.is_empty() && cell.is_blank()) {
            cell.value = Value::Error(format!("the formula {formula} without a value"));
        }
    }
}

fn number_formats(sheet: &mut Sheet, styles: &calamine::StyleRange) {
    for (row, cells) in sheet.rows.iter_mut().enumerate() {
        for (column, cell) in cells.iter_mut().enumerate() {
            let Value::Number(number) = cell.value else { continue };
            let at = (u32::try_from(row).unwrap_or(u32::MAX), u32::try_from(column).unwrap_or(u32::MAX));
            let Some(format) = styles.get(at).and_then(|style| style.number_format.as_ref()) else { continue };
            let code = format.format_code.as_str();
            let (signs, fixed) = parts(code);
            if signs.contains('%') {
                cell.value = Value::Percent(number);
            } else if units::is_unit(fixed.trim()) {
                cell.shown_unit = Some(fixed.trim().to_owned());
            }
        }
    }
}

/// The signs of the first section of a number format, and its fixed text.
fn parts(code: &str) -> (String, String) {
    let (mut signs, mut fixed) = (String::new(), String::new());
    let mut rest = code.chars();
    while let Some(c) = rest.next() {
        match c {
            '"' => fixed.extend(rest.by_ref().take_while(|c| *c != '"')),
            '\\' => fixed.extend(rest.next()),
            '_' | '*' => drop(rest.next()),
            '[' => drop(rest.by_ref().find(|c| *c == ']')),
            ';' => break,
            'µ' | '°' => fixed.push(c),
            other => signs.push(other),
        }
    }
    (signs, fixed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_thread_that_unfolds_is_silent() {
        let elsewhere = || std::thread::spawn(|| UNFOLDING.get()).join().ok();
        assert_eq!(contained(|| (UNFOLDING.get(), elsewhere())), Some((true, Some(false))));
        assert_eq!(contained(|| -> () { panic!("a damaged workbook") }), None);
        assert!(!UNFOLDING.get());
    }
}
