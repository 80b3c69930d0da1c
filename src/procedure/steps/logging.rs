//! Step 9: a log of every regime, under one set of parts.

use crate::analysis::advise::{Advice, Trial};
use crate::procedure::ask::{Ask, Request, Tell};
use crate::procedure::event::{Answer, LogTaken};
use crate::procedure::plan::Step;
use crate::procedure::state::State;
use crate::setup::Regime;
use crate::units::TimeSpan;

/// Steady running wanted in each regime before the first log (common practice: 20 good samples over several visits).
const WANTED: [(Regime, f64); 6] = [
    (Regime::Idle, 20.0),
    (Regime::OffIdle, 10.0),
    (Regime::Cruise, 30.0),
    (Regime::HeavyCruise, 20.0),
    (Regime::TipIn, 0.0),
    (Regime::FullThrottle, 5.0),
];

pub(super) fn request(state: &State) -> Option<Request> {
    if !state.log_wanted {
        return None;
    }
    let again = state.trials.len();
    let say = if again == 0 {
        "Log it: idle, creep off idle, steady cruise, heavier cruise, a few quick openings, then full throttle only where it is legal and safe. Give the file, or a live line."
    } else {
        "Log it again, the same way, with the new part: the same places, the same order, as warm as before."
    };
    Some(Request {
        step: Step::Logging,
        name: format!("log.{}", again + 1),
        say: say.to_owned(),
        why: "On the road one drives and another watches; never read or type while driving. Full throttle: at the first lean alarm, close the throttle.".to_owned(),
        ask: Ask::Log { lacks: lacks(state) },
    })
}

/// What each regime still lacks.
fn lacks(state: &State) -> Vec<(Regime, TimeSpan)> {
    match state.advice.last() {
        Some((_, advice)) => from_advice(advice),
        None => WANTED.iter().map(|(r, s)| (*r, TimeSpan::from_s(*s))).collect(),
    }
}

fn from_advice(advice: &Advice) -> Vec<(Regime, TimeSpan)> {
    advice.regimes.iter().filter(|r| r.needs > TimeSpan::ZERO).map(|r| (r.regime, r.needs)).collect()
}

/// A log was taken: it is a trial of the parts as they stand.
pub(in crate::procedure) fn logged(state: &mut State, log: &LogTaken) {
    state.log_wanted = false;
    let said: Vec<String> = log
        .trace
        .regimes
        .iter()
        .filter(|r| r.kept_seconds.as_s() >= 0.5)
        .filter_map(|r| {
            r.lambda.as_ref().map(|l| {
                format!("{} {:.3} over {:.0} s", r.regime.said(), l.median.as_ratio(), r.kept_seconds.as_s())
            })
        })
        .collect();
    state.tell(Tell::note(format!(
        "{} rows. Lambda: {}.",
        log.trace.rows,
        if said.is_empty() { "none usable".to_owned() } else { said.join("; ") }
    )));
    state.sources.push(log.source.clone());
    state.trial_settings.push(state.settings.clone());
    state.trials.push(Trial {
        carburetor: state.setup.carburetor.clone(),
        weather: log.weather.or(state.setup.weather),
        trace: log.trace.clone(),
    });
}

/// There is no log to be had.
pub(super) fn answered(state: &mut State, answer: &Answer) {
    if matches!(answer, Answer::Cannot(_)) {
        state.log_wanted = false;
        state.tell(Tell::caution(
            "No log, so no advice on jets: nothing is said that no reading stands behind.",
        ));
    }
}
