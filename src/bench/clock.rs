//! Time as it passes.

use crate::units::TimeSpan;
use std::time::Instant;

/// A clock that only runs forward, from when it was started.
#[derive(Debug, Clone, Copy)]
pub struct Stopwatch(Instant);

impl Stopwatch {
    /// Starts at zero.
    #[expect(clippy::disallowed_methods, reason = "this is the door through which time comes in")]
    pub fn start() -> Self {
        Self(Instant::now())
    }

    /// Time since then.
    pub fn now(self) -> TimeSpan {
        TimeSpan::from_s(self.0.elapsed().as_secs_f64())
    }
}
