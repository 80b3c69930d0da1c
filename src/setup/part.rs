//! The name of a part, as a path into the carburetor, and its size.

use super::SetName;
use crate::units::{Length, System, Turns, Vacuum, show::Shown, show::turns_as_fraction};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A part that meters, named by its path: `main.primary.jet`, `idle.screw.1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PartPath {
    /// Main jet of a set.
    MainJet(SetName),
    /// Main air bleed of a set.
    MainAirBleed(SetName),
    /// The enrichment valve's channel restriction.
    ChannelRestriction,
    /// The vacuum below which the enrichment valve opens.
    EnrichmentOpening,
    /// Idle feed restriction.
    IdleFeed,
    /// Idle air bleed.
    IdleAirBleed,
    /// Accelerator-pump nozzle.
    PumpNozzle,
    /// An idle mixture screw, counted from one.
    IdleScrew(u8),
}

/// How big a part is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PartSize {
    /// Bore of a jet, bleed, restriction or nozzle.
    Bore(Length),
    /// Opening vacuum of an enrichment valve.
    Opening(Vacuum),
    /// Turns out of a screw.
    Turns(Turns),
}

/// A text that names no part.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" names no part; the parts are main.primary.jet, main.secondary.jet, main.primary.air_bleed, \
         main.secondary.air_bleed, enrichment.channel_restriction, enrichment.opens_below, \
         idle.feed_restriction, idle.air_bleed, pump.nozzle, idle.screw.1 and so on"
)]
pub struct PartPathError(pub String);

impl fmt::Display for PartPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let set = |s: &SetName| match s {
            SetName::Primary => "primary",
            SetName::Secondary => "secondary",
        };
        match self {
            PartPath::MainJet(s) => write!(f, "main.{}.jet", set(s)),
            PartPath::MainAirBleed(s) => write!(f, "main.{}.air_bleed", set(s)),
            PartPath::ChannelRestriction => f.write_str("enrichment.channel_restriction"),
            PartPath::EnrichmentOpening => f.write_str("enrichment.opens_below"),
            PartPath::IdleFeed => f.write_str("idle.feed_restriction"),
            PartPath::IdleAirBleed => f.write_str("idle.air_bleed"),
            PartPath::PumpNozzle => f.write_str("pump.nozzle"),
            PartPath::IdleScrew(n) => write!(f, "idle.screw.{n}"),
        }
    }
}

impl FromStr for PartPath {
    type Err = PartPathError;
    fn from_str(text: &str) -> Result<Self, PartPathError> {
        use SetName::{Primary, Secondary};
        Ok(match text {
            "main.primary.jet" => PartPath::MainJet(Primary),
            "main.secondary.jet" => PartPath::MainJet(Secondary),
            "main.primary.air_bleed" => PartPath::MainAirBleed(Primary),
            "main.secondary.air_bleed" => PartPath::MainAirBleed(Secondary),
            "enrichment.channel_restriction" => PartPath::ChannelRestriction,
            "enrichment.opens_below" => PartPath::EnrichmentOpening,
            "idle.feed_restriction" => PartPath::IdleFeed,
            "idle.air_bleed" => PartPath::IdleAirBleed,
            "pump.nozzle" => PartPath::PumpNozzle,
            _ => {
                let number =
                    text.strip_prefix("idle.screw.").and_then(|n| n.parse::<u8>().ok()).filter(|n| *n > 0);
                PartPath::IdleScrew(number.ok_or_else(|| PartPathError(text.chars().take(40).collect()))?)
            }
        })
    }
}

impl Serialize for PartPath {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for PartPath {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str> as Deserialize<'de>>::deserialize(d)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl PartPath {
    /// What the part is called at the bench.
    pub fn said(self) -> String {
        use SetName::{Primary, Secondary};
        match self {
            PartPath::MainJet(Primary) => "primary main jet".to_owned(),
            PartPath::MainJet(Secondary) => "secondary main jet".to_owned(),
            PartPath::MainAirBleed(Primary) => "primary main air bleed".to_owned(),
            PartPath::MainAirBleed(Secondary) => "secondary main air bleed".to_owned(),
            PartPath::ChannelRestriction => "enrichment channel restriction".to_owned(),
            PartPath::EnrichmentOpening => "enrichment valve".to_owned(),
            PartPath::IdleFeed => "idle feed restriction".to_owned(),
            PartPath::IdleAirBleed => "idle air bleed".to_owned(),
            PartPath::PumpNozzle => "pump nozzle".to_owned(),
            PartPath::IdleScrew(n) => format!("mixture screw {n}"),
        }
    }
}

impl PartSize {
    /// The bore, when the size is one.
    pub fn bore(self) -> Option<Length> {
        match self {
            PartSize::Bore(d) => Some(d),
            PartSize::Opening(_) | PartSize::Turns(_) => None,
        }
    }

    /// As a person writes it.
    pub fn show(self, system: System) -> String {
        match self {
            PartSize::Bore(d) => d.show(system),
            PartSize::Opening(v) => v.show(system),
            PartSize::Turns(t) => format!("{} turns out", turns_as_fraction(t)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_its_own_way_back() {
        for text in [
            "main.primary.jet",
            "main.secondary.jet",
            "main.primary.air_bleed",
            "enrichment.channel_restriction",
            "enrichment.opens_below",
            "idle.feed_restriction",
            "idle.air_bleed",
            "pump.nozzle",
            "idle.screw.4",
        ] {
            assert_eq!(text.parse::<PartPath>().unwrap().to_string(), text);
        }
        for text in ["idle.screw.0", "idle.screw.", "main.jet", ""] {
            assert!(text.parse::<PartPath>().is_err(), "{text}");
        }
    }
}
