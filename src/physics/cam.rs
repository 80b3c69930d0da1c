//! Valve events from a cam card.

use crate::setup::Cam;
use crate::units::CrankAngle;

/// When the valves open and close, at the lift the durations were measured at. All can be negative: a valve that closes
/// before the point it is named after.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ValveEvents {
    /// Intake opens, before top dead centre.
    pub intake_opens_btdc: CrankAngle,
    /// Intake closes, after bottom dead centre.
    pub intake_closes_abdc: CrankAngle,
    /// Exhaust opens, before bottom dead centre.
    pub exhaust_opens_bbdc: CrankAngle,
    /// Exhaust closes, after top dead centre.
    pub exhaust_closes_atdc: CrankAngle,
    /// Both open at once; negative when there is a gap.
    pub overlap: CrankAngle,
}

/// The overlap of a cam: (intake + exhaust)/2 - 2 separation. It does not depend on how the cam is installed.
pub fn overlap(cam: &Cam) -> CrankAngle {
    (cam.intake_duration + cam.exhaust_duration) / 2.0 - cam.separation * 2.0
}

/// Valve events, by geometry: lobes taken as symmetrical about their centrelines (common practice). An unknown intake
/// centreline is taken as the lobe separation, straight up.
pub fn events(cam: &Cam) -> ValveEvents {
    let intake_centre = cam.centerline.unwrap_or(cam.separation);
    let exhaust_centre = cam.separation * 2.0 - intake_centre;
    let half_turn = CrankAngle::from_deg(180.0);
    ValveEvents {
        intake_opens_btdc: cam.intake_duration / 2.0 - intake_centre,
        intake_closes_abdc: cam.intake_duration / 2.0 + intake_centre - half_turn,
        exhaust_opens_bbdc: cam.exhaust_duration / 2.0 + exhaust_centre - half_turn,
        exhaust_closes_atdc: cam.exhaust_duration / 2.0 - exhaust_centre,
        overlap: overlap(cam),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    fn cam(i: f64, e: f64, s: f64, c: Option<f64>) -> Cam {
        let deg = CrankAngle::from_deg;
        Cam { intake_duration: deg(i), exhaust_duration: deg(e), separation: deg(s), centerline: c.map(deg) }
    }

    #[test]
    fn overlaps_at_fifty_thousandths() {
        for (i, e, s, expected) in [
            (202.0, 206.0, 112.0, -20.0),
            (212.0, 218.0, 110.0, -5.0),
            (230.0, 236.0, 110.0, 13.0),
            (248.0, 254.0, 108.0, 35.0),
        ] {
            assert_abs_diff_eq!(overlap(&cam(i, e, s, None)).as_deg(), expected, epsilon = 1e-9);
        }
    }

    proptest! {
        #[test]
        fn each_duration_is_made_of_its_events(i in 180.0..320.0f64, e in 180.0..320.0f64, s in 100.0..120.0f64, c in 96.0..118.0f64) {
            let v = events(&cam(i, e, s, Some(c)));
            let deg = |a: CrankAngle| a.as_deg();
            prop_assert!((deg(v.intake_opens_btdc) + 180.0 + deg(v.intake_closes_abdc) - i).abs() < 1e-9);
            prop_assert!((deg(v.exhaust_opens_bbdc) + 180.0 + deg(v.exhaust_closes_atdc) - e).abs() < 1e-9);
            prop_assert!((deg(v.intake_opens_btdc) + deg(v.exhaust_closes_atdc) - deg(v.overlap)).abs() < 1e-9);
        }

        #[test]
        fn moving_the_cam_in_its_drive_leaves_overlap_alone(c in 96.0..118.0f64) {
            prop_assert!((events(&cam(230.0, 236.0, 110.0, Some(c))).overlap.as_deg() - 13.0).abs() < 1e-9);
        }
    }
}
