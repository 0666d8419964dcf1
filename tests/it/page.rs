//! The dossier: judged by an outside validator, the same bytes wherever it is made, and calm
//! whatever text the data hold.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use lapwise::catalogue::{Catalogue, words};
use lapwise::dossier::pool::{Ended, Pool};
use lapwise::dossier::template::Templates;
use lapwise::dossier::typst::Typst;
use lapwise::dossier::view::{Signature, SignaturePage, Stage};
use lapwise::dossier::{Dossier, Press};
use lapwise::enquiry::Enquiry;
use lapwise::expand::Plan;
use lapwise::load::Folder;
use lapwise::record::Statement;
use page_validation::{ValidationOptions, ValidationProfile, validate_pdf_bytes};

use crate::story::{SHIPPED, SMALL, Story, Told};

/// The compiler, found as the program finds it, installed if it has to be.
pub(crate) fn typst() -> &'static Typst {
    static FOUND: OnceLock<Typst> = OnceLock::new();
    FOUND.get_or_init(|| Typst::setup(false, |what| println!("{what}")).unwrap_or_else(|fault| panic!("{fault}")))
}

/// A run of `lapwise dossier` on a story, into its folder `out`.
fn dossier(story: &Story, arguments: &[&str]) -> Told {
    typst();
    let mut all = vec!["dossier", "-o", "out"];
    all.extend(arguments);
    story.lapwise(&all)
}

fn pdf(story: &Story, number: &str) -> Vec<u8> {
    fs::read(story.root().join(format!("out/{number}_draft.pdf"))).unwrap()
}

/// Both profiles, by a validator that shares no code with Typst.
pub(crate) fn assert_valid(bytes: &[u8], what: &str) {
    for profile in [ValidationProfile::PdfA3a, ValidationProfile::PdfUa1] {
        let report = validate_pdf_bytes(bytes, &ValidationOptions::default().profile(profile)).unwrap();
        let failures: Vec<String> = report.failures.iter().map(ToString::to_string).collect();
        assert!(report.is_compliant, "{what}, {profile:?}:\n{}", failures.join("\n"));
    }
    assert!(bytes.ends_with(b"%%EOF\n"), "{what} does not end with one line feed");
}

/// Dossiers prepared in this process, without printing.
fn prepared(data: &Path, language: &str, signature: Option<&Signature>) -> Vec<Dossier> {
    let signed = signature.map(|signature| Stage::Signed(Box::new(signature.clone())));
    staged(data, language, &signed.unwrap_or(Stage::Draft(None)))
}

fn staged(data: &Path, language: &str, stage: &Stage) -> Vec<Dossier> {
    let folder = Folder::read(data).unwrap();
    let catalogue = Catalogue::build(&folder).unwrap();
    let files: Vec<String> = folder.enquiries().map(str::to_owned).collect();
    let enquiries: Vec<Enquiry> =
        files.iter().map(|file| Enquiry::read(file, folder.text(file), &catalogue).unwrap()).collect();
    let plan = Plan::new(&catalogue, &enquiries).unwrap();
    let standings = plan.standings();
    let press = Press::new(&folder, None, language).unwrap();
    (0..enquiries.len())
        .map(|n| press.prepare(&plan, n, &standings[n], folder.text(&files[n]), stage.clone()).unwrap())
        .collect()
}

fn print(dossiers: &[Dossier], language: &str) -> Vec<Vec<u8>> {
    let folder = Folder::read(&shipped()).unwrap();
    let press = Press::new(&folder, None, language).unwrap();
    let stop = std::sync::atomic::AtomicBool::new(false);
    let pool = Pool::new(&press, typst(), 2, &stop).unwrap();
    let ended = pool.run(dossiers.len(), |at| Ok(dossiers[at].clone()), |_, _, pdf| Ok(pdf), |_| {});
    let done = |one| match one {
        Ended::Done(pdf) => pdf,
        other => panic!("{other:?}"),
    };
    ended.into_iter().map(done).collect()
}

fn shipped() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(SHIPPED)
}

fn text_of(dossier: &Dossier) -> serde_json::Value {
    serde_json::from_slice(&dossier.data).unwrap()
}

#[test]
fn every_demo_dossier_passes_an_outside_validator() {
    let story = Story::of(SHIPPED);
    typst();
    let told = story.lapwise(&["demo", "--offline"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let mut count = 0;
    for entry in fs::read_dir(story.root().join("out")).unwrap() {
        let path = entry.unwrap().path();
        let bytes = fs::read(&path).unwrap();
        assert_valid(&bytes, &path.display().to_string());
        let number = path.file_name().unwrap().to_str().unwrap().split('_').next().unwrap().to_owned();
        let line = told.out.lines().find(|line| line.contains(&number)).unwrap();
        assert!(line.contains("out/"), "{line}");
        count += 1;
    }
    assert_eq!(count, 8);
    assert!(told.out.contains("Invented demonstration data."), "{}", told.out);
}

#[test]
fn the_same_bytes_in_any_folder_with_any_jobs_locale_and_time_zone() {
    let print = |jobs: &str, zone: &str, locale: &str| {
        let story = Story::of(SHIPPED);
        typst();
        let output = Command::new(env!("CARGO_BIN_EXE_lapwise"))
            .args(["dossier", "Q-101", "Q-103", "Q-106", "--data", "data", "-o", "out", "--jobs", jobs])
            .current_dir(story.root())
            .envs([("TZ", zone), ("LANG", locale), ("LC_ALL", locale), ("SOURCE_DATE_EPOCH", "7")])
            .env("TYPST_ROOT", "/")
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        ["Q-101", "Q-103", "Q-106"].map(|number| pdf(&story, number))
    };
    let first = print("1", "UTC", "C.UTF-8");
    let second = print("3", "Pacific/Auckland", "de_DE.UTF-8");
    for (a, b) in first.iter().zip(&second) {
        assert!(a == b, "two prints of one dossier differ: {} and {} bytes", a.len(), b.len());
    }
}

#[test]
fn no_text_of_the_data_reaches_the_document() {
    let mut documents = BTreeSet::new();
    for dossier in prepared(&shipped(), "en", None) {
        let data = text_of(&dossier);
        for text in [&data["head"]["title"], &data["head"]["customer"], &data["head"]["prepared_by"]] {
            assert!(!dossier.document.contains(text.as_str().unwrap()), "{text} stands in the document");
        }
        assert!(!dossier.document.contains("{%") && !dossier.document.contains("{{"));
        documents.insert(dossier.document);
    }
    // What differs between documents is which parts there are, and nothing else.
    assert!(documents.len() <= 4, "{} documents from eight enquiries", documents.len());
    let again: BTreeSet<String> = prepared(&shipped(), "en", None).into_iter().map(|d| d.document).collect();
    assert_eq!(documents, again);
}

/// Text that would act if it were markup, a template, a path or a control character.
const HOSTILE: [&str; 12] = [
    "#panic(1)",
    "$ integral_0^1 $",
    "*bold* _italic_ `raw`",
    "@reference <label>",
    "{{ 7 * 7 }} {% for x in y %}",
    "]) #read(\\\"/etc/passwd\\\") [(",
    "\\\\u{202e} \\u202Edesrever",
    "= heading\\n- list\\n+ one",
    "// comment /* another */",
    "bell \\u0007 \\u0000 nul",
    "\\\"quoted\\\" 'single' back\\\\slash",
    "ΔδΩ Жук œuvre ½ ≤ ≥ αβγ שלום ﻻ",
];

#[test]
fn hostile_text_stays_text() {
    let hostile = HOSTILE.join(" ");
    let story = Story::of(SMALL)
        .change("enquiries/s-1.toml", "A small coil", &hostile)
        .change("enquiries/s-1.toml", "Nobody (invented)", &hostile)
        .change("enquiries/s-1.toml", "A. Example (invented)", &hostile)
        .change("enquiries/s-1.toml", "name = \"oil\"", &format!("name = \"{hostile}\""))
        .change("enquiries/s-1.toml", "name = \"humid air\"", &format!("name = \"{}\"", HOSTILE[0]))
        .change(
            "enquiries/s-1.toml",
            "tension = \"10 N/cm\"",
            &format!("tension = \"10 N/cm\"\nsurface = \"{hostile}\""),
        )
        .change(
            "enquiries/s-1.toml",
            "atmosphere = \"sealed-liquid\"",
            &format!("atmosphere = \"sealed-liquid\"\ncolour = \"{hostile}\""),
        )
        .change("tapes.csv", "small 1 (invented)", "#panic(2) $x$ {{ y }} @z")
        .change("about.toml", "nobody (invented)", &hostile);
    let told = dossier(&story, &["S-1"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert_valid(&pdf(&story, "S-1"), "hostile text");
    let dossiers = prepared(&story.data(), "en", None);
    let title = text_of(&dossiers[0])["head"]["title"].as_str().unwrap().to_owned();
    for text in ["#panic(1)", "$ integral_0^1 $", "*bold* _italic_ `raw`", "{{ 7 * 7 }}", "#read(\"/etc/passwd\")"] {
        assert!(title.contains(text), "{text} is not in {title}");
    }
    // What steers a line is shown, not done.
    assert!(title.contains('\u{fffd}') && !title.contains('\u{202e}') && !title.contains('\u{7}'), "{title}");
}

#[test]
fn names_of_any_length_find_room() {
    let long = "Unbreakableboilerhousetransformerrefurbishmentconsortium".repeat(7);
    let many = "a long and winding name of many words ".repeat(12);
    let story = Story::of(SMALL)
        .change("enquiries/s-1.toml", "A small coil", &long)
        .change("enquiries/s-1.toml", "Nobody (invented)", &many)
        .change("enquiries/s-1.toml", "name = \"oil\"", &format!("name = \"{}\"", &long[..120]))
        .change("enquiries/s-1.toml", "name = \"humid air\"", &format!("name = \"{}\"", many.trim()))
        .change("tapes.csv", "small 1 (invented)", &long);
    let told = dossier(&story, &["S-1"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert_valid(&pdf(&story, "S-1"), "long names");
}

#[test]
fn none_suitable_is_said_plainly() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "tension = \"10 N/cm\"", "tension = \"9 kN/cm\"");
    let told = dossier(&story, &["S-1"]);
    assert_eq!(told.code, 0, "{}", told.err);
    insta::assert_snapshot!(told.out, @r"
      enquiry  proposed  verdict     deciding margin               file
      S-1      none      unsuitable  every candidate is ruled out  out/S-1_draft.pdf
    ");
    assert_valid(&pdf(&story, "S-1"), "none suitable");
    let data = text_of(&prepared(&story.data(), "en", None)[0]);
    assert!(data["answer"]["proposed"].is_null());
    insta::assert_snapshot!(data["answer"]["none"].as_str().unwrap(), @"None of the 3 candidates can be proposed: each lies outside an outer limit with its whole spread.");
    let changes = data["answer"]["changes"].as_array().unwrap();
    assert_eq!(changes.len(), 3);
    assert!(changes[0]["by"][0].as_str().unwrap().contains("at least"), "{}", changes[0]);
    assert_eq!(data["ruled_out"].as_array().unwrap().len(), 3);
}

#[test]
fn one_candidate_or_none_is_enough() {
    let one = Story::of(SMALL).rewrite("tapes.csv", |text| {
        text.lines().map(|line| if line.starts_with("S-1,") || line.starts_with("tape,") { line.to_owned() } else { line.replacen(",active,", ",discontinued,", 1) } + "\n").collect()
    });
    let none = Story::of(SMALL).rewrite("tapes.csv", |text| text.replace(",active,", ",discontinued,"));
    for (story, what) in [(one, "one candidate"), (none, "no candidate")] {
        let told = dossier(&story, &["S-1"]);
        assert_eq!(told.code, 0, "{}", told.err);
        assert_valid(&pdf(&story, "S-1"), what);
    }
}

#[test]
fn two_hundred_candidates_and_twelve_exposures_fit() {
    let story = Story::of(SMALL)
        .rewrite("tapes.csv", |text| {
            let (head, rest) = text.split_once('\n').unwrap();
            let rows: Vec<&str> = rest.lines().take(2).collect();
            let more = (0..200).map(|n| {
                let (_, cells) = rows[n % 2].split_once(',').unwrap();
                format!("T-{n:03},{cells}\n")
            });
            format!("{head}\n{}", more.collect::<String>())
        })
        .rewrite("enquiries/s-1.toml", |text| {
            let more = (0..10).map(|n| {
                format!(
                    "\n[[exposure]]\nname = \"oil, year {n}\"\nstage = \"service\"\nmedium = \"mineral-oil-naphthenic\"\n\
                     temperature = \"{} degC\"\nduration = \"1 a\"\nwater_content = \"10 mg/kg\"\n",
                    50 + n
                )
            });
            format!("{text}{}", more.collect::<String>())
        });
    let told = dossier(&story, &["S-1"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert_valid(&pdf(&story, "S-1"), "two hundred candidates");
    let data = text_of(&prepared(&story.data(), "en", None)[0]);
    assert_eq!(data["appendix"][0]["rows"].as_array().unwrap().len(), 200);
    let slices: Vec<usize> =
        data["appendix"].as_array().unwrap().iter().map(|m| m["columns"].as_array().unwrap().len()).collect();
    assert_eq!(slices, [7, 6]);
}

/// The headline tells a bound and a ceiling as such, and the enquiry what it states and nobody judged.
#[test]
fn page_one_says_how_its_margin_is_to_be_read() {
    let views: Vec<serde_json::Value> = prepared(&shipped(), "en", None).iter().map(text_of).collect();
    let of = |number: &str| views.iter().find(|view| view["head"]["number"] == number).unwrap();
    let proposed = |number: &str| {
        let p = &of(number)["answer"]["proposed"];
        ["margin", "reads", "next"].map(|key| p[key].as_str().unwrap().to_owned())
    };
    let [bound, why, next] = proposed("Q-101");
    assert!(
        bound.starts_with("≥\u{a0}1.2") && why.contains("the test ended") && next.contains("1.19"),
        "{bound} {why} {next}"
    );
    let [full, why, next] = proposed("Q-105");
    assert!(full.ends_with("(full)") && why.contains("All that") && next.is_empty(), "{full} {why} {next}");
    let [_, _, next] = proposed("Q-104");
    assert!(next.contains("(full), electrolytic corrosion"), "{next}");
    let [plain, why, next] = proposed("Q-107");
    assert!(!plain.contains(['≥', '(']) && why.is_empty() && next.is_empty(), "{plain} {why} {next}");
    let recognition = |number: &str| {
        let groups = of(number)["asked"]["groups"].as_array().unwrap().iter();
        let mut pairs = groups.flat_map(|group| group["pairs"].as_array().unwrap());
        pairs.find(|pair| pair["name"] == "Recognition").map(|pair| pair["value"].as_str().unwrap().to_owned())
    };
    assert!(recognition("Q-105").unwrap().contains("not judged"));
    assert!(!recognition("Q-103").unwrap().contains("not judged"));
    assert_eq!(recognition("Q-101"), None);
    assert_eq!(of("Q-107")["asked"]["groups"].to_string().matches("0.3\u{a0}µs").count(), 1);
    // Which hours are not judged, which come on top, and what the limits rest on.
    let asked = |number: &str| of(number)["asked"].to_string();
    assert!(
        asked("Q-104").contains("its hottest step is. The load profile fills the whole life; standing, sea air, 9")
    );
    assert!(!asked("Q-101").contains("Its hours"));
    assert!(of("Q-107")["answer"]["free"].as_str().unwrap().starts_with("Each was judged by itself"));
}

/// Page one calls no tape an alternate that may not be used, and says why one stands before a better-looking one; only the
/// codes that concern an enquiry are pointed to, and what is named from memory is said once.
#[test]
fn page_one_orders_and_points_by_what_is_asked() {
    for view in prepared(&shipped(), "en", None).iter().map(text_of) {
        let (answer, number) = (&view["answer"], view["head"]["number"].as_str().unwrap());
        let list = |key: &str| answer[key].as_array().unwrap().clone();
        assert!(list("alternates").iter().all(|a| a["verdict"] != "unproven"), "{number}");
        assert!(list("unproven").iter().all(|a| a["verdict"] == "unproven"), "{number}");
        assert_eq!(list("alternates").len() + list("unproven").len() + 1, view["chapters"].as_array().unwrap().len());
        let before = |first: &str, next: &str| {
            let said = format!("{first} stands before {next}, whose margin reads better: ");
            list("before").iter().any(|line| line.as_str().unwrap().starts_with(&said))
        };
        let codes = view["codes"].to_string();
        let named = !codes.contains("Elsewhere");
        assert!(!codes.to_lowercase().contains("from memory") && codes.contains('†') == named, "{codes}");
        match number {
            "Q-101" => {
                assert!(before("H-111", "H-063"), "{answer}");
                // Its life against hydrolysis is a bound: the test ended there, and foretells no failure.
                assert!(view["tests"].as_array().unwrap().iter().all(|t| t["warning"] == ""), "{}", view["tests"]);
            }
            "Q-104" => assert!(before("H-041", "H-071") && list("alternates").is_empty(), "{answer}"),
            _ => {}
        }
        if number == "Q-107" {
            let warning = |test: usize| view["tests"][test]["warning"].as_str().unwrap();
            assert!(warning(0).contains("expect less. From 1460 V on") && warning(1).is_empty(), "{}", view["tests"]);
            assert!(view["asked"].to_string().contains("Frequency"));
        }
        let concerns = |topic: &str| codes.contains(topic);
        let equipment = view["head"]["application"].as_str().unwrap().to_lowercase();
        let turns = equipment.contains("motor") || equipment.contains("generator");
        assert_eq!(concerns("60034") || concerns("MG 1"), turns && named, "{number}");
        let exposures = view["asked"]["exposures"].to_string();
        assert!(concerns("Pressure equipment") || !exposures.contains("vacuum of"), "{number}: {codes}");
        assert!(concerns("Waste oil") || !exposures.contains("mg/kg"), "{number}: {codes}");
    }
}

/// Whatever is printed can be read: no literal size below the least one, and none that hangs on another.
#[test]
fn no_type_is_too_small_to_be_read() {
    const LEAST: f64 = 6.5;
    let templates = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates");
    let mut sizes = 0;
    for entry in fs::read_dir(templates).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "typ") {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap();
        for size in text.split("size: ").skip(1) {
            let number: String = size.chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
            let Ok(size_of) = number.parse::<f64>() else { continue };
            assert!(size[number.len()..].starts_with("pt") && size_of >= LEAST, "{}: {size:.20}", path.display());
            sizes += 1;
        }
    }
    assert!(sizes > 20, "{sizes}");
}

#[test]
fn a_character_without_a_face_is_found_before_anything_is_printed() {
    let story = Story::of(SMALL).change("enquiries/s-1.toml", "Nobody (invented)", "株 (invented)");
    let told = dossier(&story, &["S-1"]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err, @r"
      found   `株` (U+682A) in `株 (invented)`
      needed  characters that a face of the dossier has
      do      write it otherwise, or put a face that has it into the folder `fonts` of a template folder and name that folder with --templates
      (glyph-missing)
    ");
    assert!(!story.root().join("out").exists());
}

#[test]
fn a_template_folder_replaces_parts_and_texts() {
    let story = Story::of(SMALL);
    let folder = story.root().join("own");
    fs::create_dir(&folder).unwrap();
    let before = dossier(&story, &["S-1"]);
    assert_eq!(before.code, 0, "{}", before.err);
    let plain = pdf(&story, "S-1");
    fs::write(folder.join("codes.typ"), "== #t.codes.title\nA part of our own.\n").unwrap();
    let told = dossier(&story, &["S-1", "--templates", "own"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert_ne!(plain, pdf(&story, "S-1"));
    assert_valid(&pdf(&story, "S-1"), "a part of one's own");

    fs::write(folder.join("codes.typ"), "{% if nothing_of_this_name %}x{% endif %}\n").unwrap();
    let told = dossier(&story, &["S-1", "--templates", "own"]);
    assert_eq!(told.code, 1);
    assert!(told.err.starts_with("codes.typ line 1") && told.err.contains("(template-faulty)"), "{}", told.err);

    fs::write(folder.join("codes.typ"), "#let x = \n").unwrap();
    let told = dossier(&story, &["S-1", "--templates", "own"]);
    assert_eq!(told.code, 3);
    assert!(told.err.contains("(typst-failed)"), "{}", told.err);

    // A warning of Typst is a failure: this names a face that is not there.
    fs::write(folder.join("codes.typ"), "#text(font: \"No Such Face\")[x]\n").unwrap();
    let told = dossier(&story, &["S-1", "--templates", "own"]);
    assert_eq!(told.code, 3);
    assert!(told.err.contains("warning") && told.err.contains("(typst-failed)"), "{}", told.err);

    fs::remove_file(folder.join("codes.typ")).unwrap();
    let english = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/en.toml")).unwrap();
    fs::write(folder.join("fr.toml"), english.replacen("reason = ", "motif = ", 1)).unwrap();
    let told = dossier(&story, &["S-1", "--templates", "own", "--language", "fr"]);
    assert_eq!(told.code, 1);
    for said in ["signatures.reason", "signatures.motif", "every text of en.toml", "a text that nothing prints"] {
        assert!(told.err.contains(said), "{said} is not in\n{}", told.err);
    }
    assert!(told.err.matches("fr.toml line ").count() == 2, "{}", told.err);
}

#[test]
fn an_unknown_language_is_refused_with_the_nearest() {
    let story = Story::of(SMALL);
    let told = dossier(&story, &["S-1", "--language", "dee"]);
    assert_eq!(told.code, 1);
    insta::assert_snapshot!(told.err, @r"
    found   `dee`
    needed  a language that has a file of texts
    do      did you mean `de`?
    (name-unknown)
    ");
}

#[test]
fn german_has_its_own_numbers_and_dates() {
    let dossiers = prepared(&shipped(), "de", None);
    let data = text_of(&dossiers[0]);
    assert_eq!(data["head"]["date"], "20.\u{a0}November\u{a0}2026");
    assert_eq!(data["head"]["language"], "de");
    let english = text_of(&prepared(&shipped(), "en", None)[0]);
    let margin = |data: &serde_json::Value| data["answer"]["proposed"]["margin"].as_str().unwrap().to_owned();
    assert_eq!(margin(&data), margin(&english).replace('.', ","));
    assert_valid(&print(&dossiers[..1], "de")[0], "German");
}

#[test]
fn a_file_that_cannot_be_written_is_said_and_nothing_is_left_behind() {
    let story = Story::of(SMALL);
    fs::write(story.root().join("out"), "a file where the folder should be").unwrap();
    let told = dossier(&story, &["S-1"]);
    assert_eq!(told.code, 3);
    assert!(told.err.contains("(write-failed)"), "{}", told.err);
    let names: Vec<String> = fs::read_dir(story.root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert!(names.iter().all(|name| name == "data" || name == "out"), "{names:?}");
    assert_eq!(fs::read_to_string(story.root().join("out")).unwrap(), "a file where the folder should be");
}

#[test]
fn a_compiler_that_is_not_there_is_named_in_one_sentence() {
    let story = Story::of(SMALL);
    let run = |arguments: &[&str], name: &str, value: &Path| {
        let output = Command::new(env!("CARGO_BIN_EXE_lapwise"))
            .args(arguments)
            .current_dir(story.root())
            .env_clear()
            .env("PATH", "/nowhere")
            .env(name, value)
            .output()
            .unwrap();
        (
            output.status.code(),
            String::from_utf8(output.stderr).unwrap().replace(&story.root().display().to_string(), "[HERE]"),
        )
    };
    let named = run(&["dossier", "S-1", "--data", "data"], "LAPWISE_TYPST", Path::new("/nowhere/typst"));
    assert_eq!(named.0, Some(3));
    insta::assert_snapshot!(named.1, @r"
    found   LAPWISE_TYPST names `/nowhere/typst`, which does not run
    needed  the Typst compiler, version 0.15.1
    do      run `lapwise setup`, or name a typst 0.15.1 with the variable LAPWISE_TYPST
    (typst-missing)
    ");
    let (code, said) = run(&["setup", "--offline"], "XDG_CACHE_HOME", story.root());
    assert_eq!(code, Some(3));
    assert!(
        said.contains("on the search path or in `[HERE]/lapwise/typst-") && said.contains("(typst-missing)"),
        "{said}"
    );
    // Without cargo nothing can be built, and nothing is left in the cache.
    let (code, said) = run(&["setup"], "XDG_CACHE_HOME", story.root());
    assert_eq!(code, Some(3));
    assert!(said.contains("cargo does not run"), "{said}");
    let left: Vec<_> = fs::read_dir(story.root().join("lapwise")).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left, ["setup.lock"]);
}

#[test]
fn setup_says_what_and_where() {
    typst();
    let story = Story::of(SMALL);
    let told = story.run(&["setup", "--offline", "--json"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let document: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!(document["schema"], "lapwise/setup/1");
    assert_eq!(document["version"], "0.15.1");
}

#[test]
fn a_dossier_as_json_names_file_and_digest() {
    let story = Story::of(SMALL);
    let told = dossier(&story, &["S-1", "--json"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let document: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!(document["schema"], "lapwise/dossier/1");
    let line = &document["dossiers"][0];
    assert_eq!(line["file"], "out/S-1_draft.pdf");
    assert_eq!(line["sha256"], lapwise::record::sha256(&pdf(&story, "S-1")));
    let twice = dossier(&story, &["S-1", "data/enquiries/s-1.toml"]);
    assert_eq!(twice.code, 1);
    assert!(twice.err.contains("(key-duplicate)"), "{}", twice.err);
}

#[test]
fn a_signed_dossier_shows_its_signatures() {
    let (statement, earlier) = statements();
    let language = Templates::embedded().language("en").unwrap();
    let signature = Signature::of(&statement, &earlier, &language);
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join(SMALL);
    let dossiers = prepared(&data, "en", Some(&signature));
    assert_eq!(dossiers[0].file_name(), "S-1_r0002.pdf");
    assert!(text_of(&dossiers[0])["head"]["file_title"].as_str().unwrap().starts_with("S-1 · revision 2, approved"));
    assert_valid(&print(&dossiers, "en")[0], "signed");
    // The inputs are inside, and the decision can be worked out from them again.
    let proof = lapwise::dossier::proof::prove(&print(&dossiers, "en")[0]).unwrap();
    assert!(proof.flaws.is_empty() && proof.unchecked.is_empty(), "{proof:?}");
    assert!(proof.agreed.iter().any(|line| line.starts_with("decision.json, worked out again")), "{proof:?}");
    let draft = prepared(&data, "en", None);
    assert!(dossiers[0].document.contains("d.signature") && !draft[0].document.contains("d.signature"));
    // Every page of a draft says what it is made from; a signed one says who signed.
    let [signed, draft] = [text_of(&dossiers[0]), text_of(&draft[0])];
    assert_eq!((&signed["head"]["draft"], &signed["draft"]), (&"".into(), &serde_json::json!([])));
    assert_eq!(draft["head"]["status"], "draft, unsigned, no revision yet");
    let data =
        lapwise::dossier::view::of_set(&Press::new(&Folder::read(&data).unwrap(), None, "en").unwrap().inputs.data);
    let said = draft["head"]["draft"].as_str().unwrap();
    assert!(said.starts_with("Not to be relied on until signed.") && said.contains(&data[..8]), "{said}");
    assert_eq!(draft["draft"].as_array().unwrap().len(), 7);
    // Where a register tells which revision it would become, it is said.
    let next = staged(&shipped(), "en", &Stage::Draft(Some("Q-101/r0002".parse().unwrap())));
    let stage = |dossier: &Dossier| {
        let file = dossier.attachments.iter().find(|a| a.name == "decision.json").unwrap();
        let decision: serde_json::Value = serde_json::from_slice(&file.bytes).unwrap();
        format!("{} {}", decision["stage"], decision["revision"])
    };
    assert_eq!([stage(&dossiers[0]), stage(&next[0])], ["\"signed\" 2", "\"draft\" 2"]);
    let next = text_of(&next[0]);
    assert_eq!(next["head"]["status"], "draft of revision 2, unsigned");
    assert_eq!(next["draft"][0]["value"], "Q-101/r0002, in place of Q-101/r0001");
}

/// An invented selection, authored, then approved as a revision.
fn statements() -> (Statement, Vec<Statement>) {
    let signer = |id: &str, role: &str| {
        serde_json::json!({"id": id, "name": format!("{id} (invented)"), "role": role,
            "fingerprint": "SHA256:0123456789abcdefghijklmnopqrstuvwxyzABCDEFG"})
    };
    let of = |record: &str, kind: &str, signer: serde_json::Value, meaning: &str| -> Statement {
        let digest = "ab".repeat(32);
        serde_json::from_value(serde_json::json!({
            "schema": "lapwise/statement/1", "form": "lapwise/canonical/1", "record": record, "kind": kind,
            "revision": 2, "supersedes": "S-1/r0001", "title": "an invented coil", "customer": "Harbour works",
            "signer": signer, "meaning": meaning, "time": "2026-11-21T09:30:00+00:00",
            "reason": "a report settled the oil",
            "selection": {"tape": "S-7", "tape_revision": "1", "verdict": "unproven", "open_hazards": 2,
                "proposed": "S-2", "conditions": ["Tie the last turn."], "open_points": ["static shear (ISO 29863)"],
                "reserves": [{"criterion": "edge-lift", "exposure": "oil #1 *bold*", "verdict": "suitable", "margin": "2 ×"}]},
            "digests": {"evidence": digest, "decision": digest, "presentation": digest},
            "versions": {"data": "1", "data_sha256": digest, "criteria_sha256": digest, "templates_sha256": digest,
                "fonts_sha256": digest, "language": "en", "lapwise": "0.1.0", "typst": "0.15.1", "invented": true},
            "files": [], "shared": [], "keys": "keys/allowed_signers.2",
            "before": [{"file": "../r0002/statement.json", "sha256": digest, "size": 12}],
            "head": {"register": "1234".repeat(8), "size": 12, "root": digest},
        }))
        .unwrap()
    };
    (
        of("S-1/r0002.1", "countersignature", signer("k.holm", "approver"), "approved"),
        vec![of("S-1/r0002", "selection", signer("m.sand", "author"), "authored")],
    )
}

#[test]
fn a_countersignature_is_a_page_of_its_own() {
    let (statement, earlier) = statements();
    for language in ["en", "de"] {
        let press = Press::new(&Folder::default(), None, language).unwrap();
        let pdf = press.signature_page(typst(), &statement, &earlier).unwrap();
        assert_valid(&pdf, "countersignature");
    }
    let withdrawal = Statement { kind: lapwise::record::Kind::Withdrawal, ..statement };
    let page = SignaturePage::of(&withdrawal, &earlier, &Templates::embedded().language("en").unwrap());
    assert_eq!((page.head.title.as_str(), page.head.number.as_str()), ("Withdrawal", "S-1/r0002.1"));
    assert_eq!(page.signature.signers.len(), 2);
    assert_eq!(page.signature.against, "This is not the first in order, which is S-2.");
}

#[test]
fn the_files_inside_tell_the_decision_again() {
    let dossiers = prepared(&shipped(), "en", None);
    let catalogue = Catalogue::build(&Folder::read(&shipped()).unwrap()).unwrap();
    for dossier in &dossiers {
        let file = |name: &str| &dossier.attachments.iter().find(|a| a.name == name).unwrap().bytes;
        let decision: serde_json::Value = serde_json::from_slice(file("decision.json")).unwrap();
        let data = text_of(dossier);
        assert_eq!(decision["proposed"], data["answer"]["proposed"]["tape"]);
        assert_eq!((&decision["stage"], &decision["revision"]), (&"draft".into(), &serde_json::Value::Null));
        let mut reader = csv::Reader::from_reader(file("findings.csv").as_slice());
        let verdicts: Vec<String> = reader.records().map(|r| r.unwrap()[13].to_owned()).collect();
        for verdict in ["suitable", "conditional", "unproven", "unsuitable"] {
            let count = verdicts.iter().filter(|v| *v == verdict).count();
            assert_eq!(decision["counts"][verdict], count, "{} {verdict}", dossier.number);
        }
        // The enquiry under the name of its own file, and each row of a table that the workings cite.
        let given = format!("{}.toml", dossier.number.to_lowercase());
        let line = data["attachments"].as_array().unwrap().iter().find(|a| a["name"] == given.as_str()).unwrap();
        let facts = String::from_utf8(file("facts-used.csv").clone()).unwrap();
        for place in data["workings"].to_string().split("\"place\":\"facts.csv:").skip(1) {
            let row = place.split(|c: char| !c.is_ascii_digit()).next().unwrap();
            assert!(facts.lines().any(|line| line.starts_with(&format!("{row},"))), "{}: {row}", dossier.number);
        }
        // Each criterion of a working, whole and readable.
        let blocks: toml::Table = String::from_utf8(file("criteria-used.toml").clone()).unwrap().parse().unwrap();
        let ids: BTreeSet<&str> =
            blocks["criterion"].as_array().unwrap().iter().map(|c| c["id"].as_str().unwrap()).collect();
        let decides = said(&decision["order"][0], "weakest");
        assert!(ids.contains(decides) && ids.len() < catalogue.criteria.len(), "{}: {ids:?}", dossier.number);
        // A test is named by the number that it has on the pages.
        for (number, test) in (1..).zip(decision["tests"].as_array().unwrap()) {
            let page = &data["tests"][number - 1];
            assert_eq!((&test["number"], &page["number"]), (&number.into(), &number.into()));
            assert_eq!(page["standard"], test["standard"]);
            let tape = test["decides"][0]["tape"].as_str().unwrap();
            assert!(page["decides"].to_string().contains(tape), "{page}");
        }
        assert_eq!(line["digest"], lapwise::record::sha256(file("enquiry.toml")));
    }
    let provenance = dossiers[0].attachments.iter().find(|a| a.name == "provenance.json").unwrap();
    let provenance: serde_json::Value = serde_json::from_slice(&provenance.bytes).unwrap();
    let of = |file: &str| {
        let files = provenance["inputs"]["data"].as_array().unwrap();
        files.iter().find(|f| f["file"] == file).unwrap()["sha256"].as_str().unwrap().to_owned()
    };
    assert_eq!(of("tapes.csv"), lapwise::record::sha256(&fs::read(shipped().join("tapes.csv")).unwrap()));
}

#[test]
fn every_text_that_the_program_asks_for_exists_and_every_other_is_used() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let english: toml::Table = fs::read_to_string(root.join("templates/en.toml")).unwrap().parse().unwrap();
    let mut asked = String::new();
    for folder in ["src/dossier", "src/dossier/view", "templates"] {
        for entry in fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|e| e == "rs" || e == "typ") {
                asked.push_str(&fs::read_to_string(path).unwrap());
            }
        }
    }
    let sections: Vec<&String> = english.keys().collect();
    // "section.key" in the program, t.section.key in a part.
    for quoted in asked.split('"').filter(|text| text.len() < 40 && text.matches('.').count() == 1) {
        let (section, key) = quoted.split_once('.').unwrap();
        let is_key = key.chars().all(|c| c.is_ascii_lowercase() || c == '_') && !key.is_empty();
        if is_key && sections.iter().any(|s| *s == section) && !["typ", "toml", "json", "csv"].contains(&key) {
            let table = english[section].as_table().unwrap();
            let there = table.contains_key(key) || table.contains_key(&format!("{key}_one"));
            assert!(there, "the program asks for `{quoted}`, which en.toml lacks");
        }
    }
    let composed = [
        "months",
        "words",
        "verdict",
        "short",
        "basis",
        "because",
        "properties",
        "asked",
        "charts",
        "attachments",
        "language",
        "signed_as",
    ];
    let mut unused = Vec::new();
    for (section, keys) in &english {
        for key in keys.as_table().unwrap().keys() {
            let stem = key.trim_end_matches("_one").trim_end_matches("_many");
            let used = asked.contains(&format!("{section}.{stem}")) || composed.contains(&section.as_str());
            if !used {
                unused.push(format!("{section}.{key}"));
            }
        }
    }
    assert!(unused.is_empty(), "nothing prints {unused:?}");
    for trigger in words::TRIGGER {
        assert!(english["because"].get(*trigger).is_some(), "no reason for the trigger {trigger}");
    }
    assert_eq!(english["because"].as_table().unwrap().len(), words::TRIGGER.len());
    let readme = fs::read_to_string(root.join("matrices/README.md")).unwrap();
    for trigger in words::TRIGGER {
        assert!(readme.contains(&format!("| `{trigger}` |")), "matrices/README.md does not tell {trigger}");
    }
}

#[test]
fn a_letterhead_is_a_file_of_the_template_folder() {
    let story = Story::of(SMALL);
    let folder = story.root().join("own");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("letterhead.toml"), "lines = [\"Somebody (invented)\", \"*1* #Street\"]\n").unwrap();
    let told = dossier(&story, &["S-1", "--templates", "own"]);
    assert_eq!(told.code, 0, "{told:?}");
    fs::write(folder.join("letterhead.toml"), "rows = 1\n").unwrap();
    let told = dossier(&story, &["S-1", "--templates", "own"]);
    assert_eq!(told.code, 1);
    for code in ["key-missing", "key-unknown"] {
        assert!(told.err.contains(code) && told.err.contains("letterhead.toml line 1"), "{}", told.err);
    }
}

fn list<'v>(value: &'v serde_json::Value, key: &str) -> &'v [serde_json::Value] {
    value[key].as_array().unwrap_or_else(|| panic!("no list {key} in {value}"))
}

fn said<'v>(value: &'v serde_json::Value, key: &str) -> &'v str {
    value[key].as_str().unwrap_or_else(|| panic!("no text {key} in {value}"))
}

/// The workings of all tapes of a view.
fn workings(view: &serde_json::Value) -> impl Iterator<Item = &serde_json::Value> {
    list(view, "workings").iter().flat_map(|tape| list(tape, "workings"))
}

/// Each step of the load profile and each bake stands in the working of the life used, and together they are the result.
#[test]
fn the_life_used_is_told_step_by_step() {
    let story = Story::of(SHIPPED);
    for (number, tape, steps) in [("Q-101", "H-111", 4), ("Q-107", "H-101", 3)] {
        let told = story.lapwise(&["explain", number, tape, "thermal-life", "--json"]);
        let document: serde_json::Value = serde_json::from_str(&told.out).unwrap();
        let central = list(&document, "central");
        let of = |symbol: &str| -> Vec<f64> {
            let steps = central.iter().filter(|step| step["symbol"] == symbol);
            steps.map(|step| step["value"].as_f64().unwrap()).collect()
        };
        let (shares, times, lives) = (of("t/L(T)"), of("t"), of("L(T)"));
        assert_eq!(shares.len(), steps, "{number}: {}", document["central"]);
        for ((share, time), life) in shares.iter().zip(&times).zip(&lives) {
            assert!((share * life / time - 1.0).abs() < 1e-12, "{number}: {time} h of {life} h is not {share}");
        }
        let sum: f64 = shares.iter().sum();
        assert!((sum / of("life used")[0] - 1.0).abs() < 1e-12, "{number}: {shares:?}");
        let central = document["central_value"].as_f64().unwrap();
        assert!((sum / central - 1.0).abs() < 1e-12, "{number}: {sum} is not {central}");
        assert!(story.lapwise(&["explain", number, tape, "thermal-life"]).out.contains("part "));
    }
    for (language, profile) in [("en", "load profile"), ("de", "Lastprofil")] {
        let view = text_of(&prepared(&shipped(), language, None)[0]);
        let histories: Vec<_> = workings(&view).filter(|w| !w["history"].is_null()).collect();
        assert_eq!(histories.len(), 4, "one for each tape of the short list");
        for working in histories {
            let names: Vec<&str> = list(&working["history"], "parts").iter().map(|p| said(p, "name")).collect();
            assert_eq!(names, [profile, profile, profile, "drying oven"]);
            let places = list(&working["history"], "parts").iter().map(|p| said(p, "place"));
            assert!(places.clone().all(|place| place.starts_with("q-101.toml:")), "{:?}", places.collect::<Vec<_>>());
        }
    }
}

/// Limits name their source, inputs their origin; each source that is listed is cited, and each that is cited is listed.
#[test]
fn every_limit_and_every_input_says_where_it_comes_from() {
    for (language, assumed) in [("en", "assumed by the method"), ("de", "Methode, aus dem Gedächtnis")] {
        for view in prepared(&shipped(), language, None).iter().map(text_of) {
            let number = said(&view["head"], "number");
            let mut cited = BTreeSet::new();
            let mut cite = |source: &serde_json::Value| cited.extend(source.as_u64());
            for chapter in list(&view, "chapters") {
                cite(&chapter["source"]);
                for line in list(chapter, "lines") {
                    assert_eq!(line["source"].is_u64(), line["outer"] != "", "{number}: {line}");
                    cite(&line["source"]);
                }
            }
            list(&view["properties"], "sources").iter().for_each(&mut cite);
            for working in workings(&view) {
                if let Some(source) = working["source"].as_u64() {
                    assert!(said(working, "result").contains(&format!("[{source}])")), "{number}: {working}");
                }
                cite(&working["source"]);
                for fact in list(working, "facts") {
                    assert_ne!(said(fact, "place"), "", "{number}: {fact}");
                    cite(&fact["source"]);
                }
            }
            let listed: BTreeSet<u64> = list(&view, "references").iter().filter_map(|r| r["number"].as_u64()).collect();
            assert_eq!(cited, listed, "{number}");
            assert!(list(&view, "chapters").is_empty() || view["workings"].to_string().contains(assumed), "{number}");
        }
    }
    // What the view cites, the pages print.
    let templates = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates");
    for (file, printed) in [
        ("chapters.typ", "[#c.source]"),
        ("chapters.typ", "[#l.source]"),
        ("properties.typ", "[#n]"),
        ("appendix-workings.typ", "[#f.source]"),
        ("appendix-workings.typ", "w.result"),
    ] {
        assert!(fs::read_to_string(templates.join(file)).unwrap().contains(printed), "{file} does not print {printed}");
    }
}

/// A condition has one mark on all pages, and each finding that holds under it says so.
#[test]
fn conditions_are_named_by_their_marks() {
    for (language, word) in [("en", "Condition"), ("de", "Bedingung")] {
        for view in prepared(&shipped(), language, None).iter().map(text_of) {
            let number = said(&view["head"], "number");
            let marks = |of: &serde_json::Value| -> Vec<String> {
                list(of, "conditions").iter().map(|c| said(c, "name").to_owned()).collect()
            };
            let on_page_one = marks(&view["answer"]);
            let counted: Vec<String> = (1..=on_page_one.len()).map(|n| format!("C{n}")).collect();
            assert_eq!(on_page_one, counted, "{number}");
            let mut texts: std::collections::BTreeMap<String, String> = std::collections::BTreeMap::new();
            for (nth, chapter) in list(&view, "chapters").iter().enumerate() {
                let remarks: Vec<&str> = list(chapter, "lines").iter().map(|line| said(line, "remark")).collect();
                let own = marks(chapter);
                assert!(own.is_sorted_by_key(|mark| mark[1..].parse::<u32>().unwrap()), "{number}: {own:?}");
                for (mark, condition) in own.iter().zip(list(chapter, "conditions")) {
                    assert!(
                        remarks.iter().any(|r| r.contains(&format!("{word} {mark}."))),
                        "{number} {mark}: {remarks:?}"
                    );
                    let text = said(condition, "value").split(" (").next().unwrap().trim_end_matches('.').to_owned();
                    assert_eq!(*texts.entry(mark.clone()).or_insert_with(|| text.clone()), text, "{number} {mark}");
                }
                assert!(nth > 0 || own == on_page_one, "{number}");
                let said = remarks.iter().filter_map(|r| r.split_once(&format!("{word} "))?.1.split_once('.'));
                assert!(said.clone().all(|(mark, _)| own.iter().any(|known| known == mark)), "{number}: {remarks:?}");
            }
        }
    }
}

/// No unit of the data files stands on a page as it is written there, and no number has the powers of a unit too small.
#[test]
fn units_on_the_pages_are_those_of_print() {
    fn walk<'v>(value: &'v serde_json::Value, texts: &mut Vec<&'v str>) {
        match value {
            serde_json::Value::String(text) => texts.push(text),
            serde_json::Value::Array(list) => list.iter().for_each(|item| walk(item, texts)),
            serde_json::Value::Object(map) => map.values().for_each(|item| walk(item, texts)),
            _ => {}
        }
    }
    for language in ["en", "de"] {
        for view in prepared(&shipped(), language, None).iter().map(text_of) {
            let mut texts = Vec::new();
            walk(&view, &mut texts);
            for text in texts {
                let ascii = ["m2/s", "J/m2", "1/m2", "m3/mol", "mol/m3", "kg/m3", "Pa^0.5", " degC", "ohm m"];
                assert!(!ascii.iter().any(|unit| text.contains(unit)), "{text}");
                let large = ['⁴', '⁵', '⁶', '⁷', '⁸', '⁹'].iter().any(|c| text.contains(&format!("·10{c}\u{a0}kPa")));
                assert!(!large, "{text}");
            }
        }
    }
}

/// Each page of the workings begins with a working: none is parted from its first line, its table or its remarks.
#[test]
fn no_working_is_parted() {
    for language in ["en", "de"] {
        let dossiers = prepared(&shipped(), language, None);
        let dossier = dossiers.iter().find(|d| d.number == "Q-107").unwrap();
        let view = text_of(dossier);
        let pdf = &print(std::slice::from_ref(dossier), language)[0];
        let document = lopdf::Document::load_mem(pdf).unwrap();
        let squeezed = |text: &str| text.chars().filter(|c| c.is_alphanumeric()).collect::<String>();
        let pages: Vec<String> =
            document.get_pages().keys().map(|page| squeezed(&document.extract_text(&[*page]).unwrap())).collect();
        let head = squeezed(said(&view["head"], "draft"));
        let (from, to) =
            (said(&view["text"]["appendix"], "workings_intro"), said(&view["text"]["workings"], "symbols_intro"));
        let page_of = |text: &str| pages.iter().position(|page| page.contains(&squeezed(text))).unwrap();
        let titles: Vec<String> = workings(&view).map(|w| squeezed(said(w, "title"))).collect();
        let tapes: Vec<String> = list(&view, "workings").iter().map(|tape| squeezed(said(tape, "tape"))).collect();
        let (first, last) = (page_of(from), page_of(to));
        assert!(last > first + 2, "{first} {last}");
        for page in &pages[first + 1..last] {
            let (_, body) = page.split_once(&head).unwrap();
            let begins = titles.iter().chain(&tapes).any(|title| body.starts_with(title.as_str()));
            assert!(begins, "{language}: {body:.80}");
        }
    }
}

/// What a template sees is of the form that `lapwise schema dossier-view` says.
#[test]
fn the_view_is_of_the_form_that_its_schema_says() {
    let schema: serde_json::Value =
        serde_json::from_str(&Story::of(SMALL).run(&["schema", "dossier-view"]).out).unwrap();
    for dossier in prepared(&shipped(), "en", None) {
        let mut wrong = Vec::new();
        crate::told::conforms(&text_of(&dossier), &schema, &schema, "view", &mut wrong);
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}

/// Before a dossier's headings are known, its contents take the room of the sections that it will have.
#[test]
fn the_contents_take_the_room_of_every_section() {
    let templates = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates");
    let read = |name: &str| fs::read_to_string(templates.join(name)).unwrap();
    let is_section = |line: &&str| line.starts_with("== ") || line.starts_with("#heading(level: 2");
    let main = read("main.typ");
    let parts = main.split("{% include \"").skip(1).map(|rest| read(rest.split('"').next().unwrap()));
    let sections: usize = parts.map(|text| text.lines().filter(is_section).count()).sum();
    let room = format!("if found > 0 {{ found }} else {{ {sections} }}");
    assert!(read("contents.typ").contains(&room), "templates/contents.typ does not say `{room}`");
}
