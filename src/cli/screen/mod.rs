//! The live screen: one large number, its target and trend, what to do next and what is still missing.
//!
//! What is shown is plain data ([`Screen`]); readings are folded into it ([`Gauges`]); drawing it is a pure function
//! of it ([`render`]). Only [`show`] and [`leave_screen`] touch the terminal.

mod abort;
mod feed;
mod gauges;
mod glyphs;
mod next;
mod render;
mod run;
mod state;
mod terminal;
#[cfg(test)]
mod tests;

pub use feed::{Fed, Feed};
pub use gauges::{Aims, Gauge, Gauges, Task};
pub use render::{Look, render};
pub use run::{Left, show};
pub use state::{BigNumber, Danger, Screen, Sound, Trend, Way};
pub use terminal::{Paused, leave_screen, pause_screen};
