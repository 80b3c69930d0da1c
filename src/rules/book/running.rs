//! Numbers of the idle mixture, of gear and of the needle.

use super::Span;
use crate::units::{EngineSpeed, PressureDifference, Turns};
use serde::{Deserialize, Serialize};

/// How mixture screws are arranged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Arrangement {
    /// A screw for each of four barrels.
    FourCorner,
    /// Two screws.
    TwoScrew,
    /// Two screws on a marine four-barrel.
    MarineFourBarrel,
    /// One screw.
    Single,
}

/// Where to start the screws.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StartRow {
    /// For which arrangement.
    pub arrangement: Arrangement,
    /// Turns out from lightly seated.
    pub start: Turns,
    /// Fewest that make sense.
    pub low: Turns,
    /// Most that make sense.
    pub high: Turns,
    /// Who says so.
    pub source: String,
}

/// Turns out to start with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StartTurnsNumbers {
    /// By arrangement.
    pub row: Vec<StartRow>,
}

/// From neutral into gear.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InGearNumbers {
    /// Fall of speed with a mild cam.
    pub fall_mild: Span<EngineSpeed>,
    /// Fall of speed with a big cam and a converter that suits it.
    pub fall_big_cam: Span<EngineSpeed>,
    /// A fall beyond this is diagnosed, not tuned around.
    pub stop_fall: EngineSpeed,
    /// A speed in gear below this too.
    pub stop_below: EngineSpeed,
    /// The same for trucks.
    pub truck_stop_below: EngineSpeed,
    /// Fall of vacuum with a mild cam.
    pub vacuum_fall_mild: Span<PressureDifference>,
    /// Fall of vacuum with a big cam.
    pub vacuum_fall_big_cam: Span<PressureDifference>,
    /// How far vacuum in gear must stay above the enrichment opening.
    pub above_enrichment: PressureDifference,
}

/// How the idle mixture is left.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FinishNumbers {
    /// Out from the leanest point that holds the top.
    pub rich_allowance: Turns,
    /// Fall of speed of a lean-drop finish.
    pub lean_drop: EngineSpeed,
    /// Screws of one pair end within this.
    pub pair_within: Turns,
    /// All screws end within this.
    pub all_within: Turns,
}

/// The five things a needle does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
    /// Stands still.
    Steady,
    /// Wanders slowly.
    SlowDrift,
    /// Dips evenly.
    RegularDips,
    /// Flicks now and then.
    OddFlick,
    /// Shakes fast.
    FastShake,
}

impl Word {
    /// All of them.
    pub const ALL: [Word; 5] =
        [Word::Steady, Word::SlowDrift, Word::RegularDips, Word::OddFlick, Word::FastShake];

    /// In a sentence.
    pub const fn said(self) -> &'static str {
        match self {
            Word::Steady => "steady",
            Word::SlowDrift => "slow drift",
            Word::RegularDips => "regular dips",
            Word::OddFlick => "odd flick",
            Word::FastShake => "fast shake",
        }
    }
}

/// One reading of the needle and what it points to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeedleRow {
    /// What the needle does.
    pub word: Word,
    /// How far below the normal band it must stand; anywhere when left out.
    pub short_of_normal: Option<Span<PressureDifference>>,
    /// What it points to.
    pub likely: String,
    /// What to look at next.
    pub check: String,
    /// Who says so.
    pub source: String,
}

/// What the needle says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeedleNumbers {
    /// A needle that moves less than this is steady.
    pub steady_within: PressureDifference,
    /// The table, likeliest first.
    pub row: Vec<NeedleRow>,
}
