//! What the course of a log has found so far.

use super::gather::Gathered;
use super::histogram::Filling;
use super::summary::{Dropped, Pull, TipIn};

/// Reasons in all.
const REASONS: usize = Dropped::Unsteady as usize + 1;

/// What has been found so far.
#[derive(Debug)]
pub(super) struct Found {
    pub(super) gathered: Gathered,
    pub(super) dropped: [u64; REASONS],
    pub(super) kept: u64,
    pub(super) judged: u64,
    pub(super) covered_s: f64,
    pub(super) first_s: Option<f64>,
    pub(super) last_s: f64,
    pub(super) tip_ins: Vec<TipIn>,
    pub(super) tip_in_count: u64,
    pub(super) pulls: Vec<Pull>,
    pub(super) pull_count: u64,
    pub(super) events: Vec<super::events::Event>,
    pub(super) event_counts: std::collections::BTreeMap<super::events::EventKind, u64>,
    /// Second bank less first, by 0.001.
    pub(super) bank_difference: Filling,
    pub(super) running: u64,
    pub(super) believable: u64,
}

/// Longest lists that are kept; the leanest stay.
pub(super) const MOST_LISTED: usize = 200;

impl Found {
    /// Nothing found yet.
    pub(super) fn new(opening_inhg: Option<f64>) -> Self {
        Self {
            gathered: Gathered::new(opening_inhg),
            dropped: [0; REASONS],
            kept: 0,
            judged: 0,
            covered_s: 0.0,
            first_s: None,
            last_s: 0.0,
            tip_ins: Vec::new(),
            tip_in_count: 0,
            pulls: Vec::new(),
            pull_count: 0,
            events: Vec::new(),
            event_counts: std::collections::BTreeMap::new(),
            bank_difference: Filling::over(-0.5, 0.5, 1000.0),
            running: 0,
            believable: 0,
        }
    }

    /// Takes an opening that is over.
    pub(super) fn tip_in(&mut self, tip: Option<TipIn>) {
        if let Some(tip) = tip {
            self.tip_in_count += 1;
            self.tip_ins.push(tip);
            if self.tip_ins.len() > 2 * MOST_LISTED {
                super::merge::keep_worst_tips(&mut self.tip_ins);
            }
        }
    }

    /// Takes a run that is over.
    pub(super) fn pull(&mut self, pull: Option<Pull>) {
        if let Some(pull) = pull {
            self.pull_count += 1;
            self.pulls.push(pull);
            if self.pulls.len() > 2 * MOST_LISTED {
                super::merge::keep_worst_pulls(&mut self.pulls);
            }
        }
    }

    /// Counts by reason, those that occurred.
    pub(super) fn dropped(&self) -> std::collections::BTreeMap<Dropped, u64> {
        Dropped::ALL.iter().map(|r| (*r, self.dropped[*r as usize])).filter(|(_, n)| *n > 0).collect()
    }
}
