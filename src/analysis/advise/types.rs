//! What advice says, as plain data that a session can keep and replay.

use crate::setup::{PartPath, PartSize, Regime};
use crate::units::{Lambda, System, TimeSpan};
use serde::{Deserialize, Serialize};

/// How advice is wanted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Options {
    /// Change parts of separable circuits in the same step, instead of one part a time.
    pub together: bool,
    /// Units of the sizes in its words.
    #[serde(default)]
    pub system: System,
}

/// What it comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Make the change.
    Change,
    /// Every regime seen is inside its band, and the evidence is enough.
    LeaveAlone,
    /// More log is worth more than another part.
    LogMore,
    /// Something other than a part is wrong, and comes first.
    MendFirst,
    /// Something is outside its band, but no part in stock helps safely.
    NothingHelps,
}

/// How a regime stands against its band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Inside, and the evidence is enough to say so.
    Inside,
    /// Richer than the band.
    Rich,
    /// Leaner than the band.
    Lean,
    /// Seen, but too little to say on which side of a border it lies.
    Unsure,
    /// Not seen.
    NotSeen,
    /// Read, but the reading cannot be believed as a mixture.
    WitnessOnly,
    /// No band is stated for it.
    NoTarget,
}

/// One regime held against its band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegimeVerdict {
    /// Which.
    pub regime: Regime,
    /// Median lambda, when seen. For a tip-in, the median of the lean peaks.
    pub lambda_median: Option<Lambda>,
    /// Standard uncertainty of that median, when seen.
    pub uncertainty: Option<Lambda>,
    /// Rich edge of the band.
    pub target_low: Option<Lambda>,
    /// Lean edge of the band.
    pub target_high: Option<Lambda>,
    /// Time of steady running seen.
    pub seconds: TimeSpan,
    /// How it stands.
    pub verdict: Verdict,
    /// How much more log it needs before a verdict can be given; zero when none.
    pub needs: TimeSpan,
    /// In words: what was seen, and what follows.
    pub says: String,
}

/// What a change should do in one regime: the mixture after it, with an interval that holds nine times in ten.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Expect {
    /// Which.
    pub regime: Regime,
    /// Expected lambda.
    pub lambda: Lambda,
    /// Rich end of the interval.
    pub low: Lambda,
    /// Lean end of the interval.
    pub high: Lambda,
}

/// One change to make now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// The part.
    pub part: PartPath,
    /// What is in it.
    pub from: PartSize,
    /// What to put in.
    pub to: PartSize,
    /// What will happen, regime by regime.
    pub expect: Vec<Expect>,
    /// Why, in words a tuner uses, with the readings it rests on.
    pub why: String,
    /// How sure, and on what ground.
    pub how_sure: String,
    /// The reading that would prove it wrong.
    pub proves_wrong: String,
}

/// A later step of the plan, made again after the next log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanStep {
    /// The part.
    pub part: PartPath,
    /// What is in it.
    pub from: PartSize,
    /// What to put in.
    pub to: PartSize,
    /// Why.
    pub why: String,
}

/// Something to put right before any part is changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mend {
    /// What seems wrong.
    pub what: String,
    /// The readings that say so.
    pub why: String,
    /// What to check or do.
    pub check: String,
}

/// Something not advised, and what would release it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Withheld {
    /// What.
    pub what: String,
    /// Why, and which reading would release it.
    pub reason: String,
    /// The change that is held back, when it is one; earlier versions kept the words alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub change: Option<HeldChange>,
}

/// A change that is not advised.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HeldChange {
    /// The part.
    pub part: PartPath,
    /// What is in it.
    pub from: PartSize,
    /// What is not put in.
    pub to: PartSize,
}

impl Withheld {
    /// Something that is no change of a part.
    pub(super) fn of(what: impl Into<String>, reason: impl Into<String>) -> Self {
        Self { what: what.into(), reason: reason.into(), change: None }
    }

    /// What is held back, sizes in the units a person wants.
    pub fn said(&self, system: System) -> String {
        self.change.map_or_else(|| self.what.clone(), |c| c.said(system))
    }
}

impl HeldChange {
    pub(super) fn said(&self, system: System) -> String {
        let size = |s| super::say::size(s, system);
        format!("{} {} to {}", self.part.said(), size(self.from), size(self.to))
    }
}

/// The next change, the plan behind it, and what is held back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// What it comes to.
    pub outcome: Outcome,
    /// Every regime held against its band.
    pub regimes: Vec<RegimeVerdict>,
    /// What comes before any part.
    pub mend_first: Vec<Mend>,
    /// The change to make now: one, unless several circuits at once were asked for.
    pub changes: Vec<Change>,
    /// What would follow, if the engine answers as expected.
    pub plan: Vec<PlanStep>,
    /// What is not advised, and why.
    pub withheld: Vec<Withheld>,
    /// What this engine has taught so far.
    pub learned: Vec<String>,
    /// Where sources disagree, and anything else worth knowing.
    pub notes: Vec<String>,
}
