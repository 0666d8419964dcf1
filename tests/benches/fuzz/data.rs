//! The readers of the data folder: quantities, tables, TOML, the bibliography, the catalogue; and what is judged by them.

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::fault::Faults;
use lapwise::load::{self, Folder};
use lapwise::quantity::{KINDS, Unit};

use crate::feed::{Dice, mangle, reshape, spoil};
use crate::{Corpus, Run};

pub(crate) fn quantity<'c>(dice: &mut Dice, _: &'c Corpus) -> Run<'c> {
    let kind = KINDS[dice.below(KINDS.len())];
    let input = spoil(dice, kind.example);
    (
        input.clone(),
        Box::new(move || {
            for kind in KINDS {
                if let Ok(si) = kind.read(&input) {
                    assert!(si.is_finite(), "{input} is {si}");
                }
            }
            let _ = Unit::read(&input);
        }),
    )
}

pub(crate) fn bytes<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let input = mangle(dice, c.folder.text("about.toml"));
    (format!("{input:?}"), Box::new(move || drop(load::decode(input, "fuzz"))))
}

pub(crate) fn table<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let file = dice.of(&["tapes.csv", "materials.csv", "pairs.csv"]);
    let input = spoil(dice, c.folder.text(file));
    (
        input.clone(),
        Box::new(move || {
            load::table("fuzz.csv", &input, &["id", "kind", "family", "name", "cures_to"], &mut Faults::default());
        }),
    )
}

pub(crate) fn toml<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let file = dice.of(&["criteria.toml", "cautions.toml", "jurisdictions.toml", "enquiries/s-1.toml"]);
    let input = spoil(dice, c.folder.text(file));
    (
        input.clone(),
        Box::new(move || {
            let mut faults = Faults::default();
            let mut keys = load::toml("fuzz.toml", &input, &mut faults);
            keys.tables("criterion", &mut faults);
            keys.finish(&mut faults);
        }),
    )
}

pub(crate) fn bibliography<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let input = spoil(dice, c.folder.text("sources.yml"));
    (
        input.clone(),
        Box::new(move || {
            let _ = load::lines_of(&input);
            load::bibliography("fuzz.yml", &input, &mut Faults::default());
        }),
    )
}

/// One file of a folder spoilt.
pub(crate) fn one_spoilt(dice: &mut Dice, folder: &Folder, files: &[&str]) -> (Folder, String) {
    let mut folder = folder.clone();
    let file = dice.of(files);
    let input = spoil(dice, folder.text(file));
    folder.files.insert(file.to_owned(), input.clone());
    (folder, format!("{file}:\n{input}"))
}

pub(crate) fn catalogue<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let files: Vec<&str> = load::NEEDED.iter().copied().chain([load::JURISDICTIONS]).collect();
    let (folder, input) = one_spoilt(dice, &c.folder, &files);
    (input, Box::new(move || drop(Catalogue::build(&folder))))
}

pub(crate) fn enquiry<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let files: Vec<&str> = c.shipped.enquiries().collect();
    let file = dice.of(&files);
    let input = spoil(dice, c.shipped.text(file));
    (input.clone(), Box::new(move || drop(Enquiry::read("fuzz.toml", &input, &c.shipped_catalogue))))
}

/// What reads without a fault has to be judged without a panic as well.
pub(crate) fn judging<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let (mut folder, mut input) =
        one_spoilt(dice, &c.folder, &["tapes.csv", "facts.csv", "pairs.csv", "criteria.toml"]);
    let asked = reshape(dice, c.folder.text("enquiries/s-1.toml"));
    if dice.below(2) == 0 {
        folder = c.folder.clone();
        input.clear();
    }
    input = format!("{input}\n{asked}");
    (
        input,
        Box::new(move || {
            let Ok(catalogue) = Catalogue::build(&folder) else { return };
            let enquiry = Enquiry::read("fuzz.toml", &asked, &catalogue)
                .or_else(|_| Enquiry::read("s-1.toml", folder.text("enquiries/s-1.toml"), &catalogue));
            let Ok(enquiry) = enquiry else { return };
            let enquiries = [enquiry];
            if let Ok(plan) = Plan::new(&catalogue, &enquiries) {
                let _ = plan.findings(0);
                let _ = plan.standings();
            }
        }),
    )
}
