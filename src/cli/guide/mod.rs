//! Where request, answer, decision, journal and state meet. The terminal, the link and the virtual engine are
//! three pairs of hands on the same loop.

mod hands;
mod keys;
mod line;
mod link;
mod live_hands;
mod log_source;
mod pages;
mod plain_result;
mod prompt;
mod signals;
mod virtual_hands;

pub use hands::{Hands, HandsError, Reply, glance_at_screw};
pub use link::{LinkHands, change_free_result, change_json, outcome_json, round};
pub use live_hands::{LiveHands, log_beside};
pub use log_source::LogSource;
pub use prompt::PromptHands;
pub use signals::{leave_well, put_aside};
pub use virtual_hands::{Practice, Rehearsal, VirtualHands};

use super::fault::{Exit, Fault};
use crate::procedure::{Ask, Due, Ending, Event, Input, Outcome, Request, State, Step, Tell, decide, next};
use crate::session::SessionError;
use crate::session::story::Recording;

/// So many refusals without one answer between them mean that whatever answers does not understand the question.
const MOST_REFUSALS: u32 = 20;

/// A session in progress: its state, its file, and what could not be saved.
pub struct Session {
    /// What is known.
    pub state: State,
    recording: Recording,
    unsaved: Vec<Event>,
}

impl Session {
    /// A session whose file is open.
    pub fn new(state: State, recording: Recording) -> Self {
        Self { state, recording, unsaved: Vec::new() }
    }

    /// Runs the procedure with a pair of hands until it is over or the hands are gone.
    pub fn run(&mut self, hands: &mut dyn Hands) -> Result<Exit, Fault> {
        match self.steps(hands) {
            Ok(outcome) => {
                self.say_unsaved(hands);
                hands.result(&outcome, self.recording.path()).map_err(Fault::from)?;
                Ok(if self.unsaved.is_empty() { Exit::Done } else { Exit::No })
            }
            Err(HandsError::EndOfInput) => {
                self.say_unsaved(hands);
                let text = format!(
                    "No more answers; {} records are in {}.",
                    self.recording.records(),
                    self.recording.path().display()
                );
                let _ = hands.tell(&Tell::caution(text), None);
                Ok(Exit::Interrupted)
            }
            Err(HandsError::Interrupted) => Err(Fault::Interrupted),
            Err(HandsError::Lost(source)) => Err(Fault::from(source)),
            Err(HandsError::Useless(why)) => Err(Fault::input(why)),
        }
    }

    fn steps(&mut self, hands: &mut dyn Hands) -> Result<Outcome, HandsError> {
        let (mut heading, mut refusals) = (None, 0);
        loop {
            match next(&self.state) {
                Due::Over(outcome) => return Ok(*outcome),
                Due::Own(event) => self.record(*event, hands)?,
                Due::Ask(request) => {
                    if heading != Some(request.step) {
                        heading = Some(request.step);
                        hands.heading(request.step)?;
                    }
                    let input = match hands.answer(&request, Some(self.recording.records()))? {
                        Reply::Input(input) => Ok(input),
                        Reply::Log(source) => {
                            source.take(&self.state, hands).map(|log| Input::Log(Box::new(log)))
                        }
                    };
                    match input.and_then(|input| decide(&self.state, input)) {
                        Ok(events) => {
                            refusals = 0;
                            for event in events {
                                self.record(event, hands)?;
                            }
                            self.glance(&request, hands)?;
                        }
                        Err(refusal) => {
                            refusals += 1;
                            hands.refuse(&refusal)?;
                            if refusals >= MOST_REFUSALS {
                                return Err(HandsError::Useless(format!(
                                    "no usable answer in {MOST_REFUSALS} tries; the last: {refusal}"
                                )));
                            }
                        }
                    }
                }
            }
        }
    }

    /// After a reading of the mixture search: vacuum against turns.
    fn glance(&self, request: &Request, hands: &mut dyn Hands) -> Result<(), HandsError> {
        if request.step != Step::Mixture || !matches!(request.ask, Ask::Reading { .. }) {
            return Ok(());
        }
        let seen = || {
            let search = self.state.screw_search()?;
            glance_at_screw(search.spec, search.history, self.state.system)
        };
        hands.glance(&seen)
    }

    /// Written and synced before it is applied. When it cannot be saved the person is told, at once and again at the
    /// end, and the procedure goes on: an idling engine is not abandoned for a full disk.
    fn record(&mut self, event: Event, hands: &mut dyn Hands) -> Result<(), HandsError> {
        let event = match self.save(&event) {
            Ok((event, notices)) => {
                for notice in notices {
                    hands.tell(&Tell::danger(notice), None)?;
                }
                event
            }
            Err(error) => {
                hands.tell(&Tell::danger(format!("{error}. {}", error.hint())), None)?;
                self.unsaved.push(event.clone());
                event
            }
        };
        if let Err(damaged) = self.state.apply(&event) {
            return Err(HandsError::Useless(damaged.to_string()));
        }
        let saved = self.unsaved.is_empty().then(|| self.recording.records());
        for tell in self.state.fresh_tells() {
            hands.tell(tell, saved)?;
        }
        Ok(())
    }

    /// What could not be saved before is tried again first, so that the file keeps the order.
    fn save(&mut self, event: &Event) -> Result<(Event, Vec<String>), SessionError> {
        let _held = signals::hold();
        let mut notices = Vec::new();
        while let Some(waiting) = self.unsaved.first() {
            notices.extend(self.recording.record(waiting)?.notices);
            self.unsaved.remove(0);
        }
        let recorded = self.recording.record(event)?;
        notices.extend(recorded.notices);
        Ok((recorded.event, notices))
    }

    fn say_unsaved(&self, hands: &mut dyn Hands) {
        if self.unsaved.is_empty() {
            return;
        }
        let _ =
            hands.tell(&Tell::danger(format!("{} answers could NOT be saved:", self.unsaved.len())), None);
        for event in &self.unsaved {
            let line = serde_json::to_string(event).unwrap_or_default();
            let _ = hands.tell(&Tell::danger(line), None);
        }
    }
}

/// How a finished procedure is said in one line.
pub fn ending_said(state: &State) -> &'static str {
    match state.ending {
        Some(Ending::Finished) => "Finished.",
        Some(Ending::Stopped) => "Stopped here. The session can be taken up again.",
        Some(Ending::Paused) => "Paused. Take it up again with the same command.",
        Some(Ending::Emergency(_)) => "Ended for safety.",
        None => "Not finished.",
    }
}

/// The steps, for a heading.
pub fn step_heading(step: Step) -> String {
    format!("Step {} of {}: {}", step.number(), Step::ALL.len(), step.said())
}

/// What is said of steps that asked nothing between two headings; `None` when there is none between.
fn passed_over(from: Step, to: Step) -> Option<String> {
    let between: Vec<String> = Step::ALL
        .iter()
        .filter(|s| (from.number() + 1..to.number()).contains(&s.number()))
        .map(|s| format!("{}, {}", s.number(), s.said().to_lowercase()))
        .collect();
    match between.as_slice() {
        [] => None,
        [one] => Some(format!("Step {one}: nothing to ask here.")),
        several => Some(format!("Steps {}: nothing to ask here.", several.join("; "))),
    }
}
