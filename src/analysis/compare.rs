//! Two traces side by side: what moved, what the weather explains of it, and what of the rest is more than noise.
//!
//! On fixed jets lambda goes with the root of air density ([`crate::physics::altitude`]). That part is taken out
//! first; what is left was done by parts, settings, fuel or faults.

use super::verdict::quantile;
use crate::physics::air::MoistAir;
use crate::physics::altitude::jet_ratios_between;
use crate::setup::Regime;
use crate::trace::{RegimeSummary, Spread, Station, TipIn, TraceSummary};
use crate::units::{EngineSpeed, Fraction, Lambda, PressureDifference, TimeSpan, Vacuum};

/// One side: what a log says, and the air it was taken in.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// The log.
    pub summary: &'a TraceSummary,
    /// The air, when known.
    pub air: Option<MoistAir>,
}

/// What is left of a change of mixture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shift {
    /// Richer than before, weather apart.
    Richer,
    /// Leaner than before, weather apart.
    Leaner,
    /// Nothing is shown either way.
    WithinNoise,
}

impl Shift {
    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Shift::Richer => "richer",
            Shift::Leaner => "leaner",
            Shift::WithinNoise => "within-noise",
        }
    }
}

/// A lambda before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LambdaChange {
    /// Median before.
    pub before: Lambda,
    /// Median after.
    pub after: Lambda,
    /// What the weather alone would have made of the first; the first itself when an air is not known.
    pub by_weather: Lambda,
    /// After, less what the weather explains.
    pub left: Lambda,
    /// Lower end of its 90 % interval.
    pub low: Lambda,
    /// Upper end.
    pub high: Lambda,
    /// Verdict.
    pub shift: Shift,
}

/// One regime before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct RegimeChange {
    /// Which.
    pub regime: Regime,
    /// Mixture; of a tip-in, its lean peak. `None` when one side has too little.
    pub lambda: Option<LambdaChange>,
    /// Vacuum, after less before.
    pub vacuum: Option<PressureDifference>,
    /// Speed, after less before.
    pub speed: Option<EngineSpeed>,
    /// Share of time below the enrichment opening, before and after.
    pub enriched: Option<(Fraction, Fraction)>,
}

/// One station that both logs have.
#[derive(Debug, Clone, PartialEq)]
pub struct StationChange {
    /// Its regime.
    pub regime: Regime,
    /// Air flow as a share of the rating, lower and upper edge.
    pub air_flow_share: (Fraction, Fraction),
    /// Vacuum, lower and upper edge.
    pub vacuum: (Vacuum, Vacuum),
    /// Mixture.
    pub lambda: LambdaChange,
    /// Both logs have enough of it to rest a change on.
    pub enough: bool,
}

/// Two traces held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What lambda is multiplied by on fixed jets, going from the first air to the second; `None` when one is not known.
    pub weather_ratio: Option<f64>,
    /// Regimes that both logs have.
    pub regimes: Vec<RegimeChange>,
    /// Stations that both logs have, on one and the same grid.
    pub stations: Vec<StationChange>,
    /// Regimes of the first log only.
    pub only_before: Vec<Regime>,
    /// Regimes of the second only.
    pub only_after: Vec<Regime>,
    /// The two logs' stations are shares of different things and cannot be held against each other.
    pub stations_differ: bool,
}

/// A sensor taken out of and put back into one steady state repeats to about this (common practice).
const REPEATS_TO: f64 = 0.005;
/// Readings within this time of each other are of one steady stretch, and count as one.
const STRETCH: TimeSpan = TimeSpan::from_s(2.0);
/// The rule of the root holds for the main system; its share of the weather's part is in doubt by so much.
const MAIN_DOUBT: f64 = 0.15;
/// Idle and transition follow less closely.
const IDLE_DOUBT: f64 = 0.5;

/// The median of readings, their spread, and how many of them are independent.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Seen {
    median: f64,
    deviation: f64,
    independent: f64,
}

impl Seen {
    fn of(spread: &Spread, visits: u64, kept: TimeSpan) -> Option<Seen> {
        let stretches = (kept / STRETCH).max(visits as f64);
        let independent = stretches.min(spread.count as f64);
        // Quartiles of normal noise are 1.349 deviations apart.
        let deviation = spread.spread.as_ratio() / 1.349;
        (independent >= 1.0).then_some(Seen { median: spread.median.as_ratio(), deviation, independent })
    }

    /// Variance of the median (pi/2 times that of a mean, for normal noise), with what the sensor repeats to.
    fn variance(&self) -> f64 {
        core::f64::consts::FRAC_PI_2 * self.deviation.powi(2) / self.independent + REPEATS_TO.powi(2) / 2.0
    }
}

/// Holds two logs against each other.
pub fn compare(before: Side<'_>, after: Side<'_>) -> Comparison {
    let weather_ratio = before.air.zip(after.air).map(|(b, a)| jet_ratios_between(&b, &a).lambda);
    let regimes = |s: &TraceSummary| s.regimes.iter().map(|r| r.regime).collect::<Vec<_>>();
    let (first, second) = (regimes(before.summary), regimes(after.summary));
    let both = first.iter().filter(|r| second.contains(r));
    let stations_differ = before.summary.share_of != after.summary.share_of;
    Comparison {
        weather_ratio,
        regimes: both
            .filter_map(|r| regime_change(*r, before.summary, after.summary, weather_ratio))
            .collect(),
        stations: if stations_differ {
            Vec::new()
        } else {
            stations(before.summary, after.summary, weather_ratio)
        },
        only_before: first.iter().filter(|r| !second.contains(r)).copied().collect(),
        only_after: second.iter().filter(|r| !first.contains(r)).copied().collect(),
        stations_differ,
    }
}

fn regime_change(
    regime: Regime,
    before: &TraceSummary,
    after: &TraceSummary,
    weather: Option<f64>,
) -> Option<RegimeChange> {
    let (b, a) = (before.regime(regime)?, after.regime(regime)?);
    let seen = |r: &RegimeSummary, s: &TraceSummary| match regime {
        Regime::Overrun => None,
        Regime::TipIn => peaks(&s.tip_ins),
        _ => Seen::of(r.lambda.as_ref()?, r.visits, r.kept_seconds),
    };
    // A tip-in is made by the pump, not by the jets: the weather's rule says nothing of it.
    let weather = weather.filter(|_| regime != Regime::TipIn);
    Some(RegimeChange {
        regime,
        lambda: seen(b, before).zip(seen(a, after)).and_then(|(b, a)| change(b, a, weather, doubt(regime))),
        vacuum: b.vacuum.zip(a.vacuum).map(|(b, a)| a.above(b)),
        speed: b.speed.zip(a.speed).map(|(b, a)| a - b),
        enriched: b.enriched.zip(a.enriched),
    })
}

const fn doubt(regime: Regime) -> f64 {
    match regime {
        Regime::Idle | Regime::OffIdle => IDLE_DOUBT,
        _ => MAIN_DOUBT,
    }
}

/// The lean peaks of the tip-ins kept; each is one reading.
fn peaks(tip_ins: &[TipIn]) -> Option<Seen> {
    let mut found: Vec<f64> = tip_ins.iter().map(|t| t.peak.as_ratio()).collect();
    let deviation = crate::numeric::robust::spread(&mut found)?;
    let median = crate::numeric::robust::median(&mut found)?;
    (found.len() >= 3).then_some(Seen { median, deviation, independent: found.len() as f64 })
}

fn stations(before: &TraceSummary, after: &TraceSummary, weather: Option<f64>) -> Vec<StationChange> {
    let same = |a: &Station, b: &Station| {
        let close = |x: f64, y: f64| (x - y).abs() < 1e-9;
        a.regime == b.regime
            && close(a.air_flow_share_low.as_ratio(), b.air_flow_share_low.as_ratio())
            && close(a.vacuum_low.as_inhg(), b.vacuum_low.as_inhg())
    };
    let one = |b: &Station| {
        let a = after.stations.iter().find(|a| same(a, b))?;
        let seen = |s: &Station| Seen::of(&s.lambda, s.visits, s.seconds);
        Some(StationChange {
            regime: b.regime,
            air_flow_share: (b.air_flow_share_low, b.air_flow_share_high),
            vacuum: (b.vacuum_low, b.vacuum_high),
            lambda: change(seen(b)?, seen(a)?, weather, doubt(b.regime))?,
            enough: a.enough && b.enough,
        })
    };
    before.stations.iter().filter_map(one).collect()
}

/// After less what the weather makes of before, with a 90 % interval (Student's t on the degrees Welch gives).
fn change(before: Seen, after: Seen, weather: Option<f64>, doubt: f64) -> Option<LambdaChange> {
    let ratio = weather.unwrap_or(1.0);
    let expected = before.median * ratio;
    let weather_variance = (doubt * (expected - before.median)).powi(2);
    let (vb, va) = (before.variance(), after.variance());
    let left = after.median - expected;
    let error = (vb * ratio * ratio + va + weather_variance).sqrt();
    let each = |v: f64, n: f64| v * v / (n - 1.0).max(1.0);
    let freedom = (vb + va).powi(2) / (each(vb, before.independent) + each(va, after.independent));
    let half = quantile(freedom.max(1.0))? * error;
    let lambda = |v: f64| Lambda::from_ratio(v);
    let shift = match (left - half > 0.0, left + half < 0.0) {
        (true, _) => Shift::Leaner,
        (_, true) => Shift::Richer,
        _ => Shift::WithinNoise,
    };
    Some(LambdaChange {
        before: lambda(before.median),
        after: lambda(after.median),
        by_weather: lambda(expected),
        left: lambda(left),
        low: lambda(left - half),
        high: lambda(left + half),
        shift,
    })
}

#[cfg(test)]
#[path = "compare/tests.rs"]
mod tests;
