//! Which part to change for a fault of a given shape, and what the trade expects a change to do.
#![doc = "\n"]
#![doc = include_str!("why/which-part.md")]

use super::book::{RuleBook, Span};
use crate::setup::{PartPath, Regime, SetName};
use crate::units::{Fraction, Length};
use serde::{Deserialize, Serialize};

/// The shape of a fault, as a log or the screws show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultShape {
    /// Cruise and full throttle are wrong the same way.
    CruiseAndFullThrottle,
    /// Cruise is right, full throttle is wrong at every speed.
    FullThrottleOnly,
    /// Cruise is wrong, full throttle is right.
    CruiseOnly,
    /// The screws end far out or far in, and off idle is wrong the same way.
    IdleAndOffIdle,
    /// Idle is right on its screws, off idle or the lightest cruise is wrong.
    OffIdleOnly,
    /// Full throttle drifts leaner with speed.
    LeanerWithSpeed,
    /// Full throttle drifts richer with speed.
    RicherWithSpeed,
    /// A lean hole where the main circuit should start.
    MainStartsLate,
    /// A short lean spike at tip-in and nothing else.
    TipInOnly,
    /// A lean spike at tip-in and then long rich.
    TipInThenRich,
    /// Right everywhere, a bog when the secondaries open.
    SecondaryBog,
    /// One or two cylinders are off.
    OneCylinder,
    /// It changes with heat alone.
    HeatOnly,
}

/// What to change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Remedy {
    /// Parts that meter, likeliest first; empty when none of them is at fault.
    pub parts: &'static [PartPath],
    /// What to do, in words.
    pub text: &'static str,
    /// Why that.
    pub why: &'static str,
    /// What to look at before any part is touched.
    pub first: Option<&'static str>,
}

const MAIN: PartPath = PartPath::MainJet(SetName::Primary);
const MAIN_BLEED: PartPath = PartPath::MainAirBleed(SetName::Primary);
const fn remedy(parts: &'static [PartPath], text: &'static str, why: &'static str) -> Remedy {
    Remedy { parts, text, why, first: None }
}

impl FaultShape {
    /// Every shape.
    pub const ALL: [FaultShape; 13] = [
        Self::CruiseAndFullThrottle,
        Self::FullThrottleOnly,
        Self::CruiseOnly,
        Self::IdleAndOffIdle,
        Self::OffIdleOnly,
        Self::LeanerWithSpeed,
        Self::RicherWithSpeed,
        Self::MainStartsLate,
        Self::TipInOnly,
        Self::TipInThenRich,
        Self::SecondaryBog,
        Self::OneCylinder,
        Self::HeatOnly,
    ];

    /// The shape in words.
    pub const fn said(self) -> &'static str {
        match self {
            Self::CruiseAndFullThrottle => "cruise and full throttle wrong the same way",
            Self::FullThrottleOnly => "cruise right, full throttle wrong at every speed",
            Self::CruiseOnly => "cruise wrong, full throttle right",
            Self::IdleAndOffIdle => "screws end far out or far in, and off idle is wrong the same way",
            Self::OffIdleOnly => "idle right on its screws, off idle or the lightest cruise wrong",
            Self::LeanerWithSpeed => "full throttle drifts leaner with speed",
            Self::RicherWithSpeed => "full throttle drifts richer with speed",
            Self::MainStartsLate => "a lean hole where the main circuit should start",
            Self::TipInOnly => "a short lean spike at tip-in and nothing else",
            Self::TipInThenRich => "a lean spike at tip-in, then long rich",
            Self::SecondaryBog => "right everywhere, a bog when the secondaries open",
            Self::OneCylinder => "one or two cylinders off",
            Self::HeatOnly => "it changes with heat alone",
        }
    }

    /// What the trade changes for it (common practice, fair). Why, and what a bleed may do: see [the module](self).
    pub const fn remedy(self) -> Remedy {
        use PartPath::{ChannelRestriction, IdleAirBleed, IdleFeed, MainJet, PumpNozzle};
        match self {
            Self::CruiseAndFullThrottle => remedy(&[MAIN], "main jet", "both are metered by it"),
            Self::FullThrottleOnly => remedy(
                &[ChannelRestriction, MainJet(SetName::Secondary)],
                "channel restriction; secondary jets when it is wrong only after they open",
                "they act only there",
            ),
            Self::CruiseOnly => remedy(
                &[MAIN, ChannelRestriction],
                "main jet one way, then the channel the other way by the same area",
                "the sum must stay for full throttle",
            ),
            Self::IdleAndOffIdle => {
                remedy(&[IdleFeed], "idle feed restriction", "it feeds idle and slot alike")
            }
            Self::OffIdleOnly => remedy(
                &[IdleFeed, IdleAirBleed],
                "idle feed restriction for the amount, idle air bleed for the shape",
                "they set the slot's mixture; the screws trim idle alone",
            ),
            Self::LeanerWithSpeed => Remedy {
                first: Some("fuel pressure at full throttle"),
                ..remedy(&[MAIN_BLEED], "smaller main air bleed", "less emulsion air at high depression")
            },
            Self::RicherWithSpeed => {
                remedy(&[MAIN_BLEED], "larger main air bleed", "more emulsion air at high flow")
            }
            Self::MainStartsLate => Remedy {
                first: Some("float level: up by 1/32 in (0.8 mm) starts the main circuit earlier"),
                ..remedy(&[MAIN_BLEED], "smaller main air bleed", "the main circuit starts earlier")
            },
            Self::TipInOnly => Remedy {
                first: Some("slack in the pump linkage"),
                ..remedy(
                    &[PumpNozzle],
                    "pump nozzle, then pump cam, then volume",
                    "only the transient is wrong",
                )
            },
            Self::TipInThenRich => {
                remedy(&[PumpNozzle], "smaller nozzle, same volume", "the shot is too slow or too long")
            }
            Self::SecondaryBog => {
                remedy(&[], "slower secondary opening, or a secondary pump", "air is added faster than fuel")
            }
            Self::OneCylinder => Remedy {
                first: Some("a leak, a valve, a plug at that cylinder"),
                ..remedy(
                    &[],
                    "stagger jets only with evidence from each cylinder",
                    "one sensor hides 0.05 of lambda",
                )
            },
            Self::HeatOnly => remedy(
                &[],
                "heat shield, spacer, fuel pressure; not jets",
                "the fuel boils, the metering is right",
            ),
        }
    }
}

/// What the trade expects of a change of bore, in per cent of fuel, richer positive: the table's step scaled by the logarithm of area.
/// A witness beside the model, not a prediction. `None` where the table is silent or a bore is not positive.
pub fn usual_effect(
    part: PartPath,
    from: Length,
    to: Length,
    regime: Regime,
    book: &RuleBook,
) -> Option<Span<Fraction>> {
    let row = book.effects.row.iter().find(|r| r.part == part)?;
    let column = row.of(regime)?;
    if from <= Length::ZERO || to <= Length::ZERO {
        return None;
    }
    let steps = (to / from).ln() / (row.to / row.from).ln();
    let (a, b) = (column.low * steps, column.high * steps);
    Some(Span { low: a.min(b), high: a.max(b) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn effect(part: PartPath, from: f64, to: f64, regime: Regime) -> Option<(f64, f64)> {
        let inches = Length::from_inches;
        let span = usual_effect(part, inches(from), inches(to), regime, &RuleBook::common())?;
        Some((span.low.as_percent(), span.high.as_percent()))
    }

    #[test]
    fn what_the_table_says_is_what_comes_out() {
        let (low, high) = effect(MAIN, 0.070, 0.071, Regime::Cruise).unwrap();
        assert!((low - 1.0).abs() < 1e-9 && (high - 2.5).abs() < 1e-9);
        let (low, high) = effect(MAIN, 0.071, 0.070, Regime::Cruise).unwrap();
        assert!((low + 2.5).abs() < 1e-9 && (high + 1.0).abs() < 1e-9, "back is the other way");
        assert!(effect(PartPath::PumpNozzle, 0.025, 0.028, Regime::Cruise).is_none());
        assert!(effect(MAIN, 0.070, 0.071, Regime::Idle).is_none());
        assert!(effect(MAIN, 0.0, 0.071, Regime::Cruise).is_none());
    }

    #[test]
    fn a_remedy_acts_where_the_fault_is_and_not_where_it_is_not() {
        let part = FaultShape::FullThrottleOnly.remedy().parts[0];
        assert_eq!(effect(part, 0.045, 0.047, Regime::Cruise), Some((0.0, 0.0)));
        assert!(effect(part, 0.045, 0.047, Regime::FullThrottle).unwrap().0 > 0.0);
        let idle = FaultShape::IdleAndOffIdle.remedy().parts[0];
        assert_eq!(effect(idle, 0.030, 0.031, Regime::FullThrottle), Some((0.0, 0.0)));
        for shape in FaultShape::ALL {
            let r = shape.remedy();
            assert!(!r.text.is_empty() && !r.why.is_empty(), "{shape:?}");
        }
    }
}
