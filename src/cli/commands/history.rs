//! `leanbest history`: a folder of sessions, and the way back to the last good state.

use super::guide::session_fault;
use crate::cli::{Console, Exit, Fault};
use crate::procedure::{Event, State};
use crate::report::history::{Entry, Good, inside, is_good, json, say};
use crate::session::library::{Brief, list};
use crate::session::story::{Story, read_story};
use crate::units::System;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Arguments of `history`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder of sessions; the one you are in when left out
    #[arg(value_name = "DIR")]
    folder: Option<PathBuf>,
}

/// Runs `history`.
pub fn run(args: &Args, console: &mut Console) -> Result<Exit, Fault> {
    let folder = args.folder.clone().unwrap_or_else(|| PathBuf::from("."));
    std::fs::read_dir(&folder).map_err(|e| Fault::io(format!("could not list {}", folder.display()), e))?;
    let mut briefs = list(&folder).map_err(session_fault)?;
    // Oldest first while the last good state is carried along; shown newest first.
    briefs.reverse();
    let mut good: BTreeMap<String, Good> = BTreeMap::new();
    let mut entries: Vec<Entry> = briefs.iter().map(|b| entry(b, &mut good, console.system)).collect();
    entries.reverse();
    if console.json {
        console.answer_json(&json(&entries))?;
    } else {
        let words = say(&entries, console.system, console.width);
        console.raw(words.as_bytes())?;
    }
    Ok(Exit::Done)
}

fn day(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d").to_string()
}

fn entry(brief: &Brief, good: &mut BTreeMap<String, Good>, system: System) -> Entry {
    let file = brief.path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let mut entry = Entry {
        file,
        days: (String::new(), String::new()),
        runs: 0,
        state: None,
        good: None,
        damage: None,
        notes: Vec::new(),
    };
    let content = match &brief.content {
        Ok(content) => content,
        Err(error) => {
            entry.damage = Some(error.to_string());
            return entry;
        }
    };
    entry.days = (day(content.began), day(content.ended));
    entry.runs = content.runs;
    entry.damage.clone_from(&content.damage);
    entry.notes.clone_from(&content.notes);
    // What is damaged is read up to the damage.
    let until = content.damage.is_some().then(|| content.records.last().map(|r| r.n)).flatten();
    match told(&brief.path, until, system) {
        Ok((story, state)) => {
            let engine = format!("{}\n{}", state.setup.name, state.setup.engine.name);
            if let Some(found) = last_good(&story, &state, &entry.file) {
                good.insert(engine.clone(), found);
            }
            entry.good = good.get(&engine).cloned();
            entry.state = Some(state);
        }
        Err(error) => entry.damage = Some(error),
    }
    entry
}

fn told(path: &Path, until: Option<u64>, system: System) -> Result<(Story, State), String> {
    let story = read_story(path, until).map_err(|e| e.to_string())?;
    let state = State::replay(story.job.clone(), system, story.events()).map_err(|e| e.to_string())?;
    Ok((story, state))
}

/// The last log of a session that was judged to be inside everywhere.
fn last_good(story: &Story, state: &State, file: &str) -> Option<Good> {
    let (logs, advice) = state.advice.iter().rev().find(|(_, a)| is_good(a))?;
    let at = logs.checked_sub(1)?;
    let (trial, settings) = (state.trials.get(at)?, state.trial_settings.get(at)?);
    let judged = |e: &Event| matches!(e, Event::Advised(a) if **a == *advice);
    let when = story.told.iter().rev().find(|t| judged(&t.event)).map_or(story.opened, |t| t.at);
    Some(Good {
        file: file.to_owned(),
        when: day(when),
        carburetor: trial.carburetor.clone(),
        settings: settings.clone(),
        inside: inside(advice),
    })
}
