//! What a finding waits for, and how it is told: the test that confirms it, the condition it holds under, and a margin
//! that is a bound or all that there can be.

use lapwise::expand::Plan;
use lapwise::judge::{Finding, Reading, Verdict};
use lapwise::measure::MEASURES;
use lapwise::{output, settle};

use crate::draws::shipped;
use crate::story::{SHIPPED, SMALL, Story};

/// Every finding that was asked, with its row.
fn told(see: &mut dyn FnMut(&Plan<'_>, usize, &Finding, &output::Row)) {
    let (catalogue, enquiries) = shipped();
    let plan = Plan::new(&catalogue, &enquiries).unwrap();
    for enquiry in 0..enquiries.len() {
        for finding in plan.findings(enquiry).iter().filter(|f| f.verdict != Verdict::NotAsked) {
            see(&plan, enquiry, finding, &output::row(&plan, enquiry, finding));
        }
    }
}

/// Between its limits a grave finding names the test that confirms it; what only its evidence holds back names no condition.
#[test]
fn what_is_not_plain_waits_for_a_test_or_a_condition() {
    let (mut between, mut held, mut settled) = (0, 0, 0);
    told(&mut |plan, enquiry, finding, row| {
        let rule = &plan.catalogue.criteria[finding.criterion];
        let tests = settle::tests(plan.catalogue, &plan.enquiries[enquiry], [finding]);
        let what = format!("{} {} {}", row.enquiry, row.tape, row.criterion);
        match (finding.verdict, finding.capped) {
            (Verdict::Conditional, None) => {
                assert_eq!(row.condition, rule.condition, "{what}");
                let grave = ["dielectric", "flame", "thermal"].contains(&rule.hazard) && !rule.condition_settles;
                assert_eq!((tests.len(), row.settled_by.is_empty()), (usize::from(grave), !grave), "{what}");
                between += usize::from(grave);
                settled += usize::from(rule.condition_settles);
            }
            (Verdict::Conditional, Some(_)) => {
                assert_eq!((tests.len(), row.condition.as_str()), (1, ""), "{what}");
                held += 1;
            }
            (Verdict::Unproven, _) => assert_eq!((tests.len(), row.condition.as_str()), (1, ""), "{what}"),
            _ => assert_eq!((tests.len(), row.condition.as_str(), row.settled_by.as_str()), (0, "", ""), "{what}"),
        }
    });
    assert!(between > 0 && held > 0 && settled > 0, "{between} {held} {settled}");
}

/// Page, order and working say the same of the tests of the tape that is proposed.
#[test]
fn the_order_the_matrix_and_the_working_name_the_same_tests() {
    let story = Story::of(SHIPPED);
    let rank = story.lapwise(&["rank", "Q-107"]).out;
    let proposed = rank.lines().find(|line| line.starts_with("Proposed: ")).unwrap();
    let tape = proposed.split(['(', ',', ' ']).nth(1).unwrap();
    let matrix = story.lapwise(&["matrix", "Q-107", "--format", "json"]).out;
    let matrix: serde_json::Value = serde_json::from_str(&matrix).unwrap();
    let rows = matrix["rows"].as_array().unwrap();
    let row = rows.iter().find(|row| row["tape"] == tape && row["criterion"] == "pd-margin").unwrap();
    assert_eq!(row["verdict"], "conditional");
    let test = row["settled_by"].as_str().unwrap();
    insta::assert_snapshot!(test, @"partial discharge inception of the finished wrap with what is in series with it at 125 degC (IEC 60034-18-41), 5 specimens, 1 d; pass: inception at least 2190 V peak, 1.5 times the highest voltage with its enhancement factors");
    let explained = story.lapwise(&["explain", "Q-107", tape, "pd-margin", "--json"]).out;
    let explained: serde_json::Value = serde_json::from_str(&explained).unwrap();
    assert_eq!((&explained["settled_by"], &explained["condition"]), (&row["settled_by"], &row["condition"]));
    let own = rows.iter().filter(|row| row["tape"] == tape && row["settled_by"] != "");
    let tests: std::collections::BTreeSet<&str> = own.map(|row| row["settled_by"].as_str().unwrap()).collect();
    assert!(proposed.contains(&format!("subject to {} tests", tests.len())), "{proposed}");
}

/// Every test is told with what it has to come to, and no name in braces is left in it.
#[test]
fn every_test_says_what_it_has_to_come_to() {
    told(&mut |_, _, _, row| {
        assert!(
            row.settled_by.is_empty() || row.settled_by.contains("; pass: "),
            "{}: {}",
            row.criterion,
            row.settled_by
        );
        assert!(!row.settled_by.contains(['{', '}']), "{}: {}", row.criterion, row.settled_by);
    });
}

/// A test fits what its finding is about: the liquid, the oven, the temperature, the equipment.
#[test]
fn a_test_speaks_of_its_exposure() {
    told(&mut |plan, enquiry, finding, row| {
        let e = &plan.enquiries[enquiry];
        let x = finding.exposure.map(|x| &e.exposures[x]);
        let medium = x.map(|x| plan.catalogue.materials[x.medium].kind);
        let test = row.settled_by.as_str();
        if !["motor", "generator"].contains(&e.application.equipment) {
            assert!(!test.contains("60034"), "{}: {test}", row.enquiry);
        }
        if row.criterion == "shear-hold" && !test.is_empty() {
            assert_eq!(test.contains("at the edge"), medium != Some("gas"), "{}: {test}", row.exposure);
            let degrees = format!("{:.0} degC", x.unwrap().temperature.si() - 273.15);
            assert!(test.contains(&degrees), "{}: {test}", row.exposure);
        }
    });
}

/// Names that nothing fills in, limits that hang on an exposure and overrides that change nothing are faults.
#[test]
fn what_a_test_may_say_is_checked() {
    let with = |more: &str| {
        let story = Story::of(SMALL).rewrite("criteria.toml", |text| {
            let at = text.find("\n[[criterion]]").map_or(text.len(), |first| {
                text[first + 1..].find("\n[[criterion]]").map_or(text.len(), |second| first + 1 + second)
            });
            format!("{}\n{more}\n{}", &text[..at], &text[at..])
        });
        let told = story.lapwise(&["check"]);
        assert_eq!(told.code, 1, "{more}: {}", told.out);
        told.err
    };
    let settled = "settled_by = { standard = \"none\", test = \"look at {medum}\" }";
    let unknown = with(&format!("[[criterion.override]]\n{settled}"));
    assert!(unknown.contains("(word-unknown)") && unknown.contains("did you mean `medium`?"), "{unknown}");
    let narrowed = with("[[criterion.override]]\nstage = [\"service\"]\nlimit = 1\nouter_limit = 1");
    assert!(narrowed.contains("(key-unknown)") && narrowed.contains("narrowed by `stage`"), "{narrowed}");
    for half in ["limit = 1", "outer_limit = 1", "stage = [\"service\"]"] {
        let told = with(&format!("[[criterion.override]]\n{half}"));
        assert!(told.contains("(key-missing)"), "{half}: {told}");
    }
}

/// A life that is only the length of a test is a bound; a share that is full is all that there can be.
#[test]
fn a_bound_and_a_ceiling_are_told_as_such() {
    let mut seen = [0; 3];
    told(&mut |plan, _, finding, row| {
        let rule = &plan.catalogue.criteria[finding.criterion];
        let words = lapwise::explain::margin_words(finding);
        let strip = output::strip(rule, finding);
        match finding.reading {
            Reading::Exact => assert!(!words.contains(['≥', '≤', '(']), "{words}"),
            Reading::AtLeast => {
                seen[0] += 1;
                assert_eq!((rule.measure.as_str(), row.margin_reads), ("hydrolysis-life", "at-least"));
                assert!(words.starts_with("≥ "), "{words}");
                let strip = strip.unwrap();
                assert!(strip.mid.is_none() && strip.above && strip.hi >= 1.0, "{strip:?}");
            }
            Reading::AtMost => {
                seen[1] += 1;
                assert!(row.margin.is_none() || words.starts_with("≤ "), "{words}");
                assert!(finding.verdict >= Verdict::Unproven, "{} {}", row.tape, row.criterion);
            }
            Reading::Full => {
                seen[2] += 1;
                let best = MEASURES.iter().find(|m| m.id == rule.measure).and_then(|m| m.best).unwrap();
                let worse = if rule.higher_is_better { row.x05 } else { row.x95 }.unwrap();
                assert!(
                    (worse / best - 1.0).abs() < 0.0201 || (rule.higher_is_better && worse > best),
                    "{worse} {best}"
                );
                assert!(row.margin.is_none() || words.ends_with("(full)"), "{words}");
            }
        }
    });
    assert!(seen.iter().all(|n| *n > 0), "{seen:?}");
}

/// A recognition that was asked for in a liquid is not read off an index in air.
#[test]
fn a_recognition_in_air_is_none_in_a_liquid() {
    let asked = "atmosphere = \"sealed-liquid\"";
    let story = Story::of(SHIPPED).change("enquiries/q-101.toml", asked, &format!("{asked}\nrecognition = \"tape\""));
    let told = story.lapwise(&["explain", "Q-101", "H-111", "recognition", "--json"]).out;
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert_eq!(
        (&told["verdict"], &told["missing"][0]),
        (&"unproven".into(), &"recognition for operation in the liquid".into())
    );
}
