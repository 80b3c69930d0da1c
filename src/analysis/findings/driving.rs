//! Off idle and quick openings.

use super::{Case, Evidence, Finding, Symptom, found, overall};
use crate::setup::{Regime, SetName};
use crate::trace::{EventKind, TipIn};

/// An opening faster than this, share of travel a second, bogs by the pump (common practice).
const QUICK: f64 = 0.5;
/// Leaner than this within half a second bogs.
const LEAN: f64 = 1.15;
const LEAN_WITHIN_S: f64 = 0.5;
/// Richer than 0.70 for longer than this, s, puffs black.
const RICH_S: f64 = 0.5;
/// Off idle richer than this, with the stop showing more throttle than that, %.
const OFF_IDLE_RICH: f64 = 0.80;
const STOP_PCT: f64 = 3.0;

pub(super) fn find(case: &Case<'_>) -> Vec<Finding> {
    let secondaries = case.setup.carburetor.main_set(SetName::Secondary).is_some();
    [
        found(Symptom::Stumble, case.happened(EventKind::Stumble)),
        rich_off_idle(case),
        found(
            Symptom::LeanBog,
            tips(case, |t| {
                t.opening_per_s > QUICK && t.peak.as_ratio() > LEAN && t.peak_after.as_s() <= LEAN_WITHIN_S
            }),
        ),
        found(Symptom::RichBog, tips(case, |t| t.rich_seconds.as_s() > RICH_S)),
        if secondaries {
            found(Symptom::SecondaryBog, tips(case, |t| t.second_peak.is_some()))
        } else {
            None
        },
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn tips(case: &Case<'_>, is: impl Fn(&TipIn) -> bool) -> Vec<Evidence> {
    let those = case.log.tip_ins.iter().filter(|t| is(t));
    those
        .map(|t| {
            let what = format!(
                "throttle {:.0} to {:.0} %: leanest {:.3} after {:.2} s, richest {:.3}",
                t.throttle_from.as_percent(),
                t.throttle_to.as_percent(),
                t.peak.as_ratio(),
                t.peak_after.as_s(),
                t.richest.as_ratio()
            );
            Evidence { at: Some(t.start), what }
        })
        .collect()
}

fn rich_off_idle(case: &Case<'_>) -> Option<Finding> {
    let lambda = case.median(Regime::OffIdle)?.as_ratio();
    let stop = case.log.throttle_closed?.as_percent();
    let what = format!("off idle {lambda:.3}, throttle at its stop {stop:.1} %");
    if lambda < OFF_IDLE_RICH && stop > STOP_PCT { found(Symptom::RichOffIdle, overall(what)) } else { None }
}
