//! A line that has not ended: rows as they come, and what has to be said at once.

mod meter;
mod monitor;
mod rows;
#[cfg(test)]
mod tests;
mod trail;

pub use meter::{Lack, Meter};
pub use monitor::{AlarmLevel, Alarms, Monitor, Say};
pub use rows::{Garbled, LiveReader, LiveRow};
pub use trail::Trail;
