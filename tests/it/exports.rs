//! Answers as people use them: workbooks and pages say what the CSV says, and nothing of the data acts in them.

use std::collections::BTreeMap;
use std::fs;
use std::io::Cursor;

use calamine::{Data, Range, Reader, Xlsx};
use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::story::{SHIPPED, SMALL, Story};

/// The bytes that a command writes to a file.
fn written(story: &Story, arguments: &[&str]) -> Vec<u8> {
    let mut all = arguments.to_vec();
    all.extend(["-o", "written"]);
    let told = story.lapwise(&all);
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(arguments.contains(&"table") || told.err.contains("findings:"), "{}", told.err);
    fs::read(story.root().join("written")).unwrap()
}

fn page(story: &Story, arguments: &[&str]) -> String {
    let mut all = arguments.to_vec();
    all.extend(["--format", "html"]);
    String::from_utf8(written(story, &all)).unwrap()
}

fn sheet(bytes: &[u8], name: &str) -> Range<Data> {
    Xlsx::new(Cursor::new(bytes.to_vec())).unwrap().worksheet_range(name).unwrap()
}

/// The rows of a CSV below its head, by head.
fn records(text: &str) -> Vec<BTreeMap<String, String>> {
    csv::Reader::from_reader(text.as_bytes()).deserialize().map(Result::unwrap).collect()
}

/// Two rows stand above the heads of a sheet: title and notice.
const ABOVE: usize = 2;

/// Holds a sheet against a CSV: each column of the CSV under its head, in its place, numbers to the last bit.
fn same(sheet: &Range<Data>, text: &str, columns: &[(&str, &str)]) {
    let records = records(text);
    let rows: Vec<&[Data]> = sheet.rows().skip(ABOVE).collect();
    let heads: Vec<String> = rows[0].iter().map(ToString::to_string).collect();
    for (nth, record) in records.iter().enumerate() {
        for (column, head) in columns {
            let at = heads.iter().position(|h| h == head).unwrap_or_else(|| panic!("no head {head} in {heads:?}"));
            let (cell, written) = (&rows[nth + 1][at], &record[*column]);
            let equal = match cell {
                Data::Float(x) => written.parse::<f64>().is_ok_and(|w| w.to_bits() == x.to_bits()),
                Data::String(text) => text == written,
                Data::Empty => written.is_empty(),
                other => panic!("{other:?}"),
            };
            assert!(equal, "row {nth}, {column}: {cell:?} is not {written:?}");
        }
    }
    let filled = rows[1..].iter().filter(|row| row.len() > 4 && !matches!(row[4], Data::Empty)).count();
    assert_eq!(filled, records.len());
}

const FINDINGS: [(&str, &str); 22] = [
    ("enquiry", "Enquiry"),
    ("tape", "Tape"),
    ("revision", "Revision"),
    ("exposure", "Exposure"),
    ("criterion", "Criterion"),
    ("measure", "Measure"),
    ("unit", "Unit"),
    ("x05", "5 %"),
    ("x50", "50 %"),
    ("x95", "95 %"),
    ("limit", "Limit"),
    ("outer_limit", "Outer limit"),
    ("better", "Better"),
    ("verdict", "Verdict"),
    ("margin", "Margin"),
    ("method", "Method"),
    ("basis", "Basis"),
    ("missing", "Missing"),
    ("condition", "Condition"),
    ("settled_by", "Settled by"),
    ("capped", "Capped"),
    ("extrapolated", "Extrapolated"),
];

#[test]
fn a_workbook_holds_every_row_and_number_of_the_csv() {
    let story = Story::of(SHIPPED);
    let book = written(&story, &["matrix", "Q-101", "Q-108", "--format", "xlsx"]);
    let csv = story.lapwise(&["matrix", "Q-101", "Q-108", "--format", "csv"]).out;
    same(&sheet(&book, "Findings"), &csv, &FINDINGS);
    // Every cell is accounted for, enquiry by enquiry and together.
    let counts = sheet(&book, "Counts");
    let rows: Vec<&[Data]> = counts.rows().skip(ABOVE + 1).take(3).collect();
    let number = |cell: &Data| match cell {
        Data::Float(x) => *x,
        other => panic!("{other:?}"),
    };
    for row in &rows {
        assert_eq!(row[2..7].iter().map(number).sum::<f64>(), number(&row[7]));
    }
    assert_eq!(number(&rows[0][7]) + number(&rows[1][7]), number(&rows[2][7]));
    assert_eq!(number(&rows[2][7]), records(&csv).len() as f64);
}

#[test]
fn the_order_is_the_same_in_every_form() {
    let story = Story::of(SHIPPED);
    let csv = story.lapwise(&["rank", "Q-104", "--format", "csv"]).out;
    let book = written(&story, &["rank", "Q-104", "--format", "xlsx"]);
    let columns = [
        ("enquiry", "Enquiry"),
        ("order", "Order"),
        ("tape", "Tape"),
        ("construction", "Construction"),
        ("verdict", "Verdict"),
        ("weakest", "Weakest criterion"),
        ("exposure", "Exposure"),
        ("margin", "Margin"),
        ("margin_unit", "Margin in"),
        ("missing", "Missing"),
        ("open_hazards", "Open hazard findings"),
        ("relative_cost", "Cost, first tape = 1"),
    ];
    let sheet = sheet(&book, "Order");
    let heads: Vec<String> = sheet.rows().nth(ABOVE).unwrap().iter().map(ToString::to_string).collect();
    let records = records(&csv);
    for (record, row) in records.iter().zip(sheet.rows().skip(ABOVE + 1)) {
        for (column, head) in columns {
            let cell = row[heads.iter().position(|h| h == head).unwrap()].to_string();
            let written = &record[column];
            assert!(cell == *written || cell.parse::<f64>().ok() == written.parse().ok(), "{column}: {cell} {written}");
        }
    }
    let json: Value = serde_json::from_str(&story.lapwise(&["rank", "Q-104", "--json"]).out).unwrap();
    let candidates = json["candidates"].as_array().unwrap();
    assert_eq!(candidates.len(), records.len());
    for (candidate, record) in candidates.iter().zip(&records) {
        assert_eq!(candidate["tape"], record["tape"].as_str());
        let (told, written): (Option<f64>, Option<f64>) = (candidate["margin"].as_f64(), record["margin"].parse().ok());
        // The reader of JSON in this test may miss the last binary digit.
        let near = told.zip(written).is_some_and(|(a, b)| (a - b).abs() <= 1e-15 * b.abs());
        assert!(near || told == written, "{told:?} {written:?}");
    }
    assert!(written(&story, &["rank", "Q-104", "--format", "parquet"]).starts_with(b"PAR1"));
    let html = page(&story, &["rank", "Q-104"]);
    let mut from = 0;
    for record in &records {
        let row = format!("data-order=\"{}\" data-tape=\"{}\"", record["order"], record["tape"]);
        from += html[from..].find(&row).unwrap_or_else(|| panic!("no {row} after the one before"));
    }
}

#[test]
fn exports_are_the_same_bytes_each_time() {
    for format in ["xlsx", "html", "csv", "json", "parquet"] {
        for command in ["matrix", "rank"] {
            let bytes = || {
                let arguments = [command, "S-1", "--format", format];
                let mut all = arguments.to_vec();
                all.extend(["-o", "written"]);
                let story = Story::of(SMALL);
                assert_eq!(story.lapwise(&all).code, 0);
                fs::read(story.root().join("written")).unwrap()
            };
            assert_eq!(bytes(), bytes(), "{command} {format}");
        }
    }
    // The day of the enquiry, not of the run, is the day of the book: a second later it is the same.
    let book = || written(&Story::of(SMALL), &["matrix", "S-1", "--format", "xlsx"]);
    let first = book();
    std::thread::sleep(std::time::Duration::from_millis(1100));
    assert_eq!(first, book());
}

/// The start tags of a page with their attributes; every end tag must close what was opened last.
fn tags(html: &str) -> Vec<(String, BTreeMap<String, String>)> {
    const ALONE: [&str; 5] = ["meta", "input", "br", "path", "rect"];
    let mut found = Vec::new();
    let mut open: Vec<String> = Vec::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        rest = &rest[at + 1..];
        if rest.starts_with('!') {
            continue;
        }
        if let Some(end) = rest.strip_prefix('/') {
            let name: String = end.chars().take_while(|c| *c != '>').collect();
            assert_eq!(open.pop().as_deref(), Some(name.as_str()), "near {}", &rest[..rest.len().min(80)]);
            continue;
        }
        let name: String = rest.chars().take_while(char::is_ascii_alphanumeric).collect();
        assert!(!name.is_empty(), "a bare < near {}", &rest[..rest.len().min(80)]);
        rest = &rest[name.len()..];
        let mut attributes = BTreeMap::new();
        loop {
            rest = rest.trim_start();
            if let Some(after) = rest.strip_prefix("/>").or_else(|| rest.strip_prefix('>')) {
                rest = after;
                break;
            }
            let key: String = rest.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '-').collect();
            assert!(!key.is_empty(), "in <{name} near {}", rest.chars().take(80).collect::<String>());
            rest = &rest[key.len()..];
            let mut value = String::new();
            if let Some(after) = rest.strip_prefix("=\"") {
                let end = after.find('"').unwrap();
                after[..end].clone_into(&mut value);
                rest = &after[end + 1..];
            }
            assert!(attributes.insert(key.clone(), value).is_none(), "<{name}> has {key} twice");
        }
        if name == "script" || name == "style" {
            rest = &rest[rest.find(&format!("</{name}>")).unwrap()..];
        }
        if !ALONE.contains(&name.as_str()) {
            open.push(name.clone());
        }
        found.push((name, attributes));
    }
    assert!(open.is_empty(), "left open: {open:?}");
    found
}

/// The texts of the elements of a name.
fn inside<'h>(html: &'h str, start: &str, end: &str) -> &'h str {
    let from = html.find(start).unwrap_or_else(|| panic!("no {start}")) + start.len();
    &html[from..from + html[from..].find(end).unwrap()]
}

/// RFC 4648 over the bytes of a digest, to hold the page's policy against.
fn base64(bytes: &[u8]) -> String {
    let bits: Vec<u8> = bytes.iter().flat_map(|byte| (0..8).rev().map(move |n| byte >> n & 1)).collect();
    let letters: Vec<char> = ('A'..='Z').chain('a'..='z').chain('0'..='9').chain(['+', '/']).collect();
    let mut text: String = bits
        .chunks(6)
        .map(|six| letters[six.iter().chain([0; 6].iter()).take(6).fold(0, |n, bit| n << 1 | usize::from(*bit))])
        .collect();
    while !text.len().is_multiple_of(4) {
        text.push('=');
    }
    text
}

#[test]
fn a_page_is_whole_by_itself_and_every_cell_opens_its_working() {
    let story = Story::of(SHIPPED);
    let html = page(&story, &["matrix", "Q-101", "Q-104"]);
    let tags = tags(&html);
    // Nothing is fetched, and the policy knows the one style and the one script that stand here.
    for (name, attributes) in &tags {
        assert!(!["link", "img", "iframe", "object", "embed", "base", "form"].contains(&name.as_str()), "{name}");
        assert!(!attributes.contains_key("src") && !attributes.contains_key("style"), "{name} {attributes:?}");
        assert!(!attributes.keys().any(|key| key.starts_with("on")), "{name} {attributes:?}");
        assert!(attributes.get("href").is_none_or(|target| target.starts_with('#')));
    }
    let policy = &tags.iter().find(|(_, a)| a.contains_key("http-equiv")).unwrap().1["content"];
    for (start, end) in [("<style>", "</style>"), ("<script>", "</script>")] {
        let hash = base64(&Sha256::digest(inside(&html, start, end)));
        assert!(policy.contains(&format!("'sha256-{hash}'")), "{policy} lacks {hash}");
    }
    assert!(policy.starts_with("default-src 'none'"));
    // As many rows as were asked; not asked, counted.
    let csv = records(&story.lapwise(&["matrix", "Q-101", "Q-104", "--format", "csv"]).out);
    let asked: Vec<_> = csv.iter().filter(|row| row["verdict"] != "not-asked").collect();
    let rows: Vec<_> = tags.iter().filter(|(name, a)| name == "tr" && a.contains_key("data-verdict")).collect();
    assert_eq!(rows.len(), asked.len());
    for verdict in ["suitable", "conditional", "unproven", "unsuitable"] {
        let of = |n: &&BTreeMap<String, String>| n["verdict"] == verdict;
        let there = rows.iter().filter(|(_, a)| a["data-verdict"] == verdict).count();
        assert_eq!(there, asked.iter().copied().filter(|row| of(row)).count(), "{verdict}");
    }
    let sentence = inside(&html, "<p id=\"sentence\">", "</p>");
    assert!(sentence.starts_with(&format!("{} findings", csv.len())), "{sentence}");
    // The workings: each cell has one, and it says what `explain` says.
    let data: Value = serde_json::from_str(inside(&html, "id=\"workings\">", "</script>")).unwrap();
    let workings = data["workings"].as_array().unwrap();
    assert_eq!(workings.len(), asked.len());
    for (_, attributes) in tags.iter().filter(|(_, a)| a.contains_key("data-w")) {
        assert!(attributes["data-w"].parse::<usize>().unwrap() < workings.len());
        assert_eq!(attributes["aria-haspopup"], "dialog");
    }
    let said = |index: &Value| data["texts"][usize::try_from(index.as_u64().unwrap()).unwrap()].as_str().unwrap();
    for working in workings.iter().step_by(workings.len() / 5) {
        let command = said(&working["command"]);
        let mut arguments: Vec<&str> = command.split('"').next().unwrap().split_whitespace().skip(1).collect();
        arguments.extend(command.split('"').nth(1));
        let told = story.lapwise(&arguments).out;
        let letters = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
        let whole = letters(&told);
        assert!(whole.starts_with(&letters(said(&working["title"]))), "{told}");
        for part in ["answer", "steps"] {
            for pair in working[part].as_array().unwrap() {
                assert!(whole.contains(&letters(said(&pair[1]))), "{part}: {}\n{told}", said(&pair[1]));
            }
        }
    }
    // For whoever hears the page: captions, scopes, labels, one live line.
    assert_eq!(tags.iter().filter(|(n, _)| n == "table").count(), tags.iter().filter(|(n, _)| n == "caption").count());
    assert!(tags.iter().filter(|(n, _)| n == "th").all(|(_, a)| a.contains_key("scope")));
    let mut ids: Vec<&String> = tags.iter().filter_map(|(_, a)| a.get("id")).collect();
    for target in tags.iter().flat_map(|(_, a)| [a.get("aria-labelledby"), a.get("aria-label")]).flatten() {
        assert!(ids.contains(&target) || target.contains(' '), "{target}");
    }
    ids.sort();
    let many = ids.len();
    ids.dedup();
    assert_eq!(ids.len(), many, "an id stands twice");
    assert!(tags.iter().any(|(_, a)| a.get("role").is_some_and(|role| role == "status")));
    assert!(html.contains("Invented demonstration data") && html.contains("id=\"cautions\""));
}

#[test]
fn text_of_the_data_never_acts_on_a_page() {
    let hostile = "</script><script>alert(1)</script>\\\"'><img src=x onerror=alert(2)>&lt;b&gt; {{ 7*7 }} {% raw %}";
    let story = Story::of(SMALL)
        .change("enquiries/s-1.toml", "title = \"A small coil\"", &format!("title = \"{hostile}\""))
        .change("enquiries/s-1.toml", "customer = \"Nobody", &format!("customer = \"{hostile}"))
        .change("enquiries/s-1.toml", "name = \"oil\"", &format!("name = \"{hostile}\""))
        .change("about.toml", "Four invented tapes", &hostile.replace("\\\"", ""));
    for command in ["matrix", "rank"] {
        let html = page(&story, &[command, "S-1"]);
        let tags = tags(&html);
        assert_eq!(tags.iter().filter(|(name, _)| name == "script").count(), 2, "{command}");
        assert!(tags.iter().all(|(name, a)| name != "img" && !a.contains_key("onerror")), "{command}");
        assert!(html.contains("{{ 7*7 }}"), "the text stands there as text");
        let data: Value = serde_json::from_str(inside(&html, "id=\"workings\">", "</script>")).unwrap();
        assert!(data["texts"].as_array().unwrap().iter().any(|t| t.as_str().unwrap().contains("</script>")));
    }
    let book = written(&story, &["matrix", "S-1", "--format", "xlsx"]);
    let csv = story.lapwise(&["matrix", "S-1", "--format", "csv"]).out;
    same(&sheet(&book, "Findings"), &csv, &FINDINGS);
}

#[test]
fn a_text_that_looks_like_a_formula_stays_a_text() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "name = \"oil\"", "name = \"=1+1\"");
    let book = written(&story, &["matrix", "S-1", "--format", "xlsx"]);
    let mut workbook = Xlsx::new(Cursor::new(book.clone())).unwrap();
    assert!(workbook.worksheet_formula("Findings").unwrap().used_cells().next().is_none());
    assert!(sheet(&book, "Findings").used_cells().any(|(_, _, cell)| *cell == Data::String("=1+1".to_owned())));
}

/// A real catalogue carries no notice of invention.
#[test]
fn only_an_invented_catalogue_is_called_so() {
    let real = ["tapes.csv", "facts.csv", "pairs.csv"]
        .iter()
        .fold(Story::of(SMALL).change("about.toml", "invented = true", "invented = false"), |story, file| {
            story.rewrite(file, |text| text.replace(",invented,", ",published,"))
        });
    let (real, invented) = (page(&real, &["matrix", "S-1"]), page(&Story::of(SMALL), &["matrix", "S-1"]));
    assert!(!real.contains("Invented demonstration data"));
    assert!(invented.contains("Invented demonstration data"));
}

/// What goes to a pipe or a file keeps to 100 columns, whatever the terminal.
#[test]
fn tables_keep_to_the_width_of_a_page() {
    let story = Story::of(SHIPPED);
    for arguments in [
        vec!["rank", "Q-101", "--all"],
        vec!["matrix", "Q-101"],
        vec!["explain", "Q-101", "H-111"],
        vec!["explain", "Q-101", "H-111", "adhesive-swelling"],
        vec!["explain", "Q-107", "H-012", "pd-margin"],
        vec!["envelope", "Q-101", "H-111"],
        vec!["model", "list"],
    ] {
        let told = story.lapwise(&arguments);
        let wide: Vec<&str> = told.out.lines().filter(|line| line.chars().count() > 100).collect();
        assert!(told.code == 0 && wide.is_empty(), "{arguments:?}: {wide:#?}");
    }
}

#[test]
fn one_is_not_many() {
    let story = Story::of(SMALL);
    let told = story.lapwise(&["check"]).out;
    assert!(told.contains(" 1 enquiry\n"), "{told}");
    assert!(told.contains(" 4 tapes,"), "{told}");
}
