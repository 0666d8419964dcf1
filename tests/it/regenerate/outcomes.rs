//! Each outcome, with what brought it about.

use super::*;

#[test]
fn nothing_moves_and_all_are_current() {
    let shelf = Shelf::with(3);
    let report = shelf.pass().report;
    assert_eq!((report.counts.current, report.counts.total), (3, 3), "{report:?}");
    assert!(report.causes.is_empty() && report.failures.is_empty());
}

#[test]
fn a_changed_cell_overturns_and_is_named_with_its_unit_and_source() {
    let shelf = Shelf::with(6).change("tapes.csv", "125 N/cm,IEC 60454-2", "11 N/cm,IEC 60454-2");
    let report = shelf.pass().report;
    assert_eq!(report.counts.overturned, 6, "{:?}", report.counts);
    let cause = &report.causes[0];
    assert_eq!((cause.overturned, cause.changes.len()), (6, 1), "{cause:?}");
    let change = &cause.changes[0];
    assert_eq!((change.file.as_str(), change.row.as_str(), change.column.as_str()), ("tapes.csv", "S-2", "tensile"));
    assert_eq!((change.before.as_deref(), change.after.as_deref()), (Some("125 N/cm"), Some("11 N/cm")));
    assert!(change.source_before.is_some() && change.source_before == change.source_after, "{change:?}");
    for line in &report.selections {
        let flip = line.flipped.as_ref().unwrap();
        assert_eq!((flip.tape.as_str(), flip.criterion.as_str()), ("S-2", "tension-margin"), "{line:?}");
        let (before, after) = (flip.before.as_ref().unwrap(), flip.after.as_ref().unwrap());
        assert_ne!(before, after);
        assert_eq!(line.causes, [1]);
    }
}

#[test]
fn a_better_candidate_overturns_what_did_not_change_itself() {
    // The catalogue gains nothing but a stronger sheet of another tape, which then comes first or stands nearer.
    let shelf =
        Shelf::with(4).change("tapes.csv", "S-3,small 3 (invented),active", "S-3,small 3 (invented),discontinued");
    let report = shelf.pass().report;
    assert_eq!(report.counts.overturned, 4, "{:?}", report.counts);
    let line = &report.selections[0];
    let flip = line.flipped.as_ref().unwrap();
    assert_eq!((flip.tape.as_str(), flip.after.is_none()), ("S-3", true), "{line:?}");
    let change = &report.causes[0].changes[0];
    assert_eq!((change.row.as_str(), change.column.as_str()), ("S-3", "status"), "{change:?}");
}

#[test]
fn a_selected_tape_that_is_discontinued_is_no_candidate() {
    let shelf =
        Shelf::with(2).change("tapes.csv", "S-2,small 2 (invented),active", "S-2,small 2 (invented),discontinued");
    let report = shelf.pass().report;
    assert_eq!(report.counts.overturned, 2, "{:?}", report.counts);
    let today = report.selections[0].today.as_ref().unwrap();
    assert!(today.verdict.is_none() && today.proposed.as_deref().is_some_and(|first| first != "S-2"), "{today:?}");
    let change = &report.causes[0].changes[0];
    assert_eq!((change.row.as_str(), change.column.as_str()), ("S-2", "status"), "{change:?}");
}

#[test]
fn evidence_that_moves_without_the_decision_restates() {
    let shelf = Shelf::with(3).change(
        "criteria.toml",
        "condition = \"Set and check the reel brake",
        "condition = \"Set, check the reel brake",
    );
    let report = shelf.pass().report;
    assert_eq!(report.counts.restated + report.counts.overturned, 3, "{:?}", report.counts);
    let restated = report.selections.iter().filter(|line| line.outcome == Outcome::Restated);
    assert!(restated.clone().count() > 0, "{:?}", report.counts);
    let cause = &report.causes.iter().find(|cause| cause.restated > 0).unwrap();
    assert!(cause.changes.iter().any(|change| change.row == "criterion tension-margin"), "{cause:?}");
}

#[test]
fn a_look_that_moves_alone_restyles() {
    let shelf = Shelf::with(2);
    let templates = shelf.story.root().join("templates");
    std::fs::create_dir(&templates).unwrap();
    std::fs::write(templates.join("letterhead.toml"), "lines = [\"Nobody (invented)\"]\n").unwrap();
    let told = shelf.run(&["--templates", "templates", "--dry-run", "--json"]);
    let report = json(&told.out);
    assert_eq!((told.code, &report["counts"]["restyled"]), (0, &Value::from(2)), "{}", told.err);
    assert_eq!(report["causes"][0]["changes"][0]["kind"], "presentation");
}

#[test]
fn a_row_that_is_gone_leaves_it_not_judgeable() {
    let shelf = Shelf::with(2);
    let data = shelf.story.data();
    let without = |file: &str, starts: &str| {
        let path = data.join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        let kept: Vec<&str> = text.lines().filter(|line| !line.contains(starts)).collect();
        std::fs::write(&path, kept.join("\n") + "\n").unwrap();
    };
    without("tapes.csv", "S-2,small 2");
    let report = shelf.pass().report;
    assert_eq!(report.counts.not_judgeable, 2, "{:?}", report.counts);
    assert_eq!(report.selections[0].faults[0].code.text(), "reference-unknown");
    let change = &report.causes[0].changes[0];
    assert_eq!((change.file.as_str(), change.row.as_str()), ("tapes.csv", "S-2"), "{change:?}");
    // A medium that the kept enquiry names.
    for file in ["materials.csv", "facts.csv", "pairs.csv"] {
        without(file, "mineral-oil-naphthenic");
    }
    let told = shelf.run(&["--dry-run", "--exit-code", "--json"]);
    let report = json(&told.out);
    assert_eq!((told.code, &report["counts"]["not_judgeable"]), (1, &Value::from(2)), "{}", told.err);
    let fault = &report["selections"][0]["faults"][0];
    assert!(fault["found"].as_str().unwrap().contains("mineral-oil-naphthenic"), "{fault}");
    assert_eq!(report["causes"][0]["changes"][0]["row"], "mineral-oil-naphthenic");
    assert_eq!(shelf.run(&["--dry-run"]).code, 0, "without --exit-code it is a result");
}

#[test]
fn only_the_newest_revision_is_judged_and_the_withdrawn_are_counted() {
    let shelf = Shelf::with(3);
    shelf.sign(&enquiry(1), Some("S-1"), Some("T-1/r0001"));
    shelf.withdraw("T-2/r0001");
    let report = shelf.pass().report;
    let counts = report.counts;
    assert_eq!((counts.current, counts.withdrawn, counts.superseded, counts.total), (2, 1, 1, 4), "{counts:?}");
    let lines: Vec<(&str, Outcome)> = report.selections.iter().map(|l| (l.record.as_str(), l.outcome)).collect();
    assert!(lines.contains(&("T-1/r0002", Outcome::Current)) && lines.contains(&("T-2/r0001", Outcome::Withdrawn)));
}

#[test]
fn the_kept_enquiry_counts_and_another_of_its_number_is_said() {
    let shelf = Shelf::with(1);
    let other = enquiry(1).replacen("tension = \"9 N/cm\"", "tension = \"90 N/cm\"", 1);
    assert_ne!(other, enquiry(1));
    std::fs::write(shelf.story.data().join("enquiries/t-1.toml"), other).unwrap();
    let report = shelf.pass().report;
    assert_eq!(report.counts.current, 1);
    assert!(report.selections[0].notes[0].contains("the one signed was judged"), "{:?}", report.selections[0].notes);
    // The same with other line ends is the same.
    std::fs::write(shelf.story.data().join("enquiries/t-1.toml"), enquiry(1).replace('\n', "\r\n")).unwrap();
    assert!(shelf.pass().report.selections[0].notes.is_empty());
}

#[test]
fn a_record_that_cannot_be_read_stops_no_other() {
    let shelf = Shelf::with(3);
    let path = shelf.story.root().join("register/records/T-2/r0001/inputs/enquiry.toml");
    crate::register::overwrite(&path, b"schema = 1\n");
    let told = shelf.run(&["--dry-run"]);
    assert_eq!(told.code, 1, "{}", told.out);
    assert!(told.out.contains("Failed; the rest was done") && told.out.contains("input-altered"), "{}", told.out);
    let report = json(&shelf.run(&["--dry-run", "--json"]).out);
    assert_eq!((&report["counts"]["current"], &report["counts"]["failed"]), (&2.into(), &1.into()));
}

#[test]
fn a_faulty_row_stops_only_what_needs_it() {
    let shelf = Shelf::with(2);
    let dry = enquiry(3);
    let at = dry.rfind("[[exposure]]").unwrap();
    assert!(dry[at..].contains("mineral-oil-naphthenic"));
    shelf.sign(&dry[..at], Some("S-2"), None);
    // A fact about the oil, which the third does not meet.
    let shelf = shelf.change(
        "facts.csv",
        "mineral-oil-naphthenic,molar_volume,310 cm3/mol",
        "mineral-oil-naphthenic,molar_volume,310 cm",
    );
    let told = shelf.run(&["--exit-code", "--json"]);
    let report = json(&told.out);
    let counts = &report["counts"];
    assert_eq!((told.code, &counts["not_judgeable"], &counts["current"]), (1, &2.into(), &1.into()), "{}", told.err);
    let fault = &report["selections"][0]["faults"][0];
    assert_eq!((&fault["code"], &fault["place"]["column"]), (&"unit-kind".into(), &"value".into()), "{fault}");
    let cause = &report["causes"][0];
    assert_eq!(cause["not_judgeable"], 2, "{cause}");
    assert_eq!(cause["changes"][0]["row"], "mineral-oil-naphthenic molar_volume");
    // A sheet may beat any other, so that a faulty one leaves nothing to be judged; and all faults are told at once.
    let shelf = shelf.change("tapes.csv", "125 N/cm,IEC 60454-2", "125 N,IEC 60454-2");
    let report = shelf.pass().report;
    assert_eq!(report.counts.not_judgeable, 3, "{:?}", report.counts);
    assert_eq!(report.selections[0].faults.len(), 2, "{:?}", report.selections[0].faults);
    assert!(report.remarks[0].contains("2 rows of the data folder are faulty"), "{:?}", report.remarks);
    assert!(!shelf.story.root().join("register/drafts/T-1").exists());
    // What is no row cannot be left out.
    let shelf = shelf.change("criteria.toml", "better = \"lower\"", "better = \"lowest\"");
    let told = shelf.run(&["--dry-run"]);
    assert!(told.code == 1 && told.err.contains("criteria.toml"), "{}", told.err);
}

#[test]
fn a_row_that_others_refer_to_takes_them_along() {
    let shelf = Shelf::with(1).change("materials.csv", "aromatic,toluene,", "aromatic,toluene,nothing");
    let counts = shelf.pass().report.counts;
    // Nothing that was signed meets toluene.
    assert_eq!((counts.current, counts.total), (1, 1), "{counts:?}");
    let shelf = shelf.change(
        "materials.csv",
        "\"mineral insulating oil, naphthenic\",",
        "\"mineral insulating oil, naphthenic\",nothing",
    );
    let report = shelf.pass().report;
    assert_eq!(report.counts.not_judgeable, 1, "{:?}", report.counts);
    let faults = &report.selections[0].faults;
    assert!(faults.len() == 1 && faults[0].found.contains("nothing"), "{faults:?}");
}
