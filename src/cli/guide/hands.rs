//! What answers the procedure: a person at a terminal, a program on the link, or the virtual engine.

use super::log_source::LogSource;
use crate::procedure::{Input, Outcome, Refusal, Request, Step, Tell};
use crate::report::chart::{Chart, Picture};
use crate::report::pictures::vacuum_by_turns;
use crate::rules::balance::{Observation, Spec};
use crate::units::System;
use std::io;
use std::path::Path;

/// What came back for a question.
pub enum Reply {
    /// An input for the procedure.
    Input(Input),
    /// A log is to be read from here.
    Log(LogSource),
}

/// Why hands can no longer answer.
#[derive(Debug, thiserror::Error)]
pub enum HandsError {
    /// The answers came to their end.
    #[error("no more answers")]
    EndOfInput,
    /// The person interrupted.
    #[error("interrupted")]
    Interrupted,
    /// The terminal or pipe is gone.
    #[error(transparent)]
    Lost(#[from] io::Error),
    /// What answers makes no sense, again and again.
    #[error("{0}")]
    Useless(String),
}

/// A pair of hands.
pub trait Hands {
    /// A new step begins.
    fn heading(&mut self, step: Step) -> Result<(), HandsError>;
    /// Something is said that needs no answer; `saved` is the number of records on the disk.
    fn tell(&mut self, tell: &Tell, saved: Option<u64>) -> Result<(), HandsError>;
    /// A question; `saved` is the number of records on the disk.
    fn answer(&mut self, request: &Request, saved: Option<u64>) -> Result<Reply, HandsError>;
    /// The answer did not fit; the question comes again.
    fn refuse(&mut self, refusal: &Refusal) -> Result<(), HandsError>;
    /// A picture to glance at before the next question, where there is room for it. Only a person glances; it is drawn for
    /// nobody else.
    fn glance(&mut self, _chart: &dyn Fn() -> Option<Chart>) -> Result<(), HandsError> {
        Ok(())
    }
    /// Pictures of how it went; only for a person.
    fn pictures(&mut self, _pictures: &[Picture]) -> Result<(), HandsError> {
        Ok(())
    }
    /// A search outside a session is over: its result, as the link gives it.
    fn plain_result(&mut self, result: &serde_json::Value) -> io::Result<()>;
    /// It is over.
    fn result(&mut self, outcome: &Outcome, file: &Path) -> io::Result<()>;
}

/// Vacuum against the turns of the screw that was turned last (the first, before any was).
pub fn glance_at_screw(spec: &Spec, history: &[Observation], system: System) -> Option<Chart> {
    let last = history.iter().rev().find_map(|o| match o {
        Observation::Turned { screws, .. } => screws.first().copied(),
        _ => None,
    });
    let id = format!("screw-{}", last.unwrap_or(1));
    vacuum_by_turns(spec, history, system).into_iter().find(|chart| chart.id == id)
}
