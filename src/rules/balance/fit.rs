//! The most likely engine under one hypothesis: a damped least-squares fit to both gauges and to every stall.
//!
//! Levenberg (1944), Marquardt (1963); evidence by Laplace's approximation.

use super::engine::Engine;
use super::lower::{Lower, dot};
use super::merged::Merged;
use super::noise::Channel;
use super::past::Past;
use super::prior::Prior;
use nalgebra::DMatrix;

/// An engine that stalls has lost about this share of the vacuum it had where it last ran, give or take the other.
const STALL_FALL: f64 = 0.2;
const STALL_SPREAD: f64 = 0.07;

/// Step of the differences that stand for derivatives, in spreads of the prior.
pub(super) const STEP: f64 = 1e-4;

/// A fit under one hypothesis.
pub(super) struct Fit {
    /// Its standard normal deviates.
    pub at: Vec<f64>,
    /// Factor of the curvature there.
    pub precision: Lower,
    /// Logarithm of the determinant of the curvature.
    pub ln_det: f64,
    /// Logarithm of the evidence for the hypothesis, without constants, its own chance included.
    pub ln_evidence: f64,
    /// Logarithm of the chance of the hypothesis beforehand.
    pub ln_chance: f64,
    /// Screws that do nothing in it.
    pub dead: u16,
}

/// The readings of both gauges, and the stalls, that a fit must explain.
pub(super) struct Channels<'a> {
    /// What the trade knows.
    pub prior: &'a Prior,
    /// Vacuum readings.
    pub vacuum: Merged,
    /// Speed readings.
    pub speed: Option<Merged>,
    /// Everything that happened.
    pub past: &'a Past,
}

/// What is left unexplained in each channel, and at each stall.
#[derive(Debug, Clone)]
pub(super) struct Residuals {
    /// Vacuum by setting, inHg; whitened where that is said.
    vacuum: Vec<f64>,
    /// Speed by setting, rpm; likewise.
    speed: Vec<f64>,
    /// How much too little is lost where the engine stalled, in standard deviations.
    stalls: Vec<f64>,
}

impl Residuals {
    fn parts(&self) -> [&[f64]; 3] {
        [&self.vacuum, &self.speed, &self.stalls]
    }

    /// Sum of squares.
    pub(super) fn squared(&self) -> f64 {
        self.parts().iter().map(|p| dot(p, p)).sum()
    }

    fn times(&self, other: &Self) -> f64 {
        self.parts().iter().zip(other.parts()).map(|(a, b)| dot(a, b)).sum()
    }

    /// The slope from `base` to `self` over one step.
    fn slope_from(mut self, base: &Self) -> Self {
        for (own, from) in [
            (&mut self.vacuum, &base.vacuum),
            (&mut self.speed, &base.speed),
            (&mut self.stalls, &base.stalls),
        ] {
            for (x, y) in own.iter_mut().zip(from) {
                *x = (*x - y) / STEP;
            }
        }
        self
    }
}

impl<'a> Channels<'a> {
    /// For these readings.
    pub(super) fn of(
        prior: &'a Prior,
        past: &'a Past,
        vacuum: &Channel,
        speed: Option<&Channel>,
    ) -> Option<Self> {
        let speed = speed.map(|c| Merged::of(c).ok_or(())).transpose().ok()?;
        Some(Self { prior, vacuum: Merged::of(vacuum)?, speed, past })
    }

    /// How far below its top an engine stood at each setting read.
    pub(super) fn falls(&self, engine: &Engine) -> Vec<f64> {
        self.past.places.iter().map(|place| engine.fall_then(&place.at, place.age)).collect()
    }

    /// What the engine of these deviates leaves unexplained, not whitened.
    pub(super) fn residuals(&self, z: &[f64], dead: u16) -> Residuals {
        let engine = Engine::from_deviates(self.prior, z, dead);
        self.residuals_of(&engine, &self.falls(&engine))
    }

    fn residuals_of(&self, engine: &Engine, falls: &[f64]) -> Residuals {
        let per = engine.rpm_per_inhg;
        let missed = |c: &Merged, per: f64| -> Vec<f64> {
            c.values.iter().zip(&c.places).map(|(v, &place)| v + per * falls[place]).collect()
        };
        let stalled = self.past.stalled_at.iter().map(|(ran, stalled, _)| {
            let vacuum = self.past.vacuum_at(ran);
            let more = engine.fall(stalled) - engine.fall(ran);
            ((STALL_FALL * vacuum - more) / (STALL_SPREAD * vacuum)).max(0.0)
        });
        Residuals {
            vacuum: missed(&self.vacuum, 1.0),
            speed: self.speed.as_ref().map_or_else(Vec::new, |c| missed(c, per)),
            stalls: stalled.collect(),
        }
    }

    fn whiten(&self, r: &mut Residuals) {
        self.vacuum.whiten(&mut r.vacuum);
        if let Some(c) = &self.speed {
            c.whiten(&mut r.speed);
        }
    }

    fn cost(&self, z: &[f64], dead: u16) -> f64 {
        let engine = Engine::from_deviates(self.prior, z, dead);
        self.cost_of(z, &engine, &self.falls(&engine))
    }

    /// Minus log of likelihood times prior, without constants.
    pub(super) fn cost_of(&self, z: &[f64], engine: &Engine, falls: &[f64]) -> f64 {
        let mut r = self.residuals_of(engine, falls);
        self.whiten(&mut r);
        0.5 * (r.squared() + dot(z, z))
    }

    /// Slopes of the residuals, not whitened, with each deviate.
    pub(super) fn slopes(&self, z: &[f64], dead: u16, base: &Residuals) -> Vec<Residuals> {
        let mut moved = z.to_vec();
        (0..z.len())
            .map(|d| {
                moved[d] = z[d] + STEP;
                let there = self.residuals(&moved, dead);
                moved[d] = z[d];
                there.slope_from(base)
            })
            .collect()
    }

    /// Gradient and Gauss-Newton curvature of the cost.
    fn bend(&self, z: &[f64], dead: u16) -> (Vec<f64>, DMatrix<f64>) {
        let mut base = self.residuals(z, dead);
        let mut slopes = self.slopes(z, dead, &base);
        self.whiten(&mut base);
        for s in &mut slopes {
            self.whiten(s);
        }
        let gradient = slopes.iter().zip(z).map(|(s, z)| s.times(&base) + z).collect();
        let mut curvature = DMatrix::identity(z.len(), z.len());
        for a in 0..z.len() {
            for b in 0..=a {
                let product = slopes[a].times(&slopes[b]);
                curvature[(a, b)] += product;
                if a != b {
                    curvature[(b, a)] += product;
                }
            }
        }
        (gradient, curvature)
    }

    /// Levenberg-Marquardt from a start.
    pub(super) fn fit(&self, start: Vec<f64>, dead: u16) -> Option<Fit> {
        let ln_chance = self.prior.ln_chance(dead);
        let (mut z, mut damping) = (start, 1e-2);
        let mut cost = self.cost(&z, dead);
        let mut curvature = DMatrix::identity(z.len(), z.len());
        for _ in 0..25 {
            let (gradient, bend) = self.bend(&z, dead);
            curvature = bend;
            let before = cost;
            for _ in 0..6 {
                let next = stepped(&z, &gradient, &curvature, damping)?;
                let next_cost = self.cost(&next, dead);
                if next_cost < cost {
                    (z, cost) = (next, next_cost);
                    damping = (damping * 0.3).max(1e-6);
                    break;
                }
                damping *= 5.0;
            }
            if before - cost <= 1e-2 {
                break;
            }
        }
        let precision = Lower::of(curvature)?;
        let ln_det = precision.ln_det();
        Some(Fit { ln_evidence: ln_chance - cost - 0.5 * ln_det, ln_det, ln_chance, at: z, precision, dead })
    }
}

/// The next point of a damped step, no deviate moved by more than one and a half.
fn stepped(z: &[f64], gradient: &[f64], curvature: &DMatrix<f64>, damping: f64) -> Option<Vec<f64>> {
    let mut damped = curvature.clone();
    for i in 0..z.len() {
        damped[(i, i)] *= 1.0 + damping;
    }
    let mut step = gradient.to_vec();
    Lower::of(damped)?.solve(&mut step);
    let longest = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
    let share = if longest > 1.5 { 1.5 / longest } else { 1.0 };
    Some(z.iter().zip(&step).map(|(z, s)| z - share * s).collect())
}
