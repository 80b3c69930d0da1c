//! Stations of the latest log and of the earlier ones, brought onto one list of cells.

use super::input::{AdviceInput, Trial};
use super::prior;
use crate::physics::metering::Operating;
use crate::setup::{Carburetor, Regime, Weather};
use crate::trace::{Station, TraceSummary};
use crate::units::Vacuum;

/// A place on the carburetor's own axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    key: Key,
    /// The regime the latest log that saw it put it in.
    pub(super) regime: Regime,
    /// Where it is.
    pub(super) at: Operating,
    /// Seconds in the latest log; zero when only earlier ones saw it.
    pub(super) seconds: f64,
}

/// What makes two stations of two logs the same: the kind of running, air flow and vacuum. Part throttle is one
/// kind, because the border between cruise and heavy cruise moves with the enrichment valve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Key {
    kind: Kind,
    share_mil: i64,
    vacuum_centi_inhg: i64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Idle,
    PartThrottle,
    FullThrottle,
}

/// A cell as a log read it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CellReading {
    /// Which cell.
    pub(super) cell: usize,
    /// Median ln(lambda).
    pub(super) ln_lambda: f64,
    /// Standard uncertainty of its own, beside what its regime and log share.
    pub(super) spread: f64,
}

/// One log on one set of parts.
#[derive(Debug, Clone)]
pub(super) struct Reading<'a> {
    /// The parts.
    pub(super) carburetor: &'a Carburetor,
    /// The air.
    pub(super) weather: Option<Weather>,
    /// Its cells.
    pub(super) cells: Vec<CellReading>,
    trace: &'a TraceSummary,
}

impl Reading<'_> {
    /// Spread that all of a regime's readings share in this log.
    pub(super) fn regime_spread(&self, regime: Regime) -> f64 {
        let visits = self.trace.regime(regime).map_or(1.0, |r| visits(r.visits, r.kept_seconds.as_s()));
        prior::VISIT_SPREAD / visits.sqrt()
    }
}

/// All logs of a job on one list of cells; the latest log is the last.
#[derive(Debug, Clone)]
pub(super) struct Survey<'a> {
    /// The cells.
    pub(super) cells: Vec<Cell>,
    /// The logs, oldest first.
    pub(super) logs: Vec<Reading<'a>>,
}

/// The most cells kept; an hour's log has fewer that matter.
const MOST_CELLS: usize = 70;
/// Fewer samples than this are not a reading.
const LEAST_SAMPLES: u64 = 5;

/// How many independent visits a time and a count of visits are worth.
pub(super) fn visits(counted: u64, seconds: f64) -> f64 {
    (counted as f64).max(seconds / prior::SECONDS_PER_VISIT).max(1.0)
}

impl<'a> Survey<'a> {
    /// Gathers them.
    pub(super) fn of(input: &AdviceInput<'a>) -> Survey<'a> {
        let mut survey = Survey { cells: Vec::new(), logs: Vec::new() };
        // The latest first, so that it names the regimes and keeps its cells when there are too many.
        let latest = survey.read(&input.setup.carburetor, input.air(), input.trace, true);
        for Trial { carburetor, weather, trace } in input.memory {
            let log = survey.read(carburetor, weather.or(input.setup.weather), trace, false);
            survey.logs.push(log);
        }
        survey.logs.push(latest);
        survey
    }

    fn read(
        &mut self,
        carburetor: &'a Carburetor,
        weather: Option<Weather>,
        trace: &'a TraceSummary,
        latest: bool,
    ) -> Reading<'a> {
        let mut stations: Vec<&Station> = trace.stations.iter().filter(|s| usable(s)).collect();
        stations.sort_by(|a, b| b.seconds.total_cmp(&a.seconds));
        let cells = stations.into_iter().filter_map(|s| self.cell_reading(carburetor, s, latest)).collect();
        Reading { carburetor, weather, cells, trace }
    }

    fn cell_reading(&mut self, carburetor: &Carburetor, s: &Station, latest: bool) -> Option<CellReading> {
        let key = key(s)?;
        let cell = match self.cells.iter().position(|c| c.key == key) {
            Some(found) => found,
            None if self.cells.len() < MOST_CELLS => {
                self.cells.push(Cell { key, regime: s.regime, at: place(carburetor, s), seconds: 0.0 });
                self.cells.len() - 1
            }
            None => return None,
        };
        if latest {
            self.cells[cell].seconds += s.seconds.as_s();
        }
        let visits = visits(s.visits, s.seconds.as_s());
        // Half the samples of a quick log repeat the ones before them.
        let within = s.lambda.spread.as_ratio() / 1.349 / s.lambda.median.as_ratio();
        let counted = (s.lambda.count as f64 / 2.0).min(s.seconds.as_s().max(1.0) * 2.0).max(1.0);
        let spread = (within * within / counted + prior::STATION_SPREAD.powi(2) / visits).sqrt();
        Some(CellReading { cell, ln_lambda: s.lambda.median.as_ratio().ln(), spread })
    }

    /// The latest log.
    pub(super) fn latest(&self) -> Option<&Reading<'a>> {
        self.logs.last()
    }
}

fn usable(s: &Station) -> bool {
    s.lambda.count >= LEAST_SAMPLES && s.lambda.median.as_ratio() > 0.3
}

fn key(s: &Station) -> Option<Key> {
    let kind = match s.regime {
        Regime::Idle => Kind::Idle,
        Regime::OffIdle | Regime::Cruise | Regime::HeavyCruise => Kind::PartThrottle,
        Regime::FullThrottle => Kind::FullThrottle,
        Regime::TipIn | Regime::Overrun => return None,
    };
    let share_mil = (s.air_flow_share_low.as_ratio() * 1000.0).round() as i64;
    Some(Key { kind, share_mil, vacuum_centi_inhg: (s.vacuum_low.as_inhg() * 100.0).round() as i64 })
}

fn place(carburetor: &Carburetor, s: &Station) -> Operating {
    // Standard air is near enough for a place: what matters is the part's say there.
    let middle = (s.air_flow_share_low + s.air_flow_share_high) / 2.0;
    let rated = carburetor.rated_flow * crate::units::Density::from_kg_m3(1.2);
    let air_flow = s.air_flow.filter(|f| f.as_kg_s() > 0.0).unwrap_or(rated * middle.as_ratio());
    Operating { air_flow, vacuum: s.vacuum.max(Vacuum::ZERO) }
}
