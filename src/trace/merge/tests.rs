use super::super::delay::DelaySource;
use super::super::events::{Event, EventKind};
use super::super::fault::{Fault, FaultKind};
use super::super::histogram::Histogram;
use super::super::summary::{Dropped, InAir, RegimeCounts, ShareOf, Spread, StationCounts};
use super::*;
use crate::setup::Regime;
use crate::units::{EngineSpeed, Lambda, Vacuum};

fn seconds(s: f64) -> TimeSpan {
    TimeSpan::from_s(s)
}

fn station(vacuum_low: f64, n: u32) -> Station {
    let many = u64::from(n);
    Station {
        regime: Regime::Cruise,
        air_flow_share_low: Fraction::from_percent(25.0),
        air_flow_share_high: Fraction::from_percent(30.0),
        vacuum_low: Vacuum::from_inhg(vacuum_low),
        vacuum_high: Vacuum::from_inhg(vacuum_low + 2.0),
        lambda: Spread::EMPTY,
        speed: EngineSpeed::ZERO,
        vacuum: Vacuum::ZERO,
        air_flow: None,
        seconds: seconds(0.5 * f64::from(n)),
        visits: many,
        enough: false,
        counts: StationCounts {
            lambda: Histogram::new(940, &[n, 0, 3 * n]),
            speed_rpm: 8000 * many,
            vacuum_centi_inhg: 5200 * i64::from(n),
            air_flow_mg_s: 48_000 * many,
            by_air: [(225, InAir { rows: 4 * many, milli_lambda: 3766 * many })].into(),
        },
    }
    .figured()
}

fn regime(regime: Regime, n: u32) -> RegimeSummary {
    let (many, time) = (u64::from(n), seconds(f64::from(n)));
    let one = |first| Histogram::new(first, &[n, 2 * n]);
    let (lambda, vacuum, speed, air_flow) = (one(950), one(140), one(200), one(48));
    let counts = RegimeCounts { lambda, vacuum, speed, air_flow, enriched: many, enriched_of: 4 * many };
    RegimeSummary::from_counts(regime, 4.0 * time, many, 10 * many, 2.0 * time, counts)
}

/// A log of `n` times as much of everything that adds up.
fn log(n: u32) -> TraceSummary {
    let many = u64::from(n);
    TraceSummary {
        rows: 100 * many,
        lines: LineCounts {
            lines: 110 * many,
            header: many,
            units: 2 * many,
            preamble: 3 * many,
            comments: 4 * many,
            blank: 5 * many,
            headers_again: 6 * many,
            continued: 7 * many,
            quarantined: 8 * many,
            used: 92 * many,
        },
        fault_counts: [(FaultKind::Ragged, 8 * many)].into(),
        kept: 70 * many,
        dropped: [(Dropped::Unsteady, 20 * many), (Dropped::Overrun, 2 * many)].into(),
        seconds: seconds(f64::from(n)),
        stopped_seconds: seconds(0.25 * f64::from(n)),
        regimes: vec![regime(Regime::Idle, n), regime(Regime::Cruise, n)],
        stations: vec![station(10.0, n), station(12.0, n)],
        tip_in_count: 3 * many,
        pull_count: 2 * many,
        event_counts: [(EventKind::Surge, 5 * many)].into(),
        sensor: SensorQuality {
            stuck: 11 * many,
            out_of_range: 12 * many,
            missing: 13 * many,
            running: 80 * many,
            believed: 60 * many,
            bank_counts: Histogram::new(30, &[n]),
            ..SensorQuality::default()
        },
        ..TraceSummary::empty()
    }
    .figured()
}

#[test]
fn once_and_twice_as_much_is_three_times_as_much() {
    assert_eq!(log(1).merge(&log(2)), log(3));
    assert_eq!(log(2).merge(&log(1)), log(3));
    assert_eq!(log(2).merge(&TraceSummary::empty()), log(2));
    assert_eq!(TraceSummary::empty().merge(&log(2)), log(2));
    // A regime and a station that only one of them met.
    let mut other = log(1);
    other.regimes = vec![regime(Regime::OffIdle, 1)];
    other.stations = vec![station(8.0, 1)];
    let both = log(2).merge(&other);
    let met: Vec<_> = both.regimes.iter().map(|r| (r.regime, r.visits)).collect();
    assert_eq!(met, [(Regime::Idle, 2), (Regime::OffIdle, 1), (Regime::Cruise, 2)]);
    let places: Vec<_> = both.stations.iter().map(|s| (s.vacuum_low.as_inhg().round(), s.visits)).collect();
    assert_eq!(places, [(8.0, 1), (10.0, 2), (12.0, 2)]);
}

#[test]
fn what_follows_is_worked_out_again() {
    let all = log(1).merge(&log(2));
    let s = &all.stations[0];
    assert_eq!((s.speed.as_rpm(), s.vacuum.as_inhg(), s.air_flow.unwrap().as_g_s()), (2000.0, 13.0, 12.0));
    assert!((all.sensor.believable.unwrap().as_percent() - 75.0).abs() < 1e-9);
    assert!((all.sensor.bank_difference.unwrap().as_ratio() - 0.03).abs() < 1e-9);
    assert!((all.sensor.cruise_noise.unwrap().as_ratio() - 0.001).abs() < 1e-9);
    assert_eq!(TraceSummary::empty().figured().sensor.believable, None);
    // An idle that spreads by more than a tenth only witnesses, and so does one with much overlap.
    let idle = |bins: usize, much_overlap: bool| {
        let mut log = log(1);
        let mut counts = vec![0; bins + 1];
        (counts[0], counts[bins]) = (1, 1);
        let lambda = Histogram::new(850, &counts);
        log.regimes[0].lambda = Spread::of(&lambda);
        log.sensor.much_overlap = much_overlap;
        log.figured().sensor.idle_witness_only
    };
    assert!(idle(126, false) && !idle(124, false) && idle(10, true));
}

#[test]
fn the_widest_times_the_stop_furthest_in_and_the_delay_of_most_rows() {
    let of = |start: f64, end: f64, closed: f64, period: f64, rows: u64| {
        let mut log = TraceSummary::empty();
        (log.start, log.end) = (Some(seconds(start)), Some(seconds(end)));
        log.throttle_closed = Some(Fraction::from_percent(closed));
        log.period = Some(seconds(period));
        (log.delay.rows, log.delay.at_cruise) = (rows, seconds(f64::from(rows as u32) / 1000.0));
        log
    };
    let (a, b) = (of(10.0, 50.0, 1.5, 0.01, 200), of(5.0, 70.0, 0.5, 0.02, 300));
    for merged in [a.clone().merge(&b), b.clone().merge(&a)] {
        assert_eq!(merged.start.zip(merged.end), Some((seconds(5.0), seconds(70.0))));
        assert_eq!(merged.throttle_closed, Some(Fraction::from_percent(0.5)));
        assert_eq!((merged.period, merged.delay.rows), (Some(seconds(0.02)), 300));
    }
    // Of as many rows, the fit before the setup's figure.
    let mut fitted = a.clone();
    fitted.delay.source = DelaySource::Fitted;
    assert_eq!(a.clone().merge(&fitted).delay.source, DelaySource::Fitted);
    assert_eq!(fitted.merge(&a).delay.source, DelaySource::Fitted);
    let empty = TraceSummary::empty();
    assert_eq!(empty.merge(&a).start, a.start);
    let mut rated = a.clone();
    rated.share_of = ShareOf::SpeedDensity;
    assert_eq!(a.merge(&rated).share_of, ShareOf::SpeedDensity);
}

#[test]
fn a_sensor_is_vouched_for_only_by_every_log_that_says_so() {
    let of = |vouched, much_overlap| {
        let mut log = TraceSummary::empty();
        (log.sensor.vouched, log.sensor.much_overlap) = (vouched, much_overlap);
        log
    };
    for (a, b, both) in [
        (Some(true), Some(true), Some(true)),
        (Some(true), Some(false), Some(false)),
        (Some(true), None, Some(true)),
        (None, Some(false), Some(false)),
        (None, None, None),
    ] {
        assert_eq!(of(a, false).merge(&of(b, false)).sensor.vouched, both);
        assert_eq!(of(b, false).merge(&of(a, false)).sensor.vouched, both);
    }
    assert!(of(None, true).merge(&of(None, false)).sensor.much_overlap);
    assert!(!of(None, false).merge(&of(None, false)).sensor.much_overlap);
}

#[test]
fn lists_keep_the_first_of_a_kind_and_the_leanest() {
    let fault = |line, kind| Fault { line, column: 0, kind, expected: String::new(), found: String::new() };
    let faults = |from: u64, kinds: &[FaultKind]| {
        let mut log = TraceSummary::empty();
        log.faults = (from..from + 15).flat_map(|n| kinds.iter().map(move |k| fault(n, *k))).collect();
        log
    };
    let (ragged, twice) = (FaultKind::Ragged, FaultKind::TimeTwice);
    let merged = faults(100, &[ragged]).merge(&faults(1, &[ragged, twice])).faults;
    let lines = |kind| merged.iter().filter(|f| f.kind == kind).map(|f| f.line).collect::<Vec<_>>();
    assert_eq!(lines(ragged), (1..=15).chain(100..=104).collect::<Vec<_>>());
    assert_eq!(lines(twice), (1..=15).collect::<Vec<_>>());
    assert!(merged.is_sorted_by_key(|f| f.line));

    let events = |from: u32, kind| {
        let mut log = TraceSummary::empty();
        let event = |n: u32| Event {
            kind,
            start: seconds(f64::from(n)),
            seconds: seconds(1.0),
            lambda: None,
            speed: None,
        };
        log.events = (from..from + 30).map(event).collect();
        log
    };
    let some = events(1, EventKind::Surge).merge(&events(1, EventKind::Stumble));
    let merged = events(100, EventKind::Surge).merge(&some).events;
    let starts = |kind| {
        merged.iter().filter(|e| e.kind == kind).map(|e| e.start.as_s().round() as u32).collect::<Vec<_>>()
    };
    assert_eq!(starts(EventKind::Surge), (1..=30).chain(100..=119).collect::<Vec<_>>());
    assert_eq!(starts(EventKind::Stumble), (1..=30).collect::<Vec<_>>());

    let pull = |start: f64, worst: f64| Pull {
        start: seconds(start),
        seconds: seconds(4.0),
        speed_from: EngineSpeed::ZERO,
        speed_to: EngineSpeed::ZERO,
        lambda: None,
        lambda_from: None,
        lambda_to: None,
        lambda_per_1000_rpm: None,
        worst: Some(Lambda::from_ratio(worst)),
        worst_at: None,
        richest: None,
        fuel_pressure_from: None,
        fuel_pressure_to: None,
        vacuum_to: None,
        throttle: None,
        samples: 100,
    };
    let mut pulls = vec![pull(1.0, 0.85), pull(30.0, 0.91), pull(20.0, 0.91), pull(9.0, 0.88)];
    keep_worst_pulls(&mut pulls);
    assert_eq!(pulls.iter().map(|p| p.start.as_s()).collect::<Vec<_>>(), [20.0, 30.0, 9.0, 1.0]);
    let mut many = vec![pull(1.0, 0.85); MOST_LISTED + 5];
    keep_worst_pulls(&mut many);
    assert_eq!(many.len(), MOST_LISTED);

    let tip = |start: f64, peak: f64| TipIn {
        start: seconds(start),
        throttle_from: Fraction::ZERO,
        throttle_to: Fraction::ZERO,
        opening_per_s: 0.6,
        peak: Lambda::from_ratio(peak),
        peak_after: seconds(0.2),
        lean_seconds: seconds(0.2),
        richest: Lambda::from_ratio(0.8),
        rich_seconds: seconds(0.0),
        recovery: None,
        settled: None,
        speed_dip: EngineSpeed::ZERO,
        second_peak: None,
    };
    let mut tips = vec![tip(1.0, 1.1), tip(30.0, 1.3), tip(20.0, 1.3)];
    keep_worst_tips(&mut tips);
    assert_eq!(tips.iter().map(|t| t.start.as_s()).collect::<Vec<_>>(), [20.0, 30.0, 1.0]);
}
