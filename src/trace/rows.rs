//! Lines to rows: whole lines in, numbers of the used columns out, faults with their place.

use super::digits::REACH;
use super::fault::{FaultKind, Tally, excerpt};
use super::layout::{Layout, MOST_USED, Used};
use super::marks::Marks;
use super::number::{self, Cell};
use super::quick::Quick;
use super::split::{self, Joined};
use super::summary::LineCounts;
use memchr::{memchr, memchr2};

/// Longest line that is read.
pub(super) const LONGEST_LINE: usize = 65_536;
/// Longest line of a live line: a longer one has lost its end.
pub(super) const LONGEST_LIVE_LINE: usize = 4096;
/// Longest cell.
pub(super) const LONGEST_CELL: usize = 4_096;

/// Rows of one stretch of a log, and what was met on the way.
#[derive(Debug, Clone, Default)]
pub(super) struct Block {
    /// Values of the used columns, row after row; NaN where nothing usable stands.
    pub(super) values: Vec<f64>,
    /// Line of each row, counted from the start of the stretch.
    pub(super) line_of: Vec<u32>,
    /// Numbers of rows before which the logger started anew.
    pub(super) breaks: Vec<u32>,
    /// Faults, with lines counted from the start of the stretch.
    pub(super) faults: Tally,
    /// Where the lines went.
    pub(super) lines: LineCounts,
    /// Bytes that were read.
    pub(super) consumed: usize,
    /// Room for marking a window.
    marks: Marks,
}

impl Block {
    /// Empties it, keeping its room.
    pub(super) fn clear(&mut self) {
        self.values.clear();
        self.line_of.clear();
        self.breaks.clear();
        self.faults.clear();
        self.lines = LineCounts::default();
        self.consumed = 0;
    }
}

/// Reads the lines of `bytes` into `block`, and stops at the first that is not whole (unless `at_end`: nothing
/// follows). The first byte must begin a line.
pub(super) fn read(layout: &Layout, bytes: &[u8], at_end: bool, block: &mut Block) {
    let mut at = 0;
    let mut quick = memchr(layout.line_end, bytes).map(|_| Quick::of(layout));
    while at < bytes.len() {
        let mut next = match &mut quick {
            Some(quick) if at >= IN_REACH => window(quick, layout, bytes, at, at_end, block),
            _ => at,
        };
        if next == at {
            // Unfinished, longer than a window, or both.
            match line(layout, bytes, at, at_end, block) {
                Some(after) => next = after,
                None => break,
            }
        }
        at = next;
    }
    block.consumed = at;
}

/// Bytes that must stand before a line that is read quickly: its longest numbers are sixteen characters long.
const IN_REACH: usize = 2 * REACH + 1;

/// Reads the whole lines of the window that begins with the line at `at`; gives where the next begins.
fn window(
    quick: &mut Quick<'_>,
    layout: &Layout,
    bytes: &[u8],
    at: usize,
    at_end: bool,
    block: &mut Block,
) -> usize {
    let mut marks = std::mem::take(&mut block.marks);
    marks.fill(bytes, at, layout);
    let text = bytes.get(marks.origin - REACH..).unwrap_or_default();
    let mut next = at;
    let mut first = 0;
    for line_number in 0..marks.lines.len() {
        let last = marks.lines[line_number] as usize;
        let begins = marks.begins(first);
        if begins == next {
            block.lines.lines += 1;
            if let Some(missing) = quick.row(text, &mut marks, first, last) {
                block.faults.count_many(FaultKind::Missing, missing);
                push_row(quick.values(), block);
                next = marks.begins(last);
            } else {
                block.lines.lines -= 1;
                let Some(after) = line(layout, bytes, begins, at_end, block) else { break };
                next = after;
            }
        }
        first = last;
    }
    block.marks = marks;
    next
}

/// Reads the line that begins at `at`, whatever it is; gives where the next begins. `None` when it is not whole; then
/// nothing was done.
fn line(layout: &Layout, bytes: &[u8], at: usize, at_end: bool, block: &mut Block) -> Option<usize> {
    let found = memchr(layout.line_end, bytes.get(at..)?);
    let (end, next) = match found {
        Some(n) => (at + n, at + n + 1),
        None if at_end && at < bytes.len() => (bytes.len(), bytes.len()),
        None => return None,
    };
    let line = &bytes[at..end];
    let joined_to = if layout.join_lines && memchr2(b'"', 0, line).is_some() {
        split::join(layout, bytes, at, at_end)
    } else {
        Joined::One
    };
    if joined_to == Joined::Unknown {
        return None;
    }
    block.lines.lines += 1;
    if found.is_none() {
        block.faults.note(block.lines.lines, 0, FaultKind::TornEnd, || {
            ("a line end after the last line".to_owned(), excerpt(line))
        });
    }
    if let Joined::Over { end, next, lines } = joined_to {
        joined(layout, &bytes[at..end], lines, block);
        return Some(next);
    }
    slow(layout, line, block);
    Some(next)
}

/// A row with nothing in it.
const NOTHING: [f64; MOST_USED] = [f64::NAN; MOST_USED];

#[inline]
fn push_row(row: &[f64], block: &mut Block) {
    // Number by number: a handful is moved sooner than a call is made.
    block.values.extend(row.iter().copied());
    block.line_of.push(block.lines.lines as u32);
    block.lines.used += 1;
}

/// A line that the quick path would not take.
fn slow(layout: &Layout, line: &[u8], block: &mut Block) {
    let place = block.lines.lines;
    if line.len() > layout.longest_line {
        return too_long(layout, block);
    }
    let line = line.strip_suffix(b"\r").unwrap_or(line);
    let trimmed = line.trim_ascii();
    if trimmed.is_empty() {
        block.lines.blank += 1;
    } else if split::is_comment(trimmed) {
        block.lines.comments += 1;
    } else if !layout.header.is_empty() && trimmed == layout.header {
        block.lines.headers_again += 1;
        block.breaks.push(block.line_of.len() as u32);
        block.faults.note(place, 0, FaultKind::HeaderAgain, || {
            ("the header once only (the logger started again here)".to_owned(), String::new())
        });
    } else if memchr(0, line).is_some() {
        set_aside(block, 0, FaultKind::NulByte, || ("text without NUL bytes".to_owned(), excerpt(line)));
    } else if layout.line_end == b'\n' && line.contains(&b'\r') {
        // Line ends were mixed: each carriage return ends a line too.
        let mut pieces = line.split(|b| *b == b'\r');
        if let Some(first) = pieces.next() {
            slow(layout, first, block);
        }
        for piece in pieces {
            block.lines.lines += 1;
            slow(layout, piece, block);
        }
    } else {
        record(layout, line, block);
    }
}

/// The line just begun is too long to read.
pub(super) fn too_long(layout: &Layout, block: &mut Block) {
    set_aside(block, 0, FaultKind::LongLine, || {
        (format!("a line of at most {} bytes", layout.longest_line), "a longer one".to_owned())
    });
}

/// A record over several lines.
fn joined(layout: &Layout, record_text: &[u8], lines: u64, block: &mut Block) {
    let place = block.lines.lines;
    block.faults.note(place, 0, FaultKind::Joined, || {
        ("a record on one line (this one goes over several; it was joined)".to_owned(), String::new())
    });
    record(layout, record_text.strip_suffix(b"\r").unwrap_or(record_text), block);
    block.lines.lines += lines - 1;
    block.lines.continued += lines - 1;
}

/// One record, cell by cell.
fn record(layout: &Layout, line: &[u8], block: &mut Block) {
    let cells = match split::cells(line, layout.delimiter) {
        Ok(cells) => cells,
        Err(column) => {
            return set_aside(block, column, FaultKind::OpenQuote, || {
                ("a quote that closes on its line".to_owned(), excerpt(line))
            });
        }
    };
    let extra_is_empty =
        cells.len() == layout.fields + 1 && cells.last().is_some_and(|c| c.trim_ascii().is_empty());
    if cells.len() != layout.fields && !extra_is_empty {
        return set_aside(block, 0, FaultKind::Ragged, || {
            (format!("{} columns", layout.fields), format!("{} ({})", cells.len(), excerpt(line)))
        });
    }
    if let Some(long) = cells.iter().position(|c| c.len() > LONGEST_CELL) {
        return set_aside(block, long + 1, FaultKind::LongCell, || {
            (format!("a cell of at most {LONGEST_CELL} bytes"), format!("{} bytes", cells[long].len()))
        });
    }
    let mut row = NOTHING;
    for (used, value) in layout.used.iter().zip(&mut row) {
        let text = cells.get(used.index).map_or(&b""[..], |c| c);
        match read_cell(layout, used, text, block) {
            Some(read) => *value = read,
            None => {
                return set_aside(block, used.index + 1, FaultKind::NotANumber, || {
                    (format!("a number for {}", used.name), excerpt(text))
                });
            }
        }
    }
    push_row(&row[..layout.used.len()], block);
}

/// The quantity in a cell, NaN when it holds none that can be used; `None` when it cannot be read at all.
fn read_cell(layout: &Layout, used: &Used, text: &[u8], block: &mut Block) -> Option<f64> {
    let place = (block.lines.lines, used.index + 1);
    match number::cell(used.bare(text), layout.point) {
        Cell::Number(number) => {
            let read = used.convert(number);
            if read >= used.low && read <= used.high {
                return Some(read + 0.0);
            }
            block.faults.note(place.0, place.1, FaultKind::OutOfRange, || {
                (format!("{} between {} and {}", used.name, used.low, used.high), excerpt(text))
            });
        }
        Cell::Empty => block.faults.count(FaultKind::Missing),
        Cell::NotFinite => block.faults.note(place.0, place.1, FaultKind::NotFinite, || {
            (format!("a finite number for {}", used.name), excerpt(text))
        }),
        Cell::Bad => return None,
    }
    Some(f64::NAN)
}

/// Sets the current row aside.
fn set_aside(block: &mut Block, column: usize, kind: FaultKind, say: impl FnOnce() -> (String, String)) {
    block.lines.quarantined += 1;
    block.faults.note(block.lines.lines, column, kind, say);
}

#[cfg(test)]
pub(super) mod tests;
