//! Seeded chance for the virtual engine and the tests: the same seed gives the same numbers on every machine.

use super::alike::{cos, ln, sin};
use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// A seeded generator.
#[derive(Debug, Clone)]
pub struct Chance {
    inner: Pcg64Mcg,
    spare: Option<f64>,
}

impl Chance {
    /// A generator whose every number follows from `seed`.
    pub fn with_seed(seed: u64) -> Self {
        Self { inner: Pcg64Mcg::seed_from_u64(seed), spare: None }
    }

    /// Uniform in `[0, 1)`.
    pub fn uniform(&mut self) -> f64 {
        (self.inner.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in `[low, high)`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Normal with mean 0 and standard deviation 1 (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * ln(1.0 - self.uniform())).sqrt();
        let angle = core::f64::consts::TAU * self.uniform();
        self.spare = Some(radius * sin(angle));
        radius * cos(angle)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_numbers() {
        let (mut a, mut b) = (Chance::with_seed(7), Chance::with_seed(7));
        assert!((0..100).all(|_| a.normal().to_bits() == b.normal().to_bits()));
    }

    #[test]
    fn normal_has_mean_zero_and_deviation_one() {
        let mut chance = Chance::with_seed(1);
        let draws: Vec<f64> = (0..20_000).map(|_| chance.normal()).collect();
        let mean = draws.iter().sum::<f64>() / draws.len() as f64;
        let variance = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / draws.len() as f64;
        assert!(mean.abs() < 0.02 && (variance - 1.0).abs() < 0.03, "{mean} {variance}");
    }
}
