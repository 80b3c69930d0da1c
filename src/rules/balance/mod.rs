//! The mixture search: which screw to turn next, which way, how far, and when to stop.
//!
//! Pure: the whole history goes in, the next move comes out. No clock, no chance it was not handed. The same
//! history always gives the same move.
#![doc = "\n"]
#![doc = include_str!("../why/screw-search.md")]

mod belief;
mod cloud;
mod dead;
mod decide;
mod engine;
mod finish;
mod fit;
mod left;
mod lower;
mod merged;
mod noise;
mod past;
mod plan;
mod posterior;
mod prior;
mod say;
mod settle;
mod shape;
mod types;
mod worth;

pub use decide::decide;
pub use plan::{LEAN_STEP_ALONE, LEAN_STEP_TOGETHER};
pub use shape::{ScrewShape, ShapePoint, shapes};

pub use types::{
    Before, Belief, Decision, Finish, Move, Observation, Outcome, Reading, ScrewBelief, ScrewSpec, Spec,
    Unresponsive,
};
