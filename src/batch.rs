//! The reports of all parts of a batch, joined into the report of the whole.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value};

use super::Part;
use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::quantity::count;

/// A report that is made in parts: its schema, and its lists with the key that names what an entry is about.
struct Form {
    schema: &'static str,
    lists: &'static [(&'static str, Option<&'static str>)],
}

/// Every report that is made in parts. Their entries are sorted by the name of what they are about.
const FORMS: &[Form] = &[Form {
    schema: "lapwise/dossier/1",
    lists: &[("dossiers", Some("enquiry")), ("failed", Some("enquiry")), ("unfinished", None)],
}];

/// What all parts of one batch have alike.
const ALIKE: [&str; 2] = ["made_from", "batch"];

/// A report of the whole, and how the batch went.
#[derive(Debug)]
pub struct Joined {
    /// The report that a run in one part would have printed.
    pub document: Value,
    /// How many entries each list has, by its name.
    pub counts: Vec<(&'static str, usize)>,
}

/// One report, taken apart.
struct Report<'n> {
    name: &'n str,
    form: &'static Form,
    part: Part,
    document: Map<String, Value>,
}

/// Joins the reports of all parts of a batch, each with its name and its text.
///
/// # Errors
/// A text that is no report of a part, a part that is missing or there twice, parts of different batches or data,
/// an entry that is not its part's, all at once.
pub fn gather(reports: &[(String, String)]) -> Result<Joined, Faults> {
    let mut faults = Faults::default();
    let mut read: Vec<Report<'_>> = Vec::new();
    for (name, text) in reports {
        let report = Report::read(name, text);
        read.extend(faults.keep(report, &Place::file(name.as_str())));
    }
    faults.or(())?;
    let mut faults = Faults::default();
    let Some((first, others)) = read.split_first() else {
        return Err(Fault::new(Code::PartMissing, "no report", "the report of each part", "name them").into());
    };
    for other in others {
        differences(first, other, &mut faults);
    }
    if faults.is_empty() {
        once_each(&read, &mut faults);
    }
    faults.or(())?;
    join(read)
}

impl Report<'_> {
    fn read<'n>(name: &'n str, text: &str) -> Result<Report<'n>, Fault> {
        let foreign = |found: String| {
            Fault::new(
                Code::FormatUnknown,
                found,
                "the JSON report of a part",
                "name the files that `lapwise dossier --part K/N --json` printed",
            )
        };
        let document: Value = serde_json::from_str(text).map_err(|error| foreign(format!("no JSON: {error}")))?;
        let Value::Object(document) = document else { return Err(foreign("no object".to_owned())) };
        let schema = document.get("schema").and_then(Value::as_str).unwrap_or_default();
        let form = FORMS.iter().find(|form| form.schema == schema).ok_or_else(|| foreign(format!("`{schema}`")))?;
        let part = document.get("part").and_then(Value::as_str).unwrap_or_default();
        let part = part.parse().map_err(|_| foreign("the report of a whole batch, in no parts".to_owned()))?;
        for (list, key) in form.lists {
            let entries = document.get(*list).and_then(Value::as_array);
            let named = |entry: &Value| named(entry, *key).is_some();
            if !entries.is_some_and(|entries| entries.iter().all(named)) {
                return Err(foreign(format!("no list `{list}` of what is named")));
            }
        }
        Ok(Report { name, form, part, document })
    }

    /// The names of what the entries are about, with their list.
    fn entries(&self) -> impl Iterator<Item = (&'static str, &str)> {
        self.form.lists.iter().flat_map(|(list, key)| {
            let entries = self.document.get(*list).and_then(Value::as_array).into_iter().flatten();
            entries.filter_map(|entry| Some((*list, named(entry, *key)?)))
        })
    }
}

/// What an entry is about.
fn named<'v>(entry: &'v Value, key: Option<&str>) -> Option<&'v str> {
    key.map_or(Some(entry), |key| entry.get(key))?.as_str()
}

fn differences(first: &Report<'_>, other: &Report<'_>, faults: &mut Faults) {
    let mut differ = |what: &str| {
        let found = format!("{what} other than in `{}`", first.name);
        let remedy = "do the parts again with the same data, enquiries, templates and number of parts";
        let fault = Fault::new(Code::PartsDiffer, found, "parts of one batch", remedy);
        faults.add(fault.at(Place::file(other.name)));
    };
    if other.form.schema != first.form.schema {
        return differ("another kind of report, `schema`");
    }
    if other.part.of != first.part.of {
        differ(&format!("a part of {}, `part`", other.part.of));
    }
    for key in ALIKE {
        if other.document.get(key) != first.document.get(key) {
            differ(&format!("a `{key}`"));
        }
    }
}

/// Each part once, each entry once and in its part, and as many as were asked for.
fn once_each(read: &[Report<'_>], faults: &mut Faults) {
    let mut seen: BTreeMap<u32, &str> = BTreeMap::new();
    let mut entries: BTreeSet<&str> = BTreeSet::new();
    let mut doubled = 0_usize;
    let of = read.first().map_or(0, |first| first.part.of);
    for report in read {
        let at = |fault: Fault| fault.at(Place::file(report.name));
        if let Some(other) = seen.insert(report.part.number, report.name) {
            let found = format!("part {}, which `{other}` is too", report.part);
            faults.add(at(Fault::new(Code::PartRepeated, found, "each part once", "leave one of them out")));
            doubled += 1;
            continue;
        }
        for (list, name) in report.entries() {
            if !report.part.takes(name) || !entries.insert(name) {
                let found = format!("`{name}` in `{list}`, which is twice in it or belongs to another part");
                let remedy = "take the report as it was printed";
                faults.add(at(Fault::new(Code::PartsDiffer, found, "what this part takes, once", remedy)));
            }
        }
    }
    let missing: Vec<String> =
        (1..=of).filter(|number| !seen.contains_key(number)).map(|number| format!("{number}/{of}")).collect();
    if !missing.is_empty() {
        let found = format!("no report of {}", missing.join(", "));
        let remedy = "do these parts, then gather again with all reports";
        faults.add(Fault::new(Code::PartMissing, found, "the report of every part", remedy));
    }
    let asked = read.first().and_then(|first| first.document.get("batch")?.get("enquiries")?.as_u64());
    if missing.is_empty() && doubled == 0 && asked != u64::try_from(entries.len()).ok() {
        let found = count(entries.len(), "enquiry", "enquiries");
        let needed = asked.map_or("a `batch`".to_owned(), |asked| format!("the {asked} of the batch"));
        faults.add(Fault::new(Code::PartsDiffer, found, needed, "take the reports as they were printed"));
    }
}

fn join(read: Vec<Report<'_>>) -> Result<Joined, Faults> {
    let mut read = read.into_iter();
    let Some(first) = read.next() else { return Err(Faults::default()) };
    let (form, mut document) = (first.form, first.document);
    document.shift_remove("part");
    for report in read {
        for (list, _) in form.lists {
            let more = report.document.get(*list).and_then(Value::as_array).cloned().unwrap_or_default();
            if let Some(all) = document.get_mut(*list).and_then(Value::as_array_mut) {
                all.extend(more);
            }
        }
    }
    let mut counts = Vec::new();
    for (list, key) in form.lists {
        if let Some(all) = document.get_mut(*list).and_then(Value::as_array_mut) {
            all.sort_by(|a, b| named(a, *key).cmp(&named(b, *key)));
            counts.push((*list, all.len()));
        }
    }
    Ok(Joined { document: Value::Object(document), counts })
}
