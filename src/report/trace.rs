//! A log's summary in words and as data.

mod data;
mod findings;
mod words;

pub use data::summary_json;
pub use findings::{findings_json, findings_text};
pub use words::summary_text;
