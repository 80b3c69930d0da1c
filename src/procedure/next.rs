//! What is due now. It follows from the facts alone.

use super::ask::Request;
use super::event::Event;
use super::plan::Step;
use super::state::{Outcome, State};
use super::steps;

/// What is due.
#[derive(Debug, Clone, PartialEq)]
pub enum Due {
    /// The tool has something of its own to record first: a move of the search, advice, the end.
    Own(Box<Event>),
    /// A question.
    Ask(Box<Request>),
    /// Nothing: the session is over.
    Over(Box<Outcome>),
}

/// What is due now.
pub fn next(state: &State) -> Due {
    if state.ending.is_some() {
        return Due::Over(Box::new(state.outcome()));
    }
    for step in Step::ALL {
        if state.is_skipped(step) {
            continue;
        }
        match steps::due(step, state) {
            Some(steps::StepDue::Own(event)) => return Due::Own(event),
            Some(steps::StepDue::Ask(request)) => return Due::Ask(Box::new(questioned(state, *request))),
            None => {}
        }
    }
    Due::Own(Box::new(Event::Finished))
}

/// A question whose first answer was surprising is asked once more, with what was surprising.
fn questioned(state: &State, mut request: Request) -> Request {
    if let Some((name, because)) = &state.questioned
        && *name == request.name
    {
        request.say = format!("{because} {}", request.say);
    }
    request
}
