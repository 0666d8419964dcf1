//! A selection as it is signed: what was consulted and what was decided, as canonical text.
//!
//! A data change is judged by these texts: what moved the evidence and left the decision restates a
//! selection, what moved the decision overturns it. Places in files, notes and the way a number is
//! written are in neither.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::catalogue::{Catalogue, Criterion, Fact, Limits, Subject};
use crate::enquiry::Enquiry;
use crate::expand::Plan;
use crate::explain::margin_words;
use crate::fault::Fault;
use crate::judge::{Finding, Standing, Verdict};
use crate::quantity::canonical;
use crate::rank::{self, Order, Ranked, proposed};
use crate::record::{self, FORM, Reserve, Selection, sha256};
use crate::settle;

/// One selection, judged.
#[derive(Clone, Debug)]
pub struct Judged {
    /// What is signed of it.
    pub selection: Selection,
    /// What was consulted.
    pub evidence: String,
    /// What was decided.
    pub decision: String,
}

/// What all selections of a plan share.
pub struct Judge<'p> {
    plan: &'p Plan<'p>,
    order: Order<'p>,
    /// Digests of what every enquiry consults.
    common: BTreeMap<&'static str, String>,
    /// The facts and pairs of each medium.
    media: Vec<String>,
    /// The criteria that each enquiry asks.
    asked: Vec<BTreeSet<usize>>,
}

#[derive(Serialize)]
struct Evidence<'a> {
    form: &'static str,
    enquiry: &'a str,
    common: &'a BTreeMap<&'static str, String>,
    criteria: BTreeMap<&'a str, String>,
    media: BTreeMap<&'a str, &'a str>,
}

#[derive(Serialize)]
struct Decision<'a> {
    form: &'static str,
    enquiry: &'a str,
    chosen: &'a str,
    proposed: Option<&'a str>,
    verdict: &'a str,
    open_hazards: u32,
    reserves: &'a [Reserve],
    conditions: &'a [String],
    open_points: &'a [String],
    /// Candidates that are not ruled out, in order, with verdict and open hazard findings.
    order: Vec<String>,
    /// Those that are.
    ruled_out: Vec<&'a str>,
}

impl<'p> Judge<'p> {
    /// Gathers what all selections of a plan share.
    ///
    /// # Errors
    /// Never, for a catalogue that was built.
    pub fn new(plan: &'p Plan<'p>) -> Result<Judge<'p>, Fault> {
        let catalogue = plan.catalogue;
        let facts = Facts::of(catalogue);
        let media = (0..catalogue.materials.len()).map(|m| facts.medium(catalogue, m)).collect::<Result<_, _>>()?;
        let mut asked = vec![BTreeSet::new(); plan.enquiries.len()];
        for group in &plan.groups {
            for (criterion, asks) in group.criteria.iter().zip(&group.asks) {
                for ask in asks {
                    asked[ask.enquiry].insert(*criterion);
                }
            }
        }
        Ok(Judge { plan, order: Order::new(plan), common: common(catalogue, &facts)?, media, asked })
    }

    /// The candidates of one enquiry, best first.
    #[must_use]
    pub fn order(&self, enquiry: usize, standings: &[Standing]) -> Vec<Ranked> {
        self.order.of(enquiry, standings)
    }

    /// The selection of a tape for one enquiry; none if the tape is no candidate.
    ///
    /// # Errors
    /// Never, for a plan that was made.
    pub fn judged(&self, enquiry: usize, standings: &[Standing], tape: &str) -> Result<Option<Judged>, Fault> {
        let position = self.plan.position(tape);
        let findings = position.map(|position| self.plan.findings_of(enquiry, position)).unwrap_or_default();
        self.judged_by(enquiry, standings, tape, &findings)
    }

    /// The same by findings of the tape that are known.
    ///
    /// # Errors
    /// As [`Judge::judged`].
    pub fn judged_by(
        &self,
        enquiry: usize,
        standings: &[Standing],
        tape: &str,
        findings: &[Finding],
    ) -> Result<Option<Judged>, Fault> {
        let catalogue = self.plan.catalogue;
        let id = |ranked: &Ranked| catalogue.tapes[ranked.tape].id.as_str();
        let order = self.order(enquiry, standings);
        let Some(chosen) = order.iter().find(|ranked| id(ranked) == tape) else { return Ok(None) };
        let standing = rank::standing(catalogue, findings);
        let selection = Selection {
            tape: tape.to_owned(),
            tape_revision: catalogue.tapes[chosen.tape].revision.clone(),
            verdict: standing.verdict.text().to_owned(),
            open_hazards: standing.open_hazards,
            proposed: proposed(&order).map(|first| id(first).to_owned()),
            reserves: reserves(catalogue, &self.plan.enquiries[enquiry], findings),
            conditions: conditions(catalogue, findings),
            open_points: open_points(catalogue, &self.plan.enquiries[enquiry], findings),
        };
        let in_order = |r: &Ranked| format!("{} {} {}", id(r), r.standing.verdict.text(), r.standing.open_hazards);
        let out = |r: &&Ranked| r.standing.is_out();
        let mut ruled_out: Vec<&str> = order.iter().filter(out).map(id).collect();
        ruled_out.sort_unstable();
        let decision = Decision {
            form: FORM,
            enquiry: &self.plan.enquiries[enquiry].number,
            chosen: tape,
            proposed: selection.proposed.as_deref(),
            verdict: &selection.verdict,
            open_hazards: selection.open_hazards,
            reserves: &selection.reserves,
            conditions: &selection.conditions,
            open_points: &selection.open_points,
            order: order.iter().filter(|r| !out(r)).map(in_order).collect(),
            ruled_out,
        };
        let decision = record::canonical(&decision)?;
        Ok(Some(Judged { evidence: self.evidence(enquiry)?, decision, selection }))
    }

    fn evidence(&self, number: usize) -> Result<String, Fault> {
        let (catalogue, enquiry) = (self.plan.catalogue, &self.plan.enquiries[number]);
        let mut criteria = BTreeMap::new();
        for index in &self.asked[number] {
            let criterion = &catalogue.criteria[*index];
            criteria.insert(criterion.id.as_str(), sha256(criterion_text(criterion, enquiry)?.as_bytes()));
        }
        let mut media = BTreeMap::new();
        for exposure in &enquiry.exposures {
            for medium in [Some(exposure.medium), catalogue.materials[exposure.medium].cures_to].into_iter().flatten() {
                media.insert(catalogue.materials[medium].id.as_str(), self.media[medium].as_str());
            }
        }
        record::canonical(&Evidence { form: FORM, enquiry: &enquiry.number, common: &self.common, criteria, media })
    }
}

/// The tapes, their materials, the gases, the preferences and cautions: what every enquiry consults.
fn common(catalogue: &Catalogue, facts: &Facts) -> Result<BTreeMap<&'static str, String>, Fault> {
    let mut materials = BTreeSet::new();
    let mut tapes = Vec::new();
    for (index, tape) in catalogue.tapes.iter().enumerate().filter(|(_, tape)| tape.active) {
        materials.extend([tape.backing, tape.adhesive]);
        materials.extend([tape.backing, tape.adhesive].iter().filter_map(|m| catalogue.materials[*m].cures_to));
        let texts: Vec<String> = tape
            .texts
            .iter()
            .filter(|(column, _)| **column != "note")
            .map(|(column, (text, _))| format!("{column}={text}"))
            .collect();
        let name = |material: usize| catalogue.materials[material].id.as_str();
        tapes.push((
            (&tape.id, &tape.revision, name(tape.backing), name(tape.adhesive)),
            (tape.thermosetting, tape.coated_sides, &tape.systems, tape.basis.text(), &tape.source),
            (texts, facts.own.get(&Subject::Tape(index))),
        ));
    }
    let gases = (0..catalogue.materials.len()).filter(|m| catalogue.materials[*m].kind == "gas");
    materials.extend(gases);
    let named: Vec<_> = materials
        .iter()
        .map(|index| {
            let material = &catalogue.materials[*index];
            (&material.id, material.kind, &material.family, facts.own.get(&Subject::Material(*index)))
        })
        .collect();
    let preferences: Vec<_> = catalogue.preferences.iter().map(|p| (&p.function, &p.traits)).collect();
    let cautions: Vec<_> = catalogue.cautions.iter().map(|c| (&c.id, &c.trigger, &c.hazard, &c.text)).collect();
    let digest = |text: String| sha256(text.as_bytes());
    Ok(BTreeMap::from([
        ("tapes", digest(record::canonical(&tapes)?)),
        ("materials", digest(record::canonical(&named)?)),
        ("preferences", digest(record::canonical(&preferences)?)),
        ("cautions", digest(record::canonical(&cautions)?)),
    ]))
}

/// Facts as text, sorted, so that the order of rows does not matter.
#[derive(Default)]
struct Facts {
    /// Of tapes and materials by themselves.
    own: BTreeMap<Subject, BTreeSet<String>>,
    /// Of everything in a medium.
    within: BTreeMap<usize, BTreeSet<String>>,
}

impl Facts {
    fn of(catalogue: &Catalogue) -> Facts {
        let mut facts = Facts::default();
        for fact in &catalogue.facts {
            let text = fact_text(catalogue, fact);
            match fact.medium {
                Some(medium) => facts.within.entry(medium).or_default().insert(text),
                None => facts.own.entry(fact.subject).or_default().insert(text),
            };
        }
        facts
    }

    /// The digest of what is known of a medium, and of every material in it.
    fn medium(&self, catalogue: &Catalogue, index: usize) -> Result<String, Fault> {
        let material = &catalogue.materials[index];
        let of = (self.own.get(&Subject::Material(index)), self.within.get(&index));
        let text = record::canonical(&(&material.id, material.kind, &material.family, of))?;
        Ok(sha256(text.as_bytes()))
    }
}

fn fact_text(catalogue: &Catalogue, fact: &Fact) -> String {
    let number = |x: Option<f64>| x.map_or_else(String::new, canonical);
    [
        catalogue.subject_id(fact.subject),
        fact.property.name(),
        fact.medium.map_or("", |m| catalogue.materials[m].id.as_str()),
        if fact.on_medium { "on-medium" } else { "" },
        &canonical(fact.spread.value),
        &canonical(fact.spread.low),
        &canonical(fact.spread.high),
        &number(fact.temperature),
        &fact.condition,
        &number(fact.duration),
        &number(fact.polymer_fraction),
        &number(fact.humidity),
        &fact.atmosphere,
        fact.basis.text(),
        &fact.source,
    ]
    .join(" | ")
}

/// A criterion as it is asked of an enquiry.
fn criterion_text(criterion: &Criterion, enquiry: &Enquiry) -> Result<String, Fault> {
    let held = crate::expand::limits(criterion, enquiry);
    let limits = held.map(|Limits { limit, outer }| (canonical(limit), canonical(outer)));
    let settled = &criterion.settled_by;
    let text = record::canonical(&(
        (&criterion.id, &criterion.measure, criterion.hazard, criterion.scale, criterion.higher_is_better),
        (limits, &criterion.condition, &settled.standard, &settled.test, settled.specimens, &settled.duration),
        (&criterion.basis, &criterion.source),
    ))?;
    // What not every criterion has is not in the text of those without it.
    let others = criterion.overrides.iter().filter_map(|o| Some((o, o.settled_by.as_ref()?)));
    let others: Vec<_> =
        others.map(|(o, test)| ((&o.equipment, &o.function, &o.voltage, &o.stage, &o.medium), test.line())).collect();
    if settled.pass.is_empty() && others.is_empty() && !criterion.condition_settles {
        return Ok(text);
    }
    Ok(text + &record::canonical(&(criterion.condition_settles, &settled.pass, others))?)
}

fn reserves(catalogue: &Catalogue, enquiry: &Enquiry, findings: &[Finding]) -> Vec<Reserve> {
    let asked = findings.iter().filter(|finding| finding.verdict != Verdict::NotAsked);
    asked
        .map(|finding| Reserve {
            criterion: catalogue.criteria[finding.criterion].id.clone(),
            exposure: finding.exposure.map(|x| enquiry.exposures[x].name.clone()).unwrap_or_default(),
            verdict: finding.verdict.text().to_owned(),
            margin: margin_words(finding),
        })
        .collect()
}

fn conditions(catalogue: &Catalogue, findings: &[Finding]) -> Vec<String> {
    let mut conditions: Vec<String> = Vec::new();
    for text in findings.iter().filter_map(|finding| settle::condition(catalogue, finding)) {
        if !conditions.iter().any(|known| known == text) {
            conditions.push(text.to_owned());
        }
    }
    conditions
}

fn open_points(catalogue: &Catalogue, enquiry: &Enquiry, findings: &[Finding]) -> Vec<String> {
    settle::tests(catalogue, enquiry, findings)
        .iter()
        .map(|test| format!("{} ({})", test.test, test.standard))
        .collect()
}
