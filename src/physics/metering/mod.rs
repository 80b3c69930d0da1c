//! How a carburetor meters: air through venturis, fuel through jets, emulsion through wells.
//!
//! [`nozzle`] and [`jet`] are the elements; [`elementary`] is the carburetor of the textbooks, put together from
//! them; [`well`] and [`idle`] are the networks of the main and the idle circuit; [`Model`] is a whole
//! [`crate::setup::Carburetor`] in a day's air. Every solver is bracketed and fails with a typed reason.

pub mod assumed;
pub mod elementary;
pub mod error;
pub mod idle;
pub mod jet;
mod model;
pub mod nozzle;
mod parts;
pub mod pump;
mod throttle;
pub mod well;

pub use error::MeteringError;
pub use model::{CircuitFuel, Metered, Model, Operating};
pub use parts::{Elasticity, effect, elasticity};
