//! A whole carburetor in a day's air: mixture and fuel by circuit at an air flow and a manifold vacuum.

use super::assumed;
use super::error::MeteringError;
use super::idle::IdleWell;
use super::jet::{Bore, Liquid};
use super::nozzle::{DRY_AIR, Gas, Inlet};
use super::throttle;
use super::well::{Column, MainJet, MainWell, enrichment_path};
use crate::physics::air::MoistAir;
use crate::setup::{Carburetor, Fuel, MainSet, SetName, Weather};
use crate::units::{Area, Density, Fraction, Lambda, MassFlow, Pressure, Turns, Vacuum};

/// Where the carburetor works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Operating {
    /// Air through the venturis, all barrels.
    pub air_flow: MassFlow,
    /// Manifold vacuum.
    pub vacuum: Vacuum,
}

/// Fuel by the circuit it comes through, all barrels.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CircuitFuel {
    /// Primary main jets, to the nozzle.
    pub main_primary: MassFlow,
    /// Secondary main jets.
    pub main_secondary: MassFlow,
    /// Enrichment valve.
    pub enrichment: MassFlow,
    /// Idle and transition circuit.
    pub idle: MassFlow,
}

impl CircuitFuel {
    /// All of it.
    pub fn total(&self) -> MassFlow {
        self.main_primary + self.main_secondary + self.enrichment + self.idle
    }
}

/// What the carburetor does there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Metered {
    /// The mixture.
    pub lambda: Lambda,
    /// Air in all, bleeds included.
    pub air: MassFlow,
    /// Fuel by circuit.
    pub fuel: CircuitFuel,
    /// Depression in the primary venturis over that at which they choke.
    pub choking: Fraction,
    /// Share of the throttle's travel.
    pub throttle: Fraction,
    /// How far the enrichment valve is open.
    pub enrichment_open: Fraction,
}

/// A carburetor, a fuel and an air, ready to be asked.
#[derive(Debug, Clone)]
pub struct Model {
    carburetor: Carburetor,
    air: Inlet,
    dry_share: f64,
    liquid: Liquid,
    stoichiometric: f64,
    rated: MassFlow,
}

impl Model {
    /// Puts the carburetor in an air, with [`assumed`] figures where its description is silent.
    pub fn of(carburetor: &Carburetor, fuel: &Fuel, weather: &Weather) -> Model {
        let (air, dry_share) = moist(weather);
        let warmer = weather.temperature.as_c() - 15.0;
        let density =
            Density::from_kg_m3(fuel.density.as_kg_m3() * (1.0 - assumed::FUEL_EXPANSION_PER_K * warmer));
        Model {
            carburetor: carburetor.clone(),
            air,
            dry_share,
            liquid: Liquid { density, viscosity: assumed::VISCOSITY },
            stoichiometric: fuel.stoichiometric.as_ratio(),
            rated: carburetor.rated_flow * air.density(),
        }
    }

    /// The same air and fuel with another carburetor in it.
    #[must_use]
    pub fn with(&self, carburetor: Carburetor) -> Model {
        Model { rated: carburetor.rated_flow * self.air.density(), carburetor, ..self.clone() }
    }

    /// The carburetor as it is in the model.
    pub fn carburetor(&self) -> &Carburetor {
        &self.carburetor
    }

    /// The rated flow in this air.
    pub fn rated_flow(&self) -> MassFlow {
        self.rated
    }

    /// How far the enrichment valve is open at a vacuum: a smooth ramp about its mark.
    pub fn enrichment_open(&self, vacuum: Vacuum) -> f64 {
        self.carburetor.enrichment.map_or(0.0, |e| {
            let below = (e.opens_below - vacuum) / assumed::ENRICHMENT_WIDTH + 0.5;
            let x = below.clamp(0.0, 1.0);
            x * x * (3.0 - 2.0 * x)
        })
    }

    /// Mixture and fuel at an air flow and a vacuum.
    ///
    /// # Errors
    /// [`MeteringError`]: a size or flow that is not physical, choked venturis, no fuel, or a network unsolved.
    pub fn at(&self, at: Operating) -> Result<Metered, MeteringError> {
        self.check(at)?;
        let throttle = throttle::travel(&self.carburetor, self.air, at.air_flow.as_kg_s(), at.vacuum.as_pa())
            .map_err(|source| MeteringError::Unsolved { network: "throttle", source })?;
        let shares = throttle::shares(&self.carburetor, throttle);
        let (mut fuel, mut air, mut choking) = (CircuitFuel::default(), at.air_flow, 0.0);
        for (set, share) in self.carburetor.main.iter().zip(shares) {
            let one = self.barrel(set, at.air_flow * share, at.vacuum, throttle)?;
            let barrels = f64::from(set.barrels);
            match set.set {
                SetName::Primary => {
                    fuel.main_primary += one.main * barrels;
                    choking = one.choking;
                }
                SetName::Secondary => fuel.main_secondary += one.main * barrels,
            }
            fuel.enrichment += one.enrichment * barrels;
            fuel.idle += one.idle * barrels;
            air += one.bleeds * barrels;
        }
        let total = fuel.total().as_kg_s();
        if total <= 0.0 {
            return Err(MeteringError::NoFuel);
        }
        Ok(Metered {
            lambda: Lambda::from_ratio(air.as_kg_s() * self.dry_share / total / self.stoichiometric),
            air,
            fuel,
            choking: Fraction::from_ratio(choking),
            throttle: Fraction::from_ratio(throttle),
            enrichment_open: Fraction::from_ratio(self.enrichment_open(at.vacuum)),
        })
    }

    fn check(&self, at: Operating) -> Result<(), MeteringError> {
        let c = &self.carburetor;
        let sizes = c.main.iter().all(|m| m.barrels > 0 && m.venturi.as_m() > 0.0 && m.jet.as_m() > 0.0);
        if c.main.is_empty() || !sizes || c.idle.feed_restriction.as_m() < 0.0 {
            return Err(MeteringError::Unphysical {
                what: "barrels, venturis and jets",
                must: "more than zero",
            });
        }
        if at.air_flow.as_kg_s() <= 0.0 {
            return Err(MeteringError::Unphysical { what: "air flow", must: "more than zero" });
        }
        if at.vacuum.as_pa() >= self.air.pressure.as_pa() {
            return Err(MeteringError::Unphysical {
                what: "manifold vacuum",
                must: "less than the pressure outside",
            });
        }
        Ok(())
    }

    fn barrel(
        &self,
        set: &MainSet,
        set_air: MassFlow,
        vacuum: Vacuum,
        travel: f64,
    ) -> Result<Barrel, MeteringError> {
        let venturi = set.venturi.bore_area() * assumed::VENTURI_DISCHARGE;
        let depression = self.air.depression(venturi, set_air / f64::from(set.barrels))?;
        let gain = set.booster_gain.unwrap_or(assumed::BOOSTER_GAIN);
        let p0 = self.air.pressure.as_pa();
        let at_nozzle = Pressure::from_pa((p0 - gain * depression.as_pa()).max(0.02 * p0));
        let idle = self.idle_well(set, travel);
        let manifold = p0 - vacuum.as_pa().max(0.0);
        let well = self.main_well(set, vacuum);
        let drawn = |w: f64| idle.map_or(0.0, |i| i.fuel_at_well(self.air, w, manifold));
        let flow = well.flow_beside(self.air, at_nozzle, drawn)?;
        let enriching = well.enrichment_share(flow.well_depression);
        let idle_flow = idle
            .map(|i| i.flow(self.air, flow.well_depression, Pressure::from_pa(manifold)))
            .transpose()
            .map_err(|source| MeteringError::Unsolved { network: "idle", source })?;
        Ok(Barrel {
            main: flow.nozzle_fuel * (1.0 - enriching),
            enrichment: flow.nozzle_fuel * enriching,
            idle: flow.idle_fuel,
            bleeds: flow.bleed_air + idle_flow.map_or(MassFlow::ZERO, |f| f.air),
            choking: depression / self.air.choking_depression(),
        })
    }

    fn main_well(&self, set: &MainSet, vacuum: Vacuum) -> MainWell {
        let enrichment = match (set.set, self.carburetor.enrichment) {
            (SetName::Primary, Some(e)) => {
                let channel = e.channel_restriction.bore_area() * assumed::BLEED_DISCHARGE;
                enrichment_path(channel, channel * assumed::SEAT_OVER_CHANNEL, self.enrichment_open(vacuum))
            }
            _ => Area::ZERO,
        };
        MainWell {
            jet: MainJet::Bore(Bore::jet(set.jet)),
            enrichment,
            bleed: set.air_bleed.bore_area() * assumed::BLEED_DISCHARGE,
            depth: set.emulsion_depth.unwrap_or(assumed::EMULSION_DEPTH),
            nozzle: set.nozzle.unwrap_or(nozzle_for(set)).bore_area() * assumed::NOZZLE_DISCHARGE,
            lip: set.lip.unwrap_or(assumed::LIP),
            column: Column::Fuel,
            start: assumed::NOZZLE_START,
            fuel: self.liquid,
        }
    }

    /// The idle circuit of one barrel of a set, when the set has one: the secondaries have it when there are more
    /// screws than primary barrels.
    fn idle_well(&self, set: &MainSet, travel: f64) -> Option<IdleWell> {
        let idle = &self.carburetor.idle;
        let primaries = self.carburetor.main_set(SetName::Primary).map_or(1, |m| m.barrels);
        if set.set == SetName::Secondary && idle.screws <= primaries {
            return None;
        }
        let served = if idle.screws > primaries { self.carburetor.barrels.max(1) } else { primaries.max(1) };
        let turns: Turns = idle.turns_out.iter().copied().sum();
        let screw = assumed::SCREW_AREA_PER_TURN * (turns.as_turns().max(0.0) / f64::from(served));
        let showing = idle.slot_exposure.unwrap_or(assumed::SLOT_EXPOSURE) / assumed::SLOT_LENGTH;
        let below = showing.max(travel / assumed::SLOT_TRAVEL).clamp(0.0, 1.0);
        let (port, screw_air) =
            if idle.screws_meter_air { (assumed::FIXED_IDLE_PORT, screw) } else { (screw, Area::ZERO) };
        Some(IdleWell {
            feed: Bore::jet(idle.feed_restriction),
            bleed: idle.air_bleed.bore_area() * assumed::BLEED_DISCHARGE + screw_air,
            outlet: port + assumed::SLOT_AREA * below,
            slot_above: assumed::SLOT_AREA * (1.0 - below),
            lift: assumed::IDLE_LIFT,
            fuel: self.liquid,
        })
    }
}

/// One barrel's share of the answer.
struct Barrel {
    main: MassFlow,
    enrichment: MassFlow,
    idle: MassFlow,
    bleeds: MassFlow,
    choking: f64,
}

/// A nozzle that belongs to the venturi rather than to the jet fitted today: changing a jet must not change it.
fn nozzle_for(set: &MainSet) -> crate::units::Length {
    // A main jet is about a seventeenth of its venturi (Keswani, ex. 9.3).
    set.venturi * (assumed::NOZZLE_OVER_JET / 17.4)
}

/// The inlet of a day's air, and the share of its mass that is dry air. Weather beyond what the saturation equation
/// covers is taken as dry.
fn moist(weather: &Weather) -> (Inlet, f64) {
    let (constant, dry) = MoistAir::from_weather(weather).map_or((DRY_AIR.constant, 1.0), |air| {
        let density = air.density().as_kg_m3();
        let constant = weather.pressure.as_pa() / (density * weather.temperature.as_k());
        (constant, air.dry_density().as_kg_m3() / density)
    });
    let gas = Gas::perfect(constant, DRY_AIR.gamma);
    (Inlet { pressure: weather.pressure, temperature: weather.temperature, gas }, dry)
}

#[cfg(test)]
mod tests;
