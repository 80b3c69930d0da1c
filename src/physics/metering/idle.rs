//! The idle and transition circuit of one barrel: feed restriction out of the main well, air bleed, screw port and
//! slot. What of the slot lies above the blade bleeds air in; what lies below it draws emulsion out.
//!
//! The feed comes after the main jet, so as the main well is drawn down the idle circuit hands over to it.
//! A homogeneous emulsion is assumed; Hendricks (thesis, Wisconsin, 2007, from its abstract) finds that poor at idle
//! ports and the port the strongest influence on idle mixture: trends hold, absolute mixture does not.

use super::jet::{Bore, GRAVITY, Liquid};
use super::nozzle::{Inlet, critical_ratio};
use crate::numeric::solve::{self, SolveError};
use crate::units::{Area, Length, MassFlow, Pressure, PressureDifference};

/// The idle and transition circuit of one barrel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdleWell {
    /// Feed restriction.
    pub feed: Bore,
    /// Effective area of all that bleeds air in from above the blade, screws that meter air among it.
    pub bleed: Area,
    /// Effective area of the outlets below the blade: screw port, and slot below the blade.
    pub outlet: Area,
    /// Effective area of the slot above the blade.
    pub slot_above: Area,
    /// Height from the fuel level to the bleed.
    pub lift: Length,
    /// The fuel.
    pub fuel: Liquid,
}

/// What flows in an idle circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdleFlow {
    /// Fuel.
    pub fuel: MassFlow,
    /// Bleed air, the slot's with it.
    pub air: MassFlow,
    /// How far the idle well is below the air outside.
    pub depression: PressureDifference,
}

impl IdleWell {
    fn fuel_si(&self, well: f64, depression: f64) -> f64 {
        let rho = self.fuel.density.as_kg_m3();
        self.feed.flow_si(rho, self.fuel.viscosity, depression - well - rho * GRAVITY * self.lift.as_m())
    }

    fn air_si(&self, air: Inlet, depression: f64) -> f64 {
        (self.bleed.as_m2() + self.slot_above.as_m2()) * air.flux(depression)
    }

    fn out_si(&self, air: Inlet, fuel: f64, bleed: f64, depression: f64, vacuum: f64) -> f64 {
        let inside = air.pressure.as_pa() - depression;
        let gas = inside / (air.gas.constant * air.temperature.as_k());
        let total = fuel + bleed;
        let rho = if total > 0.0 { total / (fuel / self.fuel.density.as_kg_m3() + bleed / gas) } else { gas };
        // The gas in the emulsion limits the drop that counts, as a choked nozzle would.
        let drop = (vacuum - depression).clamp(0.0, inside * (1.0 - critical_ratio(air.gas.gamma)));
        self.outlet.as_m2() * (2.0 * rho * drop).sqrt()
    }

    /// Solves the circuit at a depression of the main well it draws from and a manifold pressure.
    ///
    /// # Errors
    /// The solver's, if the network has no solution.
    pub fn flow(
        &self,
        air: Inlet,
        well: PressureDifference,
        manifold: Pressure,
    ) -> Result<IdleFlow, SolveError> {
        let depression = self.depression_si(air, well.as_pa(), manifold.as_pa())?;
        Ok(IdleFlow {
            fuel: MassFlow::from_kg_s(self.fuel_si(well.as_pa(), depression)),
            air: MassFlow::from_kg_s(self.air_si(air, depression)),
            depression: PressureDifference::from_pa(depression),
        })
    }

    /// Fuel alone in SI, for the main well's solver: not a number when there is no solution.
    pub(super) fn fuel_at_well(&self, air: Inlet, well: f64, manifold: f64) -> f64 {
        self.depression_si(air, well, manifold).map_or(f64::NAN, |depression| self.fuel_si(well, depression))
    }

    fn depression_si(&self, air: Inlet, well: f64, manifold: f64) -> Result<f64, SolveError> {
        let vacuum = air.pressure.as_pa() - manifold;
        if vacuum <= 0.0 || self.outlet.as_m2() <= 0.0 {
            return Ok(0.0);
        }
        let balance = |depression: f64| {
            let (fuel, bleed) = (self.fuel_si(well, depression), self.air_si(air, depression));
            fuel + bleed - self.out_si(air, fuel, bleed, depression, vacuum)
        };
        solve::root(0.0, vacuum, 1e-3, balance)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::metering::nozzle::DRY_AIR;
    use crate::units::{Density, Temperature};
    use proptest::prelude::*;

    fn air() -> Inlet {
        Inlet {
            pressure: Pressure::from_pa(101_325.0),
            temperature: Temperature::from_k(293.15),
            gas: DRY_AIR,
        }
    }

    fn idle(screw_mm2: f64, bleed_mm: f64, feed_mm: f64) -> IdleWell {
        IdleWell {
            feed: Bore::jet(Length::from_mm(feed_mm)),
            bleed: Length::from_mm(bleed_mm).bore_area() * 0.75,
            outlet: Area::from_mm2(screw_mm2),
            slot_above: Area::from_mm2(0.3),
            lift: Length::from_mm(10.0),
            fuel: Liquid { density: Density::from_kg_m3(745.0), viscosity: 5e-4 },
        }
    }

    fn fuel(w: IdleWell, well_pa: f64, manifold_kpa: f64) -> f64 {
        w.flow(air(), PressureDifference::from_pa(well_pa), Pressure::from_kpa(manifold_kpa))
            .unwrap()
            .fuel
            .as_g_s()
    }

    #[test]
    fn no_vacuum_no_idle_fuel() {
        assert_eq!(fuel(idle(0.4, 1.2, 0.6), 0.0, 101.325), 0.0);
    }

    #[test]
    fn the_screw_is_nearly_proportional_and_falls_off() {
        let flows: Vec<f64> =
            [0.20, 0.35, 0.50, 0.80].iter().map(|a| fuel(idle(*a, 1.2, 0.5), 0.0, 40.0)).collect();
        assert!(flows.windows(2).all(|w| w[1] > w[0]), "{flows:?}");
        assert!(flows[3] / flows[0] > 3.0 && flows[3] / flows[0] < 4.8, "{flows:?}");
        let doubled = |screw: f64| {
            fuel(idle(2.0 * screw, 1.2, 0.5), 0.0, 40.0) / fuel(idle(screw, 1.2, 0.5), 0.0, 40.0)
        };
        assert!(doubled(1.5) < 0.8 * doubled(0.3), "a wide-open screw has little left to say");
    }

    proptest! {
        #[test]
        fn every_part_acts_its_own_way(
            screw in 0.15..1.0f64, bleed in 0.8..2.0f64, feed in 0.4..0.9f64, kpa in 30.0..85.0f64,
        ) {
            let base = fuel(idle(screw, bleed, feed), 0.0, kpa);
            prop_assert!(fuel(idle(screw, bleed, feed * 1.02), 0.0, kpa) >= base);
            prop_assert!(fuel(idle(screw, bleed * 1.02, feed), 0.0, kpa) <= base);
            prop_assert!(fuel(idle(screw * 1.02, bleed, feed), 0.0, kpa) >= base * (1.0 - 1e-6));
            prop_assert!(fuel(idle(screw, bleed, feed), 300.0, kpa) <= base, "a drawn-down well gives less");
        }

        #[test]
        fn mass_in_is_mass_out(screw in 0.15..1.0f64, bleed in 0.8..2.0f64, kpa in 30.0..99.0f64) {
            let w = idle(screw, bleed, 0.6);
            let f = w.flow(air(), PressureDifference::ZERO, Pressure::from_kpa(kpa)).unwrap();
            let vacuum = 101_325.0 - kpa * 1e3;
            let out = w.out_si(air(), f.fuel.as_kg_s(), f.air.as_kg_s(), f.depression.as_pa(), vacuum);
            prop_assert!((out / (f.fuel + f.air).as_kg_s() - 1.0).abs() < 1e-3);
        }
    }
}
