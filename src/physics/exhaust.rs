//! Lambda from what an exhaust-gas analyser shows.

use crate::numeric::solve;
use crate::units::{Fraction, Lambda};

/// A dry exhaust, by volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExhaustGas {
    /// Carbon dioxide.
    pub co2: Fraction,
    /// Carbon monoxide.
    pub co: Fraction,
    /// Oxygen.
    pub o2: Fraction,
    /// Unburned hydrocarbons, as hexane.
    pub hc: Fraction,
    /// Nitric oxide.
    pub no: Fraction,
}

/// What Brettschneider's equation needs to know of the fuel and the analyser.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GasConstants {
    /// Hydrogen atoms for each carbon atom.
    pub hydrogen_to_carbon: f64,
    /// Oxygen atoms for each carbon atom.
    pub oxygen_to_carbon: f64,
    /// Carbon atoms counted for each molecule of hydrocarbon shown: 6 for hexane.
    pub carbon_per_hc: f64,
}

impl GasConstants {
    /// Pump gasoline and an infrared analyser calibrated on hexane.
    pub const GASOLINE: Self =
        Self { hydrogen_to_carbon: 1.7261, oxygen_to_carbon: 0.0176, carbon_per_hc: 6.0 };
}

/// Lambda from five gases: J. Brettschneider, Bosch technische Berichte 6 (1979) 4, 177-186, with a water-gas constant of
/// 3.5. Rich and lean alike. `None` when the gases hold no carbon dioxide or the sums are not positive.
pub fn brettschneider(gas: &ExhaustGas, constants: GasConstants) -> Option<Lambda> {
    const WATER_GAS: f64 = 3.5;
    let [co2, co, o2, hc, no] = [gas.co2, gas.co, gas.o2, gas.hc, gas.no].map(Fraction::as_ratio);
    if co2 <= 0.0 || [co, o2, hc, no].iter().any(|x| *x < 0.0) {
        return None;
    }
    let (h, o) = (constants.hydrogen_to_carbon, constants.oxygen_to_carbon);
    let water = h / 4.0 * WATER_GAS / (WATER_GAS + co / co2) - o / 2.0;
    let oxygen = co2 + co / 2.0 + o2 + no / 2.0 + water * (co2 + co);
    let carbon = (1.0 + h / 4.0 - o / 2.0) * (co2 + co + constants.carbon_per_hc * hc);
    (oxygen > 0.0 && carbon > 0.0).then(|| Lambda::from_ratio(oxygen / carbon))
}

/// Carbon monoxide, dry, of a rich gasoline mixture with no oxygen left over: element balance of CH1.85 in dry air with
/// water-gas equilibrium at K = 3.8. For lambda 0.6 to 1.
pub fn co_of_lambda(lambda: Lambda) -> Option<Fraction> {
    let l = lambda.as_ratio();
    (0.6..=1.0).contains(&l).then(|| Fraction::from_ratio(rich_co(l)))
}

/// Lambda of a gasoline mixture from carbon monoxide alone, rich side only; good to about 0.01 on an engine without catalyst or
/// leak (own calculation; agrees with published pairs 1.9 % at 0.95 and 3.7 % at 0.90).
///
/// `None` below 0.3 %, where uneven cylinders decide and not the mixture, and above 15 %.
pub fn lambda_of_co(co: Fraction) -> Option<Lambda> {
    let wanted = co.as_ratio();
    if !(0.003..=0.15).contains(&wanted) {
        return None;
    }
    solve::root(0.6, 1.0, 1e-6, |l| rich_co(l) - wanted).ok().map(Lambda::from_ratio)
}

fn rich_co(lambda: f64) -> f64 {
    const H_TO_C: f64 = 1.85;
    const WATER_GAS: f64 = 3.8;
    const NITROGEN_TO_OXYGEN: f64 = (1.0 - 0.20946) / 0.20946;
    let oxygen = 1.0 + H_TO_C / 4.0;
    // moles of CO and of H2 for each carbon atom: their sum makes up the missing oxygen
    let missing = 2.0 * oxygen * (1.0 - lambda);
    // x (h/2 - (m - x)) = K (1 - x)(m - x), a quadratic in x
    let a = WATER_GAS - 1.0;
    let b = -(WATER_GAS * (1.0 + missing) + H_TO_C / 2.0 - missing);
    let c = WATER_GAS * missing;
    let x = 2.0 * c / (-b + (b * b - 4.0 * a * c).max(0.0).sqrt());
    x / (1.0 + (missing - x) + NITROGEN_TO_OXYGEN * lambda * oxygen)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    #[test]
    fn published_pairs_of_co_and_lambda() {
        for (co, lambda) in [(0.7, 0.98), (1.9, 0.95), (3.7, 0.90), (5.7, 0.85), (7.7, 0.80)] {
            let found = lambda_of_co(Fraction::from_percent(co)).unwrap().as_ratio();
            assert_abs_diff_eq!(found, lambda, epsilon = 0.01);
        }
    }

    #[test]
    fn too_little_or_too_much_co_tells_nothing() {
        assert!(lambda_of_co(Fraction::from_percent(0.29)).is_none());
        assert!(lambda_of_co(Fraction::from_percent(0.31)).is_some());
        assert!(lambda_of_co(Fraction::from_percent(15.1)).is_none());
        assert!(co_of_lambda(Lambda::from_ratio(1.01)).is_none());
    }

    #[test]
    fn no_carbon_dioxide_no_lambda() {
        let gas = ExhaustGas {
            co2: Fraction::ZERO,
            co: Fraction::ZERO,
            o2: Fraction::from_percent(20.9),
            hc: Fraction::ZERO,
            no: Fraction::ZERO,
        };
        assert!(brettschneider(&gas, GasConstants::GASOLINE).is_none());
    }

    /// A dry lean exhaust by element balance.
    fn lean(lambda: f64, k: GasConstants) -> ExhaustGas {
        let need = 1.0 + k.hydrogen_to_carbon / 4.0 - k.oxygen_to_carbon / 2.0;
        let (o2, n2) = ((lambda - 1.0) * need, 3.774 * lambda * need);
        let all = 1.0 + o2 + n2;
        ExhaustGas {
            co2: Fraction::from_ratio(1.0 / all),
            co: Fraction::ZERO,
            o2: Fraction::from_ratio(o2 / all),
            hc: Fraction::ZERO,
            no: Fraction::ZERO,
        }
    }

    proptest! {
        #[test]
        fn a_lean_exhaust_made_by_balance_is_read_back(l in 1.0..2.0f64) {
            let found = brettschneider(&lean(l, GasConstants::GASOLINE), GasConstants::GASOLINE).unwrap();
            prop_assert!((found.as_ratio() - l).abs() < 1e-9);
        }

        #[test]
        fn co_and_lambda_are_each_others_way_back(l in 0.65..0.99f64) {
            let co = co_of_lambda(Lambda::from_ratio(l)).unwrap();
            let back = lambda_of_co(co).unwrap().as_ratio();
            prop_assert!((back - l).abs() < 1e-5);
        }

        #[test]
        fn richer_means_more_co(l in 0.61..0.999f64) {
            prop_assert!(rich_co(l - 0.005) > rich_co(l));
        }
    }
}
