//! Logs, and every family on both engines.

use super::*;

#[test]
fn a_standard_run_fills_every_regime() {
    for setup in [oyster_skiff(), pulling_tractor()] {
        let mut engine = started(&setup, Character::Mild, 3);
        let program = RunProgram::standard(&setup);
        let text = engine.log(&program);
        let mut lines = text.lines();
        assert_eq!(
            lines.next(),
            Some("time_s,rpm,vacuum_inhg,map_kpa,tps_pct,lambda,coolant_c,fuel_pressure_kpa")
        );
        let rows: Vec<Vec<f64>> =
            lines.map(|l| l.split(',').map(|f| f.parse().unwrap_or(f64::NAN)).collect()).collect();
        assert!((rows.len() as f64 * 0.04 - program.duration().as_s()).abs() < 2.0);
        assert!(rows.windows(2).all(|w| w[1][0] > w[0][0]));
        let share =
            |in_regime: &dyn Fn(&[f64]) -> bool| rows.iter().filter(|r| in_regime(r)).count() as f64 * 0.04;
        let opens = setup.carburetor.enrichment.unwrap().opens_below.as_inhg();
        assert!(share(&|r| r[4] < 0.5 && r[1] < 1200.0) > 25.0, "idle");
        assert!(share(&|r| (3.0..12.0).contains(&r[4])) > 15.0, "off idle");
        assert!(share(&|r| r[2] > opens + 3.0 && r[4] > 8.0 && r[1] > 1400.0) > 20.0, "cruise");
        assert!(
            share(&|r| (opens + 0.5..opens + 3.0).contains(&r[2]) && r[1] > 1400.0) > 9.0,
            "heavy cruise"
        );
        assert!(share(&|r| r[4] > 95.0 && r[2] < 2.5) > 12.0, "full throttle");
        assert!(share(&|r| r[4] < 1.0 && r[1] > 1500.0 && r[2] > 19.0) > 3.0, "overrun");
        let known = rows.iter().filter(|r| r[5].is_finite()).count();
        assert!(known as f64 > 0.97 * rows.len() as f64, "{known}");
        assert!(rows.iter().all(|r| r[1] < 1.3 * setup.engine.rated_speed.as_rpm() && r[3] > 5.0));
        assert!(engine.is_running());
    }
}

#[test]
fn every_family_starts_and_keeps_running_on_both_engines() {
    for setup in [oyster_skiff(), pulling_tractor()] {
        for character in Character::ALL {
            for seed in 0..12 {
                let mut engine = started(&setup, character, seed);
                engine.advance(seconds(40.0));
                let truth = engine.truth();
                assert!(engine.is_running(), "{} {seed} {truth:?}", character.name());
                assert!(
                    (400.0..1500.0).contains(&truth.speed.as_rpm()),
                    "{} {seed} {truth:?}",
                    character.name()
                );
                let best = engine.best_vacuum().unwrap();
                assert!(best.vacuum.as_inhg() > 4.0, "{} {seed} {best:?}", character.name());
                assert!(engine.regret().as_inhg() > -0.02, "{} {seed}", character.name());
            }
        }
    }
}
