//! What is wrong with a pull, or with a stretch of a file, in words.

use crate::units::PressureDifference;
use std::fmt;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RemarkKind {
    /// Speed falls with the throttle shut: left out.
    CoastDown,
    /// Speed falls under load: left out, because inertia then adds where a rising pull loses.
    DownSweep,
    /// Too short to be a curve: left out.
    TooShort {
        /// Speed covered.
        span_rpm: f64,
        /// Rows in it.
        rows: usize,
    },
    /// Rows are missing inside a pull; nothing is drawn across the hole.
    Gap {
        /// How long.
        seconds: f64,
        /// Speed before.
        from_rpm: f64,
        /// Speed after.
        to_rpm: f64,
    },
    /// The engine ran ahead of the rollers, or of the road: those rows are left out.
    Slip {
        /// Speed where it began.
        from_rpm: f64,
        /// Speed where it ended.
        to_rpm: f64,
    },
    /// Torque times speed is not the power, by a constant that names another unit.
    OtherUnits {
        /// Power over torque times speed.
        ratio: f64,
        /// What would explain it.
        looks_like: &'static str,
    },
    /// Torque times speed is not the power, by a constant that is no unit's: torque was taken somewhere else.
    OtherShaft {
        /// Power over torque times speed.
        ratio: f64,
    },
    /// Torque times speed is not the power, by no constant at all.
    Inconsistent,
    /// The whole pull stands off the others by the ratio of two units.
    UnlikeOthers {
        /// This pull over the others.
        ratio: f64,
        /// What would explain it.
        looks_like: &'static str,
    },
    /// Lambda climbs above the torque peak.
    LambdaClimbs {
        /// By how much.
        by: f64,
        /// Fuel pressure fell by more than 1 psi meanwhile: the supply does not keep up.
        starving: bool,
    },
    /// Lambda beyond a full-throttle limit for longer than the limit allows.
    BeyondLimit {
        /// The lambda it stayed beyond the limit at, on the mean.
        lambda: f64,
        /// The limit.
        limit: f64,
        /// How long, s.
        seconds: f64,
        /// Leaner than the limit; else richer.
        lean: bool,
        /// The limit says stop; else it warns.
        stop: bool,
    },
    /// Fuel pressure fell by more than 1 psi through the pull.
    PressureFalls {
        /// By how much, psi.
        by_psi: f64,
    },
}

/// Something found, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Remark {
    /// What.
    pub kind: RemarkKind,
    /// First line of the file it holds for.
    pub first_line: u64,
    /// Last line.
    pub last_line: u64,
}

impl RemarkKind {
    /// A short name for JSON.
    pub const fn name(self) -> &'static str {
        match self {
            RemarkKind::CoastDown => "coast-down",
            RemarkKind::DownSweep => "down-sweep",
            RemarkKind::TooShort { .. } => "too-short",
            RemarkKind::Gap { .. } => "gap",
            RemarkKind::Slip { .. } => "wheel-slip",
            RemarkKind::OtherUnits { .. } => "other-units",
            RemarkKind::OtherShaft { .. } => "other-shaft",
            RemarkKind::Inconsistent => "inconsistent",
            RemarkKind::UnlikeOthers { .. } => "unlike-others",
            RemarkKind::LambdaClimbs { .. } => "lambda-climbs",
            RemarkKind::BeyondLimit { lean: true, .. } => "too-lean",
            RemarkKind::BeyondLimit { lean: false, .. } => "too-rich",
            RemarkKind::PressureFalls { .. } => "fuel-pressure-falls",
        }
    }

    /// A pull with this remark cannot be compared with others.
    pub const fn bars_comparison(self) -> bool {
        matches!(
            self,
            RemarkKind::OtherUnits { .. }
                | RemarkKind::Inconsistent
                | RemarkKind::UnlikeOthers { .. }
                | RemarkKind::Slip { .. }
        )
    }

    /// The figures of a pull with this remark are in doubt by whole units: none is shown.
    pub const fn spoils_figures(self) -> bool {
        matches!(
            self,
            RemarkKind::OtherUnits { .. } | RemarkKind::Inconsistent | RemarkKind::UnlikeOthers { .. }
        )
    }

    /// What to stop for, before anything else is read.
    pub const fn stops(self) -> bool {
        matches!(
            self,
            RemarkKind::LambdaClimbs { starving: true, .. } | RemarkKind::BeyondLimit { stop: true, .. }
        )
    }
}

impl fmt::Display for RemarkKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RemarkKind::CoastDown => f.write_str("a coast-down, throttle shut: left out"),
            RemarkKind::DownSweep => {
                f.write_str("speed falls under load: left out, only rising pulls are read")
            }
            RemarkKind::TooShort { span_rpm, rows } => {
                write!(
                    f,
                    "only {span_rpm:.0} rpm and {rows} rows under full throttle: too short for a curve, left out"
                )
            }
            RemarkKind::Gap { seconds, from_rpm, to_rpm } => write!(
                f,
                "{seconds:.1} s of rows missing from {from_rpm:.0} to {to_rpm:.0} rpm: nothing is drawn across the hole"
            ),
            RemarkKind::Slip { from_rpm, to_rpm } => write!(
                f,
                "the engine ran ahead of the wheels from {from_rpm:.0} to {to_rpm:.0} rpm (slip): \
                 those rows are left out and the pull is not compared"
            ),
            RemarkKind::OtherUnits { ratio, looks_like } => write!(
                f,
                "power is {ratio:.3} times torque x speed (they must cross at 5252 rpm in hp and lbf ft): {looks_like}"
            ),
            RemarkKind::OtherShaft { ratio } => write!(
                f,
                "power is {ratio:.2} times torque x engine speed throughout: the torque is of another shaft \
                 (wheels or roller); torque was taken from power and engine speed"
            ),
            RemarkKind::Inconsistent => {
                f.write_str("power and torque x speed do not go together: not compared; check the columns")
            }
            RemarkKind::UnlikeOthers { ratio, looks_like } => {
                write!(f, "reads {ratio:.3} times the other pulls: {looks_like}; not compared")
            }
            RemarkKind::LambdaClimbs { by, starving: false } => {
                write!(f, "lambda climbs by {by:.3} above the torque peak: watch the fuel supply")
            }
            RemarkKind::LambdaClimbs { by, starving: true } => write!(
                f,
                "STOP: lambda climbs by {by:.3} above the torque peak while fuel pressure falls by more than 1 psi (7 kPa): \
                 the engine starves; mend the supply before another pull"
            ),
            RemarkKind::BeyondLimit { lambda, limit, seconds, lean, stop } => {
                let (head, side) =
                    (if *stop { "STOP: " } else { "" }, if *lean { "leaner" } else { "richer" });
                write!(
                    f,
                    "{head}lambda {lambda:.3}, {side} than {limit:.2} for {seconds:.1} s at full throttle"
                )?;
                f.write_str(match (stop, lean) {
                    (true, true) => ": no further pull before it is richer",
                    (true, false) => {
                        ": it misfires and washes the bores; no further pull before it is leaner"
                    }
                    (false, _) => ": near the limit",
                })
            }
            RemarkKind::PressureFalls { by_psi } => {
                let by = PressureDifference::from_psi(*by_psi).as_kpa();
                write!(f, "fuel pressure falls by {by_psi:.1} psi ({by:.0} kPa) through the pull")
            }
        }
    }
}
