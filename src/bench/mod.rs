//! bench

pub mod clock;
pub mod line;
pub mod log_file;
pub mod virtual_engine;
