//! `enquiry new`, the manual pages, completions: what helps a person along.

use std::fs;
use std::io::{Read, Write};
use std::process::{Command, Stdio};
use std::time::Duration;

use crate::story::{SHIPPED, Story};

/// What an enquiry needs, where defaults serve for the rest.
const NEEDED: &[&str] = &[
    "enquiry.number=Q-900",
    "enquiry.title=End turns, \"B\" side",
    "enquiry.customer=Skerrow Harbour Works (invented)",
    "enquiry.prepared_by=A. Example (invented)",
    "enquiry.date=2026-11-25",
    "enquiry.jurisdiction=eu",
    "application.equipment=motor",
    "application.function=end-turn-wrap",
    "duty.thermal_class=155",
    "exposure.1.name=wipe",
    "exposure.1.stage=cleaning",
    "exposure.1.medium=xylene",
    "exposure.1.temperature=23 degC",
    "exposure.1.duration=1 min",
];

fn new<'a>(answers: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    [&["enquiry", "new"], answers, more].concat()
}

#[test]
fn an_enquiry_from_arguments_passes_and_marks_its_defaults() {
    let story = Story::of(SHIPPED);
    let told = story.lapwise(&new(
        NEEDED,
        &[
            "duty.load_profile=60 %@100 degC, 40 %@130 degC",
            "voltage.across=400 V",
            "voltage.other_insulation=0.06 mm/3.5, 0.06 mm/3.5",
        ],
    ));
    assert_eq!((told.code, told.err.as_str()), (0, ""), "{}", told.out);
    let text = fs::read_to_string(story.data().join("enquiries/q-900.toml")).unwrap();
    for line in [
        "life = \"20 a\"  # default, please confirm",
        "atmosphere = \"air\"  # default, please confirm",
        "load_profile = [{ temperature = \"100 degC\", share = \"60 %\" }, { temperature = \"130 degC\", share = \"40 %\" }]",
        "other_insulation = [\"0.06 mm/3.5\", \"0.06 mm/3.5\"]",
        "thermal_class = 155\n",
        "title = \"End turns, \\\"B\\\" side\"\n",
        "evaporates = true  # default, please confirm",
    ] {
        assert!(text.contains(line), "{line} is not in\n{text}");
    }
    let told = story.lapwise(&["check", "--strict"]);
    assert_eq!(told.code, 0, "{}{}", told.out, told.err);
    assert_eq!(story.lapwise(&["rank", "Q-900"]).code, 0);
    let again = story.lapwise(&new(NEEDED, &[]));
    assert_eq!(again.code, 1, "what is there is not written over");
    assert!(again.err.contains("(write-failed)"), "{}", again.err);
}

#[test]
fn what_is_missing_and_what_is_wrong_is_listed_at_once() {
    let story = Story::of(SHIPPED);
    let told = story.lapwise(&[
        "enquiry",
        "new",
        "application.equipment=motr",
        "duty.life=20 N",
        "enquiry.date=2026-02-30",
        "exposure.2.medium=xylen",
    ]);
    assert_eq!(told.code, 1);
    for said in [
        "argument enquiry.number\n",
        "argument application.function\n",
        "argument exposure.1.duration\n",
        "argument exposure.2.name\n",
        "did you mean `motor`?",
        "did you mean `xylene`?",
        "argument duty.life\n  found   `20 N`, a force",
        "argument enquiry.date\n",
    ] {
        assert!(told.err.contains(said), "{said} is not in\n{}", told.err);
    }
    let told =
        story.lapwise(&["enquiry", "new", "application.equipmnt=motor", "duty.life=1 a", "duty.life=2 a", "motor"]);
    for code in ["(argument-unknown)", "(argument-repeated)", "did you mean `application.equipment`?"] {
        assert!(told.err.contains(code), "{code}: {}", told.err);
    }
}

/// A terminal in which answers are typed: `script` of util-linux gives one.
struct Terminal {
    child: std::process::Child,
    screen: std::sync::Arc<std::sync::Mutex<Vec<u8>>>,
}

impl Terminal {
    fn of(story: &Story, arguments: &str) -> Terminal {
        let command = format!("{} {arguments} --data data", env!("CARGO_BIN_EXE_lapwise"));
        let mut child = Command::new("script")
            .args(["-qec", &command, "/dev/null"])
            .current_dir(story.root())
            .env("TERM", "xterm")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("`script` of util-linux");
        let screen = std::sync::Arc::new(std::sync::Mutex::new(Vec::new()));
        let (mut out, kept) = (child.stdout.take().unwrap(), screen.clone());
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(n @ 1..) = out.read(&mut bytes) {
                kept.lock().unwrap().extend(&bytes[..n]);
            }
        });
        Terminal { child, screen }
    }

    /// Waits until the screen shows a text that it did not show before the last keys, then types.
    fn answer(&mut self, question: &str, keys: &str) {
        for _ in 0..400 {
            let shown = String::from_utf8_lossy(&self.screen.lock().unwrap()).into_owned();
            if shown.contains(question) && keys.is_empty() {
                return;
            }
            if shown.contains(question) {
                self.screen.lock().unwrap().clear();
                self.child.stdin.as_mut().unwrap().write_all(keys.as_bytes()).unwrap();
                return;
            }
            std::thread::sleep(Duration::from_millis(25));
        }
        panic!("{question} was not asked:\n{}", String::from_utf8_lossy(&self.screen.lock().unwrap()));
    }

    fn end(mut self) -> (i32, String) {
        let code = self.child.wait().unwrap().code().unwrap_or(-1);
        std::thread::sleep(Duration::from_millis(100));
        (code, String::from_utf8_lossy(&self.screen.lock().unwrap()).into_owned())
    }
}

/// Asked, left with Esc, taken up again, and finished; then the file passes `check`.
#[test]
fn an_enquiry_is_asked_for_left_and_taken_up_again() {
    let story = Story::of(SHIPPED);
    let mut terminal = Terminal::of(&story, "enquiry new");
    terminal.answer("Number of the enquiry", "Q/7\r");
    terminal.answer("a number of letters", "Q-907\r");
    terminal.answer("What is it about", "Toroid wrap\r");
    terminal.answer("Who asks", "\u{1b}");
    let (code, screen) = terminal.end();
    assert_eq!(code, 130, "{screen}");
    assert!(screen.contains("go on with: lapwise enquiry new -o data/enquiries/q-907.toml"), "{screen}");
    assert!(story.data().join("enquiries/q-907.toml.part").exists());

    let mut terminal = Terminal::of(&story, "enquiry new -o data/enquiries/q-907.toml");
    terminal.answer("going on from", "");
    for (question, keys) in [
        ("Who asks", "Harbour works\r"),
        ("Who prepares", "A. Example\r"),
        ("Date of the enquiry", "\r"),
        ("Where will the equipment", "uk\r"),
        ("What equipment", "toroid\r"),
        ("What does the tape do", "outer\r"),
        ("How long must the tape", "\r"),
        ("What surrounds it", "\r"),
        ("Coldest", "\r"),
        ("Colour", "\r"),
        ("Is recognition", "\r"),
        ("Life asked for", "12\r"),
        ("write it with its unit", "12 a\r"),
        ("What does the life rest on", "\r"),
        ("Thermal class", "130\r"),
        ("Does a voltage stand", "n\r"),
        ("Tape width", "10 mm\r"),
        ("Overlap", "\r"),
        ("How far may a lap slip", "\r"),
        ("Passes", "\r"),
        ("Circumference", "\r"),
        ("Radius of the bend", "\r"),
        ("Winding tension", "\r"),
        ("What does it stick to", "\r"),
        ("Length to wrap", "\r"),
        ("How many pieces", "\r"),
        ("Share wasted", "\r"),
        ("The most the wrap may add", "\r"),
        ("Adhesion needed", "\r"),
        ("Exposure 1: Name", "damp air\r"),
        ("Exposure 1: When is it met", "service\r"),
        ("Exposure 1: Which medium", "air\r"),
        ("Exposure 1: Its temperature", "20 degC\r"),
        ("Exposure 1: How long", "12 a\r"),
        ("Exposure 1: Relative humidity", "85 %\r"),
        ("Another exposure", "\r"),
    ] {
        terminal.answer(question, keys);
    }
    let (code, screen) = terminal.end();
    assert_eq!(code, 0, "{screen}");
    assert!(!story.data().join("enquiries/q-907.toml.part").exists());
    let text = fs::read_to_string(story.data().join("enquiries/q-907.toml")).unwrap();
    assert!(
        text.contains("life = \"12 a\"\n") && text.contains("overlap = \"50 %\"  # default, please confirm"),
        "{text}"
    );
    let told = story.lapwise(&["check", "--strict"]);
    assert_eq!(told.code, 0, "{}{}", told.out, told.err);
}

#[test]
fn every_command_has_a_manual_page_and_an_example() {
    let story = Story::of(SHIPPED);
    let told = story.run(&["man", "pages"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let mut pages = 0;
    for entry in fs::read_dir(story.root().join("pages")).unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(".TH "), "{}", path.display());
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        // A hyphen within a command's name is none between two.
        let whole = name.replace("attach-scan", "attach_scan").replace("rebuild-index", "rebuild_index");
        let arguments: Vec<String> =
            whole.split('-').skip(1).chain(["__help"]).map(|word| word.replace('_', "-")).collect();
        let help = story.run(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
        assert_eq!(help.code, 0, "{name}: {}", help.err);
        assert!(help.out.contains("Example"), "{name} shows no example:\n{}", help.out);
        pages += 1;
    }
    assert!(pages >= 15, "{pages}");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let told = story.run(&["completions", shell]);
        assert_eq!(told.code, 0);
        for command in ["accept", "dossier", "enquiry"] {
            assert!(told.out.contains(command), "{shell} does not offer {command}");
        }
    }
}

#[test]
fn files_and_folders_mistyped_get_the_nearest_name() {
    let story = Story::of(SHIPPED);
    let told = story.lapwise(&["rank", "data/enquiries/q-110.toml"]);
    assert_eq!(told.code, 1);
    assert!(told.err.contains("did you mean `data/enquiries/q-101.toml`?"), "{}", told.err);
    let told = story.run(&["check", "--data", "dta"]);
    assert!(told.err.contains("did you mean `data`?"), "{}", told.err);
    let told = story.run(&["rnk", "Q-101"]);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("rank"), "{}", told.err);
}

/// Line ends of another system, and a byte order mark, change nothing.
#[test]
fn carriage_returns_in_every_file_change_nothing() {
    let plain = Story::of(SHIPPED);
    let mut changed = Story::of(SHIPPED);
    let mut files = vec!["enquiries/q-101.toml".to_owned()];
    files.extend(
        fs::read_dir(plain.data())
            .unwrap()
            .map(|e| e.unwrap())
            .filter(|e| e.path().is_file())
            .map(|e| e.file_name().to_string_lossy().into_owned()),
    );
    for file in &files {
        changed = changed.rewrite(file, |text| format!("\u{feff}{}", text.replace('\n', "\r\n")));
    }
    for arguments in [
        &["check"][..],
        &["check", "--json"],
        &["rank", "Q-101", "--json"],
        &["explain", "Q-101", "H-111", "adhesive-swelling"],
    ] {
        assert_eq!(plain.lapwise(arguments).out, changed.lapwise(arguments).out, "{arguments:?}");
    }
}

/// Whatever the surroundings say, a pipe gets no escape sequence.
#[test]
fn a_pipe_gets_plain_text() {
    let story = Story::of(SHIPPED);
    for arguments in [&["--help"][..], &["rank", "--help"], &["rank", "Q-101"], &["check"], &["rank", "Q-9"], &["rnk"]]
    {
        let told = story.lapwise(arguments);
        assert!(!told.out.contains('\u{1b}') && !told.err.contains('\u{1b}'), "{arguments:?}");
    }
}
