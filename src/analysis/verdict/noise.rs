//! How much one pull differs from the next with nothing changed.

use super::fit::Fit;
use crate::units::Fraction;
use serde::{Deserialize, Serialize};

/// What the figures were taken on, which decides the noise assumed until repeats show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rig {
    /// Engine on a brake.
    EngineDyno,
    /// Vehicle on rollers.
    #[default]
    ChassisDyno,
    /// Timed on a road or strip.
    Road,
}

impl Rig {
    /// The smallest effect that a single A-B-A on it can be trusted to show: 0.5 % of a good engine dyno, 1 % of
    /// rollers, 2 % of road timing (common practice).
    pub const fn floor(self) -> Fraction {
        match self {
            Rig::EngineDyno => Fraction::from_ratio(0.005),
            Rig::ChassisDyno => Fraction::from_ratio(0.01),
            Rig::Road => Fraction::from_ratio(0.02),
        }
    }

    /// Its name in a sentence.
    pub const fn said(self) -> &'static str {
        match self {
            Rig::EngineDyno => "engine dyno",
            Rig::ChassisDyno => "chassis dyno",
            Rig::Road => "road timing",
        }
    }
}

/// Where a noise figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoiseSource {
    /// The stated floor alone: no pull was repeated.
    Floor,
    /// Few repeats, weighed together with the stated floor.
    FloorAndRepeats,
    /// Repeats alone.
    Repeats,
}

impl NoiseSource {
    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            NoiseSource::Floor => "floor",
            NoiseSource::FloorAndRepeats => "floor-and-repeats",
            NoiseSource::Repeats => "repeats",
        }
    }
}

/// The pull-to-pull noise of one figure, in the figure's own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Standard deviation of one pull.
    pub deviation: f64,
    /// Degrees of freedom behind it.
    pub freedom: f64,
    /// Where it comes from.
    pub source: NoiseSource,
}

/// What the stated floor is worth beside repeats, in degrees of freedom. Four says: a rig's own noise is within
/// about a third of the floor's either way (the relative deviation of a deviation on n degrees is 1/sqrt(2 n)).
pub(crate) const FLOOR_FREEDOM: f64 = 4.0;

/// From this many degrees of freedom on, repeats speak for themselves.
pub(crate) const ENOUGH_FREEDOM: usize = 6;

/// A single A-B-A is known to 1.645 sqrt(3/2) = 2.01 deviations of one pull (90 %, noise known). A floor is the
/// effect such a test shows, so one pull deviates by half of it.
const FLOOR_OVER_DEVIATION: f64 = 2.0;

impl Noise {
    /// The noise shown by the residuals of `fit`, with the stated `floor` (a share of `level`) for what they lack.
    pub fn of(fit: &Fit, level: f64, floor: Fraction) -> Noise {
        let assumed = (floor.as_ratio() * level / FLOOR_OVER_DEVIATION).abs();
        if fit.freedom >= ENOUGH_FREEDOM {
            let deviation = (fit.residual_sum / fit.freedom as f64).sqrt();
            // A gauge that rounds can repeat to the digit; that is resolution, not freedom from noise.
            let least = assumed * 0.1;
            return Noise {
                deviation: deviation.max(least),
                freedom: fit.freedom as f64,
                source: NoiseSource::Repeats,
            };
        }
        let freedom = FLOOR_FREEDOM + fit.freedom as f64;
        let variance = (FLOOR_FREEDOM * assumed * assumed + fit.residual_sum) / freedom;
        let source = if fit.freedom == 0 { NoiseSource::Floor } else { NoiseSource::FloorAndRepeats };
        Noise { deviation: variance.sqrt(), freedom, source }
    }
}

#[cfg(test)]
mod tests {
    use super::super::fit::fit;
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn no_repeats_means_the_floor_and_many_mean_the_repeats() {
        let floor = Rig::EngineDyno.floor();
        let once = fit(&[vec![1.0]], &[200.0]).unwrap();
        let noise = Noise::of(&once, 200.0, floor);
        assert_eq!(noise.source, NoiseSource::Floor);
        assert_relative_eq!(noise.deviation, 0.5, epsilon = 1e-12);

        let y = [199.0, 201.0, 199.0, 201.0, 199.0, 201.0, 200.0];
        let many = fit(&[vec![1.0; 7]], &y).unwrap();
        let noise = Noise::of(&many, 200.0, floor);
        assert_eq!(noise.source, NoiseSource::Repeats);
        assert_relative_eq!(noise.deviation, 1.0, epsilon = 1e-12);

        let few = fit(&[vec![1.0; 6]], &y[..6]).unwrap();
        assert_eq!(Noise::of(&few, 200.0, floor).source, NoiseSource::FloorAndRepeats);
    }
}
