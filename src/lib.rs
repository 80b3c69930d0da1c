//! The map of the house. Rooms are listed from the ground up; a room imports only rooms below it, and
//! `tests/layers.rs` holds that.
//!
//! Eight rooms are pure: no file, no device, no clock, no terminal.
//!
//! | room | holds |
//! |---|---|
//! | [`units`] | quantities with their units in their types |
//! | [`numeric`] | robust statistics, solvers, fits, seeded chance |
//! | [`setup`] | what a job is about: engine, carburetor, parts, fuel, instruments |
//! | [`physics`] | air, fuel, cam, breathing, throttle and metering |
//! | [`rules`] | the trade's rules: idle aims, sizing, enrichment, targets, limits, the mixture search |
//! | [`trace`] | logs: bytes in; rows, faults, regimes and stations out |
//! | [`analysis`] | traces held against physics and rules: findings, advice, pulls, comparisons |
//! | [`procedure`] | the guided procedure: state, events, requests |
//!
//! Five touch the outside: [`session`] and [`profile`] files, [`mod@bench`] devices and time, [`cli`] the terminal;
//! [`report`] only writes into strings.

pub mod analysis;
pub mod bench;
pub mod cli;
pub mod numeric;
pub mod physics;
pub mod procedure;
pub mod profile;
pub mod report;
pub mod rules;
pub mod session;
pub mod setup;
pub mod trace;
pub mod units;
