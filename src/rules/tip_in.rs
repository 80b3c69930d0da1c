//! How lean and how long a throttle opened quickly may be.
#![doc = "\n"]
#![doc = include_str!("why/tip-in.md")]

use super::book::{RuleBook, Span};
use super::border::{above, below};
use super::targets::uses;
use crate::setup::{Application, Cooling, FuelFamily};
use crate::units::{Lambda, TimeSpan};
use serde::{Deserialize, Serialize};

/// What a tip-in may do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TipInLimits {
    /// The leanest it may get.
    pub peak: Lambda,
    /// For no longer than this (time above the settled band).
    pub no_longer_than: TimeSpan,
    /// Where it settles.
    pub settle: Span<Lambda>,
    /// Throttle opening faster than this, per cent of travel a second, counts.
    pub throttle_rate_percent_per_s: f64,
}

/// What a tip-in did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TipInSeen {
    /// The leanest it got.
    pub peak: Lambda,
    /// For how long it was above the settled band.
    pub lasted: TimeSpan,
    /// Where it settled.
    pub settled: Lambda,
}

/// What is wrong with a tip-in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TipInFault {
    /// The lean peak is too high: linkage slack first, then the nozzle.
    TooLean,
    /// The lean spell is too long: nozzle, pump cam, then volume.
    TooLong,
    /// It settles lean: not the pump's business; main or enrichment.
    SettlesLean,
    /// It settles rich: smaller nozzle at the same volume.
    SettlesRich,
}

impl TipInFault {
    /// What to do about it (common practice).
    pub const fn remedy(self) -> &'static str {
        match self {
            TipInFault::TooLean => "take up slack in the pump linkage; then one nozzle size larger",
            TipInFault::TooLong => "pump nozzle one size larger, then the pump cam, then volume",
            TipInFault::SettlesLean => "not the pump: look at the main jet and the enrichment opening",
            TipInFault::SettlesRich => {
                "nozzle one size smaller at the same volume; the shot is too slow or too long"
            }
        }
    }
}

/// The tip-in limits of an engine; the richest peak of the columns it falls under (common practice).
pub fn limits(
    application: Application,
    cooling: Cooling,
    family: FuelFamily,
    book: &RuleBook,
) -> TipInLimits {
    let n = &book.tip_in;
    let peaks = uses(application, cooling, family).into_iter().filter_map(|of| n.peak_of(of));
    TipInLimits {
        peak: peaks.reduce(Lambda::min).unwrap_or(n.settle.high),
        no_longer_than: n.no_longer_than,
        settle: n.settle,
        throttle_rate_percent_per_s: n.throttle_rate_percent_per_s,
    }
}

/// Everything wrong with a tip-in; nothing when it passes.
pub fn judge(seen: &TipInSeen, limits: &TipInLimits) -> Vec<TipInFault> {
    let checks = [
        (above(seen.peak, limits.peak), TipInFault::TooLean),
        (above(seen.lasted, limits.no_longer_than), TipInFault::TooLong),
        (above(seen.settled, limits.settle.high), TipInFault::SettlesLean),
        (below(seen.settled, limits.settle.low), TipInFault::SettlesRich),
    ];
    checks.into_iter().filter_map(|(wrong, fault)| wrong.then_some(fault)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(peak: f64, ms: f64, settled: f64) -> TipInSeen {
        TipInSeen {
            peak: Lambda::from_ratio(peak),
            lasted: TimeSpan::from_ms(ms),
            settled: Lambda::from_ratio(settled),
        }
    }

    #[test]
    fn the_workboat_before_and_after() {
        let l = limits(Application::Marine, Cooling::Water, FuelFamily::Gasoline, &RuleBook::common());
        assert_eq!(l.peak.as_ratio(), 1.08);
        assert_eq!(judge(&seen(1.22, 550.0, 0.86), &l), [TipInFault::TooLean, TipInFault::TooLong]);
        assert_eq!(judge(&seen(1.05, 250.0, 0.86), &l), []);
    }

    #[test]
    fn both_sides_of_each() {
        let l = limits(Application::Street, Cooling::Water, FuelFamily::Gasoline, &RuleBook::common());
        assert_eq!(judge(&seen(1.10, 300.0, 0.92), &l), []);
        assert_eq!(judge(&seen(1.101, 300.0, 0.92), &l), [TipInFault::TooLean]);
        assert_eq!(judge(&seen(1.10, 301.0, 0.80), &l), [TipInFault::TooLong]);
        assert_eq!(judge(&seen(1.0, 100.0, 0.921), &l), [TipInFault::SettlesLean]);
        assert_eq!(judge(&seen(1.0, 100.0, 0.799), &l), [TipInFault::SettlesRich]);
        let air = limits(Application::Marine, Cooling::Air, FuelFamily::Gasoline, &RuleBook::common());
        assert_eq!(air.peak.as_ratio(), 1.05, "the richer of air-cooled and marine");
    }
}
