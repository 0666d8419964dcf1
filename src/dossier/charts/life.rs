//! Life used, load step by load step.

use schemars::JsonSchema;
use serde::Serialize;

use crate::dossier::view::Case;
use crate::enquiry::{Enquiry, LoadStep};
use crate::measure;
use crate::rank::Ranked;

use super::axis::{Tick, even_ticks, rounded};
use super::{asked_of, finding};

/// Life used by each load step.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Lives {
    /// What to see.
    pub caption: String,
    /// The load steps, and the bakes.
    pub steps: Vec<String>,
    /// One row of bars a tape.
    pub panels: Vec<LifePanel>,
    /// Marks of the axis.
    pub ticks: Vec<Tick>,
    /// Those of the limit and the outer limit that lie on the axis.
    pub limits: Vec<f64>,
    /// What the picture shows.
    pub alt: String,
}

/// One tape's life used.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LifePanel {
    /// The tape.
    pub tape: String,
    /// The share of the axis each step takes.
    pub bars: Vec<f64>,
    /// The same as text.
    pub texts: Vec<String>,
    /// All of it.
    pub total: String,
}

pub(super) fn lives(case: &Case<'_>) -> Option<Lives> {
    let l = case.language;
    let measure = measure::find("thermal-life")?;
    let tapes: Vec<&Ranked> = case
        .short_list()
        .iter()
        .filter(|r| finding(case, r, measure.id, None).is_some_and(|f| f.value.is_some()))
        .collect();
    let limits = finding(case, tapes.first()?, measure.id, None)?.limits?;
    let profile = &case.enquiry.duty.load_profile;
    let only = |steps: &[LoadStep], bakes: bool| {
        let mut moved = case.enquiry.clone();
        moved.duty.load_profile = steps.to_vec();
        if !bakes {
            moved.exposures.iter_mut().for_each(|x| x.cure = false);
        }
        moved
    };
    let baked = case.enquiry.exposures.iter().any(|x| x.cure);
    let mut cases: Vec<(String, Enquiry)> = profile
        .iter()
        .map(|s| (format!("{}, {}", l.quantity(s.temperature), l.percent(s.share)), only(&[*s], false)))
        .collect();
    if baked {
        cases.push((l.text("charts.bakes").to_owned(), only(&[], true)));
    }
    let used: Vec<Vec<f64>> = tapes
        .iter()
        .map(|r| cases.iter().map(|(_, e)| asked_of(case, measure, e, r.tape, None).map_or(0.0, |p| p.x50)).collect())
        .collect();
    // The longest bar fills the axis, unless it is beyond twice the outer limit.
    let most = used.iter().flatten().fold(0.0, |most: f64, bar| most.max(*bar));
    let top = most.min(limits.outer * 2.0) * 1.1;
    if top <= 0.0 {
        return None;
    }
    let x = |v: f64| rounded((v / top).clamp(0.0, 1.0));
    let panels: Vec<LifePanel> = tapes
        .iter()
        .zip(&used)
        .map(|(r, bars)| LifePanel {
            tape: case.tape_id(r.tape).to_owned(),
            bars: bars.iter().map(|v| x(*v)).collect(),
            texts: bars.iter().map(|v| l.percent(*v)).collect(),
            total: l.percent(bars.iter().sum()),
        })
        .collect();
    let totals: Vec<String> = panels.iter().map(|p| format!("{} {}", p.tape, p.total)).collect();
    let names = [
        ("life", l.quantity(case.enquiry.duty.life)),
        ("totals", l.list(&totals)),
        ("limit", l.percent(limits.limit)),
        ("outer", l.percent(limits.outer)),
    ];
    let names: Vec<(&str, &str)> = names.iter().map(|(n, v)| (*n, v.as_str())).collect();
    Some(Lives {
        caption: l.say("charts.life_caption", &names),
        alt: l.say("charts.life_alt", &names),
        steps: cases.into_iter().map(|(name, _)| name).collect(),
        panels,
        ticks: even_ticks(l, 0.0, top).into_iter().map(|(v, _)| Tick { at: x(v), text: l.percent(v) }).collect(),
        limits: [limits.limit, limits.outer].into_iter().filter(|v| *v < top).map(x).collect(),
    })
}
