//! Profiles and setups: a person's TOML, found, read and checked, with every fault located.
//!
//! Three things kept apart: reading a table into types (`check`), finding and reading files (`store`, `load`),
//! and wording what is wrong (`fault`). Touches files; knows no terminal.

mod builtin;
mod catalog;
mod check;
mod draft;
mod fault;
mod graft;
mod kind;
mod load;
mod safe;
mod section;
mod store;
mod tree;
mod write;

pub use catalog::{Checked, Profile, check, list, show};
pub use draft::{Draft, Form, Question};
pub use fault::Fault;
pub use kind::{Came, Kind, Origin};
pub use load::{FORMAT, LoadError, Loaded, load_logger, load_setup, load_setup_text};
pub use safe::{nearest, safe, safe_text};
pub use store::{Listed, user_folder};
pub use write::save;
