//! Aligned tables that keep to the width of what they are printed on.

use std::io::{self, Write};

use super::say;
use crate::fault::visible;

/// A column is not made narrower than this while another can give.
const NARROW: usize = 14;

/// Below this a line holds no table that does not fit as it is.
const STACKED: usize = 60;

/// A table whose columns are as wide as their widest cell, as long as the line holds them; then the
/// widest give way and their cells run over several lines.
pub(super) struct Table {
    rows: Vec<Vec<String>>,
    right: Vec<usize>,
}

impl Table {
    /// A table with a head; the columns of `right` are set flush right.
    pub(super) fn new<const N: usize>(head: [&str; N], right: &[usize]) -> Table {
        Table { rows: vec![head.iter().map(|cell| (*cell).to_owned()).collect()], right: right.to_vec() }
    }

    /// Adds a row.
    pub(super) fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(cells.into_iter().map(|cell| visible(&cell).into_owned()).collect());
    }

    /// Prints it to the width of standard output, two spaces in.
    pub(super) fn print(&self, out: &mut impl Write) -> io::Result<()> {
        self.print_within(out, say::width())
    }

    /// Prints it to a width, two spaces in; where that is too narrow for a line, the cells below each other.
    pub(super) fn print_within(&self, out: &mut (impl Write + ?Sized), width: usize) -> io::Result<()> {
        let columns = 0..self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let own = |c: usize| self.rows.iter().filter_map(|row| row.get(c)).map(|cell| cell.chars().count()).max();
        if width < STACKED && columns.map(|c| own(c).unwrap_or(0) + 2).sum::<usize>() > width {
            return self.print_stacked(out, width);
        }
        let widths = self.widths(width);
        for row in &self.rows {
            let cells: Vec<Vec<String>> = row.iter().zip(&widths).map(|(cell, width)| wrapped(cell, *width)).collect();
            for nth in 0..cells.iter().map(Vec::len).max().unwrap_or(0) {
                let mut line = String::from(" ");
                for (column, lines) in cells.iter().enumerate() {
                    let text = lines.get(nth).map_or("", String::as_str);
                    let spaces = " ".repeat(widths[column].saturating_sub(text.chars().count()));
                    let (before, after) =
                        if self.right.contains(&column) { (spaces.as_str(), "") } else { ("", spaces.as_str()) };
                    line.extend([" ", before, text, after, " "]);
                }
                writeln!(out, "{}", line.trim_end())?;
            }
        }
        Ok(())
    }

    /// Each row as a paragraph: its cells under each other, each behind its head.
    fn print_stacked(&self, out: &mut (impl Write + ?Sized), width: usize) -> io::Result<()> {
        let Some((heads, rows)) = self.rows.split_first() else { return Ok(()) };
        let margin = heads.iter().map(|head| head.chars().count()).max().unwrap_or(0) + 4;
        for row in rows {
            for (head, cell) in heads.iter().zip(row).filter(|(_, cell)| !cell.is_empty()) {
                let mut label = head.as_str();
                for line in wrapped(cell, width.saturating_sub(margin)) {
                    writeln!(out, "  {label:<width$}{line}", width = margin - 2)?;
                    label = "";
                }
            }
            writeln!(out)?;
        }
        Ok(())
    }

    /// The widths of the columns: their own, then the widest cut back until the line holds them.
    fn widths(&self, line: usize) -> Vec<usize> {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let widest = |of: fn(&str) -> usize, column: usize| {
            self.rows.iter().filter_map(|row| row.get(column)).map(|cell| of(cell)).max().unwrap_or(0)
        };
        let mut widths: Vec<usize> = (0..columns).map(|c| widest(|cell| cell.chars().count(), c)).collect();
        let word = |cell: &str| cell.split(' ').map(|word| word.chars().count()).max().unwrap_or(0);
        let free = line.saturating_sub(2 * columns);
        // First no word is broken; where that is not enough, words are.
        for floor in [NARROW, 6] {
            let floors: Vec<usize> = (0..columns)
                .map(|c| match floor {
                    NARROW if self.right.contains(&c) => widths[c],
                    NARROW => widest(word, c).max(NARROW),
                    floor => floor,
                })
                .collect();
            while widths.iter().sum::<usize>() > free {
                let give = (0..columns).filter(|c| widths[*c] > floors[*c]).max_by_key(|c| (widths[*c], *c));
                let Some(give) = give else { break };
                widths[give] -= 1;
            }
        }
        widths
    }
}

/// A text as lines of at most so many characters, broken at spaces, and within a word only where it
/// is longer than a line: behind a hyphen or the like, if it has one there.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    let mut length = 0;
    for word in text.split(' ') {
        let letters: Vec<char> = word.chars().collect();
        if length > 0 && length + 1 + letters.len() > width {
            lines.push(String::new());
            length = 0;
        } else if length > 0 {
            push(&mut lines, " ");
            length += 1;
        }
        let mut rest = letters.as_slice();
        while rest.len() > width {
            let joint = rest[..width].iter().rposition(|c| matches!(c, '-' | '_' | '/' | ','));
            let (piece, after) = rest.split_at(joint.map_or(width, |at| at + 1));
            push(&mut lines, &piece.iter().collect::<String>());
            lines.push(String::new());
            length = 0;
            rest = after;
        }
        push(&mut lines, &rest.iter().collect::<String>());
        length += rest.len();
    }
    lines
}

fn push(lines: &mut [String], text: &str) {
    if let Some(last) = lines.last_mut() {
        last.push_str(text);
    }
}

#[cfg(test)]
mod tests {
    use super::{Table, wrapped};

    #[test]
    fn words_stay_whole_where_they_can() {
        assert_eq!(wrapped("glass cloth, silicone", 12), ["glass cloth,", "silicone"]);
        assert_eq!(wrapped("accelerometer", 5), ["accel", "erome", "ter"]);
        assert_eq!(wrapped("mineral-oil-naphthenic", 20), ["mineral-oil-", "naphthenic"]);
        assert_eq!(wrapped("in mineral-oil-naphthenic", 20), ["in", "mineral-oil-", "naphthenic"]);
        assert_eq!(wrapped("", 5), [""]);
    }

    #[test]
    fn a_narrow_terminal_gets_paragraphs() {
        let mut table = Table::new(["tape", "construction", "cost"], &[2]);
        table.row(["H-1".to_owned(), "glass cloth, acrylic crosslinked".to_owned(), "3.6".to_owned()]);
        table.row(["H-2".to_owned(), String::new(), "1".to_owned()]);
        let printed = |width| {
            let mut out = Vec::new();
            table.print_within(&mut out, width).unwrap();
            String::from_utf8(out).unwrap()
        };
        insta::assert_snapshot!(printed(34), @r"
          tape          H-1
          construction  glass cloth,
                        acrylic
                        crosslinked
          cost          3.6

          tape          H-2
          cost          1
        ");
        assert_eq!(printed(usize::MAX), printed(60));
        assert!(printed(34).lines().all(|line| line.chars().count() <= 34));
    }

    #[test]
    fn a_table_keeps_to_its_line_and_loses_no_word() {
        let long = "what the tape does to the liquid, service oil: no loss_factor of silicone-addition in the oil";
        let mut table = Table::new(["order", "construction", "weakest"], &[0]);
        table.row(["1".to_owned(), "glass filament polyester film, rubber resin".to_owned(), long.to_owned()]);
        for width in [60, 80, 100, 200] {
            let mut out = Vec::new();
            table.print_within(&mut out, width).unwrap();
            let text = String::from_utf8(out).unwrap();
            assert!(text.lines().all(|line| line.chars().count() <= width), "{width}:\n{text}");
            let letters = |text: &str| {
                let mut letters: Vec<char> = text.chars().filter(|c| !c.is_whitespace()).collect();
                letters.sort_unstable();
                letters
            };
            let whole = format!("order construction weakest 1 glass filament polyester film, rubber resin {long}");
            assert_eq!(letters(&text), letters(&whole));
        }
    }
}
