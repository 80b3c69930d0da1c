//! Equations of air, fuel, cam and breathing. Each names its source and its range; none knows a threshold of taste.

pub mod air;
pub mod altitude;
pub mod atmosphere;
pub mod breathing;
pub mod cam;
pub mod correction;
pub mod cylinder;
pub mod engine;
pub mod exhaust;
pub mod fuel;
pub mod metering;
