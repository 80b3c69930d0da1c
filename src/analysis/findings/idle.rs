//! Idle, its edges, and what only shows there.

use super::{Case, Finding, Symptom, found, overall};
use crate::setup::Regime;
use crate::trace::EventKind;
use crate::units::show::Shown;

/// Idle richer than this: something drips (common practice).
const RICH: f64 = 0.80;
/// Idle faster than its aim by this, rpm (common practice).
const FAST_RPM: f64 = 150.0;
/// Idle leaner than its target by this, with load right, is not the screws.
const LEAN_BY: f64 = 0.03;
/// Idle vacuum under the least that is normal by this, inHg, has a reason (common practice: two to four).
const LOW_INHG: f64 = 2.0;
/// Screws further out than this, turns, meter little (common practice).
const FAR_OUT: f64 = 2.5;
/// Overrun leaner than this (common practice).
const OVERRUN: f64 = 1.3;

pub(super) fn find(case: &Case<'_>) -> Vec<Finding> {
    [
        found(Symptom::HangingIdle, case.happened(EventKind::HangingIdle)),
        found(Symptom::DiesInGear, case.happened(EventKind::LoadStall)),
        found(Symptom::DipsAfterStop, case.happened(EventKind::StopDip)),
        found(Symptom::LoadsUp, case.happened(EventKind::LoadingUp)),
        found(Symptom::FloodedRestart, case.happened(EventKind::FloodedRestart)),
        found(Symptom::RunOn, case.happened(EventKind::RunOn)),
        rich(case),
        fast(case),
        lean_only_here(case),
        low_vacuum(case),
        blocked(case),
        lean_overrun(case),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn rich(case: &Case<'_>) -> Option<Finding> {
    let idle = case.median(Regime::Idle)?.as_ratio();
    // On methanol, and with much overlap, so rich an idle can be right.
    let meant = case.band(Regime::Idle).is_some_and(|b| idle >= b.low.as_ratio());
    if idle < RICH && !meant { found(Symptom::RichIdle, overall(format!("median {idle:.3}"))) } else { None }
}

fn fast(case: &Case<'_>) -> Option<Finding> {
    let aim = case.setup.engine.idle_speed?;
    let seen = case.regime(Regime::Idle)?.speed?;
    let what = format!("median {:.0} rpm, aim {:.0}", seen.as_rpm(), aim.as_rpm());
    if (seen - aim).as_rpm() > FAST_RPM { found(Symptom::FastIdle, overall(what)) } else { None }
}

fn lean_only_here(case: &Case<'_>) -> Option<Finding> {
    let idle = case.median(Regime::Idle)?;
    let high = case.band(Regime::Idle)?.high;
    let full = case.median(Regime::FullThrottle).or(case.median(Regime::HeavyCruise))?;
    let loaded =
        if case.median(Regime::FullThrottle).is_some() { Regime::FullThrottle } else { Regime::HeavyCruise };
    let load_high = case.band(loaded)?.high;
    let what = format!(
        "idle {:.3} (target up to {:.2}), {} {:.3}",
        idle.as_ratio(),
        high.as_ratio(),
        loaded.said(),
        full.as_ratio()
    );
    let is = idle.as_ratio() > high.as_ratio() + LEAN_BY && full <= load_high;
    if is { found(Symptom::LeanIdleOnly, overall(what)) } else { None }
}

fn low_vacuum(case: &Case<'_>) -> Option<Finding> {
    let setup = case.setup;
    setup.engine.cam?;
    let idle = case.regime(Regime::Idle).filter(|r| r.samples >= super::ENOUGH_ROWS)?.vacuum?;
    let barometer = setup.weather.map(|w| w.pressure);
    let aim = crate::rules::idle::aim(&setup.engine, setup.application, barometer, case.book, case.system);
    let least = aim.vacuum_low;
    let what = format!(
        "median {}, at least {} is normal for this cam",
        idle.show(case.system),
        least.show(case.system)
    );
    if idle.as_inhg() < least.as_inhg() - LOW_INHG {
        found(Symptom::LowIdleVacuum, overall(what))
    } else {
        None
    }
}

fn blocked(case: &Case<'_>) -> Option<Finding> {
    let idle = case.median(Regime::Idle)?;
    let circuit = &case.setup.carburetor.idle;
    let out =
        circuit.turns_out.iter().map(|t| t.as_turns()).sum::<f64>() / circuit.turns_out.len().max(1) as f64;
    let lean = idle > case.band(Regime::Idle)?.high;
    let what = format!("{out:.2} turns out, idle {:.3}", idle.as_ratio());
    if lean && out > FAR_OUT && !circuit.screws_meter_air {
        found(Symptom::BlockedIdle, overall(what))
    } else {
        None
    }
}

fn lean_overrun(case: &Case<'_>) -> Option<Finding> {
    let overrun = case.median(Regime::Overrun)?.as_ratio();
    if overrun > OVERRUN {
        found(Symptom::LeanOverrun, overall(format!("median {overrun:.3}")))
    } else {
        None
    }
}
