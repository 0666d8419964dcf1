//! The readers of what a person types, answers or takes on: model arguments, answers, acceptances, remarks.

use lapwise::catalogue::Catalogue;
use lapwise::enquiry::{Answers, Enquiry};
use lapwise::{calculate, plausible};

use crate::data::one_spoilt;
use crate::feed::{Dice, PIECES, spoil};
use crate::{Corpus, Run};

/// A call of every model that has an answer.
pub(crate) const CALLS: &[&[&str]] = &[
    &["hansen-distance", "polymer=15.9/0.1/4.7", "liquid=18.0/1.4/2.0", "radius=8.1"],
    &["interaction", "polymer=15.9/0.1/4.7", "liquid=18/1.4/2", "molar-volume=106.8 cm3/mol", "temperature=25 degC"],
    &["swelling", "molar-volume=106.8 cm3/mol", "crosslink-density=2e-4 mol/cm3", "chi=0.39", "form=affine"],
    &["swelling", "molar-volume=106.8 cm3/mol", "crosslink-density=2e-4 mol/cm3", "chi-points=0.445@0,0.82@1"],
    &["diffusivity", "reference=4e-13 m2/s", "at=25 degC", "energy=43 kJ/mol", "temperature=60 degC"],
    &["sheet-uptake", "diffusivity=4e-13 m2/s", "thickness=25 um", "time=1 h", "faces=2"],
    &["sheet-time", "diffusivity=4e-13 m2/s", "thickness=25 um", "fraction=0.9"],
    &["wicking", "radius=5 um", "tension=30 mN/m", "angle=20 deg", "viscosity=0.5 Pa s", "time=60 s", "pressure=0 kPa"],
    &["ageing-life", "index=155 degC", "halving=10 K", "temperature=175 degC"],
    &["ageing-fit", "points=7200 h@180 degC, 1800 h@200 degC, 480 h@220 degC"],
    &["life-used", "index=155 degC", "halving=10 K", "steps=100 h@175 degC, 1000 h@165 degC"],
    &["acceleration", "slope=15000 K", "reference=110 degC", "temperature=140 degC"],
    &["gap-breakdown", "gap=25 um", "pressure=101.325 kPa", "temperature=20 degC", "form=townsend"],
    &["layered-field", "voltage=1 kV", "layers=25 um/1.0, 50 um/3.3"],
    &["pd-inception", "solid=0.25 mm/3.3", "gap=25 um", "pressure=101 kPa", "temperature=20 degC", "shape=wedge"],
    &["thickness-strength", "strength=280 kV/mm", "at=25 um", "thickness=50 um", "exponent=0.5"],
    &["vapour-pressure", "temperature=40 degC"],
    &["water-solubility", "a=7.0895", "b=1567 K", "temperature=60 degC"],
    &["hydrolysis", "rate=1.83e-8 kg/mol/s", "water=0.30 mol/kg", "ester=10.4 mol/kg", "chain=20 kg/mol"],
    &[
        "helical-wrap",
        "width=20 mm",
        "overlap=0.5",
        "circumference=60 mm",
        "length=0.3 m",
        "passes=2",
        "lap-tolerance=1 mm",
    ],
    &["roll-length", "outer=120 mm", "core=76.2 mm", "thickness=65 um"],
    &["peel-angle", "energy=100 J/m2", "angle=90 deg", "modulus=4 GPa", "thickness=50 um"],
    &["convert", "value=25 lbf/in", "to=N/cm"],
];

pub(crate) fn model<'c>(dice: &mut Dice, _: &'c Corpus) -> Run<'c> {
    let call = dice.of(CALLS);
    let mut arguments: Vec<String> = call[1..].iter().map(|&a| a.to_owned()).collect();
    for _ in 0..=dice.below(2) {
        let at = dice.below(arguments.len());
        arguments[at] = match (dice.below(2), arguments[at].split_once('=')) {
            (0, Some((key, _))) => format!("{key}={}", dice.of(PIECES)),
            _ => spoil(dice, &arguments[at]),
        };
    }
    let name = call[0];
    (
        format!("{name} {arguments:?}"),
        Box::new(move || {
            if let Ok(done) = calculate::run(name, &arguments) {
                let _ = done.to_string();
                let _ = serde_json::to_string(&done.document());
            }
        }),
    )
}

pub(crate) const ANSWERS: &[&str] = &[
    "enquiry.number=Q-1",
    "enquiry.title=t",
    "enquiry.customer=c",
    "enquiry.prepared_by=p",
    "enquiry.date=2026-11-20",
    "enquiry.jurisdiction=eu",
    "application.equipment=motor",
    "application.function=banding",
    "duty.life=20 a",
    "duty.life_basis=duty",
    "duty.load_profile=60 %@100 degC, 40 %@130 degC",
    "voltage.kind=converter",
    "voltage.dc_link=700 V",
    "voltage.overshoot=1.3",
    "voltage.other_insulation=0.05 mm/3.5",
    "winding.width=20 mm",
    "winding.passes=2",
    "exposure.1.name=a",
    "exposure.1.stage=service",
    "exposure.1.medium=air",
    "exposure.1.temperature=20 degC",
    "exposure.1.duration=1 d",
    "exposure.2.name=b",
    "exposure.2.stage=cleaning",
    "exposure.2.medium=toluene",
    "exposure.2.evaporates=yes",
    "exposure.2.temperature=20 degC",
    "exposure.2.duration=60 s",
];

pub(crate) fn answers<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let mut given: Vec<String> = ANSWERS.iter().map(|&a| a.to_owned()).collect();
    for _ in 0..=dice.below(3) {
        let at = dice.below(given.len());
        match dice.below(4) {
            0 => drop(given.remove(at)),
            1 => given[at] = format!("{}={}", given[at].split('=').next().unwrap_or_default(), dice.of(PIECES)),
            _ => given[at] = spoil(dice, &given[at]),
        }
    }
    (
        format!("{given:?}"),
        Box::new(move || {
            let Ok(mut answers) = Answers::of(&given) else { return };
            let complete = answers.complete(&c.catalogue).is_ok();
            let read = answers.read(&c.catalogue);
            if let (true, Ok(_)) = (complete, read) {
                Enquiry::read("again.toml", &answers.file(), &c.catalogue)
                    .unwrap_or_else(|f| panic!("{:?}", f.sorted()));
            }
            let kept = Answers::resume("kept", &answers.kept()).unwrap_or_else(|f| panic!("{:?}", f.sorted()));
            assert_eq!(kept, answers);
        }),
    )
}

pub(crate) fn kept<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let given: Vec<String> = ANSWERS.iter().map(|&a| a.to_owned()).collect();
    let input = spoil(dice, &Answers::of(&given).map(|a| a.kept()).unwrap_or_default());
    (
        input.clone(),
        Box::new(move || {
            if let Ok(answers) = Answers::resume("kept", &input) {
                let _ = answers.open(&c.catalogue);
                let _ = answers.read(&c.catalogue);
            }
        }),
    )
}

pub(crate) fn reviewed<'c>(dice: &mut Dice, c: &'c Corpus, file: &'static str) -> Run<'c> {
    let mut folder = c.folder.clone();
    let input = spoil(dice, c.shipped.text(file));
    folder.files.insert(file.to_owned(), input.clone());
    (input, Box::new(move || drop(plausible::review(&folder, &c.catalogue, &[]))))
}

pub(crate) fn acceptances<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    reviewed(dice, c, plausible::ACCEPTED)
}

pub(crate) fn ranges<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    reviewed(dice, c, plausible::RANGES)
}

/// Remarks on data that read without a fault and are odd.
pub(crate) fn remarks<'c>(dice: &mut Dice, c: &'c Corpus) -> Run<'c> {
    let (mut folder, input) = one_spoilt(dice, &c.folder, &["tapes.csv", "facts.csv", "sources.yml", "about.toml"]);
    folder.files.insert(
        plausible::RANGES.to_owned(),
        "kind,of,property,low,high,source,note\ntape,,adhesion,1 N/cm,5 N/cm,common-practice,\n".to_owned(),
    );
    (
        input,
        Box::new(move || {
            let Ok(catalogue) = Catalogue::build(&folder) else { return };
            let Ok(enquiry) = Enquiry::read("s-1.toml", folder.text("enquiries/s-1.toml"), &catalogue) else { return };
            let _ = plausible::review(&folder, &catalogue, &[enquiry]).map(|r| r.remarks.len());
        }),
    )
}
