//! A cell's text as a number.

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell {
    /// A finite number.
    Number(f64),
    /// Nothing, or a word for nothing.
    Empty,
    /// NaN, infinity, or a number too large to hold.
    NotFinite,
    /// Something else.
    Bad,
}

/// Powers of ten that a double holds exactly, of those that are needed.
pub(super) const POWERS: [f64; 16] =
    [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// Reads plain digits with at most one point: the number is the first over the second. `None` is not "bad": the slow
/// door decides.
///
/// With at most 15 digits, digits and power of ten are both exact and one division rounds correctly (Clinger,
/// "How to read floating point numbers accurately", 1990).
#[inline]
pub(super) fn plain(cell: &[u8], point: u8) -> Option<(f64, f64)> {
    let (negative, unsigned) = match cell.strip_prefix(b"-") {
        Some(rest) => (true, rest),
        None => (false, cell),
    };
    let (mut digits, mut seen, mut decimals, mut pointed) = (0u64, 0, 0, false);
    for b in unsigned {
        let digit = b.wrapping_sub(b'0');
        if digit < 10 {
            digits = digits.wrapping_mul(10).wrapping_add(u64::from(digit));
            seen += 1;
            decimals += usize::from(pointed);
        } else if *b == point && !pointed {
            pointed = true;
        } else {
            return None;
        }
    }
    if seen == 0 || seen > 15 {
        return None;
    }
    let value = digits as f64;
    Some((if negative { -value } else { value }, POWERS[decimals]))
}

/// Reads a cell as forgivingly as is safe: spaces around it, a plus or a true minus sign, an exponent, words for
/// nothing. Underscores, hexadecimal, thousands separators and units are not a number.
pub(super) fn cell(text: &[u8], point: u8) -> Cell {
    let text = text.trim_ascii();
    if is_empty_word(text) {
        return Cell::Empty;
    }
    let mut buffer = [0u8; 64];
    let Some(ascii) = plain_ascii(text, point, &mut buffer) else {
        return Cell::Bad;
    };
    let unsigned = ascii.strip_prefix(b"-").or_else(|| ascii.strip_prefix(b"+")).unwrap_or(ascii);
    if ["nan", "inf", "infinity", "1.#inf", "1.#qnan"]
        .iter()
        .any(|w| unsigned.eq_ignore_ascii_case(w.as_bytes()))
    {
        return Cell::NotFinite;
    }
    if !unsigned.first().is_some_and(|b| b.is_ascii_digit() || *b == b'.') {
        return Cell::Bad;
    }
    match fast_float2::parse::<f64, _>(ascii) {
        Ok(value) if value.is_finite() => Cell::Number(value),
        Ok(_) => Cell::NotFinite,
        Err(_) => Cell::Bad,
    }
}

fn is_empty_word(text: &[u8]) -> bool {
    ["", "-", "--", "---", "na", "n/a", "#n/a", "null", "none", "?", "*"]
        .iter()
        .any(|w| text.eq_ignore_ascii_case(w.as_bytes()))
}

/// The text with U+2212 as a hyphen and the decimal sign as a point. `None` when it cannot be a number.
fn plain_ascii<'a>(text: &[u8], point: u8, buffer: &'a mut [u8; 64]) -> Option<&'a [u8]> {
    const MINUS: &[u8] = "\u{2212}".as_bytes();
    let (sign, rest) = match text.strip_prefix(MINUS) {
        Some(rest) => (&b"-"[..], rest),
        None => (&b""[..], text),
    };
    let length = sign.len() + rest.len();
    // A number longer than this says no more than its first digits, but no instrument writes one.
    let into = buffer.get_mut(..length)?;
    into[..sign.len()].copy_from_slice(sign);
    for (to, from) in into[sign.len()..].iter_mut().zip(rest) {
        *to = match *from {
            b if b == point => b'.',
            b'.' | b',' => return None,
            b => b,
        };
    }
    Some(into)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn quotient(parts: Option<(f64, f64)>) -> Option<f64> {
        parts.map(|(digits, over)| digits / over)
    }

    #[test]
    fn what_is_a_number_and_what_is_not() {
        let read = |t: &str| cell(t.as_bytes(), b'.');
        for (text, value) in [
            ("1", 1.0),
            ("+1", 1.0),
            (".5", 0.5),
            ("5.", 5.0),
            ("-0", 0.0),
            (" 12.5 ", 12.5),
            ("1.2e3", 1200.0),
            ("\u{2212}3", -3.0),
        ] {
            assert_eq!(read(text), Cell::Number(value), "{text}");
        }
        for text in ["", " ", "-", "--", "NA", "n/a", "#N/A", "null"] {
            assert_eq!(read(text), Cell::Empty, "{text}");
        }
        for text in ["nan", "NaN", "inf", "-Infinity", "1e309", "1e5000000000"] {
            assert_eq!(read(text), Cell::NotFinite, "{text}");
        }
        for text in
            ["0x10", "1_000", "1 000", "14.7:1", "85 kPa", "abc", "1,5", "--3", "+-3", "1.2.3", "\u{ff11}2"]
        {
            assert_eq!(read(text), Cell::Bad, "{text}");
        }
        assert_eq!(cell(b"1,5", b','), Cell::Number(1.5));
        assert_eq!(cell(b"1.5", b','), Cell::Bad);
        assert_eq!(cell("9".repeat(400).as_bytes(), b'.'), Cell::Bad);
    }

    #[test]
    fn the_quick_door_refuses_the_odd() {
        assert_eq!(quotient(plain(b"12.50", b'.')), Some(12.5));
        assert_eq!(quotient(plain(b"-12,5", b',')), Some(-12.5));
        for odd in [
            &b" 1"[..],
            b"1 ",
            b"+1",
            b"1e3",
            b"\"1\"",
            b"",
            b"-",
            b".",
            b"1234567890123456",
            b"1.2.3",
            b"1:2",
            b"/1",
        ] {
            assert_eq!(plain(odd, b'.'), None, "{odd:?}");
        }
    }

    proptest! {
        #[test]
        fn the_quick_door_agrees_with_the_standard_parser(whole in 0u32..10_000_000, part in 0u32..1_000_000, places in 1usize..8, negative: bool) {
            let text = format!("{}{whole}.{part:0places$}", if negative { "-" } else { "" });
            if let Some(value) = quotient(plain(text.as_bytes(), b'.')) {
                prop_assert_eq!(value.to_bits(), text.parse::<f64>().unwrap().to_bits());
            } else {
                prop_assert!(text.len() > 15);
            }
        }

        #[test]
        fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..80)) {
            let _ = cell(&bytes, b'.');
            let _ = plain(&bytes, b'.');
        }
    }
}
