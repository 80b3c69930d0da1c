//! Step 5: curb idle, by the idle-speed screw. The tool learns what a turn is worth from the moves made.

use super::question::gauges;
use crate::procedure::ask::{Ask, Request, Tell};
use crate::procedure::event::Answer;
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::rules::idle;
use crate::units::show::{Shown, turned_by};
use crate::units::{EngineSpeed, Turns};

/// Near enough: 25 rpm, or 3 % of the aim (common practice: a tachometer's needle is no finer).
const NEAR_RPM: f64 = 25.0;
const NEAR_SHARE: f64 = 0.03;
/// What a turn of an idle-speed screw is taken to be worth before any was made (common practice, soft).
const RPM_A_TURN: f64 = 400.0;
const MOST_MOVES: usize = 8;
const MOST_TURN: f64 = 0.5;
const STEP: f64 = 1.0 / 16.0;
/// A reading below this is of an engine that has stopped, and teaches nothing of the screw.
const STOPPED_RPM: f64 = 150.0;

/// Readings and moves of the idle-speed screw in one step.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Trim {
    readings: Vec<EngineSpeed>,
    /// Each move, and how many readings there were before it.
    moves: Vec<(usize, Option<Turns>)>,
    given_up: bool,
}

/// What a trim needs next.
pub(super) enum TrimDue {
    Read,
    Move(Turns),
    Settled,
    GaveUp,
}

impl Trim {
    /// There is nothing to read the speed by.
    pub(super) fn given_up(&self) -> bool {
        self.given_up
    }

    /// The idle-speed screw was moved in it.
    pub(super) fn was_moved(&self) -> bool {
        !self.moves.is_empty()
    }

    /// What it needs to come to `aim`.
    pub(super) fn due(&self, aim: EngineSpeed) -> TrimDue {
        if self.given_up {
            return TrimDue::GaveUp;
        }
        let Some(speed) = self.readings.last() else { return TrimDue::Read };
        if self.moves.last().is_some_and(|(before, _)| *before == self.readings.len()) {
            return TrimDue::Read;
        }
        let off = aim - *speed;
        if is_near(*speed, aim) {
            return TrimDue::Settled;
        }
        if self.moves.len() >= MOST_MOVES {
            return TrimDue::GaveUp;
        }
        let turns = (off.as_rpm() / self.rpm_a_turn()).clamp(-MOST_TURN, MOST_TURN);
        let marks = (turns / STEP).round();
        let marks = if marks == 0.0 { turns.signum() } else { marks };
        TrimDue::Move(Turns::from_turns(marks * STEP))
    }

    /// What a turn has been worth here; the common figure until a move has shown it. Moves that went the wrong way,
    /// or showed less than the gauge can, teach nothing.
    fn rpm_a_turn(&self) -> f64 {
        self.learned().unwrap_or(RPM_A_TURN)
    }

    fn learned(&self) -> Option<f64> {
        let (mut change, mut turns) = (0.0, 0.0);
        for (before, by) in &self.moves {
            let (Some(by), Some(first), Some(then)) =
                (by, before.checked_sub(1).and_then(|i| self.readings.get(i)), self.readings.get(*before))
            else {
                continue;
            };
            if [first, then].iter().any(|s| s.as_rpm() < STOPPED_RPM) {
                continue;
            }
            change += (*then - *first).as_rpm() * by.as_turns().signum();
            turns += by.as_turns().abs();
        }
        (turns > 0.0 && change / turns > 40.0).then(|| (change / turns).clamp(60.0, 3000.0))
    }
}

fn is_near(speed: EngineSpeed, aim: EngineSpeed) -> bool {
    // a hair more, so that a reading just on the border is inside it whatever the unit conversion did
    (speed - aim).as_rpm().abs() <= NEAR_RPM.max(NEAR_SHARE * aim.as_rpm()) + 1e-6
}

/// Curb idle to hold with nothing engaged.
pub(super) fn aim(state: &State) -> idle::IdleAim {
    idle::aim(
        &state.setup.engine,
        state.setup.application,
        state.setup.weather.map(|w| w.pressure),
        &state.job.rules,
        state.system,
    )
}

pub(super) fn request(state: &State) -> Option<Request> {
    let aim = aim(state);
    trim_request(state, Step::CurbIdle, aim.aim, &aim.reasons.join("; "))
}

/// What the idle-speed screw needs in `step` to come to `aim`; `None` when it is there, or cannot be.
pub(super) fn trim_request(state: &State, step: Step, aim: EngineSpeed, why: &str) -> Option<Request> {
    let empty = Trim::default();
    let trim = state.trims.get(&step).unwrap_or(&empty);
    let name = |what: &str, n: usize| format!("{}.{what}.{}", step.name(), n + 1);
    let speed = aim.show(state.system);
    match trim.due(aim) {
        TrimDue::Settled | TrimDue::GaveUp => None,
        TrimDue::Read => Some(Request {
            step,
            name: name("reading", trim.readings.len()),
            say: "Let it settle, then read speed and vacuum.".to_owned(),
            why: format!("Aim {speed}: {why}"),
            ask: gauges(state),
        }),
        TrimDue::Move(by) => {
            let faster = by.as_turns() > 0.0;
            let way = if faster { "in (faster)" } else { "out (slower)" };
            let worth = trim.learned().map_or_else(
                || "an ordinary screw; the first move shows what a turn is worth here".to_owned(),
                |w| format!("a turn has been worth {w:.0} rpm here"),
            );
            Some(Request {
                step,
                name: name("idle-speed", trim.moves.len()),
                say: format!("Idle-speed screw {} {way}, toward {speed}.", turned_by(by)),
                why: format!("{worth}. {why}"),
                ask: Ask::IdleSpeed { toward: aim, by: Some(by) },
            })
        }
    }
}

/// The idle-speed screw was moved.
pub(in crate::procedure) fn moved(state: &mut State, step: Step, by: Option<Turns>) {
    if step == Step::Mixture && super::mixture::trimmed(state) {
        return;
    }
    let trim = state.trims.entry(step).or_default();
    let before = trim.readings.len();
    trim.moves.push((before, by));
}

/// A reading, or the word that there is none, in a step that trims.
pub(super) fn answered(state: &mut State, step: Step, answer: &Answer) {
    let trim = state.trims.entry(step).or_default();
    match answer {
        Answer::Reading(reading) => match reading.speed {
            Some(speed) => trim.readings.push(speed),
            None => trim.given_up = true,
        },
        Answer::Cannot(_) => trim.given_up = true,
        _ => return,
    }
    if step == Step::CurbIdle {
        say_how_it_came_out(state);
    }
}

fn say_how_it_came_out(state: &mut State) {
    let aim = aim(state).aim;
    let Some(trim) = state.trims.get(&Step::CurbIdle) else { return };
    let tell = match trim.due(aim) {
        TrimDue::Settled => Tell::note(format!("Curb idle is on its aim of {}.", aim.show(state.system))),
        TrimDue::GaveUp if trim.given_up => {
            Tell::caution("Without a speed to read, curb idle is left as it is.")
        }
        TrimDue::GaveUp => Tell::caution(
            "The speed does not follow the screw. Look for a vacuum leak, a fast-idle cam still on, or a linkage that holds it; an engine that will not answer to idle speed has a fault elsewhere.",
        ),
        _ => return,
    };
    state.tell(tell);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rpm(rpm: f64) -> EngineSpeed {
        EngineSpeed::from_rpm(rpm)
    }

    fn after(aim: f64, worth: f64, from: f64) -> (f64, usize) {
        let (mut trim, mut speed) = (Trim::default(), from);
        for _ in 0..40 {
            match trim.due(rpm(aim)) {
                TrimDue::Read => trim.readings.push(rpm(speed)),
                TrimDue::Move(by) => {
                    speed += worth * by.as_turns();
                    trim.moves.push((trim.readings.len(), Some(by)));
                }
                TrimDue::Settled | TrimDue::GaveUp => break,
            }
        }
        (speed, trim.moves.len())
    }

    #[test]
    fn it_comes_to_the_aim_on_lively_and_lazy_screws_alike() {
        for worth in [120.0, 400.0, 1200.0] {
            let (speed, moves) = after(700.0, worth, 900.0);
            assert!((speed - 700.0).abs() <= 40.0, "{worth}: {speed} after {moves}");
            assert!(moves <= 6, "{worth}: {moves} moves");
        }
    }

    #[test]
    fn a_screw_that_does_nothing_is_given_up_on() {
        let (_, moves) = after(700.0, 0.0, 900.0);
        assert_eq!(moves, MOST_MOVES);
    }

    #[test]
    fn near_is_25_rpm_or_3_percent() {
        assert!(is_near(rpm(725.0), rpm(700.0)) && !is_near(rpm(726.0), rpm(700.0)));
        assert!(is_near(rpm(1236.0), rpm(1200.0)) && !is_near(rpm(1237.0), rpm(1200.0)));
    }
}
