//! A lower triangular factor, packed by rows. The factoring is the library's; these two substitutions run for every
//! engine of every cloud, and are plain loops so that an unoptimised build stays usable at a prompt.

use crate::numeric::alike::ln;
use nalgebra::{Cholesky, DMatrix};

/// `L` of a symmetric positive definite `A = L L'`.
#[derive(Debug, Clone)]
pub(super) struct Lower {
    n: usize,
    rows: Vec<f64>,
}

impl Lower {
    /// Factors a symmetric matrix; `None` when it is not positive definite.
    pub(super) fn of(matrix: DMatrix<f64>) -> Option<Self> {
        let n = matrix.nrows();
        let factor = Cholesky::new(matrix)?;
        let l = factor.l_dirty();
        let rows = (0..n).flat_map(|i| (0..=i).map(move |j| l[(i, j)])).collect();
        Some(Self { n, rows })
    }

    fn row(&self, i: usize) -> &[f64] {
        &self.rows[i * (i + 1) / 2..][..=i]
    }

    /// `v` becomes `L^-1 v`.
    pub(super) fn forward(&self, v: &mut [f64]) {
        for i in 0..self.n {
            let row = self.row(i);
            let mut sum = v[i];
            for j in 0..i {
                sum -= row[j] * v[j];
            }
            v[i] = sum / row[i];
        }
    }

    /// `v` becomes `L'^-1 v`.
    pub(super) fn backward(&self, v: &mut [f64]) {
        for i in (0..self.n).rev() {
            let row = self.row(i);
            v[i] /= row[i];
            let known = v[i];
            for j in 0..i {
                v[j] -= row[j] * known;
            }
        }
    }

    /// `A^-1 v`.
    pub(super) fn solve(&self, v: &mut [f64]) {
        self.forward(v);
        self.backward(v);
    }

    /// `v` becomes `L' v`.
    pub(super) fn transposed_times(&self, v: &mut [f64]) {
        for i in 0..self.n {
            let x = v[i];
            let (done, row) = (&mut v[..=i], self.row(i));
            done[i] = 0.0;
            for (sum, l) in done.iter_mut().zip(row) {
                *sum += l * x;
            }
        }
    }

    /// `v' A v`.
    pub(super) fn squared(&self, v: &[f64]) -> f64 {
        let mut made = v.to_vec();
        self.transposed_times(&mut made);
        dot(&made, &made)
    }

    /// Diagonal of `A^-1`.
    pub(super) fn inverse_diagonal(&self) -> Vec<f64> {
        (0..self.n)
            .map(|i| {
                let mut unit = vec![0.0; self.n];
                unit[i] = 1.0;
                self.forward(&mut unit);
                dot(&unit, &unit)
            })
            .collect()
    }

    /// Logarithm of the determinant of `A`.
    pub(super) fn ln_det(&self) -> f64 {
        (0..self.n).map(|i| 2.0 * ln(self.row(i)[i])).sum()
    }
}

/// Sum of products, as far as both go. Four sums at once: one would wait for itself.
#[inline]
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let (fours, rest) = (n / 4 * 4, n % 4);
    let mut sums = [0.0; 4];
    for (x, y) in a[..fours].chunks_exact(4).zip(b[..fours].chunks_exact(4)) {
        for k in 0..4 {
            sums[k] += x[k] * y[k];
        }
    }
    for k in 0..rest {
        sums[k] += a[fours + k] * b[fours + k];
    }
    sums.iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn solving_undoes_multiplying() {
        let a = DMatrix::from_row_slice(3, 3, &[4.0, 2.0, 0.6, 2.0, 5.0, 1.0, 0.6, 1.0, 3.0]);
        let lower = Lower::of(a.clone()).unwrap();
        let mut v = [1.0, -2.0, 0.5];
        lower.solve(&mut v);
        let back = a.clone() * DMatrix::from_column_slice(3, 1, &v);
        for (got, want) in back.iter().zip([1.0, -2.0, 0.5]) {
            assert_relative_eq!(*got, want, epsilon = 1e-12);
        }
        assert_relative_eq!(lower.ln_det(), a.determinant().ln(), epsilon = 1e-12);
    }

    #[test]
    fn what_is_not_positive_definite_is_refused() {
        assert!(Lower::of(DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0])).is_none());
    }
}
