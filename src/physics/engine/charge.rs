//! What a charge is worth: work against mixture, dilution and spark, and how often it does not burn at all.
//!
//! At given air, work is all but flat between lambda 0.85 and 0.95 with its top near 0.90 (air-limited), falls
//! gently on the rich side and, once the flame is slowed by burned gas, steeply on the lean one: Heywood (1988),
//! chapters 4 and 9, from memory; NACA TR 189 (Sparrow 1924) puts greatest power between lambda 0.85 and 0.97.

use crate::units::{CrankAngle, Lambda};

const BEST: f64 = 0.92;

/// A charge's worth and its odds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Burn {
    /// Work for each kilogram of air, as a share of the best mixture's, misfires counted.
    pub worth: f64,
    /// Share of cycles that do not burn.
    pub misfire: f64,
}

/// The lambda at which half the cycles fail on the lean side: about 1.3 with little burned gas, 1.0 at the idle of
/// a mild cam, richer still with a long one. The trend is Heywood's (1988, section 9.4.3); the slope is a working
/// value.
pub fn lean_limit(residual: f64) -> Lambda {
    Lambda::from_ratio((1.47 - 1.05 * residual).max(0.70))
}

/// The lambda at which half the cycles fail on the rich side: near 0.54 with little burned gas (an air-fuel ratio of 8,
/// the old figure for the richest mixture that runs), higher with more.
fn rich_limit(residual: f64) -> f64 {
    0.50 + 0.45 * residual
}

/// Work and misfire of a mixture in a charge with the given share of burned gas.
pub fn burn(lambda: Lambda, residual: f64) -> Burn {
    let l = lambda.as_ratio();
    let off = l - BEST;
    let bend = if off < 0.0 { 1.6 + 20.0 * residual } else { 2.0 + 14.0 * residual };
    let steady = 1.0 - bend * off * off;
    let width = 0.038 + 0.02 * residual;
    let lean = 1.0 / (1.0 + ((lean_limit(residual).as_ratio() - l) / width).exp());
    let rich = 1.0 / (1.0 + ((l - rich_limit(residual)) / 0.03).exp());
    let misfire = (lean + rich).min(1.0);
    Burn { worth: steady.max(0.0) * (1.0 - misfire), misfire }
}

/// Loss of work to slow burning in a diluted charge, at best spark; a working form that leaves three quarters at
/// the residual of a mild idle.
pub fn dilution_factor(residual: f64) -> f64 {
    (1.0 - 2.3 * residual.max(0.0).powf(1.5)).max(0.05)
}

/// Loss of torque to a spark away from best: `1 - 2e-4 (angle)^2`, 2 % at 10 degrees, 8 % at 20. Heywood (1988),
/// section 9.3.2, from memory; good to about 30 degrees.
pub fn spark_factor(away: CrankAngle) -> f64 {
    (1.0 - 2e-4 * away.as_deg().powi(2)).max(0.2)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn worth(lambda: f64, residual: f64) -> f64 {
        burn(Lambda::from_ratio(lambda), residual).worth
    }

    #[test]
    fn greatest_work_is_between_the_published_borders() {
        let best = (50..140)
            .map(|i| f64::from(i) / 100.0)
            .max_by(|a, b| worth(*a, 0.08).total_cmp(&worth(*b, 0.08)));
        assert!((0.85..=0.97).contains(&best.unwrap()), "{best:?}");
    }

    #[test]
    fn work_is_all_but_flat_between_085_and_095() {
        assert!(worth(0.85, 0.08) > 0.98 && worth(0.95, 0.08) > 0.98);
    }

    #[test]
    fn the_lean_side_is_the_steep_one_at_idle() {
        // a fifth less fuel against a fifth more
        assert!(worth(BEST / 0.8, 0.25) < 0.8 * worth(BEST / 1.2, 0.25));
        assert!(burn(Lambda::from_ratio(1.35), 0.25).misfire > 0.9);
        assert!(burn(Lambda::from_ratio(0.9), 0.25).misfire < 0.01);
    }

    #[test]
    fn more_burned_gas_asks_for_a_richer_mixture() {
        assert!(lean_limit(0.4) < lean_limit(0.2));
        assert!(dilution_factor(0.4) < dilution_factor(0.2));
    }

    #[test]
    fn the_spark_costs_two_percent_at_ten_degrees() {
        assert!((spark_factor(CrankAngle::from_deg(10.0)) - 0.98).abs() < 1e-12);
        assert!((spark_factor(CrankAngle::from_deg(-20.0)) - 0.92).abs() < 1e-12);
    }
}
