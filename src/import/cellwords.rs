//! Words in cells: `gelb` is yellow, `Acrylat` an adhesive of the data folder.

use std::collections::BTreeSet;

use crate::catalogue::{Catalogue, words};

use super::lexicon;
use super::map::Target;
use super::sheet::Sheet;
use super::wordings::Wordings;
use super::words::tokens;

/// The words of a column that stand for others, as far as that is certain.
pub(super) fn guess(
    sheet: &Sheet,
    first: usize,
    column: usize,
    target: Target,
    goal: &str,
    catalogue: &Catalogue,
    wordings: &Wordings,
) -> Vec<(String, String)> {
    let mut texts: BTreeSet<String> = BTreeSet::new();
    for row in first..sheet.rows.len() {
        let text = sheet.shown(row, column).text();
        if !text.is_empty() && text.chars().count() <= 80 {
            texts.insert(text);
        }
        if texts.len() > 200 {
            // So many different texts are names, not words.
            return Vec::new();
        }
    }
    let mut found = Vec::new();
    for text in texts {
        let meaning = if is_material(target, goal) {
            material(&text, goal, target, catalogue, wordings)
        } else {
            word(&text, goal)
        };
        if let Some(meaning) = meaning.filter(|meaning| *meaning != text) {
            found.push((text, meaning));
        }
    }
    found
}

fn is_material(target: Target, goal: &str) -> bool {
    matches!(
        (target, goal),
        (Target::Tapes, "backing" | "adhesive") | (Target::Facts, "subject") | (Target::Pairs, "material" | "medium")
    )
}

/// The words that may stand in a column, where the list is closed.
#[must_use]
pub(super) fn allowed(goal: &str) -> Option<&'static [&'static str]> {
    Some(match goal {
        "status" => words::STATUS,
        "flame" => words::YES_NO,
        "silicone" => words::SILICONE,
        "adhesive_cure" => words::CURE,
        "index_basis" => words::INDEX_BASIS,
        "effect" => words::EFFECT,
        "atmosphere" => words::ATMOSPHERE,
        _ => return None,
    })
}

/// The word of a closed list, or of a colour, that a text stands for.
fn word(text: &str, goal: &str) -> Option<String> {
    let folded = tokens(text).join(" ");
    if let Some(same) = allowed(goal).into_iter().flatten().find(|word| **word == folded || **word == text) {
        return Some((*same).to_owned());
    }
    let meant = |(column, _, list): &&(&str, &str, &str)| *column == goal && list.split('|').any(|w| w == folded);
    lexicon::CELLS.iter().find(meant).map(|(_, word, _)| (*word).to_owned())
}

/// The material of the data folder that a text names: by key, by name, or by a wording that only one fits.
fn material(text: &str, goal: &str, target: Target, catalogue: &Catalogue, wordings: &Wordings) -> Option<String> {
    if catalogue.material(text).is_some() || (target != Target::Tapes && catalogue.tape(text).is_some()) {
        return Some(text.to_owned());
    }
    let wanted = tokens(text);
    let fits = |kind: &str| match (target, goal) {
        (Target::Tapes, goal) => kind == goal,
        (_, "medium") => !matches!(kind, "backing" | "adhesive"),
        _ => true,
    };
    let mut named = catalogue.materials.iter().filter(|m| fits(m.kind)).filter(|m| {
        let name = m.name.split([',', '(']).next().unwrap_or_default();
        // The words in another order are the same name: "naphthenic mineral oil".
        sorted(tokens(&m.id)) == sorted(wanted.clone()) || sorted(tokens(name)) == sorted(wanted.clone())
    });
    if let (Some(one), None) = (named.next(), named.next()) {
        return Some(one.id.clone());
    }
    let folded = wanted.join(" ");
    let kind = |id: &&str| catalogue.material(id).is_some_and(|m| fits(catalogue.materials[m].kind));
    let mut called = wordings.of(&folded).filter(kind);
    match (called.next(), called.next()) {
        (Some(one), None) => Some(one.to_owned()),
        _ => None,
    }
}

fn sorted(mut words: Vec<String>) -> Vec<String> {
    words.sort();
    words
}

/// The materials that a text may mean, for the question that is asked instead of a guess.
#[must_use]
pub(super) fn candidates(text: &str, goal: &str, catalogue: &Catalogue, wordings: &Wordings) -> Vec<String> {
    let fits = |kind: &str| match goal {
        "backing" | "adhesive" => kind == goal,
        "medium" => !matches!(kind, "backing" | "adhesive"),
        _ => true,
    };
    let wanted = tokens(text);
    let folded = wanted.join(" ");
    let called: Vec<&str> = wordings.of(&folded).chain(wanted.iter().flat_map(|token| wordings.of(token))).collect();
    let words = |m: &crate::catalogue::Material| tokens(&format!("{} {} {}", m.id, m.family, m.name));
    let all: Vec<&crate::catalogue::Material> = catalogue.materials.iter().filter(|m| fits(m.kind)).collect();
    let near = |m: &&&crate::catalogue::Material| {
        called.contains(&m.id.as_str()) || wanted.iter().any(|w| w.len() > 2 && words(m).contains(w))
    };
    let found: Vec<String> = all.iter().filter(near).map(|m| m.id.clone()).collect();
    // Nothing near: all of the kind, where that is a list a person reads.
    if found.is_empty() && all.len() <= 16 { all.iter().map(|m| m.id.clone()).collect() } else { found }
}
