//! What the analysis must know beside the log: the engine, the fuel, the air, the sensor, the logger.

use super::logger::LoggerProfile;
use crate::setup::Setup;
use crate::units::{
    CrankAngle, EngineSpeed, Fraction, MassFlow, Pressure, Temperature, TimeSpan, Vacuum, Volume,
};

/// What is known about the job while a log is read.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceContext {
    /// The logger's columns.
    pub logger: LoggerProfile,
    /// Swept volume.
    pub displacement: Option<Volume>,
    /// Volumetric efficiency at full throttle.
    pub volumetric_efficiency: Option<Fraction>,
    /// The carburetor's rating as a mass of standard air in a time.
    pub rated_flow: Option<MassFlow>,
    /// Station pressure.
    pub barometer: Pressure,
    /// The barometer was given, not assumed.
    pub barometer_known: bool,
    /// Temperature of the air breathed.
    pub air_temperature: Temperature,
    /// First-order time constant of the sensor.
    pub sensor_lag: TimeSpan,
    /// Exhaust volume between ports and sensor.
    pub pipe_volume: Option<Volume>,
    /// Share of the exhaust that passes the sensor.
    pub share_of_exhaust: Fraction,
    /// The sensor is vouched for; `None` when nothing is known of it.
    pub sensor_trusted: Option<bool>,
    /// The enrichment valve opens below this.
    pub enrichment_opening: Option<Vacuum>,
    /// Idle speed aimed at.
    pub idle_speed: Option<EngineSpeed>,
    /// Valve overlap at 0.050 in of lift.
    pub overlap: Option<CrankAngle>,
}

/// Density of the air the industry rates carburetors with: 1.2 kg/m3, near 20 C and one atmosphere.
const RATING_AIR_KG_M3: f64 = 1.2;

impl TraceContext {
    /// From a setup and a logger.
    pub fn new(setup: &Setup, logger: &LoggerProfile) -> Self {
        let sensor = setup.instruments.lambda.as_ref();
        let air = crate::units::Density::from_kg_m3(RATING_AIR_KG_M3);
        let bare = Self::bare(logger);
        Self {
            displacement: Some(setup.engine.displacement),
            volumetric_efficiency: Some(setup.engine.volumetric_efficiency),
            rated_flow: Some(setup.carburetor.rated_flow * air),
            barometer: setup.weather.map_or(bare.barometer, |w| w.pressure),
            barometer_known: setup.weather.is_some(),
            air_temperature: setup.weather.map_or(bare.air_temperature, |w| w.temperature),
            sensor_lag: sensor.map_or(bare.sensor_lag, |s| s.time_constant),
            pipe_volume: sensor.and_then(|s| s.pipe_volume),
            share_of_exhaust: sensor.map_or(bare.share_of_exhaust, |s| s.share_of_exhaust),
            sensor_trusted: sensor.map(|s| s.trusted),
            enrichment_opening: setup.carburetor.enrichment.map(|e| e.opens_below),
            idle_speed: setup.engine.idle_speed,
            overlap: setup.engine.cam.map(|cam| overlap(&cam)),
            ..bare
        }
    }

    /// With nothing known but the logger.
    pub fn bare(logger: &LoggerProfile) -> Self {
        Self {
            logger: logger.clone(),
            displacement: None,
            volumetric_efficiency: None,
            rated_flow: None,
            barometer: Pressure::from_kpa(101.325),
            barometer_known: false,
            air_temperature: Temperature::from_c(25.0),
            sensor_lag: TimeSpan::from_ms(70.0),
            pipe_volume: None,
            share_of_exhaust: Fraction::from_ratio(1.0),
            sensor_trusted: None,
            enrichment_opening: None,
            idle_speed: None,
            overlap: None,
        }
    }

    /// The same, aiming at an idle speed worked out elsewhere (from the cam, or by the owner's wish).
    #[must_use]
    pub fn with_idle_speed(mut self, speed: EngineSpeed) -> Self {
        self.idle_speed = Some(speed);
        self
    }
}

/// Overlap at 0.050 in: half the sum of the durations less twice the separation (geometry).
fn overlap(cam: &crate::setup::Cam) -> CrankAngle {
    CrankAngle::from_deg(
        0.5 * (cam.intake_duration.as_deg() + cam.exhaust_duration.as_deg()) - 2.0 * cam.separation.as_deg(),
    )
}
