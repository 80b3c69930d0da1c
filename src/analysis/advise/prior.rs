//! What is believed before the engine has taught anything, and why that much.
//!
//! The mean comes from the metering model; these are the spreads about it. They are our own reckoning, held by the
//! coverage that the benchmark of the advisor measures: nine in ten intervals must hold.

use crate::setup::{PartPath, Regime};

/// Spread of the factor between a part's real say and the model's. Discharge of jets scatters by 10 to 15 %
/// (Lichtarowicz and others find 4 to 15 % between Reynolds numbers alone), and how the circuits share the fuel is
/// known worse than that; a bleed can even act the other way (common practice), and the seat before the channel is
/// never measured.
pub(super) fn say_spread(part: PartPath) -> f64 {
    match part {
        PartPath::MainJet(_) => 0.18,
        PartPath::IdleFeed | PartPath::ChannelRestriction => 0.40,
        PartPath::EnrichmentOpening => 0.35,
        PartPath::MainAirBleed(_) | PartPath::IdleAirBleed => 0.60,
        PartPath::IdleScrew(_) | PartPath::PumpNozzle => 0.5,
    }
}

/// Spread of what a part has to say in a single regime beside that factor, where the model gives it a say.
/// Where idle and main hand over nobody knows the shares; once the main carries all, they are better known.
pub(super) const fn regime_say(regime: Regime) -> f64 {
    match regime {
        Regime::Idle | Regime::OffIdle => 0.22,
        Regime::Cruise => 0.16,
        Regime::HeavyCruise | Regime::TipIn | Regime::Overrun => 0.12,
        Regime::FullThrottle => 0.08,
    }
}
/// The same where the model gives it next to none: a main jet does not meter idle fuel.
pub(super) const NO_SAY: f64 = 0.025;
/// Below this elasticity a part counts as having next to no say.
pub(super) const LITTLE_SAY: f64 = 0.03;

/// How far a part's say in a regime may lie from what the trade's table says of other carburetors, beside the span it gives.
pub(super) const PRACTICE_SPREAD: f64 = 0.20;

/// Spread of a bore about its stamp: half a step of a thousandth of an inch either way (parts differ from their stamp by up to
/// a step, common practice).
pub(super) const BORE_SPREAD_M: f64 = 0.45 * 2.54e-5;

/// How well one visit to a regime repeats, in ln(lambda): fuel level, heat and distribution differ from one to the next.
pub(super) const VISIT_SPREAD: f64 = 0.020;
/// How well one visit to a station repeats beside that.
pub(super) const STATION_SPREAD: f64 = 0.010;
/// Seconds of steady running that say as much as a visit.
pub(super) const SECONDS_PER_VISIT: f64 = 30.0;
/// What the whole log may be off by from another of the same engine: sensor and fuel.
pub(super) const LOG_SPREAD: f64 = 0.004;
/// Part of a weather correction that may be wrong.
pub(super) const WEATHER_DOUBT: f64 = 0.2;
/// Nothing is taken for granted about a mixture that was not measured.
pub(super) const MIXTURE_SPREAD: f64 = 0.5;

/// How much a regime matters beside the time spent in it.
pub(super) fn importance(regime: Regime) -> f64 {
    match regime {
        Regime::FullThrottle => 2.0,
        Regime::HeavyCruise => 1.2,
        Regime::Cruise => 1.0,
        Regime::OffIdle => 0.8,
        Regime::Idle | Regime::TipIn | Regime::Overrun => 0.0,
    }
}

/// Regimes in which lambda decides about parts. Idle is not among them: there vacuum decides, and lambda witnesses.
pub(super) const JUDGED: [Regime; 4] =
    [Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];
