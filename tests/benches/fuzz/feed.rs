//! Input that is nearly right: the dice, the pieces, the ways to spoil a text.

use lapwise::load;

/// Fixed steps of a well-mixed sequence (splitmix64; Steele, Lea and Flood 2014).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    pub(crate) fn of<'a, T: ?Sized>(&mut self, list: &[&'a T]) -> &'a T {
        list[self.below(list.len())]
    }
}

/// Pieces that readers are known to stumble on.
pub(crate) const PIECES: &[&str] = &[
    "\"",
    "'",
    ",",
    "\n",
    "\r",
    "\r\n",
    "\u{feff}",
    "\0",
    "[",
    "]",
    "{",
    "}",
    "[[",
    "]]",
    "=",
    "#",
    "/",
    "@",
    "%",
    ";",
    "1e308",
    "-1e308",
    "1e-320",
    "0",
    "-0",
    "NaN",
    "inf",
    "9999999999999999999",
    "-1",
    "0.0000001",
    "1e400",
    "50 %",
    "200 %",
    "20 degC",
    "-300 degC",
    "1e9 degC",
    "10 N/cm",
    "1 um",
    "0 mm",
    "1e300 m",
    "1e-300 m",
    "20 a",
    "1e30 a",
    "0 s",
    "µ",
    "é",
    "𝄞",
    "\u{202e}",
    "duty",
    "class",
    "air",
    "true",
    "none",
    "2026-02-30",
    "x_y",
    "…",
    "(((((",
    "^0.5",
];

/// Bytes changed, cut, doubled, moved; pieces put in; a few times over.
pub(crate) fn mangle(dice: &mut Dice, text: &str) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..=dice.below(4) {
        let at = dice.below(bytes.len() + 1);
        let end = (at + dice.below(40)).min(bytes.len());
        match dice.below(7) {
            0 if at < bytes.len() => bytes[at] = dice.next() as u8,
            1 => drop(bytes.drain(at..end)),
            2 => {
                let part = bytes[at..end].to_vec();
                bytes.splice(at..at, part);
            }
            3 => bytes.truncate(at),
            _ => drop(bytes.splice(at..at, dice.of(PIECES).bytes())),
        }
    }
    bytes
}

/// By structure: a cell, a value or a line changed for a piece or for another of the same text.
pub(crate) fn reshape(dice: &mut Dice, text: &str) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for _ in 0..=dice.below(3) {
        if lines.is_empty() {
            break;
        }
        let (at, other) = (dice.below(lines.len()), dice.below(lines.len()));
        match dice.below(5) {
            0 => drop(lines.remove(at)),
            1 => lines.insert(at, lines[other].clone()),
            2 => lines.swap(at, other),
            _ => {
                let separator = if lines[at].contains(" = ") { " = " } else { "," };
                let mut cells: Vec<String> = lines[at].split(separator).map(str::to_owned).collect();
                let cell = dice.below(cells.len());
                let foreign = lines[other].split(separator).last().unwrap_or_default().to_owned();
                cells[cell] = match dice.below(4) {
                    0 => foreign,
                    1 => format!("\"{}\"", dice.of(PIECES)),
                    _ => dice.of(PIECES).to_owned(),
                };
                lines[at] = cells.join(separator);
            }
        }
    }
    lines.join("\n")
}

/// Either way; as text, as it would come from a file.
pub(crate) fn spoil(dice: &mut Dice, text: &str) -> String {
    if dice.below(2) == 0 {
        return reshape(dice, text);
    }
    load::decode(mangle(dice, text), "fuzz").unwrap_or_default()
}
