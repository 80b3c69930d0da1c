//! The delay from the log itself: how long after a quick movement of the throttle lambda begins to move.

use super::delay::{DelayModel, DelaySource};
use super::sample::Sample;
use crate::numeric::robust;
use std::collections::VecDeque;

/// One movement and its answer.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Answer {
    /// One over what is pumped meanwhile.
    inverse: f64,
    /// From the movement to the first answer, less the wait for the exhaust stroke, s.
    delay_s: f64,
    /// How much of a first-order lag passes, in time constants, before an answer of this size is seen to begin.
    rise: f64,
}

/// The throttle moves when it goes by this much, %, within the time looked back on.
const MOVES_PCT: f64 = 6.0;
/// Without a throttle, the vacuum by this much, inHg.
const MOVES_INHG: f64 = 3.0;
const LOOK_BACK_S: f64 = 0.6;
/// Still before: within this, %, or inHg.
const STILL_PCT: f64 = 1.5;
const STILL_INHG: f64 = 0.8;
/// Lambda must leave its earlier level by this, and by four times its noise.
const LEAVES: f64 = 0.03;
/// An answer later than this belongs to something else.
const LATEST_S: f64 = 1.5;
/// Fewest answers to fit from.
const FEWEST: usize = 6;
/// Most that are kept.
const MOST: usize = 300;

/// What a fit cannot know: where a movement really begins, s.
const ONSET_IN_DOUBT_S: f64 = 0.03;
/// And that gas does not move as a plug, as a share of the transport.
const SHARE_IN_DOUBT: f64 = 0.15;

/// An answer is followed for this long after it has begun, s, to see how large it is.
const GROWS_S: f64 = 0.25;
/// A movement this soon after another's beginning, s, is the same one.
const SAME_S: f64 = 0.2;

/// Watches for movements and answers.
#[derive(Debug)]
pub(super) struct Transients {
    recent: VecDeque<Sample>,
    open: Option<Open>,
    /// When the last movement that was looked at began.
    last_at_s: f64,
    answers: Vec<Answer>,
}

#[derive(Debug)]
struct Open {
    at_s: f64,
    level: f64,
    leaves: f64,
    pumped: f64,
    turned: f64,
    last_s: f64,
    before: (f64, f64),
    begun: Option<Begun>,
}

/// An answer that has begun.
#[derive(Debug, Clone, Copy)]
struct Begun {
    at_s: f64,
    inverse: f64,
    delay_s: f64,
    /// Which way lambda goes, and how far it has gone.
    way: f64,
    furthest: f64,
}

impl Transients {
    /// Nothing seen yet.
    pub(super) fn new() -> Self {
        Self { recent: VecDeque::new(), open: None, last_at_s: f64::NEG_INFINITY, answers: Vec::new() }
    }

    /// The log breaks off.
    pub(super) fn end(&mut self) {
        self.recent.clear();
        self.open = None;
        self.last_at_s = f64::NEG_INFINITY;
    }

    /// Takes the next row, lambda as it was logged.
    pub(super) fn push(&mut self, s: &Sample) {
        if self.answers.len() >= MOST || s.speed_rpm.is_nan() || s.pumping().is_nan() {
            return;
        }
        if self.open.is_some() {
            self.follow(s);
        } else {
            self.look(s);
        }
        while self.recent.front().is_some_and(|r| s.t_s - r.t_s > LOOK_BACK_S) || self.recent.len() > 8192 {
            self.recent.pop_front();
        }
        self.recent.push_back(*s);
    }

    fn look(&mut self, s: &Sample) {
        let Some(first) = self.recent.front() else { return };
        let (by, still) = match (moved(first, s, |r| r.throttle_pct), moved(first, s, |r| r.vacuum_inhg)) {
            (Some(throttle), _) => (throttle / MOVES_PCT, STILL_PCT / MOVES_PCT),
            (None, Some(vacuum)) => (vacuum / MOVES_INHG, STILL_INHG / MOVES_INHG),
            (None, None) => return,
        };
        if by.abs() < 1.0 || s.t_s - first.t_s < 0.8 * LOOK_BACK_S {
            return;
        }
        // It began to move at the last row still near the first.
        let share = |r: &Sample| {
            moved(first, r, |r| r.throttle_pct)
                .map(|m| m / MOVES_PCT)
                .or_else(|| moved(first, r, |r| r.vacuum_inhg).map(|m| m / MOVES_INHG))
        };
        let began = self.recent.iter().rposition(|r| share(r).is_some_and(|m| m.abs() < still));
        let new = |n: &usize| {
            let at_s = self.recent[*n].t_s;
            at_s - first.t_s > 0.3 && at_s - self.last_at_s > SAME_S
        };
        let Some(began) = began.filter(new) else { return };
        let before: Vec<f64> =
            self.recent.range(..=began).map(|r| r.lambda).filter(|l| (0.5..1.6).contains(l)).collect();
        if before.len() < 5 {
            return;
        }
        let level = before.iter().sum::<f64>() / before.len() as f64;
        let noise = (before.iter().map(|l| (l - level).powi(2)).sum::<f64>() / before.len() as f64).sqrt();
        if noise > 0.03 {
            return;
        }
        let at = self.recent[began];
        self.last_at_s = at.t_s;
        self.open = Some(Open {
            at_s: at.t_s,
            level,
            leaves: LEAVES.max(4.0 * noise),
            pumped: 0.0,
            turned: 0.0,
            last_s: at.t_s,
            before: (at.t_s, 0.0),
            begun: None,
        });
        let catch_up: Vec<Sample> = self.recent.range(began + 1..).copied().collect();
        for row in catch_up.iter().chain([s]) {
            self.follow(row);
        }
    }

    fn follow(&mut self, s: &Sample) {
        let Some(open) = &mut self.open else { return };
        let dt = s.t_s - open.last_s;
        open.pumped += dt * s.pumping();
        open.turned += dt * s.speed_rpm;
        open.last_s = s.t_s;
        let over = s.t_s - open.at_s;
        let off = s.lambda - open.level;
        if let Some(begun) = &mut open.begun {
            if (0.5..1.6).contains(&s.lambda) {
                begun.furthest = begun.furthest.max(off * begun.way);
            }
            if s.t_s - begun.at_s > GROWS_S {
                let share = (open.leaves / begun.furthest).min(0.8);
                self.answers.push(Answer {
                    inverse: begun.inverse,
                    delay_s: begun.delay_s,
                    rise: -(1.0 - share).ln(),
                });
                self.open = None;
            }
            return;
        }
        if over > LATEST_S {
            self.open = None;
            return;
        }
        if !(0.5..1.6).contains(&s.lambda) {
            return;
        }
        if off.abs() < open.leaves {
            open.before = (s.t_s, off.abs());
            return;
        }
        if over <= 0.02 {
            self.open = None;
            return;
        }
        // Where between the two rows it crossed.
        let part = ((open.leaves - open.before.1) / (off.abs() - open.before.1)).clamp(0.0, 1.0);
        let from_s = open.before.0.max(open.at_s);
        let crossed = from_s + part * (s.t_s - from_s);
        let speed = open.turned / over;
        open.begun = Some(Begun {
            at_s: s.t_s,
            inverse: over / open.pumped,
            delay_s: crossed - open.at_s - 90.0 / speed.max(100.0),
            way: off.signum(),
            furthest: off.abs(),
        });
    }

    /// The fit, when there are enough answers that agree.
    pub(super) fn fit(&self, prior: &DelayModel) -> Option<DelayModel> {
        // The sensor's lag holds up even the beginning of an answer, the longer the smaller it is.
        let answers: Vec<Answer> =
            self.answers.iter().map(|a| Answer { delay_s: a.delay_s - prior.lag_s * a.rise, ..*a }).collect();
        let n = answers.len();
        if n < FEWEST {
            return None;
        }
        let mut slopes = Vec::new();
        for (i, a) in answers.iter().enumerate() {
            for b in &answers[i + 1..] {
                let apart = b.inverse - a.inverse;
                if apart.abs() > 0.2 * a.inverse.max(b.inverse) {
                    slopes.push((b.delay_s - a.delay_s) / apart);
                }
            }
        }
        // With flows all alike only the sum is known: the sensor keeps its own, the pipe takes the rest.
        let mut pipe = prior.pipe;
        if slopes.len() >= 2 * n {
            pipe = robust::median(&mut slopes)?.clamp(0.0, 8.0 * prior.pipe);
        }
        let mut rest: Vec<f64> = answers.iter().map(|a| a.delay_s - pipe * a.inverse).collect();
        let mut extra_s = robust::median(&mut rest)?;
        if slopes.len() < 2 * n || extra_s < 0.0 {
            extra_s = extra_s.max(0.0);
            let mut pipes: Vec<f64> = answers.iter().map(|a| (a.delay_s - extra_s) / a.inverse).collect();
            pipe = robust::median(&mut pipes)?.max(0.0);
        }
        let mut misses: Vec<f64> = answers.iter().map(|a| a.delay_s - extra_s - pipe * a.inverse).collect();
        let scatter = robust::spread(&mut misses)?;
        let mut inverses: Vec<f64> = answers.iter().map(|a| a.inverse).collect();
        let spread_of_flow = robust::spread(&mut inverses)?.max(1e-9);
        // The median of n has 1.25 times the error of a mean (normal scatter).
        let sd = 1.25 * scatter / (n as f64).sqrt();
        (scatter < 0.25).then_some(DelayModel {
            source: DelaySource::Fitted,
            lag_s: prior.lag_s,
            extra_s,
            pipe,
            pipe_sd: sd / spread_of_flow,
            extra_sd_s: sd.hypot(ONSET_IN_DOUBT_S),
            pivot: robust::median(&mut inverses)?,
            plug_sd: SHARE_IN_DOUBT * pipe,
            transients: n as u64,
        })
    }
}

/// How far a quantity went between two rows; `None` when either has none.
fn moved(from: &Sample, to: &Sample, what: impl Fn(&Sample) -> f64) -> Option<f64> {
    let by = what(to) - what(from);
    (!by.is_nan()).then_some(by)
}

#[cfg(test)]
mod tests;
