//! Fitting another part: the circuit it sits in passes as much more as its area grew. How far a part is off its
//! stamp is the maker's doing and stays.

use super::plant::Plant;
use crate::setup::{PartPath, PartSize, SetName};

impl Plant {
    /// Fits a part whose area is `ratio` of the one before.
    pub(super) fn refit(&mut self, path: PartPath, size: PartSize, ratio: f64, turns: &mut [f64]) {
        match (path, size) {
            (PartPath::MainJet(set), _) => self.barrels(set, |m| m.jet *= ratio),
            (PartPath::MainAirBleed(set), _) => self.barrels(set, |m| m.bleed *= ratio),
            (PartPath::ChannelRestriction, _) => {
                if let Some(v) = self.valve.as_mut() {
                    v.channel *= ratio;
                }
            }
            (PartPath::EnrichmentOpening, PartSize::Opening(opening)) => {
                if let Some(v) = self.valve.as_mut() {
                    v.opens_below = opening.as_pa();
                }
            }
            (PartPath::IdleFeed, _) => self.corners.iter_mut().for_each(|c| c.feed *= ratio),
            (PartPath::IdleAirBleed, _) => self.corners.iter_mut().for_each(|c| c.bleed *= ratio),
            (PartPath::PumpNozzle, _) => {
                if let Some(shot) = self.shot.as_mut() {
                    shot.rate *= ratio;
                }
            }
            (PartPath::IdleScrew(n), PartSize::Turns(to)) => {
                if let Some(k) = usize::from(n).checked_sub(1).filter(|k| *k < turns.len()) {
                    turns[k] = to.as_turns().clamp(0.0, self.corners[k].range);
                }
            }
            (PartPath::EnrichmentOpening | PartPath::IdleScrew(_), _) => {}
        }
    }

    fn barrels(&mut self, set: SetName, change: impl FnOnce(&mut super::circuits::MainBarrel)) {
        match set {
            SetName::Primary => change(&mut self.primary.main),
            SetName::Secondary => {
                if let Some(b) = self.secondary.as_mut() {
                    change(&mut b.main);
                }
            }
        }
    }
}
