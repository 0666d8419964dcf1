//! The sheets behind the rows: how many findings of each verdict, and what the book was made from.

use rust_xlsxwriter::{Worksheet, XlsxError};

use super::columns::{Column, number, text};
use super::look::{self, Look};
use super::{A4, ABOVE, Book};
use crate::output::report::{INVENTED, Made, SCREENING, Told, meaning};
use crate::output::{Counts, counted};

const COUNTS: [Column; 8] = [
    text("Enquiry", 44),
    number("Candidates"),
    number("Suitable"),
    number("Conditional"),
    number("Unproven"),
    number("Unsuitable"),
    number("Not asked"),
    number("All findings"),
];

/// The letters of the two columns of what the book was made from.
const FIRST: usize = 30;
const SECOND: usize = 96;

impl Book<'_> {
    /// The counts, a row an enquiry and one for all.
    pub(super) fn counts(&mut self, told: &[Told]) -> Result<(), XlsxError> {
        let plan = self.plan;
        let look = Look::new();
        let mut rows: Vec<(String, usize, Counts)> = plan
            .enquiries
            .iter()
            .zip(told)
            .map(|(e, told)| (format!("{}  {}", e.number, e.title), told.order.len(), told.counts))
            .collect();
        if rows.len() > 1 {
            rows.push(("all".to_owned(), plan.candidates.len(), counted(told)));
        }
        let sheet = self.sheet("Counts", "Findings of each verdict", "Every cell is accounted for.", &COUNTS)?;
        let letters: Vec<usize> = COUNTS.iter().map(|column| column.most).collect();
        for (at, (name, candidates, counts)) in (ABOVE + 1..).zip(&rows) {
            look::heighten(sheet, at, look::lines(name, letters[0]))?;
            sheet.write_string_with_format(at, 0, name, &look.text)?;
            let numbers = [*candidates].into_iter().chain(counts.each().map(|(_, n)| n)).chain([counts.total()]);
            for (column, n) in (1_u16..).zip(numbers) {
                #[expect(clippy::cast_precision_loss, reason = "a count of rows")]
                sheet.write_number_with_format(at, column, n as f64, &look.given())?;
            }
        }
        look::fit(sheet, &letters)?;
        let mut at = ABOVE + 3 + u32::try_from(rows.len()).unwrap_or(0);
        for (verdict, _) in Counts::default().each() {
            sheet.write_string_with_format(at, 0, verdict.text(), &look.mark(verdict))?;
            sheet.merge_range(at, 1, at, 7, meaning(verdict), &look.text)?;
            look::heighten(sheet, at, look::lines(meaning(verdict), 7 * 11))?;
            at += 2;
        }
        Ok(())
    }

    /// What the book was made from, how it is made again, and what to mind.
    pub(super) fn made_from(&mut self, made: &Made) -> Result<(), XlsxError> {
        let plan = self.plan;
        let look = Look::new();
        let about = &plan.catalogue.about;
        let sheet = self.inner.add_worksheet();
        sheet.set_name("Made from")?;
        look::fit(sheet, &[FIRST, SECOND])?;
        sheet.set_paper_size(A4).set_print_fit_to_pages(1, 0);
        sheet.write_string_with_format(0, 0, "What this was made from", &look.title)?;
        let mut at = 2;
        let mut pair = |sheet: &mut Worksheet, name: &str, value: &str| -> Result<(), XlsxError> {
            sheet.write_string_with_format(at, 0, name, &look.strong)?;
            sheet.write_string_with_format(at, 1, value, &look.text)?;
            look::heighten(sheet, at, look::lines(name, FIRST).max(look::lines(value, SECOND)))?;
            at += 1;
            Ok(())
        };
        if about.invented {
            pair(sheet, INVENTED, &about.scenario)?;
        }
        pair(sheet, "Tool", concat!("lapwise ", env!("CARGO_PKG_VERSION")))?;
        pair(sheet, "Made again by", &made.command)?;
        pair(sheet, "Data", &format!("version {}, {}, {}", about.version, about.date, about.owner))?;
        for e in plan.enquiries {
            let text = format!("{}; for {}; prepared by {}; {}", e.title, e.customer, e.prepared_by, e.date);
            pair(sheet, &format!("Enquiry {}", e.number), &text)?;
        }
        for (file, sha256) in &made.files {
            pair(sheet, file, &format!("sha256 {sha256}"))?;
        }
        pair(sheet, "What it is for", SCREENING)?;
        for (hazard, text) in &made.cautions {
            pair(sheet, &format!("Caution: {hazard}"), text)?;
        }
        Ok(())
    }
}
