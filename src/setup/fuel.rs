//! The fuel in the tank, as its pump says.

use crate::units::{AirFuelRatio, Density, Fraction};
use serde::{Deserialize, Serialize};

/// Families of fuel that have targets and limits of their own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FuelFamily {
    /// Gasoline and blends of up to about 20 % ethanol.
    Gasoline,
    /// Ethanol blends beyond that.
    Ethanol,
    /// Methanol.
    Methanol,
}

/// A fuel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fuel {
    /// What it is sold as: "e10".
    pub name: String,
    /// Family.
    pub family: FuelFamily,
    /// Ethanol by volume.
    pub ethanol: Fraction,
    /// Stoichiometric ratio.
    pub stoichiometric: AirFuelRatio,
    /// Density at 15 C.
    pub density: Density,
}
