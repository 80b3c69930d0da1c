//! The ICAO standard atmosphere, up to the tropopause.

use crate::units::{Density, Length, Pressure, Temperature};

use super::air::DRY_AIR_R;

/// Sea-level temperature, K (ICAO Doc 7488).
pub const SEA_LEVEL_K: f64 = 288.15;
/// Sea-level pressure, Pa (ICAO Doc 7488).
pub const SEA_LEVEL_PA: f64 = 101_325.0;
/// Sea-level density, kg/m3 (ICAO Doc 7488).
pub const SEA_LEVEL_KG_M3: f64 = SEA_LEVEL_PA / (DRY_AIR_R * SEA_LEVEL_K);
/// Lapse of temperature, K/m.
pub(super) const LAPSE: f64 = 0.0065;
/// Standard gravity, m/s2.
const GRAVITY: f64 = 9.80665;

/// The standard air of an altitude, dry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardAir {
    /// Temperature.
    pub temperature: Temperature,
    /// Pressure.
    pub pressure: Pressure,
    /// Density.
    pub density: Density,
}

/// An altitude the equations do not reach.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("an altitude of {feet:.0} ft is outside -5000 to 30000 ft (-1524 to 9144 m)")]
pub struct AltitudeError {
    /// As given.
    pub feet: f64,
}

/// Standard air at a geopotential altitude, -5000 to 30000 ft: T = 288.15 K - 6.5 K/km, pressure by the hydrostatic
/// balance of an ideal gas (ICAO Doc 7488).
pub fn standard(altitude: Length) -> Result<StandardAir, AltitudeError> {
    if !(-5_000.0..=30_000.0).contains(&altitude.as_feet()) {
        return Err(AltitudeError { feet: altitude.as_feet() });
    }
    let t = SEA_LEVEL_K - LAPSE * altitude.as_m();
    let p = SEA_LEVEL_PA * (t / SEA_LEVEL_K).powf(GRAVITY / (DRY_AIR_R * LAPSE));
    Ok(StandardAir {
        temperature: Temperature::from_k(t),
        pressure: Pressure::from_pa(p),
        density: Density::from_kg_m3(p / (DRY_AIR_R * t)),
    })
}

/// The altitude whose standard pressure this is. A barometer that reads well below -5000 ft's or above 30000 ft's
/// standard pressure still gets the formula's value.
pub fn pressure_altitude(pressure: Pressure) -> Length {
    let ratio = (pressure.as_pa() / SEA_LEVEL_PA).max(1e-6);
    Length::from_m(SEA_LEVEL_K / LAPSE * (1.0 - ratio.powf(DRY_AIR_R * LAPSE / GRAVITY)))
}

/// The altitude whose standard density this is.
pub fn density_altitude(density: Density) -> Length {
    let ratio = (density.as_kg_m3() / SEA_LEVEL_KG_M3).max(1e-6);
    Length::from_m(SEA_LEVEL_K / LAPSE * (1.0 - ratio.powf(1.0 / (GRAVITY / (DRY_AIR_R * LAPSE) - 1.0))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn out_of_reach_is_refused() {
        assert!(standard(Length::from_feet(30_001.0)).is_err());
        assert!(standard(Length::from_feet(30_000.0)).is_ok());
        assert!(standard(Length::from_feet(-5_001.0)).is_err());
    }

    proptest! {
        #[test]
        fn the_three_altitudes_of_standard_air_are_one(feet in -4_900.0..29_900.0f64) {
            let air = standard(Length::from_feet(feet)).unwrap();
            prop_assert!((pressure_altitude(air.pressure).as_feet() - feet).abs() < 1e-6);
            prop_assert!((density_altitude(air.density).as_feet() - feet).abs() < 1e-6);
        }
    }
}
