//! The wrap cut open.

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::Property;
use crate::dossier::view::Case;
use crate::quantity;

use super::axis::rounded;

/// The wrap cut open along its axis, of the proposed tape.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Section {
    /// The tape.
    pub tape: String,
    /// Pitch over width.
    pub pitch: f64,
    /// The share of the total that is backing.
    pub backing: f64,
    /// Total thickness over width.
    pub thickness: f64,
    /// How often the thickness is stretched for the drawing.
    pub stretch: f64,
    /// The passes.
    pub passes: u32,
    /// What fills the wedge: air, liquid, resin, or empty.
    pub wedge: &'static str,
    /// Labels: width, pitch, backing, adhesive, wedge.
    pub labels: Vec<String>,
    /// What to see.
    pub caption: String,
    /// What the picture shows.
    pub alt: String,
}

/// Height over width that the drawing gives to one layer.
const DRAWN: f64 = 0.08;

pub(super) fn section(case: &Case<'_>) -> Option<Section> {
    let (l, w) = (case.language, &case.enquiry.winding);
    let first = case.short_list().first()?;
    let sheet = |property| case.plan.catalogue.sheet(first.tape, property).map(|f| f.spread.value);
    let (total, backing) = (sheet(Property::TotalThickness)?, sheet(Property::BackingThickness)?);
    let adhesive = sheet(Property::AdhesiveThickness)?;
    let (width, overlap, passes) = (w.width?, w.overlap?, w.passes?);
    let wedge = case.enquiry.voltage.as_ref().and_then(|v| v.wedge).unwrap_or("");
    let ratio = total / width.si();
    let stretch = libm::fmax(1.0, libm::round(DRAWN / ratio));
    let pitch = width.si() * (1.0 - overlap);
    let layer = |x: f64| l.sized_to(&quantity::LENGTH, x, 3);
    let filled = if wedge.is_empty() { String::new() } else { l.text(&format!("words.{wedge}")).to_owned() };
    let names = [
        ("tape", case.tape_id(first.tape).to_owned()),
        ("overlap", l.percent(overlap)),
        ("stretch", l.number(stretch, 3)),
        ("thickness", layer(total)),
        ("wedge", filled),
        ("passes", passes.to_string()),
    ];
    let names: Vec<(&str, &str)> = names.iter().map(|(n, v)| (*n, v.as_str())).collect();
    Some(Section {
        tape: case.tape_id(first.tape).to_owned(),
        pitch: rounded(1.0 - overlap),
        backing: rounded(backing / total),
        thickness: ratio,
        stretch,
        passes,
        wedge,
        labels: vec![
            l.say("charts.width_n", &[("n", &l.quantity(width))]),
            l.say("charts.pitch_n", &[("n", &layer(pitch))]),
            l.say("charts.backing_n", &[("n", &layer(backing))]),
            l.say("charts.adhesive_n", &[("n", &layer(adhesive))]),
            if wedge.is_empty() { l.text("charts.wedge").to_owned() } else { l.say("charts.wedge_n", &names) },
        ],
        caption: l.say("charts.section_caption", &names),
        alt: l.say("charts.section_alt", &names),
    })
}
