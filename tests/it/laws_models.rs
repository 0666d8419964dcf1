//! Laws that the models keep over all that may be asked of them.

use lapwise::calculate;
use lapwise::models::affinity::{self, Chi, Hansen};
use lapwise::models::diffusion::{self, Faces};
use lapwise::models::discharge::{Gap, INCEPTION_GAP, inception};
use lapwise::models::hydrolysis::{self, Branches};
use lapwise::models::paschen::{self, Gas};
use lapwise::models::swelling::{Constraint, Form, Network, equilibrium};
use lapwise::models::wrap::{self, Lap};
use lapwise::models::{Answer, Bound, CARDS};
use lapwise::models::{
    acceleration, ageing, atmosphere, bending, breakdown, converter, layers, peel, swelling, water, wicking,
};
use lapwise::quantity::{Length, MolarDensity, MolarVolume, Pressure, Temperature, TemperatureDifference, Time, Typed};
use proptest::prelude::*;

/// Any value that a bound allows, in SI.
fn within(bound: &'static Bound) -> impl Strategy<Value = f64> {
    let (low, high) = bound.range();
    low..=high
}

/// Any float but `NaN`, the awkward ones often.
fn any_float() -> impl Strategy<Value = f64> {
    use proptest::num::f64 as float;
    let awkward = [
        0.0,
        -0.0,
        5e-324,
        1e-310,
        f64::MIN_POSITIVE,
        1e-30,
        1.0,
        -1.0,
        1e30,
        f64::MAX,
        f64::INFINITY,
        f64::NEG_INFINITY,
    ];
    let any = float::POSITIVE | float::NEGATIVE | float::NORMAL | float::SUBNORMAL | float::ZERO | float::INFINITE;
    prop_oneof![2 => any, 2 => prop::sample::select(awkward.to_vec()), 3 => 1e-12..1e12f64, 2 => 0.0..2.0f64]
}

fn kelvin(celsius: f64) -> Temperature {
    Temperature::from_si(celsius + 273.15)
}

fn shapes() -> impl Strategy<Value = (Form, Constraint)> {
    (
        prop::sample::select(vec![Form::Affine, Form::Phantom]),
        prop::sample::select(vec![Constraint::Free, Constraint::Sheet]),
    )
}

fn fraction(crosslinks: f64, shape: (Form, Constraint), volume: f64, chi: &Chi, activity: f64) -> f64 {
    let network = Network { crosslinks: MolarDensity::from_si(crosslinks), form: shape.0, constraint: shape.1 };
    equilibrium(network, MolarVolume::from_si(volume), chi, activity).unwrap().polymer_fraction
}

proptest! {
    #[test]
    fn hotter_never_lasts_longer(
        index in 90.0..250.0f64, halving in 5.0..20.0f64, a in within(&ageing::LIFE_SPAN), b in within(&ageing::LIFE_SPAN),
    ) {
        let life = |rise: f64| {
            ageing::life(kelvin(index), TemperatureDifference::from_si(halving), kelvin(index + rise)).unwrap()
        };
        prop_assert!(life(a.max(b)) <= life(a.min(b)));
    }

    #[test]
    fn thicker_never_saturates_sooner(thin in 1e-6..1e-2f64, more in 1.0..10.0f64, share in 0.0..1.0f64, d in 1e-16..1e-8f64) {
        let time = |thickness: f64, faces| {
            let d = lapwise::quantity::Diffusivity::from_si(d);
            diffusion::sheet_time(d, Length::from_si(thickness), share, faces).unwrap()
        };
        prop_assert!(time(thin * more, Faces::Two) >= time(thin, Faces::Two));
        prop_assert!(time(thin, Faces::One) >= time(thin, Faces::Two));
    }

    #[test]
    fn uptake_is_a_share_that_only_grows(x in 0.0..3.0f64, later in 1.0..2.0f64) {
        let uptake = |x: f64| {
            let d = lapwise::quantity::Diffusivity::from_si(1.0);
            diffusion::sheet_uptake(d, Length::from_si(1.0), Time::from_si(x), Faces::Two).unwrap()
        };
        prop_assert!((0.0..=1.0).contains(&uptake(x)));
        prop_assert!(uptake(x * later) >= uptake(x) - 1e-13);
        if uptake(x) < 0.999_999 {
            let d = lapwise::quantity::Diffusivity::from_si(1.0);
            let back = diffusion::sheet_time(d, Length::from_si(1.0), uptake(x), Faces::Two).unwrap().si();
            prop_assert!((back - x).abs() <= 1e-9 * x.max(1e-6), "{back} {x}");
        }
    }

    #[test]
    fn more_crosslinks_and_less_activity_never_swell_more(
        shape in shapes(), volume in within(&affinity::VOLUME_RANGE), chi0 in -0.5..1.5f64, chi1 in -0.5..2.5f64,
        a in within(&swelling::CROSSLINK_RANGE), b in within(&swelling::CROSSLINK_RANGE), activity in 0.1..1.0f64,
    ) {
        let chi = Chi::mixed(chi0, chi1);
        let loose = fraction(a.min(b), shape, volume, &chi, 1.0);
        prop_assert!(fraction(a.max(b), shape, volume, &chi, 1.0) >= loose * (1.0 - 1e-12));
        prop_assert!(fraction(a.min(b), shape, volume, &chi, activity) >= loose * (1.0 - 1e-12));
    }

    #[test]
    fn a_liquid_that_fits_less_never_swells_more(
        shape in shapes(), crosslinks in within(&swelling::CROSSLINK_RANGE), chi in -0.5..2.0f64, worse in 0.0..1.0f64,
    ) {
        let at = |chi: f64| fraction(crosslinks, shape, 1e-4, &Chi::constant(chi), 1.0);
        prop_assert!(at(chi + worse) >= at(chi) * (1.0 - 1e-12));
    }

    #[test]
    fn a_wedge_is_never_better_than_flat(
        solid in 0.0..1e-3f64, width in within(&INCEPTION_GAP), inside in 0.0..1.0f64, celsius in 0.0..250.0f64,
        altitude in within(&atmosphere::ALTITUDE_RANGE),
    ) {
        let pressure = atmosphere::pressure(Length::from_si(altitude)).unwrap();
        let at = |gap: f64, shape| {
            inception(Gas::AIR, Length::from_si(solid), Length::from_si(gap), pressure, kelvin(celsius), shape).unwrap()
        };
        let wedge = at(width, Gap::Wedge);
        prop_assert!(wedge.worst_gap.si() <= width * (1.0 + 1e-12));
        prop_assert!(wedge.voltage.si() <= at(width, Gap::Flat).voltage.si() * (1.0 + 1e-12));
        let narrower = (width * inside).max(1e-9);
        prop_assert!(wedge.voltage.si() <= at(narrower, Gap::Flat).voltage.si() * (1.0 + 1e-6));
    }

    #[test]
    fn a_wider_gap_breaks_down_later_right_of_the_minimum(gap in 1.2e-5..1e-2f64, more in 1.0..3.0f64) {
        let volts = |gap: f64| {
            paschen::townsend(Gas::AIR, Pressure::from_si(101_325.0), Length::from_si(gap), kelvin(20.0)).unwrap()
        };
        prop_assert!(volts(gap * more) >= volts(gap));
    }

    #[test]
    fn there_and_back_is_one(a in 40.0..250.0f64, b in 40.0..250.0f64, slope in 1e3..3e4f64) {
        let factor = |from: f64, to: f64| {
            acceleration::factor(TemperatureDifference::from_si(slope), kelvin(from), kelvin(to)).unwrap()
        };
        prop_assert!((factor(a, b) * factor(b, a) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn warmer_water_boils_at_more(a in within(&water::TEMPERATURE_RANGE), b in within(&water::TEMPERATURE_RANGE)) {
        let pressure = |t: f64| water::saturation_pressure(Temperature::from_si(t)).unwrap();
        prop_assert!(pressure(a.max(b)) >= pressure(a.min(b)));
    }

    #[test]
    fn overlap_never_costs_layers(a in 0.0..0.9f64, b in 0.0..0.9f64, passes in 1..5u32, slip in 0.0..1e-3f64) {
        let layers = |overlap: f64| {
            let lap = Lap { width: Length::from_si(0.02), overlap, passes };
            wrap::layers_minimum(lap, Length::from_si(slip)).unwrap()
        };
        prop_assert!(layers(a.max(b)) >= layers(a.min(b)));
    }
}

#[test]
fn a_bound_holds_at_both_ends_and_not_beyond() {
    for bound in CARDS.iter().flat_map(|card| card.bounds) {
        let (low, high) = bound.range();
        let beyond = 1e-3 * (high - low);
        assert!(bound.check(low).is_none() && bound.check(high).is_none(), "{bound}");
        assert!(bound.check(low - beyond).is_some() && bound.check(high + beyond).is_some(), "{bound}");
    }
}

fn no_nan<T>(what: &str, answer: Answer<T>, numbers: impl Fn(T) -> Vec<f64>) -> Result<(), TestCaseError> {
    let bad = answer.is_ok_and(|answer| numbers(answer).iter().any(|number| number.is_nan()));
    prop_assert!(!bad, "{what} returns NaN");
    Ok(())
}

/// Calls a model that returns one quantity (`typed`) or one plain number (`plain`).
macro_rules! typed {
    ($($path:ident)::+ ( $($argument:expr),* )) => {
        no_nan(stringify!($($path)::+), $($path)::+($($argument),*), |answer| vec![answer.si()])?
    };
}
macro_rules! plain {
    ($($path:ident)::+ ( $($argument:expr),* )) => {
        no_nan(stringify!($($path)::+), $($path)::+($($argument),*), |answer| vec![answer])?
    };
}

fn si<T: Typed>(value: f64) -> T {
    T::from_si(value)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn nothing_returns_nan(x in prop::array::uniform8(any_float()), passes in 0..4u32) {
        let [a, b, c, d, e, f, g, h] = x;
        let polymer = Hansen { d: si(a), p: si(b), h: si(c) };
        let liquid = Hansen { d: si(d), p: si(e), h: si(f) };
        let gas = Gas { a: si(f), b: si(g), gamma: h };
        plain!(acceleration::factor(si(a), si(b), si(c)));
        plain!(acceleration::per_step(si(a), si(b), si(c)));
        typed!(affinity::distance(polymer, liquid));
        plain!(affinity::relative_distance(si(a), si(b)));
        plain!(affinity::interaction(polymer, liquid, si(g), si(h), a, b));
        typed!(ageing::life(si(a), si(b), si(c)));
        plain!(ageing::life_used(si(a), si(b), &[(si(c), si(d)), (si(e), si(f))]));
        no_nan("fit", ageing::fit(&[(si(a), si(b)), (si(c), si(d)), (si(e), si(f))]), |fit| {
            vec![fit.index.si(), fit.halving.si(), fit.energy.si(), fit.extrapolation.si()]
        })?;
        typed!(atmosphere::pressure(si(a)));
        typed!(bending::energy(si(a), si(b), si(c)));
        no_nan("at_thickness", breakdown::at_thickness(si(a), si(b), si(c), d), |s| vec![s.field.si(), s.voltage.si()])?;
        typed!(converter::peak(si(a), b, c));
        typed!(diffusion::diffusivity(si(a), si(b), si(c), si(d)));
        for faces in [Faces::One, Faces::Two] {
            plain!(diffusion::sheet_uptake(si(a), si(b), si(c), faces));
            typed!(diffusion::sheet_time(si(a), si(b), c, faces));
        }
        typed!(diffusion::edge_depth(si(a), si(b)));
        for shape in [Gap::Flat, Gap::Wedge] {
            for gas in [gas, Gas::AIR] {
                no_nan("inception", inception(gas, si(a), si(b), si(c), si(d), shape), |found| {
                    vec![found.voltage.si(), found.worst_gap.si()]
                })?;
            }
        }
        typed!(hydrolysis::scission_rate(si(a), si(b), si(c)));
        typed!(hydrolysis::lifetime(si(a), si(b), Some(si(c))));
        typed!(hydrolysis::lifetime(si(a), si(b), None));
        plain!(hydrolysis::share_cut(si(a), si(b), Some(si(c))));
        typed!(hydrolysis::rate_at(si(a), si(b), Branches { above: si(c), below: si(d), glass_transition: si(e) }, si(f)));
        let stress = |stress: Vec<layers::Stress>| stress.iter().flat_map(|s| [s.field.si(), s.voltage.si()]).collect();
        no_nan("alternating", layers::alternating(si(a), &[(si(b), c), (si(d), e)]), stress)?;
        no_nan("direct", layers::direct(si(a), &[(si(b), si(c)), (si(d), si(e))]), stress)?;
        typed!(layers::equivalent_gap(&[(si(b), c), (si(d), e)]));
        typed!(paschen::townsend(gas, si(a), si(b), si(c)));
        typed!(paschen::townsend(Gas::AIR, si(a), si(b), si(c)));
        typed!(paschen::field_over_pressure(si(a), si(b), si(c), si(d)));
        typed!(paschen::uniform(si(a), si(b), si(c)));
        typed!(paschen::normal_gap(si(a), si(b), si(c)));
        no_nan("minimum", paschen::minimum(gas), |lowest| vec![lowest.voltage.si(), lowest.product])?;
        typed!(peel::force(si(a), si(b), si(c), si(d)));
        plain!(peel::strain(si(a), si(b), si(c)));
        for form in [Form::Affine, Form::Phantom] {
            for constraint in [Constraint::Free, Constraint::Sheet] {
                let points = Chi::through(&[(a, b), (c, d), (0.5, e)]).unwrap_or(Chi::constant(e));
                for chi in [Chi::mixed(c, d), Chi::constant(c), affinity::carried_down(c, d), points] {
                    for at in [0.0, 0.25, 0.5, 1.0, g] {
                        prop_assert!(!chi.at(at).is_nan(), "{chi:?} at {at}");
                    }
                    let found = equilibrium(Network { crosslinks: si(a), form, constraint }, si(b), &chi, e);
                    no_nan("equilibrium", found, |found| vec![found.polymer_fraction, found.ratio.unwrap_or(0.0)])?;
                    if let Ok(found) = found {
                        prop_assert!((0.0..=1.0).contains(&found.polymer_fraction), "{found:?}");
                    }
                }
            }
        }
        typed!(water::saturation_pressure(si(a)));
        typed!(water::solubility(a, si(b), si(c)));
        plain!(water::activity(si(a), si(b)));
        typed!(wicking::depth(si(a), si(b), si(c), si(d), si(e), si(f)));
        plain!(wicking::dead_end_fill(si(a), si(b)));
        let lap = Lap { width: si(a), overlap: b, passes };
        no_nan("helix", wrap::helix(lap, si(c), si(d)), |w| vec![w.pitch.si(), w.turns, w.tape.si(), w.layers])?;
        plain!(wrap::layers_minimum(lap, si(c)));
        typed!(wrap::grown(si(a), si(b), c));
        no_nan("roll", wrap::roll(si(a), si(b), si(c)), |roll| vec![roll.length.si(), roll.turns])?;
        plain!(wrap::bend_strain(si(a), si(b), si(c)));
        plain!(wrap::steer_strain(si(a), si(b)));
        typed!(wrap::lap_shear(si(a), si(b)));
        for bound in CARDS.iter().flat_map(|card| card.bounds) {
            let _note = bound.check(a);
        }
    }
}

/// Every key that a model asks for, read from its own description.
fn keys(model: &str) -> Vec<String> {
    let text = calculate::describe(model).unwrap_or_default();
    let inputs = text.split("\n\n").nth(1).unwrap_or_default();
    inputs.lines().filter_map(|line| line.split_whitespace().next().map(str::to_owned)).collect()
}

fn models() -> Vec<String> {
    calculate::names().map(|(name, _)| name.to_owned()).collect()
}

fn value() -> impl Strategy<Value = String> {
    let unit = [
        "", " mm", " um", " degC", " K", " h", " s", " kPa", " m2/s", " cm3/mol", " mol/cm3", " kJ/mol", " kV/mm",
        " %", "/3.3", "@20 degC",
    ];
    let number = any_float().prop_map(|number| format!("{number:e}"));
    let measured = (number, prop::sample::select(unit.to_vec())).prop_map(|(number, unit)| format!("{number}{unit}"));
    prop_oneof![3 => measured, 1 => ".*", 1 => "[-+0-9.e/@, a-z%^µ²]{0,24}"]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn no_argument_breaks_the_command(
        model in prop::sample::select(models()), picks in prop::collection::vec((any::<prop::sample::Index>(), value()), 0..9),
        noise in prop::collection::vec(".*", 0..3),
    ) {
        let keys = keys(&model);
        prop_assert!(!keys.is_empty(), "{model}");
        let mut arguments: Vec<String> =
            picks.iter().map(|(index, value)| format!("{}={value}", keys[index.index(keys.len())])).collect();
        arguments.extend(noise);
        match calculate::run(&model, &arguments) {
            Ok(done) => prop_assert!(done.results.iter().all(|result| result.value.is_none_or(f64::is_finite))),
            Err(calculate::Failure::Faults(faults)) => prop_assert!(!faults.is_empty()),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }

    #[test]
    fn no_name_breaks_the_command(name in ".*") {
        prop_assume!(!models().contains(&name));
        let unknown = matches!(calculate::run(&name, &[]), Err(calculate::Failure::UnknownModel { .. }));
        prop_assert!(unknown);
        prop_assert!(calculate::describe(&name).is_none());
    }
}
