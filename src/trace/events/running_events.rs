//! What happens at part throttle: surge, hunting, ice, fuel pressure that sinks.

use super::blocks::Block;
use super::{EventKind, Into};
use crate::setup::Regime;
use std::collections::VecDeque;

/// Thresholds (common practice).
mod limit {
    /// A stretch that is looked at, s.
    pub(super) const STRETCH_S: f64 = 12.0;
    /// Leaner than this surges.
    pub(super) const SURGE_LAMBDA: f64 = 1.05;
    /// By a swing between these shares of the speed, peak to peak.
    pub(super) const SURGE_SHARE: (f64, f64) = (0.01, 0.06);
    /// At a rate between these, Hz.
    pub(super) const SURGE_HZ: (f64, f64) = (0.3, 1.0);
    /// With the throttle moving less than this, %.
    pub(super) const FLAT_PCT: f64 = 1.0;
    /// A governed engine hunts by at least this, rpm peak to peak,
    pub(super) const HUNT_RPM: f64 = 100.0;
    /// with the throttle going by at least this, %, the other way.
    pub(super) const HUNT_PCT: f64 = 2.0;
    pub(super) const OPPOSED: f64 = -0.5;
    /// at a rate of a governor, not of hills, Hz.
    pub(super) const HUNT_HZ: f64 = 0.2;
    /// Ice: over this long, s,
    pub(super) const ICE_S: f64 = 60.0;
    /// speed sinks by this share and lambda by this, the throttle still.
    pub(super) const ICE_SHARE: f64 = 0.06;
    pub(super) const ICE_LAMBDA: f64 = 0.03;
    /// Fuel pressure sinking by this, kPa (1 psi), with lambda rising by that.
    pub(super) const SAG_KPA: f64 = 6.9;
    pub(super) const SAG_LAMBDA: f64 = 0.03;
}

/// Watches steady running.
#[derive(Debug)]
pub(super) struct RunningEvents {
    stretch: VecDeque<Block>,
    /// When the stretch is looked at next.
    look_at_s: f64,
    /// Steady throttle since then: the first blocks of it.
    held: Vec<Block>,
    /// Merged with the next when it is the same thing going on.
    open: Option<(EventKind, f64, f64, f64, f64)>,
}

impl RunningEvents {
    pub(super) fn new() -> Self {
        Self { stretch: VecDeque::new(), look_at_s: f64::NEG_INFINITY, held: Vec::new(), open: None }
    }

    pub(super) fn push(&mut self, block: &Block, into: &mut Into<'_>) {
        self.ice_and_fuel(block, into);
        let steady = matches!(block.regime, Some(Regime::Cruise | Regime::HeavyCruise | Regime::OffIdle));
        let governed = steady || block.regime == Some(Regime::Idle);
        if !governed {
            self.stretch.clear();
            self.look_at_s = f64::NEG_INFINITY;
            self.close(into);
            return;
        }
        self.stretch.push_back(*block);
        while self.stretch.front().is_some_and(|b| block.t_s - b.t_s > limit::STRETCH_S) {
            self.stretch.pop_front();
        }
        let covers = block.to_s - self.stretch.front().map_or(block.to_s, |b| b.t_s);
        // Once a second is often enough for what takes ten.
        if covers < limit::STRETCH_S - 0.5 || self.stretch.len() < 24 || block.t_s < self.look_at_s {
            return;
        }
        self.look_at_s = block.t_s + 1.0;
        let swing = Swing::of(self.stretch.make_contiguous(), steady);
        let from_s = self.stretch[0].t_s;
        let found = swing.as_ref().and_then(|swing| {
            let kind = if steady && swing.surges() {
                EventKind::Surge
            } else if swing.hunts() {
                EventKind::Hunting
            } else {
                return None;
            };
            Some((kind, swing))
        });
        match (found, &mut self.open) {
            (Some((kind, swing)), Some(open)) if open.0 == kind => {
                open.2 = block.to_s;
                open.4 = open.4.max(swing.range_rpm);
            }
            (Some((kind, swing)), _) => {
                self.close(into);
                self.open = Some((kind, from_s, block.to_s, swing.lambda, swing.range_rpm));
            }
            (None, Some(open)) if block.to_s - open.2 > limit::STRETCH_S => self.close(into),
            (None, _) => {}
        }
    }

    pub(super) fn end(&mut self, into: &mut Into<'_>) {
        self.close(into);
        self.stretch.clear();
        self.look_at_s = f64::NEG_INFINITY;
        self.close_held(into);
    }

    fn close(&mut self, into: &mut Into<'_>) {
        if let Some((kind, from, to, lambda, range)) = self.open.take() {
            into.note(kind, from, to - from, Some(lambda), Some(range));
        }
    }

    /// Steady throttle over a minute and more.
    fn ice_and_fuel(&mut self, block: &Block, into: &mut Into<'_>) {
        let first = self.held.first();
        let moved = first.is_some_and(|f| (f.throttle_pct - block.throttle_pct).abs() > limit::FLAT_PCT);
        let running =
            block.regime.is_some() && !matches!(block.regime, Some(Regime::TipIn | Regime::Overrun));
        if moved || !running || block.throttle_pct.is_nan() {
            self.close_held(into);
        }
        if running && !block.throttle_pct.is_nan() && self.held.len() < 4096 {
            self.held.push(*block);
        }
    }

    fn close_held(&mut self, into: &mut Into<'_>) {
        let held = std::mem::take(&mut self.held);
        let (Some(first), Some(last)) = (held.first(), held.last()) else { return };
        let lasted = last.to_s - first.t_s;
        if lasted < 10.0 {
            return;
        }
        let part = (held.len() / 5).max(4).min(held.len());
        let mean = |blocks: &[Block], what: fn(&Block) -> f64| {
            let values: Vec<f64> = blocks.iter().map(what).filter(|v| !v.is_nan()).collect();
            values.iter().sum::<f64>() / values.len() as f64
        };
        let change =
            |what: fn(&Block) -> f64| mean(&held[held.len() - part..], what) - mean(&held[..part], what);
        let (speed, vacuum) = (change(|b| b.speed_rpm), change(|b| b.vacuum_inhg));
        let (lambda, fuel) = (change(|b| b.lambda), change(|b| b.fuel_pressure_kpa));
        let at = mean(&held[held.len() - part..], |b| b.lambda);
        let share = -speed / mean(&held[..part], |b| b.speed_rpm);
        // Ice narrows the throttle: less air, so more vacuum at the same stop, and richer.
        if lasted >= limit::ICE_S && share > limit::ICE_SHARE && lambda < -limit::ICE_LAMBDA && vacuum > 0.0 {
            into.note(EventKind::Icing, first.t_s, lasted, Some(at), Some(-speed));
        }
        if fuel < -limit::SAG_KPA && lambda > limit::SAG_LAMBDA {
            into.note(EventKind::PressureSag, first.t_s, lasted, Some(at), None);
        }
    }
}

/// How speed and throttle swing over a stretch.
#[derive(Debug, Clone, Copy)]
struct Swing {
    range_rpm: f64,
    share: f64,
    hz: f64,
    throttle_range: f64,
    together: f64,
    lambda: f64,
}

impl Swing {
    /// `None` when it can be neither surge nor hunting: the throttle tells, and mostly that is all there is to see.
    fn of(stretch: &[Block], steady: bool) -> Option<Self> {
        let lambdas: Vec<f64> = stretch.iter().map(|b| b.lambda).filter(|l| !l.is_nan()).collect();
        let lambda = lambdas.iter().sum::<f64>() / lambdas.len() as f64;
        let t: Vec<f64> = stretch.iter().map(|b| b.t_s).collect();
        let range = |v: &[f64]| {
            v.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b))
                - v.iter().fold(f64::INFINITY, |a, b| a.min(*b))
        };
        let throttle = without_trend(&t, &stretch.iter().map(|b| b.throttle_pct).collect::<Vec<_>>());
        let throttle_range = range(&throttle);
        let may_surge = steady && lambda > limit::SURGE_LAMBDA && throttle_range < limit::FLAT_PCT;
        if !may_surge && throttle_range < limit::HUNT_PCT {
            return None;
        }
        let n = stretch.len() as f64;
        let speed = without_trend(&t, &stretch.iter().map(|b| b.speed_rpm).collect::<Vec<_>>());
        let square = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>();
        let product: f64 = speed.iter().zip(&throttle).map(|(a, b)| a * b).sum();
        let mean_speed = stretch.iter().map(|b| b.speed_rpm).sum::<f64>() / n;
        let lasted = t[t.len() - 1] - t[0];
        Some(Self {
            range_rpm: range(&speed),
            share: range(&speed) / mean_speed,
            hz: crossings(&speed) / 2.0 / lasted,
            throttle_range,
            together: product / (square(&speed) * square(&throttle)).sqrt(),
            lambda,
        })
    }

    fn surges(&self) -> bool {
        self.lambda > limit::SURGE_LAMBDA
            && self.share >= limit::SURGE_SHARE.0
            && self.share <= limit::SURGE_SHARE.1
            && self.hz >= limit::SURGE_HZ.0
            && self.hz <= limit::SURGE_HZ.1
            && self.throttle_range < limit::FLAT_PCT
    }

    fn hunts(&self) -> bool {
        self.range_rpm >= limit::HUNT_RPM
            && self.hz >= limit::HUNT_HZ
            && self.throttle_range >= limit::HUNT_PCT
            && self.together < limit::OPPOSED
    }
}

/// Values less their straight line.
fn without_trend(t: &[f64], values: &[f64]) -> Vec<f64> {
    let n = t.len() as f64;
    let (mt, mv) = (t.iter().sum::<f64>() / n, values.iter().sum::<f64>() / n);
    let slope = t.iter().zip(values).map(|(t, v)| (t - mt) * (v - mv)).sum::<f64>()
        / t.iter().map(|t| (t - mt).powi(2)).sum::<f64>();
    t.iter().zip(values).map(|(t, v)| v - mv - slope * (t - mt)).collect()
}

/// Crossings of zero, by at least a fifth of the range each way: noise about zero does not count.
fn crossings(values: &[f64]) -> f64 {
    let high = values.iter().fold(0.0f64, |a, b| a.max(b.abs()));
    let mut side = 0.0;
    let mut count = 0.0;
    for v in values.iter().filter(|v| v.abs() > 0.4 * high) {
        if side != 0.0 && v.signum() != side {
            count += 1.0;
        }
        side = v.signum();
    }
    count
}
