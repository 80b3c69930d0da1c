//! How much the readings scatter, as they say themselves.

use super::engine::Engine;
use super::fit::{Fit, STEP};
use super::noise::{Channel, Scatter};
use super::past::{Past, Seen};
use super::prior::Prior;
use crate::numeric::alike::{exp, ln};
use nalgebra::DMatrix;

/// Spread of one reading over the expected one, and the drift levels, that are tried.
const NOISE_LEVELS: [f64; 5] = [0.7, 1.0, 1.4, 2.0, 3.0];
/// The drift that is thought of first.
pub(super) const LEAST_DRIFT: f64 = 0.6;
const DRIFT_LEVELS: [f64; 3] = [LEAST_DRIFT, 2.0, 5.0];

/// Chooses the noise and drift levels that the readings speak for.
pub(super) fn settle_scatter(
    prior: &Prior,
    past: &Past,
    vacuum: &Channel,
    speed: Option<&Channel>,
    fit: &Fit,
) -> Option<(Channel, Option<Channel>, f64)> {
    let tangent = Tangent::of(prior, past, fit);
    let engine = Engine::from_deviates(prior, &fit.at, fit.dead);
    let doubt = |s: &Seen| engine.doubt_then(&s.at, s.age, prior);
    // Drift is the exception, unless the coolant says otherwise.
    let against = if past.coolant_rises() { 0.0 } else { 1.2 };
    let vacuum = vacuum.doubted(doubt)?;
    let left = tangent.left(&vacuum, Gauge::Vacuum);
    let layers = vacuum.layers().besides(&left.spread);
    let mut best = (f64::NEG_INFINITY, 1.0, LEAST_DRIFT);
    for drift in DRIFT_LEVELS {
        let (said, level) = noise_level(|level| {
            layers.ln_evidence(&Scatter::vacuum(prior.vacuum_noise * level, drift), &left.rest)
        });
        let said = said - against * ln(drift / LEAST_DRIFT);
        if said > best.0 {
            best = (said, level, drift);
        }
    }
    let drift = best.2;
    let together = if speed.is_some() { prior.together } else { 1.0 };
    let settled = vacuum
        .rescaled(Scatter::vacuum(prior.vacuum_noise * best.1, drift))?
        .roughened(&left.base)?
        .rescaled(Scatter::vacuum(prior.vacuum_noise * best.1 * together, drift))?;
    let settled_speed = speed.and_then(|c| {
        let c = c.doubted(doubt)?;
        let left = tangent.left(&c, Gauge::Speed);
        let layers = c.layers().besides(&left.spread);
        let (_, level) = noise_level(|level| {
            layers.ln_evidence(&Scatter::speed(prior.speed_noise * level, drift), &left.rest)
        });
        c.rescaled(Scatter::speed(prior.speed_noise * level, drift))?
            .roughened(&left.base)?
            .rescaled(Scatter::speed(prior.speed_noise * level * together, drift))
    });
    Some((settled, settled_speed, drift))
}

/// Log evidence over all noise levels, and the level to reckon with: the mean of its logarithm. A few readings that
/// happen to agree do not make a gauge fine.
fn noise_level(ln_evidence: impl Fn(f64) -> f64) -> (f64, f64) {
    let said = NOISE_LEVELS.map(|level| ln_evidence(level) - 0.5 * (ln(level) / 0.35).powi(2));
    let highest = said.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = said.map(|s| exp(s - highest));
    let sum: f64 = weights.iter().sum();
    let mean = NOISE_LEVELS.iter().zip(weights).map(|(level, w)| w * ln(*level)).sum::<f64>() / sum;
    (highest + ln(sum), exp(mean))
}

/// Which needle.
#[derive(Clone, Copy)]
enum Gauge {
    Vacuum,
    Speed,
}

/// What an engine loses at each setting read.
struct Lost {
    /// inHg.
    falls: Vec<f64>,
    rpm_per_inhg: f64,
}

impl Lost {
    fn of(prior: &Prior, past: &Past, z: &[f64], dead: u16) -> Self {
        let engine = Engine::from_deviates(prior, z, dead);
        let falls = past.places.iter().map(|place| engine.fall_then(&place.at, place.age)).collect();
        Self { falls, rpm_per_inhg: engine.rpm_per_inhg }
    }

    fn shown(&self, gauge: Gauge, place: usize) -> f64 {
        match gauge {
            Gauge::Vacuum => self.falls[place],
            Gauge::Speed => self.rpm_per_inhg * self.falls[place],
        }
    }
}

/// The fit, and the same with each deviate moved a little.
struct Tangent<'a> {
    at: &'a [f64],
    here: Lost,
    moved: Vec<Lost>,
}

/// What the fit leaves unexplained of one channel's readings.
struct Left {
    /// As it stands.
    base: Vec<f64>,
    /// At the prior's centre, by the tangent.
    rest: Vec<f64>,
    /// Covariance that the unknowns give it.
    spread: DMatrix<f64>,
}

impl<'a> Tangent<'a> {
    fn of(prior: &Prior, past: &Past, fit: &'a Fit) -> Self {
        let mut z = fit.at.clone();
        let moved = (0..z.len())
            .map(|d| {
                z[d] += STEP;
                let moved = Lost::of(prior, past, &z, fit.dead);
                z[d] = fit.at[d];
                moved
            })
            .collect();
        Self { at: &fit.at, here: Lost::of(prior, past, &fit.at, fit.dead), moved }
    }

    fn left(&self, channel: &Channel, gauge: Gauge) -> Left {
        let places = self.here.falls.len();
        let slope = |moved: &Lost, place| (moved.shown(gauge, place) - self.here.shown(gauge, place)) / STEP;
        let slopes: Vec<Vec<f64>> =
            self.moved.iter().map(|moved| (0..places).map(|place| slope(moved, place)).collect()).collect();
        let along: Vec<f64> =
            (0..places).map(|p| self.at.iter().zip(&slopes).map(|(z, slope)| z * slope[p]).sum()).collect();
        let by_place =
            DMatrix::from_fn(places, places, |p, q| slopes.iter().map(|slope| slope[p] * slope[q]).sum());
        let base: Vec<f64> = channel
            .seen
            .iter()
            .zip(&channel.values)
            .map(|(s, v)| v + self.here.shown(gauge, s.place))
            .collect();
        let rest = channel.seen.iter().zip(&base).map(|(s, b)| b - along[s.place]).collect();
        let n = base.len();
        let spread = DMatrix::from_fn(n, n, |i, j| by_place[(channel.seen[i].place, channel.seen[j].place)]);
        Left { base, rest, spread }
    }
}
