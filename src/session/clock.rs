//! The time stamped on records. Order is never taken from it: order is the index.

use jiff::Timestamp;
use std::time::{Duration, Instant};

/// Where the journal's two times come from.
pub trait Clock {
    /// Time of day, a label only: it may be set, may jump, may run backwards.
    fn wall(&self) -> Timestamp;
    /// Time since this run of the program began recording; never runs backwards, may stand still in sleep.
    fn up(&self) -> Duration;
}

/// The computer's own clocks.
#[derive(Debug)]
pub struct SystemClock {
    began: Instant,
}

impl SystemClock {
    /// A clock whose run begins now.
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the session's envelope: the one place it takes time"
    )]
    pub fn start() -> Self {
        SystemClock { began: Instant::now() }
    }
}

impl Clock for SystemClock {
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the session's envelope: the one place it takes time"
    )]
    fn wall(&self) -> Timestamp {
        // A clock outside the calendar (before -9999, after 9999) is labelled with the epoch rather than refused.
        Timestamp::try_from(std::time::SystemTime::now()).unwrap_or(Timestamp::UNIX_EPOCH)
    }

    fn up(&self) -> Duration {
        self.began.elapsed()
    }
}

/// A scripted clock: each look moves it on by one step. For simulators and golden files.
#[derive(Debug)]
pub struct StepClock {
    start: Timestamp,
    step: Duration,
    looks: std::cell::Cell<u32>,
}

impl StepClock {
    /// Starts at `start`; every recorded line is `step` later than the one before.
    pub fn new(start: Timestamp, step: Duration) -> Self {
        StepClock { start, step, looks: std::cell::Cell::new(0) }
    }
}

impl Clock for StepClock {
    fn wall(&self) -> Timestamp {
        self.start.checked_add(self.up()).unwrap_or(self.start)
    }

    fn up(&self) -> Duration {
        let looks = self.looks.get();
        self.looks.set(looks.saturating_add(1));
        self.step.saturating_mul(looks)
    }
}
