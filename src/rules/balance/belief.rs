//! What is thought now, in the trade's quantities.

use super::merged::Carried;
use super::past::Past;
use super::plan::dead_chances;
use super::posterior::Posterior;
use super::prior::Prior;
use super::types::{Belief, ScrewBelief};
use super::worth::{Probe, Scales, Stand};
use crate::numeric::alike::{ln, pow};
use crate::units::{PressureDifference, Turns, Vacuum};

/// Drift slower than this is not worth a word, inHg a minute.
const DRIFT_SAID: f64 = 0.08;

/// Loss at which a search usually rests, inHg.
const RESTS_AT: f64 = 0.02;

/// The belief after these readings.
pub(super) fn now(
    prior: &Prior,
    past: &Past,
    posterior: &Posterior,
    scales: &Scales<'_>,
    top: Option<Probe>,
) -> Belief {
    let dead = dead_chances(prior, posterior);
    let screws = (0..prior.n)
        .map(|i| {
            let live: f64 = posterior.cloud.iter().filter(|p| p.dead >> i & 1 == 0).map(|p| p.weight).sum();
            let of = |f: &dyn Fn(f64) -> f64| -> f64 {
                posterior
                    .cloud
                    .iter()
                    .filter(|p| p.dead >> i & 1 == 0)
                    .map(|p| p.weight * f(p.engine.top[i]))
                    .sum()
            };
            let (mean, spread) = if live > 1e-9 {
                let mean = of(&|t| t) / live;
                (mean, (of(&|t| (t - mean).powi(2)) / live).sqrt())
            } else {
                (past.stands[i], prior.top.1)
            };
            ScrewBelief {
                stands: Turns::from_turns(past.stands[i]),
                top: Turns::from_turns(mean),
                unsure: Turns::from_turns(spread),
                dead: dead[i].clamp(0.0, 1.0),
            }
        })
        .collect();
    let next = scales.next_seen(&past.stands);
    let carried = Carried::to(&posterior.vacuum, &next);
    let heights: Vec<f64> =
        posterior.cloud.iter().map(|p| carried.height(p) + posterior.vacuum.origin).collect();
    let mean: f64 = posterior.cloud.iter().zip(&heights).map(|(p, h)| p.weight * h).sum();
    let spread: f64 = posterior.cloud.iter().zip(&heights).map(|(p, h)| p.weight * (h - mean).powi(2)).sum();
    let here = scales.stand(past.stands);
    let best = scales.best();
    Belief {
        screws,
        top: Vacuum::from_inhg(mean),
        top_unsure: PressureDifference::from_inhg((spread + carried.left).sqrt()),
        to_gain: PressureDifference::from_inhg((here.loss - best.loss).max(0.0)),
        moves_left: moves_left(prior, scales, past, &best, top),
        drifting: drift(past, posterior),
    }
}

/// Moves still expected: so many for each time the loss has to fall to a third, and the way to the best setting.
/// Said coarsely, because it is not known finely.
fn moves_left(prior: &Prior, scales: &Scales<'_>, past: &Past, best: &Stand, top: Option<Probe>) -> u32 {
    let back = scales.commands(&past.stands, &best.at) as f64;
    let way = if back > 0.0 { back + 1.0 } else { 0.0 };
    let probing = match top {
        Some(_) if best.off > prior.rest_off => {
            let each = 1.5 * pow(prior.n as f64, 1.5);
            each * ln(best.loss.clamp(1.5 * RESTS_AT, 1.0) / RESTS_AT)
        }
        _ => 0.0,
    };
    let left = probing.max(way);
    let step = if left > 12.0 {
        5.0
    } else if left > 4.0 {
        2.0
    } else {
        1.0
    };
    ((left / step).round() * step) as u32
}

/// Drift of the top over the last minutes, when the readings speak for one.
fn drift(past: &Past, posterior: &Posterior) -> Option<PressureDifference> {
    let channel = &posterior.vacuum;
    let last = channel.seen.last()?;
    if channel.seen.len() < 4 {
        return None;
    }
    let mut earlier = *last;
    earlier.minutes = (last.minutes - 1.0).max(0.0);
    let span = last.minutes - earlier.minutes;
    let height = |at| {
        let carried = Carried::to(channel, at);
        posterior.cloud.iter().map(|p| p.weight * carried.height(p)).sum::<f64>()
    };
    let rate = (height(last) - height(&earlier)) / span.max(0.1);
    (rate.abs() > DRIFT_SAID && (posterior.drift_level > 1.0 || past.coolant_rises()))
        .then(|| PressureDifference::from_inhg(rate))
}
