//! The mixture search and the plain answers of a session, for those who tell of them.

use super::event::Answer;
use super::plan::Step;
use super::state::State;
use crate::rules::balance::{Belief, Observation, Outcome, Spec};

/// The mixture search of a session.
#[derive(Debug, Clone, Copy)]
pub struct ScrewSearch<'a> {
    /// What it was told beforehand.
    pub spec: &'a Spec,
    /// What happened in it.
    pub history: &'a [Observation],
    /// How it ended, when it has.
    pub outcome: Option<&'a Outcome>,
    /// What was thought at its last decision.
    pub belief: Option<&'a Belief>,
}

impl State {
    /// The mixture search, once it has begun.
    pub fn screw_search(&self) -> Option<ScrewSearch<'_>> {
        let m = &self.mixture;
        Some(ScrewSearch { spec: m.spec()?, history: m.history(), outcome: m.outcome(), belief: m.belief() })
    }

    /// The answer to a plain question, by the question's name, and the step it was asked in.
    pub fn answered(&self, name: &str) -> Option<(Step, &Answer)> {
        self.given.get(name).map(|g| (g.step, &g.answer))
    }
}
