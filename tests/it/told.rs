//! What the commands tell: names, exit codes, documents, every cell accounted for.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::story::{SHIPPED, SMALL, Story};

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"))
}

#[test]
fn the_shipped_data_have_no_fault() {
    let told = Story::of(SHIPPED).lapwise(&["check"]);
    assert_eq!((told.code, told.err.as_str()), (0, ""), "{}", told.out);
}

#[test]
fn exit_codes_are_those_of_the_manual() {
    let story = Story::of(SMALL);
    assert_eq!(story.lapwise(&["rank", "S-1"]).code, 0);
    let wrong = story.lapwise(&["rank", "S-9"]);
    assert_eq!(wrong.code, 1);
    assert!(wrong.err.contains("(name-unknown)") && wrong.err.contains("did you mean `S-1`?"), "{}", wrong.err);
    assert_eq!(story.lapwise(&["explain", "S-1", "S-4"]).code, 1, "a discontinued tape is not judged");
    assert_eq!(story.lapwise(&["explain", "S-1", "S-1", "swelling"]).code, 1);
    assert_eq!(story.lapwise(&["rank"]).code, 2);
    assert_eq!(story.run(&["model", "sweling"]).code, 2);
    assert_eq!(story.run(&["model", "ageing-life", "index=155 degC"]).code, 1);
}

#[test]
fn a_folder_of_ones_own_begins_without_what_is_invented() {
    let story = Story::of(SMALL);
    let begun = story.run(&["begin", "own", "--owner", "The \"old\" works", "--date", "2026-11-20"]);
    assert_eq!(begun.code, 0, "{}", begun.err);
    insta::assert_snapshot!(begun.out, @r"
    own: 14 files; materials, media and criteria are there, no tape yet
    next: fill in `own/tapes.csv`, or `lapwise import TABLE --data own`; then `lapwise check`
    ");
    let checked = json(&story.run(&["check", "--data", "own", "--json"]).out);
    assert!(checked["diagnostics"].as_array().is_none_or(Vec::is_empty), "{checked}");
    let again = story.run(&["begin", "own", "--owner", "The works"]);
    assert!(again.code == 1 && again.err.contains("(folder-exists)"), "{}", again.err);
    assert_eq!(story.run(&["begin", "data/about.toml", "--owner", "The works"]).code, 1);
}

#[test]
fn failures_in_json_are_one_document_on_stdout() {
    let told =
        Story::of(SMALL).change("about.toml", "lapwise/data/1", "lapwise/data/7").lapwise(&["rank", "S-1", "--json"]);
    assert_eq!((told.code, told.err.as_str()), (1, ""));
    let document = json(&told.out);
    assert_eq!(document["schema"], "lapwise/diagnostics/1");
    let fault = &document["diagnostics"][0];
    assert_eq!(fault["code"], "format-unknown");
    assert_eq!(fault["place"]["line"], 1);
    assert!(fault["do"].is_string());
}

#[test]
fn model_arguments_are_refused_all_at_once() {
    let told = Story::of(SMALL).run(&[
        "model",
        "ageing-life",
        "index=155 degC",
        "index=150 degC",
        "hic=10 K",
        "temperature=9 mm",
    ]);
    assert_eq!(told.code, 1);
    for code in ["argument-repeated", "argument-unknown", "argument-missing", "unit-kind"] {
        assert!(told.err.contains(code), "{code}: {}", told.err);
    }
    let told = Story::of(SMALL).run(&[
        "model",
        "gap-breakdown",
        "gap=2 um",
        "pressure=1 atm",
        "temperature=20 degC",
        "form=townsend",
    ]);
    assert_eq!(told.code, 1);
    assert!(told.err.contains("(input-impossible)"), "{}", told.err);
}

#[test]
fn every_cell_is_accounted_for() {
    let story = Story::of(SMALL);
    let matrix = json(&story.lapwise(&["matrix", "S-1", "--format", "json"]).out);
    assert_eq!(matrix["schema"], "lapwise/matrix/1");
    let rows = matrix["rows"].as_array().unwrap();
    let counts = matrix["counts"].as_object().unwrap();
    assert_eq!(counts.values().map(|n| n.as_u64().unwrap()).sum::<u64>(), rows.len() as u64);
    for (verdict, count) in counts {
        let there = rows.iter().filter(|row| row["verdict"] == verdict.as_str()).count();
        assert_eq!(there as u64, count.as_u64().unwrap(), "{verdict}");
    }
    let rank = json(&story.lapwise(&["rank", "S-1", "--json"]).out);
    assert_eq!(rank["counts"], matrix["counts"]);
    let csv = story.lapwise(&["matrix", "S-1", "--format", "csv"]);
    assert_eq!(csv.out.lines().count(), rows.len() + 1);
    assert_eq!(
        csv.out.lines().next().unwrap(),
        "enquiry,tape,revision,exposure,criterion,measure,unit,x05,x50,x95,limit,outer_limit,better,verdict,margin,margin_reads,\
         method,basis,missing,condition,settled_by,capped,extrapolated"
    );
    assert!(csv.err.contains("findings:"), "{}", csv.err);
}

/// Why a verdict is not what the number alone would give stands beside it, and whether an input was carried too far.
#[test]
fn a_row_says_what_holds_its_verdict_back() {
    let story = Story::of(SHIPPED);
    let csv = story.lapwise(&["matrix", "Q-101", "--format", "csv"]).out;
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let rows: Vec<std::collections::BTreeMap<String, String>> = reader.deserialize().map(Result::unwrap).collect();
    let of = |capped: &str| rows.iter().filter(|row| row["capped"] == capped).collect::<Vec<_>>();
    for (capped, verdict) in
        [("extrapolated", "conditional"), ("weak-evidence", "conditional"), ("method-alone", "unproven")]
    {
        assert!(!of(capped).is_empty(), "no row is held back as {capped}");
        assert!(of(capped).iter().all(|row| row["verdict"] == verdict), "{capped}");
    }
    assert!(of("extrapolated").iter().all(|row| row["extrapolated"] == "true"));
    assert!(of("").iter().any(|row| row["extrapolated"] == "true"), "an input too far need not hold the verdict back");
    let row = of("weak-evidence")[0];
    let mut asked = vec!["explain", "Q-101", &row["tape"], &row["criterion"], "--json"];
    if !row["exposure"].is_empty() {
        asked.extend(["--exposure", &row["exposure"]]);
    }
    assert_eq!(json(&story.lapwise(&asked).out)["capped"], "weak-evidence");
}

#[test]
fn rank_says_what_decides() {
    let told = Story::of(SMALL).lapwise(&["rank", "S-1", "--json"]);
    let document = json(&told.out);
    let candidates = document["candidates"].as_array().unwrap();
    assert_eq!(candidates.len(), 3);
    assert_eq!(document["discontinued"][0], "S-4");
    let words = ["suitable", "conditional", "unproven", "unsuitable"];
    let place = |c: &Value| words.iter().position(|w| c["verdict"] == *w).unwrap();
    assert!(candidates.windows(2).all(|pair| place(&pair[0]) <= place(&pair[1])));
    for candidate in candidates {
        for key in ["tape", "verdict", "weakest", "margin", "open_hazards", "relative_cost"] {
            assert!(candidate.get(key).is_some(), "{key}");
        }
    }
}

/// A missing fact gives unproven with its name, never a default.
#[test]
fn a_missing_fact_is_named() {
    let story = Story::of(SMALL).rewrite("facts.csv", |text| {
        let kept = text.lines().filter(|row| !row.starts_with("acrylic-crosslinked,crosslink_density"));
        kept.map(|row| format!("{row}\n")).collect()
    });
    let told = story.lapwise(&["explain", "S-1", "S-1", "adhesive-swelling", "--json"]);
    let document = json(&told.out);
    assert_eq!(document["verdict"], "unproven");
    assert_eq!(document["missing"][0], "crosslink_density of acrylic-crosslinked");
    assert!(document["x50"].is_null());
}

#[test]
fn rows_in_another_order_change_nothing() {
    let plain = Story::of(SMALL);
    let shuffled =
        ["facts.csv", "pairs.csv", "tapes.csv", "materials.csv"].iter().fold(Story::of(SMALL), |story, file| {
            story.rewrite(file, |text| {
                let mut rows: Vec<&str> = text.lines().collect();
                rows[1..].reverse();
                rows.iter().map(|row| format!("{row}\r\n")).collect()
            })
        });
    for arguments in [["matrix", "S-1", "--json"], ["rank", "S-1", "--json"]] {
        assert_eq!(plain.lapwise(&arguments).out, shuffled.lapwise(&arguments).out);
    }
}

#[test]
fn units_as_written_change_nothing() {
    let same = Story::of(SMALL)
        .change("enquiries/s-1.toml", "width = \"20 mm\"", "width = \"2 cm\"")
        .change("enquiries/s-1.toml", "temperature = \"75 degC\"", "temperature = \"348.15 K\"")
        .change("enquiries/s-1.toml", "tension = \"10 N/cm\"", "tension = \"1000 N/m\"")
        .change("enquiries/s-1.toml", "humidity = \"80 %\"", "humidity = 0.8");
    assert_eq!(
        Story::of(SMALL).lapwise(&["matrix", "S-1", "--json"]).out,
        same.lapwise(&["matrix", "S-1", "--json"]).out
    );
}

#[test]
fn a_closed_pipe_is_quiet() {
    use std::process::{Command, Stdio};
    let story = Story::of(SHIPPED);
    let mut child = Command::new(env!("CARGO_BIN_EXE_lapwise"))
        .args(["matrix", "Q-101", "--format", "csv", "--data", "data"])
        .current_dir(story.root())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}

/// 750 V of link, 1.3 of overshoot, all of it between phases: 975 V peak, whatever root mean square stands beside it.
#[test]
fn a_converter_strains_by_its_link() {
    let demand = |from: &str, to: &str| {
        let told = Story::of(SHIPPED).change("enquiries/q-107.toml", from, to).lapwise(&[
            "explain",
            "Q-107",
            "H-012",
            "pd-margin",
            "--json",
        ]);
        json(&told.out)["demand"]["value"].clone()
    };
    assert_eq!(demand("across = \"480 V\"", "across = \"480 V\""), 975.0);
    assert_eq!(demand("across = \"480 V\"\n", ""), 975.0);
    assert_eq!(demand("across = \"480 V\"", "across = \"1000 V\"").as_f64().map(f64::round), Some(1414.0));
    assert_eq!(demand("dc_link = \"750 V\"\n", ""), Value::Null);
}

/// `script` gives the program a terminal; binary rows are refused there and go to a pipe.
#[test]
fn binary_rows_are_refused_on_a_terminal() {
    let story = Story::of(SMALL);
    let program = env!("CARGO_BIN_EXE_lapwise");
    let command = format!("{program} matrix S-1 --format parquet --data data");
    let output = std::process::Command::new("script")
        .args(["-qec", &command, "/dev/null"])
        .current_dir(story.root())
        .output()
        .expect("`script` of util-linux");
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(text.contains("(terminal-refused)"), "{text}");
    assert_eq!(output.status.code(), Some(2));
    let told = story.lapwise(&["matrix", "S-1", "--format", "parquet", "-o", "rows.parquet"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(std::fs::read(story.root().join("rows.parquet")).unwrap().starts_with(b"PAR1"));
}

#[test]
fn a_folder_that_cannot_be_written_is_an_environment_fault() {
    let told = Story::of(SMALL).lapwise(&["matrix", "S-1", "--format", "csv", "-o", "nowhere/rows.csv"]);
    assert_eq!(told.code, 3);
    assert!(told.err.contains("(write-failed)"), "{}", told.err);
}

/// Every key of a document stands in its schema, and every key that the schema asks for in the document.
#[test]
fn documents_are_of_the_form_that_their_schema_says() {
    let story = Story::of(SMALL);
    let broken = Story::of(SMALL).change("about.toml", "lapwise/data/1", "lapwise/data/7");
    for (name, told) in [
        ("check", story.lapwise(&["check", "--json"])),
        ("diagnostics", broken.lapwise(&["check", "--json"])),
        ("envelope", story.lapwise(&["envelope", "S-1", "S-1", "--json"])),
        ("explain", story.lapwise(&["explain", "S-1", "S-1", "--json"])),
        ("matrix", story.lapwise(&["matrix", "S-1", "--json"])),
        ("model", story.run(&["model", "ageing-fit", "points=7200 h@180 degC, 480 h@220 degC", "--json"])),
        ("models", story.run(&["model", "list", "--json"])),
        ("rank", story.lapwise(&["rank", "S-1", "--json"])),
    ] {
        let document = json(&told.out);
        let schema = json(&story.run(&["schema", name]).out);
        assert_eq!(document["schema"], schema["$id"]);
        let mut wrong = Vec::new();
        conforms(&document, &schema, &schema, name, &mut wrong);
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
    assert_eq!(story.run(&["schema", "rnk"]).code, 1);
}

/// The forms beside the data, which an editor checks against, are those the program reads by.
#[test]
fn the_forms_beside_the_data_are_current() {
    let story = Story::of(SMALL);
    for name in ["enquiry", "criteria"] {
        let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("matrices/schema/{name}.json"));
        let now = story.run(&["schema", name]).out;
        assert!(
            fs::read_to_string(&kept).is_ok_and(|text| text == now),
            "run `lapwise schema {name} > matrices/schema/{name}.json`"
        );
    }
}

/// A form says what a reader refuses: every key that an enquiry may have stands in it, and those it must have.
#[test]
fn the_form_of_an_enquiry_is_what_its_reader_asks_for() {
    let schema = json(&Story::of(SMALL).run(&["schema", "enquiry"]).out);
    let exposure = &schema["properties"]["exposure"]["items"];
    assert_eq!(exposure["properties"]["wanted"]["enum"][1], "impregnate");
    assert_eq!(exposure["properties"]["cure"]["type"], "boolean");
    assert_eq!(exposure["additionalProperties"], false);
    let needed: Vec<&str> = exposure["required"].as_array().unwrap().iter().map(|k| k.as_str().unwrap()).collect();
    assert_eq!(needed, ["name", "stage", "medium", "temperature", "duration"]);
    let winding = schema["properties"]["winding"]["properties"].as_object().unwrap();
    assert_eq!(winding.len(), 13);
    let criteria = json(&Story::of(SMALL).run(&["schema", "criteria"]).out);
    let limit = &criteria["properties"]["criterion"]["items"]["properties"]["limit"]["anyOf"];
    assert_eq!((&limit[0]["type"], &limit[1]["examples"][0]), (&Value::from("number"), &Value::from("10 K")));
}

/// Holds the keys of a document against a schema, through its references.
pub(crate) fn conforms(value: &Value, schema: &Value, root: &Value, at: &str, wrong: &mut Vec<String>) {
    if let Some(reference) = schema["$ref"].as_str() {
        let target = root.pointer(reference.trim_start_matches('#')).unwrap();
        return conforms(value, target, root, at, wrong);
    }
    if let Some(any) = schema["anyOf"].as_array() {
        let fits = any.iter().any(|one| {
            let mut found = Vec::new();
            conforms(value, one, root, at, &mut found);
            found.is_empty() && (one["type"] == "null") == value.is_null()
        });
        if !fits {
            wrong.push(format!("{at}: none of the forms fits"));
        }
        return;
    }
    match value {
        Value::Object(fields) => {
            let known = schema["properties"].as_object();
            let open = schema.get("additionalProperties");
            for (key, value) in fields {
                match (known.and_then(|known| known.get(key)), open) {
                    (Some(of), _) | (None, Some(of)) => conforms(value, of, root, &format!("{at}.{key}"), wrong),
                    (None, None) => wrong.push(format!("{at}.{key} is not in the schema")),
                }
            }
            for key in schema["required"].as_array().into_iter().flatten() {
                if !fields.contains_key(key.as_str().unwrap()) {
                    wrong.push(format!("{at} lacks {key}"));
                }
            }
        }
        Value::Array(items) => {
            for (nth, item) in items.iter().enumerate() {
                conforms(item, &schema["items"], root, &format!("{at}[{nth}]"), wrong);
            }
        }
        _ => {}
    }
}
