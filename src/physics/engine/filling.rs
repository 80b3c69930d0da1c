//! How much charge the cylinders take from the manifold.

use super::throttle::Gas;
use crate::units::{EngineSpeed, MassFlow, Pressure, Temperature, Volume};

/// Share of the swept volume filled with fresh charge at manifold density, as the residual gas left in the
/// clearance volume expands into the cylinder first.
///
/// `free` is the efficiency the engine would have with manifold and exhaust at the same pressure; `exponent` is
/// the polytropic one of the expansion, about 1.35. Guzzella and Onder, *Introduction to Modeling and Control of
/// Internal Combustion Engine Systems*, section 2.3, from memory. Not below zero.
pub fn filling_efficiency(
    free: f64,
    compression: f64,
    exhaust: Pressure,
    manifold: Pressure,
    exponent: f64,
) -> f64 {
    let expansion = (exhaust.as_pa() / manifold.as_pa()).powf(1.0 / exponent);
    (free * (compression - expansion) / (compression - 1.0)).max(0.0)
}

/// Mass flow of gas into the cylinders of a four-stroke engine: speed and density.
pub fn charge_flow(
    efficiency: f64,
    displacement: Volume,
    speed: EngineSpeed,
    gas: Gas,
    manifold: Pressure,
    temperature: Temperature,
) -> MassFlow {
    let density = manifold.as_pa() / (gas.constant * temperature.as_k());
    MassFlow::from_kg_s(efficiency * displacement.as_m3() * speed.as_rpm() / 120.0 * density)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::engine::AIR;
    use approx::assert_relative_eq;

    #[test]
    fn equal_pressures_leave_the_free_efficiency() {
        let p = Pressure::from_kpa(100.0);
        assert_relative_eq!(filling_efficiency(0.9, 9.0, p, p, 1.35), 0.9 * 8.0 / 8.0, epsilon = 1e-12);
        assert!(filling_efficiency(0.9, 9.0, p, Pressure::from_kpa(30.0), 1.35) < 0.9);
        assert_eq!(filling_efficiency(0.9, 9.0, p, Pressure::from_kpa(1.0), 1.35), 0.0);
    }

    #[test]
    fn a_litre_at_unit_efficiency_is_pumped_once_in_two_turns() {
        let (p, t) = (Pressure::from_kpa(101.325), Temperature::from_c(15.0));
        let flow = charge_flow(1.0, Volume::from_l(1.0), EngineSpeed::from_rpm(120.0), AIR, p, t);
        assert_relative_eq!(flow.as_g_s(), 1.225, epsilon = 1e-3);
    }
}
