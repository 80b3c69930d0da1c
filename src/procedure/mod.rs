//! The guided procedure: a pure state machine fed by events.
//!
//! Three functions carry it, and the terminal, the link, the virtual engine, resume and replay all use the same
//! three: [`next`] says what is due, [`decide`] turns an input into events or a typed refusal, and
//! [`State::apply`] folds an event in. There is no clock and no file here; what is due follows from the facts
//! alone, so a session cut anywhere lands on the same question again.

mod ask;
mod decide;
mod event;
mod next;
mod outline;
mod plan;
mod plausible;
mod retell;
mod screw_search;
mod set;
mod state;
mod steps;
mod trials;

pub use ask::{Ask, Channel, Choice, Input, Level, Refusal, Request, Tell, ValueUnit};
pub use decide::decide;
pub use event::{Answer, Event, FileEvent, LogTaken, PartChange, PullTaken, UnknownKind};
pub use next::{Due, next};
pub use outline::{Asked, outline};
pub use plan::Step;
pub use retell::{Retelling, Retold};
pub use screw_search::ScrewSearch;
pub use set::{SettingChange, events as set_events, parse as parse_settings};
pub use state::{Damaged, Ending, IdleReading, Job, Outcome, State};
pub use steps::advice::{air_now, now as advice_now};
pub use trials::PullTrial;
