//! How large a carburetor an engine wants.
#![doc = "\n"]
#![doc = include_str!("why/sizing.md")]

use super::book::RuleBook;
use super::border::above;
use crate::physics::breathing::{air_demand, depression_at, rating_at};
use crate::units::{Density, EngineSpeed, Fraction, MassFlow, PressureDifference, Volume, VolumeFlow};
use serde::{Deserialize, Serialize};

/// A carburetor's printed rating.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rating {
    /// Flow.
    pub flow: VolumeFlow,
    /// Depression it was measured at.
    pub at: PressureDifference,
}

/// What an engine takes and what a carburetor makes of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sizing {
    /// Air at full throttle and the highest speed, by volume.
    pub air: VolumeFlow,
    /// The same by mass.
    pub air_mass: MassFlow,
    /// The rating restated at 1.5 inHg; without a rating, the one that shows 1.5 inHg here.
    pub rating_at_1_5_inhg: VolumeFlow,
    /// The same at 3.0 inHg.
    pub rating_at_3_0_inhg: VolumeFlow,
    /// Manifold vacuum to expect at full throttle, when there is a rating.
    pub depression: Option<PressureDifference>,
    /// What that says.
    pub verdict: Option<String>,
}

/// Why nothing can be sized.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SizingError {
    /// An engine without volume or speed.
    #[error("displacement, speed and volumetric efficiency must be above zero")]
    NoEngine,
    /// Efficiency no engine without boost has.
    #[error(
        "a volumetric efficiency beyond 130 % needs a supercharger; these rules are for engines without one"
    )]
    Efficiency,
    /// A rating of nothing.
    #[error("a rating needs a flow and a depression above zero")]
    NoRating,
}

/// Air demand and carburetor rating.
///
/// Why, and from where: see [the module](self). `density` is that of the air breathed.
pub fn size(
    displacement: Volume,
    speed: EngineSpeed,
    efficiency: Fraction,
    rating: Option<Rating>,
    density: Density,
    book: &RuleBook,
) -> Result<Sizing, SizingError> {
    let n = &book.sizing;
    if displacement <= Volume::ZERO || speed <= EngineSpeed::ZERO || efficiency <= Fraction::ZERO {
        return Err(SizingError::NoEngine);
    }
    if efficiency > Fraction::from_percent(130.0) {
        return Err(SizingError::Efficiency);
    }
    let air = air_demand(displacement, speed, efficiency);
    let (four, two) = (PressureDifference::from_inhg(1.5), PressureDifference::from_inhg(3.0));
    let rated = rating.unwrap_or(Rating { flow: air, at: four });
    let restated =
        |at| rating_at(rated.flow, rated.at, at).filter(|q| q.as_m3_s() > 0.0).ok_or(SizingError::NoRating);
    let depression = rating.and_then(|r| depression_at(air, r.flow, r.at));
    let verdict = depression.map(|d| {
        let row = n.full_throttle_vacuum.iter().find(|v| !above(d, v.up_to));
        row.map_or_else(|| n.too_small.clone(), |v| v.verdict.clone())
    });
    Ok(Sizing {
        air,
        air_mass: air * density,
        rating_at_1_5_inhg: restated(four)?,
        rating_at_3_0_inhg: restated(two)?,
        depression,
        verdict,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(in3: f64, rpm: f64, ve: f64, rating: Option<(f64, f64)>) -> Result<Sizing, SizingError> {
        let rating = rating
            .map(|(q, d)| Rating { flow: VolumeFlow::from_cfm(q), at: PressureDifference::from_inhg(d) });
        let rho = Density::from_kg_m3(1.225);
        size(
            Volume::from_in3(in3),
            EngineSpeed::from_rpm(rpm),
            Fraction::from_ratio(ve),
            rating,
            rho,
            &RuleBook::common(),
        )
    }

    #[test]
    fn the_workboat_is_just_right() {
        let s = of(256.0, 4100.0, 0.65, Some((280.0, 3.0))).unwrap();
        assert!((s.air.as_cfm() - 197.4).abs() < 0.1);
        assert!((s.depression.unwrap().as_inhg() - 1.5).abs() < 0.02);
        assert!((s.rating_at_1_5_inhg.as_cfm() - 198.0).abs() < 0.1);
    }

    #[test]
    fn verdicts_on_both_sides_of_each_border() {
        // rated so that the depression comes out as asked
        let verdict = |inhg: f64| {
            let air = of(300.0, 5000.0, 0.9, None).unwrap().air.as_cfm();
            of(300.0, 5000.0, 0.9, Some((air * (1.5 / inhg).sqrt(), 1.5))).unwrap().verdict.unwrap()
        };
        assert!(verdict(0.49).contains("race") && verdict(0.51).contains("street"));
        assert!(verdict(1.49).contains("street") && verdict(1.51).contains("economy"));
        assert!(verdict(1.99).contains("economy") && verdict(2.01).contains("too small"));
    }

    #[test]
    fn without_a_rating_the_one_that_would_show_it() {
        let s = of(350.0, 6000.0, 0.85, None).unwrap();
        assert_eq!(s.rating_at_1_5_inhg, s.air);
        assert!((s.rating_at_3_0_inhg / s.air - 2f64.sqrt()).abs() < 1e-9);
        assert!(s.depression.is_none() && s.verdict.is_none());
    }

    #[test]
    fn nonsense_is_refused() {
        assert_eq!(of(0.0, 5000.0, 0.85, None), Err(SizingError::NoEngine));
        assert_eq!(of(300.0, -1.0, 0.85, None), Err(SizingError::NoEngine));
        assert_eq!(of(300.0, 5000.0, 1.31, None), Err(SizingError::Efficiency));
        assert_eq!(of(300.0, 5000.0, 0.85, Some((0.0, 1.5))), Err(SizingError::NoRating));
        assert_eq!(of(300.0, 5000.0, 0.85, Some((600.0, 0.0))), Err(SizingError::NoRating));
    }
}
