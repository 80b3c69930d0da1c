//! The course of a log: each row meets its own lambda, is put in its regime, judged, and counted.

use super::context::TraceContext;
use super::delay::DelayModel;
use super::events::Happenings;
use super::found::Found;
use super::gather::Kept;
use super::learn::Learnt;
use super::pull::Pulls;
use super::sample::{Pumping, Sample};
use super::segment::{Segment, Segmenter, State};
use super::steady::{Steadiness, Still};
use super::summary::Dropped;
use super::tipin::TipIns;
use crate::setup::Regime;

/// A row is judged this long after it came: by then its regime is settled and its sensor shown stuck or not.
const HOLD_S: f64 = 1.3;
/// Rows waiting at most; a faster logger's rows are judged sooner.
const MOST_WAITING: usize = 1 << 15;
/// Rows are judged so many at a time: it is quicker than one by one. (Counted in rows, never in bytes or pieces: the
/// outcome must not hang on how a log is cut.)
const TOGETHER: usize = 256;
/// Judged rows are cleared away when there are so many.
const CLEARED: usize = 1 << 11;

/// Limits of what is believed (common practice unless said otherwise).
mod limit {
    /// Coolant at operating temperature, degC (160 F).
    pub(super) const WARM_C: f64 = 71.0;
    /// The sensor heats up in this, s.
    pub(super) const SENSOR_HEATS_S: f64 = 30.0;
    /// Believable lambda.
    pub(super) const LAMBDA: std::ops::Range<f64> = 0.5..1.6;
    /// Lambda that does not move for this long, s, while the engine does, is stuck.
    pub(super) const STUCK_S: f64 = 1.0;
    /// Rows at least for that.
    pub(super) const STUCK_ROWS: u32 = 8;
    /// And for this long in any case, s.
    pub(super) const STUCK_ANYWAY_S: f64 = 20.0;
    /// The engine moves when its speed goes by this share meanwhile.
    pub(super) const MOVING_SHARE: f64 = 0.02;
    /// No crankshaft jumps by this, rpm, within 0.2 s.
    pub(super) const JUMP_RPM: f64 = 1500.0;
    /// Leaner than this under high vacuum does not burn.
    pub(super) const MISFIRE: f64 = 1.25;
    /// High vacuum, inHg.
    pub(super) const HIGH_INHG: f64 = 10.0;
}

/// A row waiting to be judged.
#[derive(Debug, Clone, Copy)]
struct Waiting {
    s: Sample,
    /// When its lambda arrives.
    due_s: f64,
    /// Its own lambda, once there.
    lambda: f64,
    /// Time it stands for.
    dt_s: f64,
    opening_pct_s: f64,
    block: u32,
    state: State,
    jumped: bool,
    stuck: bool,
}

/// The run of equal lambda readings under way.
#[derive(Debug, Clone, Copy)]
struct Run {
    value: f64,
    since_s: f64,
    rows: u32,
    slowest: f64,
    fastest: f64,
    stuck: bool,
}

/// The course of one log.
#[derive(Debug)]
pub(super) struct Course {
    delay: DelayModel,
    pumping: Pumping,
    segmenter: Segmenter,
    steady: Steadiness,
    /// Rows in order. Up to `judged` they are done with; up to `ripe` they can be judged; up to `matched` they have
    /// their lambda.
    rows: Vec<Waiting>,
    judged: usize,
    ripe: usize,
    matched: usize,
    /// Time and speed of the last row.
    last: Option<(f64, f64)>,
    due_s: f64,
    run: Run,
    first_s: f64,
    cold_start: bool,
    coolant_c: f64,
    longest_step_s: f64,
    tips: TipIns,
    pulls: Pulls,
    happenings: Happenings,
    pub(super) found: Found,
}

impl Course {
    /// With what was learnt.
    pub(super) fn new(ctx: &TraceContext, pumping: Pumping, learnt: &Learnt) -> Self {
        Self {
            delay: learnt.delay,
            pumping,
            segmenter: Segmenter::new(learnt.borders),
            steady: Steadiness::new(),
            rows: Vec::with_capacity(2 * CLEARED),
            judged: 0,
            ripe: 0,
            matched: 0,
            last: None,
            due_s: f64::NEG_INFINITY,
            run: Run { value: f64::NAN, since_s: 0.0, rows: 0, slowest: 0.0, fastest: 0.0, stuck: false },
            first_s: f64::NAN,
            cold_start: learnt.first_coolant_c.is_none_or(|c| c < 50.0),
            coolant_c: f64::NAN,
            longest_step_s: (10.0 * learnt.period_s).max(0.5),
            tips: TipIns::default(),
            pulls: Pulls::default(),
            happenings: Happenings::new(learnt.borders),
            found: Found::new(ctx.enrichment_opening.map(crate::units::Vacuum::as_inhg)),
        }
    }

    /// Takes the next row. `anew`: it is not connected with the one before.
    #[inline]
    pub(super) fn push(&mut self, s: &Sample, anew: bool) {
        let (step, jump) = self.last.map_or((0.0, 0.0), |last| (s.t_s - last.0, s.speed_rpm - last.1));
        let apart = anew || step > self.longest_step_s;
        if self.last.is_none() {
            self.first_s = s.t_s;
            self.found.first_s = Some(s.t_s);
        } else if apart {
            self.break_off();
        } else {
            self.found.covered_s += step;
        }
        self.last = Some((s.t_s, s.speed_rpm));
        self.found.last_s = s.t_s;
        if let Some(segment) = self.segmenter.push(s) {
            self.settle(&segment);
        }
        self.lambda_arrives(s);
        let block = self.steady.push(s);
        // Gas does not overtake gas.
        let due_s = s.t_s + self.delay.at(s);
        self.due_s = if due_s > self.due_s { due_s } else { self.due_s };
        self.rows.push(Waiting {
            s: *s,
            due_s: self.due_s,
            lambda: f64::NAN,
            dt_s: if apart { 0.0 } else { step },
            opening_pct_s: self.segmenter.opening_pct_s,
            block,
            state: self.segmenter.state(),
            jumped: jump.abs() > limit::JUMP_RPM && step < 0.2,
            stuck: false,
        });
        self.ripen(s.t_s);
    }

    /// Rows that are old enough can be judged; when there are enough of those, they are.
    #[inline]
    fn ripen(&mut self, now_s: f64) {
        let too_many = |ripe: usize, all: usize| all - ripe > MOST_WAITING;
        while self.ripe < self.matched
            && (self.rows[self.ripe].s.t_s + HOLD_S <= now_s || too_many(self.ripe, self.rows.len()))
        {
            self.ripe += 1;
        }
        if too_many(self.ripe, self.rows.len()) {
            // No lambda yet for a row this old: it goes without.
            self.ripe += 1;
            self.matched = self.matched.max(self.ripe);
        }
        if self.ripe - self.judged >= TOGETHER {
            self.judge_ripe();
        }
    }

    #[inline(never)]
    fn judge_ripe(&mut self) {
        let mut rows = std::mem::take(&mut self.rows);
        for (place, row) in rows.iter().enumerate().take(self.ripe).skip(self.judged) {
            self.judge(row, place < self.matched);
        }
        self.judged = self.ripe;
        if self.judged >= CLEARED {
            rows.drain(..self.judged);
            // At a hole rows are judged that never met their lambda.
            self.matched = self.matched.saturating_sub(self.judged);
            self.ripe = 0;
            self.judged = 0;
        }
        self.rows = rows;
    }

    /// A segment ended: rows from its end on belong to the new state.
    fn settle(&mut self, segment: &Segment) {
        self.found.gathered.segment(segment);
        let state = self.segmenter.state();
        for waiting in self.rows[self.ripe..].iter_mut().rev() {
            if waiting.s.t_s < segment.to_s {
                break;
            }
            waiting.state = state;
        }
    }

    /// Rows whose gas is at the sensor now get its reading.
    #[inline]
    fn lambda_arrives(&mut self, s: &Sample) {
        self.follow_run(s);
        while let Some(waiting) = self.rows.get_mut(self.matched) {
            if waiting.due_s > s.t_s {
                break;
            }
            waiting.lambda = s.lambda;
            waiting.stuck = self.run.stuck;
            self.matched += 1;
        }
    }

    #[inline]
    fn follow_run(&mut self, s: &Sample) {
        let run = &mut self.run;
        if s.lambda != run.value {
            *run = Run {
                value: s.lambda,
                since_s: s.t_s,
                rows: 1,
                slowest: s.speed_rpm,
                fastest: s.speed_rpm,
                stuck: false,
            };
            return;
        }
        run.rows += 1;
        run.slowest = run.slowest.min(s.speed_rpm);
        run.fastest = run.fastest.max(s.speed_rpm);
        let over = s.t_s - run.since_s;
        let moving = run.fastest - run.slowest > limit::MOVING_SHARE * run.fastest;
        if !run.stuck
            && run.rows >= limit::STUCK_ROWS
            && ((over > limit::STUCK_S && moving) || over > limit::STUCK_ANYWAY_S)
        {
            run.stuck = true;
            let since = run.since_s;
            self.rows[self.ripe..self.matched]
                .iter_mut()
                .filter(|w| w.due_s >= since)
                .for_each(|w| w.stuck = true);
        }
    }

    /// The log has a hole or an end here: what waits is judged as it is.
    fn break_off(&mut self) {
        self.steady.end();
        if let Some(segment) = self.segmenter.end() {
            self.found.gathered.segment(&segment);
        }
        self.ripe = self.rows.len();
        self.judge_ripe();
        self.rows.clear();
        (self.judged, self.ripe, self.matched) = (0, 0, 0);
        self.due_s = f64::NEG_INFINITY;
        self.run.value = f64::NAN;
        let tip = self.tips.end();
        self.found.tip_in(tip);
        let pull = self.pulls.end();
        self.found.pull(pull);
        self.happenings.end(&mut self.found.events, &mut self.found.event_counts);
    }

    /// The log is at its end.
    pub(super) fn finish(mut self) -> Found {
        if self.last.is_some() {
            self.break_off();
        }
        self.found
    }

    #[inline]
    fn judge(&mut self, w: &Waiting, arrived: bool) {
        if !w.s.coolant_c.is_nan() {
            self.coolant_c = w.s.coolant_c;
        }
        let still = self.steady.at(w.block);
        let reason = self.reason(w, still, arrived);
        self.found.judged += 1;
        let believed = limit::LAMBDA.contains(&w.lambda) && !w.stuck;
        let State::In(regime) = w.state else {
            self.drop(reason.unwrap_or(Dropped::Stopped));
            self.follow(w, None, f64::NAN);
            return;
        };
        self.found.running += 1;
        self.found.believable += u64::from(believed);
        self.follow(w, Some(regime), if believed { w.lambda } else { f64::NAN });
        if let Some(reason) = reason {
            self.drop(reason);
            if believed && matches!(reason, Dropped::Overrun | Dropped::Transient) {
                self.found.gathered.shown(regime, w.lambda);
            }
            return;
        }
        self.found.kept += 1;
        if !w.s.lambda_2.is_nan() && !w.s.lambda.is_nan() {
            self.found.bank_difference.push(w.s.lambda_2 - w.s.lambda);
        }
        let metered = !w.s.meter_g_s.is_nan();
        let g_s = if metered { Some(w.s.meter_g_s) } else { self.pumping.g_s.map(|k| k * w.s.pumping()) };
        let share = match (metered, self.pumping.share_of_g_s) {
            (true, Some(of)) => w.s.meter_g_s * of,
            _ => w.s.pumping() * self.pumping.share,
        };
        let kept = Kept {
            regime,
            lambda: w.lambda,
            share,
            air_flow_g_s: g_s.filter(|g| g.is_finite()),
            dt_s: w.dt_s,
        };
        self.found.gathered.keep(&w.s, kept);
    }

    /// What is measured along the way, whether rows are kept or not.
    fn follow(&mut self, w: &Waiting, regime: Option<Regime>, lambda: f64) {
        let inside = regime == Some(Regime::TipIn);
        if self.tips.follow(inside) {
            let row = [w.s.t_s, w.s.throttle_pct, w.s.speed_rpm, lambda];
            let tip = self.tips.push(inside, row, w.opening_pct_s);
            self.found.tip_in(tip);
        }
        let inside = regime == Some(Regime::FullThrottle);
        if self.pulls.follow(inside) {
            let pull = self.pulls.push(inside, &w.s, lambda);
            self.found.pull(pull);
        }
        self.happenings.push(&w.s, regime, lambda, &mut self.found.events, &mut self.found.event_counts);
    }

    fn drop(&mut self, reason: Dropped) {
        self.found.dropped[reason as usize] += 1;
    }

    /// The first reason that applies, in the order in which [`Dropped`] lists them.
    fn reason(&self, w: &Waiting, still: Still, arrived: bool) -> Option<Dropped> {
        let s = &w.s;
        let regime = match w.state {
            State::Unknown => return Some(Dropped::Incomplete),
            State::Stopped => return Some(Dropped::Stopped),
            State::In(regime) => regime,
        };
        let cold = self.coolant_c < limit::WARM_C;
        let heating = self.cold_start && s.t_s - self.first_s < limit::SENSOR_HEATS_S;
        if w.jumped {
            Some(Dropped::TachNoise)
        } else if s.vacuum_inhg < -1.5 || s.manifold_kpa < 3.0 {
            Some(Dropped::PressureImplausible)
        } else if cold {
            Some(Dropped::WarmUp)
        } else if heating {
            Some(Dropped::SensorWarmUp)
        } else if !arrived {
            Some(Dropped::Gap)
        } else if w.lambda.is_nan() {
            Some(Dropped::NoLambda)
        } else if !limit::LAMBDA.contains(&w.lambda) {
            Some(Dropped::SensorRange)
        } else if w.stuck {
            Some(Dropped::SensorStuck)
        } else if regime == Regime::Overrun {
            Some(Dropped::Overrun)
        } else if regime == Regime::TipIn {
            Some(Dropped::Transient)
        } else if w.lambda > limit::MISFIRE && s.vacuum_inhg > limit::HIGH_INHG {
            Some(Dropped::MisfireOrLeak)
        } else {
            let steady = match regime {
                Regime::FullThrottle => still.throttle,
                Regime::Idle => still.idle,
                _ => still.cruise,
            };
            (!steady).then_some(Dropped::Unsteady)
        }
    }
}

#[cfg(test)]
mod tests;
