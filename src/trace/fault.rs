//! What is wrong with a log, and where.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A kind of malformation. Each is counted; a few of each are kept with their place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// A cell that should hold a number does not; the row is set aside.
    NotANumber,
    /// Too few or too many cells; the row is set aside.
    Ragged,
    /// A quote that never closes; the row is set aside.
    OpenQuote,
    /// A line longer than the limit; it is set aside.
    LongLine,
    /// A cell longer than the limit; the row is set aside.
    LongCell,
    /// A NUL byte in a line; it is set aside.
    NulByte,
    /// A number no such instrument shows; the cell counts as missing.
    OutOfRange,
    /// NaN or infinity in a cell; the cell counts as missing.
    NotFinite,
    /// An empty cell in a column that is used; it counts as missing.
    Missing,
    /// Time missing or unreadable; the row is set aside.
    NoTime,
    /// Time went back; the row is set aside, or the log is taken up again as a new stretch.
    TimeBack,
    /// Time came twice; the later row is set aside.
    TimeTwice,
    /// The logger's clock wrapped; it was unwrapped.
    TimeWrap,
    /// The header came again: the logger restarted.
    HeaderAgain,
    /// A record over several lines, joined.
    Joined,
    /// The last line has no end: it may be torn. It is read when it is whole.
    TornEnd,
}

impl FaultKind {
    /// Its name in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            FaultKind::NotANumber => "not-a-number",
            FaultKind::Ragged => "ragged",
            FaultKind::OpenQuote => "open-quote",
            FaultKind::LongLine => "long-line",
            FaultKind::LongCell => "long-cell",
            FaultKind::NulByte => "nul-byte",
            FaultKind::OutOfRange => "out-of-range",
            FaultKind::NotFinite => "not-finite",
            FaultKind::Missing => "missing",
            FaultKind::NoTime => "no-time",
            FaultKind::TimeBack => "time-back",
            FaultKind::TimeTwice => "time-twice",
            FaultKind::TimeWrap => "time-wrap",
            FaultKind::HeaderAgain => "header-again",
            FaultKind::Joined => "joined",
            FaultKind::TornEnd => "torn-end",
        }
    }
}

/// One malformation and its place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Fault {
    /// Line in the file, from 1.
    pub line: u64,
    /// Column of the table, from 1; 0 when it is the whole line.
    pub column: u32,
    /// Which kind.
    pub kind: FaultKind,
    /// What was expected there.
    pub expected: String,
    /// What was found, cut short and made safe to print.
    pub found: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if self.column > 0 {
            write!(f, ", column {}", self.column)?;
        }
        write!(f, ": expected {}", self.expected)?;
        if !self.found.is_empty() {
            write!(f, ", found {}", self.found)?;
        }
        Ok(())
    }
}

/// Why nothing at all can be made of a log.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TraceError {
    /// It is not a table of text.
    #[error("this is {what}, not a text table of readings; {remedy}")]
    NotText {
        /// What it looks like.
        what: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// There is nothing in it.
    #[error("no rows of readings: {why}")]
    NoRows {
        /// What was found instead.
        why: String,
    },
    /// The first lines hold no header with known names.
    #[error("line {line}: no column name is known here (found {found}); known are {known}. {remedy}")]
    NoHeader {
        /// Line that was taken for the header.
        line: u64,
        /// Names found there.
        found: String,
        /// A few of the names known.
        known: String,
        /// What to do.
        remedy: &'static str,
    },
    /// A column the analysis cannot do without is missing.
    #[error("line {line}: there is no {what} column (found {found}); {remedy}")]
    NoColumn {
        /// Header line.
        line: u64,
        /// Which.
        what: &'static str,
        /// Names found.
        found: String,
        /// What to do.
        remedy: &'static str,
    },
    /// Two columns claim to be the same quantity.
    #[error(
        "line {line}: columns {first} and {second} are both called \"{name}\"; rename one, or name one in a logger profile"
    )]
    TwoColumns {
        /// Header line.
        line: u64,
        /// Their name.
        name: String,
        /// First column, from 1.
        first: u32,
        /// Second column, from 1.
        second: u32,
    },
    /// A line before the header is longer than the limit.
    #[error(
        "line {line}: longer than {limit} bytes; this is not a table of readings, or its line ends are lost"
    )]
    LongLine {
        /// Which line.
        line: u64,
        /// The limit.
        limit: usize,
    },
    /// More columns than any logger writes.
    #[error("line {line}: {found} columns, more than the {limit} that are read; is the separator right?")]
    TooWide {
        /// Header line.
        line: u64,
        /// Columns found.
        found: usize,
        /// The limit.
        limit: usize,
    },
    /// A name no logger gives.
    #[error(
        "line {line}, column {column}: the name is longer than {limit} characters; is this line the header, and are its quotes closed?"
    )]
    LongName {
        /// Header line.
        line: u64,
        /// Column, from 1.
        column: usize,
        /// The limit.
        limit: usize,
    },
    /// Numbers where the header should be.
    #[error(
        "line {line}: numbers where the names of the columns should be ({found}); write a first line such as time_s,rpm,map_kpa,tps_pct,lambda, or give a logger profile with header = false"
    )]
    OnlyNumbers {
        /// First line that is no comment.
        line: u64,
        /// What it holds.
        found: String,
    },
    /// No one separator fits.
    #[error("the separator cannot be told: {found}; give it in a logger profile (delimiter = \";\")")]
    Separator {
        /// What was found.
        found: String,
    },
    /// Comma is both separator and decimal point.
    #[error(
        "line {line}: {cells} cells under {names} names: the comma is both separator and decimal point here; export with semicolon or tab between columns"
    )]
    TwoCommas {
        /// First line where it shows.
        line: u64,
        /// Cells in that line.
        cells: usize,
        /// Names in the header.
        names: usize,
    },
}

/// Kinds in all.
const KINDS: usize = FaultKind::TornEnd as usize + 1;

/// Faults of each kind kept with their place; the rest are only counted.
pub(super) const KEPT_OF_A_KIND: usize = 20;

/// Faults counted by kind, the first of each kept.
#[derive(Debug, Clone, Default)]
pub(super) struct Tally {
    counts: [u64; KINDS],
    kept: Vec<Fault>,
}

impl Tally {
    /// Counts one, and keeps it when few of its kind came before. The texts are only made when it is kept.
    pub(super) fn note(
        &mut self,
        line: u64,
        column: usize,
        kind: FaultKind,
        say: impl FnOnce() -> (String, String),
    ) {
        let seen = &mut self.counts[kind as usize];
        *seen += 1;
        if *seen <= KEPT_OF_A_KIND as u64 {
            let (expected, found) = say();
            self.kept.push(Fault { line, column: column as u32, kind, expected, found });
        }
    }

    /// Counts one without a place.
    pub(super) fn count(&mut self, kind: FaultKind) {
        self.count_many(kind, 1);
    }

    /// Counts so many without a place.
    #[inline]
    pub(super) fn count_many(&mut self, kind: FaultKind, many: u64) {
        self.counts[kind as usize] += many;
    }

    /// Empties it for the next block.
    pub(super) fn clear(&mut self) {
        self.counts = [0; KINDS];
        self.kept.clear();
    }

    /// Takes in those of a later part of the log that begins `lines` lines further on.
    pub(super) fn take(&mut self, later: &Tally, lines: u64) {
        for fault in &later.kept {
            if (self.kept.iter().filter(|f| f.kind == fault.kind).count()) < KEPT_OF_A_KIND {
                self.kept.push(Fault { line: fault.line + lines, ..fault.clone() });
            }
        }
        for (into, count) in self.counts.iter_mut().zip(later.counts) {
            *into += count;
        }
    }

    /// How many of a kind.
    pub(super) fn of(&self, kind: FaultKind) -> u64 {
        self.counts[kind as usize]
    }

    /// The faults kept, by line, and the counts of the kinds that occurred.
    pub(super) fn into_parts(mut self) -> (Vec<Fault>, std::collections::BTreeMap<FaultKind, u64>) {
        self.kept.sort();
        let counts = ALL_KINDS.iter().map(|k| (*k, self.of(*k))).filter(|(_, n)| *n > 0).collect();
        (self.kept, counts)
    }
}

const ALL_KINDS: [FaultKind; KINDS] = [
    FaultKind::NotANumber,
    FaultKind::Ragged,
    FaultKind::OpenQuote,
    FaultKind::LongLine,
    FaultKind::LongCell,
    FaultKind::NulByte,
    FaultKind::OutOfRange,
    FaultKind::NotFinite,
    FaultKind::Missing,
    FaultKind::NoTime,
    FaultKind::TimeBack,
    FaultKind::TimeTwice,
    FaultKind::TimeWrap,
    FaultKind::HeaderAgain,
    FaultKind::Joined,
    FaultKind::TornEnd,
];

/// Bytes of a log as they may be shown: at most forty characters, nothing that a terminal would obey.
pub(super) fn excerpt(bytes: &[u8]) -> String {
    let (mut out, mut length) = (String::from("\""), 0);
    'all: for piece in bytes[..bytes.len().min(200)].utf8_chunks() {
        let whole = piece
            .valid()
            .chars()
            .map(|c| if is_hidden(c) { c.escape_unicode().to_string() } else { c.to_string() });
        // Bytes that are no text are shown as bytes.
        let broken = piece.invalid().iter().map(|b| format!("\\x{b:02X}"));
        for shown in whole.chain(broken) {
            if length >= 40 {
                out.push('…');
                break 'all;
            }
            length += 1;
            out.push_str(&shown);
        }
    }
    out.push('"');
    out
}

/// Whether a character would move a cursor, hide, or turn the line around.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_says_where_what_was_expected_and_what_was_found() {
        let at = |column, found: &str| {
            let (expected, found) = ("a number".to_owned(), found.to_owned());
            Fault { line: 7, column, kind: FaultKind::NotANumber, expected, found }.to_string()
        };
        assert_eq!(at(3, "\"x\""), "line 7, column 3: expected a number, found \"x\"");
        assert_eq!(at(0, ""), "line 7: expected a number");
    }

    #[test]
    fn each_kind_is_called_in_json_as_it_is_counted() {
        for kind in ALL_KINDS {
            assert_eq!(serde_json::to_value(kind).unwrap(), kind.name());
        }
    }

    #[test]
    fn an_excerpt_is_short_and_moves_no_cursor() {
        let long = "é".repeat(41);
        assert_eq!(excerpt(long.as_bytes()), format!("\"{}…\"", "é".repeat(40)));
        assert_eq!(excerpt("é".repeat(40).as_bytes()), format!("\"{}\"", "é".repeat(40)));
        assert_eq!(excerpt(b"a\x1b[2J\xff"), "\"a\\u{1b}[2J\\xFF\"");
        assert_eq!(excerpt("a\u{202e}b".as_bytes()), "\"a\\u{202e}b\"");
    }

    #[test]
    fn twenty_of_each_kind_keep_their_place_and_all_are_counted() {
        let some = |kinds: &[FaultKind], lines: u64| {
            let mut tally = Tally::default();
            for line in 1..=lines {
                for kind in kinds {
                    tally.note(line, 0, *kind, Default::default);
                }
            }
            tally
        };
        let (twice, wrap) = (FaultKind::TimeTwice, FaultKind::TimeWrap);
        let mut all = some(&[twice, wrap], 15);
        all.take(&some(&[twice], 25), 100);
        all.count(FaultKind::Missing);
        let (kept, counts) = all.into_parts();
        assert_eq!(
            counts.into_iter().collect::<Vec<_>>(),
            [(FaultKind::Missing, 1), (twice, 40), (wrap, 15)]
        );
        let lines = |kind| kept.iter().filter(|f| f.kind == kind).map(|f| f.line).collect::<Vec<_>>();
        assert_eq!(lines(twice), (1..=15).chain(101..=105).collect::<Vec<_>>());
        assert_eq!(lines(wrap), (1..=15).collect::<Vec<_>>());
        let mut again = some(&[twice], 3);
        again.clear();
        assert!(again.into_parts() == Tally::default().into_parts());
    }
}
