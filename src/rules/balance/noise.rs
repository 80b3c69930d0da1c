//! How readings scatter: gauge noise, slow drift, and the jump that an idle-speed trim makes, as one covariance.
//!
//! The height of the top, the drift and the jumps are not unknowns of the fit: they are Gaussian and enter here, so
//! they are integrated out exactly.

use super::lower::{Lower, dot};
use super::past::Seen;
use crate::numeric::alike::exp;
use nalgebra::DMatrix;

/// Spreads of one channel (vacuum in inHg or speed in rpm).
#[derive(Debug, Clone, Copy)]
pub(super) struct Scatter {
    /// One reading.
    pub reading: f64,
    /// How many times the usual drift.
    pub drift: f64,
    /// Usual steady drift, a minute.
    pub slope: f64,
    /// Usual wandering, per root minute.
    pub wander: f64,
    /// Usual warming up: an exponential approach.
    pub warming: f64,
    /// The height before anything was read.
    pub height: f64,
    /// Jump at an idle-speed trim of the usual size.
    pub trim: f64,
    /// Jump at a restart.
    pub restart: f64,
    /// Channel units for an inch of mercury.
    pub per_inhg: f64,
}

/// Turns within which what a curve misses is alike.
const MISS_REACH: f64 = 0.4;
/// Share of the variance of what a curve misses that is nothing like what it misses close by.
const MISS_OWN: f64 = 0.15;

/// Degrees of freedom of one reading's scatter: few make long tails.
const TAILS: f64 = 4.0;

/// Minutes over which a warming engine approaches its hot state.
const WARM_MIN: f64 = 3.0;

impl Scatter {
    /// Vacuum, with this spread of one reading and drift so many times the usual.
    pub(super) fn vacuum(reading: f64, drift: f64) -> Self {
        Self {
            reading,
            drift,
            slope: 0.04,
            wander: 0.03,
            warming: 0.06,
            height: 10.0,
            trim: 0.5,
            restart: 0.2,
            per_inhg: 1.0,
        }
    }

    /// Speed, likewise.
    pub(super) fn speed(reading: f64, drift: f64) -> Self {
        Self {
            reading,
            drift,
            slope: 2.0,
            wander: 1.5,
            warming: 3.0,
            height: 500.0,
            trim: 60.0,
            restart: 10.0,
            per_inhg: 42.0,
        }
    }

    /// Covariance of two readings, without the readings' own noise.
    pub(super) fn between(&self, a: &Seen, b: &Seen) -> f64 {
        self.still(a, b) + self.drift.powi(2) * self.moving(a, b)
    }

    /// The part of it that does not depend on the drift.
    fn still(&self, a: &Seen, b: &Seen) -> f64 {
        self.height.powi(2)
            + self.trim.powi(2) * a.jumps.min(b.jumps)
            + self.restart.powi(2) * a.stalls.min(b.stalls) as f64
            + self.missed(a, b)
    }

    /// The part of it that the usual drift makes.
    fn moving(&self, a: &Seen, b: &Seen) -> f64 {
        let warm = |s: &Seen| 1.0 - exp(-s.minutes / WARM_MIN);
        self.slope.powi(2) * a.minutes * b.minutes
            + self.wander.powi(2) * a.minutes.min(b.minutes)
            + self.warming.powi(2) * warm(a) * warm(b)
    }

    /// What the curve misses at two settings: much the same where they lie close, so that reading one setting again
    /// and again does not make the curve truer.
    fn missed(&self, a: &Seen, b: &Seen) -> f64 {
        let doubts = a.doubt * b.doubt;
        if doubts == 0.0 {
            return 0.0;
        }
        let apart: f64 = a.at.iter().zip(&b.at).map(|(x, y)| (x - y).powi(2)).sum();
        (1.0 - MISS_OWN) * doubts * self.per_inhg.powi(2) * exp(-0.5 * apart / MISS_REACH.powi(2))
    }

    /// Variance of one reading by itself, where the curve may be off by `doubt` inHg.
    pub(super) fn variance(&self, doubt: f64) -> f64 {
        self.reading.powi(2) + MISS_OWN * (doubt * self.per_inhg).powi(2)
    }
}

/// The covariance of some readings in layers, so that other noise and other drift cost only sums.
pub(super) struct Layers<'a> {
    seen: &'a [Seen],
    still: DMatrix<f64>,
    moving: DMatrix<f64>,
}

impl<'a> Layers<'a> {
    fn of(seen: &'a [Seen], scatter: &Scatter) -> Self {
        let n = seen.len();
        let layer = |of: &dyn Fn(&Seen, &Seen) -> f64| {
            let mut layer = DMatrix::zeros(n, n);
            for i in 0..n {
                for j in 0..=i {
                    layer[(i, j)] = of(&seen[i], &seen[j]);
                    layer[(j, i)] = layer[(i, j)];
                }
            }
            layer
        };
        Self { seen, still: layer(&|a, b| scatter.still(a, b)), moving: layer(&|a, b| scatter.moving(a, b)) }
    }

    /// Their covariance with this scatter, which differs in noise and drift only.
    fn with(&self, scatter: &Scatter) -> DMatrix<f64> {
        let mut k = &self.still + &self.moving * scatter.drift.powi(2);
        for (i, s) in self.seen.iter().enumerate() {
            k[(i, i)] += s.rough * scatter.variance(s.doubt);
        }
        k
    }

    /// With what else the means may do, as a covariance.
    pub(super) fn besides(mut self, spread: &DMatrix<f64>) -> Self {
        self.still += spread;
        self
    }

    /// Log evidence, with this scatter, of residuals `r`.
    pub(super) fn ln_evidence(&self, scatter: &Scatter, r: &[f64]) -> f64 {
        let Some(factor) = Lower::of(self.with(scatter)) else { return f64::NEG_INFINITY };
        let mut w = r.to_vec();
        factor.forward(&mut w);
        -0.5 * (dot(&w, &w) + factor.ln_det())
    }
}

/// One channel's readings with their factored covariance.
#[derive(Debug, Clone)]
pub(super) struct Channel {
    /// The readings that have this channel.
    pub seen: Vec<Seen>,
    /// Their values, above the first one.
    pub values: Vec<f64>,
    /// The first value.
    pub origin: f64,
    /// How they scatter.
    pub scatter: Scatter,
    factor: Lower,
}

impl Channel {
    /// Factors the covariance; `None` with no readings or when it cannot be factored.
    pub(super) fn new(seen: Vec<Seen>, values: &[f64], scatter: Scatter) -> Option<Self> {
        let origin = *values.first()?;
        let factor = Lower::of(Layers::of(&seen, &scatter).with(&scatter))?;
        Some(Self { seen, values: values.iter().map(|v| v - origin).collect(), origin, scatter, factor })
    }

    fn again(&self, seen: Vec<Seen>, scatter: Scatter) -> Option<Self> {
        let factor = Lower::of(Layers::of(&seen, &scatter).with(&scatter))?;
        Some(Self { seen, scatter, factor, ..self.clone() })
    }

    /// The same readings with these doubts about the curve.
    pub(super) fn doubted(&self, doubt: impl Fn(&Seen) -> f64) -> Option<Self> {
        let mut seen = self.seen.clone();
        for s in &mut seen {
            s.doubt = doubt(s);
        }
        self.again(seen, self.scatter)
    }

    /// The same readings with another scatter.
    pub(super) fn rescaled(&self, scatter: Scatter) -> Option<Self> {
        self.again(self.seen.clone(), scatter)
    }

    /// Their covariance in layers.
    pub(super) fn layers(&self) -> Layers<'_> {
        Layers::of(&self.seen, &self.scatter)
    }

    /// The same readings, those that miss the rest by far given less say: now and then an engine coughs or an eye
    /// errs (Student's t, by its weights: Lange, Little and Taylor 1989).
    pub(super) fn roughened(&self, residuals: &[f64]) -> Option<Self> {
        let mut missed = residuals.to_vec();
        self.factor.solve(&mut missed);
        let certain = self.factor.inverse_diagonal();
        let mut seen = self.seen.clone();
        for ((s, m), c) in seen.iter_mut().zip(&missed).zip(&certain) {
            s.rough = ((TAILS + m * m / c) / (TAILS + 1.0)).max(1.0);
        }
        self.again(seen, self.scatter)
    }

    /// Residuals become independent and of unit spread.
    pub(super) fn whiten(&self, residuals: &mut [f64]) {
        self.factor.forward(residuals);
    }

    /// Weights that carry residuals to the height expected at `next`, and the spread left (without reading noise).
    pub(super) fn carry_to(&self, next: &Seen) -> (Vec<f64>, f64) {
        let cross: Vec<f64> = self.seen.iter().map(|s| self.scatter.between(s, next)).collect();
        let mut weights = cross.clone();
        self.factor.solve(&mut weights);
        let left = self.scatter.between(next, next) - dot(&weights, &cross);
        (weights, left.max(0.0))
    }
}
