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

#[cfg(test)]
mod tests {
    use super::super::LoggerProfile;
    use super::super::segment::tests::row;
    use super::*;
    use crate::units::{EngineSpeed, Vacuum};
    use approx::assert_relative_eq;

    /// Seconds, speed, vacuum, throttle.
    type Part = (f64, f64, f64, f64);

    const STANDS: Part = (1.0, 0.0, 2.0, 1.5);
    const IDLES: Part = (40.0, 800.0, 15.0, 1.5);
    const SLOWS: Part = (4.0, 1400.0, 20.0, 1.5);
    const CRUISES: Part = (20.0, 2200.0, 12.0, 20.0);
    const PULLS: Part = (2.0, 4000.0, 1.0, 88.0);

    fn learnt_in(ctx: &TraceContext, parts: &[Part], change: impl Fn(usize, &mut Sample)) -> Learnt {
        let mut rows = Vec::new();
        for (seconds, speed, vacuum, throttle) in parts {
            for _ in 0..(seconds * 32.0) as usize {
                let number = rows.len();
                let mut s = row(64.0 + number as f64 / 32.0, *speed, *vacuum, *throttle);
                change(number, &mut s);
                rows.push((s, false));
            }
        }
        learn(&rows, ctx, &Pumping::of(ctx))
    }

    fn learnt(parts: &[Part]) -> Learnt {
        learnt_in(&TraceContext::bare(&LoggerProfile::standard()), parts, |_, _| ())
    }

    #[test]
    fn stops_idle_and_period_are_read_off_the_rows() {
        let ctx = TraceContext::bare(&LoggerProfile::standard());
        let all = learnt_in(&ctx, &[STANDS, IDLES, SLOWS, CRUISES, PULLS], |n, s| {
            s.coolant_c = if n < 100 { f64::NAN } else { 60.0 + n as f64 };
        });
        assert_eq!(
            all.borders,
            Borders {
                closed_pct: 1.5,
                open_pct: 83.0,
                idle_rpm: 800.0,
                idle_inhg: 15.0,
                heavy_inhg: 8.25,
                throttle: true
            }
        );
        assert_relative_eq!(all.idle_kpa, 101.325 - 3.386_389 * 15.0, epsilon = 1e-9);
        assert_relative_eq!(all.standing_kpa.unwrap(), 101.3 - 3.386 * 2.0, epsilon = 0.05);
        assert_eq!((all.period_s, all.first_coolant_c), (0.031, Some(160.0)));
        assert_eq!(all.delay.transients, 0);
    }

    #[test]
    fn what_the_setup_says_goes_before_what_the_log_shows() {
        let ctx = TraceContext {
            enrichment_opening: Some(Vacuum::from_inhg(6.5)),
            ..TraceContext::bare(&LoggerProfile::standard()).with_idle_speed(EngineSpeed::from_rpm(900.0))
        };
        let b = learnt_in(&ctx, &[IDLES, CRUISES], |_, _| ()).borders;
        assert_eq!((b.idle_rpm, b.idle_inhg, b.heavy_inhg), (900.0, 15.0, 9.5));
    }

    #[test]
    fn a_throttle_that_never_meets_its_stops_does_not_move_them() {
        let stops = |shut: f64, open: f64| {
            let b = learnt(&[(40.0, 800.0, 15.0, shut), (10.0, 4000.0, 1.0, open)]).borders;
            (b.closed_pct, b.open_pct)
        };
        assert_eq!(stops(6.0, 80.0), (6.0, 75.0));
        assert_eq!(stops(6.1, 79.9), (0.0, 90.0));
        assert_eq!(stops(-2.0, 94.9), (-2.0, 89.9));
        assert_eq!(stops(0.0, 95.0), (0.0, 90.0));
        // While it is cranked the pedal says nothing.
        let cranked: Part = (5.0, 200.0, 1.0, 0.0);
        let b = learnt(&[cranked, IDLES, CRUISES]).borders;
        assert_eq!((b.closed_pct, b.idle_rpm, b.idle_inhg), (1.5, 800.0, 15.0));
    }

    #[test]
    fn idle_is_where_the_engine_stays_with_the_throttle_shut() {
        let idle = |parts: &[Part]| {
            let b = learnt(parts).borders;
            (b.idle_rpm, b.idle_inhg)
        };
        assert_eq!(idle(&[SLOWS, IDLES, CRUISES]), (800.0, 15.0));
        // As much time just off the stop at another speed, at the same speed pulled down, and in gear at less vacuum.
        let off: Part = (60.0, 600.0, 9.0, 3.6);
        let pulled: Part = (60.0, 800.0, 9.0, 3.6);
        assert_eq!(idle(&[IDLES, off]), (800.0, 15.0));
        assert_eq!(idle(&[IDLES, pulled]), (800.0, 15.0));
        let shut = |speed: f64| (60.0, speed, 9.0, 3.4);
        assert_eq!(
            (idle(&[IDLES, shut(600.0)]).0, idle(&[IDLES, shut(800.0)]).1),
            (600.0, 9.0),
            "two per cent off"
        );
        assert_eq!(idle(&[IDLES, (60.0, 1100.0, 19.0, 1.5)]), (800.0, 15.0));
        assert_eq!(idle(&[IDLES, (60.0, 810.0, 1.0, 1.5)]).1, 15.0, "no vacuum there");
        // No idle at all, and one that is too fast to be one.
        assert_eq!(idle(&[CRUISES]), (800.0, 15.0));
        assert_eq!(idle(&[(40.0, 1590.0, 17.0, 1.0)]), (1590.0, 17.0));
        assert_eq!(idle(&[(40.0, 1610.0, 17.0, 1.0)]), (800.0, 15.0));
        // Without a throttle, from high vacuum alone.
        let none = |(seconds, speed, vacuum, _): Part| (seconds, speed, vacuum, f64::NAN);
        assert_eq!(idle(&[none((40.0, 700.0, 15.0, 0.0)), none(CRUISES)]), (700.0, 15.0));
        let b = learnt(&[none(IDLES), none(CRUISES), none((40.0, 500.0, 3.0, 0.0))]).borders;
        assert_eq!((b.throttle, b.idle_rpm, b.idle_inhg), (false, 800.0, 15.0));
        assert_eq!((b.closed_pct, b.open_pct), (0.0, 90.0));
    }

    #[test]
    fn the_air_outside_from_ten_rows_of_standing() {
        let standing = |rows: f64, speed: f64, vacuum: f64| {
            learnt(&[(rows / 32.0, speed, vacuum, f64::NAN), IDLES]).standing_kpa
        };
        assert_relative_eq!(standing(10.0, 0.0, 1.0).unwrap(), 97.9, epsilon = 0.05);
        assert!(standing(9.0, 0.0, 1.0).is_none(), "too few");
        assert!(standing(40.0, 60.0, 1.0).is_none(), "cranked");
        assert!(standing(40.0, 0.0, 14.0).is_none(), "the tachometer is lost, not the engine");
    }
}
