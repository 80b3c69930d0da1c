//! A session told again: every move and every advice recomputed from what was known then, and held against what
//! was said then.

use super::ask::{Ask, Tell};
use super::event::Event;
use super::next::{Due, next};
use super::plan::Step;
use super::state::{Damaged, Job, State};
use super::steps::advice;
use crate::analysis::advise::Options;
use crate::units::System;
use serde_json::Value;

/// One event, told again.
#[derive(Debug, Clone, PartialEq)]
pub struct Retold {
    /// The step it belongs to, when it answered or moved one.
    pub step: Option<Step>,
    /// What was asked before it, in the words of the question.
    pub asked: Option<String>,
    /// What was said because of it.
    pub tells: Vec<Tell>,
    /// For a move or an advice of the tool's own: whether it comes out the same now.
    pub agrees: Option<bool>,
    /// What comes out now, where that is not the same; `None` where nothing of the kind does.
    pub now: Option<Event>,
}

/// A session being told again, event by event.
#[derive(Debug, Clone)]
pub struct Retelling {
    /// What was known after the last event told.
    pub state: State,
    disagreements: Vec<usize>,
    told: usize,
}

impl Retelling {
    /// From the job a session was opened with.
    pub fn open(job: Job, system: System) -> Self {
        Self { state: State::open(job, system), disagreements: Vec::new(), told: 0 }
    }

    /// Tells one more event.
    pub fn tell(&mut self, event: &Event) -> Result<Retold, Damaged> {
        if !matches!(event, Event::Noted { .. } | Event::Undone) {
            self.state.ending = None;
        }
        let due = next(&self.state);
        let agrees = self.comes_out(&due, event);
        let now = if agrees == Some(false) { self.now(&due, event) } else { None };
        if agrees == Some(false) {
            self.disagreements.push(self.told);
        }
        let (step, asked) = match due {
            Due::Ask(request) if answers(event, &request.ask) => (Some(request.step), Some(request.say)),
            Due::Ask(_) | Due::Own(_) | Due::Over(_) => (step_of(event), None),
        };
        self.state.apply(event)?;
        self.told += 1;
        Ok(Retold { step, asked, tells: self.state.fresh_tells().to_vec(), agrees, now })
    }

    /// Whether what the tool said of itself comes out the same now. Advice is given outside the guide too, on a log that
    /// the guide did not ask for: it is held against the advice on the last log, whatever else is due.
    fn comes_out(&self, due: &Due, event: &Event) -> Option<bool> {
        match event {
            Event::Advised(_) => Some([false, true].into_iter().any(|together| {
                let now = advice::now(&self.state, Options { together, system: self.state.system });
                now.is_some_and(|now| same(&Event::Advised(Box::new(now)), event))
            })),
            Event::Proposed(_) | Event::Finished => Some(matches!(due, Due::Own(now) if same(now, event))),
            _ => None,
        }
    }

    /// What the tool would say now in the place of what it said then.
    fn now(&self, due: &Due, event: &Event) -> Option<Event> {
        match (event, due) {
            (Event::Advised(_), _) => {
                let options = Options { together: false, system: self.state.system };
                advice::now(&self.state, options).map(|now| Event::Advised(Box::new(now)))
            }
            (_, Due::Own(now)) => Some((**now).clone()),
            _ => None,
        }
    }

    /// Every move and advice came out as it was said then.
    pub fn agrees(&self) -> bool {
        self.disagreements.is_empty()
    }

    /// Places (from 0, counting events after the opening) where it did not.
    pub fn disagreements(&self) -> &[usize] {
        &self.disagreements
    }
}

/// The step an event belongs to when it answers no question of the guide.
fn step_of(event: &Event) -> Option<Step> {
    match event {
        Event::Logged(_) | Event::Pulled(_) => Some(Step::Logging),
        Event::Advised(_) | Event::PartChanged(_) => Some(Step::Advice),
        Event::Set { step, .. } => Some(*step),
        _ => None,
    }
}

/// The event answers the question, so that it belongs under it: what is recorded from outside the guide does not.
fn answers(event: &Event, ask: &Ask) -> bool {
    match event {
        Event::Logged(_) => matches!(ask, Ask::Log { .. }),
        Event::PartChanged(change) => matches!(ask, Ask::Change { part, .. } if *part == change.part),
        Event::Pulled(_) | Event::Advised(_) | Event::Set { .. } => false,
        _ => true,
    }
}

/// What is only words about a move or an advice. They follow the units in which a session is told, and may be mended:
/// only what they are about is held against what was advised then.
const WORDS: [&str; 10] =
    ["says", "what", "why", "reason", "check", "how_sure", "proves_wrong", "learned", "notes", "remarks"];

/// The same once both have been through the form a file holds: quantities are written to twelve digits.
fn same(now: &Event, then: &Event) -> bool {
    let through = |event: &Event| {
        let file = event.to_file().ok()?;
        let mut file = Event::from_file(&file.kind, &file.payload).ok()?.ok()?.to_file().ok()?;
        without_words(&mut file.payload);
        Some(file)
    };
    match (through(now), through(then)) {
        (Some(now), Some(then)) => now == then,
        _ => false,
    }
}

fn without_words(value: &mut Value) {
    match value {
        Value::Object(fields) => {
            fields.retain(|name, _| !WORDS.contains(&name.as_str()));
            // Earlier versions kept a change that is held back in words alone.
            if let Some(Value::Array(held)) = fields.get_mut("withheld") {
                held.fill(Value::Null);
            }
            fields.values_mut().for_each(without_words);
        }
        Value::Array(items) => items.iter_mut().for_each(without_words),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::advise::{Advice, HeldChange, Outcome, PlanStep, Withheld};
    use crate::setup::{PartPath, PartSize};
    use crate::units::Length;

    fn advice() -> Advice {
        let (part, from) = (PartPath::IdleFeed, PartSize::Bore(Length::from_inches(0.030)));
        let to = PartSize::Bore(Length::from_inches(0.032));
        Advice {
            outcome: Outcome::LogMore,
            regimes: Vec::new(),
            mend_first: Vec::new(),
            changes: Vec::new(),
            plan: vec![PlanStep { part, from, to, why: "then".to_owned() }],
            withheld: vec![Withheld {
                what: "idle feed 0.030 in to 0.032 in".to_owned(),
                reason: "then".to_owned(),
                change: None,
            }],
            learned: Vec::new(),
            notes: vec!["then".to_owned()],
        }
    }

    fn agrees(now: Advice) -> bool {
        same(&Event::Advised(Box::new(now)), &Event::Advised(Box::new(advice())))
    }

    #[test]
    fn other_words_are_the_same_advice() {
        let mut now = advice();
        now.plan[0].why = "now".to_owned();
        now.notes = vec!["now".to_owned(), "and more".to_owned()];
        let PlanStep { part, from, to, .. } = now.plan[0];
        now.withheld[0] = Withheld {
            what: "idle feed 0.76 mm to 0.81 mm".to_owned(),
            reason: "now".to_owned(),
            change: Some(HeldChange { part, from, to }),
        };
        assert!(agrees(now));
    }

    #[test]
    fn another_part_size_outcome_or_count_of_what_is_held_back_is_not() {
        let other = |mend: &dyn Fn(&mut Advice)| {
            let mut now = advice();
            mend(&mut now);
            agrees(now)
        };
        assert!(other(&|_| {}));
        assert!(!other(&|a| a.outcome = Outcome::LeaveAlone));
        assert!(!other(&|a| a.plan[0].part = PartPath::IdleAirBleed));
        assert!(!other(&|a| a.plan[0].to = PartSize::Bore(Length::from_inches(0.033))));
        assert!(!other(&|a| a.withheld.clear()));
    }
}
