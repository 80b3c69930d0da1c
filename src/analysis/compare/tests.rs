use super::*;
use crate::numeric::rng::Chance;
use crate::physics::air::Moisture;
use crate::trace::{Analyzer, LoggerProfile, TraceContext};
use crate::units::{Pressure, Temperature};
use approx::assert_relative_eq;
use std::fmt::Write as _;

fn seen(median: f64, deviation: f64, independent: f64) -> Seen {
    Seen { median, deviation, independent }
}

fn air(inhg: f64, f: f64, humidity: f64) -> MoistAir {
    let moisture = Moisture::Relative(Fraction::from_ratio(humidity));
    MoistAir::new(Pressure::from_inhg(inhg), Temperature::from_f(f), moisture).unwrap()
}

#[test]
fn the_winter_note_of_the_skiff_is_weather_and_nothing_else() {
    // 71 F, 30.05 inHg, 62 % to 38 F, 30.35 inHg, 70 %: lambda x 1.043, 0.826 to 0.862
    let ratio = jet_ratios_between(&air(30.05, 71.0, 0.62), &air(30.35, 38.0, 0.70)).lambda;
    assert_relative_eq!(ratio, 1.043, epsilon = 1e-3);
    let found = change(seen(0.826, 0.01, 20.0), seen(0.862, 0.01, 20.0), Some(ratio), MAIN_DOUBT).unwrap();
    assert_eq!(found.shift, Shift::WithinNoise);
    assert_relative_eq!(found.left.as_ratio(), 0.0, epsilon = 1e-3);
    // without the air, the same readings look like a change
    let blind = change(seen(0.826, 0.01, 20.0), seen(0.862, 0.01, 20.0), None, MAIN_DOUBT).unwrap();
    assert_eq!(blind.shift, Shift::Leaner);
}

#[test]
fn more_readings_make_the_same_difference_clear() {
    let with = |n: f64| change(seen(0.86, 0.03, n), seen(0.88, 0.03, n), None, MAIN_DOUBT).unwrap().shift;
    assert_eq!((with(3.0), with(60.0)), (Shift::WithinNoise, Shift::Leaner));
    let back = change(seen(0.88, 0.03, 60.0), seen(0.86, 0.03, 60.0), None, MAIN_DOUBT).unwrap();
    assert_eq!(back.shift, Shift::Richer);
}

#[test]
fn the_interval_holds_the_truth_as_often_as_it_says() {
    let mut chance = Chance::with_seed(11);
    let held = (0..400).filter(|_| {
        let n = 12;
        let mut log = || {
            let shift = REPEATS_TO / core::f64::consts::SQRT_2 * chance.normal();
            let mut v: Vec<f64> = (0..n).map(|_| 0.86 + shift + 0.02 * chance.normal()).collect();
            let deviation = crate::numeric::robust::spread(&mut v).unwrap();
            seen(crate::numeric::robust::median(&mut v).unwrap(), deviation, f64::from(n))
        };
        let (a, b) = (log(), log());
        change(a, b, None, MAIN_DOUBT).unwrap().shift == Shift::WithinNoise
    });
    let share = held.count() as f64 / 400.0;
    assert!((0.85..=0.96).contains(&share), "{share}");
}

/// Half a minute each of idle and two cruises, several times over.
fn log(lambda_shift: f64, seed: u64) -> TraceSummary {
    let mut chance = Chance::with_seed(seed);
    let mut text = "time_s,rpm,vacuum_inhg,tps_pct,lambda,coolant_c\n".to_owned();
    let mut t = 0.0;
    for (rpm, vacuum, throttle, lambda) in
        [(700.0, 17.6, 0.0, 0.90), (2400.0, 11.0, 28.0, 0.86), (3000.0, 8.0, 45.0, 0.80)].repeat(4)
    {
        for _ in 0..300 {
            let _ = writeln!(
                text,
                "{t:.2},{:.0},{:.2},{throttle:.1},{:.3},85",
                rpm + 3.0 * chance.normal(),
                vacuum + 0.05 * chance.normal(),
                lambda + lambda_shift * f64::from(u8::from(rpm > 2000.0)) + 0.006 * chance.normal()
            );
            t += 0.1;
        }
    }
    let mut analyzer = Analyzer::new(TraceContext::bare(&LoggerProfile::standard()));
    analyzer.push(text.as_bytes());
    analyzer.finish().unwrap()
}

#[test]
fn two_logs_show_the_regimes_that_moved_and_leave_the_others() {
    let (before, after) = (log(0.0, 1), log(0.05, 2));
    let side = |summary| Side { summary, air: None };
    let found = compare(side(&before), side(&after));
    let of = |regime| found.regimes.iter().find(|r| r.regime == regime).and_then(|r| r.lambda);
    assert_eq!(of(Regime::Idle).unwrap().shift, Shift::WithinNoise);
    let cruise = found.regimes.iter().filter(|r| r.regime != Regime::Idle).filter_map(|r| r.lambda);
    let leaner = cruise.filter(|l| l.shift == Shift::Leaner).count();
    assert!(leaner >= 1, "{:?}", found.regimes);
    assert!(!found.stations.is_empty());
    assert!(
        found
            .stations
            .iter()
            .filter(|s| s.enough)
            .all(|s| (s.lambda.shift == Shift::WithinNoise) == (s.regime == Regime::Idle))
    );
    let same = compare(side(&before), side(&before));
    assert!(
        same.regimes
            .iter()
            .filter_map(|r| r.lambda)
            .all(|l| l.shift == Shift::WithinNoise && l.left.as_ratio() == 0.0)
    );
}
