//! What is told of one opening of the throttle, and of one run at full throttle.

use crate::units::{EngineSpeed, Fraction, Lambda, PressureDifference, TimeSpan, Vacuum};
use serde::{Deserialize, Serialize};

/// One quick opening of the throttle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TipIn {
    /// When it began, by the log's clock.
    pub start: TimeSpan,
    /// Throttle before.
    pub throttle_from: Fraction,
    /// Throttle after.
    pub throttle_to: Fraction,
    /// Fastest opening, in share of travel a second.
    pub opening_per_s: f64,
    /// Leanest reading in the first 1.2 s.
    pub peak: Lambda,
    /// When the peak came, after the start.
    pub peak_after: TimeSpan,
    /// Time leaner than 1.05.
    pub lean_seconds: TimeSpan,
    /// Richest reading in the first 2 s.
    pub richest: Lambda,
    /// Time richer than 0.70.
    pub rich_seconds: TimeSpan,
    /// From the start until lambda stayed within 0.03 of where it settled; `None` when it never did.
    pub recovery: Option<TimeSpan>,
    /// Where it settled: median from 1.5 to 2.5 s.
    pub settled: Option<Lambda>,
    /// How far the speed sagged below its value at the start.
    pub speed_dip: EngineSpeed,
    /// A second lean peak, while the throttle passed 45 to 65 %.
    pub second_peak: Option<Lambda>,
}

/// One run at full throttle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pull {
    /// When it began, by the log's clock.
    pub start: TimeSpan,
    /// How long it lasted.
    pub seconds: TimeSpan,
    /// Speed at its start.
    pub speed_from: EngineSpeed,
    /// Speed at its end.
    pub speed_to: EngineSpeed,
    /// Median lambda from 0.5 s on.
    pub lambda: Option<Lambda>,
    /// Mean lambda in the first third of it.
    pub lambda_from: Option<Lambda>,
    /// Mean lambda in the last third of it.
    pub lambda_to: Option<Lambda>,
    /// Change of lambda for 1000 rpm (least squares); `None` when the speed moved less than 300 rpm.
    pub lambda_per_1000_rpm: Option<f64>,
    /// Leanest mean over a quarter second, from 0.5 s on.
    pub worst: Option<Lambda>,
    /// When that was, by the log's clock.
    pub worst_at: Option<TimeSpan>,
    /// Richest mean over a quarter second.
    pub richest: Option<Lambda>,
    /// Fuel pressure in the first third.
    pub fuel_pressure_from: Option<PressureDifference>,
    /// Fuel pressure in the last third.
    pub fuel_pressure_to: Option<PressureDifference>,
    /// Manifold vacuum in the last third.
    pub vacuum_to: Option<Vacuum>,
    /// Greatest throttle opening.
    pub throttle: Option<Fraction>,
    /// Rows in it.
    pub samples: u64,
}
