//! The steps, in their order.

use serde::{Deserialize, Serialize};

/// A step of the procedure. What each needs before it opens is told by its own file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Step {
    /// Cautions acknowledged.
    Cautions,
    /// Engine, carburetor, fuel, instruments, today's air.
    Setup,
    /// Checks with the engine off.
    BeforeFirstStart,
    /// To operating temperature.
    WarmUp,
    /// The idle-speed screw, to the aim from the cam.
    CurbIdle,
    /// The mixture screws, to peak manifold vacuum.
    Mixture,
    /// In gear or under load.
    InGear,
    /// The opening point of the enrichment valve.
    EnrichmentCheck,
    /// A log of every regime.
    Logging,
    /// One change, then log again.
    Advice,
    /// Final readings and hand-over.
    Close,
}

impl Step {
    /// In order.
    pub const ALL: [Step; 11] = [
        Step::Cautions,
        Step::Setup,
        Step::BeforeFirstStart,
        Step::WarmUp,
        Step::CurbIdle,
        Step::Mixture,
        Step::InGear,
        Step::EnrichmentCheck,
        Step::Logging,
        Step::Advice,
        Step::Close,
    ];

    /// Counted from one.
    pub fn number(self) -> usize {
        Step::ALL.iter().position(|s| *s == self).map_or(0, |i| i + 1)
    }

    /// Its name in a heading.
    pub const fn said(self) -> &'static str {
        match self {
            Step::Cautions => "Cautions",
            Step::Setup => "The job",
            Step::BeforeFirstStart => "Before the engine runs",
            Step::WarmUp => "Warm-up",
            Step::CurbIdle => "Curb idle",
            Step::Mixture => "Mixture screws",
            Step::InGear => "In gear",
            Step::EnrichmentCheck => "Enrichment valve",
            Step::Logging => "Log",
            Step::Advice => "Advice",
            Step::Close => "Close",
        }
    }

    /// Its name in files and on the link.
    pub const fn name(self) -> &'static str {
        match self {
            Step::Cautions => "cautions",
            Step::Setup => "setup",
            Step::BeforeFirstStart => "before-first-start",
            Step::WarmUp => "warm-up",
            Step::CurbIdle => "curb-idle",
            Step::Mixture => "mixture",
            Step::InGear => "in-gear",
            Step::EnrichmentCheck => "enrichment-check",
            Step::Logging => "logging",
            Step::Advice => "advice",
            Step::Close => "close",
        }
    }

    /// What it is for, and what it leaves behind.
    pub const fn purpose(self) -> &'static str {
        match self {
            Step::Cautions => {
                "What can hurt people and things is read and met before anything is touched, in every session."
            }
            Step::Setup => {
                "Engine, carburetor, fuel, instruments and today's air: targets, limits and advice all follow from them. A setup \
                 file answers most of it beforehand; what varies from day to day is asked."
            }
            Step::BeforeFirstStart => {
                "With the engine off. A leak, a throttle that hangs or a needle in the wrong place is cheaper to find now than \
                 with the engine running."
            }
            Step::WarmUp => {
                "Mixture, speed and vacuum of a cold engine say nothing. Once hot it is read as found: everything after is held \
                 against that."
            }
            Step::CurbIdle => {
                "The idle-speed screw brings the speed to the aim that the cam asks for; what a turn of it is worth is learned from \
                 the first move. Mixture is set at the right speed, or the throttle plates uncover the wrong ports."
            }
            Step::Mixture => {
                "The mixture screws go to the top of the vacuum in few turns, are left as the use asks, and the idle speed is \
                 brought back once more."
            }
            Step::InGear => {
                "With an automatic, or a propeller on the shaft, the idle that counts is the one under load: how far speed and \
                 vacuum fall, and whether that leaves the enrichment valve shut. Other drives pass this by."
            }
            Step::EnrichmentCheck => {
                "Whether the valve opens where idle and cruise want it to. Jets read through a wrong valve mislead."
            }
            Step::Logging => {
                "A log of every regime under one set of parts, live or as a file; the tool says what each regime still lacks. \
                 Advice on jets rests on it, and without it none is given."
            }
            Step::Advice => {
                "One change at a time, each with an effect foretold that the next log holds it to, until the engine is inside its \
                 targets or the evidence says stop."
            }
            Step::Close => {
                "Final readings, everything back on and dry: what the engine is handed over at, and what the sheet says."
            }
        }
    }

    /// A step that guards people cannot be left out.
    pub const fn may_be_skipped(self) -> bool {
        !matches!(self, Step::Cautions)
    }
}
