//! How much air an engine takes, and what a carburetor of a given rating makes of it.

use crate::units::{
    Density, EngineSpeed, Fraction, Length, MassFlow, Power, PressureDifference, Torque, Velocity, Volume,
    VolumeFlow,
};

/// Revolutions a second.
fn rev_per_s(speed: EngineSpeed) -> f64 {
    speed.as_rpm() / 60.0
}

/// Air a four-stroke engine takes, by volume at the density outside: one intake stroke in two revolutions. In cubic inches
/// and cfm this is the trade's in3 x rpm x VE / 3456.
pub fn air_demand(displacement: Volume, speed: EngineSpeed, volumetric_efficiency: Fraction) -> VolumeFlow {
    VolumeFlow::from_m3_s(displacement.as_m3() * rev_per_s(speed) / 2.0 * volumetric_efficiency.as_ratio())
}

/// Volumetric efficiency from a measured air flow; `None` when the engine stands still or has no volume.
pub fn volumetric_efficiency(
    air: MassFlow,
    displacement: Volume,
    speed: EngineSpeed,
    density: Density,
) -> Option<Fraction> {
    let full = displacement.as_m3() * rev_per_s(speed) / 2.0 * density.as_kg_m3();
    (full > 0.0).then(|| Fraction::from_ratio(air.as_kg_s() / full))
}

/// A flow rating restated at another depression, by the square law. For 3.0 to 1.5 inHg this is the trade's 0.707; an ideal
/// nozzle would give 0.728, so the law is a convention, 3 % from compressible flow. `None` unless both are positive.
pub fn rating_at(rated: VolumeFlow, at: PressureDifference, other: PressureDifference) -> Option<VolumeFlow> {
    (at.as_pa() > 0.0 && other.as_pa() > 0.0).then(|| rated * (other / at).sqrt())
}

/// The depression a carburetor shows at a flow, from its rating: rated depression x (flow / rated flow)^2. `None` unless the
/// rating is positive.
pub fn depression_at(
    flow: VolumeFlow,
    rated: VolumeFlow,
    at: PressureDifference,
) -> Option<PressureDifference> {
    (rated.as_m3_s() > 0.0 && at.as_pa() > 0.0).then(|| at * (flow / rated).powi(2))
}

/// Torque of a power at a speed; `None` when the engine stands still.
pub fn torque(power: Power, speed: EngineSpeed) -> Option<Torque> {
    (speed.as_rad_s() > 0.0).then(|| Torque::from_n_m(power.as_w() / speed.as_rad_s()))
}

/// Mean piston speed.
pub fn mean_piston_speed(stroke: Length, speed: EngineSpeed) -> Velocity {
    Velocity::from_m_s(2.0 * stroke.as_m() * rev_per_s(speed))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    fn demand(in3: f64, rpm: f64, ve: f64) -> f64 {
        air_demand(Volume::from_in3(in3), EngineSpeed::from_rpm(rpm), Fraction::from_ratio(ve)).as_cfm()
    }

    #[test]
    fn the_trade_form_with_3456() {
        assert_abs_diff_eq!(demand(440.0, 6000.0, 0.90), 687.5, epsilon = 0.1);
        assert_abs_diff_eq!(demand(256.0, 4100.0, 0.80), 243.0, epsilon = 0.5);
        assert_abs_diff_eq!(demand(256.0, 4100.0, 0.65), 256.0 * 4100.0 * 0.65 / 3456.0, epsilon = 1e-9);
    }

    #[test]
    fn nothing_from_nothing() {
        let (q, dp) = (VolumeFlow::from_cfm(100.0), PressureDifference::from_inhg(1.5));
        assert!(depression_at(q, VolumeFlow::ZERO, dp).is_none());
        assert!(rating_at(q, PressureDifference::ZERO, dp).is_none());
        assert!(torque(Power::from_kw(1.0), EngineSpeed::ZERO).is_none());
        assert!(
            volumetric_efficiency(
                MassFlow::from_g_s(1.0),
                Volume::ZERO,
                EngineSpeed::from_rpm(900.0),
                Density::from_kg_m3(1.2)
            )
            .is_none()
        );
    }

    proptest! {
        #[test]
        fn the_two_ratings_of_one_carburetor_show_one_depression(q in 50.0..900.0f64, rated in 100.0..900.0f64) {
            let (q, rated) = (VolumeFlow::from_cfm(q), VolumeFlow::from_cfm(rated));
            let (three, half) = (PressureDifference::from_inhg(3.0), PressureDifference::from_inhg(1.5));
            let restated = rating_at(rated, three, half).unwrap();
            let a = depression_at(q, rated, three).unwrap().as_inhg();
            let b = depression_at(q, restated, half).unwrap().as_inhg();
            prop_assert!((a - b).abs() < 1e-9 * a.max(1.0));
        }

        #[test]
        fn efficiency_comes_back_out_of_the_flow(ve in 0.3..1.2f64, rpm in 500.0..8000.0f64) {
            let (v, n, rho) = (Volume::from_l(5.0), EngineSpeed::from_rpm(rpm), Density::from_kg_m3(1.15));
            let air = air_demand(v, n, Fraction::from_ratio(ve)) * rho;
            prop_assert!((volumetric_efficiency(air, v, n, rho).unwrap().as_ratio() - ve).abs() < 1e-9);
        }
    }
}
