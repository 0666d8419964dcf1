//! How a sheet looks. A verdict is its word, in an edge and on a ground of its own (solid, dashed on white,
//! dotted, double and hatched), so that it survives a black-and-white printer.

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, FormatPattern, Note, Worksheet, XlsxError};

use crate::judge::Verdict;

const INK: Color = Color::RGB(0x1b_25_30);
const QUIET: Color = Color::RGB(0x56_64_6f);
const HAIR: Color = Color::RGB(0xc3_cc_d2);
const DEEP: Color = Color::RGB(0x14_50_5c);
const WASH: Color = Color::RGB(0xe4_ec_ee);
const SHADE: Color = Color::RGB(0xd3_d9_dc);

/// The formats of a book.
pub(super) struct Look {
    pub(super) title: Format,
    pub(super) notice: Format,
    pub(super) head: Format,
    pub(super) head_right: Format,
    pub(super) text: Format,
    pub(super) faint: Format,
    pub(super) strong: Format,
}

impl Look {
    pub(super) fn new() -> Look {
        let plain = Format::new().set_font_size(9).set_font_color(INK).set_align(FormatAlign::Top);
        let head = plain
            .clone()
            .set_bold()
            .set_font_color(DEEP)
            .set_text_wrap()
            .set_align(FormatAlign::Bottom)
            .set_border_bottom(FormatBorder::Medium)
            .set_border_bottom_color(DEEP);
        Look {
            title: plain.clone().set_font_size(13).set_bold(),
            notice: plain.clone().set_font_color(DEEP).set_bold(),
            head_right: head.clone().set_align(FormatAlign::Right).set_indent(1),
            head,
            text: plain.clone().set_text_wrap().set_border_bottom(FormatBorder::Hair).set_border_bottom_color(HAIR),
            faint: plain
                .clone()
                .set_text_wrap()
                .set_font_color(QUIET)
                .set_border_bottom(FormatBorder::Hair)
                .set_border_bottom_color(HAIR),
            strong: plain.set_bold().set_text_wrap(),
        }
    }

    /// The mark of a verdict.
    pub(super) fn mark(&self, verdict: Verdict) -> Format {
        let edged = |border| {
            self.text.clone().set_border(border).set_border_color(INK).set_align(FormatAlign::Left).set_indent(1)
        };
        match verdict {
            Verdict::Suitable => edged(FormatBorder::Thin).set_background_color(WASH).set_bold(),
            Verdict::Conditional => edged(FormatBorder::MediumDashed),
            Verdict::Unproven => {
                let dotted = edged(FormatBorder::Dotted).set_pattern(FormatPattern::Gray0625);
                dotted.set_foreground_color(QUIET).set_background_color(Color::White)
            }
            Verdict::Unsuitable => {
                let hatched = edged(FormatBorder::Double).set_pattern(FormatPattern::LightUp).set_bold();
                hatched.set_foreground_color(HAIR).set_background_color(SHADE)
            }
            Verdict::NotAsked => self.faint.clone().set_align(FormatAlign::Left).set_indent(1),
        }
    }

    /// A number that came of a computation: the sheet shows so many significant digits, the cell holds them all.
    pub(super) fn computed(&self, x: f64, digits: usize) -> Format {
        self.text.clone().set_num_format(shown(x, digits)).set_align(FormatAlign::Right).set_indent(1)
    }

    /// A number as it was written.
    pub(super) fn given(&self) -> Format {
        self.text.clone().set_align(FormatAlign::Right).set_indent(1)
    }
}

/// The number format that shows so many significant digits of a value.
fn shown(x: f64, digits: usize) -> String {
    let text = format!("{:.*e}", digits - 1, x);
    let exponent: i32 = text.split_once('e').and_then(|(_, e)| e.parse().ok()).unwrap_or(0);
    let decimals = i32::try_from(digits).unwrap_or(4) - 1 - exponent;
    let zeros = |n: i32| "0".repeat(usize::try_from(n).unwrap_or(0));
    match exponent {
        _ if x == 0.0 => "0".to_owned(),
        -3..=5 if decimals <= 0 => "0".to_owned(),
        -3..=5 => format!("0.{}", zeros(decimals)),
        _ => format!("0.{}E+00", zeros(i32::try_from(digits).unwrap_or(4) - 1)),
    }
}

/// A comment with a working, as large as its text.
pub(super) fn note(text: &str) -> Note {
    const LETTERS: usize = 76;
    let lines: usize = text.lines().map(|line| line.chars().count().div_ceil(LETTERS).max(1)).sum();
    let height = u32::try_from(lines * 15 + 12).unwrap_or(600).clamp(60, 600);
    Note::new(text)
        .add_author_prefix(false)
        .set_width(460)
        .set_height(height)
        .set_background_color(Color::RGB(0xf6_f8_f8))
        .set_font_size(8)
}

/// The letters that a column holds: those of its widest cell, up to what it may have.
pub(super) fn letters(widest: usize, most: usize) -> usize {
    widest.clamp(5, most)
}

/// Makes columns hold so many letters.
pub(super) fn fit(sheet: &mut Worksheet, letters: &[usize]) -> Result<(), XlsxError> {
    for (column, letters) in (0_u16..).zip(letters) {
        let letters = u32::try_from(*letters).unwrap_or(12);
        // The small face of the cells takes less than the unit of the width; the filter's button takes two.
        sheet.set_column_width(column, f64::from(letters) * 0.8 + 2.5)?;
    }
    Ok(())
}

/// The lines that a text takes in a column of so many letters.
pub(super) fn lines(text: &str, letters: usize) -> usize {
    // Most letters are narrower than the one that widths are counted in.
    let letters = letters + letters / 10;
    let mut lines = 1;
    let mut length = 0;
    for word in text.split(' ').map(|word| word.chars().count()) {
        if length > 0 && length + 1 + word > letters {
            lines += 1;
            length = 0;
        }
        length += word + usize::from(length > 0);
        if length > letters {
            lines += (length - 1) / letters.max(1);
            length = (length - 1) % letters.max(1) + 1;
        }
    }
    lines
}

/// Makes a row as high as so many lines: not every program that opens a book does so itself.
pub(super) fn heighten(sheet: &mut Worksheet, at: u32, lines: usize) -> Result<(), XlsxError> {
    let lines = u32::try_from(lines.clamp(1, 30)).unwrap_or(1);
    sheet.set_row_height(at, f64::from(lines) * 11.5 + 3.0)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{lines, shown};

    #[test]
    fn a_text_takes_the_lines_it_needs() {
        assert_eq!(lines("", 10), 1);
        assert_eq!(lines("one line", 10), 1);
        assert_eq!(lines("one line and another", 10), 2);
        assert_eq!(lines("abcdefghijklmnopqrstuvwxy", 10), 3);
        assert_eq!(lines("abcdefghijklmnopqrstuv w", 10), 3);
    }

    #[test]
    fn as_many_digits_are_shown_as_say_something() {
        assert_eq!(shown(1.254_3, 4), "0.000");
        assert_eq!(shown(123.4, 4), "0.0");
        assert_eq!(shown(12_345.0, 4), "0");
        assert_eq!(shown(0.001_234, 4), "0.000000");
        assert_eq!(shown(1.2e-9, 4), "0.000E+00");
        assert_eq!(shown(0.999_96, 4), "0.000");
    }
}
