//! What the readings say: a most likely engine for each hypothesis, its spread, and a cloud of weighted engines.

use super::cloud::{Possible, draw};
use super::fit::{Channels, Fit};
use super::noise::{Channel, Scatter};
use super::past::Past;
use super::prior::Prior;
use super::settle::{LEAST_DRIFT, settle_scatter};

/// Where the fits start: the shared top, in spreads of its prior.
const STARTS: [f64; 3] = [0.0, -1.1, 1.1];

/// What is known.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    /// The cloud.
    pub cloud: Vec<Possible>,
    /// Vacuum readings with the scatter they are thought to have.
    pub vacuum: Channel,
    /// Speed readings, likewise.
    pub speed: Option<Channel>,
    /// Drift level chosen.
    pub drift_level: f64,
}

/// Learns from everything read so far; `None` before the first reading.
pub(super) fn learn(prior: &Prior, past: &Past) -> Option<Posterior> {
    let vacuum = Channel::new(
        past.seen.clone(),
        &past.seen.iter().map(|s| s.vacuum).collect::<Vec<_>>(),
        Scatter::vacuum(prior.vacuum_noise, LEAST_DRIFT),
    )?;
    let held = past.speed_held();
    let with_speed: Vec<_> = past.seen.iter().filter(|s| s.speed.is_some() && !held).copied().collect();
    let speeds: Vec<f64> = with_speed.iter().filter_map(|s| s.speed).collect();
    let speed = Channel::new(with_speed, &speeds, Scatter::speed(prior.speed_noise, LEAST_DRIFT));
    let first = best_fit(&Channels::of(prior, past, &vacuum, speed.as_ref())?)?;
    let (vacuum, speed, _) = settle_scatter(prior, past, &vacuum, speed.as_ref(), &first)?;
    // Once more with the scatter known: what the first fit made of the far readings was too literal.
    let first = Channels::of(prior, past, &vacuum, speed.as_ref())?.fit(first.at, 0)?;
    let (vacuum, speed, drift_level) = settle_scatter(prior, past, &vacuum, speed.as_ref(), &first)?;
    let channels = Channels::of(prior, past, &vacuum, speed.as_ref())?;
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
    Some(Posterior { cloud, vacuum, speed, drift_level })
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
