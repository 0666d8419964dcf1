//! One computation by itself: the table behind `lapwise model`.
//!
//! A row of the table is a card, the results, and a function that asks for its arguments and calls
//! a model. The function is the only place that knows the arguments: asked without any, it leaves
//! behind the list that [`describe`] prints.

mod arguments;
mod outcome;
mod table;

use std::fmt;

use crate::fault::{Faults, nearest};

pub use outcome::{Calculation, Document, Printed};

use arguments::{Arguments, Asked, LEFT_OUT, Stop};
use table::{MODELS, Model};

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
        Ok(outcome) if given.faults.is_empty() => {
            let told = given.asked.into_iter().filter(|asked| !asked.text.is_empty());
            let inputs = told.map(|asked| (asked.key, asked.text)).collect();
            Ok(Calculation::new((model.card, model.results), inputs, outcome))
        }
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
