//! What is known in the middle of a session, and how a fact changes it. No clock, no file.

use super::ask::Tell;
use super::event::{Answer, Event, PartChange, PullTaken};
use super::plan::Step;
use super::set::{self, SettingChange};
use super::steps;
use super::steps::again::Void;
use super::steps::curb_idle::Trim;
use super::steps::mixture::Mixture;
use super::trials::PullTrial;
use crate::analysis::advise::{Advice, Trial};
use crate::analysis::verdict::Settings;
use crate::rules::RuleBook;
use crate::rules::balance::Reading;
use crate::rules::cautions;
use crate::setup::{PartSize, Setup};
use crate::trace::LoggerProfile;
use crate::units::{System, Turns, Vacuum};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Everything a session is opened with; its first line holds this in full.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// The engine, carburetor, fuel, instruments and use, as found.
    pub setup: Setup,
    /// The numbers of the rules.
    pub rules: RuleBook,
    /// The logger's columns.
    pub logger: LoggerProfile,
    /// No setup was given: the job step asks for the main figures.
    #[serde(default)]
    pub ask_for_setup: bool,
}

/// An answer and how it came.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Given {
    pub(super) answer: Answer,
    pub(super) step: Step,
    /// How many times the question has been answered.
    pub(super) times: u32,
    pub(super) surprising: bool,
    /// Nobody read it.
    pub(super) assumed: bool,
}

/// A reading of the idling engine, and where in the procedure it was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdleReading {
    /// In which step.
    pub step: Step,
    /// The reading.
    pub reading: Reading,
    /// It was questioned and stood by.
    pub surprising: bool,
}

/// How a session ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ending {
    /// The procedure came to its end.
    Finished,
    /// The person ended it.
    Stopped,
    /// The person left, meaning to come back.
    Paused,
    /// Something was wrong.
    Emergency(String),
}

/// What a session came to, for the last line on the link and for summaries.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// It came to its end.
    pub finished: bool,
    /// First reading of the idling engine.
    pub idle_before: Option<IdleReading>,
    /// Last reading of the idling engine, in neutral.
    pub idle_after: Option<IdleReading>,
    /// Turns out of each screw.
    pub turns_out: Vec<Turns>,
    /// Turn commands given to the mixture screws.
    pub screw_moves: u32,
    /// Readings taken for the mixture search.
    pub screw_readings: u32,
    /// Parts changed, in order.
    pub changes: Vec<PartChange>,
    /// What was left open.
    pub open_items: Vec<String>,
}

/// The state of a session.
#[derive(Debug, Clone)]
pub struct State {
    /// As opened.
    pub job: Job,
    /// As it stands now, with every answer and change in it.
    pub setup: Setup,
    /// Units the person wants to see; not part of the record.
    pub system: System,
    /// Parts changed.
    pub changes: Vec<PartChange>,
    /// Logs taken, each with the parts it was taken under.
    pub trials: Vec<Trial>,
    /// What was set beside the parts, as it stands now.
    pub settings: Settings,
    /// Everything that was set beside the parts, in order.
    pub set: Vec<SettingChange>,
    /// What was set beside the parts when each log was taken; as many as there are trials.
    pub trial_settings: Vec<Settings>,
    /// Pulls, each with what it was run under.
    pub pulls: Vec<PullTrial>,
    /// The sources of the logs, as named.
    pub sources: Vec<String>,
    /// Advice given, each with the number of logs it rested on.
    pub advice: Vec<(usize, Advice)>,
    /// Readings of the idling engine.
    pub idle_readings: Vec<IdleReading>,
    /// What was written down.
    pub notes: Vec<(Step, String)>,
    /// Steps left out, and why.
    pub skipped: Vec<(Step, String)>,
    /// How it ended, when it has.
    pub ending: Option<Ending>,
    pub(super) given: BTreeMap<String, Given>,
    pub(super) questioned: Option<(String, String)>,
    pub(super) trims: BTreeMap<Step, Trim>,
    pub(super) mixture: Mixture,
    pub(super) log_wanted: bool,
    fresh: Vec<Tell>,
    past: Vec<Event>,
}

/// A recorded event that cannot have happened: the record is damaged or was edited.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Damaged(pub String);

impl State {
    /// A session just opened.
    pub fn open(job: Job, system: System) -> State {
        State {
            setup: job.setup.clone(),
            job,
            system,
            changes: Vec::new(),
            trials: Vec::new(),
            settings: Settings::new(),
            set: Vec::new(),
            trial_settings: Vec::new(),
            pulls: Vec::new(),
            sources: Vec::new(),
            advice: Vec::new(),
            idle_readings: Vec::new(),
            notes: Vec::new(),
            skipped: Vec::new(),
            ending: None,
            given: BTreeMap::new(),
            questioned: None,
            trims: BTreeMap::new(),
            mixture: Mixture::default(),
            log_wanted: true,
            fresh: Vec::new(),
            past: Vec::new(),
        }
    }

    /// A session told from its events.
    pub fn replay<'a>(
        job: Job,
        system: System,
        events: impl IntoIterator<Item = &'a Event>,
    ) -> Result<State, Damaged> {
        let mut state = State::open(job, system);
        for event in events {
            state.apply(event)?;
        }
        state.fresh.clear();
        Ok(state)
    }

    /// Folds one fact in. Fails only when the fact cannot have happened.
    pub fn apply(&mut self, event: &Event) -> Result<(), Damaged> {
        self.fresh.clear();
        if matches!(event, Event::Undone) {
            return self.take_back();
        }
        if !matches!(event, Event::Questioned { .. }) && event.is_answer() {
            self.questioned = None;
        }
        if !matches!(event, Event::Paused | Event::Stopped | Event::Noted { .. }) {
            self.ending = None;
        }
        self.fold(event)?;
        self.past.push(event.clone());
        Ok(())
    }

    /// What the last fact gave reason to say.
    pub fn fresh_tells(&self) -> &[Tell] {
        &self.fresh
    }

    /// Says something because of the fact being folded in.
    pub(super) fn tell(&mut self, tell: Tell) {
        self.fresh.push(tell);
    }

    /// There is an answer to take back.
    pub(super) fn can_undo(&self) -> bool {
        self.past.iter().any(Event::is_answer)
    }

    fn take_back(&mut self) -> Result<(), Damaged> {
        let last = self
            .past
            .iter()
            .rposition(Event::is_answer)
            .ok_or_else(|| Damaged("an undo with nothing to undo".to_owned()))?;
        let kept: Vec<Event> = self
            .past
            .iter()
            .enumerate()
            .filter(|(i, e)| *i < last || matches!(e, Event::Noted { .. }))
            .map(|(_, e)| e.clone())
            .collect();
        let put_back = steps::put_back(&self.past[last], self.system);
        *self = State::replay(self.job.clone(), self.system, &kept)?;
        self.tell(
            put_back.map_or_else(
                || Tell::note("Taken back."),
                |text| Tell::caution(format!("Taken back. {text}")),
            ),
        );
        Ok(())
    }

    fn fold(&mut self, event: &Event) -> Result<(), Damaged> {
        match event {
            Event::Answered { name, step, answer, surprising, assumed } => {
                let (step, surprising, assumed) = (*step, *surprising, *assumed);
                self.fold_answer(name, Given { answer: answer.clone(), step, times: 1, surprising, assumed });
            }
            Event::Questioned { name, because } => {
                self.questioned = Some((name.clone(), because.clone()));
                self.tell(Tell::caution(because.clone()));
            }
            Event::Proposed(decision) => steps::mixture::proposed(self, decision),
            Event::Turned { screws, by } => steps::mixture::turned(self, screws, *by)?,
            Event::MixtureRead { reading, surprising } => steps::mixture::read(self, *reading, *surprising),
            Event::IdleSpeedMoved { step, by, .. } => steps::curb_idle::moved(self, *step, *by),
            Event::MixtureCannot { what } => steps::mixture::cannot(self, what),
            Event::Stalled => steps::mixture::stalled(self),
            Event::PartChanged(change) => self.fold_change(*change)?,
            Event::Set { settings, .. } => self.fold_settings(settings),
            Event::Logged(log) => steps::logging::logged(self, log),
            Event::Pulled(pull) => self.fold_pull(pull),
            Event::Advised(advice) => steps::advice::advised(self, advice),
            Event::Noted { step, text } => {
                self.notes.push((*step, text.clone()));
                self.tell(Tell::note("Noted."));
            }
            Event::Skipped { step, reason } => {
                self.skipped.push((*step, reason.clone()));
                steps::again::passed_by(self, *step);
                self.tell(Tell::caution(format!("{} left out: {reason}", step.said())));
            }
            Event::Undone => {}
            Event::Paused => self.ending = Some(Ending::Paused),
            Event::Stopped => self.ending = Some(Ending::Stopped),
            Event::EmergencyStopped { why } => {
                self.ending = Some(Ending::Emergency(why.clone()));
                self.tell(Tell::danger(cautions::EMERGENCY.join(" ")));
            }
            Event::Finished => self.ending = Some(Ending::Finished),
        }
        Ok(())
    }

    fn fold_answer(&mut self, name: &str, mut given: Given) {
        let (answer, step, surprising) = (given.answer.clone(), given.step, given.surprising);
        if given.assumed {
            self.tell(Tell::note("Not read: set down as assumed."));
        }
        given.times += self.given.get(name).map_or(0, |g| g.times);
        self.given.insert(name.to_owned(), given);
        steps::again::passed_by(self, step);
        // an engine that stopped on the way has no idle to tell of; one handed over so has
        if let Answer::Reading(reading) = answer
            && !(step == Step::CurbIdle && reading.has_stopped())
        {
            self.idle_readings.push(IdleReading { step, reading, surprising });
        }
        steps::answered(self, name, step, &answer);
    }

    fn fold_change(&mut self, change: PartChange) -> Result<(), Damaged> {
        self.setup.carburetor =
            self.setup.carburetor.with(change.part, change.to).ok_or_else(|| {
                Damaged(format!("this carburetor has no {} to change like that", change.part))
            })?;
        self.changes.push(change);
        self.log_wanted = true;
        if let PartSize::Opening(_) | PartSize::Bore(_) = change.to {
            let (from, to) = (change.from.show(self.system), change.to.show(self.system));
            self.tell(Tell::note(format!(
                "{}: {from} -> {to}. One change, then the next log tells.",
                steps::advice::capital(&change.part.said())
            )));
        }
        if steps::again::acts_at_idle(change.part) {
            steps::again::void(self, Void::Part(change));
        }
        Ok(())
    }

    fn fold_settings(&mut self, settings: &Settings) {
        for (name, to) in settings {
            let from = self.settings.insert(name.clone(), to.clone());
            if from.as_ref() == Some(to) {
                continue;
            }
            let begun = !(self.trials.is_empty() && self.pulls.is_empty());
            self.set.push(SettingChange { name: name.clone(), from: from.clone(), to: to.clone(), begun });
            let was = from.map(|from| format!(" (was {from})")).unwrap_or_default();
            self.tell(Tell::note(format!("{name}: {to}{was}.")));
            if set::moves_idle_mixture(name) {
                steps::again::void(self, Void::Timing);
            }
        }
    }

    fn fold_pull(&mut self, taken: &PullTaken) {
        self.pulls.push(PullTrial {
            source: taken.source.clone(),
            carburetor: self.setup.carburetor.clone(),
            settings: self.settings.clone(),
            rig: taken.rig,
            smoothing: taken.smoothing,
            pull: taken.pull.clone(),
        });
    }

    /// The answer to a question, when it has one.
    pub(super) fn answer(&self, name: &str) -> Option<&Answer> {
        self.given.get(name).map(|g| &g.answer)
    }

    /// A choice that was made.
    pub(super) fn choice(&self, name: &str) -> Option<&str> {
        match self.answer(name) {
            Some(Answer::Choice(choice)) => Some(choice),
            _ => None,
        }
    }

    /// A quantity that was given.
    pub(super) fn value<Q: std::str::FromStr>(&self, name: &str) -> Option<Q> {
        match self.answer(name) {
            Some(Answer::Value(text)) => text.parse().ok(),
            _ => None,
        }
    }

    /// What was answered by that name was only assumed: nobody read it.
    pub fn assumed(&self, name: &str) -> bool {
        self.given.get(name).is_some_and(|g| g.assumed)
    }

    /// A reading that was taken.
    pub(super) fn reading(&self, name: &str) -> Option<Reading> {
        match self.answer(name) {
            Some(Answer::Reading(reading)) => Some(*reading),
            _ => None,
        }
    }

    /// The rig has no such thing.
    pub(super) fn cannot(&self, name: &str) -> bool {
        matches!(self.answer(name), Some(Answer::Cannot(_)))
    }

    pub(super) fn is_skipped(&self, step: Step) -> bool {
        self.skipped.iter().any(|(s, _)| *s == step)
    }

    /// The last reading taken at idle in neutral.
    pub fn idle_vacuum(&self) -> Option<Vacuum> {
        self.idle_readings.iter().rev().find(|r| r.step != Step::InGear).map(|r| r.reading.vacuum)
    }

    /// What it has come to so far.
    pub fn outcome(&self) -> Outcome {
        let neutral = |r: &&IdleReading| r.step != Step::InGear;
        Outcome {
            finished: self.ending == Some(Ending::Finished),
            idle_before: self.idle_readings.iter().find(neutral).copied(),
            idle_after: self.idle_readings.iter().rfind(neutral).copied(),
            turns_out: self.setup.carburetor.idle.turns_out.clone(),
            screw_moves: self.mixture.turn_commands(),
            screw_readings: self.mixture.readings(),
            changes: self.changes.clone(),
            open_items: self.open_items(),
        }
    }

    /// What was left out, could not be done, or was answered against advice.
    pub fn open_items(&self) -> Vec<String> {
        let skipped = self.skipped.iter().map(|(step, why)| format!("{} left out: {why}", step.said()));
        skipped.chain(steps::open_items(self)).collect()
    }
}
