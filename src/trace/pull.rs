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

    /// Thirty-two rows a second; speed and lambda by the time in the pull.
    fn pulled(seconds: f64, speed: impl Fn(f64) -> f64, lambda: impl Fn(f64) -> f64) -> Option<Pull> {
        let mut pulls = Pulls::default();
        for i in 0..=(seconds * 32.0) as u32 {
            let t = f64::from(i) / 32.0;
            let mut s = row(64.0 + t, speed(t), 1.0 + t / 8.0, if i == 40 { 97.0 } else { 95.0 });
            s.fuel_pressure_kpa = if t < 3.5 { 40.0 } else { 35.0 };
            assert!(pulls.follow(true) && pulls.push(true, &s, lambda(t)).is_none());
        }
        assert!(pulls.follow(false));
        let done = pulls.push(false, &row(99.0, 3000.0, 15.0, 5.0), 0.9);
        assert!(!pulls.follow(false) && pulls.push(false, &row(99.1, 3000.0, 15.0, 5.0), 0.9).is_none());
        done
    }

    #[test]
    fn a_pull_in_figures() {
        let lambda = |t: f64| match t {
            t if t < 0.5 => 1.2,
            t if t < 1.5 => 0.84,
            t if t < 3.5 => 0.85,
            t if t < 6.0 => 0.86,
            t if t < 7.0 => 0.93,
            _ => 0.88,
        };
        let pull = pulled(9.0, |t| 2000.0 + 200.0 * t, lambda).unwrap();
        let close = |got: Option<Lambda>, expected: f64| {
            assert!((got.unwrap().as_ratio() - expected).abs() < 1e-9, "{got:?}");
        };
        assert_eq!((pull.start.as_s(), pull.seconds.as_s(), pull.samples), (64.0, 9.0, 289));
        assert!(
            (pull.speed_from.as_rpm() - 2021.9).abs() < 0.1 && (pull.speed_to.as_rpm() - 3800.0).abs() < 0.1
        );
        // The first half second is left out; thirds of nine seconds.
        close(pull.lambda, 0.86);
        close(pull.lambda_from, (4.0 * 0.84 + 8.0 * 0.85) / 12.0);
        close(pull.lambda_to, (4.0 * 0.93 + 9.0 * 0.88) / 13.0);
        close(pull.worst, 0.93);
        close(pull.richest, 0.84);
        assert!((pull.worst_at.unwrap().as_s() - 64.0 - 6.86).abs() < 0.26, "{pull:?}");
        assert_eq!(pull.fuel_pressure_from.unwrap().as_kpa(), 40.0);
        assert_eq!(pull.fuel_pressure_to.unwrap().as_kpa(), 35.0);
        assert!((pull.vacuum_to.unwrap().as_inhg() - 1.94).abs() < 0.03, "{pull:?}");
        assert_eq!(pull.throttle.unwrap().as_percent(), 97.0);
        let rises = pulled(6.0, |t| 2000.0 + 200.0 * t, |t| 0.84 + 0.01 * t).unwrap();
        assert!((rises.lambda_per_1000_rpm.unwrap() - 0.05).abs() < 1e-9);
    }

    #[test]
    fn a_trend_wants_three_hundred_rpm_and_four_means() {
        let trend = |seconds: f64, rpm: f64| {
            pulled(seconds, |t| 2000.0 + rpm * t / seconds, |t| 0.84 + 0.01 * t).unwrap().lambda_per_1000_rpm
        };
        // What is left after the first half second sweeps eleven twelfths.
        assert!(trend(6.0, 340.0).is_some() && trend(6.0, 310.0).is_none());
        assert!(trend(1.5, 3000.0).is_some(), "five means are left");
        let mut pulls = Pulls::default();
        (0..=48).for_each(|i| {
            let lambda = if i < 28 { f64::NAN } else { 0.9 };
            pulls.push(true, &row(f64::from(i) / 32.0, 2000.0 + 100.0 * f64::from(i), 1.0, 95.0), lambda);
        });
        let three = pulls.end().unwrap();
        assert!(three.lambda_per_1000_rpm.is_some());
        let mut blind = Pulls::default();
        for i in 0..=64 {
            blind.push(true, &row(f64::from(i) / 32.0, 2000.0, 1.0, f64::NAN), 0.9);
        }
        assert!(blind.end().unwrap().throttle.is_none(), "no throttle is logged");
        let silent = pulled(6.0, |t| 2000.0 + 200.0 * t, |_| f64::NAN).unwrap();
        assert!(silent.lambda.is_none() && silent.worst.is_none() && silent.lambda_per_1000_rpm.is_none());
    }
}
