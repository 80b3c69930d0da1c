//! Where to read next: the settings worth considering, which of them are safe, and when to stop looking.

use super::engine::Setting;
use super::past::Past;
use super::posterior::Posterior;
use super::prior::{MAX, Prior};
use super::worth::{Probe, Scales, Stand, Weighed};

/// Largest lean step of all screws together, and of one screw alone, turns. A lean step can stall an engine, a rich
/// one only loads it up; half a turn of one screw is what the authority test asks of a healthy engine.
pub const LEAN_STEP_TOGETHER: f64 = 0.5;
/// See [`LEAN_STEP_TOGETHER`].
pub const LEAN_STEP_ALONE: f64 = 0.75;
/// No setting is tried that has more than one chance in twenty of losing this share of the vacuum.
const STALL_SHARE: f64 = 0.15;
/// Nor one that is expected to lose this share of it, unless that is hardly more than is thought lost now, inHg: before
/// anything was turned much may be, on either side.
const FAR_DOWN: f64 = 0.15;
const NO_FURTHER: f64 = 0.25;
/// Largest rich step, turns.
const RICH_STEP: f64 = 1.0;
/// Least expected gain, inHg for each unit of cost, that is still worth the person's time.
const LEAST_RATE: f64 = 0.0002;
/// Readings for each screw, and as many again, after which the gauge will not tell more.
const MOST_READINGS: usize = 11;
/// Staying put is preferred while it is expected to lose no more than this beyond the best, inHg.
pub(super) const STAY_WITHIN: f64 = 0.012;
/// A screw counts as dead above this chance and as live below the other.
pub(super) const SURELY_DEAD: f64 = 0.9;
const SURELY_LIVE: f64 = 0.02;

/// What the search wants next.
#[derive(Debug, Clone, Copy)]
pub(super) enum Aim {
    /// Read at this setting to learn.
    Probe(Probe),
    /// Turn this screw far enough to see whether it does anything, and read.
    Authority(usize, Setting),
    /// The top is known well enough: rest at this setting.
    Rest(Stand),
}

/// Chances that each screw does nothing.
pub(super) fn dead_chances(prior: &Prior, posterior: &Posterior) -> [f64; MAX] {
    let mut chance = [0.0; MAX];
    for p in &posterior.cloud {
        for (i, c) in chance.iter_mut().enumerate().take(prior.n) {
            if p.dead >> i & 1 == 1 {
                *c += p.weight;
            }
        }
    }
    chance
}

/// Decides between another probe, an authority test and rest. Everything is measured from the anchor: the setting of
/// the last reading.
pub(super) fn aim(
    prior: &Prior,
    past: &Past,
    posterior: &Posterior,
    scales: &Scales<'_>,
    mark: f64,
) -> (Aim, Stand, Option<Probe>) {
    let best = scales.best();
    let here = scales.stand(past.anchor);
    let hold = if here.loss <= best.loss + STAY_WITHIN { here } else { best };
    let badly = past.best_seen().is_some_and(|b| past.runs_badly(b));
    let settings: Vec<Weighed> = candidates(prior, past, scales, &best, mark)
        .into_iter()
        .filter(|at| !badly || *at != past.anchor)
        .filter_map(|at| safe(prior, past, posterior, scales, at))
        .collect();
    let probes = scales.worth(&settings, &best);
    let top = probes.iter().copied().max_by(|a, b| a.rate.total_cmp(&b.rate));
    let dead = dead_chances(prior, posterior);
    let doubtful =
        (0..prior.n).any(|i| past.stuck >> i & 1 == 0 && dead[i] > SURELY_LIVE && dead[i] < SURELY_DEAD);
    let enough = past.readings as usize > MOST_READINGS * (prior.n + 1);
    let rested = enough || !doubtful && hold.off < prior.rest_off || top.is_none_or(|p| p.rate < LEAST_RATE);
    if let (false, Some(probe)) = (rested, top) {
        return (Aim::Probe(probe), best, top);
    }
    if enough {
        return (Aim::Rest(hold), best, top);
    }
    for (i, chance) in dead.iter().enumerate().take(prior.n) {
        let open = past.stuck >> i & 1 == 0 && (SURELY_LIVE..SURELY_DEAD).contains(chance);
        if let Some(at) = open.then(|| authority(prior, past, posterior, scales, i, mark)).flatten() {
            return (Aim::Authority(i, at), best, top);
        }
    }
    (Aim::Rest(hold), best, top)
}

/// Where to turn one screw to see whether it does anything: as far as is safe, the way that costs most vacuum.
fn authority(
    prior: &Prior,
    past: &Past,
    posterior: &Posterior,
    scales: &Scales<'_>,
    screw: usize,
    mark: f64,
) -> Option<Setting> {
    let tested = past.seen.iter().filter(|s| (s.at[screw] - past.anchor[screw]).abs() > 0.4).count();
    if tested > 4 {
        return None;
    }
    [-0.75, -0.625, -0.5, 0.75, -0.375, 0.5]
        .into_iter()
        .filter_map(|by: f64| scales.moved(&past.anchor, &[screw], (by * prior.sign / mark).round() * mark))
        .find(|at| safe(prior, past, posterior, scales, *at).is_some())
}

/// Settings worth a look: the best one known, and single screws or all together some marks either side of it and of
/// where the screws stand.
fn candidates(prior: &Prior, past: &Past, scales: &Scales<'_>, best: &Stand, mark: f64) -> Vec<Setting> {
    let all: Vec<usize> = (0..prior.n).filter(|&i| past.stuck >> i & 1 == 0).collect();
    let whole = |turns: f64| (turns / mark).round().max(1.0) * mark;
    let mut found: Vec<Setting> = vec![past.anchor];
    let mut add = |at: Option<Setting>| {
        if let Some(at) = at {
            let known = found.iter().any(|f| (0..prior.n).all(|i| (f[i] - at[i]).abs() < 1e-6));
            if !known {
                found.push(at);
            }
        }
    };
    add(Some(best.at));
    // Where it runs much worse than it did elsewhere there is nothing to look for.
    let from = past.best_seen().filter(|b| past.runs_badly(b)).map_or(past.anchor, |b| b.at);
    add(Some(from));
    for from in [from, best.at] {
        for step in [0.125, 0.25, 0.375, 0.5, 0.75] {
            for by in [whole(step), -whole(step)] {
                add(scales.moved(&from, &all, by));
                for &i in &all {
                    add(scales.moved(&from, &[i], by));
                }
            }
        }
        // One out and another in as far: the total stays, and only what sets them apart shows.
        for step in [0.25, 0.5] {
            for (&i, &j) in all.iter().flat_map(|i| all.iter().map(move |j| (i, j))).filter(|(i, j)| i != j) {
                let out = scales.moved(&from, &[i], whole(step));
                add(out.and_then(|at| scales.moved(&at, &[j], -whole(step))));
            }
        }
    }
    found
}

/// The setting weighed, when the step there from the anchor is small enough and the engine is likely to keep running.
pub(super) fn safe(
    prior: &Prior,
    past: &Past,
    posterior: &Posterior,
    scales: &Scales<'_>,
    at: Setting,
) -> Option<Weighed> {
    let leaner: Vec<f64> = (0..prior.n).map(|i| prior.sign * (past.anchor[i] - at[i])).collect();
    let most = leaner.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = leaner.iter().copied().fold(f64::INFINITY, f64::min);
    let together = leaner.iter().filter(|l| **l > 1e-6).count() > 1;
    let limit = if together { LEAN_STEP_TOGETHER } else { LEAN_STEP_ALONE };
    if most > limit + 1e-6 || -least > RICH_STEP + 1e-6 || past.stalled_beyond(prior.n, &at) {
        return None;
    }
    let vacuum = past.seen.last().map_or(10.0, |s| s.vacuum).max(2.0);
    // Far down the slope the engine loads up and tells little about its top.
    let there = scales.weighed(at);
    if there.mean > (FAR_DOWN * vacuum).max(scales.anchor.mean + NO_FURTHER) {
        return None;
    }
    // The smallest useful steps are always allowed: something has to be tried. Four corners feed one manifold: an eighth
    // of each is half a turn of fuel, and no small step.
    let many = prior.n >= 4 && leaner.iter().filter(|l| **l > 1e-6).count() > 2;
    if most <= 0.125 + 1e-6 && -least <= 0.25 + 1e-6 && !many {
        return Some(there);
    }
    let allowed = STALL_SHARE * vacuum;
    // Back toward the top is always allowed, however far off it stands now.
    let risky: f64 = posterior
        .cloud
        .iter()
        .zip(there.falls.iter().zip(&scales.anchor.falls))
        .filter(|(_, (fall, now))| **fall > allowed && **fall > **now + 0.3)
        .map(|(p, _)| p.weight)
        .sum();
    (risky < 0.03).then_some(there)
}

/// `to`, when one step there is safe; else the safe setting on the way or near by that loses least, or the anchor.
pub(super) fn on_the_way(
    prior: &Prior,
    past: &Past,
    posterior: &Posterior,
    scales: &Scales<'_>,
    to: &Stand,
    mark: f64,
) -> Setting {
    if safe(prior, past, posterior, scales, to.at).is_some() {
        return to.at;
    }
    let mut near = candidates(prior, past, scales, to, mark);
    for eighth in 1..8 {
        let mut part = past.anchor;
        let mut rich_part = past.anchor;
        for i in 0..prior.n {
            let by = ((to.at[i] - past.anchor[i]) * f64::from(eighth) / 8.0 / mark).round() * mark;
            part[i] += by;
            if prior.sign * by > 0.0 {
                rich_part[i] = to.at[i];
            }
        }
        near.extend([part, rich_part]);
    }
    let mut best = scales.stand(past.anchor);
    for at in near {
        let stand = scales.stand(at);
        if stand.loss < best.loss - STAY_WITHIN && safe(prior, past, posterior, scales, at).is_some() {
            best = stand;
        }
    }
    best.at
}
