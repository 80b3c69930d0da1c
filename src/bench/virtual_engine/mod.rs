//! The virtual engine: a physical model of a carbureted engine at idle and under load, to rehearse on, to show and
//! to test with. Torque, speed and manifold vacuum come out of the equations: a screw moves a corner's fuel, the fuel
//! moves torque, torque moves speed, and the pump that the engine is moves the vacuum below a choked throttle.
//!
//! It knows nothing of the mixture search or of the advice, and its carburetor is not the advice's model: the laws
//! are others, parts are off their stamp, optima are hidden. [`VirtualEngine::truth`] and its kin are for tests and
//! benchmarks.

mod build;
mod character;
mod circuits;
mod engine;
mod equilibrium;
mod fit;
mod hands;
mod loads;
mod plant;
mod program;
mod refit;
pub mod scenario;
mod sensors;
mod truth;

pub use character::Character;
pub use engine::VirtualEngine;
pub use loads::{Fault, Load};
pub use program::{RunProgram, Segment};
pub use sensors::Gauges;
pub use truth::{Best, Settled, Truth};
