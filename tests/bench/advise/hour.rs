//! How long one advice takes on an hour of log, beside reading that log in the same run.

use crate::job;
use leanbest::analysis::advise::{AdviceInput, Options, Trial, advise};
use leanbest::bench::clock::Stopwatch;
use leanbest::numeric::rng::Chance;
use leanbest::rules::RuleBook;
use leanbest::setup::{Application, PartPath, PartSize, SetName, Setup};
use leanbest::trace::{Analyzer, LoggerProfile, TraceContext, TraceSummary};
use leanbest::units::Length;
use std::fmt::Write as _;

const RUNS: usize = 5;

/// An hour at ten rows a second: six seconds in each of six hundred places all over what an engine does.
fn written() -> String {
    let mut chance = Chance::with_seed(7);
    let mut text = "time_s,rpm,map_kpa,tps_pct,lambda,coolant_c\n".to_owned();
    let (mut rpm, mut load) = (800.0, 0.1);
    for row in 0..36_000u32 {
        if row % 60 == 0 {
            load = chance.between(0.03, 1.0);
            rpm = 800.0 + 3300.0 * load.powf(0.6) * chance.between(0.9, 1.0);
        }
        let lambda = 1.06 - 0.2 * load + 0.02 * chance.normal();
        let (speed, map, throttle) = (rpm + 5.0 * chance.normal(), 38.0 + 60.0 * load, 100.0 * load);
        let time = f64::from(row) / 10.0;
        let _ = writeln!(text, "{time:.1},{speed:.0},{map:.1},{throttle:.1},{lambda:.3},88.0");
    }
    text
}

fn read(text: &str, setup: &Setup) -> TraceSummary {
    let mut analyzer = Analyzer::new(TraceContext::new(setup, &LoggerProfile::standard()));
    analyzer.push(text.as_bytes());
    analyzer.finish().expect("a log")
}

/// The best of several runs, in milliseconds.
fn best<T>(mut run: impl FnMut() -> T) -> f64 {
    let one = |_| {
        let clock = Stopwatch::start();
        std::hint::black_box(run());
        1e3 * clock.now().as_s()
    };
    (0..RUNS).map(one).fold(f64::INFINITY, f64::min)
}

/// Prints the times: alone, and with what four earlier logs taught.
pub fn how_long() {
    let setup = job::setup(Application::Street);
    let rules = RuleBook::common();
    let text = written();
    let trace = read(&text, &setup);
    let memory: Vec<Trial> = [56.0, 57.0, 58.0, 59.0]
        .map(|jet| {
            let size = PartSize::Bore(Length::from_inches(1e-3 * jet));
            let with = setup.carburetor.with(PartPath::MainJet(SetName::Primary), size);
            Trial { carburetor: with.expect("it has a jet"), weather: setup.weather, trace: trace.clone() }
        })
        .into();
    let advised = |memory: &[Trial]| {
        let options = Options::default();
        best(|| {
            advise(&AdviceInput {
                setup: &setup,
                rules: &rules,
                trace: &trace,
                weather: None,
                memory,
                options,
            })
        })
    };
    let reading = best(|| read(&text, &setup));
    let (first, fifth) = (advised(&[]), advised(&memory));
    println!("An hour of log ({} rows, {} stations), one thread:", trace.rows, trace.stations.len());
    println!("reading it {reading:>8.1} ms");
    println!("advice     {first:>8.1} ms  ({:.2} of the reading)", first / reading);
    println!("advice with four earlier logs {fifth:>8.1} ms  ({:.2} of the reading)", fifth / reading);
}
