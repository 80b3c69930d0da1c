//! Drives the search on a rig.

use super::rig::{Rig, reading};
use leanbest::rules::balance::{Belief, Finish, Move, Observation, Outcome, ScrewSpec, Spec, decide};
use leanbest::units::{EngineSpeed, PressureDifference, System, Turns};
use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::Instant;

/// How many readings each decision rested on, and the milliseconds it took.
static TOOK: Mutex<Vec<(usize, f64)>> = Mutex::new(Vec::new());

/// What the decisions since the last time took of one processor: mean, 99th of a hundred and longest, and the mean by how many readings they rested on.
pub(crate) fn times() -> String {
    let mut took = core::mem::take(&mut *TOOK.lock().unwrap_or_else(PoisonError::into_inner));
    took.sort_by(|a, b| a.1.total_cmp(&b.1));
    let (Some(longest), Some(most)) = (took.last(), took.iter().map(|t| t.0).max()) else {
        return String::new();
    };
    let mean = |of: &dyn Fn(usize) -> bool| {
        let these: Vec<f64> = took.iter().filter(|t| of(t.0)).map(|t| t.1).collect();
        these.iter().sum::<f64>() / these.len().max(1) as f64
    };
    let means = (0..=most / 20).map(|k| format!("{:.1}", mean(&|n| n / 20 == k))).collect::<Vec<_>>();
    format!(
        "{} decisions, ms of one processor: mean {:.1}, 99 of 100 within {:.1}, longest {:.1}; mean by readings, 0 to 19 \
         and so on: {}",
        took.len(),
        mean(&|_| true),
        took[(took.len() - 1) * 99 / 100].1,
        longest.1,
        means.join(", ")
    )
}

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
        idle_aim: rig.idle_aim().map(EngineSpeed::from_rpm),
        lopey: rig.lopey(),
        finish: Finish::Peak,
        before: None,
    }
}

/// Milliseconds of the processor that this thread has had; of the clock where the system does not tell.
#[allow(clippy::disallowed_methods, reason = "how long a decision takes is told, never judged")]
fn spent() -> f64 {
    static BEGAN: LazyLock<Instant> = LazyLock::new(Instant::now);
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let ns = told.and_then(|t| t.split_whitespace().next()?.parse::<f64>().ok());
    ns.map_or_else(|| 1e3 * BEGAN.elapsed().as_secs_f64(), |ns| 1e-6 * ns)
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
        let before = spent();
        let decision = decide(&spec, &history, System::Us);
        let took = spent() - before;
        let readings = history.iter().filter(|o| matches!(o, Observation::Read(_))).count();
        TOOK.lock().unwrap_or_else(PoisonError::into_inner).push((readings, took));
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
            Move::TrimIdle { toward } => {
                rig.trim(toward.as_rpm());
                history.push(Observation::Trimmed { to: None });
            }
            Move::Done(outcome) => return Some(outcome),
        }
    }
    None
}
