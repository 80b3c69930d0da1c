//! Things that happen in a log and that a symptom is read from.

use crate::units::{EngineSpeed, Lambda, TimeSpan};
use serde::{Deserialize, Serialize};

/// A kind of happening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EventKind {
    /// Lean and sagging just off idle.
    Stumble,
    /// Speed swings slowly at steady throttle, lean.
    Surge,
    /// Speed and throttle swing against each other.
    Hunting,
    /// Speed stays up after the throttle has shut, at high vacuum.
    HangingIdle,
    /// Speed falls away when a load comes on at idle.
    LoadStall,
    /// Speed dives under idle after a hard stop.
    StopDip,
    /// Vacuum and lambda sink through a long idle.
    LoadingUp,
    /// Rich in the first seconds after a restart.
    FloodedRestart,
    /// The same after the engine has stood hot for a while.
    HotFlood,
    /// Speed takes long to die away from idle.
    RunOn,
    /// Lambda steps, or the engine dies, in a turn to the side a logger calls positive.
    SloshPlus,
    /// The same to the other side.
    SloshMinus,
    /// The same under braking.
    SloshBraking,
    /// Rich, or dying, out of level.
    RichOnSlope,
    /// Speed sinks with the throttle still, mixture going rich: ice.
    Icing,
    /// Lambda drifts lean at steady throttle while fuel pressure sinks.
    PressureSag,
}

impl EventKind {
    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            EventKind::Stumble => "stumble",
            EventKind::Surge => "surge",
            EventKind::Hunting => "hunting",
            EventKind::HangingIdle => "hanging-idle",
            EventKind::LoadStall => "load-stall",
            EventKind::StopDip => "stop-dip",
            EventKind::LoadingUp => "loading-up",
            EventKind::FloodedRestart => "flooded-restart",
            EventKind::HotFlood => "hot-flood",
            EventKind::RunOn => "run-on",
            EventKind::SloshPlus => "slosh-plus",
            EventKind::SloshMinus => "slosh-minus",
            EventKind::SloshBraking => "slosh-braking",
            EventKind::RichOnSlope => "rich-on-slope",
            EventKind::Icing => "icing",
            EventKind::PressureSag => "pressure-sag",
        }
    }
}

/// One happening.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// Which kind.
    pub kind: EventKind,
    /// When it began, by the log's clock.
    pub start: TimeSpan,
    /// How long it lasted.
    pub seconds: TimeSpan,
    /// Lambda there, when it matters.
    pub lambda: Option<Lambda>,
    /// Speed there (a sag, a swing, a height above idle), when it matters.
    pub speed: Option<EngineSpeed>,
}

/// Happenings of a kind that are kept with their time; the rest are only counted.
pub(super) const LISTED_OF_A_KIND: usize = 50;

mod attitude_events;
mod blocks;
mod idle_events;
mod running_events;
mod stop_events;
#[cfg(test)]
mod tests;

use super::sample::Sample;
use super::segment::Borders;
use crate::setup::Regime;
use blocks::Blocks;
use std::collections::BTreeMap;

/// Watches for happenings, in quarter-second means.
#[derive(Debug)]
pub(super) struct Happenings {
    blocks: Blocks,
    idle: idle_events::IdleEvents,
    running: running_events::RunningEvents,
    stopping: stop_events::StopEvents,
    attitude: attitude_events::AttitudeEvents,
}

/// Where happenings go.
pub(super) struct Into<'a> {
    events: &'a mut Vec<Event>,
    counts: &'a mut BTreeMap<EventKind, u64>,
}

impl Into<'_> {
    fn note(
        &mut self,
        kind: EventKind,
        from_s: f64,
        seconds: f64,
        lambda: Option<f64>,
        speed_rpm: Option<f64>,
    ) {
        let count = self.counts.entry(kind).or_default();
        *count += 1;
        if *count <= LISTED_OF_A_KIND as u64 {
            self.events.push(Event {
                kind,
                start: TimeSpan::from_s(from_s),
                seconds: TimeSpan::from_s(seconds),
                lambda: lambda.filter(|l| l.is_finite()).map(Lambda::from_ratio),
                speed: speed_rpm.filter(|l| l.is_finite()).map(EngineSpeed::from_rpm),
            });
        }
    }
}

impl Happenings {
    /// With the borders of this engine.
    pub(super) fn new(borders: Borders) -> Self {
        Self {
            blocks: Blocks::default(),
            idle: idle_events::IdleEvents::new(borders),
            running: running_events::RunningEvents::new(),
            stopping: stop_events::StopEvents::new(borders),
            attitude: attitude_events::AttitudeEvents::default(),
        }
    }

    /// Takes the next row, with its own lambda (NaN when that is not believable).
    #[inline]
    pub(super) fn push(
        &mut self,
        s: &Sample,
        regime: Option<Regime>,
        lambda: f64,
        events: &mut Vec<Event>,
        counts: &mut BTreeMap<EventKind, u64>,
    ) {
        if let Some(block) = self.blocks.push(s, regime, lambda) {
            let mut into = Into { events, counts };
            self.idle.push(&block, &mut into);
            self.running.push(&block, &mut into);
            self.stopping.push(&block, &mut into);
            self.attitude.push(&block, &mut into);
        }
    }

    /// The log breaks off.
    pub(super) fn end(&mut self, events: &mut Vec<Event>, counts: &mut BTreeMap<EventKind, u64>) {
        let mut into = Into { events, counts };
        if let Some(block) = self.blocks.close() {
            self.idle.push(&block, &mut into);
            self.running.push(&block, &mut into);
            self.stopping.push(&block, &mut into);
            self.attitude.push(&block, &mut into);
        }
        self.idle.end(&mut into);
        self.running.end(&mut into);
        self.stopping.end(&mut into);
        self.attitude.end(&mut into);
    }
}
