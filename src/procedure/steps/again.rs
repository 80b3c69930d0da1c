//! The mixture screws once more: what makes their result void, and the way back to them.
//!
//! Whatever acts on the idle mixture or the air it goes with moves the tops of the screws: the ignition's timing, the idle
//! feed restriction, the idle air bleed. Parts of the main circuit do not, since it does not flow at idle.

use super::mixture::{self, Mixture};
use super::question::Question;
use crate::procedure::ask::{Ask, Request, Tell};
use crate::procedure::event::{Answer, PartChange};
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::rules::balance::{Before, Observation, Reading, Spec};
use crate::setup::PartPath;
use crate::units::Turns;

/// What the names of its questions begin with.
pub(super) const NAME: &str = "mixture.again.";
/// And that of the turn before the search.
pub(super) const LEAD: &str = "mixture.lead.";
/// Furthest that the screws are turned on the ground of a part alone, turns.
const MOST_LEAD: f64 = 0.5;

/// What made the result of a search void.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::procedure) enum Void {
    /// The timing was moved.
    Timing,
    /// A part of the idle circuit was changed.
    Part(PartChange),
    /// It stalled where it was to be handed over.
    Stalled,
}

/// What made searches void, and whether one is still to be made again.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Voids {
    timing_moves: u32,
    part_changes: u32,
    stalls: u32,
    /// The last of them, and the search has not been made again.
    stale: Option<Void>,
    /// The session has gone on without asking: a record from before the question was asked.
    passed_by: bool,
    /// How much leaner the parts changed since the last search make the idle: the logarithm of their areas.
    leaner: f64,
    /// How far all screws are to be turned before anything is read.
    lead: Option<Turns>,
}

/// A change of this part asks for the screws again.
pub(in crate::procedure) fn acts_at_idle(part: PartPath) -> bool {
    matches!(part, PartPath::IdleFeed | PartPath::IdleAirBleed)
}

/// Logarithm of the area by which a change makes the idle leaner.
fn leaner(change: PartChange) -> f64 {
    let (Some(from), Some(to)) = (change.from.bore(), change.to.bore()) else { return 0.0 };
    let ratio = (to / from).powi(2);
    let richer = if change.part == PartPath::IdleAirBleed { -ratio.ln() } else { ratio.ln() };
    if richer.is_finite() { -richer } else { 0.0 }
}

/// The screws were set under something that is no longer so.
pub(in crate::procedure) fn void(state: &mut State, by: Void) {
    let mixture = &mut state.mixture;
    let read = mixture.history.iter().any(|o| matches!(o, Observation::Read(_)));
    if mixture.history.is_empty() || (by != Void::Timing && !read) {
        return;
    }
    let voids = &mut mixture.voids;
    match by {
        Void::Timing => voids.timing_moves += 1,
        Void::Part(change) => {
            voids.part_changes += 1;
            voids.leaner += leaner(change);
        }
        Void::Stalled => voids.stalls += 1,
    }
    voids.stale = Some(by);
    voids.passed_by = false;
    state.tell(Tell::caution(match by {
        Void::Timing => "The idle mixture was set under the timing as it was: its result no longer holds. Set curb idle and the mixture screws again before anything is judged at idle.".to_owned(),
        Void::Part(change) => format!(
            "The idle mixture was set with another {}: its result no longer holds. Curb idle and the mixture screws come again before the next log.",
            change.part.said()
        ),
        Void::Stalled => "It does not keep idling as it stands. Start it again, the idle-speed screw in a little if it must.".to_owned(),
    }));
}

/// Asked once for every time.
pub(super) fn question(state: &State) -> Option<Question> {
    let voids = &state.mixture.voids;
    if voids.passed_by {
        return None;
    }
    let (count, say, why) = match voids.stale? {
        Void::Timing => (
            voids.timing_moves.to_string(),
            "Timing was changed since the mixture screws were read. Set curb idle and the screws again now?".to_owned(),
            "More advance at idle makes more vacuum and speed, and the screws find their best elsewhere.",
        ),
        Void::Part(change) => (
            format!("part.{}", voids.part_changes),
            format!(
                "The {} was changed since the mixture screws were read. Start the engine, hot as before, the idle-speed screw in a little if it will not keep running. Set curb idle and the screws again now, before the log?",
                change.part.said()
            ),
            "It meters idle with the screws: they find their best elsewhere, and a log of an idle that is off, or stalls, tells of the screws and not of the part. The search begins where they stand, and is short where little moved.",
        ),
        Void::Stalled => (
            format!("stalled.{}", voids.stalls),
            "It does not keep idling as it stands. Start it again, and set curb idle and the screws again now?".to_owned(),
            "An engine that stalls is not handed over without a word.",
        ),
    };
    Some(Question::choose(
        &format!("{NAME}{count}"),
        say,
        why,
        &[("again", "set them again"), ("leave", "leave them for now; it stays an open item")],
    ))
}

/// What is still to be done, for the open items.
pub(in crate::procedure) fn open_items(state: &State) -> Vec<String> {
    let again =
        |what: &str| format!("Mixture screws: {what} was changed after they were set; set them again");
    let screws = match state.mixture.voids.stale {
        Some(Void::Timing) => Some(again("timing")),
        Some(Void::Part(change)) => Some(again(&format!("the {}", change.part.said()))),
        Some(Void::Stalled) | None => None,
    };
    let stalled = state.reading(super::close::READING).is_some_and(|r| r.has_stopped());
    screws.into_iter().chain(stalled.then(|| "Close: it was left stalled".to_owned())).collect()
}

/// Whether to set them again was answered.
pub(super) fn answered(state: &mut State, answer: &Answer) {
    if matches!(answer, Answer::Choice(choice) if choice == "again") {
        begin_anew(state);
    }
}

/// The search begins anew, and the idle-speed screw before it.
fn begin_anew(state: &mut State) {
    let by = state.mixture.voids.stale;
    let old = std::mem::take(&mut state.mixture);
    let mut spec = old.spec.as_ref().map(|old| mixture::spec(state, old.finish));
    let mut history = Vec::new();
    let (mut curb_idle, mut lead) = (None, None);
    if by != Some(Void::Timing) {
        let moves = richer_by(state, old.voids.leaner);
        remember(&old, spec.as_mut(), moves);
        lead = lead_turn(state, moves);
        // what the rig has not, it has not now either
        history.extend(old.history.iter().filter(|o| matches!(o, Observation::Cannot { .. })).cloned());
        curb_idle = state.trims.get(&Step::CurbIdle).filter(|t| t.given_up()).cloned();
        state.given.remove(super::close::READING);
        in_gear_again(state);
    }
    state.trims.remove(&Step::Mixture);
    match curb_idle {
        Some(unread) => state.trims.insert(Step::CurbIdle, unread),
        None => state.trims.remove(&Step::CurbIdle),
    };
    state.mixture = Mixture {
        spec,
        history,
        earlier: (old.turn_commands(), old.readings()),
        voids: Voids { stale: None, passed_by: false, leaner: 0.0, lead, ..old.voids },
        ..Mixture::default()
    };
}

/// How far out the tops are thought to have moved: by the same share of their turns as the area that changed, soft.
fn richer_by(state: &State, leaner: f64) -> Turns {
    let idle = &state.setup.carburetor.idle;
    let mean = idle.turns_out.iter().map(|t| t.as_turns()).sum::<f64>() / idle.turns_out.len().max(1) as f64;
    let out = (mean * leaner).clamp(-MOST_LEAD, MOST_LEAD);
    Turns::from_turns(if idle.screws_meter_air { -out } else { out })
}

/// A leaner part would stall it at the old setting: all screws are first turned as much richer, by whole marks. With a
/// richer part it only lopes there, and the search leans it by its own short steps.
fn lead_turn(state: &State, moves: Turns) -> Option<Turns> {
    let idle = &state.setup.carburetor.idle;
    let richer = (moves.as_turns() > 0.0) != idle.screws_meter_air;
    let marks = (moves.as_turns() / mixture::MARK.as_turns()).round();
    let by = mixture::MARK * marks;
    let room = idle.turns_out.iter().all(|t| *t + by >= Turns::ZERO && *t + by <= idle.screw_range);
    (richer && marks != 0.0 && room).then_some(by)
}

/// The turn that comes before anything is read.
pub(super) fn lead(state: &State) -> Option<Request> {
    let by = state.mixture.voids.lead.filter(|_| !state.is_skipped(Step::Mixture))?;
    let screws: Vec<u8> = (1..=state.setup.carburetor.idle.screws).collect();
    Some(Request {
        step: Step::Mixture,
        name: format!("{LEAD}{}", state.mixture.voids.part_changes),
        say: mixture::say_turn(state, &screws, by),
        why: "The part that was fitted leans the idle about as much: where the screws stood it may not keep running. Too rich it only lopes.".to_owned(),
        ask: Ask::Turn { screws, by },
    })
}

/// Screws were turned, or the turn was said not to be possible.
pub(super) fn led(state: &mut State) {
    state.mixture.voids.lead = None;
}

/// What the search before found, moved as the parts ask, is where the next begins.
fn remember(old: &Mixture, spec: Option<&mut Spec>, moves: Turns) {
    let (Some(spec), Some(belief)) = (spec, old.belief.as_ref()) else { return };
    spec.before = Some(Before {
        tops: belief.screws.iter().map(|s| s.top + moves).collect(),
        unsure: belief.screws.iter().map(|s| s.unsure).collect(),
    });
}

/// An idle speed that was set in gear has to be set there again, once the screws have been set out of gear.
fn in_gear_again(state: &mut State) {
    if state.trims.remove(&Step::InGear).is_some_and(|trim| trim.was_moved()) {
        state.given.retain(|name, _| !name.starts_with("in-gear."));
    }
}

/// Something of a later step was answered or left out while the question was open: the session was recorded before it
/// was asked, and is told as it was.
pub(in crate::procedure) fn passed_by(state: &mut State, step: Step) {
    let voids = &mut state.mixture.voids;
    if step > Step::Mixture && matches!(voids.stale, Some(Void::Part(_) | Void::Stalled)) {
        voids.passed_by = true;
    }
}

/// The last reading was taken: of an engine that stalled it asks for the screws again, but once.
pub(super) fn handed_over(state: &mut State, reading: Option<Reading>) {
    if !reading.is_some_and(|r| r.has_stopped()) {
        return;
    }
    if state.mixture.voids.stalls == 0 && state.mixture.voids.stale.is_none() {
        void(state, Void::Stalled);
    }
    if state.mixture.voids.stale != Some(Void::Stalled) {
        state.tell(Tell::caution(
            "It does not keep idling, and is left stalled. Idle-speed screw, choke, fuel level, leaks and ignition come before the mixture screws.",
        ));
    }
}

#[cfg(test)]
mod tests;
