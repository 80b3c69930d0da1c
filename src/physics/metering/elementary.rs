//! The elementary carburetor of the textbooks: one throat, one jet, a lip.
//!
//! Two conventions for the throat are in print, and give different bores from the same data; a calculation says
//! which it uses ([`Convention`]). Two are in print for the least air speed as well: with the air coefficient in it
//! or without ([`least_velocity`] takes it or leaves it).

use super::error::MeteringError;
use super::jet::{GRAVITY, effective_area};
use super::nozzle::Inlet;
use crate::units::{Area, Density, Length, MassFlow, PressureDifference, Velocity};

/// Where the throat's coefficient goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Convention {
    /// The stated speed is the real one, a coefficient times the isentropic speed; area is flow over throat
    /// density and speed.
    VelocityCoefficient(f64),
    /// The stated speed is the isentropic one; the coefficient is on the flow.
    DischargeCoefficient(f64),
}

/// A throat sized for a flow at a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Throat {
    /// Area.
    pub area: Area,
    /// Depression in it.
    pub depression: PressureDifference,
}

/// The throat that passes an air flow at a stated air speed.
///
/// # Errors
/// [`MeteringError::Unphysical`] when the speed is not below choking or the coefficient not positive.
pub fn throat_for(
    air: Inlet,
    flow: MassFlow,
    speed: Velocity,
    how: Convention,
) -> Result<Throat, MeteringError> {
    let (isentropic, area_coefficient) = match how {
        Convention::VelocityCoefficient(c) if c > 0.0 => (speed / c, 1.0),
        Convention::DischargeCoefficient(c) if c > 0.0 => (speed, c),
        _ => return Err(MeteringError::Unphysical { what: "coefficient", must: "positive" }),
    };
    let depression = air.depression_at(isentropic)?;
    let mass_speed = air.throat_density(depression).as_kg_m3() * speed.as_m_s() * area_coefficient;
    if mass_speed <= 0.0 {
        return Err(MeteringError::Unphysical { what: "throat velocity", must: "positive" });
    }
    Ok(Throat { area: Area::from_m2(flow.as_kg_s() / mass_speed), depression })
}

/// The bore of a choke that leaves this area free around an emulsion tube whose diameter is a share of the choke's.
pub fn choke_around_tube(free: Area, tube_share: f64) -> Length {
    free.bore() * (1.0 / (1.0 - tube_share * tube_share).sqrt())
}

/// The head of fuel in a height.
pub fn head(density: Density, height: Length) -> PressureDifference {
    PressureDifference::from_pa(density.as_kg_m3() * GRAVITY * height.as_m())
}

/// The depression of a throat without compressibility.
pub fn incompressible_depression(flow: MassFlow, density: Density, effective: Area) -> PressureDifference {
    let flux = flow.as_kg_s() / effective.as_m2();
    PressureDifference::from_pa(flux * flux / (2.0 * density.as_kg_m3()))
}

/// The jet bore that passes a fuel flow at a depression, above a lip.
///
/// # Errors
/// [`MeteringError::NoFuel`] when the depression does not lift the fuel over the lip.
pub fn jet_for(
    fuel: MassFlow,
    density: Density,
    depression: PressureDifference,
    lip: Length,
    discharge: f64,
) -> Result<Length, MeteringError> {
    let area = effective_area(fuel, density, depression - head(density, lip)).ok_or(MeteringError::NoFuel)?;
    Ok((area / discharge).bore())
}

/// An elementary carburetor: throat and jet, each with its discharge coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elementary {
    /// Effective area of the throat.
    pub throat: Area,
    /// Effective area of the jet.
    pub jet: Area,
    /// Height of the lip above the fuel.
    pub lip: Length,
    /// Density of the fuel.
    pub fuel: Density,
}

impl Elementary {
    /// Air-fuel ratio with incompressible air.
    ///
    /// # Errors
    /// [`MeteringError::NoFuel`] when no fuel flows.
    pub fn incompressible_ratio(
        &self,
        air: Density,
        depression: PressureDifference,
    ) -> Result<f64, MeteringError> {
        let air_flow = super::jet::orifice_flow(self.throat, air, depression);
        self.over_fuel(air_flow, depression)
    }

    /// Air-fuel ratio with compressible air.
    ///
    /// # Errors
    /// [`MeteringError::NoFuel`] when no fuel flows.
    pub fn ratio(&self, air: Inlet, depression: PressureDifference) -> Result<f64, MeteringError> {
        self.over_fuel(air.flow(self.throat, depression), depression)
    }

    fn over_fuel(&self, air: MassFlow, depression: PressureDifference) -> Result<f64, MeteringError> {
        let fuel = super::jet::orifice_flow(self.jet, self.fuel, depression - head(self.fuel, self.lip));
        if fuel.as_kg_s() <= 0.0 {
            return Err(MeteringError::NoFuel);
        }
        Ok(air / fuel)
    }
}

/// The least air speed at which fuel comes over the lip. With a coefficient it is the real mean speed behind that
/// coefficient; without, the isentropic one. Both are in print.
pub fn least_velocity(lip: Length, fuel: Density, air: Density, coefficient: Option<f64>) -> Velocity {
    let isentropic = (2.0 * GRAVITY * lip.as_m() * fuel.as_kg_m3() / air.as_kg_m3()).sqrt();
    Velocity::from_m_s(isentropic * coefficient.unwrap_or(1.0))
}

/// By what an air-fuel ratio (or lambda) is multiplied on fixed jets when the air's density changes.
pub fn ratio_with_density(from: Density, to: Density) -> f64 {
    (to / from).sqrt()
}

/// By what an air-fuel ratio is multiplied when an air cleaner adds a drop before the throat and the bowl is vented
/// to the air outside it. A bowl vented to the air horn is not affected.
pub fn ratio_with_cleaner(depression: PressureDifference, cleaner: PressureDifference) -> f64 {
    (depression.as_pa() / (depression.as_pa() + cleaner.as_pa())).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::metering::nozzle::DRY_AIR;
    use crate::units::{Pressure, Temperature};

    fn air() -> Inlet {
        Inlet { pressure: Pressure::from_kpa(101.3), temperature: Temperature::from_k(300.0), gas: DRY_AIR }
    }

    #[test]
    fn the_two_conventions_part_ways() {
        let (flow, speed) = (MassFlow::from_kg_s(5.0 / 60.0), Velocity::from_m_s(90.0));
        let by_velocity = throat_for(air(), flow, speed, Convention::VelocityCoefficient(0.8)).unwrap();
        let by_discharge = throat_for(air(), flow, speed, Convention::DischargeCoefficient(0.8)).unwrap();
        assert!(by_discharge.area.as_m2() > 1.15 * by_velocity.area.as_m2());
        assert!(by_discharge.depression < by_velocity.depression);
    }

    #[test]
    fn no_fuel_below_the_lip_head() {
        let c = Elementary {
            throat: Area::from_mm2(500.0),
            jet: Area::from_mm2(1.0),
            lip: Length::from_mm(5.0),
            fuel: Density::from_kg_m3(745.0),
        };
        let edge = head(c.fuel, c.lip);
        assert_eq!(c.ratio(air(), edge), Err(MeteringError::NoFuel));
        assert!(c.ratio(air(), edge * 1.001).is_ok());
    }

    #[test]
    fn a_speed_beyond_choking_is_refused() {
        let refused = throat_for(
            air(),
            MassFlow::from_kg_s(0.1),
            Velocity::from_m_s(330.0),
            Convention::DischargeCoefficient(0.9),
        );
        assert!(matches!(refused, Err(MeteringError::Unphysical { .. })));
    }
}
