//! The first lines of a log: what it is, what separates its columns, which of them are known.

use super::columns::{decimal_sign, doubts, is_units_row, make, matches, pick, suffix_of};
use super::encoding::Encoding;
use super::fault::{TraceError, excerpt};
use super::layout::{Layout, Used};
use super::logger::LoggerProfile;
use super::number::{self, Cell};
use super::rows::{LONGEST_LINE, LONGEST_LIVE_LINE};
use super::split;
use super::summary::{LineCounts, Note};
use memchr::memchr_iter;

/// Lines looked at before the shape of the log is settled.
const LINES_LOOKED_AT: usize = 24;
/// And bytes at most.
const BYTES_LOOKED_AT: usize = 4 * LONGEST_LINE;
/// NULs are looked for in so many bytes, or in the lines looked at when those are shorter.
const NULS_LOOKED_FOR_IN: usize = 4096;
/// With no line feed in so many bytes, carriage returns end the lines.
const RETURNS_ALONE_IN: usize = 4096;
/// Most columns that are read.
const MOST_COLUMNS: usize = 256;
/// Longest name of a column, characters.
const LONGEST_NAME: usize = 128;
/// What to do with most that is no text.
const EXPORT: &str = "export the log as CSV (plain text, UTF-8)";
/// Separators that are tried.
pub(super) const SEPARATORS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// The shape of a log, and how much of it was taken up by saying so.
#[derive(Debug, Clone)]
pub(super) struct Head {
    /// Shape of its lines.
    pub(super) layout: Layout,
    /// Lines up to the first row.
    pub(super) lines: LineCounts,
    /// Bytes up to the first row.
    pub(super) consumed: usize,
    /// What is worth saying about the columns.
    pub(super) notes: Vec<Note>,
    /// All names in the header, as they stand.
    pub(super) names: Vec<String>,
}

/// Settles the shape from the first bytes of a log. `Ok(None)`: more bytes are needed. `live` settles as soon as it
/// can, one line after the header.
pub(super) fn settle(
    bytes: &[u8],
    at_end: bool,
    live: bool,
    logger: &LoggerProfile,
) -> Result<Option<Head>, TraceError> {
    no_other_kind(bytes)?;
    let start = if bytes.starts_with(b"\xef\xbb\xbf") { 3 } else { 0 };
    if !at_end && (bytes.len() < 4 || b"\xef\xbb\xbf".starts_with(bytes)) {
        return Ok(None);
    }
    let longest = if live { LONGEST_LIVE_LINE } else { LONGEST_LINE };
    // Whatever is decided here is decided on the same first bytes, in whichever pieces they come.
    let all_there = at_end && bytes.len() <= BYTES_LOOKED_AT;
    let looked_at = &bytes[..bytes.len().min(BYTES_LOOKED_AT)];
    let Some(line_end) = line_end(&looked_at[start..], all_there, longest) else { return Ok(None) };
    let lines = first_lines(looked_at, start, line_end, all_there);
    let enough = at_end || lines.len() >= LINES_LOOKED_AT || bytes.len() >= BYTES_LOOKED_AT;
    let read = lines.last().map_or(start, |l| l.next);
    if enough || looked_at.len() >= NULS_LOOKED_FOR_IN {
        let end = if lines.len() >= LINES_LOOKED_AT { read } else { looked_at.len() };
        not_mostly_nul(&looked_at[..end])?;
    }
    if let Some(long) = lines.iter().position(|l| l.text.len() > longest) {
        return Err(TraceError::LongLine { line: long as u64 + 1, limit: longest });
    }
    if lines.len() < LINES_LOOKED_AT && looked_at.len() - read > longest {
        return Err(TraceError::LongLine { line: lines.len() as u64 + 1, limit: longest });
    }
    if !(enough || live) {
        return Ok(None);
    }
    let found = if logger.header {
        with_header(&lines, line_end, logger)
    } else {
        without_header(&lines, start, line_end, logger)
    };
    match found {
        // A live line settles with one row after the header, or waits for more lines.
        Ok((head, rows)) => Ok((enough || rows > 0).then_some(head)),
        Err(error) => {
            if enough {
                Err(error)
            } else {
                Ok(None)
            }
        }
    }
}

/// One of the first lines.
pub(super) struct Line<'a> {
    pub(super) text: &'a [u8],
    next: usize,
}

/// Refuses files that are no text table.
pub(super) fn not_something_else(bytes: &[u8]) -> Result<(), TraceError> {
    no_other_kind(bytes)?;
    not_mostly_nul(bytes)
}

/// Refuses files of another kind, by their first bytes.
fn no_other_kind(bytes: &[u8]) -> Result<(), TraceError> {
    const UTF16: &str = "save it as UTF-8, or convert it: iconv -f UTF-16 -t UTF-8 LOG > NEW.csv";
    const UTF32: &str = "save it as UTF-8, or convert it: iconv -f UTF-32 -t UTF-8 LOG > NEW.csv";
    const PAGE: &str = "the download failed; fetch the log itself";
    let kinds: [(&[u8], &str, &str); 13] = [
        // Before UTF-16, whose mark is the first half of this one.
        (b"\xff\xfe\x00\x00", "UTF-32 text", UTF32),
        (b"\x00\x00\xfe\xff", "UTF-32 text", UTF32),
        (b"\xff\xfe", "UTF-16 text", UTF16),
        (b"\xfe\xff", "UTF-16 text", UTF16),
        (b"PK\x03\x04", "a spreadsheet or a zip archive", EXPORT),
        (b"\xd0\xcf\x11\xe0", "a spreadsheet in an old format", EXPORT),
        (b"\x1f\x8b", "a gzip archive", "unpack it first: gunzip LOG.gz"),
        (b"BZh", "a bzip2 archive", "unpack it first: bunzip2 LOG.bz2"),
        (b"\xfd7zXZ", "an xz archive", "unpack it first: unxz LOG.xz"),
        (b"\x28\xb5\x2f\xfd", "a zstd archive", "unpack it first: unzstd LOG.zst"),
        (b"7z\xbc\xaf", "a 7z archive", "unpack it first"),
        (b"%PDF", "a PDF", EXPORT),
        (b"{\\rtf", "a formatted document", EXPORT),
    ];
    for (magic, what, remedy) in kinds {
        if bytes.starts_with(magic) {
            return Err(TraceError::NotText { what, remedy });
        }
    }
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes).trim_ascii_start();
    if [&b"<!doctype"[..], b"<html", b"<?xml"].iter().any(|m| starts_with(text, m)) {
        return Err(TraceError::NotText { what: "a web page", remedy: PAGE });
    }
    Ok(())
}

/// Refuses what has more NULs than any text among its first bytes.
fn not_mostly_nul(bytes: &[u8]) -> Result<(), TraceError> {
    let first = &bytes[..bytes.len().min(NULS_LOOKED_FOR_IN)];
    let nul = memchr_iter(0, first).count();
    if first.len() >= 16 && nul * 10 > first.len() {
        let odd = first.iter().skip(1).step_by(2).filter(|b| **b == 0).count();
        let (what, remedy) = if odd * 10 > nul * 9 {
            (
                "UTF-16 text (little-endian, without its mark) or a binary file",
                "save it as UTF-8, or convert it: iconv -f UTF-16LE -t UTF-8 LOG > NEW.csv",
            )
        } else if odd * 10 < nul {
            (
                "UTF-16 text (big-endian, without its mark) or a binary file",
                "save it as UTF-8, or convert it: iconv -f UTF-16BE -t UTF-8 LOG > NEW.csv",
            )
        } else {
            ("a binary file", EXPORT)
        };
        return Err(TraceError::NotText { what, remedy });
    }
    Ok(())
}

/// Whether text starts with a word, in capitals or not.
fn starts_with(text: &[u8], word: &[u8]) -> bool {
    text.get(..word.len()).is_some_and(|t| t.eq_ignore_ascii_case(word))
}

/// Line feed, or carriage return where the first lines have no line feed; `None` when it cannot be told yet.
fn line_end(bytes: &[u8], all_there: bool, longest: usize) -> Option<u8> {
    let first = &bytes[..bytes.len().min(RETURNS_ALONE_IN)];
    if memchr::memchr(b'\n', first).is_some() {
        return Some(b'\n');
    }
    let settled = all_there || bytes.len() > RETURNS_ALONE_IN;
    match memchr::memchr2(b'\n', b'\r', bytes) {
        Some(at) if settled && bytes[at] == b'\r' => match bytes.get(at + 1) {
            Some(b'\n') => Some(b'\n'),
            Some(_) => Some(b'\r'),
            None => all_there.then_some(b'\r'),
        },
        Some(_) => settled.then_some(b'\n'),
        None => (all_there || bytes.len() > longest).then_some(b'\n'),
    }
}

fn first_lines(bytes: &[u8], start: usize, line_end: u8, all_there: bool) -> Vec<Line<'_>> {
    let mut lines = Vec::new();
    let mut at = start;
    while lines.len() < LINES_LOOKED_AT && at < bytes.len() {
        let (end, next) = match memchr::memchr(line_end, &bytes[at..]) {
            Some(n) => (at + n, at + n + 1),
            None if all_there => (bytes.len(), bytes.len()),
            None => break,
        };
        lines.push(Line { text: bytes[at..end].strip_suffix(b"\r").unwrap_or(&bytes[at..end]), next });
        at = next;
    }
    lines
}

/// What a line above the rows is.
fn sort_line(text: &[u8], counts: &mut LineCounts) -> bool {
    let trimmed = text.trim_ascii();
    counts.lines += 1;
    if trimmed.is_empty() {
        counts.blank += 1;
    } else if split::is_comment(trimmed) {
        counts.comments += 1;
    } else {
        return true;
    }
    false
}

fn names_of(text: &[u8], separator: u8, encoding: Encoding) -> Vec<String> {
    let cells = split::cells(text, separator).unwrap_or_default();
    cells.iter().map(|c| encoding.text(c.trim_ascii()).into_owned()).collect()
}

/// A header line that has known names: the line, the separator, and how many names it knows.
fn find_header(lines: &[Line<'_>], logger: &LoggerProfile) -> Result<(usize, u8), TraceError> {
    let tried: Vec<u8> =
        logger.delimiter.map_or_else(|| SEPARATORS.to_vec(), |d| vec![u8::try_from(d).unwrap_or(b',')]);
    let mut best: Option<(usize, usize, usize, u8)> = None;
    let mut tie = false;
    for (n, line) in lines.iter().enumerate() {
        if line.text.trim_ascii().is_empty() || split::is_comment(line.text.trim_ascii()) {
            continue;
        }
        for separator in &tried {
            let names = names_of(line.text, *separator, logger.encoding.unwrap_or_default());
            let known = names.iter().filter(|name| logger.columns.iter().any(|c| matches(c, name))).count();
            let better = best.is_none_or(|(k, f, ..)| (known, names.len()) > (k, f));
            if known > 0 && better {
                tie = false;
                best = Some((known, names.len(), n, *separator));
            } else if best.is_some_and(|(k, f, at, _)| (known, names.len(), n) == (k, f, at))
                && names.len() > 1
            {
                tie = true;
            }
        }
    }
    match best {
        Some(_) if tie => Err(TraceError::Separator { found: excerpt(lines[0].text) }),
        Some((_, _, n, separator)) => Ok((n, separator)),
        None => Err(no_header(lines, logger)),
    }
}

fn no_header(lines: &[Line<'_>], logger: &LoggerProfile) -> TraceError {
    let mut rest = LineCounts::default();
    let first = lines.iter().enumerate().find(|(_, l)| sort_line(l.text, &mut rest));
    let Some((n, line)) = first else {
        return TraceError::NoRows { why: "the log is empty".to_owned() };
    };
    let number = |c: &Vec<u8>| matches!(number::cell(c, b'.'), Cell::Number(_) | Cell::Empty);
    let numbers = |s: u8| split::cells(line.text, s).is_ok_and(|c| c.len() > 1 && c.iter().all(number));
    if SEPARATORS.into_iter().any(numbers) {
        return TraceError::OnlyNumbers { line: n as u64 + 1, found: excerpt(line.text) };
    }
    let known: Vec<&str> =
        logger.columns.iter().filter_map(|c| c.names.first().map(String::as_str)).take(9).collect();
    TraceError::NoHeader {
        line: n as u64 + 1,
        found: excerpt(line.text),
        known: known.join(", "),
        remedy: "Map its names in a logger profile; `leanbest trace --guess LOG` proposes one",
    }
}

type Settled = (Head, usize);

/// How the text is written: as the profile says; else UTF-8, or, when the header is not that, Windows-1252.
fn encoding(lines: &[Line<'_>], logger: &LoggerProfile, notes: &mut Vec<Note>) -> Encoding {
    if let Some(given) = logger.encoding {
        return given;
    }
    let Some(bad) = lines.iter().take(2).find(|l| std::str::from_utf8(l.text).is_err()) else {
        return Encoding::Utf8;
    };
    let what = format!(
        "the header is not UTF-8 ({}); it was read as Windows-1252, numbers are not affected. Say which it is with \
         --encoding latin-1 or windows-1252, or save the log as UTF-8",
        excerpt(bad.text)
    );
    notes.push(Note { name: "encoding".to_owned(), what });
    Encoding::Windows1252
}

/// Whether a header is of a size that a logger writes.
fn fits(names: &[String], line: u64) -> Result<(), TraceError> {
    if names.len() > MOST_COLUMNS {
        return Err(TraceError::TooWide { line, found: names.len(), limit: MOST_COLUMNS });
    }
    match names.iter().position(|n| n.chars().count() > LONGEST_NAME) {
        Some(long) => Err(TraceError::LongName { line, column: long + 1, limit: LONGEST_NAME }),
        None => Ok(()),
    }
}

fn with_header(lines: &[Line<'_>], line_end: u8, logger: &LoggerProfile) -> Result<Settled, TraceError> {
    let (at, separator) = find_header(lines, logger)?;
    let mut counts = LineCounts::default();
    for line in &lines[..at] {
        if sort_line(line.text, &mut counts) {
            counts.preamble += 1;
        }
    }
    counts.lines += 1;
    counts.header = 1;
    let mut notes = Vec::new();
    let encoding = encoding(&lines[at..], logger, &mut notes);
    let names = names_of(lines[at].text, separator, encoding);
    fits(&names, at as u64 + 1)?;
    let picked = pick(&names, logger, at as u64 + 1, &mut notes)?;
    let rest = &lines[at + 1..];
    let units = rest.first().filter(|l| is_units_row(l.text, separator, names.len()));
    let written_units = units.map(|l| names_of(l.text, separator, encoding)).unwrap_or_default();
    counts.lines += u64::from(units.is_some());
    counts.units += u64::from(units.is_some());
    let rows = &rest[usize::from(units.is_some())..];
    let used = picked
        .into_iter()
        .map(|(index, column)| {
            let suffix = suffix_of(rows, separator, index, column.channel);
            make(index, column, &names[index], written_units.get(index), &suffix, &mut notes)
        })
        .collect::<Vec<Used>>();
    let point = decimal_sign(rows, separator, &used, names.len(), logger, at as u64 + 2)?;
    doubts(rows, separator, point, &used, &mut notes);
    let consumed = units.map_or(lines[at].next, |l| l.next);
    let header = lines[at].text.trim_ascii().to_vec();
    let layout = Layout {
        delimiter: separator,
        point,
        line_end,
        fields: names.len(),
        used,
        header,
        join_lines: true,
        longest_line: LONGEST_LINE,
    };
    Ok((Head { layout, lines: counts, consumed, notes, names }, rows.len()))
}

fn without_header(
    lines: &[Line<'_>],
    start: usize,
    line_end: u8,
    logger: &LoggerProfile,
) -> Result<Settled, TraceError> {
    let mut counts = LineCounts::default();
    let mut first = None;
    let mut consumed = start;
    for (n, line) in lines.iter().enumerate() {
        if sort_line(line.text, &mut counts) {
            counts.lines -= 1;
            first = Some(n);
            break;
        }
        consumed = line.next;
    }
    let first = first.ok_or_else(|| TraceError::NoRows { why: "the log is empty".to_owned() })?;
    let wanted = logger.columns.len();
    let encoding = logger.encoding.unwrap_or_default();
    let fits = |s: &u8| names_of(lines[first].text, *s, encoding).len() >= wanted;
    let given = logger.delimiter.and_then(|d| u8::try_from(d).ok());
    let separator = given
        .or_else(|| SEPARATORS.into_iter().find(fits))
        .ok_or_else(|| TraceError::Separator { found: excerpt(lines[first].text) })?;
    let fields = names_of(lines[first].text, separator, encoding).len();
    let mut notes = Vec::new();
    let used = logger
        .columns
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let suffix = suffix_of(&lines[first..], separator, i, c.channel);
            let name = c.names.first().map_or(c.channel.name(), String::as_str);
            make(i, c, name, None, &suffix, &mut notes)
        })
        .collect::<Vec<Used>>();
    let names = used.iter().map(|u| u.name.clone()).collect();
    let rows = &lines[first..];
    let point = decimal_sign(rows, separator, &used, fields, logger, first as u64 + 1)?;
    let layout = Layout {
        delimiter: separator,
        point,
        line_end,
        fields,
        used,
        header: Vec::new(),
        join_lines: true,
        longest_line: LONGEST_LINE,
    };
    Ok((Head { layout, lines: counts, consumed, notes, names }, rows.len()))
}

#[cfg(test)]
mod tests;
