//! Runs at full throttle, in quarter-second means.

use super::sample::Sample;
use super::summary::Pull;
use crate::numeric::robust;
use crate::units::{EngineSpeed, Fraction, Lambda, PressureDifference, TimeSpan, Vacuum};

/// Shorter ones are no run.
const SHORTEST_S: f64 = 1.5;
/// The mixture has found its level by this.
const SETTLED_FROM_S: f64 = 0.5;
const MEAN_OVER_S: f64 = 0.25;
/// Means of one run that are kept: over an hour.
const MOST_MEANS: usize = 1 << 14;

/// A mean, or one being gathered: sums and counts of time, speed, lambda, fuel pressure, vacuum.
#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    from_s: f64,
    sums: [f64; 5],
    counts: [u32; 5],
}

impl Mean {
    fn add(&mut self, values: [f64; 5]) {
        for ((sum, count), value) in self.sums.iter_mut().zip(&mut self.counts).zip(values) {
            if !value.is_nan() {
                *sum += value;
                *count += 1;
            }
        }
    }

    fn of(&self, which: usize) -> Option<f64> {
        (self.counts[which] > 0).then(|| self.sums[which] / f64::from(self.counts[which]))
    }
}

const TIME: usize = 0;
const SPEED: usize = 1;
const LAMBDA: usize = 2;
const FUEL: usize = 3;
const VACUUM: usize = 4;

/// Measures runs as they come.
#[derive(Debug, Default)]
pub(super) struct Pulls {
    means: Vec<Mean>,
    now: Mean,
    open: bool,
    last_s: f64,
    rows: u64,
    throttle_pct: f64,
}

impl Pulls {
    /// Whether the next row, at full throttle or not, is to be taken.
    #[inline]
    pub(super) fn follow(&self, inside: bool) -> bool {
        inside || self.open
    }

    /// Takes the next row: whether it is at full throttle, with its own lambda (NaN when that is not believable).
    /// Gives the run that is over.
    pub(super) fn push(&mut self, inside: bool, s: &Sample, lambda: f64) -> Option<Pull> {
        if !inside {
            return if self.open { self.end() } else { None };
        }
        if !self.open {
            *self = Self {
                open: true,
                throttle_pct: f64::NAN,
                now: Mean { from_s: s.t_s, ..Mean::default() },
                ..Self::default()
            };
        }
        if s.t_s - self.now.from_s >= MEAN_OVER_S {
            if self.means.len() < MOST_MEANS {
                self.means.push(self.now);
            }
            self.now = Mean { from_s: s.t_s, ..Mean::default() };
        }
        self.now.add([s.t_s, s.speed_rpm, lambda, s.fuel_pressure_kpa, s.vacuum_inhg]);
        self.throttle_pct = self.throttle_pct.max(s.throttle_pct);
        self.last_s = s.t_s;
        self.rows += 1;
        None
    }

    /// The run, if one is open, is over.
    pub(super) fn end(&mut self) -> Option<Pull> {
        self.open = false;
        let mut means = std::mem::take(&mut self.means);
        means.push(self.now);
        let start = means.first()?.from_s;
        let length = self.last_s - start;
        if length < SHORTEST_S {
            return None;
        }
        let third = length / 3.0;
        let early =
            |m: &&Mean| m.from_s - start >= SETTLED_FROM_S && m.from_s - start < SETTLED_FROM_S + third;
        let late = |m: &&Mean| m.from_s - start >= length - third;
        let settled: Vec<&Mean> = means.iter().filter(|m| m.from_s - start >= SETTLED_FROM_S).collect();
        let mut lambdas: Vec<f64> = settled.iter().filter_map(|m| m.of(LAMBDA)).collect();
        let worst = settled
            .iter()
            .filter(|m| m.of(LAMBDA).is_some())
            .max_by(|a, b| a.of(LAMBDA).partial_cmp(&b.of(LAMBDA)).unwrap_or(std::cmp::Ordering::Equal));
        let mean = |which, part: &dyn Fn(&&Mean) -> bool| {
            average(means.iter().filter(|m| part(m)).filter_map(|m| m.of(which)))
        };
        let speed = |m: Option<&Mean>| EngineSpeed::from_rpm(m.and_then(|m| m.of(SPEED)).unwrap_or_default());
        Some(Pull {
            start: TimeSpan::from_s(start),
            seconds: TimeSpan::from_s(length),
            speed_from: speed(means.first()),
            speed_to: speed(means.last()),
            lambda: robust::median(&mut lambdas).map(Lambda::from_ratio),
            lambda_from: mean(LAMBDA, &early).map(Lambda::from_ratio),
            lambda_to: mean(LAMBDA, &late).map(Lambda::from_ratio),
            lambda_per_1000_rpm: slope(&settled),
            worst: worst.and_then(|m| m.of(LAMBDA)).map(Lambda::from_ratio),
            worst_at: worst.and_then(|m| m.of(TIME)).map(TimeSpan::from_s),
            richest: settled
                .iter()
                .filter_map(|m| m.of(LAMBDA))
                .min_by(f64::total_cmp)
                .map(Lambda::from_ratio),
            fuel_pressure_from: mean(FUEL, &early).map(PressureDifference::from_kpa),
            fuel_pressure_to: mean(FUEL, &late).map(PressureDifference::from_kpa),
            vacuum_to: mean(VACUUM, &late).map(Vacuum::from_inhg),
            throttle: Fraction::try_from_percent(self.throttle_pct).ok(),
            samples: self.rows,
        })
    }
}

fn average(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (mut sum, mut n) = (0.0, 0u32);
    for v in values {
        sum += v;
        n += 1;
    }
    (n > 0).then(|| sum / f64::from(n))
}

/// Least-squares slope of lambda on speed, for 1000 rpm; only when the speed really moved.
fn slope(means: &[&Mean]) -> Option<f64> {
    let points: Vec<(f64, f64)> =
        means.iter().filter_map(|m| Some((m.of(SPEED)? / 1000.0, m.of(LAMBDA)?))).collect();
    let n = points.len() as f64;
    if points.len() < 4 {
        return None;
    }
    let (x, y) = points.iter().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
    let sxx: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    // The spread of an even sweep over 300 rpm.
    (sxx / n > 0.3 * 0.3 / 12.0).then(|| sxy / sxx)
}

#[cfg(test)]
mod tests {
    use super::super::segment::tests::row;
    use super::*;

    fn run(seconds: f64, rise_rpm: f64, per_1000: f64) -> Option<Pull> {
        let mut pulls = Pulls::default();
        let rows = (seconds * 100.0) as u32;
        for i in 0..=rows {
            let part = f64::from(i) / f64::from(rows);
            let mut s = row(10.0 + f64::from(i) / 100.0, 3000.0 + rise_rpm * part, 1.0 + part, 98.0);
            s.fuel_pressure_kpa = 40.0 - 10.0 * part;
            assert!(pulls.push(true, &s, 0.85 + per_1000 * rise_rpm * part / 1000.0).is_none());
        }
        pulls.push(false, &row(99.0, 3000.0, 15.0, 5.0), 0.9)
    }

    #[test]
    fn the_trend_of_lambda_and_fuel_pressure_along_a_pull() {
        let pull = run(6.0, 2000.0, 0.02).unwrap();
        assert!((pull.lambda_per_1000_rpm.unwrap() - 0.02).abs() < 1e-6);
        assert!((pull.seconds.as_s() - 6.0).abs() < 1e-6);
        assert!(pull.lambda_to.unwrap() > pull.lambda_from.unwrap());
        assert!(pull.fuel_pressure_from.unwrap().as_kpa() > pull.fuel_pressure_to.unwrap().as_kpa() + 4.0);
        assert!((pull.worst.unwrap().as_ratio() - 0.889).abs() < 0.002);
        assert!(pull.worst_at.unwrap().as_s() > 15.5);
    }

    #[test]
    fn a_second_and_a_half_is_the_border() {
        assert!(run(1.49, 500.0, 0.0).is_none());
        assert!(run(1.51, 500.0, 0.0).is_some());
    }

    #[test]
    fn no_trend_on_speed_when_the_speed_stands() {
        assert!(run(6.0, 100.0, 0.02).unwrap().lambda_per_1000_rpm.is_none());
    }
}
