//! Whether a live reading has settled, and how its needle behaves.

use crate::units::{EngineSpeed, PressureDifference, TimeSpan, Vacuum};
use std::collections::VecDeque;

/// How the vacuum needle behaved over the last twenty seconds at most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needle {
    /// Mean over the window.
    pub mean: Vacuum,
    /// Highest less lowest reading.
    pub peak_to_peak: PressureDifference,
    /// Range of the slow part: a first-order low pass at 0.1 Hz, once it has settled.
    pub slow_drift: PressureDifference,
    /// Dips deeper than 2 inHg below the mean.
    pub dips: u32,
    /// Dips spaced evenly (the spacing varies by less than a quarter), at least three of them.
    pub dips_regular: bool,
    /// Time the window covers.
    pub over: TimeSpan,
}

/// Whether a reading can be taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Settled {
    /// Not enough readings yet.
    TooFew {
        /// How long the window still needs.
        wait: TimeSpan,
    },
    /// Still moving.
    Moving {
        /// Vacuum moved by this much across the window.
        vacuum: Option<PressureDifference>,
        /// Speed moved by this much across the window.
        speed: Option<EngineSpeed>,
    },
    /// It stands: averages over the window.
    Yes {
        /// Mean vacuum.
        vacuum: Option<Vacuum>,
        /// Mean speed.
        speed: Option<EngineSpeed>,
    },
}

#[derive(Debug, Clone, Copy)]
struct Reading {
    at_s: f64,
    vacuum_inhg: f64,
    speed_rpm: f64,
}

/// Vacuum that moved less than this, inHg, and speed that moved less than that, rpm, stand (common practice).
const STANDS_INHG: f64 = 0.2;
const STANDS_RPM: f64 = 10.0;
/// The needle is looked at over this.
const NEEDLE_S: f64 = 20.0;
/// A dip is deeper than this, inHg.
const DIP_INHG: f64 = 2.0;
/// Time constant of a 0.1 Hz low pass.
const SLOW_S: f64 = 1.0 / (core::f64::consts::TAU * 0.1);
/// Readings kept; a faster line is thinned to fit.
const MOST: usize = 20_000;

/// A sliding window over live readings.
#[derive(Debug, Clone)]
pub struct Settle {
    window_s: f64,
    readings: VecDeque<Reading>,
}

impl Settle {
    /// Ready when the mean of the window's later half differs from that of its earlier half by less than 0.2 inHg and
    /// 10 rpm (over 5 s: common practice). Halves are compared, not single readings: a needle that shakes about a mean
    /// that stands has settled; how it shakes is [`Settle::needle`]'s to say.
    pub fn over(window: TimeSpan) -> Self {
        Self { window_s: window.as_s().max(0.1), readings: VecDeque::new() }
    }

    /// Takes a reading. Time that goes back, or a hole longer than the window, starts the window afresh.
    pub fn push(&mut self, at: TimeSpan, vacuum: Option<Vacuum>, speed: Option<EngineSpeed>) {
        let at_s = at.as_s();
        if let Some(last) = self.readings.back() {
            if at_s < last.at_s || at_s - last.at_s > self.window_s {
                self.readings.clear();
            } else if at_s - last.at_s < NEEDLE_S / MOST as f64 {
                return;
            }
        }
        self.readings.push_back(Reading {
            at_s,
            vacuum_inhg: vacuum.map_or(f64::NAN, Vacuum::as_inhg),
            speed_rpm: speed.map_or(f64::NAN, EngineSpeed::as_rpm),
        });
        let keep_s = NEEDLE_S.max(self.window_s);
        while self.readings.front().is_some_and(|r| at_s - r.at_s > keep_s) || self.readings.len() > MOST {
            self.readings.pop_front();
        }
    }

    /// Starts afresh: a screw was turned.
    pub fn clear(&mut self) {
        self.readings.clear();
    }

    /// Whether it stands now.
    pub fn settled(&self) -> Settled {
        let Some(last) = self.readings.back() else {
            return Settled::TooFew { wait: TimeSpan::from_s(self.window_s) };
        };
        let covered = last.at_s - self.readings.front().map_or(last.at_s, |r| r.at_s);
        let recent: Vec<&Reading> =
            self.readings.iter().filter(|r| last.at_s - r.at_s <= self.window_s).collect();
        let wait = (self.window_s - covered).max(0.0);
        if wait > 1e-9 || recent.len() < 4 {
            return Settled::TooFew { wait: TimeSpan::from_s(wait) };
        }
        let middle = last.at_s - 0.5 * self.window_s;
        let of = |what: fn(&Reading) -> f64| {
            let whole = mean(recent.iter().map(|r| what(r)))?;
            let early = mean(recent.iter().filter(|r| r.at_s < middle).map(|r| what(r)));
            let late = mean(recent.iter().filter(|r| r.at_s >= middle).map(|r| what(r)));
            // A channel that is missing in one half is still coming or going.
            let moved = early.zip(late).map_or(f64::INFINITY, |(a, b)| (b - a).abs());
            Some((whole, moved))
        };
        let (vacuum, speed) = (of(|r| r.vacuum_inhg), of(|r| r.speed_rpm));
        let stands = |x: Option<(f64, f64)>, limit: f64| x.is_none_or(|(_, moved)| moved < limit);
        if stands(vacuum, STANDS_INHG) && stands(speed, STANDS_RPM) && (vacuum.is_some() || speed.is_some()) {
            return Settled::Yes {
                vacuum: vacuum.map(|(mean, _)| Vacuum::from_inhg(mean)),
                speed: speed.map(|(mean, _)| EngineSpeed::from_rpm(mean)),
            };
        }
        let finite = |x: Option<(f64, f64)>| x.map(|(_, moved)| moved).filter(|m| m.is_finite());
        Settled::Moving {
            vacuum: finite(vacuum).map(PressureDifference::from_inhg),
            speed: finite(speed).map(EngineSpeed::from_rpm),
        }
    }

    /// How the needle behaves; `None` before there are five readings a second over at least 5 s.
    pub fn needle(&self) -> Option<Needle> {
        let seen: Vec<(f64, f64)> = self
            .readings
            .iter()
            .filter(|r| !r.vacuum_inhg.is_nan())
            .map(|r| (r.at_s, r.vacuum_inhg))
            .collect();
        let (first, last) = (seen.first()?.0, seen.last()?.0);
        let over = last - first;
        if over < 5.0 || (seen.len() as f64) < 5.0 * over * 0.9 {
            return None;
        }
        let centre = mean(seen.iter().map(|r| r.1))?;
        let low = seen.iter().map(|r| r.1).fold(f64::INFINITY, f64::min);
        let high = seen.iter().map(|r| r.1).fold(f64::NEG_INFINITY, f64::max);
        let dips = dips(&seen, centre);
        let spacing: Vec<f64> = dips.windows(2).map(|w| w[1] - w[0]).collect();
        Some(Needle {
            mean: Vacuum::from_inhg(centre),
            peak_to_peak: PressureDifference::from_inhg(high - low),
            slow_drift: PressureDifference::from_inhg(slow_range(&seen, centre)),
            dips: dips.len() as u32,
            dips_regular: spacing.len() >= 2 && variation(&spacing) < 0.25,
            over: TimeSpan::from_s(over),
        })
    }
}

/// Mean of what is there; `None` when nothing is.
fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (mut sum, mut n) = (0.0, 0u32);
    for v in values.filter(|v| !v.is_nan()) {
        sum += v;
        n += 1;
    }
    (n > 0).then(|| sum / f64::from(n))
}

/// Range of a first-order low pass, which starts at the mean.
fn slow_range(seen: &[(f64, f64)], centre: f64) -> f64 {
    let (mut slow, mut low, mut high) = (centre, centre, centre);
    for pair in seen.windows(2) {
        let dt = pair[1].0 - pair[0].0;
        slow += (pair[1].1 - slow) * (1.0 - (-dt / SLOW_S).exp());
        low = low.min(slow);
        high = high.max(slow);
    }
    high - low
}

/// Times of dips: below the mean by more than the depth, and back by half of it before the next counts.
fn dips(seen: &[(f64, f64)], centre: f64) -> Vec<f64> {
    let mut inside = false;
    let mut times = Vec::new();
    for (at, vacuum) in seen {
        if !inside && *vacuum < centre - DIP_INHG {
            inside = true;
            times.push(*at);
        } else if *vacuum > centre - 0.5 * DIP_INHG {
            inside = false;
        }
    }
    times
}

/// Standard deviation over mean.
fn variation(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt() / mean
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fed(seconds: f64, vacuum: impl Fn(f64) -> f64, speed: impl Fn(f64) -> f64) -> Settle {
        let mut settle = Settle::over(TimeSpan::from_s(5.0));
        for i in 0..=(seconds * 20.0) as u32 {
            let t = f64::from(i) / 20.0;
            settle.push(
                TimeSpan::from_s(t),
                Some(Vacuum::from_inhg(vacuum(t))),
                Some(EngineSpeed::from_rpm(speed(t))),
            );
        }
        settle
    }

    #[test]
    fn both_sides_of_standing() {
        let drifting = |per_window: f64| fed(6.0, |t| 15.0 + per_window * t / 2.5, |_| 750.0).settled();
        assert!(matches!(drifting(0.19), Settled::Yes { .. }));
        assert!(matches!(drifting(0.21), Settled::Moving { .. }));
        let speeding = |per_window: f64| fed(6.0, |_| 15.0, |t| 750.0 + per_window * t / 2.5).settled();
        assert!(matches!(speeding(9.7), Settled::Yes { .. }));
        assert!(matches!(speeding(10.3), Settled::Moving { .. }));
    }

    #[test]
    fn a_shaking_needle_about_a_standing_mean_has_settled() {
        let settle = fed(6.0, |t| 15.0 + (t * 9.0).sin(), |_| 750.0);
        assert!(
            matches!(settle.settled(), Settled::Yes { vacuum: Some(v), .. } if (v.as_inhg() - 15.0).abs() < 0.1)
        );
    }

    #[test]
    fn too_little_says_how_long_to_wait() {
        assert!(
            matches!(fed(3.0, |_| 15.0, |_| 750.0).settled(), Settled::TooFew { wait } if (wait.as_s() - 2.0).abs() < 1e-6)
        );
        assert_eq!(
            Settle::over(TimeSpan::from_s(5.0)).settled(),
            Settled::TooFew { wait: TimeSpan::from_s(5.0) }
        );
    }

    #[test]
    fn a_hole_starts_afresh() {
        let mut settle = fed(6.0, |_| 15.0, |_| 750.0);
        settle.push(TimeSpan::from_s(20.0), Some(Vacuum::from_inhg(15.0)), None);
        assert!(matches!(settle.settled(), Settled::TooFew { .. }));
    }

    #[test]
    fn needles() {
        let steady = fed(20.0, |_| 18.0, |_| 700.0).needle().unwrap();
        assert!(steady.peak_to_peak.as_inhg() < 1e-9 && steady.dips == 0);
        let floating = fed(20.0, |t| 14.0 + 2.2 * (t * core::f64::consts::TAU / 16.0).sin(), |_| 700.0)
            .needle()
            .unwrap();
        assert!(floating.slow_drift.as_inhg() > 2.0, "{floating:?}");
        let shaking = fed(20.0, |t| 16.0 + 1.5 * (t * 30.0).sin(), |_| 700.0).needle().unwrap();
        assert!(shaking.slow_drift.as_inhg() < 0.5 && shaking.peak_to_peak.as_inhg() > 2.5);
        // one cylinder at 700 rpm misses: a dip each 120/700 s, but here slower so that 20 Hz shows it
        let regular = fed(20.0, |t| if t % 1.0 < 0.2 { 13.0 } else { 18.0 }, |_| 700.0).needle().unwrap();
        assert!(regular.dips >= 18 && regular.dips_regular, "{regular:?}");
        let odd = fed(
            20.0,
            |t| {
                if (3.0..3.2).contains(&t) || (5.0..5.2).contains(&t) || (17.0..17.2).contains(&t) {
                    13.0
                } else {
                    18.0
                }
            },
            |_| 700.0,
        )
        .needle()
        .unwrap();
        assert!(odd.dips == 3 && !odd.dips_regular, "{odd:?}");
    }

    fn at(settle: &mut Settle, t: f64, vacuum: Option<f64>, speed: Option<f64>) {
        settle.push(TimeSpan::from_s(t), vacuum.map(Vacuum::from_inhg), speed.map(EngineSpeed::from_rpm));
    }

    fn standing(times: impl IntoIterator<Item = f64>) -> Settle {
        let mut settle = Settle::over(TimeSpan::from_s(5.0));
        times.into_iter().for_each(|t| at(&mut settle, t, Some(15.0), Some(750.0)));
        settle
    }

    #[test]
    fn a_clock_that_goes_back_a_hole_or_a_screw_starts_afresh() {
        let afresh = |settle: &Settle| settle.readings.len() == 1;
        let steady = || (0..=120).map(|i| 100.0 + f64::from(i) / 20.0);
        assert!(afresh(&standing(steady().chain([105.0]))), "back");
        assert!(afresh(&standing(steady().chain([111.1]))), "a hole");
        assert!(!afresh(&standing(steady().chain([111.0]))));
        let mut settle = standing(steady());
        assert!(matches!(settle.settled(), Settled::Yes { .. }));
        settle.clear();
        assert_eq!(settle.settled(), Settled::TooFew { wait: TimeSpan::from_s(5.0) });
    }

    #[test]
    fn twenty_seconds_are_kept_of_a_line_as_fast_as_it_may_be() {
        let slow = standing((0..=600).map(|i| 100.0 + f64::from(i) / 20.0));
        assert_eq!((slow.readings.len(), slow.readings[0].at_s), (401, 110.0));
        let fast = standing((0..20_000).map(|i| 100.0 + f64::from(i) / 2048.0));
        assert!((6500..=10_000).contains(&fast.readings.len()), "{}", fast.readings.len());
        let just = standing((0..45_000).map(|i| 100.0 + f64::from(i) / 1000.0));
        assert!((13_000..=20_000).contains(&just.readings.len()), "{}", just.readings.len());
    }

    #[test]
    fn four_readings_over_the_window_and_one_channel_are_enough() {
        let every = |step: f64, n: u32| standing((0..n).map(|i| 100.0 + step * f64::from(i))).settled();
        assert!(matches!(every(1.65, 4), Settled::TooFew { .. }), "a whole window is needed");
        assert!(matches!(every(1.66, 5), Settled::Yes { .. }));
        assert_eq!(every(2.5, 3), Settled::TooFew { wait: TimeSpan::from_s(0.0) });
        let only = |vacuum, speed| {
            let mut settle = Settle::over(TimeSpan::from_s(5.0));
            (0..=120).for_each(|i| at(&mut settle, 100.0 + f64::from(i) / 20.0, vacuum, speed));
            settle.settled()
        };
        assert!(matches!(only(Some(15.0), None), Settled::Yes { speed: None, .. }));
        assert!(matches!(only(None, Some(750.0)), Settled::Yes { vacuum: None, .. }));
        assert_eq!(only(None, None), Settled::Moving { vacuum: None, speed: None });
        // The later half is from the middle of the window on.
        let mut stepped = Settle::over(TimeSpan::from_s(4.0));
        (0..=16).for_each(|i| {
            at(&mut stepped, 100.0 + f64::from(i) / 4.0, Some(if i < 8 { 15.0 } else { 16.0 }), None);
        });
        assert!(
            matches!(stepped.settled(), Settled::Moving { vacuum: Some(v), .. } if (v.as_inhg() - 1.0).abs() < 1e-9)
        );
    }

    #[test]
    fn a_needle_wants_five_seconds_and_nearly_five_readings_in_each() {
        let needle = |hz: f64, seconds: f64| {
            standing((0..=(hz * seconds) as u32).map(|i| 100.0 + f64::from(i) / hz)).needle()
        };
        assert_eq!(needle(32.0, 5.0).unwrap().over, TimeSpan::from_s(5.0));
        assert!(needle(32.0, 4.96875).is_none());
        assert!(needle(4.5, 8.0).is_some() && needle(4.0, 8.0).is_none());
    }

    #[test]
    fn a_dip_counts_again_only_after_it_came_half_way_back() {
        let dips = |back: f64, spacing: [f64; 2]| {
            let mut starts = vec![2.0];
            for i in 0..4 {
                starts.push(starts[i] + spacing[i % 2]);
            }
            let of = |t: f64| match starts.iter().rposition(|s| t >= *s) {
                Some(n) if t < starts[n] + 0.2 => 13.0,
                Some(n) if n < 4 && t < starts[n + 1] => back,
                _ => 18.0,
            };
            let needle = fed(20.0, of, |_| 700.0).needle().unwrap();
            (needle.dips, needle.dips_regular)
        };
        assert_eq!(dips(18.0, [2.0, 2.0]), (5, true));
        assert_eq!(dips(16.0, [0.5, 0.5]).0, 1, "hardly back");
        assert_eq!(dips(17.2, [2.0, 2.0]).0, 5, "more than half way");
        assert_eq!(dips(18.0, [2.2, 1.6]), (5, true), "the spacing varies by a sixth");
        assert_eq!(dips(18.0, [2.6, 1.2]), (5, false), "by a third");
    }

    #[test]
    fn the_slow_part_lets_a_tenth_of_a_hertz_through_at_seven_tenths() {
        let slow = |hz: f64| {
            let needle = fed(20.0, |t| 15.0 + 2.0 * (t * hz * core::f64::consts::TAU).sin(), |_| 700.0);
            needle.needle().unwrap().slow_drift.as_inhg()
        };
        assert!((slow(0.1) - 2.9).abs() < 0.2, "{}", slow(0.1));
        assert!(slow(1.0) < 0.6, "{}", slow(1.0));
    }
}
