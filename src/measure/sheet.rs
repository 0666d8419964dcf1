//! What the sheet itself says: one number or one word of it, held against the enquiry.

use crate::catalogue::Property;
use crate::quantity::{Temperature, Time};

use super::{Answer, CaseRead, Measure, Missing, TapeRead, Work};

/// A measure that is one cell of the sheet, per enquiry.
const fn of_sheet(
    id: &'static str,
    asked: &'static str,
    unit: &'static str,
    tape: &'static [TapeRead],
    case: &'static [CaseRead],
    work: fn(&mut Work<'_>) -> Answer,
) -> Measure {
    Measure {
        id,
        asked,
        unit,
        per_exposure: false,
        tape,
        case,
        demand: None,
        parts: &[],
        factor: None,
        best: None,
        work,
    }
}

/// The comparative tracking index of the surface.
pub(super) static TRACKING: Measure = of_sheet(
    "tracking",
    "comparative tracking index of the tape",
    "V",
    &[TapeRead::Sheet(Property::TrackingIndex)],
    &[CaseRead::Nothing],
    |w| as_stated(w, Property::TrackingIndex, "comparative tracking index of the sheet"),
);

/// The electrolytic corrosion factor.
pub(super) static ELECTROLYTIC_CORROSION: Measure = Measure {
    best: Some(1.0),
    ..of_sheet(
        "electrolytic-corrosion",
        "electrolytic corrosion factor of the tape, 1.0 is best",
        "1",
        &[TapeRead::Sheet(Property::ElectrolyticCorrosion)],
        &[CaseRead::Nothing],
        |w| as_stated(w, Property::ElectrolyticCorrosion, "electrolytic corrosion factor of the sheet"),
    )
};

/// The total mass loss in vacuum.
pub(super) static OUTGASSING: Measure = of_sheet(
    "outgassing",
    "total mass that the tape loses in vacuum",
    "1",
    &[TapeRead::Sheet(Property::Outgassing)],
    &[CaseRead::Nothing],
    |w| as_stated(w, Property::Outgassing, "mass loss of the sheet"),
);

/// Free shrinkage at the hottest temperature the tape sees.
pub(super) static SHRINKAGE: Measure = of_sheet(
    "shrinkage",
    "free shrinkage at the hottest temperature that the tape sees",
    "1",
    &[TapeRead::Sheet(Property::Shrinkage), TapeRead::Sheet(Property::ShrinkageTemperature)],
    &[CaseRead::Heat],
    shrinkage,
);

/// How far the coldest temperature lies above that of the bend test.
pub(super) static COLD_APPLICATION: Measure = of_sheet(
    "cold-application",
    "coldest temperature of the enquiry above that at which the tape passes the bend",
    "K",
    &[TapeRead::Sheet(Property::ColdBend)],
    &[CaseRead::Cold],
    cold_application,
);

/// The colour, against that specified.
pub(super) static COLOUR: Measure = of_sheet(
    "colour",
    "whether the tape has the colour that is specified",
    "1",
    &[TapeRead::Text("colour")],
    &[CaseRead::Colour],
    colour,
);

/// The flame test.
pub(super) static FLAME: Measure = of_sheet(
    "flame",
    "whether the tape passes the flame test",
    "1",
    &[TapeRead::Text("flame")],
    &[CaseRead::Nothing],
    |w| {
        w.method("flame test of the sheet");
        match w.tape.text("flame") {
            "yes" => Answer::Yes,
            "no" => Answer::No,
            _ => not_on_sheet(w, "flame test of the tape"),
        }
    },
);

/// The recognition asked for.
pub(super) static RECOGNITION: Measure = of_sheet(
    "recognition",
    "whether the tape has the recognition that is asked for",
    "1",
    &[TapeRead::Text("index_basis"), TapeRead::Systems, TapeRead::Sheet(Property::TemperatureIndex)],
    &[CaseRead::Application],
    recognition,
);

/// Storage over the shelf life.
pub(super) static SHELF_LIFE: Measure = Measure {
    id: "shelf-life",
    asked: "time in storage that the enquiry states, over the shelf life",
    unit: "1",
    per_exposure: true,
    tape: &[TapeRead::Sheet(Property::ShelfLife)],
    case: &[CaseRead::Exposure],
    demand: None,
    parts: &[],
    factor: None,
    best: None,
    work: shelf_life,
};

fn as_stated(w: &mut Work<'_>, property: Property, method: &'static str) -> Answer {
    w.method(method);
    let Some(value) = w.sheet("sheet", property) else { return Answer::Unknown };
    w.estimate(&[], true, |x, _| value.of(x))
}

fn not_on_sheet(w: &mut Work<'_>, what: &'static str) -> Answer {
    w.lacks(Missing::Words(what));
    Answer::Unknown
}

fn shrinkage(w: &mut Work<'_>) -> Answer {
    w.method("free shrinkage of the sheet");
    let shrinkage = w.sheet("s", Property::Shrinkage);
    let at = w.sheet("T0", Property::ShrinkageTemperature);
    let (Some(shrinkage), Some(_)) = (shrinkage, at) else { return Answer::Unknown };
    let tested = w.catalogue.sheet(w.tape_index, Property::ShrinkageTemperature).map_or(0.0, |f| f.spread.value);
    let hottest = w.enquiry.heat().map_or(f64::INFINITY, Temperature::si);
    if hottest > tested + 1e-9 {
        w.method("free shrinkage of the sheet, taken cooler than it gets here");
        w.note(|| "it gets hotter than the shrinkage was taken at: it shrinks no less than this".to_owned());
        w.bounds_only();
    }
    w.estimate(&[], true, |x, _| shrinkage.of(x))
}

fn cold_application(w: &mut Work<'_>) -> Answer {
    w.method("bend test of the sheet against the coldest temperature");
    let bend = w.sheet("bend", Property::ColdBend);
    let coldest = w.given("coldest", "application.coldest", w.enquiry.application.coldest);
    let (Some(bend), Some(coldest)) = (bend, coldest) else { return Answer::Unknown };
    w.estimate(&[], true, |x, _| coldest.of(x) - bend.of(x))
}

fn colour(w: &mut Work<'_>) -> Answer {
    w.method("colour of the sheet");
    let Some(wanted) = w.enquiry.application.colour.as_deref() else {
        w.lacks(Missing::Given("application.colour"));
        return Answer::Unknown;
    };
    match w.tape.text("colour") {
        "" => not_on_sheet(w, "colour of the tape"),
        has if has.eq_ignore_ascii_case(wanted) => Answer::Yes,
        _ => Answer::No,
    }
}

fn recognition(w: &mut Work<'_>) -> Answer {
    let a = &w.enquiry.application;
    if a.atmosphere == "sealed-liquid" {
        w.method("recognition in a liquid: that in air does not hold there");
        w.note(|| "UL 1446 excludes operation in oil: a recognition in air says nothing of the liquid".to_owned());
        return not_on_sheet(w, "recognition for operation in the liquid");
    }
    if a.recognition == Some("system") {
        w.method("listing in the insulation system asked for");
        return if a.system.as_ref().is_some_and(|system| w.tape.systems.contains(system)) {
            Answer::Yes
        } else {
            not_on_sheet(w, "evaluation of the insulation system with this tape")
        };
    }
    w.method("temperature index of the tape itself, on its sheet");
    let stated = w.catalogue.sheet(w.tape_index, Property::TemperatureIndex).is_some();
    match (w.tape.text("index_basis"), stated) {
        ("tape", true) => Answer::Yes,
        ("system", true) => not_on_sheet(w, "temperature index of the tape itself: the sheet's is that of a system"),
        _ => not_on_sheet(w, "temperature index of the tape itself"),
    }
}

fn shelf_life(w: &mut Work<'_>) -> Answer {
    w.method("time in storage over the shelf life of the sheet");
    let stored = w.given::<Time>("t", "duration", w.exposure().map(|x| x.duration));
    let (Some(shelf), Some(stored)) = (w.sheet("shelf life", Property::ShelfLife), stored) else {
        return Answer::Unknown;
    };
    let tape = w.tape;
    w.note(|| format!("the sheet's conditions of storage are: {}", tape.text("storage")));
    w.estimate(&[], true, |x, _| stored.of(x) / shelf.of(x))
}
