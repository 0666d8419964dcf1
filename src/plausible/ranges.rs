//! `ranges.csv`: what a kind, a family or a material usually has.

use crate::catalogue::{Catalogue, Property};
use crate::fault::{Code, Fault, Faults};
use crate::load::{self, Folder, Row};
use crate::quantity::{self, FIELD_STRENGTH, PRESSURE};

use super::asked;

/// The file of the usual ranges.
pub const FILE: &str = "ranges.csv";
const COLUMNS: &[&str] = &["kind", "of", "property", "low", "high", "source", "note"];
/// What a range can be about, besides the kinds of `materials.csv`.
const KINDS: &[&str] = &["backing", "adhesive", "liquid", "resin", "solvent", "gas", "tape", "pair", "enquiry"];

/// Breakdown voltage over backing thickness.
pub(super) const BREAKDOWN_STRENGTH: &str = "breakdown_strength";
/// Tensile force per width over backing thickness.
pub(super) const TENSILE_STRENGTH: &str = "tensile_strength";

/// One usual range.
#[derive(Clone, Debug)]
pub(super) struct Range {
    kind: String,
    of: String,
    property: String,
    /// The lower end, in SI.
    pub low: f64,
    /// The upper end, in SI.
    pub high: f64,
    /// What its numbers are.
    pub unit: &'static quantity::Kind,
    /// Whose range it is, for a message.
    pub whose: String,
    /// Where it comes from.
    pub source: String,
}

impl Range {
    /// True for a value inside it.
    pub(super) fn holds(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// In words: `100 to 300 kV/mm, usual for polyester-film (common-practice)`.
    pub(super) fn words(&self) -> String {
        let ends = match (self.low.is_finite(), self.high.is_finite()) {
            (true, true) => format!("{} to {}", self.unit.sized(self.low), self.unit.sized(self.high)),
            (true, false) => format!("at least {}", self.unit.sized(self.low)),
            _ => format!("at most {}", self.unit.sized(self.high)),
        };
        format!("{ends}, usual for {} ({})", self.whose, self.source)
    }
}

/// All usual ranges.
#[derive(Debug, Default)]
pub(super) struct Ranges(Vec<Range>);

impl Ranges {
    /// Reads them; a folder without the file has none.
    pub(super) fn read(folder: &Folder, catalogue: &Catalogue, faults: &mut Faults) -> Ranges {
        let mut ranges: Vec<Range> = Vec::new();
        if !folder.files.contains_key(FILE) {
            return Ranges::default();
        }
        for row in load::table(FILE, folder.text(FILE), COLUMNS, faults) {
            let Some(range) = range(&row, catalogue, faults) else { continue };
            if ranges.iter().any(|r| (&r.kind, &r.of, &r.property) == (&range.kind, &range.of, &range.property)) {
                let found = format!("a second range of {} for {}", range.property, range.whose);
                let fault = Fault::new(Code::KeyDuplicate, found, "each range once", "take one out");
                faults.add(fault.at(row.place("property")));
            }
            ranges.push(range);
        }
        Ranges(ranges)
    }

    /// True if there is none.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The range of a property for a kind, the most special first: the material's, the family's, the kind's.
    pub(super) fn of(&self, kind: &str, material: &str, family: &str, property: &str) -> Option<&Range> {
        let find = |of: &str| self.0.iter().find(|r| r.kind == kind && r.of == of && r.property == property);
        find(material).or_else(|| find(family)).or_else(|| find(""))
    }
}

fn range(row: &Row, catalogue: &Catalogue, faults: &mut Faults) -> Option<Range> {
    let kind = row.needed("kind", faults).cloned();
    let property = row.needed("property", faults).cloned();
    let source = row.needed("source", faults).cloned();
    if let Some(source) = &source
        && !catalogue.sources.contains_key(&source.text)
    {
        let known = catalogue.sources.keys().map(String::as_str);
        let fault = Fault::unknown_word(Code::SourceUnknown, &source.text, "a key of sources.yml", known);
        faults.add(fault.at(source.place.clone()));
    }
    let kind = kind?;
    if !KINDS.contains(&kind.text.as_str()) {
        let fault = Fault::unknown_word(Code::WordUnknown, &kind.text, "one of the known words", KINDS.iter().copied());
        faults.add(fault.at(kind.place.clone()));
    }
    let of = row.text("of");
    let alike = || catalogue.materials.iter().filter(|m| m.kind == kind.text);
    if !of.is_empty() && !alike().any(|m| m.id == of || m.family == of) {
        let names = alike().flat_map(|m| [m.id.as_str(), m.family.as_str()]);
        let needed = format!("a material or family of kind {} in materials.csv", kind.text);
        faults.add(Fault::unknown_word(Code::ReferenceUnknown, of, &needed, names).at(row.place("of")));
    }
    let property = property?;
    let Some(unit) = unit_of(&kind.text, &property.text) else {
        let known = Property::ALL.iter().map(|p| p.name()).chain([BREAKDOWN_STRENGTH, TENSILE_STRENGTH]);
        let known = known.chain(asked::keys());
        let fault = Fault::unknown_word(Code::WordUnknown, &property.text, "a property that has a range", known);
        faults.add(fault.at(property.place.clone()));
        return None;
    };
    let mut end = |column: &str, open: f64| match row.get(column) {
        Some(cell) => faults.keep(unit.read(&cell.text), &cell.place),
        None => Some(open),
    };
    let (low, high) = (end("low", f64::NEG_INFINITY), end("high", f64::INFINITY));
    let (low, high) = (low?, high?);
    if low > high || !(low.is_finite() || high.is_finite()) {
        let fault = Fault::new(
            Code::SpreadOrder,
            format!("low `{}` and high `{}`", row.text("low"), row.text("high")),
            "one end at least, and low below high",
            "mend the ends",
        );
        faults.add(fault.at(row.place("low")));
        return None;
    }
    Some(Range {
        whose: if of.is_empty() { format!("any {}", kind.text) } else { of.to_owned() },
        kind: kind.text,
        of: of.to_owned(),
        property: property.text,
        low,
        high,
        unit,
        source: source?.text,
    })
}

fn unit_of(kind: &str, property: &str) -> Option<&'static quantity::Kind> {
    match (kind, property) {
        ("enquiry", key) => asked::unit(key),
        ("backing", BREAKDOWN_STRENGTH) => Some(&FIELD_STRENGTH),
        ("backing", TENSILE_STRENGTH) => Some(&PRESSURE),
        (_, name) => Property::of(name).map(|p| p.spec().kind),
    }
}
