//! Step 1: the cautions, acknowledged in every session.

use super::question::{Question, first_open};
use crate::procedure::ask::Request;
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::rules::cautions;

pub(super) fn request(state: &State) -> Option<Request> {
    let lines: Vec<String> =
        cautions::at_start(Some(&state.setup)).into_iter().map(|c| c.text.to_owned()).collect();
    let question = Question::gate(
        "cautions",
        format!("{}\nRead, understood, and met?", lines.join("\n")),
        "An idling engine can burn, poison and cut; nothing here is worth an injury.",
        "Nothing else is asked before these are met; put right what is missing.",
    );
    first_open(Step::Cautions, state, vec![question])
}
