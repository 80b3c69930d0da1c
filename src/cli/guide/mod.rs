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

    /// After a reading of the mixture search: vacuum against turns. A reading after its end adds nothing to it.
    fn glance(&self, request: &Request, hands: &mut dyn Hands) -> Result<(), HandsError> {
        if request.step != Step::Mixture || !matches!(request.ask, Ask::Reading { .. }) {
            return Ok(());
        }
        let seen = || {
            let search = self.state.screw_search().filter(|s| s.outcome.is_none())?;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::virtual_engine::{Character, VirtualEngine};
    use crate::procedure::Job;
    use crate::report::chart::Chart;
    use crate::units::System;
    use std::path::Path;

    /// Counts the readings asked for in the mixture step, and what is drawn of them.
    struct Watched<'a> {
        hands: VirtualHands<'a>,
        of_the_search: u32,
        after_it: u32,
        drawn: u32,
        drawn_after: u32,
    }

    impl Hands for Watched<'_> {
        fn heading(&mut self, step: Step) -> Result<(), HandsError> {
            self.hands.heading(step)
        }

        fn tell(&mut self, tell: &Tell, saved: Option<u64>) -> Result<(), HandsError> {
            self.hands.tell(tell, saved)
        }

        fn answer(&mut self, request: &Request, saved: Option<u64>) -> Result<Reply, HandsError> {
            if request.step == Step::InGear {
                return Err(HandsError::Interrupted);
            }
            if request.step == Step::Mixture && matches!(request.ask, Ask::Reading { .. }) {
                let search = request.name == "mixture.reading";
                *if search { &mut self.of_the_search } else { &mut self.after_it } += 1;
            }
            self.hands.answer(request, saved)
        }

        fn refuse(&mut self, refusal: &crate::procedure::Refusal) -> Result<(), HandsError> {
            self.hands.refuse(refusal)
        }

        fn glance(&mut self, chart: &dyn Fn() -> Option<Chart>) -> Result<(), HandsError> {
            let drawn = if self.after_it == 0 { &mut self.drawn } else { &mut self.drawn_after };
            *drawn += u32::from(chart().is_some());
            Ok(())
        }

        fn plain_result(&mut self, result: &serde_json::Value) -> std::io::Result<()> {
            self.hands.plain_result(result)
        }

        fn result(&mut self, outcome: &Outcome, file: &Path) -> std::io::Result<()> {
            self.hands.result(outcome, file)
        }
    }

    #[test]
    fn the_screws_are_drawn_after_a_reading_of_the_search_and_no_more_once_it_has_ended() {
        let folder = tempfile::tempdir().unwrap();
        let loaded = crate::profile::load_setup("petrel", None).unwrap();
        let (setup, rules, logger) = (loaded.setup, loaded.rules, loaded.logger);
        let mut practice =
            Practice::new(VirtualEngine::new(&setup, Character::as_found(), 1), folder.path().to_path_buf());
        let job = Job { setup, rules, logger, ask_for_setup: false };
        let recording = Recording::create(&folder.path().join("a.tune.jsonl"), &job).unwrap();
        let mut session = Session::new(State::open(job, System::Us), recording);
        let hands = VirtualHands::new(&mut practice, |_| {}, |_| {});
        let mut watched = Watched { hands, of_the_search: 0, after_it: 0, drawn: 0, drawn_after: 0 };
        assert!(matches!(session.run(&mut watched), Err(Fault::Interrupted)));
        assert!(watched.drawn > 3 && watched.drawn <= watched.of_the_search, "{}", watched.drawn);
        assert!(watched.after_it > 0, "the speed is read once more");
        assert_eq!(watched.drawn_after, 0);
    }
}
