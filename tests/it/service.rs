//! What service does to a tape: damp that acts on the margin of breakdown, and limits of use that were tried.

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::Enquiry;
use lapwise::envelope::{Quantity, envelope};
use lapwise::expand::Plan;
use lapwise::judge::{Finding, Verdict};
use lapwise::load::Folder;
use lapwise::quantity::{in_unit, significant};
use lapwise::rank;

use crate::draws::shipped;
use crate::story::{SHIPPED, Story};

/// The findings of one tape in one demonstration enquiry, with the data changed.
fn findings(story: &Story, number: &str, tape: &str) -> (Catalogue, Vec<Finding>) {
    let folder = Folder::read(&story.data()).unwrap();
    let catalogue = Catalogue::build(&folder).unwrap();
    let name = format!("enquiries/{}.toml", number.to_lowercase());
    let text = std::fs::read_to_string(story.data().join(&name)).unwrap();
    let enquiry = Enquiry::read(&name, &text, &catalogue).unwrap();
    let tape = catalogue.tape(tape).unwrap();
    let found = Plan::of(&catalogue, std::slice::from_ref(&enquiry), vec![tape]).unwrap().findings_of(0, 0);
    (catalogue, found)
}

fn of<'f>((catalogue, findings): &'f (Catalogue, Vec<Finding>), criterion: &str) -> &'f Finding {
    let asked = |f: &&Finding| f.verdict != Verdict::NotAsked && catalogue.criteria[f.criterion].id == criterion;
    findings.iter().rfind(asked).unwrap()
}

/// What the damp leaves is in the margin of breakdown, once; where discharge and breakdown race, the lower voltage counts.
#[test]
fn damp_is_in_the_breakdown_margin() {
    let with = |kept: &str| {
        let row = "H-072,air,on-material,breakdown_kept,";
        let text = |t: &str| {
            let line = |l: &str| if l.starts_with(row) { String::new() } else { format!("{l}\n") };
            let added =
                format!("{row}{kept},{kept},{kept},40 degC,504 h,,93 %,air,invented,invented-report-03-damp-heat,\n");
            t.lines().map(line).collect::<String>() + &added
        };
        let found = findings(&Story::of(SHIPPED).rewrite("pairs.csv", text), "Q-107", "H-072");
        let (value, kept) =
            (of(&found, "breakdown-margin").value.unwrap(), of(&found, "moisture-effect").value.unwrap());
        (value.x05, value.x50, kept.x50)
    };
    let (all, half, gain) = (with("1"), with("0.5"), with("1.4"));
    assert!((half.2 - 0.5).abs() < 1e-12);
    for (damp, dry) in [(half.0, all.0), (half.1, all.1)] {
        assert!((damp / dry - 0.5).abs() < 1e-9, "{damp} {dry}");
    }
    // A gain is no part of a margin.
    assert!((gain.0 - all.0).abs() < 1e-12);
}

/// Within what 256 draws leave open.
#[test]
fn discharge_in_a_filled_wedge_begins_no_later_than_breakdown() {
    let (catalogue, mut enquiries) = shipped();
    // The margin of breakdown is that of the wrap alone.
    enquiries.iter_mut().flat_map(|e| &mut e.voltage).for_each(|v| v.other_insulation.clear());
    let mut met = 0;
    let plan = Plan::new(&catalogue, &enquiries).unwrap();
    for number in (0..enquiries.len()).filter(|n| enquiries[*n].voltage.as_ref().unwrap().wedge != Some("air")) {
        for position in 0..plan.candidates.len() {
            let found = plan.findings_of(number, position);
            let value = |id: &str| {
                let mut found = found.iter().filter(|f| f.verdict != Verdict::NotAsked);
                found.find(|f| catalogue.criteria[f.criterion].id == id)?.value
            };
            if let (Some(begins), Some(breaks)) = (value("pd-margin"), value("breakdown-margin")) {
                assert!(begins.x50 <= breaks.x50 * 1.02, "{begins:?} {breaks:?}");
                met += 1;
            }
        }
    }
    assert!(met > 50, "{met}");
}

/// A limit is a number that a person would write, the tape was judged at it, and at the next one the verdict is another.
#[test]
fn a_limit_of_use_was_tried() {
    let (catalogue, enquiries) = shipped();
    let mut seen = 0;
    for enquiry in &enquiries {
        let tape = {
            let plan = Plan::new(&catalogue, std::slice::from_ref(enquiry)).unwrap();
            rank::proposed(&rank::order(&plan, 0, &plan.standings()[0])).unwrap().tape
        };
        let found = envelope(&catalogue, enquiry, tape).unwrap();
        for turn in &found.turns {
            let number = in_unit(turn.value, turn.quantity.unit());
            let digits = if matches!(turn.quantity, Quantity::Temperature | Quantity::Beside | Quantity::Overlap) {
                number.round()
            } else {
                significant(number, 2).parse().unwrap()
            };
            let now = turn.value.total_cmp(&turn.now).is_eq();
            assert!(
                now || (number / digits - 1.0).abs() < 1e-9 || number.abs() < 1e-9,
                "{} {number}",
                turn.quantity.name()
            );
            assert_eq!(turn.above, turn.value > turn.now || (now && turn.above));
            seen += 1;
        }
        // Air beside the load keeps its temperature while the load moves.
        let beside = found.turns.iter().any(|t| t.quantity == Quantity::Beside)
            || found.free.iter().any(|(q, ..)| *q == Quantity::Beside);
        let stands = enquiry.exposures.iter().any(|x| x.is_beside(&enquiry.duty));
        assert_eq!(beside, stands, "{}", enquiry.number);
    }
    assert!(seen > 30, "{seen}");
}

/// What the working says and no number shows: how unevenly a stiff band bears, and a strength carried beyond its films.
#[test]
fn the_working_says_what_bounds_it() {
    let story = Story::of(SHIPPED);
    let told = |enquiry: &str, tape: &str, criterion: &str| {
        story.lapwise(&["explain", enquiry, tape, criterion, "--json"]).out
    };
    let band = told("Q-101", "H-063", "shear-in-service");
    assert!(band.contains("most of the force goes over within 25 mm of the end, at up to 43 times"), "{band}");
    assert!(told("Q-107", "H-072", "breakdown-margin").contains("254 um is outside 12 to 250 um"));
}

/// A film in a laminate closes the face, whatever pores its other ply has.
#[test]
fn a_laminate_with_a_film_is_closed() {
    let (catalogue, _) = shipped();
    let open = |id: &str| catalogue.is_open(catalogue.tape(id).unwrap());
    assert_eq!(
        [open("H-101"), open("H-111"), open("H-063"), open("H-013")],
        [Some(false), Some(false), Some(true), Some(false)]
    );
    assert!(catalogue.pores(catalogue.tape("H-101").unwrap()).unwrap().spread.value > 0.1);
}
