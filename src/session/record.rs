//! The line on disk, and the only file of this room that knows serde.
//!
//! One record is one line of JSON, at most [`WRITE_LIMIT`] bytes, fields in this order:
//!
//! | field | meaning |
//! |---|---|
//! | `n` | index from 0, one more on each record; order is by this and nothing else |
//! | `session` | five random characters, the same on every line: a line from another session is refused |
//! | `run` | 1, and one more each time the session is resumed; `up_ms` compares only inside one run |
//! | `at` | time of day, UTC, to the millisecond; a label, never an order |
//! | `up_ms` | milliseconds on a monotonic clock since this run began |
//! | `durable` | how many records were known to be on the disk when this one was made |
//! | `kind` | what happened |
//! | `payload` | what is to be known about it; opaque to this room |
//! | `previous` | the `check` of the record before; empty on the first |
//! | `check` | the first 64 bits of SHA-256 over the bytes of this line before `,"check":`, as 16 hex digits |
//!
//! The check is over raw bytes, so it is verified before anything is parsed and needs no canonical JSON. It shows
//! damage and careless editing; it is not a signature and proves nothing about who wrote.
//!
//! Kinds of this room's own: `open` (the first record: `program`, `version`, `format`, `need`, `process`, and the
//! caller's `opening`), `resume` (a new run) and `continue` (the session went on in another file). Where bytes
//! before one of these are the remains of a line that was being written when a run died, its `torn_bytes` says how
//! many, line ends not counted; bad bytes not explained so are damage.
//!
//! # Format versions
//!
//! * 1: this one. A reader meets a higher `format`, or a word in `need` that it does not know, by refusing and
//!   saying which program to use. Unknown kinds are the caller's to skip; unknown fields are kept on disk.

mod strict;

pub use strict::strict;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::fmt;
use std::time::Duration;

/// The version of the format this program writes.
pub const FORMAT: u64 = 1;
/// The program named in the first line.
pub const PROGRAM: &str = "leanbest";
/// Longest line written, bytes.
pub const WRITE_LIMIT: usize = 1024 * 1024;
/// Longest line read, bytes; a longer one is a bad line.
pub const READ_LIMIT: usize = 4 * 1024 * 1024;

const CHECK_FIELD: &[u8] = br#","check":""#;
const CHECK_DIGITS: usize = 16;

/// One event as it stands in the file.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// Index, from 0.
    pub n: u64,
    /// Which run of the program wrote it, from 1.
    pub run: u64,
    /// Time of day, a label.
    pub at: Timestamp,
    /// Time since the run began.
    pub up: Duration,
    /// How many records were known to be on the disk when it was made.
    pub durable: u64,
    /// What happened.
    pub kind: String,
    /// What is to be known about it.
    pub payload: Value,
    /// Line in the file, from 1.
    pub line: u64,
    /// Session tag.
    pub tag: String,
    /// Check of the record before.
    pub previous: String,
    /// Own check.
    pub check: String,
}

/// Why a line is not a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BadLine {
    /// Longer than [`READ_LIMIT`].
    TooLong,
    /// Does not end in a check.
    NoCheck,
    /// The check does not fit the bytes.
    CheckDiffers,
    /// The check fits, but the text is not a record of this format; the words say what was found.
    NotARecord(String),
}

impl fmt::Display for BadLine {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BadLine::TooLong => write!(to, "it is longer than {READ_LIMIT} bytes"),
            BadLine::NoCheck => write!(to, "it does not end in a check: it is incomplete or was changed"),
            BadLine::CheckDiffers => write!(to, "its check does not fit its text: it was damaged or changed"),
            BadLine::NotARecord(what) => write!(to, "its check fits but it is not a record: {what}"),
        }
    }
}

/// What goes into a line besides its check.
#[derive(Debug, Clone)]
pub struct Envelope<'a> {
    /// Index.
    pub n: u64,
    /// Session tag.
    pub tag: &'a str,
    /// Run.
    pub run: u64,
    /// Time of day.
    pub at: Timestamp,
    /// Time since the run began.
    pub up: Duration,
    /// Records known to be on the disk.
    pub durable: u64,
    /// Kind.
    pub kind: &'a str,
    /// Check of the record before.
    pub previous: &'a str,
}

/// The bytes of one line, `\n` included, with its check.
pub fn seal(envelope: &Envelope<'_>, payload: &[u8]) -> Vec<u8> {
    let Envelope { n, tag, run, at, up, durable, kind, previous } = envelope;
    let up_ms = up.as_millis();
    let mut line = format!(
        r#"{{"n":{n},"session":"{tag}","run":{run},"at":"{at:.3}","up_ms":{up_ms},"durable":{durable},"kind":"{kind}","payload":"#
    )
    .into_bytes();
    line.extend_from_slice(payload);
    line.extend_from_slice(format!(r#","previous":"{previous}""#).as_bytes());
    let check = check_of(&line);
    line.extend_from_slice(CHECK_FIELD);
    line.extend_from_slice(check.as_bytes());
    line.extend_from_slice(b"\"}\n");
    line
}

/// The payload's bytes. `None` when it cannot be written as JSON.
pub fn payload_bytes(payload: &impl Serialize) -> Result<Vec<u8>, String> {
    serde_json::to_vec(payload).map_err(|error| error.to_string())
}

/// First 64 bits of SHA-256, as 16 hex digits.
pub fn check_of(bytes: &[u8]) -> String {
    digits(&Sha256::digest(bytes))
}

fn digits(hash: &[u8]) -> String {
    hash.iter().take(CHECK_DIGITS / 2).fold(String::new(), |mut digits, byte| {
        for nibble in [byte >> 4, byte & 15] {
            digits.push(char::from_digit(u32::from(nibble), 16).unwrap_or('0'));
        }
        digits
    })
}

/// Reads one line, without its line end: the check first, the text after.
pub fn open(line: &[u8], number: u64) -> Result<Record, BadLine> {
    if line.len() > READ_LIMIT {
        return Err(BadLine::TooLong);
    }
    let (body, check) = split_check(line).ok_or(BadLine::NoCheck)?;
    // Under the fuzzer the check is not compared: nearly every mutant would die here and none reach the parser.
    if check_of(body) != check && !cfg!(fuzzing) {
        return Err(BadLine::CheckDiffers);
    }
    let written: Written = serde_json::from_value(strict(line).map_err(BadLine::NotARecord)?)
        .map_err(|error| BadLine::NotARecord(strict::plain(&error)))?;
    Ok(written.into_record(number))
}

/// A whole record at the beginning of a line that goes on after it, and where it ends.
///
/// The line end after a record may be the one byte that never arrived, with the remains of the next write behind
/// it: the record is whole all the same, for its check says so.
pub(super) fn open_start(line: &[u8], number: u64) -> Option<(Record, usize)> {
    let line = line.get(..READ_LIMIT.min(line.len()))?;
    let mut hashed = 0;
    let mut hasher = Sha256::new();
    for at in memchr::memmem::find_iter(line, CHECK_FIELD) {
        let end = at + CHECK_FIELD.len() + CHECK_DIGITS + 2;
        hasher.update(line.get(hashed..at)?);
        hashed = at;
        let whole = line.get(..end)?;
        let given = whole.get(at + CHECK_FIELD.len()..end - 2)?;
        if digits(&hasher.clone().finalize()).as_bytes() == given {
            return open(whole, number).ok().map(|record| (record, end));
        }
    }
    None
}

fn split_check(line: &[u8]) -> Option<(&[u8], &str)> {
    let line = line.strip_suffix(b"\"}")?;
    let at = line.len().checked_sub(CHECK_DIGITS)?;
    let (body, check) = line.split_at(at);
    let check = std::str::from_utf8(check).ok()?;
    Some((body.strip_suffix(CHECK_FIELD)?, check))
}

#[derive(Deserialize)]
struct Written {
    n: u64,
    session: String,
    run: u64,
    at: Timestamp,
    up_ms: u64,
    durable: u64,
    kind: String,
    payload: Value,
    previous: String,
    check: String,
}

impl Written {
    fn into_record(self, line: u64) -> Record {
        Record {
            n: self.n,
            run: self.run,
            at: self.at,
            up: Duration::from_millis(self.up_ms),
            durable: self.durable,
            kind: self.kind,
            payload: self.payload,
            line,
            tag: self.session,
            previous: self.previous,
            check: self.check,
        }
    }
}

/// What the first record says of the file.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Opening {
    /// Must be [`PROGRAM`].
    pub program: String,
    /// Version of the program that began the session.
    pub version: String,
    /// Format version.
    pub format: u64,
    /// Features a reader must know.
    #[serde(default)]
    pub need: Vec<String>,
    /// What the caller opened with.
    #[serde(default)]
    pub opening: Value,
}

impl Opening {
    /// The opening in a line, whether or not its check fits: a newer format may check otherwise.
    pub fn glimpse(line: &[u8]) -> Option<Self> {
        let value = strict(line).ok()?;
        serde_json::from_value(value.get("payload")?.clone()).ok()
    }

    /// The opening in a record's payload.
    pub fn of(payload: &Value) -> Option<Self> {
        serde_json::from_value(payload.clone()).ok()
    }
}

/// The payload of an `open` record.
pub(super) fn opening_payload(opening: &Value, torn_bytes: u64) -> Value {
    let mut payload = json!({
        "program": PROGRAM,
        "version": env!("CARGO_PKG_VERSION"),
        "format": FORMAT,
        "need": [],
        "process": std::process::id(),
        "opening": opening,
    });
    note_torn(&mut payload, torn_bytes);
    payload
}

/// The payload of a `resume` record.
pub(super) fn resume_payload(torn_bytes: u64) -> Value {
    let mut payload = json!({ "version": env!("CARGO_PKG_VERSION"), "process": std::process::id() });
    note_torn(&mut payload, torn_bytes);
    payload
}

/// The payload of a `continue` record.
pub(super) fn continue_payload(from: &str, why: &str) -> Value {
    json!({ "from": from, "why": why, "process": std::process::id() })
}

fn note_torn(payload: &mut Value, torn_bytes: u64) {
    if let (true, Value::Object(fields)) = (torn_bytes > 0, payload) {
        fields.insert("torn_bytes".to_owned(), torn_bytes.into());
    }
}

/// A number in a payload of this room's own.
pub(super) fn number_in(payload: &Value, field: &str) -> Option<u64> {
    payload.get(field)?.as_u64()
}

#[cfg(test)]
mod tests;
