//! What the person (or rig, or virtual engine) is asked, and what comes back: plain data, no text layout.

use super::plan::Step;
use crate::analysis::verdict::Settings;
use crate::rules::balance::Reading;
use crate::setup::{PartPath, PartSize, Regime};
use crate::units::{EngineSpeed, PressureDifference, Turns};
use serde::{Deserialize, Serialize};

use super::event::LogTaken;

/// How loudly something is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Good to know.
    Note,
    /// To be careful with.
    Caution,
    /// To act on at once.
    Danger,
}

/// Something said that needs no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tell {
    /// What is said.
    pub text: String,
    /// How loudly.
    pub level: Level,
}

impl Tell {
    /// Something good to know.
    pub fn note(text: impl Into<String>) -> Tell {
        Tell { text: text.into(), level: Level::Note }
    }
    /// Something to be careful with.
    pub fn caution(text: impl Into<String>) -> Tell {
        Tell { text: text.into(), level: Level::Caution }
    }
    /// Something to act on at once.
    pub fn danger(text: impl Into<String>) -> Tell {
        Tell { text: text.into(), level: Level::Danger }
    }
}

/// An instrument that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Channel {
    /// Manifold vacuum.
    Vacuum,
    /// Engine speed.
    Speed,
    /// Lambda.
    Lambda,
    /// Coolant temperature.
    Coolant,
}

/// One choice on offer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Its name on the link and in the file.
    pub name: &'static str,
    /// What it means, in a few words.
    pub said: String,
}

/// What a value is measured in, so that a bare number can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ValueUnit {
    /// A vacuum.
    Vacuum,
    /// An absolute pressure.
    Pressure,
    /// A pressure on a gauge, such as fuel pressure.
    GaugePressure,
    /// A temperature.
    Temperature,
    /// A share in percent.
    Percent,
    /// Turns of a screw.
    Turns,
    /// A speed of the engine.
    Speed,
    /// A displacement.
    Displacement,
    /// A bore or other small length.
    Bore,
    /// An angle.
    Angle,
    /// An air flow.
    AirFlow,
    /// A plain count.
    Count,
}

/// The question itself.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// Yes or no.
    Confirm,
    /// One of several.
    Choose {
        /// What is on offer.
        options: Vec<Choice>,
        /// Which is taken on Enter.
        default: usize,
    },
    /// A quantity.
    Value {
        /// What it is measured in.
        unit: ValueUnit,
        /// What Enter gives.
        default: Option<String>,
        /// An instrument is read for it: a default that is only kept is an assumption.
        measured: bool,
    },
    /// Turn mixture screws (from one), all by the same amount, outward positive.
    Turn {
        /// Which.
        screws: Vec<u8>,
        /// How far.
        by: Turns,
    },
    /// Bring the idle speed to this with the idle-speed screw.
    IdleSpeed {
        /// To this speed.
        toward: EngineSpeed,
        /// How far, when the tool has learned what a turn is worth; positive speeds up.
        by: Option<Turns>,
    },
    /// Read the gauges.
    Reading {
        /// Which gauges.
        channels: Vec<Channel>,
        /// Distance between two marks of the vacuum gauge, for the prompt.
        mark: PressureDifference,
    },
    /// Change a part.
    Change {
        /// Which.
        part: PartPath,
        /// What is in it.
        from: PartSize,
        /// What to put in.
        to: PartSize,
    },
    /// Log the engine, live or from a file.
    Log {
        /// What each regime still lacks.
        lacks: Vec<(Regime, crate::units::TimeSpan)>,
    },
}

/// One thing asked, with why and what to watch out for.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The step it belongs to.
    pub step: Step,
    /// Its name: the same question always has the same name.
    pub name: String,
    /// What to do, in one or two sentences.
    pub say: String,
    /// Why it is asked.
    pub why: String,
    /// The question.
    pub ask: Ask,
}

/// What came back.
#[derive(Debug, Clone, PartialEq)]
pub enum Input {
    /// Done as asked.
    Done,
    /// Turned, but by this much.
    TurnedBy(Turns),
    /// Gauges read.
    Reading(Reading),
    /// A value, as typed.
    Value(String),
    /// The value that was shown was kept without a word.
    Kept,
    /// Yes or no.
    Yes(bool),
    /// A choice, by name.
    Choice(String),
    /// A log was taken.
    Log(Box<LogTaken>),
    /// Another size was fitted than the one asked for.
    Fitted(PartSize),
    /// It stalled, and was started again with the screws where they are.
    Stalled,
    /// There is no such thing here; go on without it.
    Cannot(String),
    /// Take back the last answer.
    Undo,
    /// Write this down.
    Note(String),
    /// These were set so: timing, a spacer, a part by its path.
    Set(Settings),
    /// Leave this step out, for this reason.
    Skip(String),
    /// Come back later.
    Pause,
    /// End the session here.
    Stop,
    /// Something is wrong: end at once.
    Emergency(String),
}

/// An input that does not fit what was asked; nothing was recorded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Refusal(pub String);
