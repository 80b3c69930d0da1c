//! From a table as written to what it describes: one file for each kind of profile.

pub(super) mod carburetor;
pub(super) mod engine;
pub(super) mod fuel;
pub(super) mod instruments;
pub(super) mod setup;
pub(super) mod stock;
pub(super) mod tables;
