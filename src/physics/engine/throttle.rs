//! The throttle: how much of the bore a plate leaves open, and how much gas passes an opening.

use crate::units::{Area, Length, MassFlow, Pressure, Temperature};
use core::f64::consts::{FRAC_2_PI, FRAC_PI_4};

/// The angle of a throttle plate from square across the bore.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct PlateAngle(f64);

impl PlateAngle {
    /// From degrees, held between square across (0) and in line with the bore (90).
    pub const fn from_deg(degrees: f64) -> Self {
        Self(degrees.clamp(0.0, 90.0).to_radians())
    }

    /// In degrees.
    pub const fn as_deg(self) -> f64 {
        self.0.to_degrees()
    }
}

/// The area a butterfly plate on a shaft leaves open, seen along the bore.
///
/// `closed` is the angle at which the elliptical plate touches the bore all round. Own derivation from the
/// projected ellipse, checked against numerical integration to six figures; the geometry is that of Heywood,
/// *Internal Combustion Engine Fundamentals* (1988), section 7.6. Once the plate's projection is narrower than the
/// shaft, the shaft alone blocks the bore and the area stays. Zero at and below the closed angle.
pub fn plate_area(bore: Length, shaft: Length, closed: PlateAngle, open: PlateAngle) -> Area {
    let d = bore.as_m();
    let a = (shaft.as_m() / d).clamp(0.0, 0.999);
    if open.0 <= closed.0 {
        return Area::ZERO;
    }
    let k = (open.0.cos() / closed.0.cos()).clamp(0.0, 1.0);
    let rest = a * (1.0 - a * a).sqrt() + a.asin();
    let share = if k <= a {
        1.0 - FRAC_2_PI * rest
    } else {
        (1.0 - k) + FRAC_2_PI * (a * (1.0 - (a / k).powi(2)).sqrt() + k * (a / k).asin() - rest)
    };
    Area::from_m2(FRAC_PI_4 * d * d * share.max(0.0))
}

/// A perfect gas: what nozzle flow needs to know of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// Ratio of specific heats.
    pub gamma: f64,
    /// Specific gas constant, J/(kg K).
    pub constant: f64,
}

/// Dry air near room temperature.
pub const AIR: Gas = Gas { gamma: 1.4, constant: 287.05 };

/// (2/2.4)^3.5
const CRITICAL_AIR: f64 = 0.528_281_787_717_174;

/// Mass flow of a gas at rest at `upstream` and `temperature` through an opening of `effective` area (discharge
/// coefficient times area) into `downstream`; choked below the critical ratio (0.5283 for air), and zero when
/// there is nothing to drive it.
///
/// Isentropic nozzle flow: Heywood (1988), equations 7.19 and 7.20, from memory.
pub fn nozzle_flow(
    effective: Area,
    gas: Gas,
    upstream: Pressure,
    temperature: Temperature,
    downstream: Pressure,
) -> MassFlow {
    let g = gas.gamma;
    let ratio = downstream.as_pa() / upstream.as_pa();
    if ratio >= 1.0 {
        return MassFlow::ZERO;
    }
    // the critical ratio of a two-atom gas is asked for so often that it is kept
    let critical = if g == 1.4 { CRITICAL_AIR } else { (2.0 / (g + 1.0)).powf(g / (g - 1.0)) };
    let root = ratio.max(critical).powf(1.0 / g);
    let psi = (2.0 * g / (g - 1.0) * (root * root - ratio.max(critical) * root)).max(0.0).sqrt();
    let density_speed = upstream.as_pa() / (gas.constant * temperature.as_k()).sqrt();
    MassFlow::from_kg_s(effective.as_m2() * density_speed * psi)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn plate(open: f64) -> f64 {
        plate_area(
            Length::from_mm(40.0),
            Length::from_mm(8.0),
            PlateAngle::from_deg(7.0),
            PlateAngle::from_deg(open),
        )
        .as_mm2()
    }

    fn flow(downstream: f64) -> f64 {
        let (p0, t0) = (Pressure::from_kpa(101.325), Temperature::from_c(20.0));
        nozzle_flow(Area::from_mm2(100.0), AIR, p0, t0, Pressure::from_kpa(downstream)).as_g_s()
    }

    #[test]
    fn a_closed_plate_passes_nothing_and_a_wide_open_one_all_but_its_shaft() {
        assert_eq!(plate(7.0), 0.0);
        let wide = plate_area(
            Length::from_mm(40.0),
            Length::from_mm(8.0),
            PlateAngle::from_deg(7.0),
            PlateAngle::from_deg(90.0),
        );
        let chord = 0.2 * (1.0f64 - 0.04).sqrt() + 0.2f64.asin();
        assert_relative_eq!(
            wide.as_mm2(),
            400.0 * core::f64::consts::PI * (1.0 - FRAC_2_PI * chord),
            epsilon = 1e-9
        );
    }

    #[test]
    fn below_the_critical_ratio_vacuum_changes_nothing() {
        assert_relative_eq!(CRITICAL_AIR, (2.0f64 / 2.4).powf(3.5), epsilon = 1e-15);
        assert_eq!(flow(20.0), flow(53.0));
        assert!(flow(54.5) < flow(53.0));
        assert_eq!(flow(101.325), 0.0);
        assert_eq!(flow(120.0), 0.0);
    }

    proptest! {
        #[test]
        fn area_grows_with_the_angle_and_flow_with_the_drop(a in 7.0..89.0f64, more in 0.1..10.0f64, p in 54.0..100.0f64) {
            prop_assert!(plate(a + more) >= plate(a));
            prop_assert!(flow(p) > flow((p + 0.5).min(101.3)));
        }
    }
}
