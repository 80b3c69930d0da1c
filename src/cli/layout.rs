//! Lays an answer out: facts in two columns, sentences wrapped.

use super::Console;
use crate::report::lines;
use std::io;

/// A name and what it is, one a line, values aligned; a value too long for the line goes on under itself.
pub(super) fn facts(console: &mut Console, rows: &[(&str, String)]) -> io::Result<()> {
    let names = rows.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
    let indent = names + 4;
    for (name, value) in rows {
        for (i, line) in wrapped(value, console.width.saturating_sub(indent)).iter().enumerate() {
            let left = if i == 0 { name } else { "" };
            console.say(format!("  {left:names$}  {line}").trim_end())?;
        }
    }
    Ok(())
}

/// A heading, then each sentence as a paragraph behind a dash; nothing at all without sentences.
pub(super) fn sentences(console: &mut Console, heading: &str, said: &[String]) -> io::Result<()> {
    if said.is_empty() {
        return Ok(());
    }
    console.say("")?;
    console.say(heading)?;
    for sentence in said {
        for (i, line) in wrapped(sentence, console.width.saturating_sub(4)).iter().enumerate() {
            console.say(&format!("  {} {line}", if i == 0 { "-" } else { " " }))?;
        }
    }
    Ok(())
}

/// `text` in lines of at most `width` columns, broken at spaces; never empty.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(20);
    let mut lines = vec![String::new()];
    for word in lines::words(text) {
        let last = lines
            .last_mut()
            .filter(|l| l.is_empty() || l.chars().count() + 1 + word.chars().count() <= width);
        match last {
            Some(line) if line.is_empty() => line.push_str(&word),
            Some(line) => {
                line.push(' ');
                line.push_str(&word);
            }
            None => lines.push(word),
        }
    }
    lines
}

/// Breaks text into lines of at most `width` characters at spaces.
pub(super) fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in lines::words(text) {
        let line = lines.last_mut().map_or(0, |l| l.chars().count());
        if line > 0 && line + 1 + word.chars().count() > width {
            lines.push(String::new());
        }
        if let Some(last) = lines.last_mut() {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(&word);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_their_width_and_lose_no_word() {
        let text = "one change made alone and measured teaches more than three made together";
        let lines = wrapped(text, 24);
        assert!(lines.iter().all(|l| l.chars().count() <= 24), "{lines:?}");
        assert_eq!(lines.join(" "), text);
        assert_eq!(wrapped("", 24), [""]);
    }

    #[test]
    fn lines_break_at_spaces_and_never_run_over() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("out to 1 7/8 turns", 8), ["out to", "1 7/8 turns"], "a quantity is one word");
        assert_eq!(wrapped("or from 20.00 to 29.92 inHg", 20), ["or from 20.00 to", "29.92 inHg"]);
        assert!(wrap(&"word ".repeat(50), 78).iter().all(|l| l.chars().count() <= 78));
        assert_eq!(wrap("", 10), [""]);
    }
}
