//! A Gaussian belief over many unknowns, updated by linear readings.

use nalgebra::{DMatrix, DVector};

/// A linear combination of the unknowns: index and coefficient, with a constant beside.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Linear {
    /// The constant.
    pub(super) constant: f64,
    /// Index and coefficient.
    pub(super) terms: Vec<(usize, f64)>,
    /// Variance of what is in no unknown.
    pub(super) extra: f64,
}

impl Linear {
    /// `self + weight * other`.
    pub(super) fn add(&mut self, other: &Linear, weight: f64) {
        self.constant += weight * other.constant;
        self.extra += weight * weight * other.extra;
        for (i, c) in &other.terms {
            match self.terms.iter_mut().find(|(j, _)| j == i) {
                Some((_, sum)) => *sum += weight * c,
                None => self.terms.push((*i, weight * c)),
            }
        }
    }
}

/// Unknowns with independent priors of mean zero, and the readings so far, as information.
#[derive(Debug, Clone)]
pub(super) struct Gathering {
    information: DMatrix<f64>,
    vector: DVector<f64>,
}

/// Mean and covariance.
#[derive(Debug, Clone)]
pub(super) struct Belief {
    mean: DVector<f64>,
    covariance: DMatrix<f64>,
}

impl Gathering {
    /// Unknowns with these prior standard deviations.
    pub(super) fn with_spreads(spreads: &[f64]) -> Self {
        let information = DMatrix::from_diagonal(&DVector::from_iterator(
            spreads.len(),
            spreads.iter().map(|s| 1.0 / (s * s).max(1e-12)),
        ));
        Self { information, vector: DVector::zeros(spreads.len()) }
    }

    /// A reading of a linear combination, with a standard deviation.
    pub(super) fn reads(&mut self, what: &Linear, value: f64, spread: f64) {
        let precision = 1.0 / (spread * spread + what.extra).max(1e-12);
        for (i, a) in &what.terms {
            self.vector[*i] += precision * a * (value - what.constant);
            for (j, b) in &what.terms {
                self.information[(*i, *j)] += precision * a * b;
            }
        }
    }

    /// What follows. `None` only if the information is not positive, which finite readings cannot bring about.
    pub(super) fn conclude(self) -> Option<Belief> {
        let cholesky = self.information.cholesky()?;
        let mean = cholesky.solve(&self.vector);
        Some(Belief { mean, covariance: cholesky.inverse() })
    }
}

impl Belief {
    /// Mean and variance of a linear combination.
    pub(super) fn of(&self, what: &Linear) -> (f64, f64) {
        let mean = what.constant + what.terms.iter().map(|(i, c)| c * self.mean[*i]).sum::<f64>();
        let mut variance = what.extra;
        for (i, a) in &what.terms {
            for (j, b) in &what.terms {
                variance += a * b * self.covariance[(*i, *j)];
            }
        }
        (mean, variance.max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn one(i: usize) -> Linear {
        Linear { terms: vec![(i, 1.0)], ..Linear::default() }
    }

    #[test]
    fn two_readings_of_one_thing_weigh_by_their_precision() {
        let mut g = Gathering::with_spreads(&[1e3]);
        g.reads(&one(0), 1.0, 0.1);
        g.reads(&one(0), 2.0, 0.2);
        let (mean, variance) = g.conclude().unwrap().of(&one(0));
        assert_relative_eq!(mean, 1.2, epsilon = 1e-4);
        assert_relative_eq!(variance, 0.008, epsilon = 1e-5);
    }

    #[test]
    fn a_difference_read_teaches_the_difference_and_not_the_level() {
        let mut g = Gathering::with_spreads(&[1.0, 1.0]);
        g.reads(&Linear { terms: vec![(0, 1.0), (1, -1.0)], ..Linear::default() }, 0.5, 1e-3);
        let belief = g.conclude().unwrap();
        let (mean, variance) = belief.of(&Linear { terms: vec![(0, 1.0), (1, -1.0)], ..Linear::default() });
        assert_relative_eq!(mean, 0.5, epsilon = 1e-4);
        assert!(variance < 1e-5 && belief.of(&one(0)).1 > 0.4);
    }

    #[test]
    fn sums_of_combinations_gather_their_terms() {
        let mut sum = one(0);
        sum.add(&Linear { constant: 2.0, terms: vec![(0, 1.0), (3, 1.0)], extra: 4.0 }, 0.5);
        assert_eq!(sum, Linear { constant: 1.0, terms: vec![(0, 1.5), (3, 0.5)], extra: 1.0 });
    }
}
