//! Every fault of data and enquiries, one a test: the whole message, as a person reads it.

use std::fs;

use crate::story::{SMALL, Story};

/// What `check` says of a story, without the closing line that counts.
fn told(story: &Story) -> String {
    let told = story.lapwise(&["check"]);
    assert_eq!(told.code, 1, "{told:?}");
    assert_eq!(told.out, "");
    let (faults, count) = told.err.rsplit_once("\n\n").unwrap();
    assert!(count.trim_end().ends_with("nothing was computed"), "{count}");
    faults.to_owned()
}

fn row_of(file: &str, has: &str) -> String {
    let text = fs::read_to_string(format!("{}/{SMALL}/{file}", env!("CARGO_MANIFEST_DIR"))).unwrap();
    text.lines().find(|line| line.contains(has)).unwrap().to_owned()
}

#[test]
fn a_file_that_is_not_there() {
    let story = Story::of(SMALL);
    fs::remove_file(story.data().join("pairs.csv")).unwrap();
    insta::assert_snapshot!(told(&story), @r"
    pairs.csv
      found   no file `pairs.csv` in `data`
      needed  all files of the data folder
      do      restore it, or copy it from a data folder that is whole
      (file-missing)
    ");
}

#[test]
fn a_folder_that_is_not_there() {
    let story = Story::of(SMALL);
    fs::remove_dir_all(story.data()).unwrap();
    insta::assert_snapshot!(told(&story), @r"
      found   no folder `data`
      needed  the data folder
      do      run from the project folder, or name the data folder with --data
      (file-missing)
    ");
}

/// What is written in another way than it is read is no number and no date.
#[test]
fn numbers_dates_and_counts_as_they_are_meant() {
    for (file, from, to, code) in [
        ("enquiries/s-1.toml", "thermal_class = 105", "thermal_class = 0x69", "value-type"),
        ("enquiries/s-1.toml", "date = 2026-11-20", "date = 07:32:00.1", "value-type"),
        ("criteria.toml", "specimens = 3", "specimens = 2.7", "value-impossible"),
        ("criteria.toml", "specimens = 3", "specimens = -3", "value-impossible"),
    ] {
        let told = told(&Story::of(SMALL).change(file, from, to));
        assert!(told.contains(code) && told.contains(file), "{to}: {told}");
    }
}

/// What names a dossier, and who asks, is said.
#[test]
fn an_empty_text_where_one_is_needed() {
    for (from, to, key) in [
        ("number = \"S-1\"", "number = \"\"", "enquiry.number"),
        ("title = ", "title = \" \" # ", "enquiry.title"),
        ("prepared_by = ", "prepared_by = \"\" # ", "enquiry.prepared_by"),
        ("name = ", "name = \"\" # ", "exposure[1].name"),
    ] {
        let told = told(&Story::of(SMALL).change("enquiries/s-1.toml", from, to));
        assert!(told.contains("an empty text") && told.contains(key), "{to}: {told}");
    }
}

/// A tape is no backing, and no medium.
#[test]
fn a_tape_where_a_material_is_needed() {
    let row = row_of("tapes.csv", "S-1,");
    let backing = row.split(',').find(|cell| cell.ends_with("-film")).unwrap().to_owned();
    let story = Story::of(SMALL).rewrite("tapes.csv", |text| text.replacen(&format!(",{backing},"), ",S-2,", 1));
    let said = told(&story);
    assert!(said.contains("column backing") && said.contains("(reference-unknown)"), "{said}");
    let pairs = Story::of(SMALL).rewrite("pairs.csv", |text| {
        let row = text.lines().find(|line| line.contains(",on-medium,") || line.contains(",on-material,")).unwrap();
        let cells: Vec<&str> = row.splitn(3, ',').collect();
        format!("{text}{},S-1,{}\n", cells[0], cells[2])
    });
    let said = told(&pairs);
    assert!(said.contains("column medium") && said.contains("(reference-unknown)"), "{said}");
}

/// What stands behind a quote that nobody closes is not swallowed.
#[test]
fn a_quote_that_does_not_close() {
    let open = |row: &str| Story::of(SMALL).rewrite("facts.csv", |text| format!("{text}{row}\n"));
    let line =
        fs::read_to_string(format!("{}/{SMALL}/facts.csv", env!("CARGO_MANIFEST_DIR"))).unwrap().lines().count() + 1;
    for row in ["x,\"y,z\nx,y,z", "x,\"y\" z,w", "x,y,\"cut"] {
        let said = told(&open(row));
        assert!(said.contains(&format!("facts.csv line {line}\n")) && said.contains("double quote"), "{row}: {said}");
    }
    // One within a cell, or closed about a whole one, stands.
    let said = told(&open("x,3\" core,\"a \"\"b\"\" c\",w"));
    assert!(said.contains("4 cells"), "{said}");
}

/// No rule, no caution and no source is no answer.
#[test]
fn files_that_hold_nothing() {
    for file in ["criteria.toml", "cautions.toml", "sources.yml"] {
        let said = told(&Story::of(SMALL).rewrite(file, |_| String::new()));
        assert!(said.starts_with(file) && said.contains("needed  at least one"), "{file}: {said}");
        let story = Story::of(SMALL);
        fs::remove_file(story.data().join(file)).unwrap();
        fs::create_dir(story.data().join(file)).unwrap();
        let said = told(&story);
        assert!(said.contains(file) && said.contains("(not-a-file)"), "{file}: {said}");
    }
}

/// Which of two enquiries of one number is meant, nobody can say but who asks.
#[test]
fn two_enquiries_of_one_number() {
    let story = Story::of(SMALL);
    fs::copy(story.data().join("enquiries/s-1.toml"), story.data().join("enquiries/a.TOML")).unwrap();
    for command in ["rank", "matrix", "dossier"] {
        let told = story.lapwise(&[command, "S-1"]);
        let both = ["enquiries/s-1.toml", "enquiries/a.TOML", "key-duplicate"];
        assert!(told.code == 1 && both.iter().all(|part| told.err.contains(part)), "{command}: {told:?}");
    }
    assert_eq!(story.lapwise(&["rank", "data/enquiries/s-1.toml"]).code, 0);
}

#[test]
fn a_file_that_is_not_text() {
    let story = Story::of(SMALL);
    let path = story.data().join("facts.csv");
    let mut bytes = fs::read(&path).unwrap();
    bytes.extend([0xff, 0xfe, b'\n']);
    fs::write(path, bytes).unwrap();
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 87
      found   bytes that are not UTF-8 text
      needed  a text file in UTF-8
      do      save the file as UTF-8
      (file-unreadable)
    ");
}

#[test]
fn toml_that_does_not_parse() {
    let story = Story::of(SMALL).change("about.toml", "version = \"1\"", "version = ");
    insta::assert_snapshot!(told(&story), @r"
    about.toml line 2
      found   string values must be quoted, expected literal string
      needed  a TOML file
      do      mend the line; texts stand in double quotes, one key a line
      (toml-syntax)
    ");
}

#[test]
fn yaml_that_does_not_parse() {
    let story = Story::of(SMALL).change("sources.yml", "common-practice:", "common-practice: [");
    insta::assert_snapshot!(told(&story), @r"
    sources.yml line 203
      found   while parsing a flow mapping, did not find expected ',' or '}'
      needed  a bibliography in Hayagriva YAML
      do      mend the entry: keys once each, two spaces of indent, texts with a colon in quotes
      (yaml-syntax)
    ");
}

#[test]
fn a_ragged_row() {
    let story = Story::of(SMALL).change(
        "materials.csv",
        "toluene,solvent,aromatic,toluene,",
        "toluene,solvent,aromatic,toluene",
    );
    insta::assert_snapshot!(told(&story), @r"
    materials.csv line 6
      found   4 cells
      needed  5 cells, as in the head
      do      add or take out commas; put a text that contains a comma in double quotes
      (row-ragged)
    ");
}

#[test]
fn a_column_that_nothing_reads() {
    let story = Story::of(SMALL).change("materials.csv", "id,kind,family", "id,kinds,family");
    insta::assert_snapshot!(told(&story), @r"
    materials.csv line 1, column kind
      found   a head without it
      needed  the column `kind`
      do      add the column; its cells may be blank
      (column-missing)

    materials.csv line 1, column kinds
      found   `kinds`
      needed  a column that is read
      do      did you mean `kind`? (a column of your own starts with `x_`)
      (column-unknown)
    ");
}

#[test]
fn a_column_of_ones_own_is_kept() {
    let story = Story::of(SMALL).rewrite("materials.csv", |text| {
        let rows =
            text.lines().enumerate().map(|(n, row)| format!("{row},{}\n", if n == 0 { "x_mine" } else { "mine" }));
        rows.collect()
    });
    assert_eq!(story.lapwise(&["check"]).code, 0);
}

#[test]
fn a_column_twice() {
    let story = Story::of(SMALL).change("materials.csv", "id,kind,family,name,cures_to", "id,kind,family,name,name");
    insta::assert_snapshot!(told(&story), @r"
    materials.csv line 1, column cures_to
      found   a head without it
      needed  the column `cures_to`
      do      add the column; its cells may be blank
      (column-missing)

    materials.csv line 1, column name
      found   a second `name`
      needed  each column once
      do      take one out
      (column-duplicate)
    ");
}

#[test]
fn a_key_that_nothing_reads() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "passes = 2", "pases = 2");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 38, key winding.pases
      found   `pases`
      needed  a key that is read
      do      did you mean `passes`?
      (key-unknown)
    ");
}

#[test]
fn a_key_that_is_absent() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "equipment = \"liquid-immersed-transformer\"\n", "");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 11, key application.equipment
      found   nothing
      needed  the key `equipment`
      do      add the key
      (key-missing)
    ");
}

#[test]
fn a_cell_that_is_empty() {
    let row = row_of("facts.csv", "polyester-film,permittivity");
    let story = Story::of(SMALL).change("facts.csv", &row, &row.replacen("iec-60674-3-2", "", 1));
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 2, column source
      found   an empty cell
      needed  `source` in every row
      do      fill it in
      (key-missing)
    ");
}

#[test]
fn a_key_twice() {
    let story = Story::of(SMALL).change("tapes.csv", "S-2,", "S-1,");
    insta::assert_snapshot!(told(&story), @r"
    tapes.csv line 3, column tape
      found   a second `S-1`, first on line 2
      needed  each key once
      do      rename one or take it out
      (key-duplicate)
    ");
}

#[test]
fn an_exposure_twice() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "name = \"oil\"", "name = \"humid air\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 49, key exposure[2]
      found   a second exposure `humid air`
      needed  each name once
      do      rename one
      (key-duplicate)
    ");
}

#[test]
fn a_text_where_a_number_is_needed() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "passes = 2", "passes = \"two\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 38, key winding.passes
      found   a text
      needed  a plain number
      do      write a plain number for `passes`
      (value-type)
    ");
}

#[test]
fn a_number_that_cannot_be_read() {
    let row = row_of("facts.csv", "polyester-film,permittivity");
    let story = Story::of(SMALL).change("facts.csv", &row, &row.replacen("3.25", "3.2.5", 1));
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 2, column value
      found   `3.2.5`
      needed  a number or a fraction
      do      write a number, such as `0.5`
      (number-unreadable)
    ");
}

#[test]
fn a_decimal_comma() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "\"20 mm\"", "\"20,5 mm\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 35, key winding.width
      found   `20,5 mm`
      needed  a length
      do      write a decimal point and no thousands mark, such as `0.18 mm`
      (number-unreadable)
    ");
}

#[test]
fn a_number_without_its_unit() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "\"20 mm\"", "\"20\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 35, key winding.width
      found   `20`, a number without a unit
      needed  a length
      do      write it with its unit, such as `0.18 mm`
      (unit-missing)
    ");
}

#[test]
fn an_unknown_unit() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "\"20 mm\"", "\"20 mmm\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 35, key winding.width
      found   `20 mmm`, with the unknown unit `mmm`
      needed  a length
      do      did you mean `mm`? For example `0.18 mm`
      (unit-unknown)
    ");
}

#[test]
fn a_unit_of_the_wrong_kind() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "\"20 mm\"", "\"20 N/cm\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 35, key winding.width
      found   `20 N/cm`, a force per length
      needed  a length
      do      write a length, such as `0.18 mm`
      (unit-kind)
    ");
}

#[test]
fn a_difference_in_degrees_celsius() {
    let story = Story::of(SMALL).change("tapes.csv", ",10 K,tape", ",10 degC,tape");
    insta::assert_snapshot!(told(&story), @r"
    tapes.csv line 2, column halving_interval
      found   `10 degC`, a temperature
      needed  a temperature difference
      do      write a temperature difference, such as `10 K`
      (unit-kind)
    ");
}

#[test]
fn a_negative_thickness() {
    let row = row_of("tapes.csv", "S-1,");
    let story = Story::of(SMALL).change("tapes.csv", &row, &row.replacen("2 mil", "-2 mil", 1));
    insta::assert_snapshot!(told(&story), @r"
    tapes.csv line 2, column backing_thickness
      found   `-2 mil`
      needed  a length that is not negative
      do      write a length, such as `0.18 mm`
      (value-impossible)
    ");
}

#[test]
fn a_humidity_above_saturation() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "humidity = \"80 %\"", "humidity = \"140 %\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 45, key exposure[1].humidity
      found   `140 %`
      needed  a share from 0 to 100 %
      do      write a fraction such as `0.5` or `50 %`
      (value-impossible)
    ");
}

#[test]
fn a_temperature_below_absolute_zero() {
    let story =
        Story::of(SMALL).change("enquiries/s-1.toml", "temperature = \"30 degC\"", "temperature = \"-300 degC\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 46, key exposure[1].temperature
      found   `-300 degC`
      needed  a temperature above absolute zero
      do      write a temperature, such as `105 degC`
      (value-impossible)
    ");
}

#[test]
fn a_word_that_is_not_allowed() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "\"banding\"", "\"bandage\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 13, key application.function
      found   `bandage`
      needed  one of the known words
      do      did you mean `banding`?
      (word-unknown)
    ");
}

#[test]
fn a_medium_that_is_not_there() {
    let story =
        Story::of(SMALL).change("enquiries/s-1.toml", "\"mineral-oil-naphthenic\"", "\"mineral-oil-napthenic\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 52, key exposure[2].medium
      found   `mineral-oil-napthenic`
      needed  a liquid, resin, solvent or gas of materials.csv
      do      did you mean `mineral-oil-naphthenic`?
      (reference-unknown)
    ");
}

#[test]
fn a_measure_that_is_not_computed() {
    let story = Story::of(SMALL).change("criteria.toml", "measure = \"pd-margin\"", "measure = \"pd-marign\"");
    insta::assert_snapshot!(told(&story), @r"
    criteria.toml line 96, key criterion[7].id
      found   `pd-marign`
      needed  a measure that this program computes
      do      did you mean `pd-margin`?
      (reference-unknown)
    ");
}

#[test]
fn a_source_that_is_not_there() {
    let row = row_of("facts.csv", "polyester-film,permittivity");
    let story = Story::of(SMALL).change("facts.csv", &row, &row.replacen("iec-60674-3-2", "iec-60674-3-3", 1));
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 2, column source
      found   `iec-60674-3-3`
      needed  a key of sources.yml
      do      did you mean `iec-60674-3-2`? (or add the work to sources.yml)
      (source-unknown)
    ");
}

#[test]
fn a_spread_out_of_order() {
    let row = row_of("facts.csv", "polyester-film,permittivity");
    let story = Story::of(SMALL).change("facts.csv", &row, &row.replacen("3.15", "3.45", 1));
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 2, column low
      found   low `3.45`, value `3.25`, high `3.35`
      needed  low ≤ value ≤ high: the 5th percentile, the median, the 95th percentile
      do      put the three in order
      (spread-order)
    ");
}

#[test]
fn one_end_of_a_spread() {
    let row = row_of("facts.csv", "polyester-film,permittivity");
    let story = Story::of(SMALL).change("facts.csv", &row, &row.replacen("3.15", "", 1));
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 2, column low
      found   one end of a spread
      needed  both `low` and `high`, or neither
      do      fill in the other end
      (key-missing)
    ");
}

#[test]
fn limits_out_of_order() {
    let story =
        Story::of(SMALL).change("criteria.toml", "limit = 1.5\nouter_limit = 2.0", "limit = 2.5\nouter_limit = 2.0");
    insta::assert_snapshot!(told(&story), @r"
    criteria.toml line 14, key criterion[1].outer_limit
      found   limit 2.5 and outer_limit 2
      needed  an outer limit beyond the limit
      do      swap them, or mend `better`
      (spread-order)
    ");
}

#[test]
fn a_fact_twice() {
    let row = row_of("facts.csv", "polyester-film,permittivity");
    let story = Story::of(SMALL).change("facts.csv", &row, &format!("{row}\n{row}"));
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 3, column value
      found   a second `permittivity` of the same standing and conditions
      needed  one row for each subject, property, temperature, condition and basis
      do      take one out, or say in `condition` how they differ
      (fact-tie)
    ");
}

#[test]
fn invented_numbers_in_real_data() {
    let story = Story::of(SMALL).change("about.toml", "invented = true", "invented = false");
    insta::assert_snapshot!(told(&story), @r"
    tapes.csv line 2, column basis
      found   `invented`, where about.toml does not say that the catalogue is invented
      needed  a number that somebody measured, published or estimated
      do      take the row out, or set `invented = true` in about.toml if this is a demonstration
      (basis-refused)

    tapes.csv line 3, column basis
      found   `invented`, where about.toml does not say that the catalogue is invented
      needed  a number that somebody measured, published or estimated
      do      take the row out, or set `invented = true` in about.toml if this is a demonstration
      (basis-refused)

    tapes.csv line 4, column basis
      found   `invented`, where about.toml does not say that the catalogue is invented
      needed  a number that somebody measured, published or estimated
      do      take the row out, or set `invented = true` in about.toml if this is a demonstration
      (basis-refused)

    tapes.csv line 5, column basis
      found   `invented`, where about.toml does not say that the catalogue is invented
      needed  a number that somebody measured, published or estimated
      do      take the row out, or set `invented = true` in about.toml if this is a demonstration
      (basis-refused)
    ");
}

#[test]
fn a_row_that_nothing_could_read() {
    let row = row_of("facts.csv", "polyester-film,permittivity");
    let story = Story::of(SMALL).change("facts.csv", &row, &row.replacen("permittivity", "shelf_life", 1));
    insta::assert_snapshot!(told(&story), @r"
    facts.csv line 2, column property
      found   `shelf_life`
      needed  a property that is read of this subject
      do      take the row out, or move it to the file or subject it belongs to
      (row-unread)
    ");
}

#[test]
fn shares_that_do_not_add_up() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "\"60 %\"", "\"50 %\"");
    insta::assert_snapshot!(told(&story), @r"
    enquiries/s-1.toml line 21, key duty.load_profile
      found   shares that add up to 90 %
      needed  100 %
      do      mend the shares of the load profile
      (shares-sum)
    ");
}

#[test]
fn a_format_of_another_program() {
    let story = Story::of(SMALL).change("about.toml", "lapwise/data/1", "lapwise/data/9");
    insta::assert_snapshot!(told(&story), @r"
    about.toml line 1, key format
      found   `lapwise/data/9`
      needed  `lapwise/data/1`
      do      these data are newer than this program: install a Lapwise that reads them
      (format-unknown)
    ");
}

/// Data of a former number are refused with where the way forward stands, and nothing else is held against them.
#[test]
fn a_format_of_a_former_program() {
    let story = Story::of(SMALL).change("about.toml", "lapwise/data/1", "lapwise/data/0").change(
        "materials.csv",
        "id,kind",
        "id,sort",
    );
    insta::assert_snapshot!(told(&story), @r"
    about.toml line 1, key format
      found   `lapwise/data/0`
      needed  `lapwise/data/1`
      do      these data are older: do what `Format` in matrices/README.md lists since 0, then write `lapwise/data/1`
      (format-unknown)
    ");
    let manual = fs::read_to_string(format!("{}/matrices/README.md", env!("CARGO_MANIFEST_DIR"))).unwrap();
    assert!(manual.contains("\n## Format\n"));
}

#[test]
fn a_format_that_is_none() {
    for format in ["lapwise/data/01", "lapwise/data/-1", "lapwise/data/", "data/1"] {
        let story = Story::of(SMALL).change("about.toml", "lapwise/data/1", format);
        assert!(told(&story).contains("do      use data of this format"), "{format}");
    }
}

/// A wrong file does not drown the terminal, nor the memory; how many faults there are is told all the same.
#[test]
fn more_faults_than_anybody_reads() {
    let story = Story::of(SMALL).rewrite("materials.csv", |text| format!("{text}{}", "a\n".repeat(100_000)));
    let told = told(&story);
    assert!(told.ends_with("(faults-more)"), "{}", &told[told.len() - 400..]);
    assert!(told.contains(" more faults than the 2000 that are told"));
    let wide = Story::of(SMALL).rewrite("facts.csv", |text| format!("{}{text}", "c,".repeat(5000)));
    let wide = self::told(&wide);
    assert!(wide.contains("found   a head of 5010 columns"), "{wide}");
    let one_line = Story::of(SMALL).rewrite("pairs.csv", |text| text.replace('\n', "\r").repeat(20_000));
    assert!(self::told(&one_line).contains("whether its line ends are line feeds"));
    let long = Story::of(SMALL).rewrite("facts.csv", |text| format!("{}{text}", "c".repeat(50_000)));
    assert!(!self::told(&long).contains(&"c".repeat(500)));
}

#[test]
fn a_file_that_is_too_large() {
    let story = Story::of(SMALL);
    let file = fs::File::options().append(true).open(story.data().join("facts.csv")).unwrap();
    file.set_len(lapwise::load::LARGEST + 1).unwrap();
    insta::assert_snapshot!(told(&story), @r"
    facts.csv
      found   more than 64 MiB
      needed  a file of at most 64 MiB
      do      see whether it is the right file; split it if it is
      (file-too-large)
    ");
}
