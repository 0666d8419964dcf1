//! The reports of all parts of a batch, joined into the report of the whole.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use serde_json::{Map, Value};

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::part::Part;
use crate::quantity::count;
use crate::record::enquiry_of;
use crate::regenerate;

/// A report that is made in parts.
struct Form {
    schema: &'static str,
    /// Its lists, with the key that names what an entry is about.
    lists: &'static [(&'static str, Option<&'static str>)],
    /// How many of the lists hold each name once, between them.
    once: usize,
    /// What all parts of one batch have alike.
    alike: &'static [&'static str],
    /// True where that says, as `enquiries` of `batch`, how many entries there are in all.
    counted: bool,
    /// The enquiry that an entry is about, by its name.
    enquiry: fn(&str) -> &str,
}

/// Every report that is made in parts. Their entries are sorted by the name of what they are about.
const FORMS: [Form; 2] = [
    Form {
        schema: "lapwise/dossier/1",
        lists: &[("dossiers", Some("enquiry")), ("failed", Some("enquiry")), ("unfinished", None)],
        once: 3,
        alike: &["made_from", "batch"],
        counted: true,
        enquiry: |name| name,
    },
    Form {
        schema: regenerate::SCHEMA,
        lists: &[("selections", Some("record")), ("failures", Some("record"))],
        // A selection that was judged, and whose draft failed, is in both.
        once: 1,
        alike: &["register", "head", "data", "lapwise", "made_from", "remarks"],
        counted: false,
        enquiry: enquiry_of,
    },
];

/// The report that a run in one part would have made.
#[derive(Debug)]
pub struct Joined {
    /// What it says.
    pub report: Whole,
    /// How many entries each list has, by its name.
    pub counts: Vec<(&'static str, usize)>,
}

/// A report of a whole batch.
#[derive(Debug, Serialize)]
#[serde(untagged)]
pub enum Whole {
    /// Of dossiers that were printed.
    Dossiers(Value),
    /// Of kept selections that were judged again.
    Selections(Box<regenerate::Report>),
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
        let document: Value = serde_json::from_str(text).map_err(|error| foreign(&format!("no JSON: {error}")))?;
        let Value::Object(document) = document else { return Err(foreign("no object")) };
        let schema = document.get("schema").and_then(Value::as_str).unwrap_or_default();
        let form = FORMS.iter().find(|form| form.schema == schema).ok_or_else(|| foreign(&format!("`{schema}`")))?;
        let part = document.get("part").and_then(Value::as_str).unwrap_or_default();
        let part = part.parse().map_err(|_| foreign("the report of a whole batch, in no parts"))?;
        for (list, key) in form.lists {
            let entries = document.get(*list).and_then(Value::as_array);
            let named = |entry: &Value| named(entry, *key).is_some();
            if !entries.is_some_and(|entries| entries.iter().all(named)) {
                return Err(foreign(&format!("no list `{list}` of what is named")));
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

/// What is no report of a part.
fn foreign(found: &str) -> Fault {
    let remedy = "name the files that `lapwise dossier --part K/N --json` or `lapwise regenerate --part K/N` wrote";
    Fault::new(Code::FormatUnknown, found, "the JSON report of a part", remedy)
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
    if other.part.of() != first.part.of() {
        differ(&format!("a part of {}, `part`", other.part.of()));
    }
    for key in first.form.alike {
        if other.document.get(*key) != first.document.get(*key) {
            differ(&format!("a `{key}`"));
        }
    }
}

/// Each part once, each entry once and in its part, and as many as were asked for.
fn once_each(read: &[Report<'_>], faults: &mut Faults) {
    let mut seen: BTreeMap<u32, &str> = BTreeMap::new();
    let mut entries: BTreeSet<&str> = BTreeSet::new();
    let mut doubled = 0_usize;
    let of = read.first().map_or(0, |first| first.part.of());
    for report in read {
        let at = |fault: Fault| fault.at(Place::file(report.name));
        if let Some(other) = seen.insert(report.part.number(), report.name) {
            let found = format!("part {}, which `{other}` is too", report.part);
            faults.add(at(Fault::new(Code::PartRepeated, found, "each part once", "leave one of them out")));
            doubled += 1;
            continue;
        }
        for (list, name) in report.entries() {
            let once = report.form.lists.iter().take(report.form.once).any(|(of_once, _)| *of_once == list);
            if !report.part.takes((report.form.enquiry)(name)) || once && !entries.insert(name) {
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
    let counted = read.first().filter(|first| first.form.counted && missing.is_empty() && doubled == 0);
    let Some(first) = counted else { return };
    let asked = first.document.get("batch").and_then(|batch| batch.get("enquiries")?.as_u64());
    if asked != u64::try_from(entries.len()).ok() {
        let found = count(entries.len(), "enquiry", "enquiries");
        let needed = asked.map_or("a `batch`".to_owned(), |asked| format!("the {asked} of the batch"));
        faults.add(Fault::new(Code::PartsDiffer, found, needed, "take the reports as they were printed"));
    }
}

fn join(read: Vec<Report<'_>>) -> Result<Joined, Faults> {
    let Some(form) = read.first().map(|first| first.form) else { return Err(Faults::default()) };
    if form.schema == regenerate::SCHEMA {
        let report = selections(read)?;
        let counts = vec![("selections", report.selections.len()), ("failures", report.failures.len())];
        return Ok(Joined { report: Whole::Selections(Box::new(report)), counts });
    }
    let document = dossiers(form, read);
    let counted = |list: &str| document.get(list).and_then(Value::as_array).map_or(0, Vec::len);
    let counts = form.lists.iter().map(|(list, _)| (*list, counted(list))).collect();
    Ok(Joined { report: Whole::Dossiers(document), counts })
}

/// Their lists, one after the other, sorted.
fn dossiers(form: &Form, read: Vec<Report<'_>>) -> Value {
    let mut documents = read.into_iter().map(|report| report.document);
    let mut document = documents.next().unwrap_or_default();
    document.shift_remove("part");
    for mut other in documents {
        for (list, _) in form.lists {
            let more = other.get_mut(*list).and_then(Value::as_array_mut).map(std::mem::take).unwrap_or_default();
            if let Some(all) = document.get_mut(*list).and_then(Value::as_array_mut) {
                all.extend(more);
            }
        }
    }
    for (list, key) in form.lists {
        if let Some(all) = document.get_mut(*list).and_then(Value::as_array_mut) {
            all.sort_by(|a, b| named(a, *key).cmp(&named(b, *key)));
        }
    }
    Value::Object(document)
}

/// Their selections, with the causes of all of them.
fn selections(read: Vec<Report<'_>>) -> Result<regenerate::Report, Faults> {
    let mut faults = Faults::default();
    let mut reports = Vec::new();
    for Report { name, document, .. } in read {
        let report = serde_json::from_value(Value::Object(document)).map_err(|error| foreign(&error.to_string()));
        reports.extend(faults.keep(report, &Place::file(name)));
    }
    let mut reports = faults.or(reports)?.into_iter();
    let first = reports.next().ok_or_else(Faults::default)?;
    Ok(regenerate::join(first, reports)?)
}
