//! Quick openings of the throttle, measured one by one.

use super::summary::TipIn;
use crate::numeric::robust;
use crate::units::{EngineSpeed, Fraction, Lambda, TimeSpan};

/// An opening is followed for this long.
const FOLLOWED_S: f64 = 2.5;
/// The lean peak comes within this.
const PEAK_WITHIN_S: f64 = 1.2;
/// Lambda has settled by this.
const SETTLED_FROM_S: f64 = 1.5;
/// Settled means within this of the settled level.
const SETTLED_WITHIN: f64 = 0.03;
/// Most points of one opening that are kept.
const MOST_POINTS: usize = 1 << 15;

/// One row of an opening: time, throttle, speed, its own lambda.
#[derive(Debug, Clone, Copy)]
struct Point {
    t_s: f64,
    throttle_pct: f64,
    speed_rpm: f64,
    lambda: f64,
}

/// Measures openings as they come.
#[derive(Debug, Default)]
pub(super) struct TipIns {
    points: Vec<Point>,
    open: bool,
    inside: bool,
    fastest_pct_s: f64,
}

impl TipIns {
    /// Whether the next row, inside a tip-in or not, is to be taken.
    #[inline]
    pub(super) fn follow(&self, inside: bool) -> bool {
        inside || self.inside || self.open
    }

    /// Takes the next row: whether it is in a tip-in, and its lambda once it has come through the exhaust. Gives the
    /// opening that is over.
    pub(super) fn push(&mut self, inside: bool, row: [f64; 4], opening_pct_s: f64) -> Option<TipIn> {
        let [t_s, throttle_pct, speed_rpm, lambda] = row;
        let begins = inside && !self.inside;
        self.inside = inside;
        if !self.open && !begins {
            return None;
        }
        let over = self.points.first().is_some_and(|p| t_s - p.t_s > FOLLOWED_S);
        let done = if self.open && (begins || over) { self.measure() } else { None };
        if begins {
            self.points.clear();
            self.open = true;
            self.fastest_pct_s = 0.0;
        }
        if self.open && self.points.len() < MOST_POINTS {
            self.fastest_pct_s = self.fastest_pct_s.max(opening_pct_s);
            self.points.push(Point { t_s, throttle_pct, speed_rpm, lambda });
        }
        done
    }

    /// The log breaks off.
    pub(super) fn end(&mut self) -> Option<TipIn> {
        let done = if self.open { self.measure() } else { None };
        self.inside = false;
        done
    }

    fn measure(&mut self) -> Option<TipIn> {
        self.open = false;
        let points = std::mem::take(&mut self.points);
        let first = *points.first()?;
        let good: Vec<Point> = points.iter().filter(|p| (0.5..1.6).contains(&p.lambda)).copied().collect();
        let after = |p: &Point| p.t_s - first.t_s;
        let peak =
            good.iter().filter(|p| after(p) <= PEAK_WITHIN_S).max_by(|a, b| a.lambda.total_cmp(&b.lambda))?;
        let richest = good.iter().filter(|p| after(p) <= 2.0).map(|p| p.lambda).fold(f64::INFINITY, f64::min);
        let mut last: Vec<f64> =
            good.iter().filter(|p| after(p) >= SETTLED_FROM_S).map(|p| p.lambda).collect();
        let settled = if last.len() >= 3 { robust::median(&mut last) } else { None };
        let recovery = settled.and_then(|level| {
            let out = good.iter().rposition(|p| (p.lambda - level).abs() > SETTLED_WITHIN);
            let at = out.map_or(Some(0), |n| (n + 1 < good.len()).then_some(n + 1))?;
            Some(after(&good[at]))
        });
        let throttle_to =
            points.iter().filter(|p| after(p) <= 1.5).map(|p| p.throttle_pct).fold(f64::NAN, f64::max);
        let lowest =
            points.iter().filter(|p| after(p) <= 1.5).map(|p| p.speed_rpm).fold(f64::INFINITY, f64::min);
        let share = |pct: f64| Fraction::try_from_percent(pct).unwrap_or_default();
        Some(TipIn {
            start: TimeSpan::from_s(first.t_s),
            throttle_from: share(first.throttle_pct),
            throttle_to: share(throttle_to),
            opening_per_s: if self.fastest_pct_s.is_finite() { self.fastest_pct_s / 100.0 } else { 0.0 },
            peak: Lambda::from_ratio(peak.lambda),
            peak_after: TimeSpan::from_s(after(peak)),
            lean_seconds: TimeSpan::from_s(time_where(&good, |p| p.lambda > 1.05)),
            richest: Lambda::from_ratio(richest),
            rich_seconds: TimeSpan::from_s(time_where(&good, |p| p.lambda < 0.70)),
            recovery: recovery.map(TimeSpan::from_s),
            settled: settled.map(Lambda::from_ratio),
            speed_dip: EngineSpeed::try_from_rpm((first.speed_rpm - lowest).max(0.0)).unwrap_or_default(),
            second_peak: second_peak(&good, peak).map(Lambda::from_ratio),
        })
    }
}

/// Time between rows where the first of the two fulfils the condition; holes of more than a quarter second left out.
fn time_where(points: &[Point], is: impl Fn(&Point) -> bool) -> f64 {
    points.windows(2).filter(|w| is(&w[0])).map(|w| w[1].t_s - w[0].t_s).filter(|dt| *dt < 0.25).sum()
}

/// A second peak, at least 0.05 above the valley between, with the throttle between 45 and 65 %.
fn second_peak(points: &[Point], first: &Point) -> Option<f64> {
    let mut valley = first.lambda;
    let mut best: Option<f64> = None;
    for p in points.iter().filter(|p| p.t_s > first.t_s) {
        valley = valley.min(p.lambda);
        let rises = p.lambda > valley + 0.05 && valley < first.lambda - 0.05;
        if rises && (45.0..=65.0).contains(&p.throttle_pct) {
            best = Some(best.map_or(p.lambda, |b| b.max(p.lambda)));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(lambda: impl Fn(f64) -> f64) -> TipIn {
        let mut tips = TipIns::default();
        let mut done = None;
        for i in 0..600 {
            let t = f64::from(i) / 100.0;
            let since = t - 1.0;
            let throttle = (5.0 + 60.0 * since.max(0.0)).min(35.0);
            let speed = 1500.0 - if (0.2..0.6).contains(&since) { 40.0 } else { 0.0 };
            let inside = (0.0..1.3).contains(&since);
            done = done.or(tips.push(
                inside,
                [t, throttle, speed, lambda(since)],
                if inside { 60.0 } else { 0.0 },
            ));
        }
        done.or(tips.end()).unwrap()
    }

    #[test]
    fn peak_length_and_recovery() {
        let tip = run(|since| match since {
            s if s < 0.1 => 0.92,
            s if s < 0.5 => 1.20,
            s if s < 0.8 => 0.80,
            _ => 0.88,
        });
        assert!((tip.start.as_s() - 1.0).abs() < 0.011);
        assert_eq!(tip.peak.as_ratio(), 1.20);
        assert!((tip.lean_seconds.as_s() - 0.4).abs() < 0.021, "{tip:?}");
        assert_eq!(tip.settled.unwrap().as_ratio(), 0.88);
        assert!((tip.recovery.unwrap().as_s() - 0.8).abs() < 0.021, "{tip:?}");
        assert!((tip.speed_dip.as_rpm() - 40.0).abs() < 1e-6);
        assert!((tip.throttle_to.as_percent() - 35.0).abs() < 1e-6);
        assert!(tip.second_peak.is_none());
    }

    #[test]
    fn a_short_rich_time_is_counted() {
        let tip = run(|since| if (0.2..0.9).contains(&since) { 0.65 } else { 0.90 });
        assert!((tip.rich_seconds.as_s() - 0.7).abs() < 0.021);
    }

    /// Rows a hundredth of a second apart: throttle and lambda by the time since the opening at one second.
    fn followed(
        inside_s: f64,
        throttle: impl Fn(f64) -> f64,
        lambda: impl Fn(f64) -> f64,
    ) -> Vec<(f64, TipIn)> {
        let mut tips = TipIns::default();
        let mut done = Vec::new();
        for i in 0..600 {
            let t = f64::from(i) / 100.0;
            let since = t - 1.0;
            let inside = (0.0..inside_s).contains(&since);
            if tips.follow(inside) {
                let tip = tips.push(inside, [t, throttle(since), 1500.0, lambda(since)], 60.0);
                done.extend(tip.map(|tip| (since, tip)));
            } else {
                assert!(!inside && !(0.0..2.5).contains(&since), "{since} s is not followed");
            }
        }
        done.extend(tips.end().map(|tip| (9.0, tip)));
        done
    }

    fn open(_: f64) -> f64 {
        50.0
    }

    #[test]
    fn an_opening_is_followed_for_two_and_a_half_seconds() {
        for inside_s in [0.5, 4.0] {
            let all = followed(inside_s, open, |_| 0.9);
            assert_eq!(all.len(), 1);
            assert!((all[0].0 - 2.51).abs() < 0.011, "{}", all[0].0);
            assert!((all[0].1.opening_per_s - 0.6).abs() < 1e-9);
            assert_eq!(all[0].1.recovery.unwrap().as_s(), 0.0, "it never left");
        }
        // Cut off by the end of the log, or by the next opening.
        let mut tips = TipIns::default();
        let push = |tips: &mut TipIns, inside, t: f64| tips.push(inside, [t, 50.0, 1500.0, 0.9], 60.0);
        assert!(push(&mut tips, true, 1.0).is_none() && push(&mut tips, false, 1.5).is_none());
        let first = push(&mut tips, true, 2.0).unwrap();
        assert_eq!(first.start.as_s(), 1.0);
        assert_eq!(tips.end().unwrap().start.as_s(), 2.0);
        assert!(tips.end().is_none() && !tips.follow(false));
    }

    #[test]
    fn each_figure_is_of_its_own_time() {
        let late_throttle = |since: f64| if since > 1.55 { 90.0 } else { 50.0 };
        let lambda = |since: f64| match since {
            s if s < 1.45 => 0.95,
            s if s < 2.05 => 0.88,
            _ => 0.86,
        };
        let tip = followed(0.5, late_throttle, lambda).remove(0).1;
        assert_eq!(tip.throttle_to.as_percent(), 50.0, "in the first second and a half");
        assert_eq!(tip.richest.as_ratio(), 0.88, "in the first two");
        assert_eq!(tip.settled.unwrap().as_ratio(), 0.88, "from one and a half on");
        let back = followed(0.5, open, |since| if since < 0.755 { 0.8 } else { 0.88 }).remove(0).1;
        assert!((back.recovery.unwrap().as_s() - 0.76).abs() < 1e-6, "{back:?}");
        let never = followed(0.5, open, |since| if since > 2.45 { 1.0 } else { 0.9 }).remove(0).1;
        assert!(never.recovery.is_none(), "still away at the end");
    }

    #[test]
    fn a_second_peak_while_the_throttle_passes_the_middle() {
        let second = |valley: f64, rise: f64, throttle: f64| {
            let lambda = |since: f64| match since {
                s if s < 0.1 => 0.9,
                s if s < 0.3 => 1.2,
                s if s < 1.3 => valley,
                s if s < 1.6 => rise,
                _ => 0.9,
            };
            let tip = followed(0.5, |_| throttle, lambda).remove(0).1;
            tip.second_peak.map(Lambda::as_ratio)
        };
        assert_eq!(second(1.00, 1.06, 50.0), Some(1.06));
        assert_eq!(second(1.00, 1.04, 50.0), None, "hardly above the valley");
        assert_eq!(second(1.14, 1.20, 50.0), Some(1.20));
        assert_eq!(second(1.16, 1.22, 50.0), None, "no valley: one peak");
        assert_eq!(second(1.00, 1.06, 44.0), None);
        assert_eq!(second(1.00, 1.06, 66.0), None);
    }

    #[test]
    fn a_hole_is_no_lean_time() {
        let point = |t_s: f64| Point { t_s, throttle_pct: 50.0, speed_rpm: 1500.0, lambda: 1.2 };
        let lean = time_where(&[1.0, 1.125, 1.25, 1.5, 1.625].map(point), |p| p.lambda > 1.05);
        assert!((lean - 0.375).abs() < 1e-9, "{lean}");
    }
}
