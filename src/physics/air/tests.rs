use super::*;
use approx::{assert_abs_diff_eq, assert_relative_eq};
use proptest::prelude::*;

fn air(p: f64, t: f64, moisture: Moisture) -> MoistAir {
    MoistAir::new(Pressure::from_pa(p), Temperature::from_c(t), moisture).unwrap()
}

#[test]
fn what_is_no_air_is_refused_by_name() {
    let p = Pressure::from_kpa(101.325);
    let t = Temperature::from_c(20.0);
    let of = |m| MoistAir::new(p, t, m);
    assert!(matches!(of(Moisture::Relative(Fraction::from_ratio(1.001))), Err(AirError::Humidity(_))));
    assert!(of(Moisture::Relative(Fraction::from_ratio(1.0))).is_ok());
    assert!(matches!(of(Moisture::Relative(Fraction::from_ratio(-0.001))), Err(AirError::Humidity(_))));
    assert!(matches!(of(Moisture::DewPoint(Temperature::from_c(20.1))), Err(AirError::AboveAir { .. })));
    assert!(of(Moisture::DewPoint(t)).is_ok());
    assert!(matches!(of(Moisture::WetBulb(Temperature::from_c(20.1))), Err(AirError::AboveAir { .. })));
    assert!(matches!(of(Moisture::WetBulb(Temperature::from_c(4.0))), Err(AirError::TooDry { .. })));
    assert!(matches!(of(Moisture::AspiratedWetBulb(Temperature::from_c(4.0))), Err(AirError::TooDry { .. })));
    assert!(matches!(MoistAir::new(Pressure::from_kpa(29.9), t, Moisture::Dry), Err(AirError::Pressure(_))));
    assert!(matches!(
        MoistAir::new(p, Temperature::from_c(60.1), Moisture::Dry),
        Err(AirError::Temperature(_))
    ));
}

#[test]
fn dry_density_of_a_harbour_morning() {
    // 71 F, 30.05 inHg, 62 %: 1.1835 kg/m3 of dry air (own arithmetic)
    let a = MoistAir::new(
        Pressure::from_inhg(30.05),
        Temperature::from_f(71.0),
        Moisture::Relative(Fraction::from_percent(62.0)),
    );
    assert_abs_diff_eq!(a.unwrap().dry_density().as_kg_m3(), 1.1835, epsilon = 0.0005);
}

#[test]
fn saturated_air_has_one_temperature() {
    let a = air(101_325.0, 25.0, Moisture::Relative(Fraction::from_ratio(1.0)));
    assert_abs_diff_eq!(a.dew_point().unwrap().as_c(), 25.0, epsilon = 1e-5);
    assert_abs_diff_eq!(a.wet_bulb().unwrap().as_c(), 25.0, epsilon = 1e-5);
}

#[test]
fn dry_air_has_no_dew_point() {
    assert_eq!(air(101_325.0, 25.0, Moisture::Dry).dew_point(), None);
}

proptest! {
    #[test]
    fn every_way_of_measuring_moisture_gives_the_same_air(
        p in 60e3..105e3f64, t in -5.0..45.0f64, rh in 0.05..0.999f64
    ) {
        let direct = air(p, t, Moisture::Relative(Fraction::from_ratio(rh)));
        let by_dew = air(p, t, Moisture::DewPoint(direct.dew_point().unwrap()));
        assert_relative_eq!(by_dew.vapour_pressure().as_pa(), direct.vapour_pressure().as_pa(), max_relative = 1e-5);
        let by_wet = air(p, t, Moisture::WetBulb(direct.wet_bulb().unwrap()));
        assert_relative_eq!(by_wet.vapour_pressure().as_pa(), direct.vapour_pressure().as_pa(), max_relative = 1e-3);
    }

    #[test]
    fn vapour_makes_air_lighter_and_the_two_densities_agree(p in 60e3..110e3f64, t in 0.0..40.0f64, rh in 0.0..1.0f64) {
        let wet = air(p, t, Moisture::Relative(Fraction::from_ratio(rh)));
        prop_assert!(wet.density() <= air(p, t, Moisture::Dry).density());
        prop_assert!((wet.density() / wet.density_cipm() - 1.0).abs() < 1.2e-3);
    }
}
