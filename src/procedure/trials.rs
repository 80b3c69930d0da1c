//! A pull as a trial: what the engine was set to when it was run.

use crate::analysis::pulls::KeptPull;
use crate::analysis::verdict::{Rig, Setting, Settings, state_of};
use crate::setup::Carburetor;
use crate::units::EngineSpeed;
use std::collections::BTreeMap;

/// A pull, and what the engine was set to when it was run.
#[derive(Debug, Clone, PartialEq)]
pub struct PullTrial {
    /// The file it came from, as named.
    pub source: String,
    /// The carburetor as it then was.
    pub carburetor: Carburetor,
    /// What else was set, as far as it had been said.
    pub settings: Settings,
    /// What it was run on, when that was said.
    pub rig: Option<Rig>,
    /// Width of the bell its curves were smoothed with, when that was written down.
    pub smoothing: Option<EngineSpeed>,
    /// The pull.
    pub pull: KeptPull,
}

impl PullTrial {
    /// Everything that was set when it was run.
    pub fn state(&self) -> BTreeMap<String, Setting> {
        state_of(&self.carburetor, &self.settings)
    }
}
