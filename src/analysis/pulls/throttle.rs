//! Full-throttle vacuum at top speed: the proof of a carburetor's size.

use crate::units::{PressureDifference, Vacuum, VolumeFlow};

/// What full-throttle vacuum at the top of a pull says of the carburetor's size (common practice).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SizeVerdict {
    /// Up to 0.5 inHg.
    Race,
    /// 0.5 to 1.5 inHg.
    Street,
    /// 1.5 to 2.0 inHg.
    Economy,
    /// Above 2.0 inHg.
    TooSmall,
}

impl SizeVerdict {
    /// From the vacuum at the top of a pull.
    pub fn of(vacuum: Vacuum) -> SizeVerdict {
        match vacuum.as_inhg() {
            v if v <= 0.5 => SizeVerdict::Race,
            v if v <= 1.5 => SizeVerdict::Street,
            v if v <= 2.0 => SizeVerdict::Economy,
            _ => SizeVerdict::TooSmall,
        }
    }

    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            SizeVerdict::Race => "race",
            SizeVerdict::Street => "street",
            SizeVerdict::Economy => "economy-or-tow",
            SizeVerdict::TooSmall => "too-small",
        }
    }

    /// In a sentence.
    pub const fn said(self) -> &'static str {
        match self {
            SizeVerdict::Race => "large: right for racing, generous for anything else",
            SizeVerdict::Street => "right for the street",
            SizeVerdict::Economy => "small: right for economy, towing or a working boat",
            SizeVerdict::TooSmall => {
                "too small, or not fully open: check throttle and secondary linkage, and the air cleaner, first"
            }
        }
    }
}

/// The flow a carburetor passes at a depression, from its rating: flow goes with the root of the depression.
pub fn flow_at(rated: VolumeFlow, rated_at: PressureDifference, depression: Vacuum) -> Option<VolumeFlow> {
    let share = depression.as_pa() / rated_at.as_pa();
    (share.is_finite() && share >= 0.0).then(|| rated * share.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn both_sides_of_every_border() {
        let at = |v: f64| SizeVerdict::of(Vacuum::from_inhg(v));
        assert_eq!((at(0.49), at(0.51)), (SizeVerdict::Race, SizeVerdict::Street));
        assert_eq!((at(1.49), at(1.51)), (SizeVerdict::Street, SizeVerdict::Economy));
        assert_eq!((at(1.99), at(2.01)), (SizeVerdict::Economy, SizeVerdict::TooSmall));
    }

    #[test]
    fn the_work_boats_carburetor() {
        // 280 CFM at 3.0 inHg, 1.6 inHg measured: 280 sqrt(1.6/3) = 204.5
        let flow =
            flow_at(VolumeFlow::from_cfm(280.0), PressureDifference::from_inhg(3.0), Vacuum::from_inhg(1.6));
        assert_relative_eq!(flow.unwrap().as_cfm(), 204.5, epsilon = 0.05);
        assert_eq!(SizeVerdict::of(Vacuum::from_inhg(1.6)), SizeVerdict::Economy);
    }
}
