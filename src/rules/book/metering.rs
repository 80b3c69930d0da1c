//! Numbers of targets, enrichment, size and jets against weather.

use super::Span;
use crate::setup::Regime;
use crate::units::{Fraction, Lambda, Length, PressureDifference, Temperature, TimeSpan, Vacuum};
use serde::{Deserialize, Serialize};

/// Columns of the target tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Use {
    /// Street gasoline, water-cooled.
    Street,
    /// Race gasoline.
    Race,
    /// Air-cooled.
    AirCooled,
    /// Marine, towing, farm.
    Work,
    /// Ethanol blends.
    Ethanol,
    /// Methanol.
    Methanol,
}

impl Use {
    /// All of them.
    pub const ALL: [Use; 6] =
        [Use::Street, Use::Race, Use::AirCooled, Use::Work, Use::Ethanol, Use::Methanol];

    /// In a sentence.
    pub const fn said(self) -> &'static str {
        match self {
            Use::Street => "street gasoline, water-cooled",
            Use::Race => "race gasoline",
            Use::AirCooled => "air-cooled",
            Use::Work => "marine, towing and farm work",
            Use::Ethanol => "ethanol blend",
            Use::Methanol => "methanol",
        }
    }
}

/// Lambda aimed at in a regime, for a use.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TargetBand {
    /// Regime.
    pub regime: Regime,
    /// Use.
    #[serde(rename = "use")]
    pub of: Use,
    /// Rich end.
    pub low: Lambda,
    /// Lean end.
    pub high: Lambda,
}

/// Idle with much overlap.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OverlappedIdle {
    /// Use.
    #[serde(rename = "use")]
    pub of: Use,
    /// Rich end.
    pub low: Lambda,
    /// Lean end.
    pub high: Lambda,
}

/// Lambda targets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TargetNumbers {
    /// By regime and use.
    pub band: Vec<TargetBand>,
    /// Idle with much overlap, by use.
    pub overlapped_idle: Vec<OverlappedIdle>,
}

/// Regimes that have a row in the target table.
const AIMED_AT: [Regime; 5] =
    [Regime::Idle, Regime::OffIdle, Regime::Cruise, Regime::HeavyCruise, Regime::FullThrottle];

impl TargetNumbers {
    /// Rich and lean end for a regime and a use.
    pub fn of(&self, regime: Regime, of: Use) -> Option<Span<Lambda>> {
        let found = self.band.iter().find(|b| b.regime == regime && b.of == of)?;
        Some(Span { low: found.low, high: found.high })
    }

    /// Rich and lean end of an overlapped idle.
    pub fn overlapped(&self, of: Use) -> Option<Span<Lambda>> {
        let found = self.overlapped_idle.iter().find(|b| b.of == of)?;
        Some(Span { low: found.low, high: found.high })
    }

    pub(super) fn flaw(&self) -> Option<String> {
        for of in Use::ALL {
            for regime in AIMED_AT {
                match self.of(regime, of) {
                    None => return Some(format!("targets.band has no row for {regime}, {}", of.said())),
                    Some(s) if s.low >= s.high => {
                        return Some(format!(
                            "targets.band for {regime}, {}: low must be below high",
                            of.said()
                        ));
                    }
                    Some(_) => {}
                }
            }
            if self.overlapped(of).is_none_or(|s| s.low >= s.high) {
                return Some(format!(
                    "targets.overlapped_idle needs a row for {}, low below high",
                    of.said()
                ));
            }
        }
        None
    }
}

/// The lean peak allowed at tip-in, for a use.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PeakRow {
    /// Use.
    #[serde(rename = "use")]
    pub of: Use,
    /// Leanest.
    pub lambda: Lambda,
}

/// Throttle opened quickly.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TipInNumbers {
    /// Throttle opening faster than this, per cent of travel a second, is tip-in.
    pub throttle_rate_percent_per_s: f64,
    /// The longest a lean peak may last.
    pub no_longer_than: TimeSpan,
    /// Where it settles.
    pub settle: Span<Lambda>,
    /// The leanest it may get, by use.
    pub peak: Vec<PeakRow>,
}

impl TipInNumbers {
    /// The leanest it may get.
    pub fn peak_of(&self, of: Use) -> Option<Lambda> {
        self.peak.iter().find(|p| p.of == of).map(|p| p.lambda)
    }

    pub(super) fn flaw(&self) -> Option<String> {
        let missing = Use::ALL.into_iter().find(|of| self.peak_of(*of).is_none());
        missing.map(|of| format!("tip_in.peak has no row for {}", of.said()))
    }
}

/// Opening of the enrichment valve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EnrichmentNumbers {
    /// Share of hot idle vacuum.
    pub share_of_idle: Fraction,
    /// Below the lowest steady cruise vacuum.
    pub below_cruise: Span<PressureDifference>,
    /// Below idle vacuum in gear.
    pub below_idle_in_gear: PressureDifference,
    /// Idle and cruise rule further apart than this are said to disagree.
    pub rules_differ_above: PressureDifference,
    /// The valve that serves most.
    pub general_purpose: Vacuum,
    /// Engines that idle at this or more.
    pub general_purpose_idle: Vacuum,
    /// Load by which it should be open.
    pub open_by_load: Span<Fraction>,
    /// Load past which jets are the remedy, not the valve.
    pub rejet_past_load: Fraction,
}

/// What full-throttle vacuum says of size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FullThrottleVacuum {
    /// Up to this.
    pub up_to: PressureDifference,
    /// What it means.
    pub verdict: String,
}

/// Volumetric efficiency by tune.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EfficiencyRow {
    /// Tune.
    pub tune: String,
    /// Low end.
    pub low: Fraction,
    /// High end.
    pub high: Fraction,
}

/// Carburetor size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizingNumbers {
    /// Depression four barrels are rated at.
    pub four_barrel_rating: PressureDifference,
    /// Depression one and two barrels are rated at.
    pub one_or_two_barrel_rating: PressureDifference,
    /// Volumetric efficiency when none is given.
    pub default_efficiency: Fraction,
    /// What full-throttle vacuum says, by rising vacuum.
    pub full_throttle_vacuum: Vec<FullThrottleVacuum>,
    /// What more than the last says.
    pub too_small: String,
    /// Volumetric efficiency by tune.
    pub efficiency: Vec<EfficiencyRow>,
}

/// A rule of thumb for jets against altitude and temperature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldRuleRow {
    /// What it is called.
    pub name: String,
    /// Change of fuel for 1000 ft up.
    pub per_1000_ft: Fraction,
    /// Change of fuel for 10 degF warmer.
    pub per_10_degf: Fraction,
    /// Who says so.
    pub source: String,
}

/// Jets against altitude and temperature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldRules {
    /// The rules of thumb.
    pub rule: Vec<FieldRuleRow>,
    /// Altitudes of the "re-jet if" table.
    pub altitudes: Vec<Length>,
    /// Temperatures of the "re-jet if" table.
    pub temperatures: Vec<Temperature>,
}
