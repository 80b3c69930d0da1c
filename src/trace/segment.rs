//! Which regime the engine is in, with hysteresis and dwell: one state at a time, without gap or overlap.

use super::sample::Sample;
use crate::setup::Regime;

/// What the engine is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    /// It stands, or is cranked.
    Stopped,
    /// The row does not tell.
    Unknown,
    /// It runs.
    In(Regime),
}

/// Where one regime ends and the next begins, for this engine and this log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Borders {
    /// Throttle on its stop.
    pub(super) closed_pct: f64,
    /// Throttle wide open from here.
    pub(super) open_pct: f64,
    /// Curb idle.
    pub(super) idle_rpm: f64,
    /// Vacuum at curb idle, when there is any.
    pub(super) idle_inhg: f64,
    /// Below this vacuum a part throttle is heavy.
    pub(super) heavy_inhg: f64,
    /// The log has a throttle column.
    pub(super) throttle: bool,
}

/// Below this the engine is standing or being cranked (common practice).
const RUNNING_RPM: f64 = 300.0;
/// A throttle opening faster than this is a tip-in (common practice: 20 % a second).
const TIP_IN_PCT_S: f64 = 20.0;
/// As fast a fall of vacuum stands for it where no throttle is logged.
const TIP_IN_INHG_S: f64 = 12.0;
/// A tip-in goes on this long after the throttle has stopped opening: the mixture is still finding its level.
const AFTER_TIP_IN_S: f64 = 0.8;
/// A new regime must last this long to be one.
pub(super) const DWELL_S: f64 = 0.3;
/// The opening of the throttle is measured over this time.
const RATE_OVER_S: f64 = 0.1;

/// A stretch in one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Segment {
    /// Which.
    pub(super) state: State,
    /// From, by the log's clock.
    pub(super) from_s: f64,
    /// To.
    pub(super) to_s: f64,
}

/// Follows the state row by row.
#[derive(Debug, Clone)]
pub(super) struct Segmenter {
    borders: Borders,
    state: State,
    since_s: f64,
    last_s: f64,
    candidate: Option<(State, f64)>,
    tip_until_s: f64,
    anchors: [(f64, f64); 2],
    running: bool,
    started: bool,
    /// Fastest opening now, in %/s.
    pub(super) opening_pct_s: f64,
}

impl Segmenter {
    /// With these borders.
    pub(super) fn new(borders: Borders) -> Self {
        Self {
            borders,
            state: State::Unknown,
            since_s: 0.0,
            last_s: 0.0,
            candidate: None,
            tip_until_s: f64::NEG_INFINITY,
            anchors: [(f64::NEG_INFINITY, f64::NAN); 2],
            running: false,
            started: false,
            opening_pct_s: 0.0,
        }
    }

    /// The state as far as it is settled.
    pub(super) fn state(&self) -> State {
        self.state
    }

    /// Takes a row. When a new state is settled, gives the segment that ended; the new one began where that ends.
    #[inline]
    pub(super) fn push(&mut self, s: &Sample) -> Option<Segment> {
        if !self.started {
            self.started = true;
            self.since_s = s.t_s;
            self.last_s = s.t_s;
            self.opening(s);
            self.state = self.classify(s);
            return None;
        }
        self.last_s = s.t_s;
        let opening = self.opening(s);
        let now = if opening { State::In(Regime::TipIn) } else { self.classify(s) };
        if now == self.state {
            self.candidate = None;
            return None;
        }
        if opening {
            // The throttle began to move up to the measuring time ago.
            return Some(self.change(now, self.anchors[0].0.max(self.since_s)));
        }
        match self.candidate {
            Some((state, from)) if state == now => (s.t_s - from >= DWELL_S).then(|| self.change(now, from)),
            _ => {
                self.candidate = Some((now, s.t_s));
                None
            }
        }
    }

    /// The log breaks off: the last segment. The next row begins afresh.
    pub(super) fn end(&mut self) -> Option<Segment> {
        let last =
            self.started.then_some(Segment { state: self.state, from_s: self.since_s, to_s: self.last_s });
        *self = Self { running: self.running, ..Self::new(self.borders) };
        last
    }

    fn change(&mut self, to: State, at_s: f64) -> Segment {
        let ended = Segment { state: self.state, from_s: self.since_s, to_s: at_s };
        self.state = to;
        self.since_s = at_s;
        self.candidate = None;
        ended
    }

    /// Whether the throttle is opening quickly, or was a moment ago.
    fn opening(&mut self, s: &Sample) -> bool {
        let (value, limit) = if self.borders.throttle {
            (s.throttle_pct, TIP_IN_PCT_S)
        } else {
            (-s.vacuum_inhg, TIP_IN_INHG_S)
        };
        if value.is_nan() {
            return s.t_s < self.tip_until_s;
        }
        let (then, before) = self.anchors[0];
        let over = s.t_s - then;
        self.opening_pct_s = if before.is_nan() || over <= 0.0 { 0.0 } else { (value - before) / over };
        let running = self.running || s.speed_rpm > RUNNING_RPM;
        if running && over < 1.0 && self.opening_pct_s > limit && value - before > 0.1 * limit {
            self.tip_until_s = s.t_s + AFTER_TIP_IN_S;
        }
        if s.t_s - self.anchors[1].0 >= RATE_OVER_S {
            self.anchors = [self.anchors[1], (s.t_s, value)];
            if self.anchors[0].1.is_nan() {
                self.anchors[0] = self.anchors[1];
            }
        }
        s.t_s < self.tip_until_s
    }

    fn classify(&mut self, s: &Sample) -> State {
        let b = &self.borders;
        if s.speed_rpm.is_nan() || (s.throttle_pct.is_nan() && s.vacuum_inhg.is_nan()) {
            return State::Unknown;
        }
        self.running = s.speed_rpm > if self.running { RUNNING_RPM } else { RUNNING_RPM + 50.0 };
        if !self.running {
            return State::Stopped;
        }
        let was = |regime| self.state == State::In(regime);
        let regime = if s.throttle_pct.is_nan() { by_vacuum(b, s, was) } else { by_throttle(b, s, was) };
        State::In(regime)
    }
}

/// With some give for the regime that already is, so that a needle on the border does not flutter.
fn by_throttle(b: &Borders, s: &Sample, was: impl Fn(Regime) -> bool) -> Regime {
    let give = |regime, amount: f64| if was(regime) { amount } else { 0.0 };
    let shut_give = give(Regime::Idle, 0.8).max(give(Regime::Overrun, 0.8));
    if s.throttle_pct >= b.open_pct - give(Regime::FullThrottle, 5.0) {
        Regime::FullThrottle
    } else if s.throttle_pct <= b.closed_pct + 1.2 + shut_give {
        if s.speed_rpm > b.idle_rpm + 400.0 - give(Regime::Overrun, 150.0) {
            Regime::Overrun
        } else {
            Regime::Idle
        }
    } else if s.throttle_pct <= b.closed_pct + 9.0 + give(Regime::OffIdle, 1.0) {
        Regime::OffIdle
    } else if is_heavy(b, s, give(Regime::HeavyCruise, 0.7)) {
        Regime::HeavyCruise
    } else {
        Regime::Cruise
    }
}

fn is_heavy(b: &Borders, s: &Sample, give: f64) -> bool {
    if s.vacuum_inhg.is_nan() {
        s.throttle_pct > 45.0 - 5.0 * give
    } else {
        s.vacuum_inhg < b.heavy_inhg + give
    }
}

fn by_vacuum(b: &Borders, s: &Sample, was: impl Fn(Regime) -> bool) -> Regime {
    let give = |regime, amount: f64| if was(regime) { amount } else { 0.0 };
    if s.vacuum_inhg <= 2.0 + give(Regime::FullThrottle, 1.0) {
        Regime::FullThrottle
    } else if s.speed_rpm > b.idle_rpm + 400.0 - give(Regime::Overrun, 150.0)
        && s.vacuum_inhg > b.idle_inhg + 1.5 - give(Regime::Overrun, 0.7)
    {
        Regime::Overrun
    } else if s.speed_rpm < b.idle_rpm + 250.0 + give(Regime::Idle, 50.0)
        && s.vacuum_inhg > 0.7 * b.idle_inhg - give(Regime::Idle, 0.7)
    {
        Regime::Idle
    } else if is_heavy(b, s, give(Regime::HeavyCruise, 0.7)) {
        Regime::HeavyCruise
    } else {
        Regime::Cruise
    }
}

#[cfg(test)]
pub(super) mod tests;
