//! The carburetor and every part of it that meters fuel or air.

use super::part::{PartPath, PartSize};
use crate::units::{Fraction, Length, PressureDifference, Turns, Vacuum, Volume, VolumeFlow};
use serde::{Deserialize, Serialize};

/// Which set of barrels opens when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SetName {
    /// Opens first.
    Primary,
    /// Opens later.
    Secondary,
}

/// The idle and transition circuit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IdleCircuit {
    /// Number of mixture screws, at least one.
    pub screws: u8,
    /// Turning a screw out leans the mixture, because it meters air.
    pub screws_meter_air: bool,
    /// Turns out from lightly seated, one for each screw.
    pub turns_out: Vec<Turns>,
    /// Turns from seated to falling out.
    pub screw_range: Turns,
    /// Idle feed restriction (idle jet) in each barrel.
    pub feed_restriction: Length,
    /// Idle air bleed in each barrel.
    pub air_bleed: Length,
    /// Height of transition slot showing below the blade at curb idle, when measured.
    pub slot_exposure: Option<Length>,
}

/// The main circuit of one set of barrels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MainSet {
    /// Which set.
    pub set: SetName,
    /// Barrels in it.
    pub barrels: u8,
    /// Venturi (choke tube) bore of each barrel.
    pub venturi: Length,
    /// Main jet of each barrel.
    pub jet: Length,
    /// Main air bleed (air corrector) of each barrel.
    pub air_bleed: Length,
    /// Throttle bore of each barrel, when known.
    pub throttle_bore: Option<Length>,
    /// Discharge nozzle of each barrel, when known.
    pub nozzle: Option<Length>,
    /// Depth of the first emulsion holes below the fuel level, when known.
    pub emulsion_depth: Option<Length>,
    /// Height of the nozzle lip above the fuel level, when known.
    pub lip: Option<Length>,
    /// Ratio of booster signal to venturi depression, when known (1 without a booster).
    pub booster_gain: Option<f64>,
}

/// The power-enrichment valve and the channel behind it, feeding the primary barrels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Enrichment {
    /// It opens when manifold vacuum falls below this.
    pub opens_below: Vacuum,
    /// Channel restriction in each barrel.
    pub channel_restriction: Length,
}

/// The accelerator pump.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pump {
    /// Discharge nozzle of each primary barrel.
    pub nozzle: Length,
    /// Volume of a full stroke, when measured.
    pub stroke_volume: Option<Volume>,
}

/// What advice may choose from; sorted, without repeats. Empty means: that part cannot be changed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Stock {
    /// Main jets, primary and secondary.
    pub main_jets: Vec<Length>,
    /// Main air bleeds.
    pub main_air_bleeds: Vec<Length>,
    /// Idle feed restrictions.
    pub idle_feeds: Vec<Length>,
    /// Idle air bleeds.
    pub idle_air_bleeds: Vec<Length>,
    /// Channel restrictions.
    pub channel_restrictions: Vec<Length>,
    /// Pump nozzles.
    pub pump_nozzles: Vec<Length>,
    /// Enrichment valves, by opening vacuum.
    pub enrichment_valves: Vec<Vacuum>,
}

/// The carburetor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Carburetor {
    /// What the person calls it.
    pub name: String,
    /// Barrels in all.
    pub barrels: u8,
    /// Rated air flow.
    pub rated_flow: VolumeFlow,
    /// Depression it was rated at.
    pub rated_depression: PressureDifference,
    /// Idle and transition circuit.
    pub idle: IdleCircuit,
    /// Main circuits, primary first; never empty.
    pub main: Vec<MainSet>,
    /// Enrichment, when there is one.
    pub enrichment: Option<Enrichment>,
    /// Accelerator pump, when there is one.
    pub pump: Option<Pump>,
    /// Share of throttle travel at which the secondaries begin to open, when there are any.
    pub secondary_opens_at: Option<Fraction>,
    /// Float drop below the bowl's top, when measured.
    pub float_level: Option<Length>,
    /// What advice may choose from.
    pub stock: Stock,
}

impl Carburetor {
    /// The main circuit of a set, when there is one.
    pub fn main_set(&self, set: SetName) -> Option<&MainSet> {
        self.main.iter().find(|m| m.set == set)
    }

    /// The size of a part, when this carburetor has it.
    pub fn size(&self, path: PartPath) -> Option<PartSize> {
        match path {
            PartPath::MainJet(set) => self.main_set(set).map(|m| PartSize::Bore(m.jet)),
            PartPath::MainAirBleed(set) => self.main_set(set).map(|m| PartSize::Bore(m.air_bleed)),
            PartPath::ChannelRestriction => self.enrichment.map(|e| PartSize::Bore(e.channel_restriction)),
            PartPath::EnrichmentOpening => self.enrichment.map(|e| PartSize::Opening(e.opens_below)),
            PartPath::IdleFeed => Some(PartSize::Bore(self.idle.feed_restriction)),
            PartPath::IdleAirBleed => Some(PartSize::Bore(self.idle.air_bleed)),
            PartPath::PumpNozzle => self.pump.map(|p| PartSize::Bore(p.nozzle)),
            PartPath::IdleScrew(n) => {
                self.idle.turns_out.get(usize::from(n).checked_sub(1)?).map(|t| PartSize::Turns(*t))
            }
        }
    }

    /// This carburetor with one part changed; `None` when it has no such part or the size is of another kind.
    #[must_use]
    pub fn with(&self, path: PartPath, size: PartSize) -> Option<Carburetor> {
        let mut new = self.clone();
        let set_of = |main: &mut Vec<MainSet>, set| main.iter_mut().position(|m: &mut MainSet| m.set == set);
        match (path, size) {
            (PartPath::MainJet(set), PartSize::Bore(d)) => {
                let i = set_of(&mut new.main, set)?;
                new.main[i].jet = d;
            }
            (PartPath::MainAirBleed(set), PartSize::Bore(d)) => {
                let i = set_of(&mut new.main, set)?;
                new.main[i].air_bleed = d;
            }
            (PartPath::ChannelRestriction, PartSize::Bore(d)) => {
                new.enrichment.as_mut()?.channel_restriction = d;
            }
            (PartPath::EnrichmentOpening, PartSize::Opening(v)) => new.enrichment.as_mut()?.opens_below = v,
            (PartPath::IdleFeed, PartSize::Bore(d)) => new.idle.feed_restriction = d,
            (PartPath::IdleAirBleed, PartSize::Bore(d)) => new.idle.air_bleed = d,
            (PartPath::PumpNozzle, PartSize::Bore(d)) => new.pump.as_mut()?.nozzle = d,
            (PartPath::IdleScrew(n), PartSize::Turns(t)) => {
                *new.idle.turns_out.get_mut(usize::from(n).checked_sub(1)?)? = t;
            }
            _ => return None,
        }
        Some(new)
    }

    /// Every part this carburetor has, with its size, in the order a person would list them.
    pub fn parts(&self) -> Vec<(PartPath, PartSize)> {
        let mut paths = Vec::new();
        for set in &self.main {
            paths.extend([PartPath::MainJet(set.set), PartPath::MainAirBleed(set.set)]);
        }
        paths.extend([PartPath::ChannelRestriction, PartPath::EnrichmentOpening]);
        paths.extend([PartPath::IdleFeed, PartPath::IdleAirBleed, PartPath::PumpNozzle]);
        paths.extend((1..=self.idle.screws).map(PartPath::IdleScrew));
        paths.into_iter().filter_map(|p| self.size(p).map(|s| (p, s))).collect()
    }
}
