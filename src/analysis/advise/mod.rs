//! The next change and the plan behind it: measured mixtures held against targets, with a model of the
//! carburetor as the prior and every earlier change of the session as evidence.
//!
//! The absolute mixture always comes from the log. The model says only how much say each part has where; that is
//! a prior with a stated spread (`prior`), and every log taken on other parts updates it (`learn`). `choose`
//! weighs the parts in stock, `gates` holds back what must not be advised on.

mod bands;
mod belief;
mod cells;
mod choose;
mod decide;
mod effects;
mod gates;
mod input;
mod json;
mod learn;
mod learned;
mod prior;
mod rejet;
mod say;
mod tip_in;
mod types;

pub use decide::advise;
pub use input::{AdviceInput, Trial};
pub use rejet::{Rejet, SinceSetup, Turn, rejet};
pub use types::{
    Advice, Change, Expect, HeldChange, Mend, Options, Outcome, PlanStep, RegimeVerdict, Verdict, Withheld,
};
