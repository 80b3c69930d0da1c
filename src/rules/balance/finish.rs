//! Where to leave the screws, and what the setting says about the engine.

use super::engine::Setting;
use super::past::Past;
use super::plan::STAY_WITHIN;
use super::posterior::Posterior;
use super::prior::Prior;
use super::say;
use super::types::{Belief, Finish, Spec, Unresponsive};
use super::worth::{Scales, Stand};
use crate::units::System;

/// On the flat of the top, leaner is taken while it is expected to lose no more than this, inHg.
const LEANEST_WITHIN: f64 = 0.006;

/// The setting to end at, from the best one known and from where the screws stand.
pub(super) fn setting(
    spec: &Spec,
    prior: &Prior,
    posterior: &Posterior,
    scales: &Scales<'_>,
    best: &Stand,
    past: &Past,
    mark: f64,
) -> Setting {
    let all: Vec<usize> = (0..prior.n).collect();
    match spec.finish {
        Finish::Peak => {
            let leaner = scales.moved(&best.at, &all, -prior.sign * mark).map(|at| scales.stand(at));
            match leaner {
                Some(l) if l.loss <= best.loss + LEANEST_WITHIN && l.off <= best.off + 0.01 => l.at,
                _ => best.at,
            }
        }
        Finish::Rich(by) => {
            let steps = (by.as_turns() / mark).round();
            let richer = (0..=steps.max(0.0) as u32)
                .rev()
                .find_map(|k| scales.moved(&best.at, &all, prior.sign * f64::from(k) * mark))
                .unwrap_or(best.at);
            // Where the top lies between two marks either will do. One that is as much richer than the other of them is
            // not leaned again to where it was before: from there it would be richened again, and so on.
            let stands = &past.anchor;
            let leaner = all.iter().map(|&i| prior.sign * (stands[i] - richer[i])).sum::<f64>() > -1e-9;
            let been = read_at(past, prior.n, &richer) > 0;
            let from = scales.moved(stands, &all, -prior.sign * steps * mark).map(|at| scales.stand(at));
            match from {
                Some(from) if leaner && been && from.loss <= best.loss + STAY_WITHIN => *stands,
                _ => richer,
            }
        }
        Finish::LeanDrop(drop) => {
            let want = drop.as_rpm().abs();
            let expected = |at: &Setting| -> f64 {
                posterior
                    .cloud
                    .iter()
                    .map(|p| p.weight * p.engine.rpm_per_inhg * (p.engine.fall(at) - p.engine.fall(&best.at)))
                    .sum()
            };
            let mut at = best.at;
            let mut miss = want;
            for k in 1..=24 {
                let Some(next) = scales.moved(&best.at, &all, -prior.sign * f64::from(k) * mark) else {
                    break;
                };
                let off = (expected(&next) - want).abs();
                if off > miss {
                    break;
                }
                (at, miss) = (next, off);
            }
            at
        }
    }
}

/// How often the gauges were read at a setting.
fn read_at(past: &Past, screws: usize, at: &Setting) -> usize {
    past.seen.iter().filter(|s| (0..screws).all(|i| (s.at[i] - at[i]).abs() < 1e-6)).count()
}

/// A rich finish that was left and come back to would be leaned once more to where it was read before.
pub(super) fn turns_in_a_circle(spec: &Spec, prior: &Prior, past: &Past, at: &Setting) -> bool {
    let leaner = (0..prior.n).map(|i| prior.sign * (past.anchor[i] - at[i])).sum::<f64>() > 1e-6;
    matches!(spec.finish, Finish::Rich(_))
        && leaner
        && read_at(past, prior.n, at) > 0
        && read_at(past, prior.n, &past.anchor) > 1
}

/// What evenness, turns out and dead screws say about the engine.
pub(super) fn remarks(
    spec: &Spec,
    prior: &Prior,
    past: &Past,
    belief: &Belief,
    dead: &[Unresponsive],
    system: System,
) -> Vec<String> {
    let mut said = Vec::new();
    let live: Vec<f64> = (0..prior.n)
        .filter(|&i| !dead.iter().any(|d| usize::from(d.screw) == i + 1))
        .map(|i| past.stands[i])
        .collect();
    let most = live.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = live.iter().copied().fold(f64::INFINITY, f64::min);
    if live.len() > 1 {
        let apart = most - least;
        let allowed = if prior.n <= 2 { 0.25 } else { 0.5 };
        said.push(if apart < 1e-6 {
            "The screws ended even: both sides breathe and meter alike.".to_owned()
        } else if apart <= allowed + 1e-6 {
            format!("The screws ended within {apart:.3} turn of each other, which is normal.")
        } else {
            format!(
                "The screws ended {apart:.3} turn apart, more than the {allowed} turn that is normal: look for a leak, \
                 a blocked passage or a weak cylinder on the side that wants the odd setting."
            )
        });
    }
    let (low, high) = if prior.n <= 2 { (0.75, 2.5) } else { (0.5, 1.75) };
    if !spec.screws.meter_air && !live.is_empty() {
        let mean = live.iter().sum::<f64>() / live.len() as f64;
        if mean > high {
            said.push(format!(
                "{mean:.2} turns out is more than the usual {low} to {high}: the idle feed may be too small, its air \
                 bleed too large, or air may be leaking in."
            ));
        } else if mean < low {
            said.push(format!(
                "{mean:.2} turns out is less than the usual {low} to {high}: the idle feed may be too large, the \
                 throttle too far open, or the fuel level too high."
            ));
        }
    }
    if let Some(drift) = belief.drifting {
        said.push(say::drifted(drift, system));
    }
    said
}
