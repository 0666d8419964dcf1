//! Every remark, one planted mistake each: the mistake is found under its own code and under no other.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use lapwise::plausible::Kind::{self, *};
use serde_json::Value;

use crate::story::{SHIPPED, SMALL, Story};

/// Code, subject, column and value of every remark that stands.
fn remarks(story: &Story) -> Vec<[String; 4]> {
    let told = story.lapwise(&["check", "--json"]);
    assert_eq!(told.code, 0, "{}", told.out);
    let document: Value = serde_json::from_str(&told.out).unwrap();
    let list = document["remarks"].as_array().unwrap();
    list.iter().map(|r| ["code", "subject", "column", "value"].map(|key| r[key].as_str().unwrap().to_owned())).collect()
}

impl Story {
    /// Writes one cell of a tape.
    fn tape(self, id: &str, column: &str, value: &str) -> Story {
        self.rewrite("tapes.csv", |text| {
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            let head = reader.headers().unwrap().clone();
            let at = head.iter().position(|h| h == column).unwrap();
            let mut writer = csv::Writer::from_writer(Vec::new());
            writer.write_record(&head).unwrap();
            let mut there = false;
            for row in reader.records().map(Result::unwrap) {
                let of_tape = &row[0] == id;
                there |= of_tape;
                let cells = row.iter().enumerate().map(|(n, cell)| if of_tape && n == at { value } else { cell });
                writer.write_record(cells).unwrap();
            }
            assert!(there, "no tape {id}");
            String::from_utf8(writer.into_inner().unwrap()).unwrap()
        })
    }

    /// Adds a line to a file.
    fn line(self, file: &str, line: &str) -> Story {
        self.rewrite(file, |text| format!("{text}{line}\n"))
    }
}

fn shipped() -> Story {
    Story::of(SHIPPED)
}

#[test]
fn the_shipped_data_draw_no_remark() {
    assert_eq!(remarks(&shipped()), Vec::<[String; 4]>::new());
    assert_eq!(shipped().lapwise(&["check", "--strict"]).code, 0);
}

type Plant = fn(Story) -> Story;

/// Each code with a planted mistake: whom the remark names, in which column, what is done to the shipped data.
const PLANTED: &[(Kind, &str, &str, Plant)] = &[
    (UnitSlip, "H-013", "tensile", |s| s.tape("H-013", "tensile", "420 N/cm")),
    (UnitSlip, "H-014", "backing_thickness", |s| s.tape("H-014", "backing_thickness", "75 mm")),
    (UnitSlip, "H-014", "total_thickness", |s| s.tape("H-014", "total_thickness", "105 mil").tape("H-014", "note", "")),
    (UnitSlip, "H-012", "temperature_index", |s| s.tape("H-012", "temperature_index", "311 degC")),
    (UnitSlip, "H-013", "breakdown", |s| s.tape("H-013", "breakdown", "4.8 V")),
    (UnitSlip, "H-013", "edge_tear", |s| s.tape("H-013", "edge_tear", "2350 N")),
    (UnitSlip, "H-061", "edge_tear", |s| s.tape("H-061", "edge_tear", "8000 N")),
    (UnitSlip, "toluene", "density", |s| {
        s.change("facts.csv", "toluene,density,862.3 kg/m3,860.6 kg/m3,864.1 kg/m3", "toluene,density,862.3 g/cm3,,")
    }),
    (UnitSlip, "Q-101", "winding.width", |s| s.change("enquiries/q-101.toml", "width = \"25 mm\"", "width = \"25 m\"")),
    (ValueUnusual, "H-013", "shelf_life", |s| s.tape("H-013", "shelf_life", "30 d")),
    (ValueUnusual, "toluene", "permittivity", |s| {
        s.rewrite("facts.csv", |t| replace_value(t, "toluene,permittivity,", "240"))
    }),
    (FactConflict, "H-013", "tensile", |s| {
        s.line("facts.csv", "H-013,tensile,60 N/cm,55 N/cm,65 N/cm,23 degC,,measured,invented-report-01-mineral-oil,")
    }),
    (FactConflict, "toluene", "permittivity", |s| {
        s.line("facts.csv", "toluene,permittivity,4.5,4.4,4.6,20 degC,,measured,schrier-2020,")
    }),
    (SpreadNarrow, "polyester-film", "strength_exponent", |s| {
        s.change("facts.csv", "strength_exponent,0.4,0.25,0.52", "strength_exponent,0.4,0.3999,0.4001")
    }),
    (SourceOld, "invented-catalogue", "date", |s| {
        s.rewrite("sources.yml", |t| dated(t, "invented-catalogue", "date: 2009"))
    }),
    (SourceOverdue, "orwoll-arnold-2007", "revised", |s| {
        s.rewrite("sources.yml", |t| {
            t.replacen("orwoll-arnold-2007:\n", "orwoll-arnold-2007:\n  revised: 2026-11-01\n", 1)
        })
    }),
    (SourceUnused, "a-lost-note", "key", |s| {
        s.line("sources.yml", "a-lost-note:\n  type: misc\n  title: A lost note\n  date: 2020")
    }),
    (MaterialUnused, "cork", "id", |s| s.line("materials.csv", "cork,backing,cellulose,cork sheet,")),
    (MaterialUnused, "argon", "id", |s| s.line("materials.csv", "argon,gas,inert-gas,argon,")),
    (StorageOutside, "Q-104", "exposure workshop store.humidity", |s| {
        s.change("enquiries/q-104.toml", "humidity = \"60 %\"", "humidity = \"75 %\"")
    }),
    (StorageOutside, "Q-104", "exposure workshop store.temperature", |s| {
        s.change("enquiries/q-104.toml", "temperature = \"23 degC\"", "temperature = \"35 degC\"")
    }),
    (ExposureCooler, "Q-101", "exposure service oil.temperature", |s| {
        s.rewrite("enquiries/q-101.toml", |t| {
            let (before, service) = t.split_once("name = \"service oil\"").unwrap();
            format!(
                "{before}name = \"service oil\"{}",
                service.replacen("temperature = \"60 degC\"", "temperature = \"45 degC\"", 1)
            )
        })
    }),
    (ThicknessSum, "H-014", "total_thickness", |s| s.tape("H-014", "total_thickness", "120 um")),
    (ThicknessSum, "H-061", "total_thickness", |s| s.tape("H-061", "coated_sides", "2")),
    (IndexAboveParts, "H-018", "temperature_index", |s| s.tape("H-018", "temperature_index", "155 degC")),
    (IndexAboveParts, "H-013", "temperature_index", |s| s.tape("H-013", "temperature_index", "200 degC")),
    (StrengthImpossible, "H-013", "breakdown", |s| s.tape("H-013", "breakdown", "9.5 kV")),
    (TensileImpossible, "H-013", "tensile", |s| s.tape("H-013", "tensile", "80 N/cm")),
    (UnwindContradiction, "H-013", "unwind", |s| s.tape("H-013", "unwind", "5.2 N/cm")),
    (BackingOverSteel, "H-013", "adhesion_to_backing", |s| s.tape("H-013", "adhesion_to_backing", "3.9 N/cm")),
    (PeelTears, "H-081", "unwind", |s| {
        s.tape("H-081", "tensile", "13 N/cm")
            .tape("H-081", "adhesion", "6.4 N/cm")
            .tape("H-081", "adhesion_to_backing", "6 N/cm")
            .tape("H-081", "unwind", "7 N/cm")
    }),
    (ElongationSmall, "H-112", "elongation", |s| s.tape("H-112", "elongation", "0.9 %")),
    (BendContradiction, "H-064", "cold_bend", |s| s.tape("H-064", "elongation", "1.8 %")),
    (ShearAboveIndex, "H-011", "shear_temperature", |s| s.tape("H-011", "shear_temperature", "140 degC")),
    (HalvingUnusual, "H-013", "halving_interval", |s| s.tape("H-013", "halving_interval", "20 K")),
    (CureContradiction, "H-012", "adhesive_cure", |s| s.tape("H-012", "adhesive_cure", "thermosetting")),
    (CureContradiction, "H-062", "adhesive_cure", |s| s.tape("H-062", "cure_time", "")),
    (ShelfLifeThermosetting, "H-062", "shelf_life", |s| s.tape("H-062", "shelf_life", "3 a")),
    (SiliconeContradiction, "H-061", "silicone", |s| s.tape("H-061", "silicone", "none")),
    (HalogenContradiction, "H-121", "halogen", |s| s.tape("H-121", "halogen", "20 mg/kg")),
    (PorosityContradiction, "H-042", "open_porosity", |s| s.tape("H-042", "open_porosity", "0.3")),
    (TapeDuplicate, "H-999", "tape", |s| s.rewrite("tapes.csv", doubled)),
    (DiscontinuedAlone, "H-131", "status", |s| s.tape("H-131", "status", "discontinued")),
    (CostMissing, "tapes.csv", "relative_cost", |s| {
        let ids: Vec<String> = fs::read_to_string(s.data().join("tapes.csv"))
            .unwrap()
            .lines()
            .skip(1)
            .map(|row| row.split(',').next().unwrap().to_owned())
            .collect();
        ids.iter().fold(s, |s, id| s.tape(id, "relative_cost", ""))
    }),
    (NothingAsked, "Q-107", "application.function", |s| s.rewrite("criteria.toml", not_of_phases)),
    (ExposureHotter, "Q-101", "exposure service oil.temperature", |s| {
        s.rewrite("enquiries/q-101.toml", |t| {
            t.replacen(
                "temperature = \"60 degC\"\nduration = \"20 a\"",
                "temperature = \"95 degC\"\nduration = \"20 a\"",
                1,
            )
        })
    }),
    (ExposureLonger, "Q-106", "exposure coastal air.duration", |s| {
        s.change("enquiries/q-106.toml", "duration = \"15 a\"", "duration = \"25 a\"")
    }),
    (ProfileAboveClass, "Q-106", "duty.load_profile", |s| {
        s.change("enquiries/q-106.toml", "\"80 degC\"", "\"115 degC\"")
    }),
    (WipeLong, "Q-106", "exposure finger-mark wipe.duration", |s| {
        s.change("enquiries/q-106.toml", "\"1 min\"", "\"1 d\"")
    }),
    (BakeCool, "Q-103", "exposure resin bake.temperature", |s| {
        s.change("enquiries/q-103.toml", "temperature = \"150 degC\"", "temperature = \"35 degC\"")
    }),
    (VacuumHigh, "Q-103", "exposure vacuum impregnation.vacuum", |s| {
        s.change("enquiries/q-103.toml", "\"0.2 kPa\"", "\"90 kPa\"")
    }),
    (WidthContradiction, "Q-106", "winding.width", |s| {
        s.change("enquiries/q-106.toml", "circumference = \"130 mm\"", "circumference = \"6 mm\"")
    }),
    (AskedUnusual, "Q-106", "duty.life", |s| s.change("enquiries/q-106.toml", "life = \"15 a\"", "life = \"80 a\"")),
    (SystemUnlisted, "Q-103", "application.system", |s| s.change("enquiries/q-103.toml", "SKS-155-2", "SKS-155-9")),
    (ColourUnlisted, "Q-106", "application.colour", |s| s.change("enquiries/q-106.toml", "\"white\"", "\"wite\"")),
    (NumberTwice, "Q-101", "enquiry.number", |s| s.change("enquiries/q-102.toml", "\"Q-102\"", "\"Q-101\"")),
    (AcceptanceStale, "H-013", "halving_interval", |s| {
        s.line("accepted.toml", "[[accepted]]\ncode = \"halving-unusual\"\nsubject = \"H-013\"\ncolumn = \"halving_interval\"\nvalue = \"20 K\"\nreason = \"a report\"\nby = \"nobody\"\ndate = 2026-11-20")
    }),
];

#[test]
fn every_planted_mistake_is_found_under_its_code() {
    let mut wrong = Vec::new();
    for (code, subject, column, plant) in PLANTED {
        let found = remarks(&plant(shipped()));
        let found: Vec<[&str; 3]> = found.iter().map(|[a, b, c, _]| [a.as_str(), b, c]).collect();
        if found != [[code.code(), *subject, *column]] {
            wrong.push(format!("{code} on {subject}, {column}: {found:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let there: BTreeSet<Kind> = PLANTED.iter().map(|(code, ..)| *code).collect();
    let missing: Vec<&str> = Kind::ALL.iter().filter(|kind| !there.contains(kind)).map(|kind| kind.code()).collect();
    assert!(missing.is_empty(), "no mistake is planted for {missing:?}");
}

/// Criteria that ask every function but one.
fn not_of_phases(text: &str) -> String {
    let others =
        "applies = { function = [\"banding\", \"outer-wrap\", \"interlayer\", \"end-turn-wrap\", \"lead-hold-down\"] }";
    let lines = text.lines().filter(|line| !line.starts_with("applies"));
    lines
        .map(|line| if line.starts_with("measure") { format!("{line}\n{others}\n") } else { format!("{line}\n") })
        .collect()
}

/// A tape once more, under another id and name.
fn doubled(text: &str) -> String {
    let row = text.lines().find(|row| row.starts_with("H-013,")).unwrap();
    format!("{text}{}\n", row.replacen("H-013,Skerrow 13 white polyester", "H-999,another name", 1))
}

/// The row that begins so, with another value.
fn replace_value(text: &str, begin: &str, value: &str) -> String {
    let row = text.lines().find(|row| row.starts_with(begin)).unwrap();
    let rest = row[begin.len()..].split_once(',').unwrap().1;
    let rest: Vec<&str> = rest.splitn(3, ',').collect();
    text.replacen(row, &format!("{begin}{value},,,{}", rest[2]), 1)
}

/// A bibliography whose entry is of another date.
fn dated(text: &str, key: &str, date: &str) -> String {
    let at = text.find(&format!("{key}:\n")).unwrap();
    let (head, tail) = text.split_at(at);
    let old = tail.lines().find(|line| line.trim_start().starts_with("date:")).unwrap();
    format!("{head}{}", tail.replacen(old.trim_start(), date, 1))
}

#[test]
fn a_remark_reads_like_a_fault() {
    let story = shipped().tape("H-013", "tensile", "420 N/cm");
    let told = story.lapwise(&["check"]);
    assert_eq!((told.code, told.err.as_str()), (0, ""));
    insta::assert_snapshot!(told.out, @r"
    tapes.csv line 4, column tensile
      found   H-013: `420 N/cm`, 1.68 GPa over the backing's `25 um`, which would be 168 MPa if it is 10 times too large
      needed  110 MPa to 260 MPa, usual for polyester-film (common-practice)
      do      read the sheet again and write its own unit
      (unit-slip)

    no fault in 20 files: 48 tapes, 64 materials, 3884 facts, 33 criteria, 8 enquiries
    1 remark stands, 1 accepted; mend the number, or `lapwise accept` it with a reason
    ");
    assert_eq!(story.lapwise(&["check", "--strict"]).code, 1);
}

#[test]
fn a_remark_is_accepted_with_a_reason_until_its_value_changes() {
    let story = shipped().tape("H-013", "halving_interval", "20 K");
    let arguments = [
        "accept",
        "halving-unusual",
        "H-013",
        "--reason",
        "report 14: \"two steps\"",
        "--by",
        "A. Example",
        "--date",
        "2026-11-25",
    ];
    let told = story.lapwise(&arguments);
    assert_eq!((told.code, told.err.as_str()), (0, ""), "{}", told.out);
    assert_eq!(remarks(&story), Vec::<[String; 4]>::new());
    let listed = story.lapwise(&["check", "--accepted"]).out;
    assert!(listed.contains("accepted by A. Example, 2026-11-25: report 14: \"two steps\""), "{listed}");
    let again = story.lapwise(&arguments);
    assert_eq!(again.code, 1);
    assert!(again.err.contains("nothing is to be accepted"), "{}", again.err);
    let story = story.tape("H-013", "halving_interval", "22 K");
    let codes: Vec<String> = remarks(&story).into_iter().map(|[code, ..]| code).collect();
    assert_eq!(codes, ["acceptance-stale", "halving-unusual"]);
}

#[test]
fn what_can_be_accepted_is_named() {
    let story = shipped().tape("H-013", "halving_interval", "20 K").tape("H-013", "tensile", "420 N/cm").tape(
        "H-013",
        "breakdown",
        "4.8 V",
    );
    let say = |arguments: &[&str]| {
        let told = story.lapwise(&[&["accept"], arguments, &["--reason", "r", "--by", "b"]].concat());
        assert_eq!(told.code, 1, "{}", told.out);
        told.err
    };
    assert!(say(&["halving-unusal", "H-013"]).contains("did you mean `halving-unusual`?"));
    assert!(say(&["halving-unusual", "H-013x"]).contains("did you mean `H-013`?"));
    assert!(say(&["unit-slip", "H-013"]).contains("name its column: breakdown, tensile"));
    assert!(say(&["unit-slip", "H-013", "tensil"]).contains("did you mean `tensile`?"));
    let told = story.lapwise(&["accept", "halving-unusual", "H-013", "--reason", " ", "--by", "b"]);
    assert_eq!(told.code, 2, "{}", told.err);
}

#[test]
fn acceptances_and_ranges_are_read_like_all_data() {
    let story = shipped()
        .line("accepted.toml", "[[accepted]]\ncode = \"halving-unusul\"\nreason = \" \"\nby = \"b\"\ndate = \"today\"\nwhy = 1")
        .line("ranges.csv", "tape,,tensil,1 N/cm,2 N/cm,common-practice,\ntape,,tensile,1 mm,2 N/cm,nowhere,\nhull,,density,2 g/cm3,1 g/cm3,common-practice,\nbacking,polyestr,density,1 g/cm3,2 g/cm3,common-practice,");
    let told = story.lapwise(&["check"]);
    assert_eq!(told.code, 1);
    for code in [
        "word-unknown",
        "key-missing",
        "value-type",
        "key-unknown",
        "unit-kind",
        "source-unknown",
        "spread-order",
        "reference-unknown",
    ] {
        assert!(told.err.contains(code), "{code}: {}", told.err);
    }
    for near in ["`halving-unusual`?", "`tensile`?", "`polyester`?"] {
        assert!(told.err.contains(near), "{near}: {}", told.err);
    }
}

/// Without usual ranges only what contradicts itself is found, and `check` says so.
#[test]
fn a_folder_without_ranges_says_so() {
    let told = Story::of(SMALL).lapwise(&["check"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(told.out.contains("no ranges.csv in a folder"), "{}", told.out);
}

/// The table of codes in the data folder's manual is the one in the program.
#[test]
fn the_manual_lists_every_code() {
    let manual = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("matrices/README.md")).unwrap();
    let rows: Vec<String> = Kind::ALL
        .iter()
        .map(|k| format!("| `{}` | {} | {} | {} |", k.code(), k.looks(), k.limit(), k.settle()))
        .collect();
    let missing: Vec<&String> = rows.iter().filter(|row| !manual.contains(*row)).collect();
    assert!(missing.is_empty(), "matrices/README.md lacks\n{missing:#?}");
}
