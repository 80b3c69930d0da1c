//! The top of a curve, with what is not known of it.

use super::row::Row;
use crate::analysis::verdict::fit;
use crate::numeric::robust;

/// A peak of torque or power in one pull, in SI with its speed in rpm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Height.
    pub value: f64,
    /// Standard error of the height within this one pull; repeats differ by more.
    pub value_error: f64,
    /// Speed, rpm.
    pub rpm: f64,
    /// Standard error of the speed; large on a flat top.
    pub rpm_error: f64,
    /// The curve turns over inside the pull. When not, `value` and `rpm` are where the pull ended: the peak is beyond.
    pub passed: bool,
}

/// Rows within this share of the peak's speed are fitted.
const REACH: f64 = 0.12;
const LEAST_ROWS: usize = 8;

/// The peak of `quantity` over a pull's rows: a parabola through the rows about the highest of `curve` (grid speed in
/// rpm, value). Errors are of the fit, widened for rows that are not independent of each other.
pub(super) fn peak(
    rows: &[Row],
    curve: &[(f64, f64)],
    quantity: impl Fn(&Row) -> Option<f64>,
) -> Option<Peak> {
    let (top_rpm, top) = curve.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let (low, high) = (curve.first()?.0, curve.last()?.0);
    let reach = REACH * top_rpm;
    let mut near: Vec<(f64, f64)> = rows.iter().filter_map(|r| Some((r.rpm()?, quantity(r)?))).collect();
    near.retain(|(x, _)| (x - top_rpm).abs() <= reach);
    if near.len() < LEAST_ROWS {
        return None;
    }
    let x: Vec<f64> = near.iter().map(|(x, _)| (x - top_rpm) / reach).collect();
    let y: Vec<f64> = near.iter().map(|(_, y)| *y).collect();
    let found = fit(&[vec![1.0; x.len()], x.clone(), x.iter().map(|x| x * x).collect()], &y)?;
    let noise = found.residual_sum / found.freedom.max(1) as f64 * dependence(&found.residuals);
    let (b, c) = (found.value[1], found.value[2]);
    let at = -b / (2.0 * c);
    let inside = c < 0.0 && at.abs() <= 1.0 && (low..=high).contains(&(top_rpm + at * reach));
    let edge = (top_rpm - low).min(high - top_rpm) < 0.02 * top_rpm;
    if !inside || (edge && at.abs() > 0.5) {
        let error = (noise * found.unit_variance[0]).sqrt();
        return Some(Peak { value: top, value_error: error, rpm: top_rpm, rpm_error: 0.0, passed: false });
    }
    // Delta method, the coefficients taken as uncorrelated after centring on the top.
    let rpm_variance = noise
        * (found.unit_variance[1] / (4.0 * c * c) + (b / (2.0 * c * c)).powi(2) * found.unit_variance[2]);
    Some(Peak {
        value: found.value[0] - b * b / (4.0 * c),
        value_error: (noise * (found.unit_variance[0] + at * at * found.unit_variance[1])).sqrt(),
        rpm: top_rpm + at * reach,
        rpm_error: rpm_variance.sqrt() * reach,
        passed: true,
    })
}

/// How much less than their number the rows are worth: (1 + r)/(1 - r) with r the correlation of neighbours.
fn dependence(residuals: &[f64]) -> f64 {
    let square: f64 = residuals.iter().map(|r| r * r).sum();
    if square <= 0.0 {
        return 1.0;
    }
    let r = residuals.windows(2).map(|w| w[0] * w[1]).sum::<f64>() / square;
    let r = r.clamp(0.0, 0.95);
    (1.0 + r) / (1.0 - r)
}

/// Peaks of several pulls as one: mean, and the spread between pulls as its error (`None` with one pull).
pub fn spread_of(values: &[f64]) -> Option<(f64, Option<f64>)> {
    let n = values.len() as f64;
    let mean = (n > 0.0).then(|| values.iter().sum::<f64>() / n)?;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    Some((mean, (values.len() > 1).then(|| variance.sqrt())))
}

/// The median of a channel over the top twentieth of a pull's speeds.
pub(super) fn at_the_top(rows: &[Row], channel: impl Fn(&Row) -> Option<f64>) -> Option<f64> {
    let high = rows.iter().filter_map(Row::rpm).fold(0.0, f64::max);
    let mut near: Vec<f64> =
        rows.iter().filter(|r| r.rpm().is_some_and(|s| s >= 0.95 * high)).filter_map(channel).collect();
    robust::median(&mut near)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::rng::Chance;
    use crate::units::{EngineSpeed, Torque};
    use approx::assert_relative_eq;

    fn rows(noise: f64, to: f64, chance: &mut Chance) -> Vec<Row> {
        let n = ((to - 2000.0) / 12.0) as u32;
        let row = |k: u32| {
            let rpm = 2000.0 + 12.0 * f64::from(k);
            let torque = 300.0 - 20.0 * ((rpm - 3500.0) / 1000.0).powi(2) + noise * chance.normal();
            Row {
                speed: Some(EngineSpeed::from_rpm(rpm)),
                torque: Some(Torque::from_n_m(torque)),
                ..Row::default()
            }
        };
        (0..n).map(row).collect()
    }

    fn peak_of(rows: &[Row]) -> Peak {
        let curve = super::super::curve::Curve::of(rows, super::super::Smoothing::default(), Row::torque_n_m)
            .unwrap();
        let points: Vec<_> = curve.points().map(|(_, x, y)| (x, y)).collect();
        peak(rows, &points, Row::torque_n_m).unwrap()
    }

    #[test]
    fn the_top_of_a_known_hill() {
        let found = peak_of(&rows(0.0, 5000.0, &mut Chance::with_seed(1)));
        assert!(found.passed);
        assert_relative_eq!(found.value, 300.0, epsilon = 1e-6);
        assert_relative_eq!(found.rpm, 3500.0, epsilon = 1e-3);
    }

    #[test]
    fn a_pull_cut_short_says_that_the_peak_is_beyond() {
        let found = peak_of(&rows(0.5, 3300.0, &mut Chance::with_seed(1)));
        assert!(!found.passed);
    }

    #[test]
    fn the_stated_error_is_the_error_made() {
        let mut chance = Chance::with_seed(4);
        let tries: Vec<Peak> = (0..200).map(|_| peak_of(&rows(3.0, 5000.0, &mut chance))).collect();
        let rms = |f: &dyn Fn(&Peak) -> f64| (tries.iter().map(|p| f(p).powi(2)).sum::<f64>() / 200.0).sqrt();
        let value = rms(&|p| (p.value - 300.0) / p.value_error);
        let speed = rms(&|p| (p.rpm - 3500.0) / p.rpm_error);
        assert!((0.75..1.35).contains(&value), "{value}");
        assert!((0.75..1.35).contains(&speed), "{speed}");
    }
}
