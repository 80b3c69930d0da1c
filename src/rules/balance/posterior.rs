//! What the readings say: a most likely engine for each hypothesis, its spread, and a cloud of weighted engines.

use super::cloud::{Possible, draw};
use super::engine::Engine;
use super::fit::{Channels, Fit, Residuals};
use super::noise::{Channel, Scatter};
use super::past::Past;
use super::prior::Prior;
use nalgebra::DMatrix;

/// Where the fits start: the shared top, in spreads of its prior.
const STARTS: [f64; 3] = [0.0, -1.1, 1.1];
/// Spread of one reading over the expected one, and the drift levels, that are tried.
const NOISE_LEVELS: [f64; 5] = [0.7, 1.0, 1.4, 2.0, 3.0];
const DRIFT_LEVELS: [f64; 3] = [0.6, 2.0, 5.0];

/// What is known.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    /// The cloud.
    pub cloud: Vec<Possible>,
    /// Vacuum readings with the scatter they are thought to have.
    pub vacuum: Channel,
    /// Speed readings, likewise.
    pub speed: Option<Channel>,
    /// For each speed reading, the vacuum reading it was taken with.
    pub speed_rows: Vec<usize>,
    /// Drift level chosen.
    pub drift_level: f64,
}

impl Posterior {
    /// Residual height of one engine carried by `weights`: the channel's own value for its top.
    pub(super) fn height(&self, p: &Possible, weights: &[f64]) -> f64 {
        self.vacuum.values.iter().zip(&p.falls).zip(weights).map(|((v, f), w)| w * (v + f)).sum()
    }

    /// The same in the speed channel.
    pub(super) fn speed_height(&self, c: &Channel, p: &Possible, weights: &[f64]) -> f64 {
        let per = p.engine.rpm_per_inhg;
        c.values
            .iter()
            .zip(&self.speed_rows)
            .zip(weights)
            .map(|((v, &row), w)| w * (v + per * p.falls[row]))
            .sum()
    }
}

/// Learns from everything read so far; `None` before the first reading.
pub(super) fn learn(prior: &Prior, past: &Past) -> Option<Posterior> {
    let vacuum = Channel::new(
        past.seen.clone(),
        &past.seen.iter().map(|s| s.vacuum).collect::<Vec<_>>(),
        Scatter::vacuum(prior.vacuum_noise, DRIFT_LEVELS[0]),
    )?;
    let held = past.speed_held();
    let rows: Vec<usize> = (0..past.seen.len()).filter(|&i| past.seen[i].speed.is_some() && !held).collect();
    let with_speed: Vec<_> = rows.iter().map(|&i| past.seen[i]).collect();
    let speeds: Vec<f64> = with_speed.iter().filter_map(|s| s.speed).collect();
    let speed = Channel::new(with_speed, &speeds, Scatter::speed(prior.speed_noise, DRIFT_LEVELS[0]));
    let first = best_fit(&Channels { prior, vacuum: &vacuum, speed: speed.as_ref(), rows: &rows, past })?;
    let (vacuum, speed, _) = settle_scatter(
        &Channels { prior, vacuum: &vacuum, speed: speed.as_ref(), rows: &rows, past },
        &first,
    )?;
    // Once more with the scatter known: what the first fit made of the far readings was too literal.
    let channels = Channels { prior, vacuum: &vacuum, speed: speed.as_ref(), rows: &rows, past };
    let first = channels.fit(first.at.clone(), 0)?;
    let (vacuum, speed, drift_level) = settle_scatter(&channels, &first)?;
    let channels = Channels { prior, vacuum: &vacuum, speed: speed.as_ref(), rows: &rows, past };
    let mut fits = Vec::new();
    for (place, start) in starts(prior) {
        let mut from = first.at.clone();
        if let Some(z) = from.get_mut(place) {
            *z = start;
        }
        if let Some(fit) = channels.fit(from, 0) {
            let near = |f: &Fit| f.at.iter().zip(&fit.at).all(|(a, b)| (a - b).abs() < 0.3);
            let known = fits.iter().any(near);
            if !known {
                fits.push(fit);
            }
        }
    }
    for dead in suspects(prior, past) {
        fits.extend(channels.fit(first.at.clone(), dead));
    }
    let cloud = draw(&channels, &fits);
    Some(Posterior { cloud, vacuum, speed, speed_rows: rows, drift_level })
}

/// Where else than at the best fit to look for another: the shared top further in or out, screws that hardly share
/// their fuel or share nearly all, a cliff close by or far.
fn starts(prior: &Prior) -> Vec<(usize, f64)> {
    let shape = 1 + 2 * prior.n;
    let mut all = vec![(usize::MAX, 0.0), (0, -1.1), (0, 1.1)];
    if prior.n > 1 {
        all.extend([(shape + 4, -1.2), (shape + 4, 1.2)]);
    }
    all
}

fn best_fit(channels: &Channels<'_>) -> Option<Fit> {
    STARTS
        .iter()
        .filter_map(|&start| {
            let mut z = vec![0.0; channels.prior.unknowns()];
            z[0] = start;
            channels.fit(z, 0)
        })
        .max_by(|a, b| a.ln_evidence.total_cmp(&b.ln_evidence))
}

/// Chooses the noise and drift levels that the readings speak for.
fn settle_scatter(channels: &Channels<'_>, fit: &Fit) -> Option<(Channel, Option<Channel>, f64)> {
    let (prior, vacuum, speed) = (channels.prior, channels.vacuum, channels.speed);
    let base = channels.residuals(&fit.at, fit.dead);
    let slopes = channels.slopes(&fit.at, fit.dead, &base);
    let engine = Engine::from_deviates(prior, &fit.at, fit.dead);
    let doubt = |s: &super::past::Seen| engine.doubt(&s.at);
    // Drift is the exception, unless the coolant says otherwise.
    let against = if channels.past.coolant_rises() { 0.0 } else { 1.2 };
    let vacuum = vacuum.doubted(doubt)?;
    let (rest, moved) = linear(&fit.at, &base.vacuum, &slopes, |s| &s.vacuum);
    let mut best = (f64::NEG_INFINITY, 1.0, DRIFT_LEVELS[0]);
    for drift in DRIFT_LEVELS {
        let (said, level) = noise_level(|level| {
            vacuum.ln_evidence(Scatter::vacuum(prior.vacuum_noise * level, drift), &rest, &moved)
        });
        let said = said - against * (drift / DRIFT_LEVELS[0]).ln();
        if said > best.0 {
            best = (said, level, drift);
        }
    }
    let drift = best.2;
    let together = if speed.is_some() { prior.together } else { 1.0 };
    let settled = vacuum
        .rescaled(Scatter::vacuum(prior.vacuum_noise * best.1, drift))?
        .roughened(&base.vacuum)?
        .rescaled(Scatter::vacuum(prior.vacuum_noise * best.1 * together, drift))?;
    let settled_speed = speed.and_then(|c| {
        let c = c.doubted(doubt)?;
        let (rest, moved) = linear(&fit.at, &base.speed, &slopes, |s| &s.speed);
        let (_, level) = noise_level(|level| {
            c.ln_evidence(Scatter::speed(prior.speed_noise * level, drift), &rest, &moved)
        });
        c.rescaled(Scatter::speed(prior.speed_noise * level, drift))?
            .roughened(&base.speed)?
            .rescaled(Scatter::speed(prior.speed_noise * level * together, drift))
    });
    Some((settled, settled_speed, drift))
}

/// Log evidence over all noise levels, and the level to reckon with: the mean of its logarithm. A few readings that
/// happen to agree do not make a gauge fine.
fn noise_level(ln_evidence: impl Fn(f64) -> f64) -> (f64, f64) {
    let said = NOISE_LEVELS.map(|level| ln_evidence(level) - 0.5 * (level.ln() / 0.35).powi(2));
    let highest = said.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = said.map(|s| (s - highest).exp());
    let sum: f64 = weights.iter().sum();
    let mean = NOISE_LEVELS.iter().zip(weights).map(|(level, w)| w * level.ln()).sum::<f64>() / sum;
    (highest + sum.ln(), mean.exp())
}

/// Residuals at the prior's centre by the tangent of the fit, and the covariance that the unknowns give them.
fn linear(
    at: &[f64],
    base: &[f64],
    slopes: &[Residuals],
    channel: impl Fn(&Residuals) -> &Vec<f64>,
) -> (Vec<f64>, DMatrix<f64>) {
    let n = base.len();
    let (mut rest, mut moved) = (base.to_vec(), DMatrix::zeros(n, n));
    for (z, slope) in at.iter().zip(slopes) {
        let slope = channel(slope);
        for i in 0..n {
            rest[i] -= z * slope[i];
            for j in 0..n {
                moved[(i, j)] += slope[i] * slope[j];
            }
        }
    }
    (rest, moved)
}

/// Sets of screws that may do nothing: each alone when there are several, and all of them once anything was moved.
fn suspects(prior: &Prior, past: &Past) -> Vec<u16> {
    let n = prior.n;
    let Some(first) = past.seen.first() else { return Vec::new() };
    let mut sets = Vec::new();
    if past.seen.len() < 2 {
        return sets;
    }
    if n > 1 {
        sets.extend((0..n).map(|i| 1u16 << i));
    }
    if past.seen.iter().any(|s| (0..n).any(|i| (s.at[i] - first.at[i]).abs() > 1e-6)) {
        sets.push((1 << n) - 1);
    }
    sets
}
