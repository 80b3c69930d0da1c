//! One side of a comparison: a session as it stands, or one of its trials.

use super::super::guide::session_fault;
use super::name;
use crate::analysis::verdict::{Settings, differences};
use crate::cli::{Console, Fault};
use crate::procedure::{IdleReading, PullTrial, State};
use crate::session::story::read_story;
use crate::setup::{Carburetor, Weather};
use crate::trace::TraceSummary;
use std::path::{Path, PathBuf};

/// One trial of a session, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Which {
    /// A log.
    Log(usize),
    /// A pull.
    Pull(usize),
}

/// What was named on the command line.
#[derive(Debug)]
pub(super) struct Named {
    /// The file.
    pub(super) path: PathBuf,
    /// The trial in it; `None` for the whole of it, as it stands.
    pub(super) which: Option<Which>,
}

impl Named {
    /// Reads "FILE", "FILE#2", "FILE#pull2". A file whose own name has a `#` in it is that file.
    pub(super) fn read(text: &Path) -> Result<Named, Fault> {
        let whole = || Named { path: text.to_owned(), which: None };
        let Some((path, trial)) = text.to_str().filter(|_| !text.exists()).and_then(|t| t.rsplit_once('#'))
        else {
            return Ok(whole());
        };
        let (of, count): (fn(usize) -> Which, &str) = match trial.strip_prefix("pull") {
            Some(count) => (Which::Pull, count),
            None => (Which::Log, trial.strip_prefix("log").unwrap_or(trial)),
        };
        match count.parse::<usize>() {
            Ok(n) if n > 0 => Ok(Named { path: PathBuf::from(path), which: Some(of(n)) }),
            _ => Err(Fault::input(format!("{}: \"{trial}\" names no trial", text.display()))
                .hint("FILE#2 is the second log of a session, FILE#pull2 its second pull")),
        }
    }

    /// As it is called in the answer.
    pub(super) fn said(&self) -> String {
        match self.which {
            None => name(&self.path),
            Some(Which::Log(n)) => format!("{}, log {n}", name(&self.path)),
            Some(Which::Pull(n)) => format!("{}, pull {n}", name(&self.path)),
        }
    }

    /// Its session.
    pub(super) fn told(&self, console: &mut Console) -> Result<Told, Fault> {
        let story = read_story(&self.path, None).map_err(session_fault)?;
        for note in &story.notes {
            console.complain(note);
        }
        let state = State::replay(story.job.clone(), console.system, story.events())
            .map_err(|e| Fault::input(format!("{}: {e}", self.path.display())))?;
        Ok(Told { state })
    }
}

/// A session, told.
pub(super) struct Told {
    pub(super) state: State,
}

/// What is held against the other side.
pub(super) struct Taken {
    pub(super) carburetor: Carburetor,
    pub(super) settings: Settings,
    pub(super) idle: Option<IdleReading>,
    pub(super) log: Option<TraceSummary>,
    pub(super) weather: Option<Weather>,
    pub(super) pulls: Vec<PullTrial>,
}

impl Told {
    /// The session as it stands, or the trial named.
    pub(super) fn taken(&self, named: &Named, notes: &mut Vec<String>) -> Result<Taken, Fault> {
        let state = &self.state;
        let missing = |n: usize, what: &str, there: usize| {
            let has = match there {
                0 => format!("no {what} is in it"),
                1 => format!("it has one {what}"),
                n => format!("it has {n} {what}s"),
            };
            Fault::input(format!("{}: there is no {what} {n}; {has}", named.path.display()))
        };
        match named.which {
            None => Ok(self.whole(named, notes)),
            Some(Which::Log(n)) => {
                let (trial, settings) = state
                    .trials
                    .get(n - 1)
                    .zip(state.trial_settings.get(n - 1))
                    .ok_or_else(|| missing(n, "log", state.trials.len()))?;
                Ok(Taken {
                    carburetor: trial.carburetor.clone(),
                    settings: settings.clone(),
                    idle: None,
                    log: Some(trial.trace.clone()),
                    weather: trial.weather,
                    pulls: Vec::new(),
                })
            }
            Some(Which::Pull(n)) => {
                let pull = state.pulls.get(n - 1).ok_or_else(|| missing(n, "pull", state.pulls.len()))?;
                Ok(Taken {
                    carburetor: pull.carburetor.clone(),
                    settings: pull.settings.clone(),
                    idle: None,
                    log: None,
                    weather: pull.pull.air.map(|(weather, _)| weather),
                    pulls: vec![pull.clone()],
                })
            }
        }
    }

    /// As it stands: its last log, and all pulls run as the last one was. Where something was changed after them, that
    /// is said, for they then tell of another state than the settings do.
    fn whole(&self, named: &Named, notes: &mut Vec<String>) -> Taken {
        let state = &self.state;
        let last = state.trials.last();
        let pulls: Vec<PullTrial> = state.pulls.last().map_or_else(Vec::new, |last| {
            let set = last.state();
            let alike = |p: &&PullTrial| differences(&p.state(), &set).is_empty();
            state.pulls.iter().filter(alike).cloned().collect()
        });
        let now = crate::analysis::verdict::state_of(&state.setup.carburetor, &state.settings);
        let moved = |carburetor, settings| {
            !differences(&crate::analysis::verdict::state_of(carburetor, settings), &now).is_empty()
        };
        let log_moved = last.zip(state.trial_settings.last()).is_some_and(|(t, s)| moved(&t.carburetor, s));
        let pulls_moved = pulls.last().is_some_and(|p| moved(&p.carburetor, &p.settings));
        for (what, _) in [("log", log_moved), ("pull", pulls_moved)].into_iter().filter(|(_, moved)| *moved) {
            notes.push(format!(
                "{}: something was changed after its last {what}, which tells of the state before that.",
                named.said()
            ));
        }
        Taken {
            carburetor: state.setup.carburetor.clone(),
            settings: state.settings.clone(),
            idle: state.outcome().idle_after,
            log: last.map(|t| t.trace.clone()),
            weather: last.map_or(state.setup.weather, |t| t.weather.or(state.setup.weather)),
            pulls,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trial_is_named_behind_its_file() {
        let read = |text: &str| Named::read(Path::new(text)).map(|n| (n.path, n.which));
        let file = PathBuf::from("nowhere/a.tune.jsonl");
        assert_eq!(read("nowhere/a.tune.jsonl").unwrap(), (file.clone(), None));
        assert_eq!(read("nowhere/a.tune.jsonl#2").unwrap(), (file.clone(), Some(Which::Log(2))));
        assert_eq!(read("nowhere/a.tune.jsonl#log1").unwrap(), (file.clone(), Some(Which::Log(1))));
        assert_eq!(read("nowhere/a.tune.jsonl#pull3").unwrap(), (file, Some(Which::Pull(3))));
        for bad in ["a#0", "a#", "a#x", "a#pull", "a#-1"] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }
}
