//! What a carburetor meters against air flow: the mixture, and which circuit brings the fuel.

use crate::physics::metering::{CircuitFuel, Metered};
use crate::report::chart::{Axis, Chart, Mark, Point, Series};
use crate::units::show::fixed;
use crate::units::{Fraction, MassFlow};

/// One air flow, as the carburetor stands and with other parts in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeteredAt {
    /// Share of the rated air flow.
    pub share: Fraction,
    /// As it stands.
    pub before: Metered,
    /// With the parts.
    pub after: Option<Metered>,
}

/// Lambda against air flow, and the share of the fuel that each circuit brings, as it stands and with the parts. Empty for
/// fewer than two points.
pub fn metering(points: &[MeteredAt]) -> Vec<Chart> {
    let after: Option<Vec<Metered>> = points.iter().map(|p| p.after).collect();
    let before: Vec<Metered> = points.iter().map(|p| p.before).collect();
    let Some(x) = across(points) else { return Vec::new() };
    let mut charts: Vec<Chart> = lambda(points, &x, after.as_deref()).into_iter().collect();
    charts.push(circuits("circuits", "as it stands", points, &x, &before));
    if let Some(after) = after.filter(|after| shares_differ(&before, after)) {
        charts.push(circuits("circuits-after", "with the part", points, &x, &after));
    }
    charts
}

/// Less than this many per cent of the fuel are not drawn: a circuit that does not flow has no line.
const NOTHING: f64 = 0.3;
/// Circuits that share the fuel alike to this many per cent are drawn once.
const ALIKE: f64 = 2.0;

fn percent(m: &Metered, fuel: fn(&CircuitFuel) -> MassFlow) -> f64 {
    100.0 * (fuel(&m.fuel) / m.fuel.total())
}

fn shares_differ(before: &[Metered], after: &[Metered]) -> bool {
    let apart = |a: &Metered, b: &Metered| {
        CIRCUITS.iter().any(|(_, _, fuel)| (percent(a, *fuel) - percent(b, *fuel)).abs() > ALIKE)
    };
    before.iter().zip(after).any(|(a, b)| apart(a, b))
}

fn across(points: &[MeteredAt]) -> Option<Axis> {
    if points.len() < 2 {
        return None;
    }
    let shares = points.iter().map(|p| p.share.as_percent());
    Axis::around("air flow, % of the carburetor's rating", shares, 5.0)
}

fn line(points: &[MeteredAt], values: impl Iterator<Item = f64>) -> Vec<Point> {
    let place = |(p, y): (&MeteredAt, f64)| Point { x: p.share.as_percent(), y, interval: None, sure: true };
    points.iter().zip(values).map(place).collect()
}

fn lambda(points: &[MeteredAt], x: &Axis, after: Option<&[Metered]>) -> Option<Chart> {
    let now: Vec<f64> = points.iter().map(|p| p.before.lambda.as_ratio()).collect();
    let then: Vec<f64> = after.into_iter().flatten().map(|m| m.lambda.as_ratio()).collect();
    let y = Axis::around("lambda", now.iter().chain(&then).copied().collect::<Vec<_>>(), 0.1)?;
    let series = |name: &str, sign, new, values: &[f64]| Series {
        name: name.to_owned(),
        mark: Mark::Line { sign, new },
        points: line(points, values.iter().copied()),
    };
    let mut all = vec![series("as it stands", '.', false, &now)];
    let mut says =
        "The model's mixture: its shape is of use, its height is not; that comes from a log.".to_owned();
    if after.is_some() {
        all.push(series("with the part", '*', true, &then));
        let changes = now.iter().zip(&then).map(|(a, b)| 100.0 * (b / a - 1.0));
        let most = changes.fold(0.0f64, |m, c| if c.abs() > m.abs() { c } else { m });
        let way = if most > 0.0 { "leaner" } else { "richer" };
        says = format!("With the part it is at most {} % {way}. {says}", fixed(most.abs(), 1));
    }
    Some(Chart {
        id: "metered".to_owned(),
        title: "Lambda against air flow".to_owned(),
        says,
        x: x.clone(),
        y,
        bands: Vec::new(),
        series: all,
        lines: Vec::new(),
    })
}

/// A circuit: its name, its sign, its fuel.
type Circuit = (&'static str, char, fn(&CircuitFuel) -> MassFlow);

const CIRCUITS: [Circuit; 4] = [
    ("idle", 'i', |f| f.idle),
    ("main", 'm', |f| f.main_primary),
    ("secondary main", 's', |f| f.main_secondary),
    ("enrichment", 'e', |f| f.enrichment),
];

fn circuits(id: &str, of: &str, points: &[MeteredAt], x: &Axis, metered: &[Metered]) -> Chart {
    let series = CIRCUITS.into_iter().map(|(name, sign, fuel)| {
        let mut points = line(points, metered.iter().map(|m| percent(m, fuel)));
        points.retain(|p| p.y > NOTHING);
        Series { name: name.to_owned(), mark: Mark::Line { sign, new: false }, points }
    });
    let series = series.filter(|s| !s.points.is_empty()).collect();
    let handed_over = metered.iter().zip(points).find(|(m, _)| m.fuel.idle < m.fuel.total() * 0.5);
    let says = handed_over.map_or_else(
        || "The idle circuit brings most of the fuel all along.".to_owned(),
        |(_, p)| {
            let from = fixed(p.share.as_percent(), 0);
            format!("From {from} % of the rating on, the idle circuit brings less than half of the fuel.")
        },
    );
    Chart {
        id: id.to_owned(),
        title: format!("Fuel by circuit, {of}"),
        says,
        x: x.clone(),
        y: Axis { label: "% of all fuel".to_owned(), low: 0.0, high: 100.0 },
        bands: Vec::new(),
        series,
        lines: Vec::new(),
    }
}
