//! Least squares by singular values, which says of each coefficient whether the pulls can tell it at all.

use nalgebra::{DMatrix, DVector};

/// A linear fit of `y` on given columns.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Coefficient of each column; for one that cannot be told apart from others, the least-norm value (do not use).
    pub value: Vec<f64>,
    /// Variance of each coefficient for unit variance of the noise.
    pub unit_variance: Vec<f64>,
    /// The design tells this coefficient from all the others.
    pub estimable: Vec<bool>,
    /// Residual of each observation.
    pub residuals: Vec<f64>,
    /// Sum of squared residuals.
    pub residual_sum: f64,
    /// Observations less the rank of the design.
    pub freedom: usize,
}

/// Columns whose direction is weaker than this share of the strongest are taken as lost.
const RANK_TOLERANCE: f64 = 1e-9;

/// Fits `y = sum of coefficient * column` by least squares; `None` when there is nothing to fit, when lengths differ
/// or a value is not finite.
pub fn fit(columns: &[Vec<f64>], y: &[f64]) -> Option<Fit> {
    let (rows, width) = (y.len(), columns.len());
    let good = rows > 0 && width > 0 && columns.iter().all(|c| c.len() == rows);
    if !good || !columns.iter().flatten().chain(y).all(|v| v.is_finite()) {
        return None;
    }
    // Unit-length columns, so that the tolerance means the same for a dummy and for a time of day.
    let length = |c: &Vec<f64>| c.iter().map(|v| v * v).sum::<f64>().sqrt();
    let scale: Vec<f64> = columns.iter().map(length).map(|l| if l > 0.0 { l } else { 1.0 }).collect();
    let design =
        DMatrix::from_fn(
            rows.max(width),
            width,
            |r, c| if r < rows { columns[c][r] / scale[c] } else { 0.0 },
        );
    let target = DVector::from_fn(rows.max(width), |r, _| if r < rows { y[r] } else { 0.0 });
    let svd = design.clone().svd(true, true);
    let (u, v_t) = (svd.u.as_ref()?, svd.v_t.as_ref()?);
    let cut = svd.singular_values.max() * RANK_TOLERANCE;
    let mut value = DVector::<f64>::zeros(width);
    let (mut unit_variance, mut lost) = (vec![0.0; width], vec![0.0; width]);
    let mut rank = 0;
    for (k, &singular) in svd.singular_values.iter().enumerate() {
        let kept = singular > cut;
        rank += usize::from(kept);
        let share = if kept { u.column(k).dot(&target) / singular } else { 0.0 };
        for c in 0..width {
            let direction = v_t[(k, c)];
            value[c] += share * direction;
            if kept {
                unit_variance[c] += (direction / singular).powi(2);
            } else {
                lost[c] += direction * direction;
            }
        }
    }
    let residuals: Vec<f64> = (&target - &design * &value).iter().take(rows).copied().collect();
    Some(Fit {
        value: value.iter().zip(&scale).map(|(v, s)| v / s).collect(),
        unit_variance: unit_variance.iter().zip(&scale).map(|(v, s)| v / (s * s)).collect(),
        estimable: lost.iter().map(|l| *l < 1e-12).collect(),
        residual_sum: residuals.iter().map(|r| r * r).sum(),
        freedom: rows - rank.min(rows),
        residuals,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_line_through_four_points_by_hand() {
        // y = 1, 3, 2, 5 at x = 0..3: slope 1.1, intercept 1.1 (sums by hand), residuals -0.1, 0.8, -1.3, 0.6.
        let found = fit(&[vec![1.0; 4], vec![0.0, 1.0, 2.0, 3.0]], &[1.0, 3.0, 2.0, 5.0]).unwrap();
        assert_relative_eq!(found.value[0], 1.1, epsilon = 1e-12);
        assert_relative_eq!(found.value[1], 1.1, epsilon = 1e-12);
        assert_relative_eq!(found.residual_sum, 2.7, epsilon = 1e-12);
        assert_relative_eq!(found.unit_variance[1], 1.0 / 5.0, epsilon = 1e-12);
        assert_eq!(found.freedom, 2);
    }

    #[test]
    fn what_cannot_be_told_apart_is_said_and_what_can_is_still_told() {
        // two factors always changed together: the mean is told, neither factor is
        let together = vec![0.0, 1.0, 0.0, 1.0];
        let found = fit(&[vec![1.0; 4], together.clone(), together], &[10.0, 12.0, 10.0, 12.0]).unwrap();
        assert_eq!(found.estimable, [true, false, false]);
        assert_eq!(found.freedom, 2);
        assert_relative_eq!(found.value[0], 10.0, epsilon = 1e-9);
    }

    #[test]
    fn fewer_pulls_than_unknowns_is_not_a_panic() {
        let found = fit(&[vec![1.0], vec![0.0], vec![0.5]], &[3.0]).unwrap();
        assert_eq!(found.estimable, [false, false, false]);
        assert_eq!(found.freedom, 0);
        assert!(fit(&[vec![1.0]], &[f64::NAN]).is_none());
        assert!(fit(&[], &[]).is_none());
    }
}
