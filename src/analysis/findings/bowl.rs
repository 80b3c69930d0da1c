//! The float bowl and what heat, turns and slopes do to it.

use super::{Case, Evidence, Finding, Symptom, found, overall};
use crate::setup::Regime;
use crate::trace::{EventKind, Station};

/// Turns or stops it must show in: once can be a bump (common practice: repeat the turn).
const TIMES: usize = 2;
/// Rows a station needs at one temperature of the air before its mean counts.
const ROWS: u64 = 20;
/// The air must differ by this, K, for its effect to be told from the scatter.
const APART_K: f64 = 15.0;
/// Leaner in hot air by more than this beyond what density explains (common practice).
const LEANER: f64 = 0.03;

pub(super) fn find(case: &Case<'_>) -> Vec<Finding> {
    [
        found(Symptom::HotFlood, case.happened(EventKind::HotFlood)),
        slosh(case),
        found(Symptom::RichOnSlope, case.happened(EventKind::RichOnSlope)),
        lean_when_hot(case),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn slosh(case: &Case<'_>) -> Option<Finding> {
    let sides = [
        (EventKind::SloshPlus, "turning to the logger's positive side"),
        (EventKind::SloshMinus, "turning to the logger's negative side"),
        (EventKind::SloshBraking, "braking"),
    ];
    let mut evidence: Vec<Evidence> = sides
        .into_iter()
        .flat_map(|(kind, side)| {
            let of = case.happened(kind).into_iter();
            of.map(move |e| Evidence { what: format!("{side}, {}", e.what), ..e })
        })
        .collect();
    evidence.sort_by(|a, b| a.at.partial_cmp(&b.at).unwrap_or(std::cmp::Ordering::Equal));
    if evidence.len() < TIMES { None } else { found(Symptom::Slosh, evidence) }
}

/// Within stations, so that hot and cold air are compared at one and the same flow and vacuum.
///
/// On fixed jets lambda goes with the root of air density, so with one over the root of the air's temperature:
/// hot air should read *richer*.
fn lean_when_hot(case: &Case<'_>) -> Option<Finding> {
    let steady =
        case.log.stations.iter().filter(|s| matches!(s.regime, Regime::Cruise | Regime::HeavyCruise));
    let slopes: Vec<Slope> = steady.filter_map(Slope::within).collect();
    let weight: f64 = slopes.iter().map(|s| s.spread).sum();
    let exponent = slopes.iter().map(|s| s.product).sum::<f64>() / weight;
    let coldest = slopes.iter().map(|s| s.cold_k).fold(f64::INFINITY, f64::min);
    let hottest = slopes.iter().map(|s| s.hot_k).fold(0.0, f64::max);
    if slopes.is_empty() || hottest - coldest < APART_K {
        return None;
    }
    let warmer = (hottest / coldest).ln();
    let (seen, explained) = (exponent * warmer, -0.5 * warmer);
    let what = format!(
        "from {:.0} to {:.0} degC of intake air lambda changes by {:+.1} % at the same air flow and vacuum; its density \
         explains {:+.1} %",
        coldest - 273.15,
        hottest - 273.15,
        100.0 * seen,
        100.0 * explained
    );
    if seen - explained > LEANER && seen > 0.0 { found(Symptom::LeanWhenHot, overall(what)) } else { None }
}

/// How the logarithm of lambda goes with that of the air's temperature within one station.
#[derive(Debug, Clone, Copy)]
struct Slope {
    spread: f64,
    product: f64,
    cold_k: f64,
    hot_k: f64,
}

impl Slope {
    fn within(station: &Station) -> Option<Self> {
        let points: Vec<(f64, f64, f64)> = station
            .counts
            .by_air
            .iter()
            .filter(|(_, air)| air.rows >= ROWS)
            .map(|(deci_c, air)| {
                let rows = air.rows as f64;
                let kelvin = f64::from(*deci_c) / 10.0 + 273.15;
                (rows, kelvin, (air.milli_lambda as f64 / rows / 1000.0).ln())
            })
            .collect();
        let (first, last) = (points.first()?, points.last()?);
        if points.len() < 2 {
            return None;
        }
        let rows: f64 = points.iter().map(|p| p.0).sum();
        let mean_t = points.iter().map(|(n, k, _)| n * k.ln()).sum::<f64>() / rows;
        let mean_l = points.iter().map(|(n, _, l)| n * l).sum::<f64>() / rows;
        Some(Self {
            spread: points.iter().map(|(n, k, _)| n * (k.ln() - mean_t).powi(2)).sum(),
            product: points.iter().map(|(n, k, l)| n * (k.ln() - mean_t) * (l - mean_l)).sum(),
            cold_k: first.1,
            hot_k: last.1,
        })
    }
}
