use super::*;
use proptest::prelude::*;

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

pub(in crate::trace) fn row(t_s: f64, speed_rpm: f64, vacuum_inhg: f64, throttle_pct: f64) -> Sample {
    Sample {
        t_s,
        speed_rpm,
        vacuum_inhg,
        manifold_kpa: 101.3 - 3.386 * vacuum_inhg,
        throttle_pct,
        lambda: 0.9,
        lambda_2: f64::NAN,
        coolant_c: f64::NAN,
        fuel_pressure_kpa: f64::NAN,
        meter_g_s: f64::NAN,
        aside: super::super::sample::Aside::NONE,
    }
}

fn run(rows: &[Sample]) -> Vec<Segment> {
    let mut segmenter = Segmenter::new(borders());
    let mut segments: Vec<Segment> = rows.iter().filter_map(|r| segmenter.push(r)).collect();
    segments.extend(segmenter.end());
    segments
}

fn held(seconds: f64, from: f64, speed: f64, vacuum: f64, throttle: f64) -> Vec<Sample> {
    (0..(seconds * 100.0) as usize).map(|i| row(from + i as f64 / 100.0, speed, vacuum, throttle)).collect()
}

#[test]
fn each_regime_by_its_signs() {
    let cases = [
        (800.0, 16.0, 0.5, Regime::Idle),
        (2000.0, 21.0, 0.5, Regime::Overrun),
        (1200.0, 17.0, 5.0, Regime::OffIdle),
        (2200.0, 14.0, 20.0, Regime::Cruise),
        (2200.0, 6.0, 45.0, Regime::HeavyCruise),
        (4000.0, 1.0, 95.0, Regime::FullThrottle),
    ];
    for (speed, vacuum, throttle, regime) in cases {
        assert_eq!(run(&held(1.0, 0.0, speed, vacuum, throttle))[0].state, State::In(regime), "{regime}");
    }
    assert_eq!(run(&held(1.0, 0.0, 0.0, 0.0, 0.0))[0].state, State::Stopped);
    assert_eq!(run(&held(1.0, 0.0, f64::NAN, 0.0, 0.0))[0].state, State::Unknown);
}

#[test]
fn a_flicker_shorter_than_the_dwell_is_no_regime() {
    let mut rows = held(2.0, 0.0, 2200.0, 14.0, 20.0);
    rows.extend(held(0.2, 2.0, 2200.0, 6.0, 20.0));
    rows.extend(held(2.0, 2.2, 2200.0, 14.0, 20.0));
    assert_eq!(run(&rows).len(), 1);
    let mut rows = held(2.0, 0.0, 2200.0, 14.0, 20.0);
    rows.extend(held(0.5, 2.0, 2200.0, 6.0, 20.0));
    rows.extend(held(2.0, 2.5, 2200.0, 14.0, 20.0));
    let segments = run(&rows);
    assert_eq!(segments.len(), 3);
    // The change counts from where it began, not from where it was sure.
    assert!((segments[1].from_s - 2.0).abs() < 1e-9 && (segments[1].to_s - 2.5).abs() < 1e-9);
}

#[test]
fn a_needle_on_the_border_does_not_flutter() {
    let rows: Vec<Sample> = (0..2000)
        .map(|i| row(f64::from(i) / 100.0, 2200.0, 8.0 + 0.5 * f64::from(i / 50 % 2), 20.0))
        .collect();
    assert!(run(&rows).len() <= 2);
}

#[test]
fn opening_at_20_percent_a_second_is_the_border_of_a_tip_in() {
    for (rate, is) in [(15.0, false), (30.0, true)] {
        let mut rows = held(1.0, 0.0, 1500.0, 15.0, 12.0);
        rows.extend(
            (0..100)
                .map(|i| row(1.0 + f64::from(i) / 100.0, 1500.0, 12.0, 12.0 + rate * f64::from(i) / 100.0)),
        );
        assert_eq!(run(&rows).iter().any(|s| s.state == State::In(Regime::TipIn)), is, "{rate}");
    }
}

/// The regime of a row alone.
fn alone(of: [f64; 3]) -> State {
    let mut segmenter = Segmenter::new(borders());
    segmenter.push(&row(0.0, of[0], of[1], of[2]));
    segmenter.state()
}

/// The regime after a second of one row and a second of another.
fn after(was: [f64; 3], now: [f64; 3]) -> State {
    let mut segmenter = Segmenter::new(borders());
    for i in 0..64 {
        let [speed, vacuum, throttle] = if i < 32 { was } else { now };
        segmenter.push(&row(f64::from(i) / 32.0, speed, vacuum, throttle));
    }
    segmenter.state()
}

const BLIND: f64 = f64::NAN;

#[test]
fn both_sides_of_each_border_by_throttle() {
    for (of, regime) in [
        ([4000.0, 1.0, 90.0], Regime::FullThrottle),
        ([4000.0, 9.0, 89.9], Regime::Cruise),
        ([800.0, 16.0, 1.2], Regime::Idle),
        ([800.0, 16.0, 1.3], Regime::OffIdle),
        ([1200.0, 16.0, 0.5], Regime::Idle),
        ([1201.0, 16.0, 0.5], Regime::Overrun),
        ([2000.0, 14.0, 9.0], Regime::OffIdle),
        ([2000.0, 14.0, 9.1], Regime::Cruise),
        ([2000.0, 8.0, 20.0], Regime::Cruise),
        ([2000.0, 7.9, 20.0], Regime::HeavyCruise),
        ([2000.0, BLIND, 45.0], Regime::Cruise),
        ([2000.0, BLIND, 45.1], Regime::HeavyCruise),
    ] {
        assert_eq!(alone(of), State::In(regime), "{of:?}");
    }
    assert_eq!(
        (alone([350.0, 5.0, 20.0]), alone([351.0, 14.0, 20.0])),
        (State::Stopped, State::In(Regime::Cruise))
    );
    assert_eq!(alone([800.0, BLIND, BLIND]), State::Unknown);
}

#[test]
fn both_sides_of_each_border_by_vacuum() {
    for (of, regime) in [
        ([2000.0, 2.0], Regime::FullThrottle),
        ([2000.0, 2.1], Regime::HeavyCruise),
        ([2000.0, 8.0], Regime::Cruise),
        ([2000.0, 7.9], Regime::HeavyCruise),
        ([1201.0, 17.6], Regime::Overrun),
        ([1200.0, 17.6], Regime::Cruise),
        ([1201.0, 17.5], Regime::Cruise),
        ([1049.0, 16.0], Regime::Idle),
        ([1050.0, 16.0], Regime::Cruise),
        ([800.0, 11.3], Regime::Idle),
        ([800.0, 11.1], Regime::Cruise),
    ] {
        assert_eq!(alone([of[0], of[1], BLIND]), State::In(regime), "{of:?}");
    }
}

#[test]
fn a_regime_that_is_gives_a_little() {
    let full = ([4000.0, 9.0, 95.0], Regime::FullThrottle);
    let idle = ([800.0, 16.0, 1.0], Regime::Idle);
    let overrun = ([2000.0, 21.0, 0.5], Regime::Overrun);
    let off_idle = ([1500.0, 16.0, 8.5], Regime::OffIdle);
    let heavy = ([2000.0, 7.5, 20.0], Regime::HeavyCruise);
    let heavy_blind = ([2000.0, BLIND, 46.0], Regime::HeavyCruise);
    let full_blind = ([2000.0, 1.5, BLIND], Regime::FullThrottle);
    let overrun_blind = ([2000.0, 21.0, BLIND], Regime::Overrun);
    let idle_blind = ([800.0, 16.0, BLIND], Regime::Idle);
    for ((was, regime), stays, leaves, to) in [
        (full, [4000.0, 9.0, 85.0], [4000.0, 9.0, 84.9], Regime::Cruise),
        (idle, [800.0, 16.0, 2.0], [800.0, 16.0, 2.1], Regime::OffIdle),
        (idle, [1200.0, 16.0, 1.0], [1201.0, 16.0, 1.0], Regime::Overrun),
        (overrun, [2000.0, 21.0, 2.0], [2000.0, 21.0, 2.1], Regime::OffIdle),
        (overrun, [1051.0, 21.0, 0.5], [1050.0, 21.0, 0.5], Regime::Idle),
        (off_idle, [1500.0, 16.0, 10.0], [1500.0, 16.0, 10.1], Regime::Cruise),
        (heavy, [2000.0, 8.69, 20.0], [2000.0, 8.71, 20.0], Regime::Cruise),
        (heavy_blind, [2000.0, BLIND, 41.6], [2000.0, BLIND, 41.4], Regime::Cruise),
        (full_blind, [2000.0, 3.0, BLIND], [2000.0, 3.1, BLIND], Regime::HeavyCruise),
        (overrun_blind, [1051.0, 18.0, BLIND], [1050.0, 18.0, BLIND], Regime::Cruise),
        (overrun_blind, [2000.0, 16.81, BLIND], [2000.0, 16.79, BLIND], Regime::Cruise),
        (idle_blind, [1099.0, 16.0, BLIND], [1100.0, 16.0, BLIND], Regime::Cruise),
        (idle_blind, [800.0, 10.51, BLIND], [800.0, 10.49, BLIND], Regime::Cruise),
    ] {
        assert_eq!(after(was, stays), State::In(regime), "{stays:?} after {was:?}");
        assert_eq!(after(was, leaves), State::In(to), "{leaves:?} after {was:?}");
    }
    // An engine that runs is let fall further than one that is to be called running.
    assert_eq!(after([800.0, 16.0, 1.0], [301.0, 16.0, 1.0]), State::In(Regime::Idle));
    assert_eq!(after([800.0, 16.0, 1.0], [300.0, 16.0, 1.0]), State::Stopped);
}

/// Throttle or vacuum runs from one value at a rate for half a second, and stands; gives the tip-in.
fn opened(throttle: bool, speed: f64, from: f64, per_s: f64) -> Option<(f64, f64)> {
    let mut segmenter = Segmenter::new(Borders { throttle, ..borders() });
    let mut found = None;
    for i in 0..160 {
        let t = f64::from(i) / 32.0;
        let value = from + per_s * (t - 1.0).clamp(0.0, 0.5);
        let s = if throttle { row(t, speed, 12.0, value) } else { row(t, speed, value, BLIND) };
        if let Some(ended) = segmenter.push(&s).filter(|ended| ended.state == State::In(Regime::TipIn)) {
            found = Some((ended.from_s, ended.to_s));
        }
    }
    found
}

#[test]
fn a_tip_in_lasts_until_the_mixture_has_found_its_level() {
    // From where the throttle began to move to 0.8 s after it was last seen opening quickly.
    let (from, to) = opened(true, 1500.0, 12.0, 30.0).unwrap();
    assert!((0.85..=1.0).contains(&from), "{from}");
    assert!((2.28..=2.45).contains(&to), "{to}");
    assert!(opened(true, 1500.0, 12.0, 19.0).is_none());
    assert!(opened(true, 1500.0, 12.0, 24.0).is_some());
    assert!(opened(true, 200.0, 12.0, 30.0).is_none(), "the engine stands");
    // Without a throttle the vacuum falls.
    let (from, to) = opened(false, 1500.0, 15.0, -18.0).unwrap();
    assert!((0.85..=1.0).contains(&from) && (2.28..=2.45).contains(&to), "{from} {to}");
    assert!(opened(false, 1500.0, 15.0, -11.0).is_none());
    assert!(opened(false, 1500.0, 6.0, 18.0).is_none(), "it rises");
}

proptest! {
    #[test]
    fn segments_tile_the_log(
        stretches in proptest::collection::vec((0.02..3.0f64, 0.0..5000.0f64, -1.0..24.0f64, 0.0..100.0f64), 1..30),
        rate in prop_oneof![Just(100.0), Just(10.0), Just(1.0), Just(37.0)],
    ) {
        let mut rows = Vec::new();
        let mut t = 0.0;
        for (seconds, speed, vacuum, throttle) in stretches {
            for _ in 0..((seconds * rate) as usize).max(1) {
                rows.push(row(t, speed, vacuum, throttle));
                t += 1.0 / rate;
            }
        }
        let segments = run(&rows);
        prop_assert_eq!(segments[0].from_s, rows[0].t_s);
        prop_assert_eq!(segments.last().unwrap().to_s, rows.last().unwrap().t_s);
        for pair in segments.windows(2) {
            prop_assert_eq!(pair[0].to_s, pair[1].from_s);
            prop_assert!(pair[0].state != pair[1].state);
        }
        prop_assert!(segments.iter().all(|s| s.to_s >= s.from_s));
    }
}

#[test]
fn only_one_and_the_same_new_regime_settles() {
    let mut rows = held(2.0, 0.0, 1200.0, 16.0, 2.0);
    // Shut, the speed is now that of an idle and now that of an overrun.
    rows.extend((0..100).map(|i| {
        let speed = if i % 2 == 0 { 1000.0 } else { 1500.0 };
        row(2.0 + f64::from(i) / 100.0, speed, 16.0, 1.0)
    }));
    rows.extend(held(1.0, 3.0, 1200.0, 16.0, 2.0));
    assert_eq!(run(&rows).len(), 1, "neither of two that take turns");
}

#[test]
fn a_break_in_the_log_does_not_stop_the_engine() {
    let after_a_break = |ran: bool| {
        let mut segmenter = Segmenter::new(borders());
        segmenter.push(&row(0.0, if ran { 800.0 } else { 0.0 }, 16.0, 1.0));
        segmenter.end();
        segmenter.push(&row(100.0, 320.0, 10.0, 1.0));
        segmenter.state()
    };
    assert_eq!(after_a_break(true), State::In(Regime::Idle));
    assert_eq!(after_a_break(false), State::Stopped);
}

#[test]
fn a_needle_that_jumps_by_less_than_two_percent_opens_nothing() {
    let jumps = |by: f64| {
        let mut rows = held(1.0, 0.0, 1500.0, 12.0, 12.0);
        rows.extend(held(1.0, 1.0, 1500.0, 12.0, 12.0 + by));
        run(&rows).iter().any(|s| s.state == State::In(Regime::TipIn))
    };
    assert!(jumps(2.3) && !jumps(1.9));
    // In the first rows of a log, where a hundredth of a second makes it quick.
    let begins = |by: f64| {
        let mut rows = held(0.01, 0.0, 1500.0, 12.0, 12.0);
        rows.extend(held(1.0, 0.01, 1500.0, 12.0, 12.0 + by));
        run(&rows).iter().any(|s| s.state == State::In(Regime::TipIn))
    };
    assert!(begins(2.3) && !begins(1.9));
}
