//! Facts in the past tense: the only things that change a session.
//!
//! These types are also what a session file holds (see DEVELOPERS.md on changing the format): a kind, once
//! released, keeps its name and its fields; new fields have defaults; new facts get new kinds.

use super::plan::Step;
use crate::analysis::advise::Advice;
use crate::analysis::pulls::KeptPull;
use crate::analysis::verdict::{Rig, Settings};
use crate::rules::balance::{Decision, Reading};
use crate::setup::{PartPath, PartSize, Weather};
use crate::trace::TraceSummary;
use crate::units::{EngineSpeed, Turns};
use serde::{Deserialize, Serialize};

/// What was answered to a question of the plain kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// Yes or no.
    Yes(bool),
    /// A choice.
    Choice(String),
    /// A quantity, with its unit.
    Value(String),
    /// Gauges.
    Reading(Reading),
    /// Something was done.
    Done,
    /// There is no such thing here.
    Cannot(String),
}

/// One part changed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PartChange {
    /// Which.
    pub part: PartPath,
    /// From.
    pub from: PartSize,
    /// To.
    pub to: PartSize,
}

/// A log, read and summed up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LogTaken {
    /// The file or line it came from, as the person named it.
    pub source: String,
    /// The air it was taken in, when it was not the session's.
    pub weather: Option<Weather>,
    /// What it says.
    pub trace: TraceSummary,
}

/// A pull on the brake, the rollers or the road, read and summed up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PullTaken {
    /// The file it came from, as the person named it.
    pub source: String,
    /// What it was run on, when that was said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rig: Option<Rig>,
    /// Width of the bell its curves were smoothed with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub smoothing: Option<EngineSpeed>,
    /// What it says.
    pub pull: KeptPull,
}

/// Something that happened in a session after it was opened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "payload", rename_all = "kebab-case")]
pub enum Event {
    /// A question of the plain kind was answered.
    Answered {
        /// The question's name.
        name: String,
        /// The step it was asked in.
        step: Step,
        /// The answer.
        answer: Answer,
        /// It was questioned and stood by.
        #[serde(default)]
        surprising: bool,
        /// Nobody read it: the value shown was kept.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        assumed: bool,
    },
    /// An answer was surprising, and was asked for again.
    Questioned {
        /// The question's name.
        name: String,
        /// What was said about it.
        because: String,
    },
    /// The mixture search proposed its next move.
    Proposed(Box<Decision>),
    /// Mixture screws were turned.
    Turned {
        /// Which, from one.
        screws: Vec<u8>,
        /// How far it was really done, outward positive.
        by: Turns,
    },
    /// The gauges were read for the mixture search.
    MixtureRead {
        /// The reading.
        reading: Reading,
        /// It was questioned and stood by.
        #[serde(default)]
        surprising: bool,
    },
    /// The idle-speed screw was moved.
    IdleSpeedMoved {
        /// In which step.
        step: Step,
        /// Toward this speed.
        toward: EngineSpeed,
        /// How far, when said.
        by: Option<Turns>,
    },
    /// The rig has no such thing as the mixture search asked for.
    MixtureCannot {
        /// What.
        what: String,
    },
    /// The engine stalled during the mixture search and was started again.
    Stalled,
    /// A part was changed.
    PartChanged(PartChange),
    /// Something was set that is no part of the carburetor: timing, a spacer, plugs, an air cleaner.
    Set {
        /// In which step.
        step: Step,
        /// What, to what, in the person's own words.
        settings: Settings,
    },
    /// A log was taken.
    Logged(Box<LogTaken>),
    /// A pull was run.
    Pulled(Box<PullTaken>),
    /// The advisor gave its advice on the last log.
    Advised(Box<Advice>),
    /// Something was written down.
    Noted {
        /// In which step.
        step: Step,
        /// What.
        text: String,
    },
    /// A step was left out.
    Skipped {
        /// Which.
        step: Step,
        /// Why.
        reason: String,
    },
    /// The last answer was taken back.
    Undone,
    /// The person left, meaning to come back.
    Paused,
    /// The person ended the session.
    Stopped,
    /// Something was wrong and the session was ended at once.
    EmergencyStopped {
        /// What was wrong.
        why: String,
    },
    /// The procedure came to its end.
    Finished,
}

/// A kind of event this version does not know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownKind(pub String);

/// An event as a file holds it: a kind and a payload.
#[derive(Debug, Clone, PartialEq)]
pub struct FileEvent {
    /// Kind.
    pub kind: String,
    /// Payload; null where the kind says all.
    pub payload: serde_json::Value,
}

impl Event {
    /// The person caused it, so an undo can take it back.
    pub fn is_answer(&self) -> bool {
        matches!(
            self,
            Event::Answered { .. }
                | Event::Questioned { .. }
                | Event::Turned { .. }
                | Event::MixtureRead { .. }
                | Event::IdleSpeedMoved { .. }
                | Event::MixtureCannot { .. }
                | Event::Stalled
                | Event::PartChanged(_)
                | Event::Set { .. }
                | Event::Logged(_)
                | Event::Pulled(_)
                | Event::Skipped { .. }
        )
    }

    /// As a file holds it.
    pub fn to_file(&self) -> Result<FileEvent, serde_json::Error> {
        let serde_json::Value::Object(mut whole) = serde_json::to_value(self)? else {
            return Ok(FileEvent { kind: String::new(), payload: serde_json::Value::Null });
        };
        let kind = match whole.remove("kind") {
            Some(serde_json::Value::String(kind)) => kind,
            _ => String::new(),
        };
        Ok(FileEvent { kind, payload: whole.remove("payload").unwrap_or(serde_json::Value::Null) })
    }

    /// From a file; the outer failure is a damaged payload, the inner one a kind from a newer version.
    pub fn from_file(
        kind: &str,
        payload: &serde_json::Value,
    ) -> Result<Result<Event, UnknownKind>, serde_json::Error> {
        if !KINDS.contains(&kind) {
            return Ok(Err(UnknownKind(kind.to_owned())));
        }
        let whole = if payload.is_null() {
            serde_json::json!({ "kind": kind })
        } else {
            serde_json::json!({ "kind": kind, "payload": payload })
        };
        serde_json::from_value(whole).map(Ok)
    }
}

/// Every kind this version writes.
const KINDS: [&str; 20] = [
    "answered",
    "questioned",
    "proposed",
    "turned",
    "mixture-read",
    "idle-speed-moved",
    "mixture-cannot",
    "stalled",
    "part-changed",
    "set",
    "logged",
    "pulled",
    "advised",
    "noted",
    "skipped",
    "undone",
    "paused",
    "stopped",
    "emergency-stopped",
    "finished",
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Vacuum;

    fn examples() -> Vec<Event> {
        let reading = Reading {
            vacuum: Vacuum::from_inhg(14.5),
            speed: Some(EngineSpeed::from_rpm(760.0)),
            lambda: None,
            coolant: None,
        };
        vec![
            Event::Answered {
                name: "coolant".into(),
                step: Step::WarmUp,
                answer: Answer::Value("82 degC".into()),
                surprising: false,
                assumed: false,
            },
            Event::Answered {
                name: "barometer".into(),
                step: Step::Setup,
                answer: Answer::Value("101.3 kPa".into()),
                surprising: false,
                assumed: true,
            },
            Event::Questioned { name: "reading".into(), because: "too high".into() },
            Event::Turned { screws: vec![1, 2], by: Turns::from_turns(-0.125) },
            Event::MixtureRead { reading, surprising: true },
            Event::IdleSpeedMoved { step: Step::CurbIdle, toward: EngineSpeed::from_rpm(700.0), by: None },
            Event::MixtureCannot { what: "trim".into() },
            Event::Stalled,
            Event::Set {
                step: Step::Advice,
                settings: [("timing", "8 deg"), ("spacer", "1 in, open")]
                    .map(|(name, value)| (name.to_owned(), value.to_owned()))
                    .into(),
            },
            Event::Pulled(Box::new(PullTaken {
                source: "one.csv".into(),
                rig: Some(Rig::EngineDyno),
                smoothing: Some(EngineSpeed::from_rpm(60.0)),
                pull: KeptPull::specimen(),
            })),
            Event::Pulled(Box::new(PullTaken {
                source: "as earlier versions wrote it.csv".into(),
                rig: None,
                smoothing: None,
                pull: KeptPull::specimen(),
            })),
            Event::Noted { step: Step::Close, text: "ends \u{2028} here".into() },
            Event::Skipped { step: Step::InGear, reason: "on a stand".into() },
            Event::Undone,
            Event::Paused,
            Event::Stopped,
            Event::EmergencyStopped { why: "fuel on the manifold".into() },
            Event::Finished,
        ]
    }

    #[test]
    fn every_kind_survives_the_file() {
        for event in examples() {
            let there = event.to_file().unwrap();
            assert!(KINDS.contains(&there.kind.as_str()), "{}", there.kind);
            let back = Event::from_file(&there.kind, &there.payload).unwrap().unwrap();
            assert_eq!(back, event);
        }
    }

    #[test]
    fn an_answer_of_an_earlier_version_was_read_and_one_that_was_read_looks_as_it_did_then() {
        let then = serde_json::json!({
            "name": "barometer", "step": "setup", "answer": {"value": "101.3 kPa"}, "surprising": false
        });
        let event = Event::from_file("answered", &then).unwrap().unwrap();
        assert!(matches!(&event, Event::Answered { assumed: false, .. }));
        assert_eq!(event.to_file().unwrap().payload, then);
    }

    #[test]
    fn a_kind_from_the_future_is_not_damage() {
        assert_eq!(
            Event::from_file("levitated", &serde_json::json!({})).unwrap(),
            Err(UnknownKind("levitated".into()))
        );
        assert!(Event::from_file("turned", &serde_json::json!({"screws": "all"})).is_err());
    }
}
