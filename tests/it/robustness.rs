//! No parser panics, whatever it is given.

use std::collections::BTreeMap;
use std::path::Path;

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::{Answers, Enquiry, questions};
use lapwise::fault::Faults;
use lapwise::load::{self, Folder};
use lapwise::quantity::{KINDS, Unit};
use lapwise::{calculate, plausible};
use proptest::prelude::*;

use crate::story::{SHIPPED, SMALL};

fn shipped() -> Folder {
    Folder::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(SHIPPED)).unwrap()
}

fn small() -> Folder {
    Folder::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(SMALL)).unwrap()
}

/// Text near to the real: pieces of real files with bytes changed, cut and doubled.
fn mangled(text: String) -> impl Strategy<Value = String> {
    let length = text.chars().count();
    (0..length, 0..length, ".{0,6}", any::<bool>()).prop_map(move |(a, b, insert, double)| {
        let (a, b) = (a.min(b), a.max(b));
        let chars: Vec<char> = text.chars().collect();
        let (head, middle, tail): (String, String, String) =
            (chars[..a].iter().collect(), chars[a..b].iter().collect(), chars[b..].iter().collect());
        if double { format!("{head}{middle}{insert}{middle}{tail}") } else { format!("{head}{insert}{tail}") }
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn quantities(text in ".{0,40}", unit in "[a-zA-Z0-9/^(). %µ²-]{0,24}", number in "[-+0-9.eE,]{0,10}") {
        for kind in KINDS {
            for text in [text.clone(), unit.clone(), format!("{number} {unit}")] {
                if let Ok(si) = kind.read(&text) {
                    prop_assert!(si.is_finite());
                }
            }
        }
        let _ = Unit::read(&unit);
    }

    #[test]
    fn tables(text in "([a-z,\"\r\n ]|id|kind|,){0,60}") {
        let mut faults = Faults::default();
        load::table("t.csv", &text, &["id", "kind"], &mut faults);
    }

    #[test]
    fn toml_files(text in "([a-z=\\[\\]{}\",.0-9\r\n ]|\\[\\[x\\]\\]){0,60}") {
        let mut faults = Faults::default();
        let mut keys = load::toml("t.toml", &text, &mut faults);
        keys.tables("x", &mut faults);
        keys.finish(&mut faults);
    }

    #[test]
    fn bibliographies(text in "([a-z:\\[\\]{}\"'&*!|>#\n -]|common: ){0,60}") {
        let mut faults = Faults::default();
        load::bibliography("s.yml", &text, &mut faults);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn mangled_folders(which in 0..9_usize, seed in any::<prop::sample::Index>(), (cut, insert) in (1..40_usize, ".{0,5}")) {
        let mut folder = small();
        let names: Vec<String> = folder.files.keys().cloned().collect();
        let name = &names[which % names.len()];
        let text: Vec<char> = folder.files[name].chars().collect();
        let at = seed.index(text.len());
        let head: String = text[..at].iter().collect();
        let tail: String = text[(at + cut).min(text.len())..].iter().collect();
        folder.files.insert(name.clone(), format!("{head}{insert}{tail}"));
        if let Ok(catalogue) = Catalogue::build(&folder) {
            for file in folder.enquiries() {
                let _ = Enquiry::read(file, folder.text(file), &catalogue);
            }
        }
    }

    /// Acceptances and usual ranges, bent out of shape.
    #[test]
    fn mangled_remarks(
        accepted in mangled(shipped().text(plausible::ACCEPTED).to_owned()),
        ranges in mangled(shipped().text(plausible::RANGES).lines().take(12).map(|l| format!("{l}\n")).collect()),
    ) {
        let mut folder = small();
        folder.files.insert(plausible::ACCEPTED.to_owned(), accepted);
        folder.files.insert(plausible::RANGES.to_owned(), ranges);
        let catalogue = Catalogue::build(&folder).unwrap();
        let _ = plausible::review(&folder, &catalogue, &[]);
    }

    /// Whatever is answered, what is kept is what was given, and what passes makes a file that passes.
    #[test]
    fn any_answers(
        given in prop::collection::btree_map(
            prop::sample::select(questions::QUESTIONS.iter().map(|q| q.key.replacen("exposure.", "exposure.1.", 1)).collect::<Vec<_>>()),
            "(air|motor|banding|service|yes|no|20 a|155|2|50 %|20 degC|60 %@1 degC, 40 %@2 degC|1 mm/3|.{0,12})",
            0..40,
        )
    ) {
        let catalogue = Catalogue::build(&small()).unwrap();
        let arguments: Vec<String> = given.iter().map(|(key, value)| format!("{key}={value}")).collect();
        let mut answers = Answers::of(&arguments).unwrap();
        let complete = answers.complete(&catalogue).is_ok();
        prop_assert_eq!(&Answers::resume("kept", &answers.kept()).unwrap(), &answers);
        if complete && answers.read(&catalogue).is_ok() {
            prop_assert!(Enquiry::read("again.toml", &answers.file(), &catalogue).is_ok());
        }
    }

    #[test]
    fn model_arguments(at in any::<prop::sample::Index>(), arguments in prop::collection::vec("(index|halving|temperature|gap|points|chi|layers|value|to|.{0,8})=(155 degC|10 K|1 mm|0.5|1 h@20 degC|.{0,12})", 0..6)) {
        let names: Vec<&str> = calculate::names().map(|(name, _)| name).collect();
        if let Ok(done) = calculate::run(names[at.index(names.len())], &arguments) {
            prop_assert!(!done.to_string().is_empty());
        }
    }

    #[test]
    fn mangled_enquiries(text in mangled(small().text("enquiries/s-1.toml").to_owned())) {
        let catalogue = Catalogue::build(&small()).unwrap();
        let _ = Enquiry::read("enquiries/s-1.toml", &text, &catalogue);
    }
}

#[test]
fn hostile_sizes_end_soon() {
    let deep = format!("x = {}", "[".repeat(20_000));
    let mut faults = Faults::default();
    load::toml("deep.toml", &deep, &mut faults);
    assert!(!faults.is_empty());
    let mut faults = Faults::default();
    load::bibliography("deep.yml", &"[".repeat(20_000), &mut faults);
    assert!(!faults.is_empty());
    let _ = Unit::read(&"(".repeat(20_000));
    let _ = Unit::read(&"m/".repeat(20_000));
    let empty: BTreeMap<String, String> = BTreeMap::new();
    assert!(Catalogue::build(&Folder { files: empty, ..small() }).is_err());
}
