//! What the first minutes of a log teach: where the throttle's stops are, how the engine idles, how late lambda is.

use super::context::TraceContext;
use super::delay::DelayModel;
use super::histogram::Filling;
use super::sample::{Pumping, Sample};
use super::segment::Borders;
use super::transients::Transients;

/// Rows held back to learn from, before the first is judged.
pub(super) const ROWS_LEARNT_FROM: usize = 1 << 17;

/// What was learnt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Learnt {
    pub(super) borders: Borders,
    pub(super) delay: DelayModel,
    pub(super) period_s: f64,
    /// Manifold pressure with the engine standing, kPa: the air outside.
    pub(super) standing_kpa: Option<f64>,
    /// Pressure in the manifold at idle, kPa.
    pub(super) idle_kpa: f64,
    /// Coolant at the start, when it is logged.
    pub(super) first_coolant_c: Option<f64>,
}

/// Learns from rows that are all at hand.
pub(super) fn learn(rows: &[(Sample, bool)], ctx: &TraceContext, pumping: &Pumping) -> Learnt {
    let prior = DelayModel::prior(ctx, pumping);
    let mut transients = Transients::new();
    let mut throttle = Filling::over(-5.0, 120.0, 10.0);
    let mut standing = Filling::over(50.0, 115.0, 10.0);
    let mut steps = Filling::over(0.0, 2.0, 1000.0);
    let mut before: Option<f64> = None;
    for (s, anew) in rows {
        if *anew {
            transients.end();
            before = None;
        }
        if let Some(before) = before {
            steps.push((s.t_s - before).min(2.0));
        }
        before = Some(s.t_s);
        transients.push(s);
        if s.speed_rpm > 300.0 && !s.throttle_pct.is_nan() {
            throttle.push(s.throttle_pct);
        } else if s.speed_rpm < 50.0 && s.manifold_kpa > 60.0 {
            standing.push(s.manifold_kpa);
        }
    }
    let throttle = throttle.counted();
    let closed = throttle.quantile(0.01).map_or(0.0, |bin| bin / 10.0);
    // A log that never shuts the throttle does not show the stop.
    let closed_pct = if closed <= 6.0 { closed } else { 0.0 };
    let open = throttle.quantile(0.999).map_or(100.0, |bin| bin / 10.0);
    let open_pct = if (80.0..95.0).contains(&open) { open - 5.0 } else { 90.0 };
    let (idle_rpm, idle_inhg) = idle(rows, closed_pct, ctx);
    let heavy_inhg = ctx.enrichment_opening.map_or(0.55 * idle_inhg, |opening| opening.as_inhg() + 3.0);
    let standing = standing.counted();
    Learnt {
        borders: Borders {
            closed_pct,
            open_pct,
            idle_rpm,
            idle_inhg,
            heavy_inhg: heavy_inhg.max(2.5),
            throttle: !throttle.is_empty(),
        },
        delay: transients.fit(&prior).unwrap_or(prior),
        period_s: steps.counted().quantile(0.5).map_or(0.0, |bin| bin / 1000.0),
        standing_kpa: (standing.count() >= 10).then(|| standing.quantile(0.5).unwrap_or_default() / 10.0),
        idle_kpa: (ctx.barometer.as_kpa() - 3.386_389 * idle_inhg).max(15.0),
        first_coolant_c: rows.iter().map(|(s, _)| s.coolant_c).find(|c| !c.is_nan()),
    }
}

/// Idle speed and vacuum: the setup's, else where the engine stays with the throttle shut, else usual ones.
fn idle(rows: &[(Sample, bool)], closed_pct: f64, ctx: &TraceContext) -> (f64, f64) {
    let mut speeds = Filling::over(300.0, 2000.0, 0.1);
    let shut = |s: &Sample| s.throttle_pct <= closed_pct + 2.0;
    let slow = |s: &Sample| s.throttle_pct.is_nan() && s.vacuum_inhg > 5.0;
    rows.iter()
        .filter(|(s, _)| s.speed_rpm > 300.0 && (shut(s) || slow(s)))
        .for_each(|(s, _)| speeds.push(s.speed_rpm.min(2000.0)));
    // The lower third: the rest is the engine coming down to it.
    let seen = speeds.counted().quantile(0.3).map(|bin| bin * 10.0).filter(|rpm| *rpm < 1600.0);
    let rpm = ctx.idle_speed.map(crate::units::EngineSpeed::as_rpm).or(seen).unwrap_or(800.0);
    let mut vacuums = Filling::over(0.0, 30.0, 10.0);
    for (s, _) in rows {
        if (s.speed_rpm - rpm).abs() < 200.0
            && (s.throttle_pct.is_nan() || s.throttle_pct <= closed_pct + 2.0)
            && s.vacuum_inhg > 2.0
        {
            vacuums.push(s.vacuum_inhg);
        }
    }
    (rpm, vacuums.counted().quantile(0.5).map_or(15.0, |bin| bin / 10.0))
}
