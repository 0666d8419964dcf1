//! `lapwise enquiry new`: asks for an enquiry in a terminal, or takes it from `key=value`.

use std::fs;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use inquire::ui::{RenderConfig, Styled};
use inquire::{Confirm, InquireError, Select, Text};
use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{End, Here, Outcome, say, table};
use crate::catalogue::{Catalogue, is_medium};
use crate::enquiry::questions::{Answer, CLASSES, QUESTIONS};
use crate::enquiry::{Answers, Open};
use crate::fault::{Code, Fault, Faults};

#[derive(Serialize, JsonSchema)]
struct Written {
    schema: &'static str,
    /// The file that was written.
    file: String,
}

/// The form of the document.
pub(super) fn schema() -> Schema {
    schema_for!(Written)
}

#[derive(Debug, Args)]
#[command(after_help = "Example: lapwise enquiry new")]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Ask for an enquiry, or take it from key=value, and write its file
    New(New),
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  lapwise enquiry new\n  lapwise enquiry new -o q-0412.toml enquiry.number=Q-0412 \
application.equipment=motor duty.thermal_class=155 exposure.1.medium=air …\n\n\
In a terminal and without key=value it asks, keeps each answer beside the file, and goes on where it was left. \
`--list` names every key.")]
struct New {
    /// Where to write it; `-` for standard output; without it, the enquiries of the data folder, under the number
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// List the questions: key, what an answer is, what it is for
    #[arg(long)]
    list: bool,
    /// Answers as key=value; what is missing and needed is listed at once
    #[arg(value_name = "KEY=VALUE")]
    answers: Vec<String>,
}

pub(super) fn run(here: &Here, arguments: &Arguments) -> Outcome {
    let Command::New(new) = &arguments.command;
    if new.list {
        return list();
    }
    let (_, catalogue) = here.catalogue()?;
    let terminal = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
    if new.answers.is_empty() && terminal && !here.json {
        return ask(here, new, &catalogue);
    }
    let mut answers = Answers::of(&new.answers)?;
    let dated = answers.get("enquiry.date").is_some();
    if !dated {
        answers.assume("enquiry.date", &today());
    }
    let mut faults = Faults::default();
    let complete = answers.complete(&catalogue).map_err(|missing| faults.extend(missing)).is_ok();
    if let Err(found) = answers.read(&catalogue) {
        // What is missing has been said, in the words of the question.
        found.sorted().into_iter().filter(|f| complete || f.code != Code::KeyMissing).for_each(|f| faults.add(f));
    }
    faults.or(())?;
    if new.output.as_deref() == Some(Path::new("-")) {
        write!(std::io::stdout(), "{}", answers.file())?;
        return Ok(());
    }
    let path = path(here, new, &answers);
    if path.exists() {
        return Err(there_already(&path).into());
    }
    crate::keep::text(&path, &answers.file()).map_err(End::Environment)?;
    if here.json {
        return Ok(say::json(&Written { schema: "lapwise/enquiry-new/1", file: path.display().to_string() })?);
    }
    writeln!(std::io::stdout(), "{}", path.display())?;
    Ok(())
}

fn today() -> String {
    jiff::ZonedDateTime::now().date().to_string()
}

fn list() -> Outcome {
    let mut table = table::Table::new(["key", "example", "what it is for"], &[]);
    for q in QUESTIONS {
        let key = q.key.replacen("exposure.", "exposure.1.", 1);
        let need = if q.needed { "" } else { "may stay open. " };
        let words = match q.answer {
            Answer::Word(words) => words.join("|"),
            _ => q.example().to_owned(),
        };
        table.row([key, words, format!("{need}{}", q.why)]);
    }
    table.print(&mut std::io::stdout().lock())?;
    Ok(())
}

/// Where the enquiry goes.
fn path(here: &Here, new: &New, answers: &Answers) -> PathBuf {
    new.output.clone().unwrap_or_else(|| {
        let number = answers.get("enquiry.number").unwrap_or_default().to_lowercase();
        here.data.join("enquiries").join(format!("{number}.toml"))
    })
}

/// Where the answers are kept until all are given.
fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(".part");
    path.with_file_name(name)
}

fn there_already(path: &Path) -> Fault {
    Fault::new(
        Code::WriteFailed,
        format!("a file `{}`", path.display()),
        "a name that is free",
        "choose another name with -o, or take the file away",
    )
}

/// Asks in the terminal until every question has its answer.
fn ask(here: &Here, new: &New, catalogue: &Catalogue) -> Outcome {
    let look = RenderConfig::default()
        .with_prompt_prefix(Styled::new("·"))
        .with_answered_prompt_prefix(Styled::new("="))
        .with_highlighted_option_prefix(Styled::new("→"))
        .with_canceled_prompt_indicator(Styled::new("(left)"));
    inquire::set_global_render_config(look);
    let mut answers = Answers::default();
    let mut known: Option<PathBuf> = None;
    if let Some(output) = &new.output {
        answers = begin(output)?;
        known = Some(output.clone());
    }
    let mut err = std::io::stderr();
    while let Some(open) = answers.open(catalogue) {
        let text = match answer(&answers, &open, catalogue) {
            Ok(text) => text,
            Err(InquireError::OperationCanceled | InquireError::OperationInterrupted) => {
                return Err(stopped(known.as_deref(), &answers));
            }
            Err(InquireError::IO(error)) => return Err(error.into()),
            Err(error) => {
                let fault = Fault::new(Code::WriteFailed, error.to_string(), "a terminal to ask on", "give key=value");
                return Err(End::Environment(fault));
            }
        };
        if !text.is_empty() && offered_as_default(&answers, &open, catalogue).as_deref() == Some(text.as_str()) {
            answers.assume(&open.key, &text);
        } else {
            answers.give(&open.key, &text);
        }
        if open.question.needed && text.is_empty() {
            answers.forget(&open.key);
            writeln!(err, "  {} cannot stay open", open.key)?;
            continue;
        }
        let faults = answers.faults_of(&open.key, catalogue);
        if !faults.is_empty() {
            answers.forget(&open.key);
            for fault in faults.sorted() {
                writeln!(err, "  found   {}\n  needed  {}\n  do      {}", fault.found, fault.needed, fault.remedy)?;
            }
            continue;
        }
        if known.is_none() && open.key == "enquiry.number" {
            let path = path(here, new, &answers);
            let before = begin(&path)?;
            if !before.is_empty() {
                answers = before;
            }
            known = Some(path);
        }
        if let Some(path) = &known {
            crate::keep::text(&beside(path), &answers.kept()).map_err(End::Environment)?;
        }
    }
    answers.read(catalogue)?;
    let path = known.unwrap_or_else(|| path(here, new, &answers));
    crate::keep::text(&path, &answers.file()).map_err(End::Environment)?;
    match fs::remove_file(beside(&path)) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error.into()),
        _ => {}
    }
    writeln!(std::io::stdout(), "{}", path.display())?;
    super::say::remark(&format!("next: lapwise rank {}", path.display()))?;
    Ok(())
}

/// The answers kept beside a file that is not there yet.
fn begin(path: &Path) -> Result<Answers, End> {
    if path.exists() {
        return Err(there_already(path).into());
    }
    let beside = beside(path);
    if !beside.exists() {
        return Ok(Answers::default());
    }
    let name = beside.display().to_string();
    let answers = Answers::resume(&name, &crate::load::read_text(&beside, &name)?)?;
    writeln!(std::io::stderr(), "going on from {name}: {} answers kept", answers.len())?;
    Ok(answers)
}

/// Esc or Ctrl-C: one line that says how to go on.
fn stopped(path: Option<&Path>, answers: &Answers) -> End {
    let told = match path.filter(|_| !answers.is_empty()) {
        Some(path) => {
            format!("kept in {}; go on with: lapwise enquiry new -o {}", beside(path).display(), path.display())
        }
        None => "nothing was kept; begin again with: lapwise enquiry new".to_owned(),
    };
    match writeln!(std::io::stderr(), "{told}") {
        Ok(()) => End::Reported(130),
        Err(error) => error.into(),
    }
}

/// One of the choices that the data offer.
struct Choice {
    value: String,
    label: String,
}

impl std::fmt::Display for Choice {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.label)
    }
}

/// Columns that a choice may take, so that it stays on one line of a narrow terminal.
const LABEL: usize = 54;

fn choice(value: &str, words: &str) -> Choice {
    let whole = if words.is_empty() { value.to_owned() } else { format!("{value}  {words}") };
    let label =
        if whole.chars().count() > LABEL { whole.chars().take(LABEL - 1).chain(['…']).collect() } else { whole };
    Choice { value: value.to_owned(), label }
}

/// What the data offer for a question; empty where it is free.
fn choices(open: &Open, answers: &Answers, catalogue: &Catalogue) -> Vec<Choice> {
    let plain = |words: &[&str]| words.iter().map(|word| choice(word, "")).collect();
    let of_tapes = |texts: Vec<&str>| {
        let set: std::collections::BTreeSet<&str> = texts.into_iter().filter(|text| !text.is_empty()).collect();
        set.into_iter().map(|text| choice(text, "")).collect::<Vec<Choice>>()
    };
    let active = || catalogue.tapes.iter().filter(|tape| tape.active);
    match open.question.answer {
        Answer::Word(words) => plain(words),
        Answer::Class => plain(CLASSES),
        Answer::Region => catalogue.regions.iter().map(|region| choice(&region.id, &region.name)).collect(),
        Answer::System => of_tapes(active().flat_map(|tape| &tape.systems).map(String::as_str).collect()),
        Answer::Colour => of_tapes(active().map(|tape| tape.text("colour")).collect()),
        Answer::Surface => {
            of_tapes(active().map(|tape| tape.text("adhesion_surface")).chain(["own backing"]).collect())
        }
        Answer::Medium => {
            let stage = answers.get(&format!("exposure.{}.stage", open.exposure)).unwrap_or_default();
            let order: [&str; 4] = match stage {
                "cleaning" => ["solvent", "gas", "liquid", "resin"],
                "service" if answers.get("application.atmosphere") != Some("sealed-liquid") => {
                    ["gas", "liquid", "solvent", "resin"]
                }
                "service" => ["liquid", "gas", "solvent", "resin"],
                _ => ["resin", "gas", "liquid", "solvent"],
            };
            let of_kind =
                |kind: &'static str| catalogue.materials.iter().filter(move |m| is_medium(m) && m.kind == kind);
            order.into_iter().flat_map(of_kind).map(|m| choice(&m.id, &format!("{}, {}", m.kind, m.name))).collect()
        }
        _ => Vec::new(),
    }
}

/// Words that stand for leaving a question open, and for an answer that is not among the choices.
const LEFT: &str = "(not stated)";
const OTHER: &str = "(another one)";

/// What a question proposes.
fn offered_as_default(answers: &Answers, open: &Open, catalogue: &Catalogue) -> Option<String> {
    if open.key == "enquiry.date" {
        return Some(today());
    }
    answers.default_of(open, catalogue).map(str::to_owned)
}

/// Asks one question; an empty text leaves it open.
fn answer(answers: &Answers, open: &Open, catalogue: &Catalogue) -> Result<String, InquireError> {
    let q = open.question;
    let default = offered_as_default(answers, open, catalogue);
    let prompt = match open.exposure {
        0 => q.prompt.to_owned(),
        n => format!("Exposure {n}: {}", q.prompt),
    };
    let mut offered = choices(open, answers, catalogue);
    let help = match &default {
        Some(default) => format!("{} Default: {default}.", q.why),
        None if q.example().is_empty() || !offered.is_empty() => q.why.to_owned(),
        None if q.needed => format!("{} Written like {}.", q.why, q.example()),
        None => format!("{} Written like {}; Enter leaves it open.", q.why, q.example()),
    };
    if matches!(q.answer, Answer::Flag | Answer::Gate) {
        let yes =
            Confirm::new(&prompt).with_help_message(&help).with_default(default.as_deref() == Some("yes")).prompt()?;
        return Ok(if yes { "yes" } else { "no" }.to_owned());
    }
    if !offered.is_empty() {
        let free = matches!(q.answer, Answer::System | Answer::Colour | Answer::Surface | Answer::Class);
        let at = default.and_then(|default| offered.iter().position(|c| c.value == default));
        if free {
            offered.push(choice(OTHER, ""));
        }
        if !q.needed {
            offered.insert(0, choice(LEFT, ""));
        }
        // Left open unless something is proposed; the choice of leaving it open stands first.
        let at = at.map_or(0, |at| at + usize::from(!q.needed));
        let chosen = Select::new(&prompt, offered).with_help_message(&help).with_starting_cursor(at).prompt()?;
        match chosen.value.as_str() {
            LEFT => return Ok(String::new()),
            OTHER => {}
            _ => return Ok(chosen.value),
        }
        return Text::new(&prompt).with_help_message(&help).prompt().map(|text| text.trim().to_owned());
    }
    let mut text = Text::new(&prompt).with_help_message(&help);
    if let Some(default) = &default {
        text = text.with_default(default);
    }
    text.prompt().map(|text| text.trim().to_owned())
}
