//! One computation by itself: the table behind `lapwise model`.
//!
//! A row of the table is a card, the results, and a function that asks for its arguments and calls
//! a model. The function is the only place that knows the arguments: asked without any, it leaves
//! behind the list that [`describe`] prints.

use std::collections::BTreeMap;
use std::fmt;

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults, nearest};
use crate::models::affinity::{self, Chi, Hansen};
use crate::models::diffusion::{self, Faces};
use crate::models::discharge::{self, Gap};
use crate::models::paschen::{self, Gas};
use crate::models::swelling::{self, Constraint, Form, Network};
use crate::models::wrap::{self, Lap};
use crate::models::{Bound, Card, Refusal};
use crate::models::{acceleration, ageing, atmosphere, breakdown, hydrolysis, layers, peel, water, wicking};
use crate::quantity::{
    CONTENT, DIFFERENCE, DIFFUSIVITY, FIELD_STRENGTH, FORCE_PER_LENGTH, FRACTION, Fraction, KINDS, Kind, LENGTH,
    Length, MOLAR_ENERGY, PRESSURE, SCISSION_RATE, SOLUBILITY_PARAMETER, SolubilityParameter, TEMPERATURE, TIME,
    Temperature, TemperatureDifference, Typed, Unit, VOLTAGE, significant,
};

/// One result: its name, the kind of its SI number, and the unit it is printed in.
type Column = (&'static str, &'static Kind, &'static str);

struct Model {
    card: &'static Card,
    results: &'static [Column],
    run: fn(&mut Arguments) -> Computed,
}

static MODELS: &[Model] = &[
    Model {
        card: &affinity::DISTANCE,
        results: &[("distance", &SOLUBILITY_PARAMETER, "MPa^0.5"), ("relative", &FRACTION, "1")],
        run: |a| {
            let (polymer, liquid) = (a.hansen("polymer"), a.hansen("liquid"));
            let radius = a.solubility("radius", "of the polymer's sphere");
            let distance = affinity::distance(polymer?, liquid?)?;
            let relative = affinity::relative_distance(distance, radius?)?;
            Ok(Outcome::new([distance.si(), relative]))
        },
    },
    Model {
        card: &affinity::INTERACTION,
        results: &[("chi", &FRACTION, "1")],
        run: |a| {
            let (polymer, liquid) = (a.hansen("polymer"), a.hansen("liquid"));
            let volume = a.need("molar-volume", "of the liquid");
            let temperature = a.need("temperature", "in RT only; the Hansen values serve as given");
            let (slope, offset) = (a.plain_or("slope", "0.6", ""), a.plain_or("offset", "0", ""));
            let (volume, temperature) = (volume?, temperature?);
            let chi = affinity::interaction(polymer?, liquid?, volume, temperature, slope?, offset?)?;
            Ok(Outcome::new([chi])
                .within(&affinity::VOLUME_RANGE, volume.si())
                .within(&affinity::AFFINITY_TEMPERATURE, temperature.si()))
        },
    },
    Model {
        card: &swelling::SWELLING,
        results: &[("polymer-fraction", &FRACTION, "1"), ("ratio", &FRACTION, "1"), ("dissolves", &FRACTION, "1")],
        run: |a| {
            let volume = a.need("molar-volume", "of the liquid");
            let crosslinks = a.need("crosslink-density", "of the polymer, dry; 0 for none");
            let chi = a.chi();
            let form = a.word("form", &[("affine", Form::Affine), ("phantom", Form::Phantom)], "of the network");
            let constraint = a.word(
                "constraint",
                &[("free", Constraint::Free), ("sheet", Constraint::Sheet)],
                "a sheet swells in thickness only",
            );
            let activity = a.plain_or("activity", "1", "of the liquid");
            let network = Network { crosslinks: crosslinks?, form: form?, constraint: constraint? };
            let found = swelling::equilibrium(network, volume?, &chi?, activity?)?;
            let results = [Some(found.polymer_fraction), found.ratio, Some(f64::from(u8::from(found.dissolves)))];
            let outcome = Outcome::of(results.to_vec()).within(&swelling::CROSSLINK_RANGE, network.crosslinks.si());
            Ok(if found.dissolves {
                outcome.note(
                    "no crosslinks hold the polymer and the liquid mixes with it: it dissolves, so there is no ratio",
                )
            } else {
                outcome.within(&swelling::FRACTION_RANGE, found.polymer_fraction)
            })
        },
    },
    Model {
        card: &diffusion::DIFFUSIVITY,
        results: &[("diffusivity", &DIFFUSIVITY, "m2/s")],
        run: |a| {
            let (reference, at) = (a.need("reference", "diffusivity measured"), a.need("at", "temperature of that"));
            let (energy, temperature) = (a.need("energy", "of activation"), a.need("temperature", "wanted"));
            let (at, temperature): (Temperature, Temperature) = (at?, temperature?);
            let diffusivity = diffusion::diffusivity(reference?, at, energy?, temperature)?;
            Ok(Outcome::new([diffusivity.si()]).within(&diffusion::DIFFUSIVITY_SPAN, temperature.si() - at.si()))
        },
    },
    Model {
        card: &diffusion::UPTAKE,
        results: &[("fraction", &FRACTION, "1")],
        run: |a| {
            let (diffusivity, thickness) = (a.need("diffusivity", ""), a.need("thickness", "of the whole sheet"));
            let (time, faces) = (a.need("time", ""), a.faces());
            Ok(Outcome::new([diffusion::sheet_uptake(diffusivity?, thickness?, time?, faces?)?]))
        },
    },
    Model {
        card: &diffusion::TIME,
        results: &[("time", &TIME, "s")],
        run: |a| {
            let (diffusivity, thickness) = (a.need("diffusivity", ""), a.need("thickness", "of the whole sheet"));
            let (fraction, faces) = (a.plain("fraction", "of the final uptake"), a.faces());
            Ok(Outcome::new([diffusion::sheet_time(diffusivity?, thickness?, fraction?, faces?)?.si()]))
        },
    },
    Model {
        card: &wicking::WICKING,
        results: &[("depth", &LENGTH, "m")],
        run: |a| {
            let (radius, tension) = (a.need("radius", "of the pores"), a.need("tension", "of the liquid's surface"));
            let (angle, viscosity) = (a.need("angle", "of contact"), a.need("viscosity", "of the liquid"));
            let (time, pressure) = (a.need("time", ""), a.or("pressure", "0 kPa", "driving difference"));
            Ok(Outcome::new([wicking::depth(radius?, tension?, angle?, viscosity?, time?, pressure?)?.si()]))
        },
    },
    Model {
        card: &ageing::LIFE,
        results: &[("life", &TIME, "h")],
        run: |a| {
            let (index, halving) = a.endurance();
            let temperature = a.need("temperature", "steady, in use");
            let (index, temperature) = (index?, temperature?);
            let life = ageing::life(index, halving?, temperature)?;
            Ok(Outcome::new([life.si()]).within(&ageing::LIFE_SPAN, temperature.si() - index.si()))
        },
    },
    Model {
        card: &ageing::FIT,
        results: &[("index", &TEMPERATURE, "degC"), ("halving", &DIFFERENCE, "K"), ("energy", &MOLAR_ENERGY, "kJ/mol")],
        run: |a| {
            let points = a.pairs("points", '@', "time to the end point@temperature")?;
            let fit = ageing::fit(&points)?;
            let mut kelvins: Vec<f64> = points.iter().map(|(_, temperature)| temperature.si()).collect();
            kelvins.sort_by(f64::total_cmp);
            kelvins.dedup();
            let temperatures = kelvins.iter().map(|_| 1.0).sum();
            Ok(Outcome::new([fit.index.si(), fit.halving.si(), fit.energy.si()])
                .within(&ageing::FIT_POINTS, temperatures)
                .within(&ageing::FIT_EXTRAPOLATION, fit.extrapolation.si()))
        },
    },
    Model {
        card: &ageing::LIFE_USED,
        results: &[("fraction", &FRACTION, "1")],
        run: |a| {
            let (index, halving) = a.endurance();
            let steps = a.pairs("steps", '@', "time@temperature");
            let (index, steps) = (index?, steps?);
            let used = ageing::life_used(index, halving?, &steps)?;
            Ok(steps.iter().fold(Outcome::new([used]), |outcome, (_, temperature)| {
                outcome.within(&ageing::LIFE_SPAN, temperature.si() - index.si())
            }))
        },
    },
    Model {
        card: &acceleration::ACCELERATION,
        results: &[("factor", &FRACTION, "1")],
        run: |a| {
            let slope = a.need("slope", "B of the law");
            let (reference, temperature) = (a.need("reference", "temperature of factor 1"), a.need("temperature", ""));
            let zero = a.plain_or("zero", "273.15", "kelvin that the source gives 0 degC");
            let shift = zero? - 273.15;
            let counted = |t: Temperature| Temperature::from_si(t.si() + shift);
            Ok(Outcome::new([acceleration::factor(slope?, counted(reference?), counted(temperature?))?]))
        },
    },
    Model {
        card: &acceleration::STEP,
        results: &[("factor", &FRACTION, "1")],
        run: |a| {
            let (reference, step) = (a.need("reference", "temperature of factor 1"), a.need("step", "that doubles it"));
            let temperature: Temperature = a.need("temperature", "")?;
            let factor = acceleration::per_step(reference?, step?, temperature)?;
            Ok(Outcome::new([factor]).within(&acceleration::STEP_TEMPERATURE, temperature.si()))
        },
    },
    Model {
        card: &atmosphere::PRESSURE,
        results: &[("pressure", &PRESSURE, "Pa")],
        run: |a| {
            let altitude: Length = a.need("altitude", "above sea level")?;
            let pressure = atmosphere::pressure(altitude)?;
            Ok(Outcome::new([pressure.si()]).within(&atmosphere::ALTITUDE_RANGE, altitude.si()))
        },
    },
    Model {
        card: &paschen::TOWNSEND,
        results: &[("voltage", &VOLTAGE, "V")],
        run: |a| {
            let (gap, pressure, temperature) =
                (a.need("gap", ""), a.need("pressure", "of the air"), a.need("temperature", ""));
            let uniform = a.word("form", &[("townsend", false), ("uniform", true)], "of the law");
            let (gap, pressure, temperature) = (gap?, pressure?, temperature?);
            if uniform? {
                let voltage = paschen::uniform(pressure, gap, temperature)?;
                let normal = paschen::normal_gap(pressure, gap, temperature)?;
                return Ok(Outcome::new([voltage.si()])
                    .within(&paschen::UNIFORM_GAP, normal.si())
                    .card(&paschen::UNIFORM));
            }
            let voltage = paschen::townsend(Gas::AIR, pressure, gap, temperature)?;
            let field = paschen::field_over_pressure(voltage, pressure, gap, temperature)?;
            Ok(Outcome::new([voltage.si()]).within(&paschen::FIELD_RANGE, field.si()))
        },
    },
    Model {
        card: &layers::SERIES,
        results: &[("field-…", &FIELD_STRENGTH, "kV/mm"), ("voltage-…", &VOLTAGE, "V")],
        run: |a| {
            let voltage = a.need("voltage", "across all layers");
            let stack = a.layers("layers");
            let stress = layers::alternating(voltage?, &stack?)?;
            let fields = stress.iter().map(|s| s.field.si());
            Ok(Outcome::new(fields.chain(stress.iter().map(|s| s.voltage.si()))))
        },
    },
    Model {
        card: &discharge::INCEPTION,
        results: &[("voltage", &VOLTAGE, "V"), ("worst-gap", &LENGTH, "m")],
        run: |a| {
            let (solid, gap) = (a.layers("solid"), a.need("gap", "of air"));
            let (pressure, temperature) = (a.need("pressure", "of the air, lowest"), a.need("temperature", "hottest"));
            let shape = a.word("shape", &[("flat", Gap::Flat), ("wedge", Gap::Wedge)], "of the gap");
            let (solid, gap) = (layers::equivalent_gap(&solid?)?, gap?);
            let found = discharge::inception(Gas::AIR, solid, gap, pressure?, temperature?, shape?)?;
            Ok(Outcome::new([found.voltage.si(), found.worst_gap.si()]).within(&discharge::INCEPTION_GAP, gap.si()))
        },
    },
    Model {
        card: &breakdown::STRENGTH,
        results: &[("strength", &FIELD_STRENGTH, "kV/mm"), ("voltage", &VOLTAGE, "kV")],
        run: |a| {
            let (strength, at) = (a.need("strength", "measured"), a.need("at", "thickness of that"));
            let (thickness, exponent) = (a.need("thickness", "wanted"), a.plain("exponent", "0.3 to 0.5 for films"));
            let (at, thickness, exponent): (Length, Length, f64) = (at?, thickness?, exponent?);
            let found = breakdown::at_thickness(strength?, at, thickness, exponent)?;
            Ok(Outcome::new([found.field.si(), found.voltage.si()])
                .within(&breakdown::EXPONENT_RANGE, exponent)
                .within(&breakdown::STRENGTH_THICKNESS, at.si())
                .within(&breakdown::STRENGTH_THICKNESS, thickness.si())
                .within(&breakdown::THICKNESS_RATIO, thickness.si() / at.si()))
        },
    },
    Model {
        card: &water::SATURATION,
        results: &[("pressure", &PRESSURE, "Pa")],
        run: |a| {
            let temperature = a.need("temperature", "")?;
            let pressure = water::saturation_pressure(temperature)?;
            Ok(Outcome::new([pressure.si()]).within(&water::TEMPERATURE_RANGE, temperature.si()))
        },
    },
    Model {
        card: &water::SOLUBILITY,
        results: &[("content", &CONTENT, "mg/kg")],
        run: |a| {
            let (constant, slope) = (a.plain("a", "7.0895 for mineral oil"), a.need("b", "1567 K for mineral oil"));
            let temperature = a.need("temperature", "");
            let temperature = temperature?;
            let content = water::solubility(constant?, slope?, temperature)?;
            Ok(Outcome::new([content.si()]).within(&water::SOLUBILITY_TEMPERATURE, temperature.si()))
        },
    },
    Model {
        card: &hydrolysis::SCISSION,
        results: &[("scission", &SCISSION_RATE, "mol/kg/s"), ("time", &TIME, "s")],
        run: |a| {
            let (rate, water) = (a.need("rate", "constant k"), a.need("water", "content [W] of the polymer"));
            let (ester, chain) =
                (a.need("ester", "content [E] of links"), a.need("chain", "number average molar mass"));
            let critical = a.may("critical", "molar mass at which it turns brittle; else one cut per chain");
            let (ester, chain, critical) = (ester?, chain?, critical?);
            let scission = hydrolysis::scission_rate(rate?, ester, water?)?;
            let time = hydrolysis::lifetime(scission, chain, critical)?;
            let outcome = Outcome::new([scission.si(), time.si()]);
            let outcome = if time.si() == 0.0 {
                outcome.note("the chains are at or below their critical molar mass from the start")
            } else {
                outcome
            };
            Ok(match hydrolysis::share_cut(ester, chain, critical) {
                Ok(share) => outcome.within(&hydrolysis::CUT_RANGE, share),
                Err(_) => outcome,
            })
        },
    },
    Model {
        card: &wrap::HELICAL,
        results: &[
            ("pitch", &LENGTH, "m"),
            ("turns", &FRACTION, "1"),
            ("tape", &LENGTH, "m"),
            ("layers", &FRACTION, "1"),
            ("layers-minimum", &FRACTION, "1"),
        ],
        run: |a| {
            let (width, overlap) = (a.need("width", "of the tape"), a.plain("overlap", "share of the width"));
            let (circumference, length) = (a.need("circumference", "as given"), a.need("length", "to be wrapped"));
            let (passes, tolerance) = (a.whole_or("passes", "1", ""), a.or("lap-tolerance", "0 mm", "slip of a turn"));
            let lap = Lap { width: width?, overlap: overlap?, passes: passes? };
            let helix = wrap::helix(lap, circumference?, length?)?;
            let least = wrap::layers_minimum(lap, tolerance?)?;
            Ok(Outcome::new([helix.pitch.si(), helix.turns, helix.tape.si(), helix.layers, least]))
        },
    },
    Model {
        card: &wrap::ROLL,
        results: &[("length", &LENGTH, "m"), ("turns", &FRACTION, "1")],
        run: |a| {
            let (outer, core) = (a.need("outer", "diameter of the roll"), a.need("core", "diameter of the core"));
            let thickness = a.need("thickness", "of the tape as wound");
            let roll = wrap::roll(outer?, core?, thickness?)?;
            Ok(Outcome::new([roll.length.si(), roll.turns]))
        },
    },
    Model {
        card: &wrap::SHEAR_LAG,
        results: &[("peak", &FRACTION, "1"), ("transfer", &LENGTH, "mm")],
        run: |a| {
            let (modulus, thickness) = (a.need("modulus", "of the backing"), a.need("thickness", "of the backing"));
            let (shear, layer) = (a.need("shear-modulus", "of the adhesive"), a.need("adhesive", "its thickness"));
            let band = wrap::Band { modulus: modulus?, thickness: thickness?, shear_modulus: shear?, adhesive: layer? };
            let found = wrap::shear_lag(band, a.need("length", "bonded")?)?;
            Ok(Outcome::new([found.peak, found.transfer.si()]))
        },
    },
    Model {
        card: &peel::PEEL,
        results: &[("force", &FORCE_PER_LENGTH, "N/m")],
        run: |a| {
            let (energy, angle) = (a.need("energy", "of adhesion"), a.need("angle", "of peel"));
            let (modulus, thickness) = (a.need("modulus", "of the backing"), a.need("thickness", "of the backing"));
            let (modulus, thickness) = (modulus?, thickness?);
            let force = peel::force(energy?, angle?, modulus, thickness)?;
            Ok(Outcome::new([force.si()]).within(&peel::PEEL_STRAIN, peel::strain(force, modulus, thickness)?))
        },
    },
    Model {
        card: &CONVERT,
        results: &[("value", &FRACTION, "1")],
        run: |a| {
            let value =
                a.ask("value", None, "a value with its unit, such as `25 lbf/in`", "", |text| Ok(text.to_owned()));
            let to = a.ask("to", None, "a unit, such as `N/cm`", "", read_unit);
            let (value, (unit, text)) = (value?, to?);
            let number = a.keep("value", convert(&value, unit))?;
            Ok(Outcome::new([number]).unit(text))
        },
    },
];

/// The card of a conversion of units, which is no model but is asked for like one.
static CONVERT: Card = Card {
    name: "convert",
    summary: "The same quantity in another unit",
    equation: "number · unit = number · unit",
    units: "any that Lapwise reads",
    valid: "exact, by definition of the units; a year is 8766 h",
    bounds: &[],
    sources: &["BIPM SI brochure, 9th ed. 2019; NIST SP 811 for inch, pound-force, kilogram-force, torr"],
};

fn read_unit(text: &str) -> Result<(Unit, String), Fault> {
    let unit = Unit::read(text).map_err(|unread| {
        let near = unread.near().map(|near| format!("did you mean `{near}`?"));
        let remedy = near.unwrap_or_else(|| "write a unit, such as `N/cm`".to_owned());
        Fault::new(Code::UnitUnknown, format!("`{text}`"), "a unit", remedy)
    })?;
    Ok((unit, text.to_owned()))
}

/// A value as written, as a number in another unit of its kind. `10 K` is a difference unless the
/// unit has a zero of its own.
fn convert(value: &str, unit: Unit) -> Result<f64, Fault> {
    let scale = unit.is_scale() && unit.dims == TEMPERATURE.dims;
    let mut kinds: Vec<&'static Kind> = KINDS.iter().copied().filter(|kind| kind.dims == unit.dims).collect();
    kinds.retain(|kind| kind.absolute || !scale);
    kinds.sort_by_key(|kind| kind.absolute);
    let unread =
        Fault::new(Code::UnitKind, format!("`{value}`"), "a quantity that Lapwise works with", "write another unit");
    let read = kinds.into_iter().map(|kind| kind.read(value)).reduce(Result::or).unwrap_or(Err(unread))?;
    Ok(unit.number(read))
}

/// Why a computation stopped.
enum Stop {
    /// Faults were noted.
    Faulty,
    /// The model refused.
    Refused(Refusal),
}

impl From<Refusal> for Stop {
    fn from(refusal: Refusal) -> Self {
        Stop::Refused(refusal)
    }
}

type Read<T> = Result<T, Stop>;
type Computed = Result<Outcome, Stop>;

/// What a row of the table gives back.
struct Outcome {
    /// In SI, in the order of the row's results.
    values: Vec<Option<f64>>,
    /// Another card than the row's, where a form has its own.
    card: Option<&'static Card>,
    /// Another unit than the row's.
    unit: Option<String>,
    outside: Vec<String>,
    notes: Vec<String>,
}

impl Outcome {
    fn of(values: Vec<Option<f64>>) -> Self {
        Outcome { values, card: None, unit: None, outside: Vec::new(), notes: Vec::new() }
    }

    fn new(values: impl IntoIterator<Item = f64>) -> Self {
        Outcome::of(values.into_iter().map(Some).collect())
    }

    fn within(mut self, bound: &Bound, si: f64) -> Self {
        self.outside.extend(bound.check(si));
        self
    }

    fn note(mut self, note: &str) -> Self {
        self.notes.push(note.to_owned());
        self
    }

    fn card(mut self, card: &'static Card) -> Self {
        self.card = Some(card);
        self
    }

    fn unit(mut self, unit: String) -> Self {
        self.unit = Some(unit);
        self
    }
}

/// One argument that a computation asked for.
struct Asked {
    key: &'static str,
    /// What it is, with an example.
    what: String,
    help: &'static str,
    /// What serves when it is not given; empty where it may be left out.
    default: Option<&'static str>,
    /// What served.
    text: String,
}

/// The arguments as given, and what was asked of them.
struct Arguments<'a> {
    model: &'static str,
    given: Vec<(&'a str, &'a str)>,
    asked: Vec<Asked>,
    faults: Faults,
}

/// Stands for an argument that may be left out.
const LEFT_OUT: Option<&str> = Some("");

impl<'a> Arguments<'a> {
    fn new(model: &'static str, arguments: &'a [String]) -> Self {
        let mut new = Arguments { model, given: Vec::new(), asked: Vec::new(), faults: Faults::default() };
        for argument in arguments {
            let Some((key, value)) = argument.split_once('=') else {
                new.fault(
                    argument,
                    Fault::new(
                        Code::ArgumentUnknown,
                        format!("`{argument}`"),
                        "key=value",
                        "write the key, `=` and the value",
                    ),
                );
                continue;
            };
            let key = key.trim();
            if new.given.iter().any(|(known, _)| *known == key) {
                new.fault(
                    key,
                    Fault::new(Code::ArgumentRepeated, format!("`{argument}`"), "each key once", "keep one of them"),
                );
            } else {
                new.given.push((key, value.trim()));
            }
        }
        new
    }

    fn fault(&mut self, key: &str, fault: Fault) {
        self.faults.add(fault.at(Place::argument(format!("model {}", self.model), key)));
    }

    /// The value, or the fault noted at its argument.
    fn keep<T>(&mut self, key: &str, result: Result<T, Fault>) -> Read<T> {
        result.map_err(|fault| {
            self.fault(key, fault);
            Stop::Faulty
        })
    }

    fn has(&self, key: &str) -> bool {
        self.given.iter().any(|(given, _)| *given == key)
    }

    /// Asks for an argument; `default` serves when it is not given.
    fn ask<T>(
        &mut self,
        key: &'static str,
        default: Option<&'static str>,
        what: impl Into<String>,
        help: &'static str,
        read: impl FnOnce(&str) -> Result<T, Fault>,
    ) -> Read<T> {
        let what = what.into();
        let text = self.given.iter().find(|(given, _)| *given == key).map(|(_, text)| *text).or(default);
        let missing = || Fault::new(Code::ArgumentMissing, "nothing", what.clone(), format!("add `{key}=…`"));
        let read = text.ok_or_else(missing).and_then(read);
        self.asked.push(Asked { key, what, help, default, text: text.unwrap_or_default().to_owned() });
        self.keep(key, read)
    }

    fn typed<T: Typed>(&mut self, key: &'static str, default: Option<&'static str>, help: &'static str) -> Read<T> {
        self.ask(key, default, described(T::KIND), help, |text| T::KIND.read(text).map(T::from_si))
    }

    fn need<T: Typed>(&mut self, key: &'static str, help: &'static str) -> Read<T> {
        self.typed(key, None, help)
    }

    fn or<T: Typed>(&mut self, key: &'static str, default: &'static str, help: &'static str) -> Read<T> {
        self.typed(key, Some(default), help)
    }

    /// An argument that may be left out.
    fn maybe<T>(
        &mut self,
        key: &'static str,
        what: String,
        help: &'static str,
        read: impl FnOnce(&str) -> Result<T, Fault>,
    ) -> Read<Option<T>> {
        let given = self.has(key);
        self.ask(key, LEFT_OUT, what, help, |text| given.then(|| read(text)).transpose())
    }

    fn may<T: Typed>(&mut self, key: &'static str, help: &'static str) -> Read<Option<T>> {
        self.maybe(key, described(T::KIND), help, |text| T::KIND.read(text).map(T::from_si))
    }

    fn plain(&mut self, key: &'static str, help: &'static str) -> Read<f64> {
        self.need(key, help).map(Fraction::si)
    }

    fn plain_or(&mut self, key: &'static str, default: &'static str, help: &'static str) -> Read<f64> {
        self.or(key, default, help).map(Fraction::si)
    }

    fn whole_or(&mut self, key: &'static str, default: &'static str, help: &'static str) -> Read<u32> {
        self.ask(key, Some(default), "a whole number, such as `2`", help, |text| {
            text.parse().map_err(|_| {
                Fault::new(Code::NumberUnreadable, format!("`{text}`"), "a whole number", "write digits, such as `2`")
            })
        })
    }

    /// One of some words; the first serves when none is given.
    fn word<T: Copy>(&mut self, key: &'static str, words: &[(&'static str, T)], help: &'static str) -> Read<T> {
        let names: Vec<&str> = words.iter().map(|(name, _)| *name).collect();
        let what = names.join(" or ");
        self.ask(key, names.first().copied(), what.clone(), help, |text| {
            let found = words.iter().find(|(name, _)| *name == text).map(|(_, word)| *word);
            found.ok_or_else(|| Fault::unknown_word(Code::WordUnknown, text, &what, names))
        })
    }

    /// A list of pairs, each split at its last `mark`.
    fn pairs<A: Typed, B: Typed>(&mut self, key: &'static str, mark: char, help: &'static str) -> Read<Vec<(A, B)>> {
        self.ask(key, None, described_pairs::<A, B>(mark), help, |text| read_pairs(text, mark))
    }

    fn layers(&mut self, key: &'static str) -> Read<Vec<(Length, f64)>> {
        let layers = self.pairs::<Length, Fraction>(key, '/', "thickness/relative permittivity")?;
        Ok(layers.into_iter().map(|(thickness, permittivity)| (thickness, permittivity.si())).collect())
    }

    fn faces(&mut self) -> Read<Faces> {
        self.word("faces", &[("2", Faces::Two), ("1", Faces::One)], "that take up")
    }

    fn endurance(&mut self) -> (Read<Temperature>, Read<TemperatureDifference>) {
        (
            self.need("index", "with a life of 20 000 h"),
            self.need("halving", "interval that halves the life at the index"),
        )
    }

    /// A solubility parameter, in MPa^0.5 where no unit is given.
    fn solubility(&mut self, key: &'static str, help: &'static str) -> Read<SolubilityParameter> {
        self.ask(key, None, "a solubility parameter in MPa^0.5, such as `8.1`", help, solubility)
    }

    fn hansen(&mut self, key: &'static str) -> Read<Hansen> {
        const WHAT: &str = "three solubility parameters in MPa^0.5, such as `15.9/0.1/4.7`";
        self.ask(key, None, WHAT, "dispersion/polarity/hydrogen bonds", |text| {
            let parts: Vec<&str> = text.split('/').collect();
            let [d, p, h] = parts[..] else {
                return Err(Fault::new(
                    Code::ValueType,
                    format!("`{text}`"),
                    WHAT,
                    "write the three numbers between slashes",
                ));
            };
            Ok(Hansen { d: solubility(d)?, p: solubility(p)?, h: solubility(h)? })
        })
    }

    /// χ as one number or as points.
    fn chi(&mut self) -> Read<Chi> {
        let one = self.maybe("chi", described(&FRACTION), "the same at every fraction", |text| FRACTION.read(text));
        let what = described_pairs::<Fraction, Fraction>('@');
        let points = self.maybe("chi-points", what, "χ@polymer fraction, straight between; instead of chi", |text| {
            read_pairs::<Fraction, Fraction>(text, '@')
        });
        let fault = |code, found| {
            Fault::new(code, found, "one of `chi` and `chi-points`", "write `chi=0.39` or `chi-points=0.445@0,0.82@1`")
        };
        match (one?, points?) {
            (Some(chi), None) => Ok(Chi::constant(chi)),
            (None, Some(points)) => {
                let points: Vec<_> = points.into_iter().map(|(chi, fraction)| (fraction.si(), chi.si())).collect();
                Ok(Chi::through(&points)?)
            }
            (None, None) => self.keep("chi", Err(fault(Code::ArgumentMissing, "neither"))),
            (Some(_), Some(_)) => self.keep("chi", Err(fault(Code::ArgumentRepeated, "both"))),
        }
    }

    /// Notes a refusal, and each argument given that nothing asked for.
    fn conclude(&mut self, refusal: Option<Refusal>) {
        let known: Vec<&str> = self.asked.iter().map(|asked| asked.key).collect();
        let needed = format!("an argument of `model {}`", self.model);
        for (key, _) in self.given.clone() {
            if !known.contains(&key) {
                self.fault(key, Fault::unknown_word(Code::ArgumentUnknown, key, &needed, known.iter().copied()));
            }
        }
        if let Some(Refusal { input, needed, remedy }) = refusal {
            let text = self.asked.iter().find(|asked| asked.key == input).map(|asked| format!("`{}`", asked.text));
            let found = text.unwrap_or_else(|| "these values together".to_owned());
            self.fault(input, Fault::new(Code::InputImpossible, found, needed, remedy));
        }
    }
}

fn described(kind: &Kind) -> String {
    format!("{}, such as `{}`", kind.name, kind.example)
}

fn described_pairs<A: Typed, B: Typed>(mark: char) -> String {
    format!("pairs, such as `{}{mark}{}`, listed with commas", A::KIND.example, B::KIND.example)
}

fn read_pairs<A: Typed, B: Typed>(text: &str, mark: char) -> Result<Vec<(A, B)>, Fault> {
    let pair = |pair: &str| {
        let (left, right) = pair.rsplit_once(mark).ok_or_else(|| {
            let remedy = format!("put `{mark}` between the two");
            Fault::new(Code::ValueType, format!("`{}`", pair.trim()), described_pairs::<A, B>(mark), remedy)
        })?;
        Ok((A::from_si(A::KIND.read(left)?), B::from_si(B::KIND.read(right)?)))
    };
    text.split(',').map(pair).collect()
}

/// A solubility parameter, in MPa^0.5 where no unit is given.
fn solubility(text: &str) -> Result<SolubilityParameter, Fault> {
    let bare = text.trim().parse::<f64>().is_ok();
    let read =
        if bare { SOLUBILITY_PARAMETER.read(&format!("{text} MPa^0.5")) } else { SOLUBILITY_PARAMETER.read(text) };
    read.map(SolubilityParameter::from_si)
}

/// One printed result.
#[derive(Clone, Debug, PartialEq)]
pub struct Printed {
    /// Its name.
    pub name: String,
    /// Its number in `unit`; none where there is none, or no bound to it.
    pub value: Option<f64>,
    /// The unit.
    pub unit: String,
}

/// A computation that was made.
#[derive(Debug)]
pub struct Calculation {
    /// The card of what was computed.
    pub card: &'static Card,
    /// The name of the model.
    pub model: &'static str,
    /// What served as inputs, as written, defaults included.
    pub inputs: Vec<(&'static str, String)>,
    /// The results.
    pub results: Vec<Printed>,
    /// True if all inputs are where the equation holds.
    pub valid: bool,
    /// What is to be said about it, beginning with why it is not valid.
    pub notes: Vec<String>,
}

impl Calculation {
    fn new(model: &'static Model, asked: Vec<Asked>, outcome: Outcome) -> Self {
        let per_column = (outcome.values.len() / model.results.len()).max(1);
        let valid = outcome.outside.is_empty();
        let mut notes = outcome.outside;
        notes.extend(outcome.notes);
        let mut results = Vec::with_capacity(outcome.values.len());
        for (i, si) in outcome.values.into_iter().enumerate() {
            let (name, kind, unit) = model.results[i / per_column];
            let name = name.replace('…', &(i % per_column + 1).to_string());
            let number = si.and_then(|si| kind.number_in(si, unit));
            if number.is_some_and(|number| !number.is_finite()) {
                notes.push(format!("{name} is beyond all bounds"));
            }
            let unit = outcome.unit.clone().unwrap_or_else(|| unit.to_owned());
            results.push(Printed { name, value: number.filter(|number| number.is_finite()), unit });
        }
        let inputs =
            asked.into_iter().filter(|asked| !asked.text.is_empty()).map(|asked| (asked.key, asked.text)).collect();
        Calculation { card: outcome.card.unwrap_or(model.card), model: model.card.name, inputs, results, valid, notes }
    }
}

/// A calculation as a document.
#[derive(Serialize, JsonSchema)]
pub struct Document<'a> {
    schema: &'static str,
    model: &'static str,
    #[serde(serialize_with = "in_order")]
    #[schemars(with = "BTreeMap<String, String>")]
    inputs: Vec<(&'a str, &'a str)>,
    #[serde(serialize_with = "in_order")]
    #[schemars(with = "BTreeMap<String, Number>")]
    results: Vec<(&'a str, Number<'a>)>,
    valid: bool,
    notes: &'a [String],
    equation: &'a str,
    sources: &'a [&'a str],
}

/// A result with its unit.
#[derive(Serialize, JsonSchema)]
struct Number<'a> {
    value: Option<f64>,
    unit: &'a str,
}

impl Calculation {
    /// The document that says it.
    #[must_use]
    pub fn document(&self) -> Document<'_> {
        Document {
            schema: "lapwise/model/1",
            model: self.model,
            inputs: self.inputs.iter().map(|(key, text)| (*key, text.as_str())).collect(),
            results: self.results.iter().map(|r| (r.name.as_str(), Number { value: r.value, unit: &r.unit })).collect(),
            valid: self.valid,
            notes: &self.notes,
            equation: self.card.equation,
            sources: self.card.sources,
        }
    }
}

/// Pairs as a map, in their order.
fn in_order<V: Serialize, S: Serializer>(pairs: &[(&str, V)], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(pairs.iter().map(|(key, value)| (*key, value)))
}

impl fmt::Display for Calculation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let inputs = self.inputs.iter().map(|(key, _)| *key);
        let names = inputs.chain(self.results.iter().map(|result| result.name.as_str()));
        let width = names.map(|name| name.chars().count()).fold(8, usize::max);
        writeln!(f, "{}: {}\n", self.model, self.card.summary)?;
        for (key, text) in &self.inputs {
            writeln!(f, "  {key:width$}  {text}")?;
        }
        writeln!(f)?;
        for Printed { name, value, unit } in &self.results {
            let number = value.map_or_else(|| "none".to_owned(), |value| significant(value, 6));
            let unit = if unit == "1" { "" } else { unit };
            writeln!(f, "  {}", format!("{name:width$}  {number} {unit}").trim_end())?;
        }
        writeln!(f, "\nequation  {}", self.card.equation)?;
        writeln!(f, "units     {}", self.card.units)?;
        writeln!(f, "valid     {}; {}", if self.valid { "yes" } else { "no" }, self.card.valid)?;
        self.notes.iter().try_for_each(|note| writeln!(f, "note      {note}"))?;
        self.card.sources.iter().try_for_each(|source| writeln!(f, "source    {source}"))
    }
}

/// Why there is no calculation.
#[derive(Debug)]
pub enum Failure {
    /// No model of that name.
    UnknownModel {
        /// What was written.
        name: String,
        /// The name that may have been meant.
        nearest: Option<&'static str>,
    },
    /// Faulty or impossible arguments.
    Faults(Faults),
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::UnknownModel { name, nearest: Some(near) } => {
                write!(f, "no model `{name}`; did you mean `{near}`?")
            }
            Failure::UnknownModel { name, nearest: None } => {
                write!(f, "no model `{name}`; `lapwise model list` names them")
            }
            Failure::Faults(faults) => {
                let texts: Vec<String> = faults.clone().sorted().iter().map(ToString::to_string).collect();
                f.write_str(&texts.join("\n\n"))
            }
        }
    }
}

/// Every model that can be asked for, with a line on what it works out.
pub fn names() -> impl Iterator<Item = (&'static str, &'static str)> {
    MODELS.iter().map(|model| (model.card.name, model.card.summary))
}

fn find(name: &str) -> Option<&'static Model> {
    MODELS.iter().find(|model| model.card.name == name)
}

/// Computes `name` from arguments `key=value`.
///
/// # Errors
/// [`Failure::UnknownModel`] for a name that is not in the table, else every fault of the arguments.
pub fn run(name: &str, arguments: &[String]) -> Result<Calculation, Failure> {
    let Some(model) = find(name) else {
        let nearest = nearest(name, names().map(|(name, _)| name));
        return Err(Failure::UnknownModel { name: name.to_owned(), nearest });
    };
    let mut given = Arguments::new(model.card.name, arguments);
    let computed = (model.run)(&mut given);
    let refusal = match &computed {
        Err(Stop::Refused(refusal)) => Some(*refusal),
        _ => None,
    };
    given.conclude(refusal);
    match computed {
        Ok(outcome) if given.faults.is_empty() => Ok(Calculation::new(model, given.asked, outcome)),
        _ => Err(Failure::Faults(given.faults)),
    }
}

/// What a model takes and gives, for a person to read.
#[must_use]
pub fn describe(name: &str) -> Option<String> {
    use std::fmt::Write;
    let model = find(name)?;
    let mut asked = Arguments::new(model.card.name, &[]);
    // Without arguments nothing is computed, but all of them are asked for.
    drop((model.run)(&mut asked));
    let width = asked.asked.iter().map(|asked| asked.key.len()).fold(8, usize::max);
    let mut out = format!("{name}: {}\n\n", model.card.summary);
    for Asked { key, what, help, default, .. } in &asked.asked {
        let help = if help.is_empty() { String::new() } else { format!("; {help}") };
        let default = match *default {
            None => String::new(),
            LEFT_OUT => " (may be left out)".to_owned(),
            Some(default) => format!(" (else {default})"),
        };
        writeln!(out, "  {key:width$}  {what}{help}{default}").ok()?;
    }
    let results: Vec<String> = model.results.iter().map(|(name, _, unit)| format!("{name} ({unit})")).collect();
    write!(out, "\nresults   {}\n\n{}\n", results.join(", "), model.card).ok()?;
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(model: &str, arguments: &[&str]) -> Result<Calculation, Failure> {
        let arguments: Vec<String> = arguments.iter().map(ToString::to_string).collect();
        super::run(model, &arguments)
    }

    fn faults(model: &str, arguments: &[&str]) -> String {
        run(model, arguments).expect_err(model).to_string()
    }

    #[test]
    fn the_table_has_the_models_of_the_manual() {
        let known: Vec<&str> = names().map(|(name, _)| name).collect();
        insta::assert_snapshot!(known.join(" "), @"hansen-distance interaction swelling diffusivity sheet-uptake sheet-time wicking ageing-life ageing-fit life-used acceleration acceleration-per-step air-pressure gap-breakdown layered-field pd-inception thickness-strength vapour-pressure water-solubility hydrolysis helical-wrap roll-length shear-lag peel-angle convert");
    }

    #[test]
    fn every_result_has_a_unit_of_its_kind_and_every_model_describes_itself() {
        for model in MODELS {
            for (name, kind, unit) in model.results {
                assert!(kind.number_in(0.0, unit).is_some(), "{} {name} {unit}", model.card.name);
            }
            let text = describe(model.card.name).unwrap();
            assert!(text.contains(model.card.equation) && text.lines().count() > 6, "{text}");
        }
    }

    #[test]
    fn a_calculation_reads_as_the_manual_says() {
        let done = run("ageing-life", &["index=155 degC", "halving=10 K", "temperature=175 degC"]).unwrap();
        insta::assert_snapshot!(done, @r"
        ageing-life: Life at a steady temperature, from temperature index and halving interval

          index        155 degC
          halving      10 K
          temperature  175 degC

          life         5157.09 h

        equation  L = 20000 h · exp(b(1/T − 1/TI)), b = ln 2/[1/TI − 1/(TI + HIC)]
        units     T, TI in K; HIC in K; b in K; L in h
        valid     yes; one ageing process, the end point and the air of the test; not transferable to a sealed liquid or to vacuum; distance from the index -60 to 100 K (common practice, no source)
        source    IEC 60216-1: index at 20 000 h, halving interval taken at the index
        ");
    }

    #[test]
    fn a_calculation_is_one_document() {
        let done = run("layered-field", &["voltage=1 kV", "layers=25 um/1.0, 50 um/2"]).unwrap();
        insta::assert_snapshot!(serde_json::to_string(&done.document()).unwrap(), @r#"{"schema":"lapwise/model/1","model":"layered-field","inputs":{"voltage":"1 kV","layers":"25 um/1.0, 50 um/2"},"results":{"field-1":{"value":20.0,"unit":"kV/mm"},"field-2":{"value":10.0,"unit":"kV/mm"},"voltage-1":{"value":500.0,"unit":"V"},"voltage-2":{"value":500.0,"unit":"V"}},"valid":true,"notes":[],"equation":"Ei = U/(εi Σ tj/εj), Ui = Ei ti","sources":["continuity of the normal displacement, any text on fields, such as Hayt and Buck, Engineering Electromagnetics, 8th ed. (from memory)"]}"#);
    }

    #[test]
    fn all_faults_are_told_at_once() {
        let text = faults(
            "sheet-uptake",
            &["thicknes=25 um", "time=1 mm", "faces=3", "diffusivity=4e-13 m2/s", "diffusivity=1", "x"],
        );
        insta::assert_snapshot!(text, @r"
        model sheet-uptake, argument diffusivity
          found   `diffusivity=1`
          needed  each key once
          do      keep one of them
          (argument-repeated)

        model sheet-uptake, argument faces
          found   `3`
          needed  2 or 1
          do      write one of: 2, 1
          (word-unknown)

        model sheet-uptake, argument thicknes
          found   `thicknes`
          needed  an argument of `model sheet-uptake`
          do      did you mean `thickness`?
          (argument-unknown)

        model sheet-uptake, argument thickness
          found   nothing
          needed  a length, such as `0.18 mm`
          do      add `thickness=…`
          (argument-missing)

        model sheet-uptake, argument time
          found   `1 mm`, a length
          needed  a time
          do      write a time, such as `20 min`
          (unit-kind)

        model sheet-uptake, argument x
          found   `x`
          needed  key=value
          do      write the key, `=` and the value
          (argument-unknown)
        ");
    }

    #[test]
    fn impossible_input_is_refused_with_its_reason() {
        for (model, arguments) in [
            ("gap-breakdown", vec!["gap=2 um", "pressure=101.325 kPa", "temperature=20 degC", "form=townsend"]),
            ("helical-wrap", vec!["width=20 mm", "overlap=1", "circumference=60 mm", "length=1 m"]),
            ("helical-wrap", vec!["width=20 mm", "overlap=0.5", "circumference=60 mm", "length=1 m", "passes=0"]),
            ("layered-field", vec!["voltage=1 kV", "layers=0 mm/3"]),
            ("roll-length", vec!["outer=50 mm", "core=76 mm", "thickness=65 um"]),
            ("sheet-time", vec!["diffusivity=1e-12 m2/s", "thickness=25 um", "fraction=1.2"]),
            ("swelling", vec!["molar-volume=100 cm3/mol", "crosslink-density=0 mol/cm3", "chi-points=0.4@0.5,0.5@0.5"]),
            ("vapour-pressure", vec!["temperature=400 degC"]),
            ("wicking", vec!["radius=1 um", "tension=30 mN/m", "angle=200 deg", "viscosity=1 Pa s", "time=1 s"]),
        ] {
            let text = faults(model, &arguments);
            assert!(text.contains("(input-impossible)") && text.matches("found").count() == 1, "{text}");
        }
        assert!(faults("vapour-pressure", &["temperature=-300 degC"]).contains("(value-impossible)"));
        assert!(faults("sheet-uptake", &["thickness=-1 mm"]).contains("(value-impossible)"));
        assert!(faults("convert", &["value=25 lbf/in", "to=mm"]).contains("(unit-kind)"));
        assert!(faults("convert", &["value=25 mm", "to=mmm"]).contains("(unit-unknown)"));
        assert!(faults("swelling", &["chi=0.4", "chi-points=0.4@0"]).contains("found   both"));
    }

    #[test]
    fn outside_its_validity_a_model_still_answers() {
        let done = run("vapour-pressure", &["temperature=200 degC"]).unwrap();
        assert!(!done.valid && done.results[0].value.is_some());
        insta::assert_snapshot!(done.notes.join("; "), @"temperature 200 degC is outside 0 to 150 degC, where the equation holds");
    }

    #[test]
    fn what_has_no_bound_has_no_number() {
        let done = run("sheet-time", &["diffusivity=1e-12 m2/s", "thickness=25 um", "fraction=100 %"]).unwrap();
        assert!(done.valid && done.results[0].value.is_none());
        assert_eq!(done.notes, ["time is beyond all bounds"]);
    }

    #[test]
    fn a_kelvin_is_a_difference_unless_the_other_has_a_zero() {
        let value = |value: &str, to: &str| run("convert", &[value, to]).unwrap().results[0].value.unwrap();
        assert!((value("value=25 degC", "to=K") - 298.15).abs() < 1e-12);
        assert!((value("value=300 K", "to=degC") - 26.85).abs() < 1e-12);
        assert!((value("value=-10 K", "to=K") + 10.0).abs() < 1e-12);
        assert!((value("value=50 %", "to=1") - 0.5).abs() < 1e-12);
        assert!((value("value=0.25", "to=%") - 25.0).abs() < 1e-12);
    }

    #[test]
    fn a_name_that_is_nearly_right_is_offered() {
        assert_eq!(
            run("sheet-uptak", &[]).unwrap_err().to_string(),
            "no model `sheet-uptak`; did you mean `sheet-uptake`?"
        );
        assert_eq!(run("zzz", &[]).unwrap_err().to_string(), "no model `zzz`; `lapwise model list` names them");
    }
}
