//! What a log says, in numbers that can be written down and added to those of another log.

use super::delay::DelayUsed;
use super::events::Event;
use super::fault::{Fault, FaultKind};
use super::histogram::Histogram;
pub use super::runs::{Pull, TipIn};
use crate::setup::Regime;
use crate::units::{EngineSpeed, Fraction, Lambda, MassFlow, TimeSpan, Vacuum};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Where every line of the log went. `lines` is the sum of all the others.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineCounts {
    /// Lines in all.
    pub lines: u64,
    /// The header line (0 or 1).
    pub header: u64,
    /// A row of units under the header.
    pub units: u64,
    /// Lines above the header that are not comments.
    pub preamble: u64,
    /// Comment lines.
    pub comments: u64,
    /// Blank lines.
    pub blank: u64,
    /// The header met again.
    pub headers_again: u64,
    /// Further lines of a record that goes over several.
    pub continued: u64,
    /// Rows set aside.
    pub quarantined: u64,
    /// Rows used.
    pub used: u64,
}

/// Why a row that was read whole says nothing about the steady mixture. Each row not kept is counted once,
/// under the first reason that applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Dropped {
    /// No engine speed, or neither throttle nor vacuum, in the row.
    Incomplete,
    /// The engine stands or is cranked.
    Stopped,
    /// Speed jumped as no crankshaft can.
    TachNoise,
    /// The manifold reads above the air outside, or below nothing.
    PressureImplausible,
    /// Coolant below operating temperature.
    WarmUp,
    /// The sensor's heater is still warming it.
    SensorWarmUp,
    /// No lambda belongs to the row: the cell is empty.
    NoLambda,
    /// The log has a hole, or ends, where its lambda would be.
    Gap,
    /// Lambda at the end of the sensor's range, or beyond.
    SensorRange,
    /// Lambda did not move for more than a second while the engine did.
    SensorStuck,
    /// Throttle shut and engine driven: valid, but no mixture to tune.
    Overrun,
    /// The throttle is opening, or has just: told apart as tip-ins.
    Transient,
    /// Lean beyond what burns, at steady speed and high vacuum: a misfire, a leak, or air from outside.
    MisfireOrLeak,
    /// Speed or vacuum moved too much in the last two seconds.
    Unsteady,
}

impl Dropped {
    /// All of them, in order.
    pub const ALL: [Dropped; 14] = [
        Dropped::Incomplete,
        Dropped::Stopped,
        Dropped::TachNoise,
        Dropped::PressureImplausible,
        Dropped::WarmUp,
        Dropped::SensorWarmUp,
        Dropped::NoLambda,
        Dropped::Gap,
        Dropped::SensorRange,
        Dropped::SensorStuck,
        Dropped::Overrun,
        Dropped::Transient,
        Dropped::MisfireOrLeak,
        Dropped::Unsteady,
    ];

    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Dropped::Incomplete => "incomplete",
            Dropped::Stopped => "stopped",
            Dropped::TachNoise => "tach-noise",
            Dropped::PressureImplausible => "pressure-implausible",
            Dropped::WarmUp => "warm-up",
            Dropped::SensorWarmUp => "sensor-warm-up",
            Dropped::NoLambda => "no-lambda",
            Dropped::Gap => "gap",
            Dropped::SensorRange => "sensor-range",
            Dropped::SensorStuck => "sensor-stuck",
            Dropped::Overrun => "overrun",
            Dropped::Transient => "transient",
            Dropped::MisfireOrLeak => "misfire-or-leak",
            Dropped::Unsteady => "unsteady",
        }
    }
}

/// Middle and spread of a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Median.
    pub median: Lambda,
    /// Tenth percentile: the rich end.
    pub p10: Lambda,
    /// Ninetieth percentile: the lean end.
    pub p90: Lambda,
    /// Distance between the quartiles.
    pub spread: Lambda,
    /// Samples in it.
    pub count: u64,
}

/// One regime over the whole log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegimeSummary {
    /// Which.
    pub regime: Regime,
    /// Time spent in it, good data or not.
    pub seconds: TimeSpan,
    /// Times it was entered.
    pub visits: u64,
    /// Rows of it that were kept.
    pub samples: u64,
    /// Time the kept rows stand for.
    pub kept_seconds: TimeSpan,
    /// Lambda of the kept rows (of a tip-in or overrun: of all rows with a valid reading).
    pub lambda: Option<Spread>,
    /// Median vacuum of the kept rows.
    pub vacuum: Option<Vacuum>,
    /// Median speed of the kept rows.
    pub speed: Option<EngineSpeed>,
    /// Median air flow of the kept rows; needs the engine's displacement, or a flow meter.
    pub air_flow: Option<MassFlow>,
    /// Share of the kept rows with the vacuum below the enrichment opening; needs the carburetor.
    pub enriched: Option<Fraction>,
    /// Counts behind the figures, so that logs can be added up.
    pub counts: RegimeCounts,
}

/// The counts behind a regime's figures.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct RegimeCounts {
    /// Lambda, by 0.001.
    pub lambda: Histogram,
    /// Vacuum, by 0.1 inHg.
    pub vacuum: Histogram,
    /// Speed, by 10 rpm.
    pub speed: Histogram,
    /// Air flow, by 0.25 g/s.
    pub air_flow: Histogram,
    /// Kept rows below the enrichment opening.
    pub enriched: u64,
    /// Kept rows for which it could be told.
    pub enriched_of: u64,
}

/// A cell of the carburetor's own axes: share of the rated air flow by manifold vacuum, in one regime.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Station {
    /// The regime of its rows.
    pub regime: Regime,
    /// Lower edge of its air flow, as a share of the carburetor's rating.
    pub air_flow_share_low: Fraction,
    /// Upper edge.
    pub air_flow_share_high: Fraction,
    /// Lower edge of its vacuum.
    pub vacuum_low: Vacuum,
    /// Upper edge.
    pub vacuum_high: Vacuum,
    /// Lambda of its kept rows.
    pub lambda: Spread,
    /// Mean engine speed of its kept rows.
    pub speed: EngineSpeed,
    /// Mean vacuum of its kept rows.
    pub vacuum: Vacuum,
    /// Mean air flow of its kept rows; needs the engine's displacement, or a flow meter.
    pub air_flow: Option<MassFlow>,
    /// Time its kept rows stand for.
    pub seconds: TimeSpan,
    /// Times it was entered.
    pub visits: u64,
    /// Enough samples and visits to rest a change on (20 samples and 3 visits, common practice).
    pub enough: bool,
    /// Counts behind the figures.
    pub counts: StationCounts,
}

/// The counts behind a station's figures, in whole numbers so that sums come out the same in any order.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct StationCounts {
    /// Lambda, by 0.001.
    pub lambda: Histogram,
    /// Sum of speeds, in rpm.
    pub speed_rpm: u64,
    /// Sum of vacuums, in hundredths of an inHg.
    pub vacuum_centi_inhg: i64,
    /// Sum of air flows, in mg/s.
    pub air_flow_mg_s: u64,
    /// Rows by temperature of the air breathed, in tenths of a degree C; empty when it is not logged.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub by_air: BTreeMap<i16, InAir>,
}

/// Rows of a station with air of about one temperature.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct InAir {
    /// How many.
    pub rows: u64,
    /// Sum of their lambda, in thousandths.
    pub milli_lambda: u64,
}

/// How far the lambda readings can be believed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SensorQuality {
    /// The setup says it is trusted; `None` without a setup or a sensor in it.
    pub vouched: Option<bool>,
    /// Rows with the sensor pinned.
    pub stuck: u64,
    /// Rows with it at or beyond its range.
    pub out_of_range: u64,
    /// Rows without a reading.
    pub missing: u64,
    /// Share of running rows with a believable reading.
    pub believable: Option<Fraction>,
    /// Distance between the tenth and ninetieth percentile at steady cruise.
    pub cruise_noise: Option<Lambda>,
    /// At idle the lambda only witnesses: overlap or spread make it read lean.
    pub idle_witness_only: bool,
    /// Difference between the banks (second less first), median.
    pub bank_difference: Option<Lambda>,
    /// Rows with the engine running.
    pub running: u64,
    /// Those of them with a believable reading.
    pub believed: u64,
    /// The cam overlaps more than 15 degrees: fresh air passes through at idle and reads lean.
    pub much_overlap: bool,
    /// Counts behind the difference between the banks, by 0.001.
    pub bank_counts: Histogram,
}

/// Something worth saying about the log itself, in words.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Note {
    /// A short name.
    pub name: String,
    /// The sentence.
    pub what: String,
}

/// What a log says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TraceSummary {
    /// Rows of readings, used or set aside.
    pub rows: u64,
    /// Where every line went.
    pub lines: LineCounts,
    /// The first faults of each kind, with their place.
    pub faults: Vec<Fault>,
    /// How many of each kind there were.
    pub fault_counts: BTreeMap<FaultKind, u64>,
    /// Rows that went into stations.
    pub kept: u64,
    /// Rows that did not, by reason.
    pub dropped: BTreeMap<Dropped, u64>,
    /// First time of the log.
    pub start: Option<TimeSpan>,
    /// Last time of the log.
    pub end: Option<TimeSpan>,
    /// Time covered, holes left out.
    pub seconds: TimeSpan,
    /// Time with the engine standing or cranked, or not to be told.
    pub stopped_seconds: TimeSpan,
    /// Where the throttle stands on its stop, when it is logged.
    pub throttle_closed: Option<Fraction>,
    /// Usual time between rows.
    pub period: Option<TimeSpan>,
    /// Regimes met, lightest load first.
    pub regimes: Vec<RegimeSummary>,
    /// Stations met, in order of regime, air flow and vacuum.
    pub stations: Vec<Station>,
    /// What the air-flow share is a share of.
    pub share_of: ShareOf,
    /// How late lambda was taken to be.
    pub delay: DelayUsed,
    /// Quick openings, the leanest first when there are many.
    pub tip_ins: Vec<TipIn>,
    /// How many there were.
    pub tip_in_count: u64,
    /// Runs at full throttle, the leanest first when there are many.
    pub pulls: Vec<Pull>,
    /// How many there were.
    pub pull_count: u64,
    /// Things that happened, by kind and time.
    pub events: Vec<Event>,
    /// How many of each kind there were.
    pub event_counts: BTreeMap<super::events::EventKind, u64>,
    /// How far the lambda readings can be believed.
    pub sensor: SensorQuality,
    /// What else is worth saying.
    pub notes: Vec<Note>,
}

/// What the air-flow share of a station is a share of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShareOf {
    /// The carburetor's rated flow, from the setup.
    Rating,
    /// Speed times manifold pressure, as a share of 6000 rpm at 100 kPa: no setup was given.
    SpeedDensity,
}

impl TraceSummary {
    /// Of no log at all: adding it changes nothing.
    pub fn empty() -> Self {
        let nothing = TimeSpan::ZERO;
        Self {
            rows: 0,
            lines: LineCounts::default(),
            faults: Vec::new(),
            fault_counts: BTreeMap::new(),
            kept: 0,
            dropped: BTreeMap::new(),
            start: None,
            end: None,
            seconds: nothing,
            stopped_seconds: nothing,
            throttle_closed: None,
            period: None,
            regimes: Vec::new(),
            stations: Vec::new(),
            share_of: ShareOf::Rating,
            delay: DelayUsed {
                source: super::delay::DelaySource::Typical,
                at_idle: nothing,
                at_cruise: nothing,
                at_full_throttle: nothing,
                uncertainty: nothing,
                transients: 0,
                rows: 0,
            },
            tip_ins: Vec::new(),
            tip_in_count: 0,
            pulls: Vec::new(),
            pull_count: 0,
            events: Vec::new(),
            event_counts: BTreeMap::new(),
            sensor: SensorQuality::default(),
            notes: Vec::new(),
        }
    }

    /// A regime's summary, when the log has it.
    pub fn regime(&self, regime: Regime) -> Option<&RegimeSummary> {
        self.regimes.iter().find(|r| r.regime == regime)
    }
}

/// A time in whole sixty-fourths of a second: sums of such are exact, in any order.
pub(super) fn whole_64ths(seconds: f64) -> TimeSpan {
    TimeSpan::from_s((seconds * 64.0).round() / 64.0)
}
