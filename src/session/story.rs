//! A session as the procedure's own facts: the job it was opened with and the events told since.
//!
//! Recording hands back each event *as read from the bytes written*, so that what is applied live is what a resume
//! would apply.

use super::error::SessionError;
use super::journal::Journal;
use super::read::{self, Recovered};
use super::record::Record;
use crate::procedure::{Event, Job};
use jiff::Timestamp;
use std::path::Path;
use std::time::Duration;

/// One event and when it was told.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// Index of its record.
    pub n: u64,
    /// Which run of the program recorded it.
    pub run: u64,
    /// Time of day, a label.
    pub at: Timestamp,
    /// Time since that run began.
    pub up: Duration,
    /// What happened.
    pub event: Event,
}

/// A whole session.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// What it was opened with.
    pub job: Job,
    /// When it was opened.
    pub opened: Timestamp,
    /// What happened since.
    pub told: Vec<Told>,
    /// Records in the file, the opening and the resumes included.
    pub records: u64,
    /// What the person should be told, in plain words.
    pub notes: Vec<String>,
    /// Check of the last record: it pins the history a sheet is made from.
    pub head: String,
    /// Versions of the program that wrote it, in order, each once.
    pub versions: Vec<String>,
}

impl Story {
    /// The events alone.
    pub fn events(&self) -> impl Iterator<Item = &Event> {
        self.told.iter().map(|t| &t.event)
    }
}

/// A session being recorded.
#[derive(Debug)]
pub struct Recording {
    journal: Journal,
}

/// An event that is on the disk.
#[derive(Debug)]
pub struct Recorded {
    /// The event as a resume would read it.
    pub event: Event,
    /// Index of its record.
    pub n: u64,
    /// What must be said loudly.
    pub notices: Vec<String>,
}

impl Recording {
    /// Begins a session.
    pub fn create(path: &Path, job: &Job) -> Result<Recording, SessionError> {
        let opening =
            serde_json::to_value(job).map_err(|e| SessionError::Unwritable { what: e.to_string() })?;
        Ok(Recording { journal: Journal::create(path, opening)? })
    }

    /// Takes a session up again.
    pub fn resume(path: &Path) -> Result<(Recording, Story), SessionError> {
        let (journal, recovered) = Journal::resume(path)?;
        Ok((Recording { journal }, story(path, recovered)?))
    }

    /// Writes an event down and syncs it; only then is it handed back.
    pub fn record(&mut self, event: &Event) -> Result<Recorded, SessionError> {
        let unwritable = |e: serde_json::Error| SessionError::Unwritable { what: e.to_string() };
        let file = event.to_file().map_err(unwritable)?;
        let saved = self.journal.append(&file.kind, &file.payload)?;
        let event = match Event::from_file(&file.kind, &saved.payload_as_read).map_err(unwritable)? {
            Ok(event) => event,
            Err(unknown) => {
                return Err(SessionError::Unwritable {
                    what: format!("no such kind of event: {}", unknown.0),
                });
            }
        };
        Ok(Recorded { event, n: saved.n, notices: saved.notices })
    }

    /// Where it is being recorded now.
    pub fn path(&self) -> &Path {
        self.journal.path()
    }

    /// Records saved so far.
    pub fn records(&self) -> u64 {
        self.journal.records()
    }
}

/// Reads a session without a lock; with `until`, up to and including that record.
pub fn read_story(path: &Path, until: Option<u64>) -> Result<Story, SessionError> {
    let recovered = match until {
        Some(n) => read::read_until(path, n)?,
        None => read::read(path)?,
    };
    story(path, recovered)
}

/// The story in a set of records.
pub fn story(path: &Path, recovered: Recovered) -> Result<Story, SessionError> {
    let Recovered { records, mut notes, head, version, .. } = recovered;
    let mut versions = vec![version];
    let count = records.len() as u64;
    let mut records = records.into_iter();
    let opening = records.next().ok_or_else(|| SessionError::NotBegun { path: path.to_owned() })?;
    let job: Job =
        serde_json::from_value(opening.payload.clone()).map_err(|e| damaged(path, &opening, &e))?;
    let mut told = Vec::new();
    let mut unknown = 0u64;
    for record in records {
        match Event::from_file(&record.kind, &record.payload).map_err(|e| damaged(path, &record, &e))? {
            Ok(event) => {
                told.push(Told { n: record.n, run: record.run, at: record.at, up: record.up, event });
            }
            Err(_) if OWN_KINDS.contains(&record.kind.as_str()) => {
                let version = record.payload.get("version").and_then(serde_json::Value::as_str);
                if let Some(new) = version.filter(|v| !versions.iter().any(|known| known == v)) {
                    versions.push(new.to_owned());
                }
            }
            Err(_) => unknown += 1,
        }
    }
    if unknown > 0 {
        notes.push(format!(
            "{unknown} records are of kinds this version does not know; they were passed over"
        ));
    }
    Ok(Story { job, opened: opening.at, told, records: count, notes, head, versions })
}

/// Kinds the journal itself writes.
const OWN_KINDS: [&str; 3] = ["open", "resume", "continue"];

fn damaged(path: &Path, record: &Record, error: &serde_json::Error) -> SessionError {
    SessionError::Damaged {
        path: path.to_owned(),
        line: record.line,
        what: format!("record {} ({}) does not hold what its kind should: {error}", record.n, record.kind),
        rest: String::new(),
        last_good: record.n.checked_sub(1),
    }
}
