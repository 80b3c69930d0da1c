//! Watches a live line: the lean alarm first, then what is wrong with the line, then what it shows.

use super::super::context::TraceContext;
use super::super::segment::{Borders, Segmenter, State};
use super::super::settle::{Needle, Settle, Settled};
use super::super::steady::Steadiness;
use super::meter::Meter;
use super::rows::LiveRow;
use crate::setup::Regime;
use crate::units::{EngineSpeed, Lambda, TimeSpan, Vacuum};

/// Limits of the lean alarm, from the rules.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alarms {
    /// Leaner than this at load is warned of.
    pub warn: Lambda,
    /// Leaner than this at load: close the throttle.
    pub stop: Lambda,
    /// For longer than this.
    pub longer_than: TimeSpan,
}

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum AlarmLevel {
    /// Beyond the warning.
    Warn,
    /// Beyond the stop.
    Stop,
}

/// What has to be said.
#[derive(Debug, Clone, PartialEq)]
pub enum Say {
    /// Lean at load.
    Lean {
        /// How bad.
        level: AlarmLevel,
        /// The reading.
        lambda: Lambda,
        /// The limit it passed.
        limit: Lambda,
    },
    /// The lean alarm is over.
    LeanOver,
    /// Lambda does not move while the engine does.
    SensorStuck {
        /// Where it stands.
        lambda: Lambda,
    },
    /// Lambda moves again.
    SensorMoves,
    /// No row for this long.
    Stalled {
        /// How long.
        since: TimeSpan,
    },
    /// Rows come again.
    Resumed {
        /// After this long.
        after: TimeSpan,
    },
    /// Vacuum and speed stand.
    Settled {
        /// Mean vacuum.
        vacuum: Option<Vacuum>,
        /// Mean speed.
        speed: Option<EngineSpeed>,
    },
    /// The logger's own clock went back, or leapt.
    ClockJumped {
        /// Where it stood.
        from: TimeSpan,
        /// Where it stands now.
        to: TimeSpan,
    },
    /// Another regime.
    Regime(Regime),
}

/// A line that sends nothing for longer than this has stalled.
const STALL_S: f64 = 3.0;
/// Lambda that stands for longer than this, while the speed goes by 2 %, is stuck.
const STUCK_S: f64 = 2.0;
/// A vacuum below this, inHg, is load where nothing else is known.
const LOAD_INHG: f64 = 5.0;
/// So is a throttle beyond this, %.
const LOAD_PCT: f64 = 60.0;
/// The logger's clock has leapt when it went on by this much more than ours.
const LEAP_S: f64 = 5.0;
/// A clock that keeps jumping is said so often.
const JUMPS_SAID_EVERY_S: f64 = 10.0;
/// Readings settle over this.
const SETTLES_OVER_S: f64 = 5.0;

/// Follows a live line.
#[derive(Debug)]
pub struct Monitor {
    alarms: Option<Alarms>,
    load_inhg: f64,
    segmenter: Segmenter,
    steady: Steadiness,
    settle: Settle,
    meter: Meter,
    last_row_s: Option<f64>,
    stalled: bool,
    lean_since: [Option<f64>; 2],
    said: Option<AlarmLevel>,
    over_since: Option<f64>,
    run: Run,
    settled: bool,
    regime: Option<Regime>,
    /// The logger's time of the last row that had one, and ours.
    clocks: Option<(f64, f64)>,
    jump_said_s: f64,
}

#[derive(Debug, Clone, Copy)]
struct Run {
    lambda: f64,
    since_s: f64,
    slowest: f64,
    fastest: f64,
    said: bool,
}

impl Monitor {
    /// With what is known of the job; without alarms when no limits are known.
    pub fn new(ctx: &TraceContext, alarms: Option<Alarms>) -> Self {
        let opening = ctx.enrichment_opening.map_or(LOAD_INHG, Vacuum::as_inhg);
        let borders = Borders {
            closed_pct: 0.0,
            open_pct: 90.0,
            idle_rpm: ctx.idle_speed.map_or(800.0, EngineSpeed::as_rpm),
            idle_inhg: 15.0,
            heavy_inhg: ctx.enrichment_opening.map_or(8.0, |o| o.as_inhg() + 3.0),
            throttle: true,
        };
        Self {
            alarms,
            load_inhg: opening.clamp(2.0, LOAD_INHG),
            segmenter: Segmenter::new(borders),
            steady: Steadiness::new(),
            settle: Settle::over(TimeSpan::from_s(SETTLES_OVER_S)),
            meter: Meter::new(),
            last_row_s: None,
            stalled: false,
            lean_since: [None; 2],
            said: None,
            over_since: None,
            run: Run { lambda: f64::NAN, since_s: 0.0, slowest: 0.0, fastest: 0.0, said: false },
            settled: false,
            regime: None,
            clocks: None,
            jump_said_s: f64::NEG_INFINITY,
        }
    }

    /// Takes a row that came at `at` (our clock, which runs even when the logger's does not). What must be said first
    /// comes first.
    pub fn push(&mut self, at: TimeSpan, row: &LiveRow) -> Vec<Say> {
        let now = at.as_s();
        let mut say = Vec::new();
        self.lean(now, row, &mut say);
        if let Some(last) = self.last_row_s.filter(|_| self.stalled) {
            say.push(Say::Resumed { after: TimeSpan::from_s(now - last) });
            self.stalled = false;
        }
        self.stuck(now, row, &mut say);
        self.clock(now, row, &mut say);
        let stands_for = self.last_row_s.map_or(0.0, |last| (now - last).clamp(0.0, 1.0));
        self.last_row_s = Some(now);
        let sample = super::super::sample::Sample { t_s: now, ..row.sample };
        self.segmenter.push(&sample);
        let block = self.steady.push(&sample);
        let regime = match self.segmenter.state() {
            State::In(regime) => Some(regime),
            State::Stopped | State::Unknown => None,
        };
        let still = self.steady.at(block.wrapping_sub(1));
        let good = row.lambda.is_some()
            && !self.run.said
            && if regime == Some(Regime::FullThrottle) { still.throttle } else { still.idle };
        self.meter.count(regime.filter(|_| good), TimeSpan::from_s(stands_for));
        if let Some(now_in) = regime.filter(|_| regime != self.regime) {
            say.push(Say::Regime(now_in));
        }
        self.regime = regime;
        self.settle.push(at, row.vacuum, row.speed);
        let settled = self.settle.settled();
        if let Settled::Yes { vacuum, speed } = settled
            && !self.settled
        {
            say.push(Say::Settled { vacuum, speed });
        }
        self.settled = matches!(settled, Settled::Yes { .. });
        say
    }

    /// Time goes on without a row.
    pub fn tick(&mut self, at: TimeSpan) -> Option<Say> {
        let since = at.as_s() - self.last_row_s?;
        if since < STALL_S || self.stalled {
            return None;
        }
        self.stalled = true;
        self.settle.clear();
        self.settled = false;
        self.lean_since = [None; 2];
        Some(Say::Stalled { since: TimeSpan::from_s(since) })
    }

    /// Whether the readings stand now.
    pub fn settled(&self) -> Settled {
        self.settle.settled()
    }

    /// How the needle behaves.
    pub fn needle(&self) -> Option<Needle> {
        self.settle.needle()
    }

    /// The regime now.
    pub fn regime(&self) -> Option<Regime> {
        self.regime
    }

    /// What each regime has and lacks.
    pub fn meter(&self) -> &Meter {
        &self.meter
    }

    /// The level of the lean alarm now.
    pub fn alarm(&self) -> Option<AlarmLevel> {
        self.said
    }

    /// Whether the row is at load: the throttle far open, or little vacuum left with the engine running.
    fn at_load(&self, row: &LiveRow) -> bool {
        let running = row.speed.is_none_or(|s| s.as_rpm() > 500.0);
        let by_throttle = row.throttle.is_some_and(|t| t.as_percent() > LOAD_PCT);
        let by_vacuum = row.vacuum.is_some_and(|v| v.as_inhg() < self.load_inhg);
        running && (by_throttle || by_vacuum)
    }

    fn lean(&mut self, now: f64, row: &LiveRow, say: &mut Vec<Say>) {
        let (Some(alarms), Some(lambda)) = (self.alarms, row.lambda) else { return };
        let load = self.at_load(row);
        let limits = [(AlarmLevel::Warn, alarms.warn), (AlarmLevel::Stop, alarms.stop)];
        for ((level, limit), since) in limits.into_iter().zip(&mut self.lean_since) {
            if !(load && lambda > limit) {
                *since = None;
                continue;
            }
            let began = *since.get_or_insert(now);
            if now - began > alarms.longer_than.as_s() && self.said.is_none_or(|said| said < level) {
                self.said = Some(level);
                self.over_since = None;
                say.retain(|s| !matches!(s, Say::Lean { .. }));
                say.push(Say::Lean { level, lambda, limit });
            }
        }
        let lean_now = load && lambda > alarms.warn;
        if self.said.is_some() && !lean_now {
            // Over only when it stays over: an alarm that flutters is not heard.
            let since = *self.over_since.get_or_insert(now);
            if now - since > 1.0 {
                self.said = None;
                self.over_since = None;
                say.push(Say::LeanOver);
            }
        } else {
            self.over_since = None;
        }
    }

    /// Readings go by our clock; what the logger's does is only said.
    fn clock(&mut self, now: f64, row: &LiveRow, say: &mut Vec<Say>) {
        let logged = row.sample.t_s;
        if logged.is_nan() {
            return;
        }
        let before = self.clocks.replace((logged, now));
        let Some((from, was)) = before else { return };
        let jumped = logged < from || logged - from > now - was + LEAP_S;
        if jumped && now - self.jump_said_s >= JUMPS_SAID_EVERY_S {
            self.jump_said_s = now;
            say.push(Say::ClockJumped { from: TimeSpan::from_s(from), to: TimeSpan::from_s(logged) });
        }
    }

    fn stuck(&mut self, now: f64, row: &LiveRow, say: &mut Vec<Say>) {
        let (lambda, speed) = (row.sample.lambda, row.sample.speed_rpm);
        if lambda.is_nan() {
            return;
        }
        if lambda != self.run.lambda {
            if self.run.said {
                say.push(Say::SensorMoves);
            }
            self.run = Run { lambda, since_s: now, slowest: speed, fastest: speed, said: false };
            return;
        }
        self.run.slowest = self.run.slowest.min(speed);
        self.run.fastest = self.run.fastest.max(speed);
        let moved = self.run.fastest - self.run.slowest > 0.02 * self.run.fastest;
        if !self.run.said && moved && now - self.run.since_s > STUCK_S {
            self.run.said = true;
            say.push(Say::SensorStuck { lambda: Lambda::from_ratio(lambda) });
        }
    }
}
