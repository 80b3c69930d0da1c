//! Counts by regime and station while rows come.

#![expect(clippy::cast_possible_wrap, reason = "no grid has more bins than an i32 counts")]

use super::histogram::Filling;
use super::sample::Sample;
use super::segment::{Segment, State};
use super::summary::{
    InAir, RegimeCounts, RegimeSummary, ShareOf, Spread, Station, StationCounts, whole_64ths,
};
use crate::setup::Regime;
use crate::units::{EngineSpeed, Fraction, Lambda, MassFlow, TimeSpan, Vacuum};

/// Lambda is counted from here to there, by 0.001.
const LAMBDA: (f64, f64, f64) = (0.4, 1.7, 1000.0);
/// Width of a station, share of the rating.
const SHARE_WIDTH: f64 = 0.05;
const SHARES: usize = 40;
/// Width of a station, inHg (common practice).
const VACUUM_WIDTH_INHG: f64 = 2.0;
/// Lowest vacuum of a station, inHg.
const VACUUM_LOW_INHG: f64 = -2.0;
const VACUUMS: usize = 18;
/// A station left for longer than this is visited anew.
const SAME_VISIT_S: f64 = 1.0;
/// Fewest samples and visits to rest a change on (common practice).
pub(super) const ENOUGH: (u64, u64) = (20, 3);

#[derive(Debug)]
struct InRegime {
    seconds: f64,
    visits: u64,
    samples: u64,
    kept_s: f64,
    lambda: Filling,
    vacuum: Filling,
    speed: Filling,
    air_flow: Filling,
    enriched: u64,
    enriched_of: u64,
}

#[derive(Debug)]
struct Cell {
    lambda: Filling,
    speed_rpm: i64,
    vacuum_centi_inhg: i64,
    air_flow_mg_s: i64,
    seconds: f64,
    visits: u64,
    last_s: f64,
    /// Rows and the sum of lambda in thousandths, by temperature of the air breathed; empty when that is not logged.
    by_air: Vec<(u64, u64)>,
}

/// Temperatures of the air breathed are told apart from here on, degC, in steps of five.
const AIR_LOW_C: f32 = -40.0;
const AIR_WIDTH_C: f32 = 5.0;
const AIRS: usize = 32;

/// What is being counted.
#[derive(Debug)]
pub(super) struct Gathered {
    regimes: [InRegime; Regime::ALL.len()],
    cells: Vec<Option<Box<Cell>>>,
    pub(super) stopped_s: f64,
    opening_inhg: Option<f64>,
}

/// Those temperatures that occurred, in the middle of their steps.
fn airs(by_air: &[(u64, u64)]) -> std::collections::BTreeMap<i16, InAir> {
    let all = by_air.iter().enumerate().filter(|(_, (rows, _))| *rows > 0);
    all.map(|(at, (rows, milli))| {
        let middle = AIR_LOW_C + AIR_WIDTH_C * (at as f32 + 0.5);
        ((10.0 * middle) as i16, InAir { rows: *rows, milli_lambda: *milli })
    })
    .collect()
}

/// A kept row, as it is counted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kept {
    pub(super) regime: Regime,
    pub(super) lambda: f64,
    pub(super) share: f64,
    pub(super) air_flow_g_s: Option<f64>,
    /// Time it stands for.
    pub(super) dt_s: f64,
}

impl Gathered {
    /// Nothing counted.
    pub(super) fn new(opening_inhg: Option<f64>) -> Self {
        let new = || InRegime {
            seconds: 0.0,
            visits: 0,
            samples: 0,
            kept_s: 0.0,
            lambda: Filling::over(LAMBDA.0, LAMBDA.1, LAMBDA.2),
            vacuum: Filling::over(-5.0, 32.0, 10.0),
            speed: Filling::over(0.0, 20_000.0, 0.1),
            air_flow: Filling::over(0.0, 1000.0, 4.0),
            enriched: 0,
            enriched_of: 0,
        };
        Self {
            regimes: std::array::from_fn(|_| new()),
            cells: (0..Regime::ALL.len() * SHARES * VACUUMS).map(|_| None).collect(),
            stopped_s: 0.0,
            opening_inhg,
        }
    }

    /// A segment has ended.
    pub(super) fn segment(&mut self, segment: &Segment) {
        let seconds = segment.to_s - segment.from_s;
        match segment.state {
            State::In(regime) => {
                self.regimes[regime as usize].seconds += seconds;
                self.regimes[regime as usize].visits += 1;
            }
            State::Stopped | State::Unknown => self.stopped_s += seconds,
        }
    }

    /// A row of a tip-in or overrun with a valid lambda: it is shown, but no station is made of it.
    pub(super) fn shown(&mut self, regime: Regime, lambda: f64) {
        self.regimes[regime as usize].lambda.push(lambda);
    }

    /// A row that is kept.
    #[inline]
    pub(super) fn keep(&mut self, s: &Sample, kept: Kept) {
        let one = &mut self.regimes[kept.regime as usize];
        one.samples += 1;
        one.kept_s += kept.dt_s;
        one.speed.push(s.speed_rpm);
        if let Some(g_s) = kept.air_flow_g_s {
            one.air_flow.push(g_s);
        }
        if s.vacuum_inhg.is_nan() {
            one.lambda.push(kept.lambda);
            return;
        }
        // Its lambda is counted by station, and added up in the end.
        one.vacuum.push(s.vacuum_inhg);
        if let Some(opening) = self.opening_inhg {
            one.enriched_of += 1;
            one.enriched += u64::from(s.vacuum_inhg < opening);
        }
        self.station(s, kept);
    }

    fn station(&mut self, s: &Sample, kept: Kept) {
        let share = ((kept.share * (1.0 / SHARE_WIDTH)) as i64).clamp(0, SHARES as i64 - 1) as usize;
        let vacuum = (((s.vacuum_inhg - VACUUM_LOW_INHG) * (1.0 / VACUUM_WIDTH_INHG)) as i64)
            .clamp(0, VACUUMS as i64 - 1) as usize;
        let place = (kept.regime as usize * SHARES + share) * VACUUMS + vacuum;
        let cell = self.cells[place].get_or_insert_with(|| {
            Box::new(Cell {
                lambda: Filling::over(LAMBDA.0, LAMBDA.1, LAMBDA.2),
                speed_rpm: 0,
                vacuum_centi_inhg: 0,
                air_flow_mg_s: 0,
                seconds: 0.0,
                visits: 0,
                last_s: f64::NEG_INFINITY,
                by_air: Vec::new(),
            })
        });
        cell.lambda.push(kept.lambda);
        cell.speed_rpm += (s.speed_rpm + 0.5) as i64;
        cell.vacuum_centi_inhg += (s.vacuum_inhg * 100.0) as i64;
        cell.air_flow_mg_s += (kept.air_flow_g_s.unwrap_or(0.0) * 1000.0) as i64;
        cell.seconds += kept.dt_s;
        cell.visits += u64::from(s.t_s - cell.last_s > SAME_VISIT_S);
        cell.last_s = s.t_s;
        if !s.aside.air_c.is_nan() {
            cell.by_air.resize(AIRS, (0, 0));
            let at = (((s.aside.air_c - AIR_LOW_C) / AIR_WIDTH_C) as i64).clamp(0, AIRS as i64 - 1) as usize;
            cell.by_air[at].0 += 1;
            cell.by_air[at].1 += (1000.0 * kept.lambda + 0.5) as u64;
        }
    }

    /// The figures of the regimes.
    pub(super) fn regimes(&self) -> Vec<RegimeSummary> {
        let all = Regime::ALL.iter().zip(&self.regimes);
        all.filter(|(_, r)| r.visits > 0)
            .map(|(regime, r)| {
                RegimeSummary::from_counts(
                    *regime,
                    whole_64ths(r.seconds),
                    r.visits,
                    r.samples,
                    whole_64ths(r.kept_s),
                    RegimeCounts {
                        lambda: self.lambda_of(*regime, r),
                        vacuum: r.vacuum.counted(),
                        speed: r.speed.counted(),
                        air_flow: r.air_flow.counted(),
                        enriched: r.enriched,
                        enriched_of: r.enriched_of,
                    },
                )
            })
            .collect()
    }

    /// Counts of a regime's lambda: those of its stations, and of the rows that have none.
    fn lambda_of(&self, regime: Regime, in_regime: &InRegime) -> super::histogram::Histogram {
        let mut all = in_regime.lambda.counted();
        let here = regime as usize * SHARES * VACUUMS..(regime as usize + 1) * SHARES * VACUUMS;
        self.cells[here].iter().flatten().for_each(|cell| all.add(&cell.lambda.counted()));
        all
    }

    /// The figures of the stations.
    pub(super) fn stations(&self, flow_known: bool) -> Vec<Station> {
        let places = self.cells.iter().enumerate().filter_map(|(place, cell)| Some((place, cell.as_ref()?)));
        places
            .map(|(place, cell)| {
                let (regime, rest) = (place / (SHARES * VACUUMS), place % (SHARES * VACUUMS));
                let key =
                    StationKey { regime: Regime::ALL[regime], share: rest / VACUUMS, vacuum: rest % VACUUMS };
                let counts = StationCounts {
                    lambda: cell.lambda.counted(),
                    speed_rpm: cell.speed_rpm.unsigned_abs(),
                    vacuum_centi_inhg: cell.vacuum_centi_inhg,
                    air_flow_mg_s: if flow_known { cell.air_flow_mg_s.unsigned_abs() } else { 0 },
                    by_air: airs(&cell.by_air),
                };
                key.station(whole_64ths(cell.seconds), cell.visits, counts)
            })
            .collect()
    }
}

/// Which station.
#[derive(Debug, Clone, Copy)]
struct StationKey {
    regime: Regime,
    share: usize,
    vacuum: usize,
}

impl StationKey {
    fn station(self, seconds: TimeSpan, visits: u64, counts: StationCounts) -> Station {
        let (share, vacuum) = (self.share as f64, self.vacuum as f64);
        Station {
            regime: self.regime,
            air_flow_share_low: Fraction::from_percent(100.0 * SHARE_WIDTH * share),
            air_flow_share_high: Fraction::from_percent(100.0 * SHARE_WIDTH * (share + 1.0)),
            vacuum_low: Vacuum::from_inhg(VACUUM_LOW_INHG + VACUUM_WIDTH_INHG * vacuum),
            vacuum_high: Vacuum::from_inhg(VACUUM_LOW_INHG + VACUUM_WIDTH_INHG * (vacuum + 1.0)),
            lambda: Spread::EMPTY,
            speed: EngineSpeed::ZERO,
            vacuum: Vacuum::ZERO,
            air_flow: None,
            seconds,
            visits,
            enough: false,
            counts,
        }
        .figured()
    }
}

impl Station {
    /// The figures worked out again from the counts.
    #[must_use]
    pub(super) fn figured(mut self) -> Self {
        let n = self.counts.lambda.count();
        let mean = |sum: f64| sum / (n.max(1)) as f64;
        self.lambda = Spread::of(&self.counts.lambda).unwrap_or(Spread::EMPTY);
        self.speed = EngineSpeed::from_rpm(mean(self.counts.speed_rpm as f64));
        self.vacuum = Vacuum::from_inhg(mean(self.counts.vacuum_centi_inhg as f64) / 100.0);
        let flow = self.counts.air_flow_mg_s;
        self.air_flow = (flow > 0).then(|| MassFlow::from_g_s(mean(flow as f64) / 1000.0));
        self.enough = n >= ENOUGH.0 && self.visits >= ENOUGH.1;
        self
    }
}

impl RegimeSummary {
    /// With the figures that follow from the counts.
    pub fn from_counts(
        regime: Regime,
        seconds: TimeSpan,
        visits: u64,
        samples: u64,
        kept_seconds: TimeSpan,
        counts: RegimeCounts,
    ) -> Self {
        Self {
            regime,
            seconds,
            visits,
            samples,
            kept_seconds,
            lambda: Spread::of(&counts.lambda),
            vacuum: counts.vacuum.quantile(0.5).map(|bin| Vacuum::from_inhg(bin / 10.0)),
            speed: counts.speed.quantile(0.5).map(|bin| EngineSpeed::from_rpm(bin * 10.0)),
            air_flow: counts.air_flow.quantile(0.5).map(|bin| MassFlow::from_g_s(bin / 4.0)),
            enriched: (counts.enriched_of > 0)
                .then(|| Fraction::from_ratio(counts.enriched as f64 / counts.enriched_of as f64)),
            counts,
        }
    }
}

impl Spread {
    pub(super) const EMPTY: Self =
        Self { median: Lambda::ZERO, p10: Lambda::ZERO, p90: Lambda::ZERO, spread: Lambda::ZERO, count: 0 };

    /// Of counts by 0.001.
    pub fn of(counts: &super::histogram::Histogram) -> Option<Self> {
        let at = |q| counts.quantile(q).map(|bin| bin / 1000.0);
        Some(Self {
            median: Lambda::from_ratio(at(0.5)?),
            p10: Lambda::from_ratio(at(0.1)?),
            p90: Lambda::from_ratio(at(0.9)?),
            spread: Lambda::from_ratio(at(0.75)? - at(0.25)?),
            count: counts.count(),
        })
    }
}

/// What the shares are shares of.
pub(super) fn share_of(rated: bool) -> ShareOf {
    if rated { ShareOf::Rating } else { ShareOf::SpeedDensity }
}

#[cfg(test)]
mod tests;
