//! Answers to the questions: what is still open, whether they hold, and the file they make.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::catalogue::Catalogue;
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};

use super::literal::{literal, quoted};
use super::questions::{self, Answer, Case, MORE, QUESTIONS, Question};
use super::{Enquiry, SCHEMA};

/// The command that answers belong to, in the place of a fault.
const COMMAND: &str = "enquiry new";
/// What is written behind an answer that nobody gave.
const DEFAULTED: &str = "# default, please confirm";
/// The form in which answers are kept.
const KEPT: &str = "lapwise/answers/1";

/// One answer.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Given {
    /// As typed; empty where the question was left open.
    text: String,
    /// True for a default that nobody has confirmed.
    default: bool,
}

/// The answers so far, by key.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answers(BTreeMap<String, Given>);

/// The next question: its key, and what is asked.
pub struct Open {
    /// The key in full, such as `exposure.2.medium`.
    pub key: String,
    /// The exposure, from 1; 0 before them.
    pub exposure: usize,
    /// The question.
    pub question: &'static Question,
}

impl Answers {
    /// Answers from `key=value`.
    ///
    /// # Errors
    /// Every argument that is no `key=value`, is unknown, or stands twice.
    pub fn of(arguments: &[String]) -> Result<Answers, Faults> {
        let mut faults = Faults::default();
        let mut answers = Answers::default();
        for argument in arguments {
            let Some((key, value)) = argument.split_once('=') else {
                let fault = Fault::new(
                    Code::ArgumentUnknown,
                    format!("`{argument}`"),
                    "an answer as key=value",
                    "write it like application.equipment=motor",
                );
                faults.add(fault.at(Place::argument(COMMAND, argument.as_str())));
                continue;
            };
            let key = key.trim();
            let place = Place::argument(COMMAND, key);
            if questions::find(key).is_none() {
                faults.add(unknown(key).at(place));
            } else if answers.0.contains_key(key) {
                let fault = Fault::new(
                    Code::ArgumentRepeated,
                    format!("a second `{key}`"),
                    "each key once",
                    "take one of them out",
                );
                faults.add(fault.at(place));
            } else {
                answers.give(key, value.trim());
            }
        }
        answers.settle_gates();
        faults.or(answers)
    }

    /// An answer, if the question was not left open.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&str> {
        self.0.get(key).map(|given| given.text.as_str()).filter(|text| !text.is_empty())
    }

    /// True if there is no answer yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// How many questions are answered.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Takes an answer; an empty one leaves the question open.
    pub fn give(&mut self, key: &str, text: &str) {
        self.0.insert(key.to_owned(), Given { text: text.to_owned(), default: false });
    }

    /// Takes a default, marked as such.
    pub fn assume(&mut self, key: &str, text: &str) {
        self.0.insert(key.to_owned(), Given { text: text.to_owned(), default: true });
    }

    /// Takes an answer back.
    pub fn forget(&mut self, key: &str) {
        self.0.remove(key);
    }

    /// A part that is answered is there, and an exposure behind another says that there is another.
    fn settle_gates(&mut self) {
        if self.0.keys().any(|key| key.starts_with("voltage.")) && !self.0.contains_key("voltage") {
            self.give("voltage", "yes");
        }
        let last = self.exposures();
        for n in 1..last {
            self.give(&format!("exposure.{n}.more"), "yes");
        }
        if last > 0 && !self.0.contains_key(&format!("exposure.{last}.more")) {
            self.give(&format!("exposure.{last}.more"), "no");
        }
    }

    /// The highest number of an exposure.
    fn exposures(&self) -> usize {
        let numbers = self.0.keys().filter_map(|key| key.strip_prefix("exposure.")?.split_once('.')?.0.parse().ok());
        numbers.max().unwrap_or(0)
    }

    /// The first question that is asked and has no answer yet.
    #[must_use]
    pub fn open(&self, catalogue: &Catalogue) -> Option<Open> {
        let ask = |exposure: usize, question: &'static Question| {
            let case = Case { answers: self, catalogue, exposure };
            let key = case.key(question.key);
            (!self.0.contains_key(&key) && (question.when)(&case)).then_some(Open { key, exposure, question })
        };
        let before = QUESTIONS.iter().filter(|q| !q.of_exposure()).find_map(|q| ask(0, q));
        before.or_else(|| {
            let mut exposure = 1;
            loop {
                let open = QUESTIONS.iter().filter(|q| q.of_exposure()).find_map(|q| ask(exposure, q));
                let more = self.get(&Case { answers: self, catalogue, exposure }.key(MORE)) == Some("yes");
                if open.is_some() || !more || exposure == questions::MOST {
                    return open;
                }
                exposure += 1;
            }
        })
    }

    /// The default of an open question.
    #[must_use]
    pub fn default_of(&self, open: &Open, catalogue: &Catalogue) -> Option<&'static str> {
        (open.question.default)(&Case { answers: self, catalogue, exposure: open.exposure })
    }

    /// Takes the defaults of all that is open.
    ///
    /// # Errors
    /// Every needed question that has neither an answer nor a default.
    pub fn complete(&mut self, catalogue: &Catalogue) -> Result<(), Faults> {
        let mut faults = Faults::default();
        while let Some(open) = self.open(catalogue) {
            if let Some(text) = self.default_of(&open, catalogue) {
                self.assume(&open.key, text);
                continue;
            }
            if open.question.needed {
                faults.add(missing(&open));
            }
            self.give(&open.key, "");
        }
        faults.or(())
    }

    /// The faults that the enquiry's own reader finds in one answer.
    #[must_use]
    pub fn faults_of(&self, key: &str, catalogue: &Catalogue) -> Faults {
        let mut out = Faults::default();
        if let Err(faults) = self.read(catalogue) {
            let here = |fault: &Fault| {
                fault.code != Code::KeyMissing && fault.place.as_ref().is_some_and(|p| p.column.as_ref() == key)
            };
            faults.sorted().into_iter().filter(here).for_each(|fault| out.add(fault));
        }
        out
    }

    /// The enquiry that the answers make, read by its own reader.
    ///
    /// # Errors
    /// Every fault, each at the key of its answer.
    pub fn read(&self, catalogue: &Catalogue) -> Result<Enquiry, Faults> {
        Enquiry::read(COMMAND, &self.file(), catalogue).map_err(|faults| {
            let mut out = Faults::default();
            for fault in faults.sorted() {
                let key = fault.place.as_ref().map_or_else(String::new, |place| key_of(&place.column));
                out.add(fault.at(Place::argument(COMMAND, key)));
            }
            out
        })
    }

    /// The file: every answer under its key, with what it is for.
    #[must_use]
    pub fn file(&self) -> String {
        let mut text = format!("# An enquiry, asked for by `lapwise enquiry new`.\nschema = \"{SCHEMA}\"\n");
        let mut table = "";
        for question in QUESTIONS.iter().filter(|q| !q.of_exposure()) {
            let head = question.key.split('.').next().unwrap_or_default();
            if self.get(question.key).is_some() && table != head && !matches!(question.answer, Answer::Gate) {
                table = head;
                let _ = writeln!(text, "\n[{head}]");
            }
            self.line(question, question.key, &mut text);
        }
        if self.get("voltage") == Some("no") {
            let default = self.0.get("voltage").is_some_and(|given| given.default);
            let _ = writeln!(text, "\n# No [voltage]: none stands across the wrap.");
            if default {
                let _ = writeln!(text, "{DEFAULTED}");
            }
        }
        for exposure in 1..=self.exposures() {
            text.push_str("\n[[exposure]]\n");
            for question in QUESTIONS.iter().filter(|q| q.of_exposure()) {
                let key = question.key.replacen("exposure.", &format!("exposure.{exposure}."), 1);
                self.line(question, &key, &mut text);
            }
        }
        text
    }

    fn line(&self, question: &Question, key: &str, text: &mut String) {
        let Some(given) = self.0.get(key).filter(|given| !given.text.is_empty()) else { return };
        let name = key.rsplit('.').next().unwrap_or(key);
        if matches!(question.answer, Answer::Gate) {
            return;
        }
        let mark = if given.default { format!("  {DEFAULTED}") } else { String::new() };
        let _ = writeln!(text, "# {}\n{name} = {}{mark}", question.why, literal(question.answer, &given.text));
    }

    /// The answers as they are kept beside the file until all are given.
    #[must_use]
    pub fn kept(&self) -> String {
        let mut text = format!("# Answers so far; `{COMMAND}` goes on from here.\nschema = \"{KEPT}\"\n");
        for (head, default) in [("answers", false), ("defaults", true)] {
            let _ = writeln!(text, "\n[{head}]");
            for (key, given) in self.0.iter().filter(|(_, given)| given.default == default) {
                let _ = writeln!(text, "{} = {}", quoted(key), quoted(&given.text));
            }
        }
        text
    }

    /// Answers that were kept.
    ///
    /// # Errors
    /// A file of another form, or a key that is not asked.
    pub fn resume(file: &str, text: &str) -> Result<Answers, Faults> {
        #[derive(serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Kept {
            schema: String,
            #[serde(default)]
            answers: BTreeMap<String, String>,
            #[serde(default)]
            defaults: BTreeMap<String, String>,
        }
        let place = || Place::file(file);
        let remedy = "mend the file, or take it away to begin anew";
        let kept: Kept = toml::from_str(text).map_err(|error| {
            Fault::new(Code::TomlSyntax, error.message().to_owned(), "answers that were kept", remedy).at(place())
        })?;
        if kept.schema != KEPT {
            return Err(Fault::new(Code::FormatUnknown, format!("`{}`", kept.schema), format!("`{KEPT}`"), remedy)
                .at(place())
                .into());
        }
        let mut faults = Faults::default();
        let mut answers = Answers::default();
        for (list, default) in [(kept.answers, false), (kept.defaults, true)] {
            for (key, text) in list {
                if questions::find(&key).is_none() {
                    faults.add(unknown(&key).at(Place::cell(file, 0, key.as_str())));
                }
                answers.0.insert(key, Given { text, default });
            }
        }
        faults.or(answers)
    }
}

/// A key that is not asked, with the nearest one that is.
fn unknown(key: &str) -> Fault {
    let number = key.strip_prefix("exposure.").and_then(|rest| rest.split_once('.')).map_or("1", |(number, _)| number);
    let number = if number.parse::<usize>().is_ok_and(|n| (1..=questions::MOST).contains(&n)) { number } else { "1" };
    let known: Vec<String> =
        QUESTIONS.iter().map(|q| q.key.replacen("exposure.", &format!("exposure.{number}."), 1)).collect();
    let mut fault =
        Fault::unknown_word(Code::ArgumentUnknown, key, "a key that is asked", known.iter().map(String::as_str));
    if !fault.remedy.starts_with("did") {
        "`lapwise enquiry new --list` names every key".clone_into(&mut fault.remedy);
    }
    fault
}

fn missing(open: &Open) -> Fault {
    let example = open.question.example();
    let remedy = if example.is_empty() {
        format!("write {}=…", open.key)
    } else {
        format!("write it like {}={}", open.key, shell(example))
    };
    let needed = format!("`{}`: {}", open.key, open.question.prompt);
    Fault::new(Code::ArgumentMissing, "nothing", needed, remedy).at(Place::argument(COMMAND, open.key.as_str()))
}

/// A value as one word of a command line.
fn shell(text: &str) -> String {
    if text.contains(' ') { format!("\"{text}\"") } else { text.to_owned() }
}

/// The key of an answer from that of the file: `exposure[2].medium`, `duty.load_profile[1].share`.
fn key_of(path: &str) -> String {
    let path = match path.strip_prefix("exposure[") {
        Some(rest) => rest.split_once(']').map_or_else(String::new, |(n, rest)| format!("exposure.{n}{rest}")),
        None => path.to_owned(),
    };
    path.split('[').next().unwrap_or_default().to_owned()
}
