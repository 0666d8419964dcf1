//! Where the head of a table is, and what each of its heads means.

use std::sync::LazyLock;

use crate::quantity::Kind;

use super::lexicon;
use super::map::{Certainty, Target};
use super::number;
use super::sheet::{Cell, Sheet, Value};
use super::units;
use super::words::{fold, tokens};

/// How many rows from the top a head is looked for, and how many lines it may have.
const TOP: usize = 60;
const LINES: usize = 4;

/// A head with the words that name a column and the unit it states.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Head {
    /// All lines joined.
    pub(super) text: String,
    /// A unit in a line of its own.
    pub(super) unit_line: Option<String>,
}

/// What a head is taken for.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Taken {
    /// The goal.
    pub(super) goal: &'static str,
    /// The unit, as Lapwise reads it.
    pub(super) unit: Option<String>,
    /// How sure.
    pub(super) certainty: Certainty,
    /// How many words of the head a wording explains: the longer wording wins.
    pub(super) weight: usize,
}

/// A head found: its rows, what its columns are taken for, how much that explains.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// The first and the last row.
    pub(super) rows: (usize, usize),
    /// The heads, by column.
    pub(super) heads: Vec<Head>,
    /// What each is taken for.
    pub(super) taken: Vec<Option<Taken>>,
    /// The points it makes.
    pub(super) points: usize,
}

/// The rows of a sheet that explain most as the head of a table.
pub(super) fn find(sheet: &Sheet, target: Target) -> Option<Found> {
    let mut best: Option<Found> = None;
    for first in 0..sheet.rows.len().min(TOP) {
        for last in first..(first + LINES).min(sheet.rows.len()) {
            if !could_be_head(sheet, last) || sheet.rows[first].iter().all(Cell::is_blank) {
                break;
            }
            let heads = heads(sheet, first, last);
            let mut taken: Vec<Option<Taken>> = heads.iter().map(|head| take(head, target)).collect();
            if sheet.turned {
                corner(&mut taken, target);
            }
            let points = points(&heads, &taken, target);
            if points > best.as_ref().map_or(2, |b| b.points) {
                best = Some(Found { rows: (first, last), heads, taken, points });
            }
        }
    }
    best
}

/// In a table with one column a tape the names stand along the top: what is in the corner is their head,
/// whatever it says, if most of what stands below it is known.
fn corner(taken: &mut [Option<Taken>], target: Target) {
    let known = taken.iter().flatten().count();
    let first = taken.iter().position(|taken| taken.as_ref().is_none_or(|t| target.needed().contains(&t.goal)));
    if let (Target::Tapes, 3.., Some(0)) = (target, known, first)
        && taken[0].is_none()
    {
        taken[0] = Some(Taken { goal: "tape", unit: None, certainty: Certainty::Likely, weight: 0 });
    }
}

/// Heads over given rows, as a map file states them.
pub(super) fn at(sheet: &Sheet, rows: (usize, usize)) -> Vec<Head> {
    heads(sheet, rows.0, rows.1.min(rows.0 + LINES))
}

/// Points by column, each goal once; a head without its key column is hardly one.
fn points(heads: &[Head], taken: &[Option<Taken>], target: Target) -> usize {
    let mut seen: Vec<&str> = Vec::new();
    let mut points = 0;
    for (head, taken) in heads.iter().zip(taken) {
        let Some(taken) = taken else { continue };
        if seen.contains(&taken.goal) {
            continue;
        }
        seen.push(taken.goal);
        points += match taken.certainty {
            Certainty::Certain | Certainty::Told => 4,
            Certainty::Likely => 3,
            Certainty::Unsure | Certainty::None => 1,
        };
        points += usize::from(head.unit_line.is_some());
    }
    if target.needed().iter().all(|key| seen.contains(key)) { points + 4 } else { points }
}

/// True for a row without numbers: texts that could stand above a table.
fn could_be_head(sheet: &Sheet, row: usize) -> bool {
    let cells: Vec<&Cell> = sheet.rows[row].iter().filter(|cell| !cell.is_blank()).collect();
    let numbers = cells
        .iter()
        .filter(|cell| match &cell.value {
            Value::Text(text) => number::read(text, number::Marks::default())
                .is_ok_and(|reading| reading.unit.is_empty() || units::is_unit(&reading.unit)),
            _ => true,
        })
        .count();
    !cells.is_empty() && numbers * 5 <= cells.len()
}

/// The joined lines of each column; a group head spreads over the columns under it.
fn heads(sheet: &Sheet, first: usize, last: usize) -> Vec<Head> {
    let width = sheet.width();
    let mut heads = vec![Head::default(); width];
    for row in first..=last {
        let mut group: Option<(usize, String)> = None;
        for (column, head) in heads.iter_mut().enumerate() {
            let mut text = sheet.shown(row, column).text();
            if !text.is_empty() {
                group = Some((column, text.clone()));
            } else if let Some((from, over)) = &group
                // Without merges told, a blank beside a text belongs to it if both have something beneath.
                && row < last
                && sheet.merges.is_empty()
                && !sheet.cell(row + 1, *from).is_blank()
                && !sheet.cell(row + 1, column).is_blank()
                && sheet.rows[..row].iter().skip(first).all(|r| r.get(column).is_none_or(Cell::is_blank))
            {
                text.clone_from(over);
            }
            let unit = text.trim_matches(|c| "[]()".contains(c));
            if row > first && !head.text.is_empty() && units::is_unit(unit) {
                head.unit_line = Some(unit.to_owned());
            } else if !text.is_empty() && !head.text.ends_with(&text) {
                if !head.text.is_empty() {
                    head.text.push(' ');
                }
                head.text.push_str(&text);
            }
        }
    }
    heads
}

/// What a head is taken for: the wording that explains most of it, with a unit that fits.
pub(super) fn take(head: &Head, target: Target) -> Option<Taken> {
    let text = head.text.trim();
    if text.is_empty() {
        return None;
    }
    if let Some(goal) = target.goal(text) {
        let unit = target.kind(goal).filter(|kind| kind.bare).map(|_| "1".to_owned());
        let unit = head.unit_line.as_deref().and_then(|line| spelled(target, goal, line)).or(unit);
        return Some(Taken { goal, unit, certainty: Certainty::Certain, weight: 100 });
    }
    let mut best: Option<Taken> = None;
    for (words, unit) in splits(head) {
        for taken in wordings(&words, target) {
            let Some(taken) = with_unit(taken, unit.as_deref(), target) else { continue };
            let better = best.as_ref().is_none_or(|b| {
                (taken.certainty, taken.weight, taken.unit.is_some()) > (b.certainty, b.weight, b.unit.is_some())
            });
            if better {
                best = Some(taken);
            }
        }
    }
    best
}

/// A goal with the unit its head states; none if the unit is of another kind.
fn with_unit(taken: Taken, unit: Option<&str>, target: Target) -> Option<Taken> {
    let Some(unit) = unit else { return Some(taken) };
    let unit = spelled(target, taken.goal, unit)?;
    let certainty = if taken.certainty == Certainty::Unsure && taken.weight > 0 && unit.len() > 1 {
        Certainty::Likely
    } else {
        taken.certainty
    };
    Some(Taken { unit: Some(unit), certainty, ..taken })
}

fn spelled(target: Target, goal: &str, unit: &str) -> Option<String> {
    let kind: &'static Kind = target.kind(goal)?;
    // What is worked out, such as months, keeps its name: cells are converted one by one.
    units::spell(kind, unit).map(|s| if s.factor.is_some() { unit.trim().to_owned() } else { s.unit })
}

/// Ways to part a head into the words of a column and a unit.
fn splits(head: &Head) -> Vec<(String, Option<String>)> {
    let text = head.text.trim();
    let mut ways = Vec::new();
    if let Some(unit) = &head.unit_line {
        ways.push((text.to_owned(), Some(unit.clone())));
    }
    // A unit in brackets, wherever it stands.
    for (open, close) in [('[', ']'), ('(', ')')] {
        for (at, _) in text.match_indices(open) {
            let Some(end) = text[at..].find(close).map(|end| at + end) else { continue };
            let inside = text[at + 1..end].trim();
            let inside = fold(inside).strip_prefix("in ").map_or(inside, |_| inside[3..].trim());
            let without = format!("{} {}", &text[..at], &text[end + 1..]);
            if units::is_unit(inside) {
                ways.push((without, Some(inside.to_owned())));
            } else {
                ways.push((without, None));
            }
        }
    }
    // A unit at the end, of one to three words, behind a comma, a slash, `in` or nothing.
    let spaced = text.replace([',', ';', ':'], " ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    for count in (1..=3.min(words.len().saturating_sub(1))).rev() {
        let (before, unit) = words.split_at(words.len() - count);
        let unit = unit.join(" ");
        let before = before.join(" ");
        let unit = unit.trim_start_matches('/').trim();
        let trimmed = before.trim_end_matches('/').trim_end();
        if units::is_unit(unit) {
            ways.push((trimmed.strip_suffix(" in").unwrap_or(trimmed).to_owned(), Some(unit.to_owned())));
        }
    }
    if let Some((before, unit)) = text.rsplit_once('/').filter(|(_, unit)| units::is_unit(unit.trim())) {
        ways.push((before.to_owned(), Some(unit.trim().to_owned())));
    }
    ways.push((text.to_owned(), None));
    ways
}

/// The wordings that a head holds, as one or another goal.
fn wordings(head: &str, target: Target) -> Vec<Taken> {
    let words = tokens(head);
    if words.is_empty() {
        return Vec::new();
    }
    let joined = words.join(" ");
    let own = Letters::of(&joined);
    let mut found = Vec::new();
    for Wording { goal, text, words: wanted, letters } in wordings_of(target) {
        let all = wanted.iter().all(|w| words.iter().any(|word| word == w));
        let certainty = if !all {
            let may = text.len() > 5 && own.nearest(letters) > NEAR;
            if may && strsim::jaro_winkler(&joined, text) > NEAR { Certainty::Unsure } else { continue }
        } else if words.iter().map(String::as_str).eq(wanted.iter().copied()) {
            Certainty::Certain
        } else if words.iter().filter(|w| !wanted.contains(&w.as_str())).all(|w| is_aside(w)) {
            Certainty::Likely
        } else if wanted.len() > 1 || wanted[0].len() > 4 {
            Certainty::Unsure
        } else {
            continue;
        };
        found.push(Taken { goal, unit: None, certainty, weight: wanted.len() });
    }
    found
}

fn is_aside(word: &str) -> bool {
    lexicon::ASIDE.contains(&word) || word.starts_with(|c: char| c.is_ascii_digit()) || word == "d1000"
}

/// A head may be a wording with a slip of the hand if they are nearer than this, by Jaro and Winkler.
const NEAR: f64 = 0.93;

/// How many letters a text has, and how often each.
struct Letters {
    all: u8,
    each: [u8; 32],
}

impl Letters {
    fn of(text: &str) -> Letters {
        let mut letters = Letters { all: 0, each: [0; 32] };
        for letter in text.chars() {
            letters.all = letters.all.saturating_add(1);
            let each = &mut letters.each[letter as usize % 32];
            *each = each.saturating_add(1);
        }
        letters
    }

    /// How near two texts can come at the most, by the letters that they share, wherever these stand.
    fn nearest(&self, other: &Letters) -> f64 {
        let shared: u32 = self.each.iter().zip(&other.each).map(|(own, other)| u32::from(*own.min(other))).sum();
        let share = |of: u8| f64::from(shared) / f64::from(of.max(1));
        let jaro = (share(self.all) + share(other.all) + 1.0) / 3.0;
        // Four letters alike at the start count for four tenths of the rest.
        jaro + 0.4 * (1.0 - jaro)
    }
}

/// A wording of a goal, its words and its letters.
struct Wording {
    goal: &'static str,
    text: &'static str,
    words: Vec<&'static str>,
    letters: Letters,
}

/// The wordings of all goals of a table.
fn wordings_of(target: Target) -> impl Iterator<Item = &'static Wording> {
    static PARTED: LazyLock<[Vec<Wording>; 4]> = LazyLock::new(|| {
        [lexicon::TAPES, lexicon::FACTS, lexicon::PAIRS, lexicon::BOTH].map(|list| {
            let all = list.iter().flat_map(|(goal, texts)| texts.split('|').map(move |text| (*goal, text)));
            let wording = |(goal, text): (_, &'static str)| Wording {
                goal,
                text,
                words: text.split_whitespace().collect(),
                letters: Letters::of(text),
            };
            all.map(wording).collect()
        })
    });
    let [tapes, facts, pairs, both] = &*PARTED;
    let lists: [&[Wording]; 2] = match target {
        Target::Tapes => [tapes, &[]],
        Target::Facts => [facts, both],
        Target::Pairs => [pairs, both],
    };
    lists.into_iter().flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(text: &str) -> (&'static str, Option<String>, Certainty) {
        let head = Head { text: text.to_owned(), unit_line: None };
        take(&head, Target::Tapes).map_or(("", None, Certainty::None), |t| (t.goal, t.unit, t.certainty))
    }

    #[test]
    fn heads_of_several_languages_are_known() {
        for (text, goal, unit) in [
            ("Thickness [mm]", "total_thickness", "mm"),
            ("Dicke (µm)", "total_thickness", "um"),
            ("Épaisseur (mm)", "total_thickness", "mm"),
            ("Spessore mm", "total_thickness", "mm"),
            ("Espesor, µm", "total_thickness", "um"),
            ("Tensile strength, lb/in", "tensile", "lbf/in"),
            ("Zugfestigkeit N/10 mm", "tensile", "N/10 mm"),
            ("Breakdown voltage kV", "breakdown", "kV"),
            ("Durchschlagsspannung in kV", "breakdown", "kV"),
            ("Bruchdehnung / %", "elongation", "%"),
            ("Klebkraft auf Stahl [N/cm]", "adhesion", "N/cm"),
            ("Adhesion to backing (oz/in)", "adhesion_to_backing", "ozf/in"),
            ("Backing thickness [mil]", "backing_thickness", "mil"),
            ("Temperature index (°C)", "temperature_index", "degC"),
            ("Shelf life (months)", "shelf_life", "months"),
            ("Resistencia a la tracción (N/cm)", "tensile", "N/cm"),
        ] {
            let (found, with, certainty) = taken(text);
            assert_eq!((found, with.as_deref()), (goal, Some(unit)), "{text}");
            assert!(certainty >= Certainty::Likely, "{text}: {certainty:?}");
        }
    }

    /// What is not looked at more closely is farther away than a slip.
    #[test]
    fn letters_bound_how_near_texts_come() {
        let all: Vec<&Wording> = Target::ALL.iter().flat_map(|target| wordings_of(*target)).collect();
        let mut near = 0;
        for one in &all {
            for other in all.iter().step_by(3) {
                let likeness = strsim::jaro_winkler(one.text, other.text);
                assert!(one.letters.nearest(&other.letters) >= likeness - 1e-12, "{} {}", one.text, other.text);
                near += usize::from(one.text != other.text && likeness > NEAR);
            }
        }
        assert!(near > 100, "{near}");
        assert_eq!(taken("Tensle strenght N/cm").0, "tensile");
    }

    #[test]
    fn a_head_of_another_kind_is_not_taken() {
        assert_eq!(taken("Dielectric strength kV/mm").1, None);
        assert!(taken("Preis pro Rolle EUR").2 < Certainty::Likely);
        assert_eq!(taken("Width in mm available").2, Certainty::None);
        assert!(taken("Liner thickness (µm)").2 <= Certainty::Likely);
    }
}
