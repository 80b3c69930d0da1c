//! The last seconds of a live line: a number calm enough to be read, and where it is going.

use super::rows::LiveRow;
use crate::units::{EngineSpeed, Lambda, PressureDifference, TimeSpan, Vacuum};
use std::collections::VecDeque;

/// Readings of a few seconds.
#[derive(Debug, Clone, Default)]
pub struct Trail {
    rows: VecDeque<(f64, LiveRow)>,
}

/// The number shown is the mean of this long: at arm's length, single readings flicker.
const CALM_S: f64 = 0.5;
/// A trend is told over this.
const TREND_S: f64 = 5.0;
/// Readings kept: a faster line is thinned to fit.
const MOST: usize = 4000;

impl Trail {
    /// Takes a row that came at `at`. Time that goes back starts afresh.
    pub fn push(&mut self, at: TimeSpan, row: &LiveRow) {
        let now = at.as_s();
        if let Some((last, _)) = self.rows.back() {
            if now < *last {
                self.rows.clear();
            } else if now - last < (TREND_S + 1.0) / MOST as f64 {
                return;
            }
        }
        self.rows.push_back((now, *row));
        while self.rows.front().is_some_and(|(t, _)| now - t > TREND_S + 1.0) {
            self.rows.pop_front();
        }
    }

    /// Forgets what was: the line stopped for a while.
    pub fn clear(&mut self) {
        self.rows.clear();
    }

    /// Vacuum, calmed.
    pub fn vacuum(&self) -> Option<Vacuum> {
        self.lately(CALM_S, |r| r.vacuum.map(Vacuum::as_inhg)).map(Vacuum::from_inhg)
    }

    /// Speed, calmed.
    pub fn speed(&self) -> Option<EngineSpeed> {
        self.lately(CALM_S, |r| r.speed.map(EngineSpeed::as_rpm)).map(EngineSpeed::from_rpm)
    }

    /// Lambda, calmed.
    pub fn lambda(&self) -> Option<Lambda> {
        self.lately(CALM_S, |r| r.lambda.map(Lambda::as_ratio)).map(Lambda::from_ratio)
    }

    /// Lambda over the whole trail, for a reading that is taken.
    pub fn settled_lambda(&self) -> Option<Lambda> {
        self.lately(TREND_S, |r| r.lambda.map(Lambda::as_ratio)).map(Lambda::from_ratio)
    }

    /// The last row.
    pub fn last(&self) -> Option<&LiveRow> {
        self.rows.back().map(|(_, row)| row)
    }

    /// How far vacuum has gone in five seconds; `None` before there are five.
    pub fn vacuum_trend(&self) -> Option<PressureDifference> {
        self.gone(|r| r.vacuum.map(Vacuum::as_inhg)).map(PressureDifference::from_inhg)
    }

    /// How far speed has gone in five seconds.
    pub fn speed_trend(&self) -> Option<EngineSpeed> {
        self.gone(|r| r.speed.map(EngineSpeed::as_rpm)).map(EngineSpeed::from_rpm)
    }

    /// How far lambda has gone in five seconds.
    pub fn lambda_trend(&self) -> Option<Lambda> {
        self.gone(|r| r.lambda.map(Lambda::as_ratio)).map(Lambda::from_ratio)
    }

    fn lately(&self, over_s: f64, of: fn(&LiveRow) -> Option<f64>) -> Option<f64> {
        let now = self.rows.back()?.0;
        mean(self.rows.iter().rev().take_while(|(t, _)| now - t <= over_s).filter_map(|(_, r)| of(r)))
    }

    /// Mean of the last second less that of the second five seconds before.
    fn gone(&self, of: fn(&LiveRow) -> Option<f64>) -> Option<f64> {
        let now = self.rows.back()?.0;
        let between = |from: f64, to: f64| {
            let inside = self.rows.iter().filter(move |(t, _)| (from..=to).contains(&(now - t)));
            mean(inside.filter_map(|(_, r)| of(r)))
        };
        Some(between(0.0, 1.0)? - between(TREND_S, TREND_S + 1.0)?)
    }
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (mut sum, mut n) = (0.0, 0u32);
    for v in values {
        sum += v;
        n += 1;
    }
    (n > 0).then(|| sum / f64::from(n)).filter(|m| m.is_finite())
}

#[cfg(test)]
mod tests {
    use super::super::super::{LoggerProfile, TraceContext};
    use super::super::LiveReader;
    use super::*;

    fn trail(seconds: f64, vacuum: impl Fn(f64) -> String) -> Trail {
        let mut reader = LiveReader::new(TraceContext::bare(&LoggerProfile::standard()));
        reader.push(b"time_s,rpm,vacuum_inhg,lambda\n");
        let mut trail = Trail::default();
        for i in 0..=(seconds * 20.0) as u32 {
            let t = f64::from(i) / 20.0;
            for row in reader.push(format!("{t:.2},800,{},0.9\n", vacuum(t)).as_bytes()) {
                trail.push(TimeSpan::from_s(t), &row);
            }
        }
        trail
    }

    #[test]
    fn the_number_is_calm_and_the_trend_is_over_five_seconds() {
        let shaking = trail(8.0, |t| {
            format!("{:.3}", 15.0 + if ((t * 20.0) as u32).is_multiple_of(2) { 0.4 } else { -0.4 })
        });
        assert!((shaking.vacuum().unwrap().as_inhg() - 15.0).abs() < 0.05);
        assert!(shaking.vacuum_trend().unwrap().as_inhg().abs() < 0.05);
        let rising = trail(8.0, |t| format!("{:.3}", 14.0 + 0.1 * t));
        assert!((rising.vacuum_trend().unwrap().as_inhg() - 0.5).abs() < 0.02);
    }

    #[test]
    fn too_short_or_missing_gives_nothing() {
        assert!(trail(4.0, |_| "15.0".to_owned()).vacuum_trend().is_none());
        let gone = trail(8.0, |_| "nan".to_owned());
        assert!(gone.vacuum().is_none() && gone.vacuum_trend().is_none());
        assert!(Trail::default().lambda().is_none());
    }

    /// Rows of speed and lambda at any times.
    fn at_times(times: impl IntoIterator<Item = f64>, speed: impl Fn(f64) -> f64) -> Trail {
        let mut reader = LiveReader::new(TraceContext::bare(&LoggerProfile::standard()));
        let head = reader.push(b"time_s,rpm,vacuum_inhg,lambda\n0,800,15,0.9\n");
        let mut trail = Trail::default();
        for t in times {
            let row = LiveRow {
                speed: Some(EngineSpeed::from_rpm(speed(t))),
                lambda: Some(Lambda::from_ratio(speed(t) / 1000.0)),
                ..head[0]
            };
            trail.push(TimeSpan::from_s(t), &row);
        }
        trail
    }

    #[test]
    fn every_trend_is_told_of_the_last_second_against_that_five_before() {
        let rising = |t: f64| 800.0 + 10.0 * t;
        let trail = at_times((0..=200).map(|i| 100.0 + f64::from(i) / 20.0), rising);
        assert!((trail.speed_trend().unwrap().as_rpm() - 50.0).abs() < 1e-6);
        assert!((trail.lambda_trend().unwrap().as_ratio() - 0.05).abs() < 1e-9);
        assert!((trail.speed().unwrap().as_rpm() - rising(109.75)).abs() < 1e-6, "the mean of half a second");
        assert!((trail.settled_lambda().unwrap().as_ratio() - rising(107.5) / 1000.0).abs() < 1e-9);
        assert_eq!(trail.rows.len(), 121, "six seconds are kept");
        let five = at_times((0..=100).map(|i| 100.0 + f64::from(i) / 20.0), rising);
        assert!(five.speed_trend().is_some());
        assert!(at_times((0..100).map(|i| 100.0 + f64::from(i) / 20.0), rising).speed_trend().is_none());
    }

    #[test]
    fn a_fast_line_is_thinned_and_a_clock_that_goes_back_starts_afresh() {
        let fast = at_times((0..20_000).map(|i| 100.0 + f64::from(i) / 10_000.0), |_| 800.0);
        assert!((1000..=1334).contains(&fast.rows.len()), "{}", fast.rows.len());
        let back = at_times([100.0, 101.0, 99.0], |t| t);
        assert!((back.speed().unwrap().as_rpm() - 99.0).abs() < 1e-9 && back.rows.len() == 1);
        let same = at_times([100.0, 101.0, 101.0], |t| t);
        assert_eq!(same.rows.len(), 2, "the same moment again says nothing new");
    }
}
