//! How often is the verdict on a change right? Simulated series of pulls with known effect, drift and noise, judged by
//! the program and, in the same run, by comparing the peaks of one pull of each, as is commonly done.
//!
//! cargo bench --bench pulls
//!
//! Whole pulls are made: a torque curve, twenty rows a second with noise on torque and speed, a factor for each pull
//! made of effect, drift and pull-to-pull noise. The drift is a steady part and a settling part (an engine that warms
//! up). The pull-to-pull noise of a rig differs from rig to rig: its logarithm is spread by a third about what the
//! program assumes for a good engine dyno.

#![allow(clippy::print_stdout, reason = "a benchmark prints its figures")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops where it fails")]

use leanbest::analysis::pulls::{How, Labelled, Pull, Reading, Row, find_pulls, hold};
use leanbest::analysis::verdict::{Rig, Verdict};
use leanbest::numeric::rng::Chance;
use leanbest::units::{EngineSpeed, TimeSpan, Torque};

const TRIES: u32 = 400;
/// Half the assumed floor of 0.5 %: the deviation of one pull on a good engine dyno.
const ASSUMED: f64 = 0.0025;

/// A torque curve of the kind a work engine has, N m.
fn torque(rpm: f64) -> f64 {
    300.0 - 43.0 * ((rpm - 2400.0) / 1700.0).powi(2)
}

fn rows(strength: f64, chance: &mut Chance) -> Vec<Row> {
    let row = |k: u32, chance: &mut Chance| {
        let part = f64::from(k) / 159.0;
        let rpm = 1800.0 + 2500.0 * part;
        Row {
            line: u64::from(k) + 2,
            time: Some(TimeSpan::from_s(8.0 * part)),
            speed: Some(EngineSpeed::from_rpm(rpm + 4.0 * chance.normal())),
            torque: Some(Torque::from_n_m(torque(rpm) * strength + 2.0 * chance.normal())),
            ..Row::default()
        }
    };
    (0..160).map(|k| row(k, chance)).collect()
}

struct Case {
    design: &'static str,
    effect: f64,
    /// Deviation of the steady drift of a pull, as a share.
    drift: f64,
    /// Deviation of the settling drift over the whole series, as a share.
    settling: f64,
    /// How much noisier the rig is than assumed.
    noisier: f64,
}

#[derive(Default)]
struct Score {
    held_truth: u32,
    better: u32,
    worse: u32,
    naive_better: u32,
    naive_worse: u32,
    width: f64,
}

fn run(case: &Case, chance: &mut Chance) -> Score {
    let how = How { step: EngineSpeed::from_rpm(50.0), band: None, rig: Rig::EngineDyno, standard: "none" };
    let mut score = Score::default();
    for _ in 0..TRIES {
        let noise = ASSUMED * case.noisier * (0.33 * chance.normal()).exp();
        let (steady, settling) = (case.drift * chance.normal(), case.settling * chance.normal());
        let pulls: Vec<Labelled> = case
            .design
            .chars()
            .enumerate()
            .map(|(k, label)| {
                let t = k as f64;
                let effect = if label == 'B' { case.effect } else { 0.0 };
                let drift = steady * t + settling * (1.0 - (-t / 3.0).exp());
                let strength = (1.0 + effect) * (1.0 + drift) * (1.0 + noise * chance.normal());
                let mut found = find_pulls(&rows(strength, chance));
                let pull = Pull::read(found.pulls.remove(0), &Reading::default()).expect("a curve");
                Labelled { label: label.to_string(), pull }
            })
            .collect();
        let held = hold(&pulls, &how).expect("comparable");
        let judged = &held.band_power.judged;
        let e = &judged.effects[0];
        // the truth in the figure's own unit: a share of the level of A over the series
        let truth = case.effect * judged.level;
        score.held_truth += u32::from(e.low <= truth && truth <= e.high);
        score.better += u32::from(e.verdict == Verdict::Better);
        score.worse += u32::from(e.verdict == Verdict::Worse);
        score.width += (e.high - e.low) / judged.level / f64::from(TRIES);
        let peak = |label: &str| {
            let first = pulls.iter().find(|l| l.label == label);
            first.and_then(|l| l.pull.power_peak).map_or(0.0, |p| p.value)
        };
        score.naive_better += u32::from(peak("B") > peak("A"));
        score.naive_worse += u32::from(peak("B") < peak("A"));
    }
    score
}

fn main() {
    let mut chance = Chance::with_seed(1953);
    let designs = ["ABA", "ABAB", "ABABA", "ABBA", "AABBAA", "ABABABA", "AAABBBAAA"];
    let pct = |n: u32| 100.0 * f64::from(n) / f64::from(TRIES);
    println!(
        "{TRIES} series a line; 90 % intervals; drift steady 0.15 % a pull and settling 0.25 % (deviations)"
    );
    println!(
        "{:<10} {:>7} {:>8} {:>11} {:>8} {:>8} {:>10} {:>13} {:>12}",
        "design",
        "effect",
        "noisier",
        "holds truth",
        "better",
        "worse",
        "width",
        "peaks: better",
        "peaks: worse"
    );
    let (mut held, mut told, mut wrong, mut naive_wrong, mut none) = (0, 0, 0, 0, 0);
    for noisier in [1.0, 1.5] {
        for effect in [0.0, 0.01, -0.02] {
            for design in designs {
                let case = Case { design, effect, drift: 0.0015, settling: 0.0025, noisier };
                let s = run(&case, &mut chance);
                println!(
                    "{:<10} {:>6.1}% {:>8.1} {:>10.1}% {:>7.1}% {:>7.1}% {:>9.2}% {:>12.1}% {:>11.1}%",
                    design,
                    100.0 * effect,
                    noisier,
                    pct(s.held_truth),
                    pct(s.better),
                    pct(s.worse),
                    100.0 * s.width,
                    pct(s.naive_better),
                    pct(s.naive_worse)
                );
                if noisier == 1.0 {
                    held += s.held_truth;
                    told += TRIES;
                }
                if effect == 0.0 && noisier == 1.0 {
                    wrong += s.better;
                    naive_wrong += s.naive_better;
                    none += TRIES;
                }
            }
        }
    }
    let share = |n: u32, of: u32| 100.0 * f64::from(n) / f64::from(of);
    println!("\nas assumed: intervals hold the truth {:.1} % of {told} series", share(held, told));
    println!(
        "no effect:  false \"better\" {:.1} % of {none} series; by two peaks {:.1} %",
        share(wrong, none),
        share(naive_wrong, none)
    );
}
