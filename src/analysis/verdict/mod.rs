//! Did it help? A change judged against drift and noise, with an interval and one of three verdicts.
//!
//! Works on one figure for each pull (a band mean, a peak, a road time): the pull is what repeats, so the pull is
//! the unit of statistics, never the thousand rows inside it.

mod effect;
mod fit;
mod further;
mod noise;
mod settings;
mod steady;

pub(crate) use effect::judge_at;
pub use effect::{DriftSource, Effect, EffectError, Judged, Observation, Verdict, judge, quantile};
pub use fit::{Fit, fit};
pub use further::{FURTHER_LIMIT, further_pulls};
pub use noise::{Noise, NoiseSource, Rig};
pub use settings::{
    Setting, SettingDifference, Settings, area_change, differences, of_carburetor, same_words, state_of,
};
pub use steady::{Conditions, Unsteady, unsteadiness};
