//! Air, atmosphere, altitude, humidity and power correction against values from outside.

use super::case::{Case, hold};
use leanbest::physics::air::{MoistAir, Moisture, saturation_pressure};
use leanbest::physics::altitude::density_altitude_nws;
use leanbest::physics::atmosphere::{density_altitude, pressure_altitude, standard};
use leanbest::physics::correction::{self, iso_3046_site_power};
use leanbest::units::{Fraction, Length, Power, Pressure, Temperature};

fn moisture(c: &Case) -> Moisture {
    let relative = c.maybe::<Fraction>("humidity").map(Moisture::Relative);
    let dew = || c.maybe::<Temperature>("dew_point").map(Moisture::DewPoint);
    let wet = || c.maybe::<Temperature>("wet_bulb").map(Moisture::WetBulb);
    let aspirated = || c.maybe::<Temperature>("aspirated_wet_bulb").map(Moisture::AspiratedWetBulb);
    relative.or_else(dew).or_else(wet).or_else(aspirated).unwrap_or(Moisture::Dry)
}

fn air(c: &Case) -> MoistAir {
    MoistAir::new(c.q("pressure"), c.q("temperature"), moisture(c))
        .unwrap_or_else(|e| panic!("{}: {e}", c.id))
}

#[test]
fn air_and_altitude() {
    hold(include_str!("air.toml"), 70, |c| {
        let there = || standard(c.q::<Length>("altitude")).unwrap();
        Some(match c.of.as_str() {
            "saturation_pa" => saturation_pressure(c.q("temperature")).as_pa(),
            "saturation_inhg" => saturation_pressure(c.q("temperature")).as_inhg(),
            "density_kg_m3" => air(c).density().as_kg_m3(),
            "standard_k" => there().temperature.as_k(),
            "standard_pa" => there().pressure.as_pa(),
            "standard_kg_m3" => there().density.as_kg_m3(),
            "density_altitude_ft" => density_altitude(air(c).density()).as_feet(),
            "pressure_altitude_ft" => pressure_altitude(c.q("pressure")).as_feet(),
            "density_altitude_nws_ft" => {
                density_altitude_nws(c.q("pressure"), c.q("temperature"), c.q("dew_point")).as_feet()
            }
            "dew_point_c" => air(c).dew_point()?.as_c(),
            "wet_bulb_c" => air(c).wet_bulb()?.as_c(),
            "vapour_pa" => air(c).vapour_pressure().as_pa(),
            _ => return None,
        })
    });
}

#[test]
fn the_full_equation_of_density_agrees_more_closely() {
    hold(include_str!("air.toml"), 70, |c| {
        if c.of != "density_kg_m3" {
            return Some(c.value);
        }
        let full = air(c).density_cipm().as_kg_m3();
        Some(if (full / c.value - 1.0).abs() < 1e-5 { c.value } else { f64::NAN })
    });
}

#[test]
fn corrections() {
    hold(include_str!("correction.toml"), 26, |c| {
        let t: Temperature = c.q("temperature");
        let dry = || c.maybe::<Pressure>("dry_pressure").unwrap_or_else(|| air(c).dry_pressure());
        Some(match c.of.as_str() {
            "sae_j1349" => correction::sae_j1349(dry(), t),
            "sae_j607" => correction::sae_j607(dry(), t),
            "iso_1585" => correction::iso_1585(dry(), t),
            "din_70020" => correction::din_70020(c.q("pressure"), t),
            "iso_3046_kw" => {
                let dry = c.q::<Pressure>("pressure") - c.q::<Pressure>("vapour");
                iso_3046_site_power(c.q::<Power>("declared"), c.q("mechanical"), dry, t).as_kw()
            }
            _ => return None,
        })
    });
}
