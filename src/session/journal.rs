//! The one writer. A record is sealed, read back by the very reader a resume uses, appended, synced, held against
//! what the disk now gives, and only then called saved.

use super::clock::{Clock, SystemClock};
use super::continuation;
use super::disk::{Disk, LockedFile, OpenError, Whereabouts};
use super::error::SessionError;
use super::hold::{ignore_size_signal, opened, random_tag};
use super::read::{self, Recovered};
use super::record::{self, Envelope, Record};
use super::scan::{Scan, Sort, scan};
use super::tail::{Failed, Tail};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::Value;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A record that is on the disk.
#[derive(Debug, Clone, PartialEq)]
#[must_use]
pub struct Saved {
    /// Its index.
    pub n: u64,
    /// Its time of day.
    pub at: Timestamp,
    /// Its time since the run began.
    pub up: Duration,
    /// Its payload, read from the very bytes written: apply this, and memory is what a resume would read.
    pub payload_as_read: Value,
    /// What must be said loudly: the session went on in another file, the file was moved away.
    pub notices: Vec<String>,
}

/// A session being recorded, held under an exclusive lock until dropped.
pub struct Journal {
    tail: Tail,
    clock: Box<dyn Clock>,
    path: PathBuf,
    tag: String,
    run: u64,
    next: u64,
    previous: String,
    /// Set once the file can no longer be trusted: its handle is never written or synced again.
    poisoned: Option<String>,
    whereabouts: Whereabouts,
}

impl std::fmt::Debug for Journal {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(to, "Journal({}, next {}, run {})", self.path.display(), self.next, self.run)
    }
}

impl Journal {
    /// Begins a session in a new file, or in one in which none ever began.
    #[expect(clippy::needless_pass_by_value, reason = "an opening is given away, as a payload is")]
    pub fn create(path: &Path, opening: Value) -> Result<Self, SessionError> {
        ignore_size_signal(path)?;
        let file = match LockedFile::create(path) {
            Err(OpenError::Io(error)) if error.kind() == io::ErrorKind::AlreadyExists => {
                LockedFile::open(path)
            }
            other => other,
        };
        let disk = file.map_err(|error| opened(path, error))?;
        Self::create_on(Box::new(disk), Box::new(SystemClock::start()), path, &random_tag(), &opening)
    }

    /// Goes on with the session in a file.
    pub fn resume(path: &Path) -> Result<(Self, Recovered), SessionError> {
        ignore_size_signal(path)?;
        let disk = LockedFile::open(path).map_err(|error| opened(path, error))?;
        let locked = disk.locked;
        let (scan, _) = read::scan_file(path)?;
        if let Some(on) = continuation::went_on(path, &scan.records) {
            return Err(SessionError::WentOn { path: path.to_owned(), on });
        }
        let (journal, mut recovered) = Self::resume_on(Box::new(disk), Box::new(SystemClock::start()), path)?;
        if !locked {
            recovered
                .notes
                .push("this disk has no file locks: make sure only one run records into the file".to_owned());
        }
        Ok((journal, recovered))
    }

    /// [`Journal::create`] over a given disk, clock and tag.
    pub fn create_on(
        mut disk: Box<dyn Disk>,
        clock: Box<dyn Clock>,
        path: &Path,
        tag: &str,
        opening: &Value,
    ) -> Result<Self, SessionError> {
        let bytes = disk.read_all().map_err(|error| SessionError::io(path, "could not be read", error))?;
        let scan = scan(&bytes);
        if matches!(scan.sort, Sort::Session(_)) {
            return Err(SessionError::AlreadyBegun { path: path.to_owned() });
        }
        if let Some(damage) = &scan.damage {
            return Err(read::damaged(path, damage, &scan));
        }
        match read::sorted(path, &scan) {
            Ok(()) | Err(SessionError::NotBegun { .. }) => {}
            Err(other) => return Err(other),
        }
        let torn = scan.torn_bytes(&bytes);
        let mut journal = Journal::at(disk, clock, path, tag.to_owned(), bytes);
        journal.begin("open", &record::opening_payload(opening, torn))?;
        journal
            .tail
            .disk
            .sync_name()
            .map_err(|error| SessionError::io(path, "its name could not be saved", error))?;
        Ok(journal)
    }

    /// [`Journal::resume`] over a given disk and clock.
    pub fn resume_on(
        mut disk: Box<dyn Disk>,
        clock: Box<dyn Clock>,
        path: &Path,
    ) -> Result<(Self, Recovered), SessionError> {
        let bytes = disk.read_all().map_err(|error| SessionError::io(path, "could not be read", error))?;
        let scan = scan(&bytes);
        read::sorted(path, &scan)?;
        if let Some(damage) = &scan.damage {
            return Err(read::damaged(path, damage, &scan));
        }
        let torn = scan.torn_bytes(&bytes);
        let Some((tag, run, next, previous)) = last_of(&scan) else {
            return Err(SessionError::NotBegun { path: path.to_owned() });
        };
        // After a kill what was read may be in memory only: it is shown as saved, so it must be made so.
        disk.sync_name().map_err(|error| SessionError::io(path, "could not be synced", error))?;
        let mut journal = Journal::at(disk, clock, path, tag, bytes);
        (journal.run, journal.next, journal.previous) = (run + 1, next, previous);
        let resumed = journal.begin("resume", &record::resume_payload(torn))?;
        let mut recovered = read::recovered(scan);
        recovered.head.clone_from(&resumed.check);
        recovered.records.push(resumed);
        Ok((journal, recovered))
    }

    fn at(disk: Box<dyn Disk>, clock: Box<dyn Clock>, path: &Path, tag: String, bytes: Vec<u8>) -> Self {
        Journal {
            tail: Tail::of(disk, bytes),
            clock,
            path: path.to_owned(),
            tag,
            run: 1,
            next: 0,
            previous: String::new(),
            poisoned: None,
            whereabouts: Whereabouts::Here,
        }
    }

    /// Appends one event and returns once it is on the disk.
    ///
    /// On [`SessionError::Full`] nothing of it is left in the file, and it may be tried again. When the file itself
    /// fails (a sync refused, a stick pulled) the session goes on in another file and `notices` says so.
    pub fn append(&mut self, kind: &str, payload: &impl Serialize) -> Result<Saved, SessionError> {
        if kind.is_empty()
            || !kind.bytes().all(|byte| byte.is_ascii_lowercase() || b"-_0123456789".contains(&byte))
        {
            return Err(SessionError::Unwritable { what: format!("the kind {kind:?} is not a plain word") });
        }
        let payload = record::payload_bytes(payload).map_err(|what| SessionError::Unwritable { what })?;
        let (mut record, mut line) = self.sealed(kind, &payload)?;
        let mut notices = Vec::new();
        if self.poisoned.is_none() {
            match self.tail.put(&line) {
                Ok(()) => {}
                Err(Failed::TakenBack(source)) => {
                    return Err(SessionError::Full { path: self.path.clone(), source });
                }
                Err(Failed::Poisoned(why)) => self.poisoned = Some(why),
            }
        }
        if let Some(why) = self.poisoned.clone() {
            notices.push(self.go_on_elsewhere(&why)?);
            (record, line) = self.sealed(kind, &payload)?;
            if let Err(failed) = self.tail.put(&line) {
                let source = failed.into_io();
                self.poisoned = Some(source.to_string());
                return Err(self.nowhere(&why, source));
            }
        }
        self.accept(&record);
        notices.extend(self.look_for_file());
        Ok(Saved { n: record.n, at: record.at, up: record.up, payload_as_read: record.payload, notices })
    }

    /// Where the session is being recorded now.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Records saved so far.
    pub fn records(&self) -> u64 {
        self.next
    }

    /// The first record of a run: here a failure is an error, never another file.
    fn begin(&mut self, kind: &str, payload: &Value) -> Result<Record, SessionError> {
        let payload = record::payload_bytes(payload).map_err(|what| SessionError::Unwritable { what })?;
        let (record, line) = self.sealed(kind, &payload)?;
        match self.tail.put(&line) {
            Ok(()) => self.accept(&record),
            Err(Failed::TakenBack(source)) => {
                return Err(SessionError::Full { path: self.path.clone(), source });
            }
            Err(Failed::Poisoned(why)) => {
                let source = io::Error::other(why);
                return Err(SessionError::io(&self.path, "could not be written", source));
            }
        }
        Ok(record)
    }

    /// Seals a line and reads it as a resume would; what cannot be read back is never written.
    fn sealed(&self, kind: &str, payload: &[u8]) -> Result<(Record, Vec<u8>), SessionError> {
        let envelope = Envelope {
            n: self.next,
            tag: &self.tag,
            run: self.run,
            at: self.clock.wall(),
            up: self.clock.up(),
            durable: self.next,
            kind,
            previous: &self.previous,
        };
        let line = record::seal(&envelope, payload);
        if line.len() > record::WRITE_LIMIT {
            let what =
                format!("it is {} bytes long and a record may have {}", line.len(), record::WRITE_LIMIT);
            return Err(SessionError::Unwritable { what });
        }
        let text = line.strip_suffix(b"\n").unwrap_or(&line);
        let record = record::open(text, self.next + 1)
            .map_err(|why| SessionError::Unwritable { what: why.to_string() })?;
        Ok((record, line))
    }

    fn accept(&mut self, record: &Record) {
        self.next = record.n + 1;
        self.previous.clone_from(&record.check);
    }

    /// Copies all that is saved into a new file and goes on there. Says so.
    fn go_on_elsewhere(&mut self, why: &str) -> Result<String, SessionError> {
        self.poisoned = Some(why.to_owned());
        let (disk, path) = continuation::begin(self.tail.disk.as_mut(), &self.path)
            .map_err(|source| self.nowhere(why, source))?;
        let mut tail = Tail::of(disk, Vec::new());
        let record = match self.copy_into(&mut tail, why) {
            Ok(record) => record,
            Err(source) => {
                tail.disk.remove();
                return Err(self.nowhere(why, source));
            }
        };
        self.tail = tail;
        self.accept(&record);
        self.poisoned = None;
        self.whereabouts = Whereabouts::Here;
        let old = std::mem::replace(&mut self.path, path);
        Ok(format!(
            "{} can no longer be trusted: {why}. The session goes on in {}, which holds all of it",
            old.display(),
            self.path.display()
        ))
    }

    /// Fills a new file with all that is saved and a `continue` record.
    fn copy_into(&self, tail: &mut Tail, why: &str) -> io::Result<Record> {
        tail.fill(&self.tail)?;
        let name = self.path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let payload =
            record::payload_bytes(&record::continue_payload(&name, why)).map_err(io::Error::other)?;
        let (record, line) = self.sealed("continue", &payload).map_err(io::Error::other)?;
        tail.put(&line).map_err(Failed::into_io)?;
        tail.disk.sync_name()?;
        Ok(record)
    }

    fn nowhere(&self, why: &str, source: io::Error) -> SessionError {
        SessionError::NowhereToGoOn { path: self.path.clone(), why: why.to_owned(), source }
    }

    /// Says once when the file was moved; a deleted one would take the session with it, so it goes on elsewhere.
    fn look_for_file(&mut self) -> Option<String> {
        let now = self.tail.disk.whereabouts();
        let changed = now != std::mem::replace(&mut self.whereabouts, now);
        match now {
            Whereabouts::Here => None,
            Whereabouts::Moved => changed.then(|| {
                format!(
                    "{} was moved or replaced while recording; it is still being written where it went",
                    self.path.display()
                )
            }),
            Whereabouts::Deleted => match self.go_on_elsewhere("it was deleted while recording") {
                Ok(notice) => Some(notice),
                Err(error) => {
                    Some(format!("{} was deleted while recording, and {error}", self.path.display()))
                }
            },
        }
    }
}

fn last_of(scan: &Scan) -> Option<(String, u64, u64, String)> {
    let last = scan.records.last()?;
    Some((last.tag.clone(), last.run, last.n + 1, last.check.clone()))
}
