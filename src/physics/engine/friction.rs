//! Friction as a mean effective pressure.

use crate::units::{EngineSpeed, Length, PressureDifference};

/// Motored friction of a spark-ignition engine at wide-open throttle, *pumping included*: a rubbing figure must
/// not have pumping added to it a second time.
///
/// `0.97 + 0.15 (N/1000) + 0.05 (N/1000)^2` bar: Barnes-Moss (1975) as given by Heywood (1988), chapter 13; engines
/// of 845 to 2000 cc, 500 to 6000 rpm.
pub fn barnes_moss(speed: EngineSpeed) -> PressureDifference {
    let thousands = speed.as_rpm() / 1000.0;
    PressureDifference::from_kpa(100.0 * (0.97 + 0.15 * thousands + 0.05 * thousands * thousands))
}

/// Coefficients of the Chen and Flynn form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChenFlynn {
    /// Constant part.
    pub constant: PressureDifference,
    /// Share of the peak cylinder pressure.
    pub peak_share: f64,
    /// Pressure in Pa for each metre a second of mean piston speed.
    pub per_speed: f64,
    /// Pressure in Pa for each (metre a second) squared.
    pub per_speed_squared: f64,
}

impl ChenFlynn {
    /// A generic set: 0.4 bar, 0.005, 0.09 bar s/m, 0.0009 bar s2/m2.
    pub const GENERIC: Self = Self {
        constant: PressureDifference::from_kpa(40.0),
        peak_share: 0.005,
        per_speed: 9_000.0,
        per_speed_squared: 90.0,
    };
}

/// Rubbing and auxiliary friction from peak pressure and mean piston speed.
///
/// Chen and Flynn, SAE 650733 (1965), with a coefficient set in general use.
pub fn chen_flynn(
    set: ChenFlynn,
    peak: PressureDifference,
    stroke: Length,
    speed: EngineSpeed,
) -> PressureDifference {
    let piston = 2.0 * stroke.as_m() * speed.as_rpm() / 60.0;
    PressureDifference::from_pa(
        set.constant.as_pa()
            + set.peak_share * peak.as_pa()
            + set.per_speed * piston
            + set.per_speed_squared * piston * piston,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_two_forms_are_of_one_order_and_rise_with_speed() {
        let stroke = Length::from_mm(88.4);
        let mut last = 0.0;
        for rpm in [600.0, 1500.0, 3000.0, 5000.0] {
            let speed = EngineSpeed::from_rpm(rpm);
            let rubbing =
                chen_flynn(ChenFlynn::GENERIC, PressureDifference::from_kpa(4000.0), stroke, speed).as_kpa();
            let motored = barnes_moss(speed).as_kpa();
            assert!((0.5..1.1).contains(&(rubbing / motored)), "{rpm}: {rubbing} {motored}");
            assert!(rubbing > last);
            last = rubbing;
        }
    }
}
