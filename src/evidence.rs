//! Where a number comes from: its place in a file, its source, its standing, its spread.

use std::fmt;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where something stands in a file, or which argument of a command it is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
pub struct Place {
    /// The file, relative to the data folder, or the command.
    pub file: Arc<str>,
    /// The line an editor shows, from 1; 0 where lines mean nothing.
    pub line: u32,
    /// The column head, the dotted key, or the argument.
    pub column: Arc<str>,
}

impl Place {
    /// A cell of a table or a key of a TOML file.
    pub fn cell(file: impl Into<Arc<str>>, line: u32, column: impl Into<Arc<str>>) -> Self {
        Place { file: file.into(), line, column: column.into() }
    }

    /// A whole line.
    pub fn line(file: impl Into<Arc<str>>, line: u32) -> Self {
        Place::cell(file, line, "")
    }

    /// A whole file.
    pub fn file(file: impl Into<Arc<str>>) -> Self {
        Place::cell(file, 0, "")
    }

    /// An argument of a command.
    pub fn argument(command: impl Into<Arc<str>>, argument: impl Into<Arc<str>>) -> Self {
        Place::cell(command, 0, argument)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        // A sheet of a workbook counts rows, a text lines.
        let sheet = self.file.contains(" sheet ");
        if self.line > 0 {
            write!(f, " {} {}", if sheet { "row" } else { "line" }, self.line)?;
        }
        if !self.column.is_empty() {
            let word = if self.line == 0 {
                "argument"
            } else if sheet || self.file.ends_with(".csv") {
                "column"
            } else {
                "key"
            };
            write!(f, ", {word} {}", self.column)?;
        }
        Ok(())
    }
}

/// The standing of a number, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// A test report.
    Measured,
    /// A named source that was read.
    Published,
    /// The demonstration catalogue, allowed only where `about.toml` says `invented = true`.
    Invented,
    /// A named method.
    Estimated,
    /// Recalled of a named source and not checked.
    FromMemory,
}

impl Basis {
    /// Every basis, best first.
    pub const ALL: [Basis; 5] =
        [Basis::Measured, Basis::Published, Basis::Invented, Basis::Estimated, Basis::FromMemory];

    /// The word used in the data files.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Basis::Measured => "measured",
            Basis::Published => "published",
            Basis::Invented => "invented",
            Basis::Estimated => "estimated",
            Basis::FromMemory => "from-memory",
        }
    }

    /// True for a number that must be confirmed before release.
    #[must_use]
    pub const fn is_weak(self) -> bool {
        matches!(self, Basis::Estimated | Basis::FromMemory)
    }
}

impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}

/// How the two halves of a spread are shaped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shape {
    /// Straight in the value.
    Normal,
    /// Straight in its logarithm.
    LogNormal,
}

/// The standard normal quantile of 95 %.
pub const Z95: f64 = 1.644_853_626_951_472_6;

/// A value with its 5th and 95th percentile, in SI units.
///
/// The distribution is split at the value into two halves, each log-normal or normal, and cut at
/// the physical bounds. Without `low` and `high` the value is exact.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// The median.
    pub value: f64,
    /// The 5th percentile.
    pub low: f64,
    /// The 95th percentile.
    pub high: f64,
    /// The shape of both halves.
    pub shape: Shape,
    /// The lowest possible value.
    pub floor: f64,
    /// The highest possible value.
    pub ceiling: f64,
}

impl Spread {
    /// A value without spread.
    #[must_use]
    pub const fn exact(value: f64) -> Self {
        Spread {
            value,
            low: value,
            high: value,
            shape: Shape::Normal,
            floor: f64::NEG_INFINITY,
            ceiling: f64::INFINITY,
        }
    }

    /// True if there is no spread.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.low.total_cmp(&self.high).is_eq()
    }

    /// The value at the standard normal deviate `z`.
    #[must_use]
    pub fn at(&self, z: f64) -> f64 {
        if self.is_exact() {
            return self.value;
        }
        let edge = if z < 0.0 { self.low } else { self.high };
        let raw = match self.shape {
            Shape::LogNormal => self.value * libm::exp(libm::fabs(z) / Z95 * libm::log(edge / self.value)),
            Shape::Normal => self.value + libm::fabs(z) / Z95 * (edge - self.value),
        };
        raw.clamp(self.floor, self.ceiling)
    }
}

/// The key of a fact in the catalogue's side table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct FactId(pub u32);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spread_passes_through_its_three_numbers() {
        for shape in [Shape::Normal, Shape::LogNormal] {
            let s = Spread { value: 2.0, low: 1.0, high: 6.0, shape, floor: 0.0, ceiling: 10.0 };
            assert!((s.at(-Z95) - 1.0).abs() < 1e-12);
            assert!((s.at(0.0) - 2.0).abs() < 1e-12);
            assert!((s.at(Z95) - 6.0).abs() < 1e-12);
            assert!(s.at(40.0) <= 10.0 && s.at(-40.0) >= 0.0);
        }
    }
}
