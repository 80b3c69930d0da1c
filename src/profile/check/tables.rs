//! Rule tables and logger profiles: their rooms say what they hold; their refusals are worded and placed here.

use super::super::fault::{Faults, Place};
use super::super::safe::safe;
use super::super::tree::{self, Value};
use crate::rules::RuleBook;
use crate::trace::{LoggerError, LoggerProfile};

/// Reads a shop's rules.
pub(in crate::profile) fn rules(file: &str, bytes: &[u8], faults: &Faults) -> Option<RuleBook> {
    let (text, source) = text(file, bytes, faults)?;
    match RuleBook::from_toml(&text) {
        Ok(book) => Some(book),
        Err(error) => {
            refuse(&error, &text, source, faults);
            None
        }
    }
}

/// Reads a logger profile.
pub(in crate::profile) fn logger(file: &str, bytes: &[u8], faults: &Faults) -> Option<LoggerProfile> {
    let (text, source) = text(file, bytes, faults)?;
    match toml::from_str::<LoggerProfile>(&text) {
        Ok(_) => {}
        Err(error) => {
            refuse(&error, &text, source, faults);
            return None;
        }
    }
    match LoggerProfile::from_toml(&text) {
        Ok(profile) => Some(profile),
        Err(error) => {
            place(&error, &text, source, faults);
            None
        }
    }
}

/// A fault of a logger profile at the key or the column it is about.
fn place(error: &LoggerError, text: &str, source: usize, faults: &Faults) {
    let (key, what) = match error {
        LoggerError::Toml(what) => ("", what.clone()),
        LoggerError::Key { key, what } => (*key, format!("{key}: {what}")),
        LoggerError::Column { column, what, .. } => ("column", format!("the {column} column: {what}")),
    };
    let root = tree::read("", text.as_bytes(), &Faults::default());
    let node = root.and_then(|root| match root.value {
        Value::Table(table) => table.entry(key).map(|e| e.node.clone()),
        _ => None,
    });
    let node = node.map(|node| match (&node.value, error) {
        (Value::List(columns), LoggerError::Column { number, .. }) => {
            columns.get(*number).cloned().unwrap_or(node)
        }
        _ => node,
    });
    let span = node.map_or(0..0, |n| n.place.span);
    let hint = if key == "column" { "mend this column" } else { "mend this key, or leave it out" };
    faults.at(&Place { source, span }, key, &what, hint);
}

/// The text, when it is TOML at all, and its number.
fn text(file: &str, bytes: &[u8], faults: &Faults) -> Option<(String, usize)> {
    let sound = Faults::default();
    tree::read(file, bytes, &sound);
    if !sound.is_empty() {
        tree::read(file, bytes, faults);
        return None;
    }
    let text = String::from_utf8_lossy(bytes);
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text).to_owned();
    let source = faults.open(file, &text);
    Some((text, source))
}

/// Our sentence for a refusal: only its kind and the names in it are taken over.
fn refuse(error: &toml::de::Error, text: &str, source: usize, faults: &Faults) {
    let message = error.message();
    let quoted = |n: usize| message.split('`').nth(n).map(|name| safe(name, 40)).unwrap_or_default();
    let (what, hint) = if message.starts_with("unknown field") {
        let known: Vec<&str> = message.split('`').skip(3).step_by(2).collect();
        let near = super::super::safe::nearest(&quoted(1), known.iter().copied());
        (
            format!("\"{}\" is not a key of this table", quoted(1)),
            near.map_or_else(
                || format!("the keys here are {}", known.join(", ")),
                |key| format!("did you mean {key}?"),
            ),
        )
    } else if message.starts_with("missing field") {
        (format!("{} is missing from this table", quoted(1)), format!("write {} = ...", quoted(1)))
    } else if message.starts_with("unknown variant") {
        let known: Vec<&str> = message.split('`').skip(3).step_by(2).collect();
        (
            format!("\"{}\" is not one of the words known here", quoted(1)),
            format!("they are {}", known.join(", ")),
        )
    } else if message.starts_with("invalid type") || message.starts_with("invalid value") {
        let wanted = expected(message);
        (
            format!("{}this should be {}", key_of(text, error), wanted.0),
            if wanted.1.is_empty() {
                "look at the same key of the built-in profile".to_owned()
            } else {
                format!("write it as {}", wanted.1)
            },
        )
    } else {
        (safe(message, 250), "mend the value".to_owned())
    };
    faults.at(&Place { source, span: error.span().unwrap_or(0..0) }, "", &what, &hint);
}

/// What a value should have been, in our words, and how it is written.
fn expected(message: &str) -> (&'static str, &'static str) {
    let wanted = message.rsplit("expected ").next().unwrap_or_default();
    let starts = |word: &str| wanted.starts_with(word);
    if starts("a sequence") {
        ("a list", "[\"...\", \"...\"]")
    } else if starts("a tuple") || starts("tuple") || starts("an array") {
        ("a pair", "[0.0, 0.68]")
    } else if starts("a character") {
        ("one character", "\";\"")
    } else if starts("a boolean") {
        ("true or false", "true")
    } else if starts("f64") || starts("f32") || starts("a number") || starts("floating") {
        ("a number", "1.5")
    } else if starts("a string") || starts("str") {
        ("a text in quotes", "\"...\"")
    } else if starts("a map") || starts("struct") {
        ("a table", "")
    } else {
        ("another kind of value", "")
    }
}

/// The key on the line a fault is in, and a colon.
fn key_of(text: &str, error: &toml::de::Error) -> String {
    let start = error.span().map_or(0, |s| s.start.min(text.len()));
    let line = text.get(..start).and_then(|t| t.lines().next_back()).unwrap_or_default();
    match line.split_once('=') {
        Some((key, _)) => format!("{}: ", safe(key.trim(), 40)),
        None => String::new(),
    }
}
