//! What a log says held against what is known: how late lambda is, from an engine whose exhaust and sensor are known;
//! and advice, which no number of rows set aside may touch.

#![cfg(test)]

use leanbest::analysis::advise::{AdviceInput, Options, advise};
use leanbest::bench::virtual_engine::{Character, Load, RunProgram, Segment, VirtualEngine, scenario};
use leanbest::rules::RuleBook;
use leanbest::setup::Setup;
use leanbest::trace::{Analyzer, DelaySource, LoggerProfile, TraceContext, TraceSummary};
use leanbest::units::{EngineSpeed, Fraction, Pressure, System, Temperature, TimeSpan, Vacuum, Volume};
use proptest::prelude::*;
use std::sync::OnceLock;

fn seconds(s: f64) -> TimeSpan {
    TimeSpan::from_s(s)
}

/// The tractor on a brake, with an exhaust of this volume and a sensor this slow.
fn tractor(litres: f64, lag_s: f64) -> Setup {
    let mut setup = scenario::pulling_tractor();
    let sensor = setup.instruments.lambda.as_mut().unwrap();
    sensor.pipe_volume = Some(Volume::from_l(litres));
    sensor.time_constant = seconds(lag_s);
    setup
}

#[test]
fn a_log_is_read_with_what_the_setup_says() {
    let logger = LoggerProfile::standard();
    let mut setup = tractor(3.0, 0.12);
    let weather = setup.weather.as_mut().unwrap();
    (weather.pressure, weather.temperature) = (Pressure::from_kpa(95.0), Temperature::from_c(31.0));
    let sensor = setup.instruments.lambda.as_mut().unwrap();
    (sensor.share_of_exhaust, sensor.trusted) = (Fraction::from_ratio(0.5), true);
    let ctx = TraceContext::new(&setup, &logger);
    assert_eq!(ctx.displacement, Some(setup.engine.displacement));
    assert_eq!(ctx.volumetric_efficiency, Some(setup.engine.volumetric_efficiency));
    // 600 cubic feet a minute of air of 1.2 kg/m3.
    assert!((ctx.rated_flow.unwrap().as_g_s() - 339.8).abs() < 0.1, "{:?}", ctx.rated_flow);
    assert_eq!((ctx.barometer, ctx.barometer_known), (Pressure::from_kpa(95.0), true));
    assert_eq!(ctx.air_temperature, Temperature::from_c(31.0));
    assert_eq!((ctx.sensor_lag, ctx.pipe_volume), (seconds(0.12), Some(Volume::from_l(3.0))));
    assert_eq!((ctx.share_of_exhaust, ctx.sensor_trusted), (Fraction::from_ratio(0.5), Some(true)));
    assert_eq!(ctx.enrichment_opening, Some(Vacuum::from_inhg(6.5)));
    assert_eq!(ctx.idle_speed, Some(EngineSpeed::from_rpm(950.0)));
    // Durations of 240 and 246 degrees about a separation of 108.
    assert!((ctx.overlap.unwrap().as_deg() - 27.0).abs() < 1e-9);
    setup.weather = None;
    setup.instruments.lambda = None;
    let ctx = TraceContext::new(&setup, &logger);
    assert!(!ctx.barometer_known && ctx.sensor_trusted.is_none() && ctx.pipe_volume.is_none());
    assert_eq!(ctx.sensor_lag, seconds(0.07));
}

fn running(setup: &Setup, seed: u64) -> VirtualEngine {
    let mut engine = VirtualEngine::new(setup, Character::Mild, seed);
    assert!(engine.start());
    engine.advance(seconds(20.0));
    engine
}

/// Quick openings from many speeds and vacuums, as a person who looks for the delay drives.
fn openings() -> RunProgram {
    let mut segments = vec![Segment::Idle { span: seconds(10.0) }];
    for k in 0..18 {
        let speed = EngineSpeed::from_rpm(1400.0 + 400.0 * f64::from(k % 6));
        let vacuum = Vacuum::from_inhg(16.0 - f64::from(k % 4));
        segments.push(Segment::HoldVacuum { speed, vacuum, span: seconds(4.0) });
        let to = Fraction::from_percent(30.0 + 15.0 * f64::from(k % 4));
        let load = Load::Brake(speed);
        segments.push(Segment::TipIn { to, load, over: seconds(0.15), span: seconds(2.5) });
    }
    RunProgram { segments, interval: TimeSpan::from_ms(20.0) }
}

fn analyzed(log: &str, ctx: TraceContext) -> TraceSummary {
    let mut analyzer = Analyzer::new(ctx);
    analyzer.push(log.as_bytes());
    analyzer.finish().unwrap()
}

/// The delay at 2200 rpm and half the air, worked out from what flows through the exhaust there: waiting for the
/// exhaust stroke, the pipe's volume over the flow, the sensor's time constant.
fn truth(setup: &Setup, seed: u64) -> f64 {
    let mut engine = running(setup, seed);
    engine.set_load(Load::Brake(EngineSpeed::from_rpm(2200.0)));
    let outside = setup.weather.unwrap().pressure;
    let (mut shut, mut open) = (0.0, 1.0);
    for _ in 0..12 {
        let middle = 0.5 * (shut + open);
        engine.set_throttle(Fraction::from_ratio(middle));
        engine.advance(seconds(2.0));
        let manifold = outside.as_kpa() - 3.386_389 * engine.truth().vacuum.as_inhg();
        if manifold > 50.0 {
            open = middle;
        } else {
            shut = middle;
        }
    }
    let now = engine.truth();
    let flow = now.air.as_kg_s() + now.fuel.as_kg_s();
    // As hot as the engine's own exhaust: 620 K, and 330 K more at rated air.
    let e = &setup.engine;
    let rated =
        e.volumetric_efficiency.as_ratio() * e.displacement.as_m3() * e.rated_speed.as_rpm() / 120.0 * 1.19;
    let kelvin = 620.0 + 330.0 * (now.air.as_kg_s() / rated).min(1.0);
    let sensor = setup.instruments.lambda.as_ref().unwrap();
    let pipe = sensor.pipe_volume.unwrap().as_m3() * outside.as_pa() / (flow * 287.0 * kelvin);
    90.0 / 2200.0 + pipe + sensor.time_constant.as_s()
}

#[test]
fn the_delay_is_found_from_the_logs_own_transients() {
    let (mut inside_one, mut cases) = (0, 0);
    for (litres, lag_s) in [(3.0, 0.07), (6.0, 0.07), (3.0, 0.15)] {
        for seed in [1, 2, 3] {
            let setup = tractor(litres, lag_s);
            let known = truth(&setup, seed);
            let log = running(&setup, seed).log(&openings());
            // Nothing of the exhaust is told: it must come from the log.
            let found = analyzed(&log, TraceContext::bare(&LoggerProfile::standard())).delay;
            let off = found.at_cruise.as_s() - known;
            let sd = found.uncertainty.as_s();
            let what = format!("{litres} l, {lag_s} s, seed {seed}: {known:.3} s, found {found:?}");
            assert!(off.abs() <= 2.0 * sd, "{what}");
            assert!(off.abs() < 0.06 && sd < 0.1, "{what}");
            assert_eq!(found.source, DelaySource::Fitted);
            inside_one += u32::from(off.abs() <= sd);
            cases += 1;
        }
    }
    // One in three may lie outside one standard deviation.
    assert!(inside_one * 3 >= cases * 2, "{inside_one} of {cases}");
}

/// A log of the skiff's engine, made once.
fn skiff_log() -> &'static str {
    static LOG: OnceLock<String> = OnceLock::new();
    LOG.get_or_init(|| {
        let setup = scenario::oyster_skiff();
        running(&setup, 5).log(&RunProgram::standard(&setup))
    })
}

/// Advice on a log, as it is printed.
fn advice(log: &str) -> String {
    let setup = scenario::oyster_skiff();
    let rules = RuleBook::common();
    let trace = analyzed(log, TraceContext::new(&setup, &LoggerProfile::standard()));
    let input = AdviceInput {
        setup: &setup,
        rules: &rules,
        trace: &trace,
        weather: setup.weather.as_ref(),
        memory: &[],
        options: Options::default(),
    };
    serde_json::to_string_pretty(&advise(&input).to_json(System::Us)).unwrap()
}

/// A row that is set aside, made from the good row it follows.
fn bad_row(kind: u8, after: &str) -> String {
    let mut cells: Vec<String> = after.split(',').map(str::to_owned).collect();
    let time: f64 = cells[0].parse().unwrap();
    match kind % 9 {
        0 => cells[1] = "fast".to_owned(),
        1 => cells[5] = "0.9 lambda".to_owned(),
        2 => cells.truncate(4),
        3 => cells.push("7".to_owned()),
        4 => cells[3] = "\"40.0".to_owned(),
        5 => cells[2] = "1\0".to_owned(),
        6 => cells[0] = String::new(),
        7 => cells[4] = "9".repeat(70_000),
        _ => cells[0] = format!("{:.3}", time - 0.3),
    }
    cells.join(",") + "\n"
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is set aside, be it most of the file, leaves the advice byte for byte as it was.
    #[test]
    fn rows_set_aside_leave_advice_as_it_was(
        every in 1usize..40,
        kinds in proptest::collection::vec(any::<u8>(), 1..8),
        run in 1usize..4,
    ) {
        static GOOD: OnceLock<String> = OnceLock::new();
        let good = GOOD.get_or_init(|| advice(skiff_log()));
        let mut log = String::new();
        let mut put = 0u64;
        for (n, line) in skiff_log().lines().enumerate() {
            log.push_str(line);
            log.push('\n');
            if n > 20 && n % every == 0 {
                for k in 0..run {
                    // A line of 70 kB in every place would make a file of gigabytes.
                    let kind = kinds[(n + k) % kinds.len()];
                    let kind = if kind % 9 == 7 && n % 100 != 0 { 0 } else { kind };
                    log.push_str(&bad_row(kind, line));
                    put += 1;
                }
            }
        }
        let setup = scenario::oyster_skiff();
        let trace = analyzed(&log, TraceContext::new(&setup, &LoggerProfile::standard()));
        prop_assert_eq!(trace.lines.quarantined, put, "{:?}", trace.fault_counts);
        prop_assert_eq!(&advice(&log), good);
    }
}

#[test]
fn the_advice_of_that_log_says_something() {
    let advice: serde_json::Value = serde_json::from_str(&advice(skiff_log())).unwrap();
    assert!(advice["regimes"].as_array().unwrap().len() >= 5, "{advice:#}");
    let changes = advice["changes"].as_array().unwrap().len() + advice["withheld"].as_array().unwrap().len();
    assert!(changes > 0, "{advice:#}");
}
