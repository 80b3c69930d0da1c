//! The slider-crank, and the compression that is left when the intake valve closes late.

use crate::units::{CrankAngle, Length};

/// A geometry that is no engine.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CylinderError {
    /// The rod does not reach.
    #[error("a connecting rod must be longer than half the stroke, and both must be positive")]
    Rod,
    /// A compression ratio of one or less.
    #[error("a compression ratio must be above 1")]
    Ratio,
}

/// How far the piston is below top dead centre at a crank angle after it.
///
/// x = r(1 - cos a) + l - sqrt(l^2 - r^2 sin^2 a); pin offset neglected.
pub fn piston_drop(stroke: Length, rod: Length, after_tdc: CrankAngle) -> Result<Length, CylinderError> {
    let (r, l) = (stroke.as_m() / 2.0, rod.as_m());
    if !(r > 0.0 && l > r) {
        return Err(CylinderError::Rod);
    }
    let a = after_tdc.as_deg().to_radians();
    Ok(Length::from_m(r * (1.0 - a.cos()) + l - (l * l - (r * a.sin()).powi(2)).sqrt()))
}

/// How far the piston has risen from bottom dead centre at a crank angle after it.
pub fn piston_rise(stroke: Length, rod: Length, after_bdc: CrankAngle) -> Result<Length, CylinderError> {
    let drop = piston_drop(stroke, rod, after_bdc + CrankAngle::from_deg(180.0))?;
    Ok(stroke - drop)
}

/// Dynamic compression ratio: the volume above the piston when the intake valve closes, over the volume at top dead
/// centre (same as Heywood 1988 equation 2.6 at that angle).
///
/// A linear rule in the closing angle is in circulation and wrong: the piston does not move in proportion to the crank.
pub fn dynamic_compression(
    ratio: f64,
    stroke: Length,
    rod: Length,
    intake_closes_abdc: CrankAngle,
) -> Result<f64, CylinderError> {
    // negated so that a ratio that is not a number is refused too
    if !(ratio > 1.0 && ratio.is_finite()) {
        return Err(CylinderError::Ratio);
    }
    let drop = piston_drop(stroke, rod, intake_closes_abdc + CrankAngle::from_deg(180.0))?;
    Ok(1.0 + (ratio - 1.0) * (drop / stroke))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    #[test]
    fn the_linear_rule_is_not_ours() {
        let (stroke, rod, ivc) =
            (Length::from_inches(3.48), Length::from_inches(5.7), CrankAngle::from_deg(70.0));
        let ours = dynamic_compression(10.0, stroke, rod, ivc).unwrap();
        let linear = 10.0 * (1.0 - (70.0 + 15.0) / (180.0 + 70.0));
        assert!((ours - linear).abs() > 0.5, "{ours} {linear}");
    }

    #[test]
    fn no_engine_is_refused() {
        let d = Length::from_inches;
        assert_eq!(piston_drop(d(4.0), d(2.0), CrankAngle::ZERO), Err(CylinderError::Rod));
        assert_eq!(dynamic_compression(1.0, d(3.0), d(6.0), CrankAngle::ZERO), Err(CylinderError::Ratio));
        assert_eq!(
            dynamic_compression(f64::NAN, d(3.0), d(6.0), CrankAngle::ZERO),
            Err(CylinderError::Ratio)
        );
    }

    proptest! {
        #[test]
        fn the_ends_of_the_stroke_and_a_steady_fall(stroke in 2.0..5.0f64, ratio in 1.3..2.2f64, ivc in 0.0..120.0f64) {
            let (s, l) = (Length::from_inches(stroke), Length::from_inches(stroke * ratio));
            assert_abs_diff_eq!(piston_drop(s, l, CrankAngle::ZERO).unwrap().as_m(), 0.0, epsilon = 1e-12);
            assert_abs_diff_eq!(piston_drop(s, l, CrankAngle::from_deg(180.0)).unwrap() / s, 1.0, epsilon = 1e-9);
            let at = |deg: f64| dynamic_compression(9.0, s, l, CrankAngle::from_deg(deg)).unwrap();
            prop_assert!(at(ivc + 1.0) < at(ivc) && at(ivc) <= 9.0 + 1e-9);
        }
    }
}
