//! Numbers of the idle rules.

use super::Span;
use crate::units::{CrankAngle, EngineSpeed, PressureDifference, Vacuum, Volume};
use serde::{Deserialize, Serialize};

/// A point of the aim's curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IdleAnchor {
    /// Intake duration at 0.050 in.
    pub duration: CrankAngle,
    /// Idle aimed at.
    pub speed: EngineSpeed,
}

/// What cams up to a duration idle like.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IdleRow {
    /// For durations below this.
    pub below: CrankAngle,
    /// Slowest idle.
    pub low: EngineSpeed,
    /// Fastest idle.
    pub high: EngineSpeed,
    /// Least vacuum.
    pub vacuum_low: Vacuum,
    /// Most vacuum.
    pub vacuum_high: Vacuum,
    /// How it sounds.
    pub character: String,
}

/// A published idle speed of another kind of engine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IdleClass {
    /// Which kind: "small-industrial".
    pub kind: String,
    /// Aim.
    pub aim: EngineSpeed,
    /// Slowest.
    pub low: EngineSpeed,
    /// Fastest.
    pub high: EngineSpeed,
    /// Who says so.
    pub source: String,
}

/// Idle with a propeller engaged.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PropellerIdle {
    /// Slowest.
    pub low: EngineSpeed,
    /// Aim.
    pub aim: EngineSpeed,
    /// Accepted.
    pub high: EngineSpeed,
    /// Above this the shift mechanism suffers.
    pub too_fast: EngineSpeed,
    /// How much faster neutral is expected to be.
    pub neutral_above: EngineSpeed,
}

/// The straight-line seed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeedLine {
    /// Duration it passes through.
    pub at: CrankAngle,
    /// Speed there.
    pub speed: EngineSpeed,
    /// Rise for ten degrees.
    pub speed_for_ten_degrees: EngineSpeed,
}

/// Curb idle and its vacuum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IdleNumbers {
    /// Displacement a cylinder of the engine the table is for.
    pub reference_cylinder: Volume,
    /// Duration that ten per cent of displacement a cylinder is worth.
    pub duration_for_ten_percent: CrankAngle,
    /// The most the displacement may shift the duration.
    pub most_duration_shift: CrankAngle,
    /// A cam of the table overlaps by its duration less this.
    pub reference_overlap_at: CrankAngle,
    /// Vacuum lost to ten degrees more of overlap than the table's cam has.
    pub vacuum_for_ten_degrees_overlap: PressureDifference,
    /// Overlap beyond which lambda at idle is a witness only.
    pub rough_overlap: CrankAngle,
    /// How much lower a gauge reads on an open plenum or individual throats.
    pub open_plenum_reads_lower: Span<PressureDifference>,
    /// No aim is below this.
    pub lowest: EngineSpeed,
    /// No aim is above this.
    pub highest: EngineSpeed,
    /// How close to a maker's figure counts as on it.
    pub maker_tolerance: EngineSpeed,
    /// Initial timing below which timing comes before mixture.
    pub timing_at_least: CrankAngle,
    /// Vacuum for full assistance of vacuum brakes.
    pub brakes_full_assist: Vacuum,
    /// Vacuum below which brakes need a reservoir or a pump.
    pub brakes_need_help_below: Vacuum,
    /// In gear, an automatic is set this far below the low end of the row.
    pub automatic_below_row: EngineSpeed,
    /// With a propeller engaged.
    pub propeller: PropellerIdle,
    /// The straight-line seed, shown beside the aim.
    pub seed: SeedLine,
    /// The aim's curve, by rising duration.
    pub anchor: Vec<IdleAnchor>,
    /// The table, by rising duration.
    pub row: Vec<IdleRow>,
    /// Other kinds of engine.
    pub class: Vec<IdleClass>,
}

impl IdleNumbers {
    pub(super) fn flaw(&self) -> Option<String> {
        if self.anchor.len() < 2 || !self.anchor.is_sorted_by(|a, b| a.duration < b.duration) {
            return Some("idle.anchor needs two points or more, by rising duration".to_owned());
        }
        if self.row.is_empty() || !self.row.is_sorted_by(|a, b| a.below < b.below) {
            return Some("idle.row needs a row or more, by rising duration".to_owned());
        }
        let crossed = self.row.iter().find(|r| r.low > r.high || r.vacuum_low > r.vacuum_high);
        if let Some(row) = crossed {
            return Some(format!("idle.row below {:?} has a low above its high", row.below));
        }
        (self.reference_cylinder <= Volume::ZERO || self.lowest > self.highest)
            .then(|| "idle needs a positive reference_cylinder and a lowest not above its highest".to_owned())
    }
}
