//! What a line typed at a question means: a key that steers, or an answer.

use crate::procedure::{self, Choice, Input};
use crate::units::Turns;
use crate::units::parse::parse_or_in;

/// What was typed where an answer was wanted.
pub(super) enum Typed {
    Answer(String),
    Input(Input),
    Why,
    Say(String),
}

/// The keys, in words.
pub(super) const KEYS: &str = "u takes back, n TEXT notes, s REASON leaves the step out, c REASON: there is no such thing, ? why, x: it stalled, set NAME=VALUE says what was set (set timing=8 deg), p pauses, q stops, ! WHAT ends at once.";

pub(super) fn typed(text: &str) -> Typed {
    let rest = |key: &str| text.strip_prefix(key).filter(|r| r.starts_with(' ')).map(|r| r.trim().to_owned());
    match text {
        "u" => return Typed::Input(Input::Undo),
        "p" => return Typed::Input(Input::Pause),
        "x" => return Typed::Input(Input::Stalled),
        "q" => return Typed::Input(Input::Stop),
        "?" => return Typed::Why,
        "h" => return Typed::Say(KEYS.to_owned()),
        "c" => return Typed::Input(Input::Cannot(String::new())),
        _ => {}
    }
    if let Some(note) = rest("n") {
        return if note.is_empty() { Typed::Say(KEYS.to_owned()) } else { Typed::Input(Input::Note(note)) };
    }
    if let Some(reason) = rest("s") {
        return Typed::Input(Input::Skip(reason));
    }
    if let Some(why) = rest("c") {
        return Typed::Input(Input::Cannot(why));
    }
    if let Some(said) = rest("set").or_else(|| (text == "set").then(String::new)) {
        return procedure::parse_settings(&said)
            .map_or_else(|e| Typed::Say(e.to_string()), |set| Typed::Input(Input::Set(set)));
    }
    if let Some(why) = text.strip_prefix('!') {
        return Typed::Input(Input::Emergency(why.trim().to_owned()));
    }
    Typed::Answer(text.to_owned())
}

pub(super) fn yes(text: &str) -> Result<bool, String> {
    match text.to_lowercase().as_str() {
        "y" | "yes" | "1" => Ok(true),
        "n" | "no" | "0" => Ok(false),
        _ => Err("y (or 1) if it is so, n (or 0) if not; h for the other keys".to_owned()),
    }
}

pub(super) fn choice(options: &[Choice], text: &str) -> Result<String, String> {
    let by_number = text.parse::<usize>().ok().and_then(|n| options.get(n.checked_sub(1)?));
    let found = by_number.or_else(|| options.iter().find(|o| o.name == text));
    found.map(|o| o.name.to_owned()).ok_or_else(|| format!("a number from 1 to {}", options.len()))
}

pub(super) fn filled(text: &str) -> Result<String, String> {
    let none = || "a value; c when there is none to be had".to_owned();
    if text.is_empty() { Err(none()) } else { Ok(text.to_owned()) }
}

pub(super) fn done_or_turns(text: &str) -> Result<Input, String> {
    if matches!(text, "done" | "y") {
        return Ok(Input::Done);
    }
    parse_or_in::<Turns>(text, "turns").map(Input::TurnedBy).map_err(|e| e.to_string())
}

/// A quantity, or "-" for none.
pub(super) fn maybe<Q: crate::units::Quantity>(
    unit: &'static str,
) -> impl Fn(&str) -> Result<Option<Q>, String> {
    move |text| {
        if text == "-" { Ok(None) } else { parse_or_in::<Q>(text, unit).map(Some).map_err(|e| e.to_string()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_told_from_answers() {
        assert!(matches!(typed("u"), Typed::Input(Input::Undo)));
        assert!(
            matches!(typed("n plug looked white"), Typed::Input(Input::Note(t)) if t == "plug looked white")
        );
        assert!(matches!(typed("no"), Typed::Answer(t) if t == "no"));
        assert!(
            matches!(typed("!fuel on the manifold"), Typed::Input(Input::Emergency(t)) if t == "fuel on the manifold")
        );
        assert!(matches!(typed("14.5"), Typed::Answer(_)));
    }
}
