//! What happens with the throttle shut, or just opened.

use super::super::segment::Borders;
use super::blocks::Block;
use super::{EventKind, Into};
use crate::setup::Regime;
use std::collections::VecDeque;

/// Thresholds (common practice).
mod limit {
    /// Off idle leaner than this.
    pub(super) const STUMBLE_LAMBDA: f64 = 1.05;
    /// For longer than this, s.
    pub(super) const STUMBLE_S: f64 = 0.4;
    /// With the speed sagging by more than this, rpm.
    pub(super) const STUMBLE_RPM: f64 = 50.0;
    /// Speed above idle by more than this, rpm, after the throttle has shut,
    pub(super) const HANGS_RPM: f64 = 150.0;
    /// for longer than this, s, hangs; and not when it falls faster than this, rpm/s.
    pub(super) const HANGS_S: f64 = 3.0;
    pub(super) const FALLING_RPM_S: f64 = 60.0;
    /// Speed below this within 3 s of a load coming on,
    pub(super) const STALLS_RPM: f64 = 500.0;
    /// with the vacuum falling by more than this, inHg.
    pub(super) const STALLS_INHG: f64 = 5.0;
    /// Speed under idle by more than this, rpm, after a hard stop.
    pub(super) const DIPS_RPM: f64 = 200.0;
    /// Vacuum sinking by more than this, inHg a minute, through a long idle.
    pub(super) const LOADS_INHG_MIN: f64 = 0.3;
    /// A long idle, s.
    pub(super) const LONG_IDLE_S: f64 = 120.0;
    /// Lambda sinking with it by more than this a minute.
    pub(super) const LOADS_LAMBDA_MIN: f64 = 0.003;
}

/// Watches idle and its edges.
#[derive(Debug)]
pub(super) struct IdleEvents {
    borders: Borders,
    stumble: Option<Stumble>,
    hang: Option<Hang>,
    recent: VecDeque<Block>,
    stalled: bool,
    /// When the throttle shut from a run above idle, and the vacuum just before; and whether a dip was said.
    shut_s: f64,
    dip_said: bool,
    long_idle: Line,
    was: Option<Regime>,
}

#[derive(Debug)]
struct Stumble {
    from_s: f64,
    to_s: f64,
    lean: f64,
    speed_before: f64,
    lowest: f64,
}

#[derive(Debug)]
struct Hang {
    from_s: f64,
    to_s: f64,
    last_rpm: f64,
    over_sum: f64,
    blocks: u32,
}

/// Least-squares sums of vacuum and lambda over time.
#[derive(Debug, Default)]
struct Line {
    from_s: f64,
    to_s: f64,
    n: f64,
    t: f64,
    tt: f64,
    v: f64,
    tv: f64,
    l: f64,
    tl: f64,
}

impl Line {
    fn add(&mut self, block: &Block) {
        if self.n == 0.0 {
            self.from_s = block.t_s;
        }
        if block.vacuum_inhg.is_nan() || block.lambda.is_nan() {
            return;
        }
        let t = (block.t_s - self.from_s) / 60.0;
        self.to_s = block.to_s;
        self.n += 1.0;
        self.t += t;
        self.tt += t * t;
        self.v += block.vacuum_inhg;
        self.tv += t * block.vacuum_inhg;
        self.l += block.lambda;
        self.tl += t * block.lambda;
    }

    /// Slopes of vacuum and lambda, a minute.
    fn slopes(&self) -> Option<(f64, f64)> {
        let spread = self.n * self.tt - self.t * self.t;
        (spread > 1e-6).then(|| {
            ((self.n * self.tv - self.t * self.v) / spread, (self.n * self.tl - self.t * self.l) / spread)
        })
    }
}

impl IdleEvents {
    pub(super) fn new(borders: Borders) -> Self {
        Self {
            borders,
            stumble: None,
            hang: None,
            recent: VecDeque::new(),
            stalled: false,
            shut_s: f64::NEG_INFINITY,
            dip_said: true,
            long_idle: Line::default(),
            was: None,
        }
    }

    pub(super) fn push(&mut self, block: &Block, into: &mut Into<'_>) {
        self.stumble(block, into);
        self.hang(block, into);
        self.stall(block, into);
        self.dip(block, into);
        self.loading(block, into);
        while self.recent.front().is_some_and(|b| block.t_s - b.t_s > 3.0) {
            self.recent.pop_front();
        }
        self.recent.push_back(*block);
        self.was = block.regime;
    }

    pub(super) fn end(&mut self, into: &mut Into<'_>) {
        self.close_stumble(into);
        self.close_hang(into);
        self.close_long_idle(into);
        self.recent.clear();
        self.stalled = false;
        self.dip_said = true;
        self.shut_s = f64::NEG_INFINITY;
        self.was = None;
    }

    fn stumble(&mut self, block: &Block, into: &mut Into<'_>) {
        let off = block.throttle_pct - self.borders.closed_pct;
        let here =
            (2.0..=13.0).contains(&off) && matches!(block.regime, Some(Regime::OffIdle | Regime::TipIn));
        if !(here && block.lambda > limit::STUMBLE_LAMBDA) {
            self.close_stumble(into);
            return;
        }
        let before = self.recent.iter().map(|b| b.speed_rpm).fold(block.speed_rpm, f64::max);
        let s = self.stumble.get_or_insert(Stumble {
            from_s: block.t_s,
            to_s: block.to_s,
            lean: 0.0,
            speed_before: before,
            lowest: block.speed_rpm,
        });
        s.to_s = block.to_s;
        s.lean = s.lean.max(block.lambda);
        s.lowest = s.lowest.min(block.speed_rpm);
    }

    fn close_stumble(&mut self, into: &mut Into<'_>) {
        let Some(s) = self.stumble.take() else { return };
        let (lasted, sag) = (s.to_s - s.from_s, s.speed_before - s.lowest);
        if lasted > limit::STUMBLE_S && sag > limit::STUMBLE_RPM {
            into.note(EventKind::Stumble, s.from_s, lasted, Some(s.lean), Some(sag));
        }
    }

    fn shut(&self, block: &Block) -> bool {
        block.throttle_pct <= self.borders.closed_pct + 2.0 && block.regime.is_some()
    }

    fn hang(&mut self, block: &Block, into: &mut Into<'_>) {
        let over = block.speed_rpm - self.borders.idle_rpm;
        let seconds = self.hang.as_ref().map_or(0.25, |h| (block.to_s - h.to_s).max(0.01));
        let falling = self.hang.as_ref().map_or(0.0, |h| (h.last_rpm - block.speed_rpm) / seconds);
        let above = over > limit::HANGS_RPM && over < 1500.0 && block.vacuum_inhg > self.borders.idle_inhg;
        if !(self.shut(block) && above && falling < limit::FALLING_RPM_S) {
            self.close_hang(into);
            return;
        }
        let h = self.hang.get_or_insert(Hang {
            from_s: block.t_s,
            to_s: block.to_s,
            last_rpm: block.speed_rpm,
            over_sum: 0.0,
            blocks: 0,
        });
        h.to_s = block.to_s;
        h.last_rpm = block.speed_rpm;
        h.over_sum += over;
        h.blocks += 1;
    }

    fn close_hang(&mut self, into: &mut Into<'_>) {
        let Some(h) = self.hang.take() else { return };
        if h.to_s - h.from_s > limit::HANGS_S {
            into.note(
                EventKind::HangingIdle,
                h.from_s,
                h.to_s - h.from_s,
                None,
                Some(h.over_sum / f64::from(h.blocks)),
            );
        }
    }

    fn stall(&mut self, block: &Block, into: &mut Into<'_>) {
        let before = self.recent.front().filter(|b| b.regime == Some(Regime::Idle));
        let shut = block.throttle_pct.is_nan() || block.throttle_pct <= self.borders.closed_pct + 3.0;
        let now = block.speed_rpm < limit::STALLS_RPM && shut;
        if let Some(before) = before
            && now
            && !self.stalled
            && before.vacuum_inhg - block.vacuum_inhg > limit::STALLS_INHG
            && before.speed_rpm > limit::STALLS_RPM
        {
            self.stalled = true;
            into.note(EventKind::LoadStall, before.t_s, block.to_s - before.t_s, None, Some(block.speed_rpm));
        }
        self.stalled = self.stalled && now;
    }

    fn dip(&mut self, block: &Block, into: &mut Into<'_>) {
        let ran = matches!(
            self.was,
            Some(Regime::Overrun | Regime::Cruise | Regime::HeavyCruise | Regime::FullThrottle)
        );
        if ran && block.regime == Some(Regime::Idle) {
            self.shut_s = block.t_s;
            self.dip_said = false;
        }
        let under = self.borders.idle_rpm - block.speed_rpm;
        if !self.dip_said && block.t_s - self.shut_s < 3.0 && under > limit::DIPS_RPM {
            self.dip_said = true;
            into.note(
                EventKind::StopDip,
                self.shut_s,
                block.to_s - self.shut_s,
                Some(block.lambda),
                Some(under),
            );
        }
    }

    fn loading(&mut self, block: &Block, into: &mut Into<'_>) {
        if block.regime == Some(Regime::Idle) {
            self.long_idle.add(block);
        } else {
            self.close_long_idle(into);
        }
    }

    fn close_long_idle(&mut self, into: &mut Into<'_>) {
        let line = std::mem::take(&mut self.long_idle);
        let long = line.to_s - line.from_s > limit::LONG_IDLE_S;
        if let Some((vacuum, lambda)) = line.slopes().filter(|_| long)
            && vacuum < -limit::LOADS_INHG_MIN
            && lambda < -limit::LOADS_LAMBDA_MIN
        {
            into.note(
                EventKind::LoadingUp,
                line.from_s,
                line.to_s - line.from_s,
                Some(line.l / line.n),
                None,
            );
        }
    }
}
