//! `leanbest profile new`: asks for a setup and writes it.

use super::ask::{Asker, NoAnswer};
use crate::cli::{Console, Exit, Fault, layout};
use crate::profile::{self, Draft, Form, Kind, nearest};
use serde_json::json;
use std::io;
use std::path::{Path, PathBuf};

/// Asks, checks, writes.
pub(super) fn run(file: Option<&Path>, force: bool, console: &mut Console) -> Result<Exit, Fault> {
    if let Some(file) = file {
        free(file, force)?;
    }
    let mut asker = Asker::standard();
    let draft = match answers(&mut asker, console) {
        Ok(draft) => draft,
        Err(NoAnswer::Stopped) => {
            console.complain("stopped; nothing was written");
            return Ok(Exit::Interrupted);
        }
        Err(NoAnswer::Fault(fault)) => return Err(fault),
    };
    draft.check().map_err(super::super::load_fault)?;
    let file = file.map_or_else(|| named_after(&draft), |f| Ok(f.to_owned()))?;
    free(&file, force)?;
    let text = format!(
        "# Written by `leanbest profile new`. Change what you like; `leanbest profile check` reads it over.\n{}",
        draft.text()
    );
    match profile::save(&file, &text, force) {
        Ok(()) => {}
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => return Err(taken(&file)),
        Err(error) => return Err(Fault::io(format!("could not write {}", file.display()), error)),
    }
    if console.json {
        console.answer_json(&json!({ "file": file, "name": draft.name() }))?;
    } else {
        console.say(&format!("Written: {}", file.display()))?;
        let on_hand =
            "The part sizes on hand ([stock]) are those of the profile you started from: look them over.";
        for line in layout::wrap(on_hand, console.width) {
            console.say(&line)?;
        }
    }
    Ok(Exit::Done)
}

/// Refuses a file that is there, unless it may be replaced.
fn free(file: &Path, force: bool) -> Result<(), Fault> {
    if !force && file.symlink_metadata().is_ok() { Err(taken(file)) } else { Ok(()) }
}

fn taken(file: &Path) -> Fault {
    Fault::input(format!("{} is there already", file.display()))
        .hint("Name another file, or replace it with --force.")
}

/// Among the person's own setups, under the job's name.
fn named_after(draft: &Draft) -> Result<PathBuf, Fault> {
    let folder = profile::user_folder().ok_or_else(|| {
        Fault::input("there is no home folder to put the setup in")
            .hint("Name a file: leanbest profile new FILE.")
    })?;
    let mut name = String::new();
    for c in draft.name().to_lowercase().chars().take(60) {
        if c.is_ascii_alphanumeric() {
            name.push(c);
        } else if !name.ends_with('-') && !name.is_empty() {
            name.push('-');
        }
    }
    let name = name.trim_end_matches('-');
    let name = if name.is_empty() { "my-engine" } else { name };
    Ok(folder.join(Kind::Setup.folder()).join(format!("{name}.toml")))
}

fn answers(asker: &mut Asker, console: &Console) -> Result<Draft, NoAnswer> {
    let folder = console.profiles.as_deref();
    let engine = choose(asker, "Start from which engine", &names(Kind::Engine, console), "large-eight")?;
    let carburetor =
        choose(asker, "Start from which carburetor", &names(Kind::Carburetor, console), usual(&engine))?;
    let fuel = choose(asker, "Fuel", &names(Kind::Fuel, console), "e10")?;
    let mut draft = Draft::start(&engine, &carburetor, &fuel, folder, console.system)
        .map_err(super::super::load_fault)?;
    let mut asked: Vec<String> = Vec::new();
    while let Some(question) = draft.questions().into_iter().find(|q| !asked.contains(&q.key)) {
        match &question.form {
            Form::Word(words) => {
                let word = choose(asker, &question.say, words, &question.default)?;
                draft.answer(&question, &word).map_err(Fault::input)?;
            }
            form => {
                let unit = if let Form::Quantity(unit) = form { format!(" ({unit})") } else { String::new() };
                let unknown = if question.optional { ", - when not known" } else { "" };
                let say = format!("{}{unit}{unknown}", question.say);
                asker.ask(&say, &question.default, |text| draft.answer(&question, text))?;
            }
        }
        asked.push(question.key);
    }
    let wideband =
        choose(asker, "Is there a wideband lambda sensor", &["no".to_owned(), "yes".to_owned()], "no")?;
    if wideband == "yes" {
        let say = "Was it checked in free air, and does it sit dry and hot";
        let trusted = choose(asker, say, &["no".to_owned(), "yes".to_owned()], "no")?;
        draft.with_lambda_sensor(trusted == "yes");
    }
    Ok(draft)
}

fn names(kind: Kind, console: &Console) -> Vec<String> {
    let all = profile::list(console.profiles.as_deref());
    let mut names: Vec<String> =
        all.into_iter().filter(|l| l.kind == kind && !l.hidden).map(|l| l.name).collect();
    names.sort_by_cached_key(|name| counted(name));
    names
}

/// The carburetor that usually stands on an engine.
fn usual(engine: &str) -> &'static str {
    match engine {
        "small-single" => "plain-one-barrel",
        "medium-four" | "medium-six" => "plain-two-barrel",
        "workboat-six" => "two-barrel-280",
        "pulling-six" => "four-barrel-600",
        _ => "plain-four-barrel",
    }
}

/// A name as it is put in order: e5 before e10.
fn counted(name: &str) -> (String, u32) {
    let letters = name.trim_end_matches(|c: char| c.is_ascii_digit());
    (letters.to_owned(), name[letters.len()..].parse().unwrap_or(0))
}

/// One of a few words, by its number, its name, or the beginning of it.
fn choose(asker: &mut Asker, say: &str, words: &[String], default: &str) -> Result<String, NoAnswer> {
    let default =
        if words.iter().any(|w| w == default) { default } else { words.first().map_or("", String::as_str) };
    asker.list(say, words);
    let short = asker.short(say).to_owned();
    asker.ask(&short, default, |text| pick(words, text))
}

fn pick(words: &[String], text: &str) -> Result<String, String> {
    let text = text.to_lowercase();
    if let Ok(number) = text.parse::<usize>() {
        let word = number.checked_sub(1).and_then(|i| words.get(i));
        return word.cloned().ok_or_else(|| format!("a number from 1 to {}", words.len()));
    }
    if let Some(word) = words.iter().find(|w| **w == text) {
        return Ok(word.clone());
    }
    let mut begin = words.iter().filter(|w| !text.is_empty() && w.starts_with(&text));
    if let (Some(word), None) = (begin.next(), begin.next()) {
        return Ok(word.clone());
    }
    let near = nearest(&text, words.iter().map(String::as_str));
    Err(near.map_or_else(|| format!("one of {}", words.join(", ")), |w| format!("did you mean {w}?")))
}

#[cfg(test)]
mod tests {
    use super::{counted, pick, usual};
    use crate::profile::{self, Kind};

    #[test]
    fn what_usually_stands_on_an_engine_is_there() {
        let all = profile::list(None);
        let named = |kind: Kind| all.iter().filter(move |l| l.kind == kind).map(|l| l.name.as_str());
        for engine in named(Kind::Engine) {
            assert!(named(Kind::Carburetor).any(|c| c == usual(engine)), "{engine}");
        }
        assert_eq!(usual("workboat-six"), "two-barrel-280");
        assert_eq!(usual("one of their own"), "plain-four-barrel");
    }

    #[test]
    fn blends_stand_in_the_order_of_their_ethanol() {
        let mut names = ["e85", "gasoline", "e10", "e5", "e100"];
        names.sort_by_cached_key(|n| counted(n));
        assert_eq!(names, ["e5", "e10", "e85", "e100", "gasoline"]);
    }

    #[test]
    fn a_word_is_picked_by_number_name_or_beginning() {
        let words = ["manual", "automatic", "marine"].map(str::to_owned);
        assert_eq!(pick(&words, "2").as_deref(), Ok("automatic"));
        assert_eq!(pick(&words, "MARINE").as_deref(), Ok("marine"));
        assert_eq!(pick(&words, "au").as_deref(), Ok("automatic"));
        assert!(pick(&words, "ma").is_err(), "two begin so");
        assert!(pick(&words, "0").is_err() && pick(&words, "4").is_err() && pick(&words, "").is_err());
        assert!(pick(&words, "manaul").unwrap_err().contains("manual"));
    }
}
