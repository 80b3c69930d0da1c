//! Stoichiometry, blends, densities and exhaust gas against values from outside.

use super::case::{Case, hold};
use leanbest::physics::exhaust::{ExhaustGas, GasConstants, brettschneider};
use leanbest::physics::fuel::{Composition, Liquid, gasoline_density, gasoline_with_ethanol};
use leanbest::rules::RuleBook;
use leanbest::rules::targets::band;
use leanbest::setup::{Application, Cooling, FuelFamily, Regime};
use leanbest::units::{AirFuelRatio, Density, Lambda};

fn liquid(name: &str) -> Liquid {
    match name {
        "ethanol" => Liquid::Ethanol,
        "methanol" => Liquid::Methanol,
        "n-heptane" => Liquid::Heptane,
        "toluene" => Liquid::Toluene,
        other => panic!("no liquid is called {other}"),
    }
}

fn five_gases(c: &Case) -> f64 {
    let gas = ExhaustGas { co2: c.q("co2"), co: c.q("co"), o2: c.q("o2"), hc: c.q("hc"), no: c.q("no") };
    let constants = GasConstants {
        hydrogen_to_carbon: c.n("hydrogen_to_carbon"),
        oxygen_to_carbon: c.n("oxygen_to_carbon"),
        carbon_per_hc: 6.0,
    };
    brettschneider(&gas, constants).map_or(f64::NAN, Lambda::as_ratio)
}

#[test]
fn fuels_and_exhaust() {
    hold(include_str!("fuel.toml"), 33, |c| {
        Some(match c.of.as_str() {
            "formula_afr" => {
                let made_of =
                    Composition { carbon: c.n("carbon"), hydrogen: c.n("hydrogen"), oxygen: c.n("oxygen") };
                made_of.stoichiometric()?.as_ratio()
            }
            "blend_afr" => gasoline_with_ethanol(c.q("ethanol")).stoichiometric.as_ratio(),
            "brettschneider" => five_gases(c),
            "gasoline_kg_m3" => gasoline_density(c.q::<Density>("at_60_f"), c.q("temperature"))?.as_kg_m3(),
            "liquid_kg_m3" => {
                let name = c.inputs["liquid"].as_str()?;
                liquid(name).density(c.q("temperature"))?.as_kg_m3()
            }
            "afr_of_fuel_air" => 1.0 / c.n("fuel_air"),
            _ => return None,
        })
    });
}

#[test]
fn full_throttle_targets_reach_into_the_best_power_band() {
    // Sparrow, NACA TR 189 (1924): fuel/air 0.07 to 0.08, lambda 0.97 to 0.85 on 14.7
    let stoichiometric = AirFuelRatio::from_ratio(14.7);
    let rich = AirFuelRatio::from_ratio(12.5).lambda(stoichiometric);
    let lean = AirFuelRatio::from_ratio(14.286).lambda(stoichiometric);
    assert!((rich.as_ratio() - 0.85).abs() < 0.01 && (lean.as_ratio() - 0.97).abs() < 0.01);
    for application in [Application::Street, Application::Race, Application::Marine] {
        let target = band(
            Regime::FullThrottle,
            application,
            Cooling::Water,
            FuelFamily::Gasoline,
            None,
            &RuleBook::common(),
        )
        .unwrap();
        assert!(target.high >= rich && target.high <= lean, "{application:?} {target:?}");
    }
}

#[test]
fn nitric_oxide_peaks_lean_of_stoichiometric_in_a_published_set() {
    // Brinkman, SAE Transactions 90 (1981): an equivalence ratio is not a lambda but its inverse
    let text = include_str!("brinkman_1981.csv");
    let rows: Vec<[f64; 3]> = text
        .lines()
        .filter(|l| !l.starts_with('#') && !l.starts_with("equivalence"))
        .map(|l| {
            let numbers: Vec<f64> = l.split(',').map(|n| n.parse().unwrap()).collect();
            numbers.try_into().unwrap()
        })
        .collect();
    assert_eq!(rows.len(), 88);
    let mean = rows.iter().map(|r| r[0]).sum::<f64>() / 88.0;
    assert!((mean - 0.926_477).abs() <= 1e-6, "{mean}");
    let most = rows.iter().max_by(|a, b| a[2].total_cmp(&b[2])).unwrap();
    assert!((most[2] - 4.028).abs() <= 1e-9 && most[0] == 0.934 && most[1] == 15.0);
    let ethanol = Composition::ETHANOL.stoichiometric().unwrap();
    let lambda = AirFuelRatio::from_ratio(ethanol.as_ratio() / most[0]).lambda(ethanol);
    assert!((lambda.as_ratio() - 1.0707).abs() < 1e-4, "{lambda:?}");
}
