//! The arguments of a computation: what is asked for, read and noted.

use crate::evidence::Place;
use crate::fault::{Code, Fault, Faults};
use crate::models::Refusal;
use crate::models::affinity::{Chi, Hansen};
use crate::models::diffusion::Faces;
use crate::quantity::{
    FRACTION, Fraction, Kind, Length, SOLUBILITY_PARAMETER, SolubilityParameter, Temperature, TemperatureDifference,
    Typed,
};

/// Why a computation stopped.
pub(super) enum Stop {
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

pub(super) type Read<T> = Result<T, Stop>;

/// One argument that a computation asked for.
pub(super) struct Asked {
    pub(super) key: &'static str,
    /// What it is, with an example.
    pub(super) what: String,
    pub(super) help: &'static str,
    /// What serves when it is not given; empty where it may be left out.
    pub(super) default: Option<&'static str>,
    /// What served.
    pub(super) text: String,
}

/// The arguments as given, and what was asked of them.
pub(super) struct Arguments<'a> {
    model: &'static str,
    given: Vec<(&'a str, &'a str)>,
    pub(super) asked: Vec<Asked>,
    pub(super) faults: Faults,
}

/// Stands for an argument that may be left out.
pub(super) const LEFT_OUT: Option<&str> = Some("");

impl<'a> Arguments<'a> {
    pub(super) fn new(model: &'static str, arguments: &'a [String]) -> Self {
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

    pub(super) fn fault(&mut self, key: &str, fault: Fault) {
        self.faults.add(fault.at(Place::argument(format!("model {}", self.model), key)));
    }

    /// The value, or the fault noted at its argument.
    pub(super) fn keep<T>(&mut self, key: &str, result: Result<T, Fault>) -> Read<T> {
        result.map_err(|fault| {
            self.fault(key, fault);
            Stop::Faulty
        })
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.given.iter().any(|(given, _)| *given == key)
    }

    /// Asks for an argument; `default` serves when it is not given.
    pub(super) fn ask<T>(
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

    pub(super) fn typed<T: Typed>(
        &mut self,
        key: &'static str,
        default: Option<&'static str>,
        help: &'static str,
    ) -> Read<T> {
        self.ask(key, default, described(T::KIND), help, |text| T::KIND.read(text).map(T::from_si))
    }

    pub(super) fn need<T: Typed>(&mut self, key: &'static str, help: &'static str) -> Read<T> {
        self.typed(key, None, help)
    }

    pub(super) fn or<T: Typed>(&mut self, key: &'static str, default: &'static str, help: &'static str) -> Read<T> {
        self.typed(key, Some(default), help)
    }

    /// An argument that may be left out.
    pub(super) fn maybe<T>(
        &mut self,
        key: &'static str,
        what: String,
        help: &'static str,
        read: impl FnOnce(&str) -> Result<T, Fault>,
    ) -> Read<Option<T>> {
        let given = self.has(key);
        self.ask(key, LEFT_OUT, what, help, |text| given.then(|| read(text)).transpose())
    }

    pub(super) fn may<T: Typed>(&mut self, key: &'static str, help: &'static str) -> Read<Option<T>> {
        self.maybe(key, described(T::KIND), help, |text| T::KIND.read(text).map(T::from_si))
    }

    pub(super) fn plain(&mut self, key: &'static str, help: &'static str) -> Read<f64> {
        self.need(key, help).map(Fraction::si)
    }

    pub(super) fn plain_or(&mut self, key: &'static str, default: &'static str, help: &'static str) -> Read<f64> {
        self.or(key, default, help).map(Fraction::si)
    }

    pub(super) fn whole_or(&mut self, key: &'static str, default: &'static str, help: &'static str) -> Read<u32> {
        self.ask(key, Some(default), "a whole number, such as `2`", help, |text| {
            text.parse().map_err(|_| {
                Fault::new(Code::NumberUnreadable, format!("`{text}`"), "a whole number", "write digits, such as `2`")
            })
        })
    }

    /// One of some words; the first serves when none is given.
    pub(super) fn word<T: Copy>(
        &mut self,
        key: &'static str,
        words: &[(&'static str, T)],
        help: &'static str,
    ) -> Read<T> {
        let names: Vec<&str> = words.iter().map(|(name, _)| *name).collect();
        let what = names.join(" or ");
        self.ask(key, names.first().copied(), what.clone(), help, |text| {
            let found = words.iter().find(|(name, _)| *name == text).map(|(_, word)| *word);
            found.ok_or_else(|| Fault::unknown_word(Code::WordUnknown, text, &what, names))
        })
    }

    /// A list of pairs, each split at its last `mark`.
    pub(super) fn pairs<A: Typed, B: Typed>(
        &mut self,
        key: &'static str,
        mark: char,
        help: &'static str,
    ) -> Read<Vec<(A, B)>> {
        self.ask(key, None, described_pairs::<A, B>(mark), help, |text| read_pairs(text, mark))
    }

    pub(super) fn layers(&mut self, key: &'static str) -> Read<Vec<(Length, f64)>> {
        let layers = self.pairs::<Length, Fraction>(key, '/', "thickness/relative permittivity")?;
        Ok(layers.into_iter().map(|(thickness, permittivity)| (thickness, permittivity.si())).collect())
    }

    pub(super) fn faces(&mut self) -> Read<Faces> {
        self.word("faces", &[("2", Faces::Two), ("1", Faces::One)], "that take up")
    }

    pub(super) fn endurance(&mut self) -> (Read<Temperature>, Read<TemperatureDifference>) {
        (
            self.need("index", "with a life of 20 000 h"),
            self.need("halving", "interval that halves the life at the index"),
        )
    }

    /// A solubility parameter, in MPa^0.5 where no unit is given.
    pub(super) fn solubility(&mut self, key: &'static str, help: &'static str) -> Read<SolubilityParameter> {
        self.ask(key, None, "a solubility parameter in MPa^0.5, such as `8.1`", help, solubility)
    }

    pub(super) fn hansen(&mut self, key: &'static str) -> Read<Hansen> {
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
    pub(super) fn chi(&mut self) -> Read<Chi> {
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
    pub(super) fn conclude(&mut self, refusal: Option<Refusal>) {
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
