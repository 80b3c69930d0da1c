//! Traces held against physics and rules: findings, advice, pulls, comparisons.

pub mod advise;
pub mod compare;
pub mod factorial;
pub mod findings;
pub mod pulls;
pub mod verdict;
