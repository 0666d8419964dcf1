//! Rows as a workbook: what is asked, answered and counted, with the working as comments.
//!
//! The same input gives the same bytes: the time of creation is the day of the enquiry.

mod about;
mod columns;
mod look;

use std::io::Write;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, Worksheet, XlsxError};

use super::report::{INVENTED, Made, Told, workings};
use super::{candidates, row};
use crate::expand::Plan;
use crate::fault::{Code, Fault};
use crate::judge::{Finding, Verdict};
use crate::quantity::count;
use crate::rank;
use columns::{Column, FINDINGS, ORDER, ORDER_VERDICT, VERDICT, Value, finding_cells, order_cells};
use look::Look;

/// The rows above the heads: title and notice.
const ABOVE: u32 = 2;

/// Paper sizes, by their numbers in the format.
const A3: u8 = 8;
const A4: u8 = 9;

/// What the second row says of the sheets with rows.
const HINT: &str = "The comment on a verdict tells its working. Counts, and what this was made from: next sheets.";

/// A book in the making.
struct Book<'p> {
    plan: &'p Plan<'p>,
    look: Look,
    inner: Workbook,
}

/// Writes every finding as a workbook.
///
/// # Errors
/// The book cannot be laid out, or the writer fails.
pub fn matrix(plan: &Plan<'_>, told: &[Told], made: &Made, out: &mut dyn Write) -> Result<(), Fault> {
    save(plan, told, made, out, Book::findings)
}

/// Writes the order of candidates as a workbook.
///
/// # Errors
/// The book cannot be laid out, or the writer fails.
pub fn order(plan: &Plan<'_>, told: &[Told], made: &Made, out: &mut dyn Write) -> Result<(), Fault> {
    save(plan, told, made, out, Book::order)
}

/// A sheet with rows, then those that every book has.
fn save<'p>(
    plan: &'p Plan<'p>,
    told: &[Told],
    made: &Made,
    out: &mut dyn Write,
    rows: impl FnOnce(&mut Book<'p>, &[Told]) -> Result<(), XlsxError>,
) -> Result<(), Fault> {
    let failed =
        |error: String| Fault::new(Code::WriteFailed, error, "a workbook", "check the disk and the permissions");
    let write = || -> Result<Vec<u8>, XlsxError> {
        let mut book = Book::new(plan);
        rows(&mut book, told)?;
        book.counts(told)?;
        book.made_from(made)?;
        book.inner.save_to_buffer()
    };
    let bytes = write().map_err(|error| failed(error.to_string()))?;
    out.write_all(&bytes).map_err(|error| failed(error.to_string()))
}

impl<'p> Book<'p> {
    fn new(plan: &'p Plan<'p>) -> Book<'p> {
        let mut book = Workbook::new();
        let first = plan.enquiries.first();
        let created = first.and_then(|e| day(&e.date)).unwrap_or_default();
        let about = &plan.catalogue.about;
        let properties = DocProperties::new()
            .set_title(numbers(plan))
            .set_author(first.map_or("", |e| e.prepared_by.as_str()))
            .set_comment(if about.invented { INVENTED } else { "" })
            .set_creation_datetime(&created);
        book.set_properties(&properties);
        Book { plan, look: Look::new(), inner: book }
    }

    /// A new sheet with title, notice and heads, made to be printed across a page.
    fn sheet(&mut self, name: &str, title: &str, hint: &str, columns: &[Column]) -> Result<&mut Worksheet, XlsxError> {
        let invented = self.plan.catalogue.about.invented;
        let notice = if invented { format!("{INVENTED}. ") } else { String::new() };
        let sheet = self.inner.add_worksheet();
        sheet.set_name(name)?;
        sheet.set_landscape().set_paper_size(if columns.len() > 15 { A3 } else { A4 }).set_print_fit_to_pages(1, 0);
        sheet.set_margins(0.4, 0.4, 0.6, 0.6, 0.3, 0.3);
        sheet.set_header(format!("&L&8{}&R&8&\"Arial,Bold\"{notice}", escaped(title)));
        sheet.set_footer("&L&8Screens; replaces no qualification test.&R&8&P / &N");
        sheet.write_string_with_format(0, 0, title, &self.look.title)?;
        sheet.write_string_with_format(1, 0, format!("{notice}{hint}"), &self.look.notice)?;
        sheet.set_row_height(1, 16)?;
        for (at, column) in (0_u16..).zip(columns) {
            let format = if column.number { &self.look.head_right } else { &self.look.head };
            sheet.write_string_with_format(ABOVE, at, column.head, format)?;
        }
        sheet.set_freeze_panes(ABOVE + 1, 0)?;
        sheet.set_repeat_rows(ABOVE, ABOVE)?;
        Ok(sheet)
    }

    fn findings(&mut self, told: &[Told]) -> Result<(), XlsxError> {
        let plan = self.plan;
        let title = format!("Findings: {}", numbers(plan));
        self.sheet("Findings", &title, HINT, &FINDINGS)?.set_freeze_panes(ABOVE + 1, 2)?;
        let letters = self.fitted(&FINDINGS, told, |plan, enquiry, told, see| {
            for finding in told.findings.iter().flatten() {
                see(&finding_cells(&row(plan, enquiry, finding), finding));
            }
        })?;
        let mut at = ABOVE + 1;
        for (enquiry, told) in told.iter().enumerate() {
            let asked: Vec<&Finding> = told.asked().collect();
            let mut texts = workings(plan, enquiry, &asked).into_iter();
            for finding in told.findings.iter().flatten() {
                let row = row(plan, enquiry, finding);
                self.put(0, at, &finding_cells(&row, finding), &letters)?;
                if finding.verdict != Verdict::NotAsked
                    && let Some(working) = texts.next()
                {
                    self.inner.worksheet_from_index(0)?.insert_note(at, VERDICT, &look::note(&working.short()))?;
                }
                at += 1;
            }
        }
        self.filter(at, &FINDINGS)
    }

    fn order(&mut self, told: &[Told]) -> Result<(), XlsxError> {
        let plan = self.plan;
        let title = format!("Order of candidates: {}", numbers(plan));
        self.sheet("Order", &title, HINT, &ORDER)?.set_freeze_panes(ABOVE + 1, 3)?;
        let letters = self.fitted(&ORDER, told, |plan, enquiry, told, see| {
            for candidate in candidates(plan, enquiry, told) {
                see(&order_cells(&candidate, &candidate.missing.join("; ")));
            }
        })?;
        let mut at = ABOVE + 1;
        for (enquiry, told) in told.iter().enumerate() {
            let deciding: Vec<Option<&Finding>> = told.order.iter().map(|r| rank::weakest(told.of(r))).collect();
            let asked: Vec<&Finding> = deciding.iter().copied().flatten().collect();
            let mut texts = workings(plan, enquiry, &asked).into_iter();
            for (candidate, deciding) in candidates(plan, enquiry, told).iter().zip(deciding) {
                let missing = candidate.missing.join("; ");
                self.put(0, at, &order_cells(candidate, &missing), &letters)?;
                if deciding.is_some()
                    && let Some(working) = texts.next()
                {
                    self.inner.worksheet_from_index(0)?.insert_note(
                        at,
                        ORDER_VERDICT,
                        &look::note(&working.short()),
                    )?;
                }
                at += 1;
            }
        }
        let discontinued: Vec<&str> =
            plan.catalogue.tapes.iter().filter(|t| !t.active).map(|t| t.id.as_str()).collect();
        self.filter(at, &ORDER)?;
        if !discontinued.is_empty() {
            let text = format!("Not judged, discontinued: {}", discontinued.join(", "));
            self.inner.worksheet_from_index(0)?.write_string_with_format(at + 1, 0, text, &self.look.notice)?;
        }
        Ok(())
    }

    /// Sets the widths of the columns by what their cells hold; the letters of each.
    fn fitted(
        &mut self,
        columns: &[Column],
        told: &[Told],
        show: impl Fn(&Plan<'_>, usize, &Told, &mut dyn FnMut(&[Value<'_>])),
    ) -> Result<Vec<usize>, XlsxError> {
        // A head may run over two lines, its longest word not.
        let word = |c: &Column| c.head.split(' ').map(|word| word.chars().count()).max().unwrap_or(0);
        let mut widest: Vec<usize> = columns.iter().map(word).collect();
        for (enquiry, told) in told.iter().enumerate() {
            show(self.plan, enquiry, told, &mut |cells| {
                for (widest, cell) in widest.iter_mut().zip(cells) {
                    *widest = (*widest).max(cell.letters());
                }
            });
        }
        let letters: Vec<usize> =
            widest.iter().zip(columns).map(|(widest, column)| look::letters(*widest, column.most)).collect();
        let head = columns.iter().zip(&letters).map(|(column, letters)| look::lines(column.head, *letters)).max();
        let sheet = self.inner.worksheet_from_index(0)?;
        look::heighten(sheet, ABOVE, head.unwrap_or(1))?;
        look::fit(sheet, &letters)?;
        Ok(letters)
    }

    /// Writes the cells of a row into columns of so many letters.
    fn put(&mut self, sheet: usize, at: u32, cells: &[Value<'_>], letters: &[usize]) -> Result<(), XlsxError> {
        let sheet = self.inner.worksheet_from_index(sheet)?;
        let look = &self.look;
        let quiet = cells.iter().any(|cell| matches!(cell, Value::Verdict(_, Verdict::NotAsked)));
        let plain = if quiet { &look.faint } else { &look.text };
        let mut lines = 1;
        for (column, (cell, letters)) in (0_u16..).zip(cells.iter().zip(letters)) {
            match cell {
                Value::Text(text) => {
                    lines = lines.max(look::lines(text, *letters));
                    sheet.write_string_with_format(at, column, *text, plain)?;
                }
                Value::Verdict(word, verdict) => {
                    sheet.write_string_with_format(at, column, *word, &look.mark(*verdict))?;
                }
                Value::Computed(Some(x), digits) => {
                    sheet.write_number_with_format(at, column, *x, &look.computed(*x, *digits))?;
                }
                Value::Given(Some(x)) => {
                    sheet.write_number_with_format(at, column, *x, &look.given())?;
                }
                Value::Computed(None, _) | Value::Given(None) => {
                    sheet.write_blank(at, column, plain)?;
                }
            }
        }
        look::heighten(sheet, at, lines)
    }

    /// The filter over the rows.
    fn filter(&mut self, end: u32, columns: &[Column]) -> Result<(), XlsxError> {
        let last = u16::try_from(columns.len()).unwrap_or(1) - 1;
        if end > ABOVE + 1 {
            self.inner.worksheet_from_index(0)?.autofilter(ABOVE, 0, end - 1, last)?;
        }
        Ok(())
    }
}

/// The enquiries of a plan, for a title: their numbers, and the subject where there is one.
fn numbers(plan: &Plan<'_>) -> String {
    match plan.enquiries {
        [one] => format!("{}  {}", one.number, one.title),
        [first, .., last] => {
            format!("{}, {} to {}", count(plan.enquiries.len(), "enquiry", "enquiries"), first.number, last.number)
        }
        [] => String::new(),
    }
}

/// A date such as `2026-11-20`.
fn day(date: &str) -> Option<ExcelDateTime> {
    let mut parts = date.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    ExcelDateTime::from_ymd(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()
}

/// A text for the head of a printed page, where `&` begins a command; at most as long as one may be.
fn escaped(text: &str) -> String {
    let short: String = text.chars().take(90).collect();
    short.replace('&', "&&")
}
