//! Were the pulls run alike? Warm-up and weather leave their own marks, and explain a drift when they are there.

use crate::units::{Temperature, TemperatureChange};

/// The state one pull started in, as far as it was recorded.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Conditions {
    /// What it was run with.
    pub label: String,
    /// Oil at the start of the pull.
    pub oil: Option<Temperature>,
    /// Coolant at the start of the pull.
    pub coolant: Option<Temperature>,
    /// Air correction factor.
    pub factor: Option<f64>,
    /// Speed the pull began at, rpm.
    pub first_rpm: Option<f64>,
    /// The figure judged, corrected.
    pub figure: Option<f64>,
}

/// Something that was not kept alike.
#[derive(Debug, Clone, PartialEq)]
pub enum Unsteady {
    /// Coolant started more than 5 F apart.
    Coolant {
        /// Coolest start.
        low: Temperature,
        /// Hottest start.
        high: Temperature,
    },
    /// Oil started below the least temperature for a pull.
    OilCold {
        /// Pull, counted from one.
        pull: usize,
        /// Where it started.
        oil: Temperature,
    },
    /// Oil rose all the way through the series: the engine was still warming up.
    WarmingUp {
        /// At the first pull.
        from: Temperature,
        /// At the last.
        to: Temperature,
    },
    /// The figures of the first state settle: each return changes it less, in one direction.
    Settling {
        /// First change on return.
        first: f64,
        /// Last change on return.
        last: f64,
    },
    /// The air correction moved by more than half a percent over the series.
    Weather {
        /// Least factor.
        low: f64,
        /// Greatest factor.
        high: f64,
    },
    /// Pulls began at speeds more than 150 rpm apart.
    StartSpeed {
        /// Lowest start, rpm.
        low: f64,
        /// Highest start, rpm.
        high: f64,
    },
}

/// Coolant of every pull within this (common practice).
const COOLANT_SPAN: TemperatureChange = TemperatureChange::from_k(10.0 / 1.8);
/// Least oil temperature for a pull: 160 F (common practice).
const OIL_LEAST: Temperature = Temperature::from_f(160.0);
/// A rise that says the engine was still warming up: 10 F (common practice).
const OIL_RISE: TemperatureChange = TemperatureChange::from_k(10.0 / 1.8);
/// A move of the correction that the figures would feel if the correction were wrong.
const FACTOR_SPAN: f64 = 0.005;
/// Starts further apart than this load the engine's inertia differently (common practice).
const START_SPAN_RPM: f64 = 150.0;

/// Everything that was not kept alike over a series, in the order run.
pub fn unsteadiness(pulls: &[Conditions]) -> Vec<Unsteady> {
    let mut found = Vec::new();
    if let Some((low, high)) = span(pulls.iter().filter_map(|p| p.coolant.map(Temperature::as_k)))
        && high - low > COOLANT_SPAN.as_k()
    {
        found.push(Unsteady::Coolant { low: Temperature::from_k(low), high: Temperature::from_k(high) });
    }
    for (k, oil) in pulls.iter().enumerate().filter_map(|(k, p)| p.oil.map(|o| (k, o))) {
        if oil.as_k() < OIL_LEAST.as_k() {
            found.push(Unsteady::OilCold { pull: k + 1, oil });
        }
    }
    let oils: Vec<Temperature> = pulls.iter().filter_map(|p| p.oil).collect();
    if let (Some(from), Some(to)) = (oils.first(), oils.last())
        && oils.len() >= 3
        && oils.windows(2).all(|w| w[1].as_k() > w[0].as_k())
        && to.as_k() - from.as_k() > OIL_RISE.as_k()
    {
        found.push(Unsteady::WarmingUp { from: *from, to: *to });
    }
    found.extend(settling(pulls));
    if let Some((low, high)) = span(pulls.iter().filter_map(|p| p.factor))
        && high - low > FACTOR_SPAN
    {
        found.push(Unsteady::Weather { low, high });
    }
    if let Some((low, high)) = span(pulls.iter().filter_map(|p| p.first_rpm))
        && high - low > START_SPAN_RPM
    {
        found.push(Unsteady::StartSpeed { low, high });
    }
    found
}

fn span(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |so_far, v| match so_far {
        None => Some((v, v)),
        Some((low, high)) => Some((low.min(v), high.max(v))),
    })
}

/// Three or more runs of the first state, each return moving the same way and by at most half of the one before,
/// the first move worth half a percent or more: the mark of an engine that settles, not of chance alone.
fn settling(pulls: &[Conditions]) -> Option<Unsteady> {
    let baseline = pulls.first()?.label.clone();
    let figures: Vec<f64> = pulls.iter().filter(|p| p.label == baseline).filter_map(|p| p.figure).collect();
    let moves: Vec<f64> = figures.windows(2).map(|w| w[1] - w[0]).collect();
    let (first, last) = (*moves.first()?, *moves.last()?);
    let shrinks = moves.windows(2).all(|w| w[1] * w[0] >= 0.0 && w[1].abs() <= 0.5 * w[0].abs());
    (moves.len() >= 2 && shrinks && first.abs() >= 0.005 * figures[0].abs())
        .then_some(Unsteady::Settling { first, last })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pull(label: &str, oil_f: f64, figure: f64) -> Conditions {
        Conditions {
            label: label.into(),
            oil: Some(Temperature::from_f(oil_f)),
            figure: Some(figure),
            ..Conditions::default()
        }
    }

    #[test]
    fn coolant_is_alike_within_ten_degrees_in_all_and_not_beyond() {
        let with = |f: f64| Conditions { coolant: Some(Temperature::from_f(f)), ..Conditions::default() };
        assert!(unsteadiness(&[with(180.0), with(189.9)]).is_empty());
        assert!(matches!(unsteadiness(&[with(180.0), with(190.2)])[..], [Unsteady::Coolant { .. }]));
    }

    #[test]
    fn oil_below_160_is_cold_and_a_rise_throughout_is_a_warm_up() {
        assert!(
            unsteadiness(&[pull("A", 160.1, 1.0), pull("B", 161.0, 1.0), pull("A", 160.5, 1.0)]).is_empty()
        );
        let found = unsteadiness(&[pull("A", 159.0, 1.0), pull("B", 165.0, 1.0), pull("A", 172.0, 1.0)]);
        assert!(
            matches!(found[..], [Unsteady::OilCold { pull: 1, .. }, Unsteady::WarmingUp { .. }]),
            "{found:?}"
        );
    }

    #[test]
    fn a_state_that_settles_is_told_from_one_that_wanders() {
        let run = |figures: &[f64]| {
            let pulls: Vec<_> = figures.iter().map(|f| pull("A", 200.0, *f)).collect();
            unsteadiness(&pulls).iter().any(|u| matches!(u, Unsteady::Settling { .. }))
        };
        assert!(run(&[200.0, 203.0, 204.0, 204.4]));
        assert!(!run(&[200.0, 203.0, 205.8]));
        assert!(!run(&[200.0, 199.0, 200.0]));
        assert!(!run(&[200.0, 200.5, 200.6]));
    }

    #[test]
    fn weather_is_said_when_the_factor_moves_by_more_than_half_a_percent() {
        let with = |factor| Conditions { factor: Some(factor), ..Conditions::default() };
        assert!(unsteadiness(&[with(0.980), with(0.9849)]).is_empty());
        assert!(matches!(unsteadiness(&[with(0.980), with(0.986)])[..], [Unsteady::Weather { .. }]));
    }
}
