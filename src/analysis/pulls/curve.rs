//! A pull's curve on a common grid of engine speeds, smoothed in a stated way.

use super::row::Row;
use crate::units::EngineSpeed;

/// How curves are smoothed: a straight line fitted at every grid speed, rows weighted by a bell over engine speed
/// (local linear regression, Cleveland and Devlin 1988, from memory). It neither flattens a slope nor bends an end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smoothing {
    /// Standard deviation of the bell.
    pub width: EngineSpeed,
    /// Distance between grid speeds.
    pub step: EngineSpeed,
}

impl Default for Smoothing {
    /// 60 rpm wide on a grid of 50 rpm.
    fn default() -> Self {
        Self { width: EngineSpeed::from_rpm(60.0), step: EngineSpeed::from_rpm(50.0) }
    }
}

/// A channel against engine speed on the grid: multiples of the step, first one at `first`.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    step: f64,
    first: i64,
    values: Vec<Option<f64>>,
}

impl Curve {
    /// The curve of one channel of a pull; `None` when fewer than three rows have it. A grid speed with no rows close
    /// by (within one and a half widths on either side) has no value: nothing is drawn across a hole.
    pub(crate) fn of(
        rows: &[Row],
        smoothing: Smoothing,
        channel: impl Fn(&Row) -> Option<f64>,
    ) -> Option<Curve> {
        let (width, step) = (smoothing.width.as_rpm().max(1.0), smoothing.step.as_rpm().max(1.0));
        let mut points: Vec<(f64, f64)> = rows.iter().filter_map(|r| Some((r.rpm()?, channel(r)?))).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (low, high) = (points.first()?.0, points.last()?.0);
        if points.len() < 3 {
            return None;
        }
        let (first, last) = ((low / step).ceil() as i64, (high / step).floor() as i64);
        let values: Vec<Option<f64>> =
            (first..=last).map(|k| local_line(&points, k as f64 * step, width)).collect();
        values.iter().any(Option::is_some).then_some(Curve { step, first, values })
    }

    /// A curve from values known on the grid, the first of them at grid number `first`.
    pub(super) fn on_grid(step: EngineSpeed, first: i64, values: Vec<Option<f64>>) -> Curve {
        Curve { step: step.as_rpm(), first, values }
    }

    /// Distance between grid speeds.
    pub fn step(&self) -> EngineSpeed {
        EngineSpeed::from_rpm(self.step)
    }

    /// The value at a grid speed, given by its number (speed over step).
    pub fn at(&self, index: i64) -> Option<f64> {
        usize::try_from(index - self.first).ok().and_then(|k| self.values.get(k).copied().flatten())
    }

    /// First and last grid number.
    pub fn range(&self) -> (i64, i64) {
        (self.first, self.first + self.values.len().cast_signed() as i64 - 1)
    }

    /// Speed of a grid number.
    pub fn speed(&self, index: i64) -> EngineSpeed {
        EngineSpeed::from_rpm(index as f64 * self.step)
    }

    /// Grid numbers, speeds in rpm and values, holes left out.
    pub fn points(&self) -> impl Iterator<Item = (i64, f64, f64)> + '_ {
        let at = |(k, v): (usize, &Option<f64>)| v.map(|v| (self.first + k.cast_signed() as i64, v));
        self.values.iter().enumerate().filter_map(at).map(|(i, v)| (i, i as f64 * self.step, v))
    }

    /// Mean over a band of grid numbers, ends included; `None` when more than a tenth of the band is missing.
    pub fn mean(&self, from: i64, to: i64) -> Option<f64> {
        let found: Vec<f64> = (from..=to).filter_map(|k| self.at(k)).collect();
        let wanted = (to - from + 1).max(1) as f64;
        (found.len() as f64 >= 0.9 * wanted).then(|| found.iter().sum::<f64>() / found.len() as f64)
    }
}

/// Bell-weighted straight line through points sorted by x, read at `x`.
fn local_line(points: &[(f64, f64)], x: f64, width: f64) -> Option<f64> {
    let reach = 3.0 * width;
    let from = points.partition_point(|p| p.0 < x - reach);
    let near = points[from..].iter().take_while(|p| p.0 <= x + reach);
    let (mut s0, mut s1, mut s2, mut t0, mut t1) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let (mut below, mut above) = (false, false);
    for (px, y) in near {
        let d = px - x;
        let w = (-0.5 * (d / width).powi(2)).exp();
        (s0, s1, s2, t0, t1) = (s0 + w, s1 + w * d, s2 + w * d * d, t0 + w * y, t1 + w * d * y);
        below |= (-1.5 * width..=0.0).contains(&d);
        above |= (0.0..=1.5 * width).contains(&d);
    }
    let determinant = s0 * s2 - s1 * s1;
    if !(below && above) || s0 <= 0.0 {
        return None;
    }
    // All rows at one speed: their mean.
    if determinant <= 1e-9 * s0 * s0 * width * width {
        return Some(t0 / s0);
    }
    Some((s2 * t0 - s1 * t1) / determinant)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Torque;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn rows(speeds: impl Iterator<Item = f64>, torque: impl Fn(f64) -> f64) -> Vec<Row> {
        let row = |rpm: f64| Row {
            speed: Some(EngineSpeed::from_rpm(rpm)),
            torque: Some(Torque::from_n_m(torque(rpm))),
            ..Row::default()
        };
        speeds.map(row).collect()
    }

    fn curve(rows: &[Row]) -> Curve {
        Curve::of(rows, Smoothing::default(), Row::torque_n_m).unwrap()
    }

    #[test]
    fn the_grid_is_common_to_all_pulls_whatever_their_rows() {
        let a = curve(&rows((0..200).map(|k| 2013.0 + 11.0 * f64::from(k)), |_| 200.0));
        assert_eq!(a.range(), (41, 84));
        assert_relative_eq!(a.speed(41).as_rpm(), 2050.0, epsilon = 1e-9);
        assert_eq!(a.at(40), None);
        assert_relative_eq!(a.mean(41, 84).unwrap(), 200.0, epsilon = 1e-9);
    }

    #[test]
    fn a_hole_stays_a_hole_and_a_band_over_it_has_no_mean() {
        let speeds = (0..300).map(|k| 2000.0 + 10.0 * f64::from(k)).filter(|s| !(3000.0..3400.0).contains(s));
        let c = curve(&rows(speeds, |_| 200.0));
        assert_eq!(c.at(64), None, "3200 rpm");
        assert!(c.at(58).is_some(), "2900 rpm");
        assert_eq!(c.mean(60, 70), None);
        assert!(c.mean(40, 58).is_some());
    }

    proptest! {
        #[test]
        fn a_straight_line_comes_out_as_it_went_in(slope in -0.1..0.1f64, level in 50.0..400.0f64, gap in 3.0..40.0f64) {
            let c = curve(&rows((0..150).map(|k| 1500.0 + gap * f64::from(k)), |s| level + slope * (s - 3000.0)));
            for (_, rpm, value) in c.points() {
                prop_assert!((value - level - slope * (rpm - 3000.0)).abs() < 1e-6);
            }
        }

        #[test]
        fn the_order_of_the_rows_does_not_matter(seed in 0u64..50) {
            let mut shuffled = rows((0..120).map(|k| 2000.0 + 13.0 * f64::from(k)), |s| 200.0 - (s / 500.0 - 7.0).powi(2));
            let plain = curve(&shuffled);
            let mut chance = crate::numeric::rng::Chance::with_seed(seed);
            for k in (1..shuffled.len()).rev() {
                shuffled.swap(k, (chance.uniform() * (k + 1) as f64) as usize);
            }
            prop_assert_eq!(curve(&shuffled), plain);
        }
    }
}
