//! Numbers of what a part usually does.

use super::Span;
use crate::setup::{PartPath, Regime};
use crate::units::{Fraction, Length};
use serde::{Deserialize, Serialize};

/// What one step of a part usually does to the fuel of each regime, richer positive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EffectRow {
    /// Which part.
    pub part: PartPath,
    /// Bore before the step.
    pub from: Length,
    /// Bore after it.
    pub to: Length,
    /// Just off idle.
    pub off_idle: Span<Fraction>,
    /// Light cruise.
    pub cruise: Span<Fraction>,
    /// Heavy cruise.
    pub heavy_cruise: Span<Fraction>,
    /// Full throttle, over all speeds.
    pub full_throttle: Span<Fraction>,
}

impl EffectRow {
    /// The column of a regime; `None` for those the table has none for.
    pub fn of(&self, regime: Regime) -> Option<Span<Fraction>> {
        match regime {
            Regime::OffIdle => Some(self.off_idle),
            Regime::Cruise => Some(self.cruise),
            Regime::HeavyCruise => Some(self.heavy_cruise),
            Regime::FullThrottle => Some(self.full_throttle),
            Regime::Idle | Regime::TipIn | Regime::Overrun => None,
        }
    }
}

/// What parts usually do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EffectNumbers {
    /// The table.
    pub row: Vec<EffectRow>,
}

impl EffectNumbers {
    pub(super) fn flaw(&self) -> Option<String> {
        let bad = self.row.iter().find(|r| r.from <= Length::ZERO || r.to <= r.from);
        bad.map(|r| format!("effects.row for {}: from must be above zero and below to", r.part))
    }
}
