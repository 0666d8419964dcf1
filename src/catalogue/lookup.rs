//! Finding the fact that holds: best basis, nearest condition, interpolated over temperature.

use crate::evidence::{Basis, FactId, Spread};

use super::{Catalogue, Course, Property, Subject};

/// A fact found for a use: its spread there and what it rests on.
#[derive(Clone, Debug)]
pub struct Found {
    /// The value and its spread at the temperature asked for.
    pub spread: Spread,
    /// The weakest standing among the facts used.
    pub basis: Basis,
    /// True if it was carried beyond the temperatures it was taken at.
    pub extrapolated: bool,
    /// The facts used: one, or the two neighbours of an interpolation.
    pub facts: [Option<FactId>; 2],
}

/// How far from its one temperature, in K, a fact that varies still counts as taken there.
const NEAR: f64 = 5.0;

/// What is asked of the pairs of a material and a medium.
#[derive(Clone, Copy, Debug)]
pub struct PairQuery {
    /// A tape, whose rows come before those of its materials, or none.
    pub tape: Option<usize>,
    /// The material.
    pub material: usize,
    /// The medium.
    pub medium: usize,
    /// The property.
    pub property: Property,
}

impl Catalogue {
    /// The fact of a subject and property at a temperature.
    #[must_use]
    pub fn find(&self, subject: Subject, property: Property, at: Option<f64>) -> Option<Found> {
        let ids = self.by_subject.get(&(subject, property))?;
        self.resolve(ids, property, at)
    }

    /// The same of a tape or, where the tape has none, of one of its materials.
    #[must_use]
    pub fn find_on(&self, tape: usize, material: usize, property: Property, at: Option<f64>) -> Option<Found> {
        self.find(Subject::Tape(tape), property, at).or_else(|| self.find(Subject::Material(material), property, at))
    }

    /// True if a tape has facts of its own beyond its sheet, so that it shares no cell by material.
    #[must_use]
    pub fn tape_overrides(&self, tape: usize) -> bool {
        self.overriding.get(tape).copied().unwrap_or(false)
    }

    /// All rows of a pair, those of the tape first if it has any.
    #[must_use]
    pub fn pair_rows(&self, query: PairQuery) -> &[FactId] {
        let of = |subject| self.by_pair.get(&(subject, query.medium, query.property)).map_or(&[][..], Vec::as_slice);
        let own = query.tape.map_or(&[][..], |tape| of(Subject::Tape(tape)));
        if own.is_empty() { of(Subject::Material(query.material)) } else { own }
    }

    /// The pair's value at a temperature, by the same rule as a fact's.
    #[must_use]
    pub fn find_pair(&self, query: PairQuery, at: Option<f64>) -> Option<Found> {
        self.resolve(self.pair_rows(query), query.property, at)
    }

    fn resolve(&self, ids: &[FactId], property: Property, at: Option<f64>) -> Option<Found> {
        if let [only] = ids {
            let fact = self.fact(*only);
            let off = fact.temperature.zip(at).is_some_and(|(t, at)| libm::fabs(t - at) > NEAR);
            return Some(Found {
                spread: fact.spread,
                basis: fact.basis,
                extrapolated: off && property.spec().course != Course::Steady,
                facts: [Some(*only), None],
            });
        }
        let best = ids.iter().map(|id| self.fact(*id).basis).min()?;
        let distance = |id: FactId| match (self.fact(id).temperature, at) {
            (Some(t), Some(at)) => libm::fabs(t - at),
            _ => 0.0,
        };
        let nearest =
            ids.iter().copied().filter(|id| self.fact(*id).basis == best).min_by(|a, b| {
                distance(*a).total_cmp(&distance(*b)).then_with(|| self.order(*a).cmp(&self.order(*b)))
            })?;
        let single = |extrapolated| Found {
            spread: self.fact(nearest).spread,
            basis: best,
            extrapolated,
            facts: [Some(nearest), None],
        };
        let Some(at) = at else { return Some(single(false)) };
        let condition = &self.fact(nearest).condition;
        let mut series: Vec<FactId> = ids
            .iter()
            .copied()
            .filter(|id| self.fact(*id).basis == best && self.fact(*id).condition == *condition)
            .filter(|id| self.fact(*id).temperature.is_some())
            .collect();
        series.sort_by(|a, b| {
            self.temperature(*a).total_cmp(&self.temperature(*b)).then_with(|| self.order(*a).cmp(&self.order(*b)))
        });
        let course = property.spec().course;
        if series.len() < 2 {
            return Some(single(course != Course::Steady && distance(nearest) > NEAR));
        }
        let above = series.iter().position(|id| self.temperature(*id) >= at);
        match above {
            Some(0) => Some(single(self.temperature(series[0]) - at > NEAR)),
            None => Some(single(at - self.temperature(series[series.len() - 1]) > NEAR)),
            Some(upper) => {
                let (a, b) = (series[upper - 1], series[upper]);
                let (ta, tb) = (self.temperature(a), self.temperature(b));
                let share = if tb > ta { (at - ta) / (tb - ta) } else { 0.0 };
                let spread = between(&self.fact(a).spread, &self.fact(b).spread, share, course);
                Some(Found { spread, basis: best, extrapolated: false, facts: [Some(a), Some(b)] })
            }
        }
    }

    fn temperature(&self, id: FactId) -> f64 {
        self.fact(id).temperature.unwrap_or(0.0)
    }

    /// An order of facts that does not depend on the order of rows.
    fn order(&self, id: FactId) -> (&str, &str, &str) {
        let fact = self.fact(id);
        (&fact.condition, &fact.written, &fact.source)
    }
}

fn between(a: &Spread, b: &Spread, share: f64, course: Course) -> Spread {
    let mix = |x: f64, y: f64| {
        if course == Course::Logarithmic && x > 0.0 && y > 0.0 {
            libm::exp(libm::log(x) + share * (libm::log(y) - libm::log(x)))
        } else {
            x + share * (y - x)
        }
    };
    Spread { value: mix(a.value, b.value), low: mix(a.low, b.low), high: mix(a.high, b.high), ..*a }
}
