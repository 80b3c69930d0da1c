//! Drives the search on a rig.

use super::rig::{Rig, reading};
use leanbest::rules::balance::{Belief, Finish, Move, Observation, Outcome, ScrewSpec, Spec, decide};
use leanbest::units::{EngineSpeed, PressureDifference, System, Turns};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// The longest that one decision has taken, microseconds.
pub(crate) static LONGEST_US: AtomicU64 = AtomicU64::new(0);

/// What the search is told of a rig.
pub(crate) fn spec(rig: &dyn Rig) -> Spec {
    Spec {
        screws: ScrewSpec {
            turns_out: rig.turns().into_iter().map(Turns::from_turns).collect(),
            range: Turns::from_turns(rig.range()),
            mark: Turns::from_turns(0.125),
            meter_air: false,
        },
        gauge_mark: PressureDifference::from_inhg(0.5),
        speed_step: EngineSpeed::from_rpm(10.0),
        idle_aim: None,
        lopey: rig.lopey(),
        finish: Finish::Peak,
        before: None,
    }
}

#[allow(clippy::disallowed_methods, reason = "how long a decision takes is told, never judged")]
fn clock() -> Instant {
    Instant::now()
}

/// Runs the search to its end; `None` when it does not end within `most` decisions.
pub(crate) fn run(
    rig: &mut dyn Rig,
    most: usize,
    mut look: impl FnMut(&Move, &str, Option<&Belief>, &[Observation]),
) -> Option<Outcome> {
    let spec = spec(rig);
    let mut history = Vec::new();
    for _ in 0..most {
        let began = clock();
        let decision = decide(&spec, &history, System::Us);
        LONGEST_US.fetch_max(began.elapsed().as_micros() as u64, Ordering::Relaxed);
        look(&decision.next, &decision.why, decision.belief.as_ref(), &history);
        match decision.next {
            Move::Turn { screws, by } => {
                let places: Vec<usize> = screws.iter().map(|s| usize::from(*s) - 1).collect();
                let runs = rig.turn(&places, by.as_turns());
                history.push(Observation::Turned { screws, by });
                if !runs {
                    history.push(Observation::Stalled);
                }
            }
            Move::Read => history.push(Observation::Read(reading(rig.read()))),
            Move::TrimIdle { .. } => history.push(Observation::Cannot { what: "trim".to_owned() }),
            Move::Done(outcome) => return Some(outcome),
        }
    }
    None
}
