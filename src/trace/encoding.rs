//! How the bytes of a log become text: names in the header and notes; numbers are the same in every one of these.

use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// An encoding of one byte or more that leaves ASCII alone.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Encoding {
    /// The usual one.
    #[default]
    #[serde(rename = "utf-8")]
    Utf8,
    /// ISO 8859-1: each byte is the character of its number.
    #[serde(rename = "latin-1")]
    Latin1,
    /// As Latin-1, with printing characters between 0x80 and 0x9F.
    #[serde(rename = "windows-1252")]
    Windows1252,
}

/// What Windows-1252 puts between 0x80 and 0x9F; five places are empty and keep their Latin-1 control character
/// (Unicode Consortium mapping table CP1252, 1998; from memory).
const WINDOWS: [char; 32] = [
    '\u{20ac}', '\u{81}', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}', '\u{2c6}',
    '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8d}', '\u{17d}', '\u{8f}', '\u{90}', '\u{2018}',
    '\u{2019}', '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}', '\u{2dc}', '\u{2122}', '\u{161}',
    '\u{203a}', '\u{153}', '\u{9d}', '\u{17e}', '\u{178}',
];

impl Encoding {
    /// The bytes as text; what is no text in this encoding becomes the replacement character.
    pub fn text(self, bytes: &[u8]) -> Cow<'_, str> {
        match self {
            Encoding::Utf8 => String::from_utf8_lossy(bytes),
            Encoding::Latin1 => bytes.iter().map(|b| char::from(*b)).collect::<String>().into(),
            Encoding::Windows1252 => bytes
                .iter()
                .map(|b| match b {
                    0x80..=0x9f => WINDOWS[usize::from(*b - 0x80)],
                    b => char::from(*b),
                })
                .collect::<String>()
                .into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_byte_in_each() {
        let bytes = b"Temp \xb0C \x80\x99";
        assert_eq!(Encoding::Latin1.text(bytes), "Temp \u{b0}C \u{80}\u{99}");
        assert_eq!(Encoding::Windows1252.text(bytes), "Temp \u{b0}C \u{20ac}\u{2122}");
        assert_eq!(Encoding::Utf8.text(bytes), "Temp \u{fffd}C \u{fffd}\u{fffd}");
        assert_eq!(Encoding::Utf8.text("Temp \u{b0}C".as_bytes()), "Temp \u{b0}C");
    }

    #[test]
    fn ascii_is_left_alone_by_all() {
        let ascii: Vec<u8> = (0x20..0x7f).collect();
        let text = String::from_utf8(ascii.clone()).unwrap();
        for encoding in [Encoding::Utf8, Encoding::Latin1, Encoding::Windows1252] {
            assert_eq!(encoding.text(&ascii), text, "{encoding:?}");
        }
    }
}
