//! Two or more things changed: which made the difference, and which further pulls would tell.
//!
//! A state is one value for each thing. The figure of a pull is taken as a level, plus an effect of every thing that is
//! not as it was first, plus an interaction of each pair, plus drift with time, plus noise (the two-level factorial of
//! Box, Hunter and Hunter, Statistics for Experimenters, 1978, from memory). Least squares tells what the pulls made
//! can tell, and says what they cannot.

mod model;
mod plan;
#[cfg(test)]
mod tests;

pub use model::{Attribution, Factor, Interval, Run, State, Term, TermEffect, attribute, factors, unsaid};
pub use plan::further_states;
