//! Where cells and lines end, sixty-four bytes at a time: found before any cell is read, so that reading one does not
//! wait for the end of the one before.

use super::layout::Layout;

/// Bytes marked in one go: text and marks stay next to the processor while the cells are read.
const WINDOW: usize = 1 << 14;
/// Bytes looked at together.
const BLOCK: usize = 64;
/// Ends written down for a block in any case: most blocks have no more, and counting costs more than writing.
const AT_ONCE: usize = 16;

/// The ends in a window of text.
#[derive(Debug, Clone, Default)]
pub(super) struct Marks {
    /// Where each cell ends, counted from the window's origin; the first is the byte before the first line. What
    /// stands behind those of the last whole line is left over.
    pub(super) ends: Vec<u32>,
    /// For each whole line, which of the ends is its own.
    pub(super) lines: Vec<u32>,
    /// There are bytes that a row of numbers has not: quotes, NULs, returns within a line.
    pub(super) odd: bool,
    /// Where the window begins in the bytes it was made of.
    pub(super) origin: usize,
}

impl Marks {
    /// Marks the window of `bytes` that begins with the line at `at`, which must not be the very first.
    pub(super) fn fill(&mut self, bytes: &[u8], at: usize, layout: &Layout) {
        self.origin = at - 1;
        self.odd = false;
        self.lines.clear();
        if self.ends.is_empty() {
            self.ends.resize(WINDOW + BLOCK + 1, 0);
        }
        let text = &bytes[at..bytes.len().min(at + WINDOW)];
        let first = 1;
        self.ends[0] = 0;
        let mut count = 1;
        let (blocks, rest) = text.as_chunks::<BLOCK>();
        for (number, block) in blocks.iter().enumerate() {
            let place = BLOCK * number;
            count = self.note(block, first + place as u32, count, layout);
            if bits::out_of_the_ordinary(block) {
                self.odd |= is_odd(block, bytes.get(at + place + BLOCK), layout.line_end);
            }
        }
        if !rest.is_empty() {
            let mut block = [b'0'; BLOCK];
            block[..rest.len()].copy_from_slice(rest);
            self.note(&block, first + (text.len() - rest.len()) as u32, count, layout);
            self.odd |= is_odd(&block, None, layout.line_end);
        }
    }

    /// Where the byte after an end stands in the bytes the marks were made of.
    #[inline]
    pub(super) fn begins(&self, end: usize) -> usize {
        self.origin + self.ends.get(end).map_or(0, |end| *end as usize + 1)
    }

    /// Writes the ends of a block down behind the `count` there are; gives how many there are then.
    #[inline]
    fn note(&mut self, block: &[u8; BLOCK], begins: u32, count: usize, layout: &Layout) -> usize {
        let line_ends = bits::equal(block, layout.line_end);
        let all = line_ends | bits::equal(block, layout.delimiter);
        let Some(room) = self.ends.get_mut(count..).and_then(<[u32]>::first_chunk_mut::<BLOCK>) else {
            return count;
        };
        let mut left = all;
        let mut take = |end: &mut u32| {
            *end = begins + (left | 1 << 63).trailing_zeros();
            left &= left.wrapping_sub(1);
            left != 0
        };
        let (usual, more) = room.split_at_mut(AT_ONCE);
        let mut further = false;
        for end in usual {
            further = take(end);
        }
        if further {
            more.iter_mut().all(take);
        }
        let mut lines = line_ends;
        while lines != 0 {
            let before = all & (lines & lines.wrapping_neg()).wrapping_sub(1);
            self.lines.push(count as u32 + before.count_ones());
            lines &= lines - 1;
        }
        count + all.count_ones() as usize
    }
}

/// Whether a block has quotes, NULs, or carriage returns that end no line.
fn is_odd(block: &[u8; BLOCK], after: Option<&u8>, line_end: u8) -> bool {
    let strange = bits::equal(block, b'"') | bits::equal(block, 0);
    if strange != 0 || line_end == b'\r' {
        return strange != 0;
    }
    let followed = bits::equal(block, line_end) >> 1 | u64::from(after == Some(&line_end)) << 63;
    bits::equal(block, b'\r') & !followed != 0
}

/// What stands where in a block, one bit a byte, the lowest first.
mod bits {
    use super::BLOCK;
    use wide::u8x16;

    /// Four answers of sixteen bits in one word.
    #[inline]
    fn each(block: &[u8; BLOCK], ask: impl Fn(u8x16) -> u8x16) -> u64 {
        let (parts, _) = block.as_chunks::<16>();
        parts.iter().enumerate().fold(0, |all, (place, part)| {
            all | u64::from(ask(u8x16::new(*part)).to_bitmask()) << (16 * place)
        })
    }

    /// Bytes that are `byte`.
    #[inline]
    pub(super) fn equal(block: &[u8; BLOCK], byte: u8) -> u64 {
        each(block, |part| part.simd_eq(u8x16::splat(byte)))
    }

    /// Whether there are blanks, control characters but the line feed, exclamation marks, quotes, or bytes beyond ASCII.
    #[inline]
    pub(super) fn out_of_the_ordinary(block: &[u8; BLOCK]) -> bool {
        // From the sign after the quote to the last of ASCII, moved down to begin at zero.
        let most = u8x16::splat(0x7f - (b'"' + 1));
        let (parts, _) = block.as_chunks::<16>();
        let ordinary = parts.iter().fold(u8x16::splat(0xff), |all, part| {
            let part = u8x16::new(*part);
            let down = part - u8x16::splat(b'"' + 1);
            all & (down.min(most).simd_eq(down) | part.simd_eq(u8x16::splat(b'\n')))
        });
        ordinary.to_bitmask() != 0xffff
    }
}
