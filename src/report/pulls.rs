//! Dyno pulls in words, as data and as tables.

mod brief;
mod data;
mod judged;
mod separated;
mod series;
mod tables;
mod words;

pub use brief::{brief_json, corrected, effect, put_down, reasons, unlike, verdicts, which};
pub use data::{account_json, values_json};
pub use judged::Scale;
pub use series::{Correcting, PullSeries, PullsWanted, PutDown, pull_series, pulls_against};
pub use tables::{curve_table, effect_table, pull_table};
pub use words::{account_text, values_text};
