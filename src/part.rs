//! One part of a batch of thousands that is worked on in several: which part takes what.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::record::sha256;

/// One part of a batch that is worked on in several: the `number`th of `of`.
///
/// Which part takes an enquiry hangs on its number alone: neither on its place in the batch nor on what else
/// is asked for, so that a part can be done again by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Part {
    number: u32,
    of: u32,
}

impl Part {
    /// The most parts there may be.
    pub const MOST: u32 = 10_000;

    /// Which of them it is, from 1.
    #[must_use]
    pub fn number(self) -> u32 {
        self.number
    }

    /// How many parts there are.
    #[must_use]
    pub fn of(self) -> u32 {
        self.of
    }

    /// What is added to the name of a file that is of this part.
    #[must_use]
    pub fn of_file(self) -> String {
        format!("-{}-of-{}", self.number, self.of)
    }

    /// True if this part takes the thing of this name.
    #[must_use]
    pub fn takes(self, name: &str) -> bool {
        // Eight hexadecimal digits always read.
        let hash = u32::from_str_radix(&sha256(name.as_bytes())[..8], 16).unwrap_or_default();
        hash % self.of == self.number - 1
    }
}

impl FromStr for Part {
    type Err = String;

    fn from_str(text: &str) -> Result<Part, String> {
        let needed = || format!("write K/N, such as 3/8: K from 1 to N, N up to {}", Part::MOST);
        let (number, of) = text.split_once('/').ok_or_else(needed)?;
        let (number, of) = (number.parse().map_err(|_| needed())?, of.parse().map_err(|_| needed())?);
        if number == 0 || number > of || of > Part::MOST { Err(needed()) } else { Ok(Part { number, of }) }
    }
}

impl TryFrom<String> for Part {
    type Error = String;

    fn try_from(text: String) -> Result<Part, String> {
        text.parse()
    }
}

impl From<Part> for String {
    fn from(part: Part) -> String {
        part.to_string()
    }
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

#[cfg(test)]
mod tests {
    use super::Part;

    #[test]
    fn every_name_is_in_one_part_and_the_parts_are_alike_in_size() {
        for of in [1_u32, 2, 7, 64] {
            let parts: Vec<Part> = (1..=of).map(|k| format!("{k}/{of}").parse().unwrap()).collect();
            let mut sizes = vec![0_u32; parts.len()];
            for n in 0..6400 {
                let name = format!("Q-{n}");
                let takers: Vec<usize> = (0..parts.len()).filter(|k| parts[*k].takes(&name)).collect();
                assert_eq!(takers.len(), 1);
                sizes[takers[0]] += 1;
            }
            let fair = 6400 / of;
            assert!(sizes.iter().all(|size| size.abs_diff(fair) <= fair / 2), "{sizes:?}");
        }
    }

    /// Source: `printf Q-101 | sha256sum`, its first eight digits modulo 4.
    #[test]
    fn the_split_is_the_same_for_ever() {
        let part = |name: &str| (1..=4).find(|k| format!("{k}/4").parse::<Part>().unwrap().takes(name));
        assert_eq!(["Q-101", "Q-102", "Q-103"].map(part), [Some(2), Some(1), Some(2)]);
    }

    #[test]
    fn what_is_no_part_is_refused() {
        for text in ["", "1", "0/4", "5/4", "1/0", "a/b", "1/2/3", "-1/4", "1/10001"] {
            assert!(text.parse::<Part>().is_err(), "{text}");
        }
    }
}
