//! The steps, one file each. A step says what it still needs; when it needs nothing it is done.

pub(super) mod advice;
pub(super) mod again;
mod assumed;
mod before_first_start;
mod cautions;
mod close;
pub(super) mod curb_idle;
mod enrichment;
mod in_gear;
pub(super) mod logging;
pub(super) mod mixture;
mod question;
mod setting_up;
mod warm_up;

use super::ask::Request;
use super::event::{Answer, Event};
use super::plan::Step;
use super::state::State;
use crate::units::System;
use crate::units::show::turns_as_fraction;

/// What a step still needs.
pub(super) enum StepDue {
    /// Something of the tool's own to record.
    Own(Box<Event>),
    /// A question.
    Ask(Box<Request>),
}

/// What `step` still needs in `state`; `None` when it is done or does not apply.
pub(super) fn due(step: Step, state: &State) -> Option<StepDue> {
    let ask = |request: Option<Request>| request.map(|r| StepDue::Ask(Box::new(r)));
    match step {
        Step::Cautions => ask(cautions::request(state)),
        Step::Setup => ask(setting_up::request(state)),
        Step::BeforeFirstStart => ask(before_first_start::request(state)),
        Step::WarmUp => ask(warm_up::request(state)),
        Step::CurbIdle => ask(again::lead(state).or_else(|| curb_idle::request(state))),
        Step::Mixture => mixture::due(state),
        Step::InGear => ask(in_gear::request(state)),
        Step::EnrichmentCheck => ask(enrichment::request(state)),
        Step::Logging => ask(logging::request(state)),
        Step::Advice => advice::due(state),
        Step::Close => ask(close::request(state)),
    }
}

/// What follows from an answer beside the answer itself.
pub(super) fn answered(state: &mut State, name: &str, step: Step, answer: &Answer) {
    match step {
        Step::Setup => setting_up::answered(state, name),
        Step::BeforeFirstStart => before_first_start::answered(state, name, answer),
        Step::WarmUp => warm_up::answered(state, name),
        Step::CurbIdle => curb_idle::answered(state, step, answer),
        Step::Mixture => mixture::answered(state, name, answer),
        Step::InGear => in_gear::answered(state, name, answer),
        Step::EnrichmentCheck => enrichment::answered(state, name),
        Step::Logging => logging::answered(state, answer),
        Step::Advice => advice::answered(state, name, answer),
        Step::Close => close::answered(state, name),
        Step::Cautions => {}
    }
}

/// Answers that could not be given, were stood by against advice, or were only assumed; and what was made void since.
pub(super) fn open_items(state: &State) -> Vec<String> {
    // A name as it is read aloud: "log 1", not "log.1".
    let given = || state.given.iter().map(|(name, given)| (name.replace(['.', '_'], " "), given));
    let cannot = given().filter_map(|(name, given)| match &given.answer {
        Answer::Cannot(why) if why.is_empty() => Some(format!("{}: {name} not done", given.step.said())),
        Answer::Cannot(why) => Some(format!("{}: {name} not done ({why})", given.step.said())),
        _ => None,
    });
    let odd = given()
        .filter(|(_, given)| given.surprising)
        .map(|(name, given)| format!("{}: {name} is surprising and was stood by", given.step.said()));
    cannot.chain(odd).chain(assumed::open_items(state)).chain(again::open_items(state)).collect()
}

/// What a hand must put back when the answer `event` is taken back.
pub(super) fn put_back(event: &Event, system: System) -> Option<String> {
    match event {
        Event::Turned { screws, by } => {
            let which: Vec<_> = screws.iter().map(u8::to_string).collect();
            let way = if by.as_turns() < 0.0 { "out" } else { "in" };
            Some(format!(
                "If screw {} was turned, turn it back {} {way}.",
                which.join(" and "),
                turns_as_fraction(*by)
            ))
        }
        Event::IdleSpeedMoved { .. } => Some("If the idle-speed screw was moved, put it back.".to_owned()),
        Event::PartChanged(change) => {
            Some(format!("If the {} was changed, refit {}.", change.part.said(), change.from.show(system)))
        }
        Event::Set { settings, .. } => {
            let names: Vec<&str> = settings.keys().map(String::as_str).collect();
            Some(format!("If {} was changed, put it back.", names.join(" or ")))
        }
        _ => None,
    }
}
