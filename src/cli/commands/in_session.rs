//! A session that a command records in from outside the guide: a log with its advice, a pull.

use super::guide::session_fault;
use crate::analysis::verdict::Settings;
use crate::cli::{Console, Fault};
use crate::procedure::{Event, Job, PartChange, State, Step, Tell, set_events};
use crate::profile::Loaded;
use crate::session::story::{Recording, read_story};
use crate::setup::{Carburetor, PartPath, PartSize, Setup};
use crate::trace::LoggerProfile;
use std::path::{Path, PathBuf};

/// A session being recorded in.
pub(super) struct InSession {
    /// What is known.
    pub(super) state: State,
    recording: Recording,
    path: PathBuf,
}

impl InSession {
    /// Opens the session in `path`, or begins one there from `loaded`.
    pub(super) fn open(path: &Path, loaded: Option<&Loaded>, console: &mut Console) -> Result<Self, Fault> {
        let (state, recording) = if begun(path) {
            let (recording, story) = Recording::resume(path).map_err(session_fault)?;
            for note in &story.notes {
                console.complain(note);
            }
            (replayed(path, story.job.clone(), story.events(), console)?, recording)
        } else {
            let loaded = loaded.ok_or_else(|| {
                Fault::input(format!("{}: no session has begun in it", path.display()))
                    .hint("give --setup SETUP to begin one")
            })?;
            let job = Job {
                setup: loaded.setup.clone(),
                rules: loaded.rules.clone(),
                logger: loaded.logger.clone(),
                ask_for_setup: false,
            };
            let recording = Recording::create(path, &job).map_err(session_fault)?;
            (State::open(job, console.system), recording)
        };
        Ok(Self { state, recording, path: path.to_owned() })
    }

    /// What is known in the session in `path`, which is not recorded in.
    pub(super) fn read(path: &Path, console: &mut Console) -> Result<State, Fault> {
        let story = read_story(path, None).map_err(session_fault)?;
        for note in &story.notes {
            console.complain(note);
        }
        replayed(path, story.job.clone(), story.events(), console)
    }

    /// Where it is being recorded: not where it began, when that file could no longer be written.
    pub(super) fn path(&self) -> &Path {
        self.recording.path()
    }

    /// Writes an event down, then lets it count; what it gives reason to say.
    pub(super) fn record(&mut self, event: &Event, console: &mut Console) -> Result<Vec<Tell>, Fault> {
        let saved = self.recording.record(event).map_err(session_fault)?;
        for notice in &saved.notices {
            console.complain(notice);
        }
        self.state.apply(&saved.event).map_err(|e| Fault::input(format!("{}: {e}", self.path.display())))?;
        Ok(self.state.fresh_tells().to_vec())
    }

    /// Takes the parts from a setup that says how they stand now: what differs from the session is a change, and is
    /// recorded as one. Mixture screws that the session has moved stay as the session has them.
    pub(super) fn fit(&mut self, now: &Setup, console: &mut Console) -> Result<(), Fault> {
        self.is_the_same_job(now, console)?;
        let moved =
            self.state.setup.carburetor.idle.turns_out != self.state.job.setup.carburetor.idle.turns_out;
        for (part, from, to) in differing(&self.state.setup.carburetor, &now.carburetor) {
            if moved && matches!(part, PartPath::IdleScrew(_)) {
                continue;
            }
            let system = console.system;
            console.complain(&format!(
                "{}: {} -> {}, as the setup has it; recorded as a change",
                part.said(),
                from.show(system),
                to.show(system)
            ));
            self.record(&Event::PartChanged(PartChange { part, from, to }), console)?;
        }
        Ok(())
    }

    fn is_the_same_job(&self, now: &Setup, console: &mut Console) -> Result<(), Fault> {
        let then = &self.state.setup;
        let paths = |c: &Carburetor| c.parts().into_iter().map(|(path, _)| path).collect::<Vec<_>>();
        if paths(&then.carburetor) != paths(&now.carburetor) {
            return Err(Fault::input(format!(
                "{}: its carburetor, {}, does not have the parts of the setup's, {}",
                self.path.display(),
                then.carburetor.name,
                now.carburetor.name
            ))
            .hint("begin another session for another carburetor"));
        }
        for (what, differs) in
            [("engine", then.engine.name != now.engine.name), ("fuel", then.fuel.name != now.fuel.name)]
        {
            if differs {
                console
                    .complain(&format!("the {what} of the setup is not the session's: the session's counts"));
            }
        }
        Ok(())
    }

    /// Records what was set; parts among it are changes of parts.
    pub(super) fn set(&mut self, settings: &Settings, console: &mut Console) -> Result<(), Fault> {
        let known = |(name, to): &(&String, &String)| self.state.settings.get(*name) != Some(*to);
        let new: Settings = settings.iter().filter(known).map(|(n, t)| (n.clone(), t.clone())).collect();
        if new.is_empty() {
            return Ok(());
        }
        let events = set_events(&self.state, Step::Logging, &new).map_err(|e| Fault::input(e.to_string()))?;
        for event in events {
            for tell in self.record(&event, console)? {
                console.complain(&tell.text);
            }
        }
        Ok(())
    }
}

/// The logger of the session in `path`, when one has begun in it.
pub(super) fn logger_of(path: &Path) -> Result<Option<LoggerProfile>, Fault> {
    if !begun(path) {
        return Ok(None);
    }
    Ok(Some(read_story(path, None).map_err(session_fault)?.job.logger))
}

/// There is something in the file; an empty or missing one is where a session begins.
fn begun(path: &Path) -> bool {
    std::fs::metadata(path).is_ok_and(|m| !m.is_file() || m.len() > 0)
}

fn replayed<'a>(
    path: &Path,
    job: Job,
    events: impl Iterator<Item = &'a Event>,
    console: &Console,
) -> Result<State, Fault> {
    State::replay(job, console.system, events).map_err(|e| Fault::input(format!("{}: {e}", path.display())))
}

/// Parts of other sizes. A size that went through text and back may have lost its last digit: that is no change.
fn differing(then: &Carburetor, now: &Carburetor) -> Vec<(PartPath, PartSize, PartSize)> {
    use crate::analysis::verdict::{differences, of_carburetor};
    let names: Vec<String> =
        differences(&of_carburetor(then), &of_carburetor(now)).into_iter().map(|d| d.name).collect();
    let sizes = then.parts().into_iter().filter(|(part, _)| names.contains(&part.to_string()));
    sizes.filter_map(|(part, from)| Some((part, from, now.size(part)?))).collect()
}
