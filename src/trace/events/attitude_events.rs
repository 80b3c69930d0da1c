//! What happens when the fuel in the bowl does not lie level: turns, braking, slopes. Needs an accelerometer or an
//! inclinometer among the columns, and is silent without.

use super::blocks::Block;
use super::{EventKind, Into};
use crate::setup::Regime;
use std::collections::VecDeque;

/// Thresholds (common practice).
mod limit {
    /// Harder than this, g, is a turn or braking;
    pub(super) const HARD_G: f64 = 0.25;
    /// and it is over below this, g, which is also level enough to compare with.
    pub(super) const CALM_G: f64 = 0.12;
    /// For at least this, s.
    pub(super) const TURN_S: f64 = 0.5;
    /// Lambda that steps by more than this, and by four times what it wanders by itself.
    pub(super) const STEP: f64 = 0.06;
    /// The throttle moving by less than this meanwhile, %.
    pub(super) const SAME_PCT: f64 = 4.0;
    /// What comes before is compared with over this, s.
    pub(super) const BEFORE_S: f64 = 4.0;
    /// A slope is steeper than this, degrees; level is flatter than that.
    pub(super) const SLOPE_DEG: f64 = 10.0;
    pub(super) const LEVEL_DEG: f64 = 5.0;
    /// For at least this, s.
    pub(super) const SLOPE_S: f64 = 2.0;
    /// Richer on it by more than this.
    pub(super) const RICHER: f64 = 0.05;
    /// Or by this, when it dies there.
    pub(super) const RICHER_AND_DIES: f64 = 0.02;
}

/// Watches the way the bowl stands.
#[derive(Debug, Default)]
pub(super) struct AttitudeEvents {
    /// Level running just before.
    calm: VecDeque<Block>,
    turn: Option<Leaning>,
    slope: Option<Leaning>,
}

/// A turn, braking or a slope under way.
#[derive(Debug)]
struct Leaning {
    kind: EventKind,
    from_s: f64,
    to_s: f64,
    before: Level,
    sum: f64,
    blocks: u32,
    /// The throttle was moved, or the regime is one whose lambda says nothing.
    spoilt: bool,
    died: bool,
}

/// What came before: mean and wander of lambda, and the throttle.
#[derive(Debug, Clone, Copy)]
struct Level {
    lambda: f64,
    wander: f64,
    throttle_pct: f64,
}

impl AttitudeEvents {
    pub(super) fn push(&mut self, block: &Block, into: &mut Into<'_>) {
        if block.lateral_g.is_nan() && block.longitudinal_g.is_nan() && block.tilt_deg.is_nan() {
            return;
        }
        let turning = kind_of_turn(block);
        let sloping = tilt(block).is_some_and(|t| t.abs() > limit::SLOPE_DEG);
        let turn = self.turn.take();
        self.turn = self.lean(turn, turning, still_turning(block), block, into);
        let still = tilt(block).is_some_and(|t| t.abs() > limit::LEVEL_DEG);
        let slope = self.slope.take();
        self.slope = self.lean(slope, sloping.then_some(EventKind::RichOnSlope), still, block, into);
        let level = tilt(block).is_none_or(|t| t.abs() < limit::LEVEL_DEG) && hardest(block) < limit::CALM_G;
        if level && useful(block) && self.turn.is_none() && self.slope.is_none() {
            self.calm.push_back(*block);
        }
        while self.calm.front().is_some_and(|b| block.t_s - b.t_s > 4.0 * limit::BEFORE_S)
            || self.calm.len() > 64
        {
            self.calm.pop_front();
        }
    }

    pub(super) fn end(&mut self, into: &mut Into<'_>) {
        for leaning in [self.turn.take(), self.slope.take()].into_iter().flatten() {
            leaning.judge(into);
        }
        self.calm.clear();
    }

    /// Goes on with a leaning, ends it, or begins one.
    fn lean(
        &self,
        now: Option<Leaning>,
        begins: Option<EventKind>,
        still: bool,
        block: &Block,
        into: &mut Into<'_>,
    ) -> Option<Leaning> {
        if let Some(mut leaning) = now {
            if still {
                leaning.take(block);
                return Some(leaning);
            }
            leaning.judge(into);
            return None;
        }
        let before = Level::of(&self.calm, block.t_s)?;
        let mut leaning = Leaning {
            kind: begins?,
            from_s: block.t_s,
            to_s: block.to_s,
            before,
            sum: 0.0,
            blocks: 0,
            spoilt: false,
            died: false,
        };
        leaning.take(block);
        Some(leaning)
    }
}

impl Leaning {
    fn take(&mut self, block: &Block) {
        self.to_s = block.to_s;
        let moved = (block.throttle_pct - self.before.throttle_pct).abs() > limit::SAME_PCT;
        if block.regime.is_none() {
            self.died = true;
        } else if moved || matches!(block.regime, Some(Regime::TipIn | Regime::Overrun)) {
            self.spoilt = true;
        } else if !block.lambda.is_nan() {
            self.sum += block.lambda;
            self.blocks += 1;
        }
    }

    fn judge(&self, into: &mut Into<'_>) {
        let lasted = self.to_s - self.from_s;
        let shortest = if self.kind == EventKind::RichOnSlope { limit::SLOPE_S } else { limit::TURN_S };
        if lasted < shortest {
            return;
        }
        let lambda = (self.blocks >= 2).then(|| self.sum / f64::from(self.blocks));
        let step = lambda.filter(|_| !self.spoilt).map_or(0.0, |l| l - self.before.lambda);
        let clear = step.abs() > 4.0 * self.before.wander;
        let shows = match self.kind {
            // An engine switched off on a slope is no fault: it must have gone rich before.
            EventKind::RichOnSlope => {
                -step > if self.died { limit::RICHER_AND_DIES } else { limit::RICHER } && clear
            }
            _ => self.died || (step.abs() > limit::STEP && clear),
        };
        if shows {
            into.note(self.kind, self.from_s, lasted, lambda, None);
        }
    }
}

impl Level {
    fn of(calm: &VecDeque<Block>, at_s: f64) -> Option<Self> {
        let before: Vec<&Block> = calm.iter().filter(|b| at_s - b.t_s <= limit::BEFORE_S).collect();
        if before.len() < 4 {
            return None;
        }
        let n = before.len() as f64;
        let mean = before.iter().map(|b| b.lambda).sum::<f64>() / n;
        let wander = (before.iter().map(|b| (b.lambda - mean).powi(2)).sum::<f64>() / n).sqrt();
        let throttle_pct = before.iter().map(|b| b.throttle_pct).sum::<f64>() / n;
        Some(Self { lambda: mean, wander, throttle_pct })
    }
}

/// Running in a regime whose lambda says something of the metering.
fn useful(block: &Block) -> bool {
    let steady = !matches!(block.regime, None | Some(Regime::TipIn | Regime::Overrun));
    steady && !block.lambda.is_nan()
}

fn magnitude(value: f64) -> f64 {
    if value.is_nan() { 0.0 } else { value.abs() }
}

fn hardest(block: &Block) -> f64 {
    magnitude(block.lateral_g).max(magnitude(block.longitudinal_g))
}

fn kind_of_turn(block: &Block) -> Option<EventKind> {
    if block.lateral_g > limit::HARD_G {
        Some(EventKind::SloshPlus)
    } else if block.lateral_g < -limit::HARD_G {
        Some(EventKind::SloshMinus)
    } else if block.longitudinal_g < -limit::HARD_G {
        Some(EventKind::SloshBraking)
    } else {
        None
    }
}

fn still_turning(block: &Block) -> bool {
    hardest(block) > limit::CALM_G
}

/// How far out of level the bowl stands by an inclinometer. An accelerometer alone cannot tell a slope from a long bend.
fn tilt(block: &Block) -> Option<f64> {
    (!block.tilt_deg.is_nan()).then_some(block.tilt_deg)
}
