//! Dyno pulls: found in a file, drawn on a common grid, corrected for the air, checked, and held against each other.
//!
//! What a figure says of a change is the business of [`super::verdict`]; what several changes at once say, of
//! [`super::factorial`].

mod account;
mod against;
mod band;
mod check;
mod curve;
mod find;
mod kept;
mod peak;
mod pull;
mod remark;
mod row;
#[cfg(test)]
mod specimen;
mod throttle;

pub use account::{Account, Asked, Attributed, FileRows, Listed, account, attributed, side_by_side};
pub use against::{Against, AgainstError, Figure, How, Labelled, SpeedEffect, hold, mark_unlike};
pub use band::{Band, Means, common_range, has, means, shared};
pub use curve::{Curve, Smoothing};
pub use find::{Found, PullRows, find_pulls};
pub use kept::{KeptCurve, KeptMean, KeptPeak, KeptPull, KeptRemark};
pub use peak::{Peak, spread_of};
pub use pull::{AirSource, Pull, Reading};
pub use remark::{Remark, RemarkKind};
pub use row::{Gearing, Row, RowsError, SpeedSource, with_speed};
pub use throttle::{SizeVerdict, flow_at};
