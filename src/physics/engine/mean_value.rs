//! The idle of a mean-value engine: the manifold pressure at which a charge just pays for friction and pumping.

use super::filling::{charge_flow, filling_efficiency};
use super::throttle::AIR;
use crate::numeric::solve::{SolveError, root};
use crate::units::{
    AirFuelRatio, EngineSpeed, Lambda, MassFlow, Pressure, PressureDifference, Temperature, Volume,
};

/// An engine as a mean-value model sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdleEngine {
    /// Speed it is held at.
    pub speed: EngineSpeed,
    /// Swept volume.
    pub displacement: Volume,
    /// Compression ratio.
    pub compression: f64,
    /// Exhaust pressure.
    pub exhaust: Pressure,
    /// Filling efficiency with manifold and exhaust at one pressure.
    pub filling: f64,
    /// Polytropic exponent of the residual gas.
    pub exponent: f64,
    /// Manifold temperature.
    pub temperature: Temperature,
    /// Lower heating value of the fuel, J/kg.
    pub heating_value: f64,
    /// Stoichiometric ratio of the fuel.
    pub stoichiometric: AirFuelRatio,
    /// Mixture.
    pub lambda: Lambda,
    /// Indicated efficiency, of the heat of the fuel that the air can burn: a rich mixture's own efficiency is this
    /// times its lambda.
    pub efficiency: f64,
    /// Rubbing friction, pumping not counted.
    pub friction: PressureDifference,
}

impl IdleEngine {
    /// Air the cylinders take at a manifold pressure.
    pub fn air(&self, manifold: Pressure) -> MassFlow {
        let filling =
            filling_efficiency(self.filling, self.compression, self.exhaust, manifold, self.exponent);
        charge_flow(filling, self.displacement, self.speed, AIR, manifold, self.temperature)
    }

    /// Brake mean effective pressure: indicated less pumping (exhaust over intake) less rubbing.
    pub fn brake_pressure(&self, manifold: Pressure) -> PressureDifference {
        let fuel = self.air(manifold).as_kg_s() / (self.lambda.as_ratio() * self.stoichiometric.as_ratio());
        let cycles = self.speed.as_rpm() / 120.0;
        let efficiency = self.efficiency * self.lambda.as_ratio().min(1.0);
        let indicated = efficiency * fuel * self.heating_value / (self.displacement.as_m3() * cycles);
        let pumping = self.exhaust.drop_to(manifold).as_pa();
        PressureDifference::from_pa(indicated - pumping - self.friction.as_pa())
    }
}

/// The manifold pressure at which the engine just turns by itself.
///
/// Torque balance of the mean-value engine: Hendricks and Sorenson, SAE 900616 (1990), and Guzzella and Onder, both
/// from memory. Errors when no pressure below the exhaust's balances it.
pub fn idle_pressure(engine: &IdleEngine) -> Result<Pressure, SolveError> {
    let high = engine.exhaust.as_pa();
    let pa = root(0.05 * high, high, 0.01, |p| engine.brake_pressure(Pressure::from_pa(p)).as_pa())?;
    Ok(Pressure::from_pa(pa))
}
