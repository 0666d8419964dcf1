//! Test reports: into the data folder, and what they settle or overturn.

use std::fs;

use serde_json::Value;

use crate::story::{SHIPPED, SMALL, Story};

/// A loss factor that Q-101 lacks for one of its candidates.
const REPORT: &[&str] = &[
    "evidence",
    "add",
    "--tape",
    "H-112",
    "--in",
    "mineral-oil-naphthenic",
    "--property",
    "loss_factor",
    "--value",
    "0.0018",
    "--temperature",
    "100 degC",
    "--duration",
    "164 h",
    "--atmosphere",
    "sealed-liquid",
    "--report",
    "26-041",
    "--laboratory",
    "Harbour laboratory (invented)",
    "--date",
    "2026-11-20",
    "--basis",
    "invented",
];

#[test]
fn a_report_settles_what_an_enquiry_asked() {
    let story = Story::of(SHIPPED);
    let pairs = fs::read_to_string(story.data().join("pairs.csv")).unwrap();
    let mut dry = REPORT.to_vec();
    dry.push("--dry-run");
    let told = story.lapwise(&dry);
    assert_eq!(told.code, 0, "{told:?}");
    insta::assert_snapshot!(told.out, @r#"
    pairs.csv
      material     H-112
      medium       mineral-oil-naphthenic
      effect       on-medium
      property     loss_factor
      value        0.0018
      temperature  100 degC
      duration     164 h
      atmosphere   sealed-liquid
      basis        invented
      source       report-26-041
      source report-26-041, new in sources.yml

    Q-101: proposed H-111, as before
      tape   finding                            before    after
      H-112  liquid-contamination, service oil  unproven  suitable  settled

    8 enquiries judged before and after: 7 unmoved, 0 proposals overturned, 1 finding settled
    Nothing was written. Next: the same without --dry-run
    "#);
    assert_eq!(fs::read_to_string(story.data().join("pairs.csv")).unwrap(), pairs);

    // What was foretold is what the verdicts are afterwards.
    let rank =
        |story: &Story| -> Value { serde_json::from_str(&story.lapwise(&["matrix", "Q-101", "--json"]).out).unwrap() };
    let verdict = |document: &Value| {
        let rows = document["rows"].as_array().unwrap();
        let row = rows.iter().find(|r| {
            r["tape"] == "H-112" && r["criterion"] == "liquid-contamination" && r["exposure"] == "service oil"
        });
        row.unwrap()["verdict"].as_str().unwrap().to_owned()
    };
    let before = verdict(&rank(&story));
    let mut json = REPORT.to_vec();
    json.push("--json");
    let document: Value = serde_json::from_str(&story.lapwise(&json).out).unwrap();
    let after = verdict(&rank(&story));
    let moved = document["moved"].as_array().unwrap();
    let q101 = moved.iter().find(|m| m["enquiry"] == "Q-101");
    let told = q101.and_then(|m| {
        let findings = m["findings"].as_array().unwrap();
        findings.iter().find(|f| f["tape"] == "H-112" && f["criterion"] == "liquid-contamination")
    });
    match told {
        Some(finding) => {
            assert_eq!(finding["before"], before.as_str());
            assert_eq!(finding["after"], after.as_str());
        }
        None => assert_eq!(before, after),
    }
    assert_eq!(story.lapwise(&["check"]).code, 0);
    let sources = fs::read_to_string(story.data().join("sources.yml")).unwrap();
    assert!(sources.contains("report-26-041:\n  type: report\n"), "{sources}");
}

#[test]
fn the_ratio_is_taken_and_the_file_kept_by_its_digest() {
    let story = Story::of(SMALL);
    fs::write(story.root().join("report.pdf"), "abc").unwrap();
    let report = [
        "evidence",
        "add",
        "--tape",
        "S-1",
        "--in",
        "mineral-oil-naphthenic",
        "--property",
        "adhesion_kept",
        "--before",
        "2.4 N/cm",
        "--after",
        "18.3 ozf/in",
        "--temperature",
        "105 degC",
        "--duration",
        "500 h",
        "--report",
        "7/26",
        "--laboratory",
        "A: B",
        "--file",
        "report.pdf",
        "--note",
        "five specimens",
    ];
    let told = story.lapwise(&report);
    assert_eq!(told.code, 0, "{told:?}");
    let pairs = fs::read_to_string(story.data().join("pairs.csv")).unwrap();
    // 18.3 ozf/in are 2.00305 N/cm, by the exact pound-force and inch of NIST SP 811.
    assert!(
        pairs.ends_with("S-1,mineral-oil-naphthenic,on-material,adhesion_kept,0.8346,,,105 degC,500 h,,,,measured,report-7-26,\"before 2.4 N/cm, after 18.3 ozf/in; five specimens\"\n"),
        "{pairs}"
    );
    let sources = fs::read_to_string(story.data().join("sources.yml")).unwrap();
    // SHA-256 of "abc": FIPS 180-2, appendix B.1.
    assert!(sources.contains("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"), "{sources}");
    assert_eq!(story.lapwise(&["check"]).code, 0);

    // The same conditions again are a conflict, until they may take the older one's place.
    let told = story.lapwise(&report);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err.trim(), @r#"
    evidence add, argument --property
      found   pairs.csv holds `0.8346` of `report-7-26` for the same subject, property, conditions and basis
      needed  one row for each
      do      state what differs (temperature, duration, humidity, condition); or add --revise: the older row is then kept aside
      (row-conflict)
    "#);
    let at = report.iter().position(|a| *a == "--before").unwrap();
    let revise: Vec<&str> =
        report[..at].iter().chain(&["--value", "0.7"]).chain(&report[at + 4..]).chain(&["--revise"]).copied().collect();
    let told = story.lapwise(&revise);
    assert_eq!(told.code, 0, "{told:?}");
    let pairs = fs::read_to_string(story.data().join("pairs.csv")).unwrap();
    assert!(pairs.contains("adhesion_kept,0.7,,,105 degC,500 h,") && !pairs.contains("0.8346"), "{pairs}");
    let kept = fs::read_to_string(story.data().join("superseded/pairs.csv")).unwrap();
    assert!(kept.contains("0.8346") && kept.ends_with(",0.7\n"), "{kept}");

    // Another file under the same number is another report.
    fs::write(story.root().join("report.pdf"), "abd").unwrap();
    let told = story.lapwise(&revise);
    assert_eq!(told.code, 1);
    assert!(told.err.contains("(key-duplicate)"), "{told:?}");
}

#[test]
fn every_fault_of_a_report_at_once() {
    let story = Story::of(SMALL);
    let told = story.lapwise(&[
        "evidence",
        "add",
        "--tape",
        "S-9",
        "--in",
        "mineral-oil-naphthenic",
        "--property",
        "adhesion_keep",
        "--value",
        "1",
        "--date",
        "soon",
    ]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err.trim(), @r#"
    evidence add, argument --date
      found   `soon`
      needed  a date
      do      write it as 2026-11-20
      (value-type)

    evidence add, argument --laboratory
      found   nothing
      needed  the number of the report and who tested
      do      add --laboratory; or name a report that sources.yml has, with --source
      (argument-missing)

    evidence add, argument --property
      found   `adhesion_keep`
      needed  a property of a material in a medium
      do      did you mean `adhesion_kept`?
      (word-unknown)

    evidence add, argument --report
      found   nothing
      needed  the number of the report and who tested
      do      add --report; or name a report that sources.yml has, with --source
      (argument-missing)

    evidence add, argument --tape
      found   `S-9`
      needed  a tape of tapes.csv
      do      did you mean `S-1`?
      (name-unknown)
    "#);
    let told = story.lapwise(&[
        "evidence",
        "add",
        "--tape",
        "S-1",
        "--in",
        "mineral-oil",
        "--property",
        "adhesion_kept",
        "--value",
        "80 N",
        "--temperature",
        "105",
        "--report",
        "1",
        "--laboratory",
        "x",
    ]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err.trim(), @r#"
    evidence add, argument --in
      found   `mineral-oil`
      needed  a liquid, resin, solvent or gas of materials.csv
      do      did you mean `mineral-oil-naphthenic`?
      (reference-unknown)

    evidence add, argument --temperature
      found   `105`, a number without a unit
      needed  a temperature
      do      write it with its unit, such as `105 degC`
      (unit-missing)

    evidence add, argument --value
      found   `80 N`, a force
      needed  a number or a fraction
      do      write a number or a fraction, such as `0.5`
      (unit-kind)
    "#);
    assert!(!fs::read_to_string(story.data().join("sources.yml")).unwrap().contains("report-1:"));
}

#[test]
fn a_result_of_a_tape_by_itself_is_a_fact() {
    let story = Story::of(SMALL);
    let told = story.lapwise(&[
        "evidence",
        "add",
        "--tape",
        "S-3",
        "--property",
        "halving_interval",
        "--value",
        "9 K",
        "--low",
        "8 K",
        "--high",
        "10 K",
        "--report",
        "1",
        "--laboratory",
        "x",
    ]);
    assert_eq!(told.code, 0, "{told:?}");
    let facts = fs::read_to_string(story.data().join("facts.csv")).unwrap();
    assert!(facts.ends_with("S-3,halving_interval,9 K,8 K,10 K,,,measured,report-1,\n"), "{facts}");
    assert_eq!(story.lapwise(&["check"]).code, 0);
}

#[test]
#[cfg(unix)]
fn what_somebody_else_wrote_in_the_meantime_stands() {
    use std::process::{Command, Stdio};
    let story = Story::of(SMALL);
    let pipe = story.root().join("report.pdf");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    // The data are read before the report: while the program waits for it, somebody else adds a row.
    let child = Command::new(env!("CARGO_BIN_EXE_lapwise"))
        .args(["evidence", "add", "--data", "data", "--tape", "S-1", "--in", "mineral-oil-naphthenic"])
        .args(["--property", "adhesion_kept", "--value", "0.9", "--report", "1", "--laboratory", "x"])
        .args(["--file", "report.pdf"])
        .current_dir(story.root())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut report = fs::OpenOptions::new().write(true).open(&pipe).unwrap();
    let path = story.data().join("pairs.csv");
    let theirs = fs::read_to_string(&path).unwrap()
        + "S-2,mineral-oil-naphthenic,on-material,shear_kept,0.9,,,23 degC,,,,,invented,invented-catalogue,\n";
    fs::write(&path, &theirs).unwrap();
    std::io::Write::write_all(&mut report, b"report").unwrap();
    drop(report);
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains("(file-changed)"), "{told}");
    assert_eq!(fs::read_to_string(&path).unwrap(), theirs);
    assert!(!fs::read_to_string(story.data().join("sources.yml")).unwrap().contains("report-1:"));
}
