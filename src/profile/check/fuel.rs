//! A fuel as written.

use super::super::section::{Section, within};
use crate::setup::{Fuel, FuelFamily};
use crate::units::{AirFuelRatio, Density, Fraction};

/// Reads a fuel.
pub(in crate::profile) fn fuel(s: Section<'_>) -> Option<Fuel> {
    let name = s.name("name", "e10");
    let families = [
        ("gasoline", FuelFamily::Gasoline),
        ("ethanol", FuelFamily::Ethanol),
        ("methanol", FuelFamily::Methanol),
    ];
    let family = s.choice("family", &families, None);
    let share = within(Fraction::from_percent(0.0), Fraction::from_percent(100.0), "it is a share by volume");
    let ethanol = s.quantity("ethanol", "10 %", &share);
    let ratio = within(
        AirFuelRatio::from_ratio(5.0),
        AirFuelRatio::from_ratio(16.0),
        "methanol burns at 6.4, gasoline at 14.7",
    );
    let stoichiometric = s.quantity("stoichiometric", "14.1 AFR", &ratio);
    let light = within(
        Density::from_kg_m3(600.0),
        Density::from_kg_m3(900.0),
        "liquid fuels lie within this at 15 C",
    );
    let density = s.quantity("density", "749 kg/m3", &light);
    if let (Some(FuelFamily::Gasoline), Some(ethanol)) = (family, ethanol)
        && ethanol > Fraction::from_percent(30.0)
    {
        s.fault(
            "family",
            "a blend of more than 30 % ethanol has the targets of ethanol, not of gasoline",
            "write family = \"ethanol\"",
        );
    }
    s.end();
    Some(Fuel {
        name: name?,
        family: family?,
        ethanol: ethanol?,
        stoichiometric: stoichiometric?,
        density: density?,
    })
}
