//! A line into cells, with the quotes that an ordinary log never has.

use super::layout::Layout;
use csv_core::{ReadRecordResult, Reader, ReaderBuilder};
use memchr::{memchr, memchr_iter};

/// Most lines a quoted note may go over.
const MOST_JOINED: u64 = 16;
/// Most bytes of such a record.
const LONGEST_JOINED: usize = 65_536;

/// Whether a line with quotes stands alone.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Joined {
    /// It does.
    One,
    /// A quote opened in it closes on a later line: the record ends at `end`, the next line begins at `next`.
    Over {
        /// End of the record.
        end: usize,
        /// Start of the next line.
        next: usize,
        /// Lines it takes.
        lines: u64,
    },
    /// More bytes are needed to tell.
    Unknown,
}

/// Whether a trimmed line is a comment.
pub(super) fn is_comment(trimmed: &[u8]) -> bool {
    matches!(trimmed.first(), Some(b'#' | b'%')) || trimmed.starts_with(b"//")
}

/// Whether the record that begins at `at` goes over several lines.
///
/// A quote that opens and does not close could also be one that lost its partner. Lines are joined only when the
/// closing quote ends a cell, the whole has the right number of columns, and no line swallowed looks like a row.
pub(super) fn join(layout: &Layout, bytes: &[u8], at: usize, at_end: bool) -> Joined {
    let mut from = at;
    for lines in 1..=MOST_JOINED {
        let (end, next) = match memchr(layout.line_end, &bytes[from..]) {
            Some(n) => (from + n, from + n + 1),
            None if at_end => (bytes.len(), bytes.len()),
            None if bytes.len() - at > LONGEST_JOINED => return Joined::One,
            None => return Joined::Unknown,
        };
        let line = &bytes[from..end];
        let closes = memchr_iter(b'"', line).count() % 2 == 1;
        if lines == 1 && !closes {
            return Joined::One;
        }
        if lines > 1 {
            if cells(line, layout.delimiter).is_ok_and(|c| c.len() == layout.fields)
                || end - at > LONGEST_JOINED
            {
                return Joined::One;
            }
            if closes {
                let whole = cells(&bytes[at..end], layout.delimiter).is_ok_and(|c| c.len() == layout.fields);
                let good = whole && quote_ends_a_cell(line, layout.delimiter);
                return if good { Joined::Over { end, next, lines } } else { Joined::One };
            }
        }
        if next >= bytes.len() {
            return if at_end { Joined::One } else { Joined::Unknown };
        }
        from = next;
    }
    Joined::One
}

/// Whether the first quote of a line that is not a doubled one is followed by a delimiter or the line's end.
fn quote_ends_a_cell(line: &[u8], delimiter: u8) -> bool {
    let mut from = 0;
    while let Some(at) = memchr(b'"', &line[from..]).map(|n| from + n) {
        if line.get(at + 1) != Some(&b'"') {
            return line.get(at + 1).is_none_or(|b| *b == delimiter || *b == b'\r');
        }
        from = at + 2;
    }
    false
}

/// The cells of one record, quotes taken off. `Err` with the column (from 1) where a quote opens and never closes.
pub(super) fn cells(record: &[u8], delimiter: u8) -> Result<Vec<Vec<u8>>, usize> {
    if memchr(b'"', record).is_none() {
        return Ok(record.split(|b| *b == delimiter).map(<[u8]>::to_vec).collect());
    }
    // Spaces before an opening quote would make it literal: take them off first.
    let tidy = without_spaces_before_quotes(record, delimiter);
    if let Some(column) = open_quote(&tidy, delimiter) {
        return Err(column);
    }
    let mut reader: Reader = ReaderBuilder::new().delimiter(delimiter).build();
    let mut text = vec![0; tidy.len() + 2];
    let mut ends = vec![0; memchr_iter(delimiter, &tidy).count() + 2];
    let (mut written, mut ended, mut read) = (0, 0, 0);
    loop {
        let (result, used, wrote, end) =
            reader.read_record(&tidy[read..], &mut text[written..], &mut ends[ended..]);
        read += used;
        written += wrote;
        ended += end;
        match result {
            // With nothing left, the next call is told by the empty input that this is the end.
            ReadRecordResult::InputEmpty => {}
            _ => break,
        }
    }
    let mut start = 0;
    Ok(ends[..ended]
        .iter()
        .map(|end| {
            let cell = text[start..*end].to_vec();
            start = *end;
            cell
        })
        .collect())
}

/// The column of a quote that opens a cell and never closes.
fn open_quote(record: &[u8], delimiter: u8) -> Option<usize> {
    let (mut inside, mut column, mut at_start, mut opened) = (false, 1, true, 0);
    let mut bytes = record.iter().peekable();
    while let Some(b) = bytes.next() {
        match *b {
            b'"' if inside && bytes.peek() == Some(&&b'"') => {
                bytes.next();
            }
            b'"' if inside => inside = false,
            b'"' if at_start => {
                inside = true;
                opened = column;
            }
            b if b == delimiter && !inside => {
                column += 1;
                at_start = true;
                continue;
            }
            _ => {}
        }
        at_start = false;
    }
    inside.then_some(opened)
}

fn without_spaces_before_quotes(record: &[u8], delimiter: u8) -> Vec<u8> {
    let mut out = Vec::with_capacity(record.len());
    let mut held = 0;
    let mut at_start = true;
    for b in record {
        match *b {
            b' ' if at_start => held += 1,
            other => {
                if other != b'"' {
                    out.resize(out.len() + held, b' ');
                }
                held = 0;
                at_start = other == delimiter;
                out.push(other);
            }
        }
    }
    out.resize(out.len() + held, b' ');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(text: &str) -> Result<Vec<String>, usize> {
        Ok(cells(text.as_bytes(), b',')?.into_iter().map(|c| String::from_utf8(c).unwrap()).collect())
    }

    #[test]
    fn quotes_doubled_quotes_and_spaces() {
        assert_eq!(split("1,\"a,b\",2").unwrap(), ["1", "a,b", "2"]);
        assert_eq!(split("1,\"a\"\"b\",2").unwrap(), ["1", "a\"b", "2"]);
        assert_eq!(split("1, \"a\",2").unwrap(), ["1", "a", "2"]);
        assert_eq!(split("1,5\" pipe,2").unwrap(), ["1", "5\" pipe", "2"]);
        assert_eq!(split("1,\"\",").unwrap(), ["1", "", ""]);
        assert_eq!(split("1,\"a\nb\",2").unwrap(), ["1", "a\nb", "2"]);
    }

    #[test]
    fn a_quote_that_never_closes_names_its_column() {
        assert_eq!(split("1,2,\"abc"), Err(3));
        assert_eq!(split("\"1,2"), Err(1));
    }

    /// Of six columns; `at` bytes stand before the text.
    fn joined(text: &str, at_end: bool) -> Joined {
        let layout = super::super::rows::tests::layout(&[]);
        join(&layout, format!("12345{text}").as_bytes(), 5, at_end)
    }

    #[test]
    fn a_note_over_several_lines_is_joined_only_when_everything_fits() {
        let note = "1,\"a\nb\",3,4,5,6\n";
        let over = |text: &str, lines| Joined::Over { end: 4 + text.len(), next: 5 + text.len(), lines };
        for at_end in [false, true] {
            assert_eq!(joined("1,2,3,4,5,6\nx\n", at_end), Joined::One);
            assert_eq!(joined("\"a\",2,3,4,5,6\nx\n", at_end), Joined::One);
            assert_eq!(joined(note, at_end), over(note, 2));
            let doubled = "1,\"a\n\"\"b\"\"\nc\",3,4,5,6\n";
            assert_eq!(joined(doubled, at_end), over(doubled, 3));
            let said = "1,\"a\nsay \"\"b\"\" c\",3,4,5,6\n";
            assert_eq!(joined(said, at_end), over(said, 2));
            let last = "1,2,3,4,5,\"a\nb\"\r\n";
            assert_eq!(joined(last, at_end), over(last, 2));
            for (text, why) in [
                ("1,\"a,2,3\n1,2,3,4,5,6\nb\",3,4,5,6\n", "it would swallow a row"),
                ("1,\"a\nb\"c,3,4,5,6\n", "the quote ends no cell"),
                ("1,\"a\nb\",3,4,5\n", "a column is missing"),
                ("1,\"a,\nb\",3,4,5,6,7,8\n", "a column too many"),
            ] {
                assert_eq!(joined(text, at_end), Joined::One, "{why}");
            }
            let lines = |n: usize| format!("1,\"a{}b\",3,4,5,6\n", "\n".repeat(n - 1));
            assert_eq!(joined(&lines(16), at_end), over(&lines(16), 16));
            assert_eq!(joined(&lines(17), at_end), Joined::One, "too many lines");
        }
        let cut = "1,\"a\nb\",3,4,5,6";
        assert_eq!(joined(cut, true), Joined::Over { end: 5 + cut.len(), next: 5 + cut.len(), lines: 2 });
        assert_eq!(joined(cut, false), Joined::Unknown);
        assert_eq!((joined("\"a\n", false), joined("\"a\n", true)), (Joined::Unknown, Joined::One));
        let long = |n: usize| format!("\"{}", "x".repeat(n));
        assert_eq!(joined(&long(LONGEST_JOINED - 1), false), Joined::Unknown);
        assert_eq!(joined(&long(LONGEST_JOINED), false), Joined::One, "no more is waited for");
        let filled = |n: usize| format!("1,\"a\n{}\",3,4,5,6\n", "x".repeat(n));
        let most = LONGEST_JOINED - "1,\"a\n\",3,4,5,6".len();
        assert_eq!(joined(&filled(most), false), over(&filled(most), 2));
        assert_eq!(joined(&filled(most + 1), false), Joined::One, "a byte too many");
    }

    #[test]
    fn spaces_stay_but_before_quotes_and_a_doubled_quote_closes_nothing() {
        assert_eq!(split("1,  x y,  \"a\"").unwrap(), ["1", "  x y", "a"]);
        assert_eq!(split("\"a\",   ").unwrap(), ["a", "   "]);
        assert_eq!(split("\"a\",\"b\",  c d  ,e").unwrap(), ["a", "b", "  c d  ", "e"]);
        assert_eq!(split("1,a \"b\" c,\"d\"").unwrap(), ["1", "a \"b\" c", "d"]);
        assert_eq!(split("1,\"a\"\"b"), Err(2));
        for (line, comment) in
            [("# a", true), ("% a", true), ("// a", true), ("/ a", false), ("a # b", false)]
        {
            assert_eq!(is_comment(line.as_bytes()), comment, "{line}");
        }
    }
}
