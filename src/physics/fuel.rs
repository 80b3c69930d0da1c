//! Fuels: stoichiometry from what they are made of, blends by volume, density with temperature.

use crate::setup::{Fuel, FuelFamily};
use crate::units::{AirFuelRatio, Density, Fraction, Temperature, TemperatureChange};

/// Mole fraction of oxygen in dry air, argon and carbon dioxide counted with the rest.
const OXYGEN_IN_AIR: f64 = 0.20946;
/// Molar mass of dry air, g/mol.
const AIR_MOLAR: f64 = 28.9647;

/// Atoms in a mean molecule of the fuel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Composition {
    /// Carbon.
    pub carbon: f64,
    /// Hydrogen.
    pub hydrogen: f64,
    /// Oxygen.
    pub oxygen: f64,
}

impl Composition {
    /// Ethanol, C2H6O.
    pub const ETHANOL: Self = Self { carbon: 2.0, hydrogen: 6.0, oxygen: 1.0 };
    /// Methanol, CH4O.
    pub const METHANOL: Self = Self { carbon: 1.0, hydrogen: 4.0, oxygen: 1.0 };

    /// Mass of dry air that just burns a mass of this fuel.
    ///
    /// (c + h/4 - o/2) moles of oxygen for each mole of fuel, in dry air of 20.946 % oxygen and 28.9647 g/mol. The
    /// old "O2 + 3.76 N2" air leaves argon out and gives 0.7 % less. `None` when nothing would burn.
    pub fn stoichiometric(self) -> Option<AirFuelRatio> {
        let Self { carbon: c, hydrogen: h, oxygen: o } = self;
        let (oxygen, mass) = (c + h / 4.0 - o / 2.0, 12.011 * c + 1.008 * h + 15.999 * o);
        (oxygen > 0.0 && mass > 0.0)
            .then(|| AirFuelRatio::from_ratio(oxygen / OXYGEN_IN_AIR * AIR_MOLAR / mass))
    }
}

/// A fuel that can be one part of a blend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Its stoichiometric ratio.
    pub stoichiometric: AirFuelRatio,
    /// Its density.
    pub density: Density,
}

/// Pump gasoline without ethanol, as the trade reckons it: 14.7 and 745 kg/m3 at 15 C.
pub const GASOLINE: Component =
    Component { stoichiometric: AirFuelRatio::from_ratio(14.7), density: Density::from_kg_m3(745.0) };
/// Ethanol, as the trade reckons it: 9.0 and 789 kg/m3. The density is the one at 20 C; at 15 C it is 0.5 % more, which
/// moves an E10 by 0.05 %.
pub const ETHANOL: Component =
    Component { stoichiometric: AirFuelRatio::from_ratio(9.0), density: Density::from_kg_m3(789.0) };
/// Methanol: 6.47 (from its formula) and 796 kg/m3 at 15 C.
pub const METHANOL: Component =
    Component { stoichiometric: AirFuelRatio::from_ratio(6.47), density: Density::from_kg_m3(796.0) };

/// Two fuels mixed by volume: stoichiometric ratio linear in mass fraction, volumes taken as adding.
///
/// `share` is the volume of `added` in the whole, 0 to 1.
pub fn blend(base: Component, added: Component, share: Fraction) -> Component {
    let v = share.as_ratio().clamp(0.0, 1.0);
    let mass_added = v * added.density.as_kg_m3();
    let mass_base = (1.0 - v) * base.density.as_kg_m3();
    let w = mass_added / (mass_added + mass_base);
    Component {
        stoichiometric: added.stoichiometric * w + base.stoichiometric * (1.0 - w),
        density: Density::from_kg_m3(mass_added + mass_base),
    }
}

/// The most ethanol (by volume) a fuel can hold and still be counted as gasoline.
pub const GASOLINE_FAMILY_UP_TO: Fraction = Fraction::from_percent(20.0);

/// Gasoline with this much ethanol in it (volume).
pub fn gasoline_with_ethanol(ethanol: Fraction) -> Fuel {
    let mixed = blend(GASOLINE, ETHANOL, ethanol);
    let family = if ethanol <= GASOLINE_FAMILY_UP_TO { FuelFamily::Gasoline } else { FuelFamily::Ethanol };
    let percent = crate::units::parse::tidy_number((ethanol.as_percent() * 10.0).round() / 10.0);
    Fuel {
        name: format!("e{percent}"),
        family,
        ethanol,
        stoichiometric: mixed.stoichiometric,
        density: mixed.density,
    }
}

/// Pure methanol.
pub fn methanol() -> Fuel {
    Fuel {
        name: "methanol".to_owned(),
        family: FuelFamily::Methanol,
        ethanol: Fraction::ZERO,
        stoichiometric: METHANOL.stoichiometric,
        density: METHANOL.density,
    }
}

/// A fuel by the name on the pump: "e10", "E85", "gasoline", "ethanol", "methanol"; `None` for any other.
pub fn by_name(name: &str) -> Option<Fuel> {
    let plain: String =
        name.trim().to_ascii_lowercase().chars().filter(|c| !matches!(c, ' ' | '-' | '_')).collect();
    match plain.as_str() {
        "gasoline" | "petrol" => Some(gasoline_with_ethanol(Fraction::ZERO)),
        "ethanol" => Some(gasoline_with_ethanol(Fraction::from_percent(100.0))),
        "methanol" | "m100" => Some(methanol()),
        _ => {
            let digits = plain.strip_prefix('e')?;
            let percent = digits.parse::<u8>().ok().filter(|p| *p <= 100 && digits.len() <= 3)?;
            Some(gasoline_with_ethanol(Fraction::from_percent(f64::from(percent))))
        }
    }
}

/// Density of a gasoline at a temperature, from its density at 60 F.
///
/// API MPMS chapter 11.1 / ASTM D1250, gasolines: alpha = 192.4571/rho^2 + 0.2438/rho per degree Fahrenheit at 60 F, volume
/// factor exp(-alpha dt (1 + 0.8 alpha dt)). Range 653 to 770 kg/m3; `None` outside it.
pub fn gasoline_density(at_60_f: Density, temperature: Temperature) -> Option<Density> {
    let rho = at_60_f.as_kg_m3();
    if !(653.0..=770.0).contains(&rho) {
        return None;
    }
    Some(at_60_f * gasoline_volume_factor(rho, temperature))
}

fn gasoline_volume_factor(rho_60: f64, temperature: Temperature) -> f64 {
    let alpha = 192.4571 / (rho_60 * rho_60) + 0.2438 / rho_60;
    let step = alpha * (temperature.as_f() - 60.0);
    (-step * (1.0 + 0.8 * step)).exp()
}

/// Pure liquids whose density is known by temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Liquid {
    /// C2H6O.
    Ethanol,
    /// CH4O.
    Methanol,
    /// n-C7H16.
    Heptane,
    /// C7H8.
    Toluene,
}

impl Liquid {
    /// Density at atmospheric pressure: a cubic in the temperature above 15 C, fitted to the reference equations of state of
    /// the public library CoolProp 8.0.0. Within 0.02 % of them from -40 to 80 C; `None` outside.
    pub fn density(self, temperature: Temperature) -> Option<Density> {
        let (at_15_c, a, b, c) = match self {
            Liquid::Ethanol => (793.689, -0.850_821, -3.7075e-4, -6.928e-6),
            Liquid::Methanol => (795.691, -0.934_829, -1.1349e-4, -6.613e-6),
            Liquid::Heptane => (688.015, -0.838_164, -3.1349e-4, -2.794e-6),
            Liquid::Toluene => (871.535, -0.927_675, -1.7225e-4, -2.329e-6),
        };
        let above = temperature.as_c() - 15.0;
        if !(-40.0..=80.0).contains(&temperature.as_c()) {
            return None;
        }
        Some(Density::from_kg_m3(at_15_c + above * (a + above * (b + above * c))))
    }
}

/// Density of a fuel at a temperature, from its density at 15 C: its gasoline and alcohol parts expand each by their own law.
///
/// `None` outside -40 to 80 C.
pub fn density_at(fuel: &Fuel, temperature: Temperature) -> Option<Density> {
    let reference = Temperature::from_c(15.0);
    let of = |liquid: Liquid| Some(liquid.density(temperature)? / liquid.density(reference)?);
    let factor = match fuel.family {
        FuelFamily::Methanol => of(Liquid::Methanol)?,
        FuelFamily::Gasoline | FuelFamily::Ethanol => {
            let rho = GASOLINE.density.as_kg_m3();
            let gasoline = gasoline_volume_factor(rho, temperature) / gasoline_volume_factor(rho, reference);
            let share = fuel.ethanol.as_ratio().clamp(0.0, 1.0);
            share * of(Liquid::Ethanol)? + (1.0 - share) * gasoline
        }
    };
    Some(fuel.density * factor)
}

/// How much the fuel a fixed jet passes changes when the fuel warms by this much from 15 C: the root of its density.
pub fn jet_flow_factor(fuel: &Fuel, warming: TemperatureChange) -> Option<f64> {
    let warm = density_at(fuel, Temperature::from_c(15.0) + warming)?;
    Some((warm / fuel.density).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};
    use proptest::prelude::*;

    #[test]
    fn names_on_the_pump() {
        assert_abs_diff_eq!(by_name("E10").unwrap().stoichiometric.as_ratio(), 14.10, epsilon = 0.01);
        assert_abs_diff_eq!(by_name("e85").unwrap().stoichiometric.as_ratio(), 9.81, epsilon = 0.01);
        assert_abs_diff_eq!(by_name("E5").unwrap().stoichiometric.as_ratio(), 14.40, epsilon = 0.005);
        assert_abs_diff_eq!(by_name("e30").unwrap().stoichiometric.as_ratio(), 12.92, epsilon = 0.005);
        assert_eq!(by_name("e20").unwrap().family, FuelFamily::Gasoline);
        assert_eq!(by_name("e21").unwrap().family, FuelFamily::Ethanol);
        assert_eq!(by_name("methanol").unwrap().family, FuelFamily::Methanol);
        for no in ["e101", "e", "e1000", "diesel", "", "e-1x"] {
            assert!(by_name(no).is_none(), "{no}");
        }
        assert_eq!(gasoline_with_ethanol(Fraction::from_percent(12.5)).name, "e12.5");
        assert_eq!(gasoline_with_ethanol(Fraction::from_percent(10.0)).name, "e10");
    }

    #[test]
    fn the_pure_ends_agree_with_their_formulas() {
        let methanol = Composition::METHANOL.stoichiometric().unwrap();
        assert_relative_eq!(METHANOL.stoichiometric.as_ratio(), methanol.as_ratio(), max_relative = 1e-3);
        let ethanol = Composition::ETHANOL.stoichiometric().unwrap();
        assert_relative_eq!(ETHANOL.stoichiometric.as_ratio(), ethanol.as_ratio(), max_relative = 1e-3);
        assert!(Composition { carbon: 1.0, hydrogen: 0.0, oxygen: 2.0 }.stoichiometric().is_none());
    }

    #[test]
    fn the_range_of_the_gasoline_law() {
        let t = Temperature::from_f(100.0);
        assert!(gasoline_density(Density::from_kg_m3(652.9), t).is_none());
        assert!(gasoline_density(Density::from_kg_m3(770.0), t).is_some());
        assert!(gasoline_density(Density::from_kg_m3(770.1), t).is_none());
    }

    #[test]
    fn a_warm_bowl_leans_by_a_percent_and_a_half() {
        let f = jet_flow_factor(&by_name("e0").unwrap(), TemperatureChange::from_k(22.0)).unwrap();
        assert_abs_diff_eq!(f, 1.0 - 0.014, epsilon = 0.001);
    }

    proptest! {
        #[test]
        fn more_ethanol_needs_less_air_and_weighs_more(e in 0.0..0.99f64) {
            let (less, more) = (gasoline_with_ethanol(Fraction::from_ratio(e)), gasoline_with_ethanol(Fraction::from_ratio(e + 0.01)));
            prop_assert!(more.stoichiometric < less.stoichiometric);
            prop_assert!(more.density > less.density);
            prop_assert!((9.0..=14.7).contains(&less.stoichiometric.as_ratio()));
        }

        #[test]
        fn warm_fuel_is_lighter(e in 0.0..1.0f64, t in -30.0..70.0f64) {
            let fuel = gasoline_with_ethanol(Fraction::from_ratio(e));
            let at = |c: f64| density_at(&fuel, Temperature::from_c(c)).unwrap();
            prop_assert!(at(t + 1.0) < at(t));
            prop_assert!((at(15.0) / fuel.density - 1.0).abs() < 1e-12);
        }
    }
}
