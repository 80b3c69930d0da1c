//! What a log shows of the trade's symptoms: each a small detector with a name, the evidence, the likely causes in
//! order, the check that tells them apart, and what not to change yet.
//!
//! Symptoms, causes and signatures: common practice. One layer at a time: instruments, mechanics and ignition, air
//! leaks, fuel supply, idle, transition, cruise, full throttle, pump.

mod bowl;
mod driving;
mod idle;
mod load;
mod steady;
pub mod table;
#[cfg(test)]
mod tests;
mod texts;

pub use texts::{Symptom, Words};

use crate::rules::RuleBook;
use crate::rules::targets;
use crate::setup::{Regime, Setup};
use crate::trace::{EventKind, RegimeSummary, TraceSummary};
use crate::units::{CrankAngle, Lambda, System, TimeSpan};
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// One thing seen in the log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// When, by the log's clock; `None` for what holds over the whole log.
    pub at: Option<TimeSpan>,
    /// What was seen, in a few words.
    pub what: String,
}

/// Where in the engine a symptom is looked for; lower ones first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Layer {
    /// It endangers the engine: before everything else.
    Danger,
    /// The instruments themselves.
    Instruments,
    /// Mechanics, ignition, air leaks.
    Engine,
    /// Fuel to the carburetor.
    FuelSupply,
    /// Idle.
    Idle,
    /// Off idle and quick openings.
    Transition,
    /// Part throttle.
    Cruise,
    /// Full throttle.
    FullThrottle,
}

/// A symptom found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Its short name.
    pub name: String,
    /// Where it is looked for.
    pub layer: Layer,
    /// What it is, in a sentence.
    pub what: String,
    /// Where the log shows it; at most eight places.
    pub evidence: Vec<Evidence>,
    /// Likely causes, likeliest first.
    pub causes: Vec<String>,
    /// The check that tells them apart.
    pub check: String,
    /// What not to change before that check.
    pub not_yet: String,
}

/// What every detector looks at.
struct Case<'a> {
    log: &'a TraceSummary,
    setup: &'a Setup,
    book: &'a RuleBook,
    system: System,
}

/// Most places listed for one finding.
const MOST_PLACES: usize = 8;
/// Rows a regime needs before its median counts: as many as a station.
const ENOUGH_ROWS: u64 = 20;

impl<'a> Case<'a> {
    /// A regime with enough rows, and its median.
    fn median(&self, regime: Regime) -> Option<Lambda> {
        self.regime(regime).and_then(|r| r.lambda).filter(|l| l.count >= ENOUGH_ROWS).map(|l| l.median)
    }

    fn regime(&self, regime: Regime) -> Option<&'a RegimeSummary> {
        self.log.regime(regime)
    }

    fn overlap(&self) -> Option<CrankAngle> {
        self.setup.engine.cam.map(|cam| {
            let mean = 0.5 * (cam.intake_duration.as_deg() + cam.exhaust_duration.as_deg());
            CrankAngle::from_deg(mean - 2.0 * cam.separation.as_deg())
        })
    }

    fn band(&self, regime: Regime) -> Option<targets::Band> {
        let (of, engine) = (self.setup.application, &self.setup.engine);
        targets::band(regime, of, engine.cooling, self.setup.fuel.family, self.overlap(), self.book)
    }

    /// The happenings of a kind, as evidence.
    fn happened(&self, kind: EventKind) -> Vec<Evidence> {
        let of_kind = self.log.events.iter().filter(|e| e.kind == kind);
        of_kind
            .map(|e| {
                let mut what = format!("{:.1} s long", e.seconds.as_s());
                if let Some(speed) = e.speed {
                    let _ = write!(what, ", {:.0} rpm", speed.as_rpm());
                }
                if let Some(lambda) = e.lambda {
                    let _ = write!(what, ", lambda {:.3}", lambda.as_ratio());
                }
                Evidence { at: Some(e.start), what }
            })
            .collect()
    }
}

/// What holds over the whole log.
fn overall(what: String) -> Vec<Evidence> {
    vec![Evidence { at: None, what }]
}

/// A finding, when there is evidence.
fn found(symptom: Symptom, evidence: Vec<Evidence>) -> Option<Finding> {
    if evidence.is_empty() {
        return None;
    }
    let words = symptom.words();
    let mut evidence = evidence;
    evidence.truncate(MOST_PLACES);
    Some(Finding {
        name: symptom.name().to_owned(),
        layer: words.layer,
        what: words.what.to_owned(),
        evidence,
        causes: words.causes.iter().map(|c| (*c).to_owned()).collect(),
        check: words.check.to_owned(),
        not_yet: words.not_yet.to_owned(),
    })
}

/// Every symptom the log shows, the most pressing first. `system` is the units of the evidence.
pub fn find(log: &TraceSummary, setup: &Setup, book: &RuleBook, system: System) -> Vec<Finding> {
    let case = Case { log, setup, book, system };
    let mut all = Vec::new();
    all.extend(load::find(&case));
    all.extend(bowl::find(&case));
    all.extend(idle::find(&case));
    all.extend(driving::find(&case));
    all.extend(steady::find(&case));
    all.sort_by_key(|f| f.layer);
    all
}
