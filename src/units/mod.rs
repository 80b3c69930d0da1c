//! Quantities. Each carries its unit in its type, is stored in SI and refuses what is not finite at the door.
//!
//! Two meanings are two types: an absolute [`Pressure`] and a manifold [`Vacuum`]; a [`Temperature`] and a
//! [`TemperatureChange`]; a [`Lambda`] and an [`AirFuelRatio`]. There is no `From` between them: each crossing
//! takes the missing fact (the barometer, the stoichiometric ratio) as an argument.
//!
//! No word of the trade lives here (no jet, idle or session).

pub(crate) mod define;
mod flow;
mod mixture;
mod motion;
pub mod parse;
mod pressure;
pub mod show;
mod space;
mod temperature;

pub use define::{NotFinite, Quantity, Unit};
pub use flow::{Density, MassFlow, Velocity, VolumeFlow};
pub use mixture::{AirFuelRatio, Lambda};
pub use motion::{EngineSpeed, Power, TimeSpan, Torque};
pub use parse::QuantityError;
pub use pressure::{Pressure, PressureDifference, Vacuum};
pub use show::System;
pub use space::{Area, CrankAngle, Fraction, Length, Turns, Volume};
pub use temperature::{Temperature, TemperatureChange};
