//! The command line: types for the arguments, one file a command, and what is common to them.
//!
//! Only here is anything printed, and only here is the clock read.

mod accept;
mod asked;
mod begin;
mod check;
mod commit;
mod compare;
mod completions;
mod demo;
mod dossier;
mod enquiry;
mod envelope;
mod evidence;
mod explain;
mod export;
mod gather;
mod import;
mod interrupt;
mod man;
mod matrix;
mod model;
mod named;
mod partition;
mod progress;
mod rank;
mod regenerate;
mod register;
mod say;
mod schema;
mod setup;
mod table;

use std::ffi::OsString;
use std::path::PathBuf;

use clap::{Parser, Subcommand};

use crate::catalogue::Catalogue;
use crate::enquiry::Enquiry;
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Folder};

/// Which insulating tape, why, up to what limits, and what to test first.
#[derive(Debug, Parser)]
#[command(name = "lapwise", version, about, max_term_width = 100)]
#[command(
    after_help = "Example: lapwise rank Q-101\n\nExit codes: 0 done, 1 faulty input or not verified, 2 a wrong call, \
3 Typst, disk or lock, 130 interrupted."
)]
pub struct Arguments {
    /// The data folder
    #[arg(long, global = true, default_value = "matrices", value_name = "DIR")]
    data: PathBuf,
    /// Print one JSON document and nothing else
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Read all data and enquiries, report every fault at once, and remark on what looks odd
    Check(check::Arguments),
    /// Take a remark of `check` on, with a reason that is kept
    Accept(accept::Arguments),
    /// The candidates in order, with verdict, weakest criterion and margin
    Rank(rank::Arguments),
    /// Every finding: one row per candidate, exposure and criterion
    Matrix(matrix::Arguments),
    /// The full working of a cell: facts, equation, numbers, spread, limits, verdict
    Explain(explain::Arguments),
    /// Ask for an enquiry and write its file
    Enquiry(enquiry::Arguments),
    /// Limits of use: where the verdict changes, and by which criterion
    Envelope(envelope::Arguments),
    /// The JSON Schema of a document
    Schema(schema::Arguments),
    /// One computation by itself
    Model(model::Arguments),
    /// The qualification dossiers of enquiries, as PDF
    Dossier(dossier::Arguments),
    /// The reports of all parts of a batch, joined into that of the whole
    Gather(gather::Arguments),
    /// The signed selections: sign, keep, list, prove
    #[command(subcommand, after_help = "Example: lapwise register verify register")]
    Register(register::Arguments),
    /// Judge every kept selection by today's data, and draft the revisions that it asks for
    Regenerate(regenerate::Arguments),
    /// A data folder of one's own: what is known of materials and media, and no tape yet
    Begin(begin::Arguments),
    /// Find or install the compiler that prints dossiers
    Setup(setup::Arguments),
    /// A table as people have it, into the data folder
    Import(import::Arguments),
    /// Test reports, and what they settle or overturn
    Evidence(Box<evidence::Arguments>),
    /// What differs between two data folders, and which answers that moves
    Compare(compare::Arguments),
    /// Every enquiry of the data folder, end to end
    Demo(demo::Arguments),
    /// What a shell offers on Tab
    Completions(completions::Arguments),
    /// The manual pages, one a command
    Man(man::Arguments),
}

/// How a command ends.
enum End {
    /// It did what it was asked; an unsuitable tape is a result.
    Done,
    /// Faulty input, or not verified.
    Faulty(Faults),
    /// The call itself is wrong.
    Usage(Fault),
    /// Typst, the disk or a lock stand in the way.
    Environment(Fault),
    /// The faults are already told.
    Reported(u8),
    /// The reader of the output went away.
    Closed,
}

impl End {
    /// Says what is to be said of it; the exit code.
    fn told(self, json: bool) -> u8 {
        match self {
            End::Done | End::Closed => 0,
            End::Reported(code) => code,
            End::Faulty(faults) => say::faults(faults, json, 1),
            End::Usage(fault) => say::faults(fault.into(), json, 2),
            End::Environment(fault) => say::faults(fault.into(), json, 3),
        }
    }
}

impl From<Faults> for End {
    fn from(faults: Faults) -> End {
        End::Faulty(faults)
    }
}

impl From<Fault> for End {
    fn from(fault: Fault) -> End {
        End::Faulty(fault.into())
    }
}

impl From<std::io::Error> for End {
    fn from(error: std::io::Error) -> End {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            return End::Closed;
        }
        End::Environment(Fault::new(
            Code::WriteFailed,
            error.to_string(),
            "output that can be written",
            "check the disk and the permissions",
        ))
    }
}

type Outcome = Result<(), End>;

/// Runs the program; returns its exit code.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> u8 {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            let code = if error.use_stderr() { 2 } else { 0 };
            return match error.print() {
                // Help that could not be read; of a wrong call there is nothing else to say.
                Err(refused) if code == 0 => End::from(refused).told(false),
                _ => code,
            };
        }
    };
    let json = arguments.json;
    let place = Here { data: arguments.data, json };
    let outcome = match arguments.command {
        Command::Begin(a) => begin::run(&place, &a),
        Command::Check(a) => check::run(&place, &a),
        Command::Accept(a) => accept::run(&place, &a),
        Command::Rank(a) => rank::run(&place, &a),
        Command::Matrix(a) => matrix::run(&place, &a),
        Command::Explain(a) => explain::run(&place, &a),
        Command::Enquiry(a) => enquiry::run(&place, &a),
        Command::Envelope(a) => envelope::run(&place, &a),
        Command::Schema(a) => schema::run(&place, &a),
        Command::Model(a) => model::run(&place, &a),
        Command::Dossier(a) => dossier::run(&place, &a),
        Command::Gather(a) => gather::run(&place, &a),
        Command::Register(a) => register::run(&place, &a),
        Command::Regenerate(a) => regenerate::run(&place, &a),
        Command::Setup(a) => setup::run(&place, &a),
        Command::Import(a) => import::run(&place, &a),
        Command::Evidence(a) => evidence::run(&place, &a),
        Command::Compare(a) => compare::run(&place, &a),
        Command::Demo(a) => demo::run(&place, &a),
        Command::Completions(a) => completions::run(&place, &a),
        Command::Man(a) => man::run(&place, &a),
    };
    outcome.err().unwrap_or(End::Done).told(json)
}

/// What every command knows.
struct Here {
    data: PathBuf,
    json: bool,
}

impl Here {
    /// The data folder and its catalogue.
    fn catalogue(&self) -> Result<(Folder, Catalogue), Faults> {
        let folder = Folder::read(&self.data)?;
        let catalogue = Catalogue::build(&folder)?;
        Ok((folder, catalogue))
    }
}

/// The text of an enquiry's file, in the data folder or elsewhere.
fn text_of(folder: &Folder, enquiry: &Enquiry) -> Result<String, Fault> {
    match folder.files.get(&enquiry.file) {
        Some(text) => Ok(text.clone()),
        None => load::read_text(std::path::Path::new(&enquiry.file), &enquiry.file),
    }
}

/// True for a name that is a path and no number.
fn is_path(named: &str) -> bool {
    let path = std::path::Path::new(named);
    load::ends_in(named, "toml") || path.is_file()
}

/// An enquiry by its path or by its number in the data folder.
fn enquiry(folder: &Folder, catalogue: &Catalogue, named: &str) -> Result<Enquiry, Faults> {
    if is_path(named) {
        let text = load::read_text(std::path::Path::new(named), named)?;
        return Enquiry::read(named, &text, catalogue);
    }
    let mut numbers = Vec::new();
    let mut found: Option<Enquiry> = None;
    for file in folder.enquiries() {
        match Enquiry::read(file, folder.text(file), catalogue) {
            Ok(enquiry) if enquiry.number == named => {
                if let Some(first) = found.replace(enquiry) {
                    return Err(Fault::new(
                        Code::KeyDuplicate,
                        format!("enquiry `{named}` in `{}` and in `{file}`", first.file),
                        "each number once",
                        "give one of them a number of its own, or name the file you mean by its path",
                    )
                    .at(first.place("enquiry.number"))
                    .into());
                }
            }
            Ok(enquiry) => numbers.push(enquiry.number),
            // A faulty enquiry is reported where it is the one asked for: by its file's name.
            Err(faults) if file.to_lowercase().contains(&named.to_lowercase()) => return Err(faults),
            Err(_) => {}
        }
    }
    let unknown = || {
        let needed = "the path of an enquiry, or its number in the data folder";
        Fault::unknown_word(Code::NameUnknown, named, needed, numbers.iter().map(String::as_str))
    };
    Ok(found.ok_or_else(unknown)?)
}
