//! The pictures of the trade: lambda against air flow with the band to be in, vacuum against turns, what a change should do,
//! and what a carburetor meters.

mod advice;
mod metering;

pub use advice::lambda_by_regime;
pub use metering::{MeteredAt, metering};

use super::chart::{Axis, Band, Chart, Mark, Point, Series};
use crate::physics::cam;
use crate::rules::balance::{Observation, ScrewShape, Spec, shapes};
use crate::rules::{RuleBook, targets};
use crate::setup::{Regime, Setup};
use crate::trace::{ShareOf, Station, TraceSummary};
use crate::units::System;
use crate::units::show::{Shown, fixed, turns_as_fraction};

/// One log, or two to be held against each other, each with its name.
#[derive(Debug, Clone, Copy)]
pub struct Logs<'a> {
    /// The earlier one.
    pub before: Option<(&'a str, &'a TraceSummary)>,
    /// The log, or the later one.
    pub now: (&'a str, &'a TraceSummary),
}

/// Regimes with a band of their own on the air-flow axis; a tip-in passes across all of it.
const STEADY: [Regime; 5] =
    [Regime::Idle, Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];

/// Readings a station must hold to be shown at all (common practice).
const LEAST: u64 = 20;
/// How far two logs stand apart within a station, as a share of its width.
const APART: f64 = 0.16;

/// Lambda of every station against its air flow, the bands of the regimes behind. `None` without a station.
pub fn lambda_by_air_flow(logs: &Logs<'_>, job: Option<(&Setup, &RuleBook)>) -> Option<Chart> {
    let both: Vec<&TraceSummary> = logs.before.iter().map(|(_, t)| *t).chain([logs.now.1]).collect();
    let stations: Vec<&Station> = both.iter().flat_map(|t| t.stations.iter()).filter(|s| shown(s)).collect();
    let bands: Vec<Band> = job.map(|(setup, rules)| bands(&stations, setup, rules)).unwrap_or_default();
    let edges = stations.iter().flat_map(|s| [s.lambda.p10.as_ratio(), s.lambda.p90.as_ratio()]);
    let y = Axis::around(
        "lambda",
        edges.chain(bands.iter().flat_map(|b| [b.y.0 - 0.005, b.y.1 + 0.02])).collect::<Vec<_>>(),
        0.1,
    )?;
    let highest = stations.iter().map(|s| s.air_flow_share_high.as_percent()).fold(0.0, f64::max);
    let label = match logs.now.1.share_of {
        ShareOf::Rating => "air flow, % of the carburetor's rating",
        ShareOf::SpeedDensity => "air flow, % of what the engine could swallow",
    };
    let named = |(name, trace): (&str, &TraceSummary), mark| Series {
        name: name.to_owned(),
        mark,
        points: trace
            .stations
            .iter()
            .filter(|s| shown(s))
            .map(|s| {
                point(
                    s,
                    if logs.before.is_none() {
                        0.0
                    } else if mark == Mark::Open {
                        -APART
                    } else {
                        APART
                    },
                )
            })
            .collect(),
    };
    let series = logs
        .before
        .map(|b| named(b, Mark::Open))
        .into_iter()
        .chain([named(logs.now, Mark::Filled)])
        .collect();
    Some(Chart {
        id: "lambda".to_owned(),
        title: "Lambda against air flow".to_owned(),
        says: in_words(logs, &bands),
        x: Axis { label: label.to_owned(), low: 0.0, high: highest * 1.03 },
        y,
        bands,
        series,
        lines: Vec::new(),
    })
}

fn shown(s: &Station) -> bool {
    s.lambda.count >= LEAST && STEADY.contains(&s.regime)
}

fn point(s: &Station, aside: f64) -> Point {
    let (low, high) = (s.air_flow_share_low.as_percent(), s.air_flow_share_high.as_percent());
    Point {
        x: f64::midpoint(low, high) + aside * (high - low),
        y: s.lambda.median.as_ratio(),
        interval: Some((s.lambda.p10.as_ratio(), s.lambda.p90.as_ratio())),
        sure: s.enough,
    }
}

/// The band of each regime, over the air flows it was seen at.
fn bands(stations: &[&Station], setup: &Setup, rules: &RuleBook) -> Vec<Band> {
    let overlap = setup.engine.cam.as_ref().map(cam::overlap);
    let one = |regime: Regime| {
        let band = targets::band(
            regime,
            setup.application,
            setup.engine.cooling,
            setup.fuel.family,
            overlap,
            rules,
        )?;
        let of = stations.iter().filter(|s| s.regime == regime);
        let (low, high) = of.fold((f64::INFINITY, 0.0f64), |(l, h), s| {
            (l.min(s.air_flow_share_low.as_percent()), h.max(s.air_flow_share_high.as_percent()))
        });
        (low < high).then(|| Band {
            label: regime.said().to_owned(),
            x: (low, high),
            y: (band.low.as_ratio(), band.high.as_ratio()),
        })
    };
    STEADY.into_iter().filter_map(one).collect()
}

fn in_words(logs: &Logs<'_>, bands: &[Band]) -> String {
    let inside = |trace: &TraceSummary| {
        let shown: Vec<&Station> = trace.stations.iter().filter(|s| shown(s)).collect();
        let held = shown.iter().filter(|s| {
            let band = bands.iter().find(|b| b.label == s.regime.said());
            band.is_some_and(|b| (b.y.0..=b.y.1).contains(&s.lambda.median.as_ratio()))
        });
        (held.count(), shown.len())
    };
    let spread = "Marks are medians of stations, lines hold eight readings of ten; a small mark rests on too little to act on.";
    if bands.is_empty() {
        return spread.to_owned();
    }
    let (held, of) = inside(logs.now.1);
    let before = logs.before.map_or_else(String::new, |(name, trace)| {
        let (held, of) = inside(trace);
        format!(", {held} of {of} {name}")
    });
    format!(
        "{held} of {of} stations stand inside the target of their regime {}{before}. {spread}",
        logs.now.0
    )
}

/// Vacuum against turns of each screw, readings and fitted curve.
pub fn vacuum_by_turns(spec: &Spec, history: &[Observation], system: System) -> Vec<Chart> {
    let found = shapes(spec, history);
    let highest = found
        .iter()
        .flat_map(|s| &s.curve)
        .map(|p| p.vacuum.number(system))
        .fold(f64::NEG_INFINITY, f64::max);
    let values = found.iter().flat_map(|s| {
        let curve = s.curve.iter().map(|p| p.vacuum.number(system));
        curve.chain(s.readings.iter().map(|(_, v)| v.number(system)))
    });
    // All screws on one scale: their falls can be held against each other. Beyond a third of the top nothing is to be seen.
    let Some(y) = Axis::around(
        format!("vacuum, {}", crate::units::Vacuum::unit_symbol(system)),
        values.filter(|v| *v > highest * 0.66).collect::<Vec<_>>(),
        highest * 0.05,
    ) else {
        return Vec::new();
    };
    found.iter().filter_map(|shape| screw(shape, &y, system)).collect()
}

fn screw(shape: &ScrewShape, y: &Axis, system: System) -> Option<Chart> {
    let x = Axis::around(
        format!("turns out of screw {}", shape.screw),
        shape.curve.iter().map(|p| p.turns.as_turns()).chain([shape.stands.as_turns()]),
        0.5,
    )?;
    let top = shape.curve.iter().max_by(|a, b| a.vacuum.total_cmp(&b.vacuum))?;
    let curve = shape.curve.iter().filter(|p| y.holds(p.vacuum.number(system))).map(|p| {
        let half = p.unsure.number(system);
        let v = p.vacuum.number(system);
        Point { x: p.turns.as_turns(), y: v, interval: Some((v - half, v + half)), sure: true }
    });
    let readings = shape.readings.iter().map(|(t, v)| Point {
        x: t.as_turns(),
        y: v.number(system),
        interval: None,
        sure: true,
    });
    Some(Chart {
        id: format!("screw-{}", shape.screw),
        title: format!("Vacuum against turns of mixture screw {}", shape.screw),
        says: format!(
            "Thought highest at {} turns: {}, give or take {}. It stands at {}. Readings are brought to the last idle speed.",
            fixed(top.turns.as_turns(), 1),
            top.vacuum.show(system),
            top.unsure.show(system),
            turns_as_fraction(shape.stands),
        ),
        x,
        y: y.clone(),
        bands: Vec::new(),
        series: vec![
            Series { name: "fitted, with its doubt".to_owned(), mark: Mark::Curve, points: curve.collect() },
            Series { name: "read".to_owned(), mark: Mark::Open, points: readings.collect() },
        ],
        lines: vec![(shape.stands.as_turns(), "stands here".to_owned())],
    })
}
