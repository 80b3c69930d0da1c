//! The rules of the trade, as functions of typed quantities. Each names its source; its numbers come from a table
//! that a shop can replace.
//!
//! No log, no clock, no screen: rules return typed reasons.

pub mod balance;
pub mod book;
mod border;
pub mod cautions;
pub mod enrichment;
pub mod field_rules;
pub mod finish;
pub mod idle;
pub mod in_gear;
pub mod limits;
pub mod needle;
pub mod sizing;
pub mod start_turns;
pub mod targets;
pub mod tip_in;
pub mod which_part;
pub mod why;
pub mod witness;

pub use book::{RuleBook, Span};
