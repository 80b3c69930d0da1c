//! The virtual engine as a person beside it would meet it: it idles where such engines idle, answers screws, jets,
//! loads and weather as they do, shows itself through poor gauges, and is the same again from the same seed.

#![expect(clippy::unwrap_used, reason = "a helper of a test fails the test that calls it")]

mod gauges;
mod idle;
mod load;
mod logs;

use leanbest::bench::virtual_engine::scenario::{oyster_skiff, pulling_tractor};
use leanbest::bench::virtual_engine::{Character, Fault, Load, RunProgram, Segment, VirtualEngine};
use leanbest::numeric::rng::Chance;
use leanbest::setup::{Cam, Drive, PartPath, PartSize, SetName, Setup};
use leanbest::units::{
    CrankAngle, EngineSpeed, Fraction, Length, Pressure, Temperature, TimeSpan, Turns, Vacuum, Volume,
};

fn seconds(s: f64) -> TimeSpan {
    TimeSpan::from_s(s)
}

fn turns(t: f64) -> Turns {
    Turns::from_turns(t)
}

fn rpm(n: f64) -> EngineSpeed {
    EngineSpeed::from_rpm(n)
}

fn started(setup: &Setup, character: Character, seed: u64) -> VirtualEngine {
    let mut engine = VirtualEngine::new(setup, character, seed);
    assert!(engine.start(), "{} {seed} does not start", character.name());
    engine.advance(seconds(10.0));
    engine
}

fn to_best(engine: &mut VirtualEngine) {
    let best = engine.best_vacuum().unwrap();
    for (k, (to, from)) in best.turns.iter().zip(engine.screws()).enumerate() {
        engine.turn_screw(k as u8 + 1, *to - from);
    }
}

/// Turns the idle-speed screw until the settled speed is within 3 rpm, or patience ends.
fn trim(engine: &mut VirtualEngine, aim: f64) {
    for _ in 0..250 {
        // where it would stall, it wants more air
        let off = engine.settled().map_or(70.0, |x| aim - x.speed.as_rpm());
        if off.abs() < 3.0 {
            return;
        }
        engine.turn_idle_speed_screw(turns((off / 700.0).clamp(-0.05, 0.2)));
    }
}

/// Screws at their best and idle at the aim, within 3 %: closing the stop leans a corner that fed on its slot, so
/// the speed is trimmed a little rich, and the screws brought to their best after.
fn tuned(engine: &mut VirtualEngine, aim: f64) {
    let mut trim_to = aim;
    for _ in 0..12 {
        to_best(engine);
        let off = engine.settled().map_or(f64::INFINITY, |x| x.speed.as_rpm() - aim);
        if off.abs() < 0.03 * aim {
            return;
        }
        for screw in 1..=engine.screws().len() as u8 {
            engine.turn_screw(screw, turns(0.12));
        }
        trim_to -= if off.is_finite() { 0.7 * off } else { 0.0 };
        trim(engine, trim_to);
    }
    panic!("cannot tune to {aim} rpm: {:?}", engine.settled());
}

fn repaired_skiff() -> VirtualEngine {
    let mut engine = VirtualEngine::new(&oyster_skiff(), Character::AsFound, 1);
    for fault in [Fault::HighFuelPressure, Fault::HighFloat, Fault::BaseGasketLeak, Fault::PumpLeverPlay] {
        assert!(engine.fix(fault), "{fault:?}");
        assert!(!engine.fix(fault), "{fault:?} is fixed already");
    }
    engine.set_timing(CrankAngle::from_deg(8.0));
    engine.turn_screw(1, turns(-2.0));
    assert!(engine.start());
    engine.advance(seconds(400.0));
    tuned(&mut engine, 700.0);
    engine
}

fn vacuum(engine: &VirtualEngine) -> f64 {
    engine.settled().map_or(0.0, |s| s.vacuum.as_inhg())
}
