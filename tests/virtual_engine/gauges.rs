//! Gauges and chance.

use super::*;

#[test]
fn the_same_seed_and_hands_give_the_same_engine_however_time_is_cut() {
    let run = |cut: f64| {
        let mut engine = started(&pulling_tractor(), Character::Lopey, 77);
        engine.turn_screw(2, turns(0.125));
        for _ in 0..(3.0 / cut).round() as u32 {
            engine.advance(seconds(cut));
        }
        (engine.truth(), engine.gauges(), engine.elapsed().as_s())
    };
    assert_eq!(run(0.05).0, run(0.5).0);
    assert_eq!(run(0.5), run(0.5));
    let other = started(&pulling_tractor(), Character::Lopey, 78);
    assert_ne!(other.best_vacuum(), started(&pulling_tractor(), Character::Lopey, 77).best_vacuum());
}

#[test]
fn gauges_are_read_to_half_a_mark_and_a_step() {
    let mut engine = started(&oyster_skiff(), Character::Mild, 12);
    for _ in 0..40 {
        engine.advance(seconds(0.7));
        let gauges = engine.gauges();
        let halves = gauges.vacuum.as_inhg() / 0.25;
        let tens = gauges.speed.as_rpm() / 10.0;
        assert!((halves - halves.round()).abs() < 1e-9 && (tens - tens.round()).abs() < 1e-9, "{gauges:?}");
        assert!((gauges.vacuum.as_inhg() - engine.truth().vacuum.as_inhg()).abs() < 1.0, "{gauges:?}");
    }
    engine.stop();
    engine.advance(seconds(10.0));
    let off = engine.gauges();
    assert_eq!((off.vacuum, off.speed, off.lambda), (Vacuum::ZERO, EngineSpeed::ZERO, None));
}

#[test]
fn without_a_sensor_there_is_no_lambda() {
    let mut setup = oyster_skiff();
    setup.instruments.lambda = None;
    let mut engine = started(&setup, Character::Mild, 1);
    engine.advance(seconds(10.0));
    assert_eq!(engine.gauges().lambda, None);
}

/// Seconds from a change of mixture to half its effect at the sensor.
fn delay(engine: &mut VirtualEngine, enrich: impl Fn(&mut VirtualEngine)) -> f64 {
    let log = |e: &mut VirtualEngine, s: f64| {
        e.advance(seconds(s));
        e.gauges().lambda.unwrap().as_ratio()
    };
    let before = log(engine, 8.0);
    let mut after = engine.clone();
    enrich(&mut after);
    enrich(engine);
    let end = log(&mut after, 8.0);
    let half = f64::midpoint(before, end);
    (1..400)
        .find(|_| {
            let now = log(engine, 0.02);
            if end < before { now <= half } else { now >= half }
        })
        .map_or(99.0, |i| 0.02 * f64::from(i))
}

#[test]
fn the_sensor_is_late_and_later_at_idle_than_under_load() {
    let jet = |e: &mut VirtualEngine| {
        assert!(
            e.change_part(PartPath::MainJet(SetName::Primary), PartSize::Bore(Length::from_inches(0.070)))
        );
    };
    let screws = |e: &mut VirtualEngine| {
        e.turn_screw(1, turns(0.8));
        e.turn_screw(2, turns(0.8));
    };
    let idle = delay(&mut started(&oyster_skiff(), Character::Mild, 3), screws);
    let mut loaded = started(&oyster_skiff(), Character::Mild, 3);
    loaded.set_throttle(Fraction::from_ratio(1.0));
    loaded.set_load(Load::Brake(rpm(3000.0)));
    let full = delay(&mut loaded, jet);
    assert!((0.4..2.5).contains(&idle), "{idle}");
    assert!(full < 0.5 * idle, "{full} {idle}");
}
