//! Whole small logs, with what must be told of them worked out by hand.

mod apart;

use super::super::LoggerProfile;
use super::*;
use crate::setup::Regime;
use crate::units::{CrankAngle, MassFlow, Pressure, Vacuum, Volume};
use std::fmt::Write as _;

fn bare() -> TraceContext {
    TraceContext::bare(&LoggerProfile::standard())
}

fn read(ctx: TraceContext, log: &str) -> TraceSummary {
    let mut analyzer = Analyzer::new(ctx);
    analyzer.push(log.as_bytes());
    analyzer.finish().unwrap()
}

/// A log of thirty-two rows a second; each part gives its seconds and, by the time in it, the cells behind the time.
fn log(names: &str, parts: &[(f64, &dyn Fn(f64) -> String)]) -> String {
    let mut text = format!("time_s,{names}\n");
    let mut n = 0;
    for (seconds, cells) in parts {
        for i in 0..(seconds * 32.0) as u32 {
            let _ = writeln!(text, "{:.5},{}", 64.0 + f64::from(n) / 32.0, cells(f64::from(i) / 32.0));
            n += 1;
        }
    }
    text
}

/// The third digit of a sensor that lives.
fn alive(t: f64) -> f64 {
    0.001 * f64::from((t * 32.0) as u32 % 3)
}

fn note<'a>(summary: &'a TraceSummary, name: &str) -> Option<&'a str> {
    summary.notes.iter().find(|n| n.name == name).map(|n| n.what.as_str())
}

#[test]
fn the_air_outside_is_read_from_the_manifold_before_the_start() {
    let idle = |t: f64| format!("800,40.0,1.0,{:.3}", 0.9 + alive(t));
    let of = |ctx: TraceContext, names: &str, stood_s: f64, more: &str| {
        let stands = |_: f64| format!("0,95.0,1.0,0.900{more}");
        let runs = |t: f64| idle(t) + more;
        read(ctx, &log(&format!("rpm,map_kpa,tps_pct,lambda{names}"), &[(stood_s, &stands), (60.0, &runs)]))
    };
    let vacuum = |s: &TraceSummary| s.regime(Regime::Idle).unwrap().vacuum.unwrap().as_inhg();
    let seen = of(bare(), "", 1.0, "");
    assert_eq!(
        note(&seen, "barometer"),
        Some("the barometer was not given; 95.0 kPa was read from the manifold with the engine standing")
    );
    assert!((vacuum(&seen) - 55.0 / 3.386).abs() < 0.06, "{}", vacuum(&seen));
    // Not seen standing for long enough.
    let assumed = of(bare(), "", 0.25, "");
    assert!(note(&assumed, "barometer").unwrap().contains("101.3 kPa was assumed"));
    assert!((vacuum(&assumed) - 61.325 / 3.386).abs() < 0.06);
    // Given, logged, or not needed.
    let given = of(
        TraceContext { barometer: Pressure::from_kpa(98.0), barometer_known: true, ..bare() },
        "",
        1.0,
        "",
    );
    assert!((vacuum(&given) - 58.0 / 3.386).abs() < 0.06);
    let logged = of(bare(), ",baro_kpa", 1.0, ",97.0");
    assert!((vacuum(&logged) - 57.0 / 3.386).abs() < 0.06);
    let gauge = of(bare(), ",vacuum_inhg", 1.0, ",15.5");
    assert!((vacuum(&gauge) - 15.5).abs() < 0.06);
    for s in [given, logged, gauge] {
        assert_eq!(note(&s, "barometer"), None);
    }
}

#[test]
fn why_a_log_gave_no_row() {
    let why = |log: &str| {
        let mut analyzer = Analyzer::new(bare());
        analyzer.push(log.as_bytes());
        analyzer.finish().unwrap_err().to_string()
    };
    let name = "no rows of readings: ";
    assert_eq!(why("time_s,rpm\n"), format!("{name}the log has a header and nothing under it"));
    assert_eq!(
        why("time_s,rpm\n1;2\n3;4\n"),
        format!("{name}2 lines do not have as many columns as the header; is the separator right?")
    );
    assert_eq!(why("time_s,rpm\n1,x\n2,y\n"), format!("{name}all 2 rows had to be set aside"));
}

#[test]
fn every_row_is_kept_or_dropped_for_its_reason() {
    let cells = |rpm: f64, vacuum: f64, tps: f64, lambda: f64, coolant: f64| {
        format!("{rpm},{vacuum:.1},{tps:.1},{lambda:.3},{coolant:.0}")
    };
    let cold = |t: f64| cells(800.0, 16.0, 1.0, 0.80 + alive(t), 45.0);
    let idle = |t: f64| cells(800.0, 16.0, 1.0, 0.90 + alive(t), 80.0);
    let misses = |t: f64| cells(2000.0, 12.0, 20.0, 1.30 + alive(t), 80.0);
    let loads = |t: f64| cells(2000.0, 9.0, 20.0, 1.30 + alive(t), 80.0);
    let beyond = |_: f64| cells(2000.0, 12.0, 20.0, 1.65, 80.0);
    let silent = |_: f64| "2000,12.0,20.0,,80".to_owned();
    let parts: [(f64, &dyn Fn(f64) -> String); 8] = [
        (10.0, &cold),
        (30.0, &idle),
        (10.0, &misses),
        (6.0, &loads),
        (8.0, &beyond),
        (8.0, &silent),
        (2.0, &|_| "0,0.0,1.0,,80".to_owned()),
        (2.0, &|_| ",0.0,,,80".to_owned()),
    ];
    let s = read(bare(), &log("rpm,vacuum_inhg,tps_pct,lambda,coolant_c", &parts));
    assert_eq!((s.rows, s.delay.rows), (76 * 32, 76 * 32));
    assert_eq!(s.kept + s.dropped.values().sum::<u64>(), s.rows);
    let near = |reason: Dropped, seconds: f64, within: f64| {
        let rows = s.dropped.get(&reason).copied().unwrap_or(0) as f64;
        assert!((rows / 32.0 - seconds).abs() <= within, "{reason:?}: {rows} rows, not {seconds} s");
    };
    near(Dropped::WarmUp, 10.0, 0.0);
    // Cold at the start, so the sensor heats up until thirty seconds.
    near(Dropped::SensorWarmUp, 20.0, 0.04);
    // The mixture of a moment ago comes past the sensor now, and two seconds after a change nothing is steady yet.
    near(Dropped::MisfireOrLeak, 9.7, 0.5);
    near(Dropped::SensorRange, 8.0, 0.5);
    near(Dropped::NoLambda, 8.0, 0.7);
    near(Dropped::Stopped, 2.0, 0.3);
    near(Dropped::Incomplete, 2.0, 0.3);
    assert_eq!(
        (s.sensor.out_of_range, s.sensor.missing),
        (s.dropped[&Dropped::SensorRange], s.dropped[&Dropped::NoLambda])
    );
    let heavy = s.regime(Regime::Cruise).unwrap().lambda.unwrap();
    assert!((heavy.median.as_ratio() - 1.301).abs() < 0.0011, "lean at load is believed");
}

#[test]
fn a_sensor_that_stands_while_the_engine_moves_is_stuck() {
    let swings = |t: f64| 2000.0 + 50.0 * (t * 3.0).sin();
    let moves = |t: f64| format!("{:.0},12.0,20.0,{:.3}", swings(t), 0.9 + alive(t));
    let of = |seconds: f64, speed: &dyn Fn(f64) -> f64| {
        let stands = |t: f64| format!("{:.0},12.0,20.0,0.950", speed(t));
        let s = read(
            bare(),
            &log("rpm,vacuum_inhg,tps_pct,lambda", &[(40.0, &moves), (seconds, &stands), (10.0, &moves)]),
        );
        assert_eq!(s.sensor.stuck, s.dropped.get(&Dropped::SensorStuck).copied().unwrap_or(0));
        assert_eq!(s.sensor.running, s.rows);
        let last = s.dropped.get(&Dropped::Gap).copied().unwrap_or(0);
        assert_eq!(s.sensor.running - s.sensor.believed, s.sensor.stuck + last);
        s.sensor.stuck as f64 / 32.0
    };
    assert!((of(8.0, &swings) - 8.0).abs() < 0.05, "all of it, from its first row");
    assert_eq!(of(0.9, &swings), 0.0, "not for long");
    assert_eq!(of(15.0, &|_| 2000.0), 0.0, "the engine stands too");
    assert_eq!(of(15.0, &|t| 2000.0 + 15.0 * (t * 3.0).sin()), 0.0, "hardly moves");
    // No sensor reads the same for twenty seconds; rows are judged by then but for the last.
    assert_eq!(of(19.9, &|_| 2000.0), 0.0);
    assert!((of(22.0, &|_| 2000.0) - 3.2).abs() < 0.3, "{}", of(22.0, &|_| 2000.0));
}

#[test]
fn a_stuck_sensor_is_seen_at_any_rate() {
    let mut text = String::from("time_s,rpm,vacuum_inhg,tps_pct,lambda\n");
    for i in 0..2400 {
        let t = 64.0 + 0.03 * f64::from(i);
        let lambda = if i < 1500 { 0.9 + 0.001 * f64::from(i % 3) } else { 0.95 };
        let _ = writeln!(text, "{t:.2},{:.0},12.0,20.0,{lambda:.3}", 2000.0 + 50.0 * (t * 3.0).sin());
    }
    assert!((880..=900).contains(&read(bare(), &text).sensor.stuck));
    let still = text.lines().map(|l| {
        let mut cells: Vec<&str> = l.split(',').collect();
        cells[1] = if cells[1] == "rpm" { "rpm" } else { "2000" };
        cells.join(",") + "\n"
    });
    // Twenty-seven seconds of an engine that stands: no sensor reads the same for more than twenty.
    let stuck = read(bare(), &still.collect::<String>()).sensor.stuck;
    assert!((220..=300).contains(&stuck), "{stuck}");
}

#[test]
fn measured_and_worked_out_air() {
    let cruise = |flow: &'static str| {
        move |t: f64| format!("2000,14.0,20.0,{:.3},{:.3}{flow}", 0.95 + alive(t), 0.98 + alive(t))
    };
    let names = "rpm,vacuum_inhg,tps_pct,lambda,lambda_2";
    let of =
        |ctx: TraceContext, names: &str, flow: &'static str| read(ctx, &log(names, &[(60.0, &cruise(flow))]));
    let rated = TraceContext {
        rated_flow: Some(MassFlow::from_g_s(100.0)),
        displacement: Some(Volume::from_cc(1600.0)),
        overlap: Some(CrankAngle::from_deg(15.1)),
        sensor_trusted: Some(true),
        ..bare()
    };
    let station = |s: &TraceSummary| {
        let all: Vec<_> = s.stations.iter().map(|x| x.air_flow_share_low.as_percent().round()).collect();
        assert_eq!(all.len(), 1, "{all:?}");
        (all[0], s.stations[0].air_flow.map(MassFlow::as_g_s))
    };
    let metered = of(rated.clone(), &format!("{names},air_flow_g_s"), ",32.0");
    assert_eq!(station(&metered), (30.0, Some(32.0)), "by the meter");
    assert_eq!(metered.share_of, super::super::ShareOf::Rating);
    // 1.6 litres at 2000 rpm and 53.9 kPa, 0.85 filled: 14.3 g/s.
    let (share, flow) = station(&of(rated.clone(), names, ""));
    assert!(share == 10.0 && (flow.unwrap() - 14.28).abs() < 0.02, "{share} {flow:?}");
    // Without a setup: 2000 rpm and 53.9 kPa of 6000 and 100.
    let nothing = of(bare(), names, "");
    assert_eq!(station(&nothing), (15.0, None));
    assert_eq!(nothing.share_of, super::super::ShareOf::SpeedDensity);
    let unrated = of(bare(), &format!("{names},air_flow_g_s"), ",32.0");
    assert_eq!(station(&unrated), (15.0, Some(32.0)));
    // A rating alone says nothing of the flow.
    let only_rated = TraceContext { rated_flow: rated.rated_flow, ..bare() };
    assert_eq!(of(only_rated, names, "").share_of, super::super::ShareOf::SpeedDensity);
    // The second bank less the first.
    assert!((metered.sensor.bank_difference.unwrap().as_ratio() - 0.03).abs() < 1e-9);
    assert_eq!((metered.sensor.vouched, nothing.sensor.vouched), (Some(true), None));
    assert!(metered.sensor.idle_witness_only && !nothing.sensor.idle_witness_only);
    let less = TraceContext { overlap: Some(CrankAngle::from_deg(14.9)), ..rated };
    assert!(!of(less, names, "").sensor.idle_witness_only);
}

#[test]
fn what_is_worth_saying_of_the_log_itself() {
    let cruise = |t: f64| format!("2000,14.0,20.0,{:.3}", 0.95 + alive(t));
    let names = "rpm,vacuum_inhg,tps_pct,lambda";
    let bad = |n: usize| {
        let text = log(names, &[(59.375, &cruise)]) + &"1,2\n".repeat(n);
        note(&read(bare(), &text), "many-set-aside").map(str::to_owned)
    };
    // One row in twenty of two thousand.
    assert_eq!(bad(100), None);
    assert_eq!(
        bad(101).unwrap(),
        "101 of 2001 rows were set aside: is the separator right, is the file whole?"
    );
    let moving = |t: f64| format!("{},14.0,20.0,{:.3}", 2000.0 + 200.0 * t, 0.95 + alive(t));
    let nothing = read(bare(), &log(names, &[(10.0, &moving)]));
    assert!(note(&nothing, "nothing-kept").is_some() && nothing.kept == 0);
    let kept = read(bare(), &log(names, &[(60.0, &cruise)]));
    assert!(note(&kept, "nothing-kept").is_none() && kept.kept > 0);
    assert!((kept.period.unwrap().as_s() - 0.031).abs() < 1e-9);
    assert_eq!((kept.start.unwrap().as_s(), kept.end.unwrap().as_s()), (64.0, 64.0 + 1919.0 / 32.0));
    assert_eq!(kept.seconds.as_s(), 59.96875);
    assert!((kept.throttle_closed.unwrap().as_percent() - 0.0).abs() < 1e-9);
}

#[test]
fn the_enrichment_is_counted_by_its_opening() {
    let ctx = TraceContext { enrichment_opening: Some(Vacuum::from_inhg(6.5)), ..bare() };
    let at = |vacuum: f64| {
        let cruise = move |t: f64| format!("2000,{vacuum:.1},40.0,{:.3}", 0.9 + alive(t));
        let s = read(ctx.clone(), &log("rpm,vacuum_inhg,tps_pct,lambda", &[(60.0, &cruise)]));
        s.regime(Regime::HeavyCruise).unwrap().enriched.unwrap().as_percent()
    };
    assert_eq!((at(6.4), at(6.6)), (100.0, 0.0));
}

#[test]
fn what_no_instrument_shows_is_dropped() {
    let dropped = |names: &str, seconds: f64, cells: &dyn Fn(f64) -> String, reason: Dropped| {
        let cruise = |t: f64| format!("2000,14.0,20.0,{:.3}", 0.95 + alive(t));
        let s = read(bare(), &log(names, &[(40.0, &cruise), (seconds, cells), (10.0, &cruise)]));
        s.dropped.get(&reason).copied().unwrap_or(0)
    };
    let vacuum = |inhg: f64| {
        let cells = move |t: f64| format!("2000,{inhg},20.0,{:.3}", 0.95 + alive(t));
        dropped("rpm,vacuum_inhg,tps_pct,lambda", 2.0, &cells, Dropped::PressureImplausible)
    };
    assert_eq!((vacuum(-1.4), vacuum(-1.6), vacuum(29.0)), (0, 64, 0));
    let manifold = |kpa: f64| {
        let cruise = |t: f64| format!("2000,53.0,20.0,{:.3}", 0.95 + alive(t));
        let cells = move |t: f64| format!("2000,{kpa},20.0,{:.3}", 0.95 + alive(t));
        let s = read(bare(), &log("rpm,map_kpa,tps_pct,lambda", &[(40.0, &cruise), (2.0, &cells)]));
        s.dropped.get(&Dropped::PressureImplausible).copied().unwrap_or(0)
    };
    assert_eq!((manifold(3.1), manifold(2.9)), (0, 64));
    // No crankshaft jumps by fifteen hundred between two rows; the way back is one too.
    let spike = |rpm: f64| {
        let cells = move |t: f64| format!("{rpm},14.0,20.0,{:.3}", 0.95 + alive(t));
        dropped("rpm,vacuum_inhg,tps_pct,lambda", 1.0 / 32.0, &cells, Dropped::TachNoise)
    };
    assert_eq!((spike(3490.0), spike(3510.0), spike(490.0)), (0, 2, 2));
    let mut slow = String::from("time_s,rpm,vacuum_inhg,tps_pct,lambda\n");
    for i in 0..200 {
        let rpm = if i % 2 == 0 { 1000 } else { 2600 };
        let _ = writeln!(
            slow,
            "{:.2},{rpm},14.0,20.0,{:.3}",
            f64::from(i) / 4.0,
            0.95 + 0.001 * f64::from(i % 3)
        );
    }
    assert!(
        !read(bare(), &slow).dropped.contains_key(&Dropped::TachNoise),
        "in a quarter of a second it may"
    );
}

#[test]
fn each_regime_is_held_to_its_own_stillness() {
    let idle = |t: f64| format!("{:.0},16.0,1.0,{:.3}", 800.0 + 30.0 * (t * 4.0).sin(), 0.9 + alive(t));
    let pull = |t: f64| format!("{:.0},1.0,95.0,{:.3}", 2000.0 + 300.0 * t, 0.85 + alive(t));
    let shut = |t: f64| format!("{:.0},21.0,1.0,{:.3}", 3800.0 - 400.0 * t, 1.1 + alive(t));
    let rich = |t: f64| format!("{:.0},21.0,1.0,1.7", 2200.0 - 100.0 * t);
    let parts: [(f64, &dyn Fn(f64) -> String); 4] = [(60.0, &idle), (6.0, &pull), (4.0, &shut), (4.0, &rich)];
    let s = read(bare(), &log("rpm,vacuum_inhg,tps_pct,lambda", &parts));
    let samples = |regime| s.regime(regime).unwrap().samples;
    assert!(samples(Regime::Idle) > 500 && samples(Regime::FullThrottle) > 120, "{:?}", s.dropped);
    for regime in [Regime::Idle, Regime::FullThrottle] {
        let r = s.regime(regime).unwrap();
        assert_eq!(r.lambda.unwrap().count, r.samples, "{regime}: only of the rows that are kept");
    }
    assert_eq!((s.pull_count, s.pulls.len(), s.tip_in_count, s.tip_ins.len()), (1, 1, 1, 1));
    // Of an overrun what can be believed is shown, and no station is made of it.
    let over = s.regime(Regime::Overrun).unwrap();
    assert_eq!(over.samples, 0);
    assert!((over.lambda.unwrap().p90.as_ratio() - 1.102).abs() < 0.002, "{:?}", over.lambda);
    assert!(s.stations.iter().all(|x| x.regime != Regime::Overrun));
}

#[test]
fn a_hole_is_no_time_and_a_bank_that_is_silent_no_difference() {
    let cruise = |t: f64| format!("2000,14.0,20.0,{:.3},{:.3}", 0.95 + alive(t), 0.98 + alive(t));
    let silent = |t: f64| format!("2000,14.0,20.0,{:.3},", 0.95 + alive(t));
    let text = log("rpm,vacuum_inhg,tps_pct,lambda,lambda_2", &[(40.0, &cruise), (20.0, &silent)]);
    let whole = read(bare(), &text);
    let compared = whole.sensor.bank_counts.count();
    assert_eq!(compared, 10 * 32, "from the sensor being warm to the silence");
    assert!(whole.kept > 900);
    // Ten rows and half a second at least: what is further apart is not connected.
    let without = |rows: std::ops::Range<usize>| {
        let lines = text.lines().enumerate().filter(|(n, _)| !rows.contains(n));
        read(bare(), &lines.map(|(_, l)| format!("{l}\n")).collect::<String>()).seconds.as_s()
    };
    assert_eq!(without(0..0), 59.96875);
    assert_eq!(without(1000..1014), 59.96875);
    assert_eq!(without(1000..1017), 59.96875 - 18.0 / 32.0);
    // The header again is a new start, wherever the bytes are cut.
    let mut lines: Vec<&str> = text.lines().collect();
    lines.insert(1000, lines[0]);
    let again = lines.join("\n") + "\n";
    let cut: usize = again.lines().take(1001).map(|l| l.len() + 1).sum();
    for at in [0, cut] {
        let mut analyzer = Analyzer::new(bare());
        analyzer.push(&again.as_bytes()[..at]);
        analyzer.push(&again.as_bytes()[at..]);
        let summary = analyzer.finish().unwrap();
        assert_eq!((summary.seconds.as_s(), summary.lines.headers_again), (59.9375, 1), "cut at {at}");
    }
}
