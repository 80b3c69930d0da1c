use super::super::find::find_pulls;
use super::super::pull::Reading;
use super::super::specimen::Specimen;
use super::*;
use crate::numeric::rng::Chance;
use crate::physics::air::{MoistAir, Moisture};
use crate::physics::correction::Standard;
use crate::units::{Pressure, Temperature};
use approx::assert_relative_eq;

fn how() -> How {
    How { step: EngineSpeed::from_rpm(50.0), band: None, rig: Rig::EngineDyno, standard: "SAE J1349" }
}

fn pull(strength: f64, seed: u64, reading: &Reading) -> Pull {
    let rows = Specimen { strength, ..Specimen::default() }.rows(&mut Chance::with_seed(seed));
    Pull::read(find_pulls(&rows).pulls.remove(0), reading).unwrap()
}

fn series(runs: &[(&str, f64)]) -> Vec<Labelled> {
    let one = |(k, (label, strength)): (usize, &(&str, f64))| Labelled {
        label: (*label).to_owned(),
        pull: pull(*strength, k as u64 + 1, &Reading::default()),
    };
    runs.iter().enumerate().map(one).collect()
}

#[test]
fn a_known_gain_is_found_under_drift() {
    let held = hold(&series(&[("A", 1.0), ("B", 1.023), ("A", 1.006)]), &how()).unwrap();
    let effect = &held.band_power.judged.effects[0];
    assert_relative_eq!(effect.effect / held.band_power.judged.level, 0.02, epsilon = 0.001);
    assert_eq!(held.verdict("B"), Some(Verdict::Better));
    assert_eq!(held.curve.len(), 10, "{:?}", held.curve.iter().map(|c| c.low_speed).collect::<Vec<_>>());
}

#[test]
fn correction_out_of_range_or_missing_is_refused() {
    let air =
        |kpa: f64| MoistAir::new(Pressure::from_kpa(kpa), Temperature::from_c(25.0), Moisture::Dry).ok();
    let reading = |kpa: Option<f64>| Reading {
        standard: Some(Standard::SaeJ1349),
        air: kpa.and_then(air),
        ..Reading::default()
    };
    let made = |kpas: [Option<f64>; 3]| -> Vec<Labelled> {
        ["A", "B", "A"]
            .iter()
            .zip(kpas)
            .map(|(l, kpa)| Labelled { label: (*l).to_owned(), pull: pull(1.0, 7, &reading(kpa)) })
            .collect()
    };
    assert!(hold(&made([Some(99.0), Some(98.0), Some(99.0)]), &how()).is_ok());
    let beyond = hold(&made([Some(99.0), Some(91.0), Some(99.0)]), &how());
    assert!(matches!(beyond, Err(AgainstError::OutOfRange { pull: 2, .. })), "{beyond:?}");
    let missing = hold(&made([Some(99.0), None, Some(99.0)]), &how());
    assert!(matches!(missing, Err(AgainstError::MixedCorrection(2))));
}

#[test]
fn a_pull_in_other_units_is_left_out_and_said() {
    let mut pulls = series(&[("A", 1.0), ("B", 1.02), ("A", 1.0), ("B", 1.02 * 0.7376)]);
    mark_unlike(&mut pulls);
    let held = hold(&pulls, &how()).unwrap();
    assert_eq!(held.used, [0, 1, 2]);
    assert!(held.left_out[0].1.contains("lbf ft"), "{:?}", held.left_out);
}

#[test]
fn with_one_label_left_the_pull_that_was_left_out_is_named() {
    let mut pulls = series(&[("A", 1.0), ("B", 1.02 * 0.7376), ("A", 1.0)]);
    mark_unlike(&mut pulls);
    let refused = hold(&pulls, &how());
    assert!(matches!(refused, Err(AgainstError::LeftOut { pull: 2, .. })), "{refused:?}");
}

#[test]
fn a_hole_in_the_band_leaves_a_pull_out_and_one_elsewhere_does_not() {
    let holed = || {
        let rows = Specimen::default().rows(&mut Chance::with_seed(9));
        let rows: Vec<_> = rows
            .into_iter()
            .filter(|r| r.speed.is_none_or(|s| !(2300.0..2900.0).contains(&s.as_rpm())))
            .collect();
        Pull::read(find_pulls(&rows).pulls.remove(0), &Reading::default()).unwrap()
    };
    let mut pulls = series(&[("A", 1.0), ("B", 1.02), ("A", 1.0)]);
    pulls.push(Labelled { label: "B".into(), pull: holed() });
    let band = |low: f64, high: f64| {
        let band = Band { low: EngineSpeed::from_rpm(low), high: EngineSpeed::from_rpm(high), why: "" };
        hold(&pulls, &How { band: Some(band), ..how() }).unwrap()
    };
    assert_eq!(band(2000.0, 3000.0).used, [0, 1, 2]);
    assert_eq!(band(3200.0, 4200.0).used, [0, 1, 2, 3]);
}

#[test]
fn a_band_outside_the_pulls_is_refused_with_what_they_have() {
    let pulls = series(&[("A", 1.0), ("B", 1.0), ("A", 1.0)]);
    let band =
        Band { low: EngineSpeed::from_rpm(5000.0), high: EngineSpeed::from_rpm(6000.0), why: "asked for" };
    let refused = hold(&pulls, &How { band: Some(band), ..how() }).unwrap_err().to_string();
    assert!(
        refused.contains("1850 to 4250") || refused.contains("1800 to 4300") || refused.contains("in common"),
        "{refused}"
    );
}

#[test]
fn false_better_is_rare_and_the_interval_holds_the_truth() {
    // seeded: 240 A-B-A-B-A series with no effect, drift, and the pull-to-pull noise of an engine dyno
    let mut chance = Chance::with_seed(20);
    let (mut better, mut held_truth) = (0, 0);
    let tries = 240;
    for _ in 0..tries {
        let drift = 0.002 * chance.normal();
        let runs: Vec<Observation> = (0..5)
            .map(|k| Observation {
                label: if k % 2 == 0 { "A" } else { "B" }.to_owned(),
                value: 200.0 * (1.0 + drift * f64::from(k)) * (1.0 + 0.0025 * chance.normal()),
                at: f64::from(k),
            })
            .collect();
        let judged = judge(&runs, Rig::EngineDyno.floor(), true).unwrap();
        let e = &judged.effects[0];
        better += u32::from(e.verdict == Verdict::Better);
        held_truth += u32::from(e.low <= 0.0 && e.high >= 0.0);
    }
    let (false_better, coverage) =
        (f64::from(better) / f64::from(tries), f64::from(held_truth) / f64::from(tries));
    assert!(false_better < 0.05, "{false_better}");
    assert!((0.85..=0.95).contains(&coverage), "{coverage}");
}
