//! What altitude and weather do to a carburetor, and a published short form of density altitude.

use crate::units::{Density, Length, Pressure, Temperature};

use super::air::{MoistAir, saturation_pressure};

/// What a fixed carburetor needs, and does, in other air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JetRatios {
    /// Density of dry air, new over old.
    pub density: f64,
    /// Area of jet that keeps the mixture.
    pub area: f64,
    /// Bore of jet that keeps the mixture.
    pub bore: f64,
    /// What lambda is multiplied by when nothing is changed.
    pub lambda: f64,
}

/// Ratios for dry-air densities going from `old` to `new`.
///
/// Air goes with density times velocity, fuel with the root of density times velocity, so at a fixed jet lambda goes
/// with the root of density and the jet area that holds it too (Heywood, Internal Combustion Engine Fundamentals,
/// 1988, section 7.2, from memory; NACA TN 1874 treats the same compensation). The density is that of the dry air:
/// vapour brings no oxygen. Good for the main system at full throttle; idle and transition follow less closely.
pub fn jet_ratios(old: Density, new: Density) -> JetRatios {
    let density = new / old;
    JetRatios { density, area: density.sqrt(), bore: density.powf(0.25), lambda: density.sqrt() }
}

/// [`jet_ratios`] between two airs.
pub fn jet_ratios_between(old: &MoistAir, new: &MoistAir) -> JetRatios {
    jet_ratios(old.dry_density(), new.dry_density())
}

/// Density altitude by the closed form of the United States National Weather Service, with its printed constants.
/// 15 to 30 ft above the exact inversion of the standard atmosphere at ordinary temperatures: a witness only.
pub fn density_altitude_nws(pressure: Pressure, temperature: Temperature, dew_point: Temperature) -> Length {
    let virtual_k =
        temperature.as_k() / (1.0 - 0.378 * saturation_pressure(dew_point).as_pa() / pressure.as_pa());
    let virtual_f = (virtual_k - 273.15) * 1.8 + 32.0;
    let rankine = virtual_f + 459.69;
    let inner = 17.326 * pressure.as_inhg() / rankine;
    Length::from_feet(145_366.0 * (1.0 - inner.powf(0.235)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn five_thousand_feet() {
        let r = jet_ratios(Density::from_kg_m3(1.225), Density::from_kg_m3(1.225 * 0.8617));
        assert_abs_diff_eq!(r.lambda, 0.928, epsilon = 0.001);
        assert_abs_diff_eq!(r.bore, 0.9635, epsilon = 0.001);
        assert_abs_diff_eq!(r.bore * r.bore, r.area, epsilon = 1e-12);
    }
}
