//! What the engine is measured with, and the air it stands in.

use crate::units::{EngineSpeed, Fraction, Pressure, PressureDifference, Temperature, TimeSpan, Volume};
use serde::{Deserialize, Serialize};

/// A wideband lambda sensor and where it sits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LambdaSensor {
    /// First-order time constant of the sensor.
    pub time_constant: TimeSpan,
    /// Volume of exhaust between the ports and the sensor, when known: it sets the transport delay.
    pub pipe_volume: Option<Volume>,
    /// How much of the engine's exhaust passes it: 0.5 for one bank of two.
    pub share_of_exhaust: Fraction,
    /// The person vouches for it (checked in free air, in a dry and hot place); without it no full-throttle
    /// advice is given.
    pub trusted: bool,
}

/// The gauges.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Instruments {
    /// Distance between two marks of the vacuum gauge.
    pub vacuum_mark: PressureDifference,
    /// Smallest step of the tachometer.
    pub speed_step: EngineSpeed,
    /// Wideband sensor, when there is one.
    pub lambda: Option<LambdaSensor>,
    /// A fuel-pressure gauge is fitted.
    pub fuel_pressure: bool,
}

/// The air of a day at a place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Weather {
    /// Station pressure: what a barometer beside the engine reads, not reduced to sea level.
    pub pressure: Pressure,
    /// Temperature of the air the engine breathes.
    pub temperature: Temperature,
    /// Relative humidity.
    pub humidity: Fraction,
}
