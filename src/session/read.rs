//! Reading a session without a lock: for replay, comparison, the sheet, and a look while another run records.

use super::disk::read_bounded;
use super::error::SessionError;
use super::record::Record;
use super::scan::{Damage, Scan, Sort, Torn, scan};
use jiff::SignedDuration;
use std::fs::File;
use std::path::Path;

/// A session as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Recovered {
    /// Its records in order, the opening first. The opening's payload is what the caller opened with.
    pub records: Vec<Record>,
    /// The remains of a line at the end, dropped.
    pub torn: Option<Torn>,
    /// What a person should be told, in plain words.
    pub notes: Vec<String>,
    /// Check of the last record: printed on a sheet, it pins the history the sheet was made from.
    pub head: String,
    /// Version of the program that opened it.
    pub version: String,
}

/// Reads a session.
pub fn read(path: &Path) -> Result<Recovered, SessionError> {
    let (scan, _) = scan_file(path)?;
    if let Some(damage) = &scan.damage {
        return Err(damaged(path, damage, &scan));
    }
    Ok(recovered(scan))
}

/// Reads a session up to and including record `n`; damage beyond it does no harm.
pub fn read_until(path: &Path, n: u64) -> Result<Recovered, SessionError> {
    let (mut scan, _) = scan_file(path)?;
    let reached = scan.records.last().is_some_and(|last| last.n >= n);
    if let Some(damage) = &scan.damage {
        if !reached {
            return Err(damaged(path, damage, &scan));
        }
        let note = format!("line {} and what follows is not used: {}", damage.line, damage.what);
        scan.records.retain(|record| record.n <= n);
        let mut recovered = recovered(scan);
        recovered.notes.push(note);
        return Ok(recovered);
    }
    scan.records.retain(|record| record.n <= n);
    if reached {
        scan.torn = None;
    }
    Ok(recovered(scan))
}

/// Reads and sorts a file: only sessions of a known format pass.
pub(super) fn scan_file(path: &Path) -> Result<(Scan, Vec<u8>), SessionError> {
    let io = |source| SessionError::io(path, "could not be read", source);
    if !std::fs::metadata(path).map_err(io)?.is_file() {
        return Err(SessionError::NotAFile { path: path.to_owned() });
    }
    let bytes = File::open(path).and_then(|file| read_bounded(&file)).map_err(io)?;
    let scan = scan(&bytes);
    sorted(path, &scan)?;
    Ok((scan, bytes))
}

/// Refuses what is not a session of a known format.
pub(super) fn sorted(path: &Path, scan: &Scan) -> Result<(), SessionError> {
    let path = path.to_owned();
    match &scan.sort {
        Sort::Session(_) => Ok(()),
        Sort::NeverBegun if scan.damage.is_some() => Ok(()),
        Sort::NeverBegun => Err(SessionError::NotBegun { path }),
        Sort::Foreign => Err(SessionError::Foreign { path }),
        Sort::Newer { version, format, unknown } => {
            let needs =
                if unknown.is_empty() { String::new() } else { format!(", needing {}", unknown.join(", ")) };
            Err(SessionError::Newer { path, version: shown(version), format: *format, needs: shown(&needs) })
        }
    }
}

pub(super) fn damaged(path: &Path, damage: &Damage, scan: &Scan) -> SessionError {
    let lost = if damage.saved_lost {
        "; a saved record is gone: unless someone edited the file, stop using this disk"
    } else {
        ""
    };
    let rest = match damage.later {
        0 => String::new(),
        1 => format!("; 1 later record is readable by itself{lost}"),
        later => format!("; {later} later records are readable by themselves{lost}"),
    };
    SessionError::Damaged {
        path: path.to_owned(),
        line: damage.line,
        what: damage.what.clone(),
        rest,
        last_good: scan.records.last().map(|record| record.n),
    }
}

/// What the caller gets of an undamaged scan.
pub(super) fn recovered(scan: Scan) -> Recovered {
    let mut notes = clock_notes(&scan.records);
    for (line, bytes) in &scan.walled {
        notes.push(format!(
            "line {line}: {bytes} bytes of an unfinished line, set aside by an earlier resume"
        ));
    }
    if let Some(torn) = &scan.torn {
        notes.push(torn_note(torn));
    }
    let head = scan.records.last().map(|record| record.check.clone()).unwrap_or_default();
    let (opening, version) = match scan.sort {
        Sort::Session(opening) => (opening.opening, shown(&opening.version)),
        _ => (serde_json::Value::Null, String::new()),
    };
    let mut records = scan.records;
    if let Some(first) = records.first_mut() {
        first.payload = opening;
    }
    Recovered { records, torn: scan.torn, notes, head, version }
}

fn torn_note(torn: &Torn) -> String {
    let Torn { line, length, .. } = torn;
    if torn.looks_whole {
        format!(
            "line {line}: the last line is dropped, its check does not fit: it was being written when the session ended, \
             or was changed afterwards"
        )
    } else {
        format!(
            "line {line}: the last {length} bytes were being written when the session ended and are dropped; nothing \
             saved is missing"
        )
    }
}

/// Where the time of day and the monotonic clock disagree by more than a second inside one run.
fn clock_notes(records: &[Record]) -> Vec<String> {
    records.windows(2).filter_map(|pair| match pair {
        [before, after] if before.run == after.run => {
            let wall = after.at.duration_since(before.at);
            let up = SignedDuration::try_from(after.up.checked_sub(before.up)?).ok()?;
            let step = wall.checked_sub(up)?;
            (step.unsigned_abs().as_secs() >= 1).then(|| {
                let (n, by) = (after.n, step.unsigned_abs().as_secs());
                if step.is_negative() {
                    format!("before record {n} the clock was set back by {by} s; order is by record number")
                } else {
                    format!("before record {n} the clock went forward by {by} s: it was set, or the computer slept")
                }
            })
        }
        _ => None,
    }).collect()
}

fn shown(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(60).collect()
}
