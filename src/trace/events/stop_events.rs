//! What happens when the engine stops, and when it starts again.

use super::super::segment::Borders;
use super::blocks::Block;
use super::{EventKind, Into};

/// Thresholds (common practice).
mod limit {
    /// Richer than this in the first 20 s after a restart.
    pub(super) const FLOODED_LAMBDA: f64 = 0.75;
    pub(super) const RESTART_S: f64 = 20.0;
    /// Stood hot for as long as this, s: long enough for the bowl to boil,
    pub(super) const SOAKED_S: (f64, f64) = (300.0, 3600.0);
    /// and still as hot as this, degC, when it is started.
    pub(super) const HOT_C: f64 = 71.0;
    /// An engine that is switched off at idle stands within about a second; one that takes longer than this, s, has
    /// gone on burning, or has died slowly.
    pub(super) const RUN_ON_S: f64 = 2.5;
    /// It has begun to die below this share of idle speed, and stands below this, rpm.
    pub(super) const DYING_SHARE: f64 = 0.8;
    pub(super) const STANDS_RPM: f64 = 50.0;
    /// Longer than this, s, it was not dying.
    pub(super) const LONGEST_S: f64 = 30.0;
}

/// Watches stops and starts.
#[derive(Debug)]
pub(super) struct StopEvents {
    borders: Borders,
    restart: Option<Restart>,
    running: bool,
    /// The block before was one with the engine standing, in this stretch of the log.
    stood: bool,
    /// When it last ran, in this log, and how hot it was.
    ran_until_s: f64,
    coolant_c: f64,
    dying: Option<f64>,
}

#[derive(Debug)]
struct Restart {
    at_s: f64,
    sum: f64,
    blocks: u32,
    rich: u32,
    soaked: bool,
}

impl StopEvents {
    pub(super) fn new(borders: Borders) -> Self {
        Self {
            borders,
            restart: None,
            running: false,
            stood: false,
            ran_until_s: f64::NAN,
            coolant_c: f64::NAN,
            dying: None,
        }
    }

    pub(super) fn push(&mut self, block: &Block, into: &mut Into<'_>) {
        if !block.coolant_c.is_nan() {
            self.coolant_c = block.coolant_c;
        }
        self.dies(block, into);
        self.restart(block, into);
        if block.regime.is_some() {
            self.ran_until_s = block.to_s;
        }
    }

    /// The log breaks off; whether the engine ran on meanwhile is not known, but how long it was is.
    pub(super) fn end(&mut self, into: &mut Into<'_>) {
        self.close_restart(into);
        self.running = false;
        self.stood = false;
        self.dying = None;
    }

    fn dies(&mut self, block: &Block, into: &mut Into<'_>) {
        let shut = block.throttle_pct.is_nan() || block.throttle_pct <= self.borders.closed_pct + 2.0;
        let falls_from = limit::DYING_SHARE * self.borders.idle_rpm;
        if block.speed_rpm.is_nan() || !shut || block.speed_rpm >= falls_from {
            // Only from about idle: from higher up it is a vehicle slowing down. A block in which it begins to die
            // has no regime any more, and leaves the time as it was.
            let idling = shut && block.speed_rpm < 1.5 * self.borders.idle_rpm;
            if !idling || block.regime.is_some() {
                self.dying = idling.then_some(block.to_s);
            }
            return;
        }
        let Some(from) = self.dying.filter(|_| block.speed_rpm <= limit::STANDS_RPM) else { return };
        self.dying = None;
        let tail = block.t_s - from;
        if tail > limit::RUN_ON_S && tail < limit::LONGEST_S {
            into.note(EventKind::RunOn, from, tail, None, Some(self.borders.idle_rpm));
        }
    }

    fn restart(&mut self, block: &Block, into: &mut Into<'_>) {
        if block.regime.is_none() {
            self.close_restart(into);
            self.running = false;
            self.stood = true;
            return;
        }
        if !self.running {
            self.running = true;
            let away = block.t_s - self.ran_until_s;
            let soaked =
                (limit::SOAKED_S.0..=limit::SOAKED_S.1).contains(&away) && self.coolant_c >= limit::HOT_C;
            // Only a start that was seen: the engine stood in this log before, or the log has a hole as long as a
            // stop for fuel and food.
            let seen = self.stood || soaked;
            self.restart = seen.then_some(Restart { at_s: block.t_s, sum: 0.0, blocks: 0, rich: 0, soaked });
        }
        let Some(r) = &mut self.restart else { return };
        if block.t_s - r.at_s > limit::RESTART_S {
            self.close_restart(into);
        } else if !block.lambda.is_nan() && block.t_s - r.at_s > 2.0 {
            r.sum += block.lambda;
            r.blocks += 1;
            r.rich += u32::from(block.lambda < limit::FLOODED_LAMBDA);
        }
    }

    fn close_restart(&mut self, into: &mut Into<'_>) {
        let Some(r) = self.restart.take() else { return };
        if r.blocks >= 8 && r.rich * 2 > r.blocks {
            let kind = if r.soaked { EventKind::HotFlood } else { EventKind::FloodedRestart };
            into.note(kind, r.at_s, limit::RESTART_S, Some(r.sum / f64::from(r.blocks)), None);
        }
    }
}
