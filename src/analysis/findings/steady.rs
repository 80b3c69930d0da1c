//! Part throttle, the whole log, and the instruments.

use super::{Case, Finding, Symptom, found, overall};
use crate::setup::Regime;
use crate::trace::{EventKind, Station};
use crate::units::show::Shown;

/// Less of the running rows believable than this: the sensor is in doubt.
const BELIEVABLE: f64 = 0.80;
/// Lambda that scatters by more than this at steady cruise, tenth to ninetieth percentile (common practice).
const NOISE: f64 = 0.15;
/// Banks that differ by more than this (common practice).
const BANKS: f64 = 0.03;
/// Richer than this everywhere (common practice).
const RICH: f64 = 0.80;
/// Cruise richer than this wastes fuel (common practice).
const RICH_CRUISE: f64 = 0.90;
/// Leaner than this at steady throttle pops (common practice).
const LEAN: f64 = 1.10;
/// Two levels of lambda at one vacuum are this far apart, and few rows lie between.
const LEVELS_APART: f64 = 0.06;
const BETWEEN: f64 = 0.15;

const STEADY: [Regime; 5] =
    [Regime::Idle, Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];

pub(super) fn find(case: &Case<'_>) -> Vec<Finding> {
    [
        doubtful(case),
        noisy(case),
        banks(case),
        found(Symptom::Ice, case.happened(EventKind::Icing)),
        found(Symptom::Surge, case.happened(EventKind::Surge)),
        found(Symptom::Hunting, case.happened(EventKind::Hunting)),
        rich_everywhere(case),
        lean_steady(case),
        toggles(case),
        rich_cruise(case),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn doubtful(case: &Case<'_>) -> Option<Finding> {
    let sensor = &case.log.sensor;
    let share = sensor.believable?.as_ratio();
    let what = format!(
        "{:.0} % of running rows believable ({} pinned, {} out of range, {} without a reading)",
        100.0 * share,
        sensor.stuck,
        sensor.out_of_range,
        sensor.missing
    );
    if share < BELIEVABLE { found(Symptom::SensorDoubtful, overall(what)) } else { None }
}

fn noisy(case: &Case<'_>) -> Option<Finding> {
    // Over the whole of cruise the mixture may differ from place to place: one station must scatter by itself.
    let at_cruise = case.log.stations.iter().filter(|s| s.enough && s.regime == Regime::Cruise);
    let scatter = |s: &Station| (s.lambda.p90 - s.lambda.p10).as_ratio();
    let worst = at_cruise.max_by(|a, b| scatter(a).total_cmp(&scatter(b)))?;
    let what = format!(
        "{:.3} between the tenth and ninetieth percentile near {:.0} rpm",
        scatter(worst),
        worst.speed.as_rpm()
    );
    if scatter(worst) > NOISE { found(Symptom::NoisyLambda, overall(what)) } else { None }
}

fn banks(case: &Case<'_>) -> Option<Finding> {
    let difference = case.log.sensor.bank_difference?.as_ratio();
    let what = format!("second bank {difference:+.3} against the first");
    if difference.abs() > BANKS { found(Symptom::BanksDiffer, overall(what)) } else { None }
}

fn rich_everywhere(case: &Case<'_>) -> Option<Finding> {
    let medians: Vec<f64> =
        STEADY.into_iter().filter_map(|r| case.median(r)).map(crate::units::Lambda::as_ratio).collect();
    let leanest = medians.iter().copied().fold(0.0, f64::max);
    let what = format!("{} regimes, the leanest {leanest:.3}", medians.len());
    if medians.len() >= 3 && leanest < RICH { found(Symptom::RichEverywhere, overall(what)) } else { None }
}

fn lean_steady(case: &Case<'_>) -> Option<Finding> {
    let lean = case.log.stations.iter().filter(|s| s.enough && s.lambda.median.as_ratio() > LEAN);
    let part = lean.filter(|s| matches!(s.regime, Regime::OffIdle | Regime::Cruise | Regime::HeavyCruise));
    let places = part.flat_map(|s| {
        overall(format!(
            "{} near {:.0} rpm: {:.3}",
            s.regime.said(),
            s.speed.as_rpm(),
            s.lambda.median.as_ratio()
        ))
    });
    found(Symptom::LeanSteady, places.collect())
}

fn toggles(case: &Case<'_>) -> Option<Finding> {
    let opening = case.setup.carburetor.enrichment?.opens_below;
    let near = case
        .log
        .stations
        .iter()
        .filter(|s| s.enough && matches!(s.regime, Regime::Cruise | Regime::HeavyCruise));
    let near = near.filter(|s| s.vacuum_low <= opening && opening < s.vacuum_high);
    let two = near.filter(|s| two_levels(s));
    let places = two.flat_map(|s| {
        overall(format!(
            "near {:.0} rpm: {:.3} and {:.3}, valve at {}",
            s.speed.as_rpm(),
            s.lambda.p10.as_ratio(),
            s.lambda.p90.as_ratio(),
            opening.show(case.system)
        ))
    });
    found(Symptom::EnrichmentToggles, places.collect())
}

/// Whether lambda keeps to two levels: they stand apart, and the middle third between them is nearly empty.
fn two_levels(station: &Station) -> bool {
    let (low, high) = (station.lambda.p10.as_ratio(), station.lambda.p90.as_ratio());
    if high - low < LEVELS_APART {
        return false;
    }
    let third = (high - low) / 3.0;
    let counts = &station.counts.lambda;
    let between: u64 = counts
        .bins()
        .filter(|(bin, _)| (low + third..high - third).contains(&(f64::from(*bin) / 1000.0)))
        .map(|(_, n)| n)
        .sum();
    (between as f64) < BETWEEN * counts.count() as f64
}

fn rich_cruise(case: &Case<'_>) -> Option<Finding> {
    let cruise = case.median(Regime::Cruise)?;
    // Where the target itself is that rich, it is meant.
    let low = case.band(Regime::Cruise)?.low.as_ratio().min(RICH_CRUISE);
    let what = format!("cruise {:.3}", cruise.as_ratio());
    if cruise.as_ratio() < low { found(Symptom::RichCruise, overall(what)) } else { None }
}
