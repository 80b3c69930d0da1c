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
