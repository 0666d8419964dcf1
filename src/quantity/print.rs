//! Numbers as text: canonical for digests, rounded for people.

/// Twelve significant digits, the form that goes into digests: `1.5e-7` is `1.5e-7` on every
/// machine. Non-finite numbers are named.
#[must_use]
pub fn canonical(value: f64) -> String {
    if !value.is_finite() {
        return if value.is_nan() {
            "none"
        } else if value > 0.0 {
            "inf"
        } else {
            "-inf"
        }
        .to_owned();
    }
    let text = format!("{:.11e}", if value == 0.0 { 0.0 } else { value });
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let mantissa = mantissa.trim_end_matches('0').trim_end_matches('.');
    format!("{mantissa}e{exponent}")
}

/// A value with `digits` significant digits, plain between 1e-3 and 1e6, else with a power of ten.
#[must_use]
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return if value.is_nan() {
            "–"
        } else if value > 0.0 {
            "unbounded"
        } else {
            "minus unbounded"
        }
        .to_owned();
    }
    let digits = digits.clamp(1, 15);
    let text = format!("{:.*e}", digits - 1, value);
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    if value == 0.0 {
        return "0".to_owned();
    }
    if !(-3..6).contains(&exponent) {
        return format!("{mantissa}e{exponent}");
    }
    let rounded: f64 = text.parse().unwrap_or(value);
    let decimals = usize::try_from(i32::try_from(digits).unwrap_or(15) - 1 - exponent).unwrap_or(0);
    format!("{rounded:.decimals$}")
}

/// As [`significant`], without the zeros behind the point that say nothing.
#[must_use]
pub fn tidy(value: f64, digits: usize) -> String {
    let text = significant(value, digits);
    let (number, exponent) = text.split_once('e').map_or((text.as_str(), None), |(n, e)| (n, Some(e)));
    let number = if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number };
    exponent.map_or_else(|| number.to_owned(), |exponent| format!("{number}e{exponent}"))
}

/// A count with its noun: `1 enquiry`, `2 enquiries`.
#[must_use]
pub fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn canonical_numbers_do_not_depend_on_how_they_were_made() {
        assert_eq!(canonical(0.1 + 0.2), "3e-1");
        assert_eq!(canonical(-0.0), "0e0");
        assert_eq!(canonical(65e-6), "6.5e-5");
        assert_eq!(canonical(f64::NAN), "none");
    }

    #[test]
    fn significant_digits_survive_rounding_up() {
        assert_eq!(significant(0.999_6, 3), "1.00");
        assert_eq!(significant(1234.6, 3), "1230");
        assert_eq!(significant(1.5e-7, 2), "1.5e-7");
        assert_eq!(significant(12.34, 3), "12.3");
    }
}
