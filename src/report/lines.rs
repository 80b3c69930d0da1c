//! Where a line may break: at spaces, but not between a number and its fraction or its unit. "1 7/8" read at the end of
//! one line and the beginning of the next is another number.

use crate::units::show::is_symbol;

/// Looks like a space, and no line breaks at it.
pub const NO_BREAK: char = '\u{a0}';

/// The text with no-break spaces inside its quantities, and as it was but for those.
pub fn kept_together(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = "";
    for (i, word) in text.split(' ').enumerate() {
        if i > 0 {
            out.push(if belong(before, word) { NO_BREAK } else { ' ' });
        }
        out.push_str(word);
        before = word;
    }
    out
}

/// What a line may be made of: words, and quantities with the spaces inside them.
pub fn words(text: &str) -> Vec<String> {
    let breaks = |c: char| c.is_whitespace() && c != NO_BREAK;
    let all = kept_together(text);
    all.split(breaks).filter(|w| !w.is_empty()).map(|w| w.replace(NO_BREAK, " ")).collect()
}

/// The two are of one quantity.
fn belong(before: &str, word: &str) -> bool {
    let word = word.trim_end_matches(['.', ',', ';', ':', ')', '?']);
    let before = before.trim_start_matches(['(', '"', '~', '<', '>', '=']);
    match before {
        "lbf" => word == "ft",
        "N" => word == "m",
        _ => {
            (is_whole(before) && is_fraction(word))
                || ((is_number(before) || is_fraction(before)) && is_symbol(word))
        }
    }
}

fn is_whole(word: &str) -> bool {
    !word.is_empty() && word.trim_start_matches(['+', '-']).bytes().all(|b| b.is_ascii_digit())
}

fn is_number(word: &str) -> bool {
    word.bytes().any(|b| b.is_ascii_digit()) && word.trim_start_matches(['+', '-']).parse::<f64>().is_ok()
}

fn is_fraction(word: &str) -> bool {
    word.split_once('/').is_some_and(|(above, below)| is_whole(above) && is_whole(below))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_number_keeps_its_fraction_and_its_unit() {
        for (text, said) in [
            ("to 1 7/8 and 1 5/8 out", "to|1 7/8|and|1 5/8|out"),
            ("1 3/8, 1 1/4 turns out.", "1 3/8,|1 1/4 turns|out."),
            ("(0.10 inHg still to gain)", "(0.10 inHg|still|to|gain)"),
            ("at 212.4 lbf ft, 300 N m", "at|212.4 lbf ft,|300 N m"),
            ("from 5 degC; 3 % at most", "from|5 degC;|3 %|at|most"),
            ("Turn 2 screws, 7 of 11", "Turn|2|screws,|7|of|11"),
            ("either 1 or/and 2 and/or 3", "either|1|or/and|2|and/or|3"),
        ] {
            assert_eq!(words(text).join("|"), said);
        }
    }

    proptest! {
        #[test]
        fn nothing_else_is_changed(text in "[a-z0-9/., ]{0,40}") {
            prop_assert_eq!(kept_together(&text).replace(NO_BREAK, " "), text);
        }
    }
}
