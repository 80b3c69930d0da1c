//! Full throttle and load.

use super::{Case, Evidence, Finding, Symptom, found, overall};
use crate::rules::limits;
use crate::setup::Regime;
use crate::trace::{EventKind, Pull};
use crate::units::show::{Shown, fuel_pressure};
use crate::units::{Lambda, PressureDifference, Vacuum};

/// Lambda that changes by more than this along a pull (common practice).
const TREND: f64 = 0.03;
/// Fuel pressure that falls by more than this, psi (common practice).
const FALL_PSI: f64 = 1.0;
/// Vacuum left at full throttle, inHg (common practice).
const LEFT_INHG: f64 = 2.0;
/// Throttle at which full throttle is really full, %.
const FULL_PCT: f64 = 95.0;

pub(super) fn find(case: &Case<'_>) -> Vec<Finding> {
    [
        lean(case),
        starvation(case),
        trend(case, Symptom::LeanerWithSpeed),
        trend(case, Symptom::RicherWithSpeed),
        vacuum_left(case),
        lean_with_load(case),
        rich_with_load(case),
        found(Symptom::PressureSags, case.happened(EventKind::PressureSag)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn lean(case: &Case<'_>) -> Option<Finding> {
    let setup = case.setup;
    let limits = limits::full_throttle(setup.application, setup.engine.cooling, setup.fuel.family, case.book);
    let pulls = case.log.pulls.iter().filter_map(|p| Some((p, p.worst?)));
    let beyond = pulls.filter(|(_, worst)| {
        matches!(limits.judge(*worst), limits::Against::WarnLean | limits::Against::StopLean)
    });
    let evidence = beyond
        .map(|(p, worst)| {
            let stop = limits.judge(worst) == limits::Against::StopLean;
            let (word, limit) = if stop { ("stop", limits.stop_lean) } else { ("warning", limits.warn_lean) };
            let what = format!("lambda {:.3}, {word} above {:.2}", worst.as_ratio(), limit.as_ratio());
            Evidence { at: p.worst_at, what }
        })
        .collect();
    found(Symptom::LeanAtFullThrottle, evidence)
}

fn change(pull: &Pull) -> Option<f64> {
    Some(pull.lambda_to?.as_ratio() - pull.lambda_from?.as_ratio())
}

fn fall(pull: &Pull) -> Option<PressureDifference> {
    Some(pull.fuel_pressure_from? - pull.fuel_pressure_to?)
}

fn starves(pull: &Pull) -> bool {
    change(pull).is_some_and(|c| c > TREND) && fall(pull).is_some_and(|f| f.as_psi() > FALL_PSI)
}

fn starvation(case: &Case<'_>) -> Option<Finding> {
    let evidence = case.log.pulls.iter().filter(|p| starves(p)).map(|p| {
        let what = format!(
            "lambda {:+.3}, fuel pressure down {} along the pull",
            change(p).unwrap_or_default(),
            fuel_pressure(fall(p).unwrap_or_default(), case.system)
        );
        Evidence { at: Some(p.start), what }
    });
    found(Symptom::Starvation, evidence.collect())
}

fn trend(case: &Case<'_>, symptom: Symptom) -> Option<Finding> {
    let lean = symptom == Symptom::LeanerWithSpeed;
    let evidence = case.log.pulls.iter().filter_map(|p| {
        let (change, slope) = (change(p)?, p.lambda_per_1000_rpm?);
        let is =
            if lean { change > TREND && slope > 0.0 && !starves(p) } else { change < -TREND && slope < 0.0 };
        let what = format!(
            "lambda {change:+.3} from {:.0} to {:.0} rpm",
            p.speed_from.as_rpm(),
            p.speed_to.as_rpm()
        );
        is.then_some(Evidence { at: Some(p.start), what })
    });
    found(symptom, evidence.collect())
}

fn vacuum_left(case: &Case<'_>) -> Option<Finding> {
    let evidence = case.log.pulls.iter().filter_map(|p| {
        let vacuum = p.vacuum_to?;
        let open = p.throttle.is_none_or(|t| t.as_percent() >= FULL_PCT);
        let what = format!("{} at the end of the pull", vacuum.show(case.system));
        (open && vacuum > Vacuum::from_inhg(LEFT_INHG)).then_some(Evidence { at: Some(p.start), what })
    });
    found(Symptom::VacuumAtFullThrottle, evidence.collect())
}

/// Median and band of a regime.
fn against(case: &Case<'_>, regime: Regime) -> Option<(Lambda, Lambda, Lambda)> {
    let band = case.band(regime)?;
    Some((case.median(regime)?, band.low, band.high))
}

fn lean_with_load(case: &Case<'_>) -> Option<Finding> {
    let (cruise, _, cruise_high) = against(case, Regime::Cruise)?;
    let loaded = [Regime::HeavyCruise, Regime::FullThrottle];
    let lean =
        loaded.into_iter().filter_map(|r| Some((r, against(case, r)?))).find(|(_, (l, _, high))| l > high)?;
    let (regime, (lambda, _, high)) = lean;
    if cruise > cruise_high {
        return None;
    }
    let what = format!(
        "{} {:.3}, target up to {:.2}; cruise {:.3}",
        regime.said(),
        lambda.as_ratio(),
        high.as_ratio(),
        cruise.as_ratio()
    );
    found(Symptom::LeanWithLoad, overall(what))
}

fn rich_with_load(case: &Case<'_>) -> Option<Finding> {
    let (cruise, cruise_low, _) = against(case, Regime::Cruise)?;
    let (full, low, _) = against(case, Regime::FullThrottle)?;
    let what = format!(
        "full throttle {:.3}, target from {:.2}; cruise {:.3}",
        full.as_ratio(),
        low.as_ratio(),
        cruise.as_ratio()
    );
    if full < low && cruise >= cruise_low { found(Symptom::RichWithLoad, overall(what)) } else { None }
}
