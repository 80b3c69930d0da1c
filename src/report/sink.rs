//! Words on their way out, one type for each place they can go. A person's words reach a page, a picture or a
//! terminal only through these.

use std::fmt::{self, Display, Write};

/// For a terminal: nothing in it can move the cursor, change colours or turn the line round.
#[derive(Debug, Clone, Copy)]
pub struct Term<'a>(pub &'a str);

/// For text nodes and quoted attributes of a page.
#[derive(Debug, Clone, Copy)]
pub struct Html<'a>(pub &'a str);

/// For text in a picture.
#[derive(Debug, Clone, Copy)]
pub struct Svg<'a>(pub &'a str);

/// For Markdown: nothing in it is markup.
#[derive(Debug, Clone, Copy)]
pub struct Markdown<'a>(pub &'a str);

/// Steers a terminal or the direction of writing, or cannot be seen: Cc, Cf, and the two separators of lines and
/// paragraphs. `char::is_control` knows Cc only.
pub fn unseen(c: char) -> bool {
    c.is_control()
        || matches!(u32::from(c),
            0xAD | 0x600..=0x605 | 0x61C | 0x6DD | 0x70F | 0x890..=0x891 | 0x8E2 | 0x180E | 0x200B..=0x200F
            | 0x2028..=0x202E | 0x2060..=0x206F | 0xFEFF | 0xFFF9..=0xFFFB | 0x110BD | 0x110CD
            | 0x13430..=0x1343F | 0x1BCA0..=0x1BCA3 | 0x1D173..=0x1D17A | 0xE0000..=0xE007F)
}

impl Display for Term<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.chars().try_for_each(|c| match c {
            '\t' => f.write_char(' '),
            c if unseen(c) => write!(f, "\\u{{{:x}}}", u32::from(c)),
            c => f.write_char(c),
        })
    }
}

impl Display for Html<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.chars().try_for_each(|c| match c {
            '&' => f.write_str("&amp;"),
            '<' => f.write_str("&lt;"),
            '>' => f.write_str("&gt;"),
            '"' => f.write_str("&quot;"),
            '\'' => f.write_str("&#39;"),
            '\t' | '\n' => f.write_char(' '),
            c if not_a_character(c) => f.write_char('\u{FFFD}'),
            c => f.write_char(c),
        })
    }
}

/// Controls, and the code points that neither a page nor XML may hold.
fn not_a_character(c: char) -> bool {
    c.is_control()
        || matches!(u32::from(c) & 0xFFFF, 0xFFFE | 0xFFFF)
        || matches!(u32::from(c), 0xFDD0..=0xFDEF)
}

impl Display for Svg<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Html(self.0).fmt(f)
    }
}

impl Display for Markdown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.chars().try_for_each(|c| match c {
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '(' | ')' | '#' | '+' | '-' | '!' | '|'
            | '~' | ':' | '@' | '.' => {
                write!(f, "\\{c}")
            }
            '&' => f.write_str("&amp;"),
            '<' => f.write_str("&lt;"),
            '>' => f.write_str("&gt;"),
            '\t' | '\n' => f.write_char(' '),
            c if unseen(c) => f.write_char('\u{FFFD}'),
            c => f.write_char(c),
        })
    }
}

impl maud::Render for Html<'_> {
    fn render_to(&self, buffer: &mut String) {
        // Writing into a string cannot fail.
        let _ = write!(buffer, "{self}");
    }
}

impl maud::Render for Svg<'_> {
    fn render_to(&self, buffer: &mut String) {
        let _ = write!(buffer, "{self}");
    }
}

/// A length on a page: two decimals at most, never an exponent, an infinity or a not-a-number.
pub fn coordinate(value: f64) -> String {
    let safe = if value.is_finite() { value.clamp(-99_999.0, 99_999.0) } else { 0.0 };
    let text = crate::units::show::fixed(safe, 2);
    match text.split_once('.') {
        Some((whole, "00")) => whole.to_owned(),
        Some((whole, part)) if part.ends_with('0') => format!("{whole}.{}", &part[..1]),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn each_place_has_its_own_dangers() {
        assert_eq!(
            Term("a\u{1b}[31m\u{9b}2J\u{202e}b\tc\n").to_string(),
            "a\\u{1b}[31m\\u{9b}2J\\u{202e}b c\\u{a}"
        );
        assert_eq!(Html("<b a='1'>&\"\u{0}").to_string(), "&lt;b a=&#39;1&#39;&gt;&amp;&quot;\u{FFFD}");
        assert_eq!(Svg("\u{ffff}]]>").to_string(), "\u{FFFD}]]&gt;");
        assert_eq!(Markdown("[x](y) <i> *b* | a").to_string(), "\\[x\\]\\(y\\) &lt;i&gt; \\*b\\* \\| a");
    }

    #[test]
    fn coordinates_are_plain_numbers() {
        for (value, said) in [
            (1.0, "1"),
            (1.5, "1.5"),
            (1.256, "1.26"),
            (-0.0001, "0"),
            (f64::NAN, "0"),
            (1e308, "99999"),
            (f64::NEG_INFINITY, "0"),
        ] {
            assert_eq!(coordinate(value), said);
        }
    }

    proptest! {
        #[test]
        fn nothing_unseen_reaches_a_terminal(text in any::<String>()) {
            prop_assert!(!Term(&text).to_string().chars().any(unseen));
        }

        #[test]
        fn no_markup_reaches_a_page(text in any::<String>()) {
            let out = Html(&text).to_string();
            prop_assert!(!out.chars().any(|c| matches!(c, '<' | '>' | '"' | '\'') || c.is_control()));
        }
    }
}
