//! A live line as the screen takes it: rows, and what is wrong with the line in words.

use crate::bench::clock::Stopwatch;
use crate::bench::line::{FromLine, Line, LineError, LineSource};
use crate::trace::TraceContext;
use crate::trace::live::{LiveReader, LiveRow};
use crate::units::TimeSpan;
use std::time::Duration;

/// What came.
#[derive(Debug)]
pub enum Fed {
    /// Rows, and the bytes they were read from.
    Rows(Vec<LiveRow>, Vec<u8>),
    /// Something is wrong with the line.
    Trouble(String),
    /// It is well again.
    Well,
    /// It is at its end.
    Ended,
}

/// An open line, its reader and its clock.
#[derive(Debug)]
pub struct Feed {
    line: Line,
    reader: LiveReader,
    clock: Stopwatch,
    /// What was sent before the columns were known: a log of this line begins with it.
    opening: Vec<u8>,
    at_line_start: bool,
    ended: bool,
}

/// Takes the lines that were already rows off the end of an opening: a log that begins later does not begin with them.
fn without_last_lines(opening: &mut Vec<u8>, lines: usize) {
    for _ in 0..lines {
        let end = opening.len().saturating_sub(1);
        let kept = opening[..end].iter().rposition(|b| *b == b'\n').map_or(0, |at| at + 1);
        opening.truncate(kept);
    }
}

/// More than this without a header is garbage, not the opening of a log.
const LONGEST_OPENING: usize = 64 * 1024;

impl Feed {
    /// Opens the line.
    pub fn open(source: &LineSource, ctx: TraceContext) -> Result<Self, LineError> {
        Ok(Self {
            line: Line::open(source)?,
            reader: LiveReader::new(ctx),
            clock: Stopwatch::start(),
            opening: Vec::new(),
            at_line_start: true,
            ended: false,
        })
    }

    /// Time since the line was opened.
    pub fn now(&self) -> TimeSpan {
        self.clock.now()
    }

    /// What came; `None` when nothing did for so long.
    pub fn next(&mut self, wait: Duration) -> Option<Fed> {
        if self.ended {
            std::thread::sleep(wait);
            return None;
        }
        Some(match self.line.next(wait)? {
            FromLine::Bytes(bytes) => self.bytes(bytes),
            FromLine::Lost(why) => Fed::Trouble(format!("The line is lost ({why}). Look at plug and power.")),
            FromLine::Back => {
                self.reader.reconnected();
                self.at_line_start = false;
                Fed::Well
            }
            FromLine::Flooded(n) => {
                Fed::Trouble(format!("The line is faster than this machine: {n} bytes were lost."))
            }
            FromLine::Ended => {
                self.ended = true;
                Fed::Ended
            }
        })
    }

    /// Takes what has gathered unread, so that what comes next is of now.
    pub fn skip_to_now(&mut self) {
        for _ in 0..4096 {
            if self.ended || self.next(Duration::ZERO).is_none() {
                return;
            }
        }
    }

    /// Whether the columns are known.
    pub fn settled(&self) -> bool {
        self.reader.settled()
    }

    /// What a log that begins now has to begin with.
    pub fn opening(&self) -> &[u8] {
        &self.opening
    }

    /// Whether the next byte begins a line.
    pub fn at_line_start(&self) -> bool {
        self.at_line_start
    }

    /// Rows used and set aside so far.
    pub fn counts(&self) -> (u64, u64) {
        self.reader.counts()
    }

    fn bytes(&mut self, bytes: Vec<u8>) -> Fed {
        let mut rows = Vec::new();
        for piece in bytes.split_inclusive(|b| *b == b'\n') {
            let opening = !self.reader.settled();
            if opening {
                if self.opening.len() > LONGEST_OPENING {
                    self.opening.clear();
                }
                self.opening.extend_from_slice(piece);
            }
            let read = self.reader.push(piece);
            if opening && self.reader.settled() {
                without_last_lines(&mut self.opening, read.len());
            }
            rows.extend(read);
        }
        self.at_line_start = bytes.last() == Some(&b'\n');
        if let Some(garbled) = self.reader.garbled() {
            let share = 100 * garbled.lines / garbled.of.max(1);
            return Fed::Trouble(format!(
                "{share} % of the line cannot be read: is its speed (--baud) right?"
            ));
        }
        Fed::Rows(rows, bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::without_last_lines;

    #[test]
    fn an_opening_ends_where_the_rows_begin() {
        for (lines, kept) in [(0, "a,b\n1,2\n3,4\n"), (1, "a,b\n1,2\n"), (2, "a,b\n"), (9, "")] {
            let mut opening = b"a,b\n1,2\n3,4\n".to_vec();
            without_last_lines(&mut opening, lines);
            assert_eq!(String::from_utf8(opening).unwrap(), kept);
        }
    }
}
