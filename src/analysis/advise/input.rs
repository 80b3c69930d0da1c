//! What advice is given from.

use super::types::Options;
use crate::rules::RuleBook;
use crate::setup::{Carburetor, Setup, Weather};
use crate::trace::TraceSummary;
use serde::{Deserialize, Serialize};

/// One earlier log with the parts it was taken on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// The carburetor as it then was.
    pub carburetor: Carburetor,
    /// The air of that day, when it was known.
    pub weather: Option<Weather>,
    /// What the log said.
    pub trace: TraceSummary,
}

/// What advice is given from.
#[derive(Debug, Clone, Copy)]
pub struct AdviceInput<'a> {
    /// The job, with the carburetor as it now stands.
    pub setup: &'a Setup,
    /// Targets and limits.
    pub rules: &'a RuleBook,
    /// The latest log, taken with those parts.
    pub trace: &'a TraceSummary,
    /// The air it was taken in; the setup's when not given.
    pub weather: Option<&'a Weather>,
    /// Earlier trials of the same job, oldest first.
    pub memory: &'a [Trial],
    /// How advice is wanted.
    pub options: Options,
}

impl AdviceInput<'_> {
    /// The air of the latest log.
    pub(super) fn air(&self) -> Option<Weather> {
        self.weather.copied().or(self.setup.weather)
    }
}
