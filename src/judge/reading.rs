//! How the number of a finding is to be read: as it stands, as a bound, or as all that there can be.

use schemars::JsonSchema;
use serde::Serialize;

use crate::catalogue::Limits;
use crate::measure::{Answer, Measure, Proves};

/// How a margin is to be read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reading {
    /// As it stands.
    #[default]
    Exact,
    /// The true one is no smaller: a test ended before what it waited for.
    AtLeast,
    /// The true one is no larger: only a test milder than the exposure is known.
    AtMost,
    /// The measure can give no more.
    Full,
}

impl Reading {
    /// The word; blank where the number is to be read as it stands.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Reading::Exact => "",
            Reading::AtLeast => "at-least",
            Reading::AtMost => "at-most",
            Reading::Full => "full",
        }
    }
}

/// How near to the best, as a share of it, a number is printed like the best, to two digits (common practice).
const LEFT: f64 = 0.02;

/// How the number of a cell is to be read.
pub(super) fn reading(
    measure: &Measure,
    higher_is_better: bool,
    proves: Proves,
    limits: Option<Limits>,
    value: Answer,
) -> Reading {
    let (Answer::Number(p), Some(_)) = (value, limits) else { return Reading::Exact };
    let full = measure
        .best
        .is_some_and(|best| if higher_is_better { p.x05 >= best * (1.0 - LEFT) } else { p.x95 <= best * (1.0 + LEFT) });
    match proves {
        Proves::NeverIn => Reading::AtMost,
        _ if full => Reading::Full,
        Proves::AtLeast => Reading::AtLeast,
        Proves::Both | Proves::NeverOut => Reading::Exact,
    }
}
