//! Bytes in; records, the torn tail and damage out. Owns no file.

use super::record::{self, BadLine, FORMAT, Opening, PROGRAM, Record};

/// The remains of a line at the end of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Torn {
    /// Line it is on, from 1.
    pub line: u64,
    /// Where it begins, bytes from the start of the file.
    pub offset: u64,
    /// How long it is, bytes.
    pub length: u64,
    /// True when it ends like a whole line, so that it may also have been changed after it was written.
    pub looks_whole: bool,
}

/// Damage before the tail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// First line of it, from 1.
    pub line: u64,
    /// What is wrong with it.
    pub what: String,
    /// True when a later record shows that what is missing had been saved.
    pub saved_lost: bool,
    /// Records after it that can still be read by themselves.
    pub later: u64,
}

/// What kind of file it is.
#[derive(Debug, Clone, PartialEq)]
pub enum Sort {
    /// One of ours, begun by this opening.
    Session(Opening),
    /// Empty, or only the remains of a first line: a session that never began.
    NeverBegun,
    /// One of ours, in a format or with features this program does not know.
    Newer {
        /// Version of the program that wrote it.
        version: String,
        /// Its format.
        format: u64,
        /// Features it needs that are unknown here.
        unknown: Vec<String>,
    },
    /// Something else.
    Foreign,
}

/// A file, scanned.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// What kind of file it is.
    pub sort: Sort,
    /// The records up to the first damage.
    pub records: Vec<Record>,
    /// Where the last good record ends, its line end included.
    pub good_end: u64,
    /// The remains at the end, if any.
    pub torn: Option<Torn>,
    /// The first damage, if any.
    pub damage: Option<Damage>,
    /// Earlier remains, walled off and explained by the record after them: line and bytes.
    pub walled: Vec<(u64, u64)>,
}

impl Scan {
    /// Bytes in the torn tail, line ends not counted.
    pub fn torn_bytes(&self, bytes: &[u8]) -> u64 {
        bytes.get(self.good_end as usize..).map_or(0, content)
    }
}

/// Counts bytes that are not line ends: the same before and after an editor turns `\n` into `\r\n`.
fn content(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|&&byte| byte != b'\n' && byte != b'\r').count() as u64
}

const BOM: &[u8] = b"\xEF\xBB\xBF";

struct Scanner<'a> {
    bytes: &'a [u8],
    scan: Scan,
    /// First bad line since the last good record: line, offset, why.
    bad: Option<(u64, usize, BadLine)>,
    last_bad_whole: bool,
    /// The record due at the damage was met after it: nothing is missing there.
    next_seen: bool,
}

/// Scans a whole file.
pub fn scan(bytes: &[u8]) -> Scan {
    let mut scanner = Scanner {
        bytes,
        scan: Scan {
            sort: Sort::NeverBegun,
            records: Vec::new(),
            good_end: 0,
            torn: None,
            damage: None,
            walled: Vec::new(),
        },
        bad: None,
        last_bad_whole: false,
        next_seen: false,
    };
    let mut start = if bytes.starts_with(BOM) { BOM.len() } else { 0 };
    scanner.scan.good_end = start as u64;
    let mut number = 0;
    while start < bytes.len() {
        number += 1;
        let rest = bytes.get(start..).unwrap_or_default();
        let (end, next) = match memchr::memchr(b'\n', rest) {
            Some(at) => (start + at, start + at + 1),
            None => (bytes.len(), bytes.len()),
        };
        let line = bytes.get(start..end).unwrap_or_default();
        scanner.line(line.strip_suffix(b"\r").unwrap_or(line), number, start, next);
        start = next;
    }
    scanner.finish()
}

impl Scanner<'_> {
    fn line(&mut self, line: &[u8], number: u64, start: usize, next: usize) {
        let line_end = start + line.len();
        if line.is_empty() {
            return;
        }
        match record::open(line, number) {
            Ok(record) if self.scan.damage.is_some() => self.after_damage(&record),
            Ok(record) => self.good(record, start, next),
            Err(why) => {
                let mut start = start;
                if let Some((record, end)) = record::open_start(line, number) {
                    start += end;
                    if self.scan.damage.is_some() {
                        self.after_damage(&record);
                    } else {
                        self.good(record, start - end, start);
                    }
                }
                self.last_bad_whole = line.ends_with(b"}") && next > line_end;
                self.bad.get_or_insert((number, start, why));
            }
        }
    }

    fn good(&mut self, record: Record, start: usize, next: usize) {
        let gap = self.bytes.get(self.scan.good_end as usize..start).map_or(0, content);
        let said =
            record::number_in(&record.payload, "torn_bytes").filter(|_| is_own(&record.kind)).unwrap_or(0);
        if let Some((line, _, why)) = self.bad.take_if(|_| gap != said) {
            return self.damaged(line, why.to_string(), &record);
        }
        if gap != said {
            let what = format!("it speaks of {said} bytes left by an unfinished line, and {gap} are there");
            return self.damaged(record.line, what, &record);
        }
        if let Err(what) = self.follows(&record) {
            return self.damaged(record.line, what, &record);
        }
        if let Some((line, _, _)) = self.bad.take() {
            self.scan.walled.push((line, gap));
        }
        self.scan.good_end = next as u64;
        self.scan.records.push(record);
    }

    /// Whether a record whose own check fits is the next of this session.
    fn follows(&mut self, record: &Record) -> Result<(), String> {
        let Some(last) = self.scan.records.last() else { return self.opens(record) };
        if record.tag != last.tag {
            return Err("it belongs to another session".to_owned());
        }
        let due = last.n + 1;
        if record.n != due {
            return Err(format!("record {} stands where record {due} should", record.n));
        }
        if record.previous != last.check {
            return Err(format!("the history before record {} was changed", record.n));
        }
        if record.durable > record.n || record.run < last.run || record.kind == "open" {
            return Err("it contradicts the record before it".to_owned());
        }
        Ok(())
    }

    fn opens(&mut self, record: &Record) -> Result<(), String> {
        if record.n != 0 || record.kind != "open" || !record.previous.is_empty() {
            return Err(format!("the file begins with record {}, not with the opening", record.n));
        }
        let opening = Opening::of(&record.payload).ok_or("the opening does not say what wrote it")?;
        self.scan.sort = sort_of(opening);
        Ok(())
    }

    fn damaged(&mut self, line: u64, what: String, first_after: &Record) {
        self.scan.damage = Some(Damage { line, what, saved_lost: false, later: 0 });
        self.after_damage(first_after);
    }

    fn after_damage(&mut self, record: &Record) {
        let read = self.scan.records.len() as u64;
        let ours = self.scan.records.last().is_none_or(|last| last.tag == record.tag);
        if let (true, Some(damage)) = (ours, self.scan.damage.as_mut()) {
            damage.later += u64::from(record.n >= read);
            self.next_seen |= record.n == read;
            damage.saved_lost |= record.durable > read && record.n > read;
        }
    }

    fn finish(mut self) -> Scan {
        if let Some(damage) = self.scan.damage.as_mut() {
            damage.saved_lost &= !self.next_seen;
        }
        let whole = self.bytes.len();
        if let Some((line, offset, _)) = self.bad.take_if(|_| self.scan.damage.is_none()) {
            let length = (whole - offset) as u64;
            let looks_whole = self.last_bad_whole;
            self.scan.torn = Some(Torn { line, offset: offset as u64, length, looks_whole });
        }
        if self.scan.records.is_empty() {
            self.scan.sort = sort_of_unread(self.bytes);
        }
        self.scan
    }
}

fn is_own(kind: &str) -> bool {
    matches!(kind, "open" | "resume" | "continue")
}

fn sort_of(opening: Opening) -> Sort {
    if opening.program != PROGRAM {
        return Sort::Foreign;
    }
    // No feature is needed by format 1; any word here is from the future.
    if opening.format > FORMAT || !opening.need.is_empty() {
        return Sort::Newer { version: opening.version, format: opening.format, unknown: opening.need };
    }
    Sort::Session(opening)
}

/// A file without one good record: newer than this program, never begun, or not ours.
fn sort_of_unread(bytes: &[u8]) -> Sort {
    let bytes = bytes.strip_prefix(BOM).unwrap_or(bytes);
    let first = bytes.split(|&byte| byte == b'\n').next().unwrap_or_default();
    if let Some(opening) = Opening::glimpse(first.strip_suffix(b"\r").unwrap_or(first)) {
        return match sort_of(opening) {
            // Whole to look at, but its check does not fit and nothing follows: it was never said to be saved.
            Sort::Session(_) => Sort::NeverBegun,
            other => other,
        };
    }
    let all_ours = bytes.split(|&byte| byte == b'\n').all(is_remains);
    if all_ours { Sort::NeverBegun } else { Sort::Foreign }
}

/// Whether a line may be what is left of an opening that was being written: its beginning, or NULs where the
/// length reached the disk before the text did.
fn is_remains(line: &[u8]) -> bool {
    const START: &[u8] = br#"{"n":0,"session":""#;
    let line = line.strip_suffix(b"\r").unwrap_or(line);
    line.iter().all(|&byte| byte == 0) || START.starts_with(line) || line.starts_with(START)
}

#[cfg(test)]
mod tests;
