//! Step 11: final readings, everything back on, and the hand-over.

use super::again;
use super::question::{Question, first_open};
use crate::procedure::ask::Request;
use crate::procedure::plan::Step;
use crate::procedure::state::State;

/// Name of the final reading.
pub(super) const READING: &str = "close.reading";

/// The final reading was taken.
pub(super) fn answered(state: &mut State, name: &str) {
    if name == READING {
        again::handed_over(state, state.reading(READING));
    }
}

pub(super) fn request(state: &State) -> Option<Request> {
    let questions = vec![
        Question::reading(
            READING,
            "Hot, idling in neutral, hands off: final vacuum and speed.",
            "This is what the engine is handed over at.",
        ),
        Question::gate(
            "close.refitted",
            "Air cleaner or flame arrester tight, hoses on, throttle returns, caps and clips in place?",
            "The spit-back that the air cleaner would have stopped is the one that burns.",
            "Put it right first.",
        ),
        Question::gate(
            "close.dry",
            "Fuel line and bowl dry, hot and idling; rags and drained fuel in closed cans?",
            "Leaks show hot that did not show cold.",
            "Mend, wipe, and look again.",
        ),
    ];
    first_open(Step::Close, state, questions)
}
