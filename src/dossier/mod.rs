//! The dossier: a judged enquiry as a PDF that a customer reads and an archive keeps.
//!
//! [`view`] says everything as printed text, [`template`] joins the parts, [`typst`] prints. The same
//! input gives the same bytes: no clock, no locale, no folder and no count of jobs goes in.

mod attach;
mod cautions;
pub mod charts;
pub mod language;
mod legible;
pub mod pool;
pub mod proof;
pub mod template;
pub mod typst;
pub mod view;

use std::collections::BTreeMap;
use std::path::Path;

pub use attach::{Attachment, decision_schema, provenance_schema};
pub use cautions::cautions_met;

use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::fault::{Code, Fault, Faults};
use crate::judge::Standing;
use crate::load::Folder;
use crate::record::{self, Statement, sha256};
use language::Language;
use template::Templates;
use typst::Typst;
use view::{Digest, Inputs, SignaturePage, Source, Stage, View, of_set};

/// A dossier ready to be printed.
#[derive(Clone, Debug)]
pub struct Dossier {
    /// The enquiry's number.
    pub number: String,
    /// What it says.
    pub view: View,
    /// The text of the document.
    pub document: String,
    /// The view as the JSON that the document reads.
    pub data: Vec<u8>,
    /// The files that go into the PDF.
    pub attachments: Vec<Attachment>,
    /// Seconds since 1970 of the enquiry's date.
    pub created: i64,
}

/// What all dossiers of a run share.
pub struct Press {
    /// Parts, texts and faces.
    pub templates: Templates,
    /// The language.
    pub language: Language,
    /// The digests of what goes in.
    pub inputs: Inputs,
    /// The texts of the data folder, without the enquiries.
    pub data: BTreeMap<String, String>,
}

impl Press {
    /// Reads the templates and gathers the digests.
    ///
    /// # Errors
    /// As [`Templates::read`] and [`Templates::language`].
    pub fn new(folder: &Folder, templates: Option<&Path>, language: &str) -> Result<Press, Faults> {
        let templates = Templates::read(templates)?;
        let language = templates.language(language)?;
        let data: BTreeMap<String, String> = folder.data().map(|(name, text)| (name.clone(), text.clone())).collect();
        let inputs = Inputs {
            data: data
                .iter()
                .map(|(file, text)| Digest { file: file.clone(), sha256: sha256(text.as_bytes()) })
                .collect(),
            templates: templates.digests(),
            fonts: templates.font_digests(),
            lapwise: env!("CARGO_PKG_VERSION").to_owned(),
            typst: typst::VERSION.to_owned(),
        };
        Ok(Press { templates, language, inputs, data })
    }

    /// What makes a page look as it does: the canonical text of templates, faces, language and Typst.
    ///
    /// # Errors
    /// Never, for texts.
    pub fn presentation(&self) -> Result<String, Fault> {
        record::canonical(&serde_json::json!({
            "form": record::FORM,
            "fonts": of_set(&self.inputs.fonts),
            "language": self.language.id,
            "letterhead": self.templates.letterhead,
            "templates": of_set(&self.inputs.templates),
            "typst": self.inputs.typst,
        }))
    }

    /// Prepares the dossier of one enquiry of a plan, of any size.
    ///
    /// # Errors
    /// A template that does not render, a character that no face has.
    pub fn prepare(
        &self,
        plan: &Plan<'_>,
        enquiry: usize,
        standings: &[Standing],
        enquiry_text: &str,
        stage: Stage,
    ) -> Result<Dossier, Faults> {
        let viewed = |plan: &Plan<'_>, enquiry: usize| {
            view::view(&Source {
                plan,
                enquiry,
                standings,
                enquiry_text,
                inputs: &self.inputs,
                data: &self.data,
                language: &self.language,
                letterhead: &self.templates.letterhead,
                stage,
            })
        };
        let (view, attachments) = plan.with_rows(enquiry, viewed)??;
        let document = self.templates.document(&view)?;
        let e: &Enquiry = &plan.enquiries[enquiry];
        Ok(Dossier {
            number: e.number.clone(),
            document,
            data: self.legible(&view)?,
            attachments,
            created: seconds(&e.date),
            view,
        })
    }

    /// Prints the page of a countersignature or a withdrawal.
    ///
    /// # Errors
    /// A template that does not render, a character that no face has, as [`typst::print`].
    pub fn signature_page(
        &self,
        typst: &Typst,
        statement: &Statement,
        earlier: &[Statement],
    ) -> Result<Vec<u8>, Faults> {
        let page = SignaturePage::of(statement, earlier, &self.language);
        let document = self.templates.signature_page(&page.head.language)?;
        let date = statement.time.get(..10).unwrap_or_default();
        Ok(self.typeset(typst, (&document, &self.legible(&page)?), &[], seconds(date))?)
    }

    /// Prints a report: a page that a part of the templates lays out, with the files that go into it.
    ///
    /// # Errors
    /// A template that does not render, a character that no face has, as [`typst::print`].
    pub fn report(
        &self,
        typst: &Typst,
        part: &str,
        page: &impl serde::Serialize,
        attachments: &[Attachment],
        date: &str,
    ) -> Result<Vec<u8>, Faults> {
        let lines: Vec<view::AttachmentLine> = attachments.iter().map(Attachment::line).collect();
        let document = self.templates.report(part, &self.language.id, &lines)?;
        Ok(self.typeset(typst, (&document, &self.legible(page)?), attachments, seconds(date))?)
    }

    /// What a page says as JSON, which has no character that no face has.
    fn legible(&self, page: &impl serde::Serialize) -> Result<Vec<u8>, Faults> {
        let mut data = serde_json::to_value(page).map_err(|error| defect(&error))?;
        legible::check(&mut data, &self.templates.fonts)?;
        Ok(serde_json::to_vec(&data).map_err(|error| defect(&error))?)
    }

    fn typeset(
        &self,
        typst: &Typst,
        (document, data): (&str, &[u8]),
        attachments: &[Attachment],
        created: i64,
    ) -> Result<Vec<u8>, Fault> {
        let (files, fonts) = (files(data, attachments), self.laid_out()?);
        typst::print(typst, &typst::Job { document, files: &files, fonts: fonts.path(), created })
    }

    /// The faces in a folder where Typst finds them.
    fn laid_out(&self) -> Result<tempfile::TempDir, Fault> {
        let fonts = tempfile::Builder::new().prefix("lapwise-fonts-").tempdir().map_err(|e| laid_out(&e))?;
        for (name, bytes) in &self.templates.fonts {
            std::fs::write(fonts.path().join(name), bytes).map_err(|e| laid_out(&e))?;
        }
        Ok(fonts)
    }

    /// Prints one dossier by itself; a [`pool::Pool`] prints many.
    ///
    /// # Errors
    /// As [`typst::print`].
    pub fn print(&self, typst: &Typst, dossier: &Dossier) -> Result<Vec<u8>, Fault> {
        self.typeset(typst, (&dossier.document, &dossier.data), &dossier.attachments, dossier.created)
    }
}

/// The files that Typst reads beside a document: what the page says, and what goes into it.
fn files<'f>(data: &'f [u8], attachments: &'f [Attachment]) -> Vec<(&'f str, &'f [u8])> {
    let attached = attachments.iter().map(|attachment| (attachment.name, attachment.bytes.as_slice()));
    std::iter::once(("view.json", data)).chain(attached).collect()
}

impl Dossier {
    /// The name of its file.
    #[must_use]
    pub fn file_name(&self) -> String {
        match &self.view.signature {
            Some(signature) => format!("{}_r{:04}.pdf", self.number, signature.revision),
            None => format!("{}_draft.pdf", self.number),
        }
    }
}

fn laid_out(error: &std::io::Error) -> Fault {
    Fault::new(
        Code::WriteFailed,
        error.to_string(),
        "a temporary folder that can be written",
        "check the disk and the permissions of the folder for temporary files",
    )
}

fn defect(error: &serde_json::Error) -> Fault {
    Fault::new(Code::TemplateFaulty, error.to_string(), "a view that can be written as JSON", "report this as a defect")
}

/// Seconds since 1970 of a date such as `2026-11-20`, at midnight UTC; 0 where it is none.
fn seconds(date: &str) -> i64 {
    let midnight = date.parse::<jiff::civil::Date>().and_then(|date| date.to_zoned_datetime(jiff::tz::TimeZone::UTC));
    midnight.map_or(0, |midnight| midnight.timestamp().as_second())
}

#[cfg(test)]
mod tests {
    use super::seconds;

    /// Source: `date -u -d DATE +%s`.
    #[test]
    fn dates_become_seconds() {
        assert_eq!(seconds("1970-01-01"), 0);
        assert_eq!(seconds("2000-02-29"), 951_782_400);
        assert_eq!(seconds("2026-11-20"), 1_795_132_800);
    }
}
