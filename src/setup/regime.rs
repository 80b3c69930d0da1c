//! The regimes an engine runs in, in the words of the trade.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A way of running that is metered by its own mix of circuits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Regime {
    /// Throttle on its stop.
    Idle,
    /// Just off the stop: the transition slot.
    OffIdle,
    /// Steady part throttle.
    Cruise,
    /// Steady, heavier: just above the enrichment opening.
    HeavyCruise,
    /// Throttle opening quickly.
    TipIn,
    /// Throttle wide open.
    FullThrottle,
    /// Throttle shut, engine driven.
    Overrun,
}

impl Regime {
    /// All of them, from the lightest load up, overrun last.
    pub const ALL: [Regime; 7] = [
        Regime::Idle,
        Regime::OffIdle,
        Regime::Cruise,
        Regime::HeavyCruise,
        Regime::TipIn,
        Regime::FullThrottle,
        Regime::Overrun,
    ];

    /// Its name in files and JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Regime::Idle => "idle",
            Regime::OffIdle => "off-idle",
            Regime::Cruise => "cruise",
            Regime::HeavyCruise => "heavy-cruise",
            Regime::TipIn => "tip-in",
            Regime::FullThrottle => "full-throttle",
            Regime::Overrun => "overrun",
        }
    }

    /// Its name in a sentence.
    pub const fn said(self) -> &'static str {
        match self {
            Regime::Idle => "idle",
            Regime::OffIdle => "off idle",
            Regime::Cruise => "cruise",
            Regime::HeavyCruise => "heavy cruise",
            Regime::TipIn => "tip-in",
            Regime::FullThrottle => "full throttle",
            Regime::Overrun => "overrun",
        }
    }
}

impl fmt::Display for Regime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
