//! The report on paper and as a table: valid, complete, and gone where it would say what no longer holds.

use std::process::Command;

use super::*;

#[test]
fn the_report_is_valid_on_paper_and_holds_its_files() {
    crate::page::typst();
    let shelf = Shelf::with(3).change("tapes.csv", "125 N/cm,IEC 60454-2", "11 N/cm,IEC 60454-2");
    assert_eq!(shelf.run(&[]).code, 0);
    let out = shelf.story.root().join("out/regenerate");
    let pdf = std::fs::read(out.join("regenerate.pdf")).unwrap();
    crate::page::assert_valid(&pdf, "the report");
    let text = Command::new("pdftotext").args(["-layout", "regenerate.pdf", "-"]).current_dir(&out).output().unwrap();
    let text = String::from_utf8(text.stdout).unwrap();
    for said in ["3 of 3 kept selections are overturned", "125 N/cm → 11 N/cm", "T-2/r0001", "tension-margin"] {
        assert!(text.contains(said), "{said}: {text}");
    }
    let kept = shelf.story.root().join("kept");
    std::fs::create_dir(&kept).unwrap();
    let files = Command::new("pdfdetach").args(["-saveall", "-o"]).arg(&kept).arg(out.join("regenerate.pdf")).status();
    assert!(files.unwrap().success());
    for name in ["regenerate.json", "regenerate.csv"] {
        assert_eq!(std::fs::read(kept.join(name)).unwrap(), std::fs::read(out.join(name)).unwrap(), "{name}");
    }
    let mut rows = csv::Reader::from_path(out.join("regenerate.csv")).unwrap();
    let heads = rows.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    let at = |name: &str| heads.iter().position(|head| head == name).unwrap();
    assert_eq!(rows.len(), 3);
    assert_eq!((&rows[0][at("outcome")], &rows[0][at("criterion")]), ("overturned", "tension-margin"));
    assert!(rows[0][at("cause")].contains("125 N/cm → 11 N/cm"));
    assert_eq!(&rows[0][at("draft")], "drafts/T-1/T-1_r0002_draft.pdf");
}

#[test]
fn without_typst_the_tables_are_written_and_no_older_page_stays() {
    crate::page::typst();
    let shelf = Shelf::with(1);
    assert_eq!(shelf.run(&[]).code, 0);
    let out = shelf.story.root().join("out/regenerate");
    assert!(out.join("regenerate.pdf").exists());
    let shelf = shelf.change("tapes.csv", "125 N/cm,IEC 60454-2", "11 N/cm,IEC 60454-2");
    let output = Command::new(env!("CARGO_BIN_EXE_lapwise"))
        .args(["regenerate", "--register", "register", "--data", "data"])
        .current_dir(shelf.story.root())
        .env("LAPWISE_STATE", shelf.story.root().join("state"))
        .env("LAPWISE_TYPST", shelf.story.root().join("none"))
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code() == Some(3) && told.contains("typst-missing"), "{told}");
    assert!(!out.join("regenerate.pdf").exists(), "an older page says something else");
    let report = json(&std::fs::read_to_string(out.join("regenerate.json")).unwrap());
    assert_eq!((&report["counts"]["overturned"], &report["selections"][0]["draft"]), (&1.into(), &Value::Null));
    let list = shelf.story.root().join("register/drafts/overtaken.json");
    assert!(list.exists(), "what is overtaken is known without a draft");
    assert!(!shelf.story.root().join("register/drafts/T-1/T-1_r0002_draft.pdf").exists());
    assert_eq!(shelf.run(&[]).code, 0);
    assert!(out.join("regenerate.pdf").exists());
}

#[test]
fn other_content_under_the_same_version_is_remarked_on() {
    let shelf = Shelf::with(2);
    assert!(shelf.pass().report.remarks.is_empty());
    let shelf = shelf.change("tapes.csv", "125 N/cm,IEC 60454-2", "124 N/cm,IEC 60454-2");
    let remarks = shelf.pass().report.remarks;
    assert!(remarks[0].contains("2 selections were signed on data of the same version"), "{remarks:?}");
    let about = std::fs::read_to_string(shelf.story.data().join("about.toml")).unwrap();
    let line = about.lines().find(|line| line.starts_with("version")).unwrap().to_owned();
    let shelf = shelf.change("about.toml", &line, "version = \"2099.01\"");
    assert!(shelf.pass().report.remarks.is_empty());
}
