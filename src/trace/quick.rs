//! Rows of plain numbers: nearly every row of nearly every log.

use super::digits::{REACH, Written};
use super::layout::{Layout, MOST_USED};
use super::marks::Marks;
use super::number;
use super::rows::LONGEST_CELL;
use wide::{bytemuck::cast, f64x4, i16x8, i32x8, u8x16, u16x8};

/// Numbers worked on together.
const LANES: usize = 4;
/// Groups of them that every column that can be used has room in.
const GROUPS: usize = MOST_USED.div_ceil(LANES);

/// How rows of a layout are read quickly.
#[derive(Debug)]
pub(super) struct Quick<'a> {
    layout: &'a Layout,
    columns: [Column; MOST_USED],
    groups: [Group; GROUPS],
    digits: Digits,
    /// Some columns go through a table of voltages.
    tables: bool,
    /// The first column is not read: a comment could look like a row.
    first_unread: bool,
    /// The last column is read: it may end in a carriage return.
    last_read: bool,
    /// The header itself could be read as a row.
    header_reads: bool,
    /// A longer line may be too long, or a cell of it.
    longest: usize,
    /// The row that was read last, in the order of the layout's used columns; NaN where a cell is empty.
    values: [f64x4; GROUPS],
}

/// A column that is read.
#[derive(Debug, Clone, Copy)]
struct Column {
    index: usize,
    written: Written,
}

/// What becomes of the numbers of four columns: `number * scale + offset`, which lies between low and high.
#[derive(Debug, Clone, Copy)]
struct Group {
    scale: [f64; LANES],
    offset: [f64; LANES],
    low: [f64; LANES],
    high: [f64; LANES],
}

/// The digits of a row's cells, column by column.
#[derive(Debug, Clone, Copy)]
struct Digits {
    /// The last eight of each, a digit a byte.
    last: [[u64; LANES]; GROUPS],
    /// What stands before those; NaN for an empty cell.
    front: [[f64; LANES]; GROUPS],
    /// What both together are divided by.
    over: [[f64; LANES]; GROUPS],
}

impl<'a> Quick<'a> {
    /// For rows of this layout.
    pub(super) fn of(layout: &'a Layout) -> Self {
        let none = Column { index: 0, written: Written::with(0, layout.point) };
        let group = Group {
            scale: [1.0; LANES],
            offset: [0.0; LANES],
            low: [f64::NEG_INFINITY; LANES],
            high: [f64::INFINITY; LANES],
        };
        let mut quick = Self {
            layout,
            columns: [none; MOST_USED],
            groups: [group; GROUPS],
            digits: Digits {
                last: [[0; LANES]; GROUPS],
                front: [[0.0; LANES]; GROUPS],
                over: [[1.0; LANES]; GROUPS],
            },
            tables: layout.used.iter().any(|u| !u.volts.is_empty()),
            first_unread: layout.used.first().is_none_or(|u| u.index != 0),
            last_read: layout.used.last().is_some_and(|u| u.index + 1 == layout.fields),
            header_reads: layout
                .used
                .iter()
                .all(|u| number::plain(u.name.as_bytes(), layout.point).is_some()),
            longest: layout.longest_line.min(LONGEST_CELL),
            values: [f64x4::splat(f64::NAN); GROUPS],
        };
        for (n, (used, column)) in layout.used.iter().zip(&mut quick.columns).enumerate() {
            column.index = used.index;
            let (group, lane) = (&mut quick.groups[n / LANES], n % LANES);
            if !used.untouched {
                (group.scale[lane], group.offset[lane]) = (used.scale, used.offset);
            }
            (group.low[lane], group.high[lane]) = (used.low, used.high);
        }
        quick
    }

    /// Reads the line that takes the marks from `first` to `last`; `text` begins [`REACH`] before what they were made
    /// of. Gives how many of its
    /// cells are empty. `None` when anything about it is out of the ordinary.
    #[inline]
    pub(super) fn row(&mut self, text: &[u8], marks: &mut Marks, first: usize, last: usize) -> Option<u64> {
        let ends = marks.ends.get_mut(first..=last)?;
        let begins = REACH + ends[0] as usize + 1;
        let fields = self.layout.fields;
        let cells = last - first;
        let length = ends[cells].wrapping_sub(ends[0]) as usize - 1;
        let whole = cells == fields || (cells == fields + 1 && last_is_empty(text, ends));
        if !whole || length > self.longest || self.header_reads {
            return None;
        }
        if marks.odd && !is_plain(text.get(begins..begins + length)?) {
            return None;
        }
        if self.first_unread && may_comment(*text.get(begins)?) {
            return None;
        }
        // A carriage return before the line feed is no part of the last cell.
        let returns =
            u32::from(length > 0 && self.last_read && text.get(begins + length - 1) == Some(&b'\r'));
        ends[cells] -= returns;
        let missing = match self.cells(text, ends) {
            Some(missing)
                if !self.tables && (missing as usize) < self.layout.used.len() && self.convert() =>
            {
                Some(missing)
            }
            _ => self.one_by_one(text, ends),
        };
        ends[cells] += returns;
        missing
    }

    /// Takes the digits of the cells out of the text, written as they were before; gives how many cells are empty.
    #[inline]
    fn cells(&mut self, text: &[u8], ends: &[u32]) -> Option<u64> {
        let used = self.layout.used.len();
        let Digits { last, front, over } = &mut self.digits;
        let columns = self.columns.get_mut(..used)?.iter_mut();
        let last = last.as_flattened_mut().get_mut(..used)?;
        let front = front.as_flattened_mut().get_mut(..used)?;
        let over = over.as_flattened_mut().get_mut(..used)?;
        let mut missing = 0;
        for (((column, last), front), over) in columns.zip(last).zip(front).zip(over) {
            let &[before, to] = ends.get(column.index..column.index + 2)?.first_chunk()?;
            let length = to.wrapping_sub(before) as usize - 1;
            if let Some(digits) = column.written.short(text, to as usize, length) {
                (*last, *front, *over) = (digits, 0.0, column.written.over);
            } else {
                missing += u64::from(length == 0);
                (*last, *front, *over) = other_cell(&mut column.written, text, to as usize, length)?;
            }
        }
        Some(missing)
    }

    /// Makes numbers of the digits, and quantities of the numbers, four at a time. False when a digit is none, or a
    /// quantity is beyond its range.
    #[inline]
    fn convert(&mut self) -> bool {
        let groups = self.layout.used.len().div_ceil(LANES);
        let mut largest = u8x16::splat(9);
        let mut beyond = f64x4::splat(0.0);
        let Digits { last, front, over } = &self.digits;
        let digits = last.iter().zip(front.iter().zip(over));
        for ((group, values), (last, (front, over))) in
            self.groups.iter().zip(&mut self.values).zip(digits).take(groups)
        {
            let [first, second]: [u8x16; 2] = cast(*last);
            largest = largest.max(first).max(second);
            let number = f64x4::from_i32x4(number_of(cast(first), cast(second)));
            let number = (number + f64x4::new(*front)) / f64x4::new(*over);
            *values = number * f64x4::new(group.scale) + f64x4::new(group.offset);
            beyond |= values.simd_lt(f64x4::new(group.low)) | values.simd_gt(f64x4::new(group.high));
        }
        largest.simd_eq(u8x16::splat(9)).to_bitmask() == 0xffff && !beyond.any()
    }

    /// A row that is written in another way than those before, or goes through a table of voltages.
    #[cold]
    fn one_by_one(&mut self, text: &[u8], ends: &[u32]) -> Option<u64> {
        let mut values = [[f64::NAN; LANES]; GROUPS];
        let mut missing = 0;
        let all = values.as_flattened_mut().iter_mut();
        for ((used, column), value) in self.layout.used.iter().zip(&mut self.columns).zip(all) {
            let &[before, to] = ends.get(used.index..)?.first_chunk()?;
            let length = to.wrapping_sub(before) as usize - 1;
            if length == 0 {
                missing += 1;
                if !used.volts.is_empty() {
                    return None;
                }
                continue;
            }
            let (digits, over) = column.written.read(text, to as usize, length, self.layout.point)?;
            *value = used.convert(digits / over) + 0.0;
            // Outside a table of voltages there is no number; that is for the slow door to say.
            if !(*value >= used.low && *value <= used.high) {
                return None;
            }
        }
        self.values = values.map(f64x4::new);
        ((missing as usize) < self.layout.used.len()).then_some(missing)
    }

    /// The numbers of the row read last.
    #[inline]
    pub(super) fn values(&self) -> &[f64] {
        let all: &[f64; LANES * GROUPS] = wide::bytemuck::cast_ref(&self.values);
        &all[..self.layout.used.len()]
    }
}

/// A cell that is long, empty, or a number below zero.
fn other_cell(written: &mut Written, text: &[u8], to: usize, length: usize) -> Option<(u64, f64, f64)> {
    if length == 0 {
        // Common enough to be no exception: a sensor that drops out.
        return Some((0, f64::NAN, 1.0));
    }
    if text.get(REACH + to - length) == Some(&b'-') {
        let (front, last) = written.taken(text, to, length - 1)?;
        return Some((last, front, -written.over));
    }
    let (front, last) = written.taken(text, to, length)?;
    Some((last, front, written.over))
}

/// Four times eight digits, two by two and the highest first, as numbers.
#[inline]
fn number_of(first: u16x8, second: u16x8) -> wide::i32x4 {
    let pairs =
        |digits: u16x8| -> i16x8 { cast((digits & u16x8::splat(0xff)) * u16x8::splat(10) + (digits >> 8)) };
    let hundreds = i16x8::new([100, 1, 100, 1, 100, 1, 100, 1]);
    let fours: i32x8 = cast([pairs(first).dot(hundreds), pairs(second).dot(hundreds)]);
    i16x8::from_i32x8_saturate(fours).dot(i16x8::new([10_000, 1, 10_000, 1, 10_000, 1, 10_000, 1]))
}

/// Whether a cell too many is only a delimiter too many.
fn last_is_empty(text: &[u8], ends: &[u32]) -> bool {
    let [.., before, end] = *ends else { return false };
    let cell = text.get(REACH + before as usize + 1..REACH + end as usize);
    cell.is_some_and(|c| c.is_empty() || c == b"\r")
}

/// Whether a line among odd ones is like any other: no quote, no NUL, no carriage return but its last byte.
#[cold]
fn is_plain(line: &[u8]) -> bool {
    let line = line.strip_suffix(b"\r").unwrap_or(line);
    memchr::memchr3(b'"', 0, b'\r', line).is_none()
}

/// Whether a line that begins so may be blank or a comment.
fn may_comment(first: u8) -> bool {
    first <= b' ' || matches!(first, b'#' | b'%' | b'/')
}

#[cfg(test)]
mod tests {
    use super::super::rows::tests::layout;
    use super::*;

    /// What the quick door says of a line that stands among others.
    fn taken(layout: &Layout, line: &str) -> Option<u64> {
        let bytes = format!("{}\n{line}\n1,2,3,4,0.9,6\n", "x".repeat(20)).into_bytes();
        let mut marks = Marks::default();
        marks.fill(&bytes, 21, layout);
        let text = &bytes[marks.origin - REACH..];
        let last = marks.lines[0] as usize;
        Quick::of(layout).row(text, &mut marks, 0, last)
    }

    #[test]
    fn what_is_plain_is_taken_and_what_is_not_is_left() {
        let (all, noted) = (layout(&[]), layout(&[0]));
        for (layout, line, empty) in [
            (&all, "10.00,800,50.25,20.0,0.9125,81", Some(0)),
            (&all, "10.00,800,50.25,20.0,0.9125,81\r", Some(0)),
            (&all, "10.00,800,50.25,20.0,0.9125,81,", Some(0)),
            (&all, "10.00,800,50.25,20.0,0.9125,81,\r", Some(0)),
            (&all, "10.00,800,,-2.5,0.9125,", Some(2)),
            (&all, "10.00,800,50.25,20.0,0.9125", None),
            (&all, "10.00,800,50.25,20.0,0.9125,81,7", None),
            (&all, "10.00,800,50.25,20.0,0.9125,x", None),
            (&all, "10.00,99999,50.25,20.0,0.9125,81", None),
            (&all, ",,,,,", None),
            (&all, "", None),
            (&noted, "a note!,800,50.25,20.0,0.9125,81", Some(0)),
            (&noted, "a note!,800,50.25,20.0,0.9125,81\r", Some(0)),
            (&noted, "# note,800,50.25,20.0,0.9125,81", None),
            (&noted, " note,800,50.25,20.0,0.9125,81", None),
            (&noted, "/ note,800,50.25,20.0,0.9125,81", None),
            (&noted, "\"note\",800,50.25,20.0,0.9125,81", None),
            (&noted, "no\rte,800,50.25,20.0,0.9125,81", None),
            (&noted, "no\0te,800,50.25,20.0,0.9125,81", None),
        ] {
            assert_eq!(taken(layout, line), empty, "{line:?}");
        }
        let short = Layout { longest_line: 30, ..layout(&[]) };
        assert_eq!(taken(&short, "10.00,800,50.25,20.0,0.9125,81"), Some(0), "thirty bytes");
        assert_eq!(taken(&short, "10.00,800,50.25,20.0,0.91250,81"), None, "one more");
    }
}
