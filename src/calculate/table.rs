//! What can be computed: a row for each model.

use crate::fault::{Code, Fault};
use crate::models::Card;
use crate::models::affinity;
use crate::models::diffusion;
use crate::models::discharge::{self, Gap};
use crate::models::paschen::{self, Gas};
use crate::models::swelling::{self, Constraint, Form, Network};
use crate::models::wrap::{self, Lap};
use crate::models::{acceleration, ageing, atmosphere, breakdown, hydrolysis, layers, peel, water, wicking};
use crate::quantity::{
    CONTENT, DIFFERENCE, DIFFUSIVITY, FIELD_STRENGTH, FORCE_PER_LENGTH, FRACTION, KINDS, Kind, LENGTH, Length,
    MOLAR_ENERGY, PRESSURE, SCISSION_RATE, SOLUBILITY_PARAMETER, TEMPERATURE, TIME, Temperature, Unit, VOLTAGE,
};

use super::arguments::{Arguments, Stop};
use super::outcome::{Column, Outcome};

/// What a row comes to.
pub(super) type Computed = Result<Outcome, Stop>;

/// A row of the table.
pub(super) struct Model {
    pub(super) card: &'static Card,
    pub(super) results: &'static [Column],
    pub(super) run: fn(&mut Arguments) -> Computed,
}

/// All that can be asked for.
pub(super) static MODELS: &[Model] = &[
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
