//! Two data folders: rows that differ, answers that move, and which row moves which.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use lapwise::catalogue::Catalogue;
use lapwise::compare::{Change, Comparison, compare};
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::load::Folder;
use lapwise::output;
use serde_json::Value;

use crate::story::{SHIPPED, SMALL, Story};

fn folder(path: &str) -> Folder {
    Folder::read(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

/// A folder with the first `from` of a file replaced.
fn edited(folder: &Folder, file: &str, from: &str, to: &str) -> Folder {
    let mut edited = folder.clone();
    let text = edited.files.get_mut(file).unwrap();
    assert!(text.contains(from), "{file} has no {from}");
    *text = text.replacen(from, to, 1);
    edited
}

fn between(old: &Folder, new: &Folder) -> Comparison {
    compare(old, new, None).unwrap_or_else(|faults| panic!("{}", faults.sorted()[0]))
}

/// Every verdict by enquiry, tape, exposure and criterion, from the rows of the matrix.
fn verdicts(folder: &Folder) -> Option<BTreeMap<[String; 4], &'static str>> {
    let catalogue = Catalogue::build(folder).ok()?;
    let mut all = BTreeMap::new();
    for file in folder.enquiries() {
        // Each enquiry by itself: a plan of its own shares nothing with the others.
        let enquiries = [Enquiry::read(file, folder.text(file), &catalogue).ok()?];
        let plan = Plan::new(&catalogue, &enquiries).ok()?;
        for row in output::rows(&plan, &output::told(&plan)) {
            all.insert([row.enquiry, row.tape, row.exposure, row.criterion], row.verdict);
        }
    }
    Some(all)
}

#[test]
fn what_says_the_same_is_no_difference() {
    let old = folder(SMALL);
    let mut new = old.clone();
    for (file, text) in &mut new.files {
        if file.rsplit('.').next() == Some("csv") {
            // The head stays; the rows turn round, a column of the user's own comes first, lines end as on Windows.
            let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
            lines[1..].reverse();
            let own = |(n, line): (usize, String)| format!("{},{line}\r\n", if n == 0 { "x_mine" } else { "7" });
            *text = lines.into_iter().enumerate().map(own).collect();
        } else {
            *text = format!("# A comment.\r\n{}", text.replace('\n', "\r\n"));
        }
    }
    // Columns in another order, also of tables that nothing is imported into.
    let ranges = folder(SHIPPED).text("ranges.csv").to_owned();
    let mut old = old;
    old.files.insert("ranges.csv".to_owned(), ranges);
    for file in ["tapes.csv", "wordings.csv", "ranges.csv"] {
        let mut reader = csv::Reader::from_reader(old.text(file).as_bytes());
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(reader.headers().unwrap().iter().rev()).unwrap();
        for row in reader.records() {
            writer.write_record(row.unwrap().iter().rev()).unwrap();
        }
        new.files.insert(file.to_owned(), String::from_utf8(writer.into_inner().unwrap()).unwrap());
    }
    let found = between(&old, &new);
    assert!(found.changes.is_empty(), "{:?}", found.changes);
    assert!(found.moved.is_empty() && found.causes.is_empty() && found.together.is_none());
}

#[test]
fn a_number_in_another_unit_is_the_same_number() {
    let old = folder(SHIPPED);
    let new = edited(&old, "tapes.csv", ",5.3 mil,", ",0.13462 mm,");
    assert!(between(&old, &new).changes.is_empty());
}

/// The file of an enquiry may have another name, and a table that only lies in the folder is no data.
#[test]
fn a_file_by_another_name_and_one_that_nothing_reads_are_no_difference() {
    let old = folder(SMALL);
    let mut new = old.clone();
    let name = old.enquiries().next().unwrap().to_owned();
    let text = new.files.remove(&name).unwrap();
    new.files.insert("enquiries/renamed.toml".to_owned(), text.clone());
    new.files.insert("list-from-a-customer.csv".to_owned(), "a,a\n1\n".to_owned());
    assert!(between(&old, &new).changes.is_empty());
    // One that says something else is told once, by its number, under its new name.
    new.files.insert("enquiries/renamed.toml".to_owned(), text.replacen("title = \"", "title = \"Again: ", 1));
    let found = between(&old, &new);
    let [change] = found.changes.as_slice() else { panic!("{:?}", found.changes) };
    assert_eq!((change.file.as_str(), change.cells[0].column.as_str()), ("enquiries/renamed.toml", "enquiry.title"));
}

/// A row that names a source which comes with it does not load without: it is judged all the same.
#[test]
fn a_row_whose_source_comes_with_it_is_told_by_itself() {
    let old = folder(SMALL);
    let mut new = old.clone();
    let key = "a-new-sheet";
    let sources = new.files.get_mut("sources.yml").unwrap();
    sources.push_str("\na-new-sheet:\n  type: report\n  title: A new sheet (invented)\n  date: 2026-11-01\n");
    let mut rows: Vec<csv::StringRecord> = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(old.text("tapes.csv").as_bytes())
        .records()
        .flatten()
        .collect();
    let column = |name: &str| rows[0].iter().position(|head| head == name).unwrap();
    let (source, tensile) = (column("source"), column("tensile"));
    let said = |(c, text): (usize, &str)| match c {
        c if c == source => key.to_owned(),
        c if c == tensile => "0.5 N/cm".to_owned(),
        _ => text.to_owned(),
    };
    rows[1] = rows[1].iter().enumerate().map(said).collect();
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in &rows {
        writer.write_record(row).unwrap();
    }
    new.files.insert("tapes.csv".to_owned(), String::from_utf8(writer.into_inner().unwrap()).unwrap());
    let found = between(&old, &new);
    let told: Vec<&str> = found.changes.iter().map(|c| c.file.as_str()).collect();
    assert_eq!(told, ["sources.yml", "tapes.csv"]);
    let [cause] = found.causes.as_slice() else { panic!("{:?}", found.causes) };
    assert_eq!((cause.changes.as_slice(), found.together.is_none()), ([1].as_slice(), true));
    assert!(!cause.flips.is_empty() && cause.flips.iter().all(|cell| cell.criterion == "tension-margin"), "{cause:?}");
    assert_eq!(
        found.still.iter().map(|s| (s.change, s.why.as_str())).collect::<Vec<_>>(),
        [(0, "a reference, judges nothing")]
    );
}

#[test]
fn each_row_is_told_with_what_it_moves() {
    let old = folder(SHIPPED);
    let mut new = edited(
        &old,
        "facts.csv",
        "H-111,temperature_index,159 degC,155 degC,164 degC",
        "H-111,temperature_index,112 degC,110 degC,114 degC",
    );
    new = edited(&new, "cautions.toml", "Cut away from the hand", "Always cut away from the hand");
    new = edited(&new, "criteria.toml", "title = \"Breakdown margin\"", "title = \"Margin to breakdown\"");
    let found = between(&old, &new);
    let told: Vec<(&str, &str, &str)> =
        found.changes.iter().map(|c| (c.file.as_str(), c.row.as_str(), c.cells[0].column.as_str())).collect();
    assert_eq!(
        told,
        [
            ("cautions.toml", "caution blades", "text"),
            ("criteria.toml", "criterion breakdown-margin", "title"),
            ("facts.csv", "H-111 `temperature_index`", "high"),
        ]
    );
    let [cause] = found.causes.as_slice() else { panic!("{:?}", found.causes) };
    let still: Vec<usize> = found.still.iter().map(|still| still.change).collect();
    assert_eq!((cause.changes.as_slice(), still.as_slice()), ([2].as_slice(), [0, 1].as_slice()));
    assert!(cause.flips.iter().all(|cell| cell.tape == "H-111" && cell.criterion == "thermal-life"));
    let cell = found.moved.iter().flat_map(|m| &m.findings).next().unwrap();
    assert!(cell.value_before != cell.value_after && !cell.value_after.is_empty(), "{cell:?}");
}

#[test]
fn a_tape_that_goes_is_one_change_with_all_that_is_about_it() {
    let old = folder(SHIPPED);
    let mut new = old.clone();
    for file in ["tapes.csv", "facts.csv", "pairs.csv"] {
        let text = new.files.get_mut(file).unwrap();
        *text = text.split_inclusive('\n').filter(|line| !line.starts_with("H-062,")).collect();
    }
    let found = between(&old, &new);
    assert!(found.changes.len() > 10 && found.changes.iter().all(|c| c.change == Change::Removed));
    let [cause] = found.causes.as_slice() else { panic!("{:?}", found.causes) };
    assert_eq!(cause.changes.len(), found.changes.len());
    assert!(
        cause.flips.is_empty()
            && cause.candidates.iter().all(|turned| turned.tape == "H-062" && turned.after.is_none())
    );
    // The way back adds the same rows.
    let back = between(&new, &old);
    assert_eq!(back.changes.len(), found.changes.len());
    assert!(back.changes.iter().all(|c| c.change == Change::Added));
}

#[test]
fn what_no_row_moves_alone_is_told_apart() {
    // Each of the two is within the limit by itself.
    let old = folder(SHIPPED);
    let limit = edited(&old, "criteria.toml", "limit = 1.5\nouter_limit = 2.0", "limit = 1.3\nouter_limit = 1.35");
    let before = "H-111,mineral-oil-naphthenic,on-material,swelling,1.15,1.104,1.196,";
    let after = "H-111,mineral-oil-naphthenic,on-material,swelling,1.33,1.28,1.34,";
    let both = edited(&limit, "pairs.csv", before, after);
    let found = between(&old, &both);
    let (numbers, flips) = (found.moved.iter().flat_map(|m| &m.restated), found.moved.iter().flat_map(|m| &m.findings));
    assert!(numbers.count() + flips.clone().count() > 0);
    let own = |m: &&lapwise::compare::Move| m.tape == "H-111" && m.criterion.as_deref() == Some("adhesive-swelling");
    assert_eq!(flips.filter(own).count(), 1);
    // The two by themselves flip nothing of it; both are named as what does it together.
    let together = found.together.as_ref().unwrap();
    let own = |c: &&lapwise::compare::Cell| c.tape == "H-111" && c.criterion == "adhesive-swelling";
    assert_eq!((together.flips.iter().filter(own).count(), together.changes.as_slice()), (1, [0, 1].as_slice()));
    assert!(found.causes.iter().flat_map(|c| &c.flips).all(|c| !own(&c)));
}

/// A number that is the same on every machine.
fn next(state: &mut u64) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    usize::try_from(*state >> 33).unwrap()
}

/// Changes one number of a random row; none where the row holds no number.
fn random_edit(folder: &Folder, state: &mut u64) -> Option<Folder> {
    let factor = [0.02, 0.3, 0.9, 1.1, 3.0, 50.0][next(state) % 6];
    let scaled = |text: &str| {
        let (number, unit) = text.split_once(' ').map_or((text, ""), |(n, u)| (n, u));
        number.parse::<f64>().map_or(text.to_owned(), |n| format!("{} {unit}", n * factor).trim().to_owned())
    };
    let file = ["tapes.csv", "tapes.csv", "facts.csv", "pairs.csv", "criteria.toml"][next(state) % 5];
    if file == "criteria.toml" {
        let mut lines: Vec<String> = folder.text(file).lines().map(str::to_owned).collect();
        let limits: Vec<usize> = (0..lines.len()).filter(|at| lines[*at].starts_with("limit = ")).collect();
        let at = limits[next(state) % limits.len()];
        // Both limits, so that they stay in order.
        for line in &mut lines[at..at + 2] {
            let (key, number) = line.split_once(" = ")?;
            let number = number.parse::<f64>().ok()?;
            *line = format!("{key} = {:?}", number * factor);
        }
        let mut edited = folder.clone();
        edited.files.insert(file.to_owned(), lines.join("\n"));
        return Some(edited);
    }
    let mut rows: Vec<csv::StringRecord> = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(folder.text(file).as_bytes())
        .records()
        .flatten()
        .collect();
    // What tests say of tapes stands last; it moves more than a fact about some liquid.
    let from = if file == "tapes.csv" { 1 } else { rows.len() - 120.min(rows.len() - 1) };
    let at = from + next(state) % (rows.len() - from);
    let columns: Vec<usize> = (1..rows[at].len())
        .filter(|c| rows[at][*c].split(' ').next().is_some_and(|n| n.parse::<f64>().is_ok()))
        .filter(|c| !["revision", "low", "high", "coated_sides"].contains(&&rows[0][*c]))
        .collect();
    let column = *columns.get(next(state) % columns.len().max(1))?;
    // A value with its ends, so that the ends still hold it.
    let with: Vec<usize> = match &rows[0][column] {
        "value" => (0..rows[0].len()).filter(|c| ["value", "low", "high"].contains(&&rows[0][*c])).collect(),
        _ => vec![column],
    };
    rows[at] =
        rows[at].iter().enumerate().map(|(c, t)| if with.contains(&c) { scaled(t) } else { t.to_owned() }).collect();
    let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
    for row in &rows {
        writer.write_record(row).unwrap();
    }
    let mut edited = folder.clone();
    edited.files.insert(file.to_owned(), String::from_utf8(writer.into_inner().unwrap()).unwrap());
    Some(edited)
}

/// Enquiry, tape, exposure and criterion.
type Cells = BTreeSet<[String; 4]>;

fn flips(was: &BTreeMap<[String; 4], &str>, is: &BTreeMap<[String; 4], &str>) -> Cells {
    was.keys().filter(|key| was[*key] != is[*key]).cloned().collect()
}

fn named<'c>(cells: impl IntoIterator<Item = &'c lapwise::compare::Cell>) -> Cells {
    let key = |c: &lapwise::compare::Cell| {
        [c.enquiry.clone(), c.tape.clone(), c.exposure.clone().unwrap_or_default(), c.criterion.clone()]
    };
    cells.into_iter().map(key).collect()
}

/// Some edits at a time: what is told to flip is what judging everything again flips, no more and no less;
/// what is laid to a change is what that edit alone flips, and the rest is laid to all of them together.
#[test]
fn what_flips_is_what_judging_everything_again_flips() {
    let mut state = 20_261_125;
    let mut old = folder(SHIPPED);
    old.files.retain(|file, _| !file.starts_with("enquiries/") || file.contains("101") || file.contains("107"));
    let was = verdicts(&old).unwrap();
    let (mut flipped, mut shared) = (0, 0);
    for round in 0..8 {
        // Each edit loads by itself, and is known by what it flips by itself.
        let (mut new, mut alone): (Folder, Vec<Cells>) = (old.clone(), Vec::new());
        while alone.len() <= round % 4 {
            let before = state;
            let Some(one) = random_edit(&old, &mut state) else { continue };
            let Some(is) = verdicts(&one) else { continue };
            let mut again = before;
            let Some(more) = random_edit(&new, &mut again).filter(|more| verdicts(more).is_some()) else { continue };
            new = more;
            alone.push(flips(&was, &is));
        }
        let brute = flips(&was, &verdicts(&new).unwrap());
        let found = between(&old, &new);
        assert!(found.changes.len() <= alone.len(), "{:?}", found.changes);
        let moves = found.moved.iter().flat_map(|moved| moved.findings.iter().map(move |m| (&moved.enquiry, m)));
        let told: Cells = moves
            .map(|(e, m)| {
                [e.clone(), m.tape.clone(), m.exposure.clone().unwrap_or_default(), m.criterion.clone().unwrap()]
            })
            .collect();
        assert_eq!(told, brute, "{:?}", found.changes);
        let mut laid: Vec<Cells> = found.causes.iter().map(|c| named(&c.flips)).filter(|c| !c.is_empty()).collect();
        let mut known: Vec<Cells> = alone.iter().map(|c| c & &brute).filter(|c| !c.is_empty()).collect();
        // Two edits of one row are one change.
        if found.changes.len() == alone.len() {
            laid.sort();
            known.sort();
            assert_eq!(laid, known, "{:?}", found.changes);
        }
        let together = named(found.together.iter().flat_map(|t| &t.flips));
        assert_eq!(together, &brute - &laid.into_iter().flatten().collect(), "{:?}", found.changes);
        flipped += brute.len();
        shared += usize::from(found.changes.len() > 1 && !brute.is_empty());
    }
    assert!(flipped > 20 && shared > 1, "{flipped} flips, {shared} rounds of several changes try nothing");
}

/// A catalogue goes out as a workbook, one cell is edited, it comes back: that cell is all that differs.
#[test]
fn a_table_edited_in_a_spreadsheet_comes_back_with_the_edit_alone() {
    let story = Story::of(SMALL);
    let old = story.root().join("old");
    crate::story::copy(&story.data(), &old);
    let text = fs::read_to_string(story.data().join("tapes.csv")).unwrap();
    let rows: Vec<csv::StringRecord> = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text.as_bytes())
        .records()
        .map(Result::unwrap)
        .collect();
    let column = rows[0].iter().position(|head| head == "tensile").unwrap();
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for (r, row) in rows.iter().enumerate() {
        for (c, cell) in row.iter().enumerate() {
            let cell = if (r, c) == (1, column) { "77 N/cm" } else { cell };
            sheet.write_string(u32::try_from(r).unwrap(), u16::try_from(c).unwrap(), cell).unwrap();
        }
    }
    book.save(story.root().join("tapes.xlsx")).unwrap();
    let told = story.lapwise(&["import", "tapes.xlsx", "--into", "tapes", "--basis", "invented"]);
    assert_eq!(told.code, 0, "{}{}", told.out, told.err);
    let told = story.run(&["compare", "old", "data", "--json"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let document: Value = serde_json::from_str(&told.out).unwrap();
    let changes = document["changes"].as_array().unwrap();
    let tapes: Vec<&Value> = changes.iter().filter(|c| c["file"] == "tapes.csv").collect();
    assert_eq!((tapes.len(), &tapes[0]["row"]), (1, &Value::from(&rows[1][0])), "{}", told.out);
    let columns: Vec<&str> =
        tapes[0]["cells"].as_array().unwrap().iter().map(|cell| cell["column"].as_str().unwrap()).collect();
    // The sheet's revision counts on, and the table is its new source; no other number moved.
    assert!(columns.contains(&"tensile"), "{columns:?}");
    assert!(columns.iter().all(|c| ["tensile", "revision", "source", "basis", "note"].contains(c)), "{columns:?}");
    let others: Vec<&Value> = changes.iter().filter(|c| c["file"] != "tapes.csv").collect();
    assert!(others.iter().all(|c| c["file"] == "sources.yml" && c["change"] == "added"), "{others:?}");
}

#[test]
fn the_command_tells_it_in_words_and_by_its_exit_code() {
    let story = Story::of(SMALL);
    crate::story::copy(&story.data(), &story.root().join("old"));
    let told = story.run(&["compare", "old", "data", "--exit-code"]);
    assert!(told.code == 0 && told.out.contains("No row says anything else"), "{}{}", told.out, told.err);
    let story = story.change("tapes.csv", ",active,", ",discontinued,");
    let told = story.run(&["compare", "old", "data", "--exit-code"]);
    assert_eq!(told.code, 1, "{}{}", told.out, told.err);
    for words in ["`status` active → discontinued", "candidate less", "1 order change"] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    let story = story.change("tapes.csv", ",discontinued,", ",dormant,");
    let told = story.run(&["compare", "old", "data"]);
    assert!(told.code == 1 && told.err.contains("data/tapes.csv line 2, column status"), "{}", told.err);
    let told = story.run(&["compare", "nowhere", "data"]);
    assert!(told.code == 1 && told.err.contains("no folder `nowhere`"), "{}", told.err);
    let told = story.run(&["compare", "old", "old", "--enquiries", "old/enquiries"]);
    assert!(told.code == 0 && told.out.contains("judged before and after"), "{}{}", told.out, told.err);
    let told = story.run(&["compare", "old", "old", "--enquiries", "old/nothing"]);
    assert!(told.code == 1 && told.err.contains("a folder of enquiries"), "{}", told.err);
}
