//! What goes into the search and what comes out of it.

use crate::units::{EngineSpeed, Lambda, PressureDifference, Temperature, Turns, Vacuum};
use serde::{Deserialize, Serialize};

/// Where to leave the screws once the top is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finish {
    /// At the leanest point that still holds the top.
    Peak,
    /// Leaner, until the idle speed has fallen by this much.
    LeanDrop(EngineSpeed),
    /// Richer than the top by this much on each screw.
    Rich(Turns),
}

/// The screws as they stand when the search begins.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScrewSpec {
    /// Turns out from lightly seated, one for each screw.
    pub turns_out: Vec<Turns>,
    /// Turns from seated to falling out.
    pub range: Turns,
    /// Smallest turn a hand can set.
    pub mark: Turns,
    /// Turning out leans, because the screws meter air.
    pub meter_air: bool,
}

/// Everything the search is told beforehand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spec {
    /// The screws.
    pub screws: ScrewSpec,
    /// Distance between two marks of the vacuum gauge.
    pub gauge_mark: PressureDifference,
    /// Smallest step of the tachometer.
    pub speed_step: EngineSpeed,
    /// Curb idle to hold while searching, when there is one.
    pub idle_aim: Option<EngineSpeed>,
    /// Expected roughness: overlap at 0.050 in above about 15 degrees makes a lopey needle.
    pub lopey: bool,
    /// Where to leave the screws.
    pub finish: Finish,
    /// What an earlier search found, when something that acts on the idle mixture was changed since.
    pub before: Option<Before>,
}

/// What an earlier search of the same screws found: still a guide, no longer a fact.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Before {
    /// Each screw's own top, turns out.
    pub tops: Vec<Turns>,
    /// One standard deviation of each, as it was known then.
    pub unsure: Vec<Turns>,
}

/// One reading of the gauges with nothing being turned.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Manifold vacuum.
    pub vacuum: Vacuum,
    /// Engine speed, when there is a tachometer.
    pub speed: Option<EngineSpeed>,
    /// Lambda, a witness only.
    pub lambda: Option<Lambda>,
    /// Coolant, when known: a warming engine is recognised by it.
    pub coolant: Option<Temperature>,
}

impl Reading {
    /// What the gauges of an engine that has stopped show.
    pub const STOPPED: Reading =
        Reading { vacuum: Vacuum::ZERO, speed: Some(EngineSpeed::ZERO), lambda: None, coolant: None };

    /// A running engine makes some vacuum and turns.
    pub fn has_stopped(&self) -> bool {
        self.vacuum.as_inhg() < 0.3 || self.speed.is_some_and(|s| s.as_rpm() < 150.0)
    }
}

/// Something that happened, in order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Observation {
    /// Screws (counted from one) were turned by this much, outward positive, all by the same amount.
    Turned {
        /// Which.
        screws: Vec<u8>,
        /// How far: what was really done, which may differ from what was asked.
        by: Turns,
    },
    /// The gauges were read.
    Read(Reading),
    /// The idle-speed screw was moved to bring the speed back.
    Trimmed {
        /// The speed it was brought to, as read; `None` when it was not read.
        to: Option<EngineSpeed>,
    },
    /// The rig has no such thing as was asked; the search goes on without it.
    Cannot {
        /// What was asked: "speed", "trim", "turn 2".
        what: String,
    },
    /// The engine stalled and was started again with the screws where they are.
    Stalled,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Move {
    /// Turn these screws (counted from one), all by the same amount, outward positive.
    Turn {
        /// Which.
        screws: Vec<u8>,
        /// How far.
        by: Turns,
    },
    /// Read the gauges.
    Read,
    /// Bring the idle speed back with the idle-speed screw.
    TrimIdle {
        /// To this speed.
        toward: EngineSpeed,
    },
    /// Nothing left is worth the person's time.
    Done(Outcome),
}

/// How a search ended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// Turns out of each screw.
    pub turns_out: Vec<Turns>,
    /// Vacuum believed at that setting.
    pub vacuum: Vacuum,
    /// Turn commands given.
    pub moves: u32,
    /// Readings taken.
    pub readings: u32,
    /// Screws that do nothing.
    pub unresponsive: Vec<Unresponsive>,
    /// What the setting says about the engine, in words.
    pub remarks: Vec<String>,
}

/// A screw that does nothing, and what separates the causes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unresponsive {
    /// Which screw, from one.
    pub screw: u8,
    /// Likely causes, likeliest first, each with the test that tells it from the others.
    pub causes: Vec<(String, String)>,
}

/// What is thought of one screw.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ScrewBelief {
    /// Where it stands, turns out.
    pub stands: Turns,
    /// Where its own top is thought to be.
    pub top: Turns,
    /// One standard deviation of that.
    pub unsure: Turns,
    /// Chance (0 to 1) that it does nothing.
    pub dead: f64,
}

/// What is thought now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Belief {
    /// Each screw.
    pub screws: Vec<ScrewBelief>,
    /// Vacuum at the top.
    pub top: Vacuum,
    /// One standard deviation of that.
    pub top_unsure: PressureDifference,
    /// Vacuum still to be gained by going to where the top is thought to be.
    pub to_gain: PressureDifference,
    /// Moves still expected (turns and readings together).
    pub moves_left: u32,
    /// The engine is still warming, or drifting for another reason, by this much a minute of readings.
    pub drifting: Option<PressureDifference>,
}

/// The next move, why, and what is thought now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Decision {
    /// What to do.
    pub next: Move,
    /// Why, in one sentence a person can use.
    pub why: String,
    /// What is thought now; `None` before the first reading.
    pub belief: Option<Belief>,
}

#[cfg(test)]
impl Spec {
    /// Screws that stand alike, eighth marks, a common gauge, for tests.
    pub(super) fn plain(turns_out: f64, screws: usize) -> Self {
        Self {
            screws: ScrewSpec {
                turns_out: vec![Turns::from_turns(turns_out); screws],
                range: Turns::from_turns(4.0),
                mark: Turns::from_turns(0.125),
                meter_air: false,
            },
            gauge_mark: PressureDifference::from_inhg(0.5),
            speed_step: EngineSpeed::from_rpm(10.0),
            idle_aim: None,
            lopey: false,
            finish: Finish::Peak,
            before: None,
        }
    }
}
