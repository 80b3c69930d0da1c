//! What a step asks, told without doing it: for the manual, in the step's own words.

use super::ask::{Ask, Request};
use super::event::{Answer, Event};
use super::plan::Step;
use super::state::{Job, State};
use super::steps::{self, StepDue};
use crate::rules::balance::Reading;
use crate::units::{EngineSpeed, System, Vacuum};

/// A question of a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// What is asked.
    pub say: String,
    /// Why.
    pub why: String,
}

/// No step asks more than this before it needs an engine.
const MOST: usize = 60;

/// What `step` asks on an engine that has never run, up to where an engine must have answered. Of questions that are
/// asked of each screw in turn the first is given.
pub fn outline(step: Step, job: &Job, system: System) -> Vec<Asked> {
    let mut state = State::open(job.clone(), system);
    let (mut asked, mut families) = (Vec::new(), Vec::new());
    for _ in 0..MOST {
        let Some(StepDue::Ask(request)) = steps::due(step, &state) else { break };
        let family = family(&request.name).to_owned();
        if !families.contains(&family) {
            families.push(family);
            asked.push(Asked { say: request.say.clone(), why: request.why.clone() });
        }
        let Some(answer) = likely(&request) else { break };
        let event =
            Event::Answered { name: request.name.clone(), step, answer, surprising: false, assumed: false };
        if state.apply(&event).is_err() {
            break;
        }
    }
    asked
}

/// Questions that differ only in a count are one family.
fn family(name: &str) -> &str {
    name.trim_end_matches(|c: char| c.is_ascii_digit()).trim_end_matches('.')
}

/// What most would answer; `None` for what only an engine can.
fn likely(request: &Request) -> Option<Answer> {
    match &request.ask {
        Ask::Confirm => Some(Answer::Yes(true)),
        Ask::Choose { options, default } => {
            let new = options.iter().find(|o| o.name == "new");
            new.or_else(|| options.get(*default)).map(|o| Answer::Choice(o.name.to_owned()))
        }
        Ask::Value { default, .. } => default.clone().map(Answer::Value),
        Ask::Reading { .. } if request.step != Step::Mixture => Some(Answer::Reading(Reading {
            vacuum: Vacuum::from_inhg(15.0),
            speed: Some(EngineSpeed::from_rpm(900.0)),
            lambda: None,
            coolant: None,
        })),
        _ => None,
    }
}
