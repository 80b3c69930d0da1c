//! Compressible flow of air through a venturi or hole: the isentropic nozzle, with choking.
//!
//! Equations: Heywood, Internal Combustion Engine Fundamentals (1988), appendix C and section 7.2 (numbering from
//! memory); the algebra is checked by the properties below.

use super::error::MeteringError;
use crate::numeric::solve;
use crate::units::{Area, Density, MassFlow, Pressure, PressureDifference, Temperature, Velocity};

/// A gas as the nozzle knows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// Gas constant, J/(kg K).
    pub constant: f64,
    /// Ratio of specific heats.
    pub gamma: f64,
    /// Specific heat at constant pressure, J/(kg K). In a perfect gas it follows from the other two; some textbooks state one
    /// of their own beside them.
    pub specific_heat: f64,
}

impl Gas {
    /// A perfect gas.
    pub const fn perfect(constant: f64, gamma: f64) -> Gas {
        Gas { constant, gamma, specific_heat: gamma / (gamma - 1.0) * constant }
    }
}

/// Dry air.
pub const DRY_AIR: Gas = Gas::perfect(287.05, 1.4);

/// Air at rest before a nozzle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inlet {
    /// Absolute pressure.
    pub pressure: Pressure,
    /// Temperature.
    pub temperature: Temperature,
    /// Which gas.
    pub gas: Gas,
}

impl Inlet {
    /// Density at rest.
    pub fn density(&self) -> Density {
        Density::from_kg_m3(self.pressure.as_pa() / (self.gas.constant * self.temperature.as_k()))
    }

    /// The depression at which the throat chokes.
    pub fn choking_depression(&self) -> PressureDifference {
        PressureDifference::from_pa(self.pressure.as_pa() * (1.0 - critical_ratio(self.gas.gamma)))
    }

    /// Speed of the gas in a choked throat.
    pub fn choking_velocity(&self) -> Velocity {
        let Gas { constant, gamma, .. } = self.gas;
        Velocity::from_m_s((2.0 * gamma * constant * self.temperature.as_k() / (gamma + 1.0)).sqrt())
    }

    /// Isentropic speed in the throat at a depression (of the choked throat beyond choking).
    pub fn velocity(&self, depression: PressureDifference) -> Velocity {
        let Gas { gamma, specific_heat, .. } = self.gas;
        let ratio = (1.0 - depression.as_pa() / self.pressure.as_pa()).clamp(critical_ratio(gamma), 1.0);
        let heat = 2.0 * specific_heat * self.temperature.as_k();
        Velocity::from_m_s((heat * (1.0 - ratio.powf((gamma - 1.0) / gamma))).sqrt())
    }

    /// Density in the throat at a depression.
    pub fn throat_density(&self, depression: PressureDifference) -> Density {
        let ratio =
            (1.0 - depression.as_pa() / self.pressure.as_pa()).clamp(critical_ratio(self.gas.gamma), 1.0);
        self.density() * ratio.powf(1.0 / self.gas.gamma)
    }

    /// The depression that gives an isentropic speed in the throat.
    ///
    /// # Errors
    /// [`MeteringError::Unphysical`] when the speed is negative or beyond that of a choked throat.
    pub fn depression_at(&self, velocity: Velocity) -> Result<PressureDifference, MeteringError> {
        let v = velocity.as_m_s();
        if v < 0.0 || v > self.choking_velocity().as_m_s() {
            return Err(MeteringError::Unphysical {
                what: "throat velocity",
                must: "between zero and choking",
            });
        }
        let Gas { gamma, specific_heat, .. } = self.gas;
        let heat = 2.0 * specific_heat * self.temperature.as_k();
        let ratio = (1.0 - v * v / heat).powf(gamma / (gamma - 1.0));
        Ok(PressureDifference::from_pa(self.pressure.as_pa() * (1.0 - ratio)))
    }

    /// Mass flow through an area with a discharge coefficient at a depression; constant beyond choking, zero
    /// for no depression.
    pub fn flow(&self, effective: Area, depression: PressureDifference) -> MassFlow {
        MassFlow::from_kg_s(effective.as_m2() * self.flux(depression.as_pa()))
    }

    /// Mass flow for each m2 of effective area, in kg/(s m2), at a depression in Pa.
    pub(super) fn flux(&self, depression: f64) -> f64 {
        let p0 = self.pressure.as_pa();
        let depression = depression.clamp(0.0, p0 * (1.0 - critical_ratio(self.gas.gamma)));
        (2.0 * self.density().as_kg_m3() * depression).sqrt()
            * compressibility(depression / p0, self.gas.gamma)
    }

    /// The depression at which an effective area passes a flow.
    ///
    /// # Errors
    /// [`MeteringError::Choked`] when it cannot.
    pub fn depression(&self, effective: Area, flow: MassFlow) -> Result<PressureDifference, MeteringError> {
        let most = self.flow(effective, self.choking_depression());
        if flow.as_kg_s() > most.as_kg_s() || effective.as_m2() <= 0.0 {
            return Err(MeteringError::Choked { asked: flow, most });
        }
        if flow.as_kg_s() <= 0.0 {
            return Ok(PressureDifference::ZERO);
        }
        let per_area = flow.as_kg_s() / effective.as_m2();
        let choking = self.choking_depression().as_pa();
        if self.flux(choking) <= per_area {
            return Ok(self.choking_depression());
        }
        solve::root(0.0, choking, 1e-7 * self.pressure.as_pa() * 1e-3, |dp| self.flux(dp) - per_area)
            .map(PressureDifference::from_pa)
            .map_err(|source| MeteringError::Unsolved { network: "venturi", source })
    }
}

/// Throat pressure over inlet pressure at which a nozzle chokes.
pub fn critical_ratio(gamma: f64) -> f64 {
    (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0))
}

/// The factor by which compressible flow falls short of `sqrt(2 rho dp)`, for a depression given as a share of
/// the inlet pressure, up to choking: `m = Cd A sqrt(2 rho0 dp) Phi` (Heywood's form, from memory).
pub fn compressibility(depression_share: f64, gamma: f64) -> f64 {
    if depression_share < 1e-9 {
        return 1.0;
    }
    let ratio = 1.0 - depression_share;
    let terms = ratio.powf(2.0 / gamma) - ratio.powf((gamma + 1.0) / gamma);
    (gamma / (gamma - 1.0) * terms / depression_share).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn sea_level() -> Inlet {
        Inlet {
            pressure: Pressure::from_pa(101_325.0),
            temperature: Temperature::from_k(288.15),
            gas: DRY_AIR,
        }
    }

    #[test]
    fn flow_does_not_grow_beyond_choking() {
        let (air, hole) = (sea_level(), Area::from_mm2(100.0));
        let at = |share: f64| air.flow(hole, PressureDifference::from_pa(101_325.0 * share)).as_kg_s();
        assert!(at(0.46) < at(0.4717));
        assert_relative_eq!(at(0.4718), at(0.9), epsilon = 1e-9);
    }

    #[test]
    fn more_than_choking_flow_is_refused() {
        let refused = sea_level().depression(Area::from_mm2(100.0), MassFlow::from_kg_s(0.03));
        assert!(matches!(refused, Err(MeteringError::Choked { .. })));
    }

    #[test]
    fn a_stopped_engine_draws_nothing() {
        assert_eq!(
            sea_level().depression(Area::from_mm2(100.0), MassFlow::ZERO),
            Ok(PressureDifference::ZERO)
        );
    }

    proptest! {
        #[test]
        fn depression_and_flow_are_each_others_way_back(share in 1e-4..0.47f64, mm2 in 20.0..2000.0f64) {
            let (air, hole) = (sea_level(), Area::from_mm2(mm2));
            let dp = PressureDifference::from_pa(share * 101_325.0);
            let back = air.depression(hole, air.flow(hole, dp)).unwrap();
            // Near choking the flow hardly depends on the depression.
            prop_assert!((back.as_pa() - dp.as_pa()).abs() < 1e-3 * dp.as_pa());
        }

        #[test]
        fn flow_is_throat_density_times_velocity(share in 1e-4..0.47f64) {
            let air = sea_level();
            let dp = PressureDifference::from_pa(share * 101_325.0);
            let by_hand = air.throat_density(dp).as_kg_m3() * air.velocity(dp).as_m_s();
            prop_assert!((air.flux(dp.as_pa()) / by_hand - 1.0).abs() < 1e-9);
        }
    }
}
