//! Each happening on both sides of its border.

mod told;

use super::super::segment::tests::row;
use super::*;

fn borders() -> Borders {
    Borders {
        closed_pct: 0.0,
        open_pct: 90.0,
        idle_rpm: 800.0,
        idle_inhg: 16.0,
        heavy_inhg: 8.0,
        throttle: true,
    }
}

/// Stretches: seconds, regime, and speed, vacuum, throttle, lambda as functions of the time in it.
type Stretch<'a> = (f64, Option<Regime>, &'a dyn Fn(f64) -> [f64; 4]);

fn run(stretches: &[Stretch<'_>]) -> BTreeMap<EventKind, u64> {
    run_with_fuel(stretches, &|_| f64::NAN)
}

fn run_with_fuel(stretches: &[Stretch<'_>], fuel: &dyn Fn(f64) -> f64) -> BTreeMap<EventKind, u64> {
    let mut happenings = Happenings::new(borders());
    let (mut events, mut counts) = (Vec::new(), BTreeMap::new());
    let mut t = 0.0;
    for (seconds, regime, of) in stretches {
        for i in 0..(seconds * 40.0) as u32 {
            let [speed, vacuum, throttle, lambda] = of(f64::from(i) / 40.0);
            let mut s = row(t, speed, vacuum, throttle);
            s.fuel_pressure_kpa = fuel(t);
            happenings.push(&s, *regime, lambda, &mut events, &mut counts);
            t += 1.0 / 40.0;
        }
    }
    happenings.end(&mut events, &mut counts);
    assert_eq!(events.len() as u64, counts.values().sum::<u64>());
    counts
}

fn has(counts: &BTreeMap<EventKind, u64>, kind: EventKind) -> bool {
    counts.get(&kind).is_some_and(|n| *n == 1)
}

#[test]
fn stumble() {
    let at = |lambda: f64, sag: f64, seconds: f64| {
        run(&[
            (3.0, Some(Regime::Idle), &|_| [800.0, 16.0, 0.0, 0.9]),
            (seconds, Some(Regime::OffIdle), &move |_| [800.0 - sag, 15.0, 6.0, lambda]),
            (3.0, Some(Regime::OffIdle), &|_| [1000.0, 15.0, 6.0, 0.95]),
        ])
    };
    assert!(has(&at(1.06, 60.0, 1.0), EventKind::Stumble));
    assert!(!has(&at(1.04, 60.0, 1.0), EventKind::Stumble), "not lean");
    assert!(!has(&at(1.06, 40.0, 1.0), EventKind::Stumble), "no sag");
    assert!(!has(&at(1.06, 60.0, 0.25), EventKind::Stumble), "too short");
}

#[test]
fn surge() {
    let at = |lambda: f64, swing: f64, hz: f64, throttle: f64| {
        run(&[(40.0, Some(Regime::Cruise), &move |t| {
            let s = (t * hz * core::f64::consts::TAU).sin();
            [2000.0 + 0.5 * swing * 2000.0 * s, 14.0, 20.0 + throttle * s, lambda]
        })])
    };
    assert!(has(&at(1.06, 0.025, 0.6, 0.0), EventKind::Surge));
    assert!(!has(&at(1.04, 0.025, 0.6, 0.0), EventKind::Surge), "not lean");
    assert!(!has(&at(1.06, 0.008, 0.6, 0.0), EventKind::Surge), "too small");
    assert!(!has(&at(1.06, 0.025, 0.1, 0.0), EventKind::Surge), "too slow");
    assert!(!has(&at(1.06, 0.025, 0.6, 1.5), EventKind::Surge), "the foot does it");
}

#[test]
fn hunting() {
    let at = |swing: f64, against: f64, hz: f64| {
        run(&[(40.0, Some(Regime::Cruise), &move |t| {
            let s = (t * hz * core::f64::consts::TAU).sin();
            [1800.0 + 0.5 * swing * s, 14.0, 20.0 + against * s, 0.95]
        })])
    };
    assert!(has(&at(120.0, -3.0, 0.5), EventKind::Hunting));
    assert!(!has(&at(80.0, -3.0, 0.5), EventKind::Hunting), "too small");
    assert!(!has(&at(120.0, 3.0, 0.5), EventKind::Hunting), "speed follows the throttle");
    assert!(!has(&at(120.0, -3.0, 0.1), EventKind::Hunting), "hills, not a governor");
}

#[test]
fn hanging_idle() {
    let at = |over: f64, seconds: f64, vacuum: f64| {
        run(&[
            (5.0, Some(Regime::Cruise), &|_| [2000.0, 14.0, 20.0, 0.95]),
            (seconds, Some(Regime::Overrun), &move |_| [800.0 + over, vacuum, 0.0, 0.95]),
            (5.0, Some(Regime::Idle), &|_| [800.0, 16.0, 0.0, 0.95]),
        ])
    };
    assert!(has(&at(200.0, 4.0, 18.0), EventKind::HangingIdle));
    assert!(!has(&at(140.0, 4.0, 18.0), EventKind::HangingIdle), "not high");
    assert!(!has(&at(200.0, 2.5, 18.0), EventKind::HangingIdle), "not long");
    assert!(!has(&at(200.0, 4.0, 15.0), EventKind::HangingIdle), "vacuum not higher than idle");
}

#[test]
fn dies_in_gear() {
    let at = |speed: f64, vacuum: f64| {
        run(&[
            (5.0, Some(Regime::Idle), &|_| [750.0, 16.0, 0.0, 0.9]),
            (2.0, Some(Regime::Idle), &move |_| [speed, vacuum, 0.0, 0.9]),
        ])
    };
    assert!(has(&at(450.0, 10.0), EventKind::LoadStall));
    assert!(!has(&at(550.0, 10.0), EventKind::LoadStall), "holds");
    assert!(!has(&at(450.0, 12.0), EventKind::LoadStall), "vacuum holds");
}

#[test]
fn dips_after_a_hard_stop() {
    let at = |under: f64| {
        run(&[
            (5.0, Some(Regime::Overrun), &|_| [1800.0, 21.0, 0.0, 0.95]),
            (1.0, Some(Regime::Idle), &move |_| [800.0 - under, 15.0, 0.0, 0.8]),
            (5.0, Some(Regime::Idle), &|_| [800.0, 16.0, 0.0, 0.9]),
        ])
    };
    assert!(has(&at(220.0), EventKind::StopDip));
    assert!(!has(&at(180.0), EventKind::StopDip));
}

#[test]
fn loads_up_in_a_long_idle() {
    let at = |per_minute: f64, seconds: f64, lambda: f64| {
        run(&[(seconds, Some(Regime::Idle), &move |t| {
            [800.0, 16.0 - per_minute * t / 60.0, 0.0, 0.9 - lambda * t / 60.0]
        })])
    };
    assert!(has(&at(0.35, 180.0, 0.01), EventKind::LoadingUp));
    assert!(!has(&at(0.25, 180.0, 0.01), EventKind::LoadingUp), "holds");
    assert!(!has(&at(0.35, 100.0, 0.01), EventKind::LoadingUp), "not long");
    assert!(!has(&at(0.35, 180.0, 0.0), EventKind::LoadingUp), "the mixture stays");
}

#[test]
fn flooded_restart() {
    let at = |lambda: f64| {
        run(&[
            (5.0, None, &|_| [0.0, 0.0, 0.0, f64::NAN]),
            (30.0, Some(Regime::Idle), &move |_| [800.0, 16.0, 0.0, lambda]),
        ])
    };
    assert!(has(&at(0.74), EventKind::FloodedRestart));
    assert!(!has(&at(0.76), EventKind::FloodedRestart));
    let first = run(&[(30.0, Some(Regime::Idle), &|_| [800.0, 16.0, 0.0, 0.7])]);
    assert!(!has(&first, EventKind::FloodedRestart), "the start was not seen");
}

#[test]
fn ice() {
    let at = |share: f64, lambda: f64| {
        run(&[(90.0, Some(Regime::Cruise), &move |t| {
            let part = t / 90.0;
            [2000.0 * (1.0 - share * part), 14.0 + part, 20.0, 0.95 - lambda * part]
        })])
    };
    assert!(has(&at(0.10, 0.06), EventKind::Icing));
    assert!(!has(&at(0.05, 0.06), EventKind::Icing), "speed holds");
    assert!(!has(&at(0.10, 0.02), EventKind::Icing), "not richer");
}

#[test]
fn fuel_pressure_sinks_and_lambda_rises() {
    let at = |kpa: f64, lambda: f64| {
        let of = move |t: f64| [3000.0, 5.0, 60.0, 0.90 + lambda * t / 60.0];
        run_with_fuel(&[(60.0, Some(Regime::HeavyCruise), &of)], &move |t| 40.0 - kpa * t / 60.0)
    };
    assert!(has(&at(10.0, 0.06), EventKind::PressureSag));
    assert!(!has(&at(6.0, 0.06), EventKind::PressureSag), "pressure holds");
    assert!(!has(&at(10.0, 0.02), EventKind::PressureSag), "mixture holds");
}

/// A stretch: the hole before it, seconds, regime, and what is set of a row and its lambda by the time in it.
type Rows<'a> = (f64, f64, Option<Regime>, &'a dyn Fn(f64, &mut super::super::sample::Sample) -> f64);

/// As [`run`], with the whole sample and a hole of `hole_s` before each stretch.
fn run_rows(stretches: &[Rows<'_>]) -> BTreeMap<EventKind, u64> {
    let mut happenings = Happenings::new(borders());
    let (mut events, mut counts) = (Vec::new(), BTreeMap::new());
    let mut t = 0.0;
    for (hole_s, seconds, regime, of) in stretches {
        if *hole_s > 0.0 {
            happenings.end(&mut events, &mut counts);
            t += hole_s;
        }
        for i in 0..(seconds * 40.0) as u32 {
            let mut s = row(t, 800.0, 16.0, 0.0);
            let lambda = of(f64::from(i) / 40.0, &mut s);
            happenings.push(&s, *regime, lambda, &mut events, &mut counts);
            t += 1.0 / 40.0;
        }
    }
    happenings.end(&mut events, &mut counts);
    counts
}

#[test]
fn flooded_by_heat_or_otherwise() {
    let run = |hole_s: f64, stood_s: f64, coolant: f64, lambda: f64| {
        run_rows(&[
            (0.0, 10.0, Some(Regime::Idle), &|_, s| {
                s.coolant_c = coolant;
                0.9
            }),
            (hole_s, stood_s, None, &|_, s| {
                (s.speed_rpm, s.coolant_c) = (0.0, coolant);
                f64::NAN
            }),
            (0.0, 25.0, Some(Regime::Idle), &|_, s| {
                s.coolant_c = coolant;
                lambda
            }),
        ])
    };
    // Logged through, and with the logger off meanwhile.
    assert!(has(&run(0.0, 310.0, 80.0, 0.74), EventKind::HotFlood));
    assert!(has(&run(1500.0, 5.0, 80.0, 0.74), EventKind::HotFlood));
    assert!(!has(&run(1500.0, 5.0, 80.0, 0.76), EventKind::HotFlood), "not rich");
    for (hole, coolant) in [(285.0, 80.0), (3700.0, 80.0), (1500.0, 70.0), (1500.0, f64::NAN)] {
        let counts = run(hole, 5.0, coolant, 0.74);
        assert!(!has(&counts, EventKind::HotFlood), "{hole} s at {coolant}");
        assert!(has(&counts, EventKind::FloodedRestart), "{hole} s at {coolant}: flooded all the same");
    }
}

#[test]
fn running_on() {
    let dies_in = |seconds: f64, from: f64| {
        run_rows(&[
            (0.0, 5.0, Some(Regime::Idle), &move |_, s| {
                s.speed_rpm = from;
                0.9
            }),
            (0.0, seconds, None, &move |t, s| {
                s.speed_rpm = 400.0 * (1.0 - t / seconds);
                f64::NAN
            }),
            (0.0, 3.0, None, &|_, s| {
                s.speed_rpm = 0.0;
                f64::NAN
            }),
        ])
    };
    assert!(has(&dies_in(3.5, 800.0), EventKind::RunOn));
    assert!(!has(&dies_in(1.5, 800.0), EventKind::RunOn), "as a flywheel runs down");
    assert!(!has(&dies_in(3.5, 2500.0), EventKind::RunOn), "not from idle");
}

/// Level cruise, then a stretch leant over or tilted at its own lambda and throttle, then level again.
fn leant(
    g: (f32, f32),
    tilt: f32,
    seconds: f64,
    lambda: f64,
    throttle: f64,
    regime: Option<Regime>,
) -> BTreeMap<EventKind, u64> {
    let level = |_: f64, s: &mut super::super::sample::Sample| {
        s.throttle_pct = 20.0;
        (s.aside.lateral_g, s.aside.longitudinal_g, s.aside.tilt_deg) = (0.02, -0.01, 1.0);
        0.95
    };
    run_rows(&[
        (0.0, 6.0, Some(Regime::Cruise), &level),
        (0.0, seconds, regime, &move |_, s| {
            s.throttle_pct = throttle;
            (s.aside.lateral_g, s.aside.longitudinal_g, s.aside.tilt_deg) = (g.0, g.1, tilt);
            lambda
        }),
        (0.0, 6.0, Some(Regime::Cruise), &level),
    ])
}

#[test]
fn slosh_in_turns_and_under_braking() {
    let cruise = Some(Regime::Cruise);
    assert!(has(&leant((0.4, 0.0), 1.0, 2.0, 1.02, 20.0, cruise), EventKind::SloshPlus));
    assert!(has(&leant((-0.4, 0.0), 1.0, 2.0, 0.88, 20.0, cruise), EventKind::SloshMinus));
    assert!(has(&leant((0.0, -0.4), 1.0, 2.0, 1.02, 20.0, cruise), EventKind::SloshBraking));
    assert!(has(&leant((0.0, -0.4), 1.0, 2.0, f64::NAN, 20.0, None), EventKind::SloshBraking), "it dies");
    for (counts, why) in [
        (leant((0.4, 0.0), 1.0, 2.0, 1.005, 20.0, cruise), "no step"),
        (leant((0.24, 0.0), 1.0, 2.0, 1.02, 20.0, cruise), "no turn"),
        (leant((0.4, 0.0), 1.0, 0.25, 1.02, 20.0, cruise), "a bump"),
        (leant((0.4, 0.0), 1.0, 2.0, 1.02, 25.0, cruise), "the throttle moved"),
        (leant((0.4, 0.0), 1.0, 2.0, 1.02, 20.0, Some(Regime::Overrun)), "overrun"),
        (leant((f32::NAN, f32::NAN), f32::NAN, 2.0, 1.02, 20.0, cruise), "no accelerometer"),
    ] {
        assert!(counts.is_empty(), "{why}: {counts:?}");
    }
}

#[test]
fn rich_on_a_slope() {
    let cruise = Some(Regime::Cruise);
    let on = |deg, seconds, lambda, regime| leant((0.02, 0.02), deg, seconds, lambda, 20.0, regime);
    assert!(has(&on(12.0, 4.0, 0.89, cruise), EventKind::RichOnSlope));
    assert!(has(&on(-12.0, 4.0, 0.89, cruise), EventKind::RichOnSlope), "the other way");
    for (counts, why) in [
        (on(12.0, 4.0, 0.91, cruise), "hardly richer"),
        (on(12.0, 4.0, 1.02, cruise), "leaner"),
        (on(9.0, 4.0, 0.89, cruise), "hardly a slope"),
        (on(12.0, 1.5, 0.89, cruise), "a bump"),
        (on(12.0, 4.0, f64::NAN, None), "switched off there"),
    ] {
        assert!(counts.is_empty(), "{why}: {counts:?}");
    }
}
