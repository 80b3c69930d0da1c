//! Numbers without meaning: robust statistics, bracketed solvers, small fits, seeded chance.
//!
//! Knows no unit and no word of the trade. Chance is always handed in.

pub mod alike;
pub mod rng;
pub mod robust;
pub mod solve;
