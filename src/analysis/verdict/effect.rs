//! The effect of a change over a series of pulls, with drift taken out and an interval.

use super::fit::{Fit, fit};
use super::noise::Noise;
use crate::units::Fraction;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// One pull's figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// What it was run with: "A", "B".
    pub label: String,
    /// The figure; every observation of a series in one unit.
    pub value: f64,
    /// When it was run, in pulls (0, 1, 2, ...) or any even measure of time.
    pub at: f64,
}

/// What the pulls show of a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// More is shown.
    Better,
    /// Less is shown.
    Worse,
    /// Nothing is shown either way.
    WithinNoise,
}

impl Verdict {
    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Verdict::Better => "better",
            Verdict::Worse => "worse",
            Verdict::WithinNoise => "within-noise",
        }
    }

    /// Its name in a sentence.
    pub const fn said(self) -> &'static str {
        match self {
            Verdict::Better => "better",
            Verdict::Worse => "worse",
            Verdict::WithinNoise => "within the noise",
        }
    }
}

/// How drift was dealt with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DriftSource {
    /// Fitted: a state was returned to.
    Fitted,
    /// Not to be told from the effect: no state was returned to. The interval allows for some.
    Allowed,
}

/// One label held against the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// The label judged.
    pub label: String,
    /// Its pulls.
    pub pulls: usize,
    /// Its figure less the baseline's, drift taken out.
    pub effect: f64,
    /// Lower end of the 90 % interval.
    pub low: f64,
    /// Upper end of the 90 % interval.
    pub high: f64,
    /// Standard error of the effect.
    pub error: f64,
    /// Verdict.
    pub verdict: Verdict,
    /// The interval is clear of zero, and yet the effect is not twice the drift between returns.
    pub held_back_by_drift: bool,
}

/// A series judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The label everything is held against: the first one run.
    pub baseline: String,
    /// The label run last: the next pull is of another.
    pub last: String,
    /// Mean figure of the baseline's pulls.
    pub level: f64,
    /// Every other label in the order first run.
    pub effects: Vec<Effect>,
    /// Drift from one run to the next of the same label, as it happened (absolute); `None` when it could not be told.
    pub drift_between_returns: Option<f64>,
    /// Drift for each pull, signed; `None` when it could not be told.
    pub drift_per_pull: Option<f64>,
    /// How drift was dealt with.
    pub drift: DriftSource,
    /// Pull-to-pull noise.
    pub noise: Noise,
    /// The two-sided 90 % quantile that was used, in standard errors.
    pub quantile: f64,
}

/// Why a series cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum EffectError {
    /// One label only.
    #[error("all pulls carry one label; a comparison needs at least two (A=..., B=...)")]
    OneLabel,
    /// A figure is not finite or is zero throughout.
    #[error("a figure is not a finite number, or the baseline is zero")]
    NoLevel,
}

/// Confidence of the intervals.
pub(crate) const CONFIDENCE: f64 = 0.90;

/// The two-sided quantile of Student's t at `confidence`.
pub(crate) fn student(freedom: f64, confidence: f64) -> Option<f64> {
    StudentsT::new(0.0, 1.0, freedom).ok().map(|t| t.inverse_cdf(0.5 + confidence / 2.0))
}

/// The two-sided 90 % quantile of Student's t on `freedom` degrees; `None` when `freedom` is not positive.
pub fn quantile(freedom: f64) -> Option<f64> {
    student(freedom, CONFIDENCE)
}

/// Judges every label against the first: figure = level + effect of the label + drift x position + noise, by least
/// squares. For A-B-A this is B - (A1 + A2)/2, and drift |A2 - A1|, exactly.
///
/// `floor` is the noise assumed where there are few repeats. `higher_is_better` is false for a time or a fuel flow.
/// A verdict other than "within the noise" asks that the 90 % interval is clear of zero, and that the effect is at
/// least twice the drift between returns to a state (common practice).
pub fn judge(series: &[Observation], floor: Fraction, higher_is_better: bool) -> Result<Judged, EffectError> {
    judge_at(series, floor, higher_is_better, CONFIDENCE)
}

pub(crate) fn judge_at(
    series: &[Observation],
    floor: Fraction,
    up: bool,
    confidence: f64,
) -> Result<Judged, EffectError> {
    let labels = labels_in_order(series);
    if labels.len() < 2 {
        return Err(EffectError::OneLabel);
    }
    let of_baseline: Vec<f64> = series.iter().filter(|o| o.label == labels[0]).map(|o| o.value).collect();
    let level = of_baseline.iter().sum::<f64>() / of_baseline.len() as f64;
    let (found, drift_source, per_pull) = fit_series(series, &labels).ok_or(EffectError::NoLevel)?;
    if level == 0.0 || !level.is_finite() {
        return Err(EffectError::NoLevel);
    }
    let noise = Noise::of(&found, level, floor);
    let quantile = student(noise.freedom, confidence).ok_or(EffectError::NoLevel)?;
    let between = per_pull.map(|slope| (slope * mean_return_gap(series)).abs());
    let effects = labels.iter().enumerate().skip(1).map(|(k, label)| {
        let mut variance = found.unit_variance[k] * noise.deviation.powi(2);
        if drift_source == DriftSource::Allowed {
            // One pull's drift may be as large as one pull's noise; it grows with the distance between the states.
            variance += (noise.deviation * distance(series, &labels[0], label)).powi(2);
        }
        let (effect, error) = (found.value[k], variance.sqrt());
        let (low, high) = (effect - quantile * error, effect + quantile * error);
        let clear = low > 0.0 || high < 0.0;
        let held_back_by_drift = clear && between.is_some_and(|d| effect.abs() < 2.0 * d);
        let verdict = match (clear && !held_back_by_drift, (effect > 0.0) == up) {
            (false, _) => Verdict::WithinNoise,
            (true, true) => Verdict::Better,
            (true, false) => Verdict::Worse,
        };
        let pulls = series.iter().filter(|o| o.label == *label).count();
        Effect { label: label.clone(), pulls, effect, low, high, error, verdict, held_back_by_drift }
    });
    Ok(Judged {
        effects: effects.collect(),
        baseline: labels[0].clone(),
        last: series.last().map(|o| o.label.clone()).unwrap_or_default(),
        level,
        drift_between_returns: between,
        drift_per_pull: per_pull,
        drift: drift_source,
        noise,
        quantile,
    })
}

pub(crate) fn labels_in_order(series: &[Observation]) -> Vec<String> {
    let mut labels: Vec<String> = Vec::new();
    for o in series {
        if !labels.contains(&o.label) {
            labels.push(o.label.clone());
        }
    }
    labels
}

/// Columns: one for the level, one for each label after the first, and drift when every effect survives it.
fn fit_series(series: &[Observation], labels: &[String]) -> Option<(Fit, DriftSource, Option<f64>)> {
    let y: Vec<f64> = series.iter().map(|o| o.value).collect();
    let mut columns = vec![vec![1.0; series.len()]];
    for label in &labels[1..] {
        columns.push(series.iter().map(|o| f64::from(u8::from(o.label == *label))).collect());
    }
    let centre = series.iter().map(|o| o.at).sum::<f64>() / series.len() as f64;
    let mut with_drift = columns.clone();
    with_drift.push(series.iter().map(|o| o.at - centre).collect());
    let drifting = fit(&with_drift, &y)?;
    if drifting.estimable.iter().all(|e| *e) {
        let slope = drifting.value.last().copied();
        return Some((drifting, DriftSource::Fitted, slope));
    }
    Some((fit(&columns, &y)?, DriftSource::Allowed, None))
}

/// Mean distance between one run of a label and its next, over the runs that had another label between them.
fn mean_return_gap(series: &[Observation]) -> f64 {
    let mut gaps = Vec::new();
    for (i, o) in series.iter().enumerate() {
        let next = series.iter().skip(i + 1).position(|later| later.label == o.label).map(|k| i + 1 + k);
        if let Some(next) = next.filter(|n| n - i > 1) {
            gaps.push(series[next].at - o.at);
        }
    }
    if gaps.is_empty() { 1.0 } else { gaps.iter().sum::<f64>() / gaps.len() as f64 }
}

/// How far apart in time two labels were run, on the mean.
fn distance(series: &[Observation], one: &str, other: &str) -> f64 {
    let mean = |label: &str| {
        let at: Vec<f64> = series.iter().filter(|o| o.label == label).map(|o| o.at).collect();
        at.iter().sum::<f64>() / at.len().max(1) as f64
    };
    (mean(one) - mean(other)).abs()
}

#[cfg(test)]
#[path = "effect/tests.rs"]
mod tests;
