//! Bands and limits of this job, in ln(lambda), and how each regime stands against its own.

use super::cells::visits;
use super::input::AdviceInput;
use super::learn::Mind;
use super::prior;
use super::types::{RegimeVerdict, Verdict};
use crate::rules::limits::{self, LambdaLimits};
use crate::rules::targets::{self, Band};
use crate::setup::Regime;
use crate::trace::RegimeSummary;
use crate::units::{CrankAngle, Lambda, TimeSpan};
use statrs::distribution::{ContinuousCDF, Normal};

/// Sure enough to give a verdict.
const SURE: f64 = 0.8;
/// Least steady time in a regime before it is judged.
pub(super) const LEAST_SECONDS: f64 = 10.0;
/// Most seconds of log ever asked for at once.
pub(super) const MOST_SECONDS: f64 = 600.0;

/// What a job is held against.
#[derive(Debug, Clone)]
pub(super) struct Bands {
    by_regime: Vec<(Regime, Band)>,
    /// Limits at full throttle.
    pub(super) limits: LambdaLimits,
    /// The most chance taken of passing them.
    pub(super) chance: f64,
    /// The most jet steps leaner at once at full throttle.
    pub(super) steps: usize,
}

impl Bands {
    /// Those of a job.
    pub(super) fn of(input: &AdviceInput<'_>) -> Bands {
        let (s, book) = (input.setup, input.rules);
        let overlap = s.engine.cam.map(|cam| {
            let half = cam.intake_duration.as_deg().midpoint(cam.exhaust_duration.as_deg());
            CrankAngle::from_deg(half - 2.0 * cam.separation.as_deg())
        });
        let band = |r| targets::band(r, s.application, s.engine.cooling, s.fuel.family, overlap, book);
        Bands {
            by_regime: Regime::ALL.into_iter().filter_map(|r| band(r).map(|b| (r, b))).collect(),
            limits: limits::full_throttle(s.application, s.engine.cooling, s.fuel.family, book),
            chance: book.limits.chance_of_passing_lean_limit.as_ratio(),
            steps: usize::from(limits::jet_steps_leaner(book)),
        }
    }

    /// The band of a regime.
    pub(super) fn band(&self, regime: Regime) -> Option<&Band> {
        self.by_regime.iter().find(|(r, _)| *r == regime).map(|(_, b)| b)
    }

    /// Middle and half width in ln(lambda).
    pub(super) fn aim(&self, regime: Regime) -> Option<Aim> {
        let band = self.band(regime)?;
        let (low, high) = (band.low.as_ratio().ln(), band.high.as_ratio().ln());
        Some(Aim { low, high })
    }
}

/// A band in ln(lambda).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Aim {
    /// Rich edge.
    pub(super) low: f64,
    /// Lean edge.
    pub(super) high: f64,
}

impl Aim {
    /// The middle.
    pub(super) fn middle(&self) -> f64 {
        f64::midpoint(self.low, self.high)
    }
    /// Whether it holds a value.
    pub(super) fn holds(&self, x: f64) -> bool {
        x >= self.low && x <= self.high
    }
}

/// Chance that a normal quantity lies below a value.
pub(super) fn chance_below(mean: f64, spread: f64, value: f64) -> f64 {
    Normal::new(mean, spread.max(1e-9)).map_or(f64::from(u8::from(mean < value)), |n| n.cdf(value))
}

/// How the regimes stand.
pub(super) fn verdicts(input: &AdviceInput<'_>, bands: &Bands, mind: Option<&Mind>) -> Vec<RegimeVerdict> {
    Regime::ALL.into_iter().map(|r| verdict(r, input, bands, mind)).collect()
}

/// A lambda to the last digit worth keeping, so that advice read back from a file is the advice that was given.
pub(super) fn rounded(lambda: f64) -> Lambda {
    Lambda::from_ratio((lambda * 1e5).round() / 1e5)
}

fn verdict(regime: Regime, input: &AdviceInput<'_>, bands: &Bands, mind: Option<&Mind>) -> RegimeVerdict {
    let seen = input.trace.regime(regime);
    let median = seen.and_then(|r| r.lambda.as_ref()).map(|l| l.median);
    let believed = mind.filter(|_| prior::JUDGED.contains(&regime) || regime == Regime::Idle).and_then(|m| {
        let (mean, variance) = m.of(&m.regime_after(regime, &[])?);
        median.map(|_| (mean, variance.sqrt()))
    });
    let aim = bands.aim(regime);
    let (kind, needs) = match (aim, median) {
        (None, _) => (Verdict::NoTarget, 0.0),
        (_, None) => (Verdict::NotSeen, 3.0 * LEAST_SECONDS),
        (Some(aim), Some(median)) => judge(regime, input, aim, median, believed, seen),
    };
    let band = bands.band(regime);
    let uncertainty = believed.map(|(mean, sd)| rounded(mean.exp() * sd));
    let mut row = RegimeVerdict {
        regime,
        lambda_median: median.map(|m| rounded(m.as_ratio())),
        uncertainty,
        target_low: band.map(|b| b.low),
        target_high: band.map(|b| b.high),
        seconds: seen.map_or(TimeSpan::ZERO, |r| r.kept_seconds),
        verdict: kind,
        needs: TimeSpan::from_s(needs),
        says: String::new(),
    };
    row.says = super::say::regime(&row, input.trace.sensor.idle_witness_only);
    row
}

fn judge(
    regime: Regime,
    input: &AdviceInput<'_>,
    aim: Aim,
    median: Lambda,
    believed: Option<(f64, f64)>,
    seen: Option<&RegimeSummary>,
) -> (Verdict, f64) {
    if regime == Regime::TipIn {
        return (Verdict::WitnessOnly, 0.0);
    }
    let x = median.as_ratio().ln();
    if regime == Regime::Idle {
        let verdict = match aim {
            _ if input.trace.sensor.idle_witness_only => Verdict::WitnessOnly,
            a if x > a.high => Verdict::WitnessOnly,
            a if x < a.low => Verdict::Rich,
            _ => Verdict::Inside,
        };
        return (verdict, 0.0);
    }
    let kept = seen.map_or(0.0, |r| r.kept_seconds.as_s());
    let (mean, spread) = believed.unwrap_or((x, prior::VISIT_SPREAD));
    let lean = 1.0 - chance_below(mean, spread, aim.high);
    let rich = chance_below(mean, spread, aim.low);
    let verdict = match () {
        () if lean > SURE => Verdict::Lean,
        () if rich > SURE => Verdict::Rich,
        () if 1.0 - lean - rich > SURE => Verdict::Inside,
        () => Verdict::Unsure,
    };
    let needs = if kept < LEAST_SECONDS { LEAST_SECONDS - kept } else { 0.0 };
    match verdict {
        Verdict::Unsure => (verdict, needs.max(seconds_to_decide(mean, aim, kept, seen))),
        _ if kept < LEAST_SECONDS => (Verdict::Unsure, needs),
        _ => (verdict, 0.0),
    }
}

/// Further log until the nearest border is told from the mean: as many visits like those so far as bring the
/// spread of their mean to the distance.
fn seconds_to_decide(mean: f64, aim: Aim, kept: f64, seen: Option<&RegimeSummary>) -> f64 {
    let distance = (mean - aim.high).abs().min((mean - aim.low).abs()).max(2e-3);
    let counted = seen.map_or(1.0, |r| visits(r.visits, r.kept_seconds.as_s()));
    let wanted = (0.85 * prior::VISIT_SPREAD / distance).powi(2);
    let each = (kept / counted).max(5.0);
    ((wanted - counted).max(1.0) * each).min(MOST_SECONDS).round()
}
