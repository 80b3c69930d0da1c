//! Reads a quantity as a person writes it ("14.5 inHg", "71kPa", "1 1/4 turns"), and writes it back.

use super::define::{Quantity, Unit};

/// Why a text is not the quantity asked for. The message says what would do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// Nothing was written.
    #[error("nothing here; expected {name}, such as \"{example}\"")]
    Empty {
        /// What was wanted.
        name: &'static str,
        /// How it may be written.
        example: String,
    },
    /// The text does not start with a number.
    #[error("\"{text}\" is not a number; expected {name}, such as \"{example}\"")]
    NotANumber {
        /// What was written, cut and made safe to print.
        text: String,
        /// What was wanted.
        name: &'static str,
        /// How it may be written.
        example: String,
    },
    /// A number that is not finite.
    #[error("\"{text}\" is not a finite number")]
    NotFinite {
        /// What was written.
        text: String,
    },
    /// A bare number where a unit is needed.
    #[error("\"{text}\" has no unit; {name} is written in {units}")]
    NoUnit {
        /// What was written.
        text: String,
        /// What was wanted.
        name: &'static str,
        /// The units that would do.
        units: String,
    },
    /// A unit of something else, or none that is known.
    #[error("\"{unit}\" is not a unit of {name}; these would do: {units}")]
    WrongUnit {
        /// The unit that was written.
        unit: String,
        /// What was wanted.
        name: &'static str,
        /// The units that would do.
        units: String,
    },
}

/// Reads `text` as a quantity; a unit is required.
///
/// Accepts a decimal comma, a sign, fractions and mixed numbers ("1 1/4 turns").
pub fn parse<Q: Quantity>(text: &str) -> Result<Q, QuantityError> {
    read(text, None)
}

/// As [`parse`], but a bare number is taken in the unit whose symbol is `default_unit` (for prompts, where the
/// unit is shown beside the question).
///
/// An unknown `default_unit` is the same as none.
pub fn parse_or_in<Q: Quantity>(text: &str, default_unit: &str) -> Result<Q, QuantityError> {
    read(text, Q::UNITS.iter().find(|u| u.symbol == default_unit))
}

fn read<Q: Quantity>(text: &str, default_unit: Option<&Unit>) -> Result<Q, QuantityError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(QuantityError::Empty { name: Q::NAME, example: example::<Q>() });
    }
    let (number, rest) = leading_number(trimmed).ok_or_else(|| QuantityError::NotANumber {
        text: excerpt(trimmed),
        name: Q::NAME,
        example: example::<Q>(),
    })?;
    let unit = match (rest.trim(), default_unit) {
        ("", Some(unit)) => unit,
        ("", None) => {
            return Err(QuantityError::NoUnit {
                text: excerpt(trimmed),
                name: Q::NAME,
                units: unit_list::<Q>(),
            });
        }
        (written, _) => find_unit::<Q>(written).ok_or_else(|| QuantityError::WrongUnit {
            unit: excerpt(written),
            name: Q::NAME,
            units: unit_list::<Q>(),
        })?,
    };
    let inside = number * unit.scale + unit.offset;
    // In every unit: it may be shown in any.
    let shown = |unit: &Unit| ((inside - unit.offset) / unit.scale).is_finite();
    if !Q::UNITS.iter().all(shown) {
        return Err(QuantityError::NotFinite { text: excerpt(trimmed) });
    }
    Ok(Q::from_si(inside))
}

/// Writes a quantity in its file unit, exactly enough to read back the same number of that unit.
///
/// Twelve significant digits: more would print the dust of unit conversion (14.499999999999998).
pub fn to_text<Q: Quantity>(quantity: Q) -> String {
    let unit = &Q::UNITS[0];
    format!("{} {}", tidy_number(quantity.in_unit(unit)), unit.symbol)
}

/// A number with at most twelve significant digits and no trailing zeros.
pub fn tidy_number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let rounded: f64 = format!("{value:.11e}").parse().unwrap_or(value);
    format!("{rounded}")
}

/// A leading decimal number, fraction or mixed number, and what follows it.
fn leading_number(text: &str) -> Option<(f64, &str)> {
    let (sign, unsigned) = match text.as_bytes().first()? {
        b'-' => (-1.0, text[1..].trim_start()),
        b'+' => (1.0, text[1..].trim_start()),
        _ if text.starts_with('\u{2212}') => (-1.0, text[3..].trim_start()),
        _ => (1.0, text),
    };
    let (whole, rest) = decimal(unsigned)?;
    if let Some((denominator, after)) = fraction_tail(rest) {
        return Some((sign * whole / denominator, after));
    }
    let spaced = rest.trim_start();
    if spaced.len() < rest.len()
        && let Some((numerator, tail)) = decimal(spaced)
        && let Some((denominator, after)) = fraction_tail(tail)
    {
        return Some((sign * (whole + numerator / denominator), after));
    }
    Some((sign * whole, rest))
}

/// The "/4" of a fraction.
fn fraction_tail(text: &str) -> Option<(f64, &str)> {
    let (denominator, after) = decimal(text.strip_prefix('/')?)?;
    (denominator != 0.0).then_some((denominator, after))
}

/// Digits with at most one point or comma, and an exponent when one follows.
fn decimal(text: &str) -> Option<(f64, &str)> {
    let bytes = text.as_bytes();
    let mut end = 0;
    let (mut digits, mut points) = (0, 0);
    while let Some(&b) = bytes.get(end) {
        match b {
            b'0'..=b'9' => digits += 1,
            b'.' | b',' if points == 0 => points += 1,
            _ => break,
        }
        end += 1;
    }
    if digits == 0 {
        return None;
    }
    if let Some(exponent) = exponent_length(&bytes[end..]) {
        end += exponent;
    }
    let number = text[..end].replace(',', ".").parse::<f64>().ok()?;
    Some((number, &text[end..]))
}

fn exponent_length(bytes: &[u8]) -> Option<usize> {
    if !matches!(bytes.first(), Some(b'e' | b'E')) {
        return None;
    }
    let sign = usize::from(matches!(bytes.get(1), Some(b'+' | b'-')));
    let digits = bytes[1 + sign..].iter().take_while(|b| b.is_ascii_digit()).count();
    (digits > 0).then_some(1 + sign + digits)
}

/// Units are compared without case, spaces, dots or underscores, except where case alone tells two apart.
fn find_unit<Q: Quantity>(written: &str) -> Option<&'static Unit> {
    let plain = plain(written);
    Q::UNITS.iter().find(|u| u.symbol == written).or_else(|| {
        Q::UNITS
            .iter()
            .find(|u| self::plain(u.symbol) == plain || u.aliases.iter().any(|a| self::plain(a) == plain))
    })
}

fn plain(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '.' | '_'))
        .flat_map(char::to_lowercase)
        .collect()
}

/// The units of a quantity, for a message.
pub fn unit_list<Q: Quantity>() -> String {
    let names: Vec<_> = Q::UNITS.iter().map(|u| u.symbol).collect();
    names.join(", ")
}

fn example<Q: Quantity>() -> String {
    format!("1.5 {}", Q::UNITS[0].symbol)
}

/// At most forty characters of a person's text, with everything unprintable escaped.
fn excerpt(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if out.chars().count() >= 40 {
            out.push('…');
            break;
        }
        if c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
        {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use crate::units::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    #[test]
    fn as_people_write_it() {
        assert_relative_eq!("14.5 inHg".parse::<Vacuum>().unwrap().as_inhg(), 14.5, epsilon = 1e-9);
        assert_relative_eq!("14,5inhg".parse::<Vacuum>().unwrap().as_inhg(), 14.5, epsilon = 1e-9);
        assert_relative_eq!("71kPa".parse::<Pressure>().unwrap().as_kpa(), 71.0, epsilon = 1e-9);
        assert_relative_eq!("302cid".parse::<Volume>().unwrap().as_in3(), 302.0, epsilon = 1e-9);
        assert_relative_eq!("4.2 L".parse::<Volume>().unwrap().as_l(), 4.2, epsilon = 1e-9);
        assert_relative_eq!("0.060in".parse::<Length>().unwrap().as_inches(), 0.060, epsilon = 1e-12);
        assert_relative_eq!("1.5mm".parse::<Length>().unwrap().as_mm(), 1.5, epsilon = 1e-12);
        assert_relative_eq!("85F".parse::<Temperature>().unwrap().as_f(), 85.0, epsilon = 1e-9);
        assert_relative_eq!("29C".parse::<Temperature>().unwrap().as_c(), 29.0, epsilon = 1e-9);
        assert_relative_eq!("30%".parse::<Fraction>().unwrap().as_ratio(), 0.30, epsilon = 1e-12);
        assert_relative_eq!("1 1/4 turns".parse::<Turns>().unwrap().as_turns(), 1.25, epsilon = 1e-12);
        assert_relative_eq!("-1/8 turn".parse::<Turns>().unwrap().as_turns(), -0.125, epsilon = 1e-12);
        assert_relative_eq!("1.2e3 rpm".parse::<EngineSpeed>().unwrap().as_rpm(), 1200.0, epsilon = 1e-9);
    }

    #[test]
    fn a_bare_number_is_refused_with_the_units_that_would_do() {
        let error = "14.5".parse::<Vacuum>().unwrap_err().to_string();
        assert_eq!(error, "\"14.5\" has no unit; a vacuum is written in inHg, kPa, mmHg, hPa, Pa, psi, bar");
    }

    #[test]
    fn the_wrong_kind_of_unit_is_refused_with_the_units_that_would_do() {
        let error = "14.5 rpm".parse::<Vacuum>().unwrap_err().to_string();
        assert!(error.starts_with("\"rpm\" is not a unit of a vacuum; these would do: inHg"), "{error}");
    }

    /// As they come back out of the sheet and of other pages: spaces at which no line breaks, and narrow ones.
    #[test]
    fn spaces_of_every_kind_are_spaces() {
        for space in ["\u{a0}", "\u{202f}", "\u{2009}", "\u{2007}"] {
            let turns: Turns = format!("{space}1{space}7/8{space}turns{space}").parse().unwrap();
            assert_relative_eq!(turns.as_turns(), 1.875, epsilon = 1e-12);
            let bare: Turns = parse::parse_or_in(&format!("-1{space}7/8"), "turns").unwrap();
            assert_relative_eq!(bare.as_turns(), -1.875, epsilon = 1e-12);
            let torque: Torque = format!("300{space}lbf{space}ft").parse().unwrap();
            let same: Torque = "300 lbf ft".parse().unwrap();
            assert_eq!(torque, same);
        }
    }

    #[test]
    fn nonsense_is_refused() {
        for text in [
            "",
            "NaN inHg",
            "inf kPa",
            "abc",
            "1e999 inHg",
            "--3 inHg",
            "1/0 turns",
            "0x10 inHg",
            "1_000 inHg",
        ] {
            assert!(text.parse::<Vacuum>().is_err(), "{text}");
        }
        assert!("1/0 turns".parse::<Turns>().is_err());
    }

    /// Finite as written and beyond all numbers in another unit: it could not be shown.
    #[test]
    fn what_no_unit_could_show_is_refused() {
        for text in ["1e308 ft", "-1e308 ft", "1e308 in", "1e306 m"] {
            let error = text.parse::<Length>().unwrap_err();
            assert!(matches!(error, QuantityError::NotFinite { .. }), "{text}: {error}");
        }
        let far: Length = "1e300 ft".parse().unwrap();
        assert!(parse::to_text(far).parse::<Length>().is_ok());
        assert!(Pressure::try_from_kpa(1e306).is_err() && Pressure::try_from_kpa(1e304).is_ok());
    }

    #[test]
    fn an_escape_sequence_never_reaches_the_message() {
        let error = "\u{1b}[2J14 inHg".parse::<Vacuum>().unwrap_err().to_string();
        assert!(!error.contains('\u{1b}'), "{error:?}");
    }

    #[test]
    fn the_shown_unit_stands_in_for_a_missing_one() {
        let q: Temperature = parse::parse_or_in("82", "degC").unwrap();
        assert_relative_eq!(q.as_c(), 82.0, epsilon = 1e-9);
        let q: Temperature = parse::parse_or_in("180F", "degC").unwrap();
        assert_relative_eq!(q.as_f(), 180.0, epsilon = 1e-9);
    }

    proptest! {
        #[test]
        fn text_and_back_is_the_same_number(value in -1e6..1e6f64) {
            let there = Vacuum::from_inhg(value);
            let back: Vacuum = parse::to_text(there).parse().unwrap();
            prop_assert!((back.as_inhg() - value).abs() <= 1e-10 * value.abs().max(1e-3));
            // a second trip changes nothing: what is in a file is a fixed point
            prop_assert_eq!(parse::to_text(back), parse::to_text(there));
        }

        #[test]
        fn no_text_panics(text in ".{0,60}") {
            let _ = text.parse::<Vacuum>();
            let _ = text.parse::<Turns>();
            let _ = text.parse::<Temperature>();
        }
    }
}
