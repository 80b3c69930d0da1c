//! What a column can hold.

use serde::{Deserialize, Serialize};

/// A quantity the analysis knows what to do with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Channel {
    /// Time since the logger started.
    Time,
    /// Speed of the crankshaft.
    Speed,
    /// Absolute pressure in the manifold.
    Manifold,
    /// Manifold vacuum as a gauge shows it.
    Vacuum,
    /// Throttle opening, 0 to 100 %.
    Throttle,
    /// Lambda, or an air-fuel ratio or a voltage that stands for it.
    Lambda,
    /// Lambda of a second bank.
    #[serde(rename = "lambda-2")]
    Lambda2,
    /// Coolant or cylinder-head temperature.
    Coolant,
    /// Fuel pressure on a gauge.
    FuelPressure,
    /// Temperature of the air the engine breathes.
    IntakeAir,
    /// Station pressure, when the logger has a barometer.
    Barometer,
    /// Measured air flow.
    AirFlow,
    /// Torque, on a dyno.
    Torque,
    /// Power, on a dyno.
    Power,
    /// Speed of the vehicle, or of a roller's face.
    RoadSpeed,
    /// Measured fuel flow.
    FuelFlow,
    /// Relative humidity of the air breathed.
    Humidity,
    /// Oil temperature.
    Oil,
    /// Acceleration across the vehicle: a turn, or a slope to one side.
    Lateral,
    /// Acceleration along the vehicle, braking negative: also a slope up or down.
    Longitudinal,
    /// How far the carburetor stands out of level.
    Tilt,
}

impl Channel {
    /// All of them.
    pub const ALL: [Channel; 21] = [
        Channel::Time,
        Channel::Speed,
        Channel::Manifold,
        Channel::Vacuum,
        Channel::Throttle,
        Channel::Lambda,
        Channel::Lambda2,
        Channel::Coolant,
        Channel::FuelPressure,
        Channel::IntakeAir,
        Channel::Barometer,
        Channel::AirFlow,
        Channel::Torque,
        Channel::Power,
        Channel::RoadSpeed,
        Channel::FuelFlow,
        Channel::Humidity,
        Channel::Oil,
        Channel::Lateral,
        Channel::Longitudinal,
        Channel::Tilt,
    ];

    /// Its name in profiles and JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Channel::Time => "time",
            Channel::Speed => "speed",
            Channel::Manifold => "manifold",
            Channel::Vacuum => "vacuum",
            Channel::Throttle => "throttle",
            Channel::Lambda => "lambda",
            Channel::Lambda2 => "lambda-2",
            Channel::Coolant => "coolant",
            Channel::FuelPressure => "fuel-pressure",
            Channel::IntakeAir => "intake-air",
            Channel::Barometer => "barometer",
            Channel::AirFlow => "air-flow",
            Channel::Torque => "torque",
            Channel::Power => "power",
            Channel::RoadSpeed => "road-speed",
            Channel::FuelFlow => "fuel-flow",
            Channel::Humidity => "humidity",
            Channel::Oil => "oil",
            Channel::Lateral => "lateral",
            Channel::Longitudinal => "longitudinal",
            Channel::Tilt => "tilt",
        }
    }
}
