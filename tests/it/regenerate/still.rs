//! What moves nothing: the order of rows and columns, line ends, the user's own columns, locale, clock.

use super::*;

/// A table with its rows turned round, its columns too, a column of the user's own, and other line ends.
fn stirred(text: &str) -> String {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut rows: Vec<Vec<String>> =
        reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
    rows[1..].reverse();
    for (nth, row) in rows.iter_mut().enumerate() {
        row.reverse();
        row.push(if nth == 0 { "x_shelf".to_owned() } else { format!("bay {nth}") });
    }
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for row in &rows {
        writer.write_record(row).unwrap();
    }
    String::from_utf8(writer.into_inner().unwrap()).unwrap()
}

#[test]
fn nothing_flips_on_how_the_tables_are_written() {
    let shelf = Shelf::with(4);
    for file in ["tapes.csv", "facts.csv", "pairs.csv", "materials.csv"] {
        let path = shelf.story.data().join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, stirred(&text)).unwrap();
    }
    for file in ["criteria.toml", "about.toml", "cautions.toml"] {
        let path = shelf.story.data().join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, text.replace('\n', "\r\n")).unwrap();
    }
    let counts = shelf.pass().report.counts;
    assert_eq!((counts.current, counts.total), (4, 4), "{counts:?}");
}

#[test]
fn the_same_amount_in_another_unit_moves_nothing() {
    let shelf = Shelf::with(3).change("tapes.csv", "75 um", "0.075 mm").change("facts.csv", "78 degC", "351.15 K");
    let counts = shelf.pass().report.counts;
    assert_eq!(counts.current, 3, "{counts:?}");
}

#[test]
fn locale_time_zone_and_clock_move_no_byte() {
    let shelf = Shelf::with(3).change("tapes.csv", "125 N/cm,IEC 60454-2", "11 N/cm,IEC 60454-2");
    let run = |arguments: &[&str], variables: &[(&str, &str)]| {
        let told = shelf.story.run_with(arguments, variables);
        assert_eq!(told.code, 0, "{variables:?}: {}", told.err);
        told.out
    };
    let regenerated = |variables: &[(&str, &str)]| {
        run(&["regenerate", "--register", "register", "--data", "data", "--dry-run", "--json"], variables)
    };
    let plain = regenerated(&[("LC_ALL", "C"), ("TZ", "UTC")]);
    for (locale, zone) in [("de_DE.UTF-8", "Pacific/Auckland"), ("tr_TR.UTF-8", "America/St_Johns")] {
        assert_eq!(regenerated(&[("LC_ALL", locale), ("LANG", locale), ("TZ", zone)]), plain);
    }
    let preload = shelf.story.preload("clock.c");
    let clock = [("LD_PRELOAD", preload.as_str()), ("TZ", "UTC")];
    // A command that is to tell the date tells that of the other clock.
    run(&["begin", "begun", "--owner", "O"], &clock);
    let begun = std::fs::read_to_string(shelf.story.root().join("begun/about.toml")).unwrap();
    assert!(begun.contains("date = 2038-01-20"), "{begun}");
    assert_eq!(regenerated(&clock), plain);
}
