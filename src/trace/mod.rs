//! Logs: bytes in; rows, located faults, regimes and stations out.
//!
//! One path for a file of any size and for a live line: a live line is a log that has not ended. Nothing here
//! owns a file, a device or a clock.

pub mod analyzer;
pub mod channel;
mod clock;
mod columns;
pub mod context;
mod course;
pub mod delay;
mod digits;
pub mod encoding;
pub mod events;
pub mod fault;
mod found;
mod gather;
pub mod guess;
mod header;
pub mod histogram;
mod layout;
mod learn;
pub mod live;
pub mod logger;
mod marks;
mod merge;
mod number;
mod pull;
mod quick;
mod reader;
mod rows;
mod runs;
mod sample;
mod segment;
pub mod settle;
mod split;
mod steady;
pub mod summary;
pub mod table;
mod tipin;
mod transients;
mod unit;

pub use analyzer::{Analyzer, Rows, Shape};
pub use channel::Channel;
pub use context::TraceContext;
pub use delay::{DelaySource, DelayUsed};
pub use encoding::Encoding;
pub use events::{Event, EventKind};
pub use fault::{Fault, FaultKind, TraceError};
pub use histogram::Histogram;
pub use logger::{ColumnMap, LoggerError, LoggerProfile};
pub use summary::{
    Dropped, InAir, LineCounts, Note, Pull, RegimeCounts, RegimeSummary, SensorQuality, ShareOf, Spread,
    Station, StationCounts, TipIn, TraceSummary,
};
