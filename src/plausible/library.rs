//! Sources and materials: what has grown old, and what nothing uses.

use std::collections::BTreeSet;

use crate::catalogue::{Catalogue, Subject, is_medium};
use crate::evidence::{Basis, Place};
use crate::load::{Folder, lines_of};

use super::{Cell, Found, Kind};

/// Years after which a sheet or a report about a tape is asked for again. Common practice, no source.
const OLD: i32 = 10;
const FILE: &str = "sources.yml";

/// Reviews sources and materials.
pub(super) fn review(folder: &Folder, catalogue: &Catalogue, found: &mut Found) {
    sources(folder, catalogue, found);
    materials(folder, catalogue, found);
}

fn sources(folder: &Folder, catalogue: &Catalogue, found: &mut Found) {
    // A work on polymers does not age; a sheet, and a report about what is made, does.
    let about_tapes = catalogue.facts.iter().filter(|f| matches!(f.subject, Subject::Tape(_)));
    let reports = catalogue.facts.iter().filter(|f| f.basis == Basis::Measured);
    let aging: BTreeSet<&str> = about_tapes.chain(reports).map(|f| f.source.as_str()).collect();
    let named: BTreeSet<&str> = catalogue.facts.iter().map(|f| f.source.as_str()).collect();
    let spoken = spoken(folder);
    let today = catalogue.about.date.as_str();
    let lines = lines_of(folder.text(FILE));
    for (key, entry) in &catalogue.sources {
        let line = lines.get(key.as_str()).copied().unwrap_or(0);
        let text = |name: &str| match &entry[name] {
            serde_json::Value::String(text) => text.clone(),
            serde_json::Value::Number(number) => number.to_string(),
            _ => String::new(),
        };
        let of = |column: &'static str| Place::cell(FILE, line, column);
        let (date, revised) = (text("date"), text("revised"));
        let years = |date: &str| date.get(..4).and_then(|year| year.parse::<i32>().ok());
        if let (Some(then), Some(now)) = (years(&date), years(today))
            && now - then > OLD
            && aging.contains(key.as_str())
        {
            let cell = Cell { subject: key, column: "date", value: &date, place: &of("date") };
            let needed = format!("a sheet or report of the last {OLD} years, as of {today}");
            found.add(Kind::SourceOld, &cell, format!("of {date}, {} years old", now - then), needed);
        }
        if !revised.is_empty() && !today.is_empty() && revised.as_str() <= today && named.contains(key.as_str()) {
            let cell = Cell { subject: key, column: "revised", value: &revised, place: &of("revised") };
            found.add(
                Kind::SourceOverdue,
                &cell,
                format!("a new edition since {revised}"),
                format!("a day after {today}"),
            );
        }
        if !named.contains(key.as_str()) && !spoken.contains(&plain(key)) {
            let place = Place::line(FILE, line);
            let cell = Cell { subject: key, column: "key", value: key, place: &place };
            found.add(Kind::SourceUnused, &cell, "named nowhere", "a row, criterion, caution or text that names it");
        }
    }
}

/// Every text of the data folder but the bibliography, in plain words, so that `ASTM D1000` names `astm-d1000`.
fn spoken(folder: &Folder) -> String {
    let texts = folder.files.iter().filter(|(name, _)| name.as_str() != FILE);
    texts.map(|(_, text)| plain(text)).collect()
}

/// Lower case, hyphens between words.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_ascii_alphanumeric() {
            out.push(c.to_ascii_lowercase());
        } else if !out.ends_with('-') {
            out.push('-');
        }
    }
    out
}

fn materials(folder: &Folder, catalogue: &Catalogue, found: &mut Found) {
    let mut used: BTreeSet<usize> = BTreeSet::new();
    for tape in &catalogue.tapes {
        used.extend([tape.backing, tape.adhesive]);
    }
    for fact in &catalogue.facts {
        used.extend(fact.medium);
        if let Subject::Material(index) = fact.subject
            && is_medium(&catalogue.materials[index])
        {
            used.insert(index);
        }
    }
    // What a material in use becomes on curing is in use.
    used.extend(catalogue.materials.iter().filter_map(|m| m.cures_to));
    let asked: String = folder.enquiries().map(|name| folder.text(name)).collect();
    for (index, material) in catalogue.materials.iter().enumerate() {
        if used.contains(&index) || asked.contains(&format!("\"{}\"", material.id)) {
            continue;
        }
        let cell = Cell { subject: &material.id, column: "id", value: &material.id, place: &material.place };
        let (what, needed) = if is_medium(material) {
            ("a medium of which no fact and no pair speaks", "at least one number about it")
        } else {
            ("no tape is made of it", "a tape with this backing or adhesive")
        };
        found.add(Kind::MaterialUnused, &cell, what, needed);
    }
}
