//! The session file `NAME.tune.jsonl`: the memory of one job.
//!
//! The promise, in words that can be tested: **when a record is called saved, it is readable after any crash,
//! kill, power cut, full disk or pulled cable, as long as the operating system and the drive keep their own word
//! about flushing; and what is not yet saved is called unsaved.**
//!
//! | file | holds |
//! |---|---|
//! | [`record`] | the line on disk: envelope, check, format version and its change log |
//! | [`scan`] | bytes in; records, torn tail and damage out |
//! | [`journal`] | the one writer: appends a line, syncs it, only then says so |
//! | `tail` | putting one line on the disk, or taking it back, or giving the file up |
//! | `hold` | the lock, and who holds it |
//! | [`mod@read`] | reading without a lock, for replay, comparison and the sheet |
//! | [`continuation`] | where a session goes on when its file can no longer be trusted |
//! | [`library`] | a folder of sessions |
//! | [`disk`], [`clock`] | the two seams to the world, so that crashes and clocks can be staged |
//! | [`error`] | what can go wrong, in the person's words |
//!
//! What this room never does: rewrite, rename or cut recorded text. A torn tail stays where it is. The one thing
//! taken back is our own half-written line after a failed write, which nobody was told was saved.

pub mod clock;
pub mod continuation;
pub mod disk;
pub mod error;
mod hold;
pub mod journal;
pub mod library;
pub mod read;
pub mod record;
pub mod scan;
pub mod story;
mod tail;

pub use error::SessionError;
pub use journal::{Journal, Saved};
pub use read::{Recovered, read, read_until};
pub use record::Record;
