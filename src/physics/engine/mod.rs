//! The engine below the carburetor, in pieces: throttle flow, filling, residual gas, friction, and what a charge
//! is worth against its mixture and its spark. Two published engine models stand beside them as checks.

mod charge;
pub mod crossley_cook;
mod filling;
mod friction;
mod mean_value;
mod residual;
mod throttle;

pub use charge::{Burn, burn, dilution_factor, lean_limit, spark_factor};
pub use filling::{charge_flow, filling_efficiency};
pub use friction::{ChenFlynn, barnes_moss, chen_flynn};
pub use mean_value::{IdleEngine, idle_pressure};
pub use residual::{OverlapFactor, ResidualState, residual_fraction};
pub use throttle::{AIR, Gas, PlateAngle, nozzle_flow, plate_area};
