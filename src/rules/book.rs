//! The numbers of every rule, as a shop can write them. The common ones are compiled in.

mod effects;
mod idle;
mod limits;
mod metering;
mod running;

pub use effects::{EffectNumbers, EffectRow};
pub use idle::{IdleAnchor, IdleClass, IdleNumbers, IdleRow, PropellerIdle, SeedLine};
pub use limits::{FullThrottleLimit, LimitKind, LimitNumbers};
pub use metering::{
    EfficiencyRow, EnrichmentNumbers, FieldRuleRow, FieldRules, FullThrottleVacuum, OverlappedIdle, PeakRow,
    SizingNumbers, TargetBand, TargetNumbers, TipInNumbers, Use,
};
pub use running::{
    Arrangement, FinishNumbers, InGearNumbers, NeedleNumbers, NeedleRow, StartRow, StartTurnsNumbers, Word,
};

use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

const COMMON: &str = include_str!("../../profiles/rules/common.toml");

static BOOK: LazyLock<RuleBook> = LazyLock::new(|| {
    #[expect(clippy::expect_used, reason = "the text is compiled in, and a test reads it")]
    toml::from_str(COMMON).expect("profiles/rules/common.toml is whole")
});

/// A low and a high of one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span<Q> {
    /// Low end.
    pub low: Q,
    /// High end.
    pub high: Q,
}

impl<Q: crate::units::Quantity> Span<Q> {
    /// Whether `q` lies in it, ends included.
    pub fn holds(&self, q: Q) -> bool {
        !super::border::below(q, self.low) && !super::border::above(q, self.high)
    }
}

/// Every number the rules use. A table that a shop's file leaves out is the common one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RuleBook {
    /// What it is called.
    pub name: String,
    /// Curb idle and its vacuum.
    #[serde(default = "common_idle")]
    pub idle: IdleNumbers,
    /// Turns out to start with.
    #[serde(default = "common_start_turns")]
    pub start_turns: StartTurnsNumbers,
    /// From neutral into gear.
    #[serde(default = "common_in_gear")]
    pub in_gear: InGearNumbers,
    /// Opening of the enrichment valve.
    #[serde(default = "common_enrichment")]
    pub enrichment: EnrichmentNumbers,
    /// Lambda targets.
    #[serde(default = "common_targets")]
    pub targets: TargetNumbers,
    /// Throttle opened quickly.
    #[serde(default = "common_tip_in")]
    pub tip_in: TipInNumbers,
    /// Hard limits.
    #[serde(default = "common_limits")]
    pub limits: LimitNumbers,
    /// Carburetor size.
    #[serde(default = "common_sizing")]
    pub sizing: SizingNumbers,
    /// Jets against altitude and temperature.
    #[serde(default = "common_field_rules")]
    pub field_rules: FieldRules,
    /// How the idle mixture is left.
    #[serde(default = "common_finish")]
    pub finish: FinishNumbers,
    /// What the needle says.
    #[serde(default = "common_needle")]
    pub needle: NeedleNumbers,
    /// What parts usually do.
    #[serde(default = "common_effects")]
    pub effects: EffectNumbers,
}

macro_rules! common_tables {
    ($($function:ident, $field:ident: $kind:ty;)*) => {$(
        fn $function() -> $kind { BOOK.$field.clone() }
    )*};
}

common_tables! {
    common_idle, idle: IdleNumbers;
    common_start_turns, start_turns: StartTurnsNumbers;
    common_in_gear, in_gear: InGearNumbers;
    common_enrichment, enrichment: EnrichmentNumbers;
    common_targets, targets: TargetNumbers;
    common_tip_in, tip_in: TipInNumbers;
    common_limits, limits: LimitNumbers;
    common_sizing, sizing: SizingNumbers;
    common_field_rules, field_rules: FieldRules;
    common_finish, finish: FinishNumbers;
    common_needle, needle: NeedleNumbers;
    common_effects, effects: EffectNumbers;
}

impl Default for RuleBook {
    fn default() -> Self {
        Self::common()
    }
}

impl RuleBook {
    /// The common rules, compiled in.
    pub fn common() -> RuleBook {
        BOOK.clone()
    }

    /// The text of the common rules, for a shop to copy.
    pub const fn common_text() -> &'static str {
        COMMON
    }

    /// A shop's rules. Tables left out are the common ones; unknown keys and unitless quantities are refused with their
    /// place in the text. Tables whose order or completeness matters are checked too.
    pub fn from_toml(text: &str) -> Result<RuleBook, toml::de::Error> {
        let book: RuleBook = toml::from_str(text)?;
        match book.first_flaw() {
            None => Ok(book),
            Some(flaw) => Err(serde::de::Error::custom(flaw)),
        }
    }

    /// What makes a table unusable, when something does.
    fn first_flaw(&self) -> Option<String> {
        let flaws = [
            self.idle.flaw(),
            self.targets.flaw(),
            self.tip_in.flaw(),
            self.limits.flaw(),
            self.effects.flaw(),
        ];
        flaws.into_iter().flatten().next()
    }

    /// Every hard limit this book has looser than `common`, in words for the sheet: none may be loosened in silence.
    pub fn loosened(&self, common: &RuleBook) -> Vec<String> {
        self.limits.loosened(&common.limits)
    }
}

#[cfg(test)]
mod tests;
