//! Templates to the text that Typst reads.
//!
//! The parts are embedded, and each may be replaced by a file of the same name in a template folder.
//! What a template sees are words of closed lists and counts: the text of the data reaches Typst as
//! JSON only, so that no customer, tape or title can ever become markup.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use minijinja::syntax::SyntaxConfig;
use minijinja::{Environment, UndefinedBehavior, Value, context};

use super::language::Language;
use super::view::{AttachmentLine, Digest, View};
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::record::sha256;

/// The English texts, which are the measure of all others.
pub const ENGLISH: &str = include_str!("../../templates/en.toml");
/// The German texts.
pub const GERMAN: &str = include_str!("../../templates/de.toml");

macro_rules! embedded {
    ($($name:literal),+ $(,)?) => { &[$(($name, include_str!(concat!("../../templates/", $name)))),+] };
}

/// The parts of the document.
const PARTS: &[(&str, &str)] = embedded![
    "main.typ",
    "look.typ",
    "marks.typ",
    "page-one.typ",
    "contents.typ",
    "enquiry.typ",
    "matrix.typ",
    "chapters.typ",
    "ruled-out.typ",
    "properties.typ",
    "pictures.typ",
    "needed.typ",
    "tests.typ",
    "cautions.typ",
    "codes.typ",
    "signatures.typ",
    "signature-page.typ",
    "provenance.typ",
    "references.typ",
    "appendix-matrix.typ",
    "appendix-workings.typ",
];

/// The parts of reports: no part of what makes a dossier look as it does.
const REPORTS: &[(&str, &str)] = embedded!["regenerate.typ"];

/// The faces.
const FONTS: &[(&str, &[u8])] = &[
    ("DejaVuSans.ttf", include_bytes!("../../templates/fonts/DejaVuSans.ttf")),
    ("Inter-Italic.otf", include_bytes!("../../templates/fonts/Inter-Italic.otf")),
    ("Inter-Regular.otf", include_bytes!("../../templates/fonts/Inter-Regular.otf")),
    ("Inter-SemiBold.otf", include_bytes!("../../templates/fonts/Inter-SemiBold.otf")),
];

/// The part that includes the others.
const MAIN: &str = "main.typ";
/// The part that a countersignature is printed with.
const SIGNATURE_PAGE: &str = "signature-page.typ";

/// Parts, texts and faces.
#[derive(Clone, Debug)]
pub struct Templates {
    /// The parts, by name.
    pub parts: BTreeMap<String, String>,
    /// The parts of reports, by name.
    pub reports: BTreeMap<String, String>,
    /// The texts, by the name of their file.
    pub texts: BTreeMap<String, String>,
    /// The faces, by the name of their file.
    pub fonts: BTreeMap<String, Vec<u8>>,
    /// The lines of the letterhead on page one, the name first; none without one.
    pub letterhead: Vec<String>,
}

/// The file of a template folder that holds the letterhead.
const LETTERHEAD: &str = "letterhead.toml";

/// Reads the letterhead: `lines = ["Name", "Street", …]`.
fn letterhead(text: &str, faults: &mut Faults) -> Vec<String> {
    let mut keys = crate::load::toml(LETTERHEAD, text, faults);
    keys.present("lines", faults);
    let lines = keys.texts("lines", faults).into_iter().map(|(line, _)| line).collect();
    keys.finish(faults);
    lines
}

impl Templates {
    /// The embedded ones.
    #[must_use]
    pub fn embedded() -> Templates {
        let own = |list: &[(&str, &str)]| list.iter().map(|(n, t)| ((*n).to_owned(), (*t).to_owned())).collect();
        Templates {
            parts: own(PARTS),
            reports: own(REPORTS),
            texts: own(&[("en.toml", ENGLISH), ("de.toml", GERMAN)]),
            fonts: FONTS.iter().map(|(name, bytes)| ((*name).to_owned(), bytes.to_vec())).collect(),
            letterhead: Vec::new(),
        }
    }

    /// The embedded ones, with what a template folder has in their place or beside them.
    ///
    /// # Errors
    /// A folder that cannot be read, a file that is not text, a face that is none.
    pub fn read(folder: Option<&Path>) -> Result<Templates, Faults> {
        let mut templates = Templates::embedded();
        let Some(folder) = folder else { return Ok(templates) };
        let mut faults = Faults::default();
        for (name, path) in files(folder, true).map_err(Faults::from)? {
            let kind = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_owned();
            if kind == "typ" || kind == "toml" {
                match crate::load::read_text(&path, &name) {
                    Ok(text) if name == LETTERHEAD => templates.letterhead = letterhead(&text, &mut faults),
                    Ok(text) => {
                        let into = match kind.as_str() {
                            "typ" if templates.reports.contains_key(&name) => &mut templates.reports,
                            "typ" => &mut templates.parts,
                            _ => &mut templates.texts,
                        };
                        into.insert(name, text);
                    }
                    Err(fault) => faults.add(fault),
                }
            }
        }
        for (name, path) in files(&folder.join("fonts"), false).map_err(Faults::from)? {
            if !["otf", "ttf", "ttc"].iter().any(|e| path.extension().is_some_and(|have| have.eq_ignore_ascii_case(e)))
            {
                continue;
            }
            match crate::load::read_bytes(&path, &format!("fonts/{name}")) {
                Ok(bytes) if ttf_parser::Face::parse(&bytes, 0).is_ok() => {
                    templates.fonts.insert(name, bytes);
                }
                Ok(_) => faults.add(
                    Fault::new(Code::TemplateFaulty, "a file that is no face", "an OpenType face", "take it out")
                        .at(Place::file(format!("fonts/{name}"))),
                ),
                Err(fault) => faults.add(fault),
            }
        }
        faults.or(templates)
    }

    /// The texts of a language.
    ///
    /// # Errors
    /// A language that has no file, or whose file lacks a text.
    pub fn language(&self, id: &str) -> Result<Language, Faults> {
        let file = format!("{id}.toml");
        let Some(text) = self.texts.get(&file) else {
            let known: Vec<&str> = self.texts.keys().map(|name| name.trim_end_matches(".toml")).collect();
            return Err(Fault::unknown_word(
                Code::NameUnknown,
                id,
                "a language that has a file of texts",
                known.iter().copied(),
            )
            .into());
        };
        Language::read(&file, text, ENGLISH)
    }

    /// The document's text: the parts joined and decided by the frame of a view.
    ///
    /// # Errors
    /// A part that does not render, with its line.
    pub fn document(&self, view: &View) -> Result<String, Fault> {
        // What a template may decide by: words of closed lists and counts, never text of the data.
        let frame = context! {
            language => view.head.language.as_str(),
            proposed => view.answer.proposed.is_some(),
            signed => view.signature.is_some(),
            chapters => view.chapters.len(),
            waiting => view.waiting.len(),
            ruled_out => view.ruled_out.len(),
            courses => view.pictures.courses.len(),
            lives => view.pictures.lives.is_some(),
            fields => view.pictures.fields.is_some(),
            section => view.pictures.section.is_some(),
            attachments => framed(&view.attachments),
        };
        Ok(numbered(&self.render(MAIN, &frame)?))
    }

    /// The text of a page of its own for a countersignature or a withdrawal.
    ///
    /// # Errors
    /// As [`Templates::document`].
    pub fn signature_page(&self, language: &str) -> Result<String, Fault> {
        self.render(SIGNATURE_PAGE, &context! { language, signed => true })
    }

    /// The text of a report.
    ///
    /// # Errors
    /// As [`Templates::document`].
    pub fn report(&self, part: &str, language: &str, attachments: &[AttachmentLine]) -> Result<String, Fault> {
        self.render(part, &context! { language, attachments => framed(attachments) })
    }

    fn render(&self, part: &str, frame: &Value) -> Result<String, Fault> {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        let syntax = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).keep_trailing_newline(true).build();
        environment.set_syntax(syntax.map_err(|error| faulty(&error))?);
        for (name, text) in self.parts.iter().chain(&self.reports) {
            environment.add_template(name, text).map_err(|error| faulty(&error))?;
        }
        let part = environment.get_template(part).map_err(|error| faulty(&error))?;
        part.render(frame).map_err(|error| faulty(&error))
    }

    /// The digests of parts and texts.
    #[must_use]
    pub fn digests(&self) -> Vec<Digest> {
        let digest = |(file, text): (&String, &String)| Digest { file: file.clone(), sha256: sha256(text.as_bytes()) };
        let mut digests: Vec<Digest> = self.parts.iter().chain(&self.texts).map(digest).collect();
        digests.sort();
        digests
    }

    /// The digests of the faces.
    #[must_use]
    pub fn font_digests(&self) -> Vec<Digest> {
        self.fonts.iter().map(|(file, bytes)| Digest { file: file.clone(), sha256: sha256(bytes) }).collect()
    }
}

/// A document whose sections have their numbers: the lines that begin one, counted.
fn numbered(document: &str) -> String {
    let mut count = 0;
    let line = |line: &str| match line.strip_prefix("== ") {
        Some(title) => {
            count += 1;
            format!("== {count} {title}")
        }
        None => line.to_owned(),
    };
    document.split_inclusive('\n').map(line).collect()
}

/// What a template may know of attachments.
fn framed(attachments: &[AttachmentLine]) -> Vec<Value> {
    attachments.iter().map(|a| context! { name => a.file, mime => a.mime, relationship => a.relationship }).collect()
}

/// The files of a folder, by name.
fn files(folder: &Path, needed: bool) -> Result<BTreeMap<String, std::path::PathBuf>, Fault> {
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if !needed && error.kind() == std::io::ErrorKind::NotFound => return Ok(BTreeMap::new()),
        Err(error) => return Err(unreadable(folder, &error)),
    };
    let mut files = BTreeMap::new();
    for entry in entries.flatten().filter(|entry| !entry.path().is_dir()) {
        let name = entry.file_name().to_string_lossy().into_owned();
        crate::load::inside(folder, &entry.path(), &name)?;
        files.insert(name, entry.path());
    }
    Ok(files)
}

fn unreadable(path: &Path, error: &std::io::Error) -> Fault {
    Fault::new(
        Code::FileUnreadable,
        format!("`{}`: {error}", path.display()),
        "a template folder that can be read",
        "check the path and its permissions",
    )
}

/// The fault behind an error: of an include, that of the part included.
fn faulty(error: &minijinja::Error) -> Fault {
    if let Some(inner) = std::error::Error::source(error).and_then(|e| e.downcast_ref::<minijinja::Error>()) {
        return faulty(inner);
    }
    let place =
        Place::line(error.name().unwrap_or(MAIN), error.line().and_then(|l| u32::try_from(l).ok()).unwrap_or(0));
    let detail = error.detail().map_or_else(|| error.kind().to_string(), str::to_owned);
    Fault::new(Code::TemplateFaulty, detail, "a part that renders", "mend it by the pattern of the embedded parts")
        .at(place)
}
