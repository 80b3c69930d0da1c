//! The main well: jet and enrichment side by side, air bleed through holes at a depth, nozzle with its lip.
//!
//! Structure as in Harrington and Bolt (SAE 700082) and Arias and Shedd (J. Fluids Eng. 127 (2005) 778), from their
//! abstracts; equations are our own with a homogeneous emulsion. Arias and Shedd find that assumption in poor
//! agreement with small pipes: trends hold, absolute mixture does not, and nothing here rests on the latter.

use super::error::MeteringError;
use super::jet::{GRAVITY, Liquid, in_series};
use super::nozzle::Inlet;
use crate::numeric::solve;
use crate::units::{Area, Length, MassFlow, Pressure, PressureDifference};

/// How the main jet discharges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MainJet {
    /// With a fixed effective area, as the textbooks have it.
    Fixed(Area),
    /// With a coefficient that follows its Reynolds number.
    Bore(super::jet::Bore),
}

/// What stands between the fuel level and the nozzle's lip, to be lifted over it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// The emulsion, as the homogeneous model has it: the bleed's air lifts the fuel.
    Emulsion,
    /// Solid fuel: bubbles rise through it and lift nothing. The lift of a homogeneous emulsion has two answers where the
    /// main begins (a light column that flows, a heavy one that stands), between which a jet could not choose; small pipes
    /// are where Arias and Shedd find that model poor.
    Fuel,
}

/// The main circuit of one barrel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MainWell {
    /// Main jet.
    pub jet: MainJet,
    /// Effective area of the open enrichment path; zero when shut.
    pub enrichment: Area,
    /// Effective area of the air bleed; zero for none.
    pub bleed: Area,
    /// Depth of the first holes below the fuel level.
    pub depth: Length,
    /// Effective area of the discharge nozzle.
    pub nozzle: Area,
    /// Height of its lip above the fuel level.
    pub lip: Length,
    /// What is lifted over the lip.
    pub column: Column,
    /// How the nozzle comes in: of the drop left for it, this much opens it to two thirds. Zero for the textbooks' nozzle, which
    /// is open whole from the first drop; a real one dribbles before it sprays, which spreads the handing over from idle
    /// to main (own reckoning).
    pub start: PressureDifference,
    /// The fuel.
    pub fuel: Liquid,
}

/// What flows in a main circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WellFlow {
    /// Fuel through jet and enrichment that leaves by the nozzle.
    pub nozzle_fuel: MassFlow,
    /// Fuel drawn from the well by the idle circuit.
    pub idle_fuel: MassFlow,
    /// Bleed air.
    pub bleed_air: MassFlow,
    /// How far the well is below the air outside.
    pub well_depression: PressureDifference,
}

/// The enrichment path: channel restriction behind a valve seat.
pub fn enrichment_path(channel: Area, seat: Area, open: f64) -> Area {
    in_series(channel, seat) * open.clamp(0.0, 1.0)
}

impl MainWell {
    fn jets_si(&self, drop: f64) -> f64 {
        let rho = self.fuel.density.as_kg_m3();
        let root = (2.0 * rho * drop.max(0.0)).sqrt();
        let jet = match self.jet {
            MainJet::Fixed(area) => area.as_m2() * root,
            MainJet::Bore(bore) => bore.flow_si(rho, self.fuel.viscosity, drop),
        };
        jet + self.enrichment.as_m2() * root
    }

    /// How much of the fuel through the jets is the enrichment's at a depression of the well.
    pub(super) fn enrichment_share(&self, well: PressureDifference) -> f64 {
        let rich =
            self.enrichment.as_m2() * (2.0 * self.fuel.density.as_kg_m3() * well.as_pa().max(0.0)).sqrt();
        if rich <= 0.0 { 0.0 } else { rich / self.jets_si(well.as_pa()) }
    }

    fn bleed_si(&self, air: Inlet, drop: f64) -> f64 {
        let covered = self.fuel.density.as_kg_m3() * GRAVITY * self.depth.as_m();
        if drop <= covered { 0.0 } else { self.bleed.as_m2() * air.flux(drop - covered) }
    }

    /// What the nozzle passes of an emulsion, in kg/s.
    fn nozzle_si(&self, air_density: f64, fuel: f64, bleed: f64, drop: f64) -> f64 {
        let rho_f = self.fuel.density.as_kg_m3();
        let total = fuel + bleed;
        let rho = if total > 0.0 { total / (fuel / rho_f + bleed / air_density) } else { rho_f };
        let column = match self.column {
            Column::Emulsion => rho,
            Column::Fuel => rho_f,
        };
        let left = drop - column * GRAVITY * self.lip.as_m();
        if left <= 0.0 {
            return 0.0;
        }
        let start = self.start.as_pa();
        let open = if start > 0.0 { 1.0 - (-left / start).exp() } else { 1.0 };
        open * self.nozzle.as_m2() * (2.0 * rho * left).sqrt()
    }

    /// Solves the circuit at a pressure at the nozzle, with nothing else drawing from the well.
    ///
    /// # Errors
    /// [`MeteringError::Unsolved`] if the network has no solution.
    pub fn flow(&self, air: Inlet, at_nozzle: Pressure) -> Result<WellFlow, MeteringError> {
        self.flow_beside(air, at_nozzle, |_| 0.0)
    }

    /// The same with an idle circuit that draws fuel from the well: `idle` gives its fuel in kg/s from the well's
    /// depression in Pa.
    pub(super) fn flow_beside(
        &self,
        air: Inlet,
        at_nozzle: Pressure,
        idle: impl Fn(f64) -> f64,
    ) -> Result<WellFlow, MeteringError> {
        let p0 = air.pressure.as_pa();
        let signal = (p0 - at_nozzle.as_pa()).max(0.0);
        // the air of the emulsion has the nozzle's pressure, and its temperature from the fuel and the metal around it
        let density = air.density().as_kg_m3() * (at_nozzle.as_pa() / p0).clamp(0.0, 1.0);
        let parts = |depression: f64| {
            let idle_fuel = idle(depression);
            let main_fuel = self.jets_si(depression) - idle_fuel;
            (main_fuel, idle_fuel, self.bleed_si(air, depression))
        };
        let balance = |depression: f64| {
            let (main_fuel, _, bleed) = parts(depression);
            main_fuel + bleed - self.nozzle_si(density, main_fuel.max(0.0), bleed, signal - depression)
        };
        // The idle circuit can pull the well below the nozzle's own signal while the main is not flowing.
        let floor = signal.max(0.5 * p0);
        let depression = if balance(0.0) >= 0.0 {
            0.0
        } else {
            let high = if balance(signal) > 0.0 { signal } else { floor };
            solve::root(0.0, high, 1e-7, balance)
                .map_err(|source| MeteringError::Unsolved { network: "main well", source })?
        };
        // What passes the jets is all the fuel there is, and what passes the holes all the air, whichever way they leave:
        // before the nozzle sprays, the idle feed draws both.
        let (main_fuel, idle_fuel, bleed) = parts(depression);
        let nozzle = self.nozzle_si(density, main_fuel.max(0.0), bleed, signal - depression);
        let main_fuel = if nozzle > 0.0 { main_fuel.max(0.0) } else { 0.0 };
        let jets = self.jets_si(depression);
        Ok(WellFlow {
            nozzle_fuel: MassFlow::from_kg_s(main_fuel),
            idle_fuel: MassFlow::from_kg_s(if main_fuel > 0.0 { idle_fuel } else { jets }),
            bleed_air: MassFlow::from_kg_s(bleed),
            well_depression: PressureDifference::from_pa(depression),
        })
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

    fn well(jet_mm: f64, bleed_mm: f64, lip_mm: f64, enrichment_mm: f64) -> MainWell {
        MainWell {
            jet: MainJet::Fixed(Length::from_mm(jet_mm).bore_area() * 0.8),
            enrichment: Length::from_mm(enrichment_mm).bore_area() * 0.75,
            bleed: Length::from_mm(bleed_mm).bore_area() * 0.75,
            depth: Length::from_mm(40.0),
            nozzle: Length::from_mm(3.0).bore_area() * 0.7,
            lip: Length::from_mm(lip_mm),
            column: Column::Emulsion,
            start: PressureDifference::ZERO,
            fuel: Liquid { density: Density::from_kg_m3(745.0), viscosity: 5e-4 },
        }
    }

    fn fuel(w: MainWell, dp: f64) -> f64 {
        w.flow(air(), Pressure::from_pa(101_325.0 - dp)).unwrap().nozzle_fuel.as_kg_s()
    }

    /// Air through a 28 mm throat over the fuel.
    fn ratio(w: MainWell, dp: f64) -> f64 {
        let throat = Length::from_mm(28.0).bore_area() * 0.85;
        let flow = w.flow(air(), Pressure::from_pa(101_325.0 - dp)).unwrap();
        (air().flow(throat, PressureDifference::from_pa(dp)) + flow.bleed_air) / flow.nozzle_fuel
    }

    #[test]
    fn no_fuel_below_the_lip_head() {
        let edge = 745.0 * GRAVITY * 5e-3;
        assert_eq!(fuel(well(1.3, 1.0, 5.0, 0.0), 0.999 * edge), 0.0);
        assert!(fuel(well(1.3, 1.0, 5.0, 0.0), 1.01 * edge) > 0.0);
    }

    #[test]
    fn without_a_bleed_the_mixture_richens_with_air_flow() {
        let ratios: Vec<f64> =
            (1..40).map(|i| ratio(well(1.3, 0.0, 5.0, 0.0), 300.0 * f64::from(i))).collect();
        assert!(ratios.windows(2).all(|w| w[1] < w[0]), "{ratios:?}");
    }

    #[test]
    fn a_wide_nozzle_without_bleed_or_lip_is_the_elementary_carburetor() {
        let mut w = well(1.3, 0.0, 0.0, 0.0);
        w.nozzle = Area::from_mm2(4000.0);
        let elementary = crate::physics::metering::elementary::Elementary {
            throat: Length::from_mm(28.0).bore_area() * 0.85,
            jet: Length::from_mm(1.3).bore_area() * 0.8,
            lip: Length::ZERO,
            fuel: w.fuel.density,
        };
        let expected = elementary.ratio(air(), PressureDifference::from_pa(4000.0)).unwrap();
        assert!((ratio(w, 4000.0) / expected - 1.0).abs() < 1e-5);
    }

    proptest! {
        #[test]
        fn every_part_acts_its_own_way(dp in 200.0..14_000.0f64, jet in 1.0..2.0f64, bleed in 0.5..1.2f64) {
            let base = well(jet, bleed, 5.0, 0.0);
            prop_assert!(ratio(well(jet * 1.02, bleed, 5.0, 0.0), dp) < ratio(base, dp), "bigger jet, richer");
            prop_assert!(ratio(well(jet, bleed, 5.0, 0.7), dp) < ratio(base, dp), "enrichment, richer");
            let more_air = ratio(well(jet, bleed * 1.05, 5.0, 0.0), dp);
            prop_assert!(more_air >= ratio(base, dp) * (1.0 - 1e-7), "bigger bleed, never richer");
            let high_lip = ratio(well(jet, bleed, 6.0, 0.0), dp) / ratio(base, dp);
            prop_assert!(high_lip > 1.0 - 1e-7, "higher lip, leaner");
        }

        #[test]
        fn a_higher_lip_matters_less_and_less(bleed in 0.0..1.2f64) {
            let lean = |dp: f64| ratio(well(1.3, bleed, 7.0, 0.0), dp) / ratio(well(1.3, bleed, 5.0, 0.0), dp) - 1.0;
            prop_assert!(lean(200.0) > 4.0 * lean(8000.0));
        }

        #[test]
        fn mass_in_is_mass_out(dp in 100.0..14_000.0f64, jet in 1.0..2.0f64, bleed in 0.0..1.2f64) {
            let w = well(jet, bleed, 5.0, 0.5);
            let flow = w.flow(air(), Pressure::from_pa(101_325.0 - dp)).unwrap();
            let density = air().density().as_kg_m3() * (101_325.0 - dp) / 101_325.0;
            let (f, b) = (flow.nozzle_fuel.as_kg_s(), flow.bleed_air.as_kg_s());
            let out = w.nozzle_si(density, f, b, dp - flow.well_depression.as_pa());
            prop_assert!((out - f - b).abs() < 1e-5 * (f + b), "{out} {f} {b}");
        }

        #[test]
        fn fuel_is_continuous_in_the_signal(dp in 30.0..14_000.0f64) {
            let w = well(1.3, 1.0, 5.0, 0.0);
            prop_assert!((fuel(w, dp + 0.5) - fuel(w, dp)).abs() < 4e-5, "no more than the square root at the lip");
        }
    }
}
