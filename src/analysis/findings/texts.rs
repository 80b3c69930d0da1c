//! What is said of each symptom (common practice throughout; a blow-through of one layer at a time).

mod bowl;
mod idle;
mod load;
mod way;

use super::Layer;
use bowl::at_the_bowl;
use idle::at_idle_and_everywhere;
use load::at_load;
use serde::{Deserialize, Serialize};
use way::on_the_way;

/// A symptom that a log can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Symptom {
    /// Leaner at full throttle than the engine bears.
    LeanAtFullThrottle,
    /// Leaner along a pull while fuel pressure falls.
    Starvation,
    /// The sensor cannot be believed.
    SensorDoubtful,
    /// Lambda scatters at steady cruise.
    NoisyLambda,
    /// Lean idle, normal load.
    LeanIdleOnly,
    /// The banks differ.
    BanksDiffer,
    /// Fuel pressure sinks at a held throttle.
    PressureSags,
    /// Rich in the seconds after a restart.
    FloodedRestart,
    /// The same after standing hot.
    HotFlood,
    /// Steps in turns or under braking.
    Slosh,
    /// Rich or dying out of level.
    RichOnSlope,
    /// Lean when the air under the hood is hot.
    LeanWhenHot,
    /// Rich everywhere.
    RichEverywhere,
    /// Ice.
    Ice,
    /// Idle stays up.
    HangingIdle,
    /// Dies when a load comes on.
    DiesInGear,
    /// Dips after a stop.
    DipsAfterStop,
    /// Loads up.
    LoadsUp,
    /// Rich idle.
    RichIdle,
    /// Idle too fast.
    FastIdle,
    /// Runs on.
    RunOn,
    /// Less vacuum at idle than this cam makes.
    LowIdleVacuum,
    /// Lean idle with the screws far out.
    BlockedIdle,
    /// Lean on overrun.
    LeanOverrun,
    /// Stumble off idle.
    Stumble,
    /// Flat and rich off idle.
    RichOffIdle,
    /// Lean bog.
    LeanBog,
    /// Rich bog.
    RichBog,
    /// Bog when the secondaries open.
    SecondaryBog,
    /// Surge.
    Surge,
    /// Governor hunts.
    Hunting,
    /// Lean at steady running.
    LeanSteady,
    /// Rich cruise.
    RichCruise,
    /// Enrichment opens and shuts at cruise.
    EnrichmentToggles,
    /// Lean only with load.
    LeanWithLoad,
    /// Rich only with load.
    RichWithLoad,
    /// Leaner along a pull, pressure not falling.
    LeanerWithSpeed,
    /// Richer along a pull.
    RicherWithSpeed,
    /// Vacuum left at full throttle.
    VacuumAtFullThrottle,
}

/// What is said of a symptom.
#[derive(Debug, Clone, Copy)]
pub struct Words {
    /// Where it is looked for.
    pub layer: Layer,
    /// What it is.
    pub what: &'static str,
    /// Likely causes, likeliest first.
    pub causes: &'static [&'static str],
    /// The check that tells them apart.
    pub check: &'static str,
    /// What not to change before that.
    pub not_yet: &'static str,
}

const fn say(
    layer: Layer,
    what: &'static str,
    causes: &'static [&'static str],
    check: &'static str,
    not_yet: &'static str,
) -> Words {
    Words { layer, what, causes, check, not_yet }
}

impl Symptom {
    /// All of them.
    pub const ALL: [Symptom; 39] = [
        Symptom::LeanAtFullThrottle,
        Symptom::Starvation,
        Symptom::SensorDoubtful,
        Symptom::NoisyLambda,
        Symptom::LeanIdleOnly,
        Symptom::BanksDiffer,
        Symptom::PressureSags,
        Symptom::FloodedRestart,
        Symptom::HotFlood,
        Symptom::Slosh,
        Symptom::RichOnSlope,
        Symptom::LeanWhenHot,
        Symptom::RichEverywhere,
        Symptom::Ice,
        Symptom::HangingIdle,
        Symptom::DiesInGear,
        Symptom::DipsAfterStop,
        Symptom::LoadsUp,
        Symptom::RichIdle,
        Symptom::FastIdle,
        Symptom::RunOn,
        Symptom::LowIdleVacuum,
        Symptom::BlockedIdle,
        Symptom::LeanOverrun,
        Symptom::Stumble,
        Symptom::RichOffIdle,
        Symptom::LeanBog,
        Symptom::RichBog,
        Symptom::SecondaryBog,
        Symptom::Surge,
        Symptom::Hunting,
        Symptom::LeanSteady,
        Symptom::RichCruise,
        Symptom::EnrichmentToggles,
        Symptom::LeanWithLoad,
        Symptom::RichWithLoad,
        Symptom::LeanerWithSpeed,
        Symptom::RicherWithSpeed,
        Symptom::VacuumAtFullThrottle,
    ];

    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Symptom::LeanAtFullThrottle => "lean-at-full-throttle",
            Symptom::Starvation => "starvation",
            Symptom::SensorDoubtful => "sensor-doubtful",
            Symptom::NoisyLambda => "noisy-lambda",
            Symptom::LeanIdleOnly => "lean-idle-only",
            Symptom::BanksDiffer => "banks-differ",
            Symptom::PressureSags => "pressure-sags",
            Symptom::FloodedRestart => "flooded-restart",
            Symptom::HotFlood => "hot-flood",
            Symptom::Slosh => "slosh",
            Symptom::RichOnSlope => "rich-on-slope",
            Symptom::LeanWhenHot => "lean-when-hot",
            Symptom::RichEverywhere => "rich-everywhere",
            Symptom::Ice => "ice",
            Symptom::HangingIdle => "hanging-idle",
            Symptom::DiesInGear => "dies-in-gear",
            Symptom::DipsAfterStop => "dips-after-stop",
            Symptom::LoadsUp => "loads-up",
            Symptom::RichIdle => "rich-idle",
            Symptom::FastIdle => "fast-idle",
            Symptom::RunOn => "runs-on",
            Symptom::LowIdleVacuum => "low-idle-vacuum",
            Symptom::BlockedIdle => "blocked-idle",
            Symptom::LeanOverrun => "lean-overrun",
            Symptom::Stumble => "stumble",
            Symptom::RichOffIdle => "rich-off-idle",
            Symptom::LeanBog => "lean-bog",
            Symptom::RichBog => "rich-bog",
            Symptom::SecondaryBog => "secondary-bog",
            Symptom::Surge => "surge",
            Symptom::Hunting => "hunting",
            Symptom::LeanSteady => "lean-steady",
            Symptom::RichCruise => "rich-cruise",
            Symptom::EnrichmentToggles => "enrichment-toggles",
            Symptom::LeanWithLoad => "lean-with-load",
            Symptom::RichWithLoad => "rich-with-load",
            Symptom::LeanerWithSpeed => "leaner-with-speed",
            Symptom::RicherWithSpeed => "richer-with-speed",
            Symptom::VacuumAtFullThrottle => "vacuum-at-full-throttle",
        }
    }

    /// What is said of it.
    pub const fn words(self) -> Words {
        match self {
            Symptom::LeanAtFullThrottle
            | Symptom::Starvation
            | Symptom::LeanWithLoad
            | Symptom::RichWithLoad
            | Symptom::LeanerWithSpeed
            | Symptom::RicherWithSpeed
            | Symptom::VacuumAtFullThrottle
            | Symptom::PressureSags => at_load(self),
            Symptom::Stumble
            | Symptom::RichOffIdle
            | Symptom::LeanBog
            | Symptom::RichBog
            | Symptom::SecondaryBog
            | Symptom::Surge
            | Symptom::Hunting
            | Symptom::LeanSteady
            | Symptom::RichCruise
            | Symptom::EnrichmentToggles => on_the_way(self),
            Symptom::HotFlood
            | Symptom::FloodedRestart
            | Symptom::Slosh
            | Symptom::RichOnSlope
            | Symptom::LeanWhenHot
            | Symptom::RunOn => at_the_bowl(self),
            _ => at_idle_and_everywhere(self),
        }
    }
}
