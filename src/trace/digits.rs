//! Plain numbers, all their digits at once: the way a logger writes a column hardly ever changes, so it is expected.

use super::number;

const ONES: u64 = 0x0101_0101_0101_0101;
/// A zero in every place.
const ZEROS: u64 = ONES * 0x30;
/// Numbers are read from their last digit backwards: this many bytes must stand before a text, so that a place in the
/// text is where the eight bytes before it begin.
pub(super) const REACH: usize = 8;
/// Every second pair of digits.
const PICK: u64 = 0x0000_00ff_0000_00ff;
/// A front that came to nothing: a zero.
const NO_FRONT: (u64, f64) = (0x30 << 56, 0.0);
/// Most decimals that are expected.
const MOST_DECIMALS: usize = 7;

/// How the numbers of a column are written, as far as seen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Written {
    /// Where the point stands in the last eight characters, as a mask; nothing when there is none.
    at: u64,
    /// The point there.
    point: u64,
    /// What stands behind the point; everything when there is none.
    behind: u64,
    /// Fewest characters: decimals, and the point.
    fewest: usize,
    /// Digits there may be beyond the fewest, up to eight characters.
    spare: usize,
    /// Characters that are no digits.
    pointed: usize,
    /// Ten to the number of decimals.
    pub(super) over: f64,
    /// The characters before the last eight, the last time there were any, and what they came to: of a time they
    /// hardly ever change from row to row.
    front: (u64, f64),
}

impl Written {
    /// With so many decimals.
    pub(super) const fn with(decimals: usize, point: u8) -> Self {
        if decimals == 0 || decimals > MOST_DECIMALS {
            let all = u64::MAX;
            return Self {
                at: 0,
                point: 0,
                behind: all,
                fewest: 1,
                spare: 7,
                pointed: 0,
                over: 1.0,
                front: NO_FRONT,
            };
        }
        let shift = 8 * (7 - decimals);
        Self {
            at: 0xff << shift,
            point: (point as u64) << shift,
            behind: u64::MAX << (shift + 8),
            fewest: decimals + 1,
            spare: 7 - decimals,
            pointed: 1,
            over: number::POWERS[decimals],
            front: NO_FRONT,
        }
    }

    /// The cell of so many characters that ends at `to`: the number is the first over the second. `None` is not "bad":
    /// the slow door decides.
    pub(super) fn read(&mut self, text: &[u8], to: usize, length: usize, point: u8) -> Option<(f64, f64)> {
        match self.unsigned(text, to, length) {
            Some(digits) => Some((digits, self.over)),
            None => self.otherwise(text, to, length, point),
        }
    }

    fn unsigned(&mut self, text: &[u8], to: usize, length: usize) -> Option<f64> {
        let (front, digits) = self.taken(text, to, length)?;
        Some(front + f64::from(value(digits)?))
    }

    /// The digits, one a byte and the last in the highest, of a cell of at most eight characters that is written as
    /// expected. They may still be anything but digits.
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        reason = "for every cell of every row; a call costs more than what it does"
    )]
    pub(super) fn short(&self, text: &[u8], to: usize, length: usize) -> Option<u64> {
        let word = word_before(text, to)?;
        let expected = length.wrapping_sub(self.fewest) <= self.spare && (word ^ self.point) & self.at == 0;
        expected.then(|| self.last_digits(word, length - self.pointed))
    }

    /// As [`short`](Self::short), of at most sixteen characters with the point, if any, among the last eight; and
    /// before the digits, what stands before them.
    #[inline]
    pub(super) fn taken(&mut self, text: &[u8], to: usize, length: usize) -> Option<(f64, u64)> {
        if let Some(digits) = self.short(text, to, length) {
            return Some((0.0, digits));
        }
        let word = word_before(text, to)?;
        // Beyond 15 digits the division would round twice.
        if length <= 8 || length - self.pointed > 15 || (word ^ self.point) & self.at != 0 {
            return None;
        }
        let digits = self.last_digits(word, 8 - self.pointed);
        let before = 8 * (16 - length);
        let front = word_before(text, to.checked_sub(8)?)? >> before << before;
        if front != self.front.0 {
            self.front = (front, f64::from(value(front ^ (ZEROS >> before << before))?));
        }
        let shift = if self.pointed == 0 { 1e8 } else { 1e7 };
        Some((self.front.1 * shift, digits))
    }

    /// The last characters of a word, so many of them, the point taken out: what is before it moves up one place.
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        reason = "for every cell of every row; a call costs more than what it does"
    )]
    fn last_digits(&self, word: u64, count: usize) -> u64 {
        let together = (word & self.behind) | (word << 8 & !self.behind);
        (together ^ ZEROS) & u64::MAX << (64 - 8 * count)
    }

    /// A negative number, or a cell written in another way than expected: from now on that one is.
    #[cold]
    fn otherwise(&mut self, text: &[u8], to: usize, length: usize, point: u8) -> Option<(f64, f64)> {
        let cell = text.get((REACH + to).checked_sub(length)?..REACH + to)?;
        if cell.first() == Some(&b'-')
            && let Some(digits) = self.unsigned(text, to, length - 1)
        {
            return Some((-digits, self.over));
        }
        let decimals = memchr::memchr(point, cell).map_or(0, |at| cell.len() - at - 1);
        let read = number::plain(cell, point);
        if read.is_some() && decimals <= MOST_DECIMALS {
            *self = Self::with(decimals, point);
        }
        read
    }
}

/// The eight bytes before a place.
#[inline(always)]
#[expect(clippy::inline_always, reason = "for every cell of every row; a call costs more than what it does")]
fn word_before(text: &[u8], to: usize) -> Option<u64> {
    text.get(to..to + REACH)?.first_chunk().map(|word| u64::from_le_bytes(*word))
}

/// Eight digits, the last in the highest byte, multiplied up pairwise. `None` when one is none.
#[inline]
fn value(digits: u64) -> Option<u32> {
    if (digits | digits.wrapping_add(ONES * 0x76)) & (ONES * 0x80) != 0 {
        return None;
    }
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8);
    let low = (pairs & PICK).wrapping_mul(0x000f_4240_0000_0064);
    let high = ((pairs >> 16) & PICK).wrapping_mul(0x0000_2710_0000_0001);
    Some((low.wrapping_add(high) >> 32) as u32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cell(written: &mut Written, text: &str) -> Option<f64> {
        let line = format!("1234567890123456{text},");
        written
            .read(line.as_bytes(), 16 - REACH + text.len(), text.len(), b'.')
            .map(|(digits, over)| digits / over)
    }

    #[test]
    fn expected_or_not_a_number_is_the_same() {
        for decimals in 0..9 {
            for (text, value) in [
                ("12.50", Some(12.5)),
                ("1234.567", Some(1234.567)),
                ("12345678", Some(12_345_678.0)),
                ("123456789", Some(123_456_789.0)),
                ("154321.12", Some(154_321.12)),
                (".5", Some(0.5)),
                ("5.", Some(5.0)),
                ("7", Some(7.0)),
                ("-12.5", Some(-12.5)),
                ("0.1234567", Some(0.1234567)),
                ("0.12345678", Some(0.12345678)),
                ("12345678.1234567", Some(12_345_678.1234567)),
                ("1234567890123456", None),
                ("", None),
                (".", None),
                ("-", None),
                (" 1", None),
                ("1 ", None),
                ("1e3", None),
                ("1.2.3", None),
                ("1:2", None),
                ("/1", None),
                ("1,5", None),
            ] {
                let mut written = Written::with(decimals, b'.');
                assert_eq!(cell(&mut written, text), value, "{text} after {decimals} decimals");
                assert_eq!(cell(&mut written, text), value, "{text} again");
            }
        }
    }

    #[test]
    fn a_number_written_as_expected_is_read_at_once_and_no_other() {
        let all = "1234567890123456";
        for decimals in 0..=MOST_DECIMALS {
            for digits in decimals.max(1)..=16 {
                let (whole, behind) = all[..digits].split_at(digits - decimals);
                let text = if decimals == 0 { whole.to_owned() } else { format!("{whole}.{behind}") };
                let (line, to) = (format!("{all}{text},"), 16 - REACH + text.len());
                let at_once = |decimals| {
                    let mut written = Written::with(decimals, b'.');
                    let short = written.short(line.as_bytes(), to, text.len()).is_some();
                    (short, written.unsigned(line.as_bytes(), to, text.len()))
                };
                let read = if digits < 16 { all[..digits].parse().ok() } else { None };
                assert_eq!(at_once(decimals), (text.len() <= 8, read), "{text}");
                for other in (0..=MOST_DECIMALS).filter(|&other| other != decimals) {
                    assert_eq!(at_once(other).1, None, "{text} where {other} decimals are expected");
                }
            }
        }
    }

    proptest! {
        #[test]
        fn all_at_once_is_the_same_as_one_by_one(
            texts in proptest::collection::vec("-?[0-9]{0,9}[.:]?[0-9]{0,8}[ e]?", 1..8), decimals in 0usize..9,
        ) {
            let mut written = Written::with(decimals, b'.');
            for text in texts {
                let line = format!("1.3456789.123456{text}");
                let read = written.read(line.as_bytes(), line.len() - REACH, text.len(), b'.');
                let alone = number::plain(text.as_bytes(), b'.');
                prop_assert_eq!(read.map(|(a, b)| (a / b).to_bits()), alone.map(|(a, b)| (a / b).to_bits()), "{}", text);
            }
        }
    }

    #[test]
    fn a_byte_beyond_ascii_is_no_digit() {
        for odd in 0x80..=0xff {
            let line = [b"1234567890123456", &b"1234567"[..], &[odd, b'0', b'1'], b","].concat();
            for decimals in 0..9 {
                let read = Written::with(decimals, b'.').read(&line, 16 - REACH + 10, 10, b'.');
                assert_eq!(read, None, "{odd:#x} after {decimals} decimals");
            }
        }
    }
}
