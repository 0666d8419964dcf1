//! One changed cell flips what judging everything again flips, and nothing else: over random changes.

use super::*;

/// Cells to change at random: file, row, column, and what may stand there instead.
const CELLS: &[(&str, &str, &[&str])] = &[
    ("tapes.csv", "75 um", &["76 um", "60 um", "90 um"]),
    ("tapes.csv", "125 N/cm", &["12 N/cm", "60 N/cm", "126 N/cm"]),
    ("tapes.csv", "45 lbf/in", &["4 lbf/in", "20 lbf/in"]),
    ("tapes.csv", "10.5 kV", &["2 kV", "9 kV"]),
    ("tapes.csv", "5000 V", &["900 V", "9000 V"]),
    ("tapes.csv", "105 degC,,tape", &["130 degC,,tape", "90 degC,,tape"]),
    ("tapes.csv", "311 degF", &["220 degF", "312 degF"]),
    ("facts.csv", "polyester-film,permittivity,3.25,3.15,3.35", &["polyester-film,permittivity,3.6,3.5,3.7"]),
    ("facts.csv", "3e-13", &["1e-12"]),
    ("facts.csv", "1.83e-8 kg/mol/s,9e-9 kg/mol/s,4e-8 kg/mol/s", &["1.83e-7 kg/mol/s,9e-8 kg/mol/s,4e-7 kg/mol/s"]),
    ("facts.csv", "20 kg/mol,17.5 kg/mol,26 kg/mol", &["30 kg/mol,26 kg/mol,36 kg/mol"]),
    ("facts.csv", "310 cm3/mol,280 cm3/mol,335 cm3/mol", &["90 cm3/mol,80 cm3/mol,100 cm3/mol"]),
    ("facts.csv", "106.8 cm3/mol", &["107.0 cm3/mol"]),
    ("pairs.csv", "saturation_uptake,0.3 %,0.05 %,1.2 %", &["saturation_uptake,9 %,8 %,10 %"]),
    ("pairs.csv", "2e-13 m2/s,2e-14 m2/s,2e-12 m2/s", &["4e-13 m2/s,4e-14 m2/s,4e-12 m2/s"]),
    ("criteria.toml", "limit = 8.0", &["limit = 12.0"]),
    ("criteria.toml", "limit = 0.5", &["limit = 0.9", "limit = 0.05"]),
];

/// What every kept enquiry is decided by a data folder, each by itself: no pass, no plan of many.
fn decided(register: &Register, data: &Path) -> BTreeMap<String, String> {
    let folder = Folder::read(data).unwrap();
    let catalogue = Catalogue::build(&folder).unwrap();
    let mut decided = BTreeMap::new();
    for (.., change) in register.log().unwrap().records() {
        let statement = register.statement(change).unwrap();
        let id: RecordId = statement.record.parse().unwrap();
        let text = regenerate::enquiry(register, &id, &statement).unwrap();
        let enquiries = [Enquiry::read("x.toml", &text, &catalogue).unwrap()];
        let plan = Plan::new(&catalogue, &enquiries).unwrap();
        let standings = plan.standings();
        let judged = Judge::new(&plan).unwrap().judged(0, &standings[0], &statement.selection.tape).unwrap();
        decided.insert(statement.record, judged.unwrap().decision);
    }
    decided
}

#[test]
fn one_changed_cell_flips_what_brute_force_flips() {
    let shelf = Shelf::with(12);
    let register = shelf.register();
    let before = decided(&register, &shelf.story.data());
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut random = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(state >> 33).unwrap() % below
    };
    let (mut overturned, mut still) = (0, 0);
    for _ in 0..24 {
        let (file, from, others) = CELLS[random(CELLS.len())];
        let path = shelf.story.data().join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        let to = others[random(others.len())];
        if !text.contains(from) {
            continue;
        }
        std::fs::write(&path, text.replacen(from, to, 1)).unwrap();
        let after = decided(&register, &shelf.story.data());
        for line in shelf.pass().report.selections {
            let flips = before[&line.record] != after[&line.record];
            assert_eq!(line.outcome == Outcome::Overturned, flips, "{}: {from} → {to}: {line:?}", line.record);
            if flips {
                overturned += 1;
                assert!(line.flipped.is_some() && line.causes == [1], "{from} → {to}: {line:?}");
            } else {
                still += 1;
            }
        }
        std::fs::write(&path, text).unwrap();
    }
    assert!(overturned > 20 && still > 20, "{overturned} overturned, {still} not");
}
