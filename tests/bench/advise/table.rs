//! The two tables.

use crate::hidden::{Faults, Hidden, JET, Noise};
use crate::job;
use crate::play::{Adviser, Ours, Played, play};
use crate::rivals::{FieldRule, KnowsTheCurve, SquareLaw, band};
use leanbest::numeric::rng::Chance;
use leanbest::rules::{RuleBook, limits};
use leanbest::setup::{Application, Carburetor, PartSize, Regime, Setup};
use leanbest::units::Lambda;

const JUDGED: [Regime; 4] = [Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];
const TENTH: f64 = 0.1 / 14.7;
/// Nearer to the border of a band than this, no log tells inside from outside.
const EDGE: f64 = 0.005;

/// The same noise as the figures this is held against: 0.02 a run, nine runs a jet.
const NINE_RUNS: Noise = Noise { visit: 0.02, station: 0.0, log: 0.0, visits: 9 };
const USUAL: Noise = Noise { visit: 0.02, station: 0.01, log: 0.003, visits: 6 };

fn stop_lean(setup: &Setup, rules: &RuleBook) -> f64 {
    limits::full_throttle(setup.application, setup.engine.cooling, setup.fuel.family, rules)
        .stop_lean
        .as_ratio()
}

/// Only cruise is judged, to a tenth of a ratio.
fn narrow_book() -> RuleBook {
    let mut book = RuleBook::common();
    for row in &mut book.targets.band {
        let (low, high) = match row.regime {
            Regime::Cruise => (0.95 - TENTH, 0.95 + TENTH),
            Regime::FullThrottle => (0.60, 0.92),
            _ => (0.60, 1.40),
        };
        (row.low, row.high) = (Lambda::from_ratio(low), Lambda::from_ratio(high));
    }
    book
}

/// Within a tenth of the aim, or no stocked jet is nearer.
fn right(hidden: &Hidden, c: &Carburetor) -> bool {
    let miss = |c: &Carburetor| (hidden.regime(c, Regime::Cruise) - 0.95).abs();
    let here = miss(c);
    let nearer = |d| c.with(JET, PartSize::Bore(d)).is_some_and(|other| miss(&other) < here - 1e-9);
    here <= TENTH || !c.stock.main_jets.iter().any(|d| nearer(*d))
}

fn percent(of: &[bool]) -> f64 {
    100.0 * of.iter().filter(|r| **r).count() as f64 / of.len().max(1) as f64
}

/// One circuit, jets by 0.001 in, right within a tenth of a ratio or the nearest part.
pub fn one_circuit_to_a_tenth(engines: u64, only: Option<&str>) {
    println!("One circuit (main at cruise), jets by 0.001 in, log noise 0.02, nine runs a log.");
    println!("Right: within 0.1 AFR of the aim, or no stocked jet is nearer.\n");
    println!(
        "faults                   adviser            right after 1   after 2   at the end  changes 50/90 %  logs  back  to and fro"
    );
    for (name, low, high) in
        [("0 to 3 steps lean", -3.0, -0.5), ("0 to 1 step rich", 0.5, 1.0), ("1 to 3 steps rich", 1.0, 3.0)]
    {
        let all = ["field rule", "square law", "knows the curve", "leanbest"];
        for adviser in all.into_iter().filter(|a| only.is_none_or(|o| o == *a)) {
            let mut rows = Vec::new();
            for seed in 0..engines {
                rows.push(one(seed, low, high, adviser));
            }
            line(name, adviser, &rows);
        }
    }
    println!();
}

struct Row {
    one: bool,
    two: bool,
    end: bool,
    until: Option<usize>,
    played: Played,
    path: String,
}

fn one(seed: u64, low: f64, high: f64, adviser: &str) -> Row {
    let setup = job::setup(Application::Street);
    let rules = narrow_book();
    let faults = Faults { jet: Chance::with_seed(seed).between(low, high), channel: 0.0, feed: 0.0 };
    let aim = |r: Regime| if r == Regime::FullThrottle { 0.80 } else { 0.95 };
    let draw = || Hidden::draw(seed, &setup, &faults, aim, NINE_RUNS);
    let (mut hidden, truth) = (draw(), draw());
    let mut by: Box<dyn Adviser + '_> = match adviser {
        "field rule" => Box::new(FieldRule),
        "square law" => Box::new(SquareLaw),
        "knows the curve" => Box::new(KnowsTheCurve { truth: &truth }),
        _ => Box::new(Ours),
    };
    let played = play(by.as_mut(), &mut hidden, &setup, &rules, stop_lean(&setup, &rules));
    Row {
        one: right(&hidden, played.after(1)),
        two: right(&hidden, played.after(2)),
        end: right(&hidden, played.after(99)),
        until: played.until(|c| right(&hidden, c)),
        path: played.path(&hidden),
        played,
    }
}

fn quantile(rows: &[Row], q: f64) -> String {
    let mut all: Vec<usize> = rows.iter().map(|r| r.until.unwrap_or(99)).collect();
    all.sort_unstable();
    match all[((all.len() - 1) as f64 * q).ceil() as usize] {
        99 => "never".into(),
        n => n.to_string(),
    }
}

fn line(name: &str, adviser: &str, rows: &[Row]) {
    let share = |f: fn(&Row) -> bool| percent(&rows.iter().map(f).collect::<Vec<_>>());
    let logs = rows.iter().map(|r| r.played.logs).sum::<usize>() as f64 / rows.len() as f64;
    let back = rows.iter().filter(|r| r.played.back_and_forth() > 0).count();
    let fro = rows.iter().filter(|r| r.played.to_and_fro > 0).count();
    println!(
        "{name:<24} {adviser:<18} {:>10.0} % {:>7.0} % {:>10.0} % {:>9} / {:<5} {logs:>5.1} {back:>5} {fro:>11}",
        share(|r| r.one),
        share(|r| r.two),
        share(|r| r.end),
        quantile(rows, 0.5),
        quantile(rows, 0.9)
    );
}

/// The whole carburetor, until every regime is inside its band.
pub fn until_inside(engines: u64, only: Option<&str>, show: bool) {
    println!(
        "Whole carburetor, the common bands (street and work in turn), six visits a log: changes until every regime is inside (to 0.005 lambda).\n"
    );
    println!(
        "faults           adviser       inside  changes 50/90 %  logs  back  to and fro  too lean  90 % intervals that hold"
    );
    for circuits in 1..=3 {
        let all = ["field rule", "square law", "leanbest"];
        for adviser in all.into_iter().filter(|a| only.is_none_or(|o| o == *a)) {
            let rows: Vec<Row> = (0..engines).map(|seed| whole(seed, circuits, adviser)).collect();
            if show && adviser == "leanbest" {
                let went = rows.iter().enumerate().filter(|(_, r)| r.played.hunted > 0 || !r.end);
                went.for_each(|(seed, r)| println!("    seed {seed}: {}", r.path));
            }
            summary(&format!("{circuits} circuit{}", if circuits > 1 { "s" } else { "" }), adviser, &rows);
        }
    }
}

fn whole(seed: u64, circuits: usize, adviser: &str) -> Row {
    let setup = job::setup(if seed.is_multiple_of(2) { Application::Street } else { Application::Marine });
    let rules = RuleBook::common();
    let mut chance = Chance::with_seed(1000 + seed);
    let first = (chance.uniform() * 3.0) as usize;
    // Far enough to leave the band: lean faults of any size, rich ones that a step or two at a time undo.
    let mut size = |most: f64| {
        if chance.uniform() < 0.6 { -chance.between(1.5, most) } else { chance.between(1.2, 2.4) }
    };
    let mut faults = Faults { jet: 0.0, channel: 0.0, feed: 0.0 };
    for k in 0..circuits {
        match (first + k) % 3 {
            0 => faults.jet = size(4.0),
            1 => faults.channel = size(3.0) * 1.3,
            _ => faults.feed = size(3.5),
        }
    }
    let aim = |r: Regime| band(&setup, &rules, r).1;
    let mut hidden = Hidden::draw(seed, &setup, &faults, aim, USUAL);
    let inside = |hidden: &Hidden, c: &Carburetor| {
        JUDGED.iter().all(|r| {
            let (low, _, high) = band(&setup, &rules, *r);
            (low - EDGE..=high + EDGE).contains(&hidden.regime(c, *r))
        })
    };
    let mut by: Box<dyn Adviser> = match adviser {
        "field rule" => Box::new(FieldRule),
        "square law" => Box::new(SquareLaw),
        _ => Box::new(Ours),
    };
    let played = play(by.as_mut(), &mut hidden, &setup, &rules, stop_lean(&setup, &rules));
    let at = |n: usize| inside(&hidden, played.after(n));
    let path = played.path(&hidden);
    Row { one: at(1), two: at(2), end: at(99), until: played.until(|c| inside(&hidden, c)), played, path }
}

fn summary(name: &str, adviser: &str, rows: &[Row]) {
    let sum = |f: fn(&Played) -> usize| rows.iter().map(|r| f(&r.played)).sum::<usize>();
    let logs = sum(|p| p.logs) as f64 / rows.len() as f64;
    let back = rows.iter().filter(|r| r.played.back_and_forth() > 0).count();
    let (held, all) = (sum(|p| p.held), sum(|p| p.intervals));
    let coverage =
        if all > 0 { format!("{:.1} % of {all}", 100.0 * held as f64 / all as f64) } else { "-".into() };
    let fro = rows.iter().filter(|r| r.played.to_and_fro > 0).count();
    println!(
        "{name:<16} {adviser:<12} {:>6.0} % {:>8} / {:<5} {logs:>5.1} {back:>5} {fro:>11} {:>9}  {coverage}",
        percent(&rows.iter().map(|r| r.end).collect::<Vec<_>>()),
        quantile(rows, 0.5),
        quantile(rows, 0.9),
        sum(|p| p.violations)
    );
}
