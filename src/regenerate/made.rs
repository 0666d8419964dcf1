//! What is signed and kept of a judged selection: all that it takes to judge it again.

use crate::catalogue::About;
use crate::dossier::Press;
use crate::dossier::view::of_set;
use crate::enquiry::Enquiry;
use crate::fault::Fault;
use crate::record::{Digests, Versions, sha256};
use crate::register::Draft;
use crate::selection::Judged;

/// Everything of a judged selection that is signed and kept.
///
/// # Errors
/// Never, for a press that was made.
pub fn draft(press: &Press, enquiry: &Enquiry, judged: Judged, text: &str, about: &About) -> Result<Draft, Fault> {
    let presentation = press.presentation()?;
    let criteria = press.inputs.data.iter().find(|d| d.file == "criteria.toml");
    let versions = Versions {
        data: about.version.clone(),
        data_sha256: of_set(&press.inputs.data),
        criteria_sha256: criteria.map(|d| d.sha256.clone()).unwrap_or_default(),
        templates_sha256: of_set(&press.inputs.templates),
        fonts_sha256: of_set(&press.inputs.fonts),
        language: press.language.id.clone(),
        lapwise: press.inputs.lapwise.clone(),
        typst: press.inputs.typst.clone(),
        invented: about.invented,
    };
    let digests = Digests {
        evidence: sha256(judged.evidence.as_bytes()),
        decision: sha256(judged.decision.as_bytes()),
        presentation: sha256(presentation.as_bytes()),
    };
    let own = [
        ("enquiry.toml", text.as_bytes().to_vec()),
        ("evidence.json", judged.evidence.into_bytes()),
        ("decision.json", judged.decision.into_bytes()),
        ("presentation.json", presentation.into_bytes()),
    ];
    let named = |folder: &str, name: &String, bytes: &[u8]| (format!("{folder}/{name}"), bytes.to_vec());
    let data = press.data.iter().map(|(name, text)| named("data", name, text.as_bytes()));
    let parts = press.templates.parts.iter().chain(&press.templates.texts);
    let parts = parts.map(|(name, text)| named("templates", name, text.as_bytes()));
    let fonts = press.templates.fonts.iter().map(|(name, bytes)| named("fonts", name, bytes));
    Ok(Draft {
        enquiry: enquiry.number.clone(),
        title: enquiry.title.clone(),
        customer: enquiry.customer.clone(),
        selection: judged.selection,
        digests,
        versions,
        inputs: own.into_iter().map(|(name, bytes)| (name.to_owned(), bytes)).collect(),
        shared: data.chain(parts).chain(fonts).collect(),
    })
}
